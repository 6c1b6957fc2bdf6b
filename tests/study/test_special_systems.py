"""High-leg, corner-grounded and ungrounded systems on drawings, and systems that are regrounded."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from oneline.model import VoltageReading
from oneline.rules.verdict import Verdict
from oneline.study import panels, special_systems
from oneline.study.study import study

HIGH_ON = {
    leg: VoltageReading(
        when="2026-03-01", ab_v=240, bc_v=240, ca_v=240, **{f"{p}n_v": 208 if p.upper() == leg else 120 for p in "abc"}
    )
    for leg in "ABC"
}  # fmt: skip


def found(s: Any, rule: str, subject: str, edition: int = 2023) -> Verdict:
    (hit,) = [v for v in special_systems.verdicts(s.context(edition=edition)) if (v.rule, v.subject) == (rule, subject)]
    return hit


def system(sketch: Any, code: str, **bus: Any) -> Any:
    s = sketch()
    s.put("service", "Pole", system=code, fault_ka=20, fault_x_r=4)
    s.put("disconnect", "Main", trip_a=400, rating_a=400, service_disconnect=True, poles=3)
    s.put("bus", "MDP", rating_a=400, **bus)
    s.chain("Pole", "Main", "MDP")
    return s


def change(s: Any, item: str, **values: Any) -> Any:
    s.drawing = s.drawing.with_items([replace(s.drawing.get(item), **values)])
    return s


EDITIONS = pytest.mark.parametrize("edition", [2017, 2020, 2023, 2026])


# ------------------------------------------------------------------------------------------------------- high leg
@EDITIONS
def test_high_leg_of_a_panel(sketch: Any, edition: int) -> None:
    """408.3(E), 110.15: on phase B, orange or tagged, the equipment marked. On which phase it is, is measured."""
    s = system(sketch, "240D/120-HL", status="new")
    asked = found(s, "HL-1", "MDP", edition)
    assert asked.state == "unknown"
    assert len(asked.needs) == 3
    s = change(s, "MDP", high_leg_identified=True, system_marked=True, voltages=(HIGH_ON["B"],))
    assert found(s, "HL-1", "MDP", edition).state == "pass"
    assert found(change(s, "MDP", high_leg_identified=False), "HL-1", "MDP", edition).state == "fail"
    s = change(s, "MDP", high_leg_identified=True, voltages=(HIGH_ON["C"],))
    assert found(s, "HL-1", "MDP", edition).state == "fail"
    assert found(change(s, "MDP", status="existing"), "HL-1", "MDP", edition).state == "judge"


@pytest.mark.parametrize(("measured", "bad"), [(None, 3), ("B", 3), ("C", 5), ("A", 1)])
def test_no_load_to_neutral_on_the_high_leg(sketch: Any, circuit: Any, measured: str | None, bad: int) -> None:
    """rules.md HL-1: no one-pole 120 V load on the high leg. Spaces 1, 3, 5 are phases A, B, C (408.3(E)); where the leg was
    measured, that phase counts."""
    rows = tuple(circuit(space=n, va=1000, trip_a=20) for n in (1, 3, 5))
    s = system(sketch, "240D/120-HL", circuits=rows, voltages=(HIGH_ON[measured],) if measured else ())
    (hit,) = [v for v in panels.verdicts(s.context()) if v.rule == "HL-1"]
    assert hit.state == "fail"
    assert f"Circuit {bad} is on the high leg" in hit.message
    leg = measured or "B"
    for phase in "ABC":
        t = system(sketch, "240D/120-HL", voltages=(HIGH_ON[measured],) if measured else ())
        t.put("load", "Lamp", va=100, phases=phase)
        t.joint("MDP", "Lamp")
        hits = [v for v in special_systems.verdicts(t.context()) if v.rule == "HL-1" and v.subject == "Lamp"]
        assert [v.state for v in hits] == (["fail"] if phase == leg else [])


def test_two_pole_loads_on_the_high_leg_are_no_fault(sketch: Any, circuit: Any) -> None:
    rows = (circuit(space=3, poles=2, va=1000, trip_a=20),)
    s = system(sketch, "240D/120-HL", circuits=rows)
    assert not [v for v in panels.verdicts(s.context()) if v.rule == "HL-1"]


# ----------------------------------------------------------------------------------------------- corner-grounded
CORNER_B = VoltageReading(when="2026-03-01", ab_v=480, bc_v=480, ca_v=480, ag_v=480, bg_v=0, cg_v=480)


@EDITIONS
def test_no_fuse_in_the_grounded_phase(sketch: Any, edition: int) -> None:
    """rules.md CG-1: no fuse in the grounded phase, except fuses that are the overload protection of a motor (430.36)."""
    s = system(sketch, "480D-CG")
    s.put("disconnect", "Switch", form="fused switch", rating_a=200, trip_a=200, poles=3)
    s.put("load", "Heater", va=20_000, phases="ABC", load_class="heat")
    s.chain("MDP", "Switch", "Heater")
    assert found(s, "CG-1", "Switch", edition).state == "unknown"
    assert found(change(s, "Switch", grounded_pole_solid=True), "CG-1", "Switch", edition).state == "pass"
    s = change(s, "Switch", grounded_pole_solid=False)
    assert found(s, "CG-1", "Switch", edition).state == "judge"  # existing
    assert found(change(s, "Switch", status="new"), "CG-1", "Switch", edition).state == "fail"
    assert found(change(s, "Switch", poles=2), "CG-1", "Switch", edition).state == "pass"
    # Two poles on A and B, with B grounded: one of them is in the grounded phase.
    s = change(change(s, "Switch", poles=2, phases="AB"), "MDP", voltages=(CORNER_B,))
    assert found(s, "CG-1", "Switch", edition).state == "fail"
    s = change(s, "Switch", phases="CA")
    assert found(s, "CG-1", "Switch", edition).state == "pass"
    s = change(change(s, "Switch", phases="ABC", poles=3), "Heater", load_class="motor")
    assert found(s, "CG-1", "Switch", edition).state == "judge"


@pytest.mark.parametrize("code", ["480D-CG", "240D-CG", "480D", "240D"])
def test_systems_without_a_neutral_have_no_loads_to_it(sketch: Any, circuit: Any, code: str) -> None:
    s = system(sketch, code, status="new", circuits=(circuit(space=1, va=100), circuit(space=2, poles=2, va=100)))
    rule = "CG-1" if code.endswith("CG") else "UG-1"
    (hit,) = [v for v in special_systems.verdicts(s.context()) if v.rule == rule and "one pole" in v.message]
    assert (hit.state, hit.message.startswith("Circuit 1 has one pole")) == ("fail", True)


def test_testing_to_ground_proves_nothing_on_a_corner_grounded_panel(sketch: Any) -> None:
    """rules.md SW-6: line to ground zero proves nothing there."""
    s = system(sketch, "480D-CG", voltages=(CORNER_B,))
    hit = found(s, "CG-1", "MDP")
    assert (hit.state, "phase B reads nothing to ground while it is live" in hit.message) == ("advice", True)


@pytest.mark.parametrize(("rating_ka", "one_pole_ka", "state"), [
    (22, None, "judge"), (65, None, "judge"), (10, None, "fail"), (22, 10, "fail"), (22, 18, "pass"), (None, None, None),
])  # fmt: skip
def test_one_pole_alone(sketch: Any, rating_ka: float | None, one_pole_ka: float | None, state: str | None) -> None:
    """240.85 note, in the trade 87 % of the interrupting rating: 20 kA three-phase is 17.3 kA through one pole."""
    s = system(sketch, "480D-CG")
    s.put("disconnect", "F1", trip_a=100, rating_a=100, interrupting_ka=rating_ka, single_pole_ka=one_pole_ka, poles=3)
    s.joint("MDP", "F1")
    hits = [v for v in special_systems.verdicts(s.context()) if v.rule == "FLT-11" and v.subject == "F1"]
    assert [v.state for v in hits] == ([state] if state else [])
    if hits:
        assert hits[0].value == pytest.approx(20_000 * 3**0.5 / 2, rel=1e-3)


def test_one_pole_of_the_breakers_in_a_panel(sketch: Any) -> None:
    """The weakest breaker of a schedule, by the same 87 %: 17.3 kA through one pole."""
    for ka, state in ((10, "fail"), (18, "fail"), (22, "judge"), (None, None)):
        hits = [
            v for v in special_systems.verdicts(system(sketch, "480D-CG", breakers_ka=ka).context())
            if v.rule == "FLT-11" and v.subject == "MDP"
        ]  # fmt: skip
        assert [v.state for v in hits] == ([state] if state else [])


# ---------------------------------------------------------------------------------------------------- ungrounded
@EDITIONS
def test_ground_detectors(sketch: Any, edition: int) -> None:
    """250.21(B), (C): detectors on ungrounded systems of 120 V to 1000 V, and equipment marked."""
    s = system(sketch, "480D", status="new")
    assert found(s, "GND-8", "Pole", edition).state == "unknown"
    s = change(s, "MDP", ground_detector=False, system_marked=True)
    assert found(s, "GND-8", "Pole", edition).state == "fail"
    s = change(s, "MDP", ground_detector=True)
    assert found(s, "GND-8", "Pole", edition).state == "pass"
    assert found(change(s, "MDP", system_marked=False), "GND-8", "Pole", edition).state == "fail"
    assert not [
        v for v in special_systems.verdicts(system(sketch, "480Y/277").context()) if v.rule in ("GND-8", "UG-1")
    ]


@pytest.mark.parametrize(
    ("lamps", "volts", "state", "phase"),
    [
        ("all alike", None, "advice", ""), ("B dark", None, "fail", "Phase B"), (None, (480, 480, 3), "fail", "Phase C"),
        (None, (277, 277, 277), "advice", ""), (None, None, "advice", ""),
    ],
)  # fmt: skip
def test_the_first_ground_fault(
    sketch: Any, lamps: str | None, volts: tuple[int, ...] | None, state: str, phase: str
) -> None:
    """rules.md GND-8: healthy, each phase reads alike to ground; one near nothing and the others at line voltage is a fault.
    A second one acts as a short circuit between phases (UG-1)."""
    read = ()
    if volts:
        a, b, c = volts
        read = (VoltageReading(when="2026-03-01", ab_v=480, bc_v=480, ca_v=480, ag_v=a, bg_v=b, cg_v=c),)
    s = system(sketch, "480D", detector_lamps=lamps, voltages=read)
    hit = found(s, "UG-1", "Pole")
    assert (hit.state, phase in hit.message) == (state, True)
    assert "short circuit between phases" in hit.message


# ---------------------------------------------------------------------------------------- measured and regrounded
def test_measured_voltages_are_held_against_the_drawing(sketch: Any) -> None:
    """A transformer's secondary is told by the transformer, not by the service."""
    s = system(sketch, "480Y/277")
    s.put("transformer", "T1", kva=75, primary_system="480Y/277", secondary_system="208Y/120", connection="delta-wye")
    s.put("bus", "LP", rating_a=225)
    s.chain("MDP", "T1", "LP")
    volts = VoltageReading(when="2026-03-01", ab_v=208, bc_v=208, ca_v=208, an_v=120, bn_v=120, cn_v=120)
    assert found(change(s, "LP", voltages=(volts,)), "GND-9", "LP").state == "pass"
    wrong = found(change(s, "T1", secondary_system="240D/120-HL"), "GND-9", "LP")
    assert (wrong.state, wrong.message.startswith("The system entered for T1")) == ("fail", True)


