"""SVG, PNG and the painting itself: every primitive reaches the paper where and as the display list says."""

from __future__ import annotations

import io
import itertools
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image

import oneline
from oneline.files import CannotSave
from oneline.model.cautions import CAUTIONS
from oneline.paper import pdf_bytes, png_bytes, svg_of
from oneline.paper.key import with_key
from oneline.paper.page import Layer, Page, Pen, printable, wrap
from oneline.paper.pdf import dash_pt, width_pt
from oneline.paper.picture import bounds, on_paper
from oneline.paper.png import picture_page
from oneline.sheet import Picture, source_codes
from oneline.sheet.display import Arc, Group, Stroke, Text
from oneline.sheet.inks import PAPER_WIDTH_PT
from oneline.sheet.live import CODE_WORDS
from oneline.sheet.metrics import text_box, text_width

SVG = "{http://www.w3.org/2000/svg}"


def picture(*primitives: Stroke | Arc | Text, part: str = "symbol", item: str = "bus1", level: float = 0) -> Picture:
    return Picture((Group(item, part, primitives, (0, 0, 100, 100), level),), (0, 0, 100, 100), {})


def rendered(page: Page, scale: float = 4.0) -> np.ndarray:
    """Grey values of a page, ``scale`` pixels to the point."""
    document = pypdfium2.PdfDocument(pdf_bytes([page]))
    try:
        return np.asarray(document[0].render(scale=scale).to_pil().convert("L")).astype(int)
    finally:
        document.close()


def dark_box(image: np.ndarray, scale: float = 4.0) -> tuple[float, float, float, float]:
    """(left, top, right, bottom) of everything dark, in points."""
    ys, xs = np.where(image < 128)
    return (xs.min() / scale, ys.min() / scale, (xs.max() + 1) / scale, (ys.max() + 1) / scale)


# ------------------------------------------------------------------------------------------------------------ painting
def test_stroke_lands_where_it_is_drawn() -> None:
    stroke = Stroke(((10, 20), (60, 20), (60, 50)), "thin")
    box = dark_box(rendered(Page(100, 80, (Layer((stroke,)),))))
    half = PAPER_WIDTH_PT["thin"] / 2
    assert box == pytest.approx((10 - half, 20 - half, 60 + half, 50 + half), abs=0.5)


def test_layer_scales_and_moves() -> None:
    stroke = Stroke(((0, 0), (20, 10)), "hair")
    box = dark_box(rendered(Page(200, 200, (Layer((stroke,), 3.0, 40.0, 70.0),))))
    assert box == pytest.approx((40, 70, 100, 100), abs=0.8)


@pytest.mark.parametrize(
    ("start", "sweep", "box"),
    [
        # Counter-clockwise from east as seen on the sheet: 0 to 180 is the upper half, 180 to 360 the lower one.
        (0, 180, (30, 30, 70, 50)), (180, 180, (30, 50, 70, 70)), (90, 180, (30, 30, 50, 70)), (0, -180, (30, 50, 70, 70)),
        (270, 90, (50, 50, 70, 70)), (0, 360, (30, 30, 70, 70)),
    ],
)  # fmt: skip
def test_arcs_turn_as_seen_on_the_sheet(start: float, sweep: float, box: tuple[float, ...]) -> None:
    arc = Arc((50, 50), 20, start, sweep, "hair")
    assert dark_box(rendered(Page(100, 100, (Layer((arc,)),)))) == pytest.approx(box, abs=0.8)
    root = ET.fromstring(svg_of(picture(arc)))
    path = root.find(f".//{SVG}path")
    if abs(sweep) < 360:
        assert path is not None
        ends = [float(v) for v in path.attrib["d"].replace("M", "").replace("A", "").split()]
        assert ends[:2] == pytest.approx(
            [50 + 20 * np.cos(np.radians(start)), 50 - 20 * np.sin(np.radians(start))], abs=0.01
        )
    else:
        assert root.find(f".//{SVG}circle") is not None


def test_text_is_as_wide_as_the_layout_reckons() -> None:
    """The embedded font has the widths of sheet.metrics: the last letter ends where it should."""
    for face in ("regular", "bold", "italic"):
        text = Text((10, 40), "HHHHHHHHHH Ω ≤ ≥ HHHHH", 10, face)
        left, _, right, _ = dark_box(rendered(Page(300, 60, (Layer((text,)),))))
        expected = text_width(text.text, 10, face)
        assert right - left == pytest.approx(expected, abs=2.5), face


