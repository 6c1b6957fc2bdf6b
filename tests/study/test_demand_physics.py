"""Line currents of loads against physics: power is conserved through every transformer, and Kirchhoff's laws hold.

The checks use Ohm's and Kirchhoff's laws on the systems' own voltages, not the formulas of the product.
"""

from __future__ import annotations

import random
from math import sqrt

import numpy as np
import pytest

from oneline.study.phasors import amperes_per_va, phase_volts, transfer_matrix

WYE = ("208Y/120", "480Y/277", "600Y/347")
THREE = (*WYE, "240D", "480D", "240D/120-HL")
SETS = ("A", "B", "C", "AB", "BC", "AC", "ABC")


def currents(rng: random.Random, code: str) -> tuple[np.ndarray, float]:
    """Line currents of a handful of random loads, and their volt-amperes."""
    total, va = np.zeros(3, complex), 0.0
    for _ in range(rng.randint(1, 6)):
        share = amperes_per_va(code, rng.choice(SETS))
        if share is not None:
            size = rng.uniform(100, 20_000)
            total += np.array(share) * size
            va += size
    return total, va


@pytest.mark.parametrize("code", THREE)
@pytest.mark.parametrize("phases", SETS)
def test_a_load_takes_its_volt_amperes(code: str, phases: str) -> None:
    """S = sum of V x conj(I), with all power factors alike: real, and the load's own. Nominal volts differ by 0.1 %."""
    share = amperes_per_va(code, phases)
    if share is None:
        assert len(phases) == 1
        assert not code.endswith(("120", "277", "347", "HL"))
        return
    volts = np.array(phase_volts(code))
    power = np.sum(volts * np.conj(share))
    assert power.real == pytest.approx(1, rel=2e-3)
    assert abs(power.imag) < 2e-3
    if len(phases) > 1:
        assert abs(sum(share)) < 2e-3 * max(abs(s) for s in share)  # nothing on the neutral


@pytest.mark.parametrize(
    ("code", "phases", "amperes"),
    [
        ("208Y/120", "A", 10), ("208Y/120", "AB", 1200 / 208), ("208Y/120", "ABC", 1200 / (208 * sqrt(3))),
        ("480Y/277", "B", 1200 / 277), ("120/240-1", "AB", 5), ("120/240-1", "B", 10), ("208/120-1", "AB", 1200 / 208),
        ("240D/120-HL", "B", 1200 / 208), ("240D/120-HL", "C", 10), ("240D/120-HL", "ABC", 1200 / (240 * sqrt(3))),
        ("240D", "BC", 5), ("120-1", "A", 10),
    ],
)  # fmt: skip
def test_current_of_one_load(code: str, phases: str, amperes: float) -> None:
    """Ohm's law at nominal volts, 1,200 VA: VA/V, and VA/(V sqrt 3) for three phases."""
    share = amperes_per_va(code, phases)
    assert share is not None
    assert [abs(s) * 1200 for s in share if abs(s) > 1e-12] == pytest.approx([amperes] * len(phases))


@pytest.mark.parametrize("connection", ["delta-wye", "wye-wye", "delta-delta", "wye-delta"])
@pytest.mark.parametrize("forward", [True, False])
def test_power_passes_a_transformer(connection: str, forward: bool) -> None:
    """What goes in comes out, whatever the unbalance: 200 random loadings."""
    rng = random.Random(connection + str(forward))
    kind = connection if forward else "-".join(reversed(connection.split("-")))
    for _ in range(200):
        above = rng.choice(WYE if kind.startswith("wye") else THREE)
        below = rng.choice(WYE if kind.endswith("wye") else ("240D", "480D", "240D/120-HL"))
        matrix = transfer_matrix(connection, forward, above, below, "ABC")
        assert matrix is not None
        down, _ = currents(rng, below)
        up = matrix @ down
        power_up = np.sum(np.array(phase_volts(above)) * np.conj(up))
        power_down = np.sum(np.array(phase_volts(below)) * np.conj(down))
        assert power_up == pytest.approx(power_down, rel=3e-3, abs=1)
        if kind != "wye-wye":  # no neutral on the way in: Kirchhoff's current law on three wires
            assert abs(up.sum()) < 3e-3 * max(np.abs(up).max(), 1e-9)


@pytest.mark.parametrize(("line_phases", "volts"), [("AB", 480), ("BC", 480), ("A", 277)])
def test_single_phase_transformer(line_phases: str, volts: float) -> None:
    """VA over the primary voltage, in the two (or one) conductors it is connected to and nowhere else."""
    matrix = transfer_matrix("single-phase", True, "480Y/277", "120/240-1", line_phases)
    assert matrix is not None
    down = np.array(amperes_per_va("120/240-1", "A")) * 5000 + np.array(amperes_per_va("120/240-1", "AB")) * 7000
    up = matrix @ down
    assert {p: round(abs(v), 3) for p, v in zip("ABC", up, strict=True) if abs(v) > 1e-9} == pytest.approx(
        dict.fromkeys(line_phases, 12_000 / volts), rel=2e-3
    )


