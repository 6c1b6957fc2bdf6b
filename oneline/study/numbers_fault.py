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
from oneline.study.numbers_limits import impedance, impedance_limits, zone_heads


@dataclass(frozen=True)
class Faults:
    """Figures in pre-order, ``nan`` where not known. Currents in amperes, impedances in ohms at the node's voltage.

    ``main_a``: three-phase, or line to line where two phases arrive, or line to neutral where one does. ``bound_a``: an
    upper bound of it, from what is known; ``least_a`` a lower bound of it, where only X/R is not known. ``z``/``z_ln``:
    without what is not known, so a bound from below. ``has_ln``: whether a neutral arrives. ``hand_from_memory``: whether
    a constant on the way of ``hand_a`` is only from memory. ``x_r_most``: an upper bound of ``x_r``.
    """

    main_a: Array
    bound_a: Array
    least_a: Array
    ll_a: Array
    ln_a: Array
    ln_bound_a: Array
    hand_a: Array
    hand_from_memory: Array
    x_r: Array
    x_r_most: Array
    z: Array
    z_ln: Array
    has_ln: Array
    heads: tuple[HeadFigures, ...]


def compute_faults(forest: Forest) -> Faults:
    """Fault currents of a forest. Every node takes its value from the one source that normally feeds it.

    Where an impedance is not known it counts as nothing: the result is then only an upper bound, because more impedance
    in the path can only lower the current.
    """
    heads = zone_heads(forest)
    order = forest.tree.order
    rows = forest.rows[order]
    in_loop = forest.in_loop[order]
    high_leg = np.array([z.system == HIGH_LEG for z in forest.zones], bool)[forest.tree.zone]
    # A closed loop may be shorter another way round: it adds nothing to a bound. High-leg banks are not symmetrical.
    counts = np.where(in_loop | high_leg, 0, 1)
    branches = rows[:, 0] * counts, (rows[:, 0] + rows[:, 1]) * counts
    z, z_ln = fault.down(forest.tree, *branches, impedance(heads))
    heaviest = _heaviest(forest, counts)
    limits = impedance_limits(forest, heads, branches, (z, z_ln), heaviest)
    lacks, lacks_ln, lacks_angle = _unknown(forest, heads)
    open_bound = _bounded(forest, heads)

    zone, width = forest.tree.zone, forest.width[order]
    _, v_ll, v_ln = zone_volts(forest.zones)
    at_head = np.zeros(forest.size, bool)
    at_head[forest.tree.first[:-1]] = True
    far_high_leg = high_leg & ~at_head
    has_ln = ~high_leg & ~forest.without_neutral
    with np.errstate(divide="ignore", invalid="ignore"):
        ll = _finite(fault.line_line_a(v_ll[zone], z))
        three = _finite(fault.three_phase_a(v_ll[zone], z))
        ln = np.where(has_ln, _finite(fault.line_neutral_a(v_ln[zone], z_ln)), np.nan)
        seen = np.where(width == 1, z_ln, z)
        bound_ln = np.where(has_ln, _finite(fault.line_neutral_a(v_ln[zone], limits.least_ln)), np.nan)
        x_r = np.where(seen.real > 0, seen.imag / seen.real, np.nan)
    main = np.select([width == 3, width == 2, width == 1], [three, ll, ln], np.nan)
    with np.errstate(divide="ignore", invalid="ignore"):
        one = width == 1
        bound = np.where(one, bound_ln, main * _finite(np.abs(z) / limits.least))
        least = main * np.where(one, np.abs(z_ln) / limits.most_ln, np.abs(z) / limits.most)
    known = (np.where(width == 1, lacks_ln, lacks) == 0) & ~far_high_leg
    # With a raceway nobody read the figures are between two bounds.
    ranged = _raceways(forest) > 0
    bounded, known = known, known & ~ranged
    hand, hand_from_memory = _by_hand(forest, heads, has_ln)
    found = {
        "main_a": np.where(known, main, np.nan),
        "bound_a": np.where(open_bound, bound, np.nan),
        "least_a": np.where(bounded, least, np.nan),
        "ll_a": np.where((lacks == 0) & (width >= 2) & ~high_leg & ~ranged, ll, np.nan),
        "ln_a": np.where((lacks_ln == 0) & ~ranged, ln, np.nan),
        "ln_bound_a": np.where(open_bound, bound_ln, np.nan),
        "hand_a": np.where(known & ~high_leg, hand, np.nan), "hand_from_memory": hand_from_memory,
        "x_r": np.where(known & (lacks_angle == 0), x_r, np.nan),
        "x_r_most": np.where(bounded & (lacks_angle == 0), _most_x_r(forest, heads, heaviest, (z, z_ln)), np.nan),
        "z": z, "z_ln": z_ln, "has_ln": has_ln & np.isfinite(v_ln[zone]),
    }  # fmt: skip
    _given(forest, heads, found)
    return Faults(**{name: forest.spread(values) for name, values in found.items()}, heads=heads)


