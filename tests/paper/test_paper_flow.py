"""How blocks flow through columns: nothing lost, nothing doubled, nothing outside, in order."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oneline.paper.arrange import empty_room, fit_scale, orientations
from oneline.paper.flow import Block, Row, flow, least_height
from oneline.sheet import Picture
from oneline.sheet.display import Group, Stroke


def nothing(*_: object) -> None: ...


rows = st.builds(Row, st.floats(3, 30), st.just(nothing), st.just(False))
blocks = st.lists(
    st.builds(
        Block,
        st.lists(rows, min_size=1, max_size=25).map(tuple),
        st.lists(st.builds(Row, st.floats(3, 8), st.just(nothing)), max_size=2).map(tuple),
    ),
    min_size=1,
    max_size=6,
)


@given(blocks, st.lists(st.floats(60, 400), min_size=1, max_size=6))
def test_rows_keep_their_order_and_stay_inside(made: list[Block], heights: list[float]) -> None:
    placed = flow(made, heights)
    if placed is None:
        return
    own = [row for block in made for row in block.rows]
    again = {id(row) for block in made for row in block.again}
    assert [id(p.row) for p in placed if id(p.row) not in again] == [id(row) for row in own]
    last = (0, -1.0)
    for p in placed:
        assert p.y >= -1e-9
        assert p.y + p.row.height <= heights[p.column] + 1e-5
        assert (p.column, p.y) >= last
        last = (p.column, p.y + p.row.height - 1e-6)


@given(blocks, st.integers(1, 5))
def test_what_fits_at_the_least_height_does_not_fit_much_lower(made: list[Block], columns: int) -> None:
    height = least_height(made, columns, 2000.0)
    if height is None:
        assert flow(made, [2000.0] * columns) is None
    else:
        assert flow(made, [height] * columns) is not None


def test_headings_stay_with_their_first_row() -> None:
    head, body = Row(10, nothing, keep=True), Row(10, nothing)
    placed = flow([Block((body, body)), Block((head, body, body))], [35.0, 100.0])
    assert placed is not None
    assert [(p.column, p.y) for p in placed] == [(0, 0), (0, 10), (1, 0), (1, 10), (1, 20)]


def test_a_block_that_goes_on_repeats_its_heading() -> None:
    again = Row(8, nothing)
    block = Block(tuple(Row(10, nothing) for _ in range(6)), (again,))
    placed = flow([block], [40.0, 40.0])
    assert placed is not None
    assert [p.column for p in placed if p.row is again] == [1]
    assert len(placed) == 7


def test_row_higher_than_every_column_does_not_fit() -> None:
    assert flow([Block((Row(50, nothing),))], [40.0, 40.0, 40.0]) is None


def test_scale_fills_the_room() -> None:
    assert fit_scale((416, 216), (400, 400)) == pytest.approx(0.5)
    assert fit_scale((10_000, 10_000), (400, 400)) == 1.5, "not larger than helps"
    assert fit_scale((10, 10), (400, 400)) <= 0


def test_orientations_of_unknown_paper() -> None:
    with pytest.raises(ValueError, match="napkin"):
        orientations("napkin")


def test_empty_room_keeps_clear_of_what_is_drawn() -> None:
    def block(left: float, top: float, right: float, bottom: float) -> Group:
        outline = Stroke(((left, top), (right, top), (right, bottom), (left, bottom)), closed=True)
        return Group("i", "symbol", (outline,), (left, top, right, bottom))

    picture = Picture((block(0, 0, 100, 60), block(60, 60, 100, 100)), (0, 0, 100, 100), {})
    at = empty_room(picture, (1.0, 0.0, 0.0), (0, 0, 100, 100), (30, 20))
    assert at is not None
    assert at[0] + 30 <= 60 - 9
    assert at[1] >= 60 + 9
    assert empty_room(picture, (1.0, 0.0, 0.0), (0, 0, 100, 100), (60, 20)) is None
