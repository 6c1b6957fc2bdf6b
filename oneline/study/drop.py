"""Voltage drop at panels and loads of the drawing against the recommended figures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

from oneline import tables
from oneline.model import Bus, Item, Load
from oneline.rules.common import Fact, Subject
from oneline.rules.drop import DropFacts, voltage_drop
from oneline.rules.verdict import Verdict
from oneline.study.context import Context
from oneline.study.drop_work import drop_lines
from oneline.study.ends import is_branch
from oneline.study.subject import for_all

_ORDER = ("fail", "advice", "unknown", "pass")


def about(ctx: Context, item: Item) -> Iterator[Verdict]:
    """VD: the feeder's part at every panelboard and switchboard; at every drawn load both parts together, or the branch
    circuit's own where that is the one above the recommendation."""
    if isinstance(item, Bus) and item.form in ("panelboard", "switchboard"):
        part = "feeder"
    elif isinstance(item, Load):
        part = "total"
    else:
        return
    node = ctx.net.node(item.id)
    if ctx.feeding.position[node] < 0 or not ctx.feeding.branch[node]:
        return
    subject = Subject(item.id, ctx.name(item.id))
    found = voltage_drop(DropFacts(subject, ctx.edition, part, drop_fact(ctx, node), partial(drop_lines, ctx, node)))
    start = _branch_start(ctx, node) if isinstance(item, Load) else None
    if start is not None:
        own = voltage_drop(
            DropFacts(subject, ctx.edition, "branch", branch_drop(ctx, start, node), partial(drop_lines, ctx, node))
        )
        if _ORDER.index(own.state) < _ORDER.index(found.state):
            found = own
    yield found


def _branch_start(ctx: Context, node: int) -> int | None:
    """Where the branch circuit of a load starts: behind its overcurrent device; ``None`` where it has none here."""
    device = ctx.protection_of(node).device
    start = None if device is None else ctx.feeding.load_node(device.id)
    return start if start is not None and is_branch(ctx, start) else None


def branch_drop(ctx: Context, start: int, node: int) -> Fact:
    """Voltage drop from the start of a branch circuit to its load, percent of nominal, worst of the load's voltages."""
    whole, numbers = drop_fact(ctx, node), ctx.numbers
    ahead, there, code = numbers.voltage_v[start], numbers.voltage_v[node], ctx.feeding.system[node]
    drops = []
    for key, volts in there.items():
        before = ahead.get(key)
        if code is None or volts is None or before is None or whole.value is None:
            continue
        system = tables.system(code)
        nominal = system.v_ll if len(key) > 1 or system.v_ln is None else system.v_ln
        drops.append((before - volts) / nominal * 100)
    if drops:
        return replace(whole, value=max(drops))
    first = numbers.drop_pct[start]
    if whole.value is None or first is None:
        return replace(whole, value=None)
    return replace(whole, value=whole.value - first)


def drop_fact(ctx: Context, node: int) -> Fact:
    """Voltage drop to a node in percent, from the last source or transformer, at operating load."""
    assumed, basis = ctx.recall("drop rests on", node, lambda: _rests_on(ctx, node))
    return Fact(
        ctx.numbers.drop_pct[node], None, None, basis, "", "voltage drop", assumed,
        missing=lambda: ctx.numbers.drop_needs(node) or ("voltage drop there",),
    )  # fmt: skip


def _rests_on(ctx: Context, node: int) -> tuple[tuple[str, ...], str]:
    """What a voltage drop was assumed for, and its basis."""
    assumed = ctx.numbers.drop_assumed(node)
    return assumed, "assumed" if assumed else ctx.numbers.drop_basis(node)


#: Everything this subject finds on a drawing.
verdicts = for_all(about, of=(Bus, Load))
