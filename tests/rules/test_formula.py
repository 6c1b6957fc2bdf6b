"""Worksheet formulas: the value is that of ordinary arithmetic, and nothing else can be written in one."""

from __future__ import annotations

from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oneline.rules.common import computed
from oneline.rules.formula import evaluate

NUMBERS = st.floats(min_value=0.125, max_value=1e6)


@given(NUMBERS, NUMBERS, NUMBERS)
def test_the_same_as_arithmetic(a: float, b: float, c: float) -> None:
    """Against Python's own arithmetic, precedence and brackets included."""
    values = {"a": a, "b": b, "c": c}
    assert evaluate("a + b * c - a / b", values) == a + b * c - a / b
    assert evaluate("(a + b) * c", values) == (a + b) * c
    assert evaluate("-a + sqrt(b) * 1.25", values) == -a + sqrt(b) * 1.25
    assert evaluate("max(a, b, c) - min(a, b) + abs(a - b)", values) == max(a, b, c) - min(a, b) + abs(a - b)


def test_powers_bind_as_in_mathematics() -> None:
    assert evaluate("2 ** 3 ** 2", {}) == 512
    assert evaluate("-2 ** 2", {}) == -4
    assert evaluate("sqrt(a ** 2 + b ** 2)", {"a": 3, "b": 4}) == 5
    assert computed("Rated current", "kva * 1000 / (sqrt(3) * volts)", kva=75, volts=480).value == pytest.approx(
        90.2, abs=0.02
    )


@pytest.mark.parametrize(
    "formula",
    [
        "__import__('os')", "a.real", "a[0]", "(lambda: 1)()", "open('x')", "[1, 2]", "'text'", "True", "a if b else c",
        "a == b", "a and b", "max(a, key=b)", "min(*a)", "sqrt()", "a :=1", "1 +", "", "a // b", "a % b", "abs",
    ],
)  # fmt: skip
def test_anything_else_is_refused(formula: str) -> None:
    with pytest.raises((ValueError, KeyError)):
        evaluate(formula, {"a": 1.0, "b": 2.0, "c": 3.0})


def test_a_name_without_a_number_is_loud() -> None:
    with pytest.raises(KeyError, match="volts"):
        evaluate("kva / volts", {"kva": 1.0})
