"""Operating currents and voltage drop of drawings: hand calculations, physics, and what is said where a fact is missing.

The general comparison with other solvers is in test_numbers_balanced.py and test_numbers_unbalanced.py.
"""

from __future__ import annotations

import random
from dataclasses import replace
from math import acos, cos, radians, sin, sqrt
from types import MappingProxyType

import by_hand_drop as drop
import pytest

from oneline.model import Circuit, ConductorRun, Drawing, Load
from oneline.study.context import Context


@pytest.fixture
def wye(sketch):
    """A stiff 208Y/120 service with a panel behind 100 ft of 2 AWG copper in steel (R 0.20, X 0.057, Table 9)."""
    sketch.put("service", "s", system="208Y/120", fault_ka=20.0, fault_x_r=4.0).put("bus", "panel")
    return sketch.run("feeder", "s.out", "panel.bus", "2", 100.0)


def lamp(sketch, item_id, phases, va, pf=1.0, at="panel.bus", **values):
    return sketch.put("load", item_id, phases=phases, va=va, power_factor=pf, **values).bolt(at, f"{item_id}.in")


# ------------------------------------------------------------------------------------------------- by hand
def test_balanced_load_by_the_exact_formula(wye):
    """Exact voltage-drop formula: sending end = sqrt((Vr cos + IR)^2 + (Vr sin + IX)^2). 20 kVA at 0.9."""
    numbers, node = lamp(wye, "oven", "ABC", 20_000.0, 0.9).solve()
    at = node("panel.bus")
    volts, amperes = numbers.voltage_v[at]["A"], numbers.current_a[at]["A"]
    assert amperes == pytest.approx(20_000 / (3 * volts))
    assert volts + drop.exact_v(volts, amperes, 0.020, 0.0057, 0.9) == pytest.approx(208 / sqrt(3))
    assert numbers.drop_pct[at] == pytest.approx(
        100 * drop.exact_v(volts, amperes, 0.020, 0.0057, 0.9) / (208 / sqrt(3))
    )
    approximate = drop.approximate_v(drop.THREE_PHASE, 20_000 / (208 * sqrt(3)), 0.20, 0.057, 0.9, 100, 1)
    assert numbers.drop_pct[at] == pytest.approx(drop.percent(approximate, 208), rel=0.03)
    assert numbers.neutral_a[at] == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(
    ("size", "printed"),
    [
        ("6", 0.45),
        ("4/0", 0.080),
        ("500", 0.050),
    ],  # the first as reprinted; the others from memory of the printed table
)
def test_effective_impedance_at_the_power_factor_of_the_printed_table(sketch, size, printed):
    """Chapter 9 Table 9, column "effective Z at 0.85 PF", copper in steel: volts per ampere and 1000 ft on a line so
    stiff and a load so small that nothing else counts."""
    sketch.put("service", "s", system="480Y/277", fault_ka=500.0, fault_x_r=4.0).put("bus", "panel")
    sketch.run("feeder", "s.out", "panel.bus", size, 100.0)
    numbers, node = lamp(sketch, "press", "ABC", 480 * sqrt(3) * 2.0, 0.85).solve()
    at, start = node("panel.bus"), node("s.out")
    volts = numbers.voltage_v[start]["A"] - numbers.voltage_v[at]["A"]
    ohm_kft = volts / numbers.current_a[at]["A"] / 100 * 1000
    assert ohm_kft == pytest.approx(printed, abs=0.0051 if printed > 0.1 else 0.0011)


def test_two_wire_circuit_drops_both_ways(wye):
    """One phase and its neutral: twice the conductor. 2.4 kVA at unity, 12.9 ohm-cmil/ft would say 1.87 V of 120."""
    numbers, node = lamp(wye, "heater", "B", 2400.0).solve()
    at = node("panel.bus")
    volts = numbers.voltage_v[at]["B"]
    amperes = numbers.current_a[at]["B"]
    assert volts + drop.exact_v(volts, amperes, 2 * 0.020, 2 * 0.0057, 1.0) == pytest.approx(208 / sqrt(3))
    assert numbers.neutral_a[at] == pytest.approx(amperes)
    assert numbers.current_a[at]["A"] == pytest.approx(0, abs=1e-9)
    rule_of_thumb = drop.circular_mil_v(drop.TWO_WIRE, 12.9, 20.0, 100, 66_360, 1)
    assert numbers.drop_pct[at] == pytest.approx(drop.percent(rule_of_thumb, 120), rel=0.08)


