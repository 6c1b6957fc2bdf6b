"""Words for numbers, comparisons with bounds, and the weakest basis."""

from __future__ import annotations

import pytest

from oneline.rules.common import (
    Fact,
    Subject,
    amperes,
    at_least,
    at_most,
    bounded_amperes,
    bounds,
    compared,
    computed,
    existing_work,
    feet_inches,
    judged,
    number,
    size_text,
    weakest,
)


@pytest.mark.parametrize(
    ("length_ft", "rounding", "text"),
    [
        (12 + 4 / 12, "nearest", "12 ft 4 in"), (10, "nearest", "10 ft"), (0.5, "nearest", "6 in"), (0, "nearest", "0 ft"),
        (10.001, "up", "10 ft 1/4 in"), (10.0000000001, "up", "10 ft"), (9.999, "down", "9 ft 11-3/4 in"),
        (5.5625, "nearest", "5 ft 6-3/4 in"), (None, "nearest", "not measured"),
    ],
)  # fmt: skip
def test_feet_and_inches(length_ft: float | None, rounding: str, text: str) -> None:
    assert feet_inches(length_ft, rounding) == text


def test_numbers_that_differ_read_differently() -> None:
    assert amperes(1600 / 3) == "533 A"
    assert amperes(1600 / 3, 533.0) == "533.3 A"
    assert amperes(1600 / 3, 533.3) == "533.33 A"
    assert amperes(56.25) == "56.2 A"
    assert amperes(200.0) == "200 A"
    assert number(58_436.0) == "58,436"
    assert size_text("4/0", "copper") == "4/0 AWG copper"
    assert size_text("500", "aluminum", 2) == "2 x 500 kcmil aluminum"


@pytest.mark.parametrize(
    ("value", "limit", "state"),
    [
        (Fact(200.0), Fact(200.0), "pass"), (Fact(199.9), Fact(200.0), "fail"), (Fact(533.3), Fact(1600 / 3), "fail"),
        (Fact(533.0), Fact(1600 / 3), "fail"), (Fact(None, 210.0), Fact(200.0), "pass"),
        (Fact(None, None, 190.0), Fact(200.0), "fail"), (Fact(None, 150.0, 250.0), Fact(200.0), "unknown"),
        (Fact(None), Fact(200.0), "unknown"), (Fact(200.0), Fact(None, None, 200.0), "pass"),
    ],
)  # fmt: skip
def test_at_least_with_bounds(value: Fact, limit: Fact, state: str) -> None:
    assert at_least(value, limit, "").state == state
    # "at most" is the same question asked from the other side.
    assert at_most(limit, value, "").state == state


def test_the_weakest_basis_and_the_assumption_are_carried() -> None:
    assert weakest("nameplate", "assumed", "measured") == "assumed"
    found = judged(
        "TAP-10", Subject("r", "Tap"), 2023,
        [at_least(Fact(10.0, basis="assumed", name="ampacity of Tap"), Fact(5.0, basis="nameplate"), "It holds.")],
    )  # fmt: skip
    assert (found.state, found.basis) == ("pass", "assumed")
    assert found.message == "It holds (assumed: ampacity)."


def test_existing_failures_become_questions() -> None:
    found = judged("RWY-1", Subject("r", "Tap"), 2023, [at_most(Fact(2.0), Fact(1.0), "Too full.")])
    assert existing_work(found, "existing").state == "judge"
    assert existing_work(found, "new").state == "fail"


def test_a_worksheet_line_is_its_formula() -> None:
    line = computed("Hypotenuse", "sqrt(a ** 2 + b ** 2)", "ft", a=3, b=4)
    assert line.value == 5


def test_bounds_are_rounded_to_their_own_side() -> None:
    """Arithmetic: 295.91 A left is not "at least 296 A", 104.09 A of load is not "at most 104 A"."""
    words = compared(Fact(None, 80.0, 104.09), Fact(400.0), "over", "left", most=True)
    assert words is not None
    assert (words.value, words.gap, words.limit) == ("at most 105 A", "at least 295 A left", "400 A")
    assert bounds(Fact(None, 10.18, 11.13), "kA") == "between 10.1 kA and 11.2 kA"
    assert bounded_amperes(Fact(None, None, 104.09)) == "at most 105 A"
    assert bounded_amperes(Fact(None, 104.9)) == "at least 104 A"


@pytest.mark.parametrize(
    ("load_a", "gap"),
    [
        (124.3, "275 A left"), (453.04, "53.1 A over"), (400 - 0.04, "0.04 A left"), (400.04, "0.1 A over"),
        (300, "100 A left"),
    ],
)  # fmt: skip
def test_what_is_left_is_rounded_down_and_what_is_over_up(load_a: float, gap: str) -> None:
    words = compared(Fact(load_a), Fact(400.0), "over", "left", most=True)
    assert words is not None
    assert words.gap == gap


@pytest.mark.parametrize(
    ("drop_pct", "limit_pct", "unit"),
    [(0.04, 3, "%"), (0.99, 3, "%"), (4.14, 3, "%"), (3.04, 3, "%"), (29.64, 65, "kA"), (65.06, 65, "kA")]
)  # fmt: skip
def test_what_is_written_adds_up(drop_pct: float, limit_pct: float, unit: str) -> None:
    """Arithmetic: a reader who takes one of the numbers written from the other gets the third: not "0 %, 2.9 % below the
    3 %"."""
    words = compared(Fact(drop_pct), Fact(limit_pct), "above", "below", unit, most=True)
    assert words is not None
    value, gap, limit = (float(text.split()[0]) for text in (words.value, words.gap, words.limit))
    assert gap == pytest.approx(abs(value - limit), abs=1e-9)
    assert gap > 0
