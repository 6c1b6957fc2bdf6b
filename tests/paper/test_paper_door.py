"""The door sheet, read back from its PDF with pypdf and as pictures with pdfium."""

from __future__ import annotations

import io
import re
import unicodedata
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pypdf import PdfReader

from oneline.files import read_drawing
from oneline.model import Bus, Disconnect, Drawing, Project
from oneline.model.cautions import CAUTIONS
from oneline.model.edits import add, change
from oneline.paper import PAPERS, Document, door_sheet, plan_door_sheet
from oneline.paper.directory import UNIDENTIFIED, directories_of, panels_not_known
from oneline.paper.facts import faults_of, sources_of
from oneline.paper.pdf import pdf_bytes
from oneline.paper.picture import LEAST_TEXT_PT
from oneline.sheet import Picture, build_picture
from oneline.sheet.display import Text
from oneline.study import study

PRINTED_AT = datetime(2026, 3, 14, 9, 26)


def read(pdf: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(pdf))


def words(pdf: bytes) -> str:
    """All text of a PDF with single spaces."""
    return " ".join(" ".join(page.extract_text() for page in read(pdf).pages).split())


_PLANNED: dict[tuple[int, str, str], Document] = {}


def plan(case: Any, paper: str = "letter", **more: Any) -> Document:
    """The door sheet of a building; laid out once for all tests that only read it."""
    key = (id(case), paper, repr(more))
    if key not in _PLANNED:
        _PLANNED[key] = plan_door_sheet(case.drawing, case.result, case.picture, paper, printed_at=PRINTED_AT, **more)
    return _PLANNED[key]


# ------------------------------------------------------------------------------------------------------------ the file
@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_sheet_sizes(mill, paper: str) -> None:
    """Letter 8.5 x 11 in, tabloid 11 x 17 in (ANSI/ASME Y14.1), A4 210 x 297 mm (ISO 216); upright or sideways."""
    inches = {"letter": (8.5, 11.0), "tabloid": (11.0, 17.0), "a4": (210 / 25.4, 297 / 25.4)}[paper]
    for page in read(plan(mill, paper).pdf()).pages:
        box = page.mediabox
        assert sorted((float(box.width) / 72, float(box.height) / 72)) == pytest.approx(inches, abs=0.001)


def test_unknown_paper_is_refused(mill) -> None:
    with pytest.raises(ValueError, match="a5"):
        plan(mill, "a5")


def test_vector_only_with_embedded_fonts(mill) -> None:
    reader = read(plan(mill).pdf())
    for page in reader.pages:
        assert list(page.images) == []
        fonts = page["/Resources"]["/Font"]
        assert fonts
        for font in fonts.values():
            descriptor = font.get_object()["/FontDescriptor"].get_object()
            assert "/FontFile2" in descriptor, "not embedded"


def test_same_input_same_bytes(mill) -> None:
    first = plan(mill).pdf()
    assert first == plan(mill).pdf()
    assert first == door_sheet(mill.drawing, mill.result, mill.picture, "letter", printed_at=PRINTED_AT)
    later = door_sheet(mill.drawing, mill.result, mill.picture, "letter", printed_at=datetime(2026, 3, 15, 9, 26))
    assert first != later


def test_no_time_of_the_clock_gets_in(mill) -> None:
    information = read(plan(mill).pdf()).metadata
    assert information is not None
    assert information.creation_date is not None
    assert information.creation_date.year == 2000


# ---------------------------------------------------------------------------------------------------------- what it says
@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_cautions_on_every_page(large_mill, paper: str) -> None:
    reader = read(plan(large_mill, paper).pdf())
    assert len(reader.pages) > 1
    for page in reader.pages:
        text = " ".join(page.extract_text().split())
        for caution in CAUTIONS:
            assert caution in text