def test_line_to_line_load_leaves_the_neutral_alone(wye):
    numbers, node = lamp(wye, "heater", "CA", 4160.0).solve()
    at = node("panel.bus")
    amperes = numbers.current_a[at]
    assert amperes["A"] == pytest.approx(amperes["C"])
    assert amperes["A"] == pytest.approx(4160 / 208, rel=0.01)
    assert amperes["B"] == pytest.approx(0, abs=1e-9)
    assert numbers.neutral_a[at] == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(
    ("a", "b", "c", "neutral"), [(60, 60, 60, 0), (60, 60, 0, 60), (60, 0, 0, 60), (90, 60, 30, 51.96)]
)
def test_neutral_of_a_wye(wye, a, b, c, neutral):
    """Textbook: In = sqrt(A^2 + B^2 + C^2 - AB - BC - CA) at equal power factors; two loaded legs load the neutral fully."""
    for phase, amperes in zip("ABC", (a, b, c), strict=True):
        if amperes:
            lamp(wye, f"load-{phase}", phase, amperes * 208 / sqrt(3))
    wye.run("feeder", "s.out", "panel.bus", "2", 0.0)
    numbers, node = wye.solve()
    assert numbers.neutral_a[node("panel.bus")] == pytest.approx(neutral, abs=0.01)


@pytest.mark.parametrize(("one", "two"), [(80, 80), (80, 50), (80, 0)])
def test_neutral_of_a_split_phase_service(sketch, one, two):
    """120/240: the neutral carries the difference of the legs."""
    sketch.put("service", "s", system="120/240-1", fault_ka=10.0).put("bus", "panel").bolt("s.out", "panel.bus")
    lamp(lamp(sketch, "x", "A", one * 120.0), "y", "B", two * 120.0)
    lamp(sketch, "range", "AB", 4800.0)
    numbers, node = sketch.solve()
    at = node("panel.bus")
    assert numbers.current_a[at] == pytest.approx({"A": one + 20, "B": two + 20})
    assert numbers.neutral_a[at] == pytest.approx(one - two, abs=1e-9)


def test_two_legs_of_a_wye_load_the_neutral_even_when_balanced(sketch):
    """208/120 single-phase: neutral current equals the leg current (nominal systems table)."""
    sketch.put("service", "s", system="208/120-1", fault_ka=10.0).put("bus", "panel").bolt("s.out", "panel.bus")
    numbers, node = lamp(lamp(sketch, "x", "A", 6000.0), "y", "B", 6000.0).solve()
    assert numbers.neutral_a[node("panel.bus")] == pytest.approx(50)


def test_high_leg_service(sketch):
    """240 V delta with a midpoint: 120 V loads between A or C and the neutral, three-phase loads on all three. At no drop
    50 A + 20 A of a 240 V three-phase load at unity: the 120 V current is along AC, the three-phase ones 30 degrees off."""
    sketch.put("service", "s", system="240D/120-HL", fault_ka=10.0).put("bus", "panel").bolt("s.out", "panel.bus")
    lamp(sketch, "lights", "A", 6000.0)
    lamp(sketch, "motor", "ABC", 20 * 240 * sqrt(3))
    numbers, node = sketch.solve()
    currents = numbers.current_a[node("panel.bus")]
    assert currents["B"] == pytest.approx(20, rel=0.001)
    assert currents["C"] == pytest.approx(20, rel=0.001)
    assert currents["A"] == pytest.approx(sqrt(50**2 + 20**2 + 2 * 50 * 20 * cos(radians(30))), rel=0.001)
    assert numbers.neutral_a[node("panel.bus")] == pytest.approx(50, rel=0.001)


def test_delta_wye_transformer_spreads_a_single_phase_load(sketch):
    """Textbook: 100 A from one secondary phase to neutral flows in two primary lines as 100 / (ratio x sqrt 3), and the
    primary neutral carries nothing."""
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0).put("bus", "lp")
    sketch.put(
        "transformer",
        "t",
        kva=75,
        z_pct=1e-6 + 0.1,
        x_r=3,
        primary_system="480Y/277",
        secondary_system="208Y/120",
        connection="delta-wye",
    )
    sketch.bolt("s.out", "t.line").bolt("t.load", "lp.bus")
    numbers, node = lamp(sketch, "x", "A", 100 * 208 / sqrt(3), at="lp.bus").solve()
    primary = sorted(numbers.current_a[node("t.line")].values())
    assert primary == pytest.approx([0, 25.02, 25.02], abs=0.1)
    assert numbers.neutral_a[node("t.line")] == pytest.approx(0, abs=1e-9)
    assert numbers.neutral_a[node("lp.bus")] == pytest.approx(100, rel=0.01)


