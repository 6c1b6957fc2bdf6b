"""Fault currents at every node of the forest: the complex sum, its upper bound, and the point-to-point value."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Any

import numpy as np

from oneline import tables
from oneline.calc import fault
from oneline.calc.flow_tree import Array
from oneline.study.numbers_facts import HIGH_LEG, HeadFigures
from oneline.study.numbers_forest import Forest, Zone, zone_volts
from oneline.study.numbers_limits import Limits, all_limits, impedance, zone_heads
from oneline.study.numbers_overlay import SAME, Overlay, make_overlay

#: The high leg of a four-wire delta by 408.3(E).
HIGH_LEG_PHASE = "B"


@dataclass(frozen=True)
class Faults:
    """Figures in pre-order, ``nan`` where not known. Currents in amperes, impedances in ohms at the node's voltage.

    ``main_a``: three-phase, or line to line where two phases arrive, or line to neutral where one does. ``bound_a``: an
    upper bound of it, from what is known; ``least_a`` a lower bound of it, where only X/R is not known. ``z``/``z_ln``:
    without what is not known, so a bound from below. ``has_ln``: whether a neutral arrives. ``hand_from_memory``: whether
    a constant on the way of ``hand_a`` is only from memory. ``hand_ln_a``: point-to-point, line to neutral.
    ``high_leg_a``: from the high leg of a four-wire delta to its neutral. ``x_r_most``: an upper bound of ``x_r``;
    ``angle_known``: whether every X/R on the way is. ``overlay``: the cores.
    """

    main_a: Array
    bound_a: Array
    least_a: Array
    ll_a: Array
    ln_a: Array
    ln_bound_a: Array
    hand_a: Array
    hand_from_memory: Array
    hand_ln_a: Array
    high_leg_a: Array
    x_r: Array
    x_r_most: Array
    angle_known: Array
    z: Array
    z_ln: Array
    has_ln: Array
    heads: tuple[HeadFigures, ...]
    overlay: Overlay


def compute_faults(forest: Forest) -> Faults:
    """Fault currents of a forest: down the trees from the one source that feeds each node, solved by nodes where loops
    and parallel sources are closed.

    Where an impedance is not known it counts as nothing: the result is then only an upper bound, because more impedance
    in the path can only lower the current.
    """
    heads = zone_heads(forest)
    overlay = make_overlay(forest)
    rows = forest.rows[forest.tree.order]
    branches = rows[:, 0], rows[:, 0] + rows[:, 1]
    solved = overlay.gathered("z"), overlay.gathered("z_ln")
    z, z_ln = overlay.down(branches, impedance(heads), solved)
    heaviest = _heaviest(forest)
    limits = all_limits(forest, heads, overlay, branches, (z, z_ln), heaviest)
    lacks, lacks_ln, lacks_angle = _unknown(forest, heads, overlay)
    open_bound = _bounded(forest, heads, overlay)
    seen = _currents(forest, overlay, z, z_ln, limits)
    has_ln, one = ~forest.without_neutral, forest.width[forest.tree.order] == 1
    bounded = np.where(one, lacks_ln, lacks) == 0
    # With a raceway nobody read the figures are between two bounds.
    ranged = _raceways(forest) > 0
    known = bounded & ~ranged
    hand, hand_ln, hand_from_memory = _by_hand(forest, heads, has_ln)
    wide = forest.width[forest.tree.order] >= 2
    found = {
        "main_a": np.where(known, seen.main, np.nan),
        "bound_a": np.where(open_bound, seen.bound, np.nan),
        "least_a": np.where(bounded, seen.least, np.nan),
        "ll_a": np.where((lacks == 0) & wide & ~ranged, seen.ll, np.nan),
        "ln_a": np.where((lacks_ln == 0) & ~ranged, seen.ln, np.nan),
        "ln_bound_a": np.where(open_bound, seen.bound_ln, np.nan),
        "high_leg_a": np.where((lacks_ln == 0) & (lacks == 0) & ~ranged, seen.high_leg, np.nan),
        "hand_a": np.where(known, hand, np.nan),
        "hand_ln_a": np.where((lacks_ln == 0) & ~ranged, hand_ln, np.nan), "hand_from_memory": hand_from_memory,
        "x_r": np.where(known & (lacks_angle == 0), seen.x_r, np.nan),
        "x_r_most": np.where(
            bounded & (lacks_angle == 0), _most_x_r(forest, heads, overlay, heaviest, (z, z_ln)), np.nan
        ),
        "angle_known": lacks_angle == 0, "z": z, "z_ln": z_ln,
        "has_ln": has_ln & np.isfinite(zone_volts(forest.zones)[2][forest.tree.zone]),
    }  # fmt: skip
    _given(forest, heads, found)
    spread = {name: forest.spread(values) for name, values in found.items()}
    return Faults(**spread, heads=heads, overlay=overlay)


@dataclass(frozen=True)
class _Seen:
    """Currents from impedances, as if all of them were known, with their bounds, by the tree's order."""

    main: Array
    ll: Array
    ln: Array
    high_leg: Array
    bound: Array
    bound_ln: Array
    least: Array
    x_r: Array


