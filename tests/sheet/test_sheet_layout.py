"""Places found for a drawing: source on top, nothing on anything else, the user's own places left alone."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from oneline.model import Bus, Connection, Disconnect, Drawing, End, Place
from oneline.model.edits import add, connect, operate
from oneline.sheet import Picture, arrange, build_picture, placed
from oneline.sheet.tree import feeding_forest

_SEEDS = range(40)
Grow = Callable[[int, int], Drawing]
Grown = Callable[[int], tuple[Drawing, Picture]]
Measure = Callable[[Any, Drawing], Any]


@pytest.mark.parametrize("seed", _SEEDS)
def test_nothing_lies_on_anything(seed: int, grown: Grown, measures: Measure) -> None:
    drawing, picture = grown(seed)
    assert measures(picture, drawing).overlaps() == []


@pytest.mark.parametrize("seed", range(0, 40, 5))
def test_nothing_lies_on_anything_with_iec_symbols(seed: int, grown: Grown, measures: Measure) -> None:
    drawing, _ = grown(seed)
    assert measures(build_picture(drawing, None, "existing", "iec"), drawing).overlaps() == []


@pytest.mark.parametrize("seed", range(0, 40, 3))
def test_a_grid_square_of_air_between_strangers(seed: int, grown: Grown) -> None:
    """Symbols that are not connected to each other stand at least one grid square apart."""
    drawing, picture = grown(seed)
    boxes = {g.item: g.box for g in picture.groups if g.part == "symbol" and g.item not in picture.routes}
    joined = {frozenset((c.a.item, c.b.item)) for c in drawing.connections() if c.b is not None}
    for (a, one), (b, two) in itertools.combinations(boxes.items(), 2):
        if frozenset((a, b)) in joined:
            continue
        dx = max(one[0] - two[2], two[0] - one[2])
        dy = max(one[1] - two[3], two[1] - one[3])
        # Hit boxes are a little larger than what is drawn: four units less than a square is a square between symbols.
        assert max(dx, dy) >= 6, (a, b)


@pytest.mark.parametrize("seed", range(0, 40, 3))
def test_only_or_first_below_is_straight_below(seed: int, grown: Grown) -> None:
    """A line to the first thing below a device, and to everything below a bar, has no corner."""
    drawing, picture = grown(seed)
    routes = picture.routes
    forest = feeding_forest(drawing)
    for twig in forest.twigs.values():
        if not twig.parent:
            continue
        siblings = [
            c for c in forest.twigs[twig.parent].children if forest.twigs[c].parent_terminal == twig.parent_terminal
        ]
        if isinstance(drawing.get(twig.parent), Bus) or siblings[0] == twig.item:
            points = routes[twig.connection]
            assert len({x for x, _ in points}) == 1, (twig, points)


@pytest.mark.parametrize("seed", range(0, 40, 3))
def test_load_is_below_source(seed: int, grown: Grown) -> None:
    """Whatever hangs on the load side of something stands lower; what feeds a bar from below may stand on it."""
    drawing, _ = grown(seed)
    places = placed(drawing)
    for twig in feeding_forest(drawing).twigs.values():
        if twig.parent and twig.terminal in ("line", "in", "normal", "bus"):
            assert places[twig.item].y > places[twig.parent].y


def test_same_drawing_same_places(random_drawing: Grow) -> None:
    one, two = placed(random_drawing(7, 40)), placed(random_drawing(7, 40))
    assert one == two


def test_all_places_are_on_the_grid(random_drawing: Grow) -> None:
    for seed in range(6):
        for place in placed(random_drawing(seed, 30)).values():
            assert place.x % 10 == 0
            assert place.y % 10 == 0


def test_arrange_gives_every_item_a_place_and_drops_bends(old_service: Drawing) -> None:
    conn = next(c for c in old_service.connections() if c.kind == "run")
    bent = old_service.with_items([replace(conn, bends=(Place(5, 5),))])
    done = arrange(bent)
    assert all(i.place is not None for i in done.items.values() if not isinstance(i, Connection))
    assert all(c.bends == () for c in done.connections())
    assert [replace(i, place=None) for i in done.items.values()] == [
        replace(i, place=None) for i in old_service.items.values()
    ]


def test_arrange_some_leaves_the_others_alone(old_service: Drawing) -> None:
    done = arrange(old_service)
    chosen = [i.id for i in done.of(Disconnect)][-2:]
    again = arrange(done, chosen)
    for item in done.items.values():
        if item.id not in chosen:
            assert again.get(item.id) == item
    assert all(again.get(i).place is not None for i in chosen)


def test_users_places_are_respected(random_drawing: Grow) -> None:
    drawing = random_drawing(11, 25)
    items = [i for i in drawing.items.values() if not isinstance(i, Connection)]
    mine = {items[0].id: Place(333, 77), items[3].id: Place(-500, 400)}
    drawing = drawing.with_items([replace(drawing.get(k), place=p) for k, p in mine.items()])
    places = placed(drawing)
    assert {k: places[k] for k in mine} == mine
    assert len(places) == len(items)


@pytest.mark.parametrize("seed", [0, 1, 3, 4, 5, 6, 7, 8])
def test_new_items_find_a_free_spot_on_an_arranged_drawing(seed: int, random_drawing: Grow, measures: Measure) -> None:
    """One more feeder on a bar, not placed by anybody, lands on nothing."""
    drawing = arrange(random_drawing(seed, 30))
    bus = next(drawing.of(Bus))
    drawing, breaker = add(drawing, "disconnect", name="Added", trip_a=20)
    drawing, panel = add(drawing, "bus", name="Added panel", rating_a=100)
    drawing, _ = connect(drawing, End(bus.id, "bus"), End(breaker, "line"))
    drawing, _ = connect(drawing, End(breaker, "load"), End(panel, "bus"), kind="run", size="3", length_ft=20)
    symbols = measures(build_picture(drawing, None, "proposed"), drawing).symbols
    for item in (breaker, panel):
        box = symbols[item]
        for other, there in symbols.items():
            if other != item:
                apart = box[0] >= there[2] or box[2] <= there[0] or box[1] >= there[3] or box[3] <= there[1]
                assert apart, (item, other)


def test_transfer_switch_has_both_feeds_above(old_service: Drawing) -> None:
    places = placed(old_service)
    by_name = {i.name: places[i.id] for i in old_service.items.values() if i.id in places}
    assert by_name["Generator"].y < by_name["Gen breaker"].y < by_name["Standby switch"].y
    assert by_name["H-2,4,6"].y < by_name["Standby switch"].y
    assert by_name["Generator"].x > by_name["H-2,4,6"].x


def test_array_hangs_at_the_far_end_of_its_bar(old_service: Drawing) -> None:
    places = placed(old_service)
    by_name = {i.name: places[i.id] for i in old_service.items.values() if i.id in places}
    assert by_name["H-8,10,12"].x > max(by_name["H-1,3,5"].x, by_name["H-2,4,6"].x)
    assert by_name["Roof array"].y > by_name["H-8,10,12"].y


def test_a_backfed_device_stands_on_its_bar() -> None:
    drawing, service = add(Drawing(), "service", name="Service")
    drawing, main = add(drawing, "disconnect", name="Main")
    drawing, bus = add(drawing, "bus", name="Board")
    drawing, back = add(drawing, "disconnect", name="Battery breaker")
    drawing, battery = add(drawing, "battery", name="Battery")
    for a, b in (((service, "out"), (main, "line")), ((main, "load"), (bus, "bus")), ((bus, "bus"), (back, "load")),
                 ((battery, "out"), (back, "line"))):  # fmt: skip
        drawing, _ = connect(drawing, End(*a), End(*b))
    places = placed(drawing)
    assert places[battery].y < places[back].y < places[bus].y


def test_proportion_is_followed(old_service: Drawing) -> None:
    def spread(proportion: float) -> float:
        box = build_picture(arrange(old_service, proportion=proportion), None, "proposed").box
        return (box[2] - box[0]) / (box[3] - box[1])

    assert spread(4.0) >= spread(1.5) >= spread(0.6)


def test_an_empty_drawing_and_loose_items() -> None:
    assert placed(Drawing()) == {}
    drawing, one = add(Drawing(), "bus", name="A")
    drawing, two = add(drawing, "load", name="B")
    places = placed(drawing)
    assert places[one] != places[two]


def test_switching_moves_nothing(old_service: Drawing) -> None:
    """Opening a device, or moving the transfer switch, leaves everything where it is."""
    before = placed(old_service)
    terminals = build_picture(old_service, None, "proposed").terminals
    for item in old_service.items.values():
        if item.kind in ("disconnect", "transfer"):
            after = operate(old_service, item.id)
            assert placed(after) == before
    assert (
        build_picture(operate(old_service, next(old_service.of(Disconnect)).id), None, "proposed").terminals
        == terminals
    )
