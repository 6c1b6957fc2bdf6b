"""What is fed: buses and panels with their schedules, and loads."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import ClassVar

from oneline.model.fields import LOAD_GROUP, WORK_GROUP, fact
from oneline.model.records import Circuit, Item
from oneline.model.vocabulary import (
    BUS_FORMS,
    DETECTOR_LAMPS,
    DUTIES,
    LOAD_CALCULATIONS,
    LOAD_CLASSES,
    MARKED_DEVICES,
    OCCUPANCIES,
    OPPOSITE,
    OUTAGE_CARES,
    PHASE_SETS,
    TIME_RATINGS,
)

#: Forms that have what a field is about.
_SECTIONS = ("panelboard", "switchboard", "meter center")
#: Enclosures in which conductors are only joined or pass.
_JOINS = ("gutter", "splice box")
_WIRED = (*_SECTIONS, *_JOINS)
#: What an available fault current above a rating may be held down by.
LET_THROUGH_BY = ("tested combination on the label", "engineered", "let-through chart")


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
    breakers_ka: float | None = fact(
        "Interrupting rating of its breakers", "fault_ka", forms=_SECTIONS,
        help="Lowest marked on the breakers that stand only in its schedule.",
    )  # fmt: skip
    breakers_series_with: str | None = fact(
        "Its breakers series rated behind (item)", "text", forms=_SECTIONS,
        help="Tested combination on the panel's label.",
    )  # fmt: skip
    breakers_series_ka: float | None = fact("Series rating of its breakers", "fault_ka", forms=_SECTIONS)
    let_through_ka: float | None = fact(
        "Let-through current relied on", "fault_ka", group="Fault current",
        help="What a current-limiting device ahead is said to let through.",
    )  # fmt: skip
    let_through_by: str | None = fact(
        "Let-through shown by", "choice", choices=LET_THROUGH_BY, group="Fault current"
    )  # fmt: skip
    fault_marked_ka: float | None = fact(
        "Fault current marked on it",
        "fault_ka",
        group="Fault current",
        forms=_SECTIONS,
        help="The field marking, not a rating.",
    )
    fault_marked_on: str | None = fact("Date of that marking", "date", group="Fault current", forms=_SECTIONS)
    length_ft: float | None = fact("Length beyond the equipment", "length_ft", forms=("gutter",))
    pull: str | None = fact("Conductors pulled", "choice", choices=("straight", "angle"), forms=("splice box",))
    pull_distance_in: float | None = fact(
        "Distance from the raceway entry to the opposite wall (inches)", "ratio", high=1000, forms=("splice box",)
    )
    neutral_bonded: bool | None = fact("Neutral bonded to the enclosure here", "flag", group="Bonding")
    all_listed: bool | None = fact(
        "All its circuits are listed or drawn", "flag",
        help="Existing equipment without a directory feeds nobody knows what, unless this says that what is drawn is all.",
    )  # fmt: skip
    system_marked: bool | None = fact(
        "Marked for its system", "flag", group="Marking", forms=_SECTIONS,
        help="High-leg: which phase, and its volts to ground. Ungrounded: the warning and the volts between phases.",
    )  # fmt: skip
    high_leg_identified: bool | None = fact(
        "High-leg conductor orange or tagged", "flag", group="Marking", forms=_SECTIONS
    )
    ground_detector: bool | None = fact("Ground detector fitted", "flag", group="Marking", forms=_SECTIONS)
    detector_lamps: str | None = fact(
        "Detector shows", "choice", choices=DETECTOR_LAMPS, group="Marking", forms=_SECTIONS
    )
    wiring_space_in2: float | None = fact(
        "Wiring-space cross section (in²)", "ratio", high=100_000, group="Wiring space", forms=_WIRED,
        help="Of the gutter or box, or the wiring gutter of the cabinet, where conductors pass: width times depth.",
    )  # fmt: skip
    gutter_width_in: float | None = fact(
        "Narrowest width where conductors turn (inches)", "ratio", high=1000, group="Wiring space", forms=_WIRED,
        help="Of the wiring gutter beside the terminals, or of the gutter where conductors are bent.",
    )  # fmt: skip
    passing_in2: float | None = fact(
        "Conductors passing through (in²)", "ratio", high=100_000, group="Wiring space", forms=_WIRED,
        help="At the fullest cross section, all conductors that pass.",
    )  # fmt: skip
    spliced_in2: float | None = fact(
        "Conductors, splices and taps (in²)", "ratio", high=100_000, group="Wiring space", forms=_WIRED,
        help="At the fullest cross section, everything there.",
    )  # fmt: skip
    passing_marked: bool | None = fact(
        "Closest disconnect of what passes is marked", "flag", group="Wiring space", forms=_SECTIONS
    )
    work_depth_ft: float | None = fact(
        "Clear depth in front",
        "length_ft",
        group=WORK_GROUP,
        forms=_SECTIONS,
        help="From the live parts or the front.",
    )
    work_width_ft: float | None = fact("Clear width", "length_ft", group=WORK_GROUP, forms=_SECTIONS)
    work_height_ft: float | None = fact("Clear height", "length_ft", group=WORK_GROUP, forms=_SECTIONS)
    work_opposite: str | None = fact("Opposite it", "choice", choices=OPPOSITE, group=WORK_GROUP, forms=_SECTIONS)
    equipment_width_ft: float | None = fact("Width of the equipment", "length_ft", group=WORK_GROUP, forms=_SECTIONS)
    equipment_height_ft: float | None = fact("Height of the equipment", "length_ft", group=WORK_GROUP, forms=_SECTIONS)
    work_entrances: int | None = fact(
        "Entrances to the space", "count", low=0, high=20, group=WORK_GROUP, forms=_SECTIONS
    )
    continuous_egress: bool | None = fact(
        "Way out unobstructed, or double depth", "flag", group=WORK_GROUP, forms=_SECTIONS,
        help="A continuous way out, or twice the depth asked for: one entrance is enough then.",
    )  # fmt: skip
    dedicated_clear: bool | None = fact(
        "Space above and below it free of foreign piping", "flag", group=WORK_GROUP, forms=_SECTIONS,
        help="Its width and depth, from the floor to 6 ft above it or to the structural ceiling: no pipes, ducts or leak "
        "protection that belong to something else.",
    )  # fmt: skip
    panic_hardware: bool | None = fact(
        "Doors near open outward with panic hardware", "flag", group=WORK_GROUP, forms=_SECTIONS
    )
    area_ft2: float | None = fact(
        "Floor area it serves (ft²)", "ratio", high=10_000_000, group=LOAD_GROUP, forms=_SECTIONS,
        help="Outside dimensions. The lighting below it then counts as no less than the code's load for this area.",
    )  # fmt: skip
    occupancy: str | None = fact("Use of the area", "choice", choices=OCCUPANCIES, group=LOAD_GROUP, forms=_SECTIONS)
    dwelling_units: int | None = fact(
        "Dwelling units", "count", low=1, group=LOAD_GROUP, forms=_SECTIONS, help="That it feeds."
    )
    load_calculation: str | None = fact(
        "Load calculation", "choice", choices=LOAD_CALCULATIONS, group=LOAD_GROUP, forms=_SECTIONS,
        help="Standard unless an optional one is chosen: of a dwelling unit's panel, or of three dwelling units and more.",
    )  # fmt: skip
    circuits: tuple[Circuit, ...] = ()
    #: Length of the drawn bar in grid units; ``None`` lets the layout choose.
    width: float | None = None

    @property
    def has_spaces(self) -> bool:
        """Whether it holds devices of its own, as a panelboard does, and is more than a place where conductors join."""
        return self.form in _SECTIONS

    @property
    def unlisted(self) -> bool:
        """Whether it may feed more than what is drawn: existing equipment whose directory nobody entered."""
        return self.has_spaces and self.status in ("existing", "remove") and not self.circuits and not self.all_listed

    def without_feeders(self, gone: Iterable[str | None]) -> Bus:
        """The bus with its lines for devices that are ``gone``: the line stays, and what it feeds nobody said yet."""
        ids = {i for i in gone if i is not None}
        rows = tuple(c.undrawn() if c.feeds in ids else c for c in self.circuits)
        return self if rows == self.circuits else replace(self, circuits=rows)


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
    mocp_device: str | None = fact(
        "Nameplate overcurrent device", "choice", choices=MARKED_DEVICES, help="As marked beside the maximum."
    )
    noncoincident_group: str | None = fact("Not at the same time as (group)", "text")
    nonlinear: bool | None = fact("Nonlinear", "flag")
    neutral_bonded: bool | None = fact(
        "Frame grounded by its neutral", "flag", group="Bonding", help="As old three-wire ranges and dryers are."
    )
    quantity: int | None = fact(
        "How many", "count", low=1, group=LOAD_GROUP, counted=("outlets", "yokes", "elevators", "circuits", "pieces", "pcs"),
        help="Outlets, circuits, elevators, equal pieces. The load is that of all together, a nameplate figure that of one.",
    )  # fmt: skip
    area_ft2: float | None = fact(
        "Floor area (ft²)", "ratio", high=10_000_000, group=LOAD_GROUP,
        help="Lighting, and receptacles of offices and banks. Outside dimensions.",
    )  # fmt: skip
    occupancy: str | None = fact("Use of the area", "choice", choices=OCCUPANCIES, group=LOAD_GROUP)
    length_ft: float | None = fact(
        "Length",
        "length_ft",
        group=LOAD_GROUP,
        help="Of the show window, the lighting track or the multioutlet assembly.",
    )
    simultaneous: bool | None = fact(
        "Its outlets are used at the same time", "flag", group=LOAD_GROUP, help="Multioutlet assembly."
    )
    rla_a: float | None = fact(
        "Rated-load current", "current_a", group=LOAD_GROUP,
        help="Compressor's nameplate; the branch-circuit selection current where one is marked.",
    )  # fmt: skip
    nameplate_a: float | None = fact("Nameplate current", "current_a", group=LOAD_GROUP, help="Motor or drive.")
    duty: str | None = fact("Duty", "choice", choices=DUTIES, group=LOAD_GROUP)
    time_rating: str | None = fact(
        "Time rating of the motor", "choice", choices=TIME_RATINGS, group=LOAD_GROUP, help="On its nameplate."
    )
    controller_a: float | None = fact(
        "Constant current of its controller", "current_a", group=LOAD_GROUP, help="Elevators; of one controller."
    )
    managed_a: float | None = fact(
        "Setting of its energy management system", "current_a", group=LOAD_GROUP,
        help="Largest current that a listed system lets this load take, access to the setting restricted.",
    )  # fmt: skip
    control: str | None = fact("Switched off at", "text", group="Switching", help="Its own switch, starter or control.")
    care: str | None = fact(
        "Before it loses power", "choice", choices=OUTAGE_CARES, group="Switching",
        help="What somebody has to look after first.",
    )  # fmt: skip
