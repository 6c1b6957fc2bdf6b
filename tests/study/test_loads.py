"""Loads as entries: phases by space number, motors by table, what is known and what is not."""

from __future__ import annotations

import pytest

from oneline.study.loads import circuit_phases, gather_loads, space_phase
from oneline.study.points import Points
from oneline.study.unentered import loose_ends


@pytest.mark.parametrize(
    ("phases", "expected"),
    [
        # NEC 408.3(E): A, B, C from top to bottom; the two spaces of a row are on one phase (odd left, even right).
        ("ABC", {1: "A", 2: "A", 3: "B", 4: "B", 5: "C", 6: "C", 7: "A", 8: "A", 41: "C", 42: "C"}),
        ("AB", {1: "A", 2: "A", 3: "B", 4: "B", 5: "A", 6: "A", 7: "B", 41: "A", 42: "A"}),
        ("A", {1: "A", 2: "A", 3: "A", 42: "A"}),
    ],
)
def test_space_to_phase(phases: str, expected: dict[int, str]) -> None:
    assert {space: space_phase(space, phases) for space in expected} == expected


def test_poles_take_every_second_space(circuit) -> None:
    """Two poles take n and n+2, three n, n+2 and n+4 (trade practice): two phases, all three."""
    assert circuit_phases(circuit(space=1, poles=2), "ABC") == "AB"
    assert circuit_phases(circuit(space=4, poles=2), "ABC") == "BC"
    assert circuit_phases(circuit(space=5, poles=2), "ABC") == "AC"
    assert circuit_phases(circuit(space=8, poles=3), "ABC") == "ABC"
    assert circuit_phases(circuit(space=3, poles=2), "AB") == "AB"
    assert circuit_phases(circuit(space=1), "") == ""


def test_every_phase_gets_a_third_of_the_spaces(circuit) -> None:
    """42 spaces on three phases: 14 each."""
    found = [circuit_phases(circuit(space=s), "ABC") for s in range(1, 43)]
    assert [found.count(p) for p in "ABC"] == [14, 14, 14]


@pytest.mark.parametrize("target", [None, "gone", "elsewhere"])
def test_a_feeder_line_whose_device_is_not_drawn_behind_the_panel_counts_as_written(service, circuit, target) -> None:
    """Nothing unknown counts as zero: neither the load nor, where one is written down, its figure."""
    lines = circuit(space=1, use="feeder", feeds=target, poles=3), circuit(space=2, use="feeder", feeds=target, va=900)
    s = service(circuits=lines)
    s.put("disconnect", "elsewhere")
    entries = gather_loads(s.context())
    assert [(e.circuit, e.va) for e in entries] == [(1, None), (2, 900)]
    assert entries[0].needs
    s.joint("MDP", "elsewhere")
    assert len(gather_loads(s.context())) == (0 if target == "elsewhere" else 2)


def test_a_feeder_line_of_what_the_view_leaves_out_counts_nothing(service, circuit) -> None:
    s = service(circuits=(circuit(space=1, use="feeder", feeds="F", va=900),))
    s.put("disconnect", "F", status="new")
    s.joint("MDP", "F")
    assert gather_loads(s.context("existing")) == ()
    assert gather_loads(s.context("proposed")) == ()


def test_schedule_lines(service, circuit) -> None:
    """A feeder has no load of its own, spares and spaces are zero, an untraced circuit is not known."""
    s = service(
        circuits=(
            circuit(space=1, va=1200, description="Lights, hall"),
            circuit(space=3, use="spare"),
            circuit(space=5, use="space"),
            circuit(space=7, use="feeder", feeds="F", va=99_000),
            circuit(space=2, traced="untraced"),
            circuit(space=4, traced="untraced", va=500),
        )
    )
    s.put("disconnect", "F")
    s.joint("MDP", "F")
    entries = gather_loads(s.context())
    assert [(e.circuit, e.phases, e.va, e.basis) for e in entries] == [
        (1, "A", 1200, "entered"), (2, "A", None, "entered"), (4, "B", 500, "assumed")
    ]  # fmt: skip
    assert entries[1].needs == ("load of MDP circuit 2",)


def test_motor_by_its_table_current(service) -> None:
    """430.6: table current, not the nameplate. Table 430.250: 10 hp at 208 V 30.8 A; 430.248: 1 hp at 115 V 16 A."""
    s = service()
    s.put("load", "Pump", horsepower=10, load_class="motor", phases="ABC", va=1)
    s.put("load", "Fan", horsepower=1, load_class="motor", phases="A")
    s.chain("MDP", "Pump")
    s.joint("MDP", "Fan")
    pump, fan = gather_loads(s.context())
    assert pump.va == pytest.approx(30.8 * 208 * 3**0.5)
    assert fan.va == pytest.approx(16 * 120)
    assert pump.va_from == fan.va_from == "motor table"


def test_motor_outside_the_table_needs_its_load(service) -> None:
    s = service()
    s.put("load", "Odd", horsepower=11, load_class="motor", phases="ABC")
    s.joint("MDP", "Odd")
    (entry,) = gather_loads(s.context())
    assert entry.va is None
    assert entry.needs == ("full-load current on the nameplate of Odd: 11 hp is not in the motor table",)


def test_unknown_phases_are_said(service) -> None:
    """Never a silent three-phase load."""
    s = service()
    s.put("load", "Oven", va=6000)
    s.put("load", "Strange", va=6000, phases="C")
    s.joint("MDP", "Oven")
    oven = gather_loads(s.context())[0]
    assert (oven.phases, oven.phases_known, oven.needs) == ("ABC", False, ("phases of Oven",))
    single = service("120/240-1")
    single.put("load", "Strange", va=6000, phases="C")
    single.joint("MDP", "Strange")
    assert not gather_loads(single.context())[0].phases_known


def test_loads_of_the_view_only(service, circuit) -> None:
    s = service(circuits=(circuit(space=1, va=1000), circuit(space=3, va=2000, status="new")))
    assert [e.va for e in gather_loads(s.context("existing"))] == [1000]
    assert [e.va for e in gather_loads(s.context("proposed"))] == [1000, 2000]
    assert [e.status for e in gather_loads(s.context("proposed"))] == ["existing", "new"]


def test_a_panelboard_nobody_listed_feeds_nobody_knows_what(service) -> None:
    """Whatever is drawn on it: an array's breaker on a panel does not make its directory known."""
    s = service()
    for number, told in enumerate((None, False, True)):
        s.put("disconnect", f"F{number}")
        s.put("bus", f"LP{number}", form="panelboard", all_listed=told)
        s.put("disconnect", f"PV{number}")
        s.put("solar", f"Array{number}")
        s.chain("MDP", f"F{number}", f"LP{number}", f"PV{number}")
        s.joint(f"PV{number}", f"Array{number}.out")
    ctx = s.context()
    assert [(e.item, e.va, e.needs) for e in loose_ends(ctx)] == [
        ("LP0", None, ("what LP0 feeds",)), ("LP1", None, ("what LP1 feeds",))
    ]  # fmt: skip
    point = Points(ctx)["LP0"]
    assert set(point.load_a.values()) == {None}
    assert set(Points(ctx)["LP2"].load_a.values()) == {0.0}