def test_title_block_on_every_page(large_mill) -> None:
    pdf = plan(large_mill, file_name="mill.oneline").pdf()
    pages = read(pdf).pages
    for number, page in enumerate(pages, 1):
        text = " ".join(page.extract_text().split())
        for value in (
            "Cobble Street Mill", "14 Cobble Street, Fairhaven", "R. Almond", "Almond & Daughters Electric", "C10-000000",
            "555 0134", "B-2291", "2026-03-12", "NFPA 70, 2023", "mill.oneline", "2026-03-14 09:26", "proposed",
            f"{number} of {len(pages)}",
        ):  # fmt: skip
            assert value in text, value


def test_every_source_and_where_it_is_opened(mill) -> None:
    text = words(plan(mill).pdf())
    for name in ("North service", "Roof array", "Yard generator", "South service", "Old conduit"):
        assert name in text
    assert "M1, fused switch 800 A, 800 A fuses" in text
    assert "roof hatch" in text
    assert "only the utility opens it" in text
    assert "Array conductors (dc) stay live in light" in text
    assert "May start by itself" in text
    assert "from Shop panel to an unknown place, not traced" in text


def test_what_stays_live_follows_from_opening_the_device(mill) -> None:
    """By hand: with M1 open the board is live from the array; with the array's switch open it is live from the service;
    the shop's main is live from nothing certain, possibly from the old conduit. The generator has no disconnect of its
    own here, and a transfer switch is none (common practice, no source)."""
    facts = {s.name: s for s in sources_of(mill.drawing, mill.result)}
    letters = {name: s.code for name, s in facts.items()}
    sides = {name: [o.load_side for o in s.openings] for name, s in facts.items()}
    # The transfer switch behind it is automatic: it brings the generator when the service goes.
    assert sides["North service"] == [
        f"stays live from {letters['Roof array']}; beyond ATS-1 possibly live from {letters['Yard generator']}"
    ]
    assert sides["Roof array"] == [f"stays live from {letters['North service']}"]
    assert sides["Yard generator"] == []
    assert "No disconnect is drawn ahead of ATS-1" in " ".join(facts["Yard generator"].always)
    assert sides["South service"] == ["no other certain source; possibly from Old conduit"]
    assert facts["Old conduit"].code == "?"
    assert "safe" not in str(facts).casefold()


def test_source_without_a_device_is_said(mill) -> None:
    drawing = mill.drawing
    main = next(i for i in drawing.of(Disconnect) if i.name == "M2")
    bare = drawing.with_items(removed=[main.id, *(c.id for c in drawing.connections_of(main.id))])
    facts = next(s for s in sources_of(bare, mill.result) if s.name == "South service")
    assert facts.openings == ()
    assert "find it in the field" in " ".join(facts.always)


def test_fault_currents_with_their_date(mill) -> None:
    text = words(plan(mill, "tabloid").pdf())
    assert "calculated 2026-03-14" in text
    assert "14.2 kA" in text
    assert "not known yet" in text
    assert "needs fault current of the South service" in text
    assert "ambient" not in text, "what other figures need does not belong beside the fault current"


def test_unknown_fault_current_is_never_a_number(mill) -> None:
    point = replace(next(iter(mill.result.points.values())), fault_a=None, fault_duty_a=None, fault_bound_a=22_000.0)
    panel = next(b for b in mill.drawing.of(Bus) if b.name == "LP-1")
    result = replace(mill.result, points={**mill.result.points, panel.id: replace(point, id=panel.id)})
    found = {f.name: f for f in faults_of(mill.drawing, result)}
    assert found["LP-1"].value == "not over 22.0 kA"
    assert not found["LP-1"].known
    without = replace(mill.result, points={})
    assert {f.value for f in faults_of(mill.drawing, without)} == {"not known yet"}


# ----------------------------------------------------------------------------------------------------------- directories
def test_directory_has_odd_left_and_even_right(mill) -> None:
    """US panelboard numbering (common practice): odd spaces down the left side, even down the right."""
    for directory in directories_of(mill.drawing, mill.result):
        for n, (left, right) in enumerate(directory.rows):
            assert left is not None
            assert left.number == 2 * n + 1
            assert right is None or right.number == 2 * n + 2