def test_transformer_is_where_the_drop_begins_again(sketch):
    """Regulation of a transformer by the textbook: R cos + X sin in percent at full load; the drop figure of the secondary
    starts at zero there."""
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0).put("bus", "lp")
    sketch.put(
        "transformer",
        "t",
        kva=75,
        z_pct=4.0,
        x_r=2.0,
        primary_system="480D",
        secondary_system="208Y/120",
        connection="delta-wye",
    )
    sketch.bolt("s.out", "t.line").bolt("t.load", "lp.bus")
    numbers, node = lamp(sketch, "x", "ABC", 75_000.0, 0.8, at="lp.bus").solve()
    at = node("lp.bus")
    r = 4.0 / sqrt(5)
    regulation = r * 0.8 + 2 * r * sin(acos(0.8))
    assert 100 * (1 - numbers.voltage_v[at]["A"] / (208 / sqrt(3))) == pytest.approx(regulation, rel=0.05)
    assert numbers.drop_pct[at] == 0


def test_single_phase_transformer(sketch):
    """480 V between B and C to 120/240: 240 V x 50 A are 480 V x 25 A, in B and C only."""
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0).put("bus", "lp")
    sketch.put(
        "transformer",
        "t",
        kva=25,
        z_pct=0.1,
        x_r=1,
        primary_system="480Y/277",
        secondary_system="120/240-1",
        connection="single-phase",
    )
    sketch.run("r", "s.out", "t.line", "2", 0.0, phases="BC").bolt("t.load", "lp.bus")
    numbers, node = lamp(sketch, "x", "AB", 12_000.0, at="lp.bus").solve()
    assert numbers.current_a[node("lp.bus")] == pytest.approx({"A": 50, "B": 50}, rel=0.01)
    assert numbers.current_a[node("t.line")] == pytest.approx({"B": 25, "C": 25}, rel=0.01)
    assert numbers.current_a[node("s.out")] == pytest.approx({"A": 0, "B": 25, "C": 25}, rel=0.01, abs=1e-9)


def test_three_phase_transformer_needs_three_phases(sketch):
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0).put("bus", "lp")
    sketch.put("transformer", "t", kva=75, z_pct=4, primary_system="480Y/277", secondary_system="208Y/120")
    sketch.run("r", "s.out", "t.line", "2", 10.0, phases="AB").bolt("t.load", "lp.bus")
    numbers, node = lamp(sketch, "x", "A", 100.0, at="lp.bus").solve()
    assert numbers.current_needs(node("lp.bus")) == ("three phases ahead of t",)
    assert numbers.current_a[node("lp.bus")]["A"] is None
    assert numbers.current_a[node("s.out")]["A"] is None
    assert numbers.fault_needs(node("lp.bus")) == ("three phases ahead of t",)


def test_panel_schedule_counts(wye):
    """NEC 408.3(E): spaces 1, 2 are on A, 3, 4 on B, 5, 6 on C; a two-pole circuit in 1 and 3 is on A and B."""
    circuits = (
        Circuit(2, 1, 20, "lights", va=1200.0, power_factor=1.0),
        Circuit(6, 1, 20, "sign", va=600.0, power_factor=1.0),
        Circuit(1, 2, 30, "heater", va=4160.0, power_factor=1.0),
        Circuit(8, 1, 20, "spare", use="spare"),
    )
    wye.put("bus", "panel", circuits=circuits).run("feeder", "s.out", "panel.bus", "2", 0.0)
    numbers, node = wye.solve()
    currents = numbers.current_a[node("panel.bus")]
    assert currents["B"] == pytest.approx(20, rel=0.001)
    assert currents["C"] == pytest.approx(5, rel=0.001)
    # 10 A along A and 20 A along AB, which leads A by 30 degrees.
    assert currents["A"] == pytest.approx(sqrt(10**2 + 20**2 + 2 * 10 * 20 * cos(radians(30))), rel=0.001)


# ------------------------------------------------------------------------------------------------ what is missing
def test_unknown_load_takes_away_what_it_flows_through(sketch):
    """Two feeders off one board: the one with the unknown load is not known, nor is the service; the drop on the other
    feeder is not known either, because both share the service conductors."""
    sketch.put("service", "s", system="208Y/120", fault_ka=20.0).put("bus", "board").put("bus", "left").put(
        "bus", "right"
    )
    sketch.run("main", "s.out", "board.bus").run("l", "board.bus", "left.bus", "2").run(
        "r", "board.bus", "right.bus", "2"
    )
    lamp(sketch, "mystery", "ABC", None, at="left.bus")
    numbers, node = lamp(sketch, "oven", "ABC", 9000.0, at="right.bus").solve()
    assert numbers.current_a[node("right.bus")]["A"] == pytest.approx(25, rel=0.02)
    assert numbers.current_needs(node("right.bus")) == ()
    for at in ("left.bus", "board.bus", "s.out"):
        assert numbers.current_a[node(at)] == {"A": None, "B": None, "C": None}
        assert numbers.neutral_a[node(at)] is None
        assert numbers.current_needs(node(at)) == ("load of mystery",)
    for at in ("left.bus", "right.bus", "board.bus"):
        assert numbers.drop_pct[node(at)] is None
        assert numbers.drop_needs(node(at)) == ("load of mystery",)
    assert numbers.drop_pct[node("s.out")] == 0


