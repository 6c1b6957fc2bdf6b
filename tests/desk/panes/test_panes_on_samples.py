"""The panes over the worked samples, with the real study: nothing changes by looking, and what is shown is what was found."""

from __future__ import annotations

import math
import re
from itertools import pairwise

import pytest

from oneline.assets import sample
from oneline.desk.panes import CircuitsPane, DetailsPane, FieldCheckPane, FiguresPane, FindingsPane
from oneline.desk.panes.findingrows import finding_rows
from oneline.desk.panes.worksheet import as_text, with_numbers
from oneline.files import read_drawing
from oneline.model import Bus
from oneline.rules.verdict import STATES
from oneline.session import Session

from .conftest import NoteTakingHost

SAMPLES = ("cannery", "bindery")


@pytest.fixture(scope="module", params=SAMPLES)
def studied(request) -> Session:
    session = Session(read_drawing(sample(f"{request.param}.oneline")).drawing)
    session.study_of("existing")
    session.study_of("proposed")
    return session


def test_every_item_can_be_looked_at_and_nothing_changes(studied, show):
    host = NoteTakingHost(studied)
    before = studied.drawing
    shown = [
        show(c(studied, host), 900, 400) for c in (DetailsPane, FindingsPane, FiguresPane, CircuitsPane, FieldCheckPane)
    ]
    for view in ("existing", "proposed"):
        studied.set_view(view)
        for item_id in before.items:
            studied.select([item_id])
            for pane in shown:
                pane.refresh_now()
    studied.select([])
    assert studied.drawing is before
    assert studied.undo_label is None
    assert host.said == []


def test_no_finding_is_lost_in_the_list(studied):
    verdicts = studied.study.verdicts
    rows = finding_rows(verdicts, STATES)
    wanted = [v for v in verdicts if not (v.alternative and v.state == "not_applicable")]
    assert sorted(id(r.verdict) for r in rows) == sorted(id(v) for v in wanted)


def test_rules_tried_stand_under_a_finding_of_the_same_item(studied):
    rows = finding_rows(studied.study.verdicts, STATES)
    for above, row in pairwise(rows):
        if row.under and not above.under:
            assert above.verdict.subject == row.verdict.subject or row.verdict.rule.startswith("LOAD")


def test_formulas_with_their_numbers_give_the_value_beside_them(studied):
    """What a reader would reckon from the line: numbers are shown to six digits, so it must agree to 1 in 10,000."""
    names = {"sqrt": math.sqrt, "min": min, "max": max, "abs": abs}
    checked = 0
    for verdict in studied.study.verdicts:
        for line in verdict.work:
            if not line.formula:
                continue
            shown = with_numbers(line.formula, line.inputs).replace("×", "*").replace("^", "**").replace("√", "sqrt")
            assert not re.search(r"[A-Za-z_]{2,}", re.sub(r"sqrt|min|max|abs|e[-+]\d+", "", shown)), shown
            assert eval(shown, {"__builtins__": {}}, names) == pytest.approx(line.value, rel=1e-4, abs=1e-6), shown
            checked += 1
    assert checked > 50


def test_worksheets_never_call_anything_safe(studied):
    for verdict in studied.study.verdicts:
        assert not re.search(r"\bsafe\b", as_text(verdict, studied.drawing.name_of), re.IGNORECASE), verdict.rule


def test_directory_shows_every_circuit_of_the_view(studied, show):
    pane = show(CircuitsPane(studied, NoteTakingHost(studied)), 1300, 500)
    for bus in studied.drawing.of(Bus):
        studied.select([bus.id])
        pane.refresh_now()
        shown = {s.circuit.space for s in pane.model.slots.values() if s.circuit is not None}
        assert {c.space for c in bus.circuits if c.status in ("existing", "new")} <= shown
