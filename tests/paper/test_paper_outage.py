"""The papers of an outage: what must stand on them, nothing over another, nothing off the page, no word too much.

The plan is written by hand (``outage_example``). What has to be on such papers is the issue's list and common practice of
switching orders (two persons, hold points, back-out point), no single source.
"""

from __future__ import annotations

import io
import itertools
import re
from datetime import datetime
from functools import cache

import pypdf
import pytest
from campus import campus
from outage_example import PAIRS, example, hard, not_here

import oneline
from oneline.assets import sample
from oneline.model import Bus, Drawing, WorkZone
from oneline.model.cautions import CAUTIONS, ZONE_CAUTION
from oneline.outage.plan import make_plan
from oneline.outage.results import Plan
from oneline.paper.door import Document
from oneline.paper.outage import PAPERS_OF_AN_OUTAGE, plan_outage_papers
from oneline.sheet.display import Text
from oneline.sheet.metrics import text_box

WHEN = datetime(2026, 4, 1, 9, 0)
SIZES = ("letter", "a4", "tabloid")
CASES = ("plain", "hard", "not here")
#: Letters that are part of a symbol.
SYMBOL_LETTERS = ("kWh",)
#: The sample with the plan that the program makes.
SAMPLE = "sample"


def case(name: str) -> tuple[Drawing, Plan]:
    if name == SAMPLE:
        drawing = oneline.open(sample("cannery.oneline"))
        return drawing, make_plan(drawing, drawing.zones[0].id)
    drawing, plan = example()
    if name == "hard":
        return hard(drawing, plan)
    return drawing, not_here(drawing, plan) if name == "not here" else plan


@cache
def printed(which: str, name: str = "plain", size: str = "letter") -> Document:
    drawing, plan = case(name)
    return plan_outage_papers(
        drawing, plan, which, size, edition=2023, printed_at=WHEN, file_name="ropewalk.oneline"
    )  # fmt: skip


@cache
def pages(which: str, name: str = "plain", size: str = "letter") -> list[str]:
    reader = pypdf.PdfReader(io.BytesIO(printed(which, name, size).pdf()))
    return [" ".join(page.extract_text().split()) for page in reader.pages]


def boxes(document: Document, diagram: bool) -> list[list[tuple[tuple[float, float, float, float], str]]]:
    """Boxes of all words of each page, in points; of the diagram's layer only if wanted."""
    out = []
    for page in document.pages:
        found = []
        for layer in page.layers:
            if layer.scale != 1.0 and not diagram:
                continue
            for p in layer.primitives:
                if isinstance(p, Text):
                    left, top, right, bottom = text_box(p)
                    k, dx, dy = layer.scale, layer.dx, layer.dy
                    found.append(((dx + k * left, dy + k * top, dx + k * right, dy + k * bottom), p.text))
        out.append(found)
    return out


EVERY = list(itertools.product(PAPERS_OF_AN_OUTAGE, (*CASES, SAMPLE), SIZES))


@pytest.mark.parametrize(("which", "name", "size"), EVERY)
def test_cautions_and_page_numbers_on_every_page(which: str, name: str, size: str) -> None:
    texts = pages(which, name, size)
    for number, text in enumerate(texts, 1):
        assert all(caution in text for caution in CAUTIONS)
        assert f"{number} of {len(texts)}" in text


@pytest.mark.parametrize(("which", "name", "size"), EVERY)
def test_nothing_leaves_the_page(which: str, name: str, size: str) -> None:
    document = printed(which, name, size)
    for page, found in zip(document.pages, boxes(document, True), strict=True):
        for (left, top, right, bottom), text in found:
            assert left >= 20, text
            assert right <= page.width - 20, text
            assert top >= 20, text
            assert bottom <= page.height - 20, text


@pytest.mark.parametrize(("which", "name", "size"), EVERY)
def test_no_words_over_others(which: str, name: str, size: str) -> None:
    """Two lines of text may touch by descenders (a tenth of a line), not more."""
    for found in boxes(printed(which, name, size), False):
        found = sorted(found, key=lambda b: b[0][1])
        for n, (a, one) in enumerate(found):
            for b, other in found[n + 1 :]:
                if b[1] >= a[3]:
                    break
                wide = min(a[2], b[2]) - max(a[0], b[0])
                high = min(a[3], b[3]) - max(a[1], b[1])
                assert wide <= 0.6 or high <= 0.12 * (a[3] - a[1]) + 0.3, (one, other)


