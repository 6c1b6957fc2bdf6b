"""The field-check list: what a fact decides is counted right, and a phrase is tied to the field that answers it."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import pytest
from random_service import random_service

from oneline import api
from oneline.model import Bus, Drawing, Project, specs
from oneline.model.items import KINDS
from oneline.rules.verdict import Verdict
from oneline.study import StudyResult, study
from oneline.study.fieldchecks import Need, field_checks, settles
from oneline.study.missing import Missing, Phrases

SAMPLES = Path(__file__).resolve().parents[2] / "samples"


def drawing_of(*names: str) -> Drawing:
    items = [KINDS["disconnect"](id=f"d{n}", name=name) for n, name in enumerate(names)]
    return Drawing(Project()).with_items(items)


def result_of(*findings: tuple[str, str, tuple[str, ...]], **more: Any) -> StudyResult:
    verdicts = tuple(Verdict(rule, "1", 2023, "d0", "Ax", state, "M.", needs=needs) for rule, state, needs in findings)
    return StudyResult(2023, "proposed", {}, verdicts, (), **more)


def test_the_last_missing_fact_decides_and_others_bring_nearer() -> None:
    """Counted by hand: the trip of Bx decides two findings and brings a third nearer; the rating of Ax only brings nearer."""
    result = result_of(
        ("X-1", "unknown", ("trip rating of Bx",)),
        ("X-2", "unknown", ("trip rating of Bx",)),
        ("X-3", "unknown", ("trip rating of Bx", "interrupting rating of Ax")),
    )
    groups = field_checks(result, drawing_of("Ax", "Bx"))
    assert [(g.name, [(n.decides, n.nearer) for n in g.needs]) for g in groups] == [("Bx", [(2, 1)]), ("Ax", [(0, 1)])]
    assert settles(groups[0].needs[0]) == "2 findings, 1 more with others"
    assert settles(groups[1].needs[0]) == "1 with others"


def test_of_equals_the_dangerous_one_comes_first() -> None:
    """An interrupting rating (110.9) before a voltage drop."""
    result = result_of(("VD", "unknown", ("trip rating of Ax",)), ("FLT-1", "unknown", ("interrupting rating of Ax",)))
    needs = field_checks(result, drawing_of("Ax"))[0].needs
    assert [n.phrase for n in needs] == ["interrupting rating of Ax", "trip rating of Ax"]


def test_what_no_field_answers_stands_last_in_its_group() -> None:
    result = result_of(
        ("X-1", "unknown", ("history of Ax",)), ("X-2", "unknown", ("history of Ax",)),
        ("X-3", "unknown", ("trip rating of Ax",)),
    )  # fmt: skip
    needs = field_checks(result, drawing_of("Ax"))[0].needs
    assert [(n.phrase, n.field) for n in needs] == [("trip rating of Ax", "trip_a"), ("history of Ax", "")]


def test_two_phrases_about_one_field_are_one_fact() -> None:
    result = result_of(("X-1", "unknown", ("trip rating of Ax", "fuse rating of Ax")))
    needs = field_checks(result, drawing_of("Ax"))[0].needs
    assert [(n.phrase, n.decides) for n in needs] == [("trip rating of Ax", 1)]


def test_rules_tried_beside_others_count_through_their_summary() -> None:
    verdict = Verdict("TAP-10", "1", 2023, "d0", "Ax", "unknown", "M.", needs=("trip rating of Ax",), alternative=True)
    result = StudyResult(2023, "proposed", {}, (verdict,), ())
    assert field_checks(result, drawing_of("Ax"))[0].needs[0].findings == 0


@pytest.mark.parametrize(
    ("phrase", "field"),
    [
        ("length of Tap", "length_ft"), ("conductor size of Tap", "size"), ("neutral size of Tap", "neutral_size"),
        ("equipment grounding conductor of Tap", "egc_size"), ("material of the grounding conductor of Tap", "egc_material"),
        ("trade size of the raceway of Tap", "raceway_size"), ("raceway of Tap", "raceway"),
        ("number of current-carrying conductors in the raceway of Tap", "current_carrying"),
        ("number of sets of Tap in one raceway", ""), ("sizes of all conductors in the raceway of Tap", ""),
    ],
)  # fmt: skip
def test_phrases_about_conductors(phrase: str, field: str) -> None:
    run = KINDS["run"](id="r", name="Tap", a=None, b=None, sets=None)  # type: ignore[call-arg]
    assert Phrases(Drawing(Project()).with_items([run])).missing(phrase, "r") == Missing("r", field)


def unknown_drawings() -> list[Drawing]:
    """Samples and random services, each with a dozen facts taken away."""
    found = [api.open(p) for p in sorted(SAMPLES.glob("*.oneline"))] + [random_service(n, 0) for n in range(2)]
    return [forgetful(d, random.Random(n)) for n, d in enumerate(found)]


def forgetful(drawing: Drawing, rng: random.Random) -> Drawing:
    kept = {"id", "name", "a", "b", "kind", "form", "status", "place", "bends", "notes", "location", "poles", "space"}
    for _ in range(12):
        item = rng.choice(list(drawing.items.values()))
        known = [f.name for f in fields(item) if f.name in specs(type(item)) and getattr(item, f.name) is not None]
        nullable = [n for n in known if n not in kept and not isinstance(getattr(item, n), bool)]
        if nullable:
            drawing = drawing.with_items([replace(item, **{rng.choice(nullable): None})])
    return drawing


VALUES: dict[str, tuple[Any, ...]] = {
    "current_a": (60.0, 400.0), "fault_ka": (22.0,), "length_ft": (8.0,), "temperature_c": (75.0, 30.0), "count": (3, 1),
    "percent": (15.0,), "power_va": (1000.0,), "power_kva": (75.0,), "flag": (False, True), "size": ("3/0", "none"),
    "text": ("2", "1-1/4"), "ratio": (2.0,), "spaces": (42,), "horsepower": (10.0,),
}  # fmt: skip


#: Phrases that ask for several facts at once; the first of them alone does not answer them.
SEVERAL = ("clear depth", "where ", "ground-fault protection", "way of reducing", "cross section")


def needs_of(drawing: Drawing) -> set[str]:
    return {n for v in study(drawing).verdicts for n in v.needs}


def test_entering_the_field_answers_the_phrase() -> None:
    """Whatever the list ties to a field is no longer asked for when the field is entered (some value of its kind)."""
    tied: Counter[bool] = Counter()
    for drawing in unknown_drawings():
        asked = needs_of(drawing)
        one_each = {
            (n.field, drawing.get(n.item).kind): n
            for g in field_checks(study(drawing), drawing)
            for n in g.needs
            if n.field
        }
        for need in one_each.values():
            if need.phrase in asked and not need.phrase.startswith(SEVERAL):
                tied[True] += 1
                assert answered(drawing, need), (need.phrase, need.field)
        tied[False] += sum(not n.field for g in field_checks(study(drawing), drawing) for n in g.needs)
    assert tied[True] > 15, tied


def answered(drawing: Drawing, need: Need) -> bool:
    item = drawing.get(need.item)
    if need.space is not None:
        assert isinstance(item, Bus)
        values: tuple[Any, ...] = {"va": (500.0,), "trip_a": (20.0,), "wire_size": ("12",), "traced": ("traced",)}[
            need.field
        ]
        rows = [
            tuple(replace(c, **{need.field: v}) if c.space == need.space else c for c in item.circuits) for v in values
        ]
        changed = [replace(item, circuits=r) for r in rows]
    else:
        spec = specs(type(item))[need.field]
        changed = [replace(item, **{need.field: v}) for v in spec.choices or VALUES[spec.quantity]]
    return any(need.phrase not in needs_of(drawing.with_items([c])) for c in changed)
