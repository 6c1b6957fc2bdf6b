"""Plans of the outages of a drawing, made once for each drawing that is asked about."""

from __future__ import annotations

from collections.abc import Callable

from oneline.model import Drawing
from oneline.outage.results import Plan

Planner = Callable[[Drawing, str], Plan]


def make(drawing: Drawing, zone_id: str) -> Plan:
    """The plan of one outage of a drawing."""
    from oneline.outage.plan import make_plan

    return make_plan(drawing, zone_id)


class Plans:
    """The plans of the present drawing; those of a drawing before it are forgotten."""

    def __init__(self, planner: Planner | None = None) -> None:
        self.planner = planner or make
        self._drawing: Drawing | None = None
        self._made: dict[str, Plan] = {}

    def of(self, drawing: Drawing, zone_id: str) -> Plan:
        """The plan of a zone; raises ``KeyError`` with the id when the drawing has no such zone."""
        drawing.zone(zone_id)
        if drawing is not self._drawing:
            self._drawing, self._made = drawing, {}
        if zone_id not in self._made:
            self._made[zone_id] = self.planner(drawing, zone_id)
        return self._made[zone_id]
