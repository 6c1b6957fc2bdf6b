"""Worksheets in JSON can be reckoned again: the formula with the inputs given is the value given, to the last digits."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import oneline
from oneline.cli.record import verdict_record
from oneline.rules.formula import evaluate

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.oneline"))


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.stem)
def test_inputs_are_not_rounded(path: Path) -> None:
    study = oneline.check(oneline.open(path))
    lines = [line for v in study.verdicts for line in json.loads(json.dumps(verdict_record(v)))["work"]]
    reckoned = [line for line in lines if line["formula"]]
    assert len(reckoned) > 100
    for line in reckoned:
        assert evaluate(line["formula"], line["inputs"]) == pytest.approx(line["value"], rel=1e-12, abs=1e-12)
