"""Ratings in every position of transfer switches and ties, and fault currents where X/R is not known.

Expected values by hand from Ohm's law: I = kVA / (sqrt(3) V x) of a generator, I = V / (sqrt(3) |Z|) behind a source.
"""

from __future__ import annotations

from math import sqrt
from typing import Any

import pytest

from oneline.study.context import Context
from oneline.study.duty import duty
from oneline.study.ratings import verdicts


def state(ctx: Context, item: str, rule: str = "FLT-2") -> Any:
    return next(v for v in verdicts(ctx) if v.name == item and v.rule == rule)


def stand_by(sketch: Any, sccr_ka: float | None, xd_pct: float | None = 10.0, kva: float = 500) -> Context:
    """A weak service (2 kA) and a generator behind a transfer switch."""
    s = sketch()
    s.put("service", "U", system="208Y/120", fault_ka=2, fault_x_r=5)
    s.put("generator", "G", system="208Y/120", kva=kva, xd_pct=xd_pct)
    s.put("transfer", "TS", withstand_ka=sccr_ka)
    s.put("bus", "P", sccr_ka=sccr_ka)
    s.put("disconnect", "B", form="breaker", interrupting_ka=5)
    s.joint("U", "TS.normal")
    s.joint("G.out", "B.line")
    s.joint("B.load", "TS.alternate")
    s.joint("TS.load", "P")
    return s.context()


GENERATOR_A = 500_000 / (sqrt(3) * 208) / 0.10


def test_a_stronger_generator_behind_a_transfer_switch_counts(sketch: Any) -> None:
    ctx = stand_by(sketch, 10)
    assert GENERATOR_A > 10_000  # 13.9 kA: more than the bus stands
    for item in ("P", "TS"):
        assert state(ctx, item).state == "fail"
    assert " on G " in state(ctx, "P").message
    # The utility never reaches the generator's breaker: the transfer switch connects one side only.
    assert duty(ctx, ctx.net.node("B", "line")).least == pytest.approx(GENERATOR_A, rel=1e-6)


def test_generator_below_the_rating_passes_at_its_upper_bound(sketch: Any) -> None:
    """Without zero-sequence reactance line to neutral gives at most 3 / 2 of three-phase."""
    assert state(stand_by(sketch, 1.5 * GENERATOR_A / 1000 + 0.01), "P").state == "pass"
    assert state(stand_by(sketch, 1.5 * GENERATOR_A / 1000 - 0.01), "P").state == "unknown"


def test_unknown_generator_reactance_leaves_the_rating_open(sketch: Any) -> None:
    found = state(stand_by(sketch, 65, xd_pct=None), "P")
    assert found.state == "unknown"
    assert any("reactance" in n and "G" in n for n in found.needs)


def double_ended(
    sketch: Any, bus_ka: float, tie_ka: float = 65, normally_open: bool = True, main_ka: float = 65
) -> Context:
    s = sketch()
    for k, ka in ((1, 5), (2, 40)):
        s.put("service", f"U{k}", system="208Y/120", fault_ka=ka, fault_x_r=1)
        s.put("disconnect", f"M{k}", form="breaker", interrupting_ka=main_ka)
        s.put("bus", f"S{k}", sccr_ka=bus_ka)
        s.chain(f"U{k}", f"M{k}", f"S{k}")
    s.put("disconnect", "T", form="breaker", interrupting_ka=tie_ka, normally_open=normally_open)
    s.joint("S1", "T.line")
    s.joint("T.load", "S2")
    return s.context()


@pytest.mark.parametrize(("bus_ka", "expected"), [(39.9, "fail"), (40.1, "unknown"), (44.9, "unknown"), (45.1, "pass")])
def test_bus_behind_a_tie_stands_either_source_and_both(sketch: Any, bus_ka: float, expected: str) -> None:
    """5 kA normally, 40 kA through the tie, 45 kA at most with both closed."""
    found = state(double_ended(sketch, bus_ka), "S1")
    assert found.state == expected
    if expected == "unknown":
        assert found.needs == ("interlock that keeps U1 and U2 from being closed together at T",)


@pytest.mark.parametrize(("tie_ka", "expected"), [(10, "fail"), (65, "pass")])
def test_an_open_tie_breaker_is_judged_from_both_sides(sketch: Any, tie_ka: float, expected: str) -> None:
    assert state(double_ended(sketch, 65, tie_ka), "T", "FLT-1").state == expected


@pytest.mark.parametrize(("rating_ka", "expected"), [(39, "fail"), (40.1, "unknown"), (44.9, "unknown"), (65, "pass")])
def test_devices_between_sources_that_a_tie_can_close_together(sketch: Any, rating_ka: float, expected: str) -> None:
    """Kirchhoff: with the tie closed both terminals of a main and of the tie are one point with 5 kA + 40 kA = 45 kA,
    from whichever side each arrives. The tie stands between two sources, so both its sides count alike.
    The X/R of the two together is not known, so the correction for it counts in full (IEEE C37.13): 65 kA is above both."""
    ctx = double_ended(sketch, 65, tie_ka=rating_ka, main_ka=rating_ka)
    for device in ("M1", "M2", "T"):
        found = state(ctx, device, "FLT-1")
        assert found.state == expected
        if expected == "unknown":
            assert found.needs == ("interlock that keeps U1 and U2 from being closed together at T",)


