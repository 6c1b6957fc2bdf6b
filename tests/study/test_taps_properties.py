"""Properties of the tap rules on drawings: no surprise from a larger size, a shorter length or a missing fact."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from oneline.model.vocabulary import CONDUCTOR_SIZES
from oneline.study import taps

#: The fixture hands over a class and keeps nothing between examples.
PLAIN = settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
DRY = {
    "material": "copper", "insulation": "THHN/THWN-2", "wet": False, "ambient_c": 30, "current_carrying": 3,
    "raceway": "EMT", "terminal_c": 75, "sets": 1, "outdoors": False,
}  # fmt: skip
_ORDER = {"fail": 0, "unknown": 1, "judge": 1, "pass": 2}


@settings(PLAIN, max_examples=60)
@given(
    size=st.sampled_from(CONDUCTOR_SIZES[4:22]), rating_a=st.sampled_from([30.0, 60.0, 100.0, 200.0, 400.0, 600.0]),
    length_ft=st.floats(1, 40), load_va=st.integers(0, 60_000), step=st.integers(1, 6),
)  # fmt: skip
def test_larger_conductors_never_make_a_tap_worse(
    sketch: Any, size: str, rating_a: float, length_ft: float, load_va: int, step: int
) -> None:
    """Property: upsizing the conductors never turns a passing tap rule into a failing one."""
    larger = CONDUCTOR_SIZES[min(CONDUCTOR_SIZES.index(size) + step, len(CONDUCTOR_SIZES) - 1)]
    before, after = (_tap_states(sketch, s, rating_a, length_ft, load_va) for s in (size, larger))
    for rule in before.keys() & after.keys():
        assert _ORDER.get(after[rule], 2) >= _ORDER.get(before[rule], 2)


@settings(PLAIN, max_examples=40)
@given(
    size=st.sampled_from(CONDUCTOR_SIZES[4:22]), length_ft=st.floats(1, 40), load_va=st.integers(0, 60_000),
    shorter=st.floats(0.1, 1.0),
)  # fmt: skip
def test_shorter_never_makes_a_tap_worse(
    sketch: Any, size: str, length_ft: float, load_va: int, shorter: float
) -> None:
    before = _tap_states(sketch, size, 100.0, length_ft, load_va)
    after = _tap_states(sketch, size, 100.0, max(2.5, length_ft * shorter), load_va)
    if length_ft < 2.5:
        return
    for rule in before.keys() & after.keys():
        assert _ORDER.get(after[rule], 2) >= _ORDER.get(before[rule], 2)


def _tap_states(sketch: Any, size: str, end_a: float, length_ft: float, load_va: int) -> dict[str, str]:
    s = sketch()
    s.put("service", "Utility", system="208Y/120")
    s.put("disconnect", "Main", trip_a=800, rating_a=800, service_disconnect=True)
    s.put("bus", "Gutter", form="gutter")
    s.put("disconnect", "Switch", trip_a=end_a, rating_a=end_a)
    s.put("load", "Shop", va=load_va, load_class="other", continuous=False, phases="ABC", power_factor=1.0)
    s.chain("Utility", "Main", "Gutter")
    s.run("Gutter", "Switch", "tap", **{**DRY, "size": size, "length_ft": length_ft})
    s.chain("Switch", "Shop")
    return {
        v.rule: v.state for v in taps.verdicts(s.context()) if v.subject == "tap" and v.rule in ("TAP-10", "TAP-25")
    }


@settings(PLAIN, max_examples=40)
@given(
    missing=st.sets(st.sampled_from(["length_ft", "ambient_c", "material", "raceway", "insulation", "size"]), min_size=1),
    size=st.sampled_from(["2", "1/0", "3/0", "350"]), length_ft=st.sampled_from([6.0, 10.0, 18.0, 25.0, 40.0]),
)  # fmt: skip
def test_taking_a_fact_away_never_changes_a_decided_answer(
    sketch: Any, missing: set[str], size: str, length_ft: float
) -> None:
    """Property: without some facts a rule may only become unknown; where it still decides, it decides the same."""
    s = sketch()
    s.put("service", "Utility", system="208Y/120")
    s.put("disconnect", "Main", trip_a=600, rating_a=600, service_disconnect=True)
    s.put("bus", "Gutter", form="gutter")
    s.put("disconnect", "Switch", trip_a=150, rating_a=200)
    s.put("load", "Shop", va=20_000, load_class="other", continuous=False, phases="ABC", power_factor=1.0)
    s.chain("Utility", "Main", "Gutter")
    s.run("Gutter", "Switch", "tap", **{**DRY, "size": size, "length_ft": length_ft})
    s.chain("Switch", "Shop")
    full = {v.rule: v.state for v in taps.verdicts(s.context()) if v.subject == "tap"}
    s.drawing = s.drawing.with_items([replace(s.drawing.get("tap"), **dict.fromkeys(missing))])
    for verdict in taps.verdicts(s.context()):
        if verdict.subject == "tap" and verdict.state in ("pass", "fail"):
            assert verdict.state == full.get(verdict.rule), verdict.message
