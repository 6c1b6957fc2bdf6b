"""The oracle of the load calculation against published worked examples. Sources are named beside each."""

from __future__ import annotations

import by_hand_loads as hand
import pytest


def test_store_building() -> None:
    """NEC Annex D, Example D3 (2005-era reprint): 80 duplex receptacles at 180 VA, 9,000 VA of lighting, 30 ft of show
    window at 200 VA, sign 1,200 VA, 120/240 V: 12,200, 16,200, 28,400 VA; 32,450 VA and 135 A as counted."""
    receptacles = hand.receptacles_va(80 * 180)
    assert receptacles == 12_200
    continuous = 3 * 50 * 60 + 30 * 200 + 1_200
    assert continuous == 16_200
    assert receptacles + continuous == 28_400
    assert hand.counted_va(continuous, receptacles) == pytest.approx(32_450)
    assert hand.counted_va(continuous, receptacles) / 240 == pytest.approx(135, abs=0.5)


def test_receptacles_and_multioutlet() -> None:
    """Trade forum quoting a textbook: 15,300 VA of receptacles and 4,860 VA of fixed multioutlet make 15,080 VA."""
    assert hand.receptacles_va(15_300 + 4_860) == 15_080


def test_elevators() -> None:
    """NEC Annex D, Example D10: six drives at 133 A, controllers 10 A continuous each: 630 A and 75 A make 705 A."""
    assert hand.elevators_a([133] * 6, 0) == pytest.approx(630, abs=0.5)
    assert hand.elevators_a([133] * 6, 60) == pytest.approx(705, abs=0.5)


def test_motors() -> None:
    """EC&M on 430.62: 20 hp (27 A) and 10 hp (14 A), 460 V, inverse-time breakers: 48 A; devices 70 A and 35 A."""
    assert hand.motors_a([27, 14]) == pytest.approx(48, abs=0.5)
    standard = (15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100)
    assert [hand.branch_device_a(a, 2.5, standard) for a in (27, 14)] == [70, 35]


def test_air_conditioner() -> None:
    """EC&M Code Q&A: 24 A compressor: 30 A."""
    assert hand.hvac_conductor_a(24) == 30


def test_noncoincident_loads() -> None:
    """Code-proposal text, 2023-2026 cycle: 110 A without a motor against a 100 A motor: the motor controls, 125 A."""
    assert hand.noncoincident([(110, 0), (100, 100)]) == 125


@pytest.mark.parametrize(
    ("pieces", "expected"),
    [([10] * 2, 20), ([10] * 3, 27), ([10] * 6, 39), ([20, 20, 1], 40), ([30, 20, 1, 1, 1, 1], 50)],
)
def test_kitchen(pieces: list[float], expected: float) -> None:
    """Table 220.56: 90 % for three (from memory), 65 % for six; never below the two largest (EC&M quiz)."""
    assert hand.kitchen_va(pieces) == pytest.approx(expected)
