"""Worksheets of fault currents, and the columns the numbers come in."""

from __future__ import annotations

import random
from math import sqrt

import pytest

from oneline.study.context import Context


def follow(lines) -> float:
    """Value of the last line, after every formula was evaluated with the numbers it shows."""
    assert lines
    for line in lines:
        if line.formula:
            value = eval(line.formula, {"__builtins__": {}, "sqrt": sqrt}, dict(line.inputs))
            assert value == pytest.approx(line.value, rel=1e-12), line.what
    return lines[-1].value


def test_every_worksheet_leads_to_its_figure(reference):
    """60 random networks with and without transformers: what a worksheet shows is what the passes gave, and the sums it
    shows are of the values it has shown before."""
    for seed in range(60):
        rng = random.Random(600 + seed)
        net = reference.random_network(rng, rng.randint(1, 25), seed % 2 == 0, balanced=True)
        ctx = Context(net.drawing(rng), "proposed", 2023)
        for node in ctx.feeding.order:
            lines = ctx.numbers.fault_work(node)
            assert follow(lines) == pytest.approx(ctx.numbers.fault_a[node], rel=1e-9)
            shown = {round(line.value, 12) for line in lines}
            for line in lines:
                if set(line.formula) <= set("rx +0123456789") and line.formula:
                    assert all(round(value, 12) in shown for value in line.inputs.values()), line.what


@pytest.mark.parametrize("system", ["120/240-1", "208Y/120", "120-1", "208/120-1", "480D"])
def test_worksheets_of_other_systems(sketch, system):
    sketch.put(
        "service",
        "s",
        system=system,
        transformer_kva=75,
        transformer_z_pct=3,
        transformer_x_r=2.5,
        primary_fault_mva=80.0,
    )
    numbers, node = sketch.put("bus", "b").run("r", "s.out", "b.bus", "2", 60.0, sets=2).solve()
    for at in ("s.out", "b.bus"):
        assert follow(numbers.fault_work(node(at))) == pytest.approx(numbers.fault_a[node(at)], rel=1e-9)


def test_worksheet_through_a_transformer_on_one_phase(sketch):
    sketch.put("service", "s", system="480Y/277", fault_ka=10.0)
    sketch.put("transformer", "t", kva=25, z_pct=3.0, x_r=2.0, primary_system="480Y/277", secondary_system="120/240-1")
    numbers, node = sketch.run("r", "s.out", "t.line", "2", 40.0, phases="C").solve()
    for at in ("t.line", "t.load"):
        assert follow(numbers.fault_work(node(at))) == pytest.approx(numbers.fault_a[node(at)], rel=1e-9)


def test_no_worksheet_without_a_figure(sketch):
    numbers, node = sketch.put("service", "s", system="480Y/277").put("bus", "b").solve()
    assert numbers.fault_work(node("s.out")) == ()
    assert numbers.fault_work(node("b.bus")) == ()


def test_what_is_missing_for_the_duty(sketch):
    """Near a center-tapped transformer the fault to the neutral is the larger one, so that an unknown neutral matters; far
    from it, it does not."""
    sketch.put("service", "s", system="120/240-1", transformer_kva=50, transformer_z_pct=2.0, transformer_x_r=1.3)
    sketch.put("bus", "near").run("short", "s.out", "near.bus", "2", 5.0, neutral_size=None)
    sketch.put("bus", "far").run("long", "s.out", "far.bus", "2", 200.0)
    sketch.put("bus", "end").run("last", "far.bus", "end.bus", "2", 2.0, neutral_size=None)
    numbers, node = sketch.solve()
    near, end = node("near.bus"), node("end.bus")
    assert numbers.fault_a[near] is not None
    assert numbers.duty_a[near] is None
    assert numbers.duty_needs(near) == ("neutral size of short",)
    assert numbers.duty_bound_a[near] == pytest.approx(numbers.fault_ln_bound_a[near])
    assert numbers.fault_ln_a[end] is None
    assert numbers.duty_a[end] == pytest.approx(numbers.fault_a[end])
    assert numbers.duty_needs(end) == ()


def test_assumption_about_the_neutral_counts_only_where_it_decides(sketch):
    """Utility's figure for the lines: line to neutral is taken from it; on a wye it is never the larger one."""
    numbers, node = sketch.put("service", "s", system="208Y/120", fault_ka=20.0, fault_x_r=4.0).solve()
    assert numbers.duty_assumed(node("s.out")) == ()
    numbers, node = sketch.put("service", "s", system="120/240-1", fault_ka=20.0, fault_x_r=4.0).solve()
    assert len(numbers.duty_assumed(node("s.out"))) == 1


def test_columns(sketch):
    sketch.put("service", "s", system="480Y/277", fault_ka=10.0).put("bus", "b").put("bus", "island")
    numbers, node = sketch.run("r", "s.out", "b.bus").solve()
    column = numbers.fault_a
    assert len(column) == 3
    assert list(column) == [column[0], column[1], column[2]] == column[:]
    assert column[node("island.bus")] is None
    assert column.array.shape == (3,)
    phases = numbers.current_a
    assert len(phases) == 3
    assert phases[node("island.bus")] == {}
    assert phases[:2] == [phases[0], phases[1]]
    assert set(phases[node("b.bus")]) == {"A", "B", "C"}