def test_directory_names_every_kind_of_space(mill) -> None:
    found = {d.panel: d for d in directories_of(mill.drawing, mill.result)}
    spaces = {s.number: s for row in found["LP-1"].rows for s in row if s is not None}
    assert len(spaces) == 30
    assert spaces[7].text == UNIDENTIFIED
    assert spaces[7].strong
    assert spaces[22].text == "with 18"
    assert spaces[26].text == "SPACE"
    assert spaces[26].device == ""
    assert spaces[9].device == "60/3"
    assert [spaces[n].text for n in (11, 13)] == ["with 9", "with 9"]
    assert spaces[2].text.endswith("*"), "by its label only"
    assert spaces[1].text == "Receptacles, 102"
    assert found["Bakery panel (N)"].rows[0][0].text == "Oven 1 (N)"  # type: ignore[union-attr]
    assert found["Bakery panel (N)"].rows[9][0].text == "—", "nothing recorded is not called a space"  # type: ignore[union-attr]
    standby = {s.number: s for row in found["SP"].rows for s in row if s is not None}
    assert standby[11].text == "SPARE"
    assert "F8 150/3" in found["MDP"].others
    assert "M1 800/3 (feeds this bus)" in found["MDP"].others
    assert found["LP-2"].heading[1].startswith("Fed from: F2, breaker 225 A, space 2 in MDP")


def test_unidentified_circuits_are_printed_as_such(mill) -> None:
    text = words(plan(mill, "tabloid").pdf())
    count = sum(
        s.text.startswith(UNIDENTIFIED)
        for d in directories_of(mill.drawing, mill.result)
        for r in d.rows
        for s in r
        if s
    )
    assert count >= 8
    assert len(re.findall("UNIDENTIFIED", text)) == count
    assert text.count("SPARE") >= 1
    assert text.count("SPACE") >= 1


def test_untraced_circuits_are_unidentified_whatever_their_label_says(mill) -> None:
    panel = next(b for b in mill.drawing.of(Bus) if b.name == "LP-1")
    guess = replace(panel.circuits[0], description="Probably the pump", traced="untraced")
    drawing = mill.drawing.with_items([replace(panel, circuits=(guess, *panel.circuits[1:]))])
    directory = next(d for d in directories_of(drawing, mill.result) if d.panel == "LP-1")
    assert directory.rows[0][0] is not None
    assert directory.rows[0][0].text == UNIDENTIFIED


def test_two_circuits_in_one_space_are_both_printed(mill) -> None:
    panel = next(b for b in mill.drawing.of(Bus) if b.name == "LP-1")
    double = replace(panel, circuits=(*panel.circuits, replace(panel.circuits[0], description="Sump pump")))
    drawing = mill.drawing.with_items([double])
    directory = next(d for d in directories_of(drawing, mill.result) if d.panel == "LP-1")
    assert directory.rows[0][0] is not None
    assert "Receptacles, 102" in directory.rows[0][0].text
    assert "Sump pump" in directory.rows[0][0].text
    assert "entered twice" in directory.rows[0][0].text


def _with_a_bare_panel(case: Any, name: str) -> tuple[Drawing, str]:
    drawing, panel = add(case.drawing, "bus", name=name)
    return drawing, panel


def test_a_panel_without_any_line_says_that_its_directory_is_not_known(mill) -> None:
    drawing, panel = _with_a_bare_panel(mill, "Boiler panel")
    result = study(drawing)
    own = plan_door_sheet(
        drawing, result, build_picture(drawing, result, "proposed"), printed_at=PRINTED_AT, panel=panel
    )  # fmt: skip
    text = words(own.pdf())
    assert "The directory of this panel is not known." in text
    assert "A/poles" not in text


def test_the_whole_buildings_sheet_names_panels_without_a_directory(mill) -> None:
    drawing, _ = _with_a_bare_panel(mill, "Boiler panel")
    drawing, gutter = add(drawing, "bus", name="Yard gutter", form="gutter")
    result = study(drawing)
    document = plan_door_sheet(drawing, result, build_picture(drawing, result, "proposed"), printed_at=PRINTED_AT)
    assert gutter in drawing
    listed = panels_not_known(drawing, "proposed")
    assert "Boiler panel" in listed
    assert "Yard gutter" not in listed
    assert not {d.panel for d in directories_of(drawing, result)} & set(listed)
    text = re.sub(r"\s+", " ", words(document.pdf()))
    for name in listed:
        assert name in text.split("Directories not known")[-1]