@pytest.mark.parametrize(("anchor", "left"), [("start", 100), ("middle", 75), ("end", 50)])
def test_anchors(anchor: str, left: float) -> None:
    width = 50.0
    size = width / text_width("HHHH", 1.0)
    box = dark_box(rendered(Page(200, 60, (Layer((Text((100, 40), "HHHH", size, "regular", anchor),)),))))
    assert box[0] == pytest.approx(left + 0.1 * size, abs=1.2)


def test_fill_and_white_letters() -> None:
    """A filled triangle with a white sign in it: both colours are there."""
    triangle = Stroke(((20, 80), (80, 80), (50, 20)), "thin", "solid", "verdict-fail", True, "verdict-fail")
    image = rendered(Page(100, 100, (Layer((triangle, Text((50, 74), "!", 40, "bold", "middle", "paper"))),)))
    assert image[4 * 60, 4 * 38] < 40
    assert image[4 * 60, 4 * 50] > 200


def test_line_weights_keep_their_order_and_never_vanish() -> None:
    for scale in (0.1, 0.5, 1.0, 3.0):
        widths = [width_pt(w, scale) for w in ("heavy", "medium", "thin", "hair")]
        assert widths == sorted(widths, reverse=True)
        assert min(widths) >= 0.13 / 25.4 * 72, "ISO 128-20: no line is thinner than 0.13 mm"
    assert [width_pt(w, 0.6) for w in ("heavy", "medium", "thin")] == sorted(
        {width_pt(w, 0.6) for w in ("heavy", "medium", "thin")}, reverse=True
    )
    assert dash_pt("solid", 1) == ()
    assert all(v > 0.5 for v in dash_pt("source-4", 0.1))


def test_source_dashes_differ_in_print() -> None:
    """Dark share along a line: each source's pattern is another."""
    shares = []
    for n in (1, 2, 3, 4):
        line = Stroke(((10, 30), (410, 30)), "thin", f"source-{n}", f"source-{n}")
        row = rendered(Page(420, 60, (Layer((line,)),)))[4 * 30]
        shares.append(round(float((row[40:1640] < 128).mean()), 2))
    assert shares[0] > 0.98
    assert len(set(shares)) == 4


# ----------------------------------------------------------------------------------------------------------------- SVG
def test_svg_is_well_formed_and_complete(mill) -> None:
    root = ET.fromstring(svg_of(mill.picture, "Mill <1>", "made & printed"))
    assert root.tag == f"{SVG}svg"
    assert root.find(f"{SVG}title").text == "Mill <1>"  # type: ignore[union-attr]
    shown = on_paper(mill.picture)
    texts = [t.text for t in root.iter(f"{SVG}text")]
    assert texts == [p.text for g in shown.groups for p in g.primitives if isinstance(p, Text) and p.text.strip()]
    lines = [e for e in root.iter() if e.tag in (f"{SVG}polyline", f"{SVG}polygon")]
    assert len(lines) == sum(isinstance(p, Stroke) for g in shown.groups for p in g.primitives)
    groups = root.findall(f"{SVG}g")
    assert [g.attrib["data-item"] for g in groups] == [g.item for g in shown.groups]
    box = [float(v) for v in root.attrib["viewBox"].split()]
    assert box[0] < shown.box[0]
    assert box[1] < shown.box[1]
    assert box[0] + box[2] > shown.box[2]
    assert box[1] + box[3] > shown.box[3]


def test_svg_has_paper_colours_only(mill) -> None:
    svg = svg_of(mill.picture)
    for element in ET.fromstring(svg).iter():
        for key in ("fill", "stroke"):
            value = element.attrib.get(key, "none")
            assert value == "none" or len({value[1:3], value[3:5], value[5:7]}) == 1, value


def test_svg_text_holds_its_width(mill) -> None:
    for element in ET.fromstring(svg_of(mill.picture)).iter(f"{SVG}text"):
        face = "bold" if "font-weight" in element.attrib else "italic" if "font-style" in element.attrib else "regular"
        expected = text_width(element.text or "", float(element.attrib["font-size"]), face)
        assert float(element.attrib["textLength"]) == pytest.approx(expected, abs=0.002)


@pytest.mark.parametrize(
    "text", ["<script>alert(1)</script>", "]]>", "a\x00\x0b\x1b", "\ufffe\uffff", "\"quote' &amp;", "🙂", "אב"]
)
def test_svg_escapes_what_people_type(text: str) -> None:
    svg = svg_of(picture(Text((0, 0), text), item=text), text, text)
    root = ET.fromstring(svg.encode())
    assert not list(root.iter(f"{SVG}script"))
    assert "\x00" not in svg


