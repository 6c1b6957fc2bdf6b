"""Colours told apart on every sheet, by contrast and by grey value; dashes told apart without colour."""

from __future__ import annotations

import colorsys
import itertools

import pytest

from oneline.sheet.display import DASHES, WEIGHTS
from oneline.sheet.inks import (
    CANVAS_WIDTH_PX,
    DASH_UNITS,
    PALETTES,
    PAPER_WIDTH_PT,
    SOURCE_INKS,
    contrast_ratio,
    relative_luminance,
    source_dash,
    source_ink,
)
from oneline.sheet.status import status_look

#: Roles that only tint the sheet: they carry no meaning and need no contrast.
_TINTS = {"paper", "grid", "fill-panel", "fill-zone", "ghost"}


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        ("#000000", "#ffffff", 21.0),
        ("#777777", "#ffffff", 4.48),
        ("#767676", "#ffffff", 4.54),
        ("#ffffff", "#ffffff", 1.0),
    ],
)
def test_contrast_formula(one: str, other: str, ratio: float) -> None:
    """Source: WCAG 2.2, contrast ratio; #767676 is widely published as the lightest grey that passes 4.5:1 on white."""
    assert contrast_ratio(one, other) == pytest.approx(ratio, abs=0.005)


@pytest.mark.parametrize("sheet", sorted(PALETTES))
def test_every_meaningful_ink_passes_3_to_1(sheet: str) -> None:
    """Source: WCAG 2.2, success criterion 1.4.11 (graphics 3:1)."""
    palette = PALETTES[sheet]
    weak = {r: contrast_ratio(c, palette["paper"]) for r, c in palette.items() if r not in _TINTS}
    assert {r: v for r, v in weak.items() if v < 3} == {}


@pytest.mark.parametrize("sheet", sorted(PALETTES))
def test_words_pass_4_5_to_1(sheet: str) -> None:
    """Source: WCAG 2.2, success criterion 1.4.3 (text 4.5:1). These roles are used for words."""
    palette = PALETTES[sheet]
    for role in ("ink", "faint", "assumed", "unknown", "possible", "verdict-fail"):
        assert contrast_ratio(palette[role], palette["paper"]) >= 4.5, role


@pytest.mark.parametrize("sheet", ["light", "dark"])
def test_sources_differ_in_grey(sheet: str) -> None:
    hues = [PALETTES[sheet][f"source-{n + 1}"] for n in range(SOURCE_INKS)]
    for one, other in itertools.combinations(hues, 2):
        assert contrast_ratio(one, other) >= 1.2, (one, other)


@pytest.mark.parametrize("sheet", ["light", "dark"])
def test_no_source_is_green_or_red(sheet: str) -> None:
    """Source: NFPA 70, 250.119: green marks the equipment grounding conductor; ISO 3864-1: green is a state without
    danger and red a prohibition. Hue circle: red 0, yellow 60, green 120, cyan 180 degrees."""
    for n in range(SOURCE_INKS):
        color = PALETTES[sheet][f"source-{n + 1}"]
        r, g, b = (int(color[i : i + 2], 16) / 255 for i in (1, 3, 5))
        hue, saturation, _ = colorsys.rgb_to_hsv(r, g, b)
        degrees = 360 * hue
        assert saturation < 0.15 or not 50 < degrees < 200, f"{color} reads as green"
        assert saturation < 0.15 or 20 < degrees < 340, f"{color} reads as red"


def test_paper_is_black_on_white() -> None:
    palette = PALETTES["paper"]
    assert palette["paper"] == "#ffffff"
    for role, color in palette.items():
        assert color[1:3] == color[3:5] == color[5:7], f"{role} is not a grey"
    assert all(palette[f"source-{n + 1}"] == "#000000" for n in range(SOURCE_INKS))


def test_all_palettes_know_the_same_roles() -> None:
    assert set(PALETTES["light"]) == set(PALETTES["dark"]) == set(PALETTES["paper"])


def test_every_dash_and_weight_has_a_look() -> None:
    assert set(DASH_UNITS) == set(DASHES)
    assert set(CANVAS_WIDTH_PX) == set(PAPER_WIDTH_PT) == set(WEIGHTS)
    patterns = [p for d, p in DASH_UNITS.items() if d not in ("solid", "source-1")]
    assert len(set(patterns)) == len(patterns)
    assert all(len(p) % 2 == 0 for p in patterns)


def test_line_widths_step_down_and_printers_hold_them() -> None:
    """Source: ISO 128-20, line widths 0.13, 0.18, 0.25 ... 2 mm; common practice, no source: printers hold 0.18 mm."""
    for widths in (CANVAS_WIDTH_PX, PAPER_WIDTH_PT):
        assert [widths[w] for w in WEIGHTS] == sorted(widths.values(), reverse=True)
    assert min(PAPER_WIDTH_PT.values()) / 72 * 25.4 >= 0.179


@pytest.mark.parametrize("scale", [1.0, 0.7, 0.5, 0.4])
def test_new_work_is_told_from_what_exists_by_its_lines(scale: float) -> None:
    """Source: ISO 128-20, wide to narrow lines are 2:1 and never less than that; kept where the picture is shrunk."""
    existing, new = status_look("existing").weight, status_look("new").weight
    for widths in (CANVAS_WIDTH_PX, PAPER_WIDTH_PT):
        shrunk = {w: max(widths["hair"], v * scale) for w, v in widths.items()}
        assert shrunk[new] / shrunk[existing] >= (2 if widths is PAPER_WIDTH_PT else 1.5)


def test_more_sources_than_inks_start_over() -> None:
    assert source_ink(0) == source_ink(SOURCE_INKS) == "source-1"
    assert source_dash(0) == source_dash(4) == "source-1"
    pairs = {(source_ink(n), source_dash(n)) for n in range(12)}
    assert len(pairs) == 12, "hue and dash together stay different for twelve sources"


def test_luminance_ends() -> None:
    assert relative_luminance("#000000") == 0
    assert relative_luminance("#ffffff") == pytest.approx(1)