def test_a_load_at_the_service_itself_does_not_matter_to_the_drop(sketch):
    sketch.put("service", "s", system="208Y/120", fault_ka=20.0).put("bus", "board").put("bus", "far")
    sketch.bolt("s.out", "board.bus").run("r", "board.bus", "far.bus", "2")
    numbers, node = lamp(lamp(sketch, "mystery", "ABC", None, at="board.bus"), "x", "ABC", 5000.0, at="far.bus").solve()
    assert numbers.drop_pct[node("far.bus")] > 0
    assert numbers.drop_needs(node("far.bus")) == ()


def test_unknown_run_takes_away_the_drop_below_it_and_marks_the_rest(sketch):
    sketch.put("service", "s", system="208Y/120", fault_ka=20.0).put("bus", "board").put("bus", "far")
    sketch.run("main", "s.out", "board.bus").run("r", "board.bus", "far.bus", "2", None)
    numbers, node = lamp(sketch, "oven", "ABC", 9000.0, at="far.bus").solve()
    assert numbers.drop_pct[node("far.bus")] is None
    assert numbers.drop_needs(node("far.bus")) == ("length of r",)
    assert numbers.voltage_v[node("far.bus")]["A"] is None
    assert numbers.current_a[node("far.bus")]["A"] == pytest.approx(25, rel=0.01)
    assert numbers.drop_pct[node("board.bus")] > 0
    assert numbers.drop_basis(node("board.bus")) == "assumed"
    assert numbers.drop_assumed(node("board.bus")) == (
        "loads behind conductors of unknown impedance taken at the voltage ahead of them",
    )


def test_unknown_neutral_matters_only_when_it_carries_current(wye):
    wye.run("feeder", "s.out", "panel.bus", "2", 100.0, neutral_size=None)
    numbers, node = lamp(wye, "oven", "ABC", 9000.0).solve()
    assert numbers.drop_pct[node("panel.bus")] > 0
    numbers, node = lamp(wye, "lamp", "A", 900.0).solve()
    assert numbers.drop_pct[node("panel.bus")] is None
    assert numbers.drop_needs(node("panel.bus")) == ("neutral size of feeder",)
    assert numbers.neutral_a[node("panel.bus")] == pytest.approx(7.5, rel=0.05)


def test_load_to_a_neutral_that_is_not_there(wye):
    wye.run("feeder", "s.out", "panel.bus", "2", 100.0, neutral_size="none")
    numbers, node = lamp(wye, "lamp", "A", 900.0).solve()
    assert numbers.current_a[node("panel.bus")]["A"] is None
    assert numbers.current_needs(node("panel.bus")) == ("connection of lamp (no neutral arrives there)",)


@pytest.mark.parametrize("system", ["480D", "240D-CG"])
def test_three_wire_delta(sketch, system):
    """Line-to-line volts are shown where there is no neutral; a load to a neutral cannot be there."""
    sketch.put("service", "s", system=system, fault_ka=20.0).put("bus", "b").run("r", "s.out", "b.bus", "2", 50.0)
    numbers, node = lamp(sketch, "motor", "ABC", 20_000.0, 0.8, at="b.bus").solve()
    volts = numbers.voltage_v[node("b.bus")]
    assert set(volts) == {"AB", "BC", "CA"}
    assert volts["AB"] == pytest.approx(480 if system == "480D" else 240, rel=0.03)
    assert numbers.neutral_a[node("b.bus")] is None
    assert numbers.drop_pct[node("b.bus")] > 0
    numbers, node = lamp(sketch, "lamp", "A", 100.0, at="b.bus").solve()
    assert numbers.current_needs(node("b.bus")) == ("connection of lamp (no neutral arrives there)",)


def test_load_on_a_phase_that_does_not_arrive(sketch):
    sketch.put("service", "s", system="208Y/120", fault_ka=20.0).put("bus", "b").run("r", "s.out", "b.bus", phases="AB")
    numbers, node = lamp(sketch, "lamp", "C", 100.0, at="b.bus").solve()
    assert numbers.current_a[node("b.bus")] == {"A": None, "B": None}
    assert numbers.current_needs(node("b.bus"))


def test_system_unknown(sketch):
    sketch.put("service", "s", fault_ka=20.0).put("bus", "b").run("r", "s.out", "b.bus")
    numbers, node = lamp(sketch, "lamp", "A", 100.0, at="b.bus").solve()
    assert numbers.current_a[node("b.bus")] == {}
    assert numbers.drop_pct[node("b.bus")] is None
    assert "system voltage of s" in numbers.drop_needs(node("b.bus"))


