"""The things on a drawing. All frozen; ``None`` in a field means *unknown*.

Items reference each other by id only. An item has named terminals; *joints*, *conductor runs* and *suspected ties*
connect two terminals. Sources have the terminal "out", loads "in", two-ended devices "line" and "load", a bus has one
terminal "bus" that takes any number of connections, a transfer switch has "normal", "alternate" and "load".
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, ClassVar

from oneline.model.fields import PLACE_GROUP, fact
from oneline.model.vocabulary import (
    BUS_FORMS,
    CIRCUIT_USES,
    CONDUCTOR_SIZES,
    DISCONNECT_FORMS,
    INSULATIONS,
    LOAD_CLASSES,
    MATERIALS,
    PHASE_SETS,
    RACEWAYS,
    STATUSES,
    SYSTEMS,
    TRACED,
    TRANSFER_POSITIONS,
)

_EMPTY: Mapping[str, Any] = MappingProxyType({})
_POLES = ("p", "pole", "poles")
#: Forms that have what a field is about.
_BREAKER = ("breaker",)
_PROTECTS = ("breaker", "fused switch", "fuses")
_SWITCH = ("switch", "fused switch")
_SECTIONS = ("panelboard", "switchboard", "meter center")


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
class DemandRecord:
    """Recorded maximum demand at an item (220.87): the peak and what the recording was.

    Exactly one of ``peak_kw``, ``peak_kva``, ``peak_a`` is normally known; ``peak_a`` is the highest-loaded phase.
    ``period_days`` is the length of the record, ``interval_min`` its averaging interval, ``occupied`` whether the
    building was in normal use, ``seasonal_included`` whether the larger of heating and cooling is in it or added.
    """

    source: str = fact("Source", "text", default="", help="Who recorded it, with what.")
    start: str | None = fact("From", "date")
    end: str | None = fact("To", "date")
    period_days: float | None = fact("Length of the record (days)", "ratio", high=100_000)
    interval_min: float | None = fact("Averaging interval (minutes)", "ratio", high=100_000)
    peak_kw: float | None = fact("Peak", "power_kw")
    peak_kva: float | None = fact("Peak", "power_kva")
    peak_a: float | None = fact("Peak of the highest-loaded phase", "current_a")
    power_factor: float | None = fact("Power factor", "ratio", low=0.01, high=1)
    occupied: bool | None = fact("Building in normal use", "flag")
    seasonal_included: bool | None = fact("Larger of heating and cooling is in it", "flag")
    note: str = fact("Note", "text", default="")
    extra: Mapping[str, Any] = _kept()


@dataclass(frozen=True)
class Circuit:
    """One line of a panel's schedule.

    ``space`` is the first space number it takes; a circuit of ``poles`` > 1 takes every second number from there.
    ``use``: "load", "spare" (device, no load), "space" (no device), or "feeder" (the device is drawn as an item of its
    own, whose id is ``feeds``). ``va`` is the total of all poles.
    """

    space: int = fact("First space", "count", required=True, low=1, high=200)
    poles: int = fact("Poles", "count", default=1, low=1, high=4, counted=_POLES)
    trip_a: float | None = fact("Trip", "current_a")
    description: str = fact("Description", "text", default="")
    use: str = fact("Use", "choice", default="load", choices=CIRCUIT_USES)
    va: float | None = fact("Load", "power_va", help="Total of all poles.")
    load_class: str | None = fact("Class", "choice", choices=LOAD_CLASSES)
    continuous: bool | None = fact("Continuous (3 hours or more)", "flag")
    power_factor: float | None = fact("Power factor", "ratio", low=0.01, high=1)
    wire_size: str | None = fact("Wire", "size", choices=CONDUCTOR_SIZES)
    traced: str | None = fact("Traced", "choice", choices=TRACED)
    status: str = fact("Status", "choice", default="existing", choices=STATUSES)
    feeds: str | None = fact("Feeds (item)", "text", help="The item drawn for this circuit's device.")
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
    #: Fields of a newer file version, kept for the round trip.
    extra: Mapping[str, Any] = field(default_factory=lambda: _EMPTY)


# ---------------------------------------------------------------------------------------------------------- sources
@dataclass(frozen=True, kw_only=True)
class UtilityService(Item):
    kind: ClassVar[str] = "service"
    title: ClassVar[str] = "Utility service"
    terminals: ClassVar[tuple[str, ...]] = ("out",)

    system: str | None = fact("System", "choice", choices=SYSTEMS, help="Measure all voltage pairs if not marked.")
    fault_ka: float | None = fact(
        "Available fault current", "fault_ka", help="Given by the utility at the service point.", group="Fault current"
    )
    fault_x_r: float | None = fact("X/R at the service point", "ratio", high=100, group="Fault current")
    transformer_kva: float | None = fact(
        "Utility transformer",
        "power_kva",
        low=1,
        help="On the transformer's nameplate, or from the utility's letter.",
        group="Fault current",
    )
    transformer_z_pct: float | None = fact("Transformer impedance", "percent", low=0.1, group="Fault current")
    transformer_x_r: float | None = fact("Transformer X/R", "ratio", high=100, group="Fault current")
    primary_fault_mva: float | None = fact("Primary fault power (MVA)", "ratio", high=100_000, group="Fault current")
    meter: str | None = fact("Meter number", "text", group="Identity")
    demand: tuple[DemandRecord, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Generator(Item):
    kind: ClassVar[str] = "generator"
    title: ClassVar[str] = "Generator"
    terminals: ClassVar[tuple[str, ...]] = ("out",)

    system: str | None = fact("System", "choice", choices=SYSTEMS)
    kva: float | None = fact("Rating", "power_kva", low=0.1)
    xd_pct: float | None = fact(
        'Subtransient reactance X"d', "percent", low=2, group="Fault current",
        help="On the data sheet: 12 %, or 0.12 pu where it is given per unit.",
    )  # fmt: skip
    neutral_bonded: bool | None = fact("Neutral bonded at the generator", "flag", group="Bonding")
    demand: tuple[DemandRecord, ...] = ()


@dataclass(frozen=True, kw_only=True)
class SolarArray(Item):
    """Array with its inverter; the drawing's terminal is the inverter's ac output."""

    kind: ClassVar[str] = "solar"
    title: ClassVar[str] = "Solar array with inverter"
    terminals: ClassVar[tuple[str, ...]] = ("out",)

    output_a: float | None = fact("Inverter continuous output", "current_a", help="Nameplate, per inverter set.")
    output_kw: float | None = fact("Inverter power", "power_kw")
    phases: str | None = fact("Phases", "choice", choices=PHASE_SETS)
    fault_factor: float | None = fact(
        "Fault current, times rated", "ratio", high=10, help="From the maker's data.", group="Fault current"
    )
    interactive_listed: bool | None = fact(
        "Listed utility-interactive", "flag", help="Marking on the inverter: stops exporting when the utility is lost."
    )
    forms_grid: bool | None = fact("Can run on its own (backup output)", "flag")


@dataclass(frozen=True, kw_only=True)
class Battery(Item):
    kind: ClassVar[str] = "battery"
    title: ClassVar[str] = "Battery"
    terminals: ClassVar[tuple[str, ...]] = ("out",)

    output_a: float | None = fact("Inverter continuous output", "current_a")
    output_kw: float | None = fact("Inverter power", "power_kw")
    energy_kwh: float | None = fact("Energy (kWh)", "ratio", high=100_000)
    phases: str | None = fact("Phases", "choice", choices=PHASE_SETS)
    fault_factor: float | None = fact("Fault current, times rated", "ratio", high=10, group="Fault current")
    interactive_listed: bool | None = fact(
        "Listed utility-interactive", "flag", help="Marking on the inverter: stops exporting when the utility is lost."
    )
    forms_grid: bool | None = fact("Can run on its own (backup output)", "flag")


# ---------------------------------------------------------------------------------------------- devices in the path
@dataclass(frozen=True, kw_only=True)
class Transformer(Item):
    kind: ClassVar[str] = "transformer"
    title: ClassVar[str] = "Transformer"
    terminals: ClassVar[tuple[str, ...]] = ("line", "load")

    kva: float | None = fact("Rating", "power_kva", low=0.1, help="Nameplate.")
    z_pct: float | None = fact("Impedance", "percent", low=0.1, help="Nameplate.")
    x_r: float | None = fact("X/R", "ratio", high=100)
    primary_system: str | None = fact("Primary system", "choice", choices=SYSTEMS)
    secondary_system: str | None = fact("Secondary system", "choice", choices=SYSTEMS)
    connection: str | None = fact(
        "Connection", "choice", choices=("delta-wye", "wye-wye", "delta-delta", "wye-delta", "single-phase")
    )
    neutral_bonded: bool | None = fact("System bonding jumper at the transformer", "flag", group="Bonding")


@dataclass(frozen=True, kw_only=True)
class Disconnect(Item):
    """Breaker, fused switch, switch or fuses. ``closed`` is the present position; ``normally_open`` marks a tie."""

    kind: ClassVar[str] = "disconnect"
    title: ClassVar[str] = "Disconnect"
    terminals: ClassVar[tuple[str, ...]] = ("line", "load")

    form: str = fact("Form", "choice", default="breaker", choices=DISCONNECT_FORMS, group="Identity")
    rating_a: float | None = fact(
        "Frame or switch rating", "current_a", help="Ampere rating of the frame or of the switch, on its label."
    )
    trip_a: float | None = fact(
        "Trip or fuse rating",
        "current_a",
        help="Breaker trip or setting, or the fuse that is installed.",
        forms=_PROTECTS,
    )
    poles: int | None = fact("Poles", "count", low=1, high=4, counted=_POLES)
    phases: str | None = fact("Phases", "choice", choices=PHASE_SETS)
    voltage_rating: str | None = fact(
        "Voltage rating",
        "choice",
        choices=("120", "120/240", "240", "208Y/120", "277", "480", "480Y/277", "600", "600Y/347"),
    )
    interrupting_ka: float | None = fact(
        "Interrupting rating", "fault_ka", help="On the breaker's or fuse's label.", forms=_PROTECTS
    )
    sccr_ka: float | None = fact("Short-circuit current rating of the switch", "fault_ka", forms=_SWITCH)
    series_rated_with: str | None = fact("Tested series rating behind (item)", "text", forms=_BREAKER)
    series_rating_ka: float | None = fact("Series combination rating", "fault_ka", forms=_BREAKER)
    full_rated: bool | None = fact("Listed for 100 % continuous load", "flag", forms=("breaker", "fused switch"))
    adjustable: bool | None = fact("Adjustable trip, access not restricted", "flag", forms=_BREAKER)
    terminal_c: float | None = fact(
        "Terminal temperature", "temperature_c", low=60, high=90, help="60, 75 or 90 °C, marked inside."
    )
    service_disconnect: bool | None = fact("Service disconnect", "flag")
    service_rated: bool | None = fact("Marked suitable as service equipment", "flag")
    space: int | None = fact("First space in the panel", "count", low=1, high=200, group=PLACE_GROUP)
    bus_end: str | None = fact(
        "Place on the bus", "choice", choices=("feed end", "opposite end", "between"), group=PLACE_GROUP
    )
    closed: bool = fact("Closed", "flag", default=True, group="Switching")
    normally_open: bool = fact("Normally open (tie)", "flag", default=False, group="Switching")
    load_break: bool | None = fact("Can be opened under load", "flag", group="Switching", forms=(*_SWITCH, "fuses"))
    lockable: bool | None = fact("Can be locked open", "flag", group="Switching")
    neutral_bonded: bool | None = fact("Neutral bonded to the enclosure here", "flag", group="Bonding")


@dataclass(frozen=True, kw_only=True)
class TransferSwitch(Item):
    kind: ClassVar[str] = "transfer"
    title: ClassVar[str] = "Transfer switch"
    terminals: ClassVar[tuple[str, ...]] = ("normal", "alternate", "load")

    rating_a: float | None = fact("Rating", "current_a")
    withstand_ka: float | None = fact("Withstand and closing rating", "fault_ka")
    automatic: bool | None = fact("Automatic", "flag")
    switched_neutral: bool | None = fact("Neutral is switched", "flag", group="Bonding")
    position: str = fact("Position", "choice", default="normal", choices=TRANSFER_POSITIONS, group="Switching")


@dataclass(frozen=True, kw_only=True)
class Meter(Item):
    kind: ClassVar[str] = "meter"
    title: ClassVar[str] = "Meter"
    terminals: ClassVar[tuple[str, ...]] = ("line", "load")

    number: str | None = fact("Meter number", "text", group="Identity")
    ct_ratio: str | None = fact("Current transformer ratio", "text")
    demand: tuple[DemandRecord, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Bus(Item):
    """Panelboard, switchboard section, gutter, splice box: everything that joins several conductors at one point."""

    kind: ClassVar[str] = "bus"
    title: ClassVar[str] = "Bus or panel"
    terminals: ClassVar[tuple[str, ...]] = ("bus",)

    form: str = fact("Form", "choice", default="panelboard", choices=BUS_FORMS, group="Identity")
    rating_a: float | None = fact("Bus rating", "current_a", help="On the panel's label; not the size of its main.")
    sccr_ka: float | None = fact("Short-circuit current rating", "fault_ka", help="On the label, or its bracing.")
    phases: str | None = fact("Phases", "choice", choices=PHASE_SETS)
    spaces: int | None = fact(
        "Spaces", "count", high=200, forms=_SECTIONS, counted=("spaces", "space", "circuits", "sp")
    )
    terminal_c: float | None = fact("Terminal temperature", "temperature_c", low=60, high=90)
    feed_position: str | None = fact("Fed at", "choice", choices=("end", "center"), forms=(*_SECTIONS, "busway"))
    engineered: bool | None = fact("Bus load studied by an engineer", "flag", forms=(*_SECTIONS, "busway"))
    maker_tap_provision: bool | None = fact("Maker's provision for taps", "flag", forms=(*_SECTIONS, "busway"))
    line_side_barrier: bool | None = fact("Barrier over the line terminals", "flag", forms=_SECTIONS)
    neutral_bonded: bool | None = fact("Neutral bonded to the enclosure here", "flag", group="Bonding")
    all_listed: bool | None = fact(
        "All its circuits are listed or drawn", "flag", forms=_SECTIONS,
        help="A panelboard without a directory feeds nobody knows what, unless this says that what is drawn is all.",
    )  # fmt: skip
    circuits: tuple[Circuit, ...] = ()
    #: Length of the drawn bar in grid units; ``None`` lets the layout choose.
    width: float | None = None

    @property
    def unlisted(self) -> bool:
        """Whether it may feed more than what is drawn: an existing panelboard whose directory nobody entered."""
        return (
            self.form == "panelboard" and self.status in ("existing", "remove") and not self.circuits
            and self.all_listed is not True
        )  # fmt: skip

    def without_feeders(self, gone: Iterable[str | None]) -> Bus:
        """The bus with its lines for devices that are ``gone``: the line stays, and what it feeds nobody said yet."""
        ids = {i for i in gone if i is not None}
        rows = tuple(c.undrawn() if c.feeds in ids else c for c in self.circuits)
        return self if rows == self.circuits else replace(self, circuits=rows)


# -------------------------------------------------------------------------------------------------------------- loads
@dataclass(frozen=True, kw_only=True)
class Load(Item):
    kind: ClassVar[str] = "load"
    title: ClassVar[str] = "Load"
    terminals: ClassVar[tuple[str, ...]] = ("in",)

    load_class: str = fact("Class", "choice", default="other", choices=LOAD_CLASSES, group="Identity")
    va: float | None = fact("Load", "power_va", help="Total of all phases.")
    phases: str | None = fact("Phases", "choice", choices=PHASE_SETS)
    power_factor: float | None = fact("Power factor", "ratio", low=0.01, high=1)
    continuous: bool | None = fact("Continuous (3 hours or more)", "flag")
    horsepower: float | None = fact("Motor", "horsepower")
    mca_a: float | None = fact("Nameplate minimum circuit ampacity", "current_a")
    mocp_a: float | None = fact("Nameplate maximum overcurrent protection", "current_a")
    noncoincident_group: str | None = fact("Not at the same time as (group)", "text")
    nonlinear: bool | None = fact("Nonlinear", "flag")


# ------------------------------------------------------------------------------------------------------- connections
@dataclass(frozen=True, kw_only=True)
class Connection(Item):
    """Base of everything that joins two terminals. ``bends`` are the user's own corner points, from a to b."""

    a: End
    b: End | None
    bends: tuple[Place, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Joint(Connection):
    """Bolted or plugged connection without a length: a breaker on its bus."""

    kind: ClassVar[str] = "joint"
    title: ClassVar[str] = "Bolted connection"
    b: End


@dataclass(frozen=True, kw_only=True)
class ConductorRun(Connection):
    """Conductors from ``a`` (line side as drawn) to ``b``: sets x size x material x insulation x length x raceway."""

    kind: ClassVar[str] = "run"
    title: ClassVar[str] = "Conductors"
    b: End

    sets: int | None = fact(
        "Sets in parallel", "count", default=1, low=1, high=20, group="Conductors",
        counted=("sets", "set", "runs", "run", "x"),
    )  # fmt: skip
    size: str | None = fact("Size", "size", choices=CONDUCTOR_SIZES, group="Conductors")
    material: str | None = fact("Material", "choice", choices=MATERIALS, group="Conductors")
    insulation: str | None = fact("Insulation", "choice", choices=INSULATIONS, group="Conductors")
    length_ft: float | None = fact(
        "Length",
        "length_ft",
        help="Conductor length terminal to terminal, drops inside enclosures included.",
        group="Conductors",
    )
    phases: str | None = fact("Phases", "choice", choices=PHASE_SETS, group="Conductors")
    neutral_size: str | None = fact("Neutral size", "size", choices=("none", *CONDUCTOR_SIZES), group="Conductors")
    egc_size: str | None = fact(
        "Equipment grounding conductor", "size", choices=("none", "raceway", *CONDUCTOR_SIZES), group="Conductors"
    )
    egc_material: str | None = fact("Grounding conductor material", "choice", choices=MATERIALS, group="Conductors")
    raceway: str | None = fact("Raceway", "choice", choices=RACEWAYS, group="Raceway")
    raceway_size: str | None = fact("Raceway trade size", "text", help='Trade size, "2" or "1-1/4".', group="Raceway")
    current_carrying: int | None = fact(
        "Current-carrying conductors in the raceway",
        "count",
        low=1,
        help="Of all circuits in it.",
        group="Raceway",
        counted=("conductors", "conductor", "wires", "wire", "ccc"),
    )
    ambient_c: float | None = fact("Ambient temperature", "temperature_c", group="Raceway")
    wet: bool | None = fact("Wet location", "flag", group="Raceway")
    outdoors: bool | None = fact("Outdoors except at its end", "flag", group="Raceway")
    leaves_enclosure: bool | None = fact("Leaves the enclosure it starts in", "flag", group="Raceway")
    terminal_c: float | None = fact(
        "Terminal temperature",
        "temperature_c",
        low=60,
        high=90,
        help="Lowest of both ends: 60, 75 or 90.",
        group="Conductors",
    )


@dataclass(frozen=True, kw_only=True)
class SuspectedTie(Connection):
    """A connection nobody traced. ``b`` is ``None`` when it leads to an unknown place. Counts as possibly closed."""

    kind: ClassVar[str] = "tie"
    title: ClassVar[str] = "Suspected tie"

    traced: str | None = fact("Traced", "choice", default="untraced", choices=TRACED, group="Identity")


#: All kinds, in the order the palette shows them.
KINDS: dict[str, type[Item]] = {
    cls.kind: cls
    for cls in (
        UtilityService, Generator, SolarArray, Battery, Transformer, Meter, Disconnect, TransferSwitch, Bus, Load,
        ConductorRun, Joint, SuspectedTie,
    )
}  # fmt: skip

SOURCE_KINDS = ("service", "generator", "solar", "battery")
CONNECTION_KINDS = ("run", "joint", "tie")
