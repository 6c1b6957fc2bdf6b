"""Drawings by hand for the tests of outages: items by name, joined terminal to terminal."""

from __future__ import annotations

from typing import Any

from oneline.model import KINDS, Drawing, End, WorkZone


def drawn(*items: tuple[str, str, dict[str, Any]], joints: str = "") -> Drawing:
    """A drawing of (kind, id, fields) and of joints written as "main.load-board.bus, ..."."""
    found = [KINDS[kind](id=item_id, name=item_id, **fields) for kind, item_id, fields in items]
    for pair in filter(None, (p.strip() for p in joints.split(","))):
        a, b = (End(*end.rsplit(".", 1)) for end in pair.split("-"))
        found.append(KINDS["joint"](id=f"joint {pair}", a=a, b=b))
    return Drawing().with_items(found)


def zoned(drawing: Drawing, *items: str, **fields: Any) -> Drawing:
    """The drawing with an outage "z" on these items."""
    return drawing.with_zone(WorkZone(id="z", items=items, **fields))


def small_shop(**main: Any) -> Drawing:
    """208Y/120 service, main, board; feeders to panel P1 (schedule) and panel P2 with a drawn motor; one pull-out."""
    circuits = [
        {"space": 1, "trip_a": 20.0, "va": 1200.0, "load_class": "lighting"},
        {"space": 2, "trip_a": 20.0, "va": 900.0, "load_class": "receptacles"},
    ]
    from oneline.model import Circuit

    rows = tuple(Circuit(**c) for c in circuits)
    main = {"form": "breaker", "trip_a": 200.0, "lockable": True, "service_disconnect": True, **main}
    return drawn(
        ("service", "S", {"system": "208Y/120"}),
        ("disconnect", "M", main),
        ("bus", "board", {"form": "gutter"}),
        ("disconnect", "F1", {"form": "fused switch", "rating_a": 100.0, "load_break": True, "lockable": True}),
        ("bus", "P1", {"circuits": rows}),
        ("disconnect", "F2", {"form": "breaker", "trip_a": 100.0, "lockable": True}),
        ("bus", "P2", {"all_listed": True}),
        ("disconnect", "B", {"form": "breaker", "trip_a": 40.0, "lockable": True}),
        ("load", "motor", {"load_class": "motor", "va": 9000.0, "phases": "ABC"}),
        joints="S.out-M.line, M.load-board.bus, board.bus-F1.line, F1.load-P1.bus, board.bus-F2.line, F2.load-P2.bus, "
        "P2.bus-B.line, B.load-motor.in",
    )
