"""The sheet for the door of one panel: one Letter page, everything that may feed the panel, nothing too small to read."""

from __future__ import annotations

import io
import random
import re
from datetime import datetime
from functools import cache
from pathlib import Path

import pytest
from pypdf import PdfReader

import oneline
from oneline.api import Builder, Handle
from oneline.model import Bus, Connection, Disconnect, Drawing, SuspectedTie, TransferSwitch
from oneline.model.cautions import CAUTIONS
from oneline.network import build_network
from oneline.network.live import live_state
from oneline.paper import Document, plan_door_sheet
from oneline.paper.extract import STUB, extract_of
from oneline.paper.panel_door import THIS_PANEL
from oneline.sheet import build_picture
from oneline.sheet.display import Text

SAMPLES = Path(__file__).resolve().parents[2] / "samples"
PRINTED_AT = datetime(2026, 4, 20, 12, 0)
#: Smallest words wanted on the paper, and names for arm's length: what the sheet was ordered for, no standard.
LEAST_PT, NAME_PT = 6.5, 8.0
PANELS = (
    ("cannery", "Panel R, bakery annex"), ("cannery", "Panel H, house"), ("cannery", "Panel S, standby"),
    ("cannery", "Panel C, Net Loft Cycles"), ("bindery", "Panel LB, hand bindery"), ("bindery", "Panel HP, presses"),
)  # fmt: skip
#: Letters that are part of a symbol, a source tag or a mark.
LETTERS = re.compile(r"[A-Z?!iJN+]{1,2}|kWh")
#: Codes of sources where the line leaves them no more room.
CODES, LEAST_CODE_PT = re.compile(r"[SGPE](\d\??|\?)"), 5.0


@cache
def opened(sample: str) -> Drawing:
    return oneline.open(SAMPLES / f"{sample}.oneline")


@cache
def plan(sample: str, name: str, paper: str = "letter") -> Document:
    drawing = opened(sample)
    result = oneline.check(drawing)
    picture = build_picture(drawing, result, "proposed", ghosts=False)
    return plan_door_sheet(drawing, result, picture, paper, printed_at=PRINTED_AT, panel=panel_of(drawing, name).id)


def panel_of(drawing: Drawing, name: str) -> Bus:
    return next(b for b in drawing.of(Bus) if b.name == name)


@cache
def printed(sample: str, name: str) -> str:
    """All words of the sheet without spaces: lines may be broken anywhere."""
    pages = PdfReader(io.BytesIO(plan(sample, name).pdf())).pages
    return re.sub(r"\s", "", " ".join(page.extract_text() for page in pages))


def texts(document: Document) -> list[tuple[str, float, str]]:
    """(text, size in points, face) of everything on the first page."""
    return [
        (p.text, p.size * layer.scale, p.face)
        for layer in document.pages[0].layers for p in layer.primitives if isinstance(p, Text)
    ]  # fmt: skip


@pytest.mark.parametrize(("sample", "name"), PANELS)
@pytest.mark.parametrize("paper", ["letter", "tabloid"])
def test_one_page(sample: str, name: str, paper: str) -> None:
    document = plan(sample, name, paper)
    assert len(document.pages) == 1
    assert not any("does not fit" in note for note in document.notes)


@pytest.mark.parametrize(("sample", "name"), PANELS)
def test_nothing_is_too_small_to_read(sample: str, name: str) -> None:
    for text, size, _ in texts(plan(sample, name)):
        if CODES.fullmatch(text):
            assert size >= LEAST_CODE_PT - 0.02, (text, size)
        elif not LETTERS.fullmatch(text):
            assert size >= LEAST_PT - 0.02, (text, size)


@pytest.mark.parametrize(("sample", "name"), PANELS)
def test_names_are_for_arms_length_or_a_note_says_so(sample: str, name: str) -> None:
    document = plan(sample, name)
    view = opened(sample).view("proposed")
    words, diagram = set(panel_of(view, name).name.split()), document.pages[0].layers[0]
    drawn = [
        p.size * diagram.scale
        for p in diagram.primitives
        if isinstance(p, Text) and p.face == "bold" and set(p.text.split()) & words
    ]
    assert drawn
    size = min(drawn)
    assert size >= NAME_PT - 0.02 or (size >= LEAST_PT and any("less than the 8" in n for n in document.notes))