@pytest.mark.parametrize(("which", "name", "size"), EVERY)
def test_words_are_large_enough_and_never_promise_anything(which: str, name: str, size: str) -> None:
    document = printed(which, name, size)
    for page in document.pages:
        for layer in page.layers:
            for p in layer.primitives:
                if isinstance(p, Text) and len(p.text) > 2 and p.text not in SYMBOL_LETTERS:
                    assert p.size * layer.scale >= 6.3, p.text
    text = " ".join(pages(which, name, size)).casefold()
    assert not re.search(r"\bsafe(ly|ty)?\b", text)


@pytest.mark.parametrize("which", ["order", "brief", "cards"])
@pytest.mark.parametrize("name", CASES)
def test_what_the_drawing_cannot_know_is_said(which: str, name: str) -> None:
    if which == "cards" and name == "not here":
        assert "no test card" in pages(which, name)[0]
        return
    assert ZONE_CAUTION in pages(which, name)[0]


def test_the_order_has_every_step_in_turn_with_what_it_needs() -> None:
    _, plan = example()
    text = " ".join(pages("order"))
    at = 0
    for step in plan.steps:
        found = text.find(f"{step.number} ", at)
        assert found >= 0, step.words
        at = found
        assert step.words in text
        assert step.place in text
    assert text.index("Open Rope shop feeder") < text.index("RESTORE") < text.index("Close Main M1")
    for words in (
        "61.0 A", "clamp reading of 2026-04-11 07:10, phase B", "at most 225 A", "Missing: load of circuit 4", "no current",
        "rated 225 A", "Not known: Nobody said whether it may open under load", "Goes dark: Panel Rope shop",
        "Gets power: Panel Loft studios", "Initials 1", "Initials 2", "Time done", "06:52", "In charge, signature",
        "Second person, signature", "line side stays live from North service", "R. Almond",
        "circuit 7 of Panel Loft studios", "L1", "L2", "L3", "555 0190",
    ):  # fmt: skip
        assert words in text, words
    assert re.findall(r"HOLD after step (\d+)", text) == [str(s.number) for s in plan.steps if s.hold]
    assert re.findall(r"BACK-OUT POINT after step (\d+)", text) == ["14"]
    assert "going on at step 16" in text, "to turn back is to restore"


def test_not_verified_stands_beside_dead_by_the_drawing() -> None:
    for which in ("order", "brief"):
        text = " ".join(pages(which))
        assert "Not verified: only tests at the points of work tell" in text


def test_a_record_of_a_done_step_is_printed() -> None:
    from dataclasses import replace

    from oneline.model import LockRecord, StepMark

    drawing, plan = example()
    zone = replace(
        plan.answer.zone,
        marks=(StepMark(plan.steps[0].key, "QZ", "06:01"),),
        locks=(LockRecord(plan.steps[9].item, "77", "Quince", "06:41"),),
    )
    plan = replace(plan, answer=replace(plan.answer, zone=zone))
    document = plan_outage_papers(drawing, plan, "order", edition=2023, printed_at=WHEN)
    text = " ".join(p.extract_text() for p in pypdf.PdfReader(io.BytesIO(document.pdf())).pages)
    assert "QZ" in text
    assert "06:01" in text
    assert "Quince" in text
    assert "77" in text


def test_a_card_for_each_point_with_all_its_pairs() -> None:
    _, plan = example()
    texts = pages("cards")
    assert len(texts) == 3, "two cards on a page, to be cut apart"
    text = " ".join(texts)
    for card in plan.cards:
        assert f"{card.name}: {card.terminal}" in text
    for pair in PAIRS:
        assert len(re.findall(rf"\b{pair}\b", text)) == len(plan.cards)
    assert (
        text.count("Proved on a live source before") == text.count("Proved on a live source after") == len(plan.cards)
    )
    for words in (
        "208 V: stays live from North service",
        "CAT",
        "Instrument",
        "Tested by",
        "Stays live with every point open",
    ):
        assert words in text
    assert text.count(ZONE_CAUTION) == len(plan.cards), "each card carries it once it is cut off"


def test_short_cards_are_four_on_a_page() -> None:
    from dataclasses import replace

    drawing, plan = example()
    cards = tuple(replace(card, pairs=card.pairs[:6]) for card in plan.cards)
    document = plan_outage_papers(drawing, replace(plan, cards=cards), "cards", edition=2023, printed_at=WHEN)
    assert len(document.pages) == 2


