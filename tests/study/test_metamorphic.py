"""Metamorphic tests: what a change of a drawing may and may not do to the answers, on random drawings.

No figure is expected here; each property follows from physics, arithmetic or the meaning of a drawing, and is named where it
is tested. Drawings: services with mistakes, some of them edited at random, a large campus, and networks of anything.
"""

from __future__ import annotations

import os
import random
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import fields, replace
from math import isclose
from types import MappingProxyType
from typing import Any

import pytest
from random_edits import _value, random_edit
from random_rings import random_rings
from random_service import random_service

from oneline.model import (
    Bus,
    ConductorRun,
    Connection,
    Disconnect,
    Drawing,
    End,
    Item,
    Load,
    SolarArray,
    TransferSwitch,
    Transformer,
    UtilityService,
    edits,
    specs,
)
from oneline.rules.verdict import Verdict
from oneline.study import study
from oneline.study.context import Context
from oneline.study.results import PointFigures, StudyResult

#: Figures of a point in amperes, and those of fault current.
AMPERES = ("load_a", "counted_a", "available_a", "available_bound_a")
FAULTS = ("fault_a", "fault_ll_a", "fault_ln_a", "fault_lg_a", "fault_high_leg_a", "fault_duty_a", "fault_bound_a",
          "fault_least_a", "fault_hand_a", "fault_ln_hand_a")  # fmt: skip
#: Rounding of sums that run in another order.
NOISE = 1e-9


def drawings(count: int, edits_each: int = 0, first: int = 0) -> Iterator[tuple[int, random.Random, Drawing]]:
    """Random services, each with some random edits, and the chance that goes on from there."""
    for seed in range(first, first + count):
        rng = random.Random(seed)
        drawing = random_service(seed)
        for _ in range(rng.randint(0, edits_each)):
            drawing = random_edit(drawing, rng)
        yield seed, rng, drawing


def at_most(one: float | None, other: float | None, noise: float = 1e-7) -> bool:
    """Whether a figure is not above another; true where one of them is not known."""
    return one is None or other is None or one <= other + noise * max(1.0, abs(other))


def loops(drawing: Drawing) -> bool:
    """Whether something is normally fed in two ways at once."""
    feeding = Context(drawing, "proposed", 2023).feeding
    return bool(feeding.looped or feeding.loop_branches or feeding.parallel)


# ----------------------------------------------------------------------------------------- names and order
def renamed(drawing: Drawing, rng: random.Random) -> tuple[Drawing, Mapping[str, str]]:
    """The same drawing with other ids and names, its items in another order; and what became of each id.

    What items say of each other goes along. Only items are renamed: named raceways and buildings are facts.
    """
    ids = list(drawing.items)
    rng.shuffle(ids)
    new = {old: f"x{rng.randrange(10**9)}-{n}" for n, old in enumerate(ids)}
    names = {drawing.get(i).name: f"Name {n}" for n, i in enumerate(ids) if drawing.get(i).name}

    def told(text: str | None) -> str | None:
        return text if text is None else new.get(text, names.get(text, text))

    items: dict[str, Item] = {}
    for old in ids:
        item = drawing.get(old)
        changes: dict[str, Any] = {"id": new[old], "name": names.get(item.name, item.name)}
        if isinstance(item, Connection):
            changes["a"] = replace(item.a, item=new[item.a.item])
            changes["b"] = item.b and replace(item.b, item=new[item.b.item])
        for name in ("series_rated_with", "breakers_series_with"):
            if hasattr(item, name):
                changes[name] = told(getattr(item, name))
        if isinstance(item, Bus):
            changes["circuits"] = tuple(replace(c, feeds=told(c.feeds)) for c in item.circuits)
        items[new[old]] = replace(item, **changes)
    return replace(drawing, items=MappingProxyType(items)), new


def close(one: Any, other: Any) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return isclose(one, other, rel_tol=NOISE, abs_tol=1e-6)
    if isinstance(one, Mapping):
        return one.keys() == other.keys() and all(close(one[k], other[k]) for k in one)
    return bool(one == other)


