"""Ampacity of a run against published examples, and bounds where facts are missing."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oneline.model.vocabulary import CONDUCTOR_SIZES, INSULATIONS, MATERIALS
from oneline.rules.ampacity import Ampacity, RunFacts, ampacity, smallest_size
from oneline.rules.common import Fact, Subject
from oneline.rules.conductor_load import LoadFacts, conductor_load, parallel_sets

RUN = Subject("run1", "Feeder LP")
DRY = RunFacts(RUN, 2023, "3/0", "copper", "THHN/THWN-2", 1, False, 30, 3, 3, "EMT", 40, 75)


def of(**values: object) -> Ampacity:
    return ampacity(replace(DRY, **values))  # type: ignore[arg-type]


def test_four_in_one_pipe() -> None:
    """EC&M Code Q&A: 10 AWG THHN, four current-carrying, dry: 40 x 0.80 = 32 A (before terminals and 240.4(D))."""
    assert of(size="10", insulation="THHN", current_carrying=4).a_cond == pytest.approx(32.0)


def test_bundling_and_ambient_multiply() -> None:
    """EC&M "Quizzes on the Code" (Stallcup): six 14 AWG THHN at 105 °F: 25 x 0.80 x 0.87 = 17.4 A."""
    found = of(size="14", insulation="THHN", current_carrying=6, ambient_c=(105 - 32) * 5 / 9)
    assert found.a_cond == pytest.approx(17.4)


def test_thirty_conductors() -> None:
    """EC&M Code Quiz: 12 AWG THHN, 30 current-carrying: 30 x 0.45 = 13.5 A."""
    assert of(size="12", insulation="THHN", current_carrying=30).a_cond == pytest.approx(13.5)


def test_continuous_feeder_and_its_neutral() -> None:
    """EC&M "Stumped by the Code" (2011): 200 A continuous, 75 °C: 250 A -> 250 kcmil (255 A); neutral at 100 %: 3/0."""
    facts = LoadFacts(replace(DRY, size="4/0"), Fact(200.0), Fact(250.0))
    verdict = conductor_load(facts)
    assert verdict.state == "fail"
    assert (verdict.value, verdict.limit) == (230, 250)
    assert "250 kcmil copper (255 A)" in verdict.remedy
    assert conductor_load(replace(facts, run=replace(DRY, size="250"))).state == "pass"
    neutral = smallest_size(DRY, 200.0)
    assert neutral is not None
    assert neutral.size == "3/0"


def test_parallel_sets() -> None:
    """Trade forum "Parallel conductor sizing": 2 x 500 kcmil Cu, separate raceways: 760 A."""
    assert of(size="500", sets=2).iz_a == 760


def test_parallel_ampacities() -> None:
    """Trade forum, "25 feet tap conductor" and "Transformer Secondary Feeder Tap": the ampacities they print."""
    assert of(size="250", material="aluminum", sets=2).iz_a == 410
    assert of(size="500", material="aluminum", sets=2).iz_a == 620
    assert of(size="250", sets=2).iz_a == 510
    assert of(size="350", sets=2).iz_a == 620


def test_the_step_that_governs_is_named() -> None:
    assert of().governs == "limited by 75 °C terminals"
    assert of(current_carrying=9).governs == "limited by 9 current-carrying conductors in one raceway"
    assert of(ambient_c=45).governs == "limited by 45 °C (113 °F) around it"
    assert of(insulation="TW").governs == "limited by its 60 °C insulation"


def test_dual_marked_insulation_in_wet_places() -> None:
    """A conductor dual marked THHN/THWN is 75 °C wet; only -2 is 90 °C. Trade consensus, from memory."""
    hot = {"ambient_c": 40.0, "terminal_c": 90.0}
    assert of(insulation="XHHW", wet=True, **hot).a_cond == pytest.approx(200 * 0.88)
    assert of(insulation="XHHW", wet=False, **hot).a_cond == pytest.approx(225 * 0.91)
    assert of(insulation="THHN/THWN-2", wet=True, **hot).a_cond == pytest.approx(225 * 0.91)
    unknown = of(insulation="XHHW", wet=None, **hot)
    assert unknown.iz_a is None
    assert unknown.needs == ("whether Feeder LP is in a wet location",)
    assert unknown.low_a == pytest.approx(176.0)
    assert unknown.high_a == pytest.approx(204.75)


def test_thhn_in_a_wet_place_fails() -> None:
    verdict = conductor_load(LoadFacts(replace(DRY, insulation="THHN", wet=True), Fact(10.0), Fact(10.0)))
    assert verdict.state == "fail"
    assert "wet" in verdict.message


@pytest.mark.parametrize(
    ("size", "circuit_a", "column"),
    [
        ("3/0", None, 75),
        ("1", None, 60),
        ("1", 100, 60),
        ("1", 101, 75),
        ("1/0", 60, 75),
        ("4", 90, 60),
        ("4", None, 60),
    ],
)
def test_terminals_by_110_14(size: str, circuit_a: float | None, column: int) -> None:
    """110.14(C)(1): up to 100 A or 14 to 1 AWG 60 °C unless marked; above 75 °C. From memory of the section."""
    found = of(size=size, terminal_c=None, circuit_a=circuit_a)
    assert found.a_term == of(size=size, terminal_c=column).a_term
    assert found.assumed == (f"{column} °C terminals",)
    assert any(
        line.source.startswith("110.14(C)") for line in of(size=size, terminal_c=None, circuit_a=circuit_a).lines
    )
    assert found.field_checks


def test_one_marked_end_is_an_upper_bound() -> None:
    assert of(terminal_c=None, terminal_seen_c=60).a_term == of(terminal_c=60).a_term
    assert of(terminal_c=None, terminal_seen_c=90).a_term == of(terminal_c=75).a_term


def test_nipple_and_wireway_need_no_adjustment() -> None:
    """310.15(C)(1)(b): raceways of 24 in or less; 376.22(B): wireways up to 30 conductors."""
    assert of(current_carrying=12, length_ft=2).a_cond == 225
    assert of(current_carrying=12, length_ft=2.01).a_cond == pytest.approx(225 * 0.5)
    assert of(current_carrying=30, raceway="wireway").a_cond == 225
    assert of(current_carrying=31, raceway="wireway").a_cond == pytest.approx(225 * 0.40)


def test_too_hot_for_the_insulation() -> None:
    found = of(insulation="TW", ambient_c=60)
    assert found.iz_a is None
    assert found.needs


def test_busway_has_its_own_rating() -> None:
    assert "busway" in of(raceway="busway").needs[0]


@given(
    size=st.sampled_from(CONDUCTOR_SIZES[2:]),
    material=st.sampled_from(MATERIALS),
    insulation=st.sampled_from([i for i in INSULATIONS if i not in ("MC", "other", "THHN")]),
    wet=st.booleans(),
    ambient=st.integers(5, 45),
    count=st.integers(1, 45),
    sets=st.integers(1, 4),
    missing=st.sets(
        st.sampled_from(["material", "insulation", "wet", "ambient_c", "current_carrying", "sets"]), max_size=3
    ),
)
def test_bounds_hold_whatever_the_missing_facts_turn_out_to_be(
    size: str, material: str, insulation: str, wet: bool, ambient: int, count: int, sets: int, missing: set[str]
) -> None:
    """Property: the ampacity with all facts lies between the bounds given without some of them."""
    full = replace(
        DRY, size=size, material=material, insulation=insulation, wet=wet, ambient_c=ambient, current_carrying=count,
        sets=sets, own_conductors=1,
    )  # fmt: skip
    exact = ampacity(full).iz_a
    if exact is None:
        return
    partial = ampacity(replace(full, **dict.fromkeys(missing)))
    if partial.iz_a is not None:
        # What is missing did not matter, as a wet place for an insulation that is rated the same there.
        assert partial.iz_a == pytest.approx(exact)
        return
    if partial.low_a is not None:
        assert partial.low_a <= exact + 1e-9
    if partial.high_a is not None:
        assert partial.high_a >= exact - 1e-9


def test_parallel_needs_one_aught() -> None:
    """310.10(G): 1/0 and larger."""
    assert parallel_sets(replace(DRY, size="1", sets=2)).state == "fail"
    assert parallel_sets(replace(DRY, size="1/0", sets=2), True).state == "pass"
    open_ = parallel_sets(replace(DRY, size="1/0", sets=2))  # nobody saw whether the sets are alike
    assert (open_.state, len(open_.needs)) == ("unknown", 1)
    assert parallel_sets(replace(DRY, size="1/0", sets=2), False).state == "fail"
    assert parallel_sets(replace(DRY, size="4/0", sets=2), True, "1").state == "fail"  # the neutral counts too
    assert parallel_sets(replace(DRY, size="4/0", sets=2), True, "1/0").state == "pass"
    assert parallel_sets(replace(DRY, size=None, sets=2)).state == "unknown"
    assert parallel_sets(replace(DRY, edition=2017, sets=2)).section == "310.10(H)"


def test_hundred_percent_listing_drops_the_factor() -> None:
    """215.2(A)(1) exception: assembly and device listed for 100 %."""
    facts = LoadFacts(DRY, Fact(200.0), Fact(250.0))
    assert conductor_load(facts).state == "fail"
    assert conductor_load(replace(facts, full_rated=True)).state == "pass"


def test_load_unknown_but_too_much_already() -> None:
    facts = LoadFacts(DRY, Fact(None, 210.0, None, need="load of LP"), Fact(None, 210.0, None, need="load of LP"))
    assert conductor_load(facts).state == "fail"
    facts = LoadFacts(DRY, Fact(None, 20.0, None, need="load of LP"), Fact(None, 20.0, None, need="load of LP"))
    verdict = conductor_load(facts)
    assert (verdict.state, verdict.needs) == ("unknown", ("load of LP",))


@pytest.mark.parametrize(("count", "factor"), [(20, 1.0), (21, 0.6)])
def test_bundled_small_metal_clad_cables(count: int, factor: float) -> None:
    """310.15(C)(1)(d) and (e), from memory: up to 20 conductors of 12 AWG copper without adjustment, above 60 %. The marking
    of the cable tells its insulation, so that the ampacity itself stays between bounds."""
    cable = replace(
        DRY, size="12", insulation="MC", raceway="cable", current_carrying=count, own_conductors=3, terminal_c=90
    )
    found = ampacity(cable)
    assert found.iz_a is None
    assert (found.low_a, found.high_a) == pytest.approx((20 * factor, 30 * factor))
    assert ampacity(replace(cable, size="10")).high_a == pytest.approx(40 * (0.5 if count == 20 else 0.45))