def test_closed_loop(sketch):
    """A ring of equal conductors: currents divide as the lengths of the other way round (the lever of Kirchhoff)."""
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0, fault_x_r=5.0)
    for name in "abc":
        sketch.put("bus", name)
    sketch.run("r0", "s.out", "a.bus").run("r1", "a.bus", "b.bus").run("r2", "a.bus", "c.bus").run(
        "ring", "b.bus", "c.bus"
    )
    numbers, node = lamp(sketch, "x", "ABC", 30_000.0, at="c.bus").solve()
    whole = numbers.current_a[node("a.bus")]["A"]
    assert whole == pytest.approx(30_000 / (480 * sqrt(3)), rel=0.01)
    assert numbers.current_a[node("c.bus")]["A"] == pytest.approx(whole * 2 / 3)
    assert numbers.current_a[node("b.bus")]["A"] == pytest.approx(whole / 3)
    assert numbers.branch_current_a("ring")["A"] == pytest.approx(whole / 3)
    drops = [numbers.drop_pct[node(f"{n}.bus")] for n in "abc"]
    assert drops[2] - drops[0] == pytest.approx(drops[0] * 2 / 3, rel=1e-3)
    assert drops[1] - drops[0] == pytest.approx(drops[0] / 3, rel=1e-3)
    sketch.run("ring", "b.bus", "c.bus", feet=None)
    numbers, node = sketch.solve()
    assert numbers.current_a[node("c.bus")] == {"A": None, "B": None, "C": None}
    assert numbers.current_needs(node("c.bus")) == ("length of ring",)
    assert numbers.drop_needs(node("b.bus")) == ("length of ring",)
    assert numbers.current_a[node("a.bus")]["A"] == pytest.approx(whole, rel=0.01)


def test_two_closed_ties_between_the_same_buses(sketch):
    """Which of two contacts without impedance carries how much nobody can say; all the rest can be said."""
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0, fault_x_r=5.0).put("bus", "a").put("bus", "b")
    sketch.run("r0", "s.out", "a.bus")
    for tie in ("tie one", "tie two"):
        sketch.put("disconnect", tie, form="breaker").bolt("a.bus", f"{tie}.line").bolt(f"{tie}.load", "b.bus")
    numbers, node = lamp(sketch, "x", "A", 3_000.0, at="b.bus").solve()
    known = [numbers.branch_current_a(tie) for tie in ("tie one", "tie two")]
    assert known == [{"A": None, "B": None, "C": None}] * 2
    (need,) = numbers.current_needs(node("b.bus"))
    assert need.startswith("how the current divides between tie one and tie two")
    assert numbers.current_a[node("a.bus")]["A"] == pytest.approx(3000 / 277.128, rel=0.01)
    assert numbers.drop_pct[node("b.bus")] == pytest.approx(numbers.drop_pct[node("a.bus")])
    assert numbers.drop_needs(node("b.bus")) == ()
    assert numbers.fault_a[node("b.bus")] == pytest.approx(numbers.fault_a[node("a.bus")])


def test_more_load_than_the_conductors_can_carry(wye):
    """Physics: no more than E^2 / 4R per phase arrives: 120^2 / (4 x 0.02) = 180 kW. No operating point, no figure."""
    numbers, node = lamp(wye, "too much", "ABC", 3_000_000.0).solve()
    at = node("panel.bus")
    assert numbers.drop_pct[at] is None
    assert numbers.current_a[at]["A"] is None
    assert "collapses" in numbers.drop_needs(at)[0]


def test_assumed_power_factor_is_named(wye):
    numbers, node = lamp(wye, "oven", "ABC", 9000.0, None).solve()
    assert numbers.drop_assumed(node("panel.bus")) == ("power factor 0.85 where none is entered",)
    assert numbers.drop_basis(node("panel.bus")) == "assumed"
    numbers, node = lamp(wye, "oven", "ABC", 9000.0, 0.85).solve()
    assert numbers.drop_basis(node("panel.bus")) == "entered"


def test_weakest_basis_is_carried(wye):
    lamp(wye, "oven", "ABC", 9000.0, 0.9, basis=MappingProxyType({"va": "nameplate"}))
    measured = {"length_ft": "measured", "size": "nameplate", "material": "nameplate", "sets": "measured",
                "raceway": "measured", "neutral_size": "nameplate"}  # fmt: skip
    wye.items["feeder"] = replace(wye.items["feeder"], basis=MappingProxyType(measured))
    numbers, node = wye.solve()
    assert numbers.drop_basis(node("panel.bus")) == "measured"
    wye.items["oven"] = replace(wye.items["oven"], basis=MappingProxyType({"va": "assumed"}))
    numbers, node = wye.solve()
    assert numbers.drop_basis(node("panel.bus")) == "assumed"