def plain(verdict: Verdict, new: Mapping[str, str]) -> tuple[Any, ...]:
    """What a finding says, without names."""

    def shown(figure: float | None) -> str:
        return "" if figure is None else f"{figure:.6g}"

    # Of a side that is not known it is asked once, at the first that hangs on it, and one of several ways is named.
    asked = (verdict.rule, verdict.state) == ("DEC-SIDE", "unknown")
    about = () if asked else (verdict.subject, *verdict.others)
    return (
        verdict.rule, tuple(sorted(new.get(i, i) for i in about)), verdict.state,
        shown(verdict.value), shown(verdict.limit), verdict.unit, verdict.section, verdict.basis, verdict.alternative,
    )  # fmt: skip


def said(result: StudyResult, new: Mapping[str, str]) -> dict[tuple[Any, ...], int]:
    found: dict[tuple[Any, ...], int] = defaultdict(int)
    for v in result.verdicts:
        found[plain(v, new)] += 1
    return dict(found)


@pytest.mark.parametrize("part", range(4))
def test_names_and_order_change_nothing(part: int) -> None:
    """What an item is called, and where it stands in the file, is no fact: same states, same figures."""
    for seed, rng, drawing in drawings(40, edits_each=10, first=100 * part):
        if loops(drawing):
            continue
        other, new = renamed(drawing, rng)
        one, two = study(drawing), study(other)
        before, after = said(one, new), said(two, {})
        gone = [k for k in before if before[k] != after.get(k)]
        come = [k for k in after if after[k] != before.get(k)]
        assert (gone, come) == ([], []), f"drawing {seed}"
        for item_id, point in one.points.items():
            changed = two.points[new[item_id]]
            for name in (f.name for f in fields(PointFigures) if "float" in str(f.type) or "PerPhase" in str(f.type)):
                assert close(getattr(point, name), getattr(changed, name)), (seed, item_id, name)


def said_once(result: StudyResult, new: Mapping[str, str]) -> dict[tuple[Any, ...], int]:
    """Findings as above; which of several services or transformers speaks for all of them is left out."""
    found: dict[tuple[Any, ...], int] = defaultdict(int)
    for (rule, about, *rest), number in said(result, new).items():
        found[rule, () if rule == "SRC-1" else tuple(sorted(set(about))), *rest] += number
    return dict(found)


#: Random networks with loops in each of four parts; the environment may ask for more (80 make the long run).
RINGS = int(os.environ.get("ONELINE_RINGS", "20"))


@pytest.mark.parametrize("part", range(4))
def test_names_and_order_change_nothing_in_rings(part: int) -> None:
    """The same where something is fed in several ways at once: feeders side by side, closed ties, services in parallel,
    transformers in a loop. No device there is the one ahead because it was drawn first."""
    closed = 0
    for seed in range(RINGS * part, RINGS * part + RINGS):
        drawing = random_rings(seed)
        closed += loops(drawing)
        other, new = renamed(drawing, random.Random(seed))
        one, two = study(drawing), study(other)
        before, after = said_once(one, new), said_once(two, {})
        gone = [k for k in before if before[k] != after.get(k)]
        come = [k for k in after if after[k] != before.get(k)]
        assert (gone, come) == ([], []), f"drawing {seed}"
        for item_id, point in one.points.items():
            for name in (f.name for f in fields(PointFigures) if "float" in str(f.type) or "PerPhase" in str(f.type)):
                assert close(getattr(point, name), getattr(two.points[new[item_id]], name)), (seed, item_id, name)
    assert closed > 0.85 * RINGS


# ------------------------------------------------------------------------------------------------------- loads
#: Classes whose pieces are counted by a table, or of which the largest counts more (220.54 to 220.56, 430.24, 620.14).
COUNTED = ("kitchen", "elevator", "motor", "hvac", "receptacles", "ev charging", "fixed multioutlet")