def test_changing_how_a_system_is_grounded_is_an_engineers_work(sketch: Any) -> None:
    """rules.md ISO-1."""
    s = sketch()
    s.put("service", "Old pole", system="480D", status="remove")
    s.put("service", "New pole", system="480Y/277", status="new")
    s.put("disconnect", "Main", trip_a=400, rating_a=400, service_disconnect=True)
    s.put("bus", "MDP", rating_a=400)
    s.joint("Old pole", "Main", status="remove")
    s.joint("New pole", "Main", status="new")
    s.joint("Main", "MDP")
    hit = found(s, "ISO-1", "MDP")
    assert (hit.state, "engineer" in hit.message) == ("judge", True)
    same = change(s, "New pole", system="480D")
    assert not [v for v in special_systems.verdicts(same.context()) if v.rule == "ISO-1"]


@EDITIONS
def test_every_answer_reads_well(sketch: Any, circuit: Any, edition: int) -> None:
    for code in ("240D/120-HL", "480D-CG", "480D", "208Y/120"):
        s = system(sketch, code, circuits=(circuit(space=1, va=100), circuit(space=3, va=100)))
        s.put("disconnect", "F", form="fused switch", rating_a=100, trip_a=100, status="new")
        s.joint("MDP", "F")
        for verdict in study(s.drawing, edition=edition).verdicts:
            text = f"{verdict.message} {verdict.remedy}"
            assert "None" not in text
            assert "safe" not in text.casefold()
            assert verdict.needs or verdict.state != "unknown", verdict