def test_svg_leaves_out_ghosts_and_small_figures() -> None:
    label, ghost = Text((0, 0), "kept"), Text((0, 0), "not in this view")
    parts = (
        *picture(label).groups,
        *picture(ghost, part="ghost").groups,
        *picture(Text((0, 0), "fine print"), level=1.5).groups,
    )
    svg = svg_of(Picture(parts, (0, 0, 10, 10), {}))
    assert "kept" in svg
    assert "not in this view" not in svg
    assert "fine print" not in svg


def test_svg_of_nothing() -> None:
    assert ET.fromstring(svg_of(Picture((), (0, 0, 0, 0), {}))).tag == f"{SVG}svg"


# ----------------------------------------------------------------------------------------------------------------- PNG
def test_png_shows_the_drawing(mill) -> None:
    page = picture_page(mill.picture)
    image = Image.open(io.BytesIO(png_bytes(mill.picture, 96)))
    assert image.format == "PNG"
    assert image.size == pytest.approx((page.width * 96 / 72, page.height * 96 / 72), abs=2)
    grey = np.asarray(image.convert("L"))
    assert (grey > 250).mean() > 0.9
    assert (grey < 100).mean() > 0.004
    assert round(image.info["dpi"][0]) == 96


def test_png_shows_each_primitive_of_the_svg_picture() -> None:
    shapes = picture(Stroke(((0, 0), (100, 0))), Arc((50, 50), 20), Text((0, 90), "MDP"))
    grey = np.asarray(Image.open(io.BytesIO(png_bytes(shapes, 144))).convert("L"))
    for band in ((0.0, 0.3), (0.3, 0.7), (0.7, 1.0)):
        rows = grey[int(band[0] * grey.shape[0]) : int(band[1] * grey.shape[0])]
        assert (rows < 128).any(), band


@pytest.mark.parametrize("dpi", [0, -96, 5, 100_000, float("nan")])
def test_png_resolution_out_of_reason(mill, dpi: float) -> None:
    with pytest.raises(ValueError, match="dpi"):
        png_bytes(mill.picture, dpi)


def test_png_too_large_is_refused() -> None:
    wide = picture(Stroke(((0, 0), (10_000, 0))))
    with pytest.raises(ValueError, match="pixels"):
        png_bytes(wide, 600)


# ---------------------------------------------------------------------------------------------------------------- files
def test_files_are_written_whole(mill, tmp_path: Path) -> None:
    for ending in ("svg", "png", "pdf"):
        assert oneline.export(mill.drawing, tmp_path / f"a.{ending}", dpi=72) == tmp_path / f"a.{ending}"
    assert ET.parse(tmp_path / "a.svg").getroot().tag == f"{SVG}svg"
    with Image.open(tmp_path / "a.png") as image:
        image.load()
        assert image.format == "PNG"
    document = pypdfium2.PdfDocument(tmp_path / "a.pdf")
    assert len(document) == 1
    document.close()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.pdf", "a.png", "a.svg"]


@pytest.mark.parametrize("ending", ["svg", "png", "pdf"])
def test_a_file_that_cannot_be_written_keeps_the_one_before(
    mill, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ending: str
) -> None:
    target = tmp_path / f"a.{ending}"
    target.write_text("before")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("oneline.files.atomic.os.fsync", full)
    with pytest.raises(CannotSave, match="The disk is full"):
        oneline.export(mill.drawing, target, dpi=72)
    assert target.read_text() == "before"
    assert [p.name for p in tmp_path.iterdir()] == [target.name]


def test_folder_that_is_not_there(mill, tmp_path: Path) -> None:
    with pytest.raises(CannotSave, match="does not exist"):
        oneline.export(mill.drawing, tmp_path / "nowhere" / "a.svg")


# ----------------------------------------------------------------------------------------------------------------- words
@pytest.mark.parametrize("width", [12.0, 40.0, 90.0, 300.0])
def test_wrap_keeps_every_character_and_fits(width: float) -> None:
    text = "Receptacles loading dock " + "W" * 40 + " and 3 1/2 hp hoist"
    lines = wrap(text, width, 8.0)
    assert "".join("".join(lines).split()) == "".join(text.split())
    assert all(text_width(line, 8.0) <= width or len(line) == 1 for line in lines)


def test_wrap_with_a_limit_says_that_it_left_something_out() -> None:
    lines = wrap("one two three four five six", 40.0, 8.0, "regular", 2)
    assert len(lines) == 2
    assert lines[-1].endswith("…")
    assert text_width(lines[-1], 8.0) <= 40.0