def test_whether_a_source_forms_a_grid_is_said_as_not_known(mill) -> None:
    drawing, _ = add(mill.drawing, "battery", name="Cellar battery", forms_grid=None)
    always = next(s.always for s in sources_of(drawing, study(drawing)) if s.name == "Cellar battery")
    assert "May feed without the utility: not known." in always
    drawing, _ = add(mill.drawing, "battery", name="Cellar battery", forms_grid=True)
    always = next(s.always for s in sources_of(drawing, study(drawing)) if s.name == "Cellar battery")
    assert "Can feed without the utility." in always


def test_one_panel_alone(mill) -> None:
    panel = next(b for b in mill.drawing.of(Bus) if b.name == "LP-2")
    text = words(plan(mill, panel=panel.id).pdf())
    assert "Fed from: F2" in text
    assert "Fed from: F1" not in text


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_nothing_of_a_directory_is_left_out(large_mill, paper: str) -> None:
    """Every description is on some page, however many pages it takes; words may be broken over lines."""
    text = re.sub(r"\s", "", words(plan(large_mill, paper).pdf()))
    for directory in directories_of(large_mill.drawing, large_mill.result):
        for row in directory.rows:
            for space in row:
                if space is not None and space.text != "—":
                    assert re.sub(r"\s", "", space.text) in text, (directory.panel, space)


def test_pages_are_announced(small_mill, large_mill) -> None:
    assert plan(small_mill, "tabloid").notes == ()
    assert len(plan(small_mill, "tabloid").pages) == 1
    document = plan(large_mill, "letter")
    assert len(document.pages) > 1
    assert any("page" in note for note in document.notes)


def test_what_is_left_out_is_said_on_the_paper_too(small_mill, large_mill) -> None:
    said = "not all ratings shown"
    assert said in words(plan(large_mill, "letter").pdf())
    assert any("found no room" in note for note in plan(large_mill, "letter").notes)
    assert said not in words(plan(small_mill, "tabloid").pdf())


# --------------------------------------------------------------------------------------------------------------- legend
def test_legend_is_printed_from_what_is_used(mill) -> None:
    text = words(plan(mill, "tabloid").pdf())
    for word in (
        "Transfer switch on normal",
        "Utility service",
        "existing",
        "new (N)",
        "does not meet a rule",
        "advice",
    ):
        assert word in text, word
    for word in ("to be removed (R)", "future (F)", "Battery", "Motor"):
        assert word not in text, word


def test_existing_view(mill_existing) -> None:
    text = words(plan(mill_existing, "tabloid").pdf())
    assert "to be removed (R)" in text
    assert "new (N)" not in text
    assert "Bakery panel" not in text
    assert "existing view" in text


# -------------------------------------------------------------------------------------------------------- legibility
def test_text_of_the_words_is_large_enough(mill, large_mill) -> None:
    for case in (mill, large_mill):
        for paper in PAPERS:
            for page in plan(case, paper).pages:
                for p in page.layers[-1].primitives:
                    if isinstance(p, Text) and len(p.text) > 2:
                        assert p.size >= LEAST_TEXT_PT - 0.01, p


def test_diagram_names_are_readable(mill, small_mill, large_mill) -> None:
    """Names at least 6 points on any paper, 7 and more for a building of this size on tabloid."""
    for case, paper, least in (
        (mill, "letter", LEAST_TEXT_PT),
        (small_mill, "tabloid", 7.0),
        (large_mill, "letter", LEAST_TEXT_PT),
    ):
        page = plan(case, paper).pages[0]
        layer = page.layers[0]
        drawn = {p.text: p.size * layer.scale for p in layer.primitives if isinstance(p, Text)}
        for bus in case.drawing.view("proposed").of(Bus):
            for word in (bus.name,) if bus.name in drawn else bus.name.split():
                assert drawn[word] >= least - 0.05, (paper, word, drawn[word])