#: Panels whose way from the source has so many open questions that their marks leave the names less; the sheet says so.
CROWDED = ("Panel S, standby", "Panel R, bakery annex")


@pytest.mark.parametrize(("sample", "name"), [p for p in PANELS if p[1] not in CROWDED])
def test_names_have_eight_points(sample: str, name: str) -> None:
    assert not any("less than the 8" in note for note in plan(sample, name).notes)


@pytest.mark.parametrize(("sample", "name"), PANELS)
def test_sources_disconnects_circuits_and_cautions(sample: str, name: str) -> None:
    said = printed(sample, name)
    view = opened(sample).view("proposed")
    net = build_network(view)
    wanted = [view.name_of(source) for source in net.sources]
    wanted += [d.name for d in view.of(Disconnect) if d.service_disconnect]
    wanted += [t.name for t in view.of(SuspectedTie)]
    loads = [c for c in panel_of(view, name).circuits if c.use == "load"]
    wanted += [c.description for c in loads if c.traced != "untraced"]
    assert said.count("UNIDENTIFIED") == sum(c.traced == "untraced" for c in loads)
    wanted += [
        *CAUTIONS,
        f"What feeds {name}",
        "2026-04-20",
        "Available fault current",
        "The whole diagram is on its own sheet",
    ]
    for words in wanted:
        assert re.sub(r"\s", "", words) in said or not words, words


def test_first_disconnects_of_the_cannery() -> None:
    """By hand from the drawing: the array opens at its switch, the generator at its breaker, service 2 at the dock main."""
    said = printed("cannery", "Panel R, bakery annex")
    for name in (
        "Main 1",
        "Main 2, house",
        "Main 3, hoist",
        "Array switch, roof door",
        "Generator breaker",
        "Dock main",
    ):
        assert re.sub(r"\s", "", name) in said, name


@pytest.mark.parametrize(("sample", "name"), PANELS)
def test_the_panel_is_marked(sample: str, name: str) -> None:
    assert [t for t, _, _ in texts(plan(sample, name))].count(THIS_PANEL) == 1


def test_what_is_left_out_is_counted() -> None:
    """By hand: the cannery's main board feeds panels B and D and the standby transfer switch beside C and R."""
    said = [t for t, _, _ in texts(plan("cannery", "Panel R, bakery annex"))]
    assert "+ 3 feeders" in said
    assert "to Freight hoist" in " ".join(said)
    view = opened("cannery").view("proposed")
    kept = {i.name for i in extract_of(view, panel_of(view, "Panel R, bakery annex").id).drawing.items.values()}
    assert "Panel B, Ferry Bakery" not in kept
    assert "Annex rooftop unit" in kept, "what the panel feeds"


def test_a_panel_that_is_not_in_the_view_is_refused(tmp_path: Path) -> None:
    with pytest.raises(KeyError, match="Panel R"):
        oneline.print_door(opened("cannery"), tmp_path / "x.pdf", view="existing", panel="Panel R, bakery annex")


