"""The plot of a demand record: where things stand, what covers what, and what is told in words where it cannot be drawn."""

from __future__ import annotations

import itertools
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oneline.model import DemandSeries
from oneline.sheet.display import Arc, Primitive, Stroke, Text
from oneline.sheet.metrics import has_glyph, text_box
from oneline.sheet.recordplot import PlotLines, plot_frame, record_picture, start_of, step_at

MONTH = DemandSeries("2026-01-05 00:00", 60.0, "A", tuple(float(50 + 40 * (k % 24 > 8)) for k in range(36 * 24)))
LINES = PlotLines(90.0, "2026-01-05 09:00", 112.5, "Peak as counted, × 1.25: 113 A", 200.0, "Main 1: 200 A")
ROOM = (560.0, 260.0)


def primitives(series: DemandSeries, lines: PlotLines, room: tuple[float, float] = ROOM) -> tuple[Primitive, ...]:
    return record_picture(series, lines, *room).groups[0].primitives


def words(series: DemandSeries, lines: PlotLines) -> list[str]:
    return [p.text for p in primitives(series, lines) if isinstance(p, Text)]


def test_peak_and_limits_stand_at_their_figures() -> None:
    frame = plot_frame(MONTH, LINES, *ROOM)
    level = [p for p in primitives(MONTH, LINES) if isinstance(p, Stroke) and len(p.points) == 2]
    rating = [p for p in level if p.weight == "medium"]
    counted = [p for p in level if p.dash == "removed"]
    assert [p.points[0][1] for p in rating] == [pytest.approx(frame.y(200))]
    assert [p.points[0][1] for p in counted] == [pytest.approx(frame.y(112.5))]
    mark = next(p for p in primitives(MONTH, LINES) if isinstance(p, Arc))
    assert mark.center == (pytest.approx(frame.x(9 * 60)), pytest.approx(frame.y(90)))
    assert "Peak 90.0 A, Jan 5, 2026, 09:00" in words(MONTH, LINES)


def test_the_line_goes_through_every_figure_and_stops_at_gaps() -> None:
    broken = DemandSeries("2026-01-05 00:00", 60.0, "kW", (10.0, 20.0, None, None, 15.0), ((120.0, 240.0),))
    frame = plot_frame(broken, PlotLines(), *ROOM)
    lines = [p for p in primitives(broken, PlotLines()) if isinstance(p, Stroke) and p.ink == "accent"]
    assert [len(p.points) for p in lines] == [4, 2]
    told = [
        frame.high - (y - frame.top) / (frame.bottom - frame.top) * (frame.high - frame.low) for _, y in lines[0].points
    ]
    assert told == pytest.approx([10, 10, 20, 20])
    ghosts = [p for p in primitives(broken, PlotLines()) if isinstance(p, Stroke) and p.ink == "ghost"]
    hatch = [p for p in ghosts if p.points[0][0] != p.points[1][0] and p.points[0][1] != p.points[1][1]]
    assert len(hatch) > 10
    xs = [x for p in hatch for x, _ in p.points]
    assert min(xs) >= frame.x(120) - 1e-6
    assert max(xs) <= frame.x(240) + 1e-6
    assert "not recorded" in words(broken, PlotLines())


def test_a_rating_far_above_is_told_and_not_drawn() -> None:
    lines = PlotLines(90.0, "2026-01-05 09:00", 112.5, "counted", 3000.0, "Main: 3,000 A")
    assert "Main: 3,000 A, above this plot" in words(MONTH, lines)
    assert not [p for p in primitives(MONTH, lines) if isinstance(p, Stroke) and p.weight == "medium"]


def test_over_the_rating_is_marked_by_its_ink() -> None:
    over = PlotLines(90.0, "2026-01-05 09:00", 112.5, "counted", 100.0, "Main 1: 100 A")
    assert [p.ink for p in primitives(MONTH, over) if isinstance(p, Stroke) and p.weight == "medium"] == [
        "verdict-fail"
    ]


def test_the_pointer_reads_what_is_below_it() -> None:
    frame = plot_frame(MONTH, LINES, *ROOM)
    for n in (0, 8, 9, 500, len(MONTH.highest) - 1):
        found = step_at(MONTH, frame, frame.x((n + 0.5) * 60))
        assert found == (start_of(MONTH) + timedelta(hours=n), MONTH.highest[n])
    assert step_at(MONTH, frame, frame.left - 5) is None
    assert step_at(MONTH, frame, frame.right + 5) is None


@st.composite
def plots(draw: st.DrawFn) -> tuple[DemandSeries, PlotLines, tuple[float, float]]:
    step = draw(st.sampled_from([5.0, 15.0, 60.0, 360.0, 1440.0]))
    highest = draw(
        st.lists(st.none() | st.integers(-50_000, 2_000_000).map(lambda n: n / 100), min_size=1, max_size=120)
    )
    gap = sorted(draw(st.tuples(st.floats(0, step * len(highest)), st.floats(0, step * len(highest)))))
    series = DemandSeries(
        "2025-11-20 07:00", step, "kW", tuple(highest), ((gap[0], gap[1]),) if draw(st.booleans()) else ()
    )
    known = [v for v in highest if v is not None and v > 0]
    if not known:
        return series, PlotLines(), ROOM
    peak = max(known)
    rating = draw(st.none() | st.floats(peak * 0.3, peak * 8))
    at = start_of(series) + timedelta(minutes=step * highest.index(peak))
    lines = PlotLines(
        peak, f"{at:%Y-%m-%d %H:%M}", 1.25 * peak, f"Peak as counted, × 1.25: {1.25 * peak:,.1f} kW", rating,
        "" if rating is None else f"Main 1, annex: {rating:,.0f} A = {rating / 3:,.0f} kW at an assumed power factor of 0.85",
    )  # fmt: skip
    return series, lines, draw(st.sampled_from([ROOM, (230.0, 170.0), (400.0, 180.0), (900.0, 500.0)]))


@settings(max_examples=250, deadline=None)
@given(plots())
def test_nothing_leaves_the_room_and_no_words_cover_others(
    found: tuple[DemandSeries, PlotLines, tuple[float, float]],
) -> None:
    series, lines, (width, height) = found
    drawn = primitives(series, lines, (width, height))
    texts = [p for p in drawn if isinstance(p, Text)]
    for p in drawn:
        if isinstance(p, Stroke):
            assert all(-1 <= x <= width + 1 and -1 <= y <= height + 1 for x, y in p.points), p
    for text in texts:
        left, top, right, bottom = text_box(text)
        assert left >= -1
        assert right <= width + 1, text
        assert top >= -1, text
        assert bottom <= height + 1
        assert all(has_glyph(c, text.face) for c in text.text)
    for one, other in itertools.combinations(texts, 2):
        a, b = text_box(one), text_box(other)
        slack = 1.5  # boxes hold the ascent of accents that figures do not have
        assert not (a[0] < b[2] - slack and b[0] < a[2] - slack and a[1] < b[3] - slack and b[1] < a[3] - slack), (
            one,
            other,
        )