def test_sources_normally_in_parallel_give_both_their_currents(sketch: Any) -> None:
    """Kirchhoff: 5 kA and 40 kA of one X/R are 45 kA."""
    assert state(double_ended(sketch, 10, normally_open=False), "S1").state == "fail"
    assert state(double_ended(sketch, 44.9, normally_open=False), "S1").state == "fail"
    assert state(double_ended(sketch, 45.1, normally_open=False), "S1").state == "pass"


def tied(sketch: Any, bus_ka: float, far: str | None = "S2", **tie: Any) -> Context:
    """Two services of 5 kA and 40 kA, each with its bus, and something nobody traced between the buses."""
    s = sketch()
    for k, ka in ((1, 5), (2, 40)):
        s.put("service", f"U{k}", system="208Y/120", fault_ka=ka, fault_x_r=1)
        s.put("disconnect", f"M{k}", form="breaker", interrupting_ka=65)
        s.put("bus", f"S{k}", sccr_ka=bus_ka)
        s.chain(f"U{k}", f"M{k}", f"S{k}")
    s.put("tie", "Stair light", a=s.end("S1", 0), b=None if far is None else s.end(far, 0), **tie)
    return s.context()


@pytest.mark.parametrize(("bus_ka", "expected"), [(4.9, "fail"), (39.9, "unknown"), (44.9, "unknown"), (45.1, "pass")])
def test_a_suspected_tie_may_be_closed(sketch: Any, bus_ka: float, expected: str) -> None:
    """Kirchhoff: 5 kA for certain; 40 kA through the tie and 45 kA with both, if there is one. It never passes what a
    drawn tie fails, and never fails by itself."""
    found = state(tied(sketch, bus_ka), "S1")
    assert found.state == expected
    if expected == "unknown":
        assert found.needs == ("trace of Stair light",)
    assert state(double_ended(sketch, 39.9), "S1").state == "fail"
    at = tied(sketch, 65).net.node("S1")
    assert duty(tied(sketch, 65), at).most == pytest.approx(45_000, rel=1e-6)
    assert duty(tied(sketch, 65), at).least == pytest.approx(5_000, rel=1e-6)


def test_a_suspected_tie_that_closes_a_loop_leaves_a_bound(sketch: Any) -> None:
    """Two equal feeders from one board meet at a tie: with it closed they are one feeder of two sets."""

    def board(panels: tuple[str, ...], sets: int) -> Any:
        s = sketch()
        s.put("service", "U", system="208Y/120", fault_ka=20, fault_x_r=3)
        s.put("bus", "MDP")
        s.joint("U", "MDP")
        for name in panels:
            s.put("bus", name, sccr_ka=14)
            s.run(
                "MDP", name, size="3/0", material="copper", length_ft=60, sets=sets, raceway="EMT", neutral_size="3/0"
            )
        return s

    s = board(("P1", "P2"), 1)
    assert state(s.context(), "P1").state == "pass"
    s.put("tie", "Stair light", a=s.end("P1", 0), b=s.end("P2", 0))
    found = state(s.context(), "P1")
    assert found.state == "unknown"
    assert found.needs == ("trace of Stair light",)
    double = board(("P",), 2).context()
    known = double.numbers.duty_a[double.net.node("P")]
    assert duty(s.context(), s.context().net.node("P1")).most == pytest.approx(known, rel=1e-6)


def test_a_tie_to_an_unknown_place_may_bring_anything(sketch: Any) -> None:
    found = state(tied(sketch, 65, None), "S1")
    assert found.state == "unknown"
    assert found.needs == ("trace of Stair light",)
    assert state(tied(sketch, 65, None), "S2").state == "pass"  # no way from the tie to there
    assert state(tied(sketch, 4.9, None), "S1").state == "fail"


# ------------------------------------------------------------------------------------------------- X/R not known
def feeder(sketch: Any, x_r: float | None, sccr_ka: float | None = None, size: str = "500") -> Context:
    s = sketch()
    s.put("service", "U", system="480Y/277", fault_ka=30, fault_x_r=x_r)
    s.put("transformer", "T", kva=75, z_pct=3, x_r=x_r, primary_system="480Y/277", secondary_system="208Y/120",
          connection="delta-wye")  # fmt: skip
    s.put("bus", "A", sccr_ka=sccr_ka)
    s.put("bus", "B")
    values = {"size": size, "material": "copper", "sets": 1, "length_ft": 100, "raceway": "EMT"}
    s.run("U", "A", "Feeder", neutral_size=size, **values)
    s.joint("A", "T.line")
    s.run("T.load", "B", "Secondary", neutral_size=size, **values)
    return s.context()


RATIOS = [0.0, 0.1, 0.3, 0.577, 1.0, 1.5, 2.0, 3.0, 6.0, 20.0, 99.0]


