"""Fault currents of drawings: published examples, physics, and what is said where a fact is missing."""

from __future__ import annotations

import random
from dataclasses import replace
from math import sqrt
from types import MappingProxyType

import pytest
from by_hand_faults import infinite_bus_a, multiplier, run_factor, transformer_factor

from oneline.model import ConductorRun, Drawing, Transformer, UtilityService
from oneline.study.context import Context

TESTED = MappingProxyType({"transformer_z_pct": "documents", "z_pct": "documents"})


# ------------------------------------------------------------------------------------------------ published examples
def test_plan_review_sheet(sketch):
    """Fuse maker's plan-review sheet: 300 kVA, 2 %Z, 208Y/120, impedance 10 % low, infinite bus: 46,273 A at the
    transformer; behind 20 ft of 2 x 500 kcmil copper in steel M = 0.852, so 39,425 A by the point-to-point method."""
    sketch.put("service", "s", system="208Y/120", transformer_kva=300, transformer_z_pct=2)
    numbers, node = sketch.put("bus", "panel").run("r", "s.out", "panel.bus", "500", 20.0, sets=2).solve()
    assert numbers.fault_hand_a[node("s.out")] == pytest.approx(46_273, rel=0.001)
    assert numbers.fault_a[node("s.out")] == pytest.approx(46_273, rel=0.001)
    assert numbers.fault_hand_a[node("panel.bus")] == pytest.approx(39_425, rel=0.001)


def test_infinite_bus(sketch):
    """Short-circuit instructor's article: 1500 kVA, 480 V, 5.75 %Z: 31,374 A without a tolerance, which is right for a
    tested impedance. With the 10 % of an untested nameplate: 31,374 / 0.9 = 34,860 A."""
    values = {"system": "480Y/277", "transformer_kva": 1500, "transformer_z_pct": 5.75}
    numbers, node = sketch.put("service", "s", **values, basis=TESTED).solve()
    assert numbers.fault_a[node("s.out")] == pytest.approx(31_374, rel=0.001)
    assert numbers.fault_hand_a[node("s.out")] == pytest.approx(31_374, rel=0.001)
    assert numbers.fault_basis(node("s.out")) == "assumed", "X/R was not given"
    numbers, node = sketch.put("service", "s", **values).solve()
    assert numbers.fault_a[node("s.out")] == pytest.approx(34_860, rel=0.001)
    assert any("10 % low" in note for note in numbers.fault_notes(node("s.out")))


def test_single_phase_chain(sketch):
    """Published single-phase worksheet: 300 kVA, 240 V, 3 %Z, factor 0.9; 150 ft 3/0 (C 13,923), 40 ft 6 AWG (C 2,430),
    30 ft 12 AWG (C 617), all nonmagnetic: 46,296, 8,978, 4,024, 1,530 A from line to line."""
    sketch.put("service", "s", system="120/240-1", transformer_kva=300, transformer_z_pct=3)
    up = "s.out"
    for k, (size, feet) in enumerate((("3/0", 150.0), ("6", 40.0), ("12", 30.0))):
        sketch.put("bus", f"b{k}").run(f"r{k}", up, f"b{k}.bus", size, feet, raceway="PVC-40")
        up = f"b{k}.bus"
    numbers, node = sketch.solve()
    hand = [numbers.fault_hand_a[node(at)] for at in ("s.out", "b0.bus", "b1.bus", "b2.bus")]
    assert hand == pytest.approx([46_296, 8_978, 4_024, 1_530], abs=1)


def test_generator(sketch):
    """EC&M, "Making Short-Circuit Calculations Easy" (2000): 1000 kVA, X"d 0.15: 6666 kVA (truncated)."""
    numbers, node = sketch.put("generator", "g", system="480Y/277", kva=1000, xd_pct=15).solve()
    assert sqrt(3) * 0.480 * numbers.fault_a[node("g.out")] == pytest.approx(6666, rel=0.001)
    assert numbers.fault_ln_a[node("g.out")] is None
    assert numbers.line_neutral_needs(node("g.out")) == ("zero-sequence reactance of g",)
    # Symmetrical components with z0 = 0: 3 / (1 + 1 + 0) times three-phase is the most there can be.
    assert numbers.fault_ln_bound_a[node("g.out")] == pytest.approx(1.5 * numbers.fault_a[node("g.out")])
    assert numbers.duty_a[node("g.out")] is None
    assert numbers.duty_bound_a[node("g.out")] == pytest.approx(1.5 * numbers.fault_a[node("g.out")])


def test_hand_method_through_a_transformer(sketch):
    """Point-to-point, step by step with its own formulas, C from the published table: 3 AWG copper in steel 4774."""
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0, fault_x_r=6.0).put("bus", "lp")
    sketch.put(
        "transformer",
        "t",
        kva=75,
        z_pct=4.5,
        x_r=2.0,
        primary_system="480Y/277",
        secondary_system="208Y/120",
        connection="delta-wye",
    )
    numbers, node = sketch.run("r1", "s.out", "t.line", "3", 120.0).run("r2", "t.load", "lp.bus", "250", 12.0).solve()
    current = 30_000 * multiplier(run_factor(30_000, 120, 4774, 1, 480))
    assert numbers.fault_hand_a[node("t.line")] == pytest.approx(current)
    current *= 480 / 208 * multiplier(transformer_factor(current, 480, 4.5 * 0.9, 75))
    assert numbers.fault_hand_a[node("t.load")] == pytest.approx(current)
    current *= multiplier(run_factor(current, 12, 16483, 1, 208))
    assert numbers.fault_hand_a[node("lp.bus")] == pytest.approx(current)
    # Magnitudes added make a smaller current than the complex sum; cold constants C make it larger: within 15 % here.
    assert numbers.fault_a[node("lp.bus")] == pytest.approx(current, rel=0.15)


def test_finite_primary(sketch):
    """Per-unit method: 1500 kVA on a supply of 100 MVA add 1.5 % to the 5.75 %: 1804.2 x 100 / 7.25 by hand, and the
    same from the complex sum because both are taken as all reactance."""
    sketch.put(
        "service",
        "s",
        system="480Y/277",
        transformer_kva=1500,
        transformer_z_pct=5.75,
        primary_fault_mva=100.0,
        basis=TESTED,
    )
    numbers, node = sketch.solve()
    assert numbers.fault_hand_a[node("s.out")] == pytest.approx(24_886, rel=0.001)
    assert numbers.fault_a[node("s.out")] == pytest.approx(24_886, rel=0.001)
    # Delta primary: two thirds of the supply are in the loop line to neutral. Full load x 100 / (5.75 + 1.0).
    assert numbers.fault_ln_a[node("s.out")] == pytest.approx(1804.2 * 100 / 6.75, rel=0.001)


