"""Bounds of what is not known: values inside pass, the next step outside does not, on the drawing studied afresh."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace
from typing import Any

import pytest
from random_service import random_service

from oneline.model import Drawing, specs
from oneline.rules.verdict import Verdict
from oneline.study import study
from oneline.study.bounds import Bound, Bounds, find_bounds
from oneline.study.trials import Change, Trials, changed, finish

#: Steps of a tape measure and of nameplates to which an edge is found, by quantity.
STEP = {
    "length_ft": 1 / 12, "current_a": 1.0, "fault_ka": 0.1, "power_va": 10.0, "power_kva": 0.5, "percent": 0.05,
    "temperature_c": 1.0,
}  # fmt: skip
#: Facts that are taken away, by kind of item.
TAKEN = {
    "run": ("length_ft", "size", "egc_size", "raceway_size", "ambient_c", "material"),
    "disconnect": ("trip_a", "interrupting_ka"), "bus": ("rating_a", "sccr_ka"), "service": ("fault_ka",),
    "solar": ("output_a",),
}  # fmt: skip


def forgotten(seed: int, facts: int) -> Drawing:
    """A random service without some of its facts."""
    drawing, rng = random_service(seed, mistakes=1), random.Random(seed)
    for item in rng.sample([i for i in drawing.items.values() if i.kind in TAKEN], facts):
        drawing = drawing.with_items([replace(item, **{rng.choice(TAKEN[item.kind]): None})])
    return drawing


def bounds_of(drawing: Drawing) -> list[Bounds]:
    trials = Trials(drawing)
    waiting = [v for v in study(drawing).verdicts if v.state == "unknown" and not v.alternative]
    return [finish(find_bounds(trials, v)) for v in waiting]


def state(drawing: Drawing, verdict: Verdict, bound: Bound, value: Any) -> str:
    after = changed(drawing, [Change(bound.about.item, bound.about.field, value, bound.about.space)])
    same = [v for v in study(after).verdicts if (v.rule, v.subject) == (verdict.rule, verdict.subject)]
    same = [v for v in same if not v.alternative]
    states = [v.state for v in same if v.others == verdict.others] or [v.state for v in same]
    return max(states, key=["not_applicable", "pass", "advice", "judge", "unknown", "fail"].index, default="gone")


@pytest.mark.parametrize("seed", range(400, 408))
def test_inside_passes_and_just_outside_does_not(seed: int) -> None:
    drawing, checked = forgotten(seed, 2), 0
    for bounds in bounds_of(drawing):
        alone = len(bounds.verdict.needs) == 1
        for bound in bounds.found if alone else ():
            checked += check(drawing, bounds.verdict, bound)
    assert checked or not any(len(b.verdict.needs) == 1 and b.found for b in bounds_of(drawing))


def check(drawing: Drawing, verdict: Verdict, bound: Bound) -> int:
    """Values inside, at the edges, and one step outside."""
    good, where = ("pass", "not_applicable"), (verdict.rule, verdict.name, bound.text)
    quantity = (
        specs(type(drawing.get(bound.about.item)))[bound.about.field].quantity
        if bound.about.space is None
        else "power_va"
    )
    if bound.passing:
        for value in bound.passing:
            assert state(drawing, verdict, bound, value) in good, where
        return 1
    if bound.never or (bound.low is None and bound.high is None):
        return 0
    step = STEP[quantity]
    low, high = bound.low or step, bound.high if bound.high is not None else (bound.low or 0) * 3
    for value in (low, (low + high) / 2, high):
        assert state(drawing, verdict, bound, value) in good, (*where, value)
    for value in (bound.low and round(bound.low - step, 9), bound.high and round(bound.high + step, 9)):
        if value and value > 0:
            assert state(drawing, verdict, bound, value) not in good, (*where, value)
    return 1


def test_bounds_of_many_kinds_are_found() -> None:
    rules: Counter[str] = Counter()
    for seed in range(420, 440):
        rules.update(b.verdict.rule for b in bounds_of(forgotten(seed, 2)) if b.found)
    assert len(rules) >= 6, rules


def tap(sketch: Any, **values: Any) -> Drawing:
    """A tap of 3/0 copper (200 A at 75 degrees C) of an 800 A main to a 200 A switch."""
    s = sketch()
    s.put("service", "Utility", system="208Y/120")
    s.put("disconnect", "Main", trip_a=800, rating_a=800, service_disconnect=True, adjustable=False)
    s.put("bus", "Gutter", form="gutter")
    s.put("disconnect", "Switch", form="fused switch", trip_a=200, rating_a=200)
    s.put("load", "Shop", va=20_000, load_class="other", continuous=False, phases="ABC", power_factor=1.0)
    s.chain("Utility", "Main", "Gutter")
    run = {
        "material": "copper", "insulation": "THHN/THWN-2", "wet": False, "ambient_c": 30, "current_carrying": 3,
        "raceway": "EMT", "terminal_c": 75, "sets": 1, "outdoors": False, "leaves_enclosure": False,
        "size": "3/0", "length_ft": None,
    }  # fmt: skip
    s.run("Gutter", "Switch", "Tap", **{**run, **values})
    s.chain("Switch", "Shop")
    return s.drawing


def of(drawing: Drawing, rule: str) -> str:
    return next(b.summary for b in bounds_of(drawing) if b.verdict.rule == rule)


def test_a_tap_passes_up_to_ten_feet(sketch: Any) -> None:
    """240.21(B)(1): 10 ft; the 25-ft rule asks for a third of 800 A, 267 A, which 200 A is not."""
    assert of(tap(sketch), "TAP-0") == "passes for any length of Tap up to 10 ft"


def test_larger_conductors_reach_twenty_five_feet(sketch: Any) -> None:
    """240.21(B)(2): 300 kcmil copper is good for 285 A at 75 degrees C, more than 267 A."""
    assert of(tap(sketch, size="300"), "TAP-0") == "passes for any length of Tap up to 25 ft"


def test_a_size_is_told_by_the_smallest_that_passes(sketch: Any) -> None:
    """Table 310.16, 75 degrees C: 267 A asks for 300 kcmil copper (285 A); 250 kcmil has 255 A."""
    assert of(tap(sketch, size=None, length_ft=20), "TAP-0") == "passes with 300 kcmil or larger as size of Tap"


def test_fault_current_is_told_in_amperes(service: Any) -> None:
    """110.10: a 22 kA board bolted to the service holds while 22,000 A or less are available."""
    s = service(sccr_ka=22)
    found = [b.summary for b in bounds_of(s.drawing) if b.verdict.rule == "FLT-2"]
    assert found == ["passes for any available fault current of Utility up to 22,000 A"]