def put_load(drawing: Drawing, rng: random.Random, **values: Any) -> Drawing:
    """The drawing with one more load, bolted to one of its buses."""
    bus = rng.choice(list(drawing.of(Bus)))
    classes = ("heat", "lighting", "other", "show window")
    usual = {
        "load_class": rng.choice(classes), "continuous": rng.random() < 0.5, "power_factor": round(rng.uniform(0.7, 1), 2),
        "phases": rng.choice(("ABC", "AB", "BC", "A", "C")),
    }  # fmt: skip
    drawing, load = edits.add(drawing, "load", name="Further load", **{**usual, **values})
    return edits.connect(drawing, End(bus.id, "bus"), End(load, "in"), kind="joint")[0]


def same_figures(
    one: StudyResult, two: StudyResult, names: tuple[str, ...], factor: Mapping[str, float] | None = None
) -> str:
    """Where figures of the items of the first study are not those of the second, times a factor; "" nowhere."""
    for item_id, point in one.points.items():
        for name in names:
            before, after = getattr(point, name), getattr(two.points[item_id], name)
            by = (factor or {}).get(name, 1.0)
            wanted = (
                {p: None if v is None else v * by for p, v in before.items()}
                if isinstance(before, Mapping)
                else (None if before is None else before * by)
            )
            if not close(wanted, after):
                return f"{item_id}.{name}: {wanted} / {after}"
    return ""


@pytest.mark.parametrize("part", range(2))
def test_a_load_in_two_halves_is_the_same_load(part: int) -> None:
    """Arithmetic: two equal loads at one point are one of twice the size, where no table counts pieces."""
    for seed, rng, drawing in drawings(25, first=1000 + 100 * part):
        whole = put_load(drawing, rng, va=round(rng.uniform(500, 20_000), -2))
        load: Any = list(whole.of(Load))[-1]
        (joint,) = whole.connections_of(load.id)
        half = replace(load, va=load.va / 2)
        twin = replace(half, id="twin", name="Its twin")
        halves = whole.with_items([half, twin, replace(joint, id="twin joint", b=End("twin", "in"))])
        names = (*(n for n in AMPERES), "neutral_a", "load_kva", "available_kva", "voltage_drop_pct", "fault_duty_a")
        one, two = study(whole), study(halves)
        without = [i for i in whole.items if i != load.id]
        shown = replace(one, points={i: one.points[i] for i in without if i in one.points})
        assert same_figures(shown, two, names) == "", f"drawing {seed}"


def test_a_circuit_in_two_halves_is_the_same_load() -> None:
    """The same in a schedule: the second half six spaces on is on the same phases."""
    for seed, rng, drawing in drawings(25, first=1200):
        panels = [b for b in drawing.of(Bus) if b.circuits]
        panel = rng.choice(panels)
        row: Any = rng.choice([c for c in panel.circuits if c.va])
        half = replace(row, va=row.va / 2)
        rows = [half if c is row else c for c in panel.circuits] + [replace(half, space=row.space + 12)]
        halves = drawing.with_items([replace(panel, circuits=tuple(rows))])
        names = (*AMPERES, "neutral_a", "load_kva", "available_kva", "voltage_drop_pct", "fault_duty_a")
        assert same_figures(study(drawing), study(halves), names) == "", f"drawing {seed}"


