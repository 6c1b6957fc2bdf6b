"""Steps simulated one after the other: what flows through what is operated, who loses and gets power, when."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from oneline import tables
from oneline.model import Load, WorkZone
from oneline.outage.ability import breaking, rating_of
from oneline.outage.act import Act, cares_of, place_of
from oneline.outage.currents import through
from oneline.outage.results import DarkItem, Step
from oneline.outage.scene import Moment, Scene
from oneline.rules.common import listed

#: Weight of a step's states: the worst of two is said.
_WORST = ("pass", "advice", "judge", "unknown", "fail")


def simulate(scene: Scene, zone: WorkZone, acts: Iterable[Act]) -> tuple[Step, ...]:
    """Every step with what it does to the building, from the present positions on."""
    return tuple(step for step, _, _ in followed(scene, zone, acts))


def followed(scene: Scene, zone: WorkZone, acts: Iterable[Act]) -> Iterator[tuple[Step, Moment, Moment]]:
    """Every step with the moment before and the moment after it."""
    moment, minute = scene.begin(), 0.0
    at: float | None = minute
    for number, act in enumerate(acts, 1):
        after = act.done(moment)
        yield _step(scene, act, number, at, moment, after), moment, after
        takes = _minutes(zone, act)
        at = None if at is None or takes is None else at + takes
        moment = after


def _minutes(zone: WorkZone, act: Act) -> float | None:
    """How long a step takes; ``None`` for the work itself where nobody said."""
    if act.action == "work":
        return zone.work_min
    return tables.step_minutes(act.action) if zone.step_min is None else zone.step_min


def _step(scene: Scene, act: Act, number: int, minute: float | None, before: Moment, after: Moment) -> Step:
    ctx = scene.ctx
    item = ctx.drawing.items.get(act.item)
    current, rating, state, why = None, None, act.state, act.why
    if act.contact and item is not None:
        name, moment = ctx.name(act.item), before if act.action == "open" else after
        rating = rating_of(item)
        if moment.closed[act.contact]:
            found = through(moment, act.contact)
            current = found.current
            answer = breaking(item, name, found, act.action == "close")
            if answer.why:
                why = f"{answer.why} {why}" if why else answer.why
            state = max(state, answer.state, key=_WORST.index)
            if act.action == "close" and (together := brought_together(before, act.contact)):
                why = f"{why} {together}".strip()
                state = max(state, "judge", key=_WORST.index)
    changed = before is not after
    dark = _in_order(scene, before.powered - after.powered) if changed else ()
    if dark and act.key.startswith("utility:"):
        state, why = (
            max(state, "judge", key=_WORST.index),
            f"{why} It opens onto load: {_few(scene, dark)} still on.".strip(),
        )
    left = tuple(i for i in dark if act.action in ("inhibit", "stop source") and isinstance(ctx.drawing.get(i), Load))
    if left:
        says = f"It is stopped with {_few(scene, left)} still on: nobody said where that is switched off."
        state, why = max(state, "judge", key=_WORST.index), f"{why} {says}".strip()
    return Step(
        key=act.key, number=number, part=act.part, action=act.action, words=act.words, item=act.item,
        name=ctx.name(act.item) if item is not None else "", place=place_of(item), current=current, rating_a=rating,
        state=state, why=why, lock=act.lock,
        dark=dark,
        back=_in_order(scene, after.powered - before.powered) if changed else (),
        positions=_changed(scene, after), minute=minute, hold=act.hold, back_out=act.back_out,
    )  # fmt: skip


def brought_together(before: Moment, contact: str) -> str:
    """What closing a contact puts in parallel, as a sentence; "" where not both sides are fed by different sources."""
    scene = before.scene
    branch, live = scene.ctx.net.branches[contact], before.live.at_node
    if before.closed[contact] or branch.b < 0:
        return ""
    one, other = (live[n] & scene.forming - before.stopped for n in (branch.a, branch.b))
    if not one or not other or one == other:
        return ""
    names = listed(tuple(scene.ctx.name(s) for s in scene.ctx.net.sources if s in one | other))
    return f"Closing it puts {names} in parallel: only where they are made for it, in phase and in step."


def _few(scene: Scene, items: tuple[str, ...]) -> str:
    names = [scene.ctx.name(i) for i in items[:3]]
    return listed((*names, f"{len(items) - 3} more") if len(items) > 3 else tuple(names))


def _changed(scene: Scene, moment: Moment) -> dict[str, bool]:
    """Positions that are given, and those of new devices that stand open still."""
    given = {**scene.unbuilt, **moment.positions}
    return {k: v for k, v in given.items() if k not in scene.unbuilt or not v}


def _in_order(scene: Scene, ids: frozenset[str]) -> tuple[str, ...]:
    return tuple(i.id for i in scene.fed_items if i.id in ids)


def dark_times(scene: Scene, steps: tuple[Step, ...]) -> tuple[DarkItem, ...]:
    """Who is without power from when to when, in the order in which they lose it."""
    lost: dict[str, Step] = {}
    back: dict[str, Step] = {}
    for step in steps:
        for item in step.dark:
            lost.setdefault(item, step)
            back.pop(item, None)
        back.update((item, step) for item in step.back if item in lost)
    found = []
    for lost_id, step in lost.items():
        thing, end = scene.ctx.drawing.get(lost_id), back.get(lost_id)
        matters = "; ".join(
            care if key.count(":") == 1 else f"{care} (circuit {key.rsplit(':', 1)[1]})"
            for key, care, _ in cares_of(scene.ctx, thing)
        )
        times = (step.number, end.number if end else None, step.minute, end.minute if end else None)
        found.append(DarkItem(lost_id, scene.ctx.name(lost_id), thing.location or "", *times, matters))
    return tuple(found)