def test_nothing_leaves_the_page(mill, large_mill) -> None:
    from oneline.paper.picture import bounds

    for case in (mill, large_mill):
        for paper in PAPERS:
            for page in plan(case, paper).pages:
                for layer in page.layers:
                    left, top, right, bottom = bounds(layer.primitives)
                    assert layer.dx + layer.scale * left >= 18
                    assert layer.dy + layer.scale * top >= 18
                    assert layer.dx + layer.scale * right <= page.width - 18
                    assert layer.dy + layer.scale * bottom <= page.height - 18


def test_words_do_not_overlap(mill, large_mill) -> None:
    """No two texts around the diagram share a place, and none of them stands on the diagram."""
    from oneline.sheet.metrics import text_width

    for case in (mill, large_mill):
        for paper in PAPERS:
            for page in plan(case, paper).pages:
                boxes = []
                for layer in page.layers:
                    for p in layer.primitives:
                        if isinstance(p, Text):
                            width = text_width(p.text, p.size, p.face)
                            x = p.at[0] - {"start": 0, "middle": width / 2, "end": width}[p.anchor]
                            box = (x, p.at[1] - 0.7 * p.size, x + width, p.at[1])
                            moved = tuple(
                                (layer.dx if k % 2 == 0 else layer.dy) + layer.scale * v for k, v in enumerate(box)
                            )
                            boxes.append((moved, p.text))
                boxes.sort()
                for n, (a, one) in enumerate(boxes):
                    for b, other in boxes[n + 1 :]:
                        if b[0] > a[2]:
                            break
                        overlap = min(a[3], b[3]) - max(a[1], b[1])
                        assert overlap <= 0.6 or min(a[2], b[2]) - b[0] <= 0.6, (paper, one, other)


def test_pages_are_printed_black_on_white(mill) -> None:
    """Rendered: white paper, and no colour anywhere (every pixel is a grey)."""
    import pypdfium2

    document = pypdfium2.PdfDocument(plan(mill).pdf())
    try:
        for page in document:
            image = np.asarray(page.render(scale=1.5).to_pil().convert("RGB")).astype(int)
            spread = image.max(axis=2) - image.min(axis=2)
            assert spread.max() <= 3
            assert (image[:, :, 0] > 250).mean() > 0.75
            assert (image[:, :, 0] < 80).mean() > 0.01
    finally:
        document.close()


# ------------------------------------------------------------------------------------------------------ hostile input
HOSTILE = [
    "<b>bold</b><img src='file:///etc/hostname'/>", "&amp; &lt; ]]> <!--", "אבג שלום", "مرحبا", "\u202eright to left",
    "a\x00b\x07c\x1b[31m",
    "line one\nline two\r\ttab", "\ud7ff\ue000\ufffd", "配电盘", "👷⚡", "Ω ≤ ≥ ° µ ½ × é ñ", "e\u0301 combined", "x" * 5000,
    "W" * 400, "%s %d {} \\n $HOME `id`", "(unbalanced ((( \\) parentheses", "  ", "'; DROP TABLE--",
]  # fmt: skip


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_words_go_through(mill, text: str) -> None:
    """Markup is printed as it stands, control characters vanish, other scripts stand as "?" and a note says so."""
    drawing = mill.drawing
    panel = next(b for b in drawing.of(Bus) if b.name == "LP-1")
    circuits = tuple(
        replace(c, description=text, traced="traced") if c.use == "load" else c for c in panel.circuits[:6]
    )
    changed = drawing.with_items([replace(panel, name=text[:60], location=text, circuits=circuits)])
    names = (
        "title",
        "address",
        "prepared_by",
        "contractor",
        "license_no",
        "phone",
        "permit_no",
        "verified_by",
        "sheet_number",
    )
    project = replace(drawing.project, **dict.fromkeys(names, text))
    changed = replace(changed, project=project)
    picture = build_picture(changed, mill.result, "proposed")
    document = plan_door_sheet(changed, mill.result, picture, printed_at=PRINTED_AT, file_name=text)
    pdf = document.pdf()
    out = words(pdf)
    assert not any(unicodedata.category(c) == "Cc" for c in out)
    if text.startswith("<b>"):
        assert "<b>bold</b><img" in re.sub(r"\s", "", out)
    if "Ω" in text:
        assert "Ω ≤ ≥ °" in out
    if text.startswith("配"):
        assert any("cannot be printed" in note for note in document.notes)
    if len(text) >= 400:
        assert any("shortened" in note for note in document.notes)


