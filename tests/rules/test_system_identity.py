"""Systems identified by their voltages: phasors as the oracle.

A system is a set of phasors to ground; what a meter reads between two conductors is the length of their difference. Drawn
with a line voltage a few percent off and readings a few tenths of a percent off, the true system must always be among those
that fit, and alone once everything is measured.
"""

from __future__ import annotations

import cmath
import random
from math import pi

import pytest

from oneline.rules.common import Subject
from oneline.rules.system_identity import PAIRS, Fit, identify, measured_system

TURN = cmath.exp(2j * pi / 3)
PANEL = Subject("p", "Panel 1")


def phasors(fit: Fit, line_v: float) -> dict[str, complex]:
    """Conductors of a system to ground, volts; ground itself is 0."""
    wye = {p: line_v / 3**0.5 * TURN**-k for k, p in enumerate("ABC")}
    if fit.code in ("208Y/120", "480Y/277", "600Y/347"):
        return {**wye, "N": 0j, "G": 0j}
    if fit.code in ("120/240-1",):
        return {"A": complex(line_v / 2), "B": complex(-line_v / 2), "N": 0j, "G": 0j}
    if fit.code == "208/120-1":
        return {"A": wye["A"], "B": wye["B"], "N": 0j, "G": 0j}
    if fit.code == "120-1":
        return {"A": complex(line_v), "N": 0j, "G": 0j}
    if fit.high_leg:
        one, other = (p for p in "ABC" if p != fit.high_leg)
        middle = (wye[one] + wye[other]) / 2
        return {**{p: v - middle for p, v in wye.items()}, "N": 0j, "G": 0j}
    if fit.grounded:
        return {**{p: v - wye[fit.grounded] for p, v in wye.items()}, "G": 0j}
    return {**wye, "G": 0j}  # ungrounded, healthy: the middle floats at ground


SYSTEMS = [
    (Fit("208Y/120"), 208), (Fit("480Y/277"), 480), (Fit("600Y/347"), 600), (Fit("120/240-1"), 240), (Fit("208/120-1"), 208),
    (Fit("120-1"), 120), (Fit("240D/120-HL", high_leg="A"), 240), (Fit("240D/120-HL", high_leg="B"), 240),
    (Fit("240D/120-HL", high_leg="C"), 240), (Fit("240D-CG", grounded="A"), 240), (Fit("480D-CG", grounded="B"), 480),
    (Fit("240D"), 240), (Fit("480D"), 480),
]  # fmt: skip


def readings(fit: Fit, nominal: float, rng: random.Random) -> dict[str, float]:
    at = phasors(fit, nominal * rng.uniform(0.95, 1.05))
    return {
        name: abs(at[a] - at[b]) * rng.uniform(0.995, 1.005)
        for name, (a, b) in PAIRS.items() if a in at and b in at
    }  # fmt: skip


@pytest.mark.parametrize(("fit", "nominal"), SYSTEMS, ids=lambda x: getattr(x, "words", str(x)))
def test_every_system_is_among_those_that_fit_its_readings(fit: Fit, nominal: float) -> None:
    rng = random.Random(7)
    for _ in range(800):
        volts = readings(fit, nominal, rng)
        assert fit in identify(volts).fits, volts
        some = {k: v for k, v in volts.items() if rng.random() < 0.6}
        if any(v > 1 for v in some.values()):
            assert fit in identify(some).fits, some


@pytest.mark.parametrize(
    ("fit", "nominal"),
    [s for s in SYSTEMS if s[0].code not in ("240D", "480D", "120-1")],
    ids=lambda x: getattr(x, "words", str(x)),
)
def test_all_readings_leave_one_system(fit: Fit, nominal: float) -> None:
    """With a nominal line voltage and everything measured. A corner that reads nothing to ground may be a ground fault on an
    ungrounded system instead: voltages alone never tell those two apart."""
    at = {"A", "B", "C", "N", "G"} & set(phasors(fit, nominal))
    # What is not there reads nothing.
    volts = {k: 0.0 for k, (a, b) in PAIRS.items() if not {a, b} <= at and "N" in at}
    volts |= readings(fit, nominal, random.Random(1))
    found = identify(volts)
    others = {f.code for f in found.fits} - {fit.code}
    assert others == ({fit.code.removesuffix("-CG")} if fit.grounded else set())
    assert [f for f in found.fits if f.code == fit.code] == [fit]
    if fit.grounded:
        assert "bonding jumper" in found.settle[-1]