# --------------------------------------------------------------------------------------------------------- physics
def test_center_tapped_service(sketch):
    """Point-to-point method: line to neutral at the terminals is 1.33 to 1.67 times line to line, and falls below it
    far from the transformer."""
    sketch.put("service", "s", system="120/240-1", transformer_kva=50, transformer_z_pct=2.0, transformer_x_r=1.3)
    numbers, node = sketch.put("bus", "near").put("bus", "far").run("r", "s.out", "far.bus", "2", 150.0).solve()
    at, far = node("s.out"), node("far.bus")
    assert numbers.fault_a[at] == pytest.approx(50_000 / 240 / 0.02 / 0.9, rel=1e-6)
    assert 1.33 < numbers.fault_ln_a[at] / numbers.fault_a[at] < 1.67
    assert numbers.fault_ln_a[far] < numbers.fault_a[far]
    assert numbers.duty_a[at] == pytest.approx(numbers.fault_ln_a[at])


def test_two_legs_and_one_leg_of_a_wye(sketch):
    """Where only two phases arrive the fault is from line to line, 0.866; where one does, from line to neutral."""
    sketch.put("service", "s", system="208Y/120", fault_ka=10.0, fault_x_r=4.0)
    for phases in ("ABC", "AB", "C"):
        sketch.put("bus", phases).run(f"r{phases}", "s.out", f"{phases}.bus", "2", 0.0, phases=phases)
    numbers, node = sketch.solve()
    assert numbers.fault_a[node("ABC.bus")] == pytest.approx(10_000)
    assert numbers.fault_a[node("AB.bus")] == pytest.approx(8_660, abs=1)
    assert numbers.fault_a[node("C.bus")] == pytest.approx(10_000)
    assert numbers.fault_ll_a[node("C.bus")] is None


def test_network_service_of_two_legs(sketch):
    """208Y/120 single-phase three-wire: line to line 208 / 2Z, line to neutral 120 / Z."""
    numbers, node = sketch.put("service", "s", system="208/120-1", fault_ka=10.0, fault_x_r=4.0).solve()
    at = node("s.out")
    assert numbers.fault_a[at] == pytest.approx(10_000)
    assert numbers.fault_ln_a[at] == pytest.approx(10_000 * 240 / 208)


def test_neutral_conductor_limits_the_fault_to_it(sketch):
    """No neutral, no fault to it; a thin neutral, less of it; an unknown one, not known."""
    sketch.put("service", "s", system="480Y/277", fault_ka=20.0, fault_x_r=5.0)
    for name, size in (("full", "1/0"), ("thin", "6"), ("none", "none"), ("unread", None)):
        sketch.put("bus", name).run(f"r-{name}", "s.out", f"{name}.bus", "1/0", 200.0, neutral_size=size)
    numbers, node = sketch.solve()
    full, thin, none, unread = (node(f"{n}.bus") for n in ("full", "thin", "none", "unread"))
    assert numbers.fault_ln_a[thin] < numbers.fault_ln_a[full] < numbers.fault_a[full]
    assert numbers.fault_ln_a[none] is None
    assert numbers.fault_ln_bound_a[none] is None
    assert numbers.line_neutral_needs(none) == ()
    assert numbers.fault_ln_a[unread] is None
    assert numbers.line_neutral_needs(unread) == ("neutral size of r-unread",)
    assert numbers.fault_ln_bound_a[unread] > numbers.fault_ln_a[full]
    assert [numbers.fault_a[n] for n in (thin, none, unread)] == pytest.approx([numbers.fault_a[full]] * 3)
    assert numbers.fault_needs(unread) == ()


def test_transformer_fed_from_its_secondary(sketch):
    """The same transformer the other way round: 208 V supply stepped up to 480 V, impedances by the square of the ratio."""
    values = {"kva": 75, "z_pct": 4.0, "x_r": 2.0, "basis": TESTED, "connection": "delta-wye",
              "primary_system": "480Y/277", "secondary_system": "208Y/120"}  # fmt: skip
    sketch.put("service", "s", system="208Y/120", fault_ka=15.0, fault_x_r=2.0).put("transformer", "t", **values)
    numbers, node = sketch.bolt("s.out", "t.load").solve()
    supply = 208 / sqrt(3) / 15_000 * (480 / 208) ** 2
    own = 0.04 * 480**2 / 75_000
    assert numbers.fault_a[node("t.line")] == pytest.approx(480 / sqrt(3) / (supply + own))
    assert numbers.fault_ln_a[node("t.line")] is None
    assert numbers.line_neutral_needs(node("t.line")) == ("connection of t (wye-delta gives no neutral)",)


@pytest.mark.parametrize(("phases", "v_primary", "loop"), [("AB", 480.0, 2.0), ("C", 480 / sqrt(3), 1.0)])
def test_single_phase_transformer_off_a_wye(sketch, phases, v_primary, loop):
    """Secondary line to line: the loop ahead (two conductors, or one and the neutral) by the square of the ratio, plus
    the winding. Everything is reactance, so that ohms add."""
    sketch.put("service", "s", system="480Y/277", fault_ka=10.0)
    sketch.put(
        "transformer",
        "t",
        kva=25,
        z_pct=3.0,
        primary_system="480Y/277",
        secondary_system="120/240-1",
        connection="single-phase",
        basis=TESTED,
    )
    numbers, node = sketch.run("r", "s.out", "t.line", "2", 0.0, phases=phases).solve()
    ahead = loop * 480 / sqrt(3) / 10_000 * (240 / v_primary) ** 2
    own = 0.03 * 240**2 / 25_000
    at = node("t.load")
    assert numbers.fault_a[at] == pytest.approx(240 / (ahead + own))
    assert numbers.fault_ln_a[at] == pytest.approx(120 / (ahead / 4 + 1.2 * own / 4))


