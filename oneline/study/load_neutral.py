"""Neutral load of feeders and services (220.61, LOAD-3)."""

from __future__ import annotations

import numpy as np

from oneline import tables
from oneline.rules.common import Fact
from oneline.rules.load import Reckoned, neutral_load
from oneline.study.calculated import Calculated
from oneline.study.context import Context
from oneline.study.phasors import PHASES

#: Two loads closer than this share are one.
_SAME = 1e-9
#: What an assumption about a load is called.
_NAME = "part of the load"


def neutral_at(ctx: Context, calc: Calculated, node: int, code: str) -> tuple[Reckoned, Reckoned]:
    """Neutral load of what is known below a node: at least, if all that is not known to be nonlinear is linear; and as
    counted, where only what is known to be linear is reduced."""
    at = ctx.feeding.position[node]
    lines = calc.neutral[at]
    full, linear, nonlinear = (float(v) for v in lines[int(np.argmax(lines[:, 0]))])
    may_be = full - nonlinear
    # Only on a four-wire wye does nonlinear load stay in full.
    if not tables.system(code).solidly_grounded_wye:
        linear = may_be = full
    # Nothing off where three wires come from a four-wire wye.
    allowed = tables.system(code).grounding == "midpoint" or len(ctx.feeding.phases[node]) == 3
    low, high = (neutral_load(full, part, allowed, ctx.edition) for part in (may_be, linear))
    return low, high


def neutral_fact(ctx: Context, node: int) -> Fact:
    """Neutral load with its bounds, for comparing with a conductor. It is never more than the load of the largest phase."""
    feeding, demand, calc = ctx.feeding, ctx.demand, ctx.demand.calculated
    at, code = feeding.position[node], feeding.system[node]
    phase = _at_most(ctx, node)
    own = demand.neutral_needs(node)
    if at < 0 or code is None or node in demand.split or own:
        need, *also = (*own, *demand.needs(node)) or ("neutral load",)
        return Fact(None, 0.0, phase, demand.basis(node), need, _NAME, demand.assumed(node), tuple(also))
    low, high = neutral_at(ctx, calc, node, code)
    open_end = calc.unknown[at] or calc.sums.loose_va[at].any() or calc.spread[at] or demand.doubted(node)
    most = phase if open_end else high.value
    if most is not None and not open_end and most - low.value <= _SAME * max(1.0, most):
        return Fact(most, basis=demand.basis(node), name=_NAME, assumed=demand.assumed(node))
    name = ctx.name(ctx.net.ends_of[node][0].item)
    need, *also = (*demand.needs(node), f"which of the load behind {name} is nonlinear")
    return Fact(None, low.value, most, demand.basis(node), need, _NAME, demand.assumed(node), tuple(also))


def _at_most(ctx: Context, node: int) -> float | None:
    """What the neutral carries at most: all that is not known may be from line to neutral, and so may all that a record
    shows; what is known to be from line to line is not."""
    demand, at = ctx.demand, ctx.feeding.position[node]
    if at < 0:
        return None
    bounds = demand.bounds(node, counted=False)
    highs = [b.high for b in bounds.values() if b.high is not None]
    if not highs or len(highs) < len(bounds):
        return None
    known = demand.new if node in demand.measured else demand.calculated
    # Where the load is told otherwise than by what is drawn, so may be its parts.
    if known.spread[at] or node in demand.split or node in demand.optional or demand.doubted(node):
        return max(highs)
    columns = [PHASES.index(p) for p in bounds]
    between = (float(known.load_low[at, k] - known.neutral[at][k, 0]) for k in columns)
    return max(high - max(0.0, part) for high, part in zip(highs, between, strict=True))
