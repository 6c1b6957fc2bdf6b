"""Raceways shared by name, counts, roofs, short lower parts, gutters and boxes, on drawings."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from oneline.model.vocabulary import EDITIONS
from oneline.study import conductors, raceways
from oneline.study.conductors import run_ampacity

RUN = {
    "material": "copper", "insulation": "THHN/THWN-2", "raceway": "EMT", "ambient_c": 30, "wet": False, "terminal_c": 90,
    "length_ft": 40, "sets": 1, "phases": "ABC", "neutral_size": "none", "egc_size": "raceway", "size": "10",
}  # fmt: skip


def change(s: Any, item_id: str, **values: Any) -> None:
    s.drawing = s.drawing.with_items([replace(s.drawing.get(item_id), **values)])


def board(service: Any, *runs: dict[str, Any], system: str = "208Y/120") -> Any:
    """A panel with one breaker, run and load for each of ``runs``: "R1", "R2", ..."""
    s = service(system)
    for k, values in enumerate(runs, 1):
        s.put("disconnect", f"B{k}", trip_a=30, rating_a=30, poles=3)
        s.put("load", f"L{k}", va=1000, load_class="heat", continuous=False, phases=values.get("phases", "ABC"))
        s.joint("MDP", f"B{k}")
        s.run(f"B{k}", f"L{k}", f"R{k}", **{**RUN, **values})
    return s


def only(found: Any, rule: str) -> Any:
    (one,) = [v for v in found if v.rule == rule]
    return one


# ---------------------------------------------------------------------------------------------------------- counts
def test_published_four_conductors_in_one_pipe(service: Any) -> None:
    """EC&M Code Q&A: 10 AWG THHN, four current-carrying conductors, dry: 40 x 0.80 = 32 A. Here two two-wire circuits."""
    one = {"phases": "A", "neutral_size": "10", "raceway_name": "Pipe 1"}
    s = board(service, one, {**one, "phases": "B"})
    ctx = s.context()
    assert run_ampacity(ctx, "R1").a_cond == pytest.approx(32.0)
    count = only(raceways.verdicts(ctx), "AMP-2")
    assert (count.state, count.value, count.others) == ("pass", 4, ("R2",))
    change(s, "R2", raceway_name="Pipe 2")
    assert run_ampacity(s.context(), "R1").a_cond == pytest.approx(40.0)


def test_published_six_conductors_in_heat(service: Any) -> None:
    """EC&M 'Quizzes on the Code': six 14 AWG THHN copper at 105 °F (40.6 °C): 25 x 0.80 x 0.87 = 17.4 A."""
    one = {"size": "14", "ambient_c": (105 - 32) / 1.8, "raceway_name": "Pipe 1"}
    assert run_ampacity(board(service, one, one).context(), "R2").a_cond == pytest.approx(17.4)


def test_published_thirty_conductors(service: Any) -> None:
    """EC&M Code Quiz: thirty 12 AWG THHN in one raceway: 30 x 0.45 = 13.5 A."""
    one = {"size": "12", "raceway_name": "Header"}
    assert run_ampacity(board(service, *[one] * 10).context(), "R7").a_cond == pytest.approx(13.5)


@pytest.mark.parametrize(("nonlinear", "factor"), [(True, 0.8), (False, 1.0), (None, None)])
def test_neutral_of_a_four_wire_wye_counts_by_its_load(
    service: Any, nonlinear: bool | None, factor: float | None
) -> None:
    """310.15(E)(3): counted where the major portion of the load is nonlinear."""
    s = board(service, {"neutral_size": "10", "raceway_name": "P", "mostly_nonlinear": nonlinear})
    found = run_ampacity(s.context(), "R1")
    if factor is None:
        assert found.iz_a is None
        assert found.needs == ("whether most of the load of R1 is nonlinear",)
        assert (found.low_a, found.high_a) == pytest.approx((32, 40))
        assert only(raceways.verdicts(s.context()), "AMP-2").state == "unknown"
        change(s, "L1", nonlinear=True)  # the drawn load tells
        factor = 0.8
        found = run_ampacity(s.context(), "R1")
    assert found.a_cond == pytest.approx(40 * factor)


def test_three_wires_from_a_wye_count_and_those_of_a_midpoint_do_not(service: Any) -> None:
    """310.15(E)(2) and (1): two circuits of two phases and neutral: six on a wye, four on 120/240 V."""
    one = {"phases": "AB", "neutral_size": "10", "raceway_name": "P"}
    for system, count in (("208Y/120", 6), ("120/240-1", 4)):
        ctx = board(service, one, one, system=system).context()
        assert only(raceways.verdicts(ctx), "AMP-2").value == count


def test_an_entered_count_below_what_is_drawn(service: Any) -> None:
    one = {"raceway_name": "P", "current_carrying": 3}
    ctx = board(service, one, one).context()
    found = only(raceways.verdicts(ctx), "AMP-2")
    assert (found.state, found.value, found.limit) == ("advice", 6, 3)
    assert run_ampacity(ctx, "R1").a_cond == pytest.approx(32)  # the larger one counts
    assert only(raceways.verdicts(board(service, {**one, "current_carrying": 9}).context()), "AMP-2").state == "advice"


def test_circuits_never_loaded_together_count_once(service: Any) -> None:
    one = {"raceway_name": "P", "not_together_with": "heat or cool"}
    ctx = board(service, one, one).context()
    assert only(raceways.verdicts(ctx), "AMP-2").value == 3
    assert run_ampacity(ctx, "R1").a_cond == pytest.approx(40)


def test_nipple_and_wireway_need_no_adjustment(service: Any) -> None:
    """310.15(C)(1)(b): 24 in and less; 376.22(B): up to 30 in a wireway that is not overfilled."""
    one = {"raceway_name": "P", "length_ft": 2}
    assert run_ampacity(board(service, one, one).context(), "R1").a_cond == pytest.approx(40)
    way = {"raceway_name": "P", "raceway": "wireway", "raceway_size": "4x4"}
    assert run_ampacity(board(service, *[way] * 10).context(), "R1").a_cond == pytest.approx(40)
    assert run_ampacity(board(service, *[way] * 11).context(), "R1").a_cond == pytest.approx(40 * 0.40)
    full = {**way, "raceway_size": "1x1"}  # ten times three 10 AWG THHN take more than 0.2 in2
    assert run_ampacity(board(service, *[full] * 10).context(), "R1").a_cond == pytest.approx(40 * 0.45)


# ------------------------------------------------------------------------------------------------------------ fill
def test_published_fill_of_mixed_sizes(service: Any) -> None:
    """EC&M Code Q&A: 3-500, 1-250, 1-3 AWG THHN: 2.6162 in2, trade size 3 of PVC 40. As two circuits in one pipe."""
    pipe = {"raceway_name": "P", "raceway": "PVC-40", "insulation": "THHN", "egc_size": "none"}
    one = {**pipe, "size": "500", "raceway_size": "2-1/2"}
    rest = {**pipe, "size": "250", "phases": "A", "egc_size": "3", "raceway_size": "2-1/2"}
    s = board(service, one, rest)
    for k in (1, 2):
        change(s, f"R{k}", status="new")
    found = only(raceways.verdicts(s.context()), "RWY-1")
    assert (found.state, found.others) == ("fail", ("R2",))
    assert found.remedy == "Use trade size 3 PVC-40."
    for k in (1, 2):
        change(s, f"R{k}", raceway_size="3")
    found = only(raceways.verdicts(s.context()), "RWY-1")
    assert found.state == "pass"
    assert found.value == pytest.approx(2.6162 / 2.907 * 40, rel=1e-3)  # 2.907 in2 is 40 % of it
    change(s, "R2", raceway_size="4")  # two sizes for one pipe
    found = only(raceways.verdicts(s.context()), "RWY-1")
    assert found.state == "unknown"
    assert "trade size of raceway P: entered as 3 and 4" in found.needs


# ----------------------------------------------------------------------------------------------------- roof, parts
@pytest.mark.parametrize("edition", EDITIONS)
def test_roof(service: Any, edition: int) -> None:
    """310.15(B)(2), in 2017 (B)(3)(c): 33 °C more below 7/8 in; 30 + 33 = 63 °C leaves 90 °C insulation 0.65."""
    s = board(service, {"rooftop": True, "roof_height_ft": 0.5 / 12, "current_carrying": 3})
    ctx = s.context(edition=edition)
    assert run_ampacity(ctx, "R1").a_cond == pytest.approx(40 * 0.65)
    found = only(conductors.verdicts(ctx), "AMP-4")
    assert (found.state, found.edition) == ("advice", edition)
    change(s, "R1", roof_height_ft=7 / 8 / 12)
    assert run_ampacity(s.context(), "R1").a_cond == pytest.approx(40)
    assert only(conductors.verdicts(s.context()), "AMP-4").state == "pass"
    change(s, "R1", roof_height_ft=None)
    found = run_ampacity(s.context(), "R1")
    assert (found.iz_a, found.needs) == (None, ("height of R1 above the roof",))
    assert (found.low_a, found.high_a) == pytest.approx((26, 40))
    change(s, "R1", insulation="XHHW-2")
    assert run_ampacity(s.context(), "R1").a_cond == pytest.approx(40)


def test_nobody_said_whether_a_new_outdoor_run_is_on_a_roof(service: Any) -> None:
    s = board(service, {"outdoors": True, "current_carrying": 3})
    assert not [v for v in conductors.verdicts(s.context()) if v.rule == "AMP-4"]  # existing: not asked
    change(s, "R1", status="new")
    found = only(conductors.verdicts(s.context()), "AMP-4")
    assert found.state == "unknown"
    assert found.needs == ("whether R1 lies on or above a roof, in the sun",)


@pytest.mark.parametrize(
    ("hot_ft", "good", "state"), [(4, 40, "pass"), (4.05, 36.4, "advice"), (None, 36.4, "unknown")]
)
def test_a_short_hot_part_follows_the_rest(service: Any, hot_ft: float | None, good: float, state: str) -> None:
    """310.14(A)(2): 4 ft at 40 °C (0.91) beside 40 ft at 30 °C: a tenth of the higher part is left out, more is not."""
    s = service()
    s.put("disconnect", "B", trip_a=30, rating_a=30)
    s.put("bus", "Joint", form="splice box")
    s.put("load", "L", va=1000, load_class="heat", continuous=False, phases="ABC")
    s.joint("MDP", "B")
    wires = {**RUN, "current_carrying": 3}
    s.run("B", "Joint", "cool", **wires)
    s.run("Joint", "L", "hot", **{**wires, "ambient_c": 40, "length_ft": hot_ft})
    ctx = s.context()
    assert run_ampacity(ctx, "hot").a_cond == pytest.approx(good)
    found = only(conductors.verdicts(ctx), "AMP-4")
    assert (found.subject, found.state) == ("hot", state)


# ------------------------------------------------------------------------------------------------ gutters and boxes
def enclosure(service: Any, form: str, **values: Any) -> Any:
    """Two new 4/0 runs of three conductors that meet in a gutter or box; 4/0 THHN is 0.3237 in2."""
    s = service()
    s.put("disconnect", "B", trip_a=200, rating_a=200)
    s.put("bus", "Box", form=form, **values)
    s.put("disconnect", "Sub", trip_a=200, rating_a=200)
    s.put("load", "L", va=1000, load_class="heat", continuous=False, phases="ABC")
    s.joint("MDP", "B")
    wires = {**RUN, "size": "4/0", "status": "new", "current_carrying": 3, "raceway_size": "2", "egc_size": "none"}
    s.run("B", "Box", "in", **wires)
    s.run("Box", "Sub", "out", **wires)
    s.joint("Sub", "L")
    return s


def test_gutter(service: Any) -> None:
    """366.22: 20 %; six 4/0 THHN take 1.94 in2, three 0.97: 16 in2 holds all, 4 in2 not even those of one run."""
    given = {"spliced_in2": 2.0, "length_ft": 20}
    for space, state in ((16, "pass"), (4, "fail"), (8, "unknown"), (None, "unknown")):
        s = enclosure(service, "gutter", wiring_space_in2=space, **given)
        assert only(raceways.verdicts(s.context()), "RWY-4").state == state, space
    for changed in ({"spliced_in2": 12.1}, {"length_ft": 30.1}, {"passing_in2": 3.3}):
        s = enclosure(service, "gutter", wiring_space_in2=16, **{**given, **changed})
        assert only(raceways.verdicts(s.context()), "RWY-4").state == "fail"
    s = enclosure(service, "gutter", wiring_space_in2=16, spliced_in2=12, length_ft=30, passing_in2=3.2)
    assert only(raceways.verdicts(s.context()), "RWY-4").state == "pass"  # exactly at each limit


@pytest.mark.parametrize(
    ("pull", "distance", "state"),
    [("straight", 16, "pass"), ("straight", 15.9, "fail"), ("angle", 12, "pass"), ("angle", 11.9, "fail"),
     (None, 16, "pass"), (None, 14, "unknown"), (None, 11, "fail"), ("angle", None, "unknown")],
)  # fmt: skip
def test_pull_box(service: Any, pull: str | None, distance: float | None, state: str) -> None:
    """314.28(A): 8 and 6 times the largest raceway, here trade size 2."""
    s = enclosure(service, "splice box", pull=pull, pull_distance_in=distance)
    assert only(raceways.verdicts(s.context()), "RWY-5").state == state


def test_parallel_sets_split_over_raceways(service: Any) -> None:
    """300.3(B): a new parallel run is asked about, an existing one that is split is for the authority."""
    s = board(service, {"sets": 2, "size": "4/0", "status": "new", "current_carrying": 3})
    assert only(raceways.verdicts(s.context()), "RWY-2").state == "unknown"
    for together, status, state in ((True, "new", "pass"), (False, "new", "fail"), (False, "existing", "judge")):
        change(s, "R1", circuit_together=together, status=status)
        assert only(raceways.verdicts(s.context()), "RWY-2").state == state