# --------------------------------------------------------------------------------------------------- what is missing
def test_service_nobody_knows(sketch):
    sketch.put("service", "s", system="208Y/120").put("bus", "b").run("r", "s.out", "b.bus")
    numbers, node = sketch.solve()
    for at in ("s.out", "b.bus"):
        assert numbers.fault_a[node(at)] is None
        assert numbers.fault_hand_a[node(at)] is None
        assert numbers.fault_needs(node(at)) == ("available fault current at s, or kVA and %Z of its transformer",)
    assert numbers.fault_bound_a[node("s.out")] is None
    # Behind the conductors not even the strongest source gives more than their own impedance lets through.
    known, at = sketch.put("service", "s", system="208Y/120", fault_ka=1e6, fault_x_r=5).solve()
    assert known.fault_a[at("b.bus")] == pytest.approx(numbers.fault_bound_a[node("b.bus")], rel=1e-3)
    assert known.fault_a[at("b.bus")] < numbers.fault_bound_a[node("b.bus")]


@pytest.mark.parametrize(
    ("values", "need"),
    [
        ({"transformer_kva": 500.0}, "impedance (%Z) of the transformer of s, or its available fault current"),
        ({"transformer_kva": 500.0, "transformer_z_pct": 4.0, "system": None}, "system voltage of s"),
        ({"fault_ka": 0.0}, "available fault current at s (more than zero)"),
    ],
)
def test_service_half_known(sketch, values, need):
    numbers, node = sketch.put("service", "s", **{"system": "208Y/120", **values}).solve()
    assert numbers.fault_a[node("s.out")] is None
    assert numbers.fault_bound_a[node("s.out")] is None
    assert numbers.fault_needs(node("s.out")) == (need,)


def test_given_current_at_an_unknown_voltage(sketch):
    """The current at the terminals is given; conductors can only lower it."""
    sketch.put("service", "s", fault_ka=22.0).put("bus", "b").run("r", "s.out", "b.bus")
    numbers, node = sketch.solve()
    assert numbers.fault_a[node("s.out")] == pytest.approx(22_000)
    assert numbers.fault_a[node("b.bus")] is None
    assert numbers.fault_bound_a[node("b.bus")] == pytest.approx(22_000)
    assert numbers.fault_needs(node("b.bus")) == ("system voltage of s",)


@pytest.mark.parametrize(
    ("field", "need"),
    [
        ("length_ft", "length of r2"),
        ("size", "conductor size of r2"),
        ("material", "conductor material of r2"),
        ("sets", "number of sets of r2"),
    ],
)
def test_unknown_run_leaves_the_bound_of_its_line_end(sketch, field, need):
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0, fault_x_r=5.0)
    sketch.put("bus", "a").put("bus", "b").put("bus", "c")
    sketch.run("r1", "s.out", "a.bus").run("r2", "a.bus", "b.bus").run("r3", "b.bus", "c.bus")
    sketch.items["r2"] = replace(sketch.items["r2"], **{field: None})
    numbers, node = sketch.solve()
    assert numbers.fault_a[node("a.bus")] == numbers.fault_bound_a[node("a.bus")] > 0
    assert numbers.fault_a[node("b.bus")] is None
    assert numbers.fault_bound_a[node("b.bus")] == pytest.approx(numbers.fault_a[node("a.bus")])
    assert numbers.fault_a[node("c.bus")] is None
    assert numbers.fault_bound_a[node("c.bus")] < numbers.fault_bound_a[node("b.bus")]
    assert numbers.fault_needs(node("c.bus")) == (need,)
    assert numbers.duty_a[node("b.bus")] is None
    assert numbers.duty_bound_a[node("b.bus")] == pytest.approx(numbers.fault_a[node("a.bus")])


def test_unknown_transformer_passes_the_bound_by_its_ratio(sketch):
    """Without its impedance an ideal transformer bounds the current: primary current times the ratio."""
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0, fault_x_r=5.0)
    sketch.put("transformer", "t", primary_system="480Y/277", secondary_system="208Y/120")
    numbers, node = sketch.bolt("s.out", "t.line").solve()
    at = node("t.load")
    assert numbers.fault_a[at] is None
    assert numbers.fault_bound_a[at] == pytest.approx(30_000 * 480 / 208)
    assert numbers.fault_needs(at) == ("rating of t", "impedance (%Z) of t")


def test_size_that_table_9_does_not_print(sketch):
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0).put("bus", "b")
    numbers, node = sketch.run("r", "s.out", "b.bus", "700").solve()
    assert numbers.fault_a[node("b.bus")] is None
    assert "the impedance table has no such size" in numbers.fault_needs(node("b.bus"))[0]


def test_busway_needs_its_maker(sketch):
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0).put("bus", "b")
    numbers, node = sketch.run("r", "s.out", "b.bus", raceway="busway").solve()
    assert numbers.fault_a[node("b.bus")] is None
    assert numbers.fault_needs(node("b.bus")) == ("impedance of r from the maker of the busway",)


def test_what_is_not_known_leaves_bounds_around_every_possible_figure(sketch):
    """Raceway and X/R unknown: no figure, bounds on either side of every possible one, and marked as assumed."""
    sketch.put("bus", "b")

    def solve(raceway, x_r):
        sketch.put("service", "s", system="480Y/277", fault_ka=30.0, fault_x_r=x_r)
        numbers, node = sketch.run("r", "s.out", "b.bus", "1/0", 80.0, raceway=raceway).solve()
        return numbers, node("b.bus")

    numbers, at = solve(None, None)
    assert numbers.fault_basis(at) == "assumed"
    assert numbers.x_r[at] is None
    assert len(numbers.fault_assumed(at)) == 2
    assert numbers.fault_a[at] is None
    assert numbers.fault_needs(at) == ("raceway of r",)
    for raceway in ("EMT", "PVC-40"):
        for x_r in (1.0, 4.0, 12.0):
            known, k = solve(raceway, x_r)
            assert numbers.fault_least_a[at] <= known.fault_a[k] <= numbers.fault_bound_a[at]
            only_raceway, j = solve(None, x_r)
            assert known.x_r[k] <= only_raceway.x_r_most[j]
            assert only_raceway.fault_least_a[j] <= known.fault_a[k] <= only_raceway.fault_bound_a[j]
            assert known.fault_assumed(k) == ()
            assert known.fault_basis(k) == "entered"
            assert known.x_r[k] > 0