def _currents(forest: Forest, overlay: Overlay, z: Array, z_ln: Array, limits: Limits) -> _Seen:
    zone, order = forest.tree.zone, forest.tree.order
    emf, v_ll, v_ln = zone_volts(forest.zones)
    width = forest.width[order]
    has_ln, one = ~forest.without_neutral, width == 1
    tapped, on_it = _high_leg(forest, overlay)
    # From the high leg the fault runs through another winding and half of the tapped one: by the impedance per phase at
    # the head of the zone more than from the other legs.
    z_high = z_ln + np.where(tapped, z[forest.tree.first[zone]], 0)
    v_high = np.where(tapped, np.abs(emf[zone, 1]), np.nan)
    volts = np.where(on_it, v_high, v_ln[zone])
    loop = np.where(on_it, z_high, z_ln)
    more = np.where(on_it, np.abs(z_high - z_ln), 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        ll = _finite(fault.line_line_a(v_ll[zone], z))
        three = _finite(fault.three_phase_a(v_ll[zone], z))
        ln = np.where(has_ln, _finite(fault.line_neutral_a(volts, loop)), np.nan)
        high_leg = np.where(has_ln, _finite(fault.line_neutral_a(v_high, z_high)), np.nan)
        least_ln = np.where(on_it & (np.abs(limits.least_ln - np.abs(z_ln)) < SAME), np.abs(loop), limits.least_ln)
        bound_ln = np.where(has_ln, _finite(fault.line_neutral_a(volts, least_ln)), np.nan)
        seen = np.where(one, loop, z)
        x_r = np.where(seen.real > 0, seen.imag / seen.real, np.nan)
        main = np.select([width == 3, width == 2, one], [three, ll, ln], np.nan)
        bound = np.where(one, bound_ln, main * _finite(np.abs(z) / limits.least))
        least = main * np.where(one, np.abs(loop) / (limits.most_ln + more), np.abs(z) / limits.most)
    return _Seen(main, ll, ln, high_leg, bound, bound_ln, least, x_r)


def _high_leg(forest: Forest, overlay: Overlay) -> tuple[Array, Array]:
    """Nodes that the high leg of one bank reaches, and those that nothing else does; by the tree's order."""
    banks = np.array([z.system == HIGH_LEG for z in forest.zones], bool)
    if not banks.any():
        nothing = np.zeros(forest.size, bool)
        return nothing, nothing
    for k, at in overlay.zones.items():
        core = next(c.core for c in overlay.cores if overlay.nodes[at] in c.core.number)
        fed = [s.system for s in core.sources] + [b.zone.system for b in core.branches if b.zone is not None]
        banks[k] &= fed.count(HIGH_LEG) == 1
    phases = [forest.ctx.feeding.phases[n] for n in forest.nodes[forest.tree.order]]
    reached = banks[forest.tree.zone]
    return (
        reached & np.array([HIGH_LEG_PHASE in p for p in phases], bool),
        reached & np.array([p == HIGH_LEG_PHASE for p in phases], bool),
    )


def _heaviest(forest: Forest) -> tuple[Array, Array] | None:
    """Impedances of the branches into the nodes in the raceways that give the least current; ``None`` where all are known."""
    if not forest.flagged("most").any():
        return None
    rows = np.array([r.most or r.row[:2] for r in forest.runs], complex)[forest.tree.order]
    return rows[:, 0], rows[:, 0] + rows[:, 1]


def _most_x_r(
    forest: Forest, heads: tuple[HeadFigures, ...], overlay: Overlay, heaviest: tuple[Array, Array] | None,
    least: tuple[Array, Array],
) -> Array:  # fmt: skip
    """X/R at most: the largest reactance over the smallest resistance that any raceway makes."""
    most = least
    if heaviest is not None:
        most = overlay.down(heaviest, impedance(heads), (overlay.gathered("z"), overlay.gathered("z_ln")))
    one = forest.width[forest.tree.order] == 1
    reactance = np.where(one, most[1].imag, most[0].imag)
    resistance = np.where(one, least[1].real, least[0].real)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(resistance > 0, reactance / resistance, np.nan))


def _raceways(forest: Forest) -> Array:
    """How many raceways on the way to a node are not known."""
    own = forest.flagged("open_raceway")
    if not own.any():
        return own
    return np.asarray(fault.down(forest.tree, own, own, lambda _, above, __: (above or 0.0, 0.0))[0])


def _finite(values: Array) -> Array:
    return np.where(np.isfinite(values), values, np.nan)