def times(drawing: Drawing, k: int) -> Drawing:
    """Everything k times as large: loads, devices, buses, sources, and k sets of conductors for each."""

    def by(value: Any) -> Any:
        return None if value is None else value * k

    changed: list[Item] = []
    for item in drawing.items.values():
        if isinstance(item, UtilityService):
            changed.append(replace(item, fault_ka=by(item.fault_ka)))
        elif isinstance(item, Disconnect | TransferSwitch):
            ratings = {n: by(getattr(item, n)) for n in ("rating_a", "trip_a") if hasattr(item, n)}
            changed.append(replace(item, **ratings))
        elif isinstance(item, Bus):
            rows = tuple(replace(c, va=by(c.va), trip_a=by(c.trip_a)) for c in item.circuits)
            changed.append(replace(item, rating_a=by(item.rating_a), circuits=rows))
        elif isinstance(item, Load):
            changed.append(replace(item, va=by(item.va)))
        elif isinstance(item, SolarArray):
            changed.append(replace(item, output_a=by(item.output_a)))
        elif isinstance(item, Transformer):
            changed.append(replace(item, kva=by(item.kva)))
        elif isinstance(item, ConductorRun):
            changed.append(replace(item, sets=by(item.sets)))
    return drawing.with_items(changed)


@pytest.mark.parametrize("k", [2, 5])
def test_everything_larger_is_the_same_building_larger(k: int) -> None:
    """Linearity: k times the load, the ratings, the sources and the sets of conductors give k times every current and
    every capacity, and the same drop in percent."""
    names = ("load_a", "counted_a", "available_a", "fault_a", "fault_ll_a", "fault_ln_a", "fault_duty_a", "fault_hand_a",
             "voltage_drop_pct", "load_kva", "available_kva")  # fmt: skip
    factor = {n: float(k) for n in names if n != "voltage_drop_pct"}
    for seed, _, drawing in drawings(30, first=1300):
        one, two = study(drawing), study(times(drawing, k))
        assert same_figures(one, two, names, factor) == "", f"drawing {seed}"


@pytest.mark.parametrize("part", range(3))
def test_more_load_never_leaves_more_available(part: int) -> None:
    """Physics: whatever is added anywhere takes from what is left, at every point and on every phase, bounds too. Left out
    are classes whose demand factor falls with the number of pieces, and optional calculations, whose factor falls with
    the whole: the phases that nothing was added to then share in it."""
    for seed, rng, drawing in drawings(25, edits_each=6, first=2000 + 100 * part):
        optional = any(s.load_calculation not in (None, "standard") for s in drawing.of(UtilityService))
        if optional or loops(drawing) or not any(drawing.of(Bus)):
            continue
        one = study(drawing)
        before = {i: (p.available_a, p.available_bound_a, p.available_kva) for i, p in one.points.items()}
        two = study(put_load(drawing, rng, va=round(rng.uniform(100, 60_000), -2)))
        for item_id, (known, bound, kva) in before.items():
            after = two.points[item_id]
            for phase in known:
                now, most = after.available_a.get(phase), after.available_bound_a.get(phase)
                assert at_most(now, known[phase]), (seed, item_id, phase)
                assert at_most(most, bound.get(phase)), (seed, item_id, phase, "bound")
                assert at_most(now, bound.get(phase)), (seed, item_id, phase, "known, bound")
            assert at_most(after.available_kva, kva), (seed, item_id)


# ------------------------------------------------------------------------------------------- conductors, sources
def behind(drawing: Drawing, run: ConductorRun) -> list[str]:
    """Ids of what stands at the far end of a run and below."""
    ctx = Context(drawing, "proposed", 2023)
    load = ctx.feeding.load_node(run.id) if run.id in ctx.net.branches else None
    nodes = () if load is None else ctx.feeding.subtree(load)
    return [run.id, *dict.fromkeys(end.item for node in nodes for end in ctx.net.ends_of[node])]


@pytest.mark.parametrize("part", range(3))
def test_longer_conductors_never_help(part: int) -> None:
    """Physics: more ohms let less fault current through to every point behind them, and drop no fewer volts there."""
    for seed, rng, drawing in drawings(25, edits_each=5, first=3000 + 100 * part):
        runs = [r for r in drawing.of(ConductorRun) if r.length_ft]
        if loops(drawing) or not runs:
            continue
        run: Any = rng.choice(runs)
        longer = drawing.with_items([replace(run, length_ft=run.length_ft * rng.choice((1.01, 1.5, 3.0)))])
        one, two = study(drawing), study(longer)
        for item_id, point in one.points.items():
            after = two.points[item_id]
            for name in FAULTS:
                assert at_most(getattr(after, name), getattr(point, name)), (seed, run.id, item_id, name)
        # The drop only behind it: elsewhere the neutral shifts, and other phases may gain.
        for item_id in behind(longer, run):
            if item_id in one.points:
                short_pct, long_pct = (r.points[item_id].voltage_drop_pct for r in (one, two))
                assert at_most(short_pct, long_pct, 1e-6), (seed, run.id, item_id)


