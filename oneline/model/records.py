"""What is written down at an item: place, readings, records of demand, lines of a schedule; and what all items share."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, ClassVar

from oneline.model.fields import PLACE_GROUP, fact
from oneline.model.vocabulary import CIRCUIT_USES, CONDUCTOR_SIZES, LOAD_CLASSES, OUTAGE_CARES, STATUSES, TRACED

_EMPTY: Mapping[str, Any] = MappingProxyType({})
POLES = ("p", "pole", "poles")


@dataclass(frozen=True)
class Place:
    """Where the user put an item on the sheet, in grid units (one unit is a tenth of a grid square), y downward."""

    x: float
    y: float


@dataclass(frozen=True)
class End:
    """One end of a connection: an item's id and the name of its terminal."""

    item: str
    terminal: str


def _kept() -> Any:
    """The field that keeps what a newer file version says and this one does not know. Not part of a row's hash."""
    return field(default_factory=lambda: _EMPTY, hash=False)


@dataclass(frozen=True)
class Reading:
    """Clamp-on ampere reading at an item; ``None`` where a conductor was not read. Never a demand record."""

    when: str = fact("When", "text", required=True, help="Date and time of day.")
    a_a: float | None = fact("Phase A", "current_a")
    b_a: float | None = fact("Phase B", "current_a")
    c_a: float | None = fact("Phase C", "current_a")
    n_a: float | None = fact("Neutral", "current_a")
    instrument: str = fact("Instrument", "text", default="")
    note: str = fact("Note", "text", default="")
    extra: Mapping[str, Any] = _kept()


@dataclass(frozen=True)
class VoltageReading:
    """Voltages measured at an item, live, with a meter: between phases, to neutral, to ground. ``None``: not measured.

    On single-phase three-wire equipment A and B stand for L1 and L2.
    """

    when: str = fact("When", "text", required=True, help="Date and time of day.")
    ab_v: float | None = fact("A-B", "voltage_v")
    bc_v: float | None = fact("B-C", "voltage_v")
    ca_v: float | None = fact("C-A", "voltage_v")
    an_v: float | None = fact("A-N", "voltage_v")
    bn_v: float | None = fact("B-N", "voltage_v")
    cn_v: float | None = fact("C-N", "voltage_v")
    ag_v: float | None = fact("A-ground", "voltage_v")
    bg_v: float | None = fact("B-ground", "voltage_v")
    cg_v: float | None = fact("C-ground", "voltage_v")
    ng_v: float | None = fact("N-ground", "voltage_v")
    instrument: str = fact("Instrument", "text", default="")
    note: str = fact("Note", "text", default="")
    extra: Mapping[str, Any] = _kept()


@dataclass(frozen=True)
class DemandSeries:
    """What a recording looked like, as far as its plot needs: it travels with the drawing, the file itself does not.

    ``start``: time on the wall at which the first step begins, "2026-01-05 00:00". ``step_min``: length of a step.
    ``unit``: "kW", "kVA" or "A". ``highest``: the highest average of each step, ``None`` where nothing was recorded.
    ``gaps``: (begin, end) of what was not recorded, in minutes from ``start``; only the longest where there are many.
    """

    start: str
    step_min: float
    unit: str
    highest: tuple[float | None, ...]
    gaps: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class DemandRecord:
    """Recorded maximum demand at an item (220.87): the peak and what the recording was.

    Exactly one of ``peak_kw``, ``peak_kva``, ``peak_a`` is normally known; ``peak_a`` is the highest-loaded phase.
    ``period_days`` is the length of the record, ``interval_min`` its averaging interval, ``occupied`` whether the
    building was in normal use, ``seasonal_included`` whether the larger of heating and cooling is in it or added.

    Of a record that was read from interval data also: ``recorded_every_min``, the interval of the file, of which the peak
    may be an average of several; ``unbroken_days``, the longest part without a gap; ``exported``, whether power flowed
    back (``None``: such a file does not show it); ``file_sha256``, to tell that a file is the one that was read.
    """

    source: str = fact("Source", "text", default="", help="Who recorded it, with what.")
    start: str | None = fact("From", "date")
    end: str | None = fact("To", "date")
    period_days: float | None = fact("Length of the record (days)", "ratio", high=100_000)
    interval_min: float | None = fact("Averaging interval (minutes)", "ratio", high=100_000)
    peak_kw: float | None = fact("Peak, real power", "power_kw")
    peak_kva: float | None = fact("Peak, apparent power", "power_kva")
    peak_a: float | None = fact("Peak of the highest-loaded phase", "current_a")
    power_factor: float | None = fact("Power factor", "ratio", low=0.01, high=1)
    occupied: bool | None = fact("Building in normal use", "flag")
    seasonal_included: bool | None = fact("Larger of heating and cooling is in it", "flag")
    note: str = fact("Note", "text", default="")
    peak_at: str = fact("When the peak was", "text", default="", help="Date and time of day at which it began.")
    recorded_every_min: float | None = fact("Recorded every (minutes)", "ratio", high=100_000)
    unbroken_days: float | None = fact("Longest part without a gap (days)", "ratio", high=100_000)
    coverage_pct: float | None = fact("Share that was recorded", "percent")
    gaps: int | None = fact("Gaps", "count", high=1_000_000)
    exported: bool | None = fact(
        "Power flowed back", "flag", help="Generation behind the meter: it shows less than was used."
    )
    phase_a_a: float | None = fact("Peak of phase A", "current_a")
    phase_b_a: float | None = fact("Peak of phase B", "current_a")
    phase_c_a: float | None = fact("Peak of phase C", "current_a")
    file_name: str = fact("File", "text", default="", help="The interval data it was read from.")
    file_sha256: str = fact("Checksum of the file", "text", default="", help="SHA-256 of the file as it was read.")
    #: For the plot; of a record that was read from interval data.
    series: DemandSeries | None = None
    extra: Mapping[str, Any] = _kept()