def test_many_unknown_circuits_are_named_together(wye):
    wye.put("bus", "panel", circuits=tuple(Circuit(k, 1, 20.0, "?") for k in range(1, 9)))
    numbers, node = wye.solve()
    needs = numbers.drop_needs(node("panel.bus"))
    assert needs == ("loads of 8 circuits of panel (1, 2, 3, 4, 5, 6, 7, 8)",)


def test_branch_current(wye):
    numbers, _ = lamp(wye, "oven", "ABC", 9000.0).solve()
    assert numbers.branch_current_a("feeder")["B"] == pytest.approx(25, rel=0.02)


def test_unknown_facts_never_change_a_drop_by_much_they_take_it_away(reference):
    """40 random networks with facts wiped out. A drop that is still given is the true one but for the loads behind unknown
    impedances, which see the voltage ahead of them: their current is off by no more than the drop they do not see
    (6 % here at most), and so is the drop it causes."""
    gone = kept = 0
    for seed in range(40):
        rng = random.Random(300 + seed)
        net = reference.random_network(rng, rng.randint(2, 60), transformers=False, balanced=True)
        whole = net.drawing(rng)
        wiped = {}
        for item in whole.items.values():
            if isinstance(item, ConductorRun) and rng.random() < 0.08:
                item = replace(item, **{rng.choice(("length_ft", "size", "material", "sets")): None})
            elif isinstance(item, Load) and rng.random() < 0.04:
                item = replace(item, va=None)
            wiped[item.id] = item
        truth = Context(whole, "proposed", 2023)
        partly = Context(Drawing(items=MappingProxyType(wiped)), "proposed", 2023)
        for node in truth.feeding.order:
            true, seen = truth.numbers.drop_pct[node], partly.numbers.drop_pct[node]
            if seen is None:
                gone += 1
                assert partly.numbers.drop_needs(node)
            else:
                assert seen == pytest.approx(true, rel=0.08, abs=1e-9)
                assert partly.numbers.drop_needs(node) == ()
                kept += 1
                if seen != pytest.approx(true, rel=1e-6, abs=1e-9):
                    assert partly.numbers.drop_basis(node) == "assumed"
    assert gone > 200
    assert kept > 60


def test_unknown_raceway_takes_the_larger_drop(sketch):
    """Table 9: steel has the larger reactance; not known, voltage drop takes it and says so."""
    drops = {}
    for raceway in ("EMT", "PVC-40", None):
        sketch.put("service", "s", system="208Y/120", fault_ka=20.0).put("bus", "panel")
        sketch.run("feeder", "s.out", "panel.bus", "4/0", 100.0, raceway=raceway)
        numbers, node = lamp(sketch, "oven", "ABC", 40_000.0, 0.8).solve()
        drops[raceway] = numbers.drop_pct[node("panel.bus")]
    assert drops[None] == pytest.approx(drops["EMT"])
    assert drops[None] > drops["PVC-40"]
    assert numbers.drop_assumed(node("panel.bus"))[0].startswith("raceway of feeder taken as nonmagnetic")


def test_voltage_behind_a_transformer_needs_all_that_is_ahead(sketch):
    """An unknown load ahead leaves the drop behind the transformer known, but not the voltage there."""
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0).put("bus", "p").put("bus", "lp")
    sketch.put(
        "transformer",
        "t",
        kva=75,
        z_pct=4,
        x_r=2,
        primary_system="480Y/277",
        secondary_system="208Y/120",
        connection="delta-wye",
    )
    sketch.run("r1", "s.out", "p.bus").bolt("p.bus", "t.line").run("r2", "t.load", "lp.bus", "1/0", 60.0)
    numbers, node = lamp(sketch, "x", "ABC", 20_000.0, at="lp.bus").solve()
    assert numbers.voltage_v[node("lp.bus")]["A"] == pytest.approx(118, abs=2)
    assert numbers.drop_assumed(node("lp.bus")) == ()
    known = numbers.drop_pct[node("lp.bus")]
    numbers, node = lamp(sketch, "mystery", "ABC", None, at="p.bus").solve()
    assert numbers.drop_pct[node("p.bus")] is None
    assert numbers.drop_pct[node("lp.bus")] == pytest.approx(known, rel=0.01)
    assert numbers.voltage_v[node("lp.bus")] == {"A": None, "B": None, "C": None}
    assert "voltage reckoned without" in numbers.drop_assumed(node("lp.bus"))[-1]
    assert numbers.current_a[node("t.load")]["A"] == pytest.approx(55.5, rel=0.03)


