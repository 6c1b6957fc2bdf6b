"""Devices in the path: transformer, disconnect, transfer switch, meter."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from oneline.model.fields import PLACE_GROUP, WORK_GROUP, fact
from oneline.model.records import POLES, DemandRecord, Item
from oneline.model.vocabulary import (
    ARC_REDUCTIONS,
    DISCONNECT_FORMS,
    GROUND_FAULT_EXEMPTIONS,
    OPPOSITE,
    PHASE_SETS,
    SERIES_RATINGS,
    STANDS,
    SYSTEMS,
    TRANSFER_POSITIONS,
)

_GROUND_FAULT = "Ground faults and arcs"
#: Forms that have what a field is about.
_BREAKER = ("breaker",)
_PROTECTS = ("breaker", "fused switch", "fuses")
_SWITCH = ("switch", "fused switch")
_FUSED = ("fused switch", "fuses")


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
    poles: int | None = fact("Poles", "count", low=1, high=4, counted=POLES)
    phases: str | None = fact("Phases", "choice", choices=PHASE_SETS)
    voltage_rating: str | None = fact(
        "Voltage rating",
        "choice",
        choices=("120", "120/240", "240", "208Y/120", "277", "480", "480Y/277", "600", "600Y/347"),
    )
    interrupting_ka: float | None = fact(
        "Interrupting rating", "fault_ka", help="On the breaker's or fuse's label.", forms=_PROTECTS
    )
    single_pole_ka: float | None = fact(
        "Interrupting rating of one pole alone", "fault_ka", forms=_BREAKER,
        help="From the maker; asked for on corner-grounded systems only.",
    )  # fmt: skip
    sccr_ka: float | None = fact("Short-circuit current rating of the switch", "fault_ka", forms=_SWITCH)
    series_rated_with: str | None = fact("Series rating behind (item)", "text", forms=_BREAKER)
    series_by: str | None = fact(
        "Series rating is", "choice", choices=SERIES_RATINGS, forms=_BREAKER,
        help="Engineered: selected and stamped by a professional engineer; existing installations only.",
    )  # fmt: skip
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
    back_fed: bool | None = fact(
        "Plug-in breaker, back-fed", "flag", group=PLACE_GROUP, forms=_BREAKER,
        help="It plugs on the bus like a branch breaker, and the supply lands on its load terminals.",
    )  # fmt: skip
    held_down: bool | None = fact(
        "Held by an additional fastener", "flag", group=PLACE_GROUP, forms=_BREAKER,
        help="A screw or clip: it takes more than a pull to get the breaker off the bus.",
    )  # fmt: skip
    delta_breaker: bool | None = fact(
        "Delta breaker", "flag", group=PLACE_GROUP, forms=_BREAKER,
        help="Three poles of which two plug on a two-phase bus and one has its own lug.",
    )  # fmt: skip
    stands: str | None = fact("Where it stands", "choice", choices=STANDS, group=PLACE_GROUP)
    readily_accessible: bool | None = fact(
        "Readily accessible",
        "flag",
        group=PLACE_GROUP,
        help="Reached at once, without a ladder, a key or moving things.",
    )
    handle_ft: float | None = fact(
        "Highest handle position", "length_ft", high=100, group=PLACE_GROUP,
        help="Center of the grip at its highest, above the floor or platform.",
    )  # fmt: skip
    excluded_place: bool | None = fact(
        "Over stairs, in a bathroom or near easily ignited material", "flag", group=PLACE_GROUP
    )
    work_depth_ft: float | None = fact("Clear depth in front", "length_ft", group=WORK_GROUP, forms=_SWITCH)
    work_width_ft: float | None = fact("Clear width", "length_ft", group=WORK_GROUP, forms=_SWITCH)
    work_height_ft: float | None = fact("Clear height", "length_ft", group=WORK_GROUP, forms=_SWITCH)
    work_opposite: str | None = fact("Opposite it", "choice", choices=OPPOSITE, group=WORK_GROUP, forms=_SWITCH)
    equipment_width_ft: float | None = fact("Width of the equipment", "length_ft", group=WORK_GROUP, forms=_SWITCH)
    equipment_height_ft: float | None = fact("Height of the equipment", "length_ft", group=WORK_GROUP, forms=_SWITCH)
    fault_marked_ka: float | None = fact(
        "Fault current marked on it", "fault_ka", group="Fault current", help="The field marking, not a rating."
    )
    fault_marked_on: str | None = fact("Date of that marking", "date", group="Fault current")
    closed: bool = fact("Closed", "flag", default=True, group="Switching")
    normally_open: bool = fact("Normally open (tie)", "flag", default=False, group="Switching")
    load_break: bool | None = fact("Can be opened under load", "flag", group="Switching", forms=(*_SWITCH, "fuses"))
    lockable: bool | None = fact("Can be locked open", "flag", group="Switching")
    suspect: bool | None = fact(
        "Doubtful whether it closes again", "flag", group="Switching",
        help="Old, not operated for years, corroded, or known to stick.",
    )  # fmt: skip
    neutral_bonded: bool | None = fact("Neutral bonded to the enclosure here", "flag", group="Bonding")
    grounded_pole_solid: bool | None = fact(
        "No fuse in the grounded phase", "flag", group="Bonding", forms=_FUSED,
        help="Corner-grounded systems only: a solid link where the grounded phase passes.",
    )  # fmt: skip
    gfp_fitted: bool | None = fact("Ground-fault protection of equipment", "flag", group=_GROUND_FAULT, forms=_PROTECTS)
    gfp_pickup_a: float | None = fact("Its pickup", "current_a", group=_GROUND_FAULT, forms=_PROTECTS)
    gfp_delay_s: float | None = fact(
        "Its delay at high current (s)", "ratio", high=60, group=_GROUND_FAULT, forms=_PROTECTS,
        help="From the time-current curve, at 3,000 A and more.",
    )  # fmt: skip
    gfp_tested: bool | None = fact("Its performance test is on record", "flag", group=_GROUND_FAULT, forms=_PROTECTS)
    gfp_exempt: str | None = fact(
        "Exempt from ground-fault protection", "choice", choices=GROUND_FAULT_EXEMPTIONS, group=_GROUND_FAULT,
        forms=_PROTECTS, help="What it serves, where that takes the requirement away.",
    )  # fmt: skip
    arc_reduction: str | None = fact(
        "Arc-energy reduction", "choice", choices=ARC_REDUCTIONS, group=_GROUND_FAULT, forms=_PROTECTS
    )
    arc_reduction_tested: bool | None = fact(
        "Its documentation and test are on record", "flag", group=_GROUND_FAULT, forms=_PROTECTS
    )
    clearing_s: float | None = fact(
        "Clearing time at the arcing current (s)", "ratio", high=60, group=_GROUND_FAULT, forms=_FUSED,
        help="From the fuse's curve.",
    )  # fmt: skip


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
    lockable_off: bool | None = fact("Has an off position that can be locked", "flag", group="Switching")


@dataclass(frozen=True, kw_only=True)
class Meter(Item):
    kind: ClassVar[str] = "meter"
    title: ClassVar[str] = "Meter"
    terminals: ClassVar[tuple[str, ...]] = ("line", "load")

    number: str | None = fact("Meter number", "text", group="Identity")
    ct_ratio: str | None = fact("Current transformer ratio", "text")
    demand: tuple[DemandRecord, ...] = ()
