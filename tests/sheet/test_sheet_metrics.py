"""The font table against the font files, and text boxes against them."""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path

import pytest

from oneline.sheet import wording
from oneline.sheet.display import Text
from oneline.sheet.metrics import has_glyph, text_box, text_width

_spec = importlib.util.spec_from_file_location("make_font_widths", Path(__file__).with_name("make_font_widths.py"))
assert _spec is not None
assert _spec.loader is not None
make_font_widths = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(make_font_widths)


@pytest.mark.parametrize("face", ["regular", "bold", "italic"])
def test_widths_are_those_of_the_font_files(face: str) -> None:
    """Source: the Bitstream Vera Sans files shipped with reportlab."""
    shipped = json.loads(make_font_widths.TARGET.read_text(encoding="utf-8"))["faces"][face]
    assert shipped == make_font_widths.font_widths(make_font_widths.FACES[face])


def test_width_equals_reportlabs_own_measure() -> None:
    """Source: reportlab's stringWidth over the same font."""
    import reportlab
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    folder = Path(reportlab.__file__).parent / "fonts"
    pdfmetrics.registerFont(TTFont("WidthCheck", str(folder / "VeraBd.ttf")))
    for text in ("Bakery switch", "2 × 500 kcmil Cu", "132 A · 68.4 A free", "°½—≤"):
        expected = pdfmetrics.stringWidth(text, "WidthCheck", 9)
        assert text_width(text, 9, "bold") == pytest.approx(expected, abs=0.05)


def test_box_follows_the_anchor() -> None:
    width = text_width("Panel R", 9, "bold")
    for anchor, left in (("start", 100.0), ("middle", 100 - width / 2), ("end", 100 - width)):
        box = text_box(Text((100, 50), "Panel R", 9, "bold", anchor))
        assert box[0] == pytest.approx(left)
        assert box[2] == pytest.approx(left + width)
        assert box[1] < 50 < box[3]


def test_digits_have_one_width() -> None:
    """Tabular numerals: figures below each other must line up."""
    for face in ("regular", "bold", "italic"):
        assert len({text_width(d, 8, face) for d in "0123456789"}) == 1


@pytest.mark.parametrize("char", list(wording.DASH + "×·≤#%/(),.'\"°"))
def test_the_font_has_what_the_sheet_writes(char: str) -> None:
    assert has_glyph(char, "regular")
    assert has_glyph(char, "bold")