@pytest.mark.parametrize("part", range(2))
def test_a_stronger_utility_never_lowers_a_fault_current(part: int) -> None:
    """Physics: fewer ohms ahead, the same behind."""
    for seed, rng, drawing in drawings(25, edits_each=5, first=4000 + 100 * part):
        services = [s for s in drawing.of(UtilityService) if s.fault_ka]
        if not services:
            continue
        service: Any = rng.choice(services)
        stronger = drawing.with_items([replace(service, fault_ka=service.fault_ka * rng.choice((1.01, 1.5, 4.0)))])
        one, two = study(drawing), study(stronger)
        for item_id, point in one.points.items():
            for name in FAULTS:
                assert at_most(getattr(point, name), getattr(two.points[item_id], name)), (seed, item_id, name)


# ----------------------------------------------------------------------------------------------------- switches
def test_opening_never_makes_something_live() -> None:
    """Physics: an open contact connects nothing. Services with random edits, ties nobody traced among them."""
    opened = 0
    for seed, _, drawing in drawings(60, edits_each=25, first=5000):
        one = study(drawing)
        for device in [d for d in drawing.of(Disconnect) if d.closed is not False][:3]:
            two = study(drawing.with_items([replace(device, closed=False)]))
            opened += 1
            for item_id, point in one.points.items():
                after = two.points[item_id]
                possible = {*point.live_from, *point.possibly_live_from}
                assert set(after.live_from) <= set(point.live_from), (seed, device.id, item_id)
                assert {*after.live_from, *after.possibly_live_from} <= possible, (seed, device.id, item_id)
                for terminal, sources in after.live_sides.items():
                    assert set(sources) <= set(point.live_sides[terminal]), (seed, device.id, item_id, terminal)
    assert opened > 100


# ------------------------------------------------------------------------------------------------------ ratings
RATINGS = {"interrupting_ka", "sccr_ka", "withstand_ka", "breakers_ka", "series_rating_ka", "breakers_series_ka"}


@pytest.mark.parametrize("part", range(2))
def test_a_larger_rating_never_fails_what_passed(part: int) -> None:
    """Meaning of a rating: what a smaller one stands, a larger one stands. Fault ratings of devices and of equipment, and
    the amperes of a bus."""
    tried = 0
    for seed, rng, drawing in drawings(25, edits_each=4, first=6000 + 100 * part):
        rated = [(i, n) for i in drawing.items.values() for n in sorted(RATINGS) if getattr(i, n, None)]
        rated += [(b, "rating_a") for b in drawing.of(Bus) if b.rating_a]
        before = decided(study(drawing))
        for item, name in rng.sample(rated, min(3, len(rated))):
            larger = getattr(item, name) * rng.choice((1.01, 1.4, 2.0, 6.5))
            after = decided(study(drawing.with_items([replace(item, **{name: larger})])))
            tried += 1
            worse = [k for k, v in before.items() if v.state == "pass" and k in after and after[k].state == "fail"]
            assert worse == [], (seed, item.id, name, larger)
    assert tried > 40


def decided(result: StudyResult) -> dict[tuple[Any, ...], Verdict]:
    """Findings by rule and by the items they are about, where there is one for them."""
    found: dict[tuple[Any, ...], list[Verdict]] = defaultdict(list)
    for v in result.verdicts:
        if not v.alternative:
            found[v.rule, v.subject, tuple(sorted(v.others))].append(v)
    return {k: v[0] for k, v in found.items() if len(v) == 1}