@pytest.mark.parametrize("size", ["500", "12"])
@pytest.mark.parametrize("bus", ["A", "B"])
def test_no_x_r_gives_more_than_the_bound(sketch: Any, size: str, bus: str) -> None:
    """Every ratio that could be entered gives a current between the two bounds, and one reaches the upper bound."""
    ctx = feeder(sketch, None, size=size)
    at = duty(ctx, ctx.net.node(bus))
    assert at.value is None
    assert at.least is not None
    assert at.most is not None
    currents = []
    for x_r in RATIOS:
        known = feeder(sketch, x_r, size=size)
        currents.append(duty(known, known.net.node(bus)).value)
    assert all(c is not None and at.least * (1 - 1e-9) <= c <= at.most * (1 + 1e-3) for c in currents)
    if bus == "A":
        assert max(c for c in currents if c is not None) == pytest.approx(at.most, rel=0.01)
    assert "X/R at U" in at.needs


def test_x_r_decides_a_rating_only_outside_the_bounds(sketch: Any) -> None:
    node = feeder(sketch, None)
    at = duty(node, node.net.node("A"))
    assert at.least is not None
    assert at.most is not None
    assert state(feeder(sketch, None, at.most / 1000 + 0.01), "A").state == "pass"
    assert state(feeder(sketch, None, at.least / 1000 - 0.01), "A").state == "fail"
    between = state(feeder(sketch, None, (at.least + at.most) / 2000), "A")
    assert (between.state, between.needs) == ("unknown", ("X/R at U",))


def test_at_the_terminals_of_a_service_x_r_does_not_matter(sketch: Any) -> None:
    ctx = feeder(sketch, None)
    assert duty(ctx, ctx.net.node("U")).value == pytest.approx(30_000)


# --------------------------------------------------------------------------------------------- system not known
def of_system(sketch: Any, system: str | None, sccr_ka: float) -> Context:
    s = sketch()
    s.put("service", "U", system=system, fault_ka=10, fault_x_r=1)
    s.put("bus", "A", sccr_ka=sccr_ka)
    s.joint("U", "A")
    return s.context()


@pytest.mark.parametrize("system", ["208Y/120", "480Y/277", "480D", "120/240-1", "208/120-1", "120-1", "240D-CG"])
def test_no_system_gives_more_than_the_bound_of_an_unknown_one(sketch: Any, system: str) -> None:
    unknown = of_system(sketch, None, 65)
    most = duty(unknown, unknown.net.node("A")).most
    known = of_system(sketch, system, 65)
    value = duty(known, known.net.node("A")).value
    assert most is not None
    assert value is not None
    assert value <= most


@pytest.mark.parametrize(("sccr_ka", "expected"), [(9, "fail"), (10.5, "unknown"), (14, "unknown"), (17, "pass")])
def test_rating_at_a_service_of_unknown_system(sketch: Any, sccr_ka: float, expected: str) -> None:
    """10 kA between lines, up to 2 / 1.2 of it to a mid tap (half winding 1.2 of the reactance, IEEE 241)."""
    found = state(of_system(sketch, None, sccr_ka), "A")
    assert found.state == expected
    if expected == "unknown":
        assert found.needs == ("system voltage of U",)


def test_the_worksheet_leads_to_the_fault_current(sketch: Any) -> None:
    """The finding shows how its figure came about, in the case that governs."""
    known = feeder(sketch, 2.0, sccr_ka=10)
    found = state(known, "A")
    reckoned = [line for line in found.work if line.what.startswith("Available fault current, three-phase")]
    assert [line.value for line in reckoned] == [pytest.approx(duty(known, known.net.node("A")).value)]
    by_generator = state(stand_by(sketch, 10), "P").work
    assert any(line.value == pytest.approx(GENERATOR_A) for line in by_generator if isinstance(line.value, float))


@pytest.mark.parametrize(("sccr_ka", "expected"), [(10, "fail"), (11, "unknown"), (12, "pass")])
def test_an_unknown_raceway_is_decided_only_outside_its_bounds(sketch: Any, sccr_ka: float, expected: str) -> None:
    """Table 9: 3/0 copper has a larger reactance in steel (0.052) than in nonmagnetic raceway (0.042 ohm per 1000 ft), so
    a rating between the two currents passes in one and fails in the other."""

    def panel(raceway: str | None) -> Context:
        s = sketch()
        s.put("service", "U", system="208Y/120", fault_ka=22, fault_x_r=6)
        s.put("bus", "P", sccr_ka=sccr_ka)
        values = {"size": "3/0", "material": "copper", "sets": 1, "neutral_size": "3/0"}
        s.run("U", "P", "F", length_ft=78, raceway=raceway, **values)
        return s.context()

    found = state(panel(None), "P")
    assert found.state == expected
    if expected == "unknown":
        assert found.needs == ("raceway of F",)
        assert state(panel("PVC-40"), "P").state == "fail"
        assert state(panel("EMT"), "P").state == "pass"
    bounds = duty(panel(None), panel(None).net.node("P"))
    for known in ("EMT", "PVC-40"):
        value = duty(panel(known), panel(known).net.node("P")).value
        assert bounds.least <= value * (1 + 1e-9)
        assert value <= bounds.most * (1 + 1e-9)