def test_the_notice_is_for_everybody() -> None:
    (text,) = pages("notice")
    # 06:00 and 12 minutes to 204 minutes, away from the outage to full five minutes.
    for words in ("Saturday, April 18, 2026", "from about 6:10 AM until about 9:25 AM", "North hall", "Second floor",
                  "refrigeration", "R. Almond, 555 0134", "Ropewalk Hall, 2 Hemp Lane, Fairhaven", "9:20 AM"):  # fmt: skip
        assert words in text, words
    for jargon in (
        "feeder",
        "isolation",
        "busbar",
        "transfer switch",
        "Main M1",
        "lockout",
        "de-energize",
        "terminal",
        "lugs",
    ):
        assert jargon not in text, jargon
    assert "Main distribution board" not in text, "nobody in the building knows it"


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", CASES)
def test_the_notice_has_one_page(name: str, size: str) -> None:
    document = printed("notice", name, size)
    assert len(document.pages) == 1
    assert any("not everything that goes dark" in note for note in document.notes) == (name == "hard")


def test_times_nobody_knows_are_left_to_be_written_in() -> None:
    (text,) = pages("notice", "hard")
    assert "some Saturday in spring" in text
    assert not re.search(r"\d (AM|PM)", text)


def test_the_brief_has_every_source_and_what_stays_live() -> None:
    text = " ".join(pages("brief"))
    for words in (
        "North service: cut at Main M1 (L1), Electrical room 101", "Roof array: cut at Array switch (L2), Roof hatch",
        "Yard generator: cut at Standby feeder (L3)", "Array switch: line side stays live from Roof array",
        "Electrical room 101, not dead by the drawing: Rope shop feeder", "turn back by going on at step 16",
        "If Main M1 does not close again", "Utility's number for outages 555 0190", "Panel Harbor café, Ground floor west",
        "R. Almond, T. Quince, an apprentice", "Step 8:", "circuit 7 of Panel Loft studios",
    ):  # fmt: skip
        assert words in text, words


def test_where_only_the_utility_can_it_says_so_and_has_no_order() -> None:
    text = " ".join(pages("order", "not here"))
    assert "Only the utility can make this dead" in text
    assert "No switching order is printed" in text
    assert "Only the utility" in " ".join(pages("brief", "not here"))


def test_the_diagram_shows_every_point_open_with_its_lock() -> None:
    last = pages("order")[-1]
    assert "every isolation point open" in last
    for words in ("L1", "L2", "L3", "Main M1", "Array switch", "Standby feeder", "S North service"):
        assert words in last
    assert last.count("open") >= 3 + 1


def test_all_papers_at_once_and_the_same_bytes_again() -> None:
    document = printed("all")
    assert len(document.pages) == sum(len(printed(which).pages) for which in PAPERS_OF_AN_OUTAGE)
    drawing, plan = example()
    again = plan_outage_papers(drawing, plan, "all", edition=2023, printed_at=WHEN, file_name="ropewalk.oneline")
    assert again.pdf() == document.pdf()
    with pytest.raises(ValueError, match="poster"):
        plan_outage_papers(drawing, plan, "poster", edition=2023, printed_at=WHEN)


def test_notes_tell_what_could_not_be_printed() -> None:
    notes = " ".join(printed("order", "hard").notes)
    assert "cannot be printed" in notes
    assert "shortened" in notes
    assert printed("order").notes == ()


def test_where_the_whole_drawing_is_too_large_what_feeds_the_work_is_drawn() -> None:
    """A campus of 400 items: the utility, everything between it and the panel worked on, the panel; the rest as stubs."""
    drawing = campus(400)
    panel = [bus for bus in drawing.of(Bus) if not any(c.feeds for c in bus.circuits)][-1]
    zone = WorkZone(id="zone9000", name="Panel", items=(panel.id,))
    drawing = drawing.with_zone(zone)
    plan = make_plan(drawing, zone.id)
    document = plan_outage_papers(drawing, plan, "order", edition=2023, printed_at=WHEN)
    last = " ".join(list(pypdf.PdfReader(io.BytesIO(document.pdf())).pages)[-1].extract_text().split())
    assert "Only what may feed the work" in last
    assert panel.name in last
    assert "UTILITY" in last
    assert plan.isolation is not None
    for point in plan.isolation.points:
        assert point.name in last
        assert point.lock in last