@dataclass(frozen=True)
class Circuit:
    """One line of a panel's schedule.

    ``space`` is the first space number it takes; a circuit of ``poles`` > 1 takes every second number from there.
    ``use``: "load", "spare" (device, no load), "space" (no device), or "feeder" (the device is drawn as an item of its
    own, whose id is ``feeds``). ``va`` is the total of all poles.
    """

    space: int = fact("First space", "count", required=True, low=1, high=200)
    poles: int = fact("Poles", "count", default=1, low=1, high=4, counted=POLES)
    trip_a: float | None = fact("Trip", "current_a")
    description: str = fact("Description", "text", default="")
    use: str = fact("Use", "choice", default="load", choices=CIRCUIT_USES)
    va: float | None = fact("Load", "power_va", help="Total of all poles.")
    load_class: str | None = fact("Class", "choice", choices=LOAD_CLASSES)
    quantity: int | None = fact(
        "How many", "count", low=1, counted=("outlets", "yokes", "pieces", "pcs"),
        help="Outlets or equal pieces on it. The load is that of all together.",
    )  # fmt: skip
    continuous: bool | None = fact("Continuous (3 hours or more)", "flag")
    power_factor: float | None = fact("Power factor", "ratio", low=0.01, high=1)
    wire_size: str | None = fact("Wire", "size", choices=CONDUCTOR_SIZES)
    traced: str | None = fact("Traced", "choice", choices=TRACED)
    status: str = fact("Status", "choice", default="existing", choices=STATUSES)
    feeds: str | None = fact("Feeds (item)", "text", help="The item drawn for this circuit's device.")
    care: str | None = fact("Before it loses power", "choice", choices=OUTAGE_CARES)
    note: str = fact("Note", "text", default="")
    extra: Mapping[str, Any] = _kept()

    def undrawn(self) -> Circuit:
        """The line without its drawn device: a load again, with the figure entered for it or unknown. Never a spare,
        which would count as no load."""
        return replace(self, feeds=None, use="load" if self.use == "feeder" else self.use)


@dataclass(frozen=True, kw_only=True)
class Item:
    """Common to everything on a drawing."""

    kind: ClassVar[str] = ""
    title: ClassVar[str] = ""
    terminals: ClassVar[tuple[str, ...]] = ()

    id: str
    name: str = fact("Name", "text", default="", help="As it is marked on the equipment.", group="Identity")
    status: str = fact("Status", "choice", default="existing", choices=STATUSES, group="Identity")
    location: str | None = fact("Location", "text", help="Room or place where it is found.", group=PLACE_GROUP)
    notes: str = fact("Notes", "text", default="", group=PLACE_GROUP)
    place: Place | None = None
    #: Where a field's value comes from: {field name: one of BASES}; absent means "entered".
    basis: Mapping[str, str] = field(default_factory=lambda: _EMPTY)
    readings: tuple[Reading, ...] = ()
    voltages: tuple[VoltageReading, ...] = ()
    #: Fields of a newer file version, kept for the round trip.
    extra: Mapping[str, Any] = field(default_factory=lambda: _EMPTY)