def test_long_descriptions_are_wrapped_not_cut(mill) -> None:
    panel = next(b for b in mill.drawing.of(Bus) if b.name == "LP-1")
    long = " ".join(f"word{n}" for n in range(60))
    circuits = (replace(panel.circuits[0], description=long), *panel.circuits[1:])
    drawing = mill.drawing.with_items([replace(panel, circuits=circuits)])
    text = words(plan_door_sheet(drawing, mill.result, mill.picture, printed_at=PRINTED_AT).pdf())
    for n in range(60):
        assert f"word{n}" in text


# ------------------------------------------------------------------------------------------------------ edges
def test_empty_drawing(mill) -> None:
    empty = Drawing(project=Project(title=""))
    result = replace(mill.result, points={}, verdicts=(), sources=())
    document = plan_door_sheet(empty, result, Picture((), (0, 0, 0, 0), {}), printed_at=PRINTED_AT)
    text = words(document.pdf())
    assert len(document.pages) == 1
    assert "Nothing is drawn" in text
    assert "That does not mean there is none" in text
    assert "Building not named" in text
    for caution in CAUTIONS:
        assert caution in text


def test_a_document_needs_a_page() -> None:
    with pytest.raises(ValueError, match="page"):
        pdf_bytes([])


def test_drawing_that_is_far_too_large_still_prints(mill) -> None:
    """A picture of any size: the sheet comes out and says that it is not legible."""
    stretched = []
    for k in range(40):
        for g in mill.picture.groups:
            moved = tuple(
                replace(p, at=(p.at[0] + 900 * k, p.at[1])) if isinstance(p, Text) else p for p in g.primitives
            )
            stretched.append(
                replace(g, primitives=moved, box=(g.box[0] + 900 * k, g.box[1], g.box[2] + 900 * k, g.box[3]))
            )
    picture = replace(mill.picture, groups=tuple(stretched))
    document = plan_door_sheet(mill.drawing, mill.result, picture, printed_at=PRINTED_AT)
    assert any("too small to read" in note for note in document.notes)
    assert read(document.pdf()).pages


@pytest.mark.parametrize("sample", ["cannery", "bindery"])
def test_needs_of_a_fault_current_are_its_own(sample: str) -> None:
    """By physics: loads, ambient and wet places change no bolted fault current; impedances and sources do."""
    drawing = read_drawing(Path(__file__).parents[2] / "samples" / f"{sample}.oneline").drawing
    result = study(drawing)
    for point in result.points.values():
        assert not point.fault_needs or point.fault_duty_a is None
        for need in point.fault_needs:
            assert not re.search(r"wet|ambient|continuous|load of|current-carrying", need), (point.name, need)
    open_points = [p for p in result.points.values() if p.kind == "bus" and p.phases and p.fault_duty_a is None]
    assert all(p.fault_needs for p in open_points)
    assert bool(open_points) == (sample == "cannery")


def test_opening_ahead_of_an_automatic_transfer_switch() -> None:
    """The line for opening the service names what a transfer switch behind it may start by itself; a manual one does not."""
    drawing = read_drawing(Path(__file__).parents[2] / "samples" / "cannery.oneline").drawing
    main = next(i for i in drawing.items.values() if i.name == "Main 1")

    def line(drawn: Drawing) -> str:
        facts = next(s for s in sources_of(drawn, study(drawn)) if s.name == "Service 1, wharf pole")
        return next(o.load_side for o in facts.openings if o.device.startswith(main.name))

    switch = next(i for i in drawing.items.values() if i.kind == "transfer")
    assert "beyond Transfer switch possibly live from G" in line(drawing)
    assert "Transfer switch" not in line(change(drawing, switch.id, automatic=False))
