"""What a study answers. The faces and the papers read these; nothing else computes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from oneline.rules.common import amperes
from oneline.rules.verdict import Later, Verdict

#: Figures by phase letter; a missing letter is a phase the point does not have, ``None`` is not known yet.
PerPhase = Mapping[str, float | None]


@dataclass(frozen=True)
class Limit:
    """What limits an addition: the item that binds, what of it ("bus rating", "trip", "conductor ampacity", ...)."""

    item: str
    name: str
    what: str
    rating_a: float
    basis: str = "entered"

    def __str__(self) -> str:
        return f"{self.name}: {self.what} {amperes(self.rating_a)}"


@dataclass(frozen=True)
class PointFigures:
    """Figures of one item.

    ``load_a``: calculated load by phase in amperes at this point's own voltage (demand factors applied, continuous load
    at 100 %). ``counted_a``: the same as counted against ratings (continuous load at 125 %, or 125 % of a recorded
    maximum demand). ``available_a``: what may still be added at this point, by phase, before the first limit on the way
    to the source; negative when already over. ``available_bound_a``: an upper bound where only part of the load is
    known. ``available_kva``: the largest balanced addition. ``limited_by``: the limit that binds. ``fault_a``:
    available three-phase (or line-to-line on single-phase systems) symmetrical fault current; ``fault_least_a`` and
    ``fault_bound_a`` bounds of ``fault_duty_a`` while it is not known (equal to it where it is). ``fault_ln_a``: line
    to neutral. ``fault_ln_hand_a``: its point-to-point value. ``fault_high_leg_a``: from the high leg to the neutral.
    ``fault_lg_a``: line to ground through the equipment grounding conductor, 0 for the first fault of an ungrounded
    system, with bounds ``fault_lg_least_a`` and ``fault_lg_bound_a`` (there: of a second fault) and what is missing in
    ``ground_needs``. ``fault_duty_a``: the largest of them with what motors and inverters add, which ratings are compared
    with. ``fault_hand_a``: the point-to-point value. ``voltage_drop_pct``: from the source (or transformer) to here
    at calculated operating load. ``live_from``: ids of the sources that reach it in the present positions;
    ``live_sides``: the same by terminal; ``possibly_sides``: with those that may reach it. ``needs``: missing facts;
    ``fault_needs``: those that keep ``fault_duty_a`` from being known, nothing when it is.
    """

    id: str
    name: str
    kind: str
    system: str | None = None
    voltage_v: float | None = None
    phases: str = ""
    fed_from: str | None = None
    live_from: tuple[str, ...] = ()
    live_sides: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    possibly_live_from: tuple[str, ...] = ()
    possibly_sides: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    load_a: PerPhase = field(default_factory=dict)
    counted_a: PerPhase = field(default_factory=dict)
    neutral_a: float | None = None
    load_kva: float | None = None
    load_method: str = ""
    available_a: PerPhase = field(default_factory=dict)
    available_bound_a: PerPhase = field(default_factory=dict)
    available_kva: float | None = None
    limited_by: Limit | None = None
    limits: tuple[Limit, ...] = ()
    fault_a: float | None = None
    fault_least_a: float | None = None
    fault_bound_a: float | None = None
    fault_ll_a: float | None = None
    fault_ln_a: float | None = None
    fault_ln_hand_a: float | None = None
    fault_high_leg_a: float | None = None
    fault_lg_a: float | None = None
    fault_lg_least_a: float | None = None
    fault_lg_bound_a: float | None = None
    fault_duty_a: float | None = None
    fault_hand_a: float | None = None
    fault_x_r: float | None = None
    voltage_drop_pct: float | None = None
    ampacity_a: float | None = None
    readings: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    fault_needs: tuple[str, ...] = ()
    ground_needs: tuple[str, ...] = ()


@dataclass(frozen=True)
class StudyResult:
    """Everything about one view of one drawing under one edition."""

    edition: int
    view: str
    points: Mapping[str, PointFigures]
    verdicts: Later[Sequence[Verdict]] = Later()  # noqa: RUF009 - a descriptor, one for all
    sources: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
