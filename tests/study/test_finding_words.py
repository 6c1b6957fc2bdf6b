"""What findings say, over the samples and over drawings with facts knocked out: a sentence to read aloud, no more."""

from __future__ import annotations

import random
import re
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import pytest

from oneline import api
from oneline.model import Drawing
from oneline.rules.verdict import Verdict
from oneline.study import study

SAMPLES = Path(__file__).resolve().parents[2] / "samples"
#: Fields whose knocking out makes another drawing, not an unknown.
KEPT = {
    "id", "name", "a", "b", "basis", "circuits", "readings", "demand", "notes", "location", "status", "position",
    "rotation", "bends", "points", "poles", "space", "spaces", "kind", "form",
}  # fmt: skip
#: These are about a person's question to the whole drawing or to the record, not about one item by name.
WITHOUT_NAME = {"LOAD-1"}


def knocked(drawing: Drawing, rng: random.Random) -> Drawing:
    """The drawing with up to eighty facts unknown, changed or assumed."""
    for _ in range(rng.randint(5, 80)):
        item = rng.choice(list(drawing.items.values()))
        known = [f.name for f in fields(item) if f.name not in KEPT and getattr(item, f.name) is not None]
        if not known:
            continue
        name = rng.choice(known)
        value: Any = getattr(item, name)
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if number and name not in ("sets", "current_carrying") and rng.random() < 0.6:
            value = value * rng.choice([0.25, 0.5, 2, 4])
            basis = {**item.basis, name: "assumed"} if rng.random() < 0.3 else item.basis
            drawing = drawing.with_items([replace(item, **{name: value, "basis": basis})])
        elif isinstance(value, bool | int | float | str):
            drawing = drawing.with_items([replace(item, **{name: None})])
    return drawing


def studied() -> list[Verdict]:
    found: list[Verdict] = []
    for sample in sorted(SAMPLES.glob("*.oneline")):
        drawing = api.open(sample)
        for view in ("existing", "proposed"):
            for edition in (2017, 2020, 2023, 2026):
                found += study(drawing, view, edition).verdicts
        for seed in range(12):
            found += study(knocked(drawing, random.Random(seed)), "proposed", 2023).verdicts
    return found


@pytest.fixture(scope="module")
def verdicts() -> list[Verdict]:
    return studied()


def test_one_sentence_and_at_most_a_short_one(verdicts: list[Verdict]) -> None:
    """Each finding: one sentence a foreman can read aloud, and at most one more."""
    for verdict in verdicts:
        text = re.sub(r"\(assumed: [^()]*\)", "", verdict.message)
        said = re.split(r"(?<=[.]) (?=[A-Z0-9])", text)
        assert len(said) <= 2, verdict.message
        assert len(set(said)) == len(said), verdict.message
        assert verdict.message.endswith("."), verdict.message
        assert len(verdict.message) <= 420, verdict.message


def test_the_item_is_named_and_nothing_is_a_fragment(verdicts: list[Verdict]) -> None:
    for verdict in verdicts:
        if verdict.rule not in WITHOUT_NAME:
            assert verdict.name in verdict.message, (verdict.rule, verdict.message)
        for wrong in ("None", "  ", " ,", "..", "unknown current", " of .", " nan", " inf "):
            assert wrong not in verdict.message, (verdict.rule, verdict.message)
        assert "safe" not in verdict.message.lower()


def test_not_known_is_said_once_and_names_what_to_find_out(verdicts: list[Verdict]) -> None:
    for verdict in verdicts:
        text = re.sub(r"\(assumed: .*\)", "", verdict.message)
        assert not re.search(r"not known(?! yet)", text), (verdict.rule, verdict.message)
        assert text.count("not known yet") <= 1, (verdict.rule, verdict.message)
        if verdict.state == "unknown":
            assert verdict.needs, (verdict.rule, verdict.message)
            assert any(t in text for t in ("known yet", "nobody traced", "known so far")), verdict.message


def test_needs_are_short_noun_phrases(verdicts: list[Verdict]) -> None:
    for verdict in verdicts:
        assert len(set(verdict.needs)) == len(verdict.needs)
        for need in verdict.needs:
            assert not need.endswith("."), need
            assert need[:1].islower() or need.startswith(("X/R", "kVA")), need


def test_remedies_tell_what_to_do(verdicts: list[Verdict]) -> None:
    verbs = {
        "Use", "Add", "Take", "Fit", "Move", "Put", "Open", "Change", "Correct", "Shorten", "Find", "Pull", "Keep", "Get",
        "Record", "Say", "Connect", "On", "End", "Limit", "Run", "Have", "Bond",
    }  # fmt: skip
    for verdict in verdicts:
        if verdict.remedy:
            assert verdict.remedy.split()[0] in verbs, verdict.remedy
            assert verdict.remedy.endswith("."), verdict.remedy


def test_a_failure_says_how_far_outside(verdicts: list[Verdict]) -> None:
    """Where two numbers are compared and fail, the sentence says by how much."""
    failing = [
        v for v in verdicts if v.state == "fail" and v.value is not None and v.limit is not None and v.unit == "A"
    ]
    assert len(failing) > 20
    for verdict in failing:
        assert re.search(r"\d[\d.,]* (A|kA) (more|less|over|above|below|inside)|over by|exactly", verdict.message), (
            verdict.message
        )