def _heaviest(forest: Forest, counts: Array) -> tuple[Array, Array] | None:
    """Impedances of the branches into the nodes in the raceways that give the least current; ``None`` where all are known."""
    if not any(r.most for r in forest.runs):
        return None
    rows = np.array([r.most or r.row[:2] for r in forest.runs], complex)[forest.tree.order]
    return rows[:, 0] * counts, (rows[:, 0] + rows[:, 1]) * counts


def _most_x_r(
    forest: Forest, heads: tuple[HeadFigures, ...], heaviest: tuple[Array, Array] | None, least: tuple[Array, Array]
) -> Array:
    """X/R at most: the largest reactance over the smallest resistance that any raceway makes."""
    most = least if heaviest is None else fault.down(forest.tree, *heaviest, impedance(heads))
    one = forest.width[forest.tree.order] == 1
    reactance = np.where(one, most[1].imag, most[0].imag)
    resistance = np.where(one, least[1].real, least[0].real)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(resistance > 0, reactance / resistance, np.nan))


def _raceways(forest: Forest) -> Array:
    """How many raceways on the way to a node are not known."""
    own = np.array([bool(r.open_raceway) for r in forest.runs], float)[forest.tree.order]
    return np.asarray(fault.down(forest.tree, own, own, lambda _, above, __: (above or 0.0, 0.0))[0])


def _finite(values: Array) -> Array:
    return np.where(np.isfinite(values), values, np.nan)


def _unknown(forest: Forest, heads: tuple[HeadFigures, ...]) -> tuple[Array, Array, Array]:
    """How many facts are missing on the path: of the phase impedance, of the loop line to neutral, of the angle."""
    order = forest.tree.order
    loops = forest.in_loop[order].astype(float)
    own = np.array([bool(r.lacks) for r in forest.runs], float)[order] + loops
    own_ln = own + np.array([bool(r.lacks_neutral) for r in forest.runs], float)[order]

    def head(k: int, above: Any, above_ln: Any) -> tuple[float, float]:
        h = heads[k]
        lacks = float(len(h.lacks))
        lacks_ln = lacks + (h.z_ln is None) + len(h.lacks_ln)
        if above is None:
            return lacks, lacks_ln
        return lacks + (above_ln if h.of_loop else above), lacks_ln + (above_ln if h.of_loop_ln else above)

    def angle(k: int, above: Any, _: Any) -> tuple[float, float]:
        return (above or 0.0) + (not heads[k].angle_known), 0.0

    found, found_ln = fault.down(forest.tree, own, own_ln, head)
    return found, found_ln, fault.down(forest.tree, 0 * own, 0 * own, angle)[0]


def _bounded(forest: Forest, heads: tuple[HeadFigures, ...]) -> Array:
    """Where an upper bound can be given: the source is known, and so are the ratios of all transformers passed."""

    def head(k: int, above: Any, _: Any) -> tuple[float, float]:
        tied = forest.zones[k].transformer is None and forest.in_loop[forest.zones[k].head]
        return (above or 0.0) + (not heads[k].bounded) + tied, 0.0

    zero = np.zeros(forest.size)
    return np.asarray(fault.down(forest.tree, zero, zero, head)[0] == 0)


def _by_hand(forest: Forest, heads: tuple[HeadFigures, ...], has_ln: Array) -> tuple[Array, Array]:
    """Point-to-point currents, and whether a constant C on the way is only from memory.

    Impedances are added by magnitude; C stands for a cold conductor, both ways for line to neutral. Where the method
    begins, line to neutral equals three-phase at a wye source; at a center-tapped transformer it is a fixed multiple of
    line to line.
    """
    order = forest.tree.order
    feet_per_c = forest.rows[order, 4].real
    lacks = np.array([bool(r.lacks or r.lacks_hand) for r in forest.runs], float)[order] + forest.in_loop[order]
    recalled = np.array([r.hand_from_memory for r in forest.runs], float)[order]
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
    found = np.select([width == 3, width == 2, width == 1], [three, two, one], np.nan)
    return np.where(lack == 0, _finite(found), np.nan), from_memory > 0


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
    for k, h in enumerate(heads):
        if h.given_a is not None:
            first, end = forest.tree.first[k], forest.tree.first[k + 1]
            tied = forest.in_loop[forest.zones[k].head]
            if not tied:
                found["main_a"][first] = found["least_a"][first] = h.given_a
                found["bound_a"][first:end] = h.given_a
                # It may be a split-phase service, where a fault to the neutral gives more than one from line to line.
                neutral = ~forest.without_neutral[first:end]
                found["has_ln"][first:end] = neutral
                found["ln_bound_a"][first:end] = np.where(neutral, h.given_a * _most_to_neutral(), np.nan)