def test_unknown_facts_never_change_a_figure_they_only_take_it_away(reference):
    """40 random networks: facts of runs, transformers and the service are wiped out at random. Each fault current is then
    not known or the same as before, and its bound is never below the true figure."""
    gone = kept = 0
    for seed in range(40):
        rng = random.Random(800 + seed)
        net = reference.random_network(rng, rng.randint(2, 60), transformers=seed % 2 == 0, balanced=True)
        whole = net.drawing(rng)
        wiped = {}
        for item in whole.items.values():
            if isinstance(item, ConductorRun) and rng.random() < 0.1:
                item = replace(item, **{rng.choice(("length_ft", "size", "material", "sets", "neutral_size")): None})
            elif isinstance(item, Transformer) and rng.random() < 0.3:
                item = replace(item, **{rng.choice(("kva", "z_pct", "secondary_system", "connection")): None})
            elif isinstance(item, UtilityService) and rng.random() < 0.05:
                item = replace(item, fault_ka=None)
            wiped[item.id] = item
        truth = Context(whole, "proposed", 2023)
        partly = Context(Drawing(items=MappingProxyType(wiped)), "proposed", 2023)
        assert partly.net.node_of == truth.net.node_of
        for node in truth.feeding.order:
            for column, bound in (("fault_a", "fault_bound_a"), ("fault_ln_a", "fault_ln_bound_a")):
                true = getattr(truth.numbers, column)[node]
                seen = getattr(partly.numbers, column)[node]
                limit = getattr(partly.numbers, bound)[node]
                if seen is None:
                    gone += true is not None
                else:
                    assert seen == pytest.approx(true, rel=1e-9)
                    kept += 1
                if limit is not None and true is not None:
                    assert limit >= true * (1 - 1e-9)
            if partly.numbers.fault_a[node] is None:
                assert partly.numbers.fault_needs(node)
            if partly.numbers.fault_ln_a[node] is None and truth.numbers.fault_ln_a[node] is not None:
                assert partly.numbers.line_neutral_needs(node)
    assert gone > 300
    assert kept > 300


# ------------------------------------------------------------------------------------------- what is not computed
def test_high_leg_system(sketch):
    """Four-wire delta of three equal windings, all reactance, 100 kVA and 2 %: between the lines as on any delta.
    Kirchhoff, with w the ohms of a winding and 1.2 w / 4 of half of one: from A or C to the neutral 1.2 w / 4 - w / 12,
    from the high leg w / 3 more."""
    values = {"system": "240D/120-HL", "transformer_kva": 100, "transformer_z_pct": 2, "basis": TESTED}
    numbers, node = sketch.put("service", "s", **values).solve()
    at = node("s.out")
    w = 3 * 0.02 * 240**2 / 100e3
    assert numbers.fault_a[at] == pytest.approx(100e3 / (sqrt(3) * 240 * 0.02))
    assert numbers.fault_ll_a[at] == pytest.approx(240 / (2 * w / 3))
    assert numbers.fault_ln_a[at] == pytest.approx(120 / (0.3 * w - w / 12))
    assert numbers.fault_high_leg_a[at] == pytest.approx(208 / (0.3 * w + w / 4))
    assert "bank of s taken as three equal transformers in a closed delta" in numbers.fault_assumed(at)


def test_high_leg_of_a_given_current(sketch):
    """The given current holds at the service and falls along the conductors as on any three-phase system."""
    sketch.put("service", "s", system="240D/120-HL", fault_ka=18.0, fault_x_r=3.0).put("bus", "b").put("bus", "lights")
    sketch.run("r", "s.out", "b.bus", "1/0", 0.0).run("h", "s.out", "lights.bus", "2", 0.0, phases="B")
    numbers, node = sketch.solve()
    assert numbers.fault_a[node("s.out")] == numbers.fault_a[node("b.bus")] == pytest.approx(18_000)
    assert numbers.fault_ll_a[node("b.bus")] == pytest.approx(18_000 * sqrt(3) / 2)
    # A circuit of the high leg alone: what flows there is what flows from the high leg.
    assert numbers.fault_a[node("lights.bus")] == pytest.approx(numbers.fault_high_leg_a[node("b.bus")])
    assert numbers.fault_basis(node("b.bus")) == "assumed"


@pytest.mark.parametrize("system", ["480D", "240D", "480D-CG", "240D-CG"])
def test_three_wire_delta(sketch, system):
    """Three-phase and line to line as anywhere; there is no neutral to fault to."""
    volts = 480 if system.startswith("480") else 240
    sketch.put("service", "s", system=system, fault_ka=20.0, fault_x_r=5.0).put("bus", "b")
    numbers, node = sketch.run("r", "s.out", "b.bus", "1/0", 0.0).solve()
    at = node("b.bus")
    assert numbers.fault_a[at] == pytest.approx(20_000)
    assert numbers.fault_ll_a[at] == pytest.approx(17_320, rel=1e-3)
    assert numbers.fault_ln_a[at] is None
    assert numbers.line_neutral_needs(at) == ()
    assert volts in (240, 480)


def test_closed_loop(sketch):
    """Two ways to c: 2 ways of reactances in parallel add as reciprocals. The ring's third side makes the second way."""
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0, fault_x_r=5.0)
    for name in "abcd":
        sketch.put("bus", name)
    sketch.run("r0", "s.out", "a.bus").run("r1", "a.bus", "b.bus", feet=60).run("r2", "a.bus", "c.bus").run(
        "ring", "b.bus", "c.bus", feet=90
    )
    numbers, node = sketch.run("r3", "c.bus", "d.bus").solve()
    foot = complex(0.029 * (1 + 0.00323 * -50), 0.048) / 1000  # 500 kcmil copper in steel at 25 degrees C
    source = 480 / sqrt(3) / 30_000 * complex(1, 5) / abs(complex(1, 5))
    entry = source + 100 * foot
    for at, feet in (("a.bus", 0), ("b.bus", 1 / (1 / 60 + 1 / 190)), ("c.bus", 1 / (1 / 100 + 1 / 150)),
                     ("d.bus", 1 / (1 / 100 + 1 / 150) + 100)):  # fmt: skip
        amperes = 480 / sqrt(3) / abs(entry + feet * foot)
        assert numbers.fault_a[node(at)] == pytest.approx(amperes, rel=1e-9), at
        assert numbers.fault_bound_a[node(at)] == pytest.approx(amperes, rel=1e-9), at
        assert numbers.fault_ln_a[node(at)] == pytest.approx(480 / sqrt(3) / abs(source + 2 * (100 + feet) * foot)), at
        assert not numbers.needs(node(at)), at


