"""``oneline plan``: what it prints, what it refuses, and its schema."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from outage_example import ZONE, example, hard, not_here, ropewalk

import oneline
from oneline.api import questions
from oneline.assets import resource
from oneline.cli.plan_record import plan_report, schema_text
from oneline.cli.plan_report import report
from oneline.files import to_bytes
from oneline.model import Drawing
from oneline.model.cautions import CAUTIONS, ZONE_CAUTION
from oneline.outage.results import OrderProblem, Plan
from oneline.start import main

UTC = "2026-03-31T14:05:00Z"


@pytest.fixture
def hall(tmp_path: Path) -> str:
    path = tmp_path / "hall.oneline"
    drawing, _ = ropewalk()
    path.write_bytes(to_bytes(replace(drawing, next_number=1000), UTC))
    return str(path)


@pytest.fixture
def schema() -> Any:
    return json.loads(resource("schema", "plan.schema.json").read_text(encoding="utf-8"))


def planned_as(monkeypatch: pytest.MonkeyPatch, change: Callable[[Plan], Plan]) -> None:
    """The command gets a plan written by hand."""
    import oneline.outage.plan as engine

    def make_plan(drawing: Drawing, zone: str, view: str | None = None, edition: int | None = None) -> Plan:
        return change(example()[1])

    monkeypatch.setattr(engine, "make_plan", make_plan)
    assert questions.plan_outage


def test_without_a_zone_they_are_listed(hall: str, capsys: pytest.CaptureFixture[str], schema: Any) -> None:
    assert main(["plan", hall]) == 0
    said = capsys.readouterr().out
    assert f"{ZONE}  New lugs on the main distribution board, begins 2026-04-18 06:00" in said
    assert "worked on: Main distribution board" in said
    assert main(["plan", hall, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    jsonschema.validate(found, schema)
    assert found["zones"][0]["items"][0]["name"] == "Main distribution board"


def test_a_file_without_zones_says_what_to_do(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "empty.oneline"
    path.write_bytes(to_bytes(Drawing(), UTC))
    assert main(["plan", str(path)]) == 0
    assert "No outage is planned" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--zone", "zone1"], "No planned outage is named zone1. There are: zone900 New lugs"),
        (["--items", "Nothing"], "No single item is named Nothing"),
        (["--pdf", "x.pdf"], "No planned outage is named"),
        (["--zone", ZONE, "--pdf", "x.png"], "Papers are PDF files"),
        (["--zone", ZONE, "--items", "Elevator"], "cannot be carried out"),
        (["--zone", ZONE, "--paper", "poster"], "cannot be carried out"),
    ],
)
def test_bad_calls_are_refused_in_words(
    hall: str, capsys: pytest.CaptureFixture[str], more: list[str], said: str
) -> None:
    assert main(["plan", hall, *more]) == 2
    assert said in capsys.readouterr().err


def test_a_plan_of_the_file_in_text_json_and_on_paper(
    hall: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], schema: Any
) -> None:
    """By hand: the service comes in at Main M1 alone, so Main M1 has to open whatever else does. Of the array, nobody can
    make it dead but by its own switch, and the array feeds the board."""
    main(["plan", hall, "--zone", ZONE])
    said = capsys.readouterr().out
    for words in ("Main M1", "Array switch", ZONE_CAUTION[:60], CAUTIONS[0], "Isolation points", "Restore"):
        assert words in said, words
    assert all(len(line) <= 112 for line in said.splitlines())
    code = main(["plan", hall, "--zone", "New lugs on the main distribution board", "--json"])
    found = json.loads(capsys.readouterr().out)
    jsonschema.validate(found, schema)
    assert {"Main M1", "Array switch"} <= {p["name"] for p in found["plan"]["isolation"]["points"]}
    assert found["view"] == "existing"
    assert code == (0 if found["holds"] else 1)
    out = tmp_path / "plan.pdf"
    assert main(["plan", hall, "--zone", ZONE, "--pdf", str(out), "--paper", "order", "--size", "a4"]) == code
    assert out.read_bytes().startswith(b"%PDF")
    assert "Written" in capsys.readouterr().out


def test_items_without_a_zone_leave_the_file_as_it_is(hall: str, capsys: pytest.CaptureFixture[str]) -> None:
    before = Path(hall).read_bytes()
    main(["plan", hall, "--items", "Panel SP, standby,Elevator", "--json"])
    found = json.loads(capsys.readouterr().out)
    drawing = oneline.open(hall)
    assert [drawing.name_of(i) for i in found["plan"]["answer"]["zone"]["items"]] == ["Panel SP, standby", "Elevator"]
    assert Path(hall).read_bytes() == before


OUTCOMES: list[tuple[Callable[[Plan], Plan], int]] = [
    (lambda p: p, 0),
    (lambda p: not_here(Drawing(), p), 1),
    (lambda p: replace(p, answer=replace(p.answer, state="unknown", unknown=("The loft is not traced.",))), 1),
    (lambda p: replace(p, answer=replace(p.answer, missing=("bus77",))), 1),
    (lambda p: replace(p, steps=(replace(p.steps[0], state="fail", why="It cannot open this."), *p.steps[1:])), 1),
    (lambda p: replace(p, steps=(replace(p.steps[0], state="unknown", why="Nobody said."), *p.steps[1:])), 0),
    (lambda p: replace(p, problems=(OrderProblem(p.steps[0].key, "The main opens before its feeders."),)), 1),
]  # fmt: skip


@pytest.mark.parametrize(("change", "code"), OUTCOMES)
def test_exit_codes(
    hall: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], change: Callable[[Plan], Plan],
    code: int, schema: Any,
) -> None:  # fmt: skip
    planned_as(monkeypatch, change)
    assert main(["plan", hall, "--zone", ZONE, "--json"]) == code
    found = json.loads(capsys.readouterr().out)
    jsonschema.validate(found, schema)
    assert found["holds"] == (code == 0)
    assert main(["plan", hall, "--zone", ZONE]) == code
    assert ZONE_CAUTION.split(":")[0] in " ".join(capsys.readouterr().out.split())


def test_the_report_says_everything_that_is_not_known() -> None:
    drawing, plan = hard(*example())
    said = " ".join(report("x", drawing, plan).split())
    for sentence in (
        *plan.answer.unknown,
        *plan.answer.listed,
        plan.problems[0].says,
        *plan.spares[0].says.split(". "),
    ):
        assert sentence in said
    assert "bus77" in said
    assert "not verified" not in said.casefold(), "nothing is called dead where it is not known"
    drawing, plan = example()
    said = " ".join(report("x", drawing, plan).split())
    assert "Not verified" in said
    assert "HOLD" in said
    assert "at most 225 A" in said


def test_the_schema_is_up_to_date_and_strict(schema: Any) -> None:
    text = resource("schema", "plan.schema.json").read_text(encoding="utf-8")
    assert text == schema_text(), "run: python -m oneline.cli.plan_record"
    jsonschema.Draft202012Validator.check_schema(schema)
    drawing, plan = example()
    record = json.loads(json.dumps(plan_report("x", drawing, plan, 2023)))
    jsonschema.validate(record, schema)
    for spoil in (
        lambda r: r.pop("cautions"),
        lambda r: r["plan"]["steps"][0].update(state="fine"),
        lambda r: r["plan"]["answer"].update(state="safe"),
        lambda r: r["plan"]["steps"][4]["current"].update(amperes="61"),
        lambda r: r["plan"]["cards"][0]["pairs"][0].pop("expected"),
        lambda r: r["plan"].update(more=1),
    ):
        bad = copy.deepcopy(record)
        spoil(bad)
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(bad, schema)


def test_from_python(hall: str, tmp_path: Path) -> None:
    drawing = oneline.open(hall)
    plan = oneline.plan_outage(drawing, ZONE)
    assert plan.answer.zone == drawing.zone(ZONE)
    oneline.print_outage(drawing, tmp_path / "all.pdf", plan, "notice", printed_at=None)
    assert (tmp_path / "all.pdf").read_bytes().startswith(b"%PDF")
    with pytest.raises(KeyError):
        oneline.plan_outage(drawing, "zone1")
    with pytest.raises(ValueError, match="view"):
        oneline.plan_outage(drawing, ZONE, "future")