def _unknown(forest: Forest, heads: tuple[HeadFigures, ...], overlay: Overlay) -> tuple[Array, Array, Array]:
    """How many facts are missing on the path: of the phase impedance, of the loop line to neutral, of the angle."""
    own = forest.flagged("lacks")
    own_ln = own + forest.flagged("lacks_neutral")

    def head(k: int, above: Any, above_ln: Any) -> tuple[float, float]:
        h = heads[k]
        lacks = float(len(h.lacks))
        lacks_ln = lacks + (h.z_ln is None) + len(h.lacks_ln)
        if above is None:
            return lacks, lacks_ln
        return lacks + (above_ln if h.of_loop else above), lacks_ln + (above_ln if h.of_loop_ln else above)

    def angle(k: int, above: Any, _: Any) -> tuple[float, float]:
        return (above or 0.0) + (not heads[k].angle_known), 0.0

    missing, missing_ln, angles = overlay.missing
    found, found_ln = overlay.down((own, own_ln), head, (missing, missing_ln))
    zero = np.zeros(forest.size)
    return found, found_ln, overlay.down((zero, zero), angle, (angles, angles))[0]


def _bounded(forest: Forest, heads: tuple[HeadFigures, ...], overlay: Overlay) -> Array:
    """Where an upper bound can be given: the source is known, and so are the ratios of all transformers passed."""

    def head(k: int, above: Any, _: Any) -> tuple[float, float]:
        return (above or 0.0) + (not heads[k].bounded), 0.0

    zero = np.zeros(forest.size)
    return np.asarray(overlay.down((zero, zero), head, (overlay.unbounded, overlay.unbounded))[0] == 0)


def _by_hand(forest: Forest, heads: tuple[HeadFigures, ...], has_ln: Array) -> tuple[Array, Array, Array]:
    """Point-to-point currents, those line to neutral, and whether a constant C on the way is only from memory.

    Impedances are added by magnitude; C stands for a cold conductor, both ways for line to neutral. Where the method
    begins, line to neutral equals three-phase at a wye source; at a center-tapped transformer it is a fixed multiple of
    line to line.
    """
    order = forest.tree.order
    feet_per_c = forest.rows[order, 4].real
    lacks = forest.flagged("lacks") + forest.flagged("lacks_hand") + forest.in_loop[order]
    recalled = forest.flagged("hand_from_memory")
    multiple = tables.limit_value("line_neutral_factor")

    def head(k: int, above: Any, above_ln: Any) -> tuple[float, float]:
        h = heads[k]
        z = h.hand if above is None else h.factor * (above_ln if h.of_loop else above) + h.hand
        return z, z * _start_of_loop(forest.zones[k], multiple)

    def counted(k: int, lacking: Any, from_memory: Any) -> tuple[float, float]:
        return len(heads[k].lacks) + (lacking or 0.0), from_memory or 0.0

    z, z_ln = fault.down(forest.tree, feet_per_c, 2 * feet_per_c, head)
    lack, from_memory = fault.down(forest.tree, lacks, recalled, counted)
    zone, width = forest.tree.zone, forest.width[order]
    _, v_ll, v_ln = zone_volts(forest.zones)
    with np.errstate(divide="ignore", invalid="ignore"):
        three, two = v_ll[zone] / (sqrt(3) * z), v_ll[zone] / (2 * z)
        one = np.where(has_ln, v_ln[zone] / z_ln, np.nan)
    # The method has no start for one leg of a four-wire delta.
    tapped = np.array([z.system == HIGH_LEG for z in forest.zones], bool)[zone]
    one = np.where((lack == 0) & ~tapped, _finite(one), np.nan)
    found = np.select([width == 3, width == 2, width == 1], [three, two, one], np.nan)
    return np.where(lack == 0, _finite(found), np.nan), one, from_memory > 0


def _start_of_loop(zone: Zone, multiple: float) -> float:
    """Loop line to neutral over the impedance per phase at the head of a zone, as the point-to-point method has it."""
    if zone.system is None:
        return 0.0
    system = tables.system(zone.system)
    if system.wires == 2:
        return 2.0
    return 1 / multiple if system.grounding == "midpoint" else 1.0


def _most_to_neutral() -> float:
    """Largest current line to neutral over that of the lines at the terminals of any system: a center-tapped winding,
    by its two methods. Half a winding has half the volts and 1/4 of the winding's impedance times its factor.
    """
    half = min(
        tables.limit_value("half_winding_resistance_factor"), tables.limit_value("half_winding_reactance_factor")
    )
    return max(1.0, tables.limit_value("line_neutral_factor"), 2 / half)


def _given(forest: Forest, heads: tuple[HeadFigures, ...], found: dict[str, Array]) -> None:
    """A current given for a service of unknown voltage holds at its terminals, and bounds everything behind them."""
    tied = {forest.ctx.feeding.position[n] for core in forest.cores if len(core.sources) > 1 for n in core.nodes}
    for k, h in enumerate(heads):
        if h.given_a is not None:
            first, end = forest.tree.first[k], forest.tree.first[k + 1]
            if forest.zones[k].head not in tied:
                found["main_a"][first] = found["least_a"][first] = h.given_a
                found["bound_a"][first:end] = h.given_a
                # It may be a split-phase service, where a fault to the neutral gives more than one from line to line.
                neutral = ~forest.without_neutral[first:end]
                found["has_ln"][first:end] = neutral
                found["ln_bound_a"][first:end] = np.where(neutral, h.given_a * _most_to_neutral(), np.nan)