def test_a_grounded_phase_on_an_ungrounded_system() -> None:
    """Detector light logic: one phase near nothing and the others at line voltage."""
    found = identify({"ab_v": 480, "bc_v": 482, "ca_v": 479, "ag_v": 481, "bg_v": 2, "cg_v": 480})
    assert (set(found.codes), found.phase) == ({"480D", "480D-CG"}, "B")


def test_a_drifting_neutral_point_is_an_ungrounded_system_only() -> None:
    """Three unequal voltages to ground, any two together at least the line voltage: a triangle's sides."""
    assert identify({"ab_v": 480, "bc_v": 480, "ca_v": 480, "ag_v": 300, "bg_v": 210, "cg_v": 330}).codes == ("480D",)
    # 100 V and 100 V to ground cannot be 480 V apart.
    assert identify({"ab_v": 480, "bc_v": 480, "ca_v": 480, "ag_v": 100, "bg_v": 100, "cg_v": 300}).fits == ()


def test_an_open_neutral() -> None:
    """Right between the phases, unequal to the neutral, together still the line voltage."""
    found = identify({"ab_v": 240, "an_v": 85, "bn_v": 155})
    assert found.trouble == "open neutral"
    verdict = measured_system(PANEL, 2023, "120/240-1", "today", {"ab_v": 240, "an_v": 85, "bn_v": 155})
    assert verdict is not None
    assert (verdict.state, "Stop work" in verdict.message) == ("fail", True)


@pytest.mark.parametrize("edition", [2017, 2020, 2023, 2026])
@pytest.mark.parametrize(
    ("entered", "volts", "state"),
    [
        ("208Y/120", {"ab_v": 208, "bc_v": 208, "ca_v": 208, "an_v": 120, "bn_v": 120, "cn_v": 120}, "pass"),
        ("240D/120-HL", {"ab_v": 208, "bc_v": 208, "ca_v": 208, "an_v": 120, "bn_v": 120, "cn_v": 120}, "fail"),
        # Without a third phase measured, 208/120 V may be single-phase.
        ("208Y/120", {"ab_v": 208, "an_v": 120, "bn_v": 120}, "unknown"),
        # On two legs nobody can measure a third one.
        ("208/120-1", {"ab_v": 208, "an_v": 120, "bn_v": 120}, "pass"),
        ("120/240-1", {"ab_v": 240, "an_v": 120, "bn_v": 121}, "pass"),
        ("120/240-1", {"ab_v": 240}, "unknown"),
        (None, {"ab_v": 480, "bc_v": 480, "ca_v": 480, "an_v": 277}, "advice"),
        (None, {"ab_v": 240}, "unknown"),
        ("208Y/120", {"ab_v": 300, "bc_v": 300, "ca_v": 300}, "unknown"),
        # Between 208 V and 240 V: both nominal voltages are within the tolerance.
        ("240D", {"ab_v": 222, "bc_v": 222, "ca_v": 222}, "unknown"),
    ],
)  # fmt: skip
def test_against_the_system_entered(entered: str | None, volts: dict[str, float], state: str, edition: int) -> None:
    verdict = measured_system(PANEL, edition, entered, "2026-01-02 10:00", volts)
    assert verdict is not None
    assert verdict.state == state
    assert verdict.needs or state not in ("unknown",)


def test_nothing_measured_says_nothing() -> None:
    assert measured_system(PANEL, 2023, "208Y/120", "today", {"ab_v": None}) is None
    assert identify({"ab_v": 0}).fits == ()


@pytest.mark.parametrize(
    ("off", "fits"), [(0.0999, True), (0.1, True), (0.1001, False), (-0.1, True), (-0.1001, False)]
)
def test_tolerance_is_exact(off: float, fits: bool) -> None:
    """A tenth off the nominal voltage still counts (practice, from memory; the worksheet says so)."""
    v = 480 * (1 + off)
    volts = {"ab_v": v, "bc_v": v, "ca_v": v, "an_v": v / 3**0.5, "bn_v": v / 3**0.5, "cn_v": v / 3**0.5}
    assert ("480Y/277" in identify(volts).codes) is fits
