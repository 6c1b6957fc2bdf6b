"""Impedances at the heads of the zones, and between which limits the sums lie where a ratio X/R is not known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

import numpy as np

from oneline.calc import fault
from oneline.calc.flow_tree import Array
from oneline.model import UtilityService
from oneline.study.numbers_facts import HeadFigures, source_figures
from oneline.study.numbers_forest import Forest
from oneline.study.numbers_overlay import Overlay
from oneline.study.numbers_transformer import transformer_head


def zone_heads(forest: Forest, resistive: bool = False) -> tuple[HeadFigures, ...]:
    """Fault figures at the head of every zone. ``resistive``: what has no X/R as all resistance, not all reactance."""
    ctx, heads = forest.ctx, []
    for zone in forest.zones:
        if zone.transformer is None:
            source = ctx.drawing.get(zone.source)
            if resistive and isinstance(source, UtilityService):
                source = replace(
                    source, fault_x_r=source.fault_x_r or 0.0, transformer_x_r=source.transformer_x_r or 0.0
                )
            heads.append(source_figures(source, zone.system, ctx.name(zone.source)))
        else:
            above = int(forest.nodes[zone.above])
            supply, phases = ctx.feeding.system[above], ctx.feeding.phases[above]
            turned = zone
            if resistive and zone.transformer.x_r is None:
                turned = replace(zone, transformer=replace(zone.transformer, x_r=0.0))
            heads.append(transformer_head(turned, supply, phases, ctx.name(zone.transformer.id)))
    return tuple(heads)


def impedance(heads: Sequence[HeadFigures]) -> fault.Head:
    """How the heads of the zones pass impedances on."""

    def head(k: int, z: Any, z_ln: Any) -> tuple[Any, Any]:
        h = heads[k]
        own_ln = h.z_ln or 0j
        if z is None:
            return h.z, own_ln
        return h.factor * (z_ln if h.of_loop else z) + h.z, h.factor_ln * (z_ln if h.of_loop_ln else z) + own_ln

    return head


@dataclass(frozen=True)
class Limits:
    """Least and largest magnitude of the impedance per phase and of the loop line to neutral, ohms, in tree order."""

    least: Array
    most: Array
    least_ln: Array
    most_ln: Array


def all_limits(
    forest: Forest, heads: Sequence[HeadFigures], overlay: Overlay, branches: tuple[Array, Array],
    sums: tuple[Array, Array], heaviest: tuple[Array, Array] | None = None,
) -> Limits:  # fmt: skip
    """Limits of the magnitudes at every node, behind cores too.

    Behind a core whose own figures lie between limits, what it passes on and the rest are both in the first quadrant: the
    sum is at least the root of the sum of their squares and at most the sum of their magnitudes.
    """
    solved = overlay.gathered("z"), overlay.gathered("z_ln")
    exact = impedance_limits(forest, heads, overlay, branches, sums, solved, heaviest)
    if all(c.sure for c in overlay.cores):
        return exact
    none = 0 * solved[0], 0 * solved[1]
    rest = overlay.down(branches, impedance(heads), none)
    behind = impedance_limits(forest, heads, overlay, branches, rest, none, heaviest)
    loose = tuple(replace(h, z=0j, z_ln=0j) for h in heads)
    zero = 0 * branches[0]
    names = ("least", "least_ln"), ("most", "most_ln")
    low, high = (
        overlay.down((zero, zero), impedance(loose), (overlay.gathered(a) + 0j, overlay.gathered(b) + 0j))
        for a, b in names
    )
    open_ = np.array([float(not c.sure) for c in overlay.cores for _ in c.core.nodes])
    count = overlay.down((zero.real, zero.real), lambda _, above, __: (above or 0.0, 0.0), (open_, open_))[0]
    return Limits(
        np.where(count > 0, np.hypot(behind.least, np.abs(low[0])), exact.least),
        np.where(count > 0, behind.most + np.abs(high[0]), exact.most),
        np.where(count > 0, np.hypot(behind.least_ln, np.abs(low[1])), exact.least_ln),
        np.where(count > 0, behind.most_ln + np.abs(high[1]), exact.most_ln),
    )


def impedance_limits(
    forest: Forest, heads: Sequence[HeadFigures], overlay: Overlay, branches: tuple[Array, Array],
    sums: tuple[Array, Array], solved: tuple[Array, Array], heaviest: tuple[Array, Array] | None = None,
) -> Limits:  # fmt: skip
    """Limits of the sums over every angle from 0 to 90 degrees of the impedances whose X/R is not known.

    ``branches``: impedances of the branches into the nodes; ``sums``: with all unknown angles at 90 degrees; ``solved``:
    at the nodes of cores. ``heaviest``: impedances of the branches at most, part by part, where they are not known;
    ``branches`` are the least.

    The rest A of a sum lies in the first quadrant too. |A + r e^{jt}|^2 = |A|^2 + r^2 + 2 |A| r cos(t - arg A) has its
    only inner extreme, at t = arg A, where it is largest: |A| + r. So it is least at an end of the interval, and by the
    same argument for each unknown angle in turn the least over all of them is at a vertex, each at 0 or at 90 degrees. A
    center-tapped winding adds p cos t + j q sin t with p >= q instead: where the derivative of its square is zero the
    second one is negative, so its least value is at an end as well. Zones of the same depth lie on no common way, so
    the vertices are tried by depth.
    """
    z, z_ln = (np.abs(values) for values in sums)
    free = [bool(h.need_x_r) and k not in overlay.zones for k, h in enumerate(heads)]
    largest = branches if heaviest is None else heaviest
    if not any(free):
        if heaviest is None:
            return Limits(z, z, z_ln, z_ln)
        most, most_ln = overlay.down(largest, impedance(heads), solved)
        return Limits(z, np.abs(most), z_ln, np.abs(most_ln))
    turned = zone_heads(forest, resistive=True)
    depths = sorted({zone.depth for zone, is_free in zip(forest.zones, free, strict=True) if is_free})
    least, least_ln = z, z_ln
    for chosen in product((False, True), repeat=len(depths)):
        at = {d for d, use in zip(depths, chosen, strict=True) if use}
        if not at:
            continue
        mixed = [
            t if is_free and zone.depth in at else h
            for h, t, zone, is_free in zip(heads, turned, forest.zones, free, strict=True)
        ]
        one, one_ln = overlay.down(branches, impedance(mixed), solved)
        least, least_ln = np.minimum(least, np.abs(one)), np.minimum(least_ln, np.abs(one_ln))
    fixed = [replace(h, z=0j, z_ln=0j) if is_free else h for h, is_free in zip(heads, free, strict=True)]
    loose = [
        replace(h, z=complex(abs(h.z)), z_ln=complex(max(abs(h.z_ln or 0j), abs(t.z_ln or 0j))))
        if is_free else replace(h, z=0j, z_ln=0j)
        for h, t, is_free in zip(heads, turned, free, strict=True)
    ]  # fmt: skip
    known, known_ln = overlay.down(largest, impedance(fixed), solved)
    none = 0 * solved[0], 0 * solved[1]
    more, more_ln = overlay.down((0 * branches[0], 0 * branches[1]), impedance(loose), none)
    return Limits(least, np.abs(known) + np.abs(more), least_ln, np.abs(known_ln) + np.abs(more_ln))