@pytest.mark.parametrize("field", ["kva", "z_pct"])
def test_voltage_behind_a_transformer_nobody_read(sketch, field):
    values = {"kva": 75.0, "z_pct": 4.0, "x_r": 2.0, "connection": "delta-wye"}
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0).put("bus", "lp")
    sketch.put("transformer", "t", **{**values, field: None}, primary_system="480Y/277", secondary_system="208Y/120")
    numbers, node = lamp(sketch.bolt("s.out", "t.line").bolt("t.load", "lp.bus"), "x", "ABC", 20e3, at="lp.bus").solve()
    assert numbers.voltage_v[node("lp.bus")]["A"] is None
    assert numbers.drop_pct[node("lp.bus")] == 0
    assert "voltage drop inside t left out" in numbers.drop_assumed(node("lp.bus"))[0]


def test_unknown_connection_is_taken_as_usual_and_named(sketch):
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0).put("bus", "lp")
    sketch.put("transformer", "t", kva=75, z_pct=4, x_r=2, secondary_system="208Y/120")
    numbers, node = lamp(sketch.bolt("s.out", "t.line").bolt("t.load", "lp.bus"), "x", "A", 2e3, at="lp.bus").solve()
    assert numbers.drop_assumed(node("lp.bus"))[:2] == (
        "primary of t taken for 480Y/277, which feeds it",
        "connection of t taken as delta-wye",
    )
    assert numbers.fault_a[node("lp.bus")] is not None
    assert numbers.fault_ln_a[node("lp.bus")] is None
    assert numbers.line_neutral_needs(node("lp.bus")) == ("connection of t",)
    assert numbers.fault_ln_bound_a[node("lp.bus")] > numbers.fault_a[node("lp.bus")]


def test_connection_that_contradicts_its_systems(sketch):
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0).put("bus", "lp")
    sketch.put(
        "transformer",
        "t",
        kva=75,
        z_pct=4,
        primary_system="480Y/277",
        secondary_system="208Y/120",
        connection="delta-delta",
    )
    numbers, node = lamp(sketch.bolt("s.out", "t.line").bolt("t.load", "lp.bus"), "x", "A", 2e3, at="lp.bus").solve()
    need = "connection of t (delta-delta does not give 208Y/120)"
    assert numbers.current_needs(node("lp.bus")) == (need,)
    assert numbers.drop_needs(node("lp.bus")) == (need,)
    assert numbers.current_a[node("s.out")]["A"] is None


def test_high_leg_behind_a_transformer(sketch):
    """Delta-delta with a tap at no drop: 20 A from A to the neutral take a half of the winding's volts, so 10 A of 240 V
    or 5 A at 480 V between A and C; the high leg is 208 V from the neutral."""
    values = {"kva": 75e6, "z_pct": 0.1, "primary_system": "480D", "secondary_system": "240D/120-HL"}
    sketch.put("service", "s", system="480D", fault_ka=30.0).put("bus", "lp").put(
        "transformer", "t", **values, connection="delta-delta"
    )
    numbers, node = lamp(sketch.bolt("s.out", "t.line").bolt("t.load", "lp.bus"), "x", "A", 2400, at="lp.bus").solve()
    assert numbers.current_a[node("lp.bus")] == pytest.approx({"A": 20, "B": 0, "C": 0}, abs=1e-3)
    assert numbers.current_a[node("s.out")] == pytest.approx({"A": 5, "B": 0, "C": 5}, abs=1e-3)
    volts = numbers.voltage_v[node("lp.bus")]
    assert volts == pytest.approx({"A": 120, "B": 120 * sqrt(3), "C": 120}, rel=1e-4)
    numbers, node = lamp(sketch, "high", "B", 2080, at="lp.bus").solve()
    assert numbers.current_a[node("lp.bus")]["B"] == pytest.approx(10, rel=1e-3)


def test_a_load_that_nothing_feeds(sketch):
    """Alone on the sheet, and beside a service it is not connected to: nothing is known of it, and nothing goes wrong."""
    numbers, node = sketch.put("load", "lamp", va=100.0, phases="A").solve()
    assert numbers.current_a[node("lamp.in")] == {}
    sketch.put("service", "s", system="480Y/277", fault_ka=20.0)
    numbers, node = sketch.solve()
    assert numbers.current_needs(node("lamp.in")) == ("a source that feeds it",)
    assert numbers.current_a[node("s.out")] == {"A": 0.0, "B": 0.0, "C": 0.0}