def test_delta_wye_single_phase_load() -> None:
    """A line-to-neutral load on a delta-wye is a line-to-line load on the primary: VA / V line to line in two lines."""
    matrix = transfer_matrix("delta-wye", True, "480Y/277", "208Y/120", "ABC")
    up = np.abs(matrix @ np.array(amperes_per_va("208Y/120", "A")) * 12_000)
    assert sorted(up) == pytest.approx([0, 12_000 / 480, 12_000 / 480], rel=2e-3, abs=1e-9)


def test_unknown_division_is_none() -> None:
    assert transfer_matrix("single-phase", True, "480Y/277", "120/240-1", "ABC") is None
    assert transfer_matrix("delta-wye", True, None, "208Y/120", "ABC") is None


def test_sum_of_a_drawing_against_adding_one_by_one(service, circuit) -> None:
    """Every load walked up to the service on its own, with demand factors that are all 1, gives the same phasor sum."""
    rng = random.Random(5)
    s = service("480Y/277", 2000, 2000)
    for k in range(3):
        s.put("disconnect", f"F{k}", trip_a=200)
        s.put(
            "transformer",
            f"T{k}",
            kva=75,
            primary_system="480Y/277",
            secondary_system="208Y/120",
            connection="delta-wye",
        )
        lines = [
            circuit(space=n, poles=rng.choice((1, 1, 1, 2)), va=rng.uniform(200, 3000), load_class="heat")
            for n in (1, 2, 7, 8, 13, 14, 19, 20)
        ]  # fmt: skip
        s.put("bus", f"P{k}", rating_a=225, circuits=tuple(lines))
        s.joint("MDP", f"F{k}")
        s.joint(f"F{k}", f"T{k}")
        s.joint(f"T{k}", f"P{k}")
    ctx = s.context()
    matrix = transfer_matrix("delta-wye", True, "480Y/277", "208Y/120", "ABC")
    expected = np.zeros(3, complex)
    for entry in ctx.demand.entries:
        assert entry.va is not None
        expected += matrix @ np.array(amperes_per_va("208Y/120", entry.phases)) * entry.va
    found = ctx.demand.load_a(ctx.net.node("MDP"))
    assert found == pytest.approx(dict(zip("ABC", np.abs(expected), strict=True)))
    assert ctx.demand.kva(ctx.net.node("MDP")) == pytest.approx(sum(e.va for e in ctx.demand.entries) / 1000)


@pytest.mark.parametrize(("circuit_phases", "open_"), [("A", True), ("ABC", False)])
def test_an_unknown_connection_is_the_range_of_those_there_are(sketch, circuit_phases: str, open_: bool) -> None:
    """12 kVA from A to neutral at 208Y/120: behind a delta-wye 12 kVA / 480 V on two lines, 25 A each; behind a wye-wye
    12 kVA / 277 V on one, 43.3 A. A balanced load is the same behind both."""

    def feeder(connection):
        s = sketch()
        s.put("service", "U", system="480Y/277")
        s.put("bus", "Head", rating_a=100)
        s.put(
            "transformer", "T1", kva=75, primary_system="480Y/277", secondary_system="208Y/120", connection=connection
        )
        s.put("load", "L", va=12_000, phases=circuit_phases, load_class="heat", continuous=False)
        s.chain("U", "Head", "T1", "L")
        return s.context()

    ctx = feeder(None)
    at = ctx.net.node("Head")
    found = ctx.demand.bounds(at)
    low, high = {}, {}
    for connection in ("delta-wye", "wye-wye"):
        for phase, bound in feeder(connection).demand.bounds(at).items():
            assert found[phase].high is not None
            assert bound.high is not None
            assert found[phase].low - 1e-9 <= bound.low <= bound.high <= found[phase].high + 1e-9
            low[phase], high[phase] = min(low.get(phase, 1e9), bound.low), max(high.get(phase, 0), bound.high)
    if open_:
        assert found["A"].low == pytest.approx(12_000 / 480, rel=1e-3)
        assert found["A"].high == pytest.approx(12_000 / 277.13, rel=1e-3)
        assert "connection of T1" in ctx.demand.needs(at)
    else:
        assert found["A"].value == pytest.approx(12_000 / 480 / 3**0.5)
        assert ctx.demand.needs(at) == ()
    assert ctx.demand.kva(at) == pytest.approx(12)
