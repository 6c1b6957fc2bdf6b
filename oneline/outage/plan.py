"""Puts together everything about one outage."""

from __future__ import annotations

from dataclasses import replace

from oneline.model import Drawing, WorkZone
from oneline.outage.acts import all_acts
from oneline.outage.arranged import arranged_by_hand, moved
from oneline.outage.beside import beside
from oneline.outage.cards import cards_for
from oneline.outage.devices import Outage, arranged, scene_of, survey, with_helpers
from oneline.outage.isolate import isolation_of, zone_answer
from oneline.outage.notes import notes_of
from oneline.outage.problems import problems_of
from oneline.outage.results import Isolation, OrderProblem, Plan, ZoneAnswer
from oneline.outage.spare import spares_of
from oneline.outage.states import item_states
from oneline.outage.steps import dark_times, simulate
from oneline.study.context import Context
from oneline.study.study import without_collection


def make_plan(drawing: Drawing, zone_id: str, view: str | None = None, edition: int | None = None) -> Plan:
    """The plan of one outage of a drawing. Raises ``KeyError`` where there is no such zone.

    ``view``: by default the building as it stands, "existing", unless something that is worked on is new.
    """
    zone = drawing.zone(zone_id)
    ctx = Context(drawing, view or view_of(drawing, zone), edition or drawing.project.edition)
    with without_collection():
        return plan_of(ctx, zone)


def view_of(drawing: Drawing, zone: WorkZone) -> str:
    """The view in which an outage is planned."""
    existing = drawing.view("existing")
    return "existing" if all(item in existing for item in zone.items) else "proposed"


def plan_of(ctx: Context, zone: WorkZone) -> Plan:
    """The plan of one outage in one view."""
    answer = zone_answer(ctx, zone)
    isolation = isolation_of(ctx, zone, answer)
    used = isolation or next(iter(answer.besides), None)
    return replace(with_isolation(ctx, answer, isolation), beside=beside(ctx, zone, used))


def with_isolation(ctx: Context, answer: ZoneAnswer, isolation: Isolation | None) -> Plan:
    """The plan with these isolation points."""
    states = item_states(ctx, answer.zone, isolation)
    outage = outage_of(ctx, answer, isolation)
    if outage is None:
        return Plan(answer, isolation, states=states)
    scene, zone = outage.scene, answer.zone
    cards = cards_for(outage, zone.items)
    computed = all_acts(answer, outage, arranged(outage), cards)
    steps = simulate(scene, zone, computed)
    problems: tuple[OrderProblem, ...] = ()
    if zone.order:
        acts, problems = arranged_by_hand(computed, zone.order)
        by_key, keys = {s.key: s for s in steps}, tuple(s.key for s in steps)
        if tuple(a.key for a in acts) != keys:
            steps, more = problems_of(answer, outage, acts, by_key, keys)
            problems = (*problems, *more)
    dark = dark_times(scene, steps)
    return Plan(answer, isolation, steps, problems, cards, dark, spares_of(outage), notes_of(outage), states)


def reorder(drawing: Drawing, zone_id: str, step_key: str, before_key: str | None) -> Drawing:
    """The drawing with one step of an outage put before another (``None``: at the end). Nothing is forbidden: the plan
    of the new drawing says what is wrong with the order. Raises ``KeyError`` where there is no such zone or step."""
    keys = [s.key for s in make_plan(drawing, zone_id).steps]
    for key in (step_key, before_key):
        if key is not None and key not in keys:
            raise KeyError(key)
    zone = drawing.zone(zone_id)
    order = () if step_key == before_key else moved(keys, step_key, before_key)
    return drawing if not order else drawing.with_zone(replace(zone, order=order))


def outage_of(ctx: Context, answer: ZoneAnswer, isolation: Isolation | None) -> Outage | None:
    """What the outage has to do with; ``None`` where there is nothing to open and nobody to ask."""
    utility = tuple(b.source for b in answer.blocked if b.source in ctx.drawing)
    if isolation is None:
        isolation = answer.besides[0] if answer.besides else Isolation((), 0, (), ()) if utility else None
    if isolation is None or not answer.nodes:
        return None
    return with_helpers(survey(scene_of(ctx, isolation), isolation, utility))