def test_double_ended_board_of_one_service(sketch):
    """Main, tie and main close a ring of contacts: its current cannot be told, and all three are named."""
    sketch.put("service", "s", system="208Y/120", fault_ka=10.0).put("bus", "gutter").bolt("s.out", "gutter.bus")
    for side in "12":
        sketch.put("disconnect", f"main {side}").put("bus", side)
        sketch.bolt("gutter.bus", f"main {side}.line").bolt(f"main {side}.load", f"{side}.bus")
    sketch.put("disconnect", "tie").bolt("1.bus", "tie.line").bolt("tie.load", "2.bus")
    numbers, node = lamp(sketch, "x", "ABC", 9e3, at="2.bus").solve()
    assert numbers.current_needs(node("2.bus")) == (
        "how the current divides between main 1, main 2 and tie, which close a loop without an impedance of its own",
    )
    assert numbers.fault_a[node("2.bus")] == pytest.approx(10_000)
    sketch.put("disconnect", "tie", closed=False, normally_open=True)
    numbers, node = sketch.solve()
    assert numbers.current_needs(node("2.bus")) == ()


def test_services_in_parallel(sketch):
    """Their impedances decide which takes what part: 30 and 10 kA of one X/R share three to one. Not known without."""

    def solve(**values):
        sketch.put("service", "one", system="480Y/277", **values).put("bus", "b").put("bus", "g")
        sketch.put("service", "two", system="480Y/277", **{**values, "fault_ka": 10.0}).run(
            "r1", "one.out", "b.bus", feet=0.0
        )
        sketch.run("r2", "two.out", "b.bus", feet=0.0)
        return lamp(sketch, "x", "ABC", 9e3, at="b.bus").solve()

    numbers, node = solve(fault_ka=30.0, fault_x_r=4.0)
    whole = 9000 / 480 / sqrt(3)
    assert numbers.branch_current_a("r1")["A"] == pytest.approx(whole * 3 / 4, rel=1e-3)
    assert numbers.branch_current_a("r2")["A"] == pytest.approx(whole / 4, rel=1e-3)
    assert 0 <= numbers.drop_pct[node("b.bus")] < 0.1
    numbers, node = solve()
    assert numbers.branch_current_a("r1") == {"A": None, "B": None, "C": None}
    assert numbers.voltage_v[node("b.bus")]["A"] is None
    assert numbers.current_needs(node("b.bus")) == ("available fault current at one, or kVA and %Z of its transformer",)


def test_generator_beside_the_utility(sketch):
    """Its governor decides what part of the load it takes; the fault currents do not depend on that."""
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0).put(
        "generator", "g", system="480Y/277", kva=100, xd_pct=12
    )
    sketch.put("bus", "b").bolt("s.out", "b.bus").bolt("g.out", "b.bus")
    numbers, node = lamp(sketch, "x", "ABC", 9e3, at="b.bus").solve()
    assert numbers.current_needs(node("b.bus")) == ("part of the load that g takes (its governor decides)",)
    assert numbers.fault_a[node("b.bus")] == pytest.approx(30_000 + 100_000 / 480 / sqrt(3) / 0.12)


def test_voltage_at_a_transformer_whose_load_is_not_known(sketch):
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0).put("bus", "lp")
    sketch.put(
        "transformer",
        "t",
        kva=75,
        z_pct=4,
        x_r=2,
        primary_system="480Y/277",
        secondary_system="208Y/120",
        connection="delta-wye",
    )
    numbers, node = lamp(sketch.bolt("s.out", "t.line").bolt("t.load", "lp.bus"), "x", "A", None, at="lp.bus").solve()
    assert numbers.voltage_v[node("t.load")]["A"] is None
    assert numbers.voltage_v[node("s.out")]["A"] == pytest.approx(277, abs=1)


def test_voltage_behind_two_transformers(sketch):
    """What is not known of the first one is missing behind the second too."""
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0).put("bus", "end")
    sketch.put("transformer", "t1", primary_system="480Y/277", secondary_system="208Y/120", connection="delta-wye")
    sketch.put(
        "transformer",
        "t2",
        kva=45,
        z_pct=3,
        x_r=2,
        primary_system="208Y/120",
        secondary_system="480Y/277",
        connection="delta-wye",
    )
    sketch.bolt("s.out", "t1.line").bolt("t1.load", "t2.line").bolt("t2.load", "end.bus")
    numbers, node = lamp(sketch, "x", "ABC", 2e3, at="end.bus").solve()
    assert numbers.voltage_v[node("end.bus")]["A"] is None
    assert numbers.drop_pct[node("end.bus")] == 0
    sketch.put(
        "transformer",
        "t1",
        kva=75,
        z_pct=4,
        x_r=2,
        primary_system="480Y/277",
        secondary_system="208Y/120",
        connection="delta-wye",
    )
    numbers, node = sketch.solve()
    assert numbers.voltage_v[node("end.bus")]["A"] == pytest.approx(276, abs=1.5)