# ------------------------------------------------------------------------------------------- what may feed is never lost
def random_building(number: int) -> Drawing:
    """Sources, buses, switches, ties, a transfer switch and loads, joined at random; loops and dead ends included."""
    r = random.Random(number)
    b = Builder(f"Building {number}")
    buses = [b.bus(f"B{n}", rating_a=200) for n in range(r.randint(2, 6))]
    sources: list[Handle] = [b.service("Service 1", system="208Y/120")]
    sources += [b.solar(f"Array {n}", output_a=20) for n in range(r.randint(0, 2))]
    if r.random() < 0.5:
        sources.append(b.service("Service 2", system="208Y/120"))

    def connect(one: Handle, other: Handle) -> None:
        way = r.random()
        if way < 0.6:
            switch = b.disconnect("", trip_a=100, closed=r.random() < 0.8, normally_open=r.random() < 0.1)
            b.joint(one, switch)
            b.run(switch, other, size="1/0")
        elif way < 0.75:
            b.run(one, other, size="1/0")
        elif way < 0.9:
            first, second = b.disconnect("", trip_a=100), b.disconnect("", trip_a=100)
            b.joint(one, first)
            b.joint(first, second)
            b.joint(second, other)
        else:
            b.tie(one, other, name="Old conduit")

    for source in sources:
        connect(source, r.choice(buses))
    for n, bus in enumerate(buses[1:], 1):
        connect(r.choice(buses[:n]), bus)
    for _ in range(r.randint(0, 2)):
        connect(*r.sample(buses, 2))
    if r.random() < 0.6:
        generator, transfer = b.generator("Generator", kva=50), b.transfer("ATS", rating_a=100)
        b.run(r.choice(buses), transfer.at("normal"), size="1/0")
        b.run(generator, transfer.at("alternate"), size="1/0")
        b.run(transfer, r.choice(buses), size="1/0")
    if r.random() < 0.3:
        b.tie(r.choice(buses), None, name="Conduit to somewhere")
    for n in range(r.randint(0, 4)):
        connect(r.choice(buses), b.load(f"Load {n}", va=1000))
    return b.drawing


def positions(drawing: Drawing, r: random.Random) -> dict[str, bool]:
    """One position of every switch, by branch; a transfer switch is on one side or off."""
    out = {d.id: r.random() < 0.75 for d in drawing.of(Disconnect)}
    for transfer in drawing.of(TransferSwitch):
        side = r.choice(("normal", "alternate", ""))
        out |= {f"{transfer.id}/{s}": s == side for s in ("normal", "alternate")}
    return out


@pytest.mark.parametrize("number", range(120))
def test_whatever_reaches_the_panel_is_on_its_sheet(number: int) -> None:
    """In random positions of all switches the live state of the whole building and that of the extract agree about the
    panel: the certain sources, and those that suspected ties may bring."""
    drawing = random_building(number)
    r = random.Random(1000 + number)
    whole = build_network(drawing)
    for bus in drawing.of(Bus):
        kept = extract_of(drawing, bus.id)
        part = build_network(kept.drawing)
        assert set(part.sources) == set(whole.sources)
        every = {k: True for k, x in whole.branches.items() if not isinstance(x.item, TransferSwitch | SuspectedTie)}
        for moved in (*(positions(drawing, r) for _ in range(12)), every):
            there = {k: v for k, v in moved.items() if k in part.branches}
            a, b = live_state(whole, moved), live_state(part, there)
            for whole_at, part_at in ((a.at_node, b.at_node), (a.possibly_at_node, b.possibly_at_node)):
                assert part_at[part.node(bus.id)] == whole_at[whole.node(bus.id)], (bus.name, moved)


@pytest.mark.parametrize("number", range(0, 120, 3))
def test_an_extract_is_whole(number: int) -> None:
    """Every connection of an extract has its ends; every kept item is the drawing's own; stubs stand for what is not."""
    drawing = random_building(number)
    for bus in drawing.of(Bus):
        extract = extract_of(drawing, bus.id)
        for conn in extract.with_stubs.of(Connection):
            for end in (conn.a, conn.b):
                assert end is None or end.item in extract.with_stubs
        for item in extract.drawing.items.values():
            if not isinstance(item, Connection):
                assert drawing.items[item.id] == item
        if len(extract.drawing.items) < len(drawing.items) and not extract.stubs:
            net = build_network(drawing)
            left = [b for k, b in net.branches.items() if b.item.id not in extract.drawing.items]
            near = {net.node_of[e] for e in net.node_of if e.item in extract.drawing.items}
            assert not any({b.a, b.b} & near for b in left)
        assert all(s.id.startswith(STUB) and s.feeders for s in extract.stubs)
