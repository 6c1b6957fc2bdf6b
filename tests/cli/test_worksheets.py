"""Worksheets in JSON can be reckoned again: the formula with the inputs given is the value given, to the last digits."""

from __future__ import annotations

import json
import math
import random
from collections import Counter
from pathlib import Path

import pytest

import oneline
from oneline.cli.record import verdict_record
from oneline.rules.formula import evaluate

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.oneline"))


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.stem)
def test_inputs_are_not_rounded(path: Path, reckoned_again) -> None:
    """Reckoned by the parser and the decimal numbers of tests/conftest.py, not by the program's own evaluation."""
    study = oneline.check(oneline.open(path))
    lines = [line for v in study.verdicts for line in json.loads(json.dumps(verdict_record(v)))["work"]]
    reckoned = [line for line in lines if line["formula"]]
    assert len(reckoned) > 100
    for line in reckoned:
        assert reckoned_again(line["formula"], line["inputs"]) == pytest.approx(line["value"], rel=1e-12, abs=1e-12), (
            line
        )


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.stem)
@pytest.mark.parametrize("view", ["existing", "proposed"])
def test_the_line_that_decides_gives_the_figure_of_the_finding(path: Path, view: str, worksheet_checked) -> None:
    named: Counter[str] = Counter()
    for found in oneline.check(oneline.open(path), view=view).verdicts:
        named[found.rule] += worksheet_checked(found)
    for rule in ("VD", "OCP-4B", "FLT-1", "FLT-2", "PNL-1", "RWY-1", "GND-1", "SVC-7", "AMP-1", "CAP"):
        assert named[rule] > 0, rule
    assert named.total() > 100


@pytest.mark.parametrize(
    ("formula", "inputs", "value"),
    [
        # School arithmetic: order of operations, powers from the right, the minus in front below the power.
        ("2 + 3 * 4", {}, 14), ("(2 + 3) * 4", {}, 20), ("20 - 4 - 3", {}, 13), ("100 / 5 / 2", {}, 10),
        ("2 ** 3 ** 2", {}, 512), ("-2 ** 2", {}, -4), ("2 ** -1", {}, 0.5), ("a * -b", {"a": 3, "b": 2}, -6),
        ("min(a, b) + max(a, b, 9)", {"a": 3, "b": 5}, 12), ("sqrt(r ** 2 + x ** 2)", {"r": 3, "x": 4}, 5),
        ("abs(a - b)", {"a": 1, "b": 4}, 3), ("a - (b - c)", {"a": 9, "b": 5, "c": 3}, 7),
    ],
)  # fmt: skip
def test_both_ways_of_reckoning_keep_the_rules_of_arithmetic(formula, inputs, value, reckoned_again) -> None:
    assert reckoned_again(formula, inputs) == value
    assert evaluate(formula, inputs) == value


def test_both_ways_agree_on_random_formulas(reckoned_again) -> None:
    rng = random.Random(7)

    def make(depth: int) -> str:
        if depth == 0:
            return rng.choice(["a", "b", "c", "1.25", "3", "0.5"])
        left, right = make(depth - 1), make(rng.randrange(depth))
        return rng.choice([
            f"{left} + {right}", f"({left}) * ({right})", f"({left} - {right}) / 7", f"{left} - ({right})",
            f"min({left}, {right})", f"max({left}, {right}, 2)", f"sqrt(abs({left}))", f"({left}) ** 2", f"-({left})",
        ])  # fmt: skip

    for _ in range(300):
        formula = make(rng.randrange(1, 5))
        inputs = {name: rng.uniform(0.1, 50) for name in "abc"}
        wanted = evaluate(formula, inputs)
        # Differences of nearly equal numbers lose digits of the floats, hence the absolute tolerance.
        scale = 1e-9 * max(1.0, abs(wanted))
        assert math.isclose(reckoned_again(formula, inputs), wanted, rel_tol=1e-9, abs_tol=scale), formula


def test_a_wrong_worksheet_is_found(worksheet_checked) -> None:
    """The check itself can fail: a value that its formula does not give, and a line that does not give the verdict."""
    from dataclasses import replace

    found = next(
        v for v in oneline.check(oneline.open(SAMPLES[0])).verdicts if v.rule == "RWY-1" and v.value is not None
    )
    assert worksheet_checked(found) == 1
    at = next(k for k, line in enumerate(found.work) if line.formula)
    with pytest.raises(AssertionError):
        replace(found.work[at], value=found.work[at].value * 1.001)
    with pytest.raises(AssertionError):
        replace(found, value=found.value + 0.1)
