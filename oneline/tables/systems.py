"""Nominal systems and the colors of their conductors."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from oneline.tables.source import NotInTable, by, figure, find, number

_SYSTEMS = "systems"
_COLORS = "phase_colors"


@dataclass(frozen=True)
class System:
    """Figures of a nominal system. Voltages in V.

    ``v_ll``: between line conductors (on the two-wire system between its two conductors). ``v_ln``: to the neutral,
    ``None`` when there is none. ``v_to_ground``: the highest to ground. ``v_high_leg``: of the high leg to neutral, on
    four-wire delta only. ``grounding``: "neutral", "midpoint", "corner" or "ungrounded".
    """

    code: str
    title: str
    phases: int
    wires: int
    v_ll: float
    v_ln: float | None
    v_to_ground: float
    v_high_leg: float | None
    grounding: str
    breaker_rating: str

    @property
    def has_neutral(self) -> bool:
        return self.v_ln is not None

    @property
    def solidly_grounded_wye(self) -> bool:
        return self.phases == 3 and self.grounding == "neutral"


@cache
def system(code: str) -> System:
    """The system with a code of the vocabulary. Raises ``NotInTable``."""
    row = find(_SYSTEMS, ("code",), code)
    return System(
        code=code,
        title=row["system"],
        phases=int(row["phases"]),
        wires=int(row["wires"]),
        v_ll=number(row, "v_line_line", _SYSTEMS),
        v_ln=figure(row, "v_line_neutral"),
        v_to_ground=number(row, "v_to_ground_max", _SYSTEMS),
        v_high_leg=figure(row, "v_high_leg"),
        grounding=row["grounding"],
        breaker_rating=row["breaker_rating"],
    )


@cache
def phase_color(system: str, conductor: str) -> str | None:
    """Color by common practice (or by code) of a conductor "A", "B", "C", "N" or "G" of a system; ``None``: no settled
    practice. Raises ``NotInTable`` where the system has no such conductor."""
    find(_SYSTEMS, ("code",), system)
    colors = by(_COLORS, "code", "conductor")
    row = colors.get((system, conductor)) or colors.get(("any", conductor))
    if row is None:
        raise NotInTable(f"{_COLORS}.csv", f"conductor {conductor} of {system}")
    return row["color"] or None