def test_what_is_not_known_in_a_loop(sketch):
    """A side of the loop of unknown length: ahead of it all is known, on it nothing, and the bound is above the figure
    for every length."""

    def solve(feet):
        sketch.put("service", "s", system="480Y/277", fault_ka=30.0, fault_x_r=5.0)
        for name in "abcd":
            sketch.put("bus", name)
        sketch.run("r0", "s.out", "a.bus").run("r1", "a.bus", "b.bus", feet=60).run("r2", "a.bus", "c.bus")
        return sketch.run("ring", "b.bus", "c.bus", feet=feet).run("r3", "c.bus", "d.bus").solve()

    numbers, node = solve(None)
    assert numbers.fault_a[node("a.bus")] is not None
    assert numbers.fault_needs(node("a.bus")) == ()
    for at in ("b.bus", "c.bus", "d.bus"):
        assert numbers.fault_a[node(at)] is None
        assert numbers.fault_needs(node(at)) == ("length of ring",)
        bounds = numbers.fault_bound_a[node(at)], numbers.fault_ln_bound_a[node(at)]
        for feet in (0.1, 1.0, 30.0, 500.0, 9000.0):
            known, there = solve(feet)
            assert known.fault_a[there(at)] <= bounds[0]
            assert known.fault_ln_a[there(at)] <= bounds[1]
        assert bounds[0] <= numbers.fault_a[node("a.bus")] * 1.001


def test_two_sources_in_parallel(sketch):
    """Of one X/R their currents add; of others the impedances are in parallel as complex numbers."""

    def solve(one, two):
        sketch.put("service", "one", system="480Y/277", fault_ka=30.0, fault_x_r=one)
        sketch.put("service", "two", system="480Y/277", fault_ka=20.0, fault_x_r=two)
        numbers, node = sketch.put("bus", "b").bolt("one.out", "b.bus").bolt("two.out", "b.bus").solve()
        return numbers, node("b.bus")

    numbers, at = solve(4.0, 4.0)
    assert numbers.fault_a[at] == numbers.fault_bound_a[at] == pytest.approx(50_000)
    assert numbers.fault_ln_a[at] == pytest.approx(50_000)
    assert "voltages of one and two taken as equal and in phase" in numbers.fault_assumed(at)
    numbers, at = solve(1.0, 12.0)
    both = sum(ka / complex(1, x) * abs(complex(1, x)) for ka, x in ((30_000, 1), (20_000, 12)))
    assert numbers.fault_a[at] == pytest.approx(abs(both))
    # Neither X/R known: the largest is that of one angle, the least that of two at a right angle.
    numbers, at = solve(None, None)
    assert 50_000 <= numbers.fault_bound_a[at] <= 50_000 * 1.01
    assert abs(complex(30_000, 20_000)) * 0.99 <= numbers.fault_least_a[at] <= abs(complex(30_000, 20_000))
    assert numbers.x_r_needs(at) == ("X/R at one", "X/R at two")


def test_source_beside_one_nobody_knows(sketch):
    sketch.put("service", "one", system="480Y/277", fault_ka=30.0).put("service", "two", system="480Y/277")
    sketch.put("bus", "b").put("bus", "c").bolt("one.out", "b.bus").bolt("two.out", "b.bus")
    numbers, node = sketch.run("r", "b.bus", "c.bus").solve()
    assert numbers.fault_a[node("b.bus")] is None
    assert numbers.fault_bound_a[node("b.bus")] is None
    assert numbers.fault_needs(node("b.bus")) == ("available fault current at two, or kVA and %Z of its transformer",)


def test_nothing_feeds_it(sketch):
    numbers, node = sketch.put("bus", "b").solve()
    assert numbers.fault_a[node("b.bus")] is None
    assert numbers.current_a[node("b.bus")] == {}
    assert numbers.needs(node("b.bus")) == ("a source that feeds it",)


def test_solar_alone_forms_no_system(sketch):
    sketch.put("solar", "roof", output_a=40.0, phases="ABC").put("bus", "b").bolt("roof.out", "b.bus")
    numbers, node = sketch.solve()
    assert numbers.fault_a[node("b.bus")] is None
    assert numbers.fault_needs(node("b.bus")) == ("a source that holds the voltage ahead of roof",)


# ------------------------------------------------------------------------------------------------------ contribution
def test_motors_add_four_times_full_load_current(sketch):
    """IEEE 141 rule of thumb, 4 x full-load current; 100 hp at 460 V has 124 A in Table 430.250. A motor behind a drive
    adds nothing, nor does a heater."""
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0, fault_x_r=5.0).put("bus", "b").bolt("s.out", "b.bus")
    sketch.put("load", "fan", load_class="motor", horsepower=100, phases="ABC").bolt("b.bus", "fan.in")
    sketch.put("load", "pump", load_class="motor", horsepower=100, phases="ABC", nonlinear=True).bolt(
        "b.bus", "pump.in"
    )
    sketch.put("load", "oven", load_class="heat", va=50_000, phases="ABC").bolt("b.bus", "oven.in")
    numbers, node = sketch.solve()
    assert numbers.contribution_a[node("b.bus")] == pytest.approx(4 * 124, rel=1e-6)
    assert numbers.duty_a[node("b.bus")] == pytest.approx(30_496, rel=1e-6)
    assert numbers.fault_a[node("b.bus")] == pytest.approx(30_000)


def reactances(sketch, supply_ka, primary_va, secondary_va, kva=75.0, z_pct=4.0):
    """480 V supply, motors on it, 480-208Y/120 transformer, motors behind it; everything reactance. Ohms at 208 V."""
    sketch.put("service", "s", system="480Y/277", fault_ka=supply_ka).put("bus", "p").put("bus", "q")
    sketch.put(
        "transformer",
        "t",
        kva=kva,
        z_pct=z_pct,
        primary_system="480Y/277",
        secondary_system="208Y/120",
        connection="delta-wye",
        basis=TESTED,
    )
    sketch.bolt("s.out", "p.bus").bolt("p.bus", "t.line").bolt("t.load", "q.bus")
    for item, bus, va in (("m1", "p", primary_va), ("m2", "q", secondary_va)):
        if va:
            sketch.put("load", item, load_class="hvac", va=va, phases="ABC").bolt(f"{bus}.bus", f"{item}.in")
    motor = [208**2 / (4 * va) if va else float("inf") for va in (primary_va, secondary_va)]
    return 208 / sqrt(3) / (supply_ka * 1000) * 208 / 480, *motor, z_pct / 100 * 208**2 / (kva * 1000)