def test_printable() -> None:
    assert printable("Ω ≤ ≥ ° ½ ×") == "Ω ≤ ≥ ° ½ ×"
    assert printable("e\u0301") == "é"
    assert printable("a\x00b\u202ec") == "a bc"
    assert printable("配") == "?"


def test_pen_scales_everything() -> None:
    pen = Pen()
    pen.place((Stroke(((0, 0), (2, 2))), Arc((1, 1), 1), Text((1, 1), "x", 4)), 2.0, 10.0, 20.0)
    stroke, arc, text = pen.primitives
    assert isinstance(stroke, Stroke)
    assert stroke.points == ((10, 20), (14, 24))
    assert isinstance(arc, Arc)
    assert (arc.center, arc.radius) == ((12, 22), 2)
    assert isinstance(text, Text)
    assert (text.at, text.size) == ((12, 22), 8)


def test_importing_the_room_loads_nothing_heavy() -> None:
    program = (
        "import sys, oneline.paper\n"
        "heavy = {'reportlab', 'pypdfium2', 'PIL', 'PySide6', 'networkx', 'pint'} & set(sys.modules)\n"
        "assert not heavy, heavy\n"
    )
    subprocess.run([sys.executable, "-c", program], check=True)


@pytest.mark.parametrize("sweep", [90.0, -90.0, 200.0, -200.0, 300.0, 10.0])
@pytest.mark.parametrize("start", [0.0, 37.0, 180.0, 271.0])
def test_svg_arcs_have_the_right_centre(start: float, sweep: float) -> None:
    """From end points and flags back to the centre, by the conversion in SVG 1.1 appendix F.6.5 (circle, no rotation)."""
    path = ET.fromstring(svg_of(picture(Arc((50, 30), 20, start, sweep)))).find(f".//{SVG}path")
    assert path is not None
    x1, y1, rx, ry, _, large, turn, x2, y2 = (
        float(v) for v in path.attrib["d"].replace("M", "").replace("A", "").split()
    )
    assert rx == ry == 20
    dx, dy = (x1 - x2) / 2, (y1 - y2) / 2
    root = np.sqrt(max(0.0, (rx**4 - rx**2 * (dx**2 + dy**2)) / (rx**2 * (dx**2 + dy**2))))
    sign = 1 if large != turn else -1
    centre = (sign * root * dy + (x1 + x2) / 2, -sign * root * dx + (y1 + y2) / 2)
    assert centre == pytest.approx((50, 30), abs=0.05)


# --------------------------------------------------------------------------------------------------------- key
def _svg_words(svg: str) -> str:
    return " ".join(e.text or "" for e in ET.fromstring(svg).iter(SVG + "text"))


@pytest.mark.parametrize("name", ["cannery", "bindery"])
def test_exports_have_a_key_of_the_codes_and_the_cautions(name: str, tmp_path: Path) -> None:
    """Common practice, no source: no printed diagram without a legend of its codes; the cautions stand on every page."""
    drawing = oneline.open(Path(__file__).parents[2] / "samples" / f"{name}.oneline")
    oneline.export(drawing, tmp_path / "out.svg")
    text = _svg_words((tmp_path / "out.svg").read_text(encoding="utf-8"))
    result = oneline.check(drawing)
    for source, code in source_codes(result).items():
        assert code in text.split()
        assert f"{drawing.name_of(source)}, {CODE_WORDS[code[0]]}" in text
    maybe = [word for word in text.split() if re.fullmatch(r"[SGPE]\d?\?", word)]
    assert bool(maybe) == (name == "cannery")  # the stair light that nobody traced
    for source, code in source_codes(result).items():
        assert (f"possibly live from {drawing.name_of(source)}" in text) == (f"{code}?" in maybe)
    for caution in CAUTIONS:
        assert caution in text


def test_the_key_lies_below_the_picture_and_inside_its_box(mill) -> None:
    keyed = with_key(mill.picture, mill.drawing, mill.result)
    key = next(g for g in keyed.groups if g.part == "key")
    others = [g for g in keyed.groups if g.part != "key"]
    assert key.box[1] > max(bounds(g.primitives)[3] for g in others)
    assert keyed.box[3] >= key.box[3]
    assert keyed.box[2] >= key.box[2]
    boxes = [text_box(p) for p in key.primitives if isinstance(p, Text)]
    for a, b in itertools.combinations(boxes, 2):
        assert not (a[0] < b[2] and a[2] > b[0] and a[1] < b[3] - 1 and a[3] - 1 > b[1])
