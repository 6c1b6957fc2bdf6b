"""Voltage drop at panels and loads of the drawing against the recommended figures."""

from __future__ import annotations

from collections.abc import Iterator

from oneline.model import Bus, Load
from oneline.rules.common import Fact, Subject
from oneline.rules.drop import DropFacts, voltage_drop
from oneline.rules.verdict import Verdict
from oneline.study.context import Context


def verdicts(ctx: Context) -> Iterator[Verdict]:
    """VD: the feeder's part at every panelboard and switchboard, both parts together at every drawn load."""
    for item in ctx.drawing.items.values():
        if isinstance(item, Bus) and item.form in ("panelboard", "switchboard"):
            part = "feeder"
        elif isinstance(item, Load):
            part = "total"
        else:
            continue
        node = ctx.net.node(item.id)
        if ctx.feeding.position[node] < 0 or not ctx.feeding.branch[node]:
            continue
        yield voltage_drop(DropFacts(Subject(item.id, ctx.name(item.id)), ctx.edition, part, drop_fact(ctx, node)))


def drop_fact(ctx: Context, node: int) -> Fact:
    """Voltage drop to a node in percent, from the last source or transformer, at operating load."""
    numbers = ctx.numbers
    need, *also = numbers.drop_needs(node) or ("voltage drop there",)
    assumed = numbers.drop_assumed(node)
    basis = "assumed" if assumed else numbers.drop_basis(node)
    return Fact(numbers.drop_pct[node], None, None, basis, need, "voltage drop", assumed, tuple(also))