# ------------------------------------------------------------------------------------------------ unknown facts
#: Facts that answer by being absent: nothing of the kind was seen, entered or relied on. Filling one in is another drawing.
ANSWER_BY_ABSENCE = {
    "phases", "mca_a", "mocp_a", "mocp_device", "horsepower", "noncoincident_group", "quantity", "rla_a", "nameplate_a",
    "duty", "time_rating", "controller_a", "managed_a", "area_ft2", "occupancy", "length_ft of load", "let_through_ka",
    "let_through_by", "to_building", "raceway_name", "not_together_with", "series_rated_with", "series_rating_ka",
    "breakers_series_with", "breakers_series_ka", "load_calculation", "dwelling_units", "control_setting_a", "reason",
    "space", "gfp_pickup_a", "gfp_delay_s",
}  # fmt: skip
#: Facts that only fit the rest of their drawing as they were: another system on a marked panel, a neutral that counts where
#: three conductors were counted, a roof above a run said to be indoors, or a trip above its frame contradict what stays.
BOUND_TO_THE_REST = {
    "system", "primary_system", "secondary_system", "connection", "mostly_nonlinear", "rooftop", "roof_height_ft", "raceway",
    "neutral_size", "terminal_c", "insulation", "wet", "outdoors", "rating_a", "poles",
}  # fmt: skip
#: Never read as a fact of the building.
NO_FACT = {
    "name", "status", "location", "notes", "number", "ct_ratio", "meter", "closed", "normally_open", "position", "form",
    "load_class",
}  # fmt: skip


def fillable(item: Item) -> list[str]:
    return [
        n for n in specs(type(item))
        if not {n, f"{n} of {item.kind}"} & (ANSWER_BY_ABSENCE | NO_FACT)
    ]  # fmt: skip


@pytest.mark.parametrize("part", range(3))
def test_what_was_decided_without_a_fact_stays_decided_with_it(part: int) -> None:
    """Meaning of a pass or a fail that was given while a fact was unknown: no value of the fact contradicts it, unless the
    finding names it as needed or assumed. The fact gets the value it had, or another one that its field takes."""
    tried = 0
    for seed, rng, drawing in drawings(20, first=7000 + 100 * part):
        if loops(drawing):
            continue
        for item in rng.sample([i for i in drawing.items.values() if fillable(i)], 4):
            name = rng.choice(fillable(item))
            own = getattr(item, name)
            value = own if name in BOUND_TO_THE_REST or rng.random() < 0.4 else plausible(item, name, rng)
            if value is None:
                continue
            given: Any = item
            without, known = (drawing.with_items([replace(given, **{name: v})]) for v in (None, value))
            before, after = decided(study(without)), decided(study(known))
            tried += 1
            for key, v in before.items():
                if v.state in ("pass", "fail") and key in after:
                    rests = v.needs or "assumed" in v.message or v.basis == "assumed"
                    assert after[key].state == v.state or rests, (
                        seed,
                        item.id,
                        name,
                        value,
                        v.message,
                        after[key].message,
                    )
    assert tried > 30


def plausible(item: Any, name: str, rng: random.Random) -> Any:
    """A value that the field takes and the trade knows: fault ratings of 5 kA and more, the least that needs no marking."""
    spec = specs(type(item))[name]
    if spec.quantity == "fault_ka":
        return rng.choice((5.0, 10.0, 22.0, 65.0))
    if spec.quantity == "percent":
        return rng.choice((1.5, 3.0, 6.0))
    if spec.quantity == "text":
        return None
    if name == "trip_a":  # of no larger a frame or switch
        return None if item.rating_a is None else item.rating_a * rng.choice((0.25, 0.5, 1.0))
    value = _value(spec, rng)
    try:
        edits.change(Drawing().with_items([item]), item.id, **{name: value})
    except ValueError:
        return None
    return value