@pytest.mark.parametrize(("primary_va", "secondary_va"), [(90e3, 0.0), (0.0, 20e3), (300e3, 30e3), (20e3, 60e3)])
def test_motors_through_a_transformer(sketch, primary_va, secondary_va):
    """Oracle: motors as reactances of a quarter of V / full-load current, in parallel with the supply. From below it is
    exact; from above the sum is never low and a few percent high at most."""
    supply, m1, m2, t = reactances(sketch, 20.0, primary_va, secondary_va)
    numbers, node = sketch.solve()

    def parallel(*ohms):
        return 1 / sum(1 / x for x in ohms)

    amperes = 208 / sqrt(3)
    at_primary = amperes / parallel(supply, m1, m2 + t) * 208 / 480
    p, q = (numbers.fault_a[k] + numbers.contribution_a[k] for k in (node("p.bus"), node("q.bus")))
    assert p == pytest.approx(at_primary, rel=1e-9)
    at_secondary = amperes / parallel(parallel(supply, m1) + t, m2)
    assert at_secondary * (1 - 1e-9) <= q <= at_secondary * 1.03


def test_motors_beside_a_supply_that_is_not_known(sketch):
    """What they alone would drive through the transformer."""
    _, m1, _, t = reactances(sketch, 20.0, 90e3, 0.0)
    sketch.put("service", "s", system="480Y/277")
    numbers, node = sketch.solve()
    assert numbers.contribution_a[node("q.bus")] == pytest.approx(208 / sqrt(3) / (m1 + t))
    assert numbers.duty_a[node("q.bus")] is None


def test_inverters(sketch):
    """Maker's factor where known; else 1.2 times rated, named as assumed. From kW: 10 kW on 208Y/120 are 27.8 A."""
    sketch.put("service", "s", system="208Y/120", fault_ka=10.0, fault_x_r=3.0).put("bus", "b").bolt("s.out", "b.bus")
    sketch.put("solar", "roof", output_a=40.0, fault_factor=1.5, phases="ABC").bolt("b.bus", "roof.out")
    numbers, node = sketch.solve()
    assert numbers.contribution_a[node("b.bus")] == pytest.approx(60)
    sketch.put("battery", "store", output_kw=10.0, phases="ABC").bolt("b.bus", "store.out")
    numbers, node = sketch.solve()
    assert numbers.contribution_a[node("b.bus")] == pytest.approx(60 + 1.2 * 27.76, rel=1e-3)
    assert numbers.contribution_assumed(node("b.bus")) == (
        "fault current of store taken as 1.2 times its rated current (figure from memory)",
    )


def test_unknown_motor_or_inverter(sketch):
    sketch.put("service", "s", system="208Y/120", fault_ka=10.0, fault_x_r=3.0).put("bus", "b").bolt("s.out", "b.bus")
    sketch.put("solar", "roof", phases="ABC").bolt("b.bus", "roof.out")
    sketch.put("load", "ac", load_class="hvac", phases="ABC").bolt("b.bus", "ac.in")
    numbers, node = sketch.solve()
    at = node("b.bus")
    assert numbers.fault_a[at] == pytest.approx(10_000)
    assert numbers.contribution_a[at] is None
    assert numbers.contribution_known_a[at] == 0
    assert numbers.duty_a[at] is None
    assert set(numbers.contribution_needs(at)) == {"continuous output current of roof", "load of ac"}


def test_infinite_bus_formula_is_the_products(sketch):
    """The pure function and the drawing give one figure."""
    sketch.put("service", "s", system="208Y/120", transformer_kva=112.5, transformer_z_pct=3.1)
    numbers, node = sketch.solve()
    assert numbers.fault_hand_a[node("s.out")] == pytest.approx(infinite_bus_a(112.5, 3.1, 208, tolerance=0.9))


# ------------------------------------------------------------------------------------------------- further cases
def test_x_r_is_not_known_behind_a_source_whose_angle_is_not(sketch):
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0).put("bus", "b")
    sketch.put("transformer", "t", kva=75, z_pct=4, x_r=2.0, primary_system="480Y/277", secondary_system="208Y/120")
    numbers, node = sketch.bolt("s.out", "t.line").run("r", "t.load", "b.bus").solve()
    assert numbers.fault_a[node("b.bus")] is not None
    assert [numbers.x_r[node(at)] for at in ("s.out", "t.load", "b.bus")] == [None] * 3
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0, fault_x_r=6.0)
    numbers, node = sketch.solve()
    assert 2.0 < numbers.x_r[node("t.load")] < 6.0


def test_hand_value_from_line_to_neutral(sketch):
    """FLT-7: f = 2 L I / (C n V) with 120 V, from 1.5 times the line-to-line current at a center-tapped transformer; on a
    wye from the three-phase current. 2 AWG copper in steel: C 5907."""
    for system, kva, start in (("120/240-1", 50, 1.5 * infinite_bus_a(50, 2, 240, False, 0.9)),
                               ("208Y/120", 112.5, infinite_bus_a(112.5, 2, 208, True, 0.9))):  # fmt: skip
        sketch.put("service", "s", system=system, transformer_kva=kva, transformer_z_pct=2).put("bus", "b")
        numbers, node = sketch.run("r", "s.out", "b.bus", "2", 80.0, phases="A").solve()
        by_hand = start * multiplier(run_factor(start, 80, 5907, 1, 120, three_phase=False))
        assert numbers.fault_hand_a[node("b.bus")] == pytest.approx(by_hand, rel=1e-3)


def test_finite_primary_of_a_single_phase_service(sketch):
    """Ohms at 240 V add up, all reactance: V^2 / MVA ahead, 2 %, and of these from leg to neutral a quarter ahead and 1.2
    quarters of the winding."""
    sketch.put(
        "service",
        "s",
        system="120/240-1",
        transformer_kva=50,
        transformer_z_pct=2,
        primary_fault_mva=20.0,
        basis=TESTED,
    )
    numbers, node = sketch.solve()
    ahead, own = 240**2 / 20e6, 0.02 * 240**2 / 50e3
    assert numbers.fault_a[node("s.out")] == pytest.approx(240 / (ahead + own))
    assert numbers.fault_ln_a[node("s.out")] == pytest.approx(120 / (ahead / 4 + 1.2 * own / 4))


