"""Gathers clamp readings that contradict the drawing or a rating, item by item."""

from __future__ import annotations

from collections.abc import Iterator

from oneline.model import Bus, Disconnect, Item
from oneline.rules.dates import day_of, read_later, record_age
from oneline.rules.readings import ReadPhase, above_rating, more_than_drawn
from oneline.rules.verdict import Verdict
from oneline.study.context import Context, protects
from oneline.study.ends import buses_at, rating_words, subject_of
from oneline.study.phasors import PHASES
from oneline.study.subject import for_all


def about(ctx: Context, item: Item) -> Iterator[Verdict]:
    """READ-1 of every item with readings; dates of readings and records against the drawing's."""
    if item.readings or item.voltages or getattr(item, "demand", ()):
        yield from _dates(ctx, item)
    if not item.readings:
        return
    highest: dict[str, tuple[float, str]] = {}
    for reading in item.readings:
        for phase, amps in zip(PHASES, (reading.a_a, reading.b_a, reading.c_a), strict=True):
            if amps is not None and amps > highest.get(phase, (0.0, ""))[0]:
                highest[phase] = (amps, reading.when)
    most = _existing_most(ctx, item)
    phases = tuple(ReadPhase(p, amps, when, most.get(p)) for p, (amps, when) in highest.items())
    subject = subject_of(ctx, item)
    rating, rated = _rating(item)
    for found in (
        above_rating(subject, ctx.edition, phases, rating, rated),
        more_than_drawn(subject, ctx.edition, phases),
    ):
        if found is not None:
            yield found


def _dates(ctx: Context, item: Item) -> Iterator[Verdict]:
    """The latest of each kind of reading and record that lies after the drawing; records long past."""
    records = getattr(item, "demand", ())
    as_of, subject = ctx.full.project.as_of, subject_of(ctx, item)
    kinds = (
        ("READ-1", "A clamp reading", [r.when for r in item.readings]),
        ("GND-9", "A voltage reading", [v.when for v in item.voltages]),
        ("LOAD-1", "The demand record", [r.end for r in records]),
    )
    for rule, what, days in kinds:
        latest = max((d for d in days if day_of(d) is not None), default=None, key=lambda d: str(day_of(d)))
        found = read_later(subject, ctx.edition, rule, what, latest, as_of)
        if found is not None:
            yield found
        old = record_age(subject, ctx.edition, latest, as_of) if rule == "LOAD-1" else None
        if old is not None:
            yield old


def _rating(item: Item) -> tuple[float | None, str]:
    if isinstance(item, Bus):
        return item.rating_a, "bus"
    if isinstance(item, Disconnect):
        field = "trip_a" if protects(item) else "rating_a"
        return getattr(item, field), rating_words(item, field).removesuffix(" rating")
    return None, ""


def _existing_most(ctx: Context, item: Item) -> dict[str, float]:
    """Most that what was there already can draw through an item, by phase, continuous load at 100 %.

    Nothing where a load below is taken away in this view, which ran when it was read: the existing view tells then.
    """
    if item.status == "new":
        return {}
    key = item.id in ctx.net.branches
    node = ctx.feeding.load_node(item.id) if key else ctx.net.node(item.id) if len(item.terminals) == 1 else None
    if node is None or ctx.feeding.position[node] < 0 or _something_removed(ctx, node):
        return {}
    at, new = ctx.feeding.position[node], ctx.demand.new
    return {
        p: max(0.0, b.high - float(new.load_low[at, PHASES.index(p)]))
        for p, b in ctx.demand.bounds(node, counted=False).items()
        if b.high is not None
    }


def _something_removed(ctx: Context, node: int) -> bool:
    if ctx.view == "existing":
        return False
    if ctx.settled("removals", lambda: any(item.status == "remove" for item in ctx.full.items.values())):
        return True
    wholes = (ctx.full.items[bus.id] for n in ctx.feeding.subtree(node) for bus in buses_at(ctx, n))
    return any(isinstance(whole, Bus) and any(c.status == "remove" for c in whole.circuits) for whole in wholes)


#: Everything this subject finds on a drawing.
verdicts = for_all(about)