def test_loop_line_to_neutral_that_nothing_is_known_of_has_no_bound(sketch):
    """A single-phase generator: how its halves are wound is not known. Behind a run the run alone is a bound: 100 ft of
    2 AWG copper in steel there and back are 2 x 0.1 x |0.20 x 0.8385 + j0.057| ohm at 25 degrees C."""
    sketch.put("generator", "g", system="120/240-1", kva=20, xd_pct=12).put("bus", "b").run("r", "g.out", "b.bus", "2")
    numbers, node = sketch.solve()
    at = node("g.out")
    assert numbers.fault_a[at] == pytest.approx(20_000 / 240 / 0.12)
    assert numbers.fault_ln_a[at] is None
    assert numbers.fault_ln_bound_a[at] is None
    assert numbers.duty_bound_a[at] is None
    assert numbers.fault_ln_bound_a[node("b.bus")] == pytest.approx(120 / (0.2 * abs(complex(0.20 * 0.8385, 0.057))))


def test_given_current_of_tied_services_bounds_nothing(sketch):
    sketch.put("service", "one", fault_ka=30.0).put("service", "two", fault_ka=20.0)
    numbers, node = sketch.put("bus", "b").bolt("one.out", "b.bus").bolt("two.out", "b.bus").solve()
    assert numbers.fault_a[node("b.bus")] is None
    assert numbers.fault_bound_a[node("b.bus")] is None


def test_transformer_on_one_phase_needs_the_loop_ahead(sketch):
    """Fed from line to neutral through a neutral nobody measured: not known behind it, but bounded."""
    sketch.put("service", "s", system="480Y/277", fault_ka=10.0, fault_x_r=4.0)
    sketch.put("transformer", "t", kva=25, z_pct=3.0, x_r=2.0, primary_system="480Y/277", secondary_system="120/240-1")
    numbers, node = sketch.run("r", "s.out", "t.line", "2", 40.0, phases="C").solve()
    true, at = numbers.fault_a[node("t.load")], node("t.load")
    numbers, node = sketch.run("r", "s.out", "t.line", "2", 40.0, phases="C", neutral_size=None).solve()
    assert numbers.fault_a[at] is None
    assert numbers.fault_ln_a[at] is None
    assert numbers.fault_bound_a[at] > true
    assert "neutral size of r" in numbers.line_neutral_needs(at)
    assert numbers.fault_needs(at) == ("neutral size of r",)


def test_motors_ahead_of_two_transformers(sketch):
    """Oracle: reactances. A motor on the 480 V board is felt behind 480-208 and 208-240 in a row."""
    sketch.put("service", "s", system="480Y/277", fault_ka=6.0).put(
        "load", "m", load_class="motor", va=3e5, phases="ABC"
    )
    sketch.bolt("s.out", "m.in").bolt("s.out", "t1.line").bolt("t1.load", "t2.line")
    sketch.put(
        "transformer", "t1", kva=75, z_pct=4, primary_system="480Y/277", secondary_system="208Y/120", basis=TESTED
    )
    sketch.put("transformer", "t2", kva=45, z_pct=3, primary_system="208Y/120", secondary_system="240D", basis=TESTED)
    numbers, node = sketch.solve()

    def at_end(with_motor: bool) -> float:
        ahead = 480 / sqrt(3) / 6000
        if with_motor:
            ahead = 1 / (1 / ahead + 4 * 3e5 / 480**2)
        ohms = (ahead * (208 / 480) ** 2 + 0.04 * 208**2 / 75e3) * (240 / 208) ** 2 + 0.03 * 240**2 / 45e3
        return 240 / sqrt(3) / ohms

    at = node("t2.load")
    assert numbers.fault_a[at] == pytest.approx(at_end(False))
    added = at_end(True) - at_end(False)
    assert added * (1 - 1e-9) <= numbers.contribution_a[at] <= added * 1.03


def test_motors_on_a_sister_transformer(sketch):
    """Oracle: reactances. Motors behind one transformer reach the bus behind the other through both."""
    sketch.put("service", "s", system="480Y/277", fault_ka=12.0).put("bus", "p")
    sketch.bolt("s.out", "p.bus")
    for name in ("t1", "t2"):
        sketch.put(
            "transformer", name, kva=75, z_pct=4, primary_system="480Y/277", secondary_system="208Y/120", basis=TESTED
        )
        sketch.bolt("p.bus", f"{name}.line")
    sketch.put("load", "m", load_class="motor", va=60_000, phases="ABC").bolt("t1.load", "m.in")
    numbers, node = sketch.solve()
    t, motor = 0.04 * 208**2 / 75_000, 208**2 / 240_000
    supply = 480 / sqrt(3) / 12_000 * (208 / 480) ** 2
    with_motor = 208 / sqrt(3) / (1 / (1 / supply + 1 / (motor + t)) + t)
    without = 208 / sqrt(3) / (supply + t)
    at = node("t2.load")
    assert numbers.fault_a[at] == pytest.approx(without)
    assert numbers.contribution_a[at] == pytest.approx(with_motor - without, rel=1e-6)
    at = node("t1.load")
    assert numbers.contribution_a[at] == pytest.approx(4 * 60_000 / (sqrt(3) * 208)), "its own motors only once"


def test_neutral_ahead_of_a_delta_does_not_matter(sketch):
    """The delta winding blocks it: what is not known of the primary's neutral is not asked for behind it."""
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0, fault_x_r=5.0).put("bus", "b")
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
    sketch.run("r1", "s.out", "t.line", "3", 50.0, neutral_size=None).run(
        "r2", "t.load", "b.bus", "1/0", neutral_size=None
    )
    numbers, node = sketch.solve()
    assert numbers.fault_ln_a[node("t.load")] is not None
    assert numbers.line_neutral_needs(node("b.bus")) == ("neutral size of r2",)
    assert numbers.line_neutral_needs(node("t.line")) == ("neutral size of r1",)


# ------------------------------------------------------------------------------------- loops and parallel transformers
def test_motors_of_tied_services_are_felt_on_both_sides(sketch):
    """IEEE 141 rule of thumb, 4 x full-load current; a closed tie has no impedance that would keep any of it back."""
    for side in ("one", "two"):
        sketch.put("service", side, system="480Y/277", fault_ka=20.0, fault_x_r=5.0).put("bus", f"b-{side}")
        sketch.bolt(f"{side}.out", f"b-{side}.bus")
    sketch.put("disconnect", "tie").bolt("b-one.bus", "tie.line").bolt("tie.load", "b-two.bus")
    sketch.put("load", "fan", load_class="hvac", va=sqrt(3) * 480 * 100, phases="ABC").bolt("b-two.bus", "fan.in")
    numbers, node = sketch.solve()
    for at in ("b-one.bus", "b-two.bus"):
        assert numbers.contribution_a[node(at)] == pytest.approx(400)
        assert numbers.duty_a[node(at)] == pytest.approx(40_400)
    sketch.put("load", "unread", load_class="hvac", phases="ABC").bolt("b-two.bus", "unread.in")
    numbers, node = sketch.solve()
    assert numbers.duty_a[node("b-one.bus")] is None
    assert "load of unread" in numbers.duty_needs(node("b-one.bus"))


def test_two_transformers_in_parallel(sketch):
    """Equal ones: half the impedance of one, half the load each. Motors behind them reach the primary through both: never
    less than the reactances say."""
    sketch.put("service", "s", system="480Y/277", fault_ka=20.0).put("bus", "p").put("bus", "q").bolt("s.out", "p.bus")
    for name in ("t1", "t2"):
        sketch.put(
            "transformer", name, kva=75, z_pct=4, primary_system="480Y/277", secondary_system="208Y/120",
            connection="delta-wye", basis=TESTED,
        ).bolt("p.bus", f"{name}.line").bolt(f"{name}.load", "q.bus")  # fmt: skip
    sketch.put("load", "fan", load_class="hvac", va=60_000, phases="ABC").bolt("q.bus", "fan.in")
    numbers, node = sketch.solve()
    supply = 480 / sqrt(3) / 20_000 * (208 / 480) ** 2
    t, motor = 0.04 * 208**2 / 75_000, 208**2 / 240_000
    assert numbers.fault_a[node("q.bus")] == pytest.approx(208 / sqrt(3) / (supply + t / 2))
    # Delta-wye: the delta keeps zero sequence, (2 z1 + z0) / 3 with z0 of the two windings alone.
    assert numbers.fault_ln_a[node("q.bus")] == pytest.approx(208 / sqrt(3) / (supply * 2 / 3 + t / 2))
    arriving = 208 / sqrt(3) / (motor + t / 2) * 208 / 480
    assert numbers.contribution_a[node("p.bus")] >= arriving * (1 - 1e-9)
    whole = numbers.current_a[node("p.bus")]["A"]
    assert numbers.branch_current_a("t1")["A"] == pytest.approx(numbers.branch_current_a("t2")["A"])
    assert whole == pytest.approx(2 * numbers.branch_current_a("t1")["A"] * 208 / 480)


def test_transformers_in_parallel_that_do_not_agree(sketch):
    """A delta-wye beside a wye-wye: 30 degrees apart, or other volts. No figure is given for what must not be closed."""
    for connection, secondary in (("wye-wye", "208Y/120"), ("delta-delta", "240D")):
        sketch.items.clear()
        sketch.put("service", "s", system="480Y/277", fault_ka=20.0).put("bus", "p").put("bus", "q").bolt(
            "s.out", "p.bus"
        )
        for name, kind, code in (("t1", "delta-wye", "208Y/120"), ("t2", connection, secondary)):
            sketch.put(
                "transformer", name, kva=75, z_pct=4, primary_system="480Y/277", secondary_system=code, connection=kind
            ).bolt("p.bus", f"{name}.line").bolt(f"{name}.load", "q.bus")
        numbers, node = sketch.solve()
        assert numbers.fault_a[node("q.bus")] is None
        assert numbers.fault_bound_a[node("q.bus")] is None
        assert any("one voltage on both sides of" in need for need in numbers.fault_needs(node("q.bus")))
        assert numbers.drop_pct[node("q.bus")] is None or numbers.voltage_v[node("q.bus")]["A"] is None


def test_worksheet_in_a_loop(sketch):
    """The lines lead to the figure also where impedances do not simply add up."""
    sketch.put("service", "s", system="480Y/277", fault_ka=30.0, fault_x_r=5.0).put("bus", "a").put("bus", "b")
    sketch.run("r1", "s.out", "a.bus").run("r2", "s.out", "a.bus", feet=70).run("r3", "a.bus", "b.bus")
    numbers, node = sketch.solve()
    for at in ("a.bus", "b.bus"):
        *_, last = numbers.fault_work(node(at))
        assert last.value == pytest.approx(numbers.fault_a[node(at)])


def test_center_tapped_transformers_in_parallel(sketch):
    """Two equal ones on the same two lines: the loop ahead once (two conductors, by the square of the ratio, a quarter of
    it to the neutral), half of one winding's ohms, all reactance. The lamp's current divides in halves."""
    sketch.put("service", "s", system="480Y/277", fault_ka=10.0).put("bus", "p").put("bus", "q")
    sketch.run("r", "s.out", "p.bus", "2", 0.0, phases="AB")
    for name in ("t1", "t2"):
        sketch.put(
            "transformer", name, kva=25, z_pct=3.0, primary_system="480Y/277", secondary_system="120/240-1",
            connection="single-phase", basis=TESTED,
        ).bolt("p.bus", f"{name}.line").bolt(f"{name}.load", "q.bus")  # fmt: skip
    sketch.put("load", "lamp", va=1200.0, power_factor=1.0, phases="A").bolt("q.bus", "lamp.in")
    numbers, node = sketch.solve()
    ahead, own, at = 2 * 480 / sqrt(3) / 10_000 * (240 / 480) ** 2, 0.03 * 240**2 / 25_000, node("q.bus")
    assert numbers.fault_a[at] == pytest.approx(240 / (ahead + own / 2))
    assert numbers.fault_ln_a[at] == pytest.approx(120 / (ahead / 4 + 1.2 * own / 8))
    for name in ("t1", "t2"):
        assert numbers.branch_current_a(name)["A"] == pytest.approx(5, rel=1e-3)
    assert numbers.current_a[node("s.out")]["A"] == pytest.approx(1200 / 480, rel=1e-3)


def test_ring_behind_a_four_wire_delta(sketch):
    """Equal runs to one panel twice over: a half of one run's ohms from any leg to the neutral."""
    sketch.put("service", "s", system="240D/120-HL", transformer_kva=100, transformer_z_pct=2, basis=TESTED)
    sketch.put("bus", "p").run("r1", "s.out", "p.bus", "2", 50.0).run("r2", "s.out", "p.bus", "2", 50.0)
    sketch.put("bus", "one").run("r3", "s.out", "one.bus", "2", 25.0)
    numbers, node = sketch.solve()
    for column in (numbers.fault_a, numbers.fault_ll_a, numbers.fault_ln_a, numbers.fault_high_leg_a):
        assert column[node("p.bus")] == pytest.approx(column[node("one.bus")], rel=1e-9)
