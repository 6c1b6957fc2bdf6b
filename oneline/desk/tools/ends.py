"""Which terminals a connection between two items uses when the user points at the items, not at terminals."""

from __future__ import annotations

from oneline.model import SOURCE_KINDS, Bus, Connection, Drawing, End, Item, Load, TransferSwitch
from oneline.model.edits import EditRefused

#: Terminals on the side of the source, by their names.
UPPER = ("line", "in", "normal", "alternate")
#: Terminals on the side of the load.
LOWER = ("out", "load")
#: Forms of bus where conductors are spliced and no device is bolted on.
SPLICED = ("gutter", "splice box")


def in_use(drawing: Drawing, item_id: str) -> dict[str, int]:
    """How many connections each terminal of an item has."""
    counts = dict.fromkeys(drawing.get(item_id).terminals, 0)
    for conn in drawing.connections_of(item_id):
        for end in (conn.a, conn.b):
            if end is not None and end.item == item_id:
                counts[end.terminal] += 1
    return counts


def downward_end(drawing: Drawing, item_id: str) -> End:
    """The terminal of an item from which the circuit goes on toward the loads."""
    item = drawing.get(item_id)
    if isinstance(item, Load):
        raise EditRefused(
            f"{drawing.name_of(item_id)} is a load: the circuit ends there. Select the device or panel that feeds it."
        )
    for terminal in item.terminals:
        if terminal in ("out", "load", "bus"):
            return End(item_id, terminal)
    raise EditRefused(f"{drawing.name_of(item_id)} has no terminal that goes on.")


def upward_end(drawing: Drawing, item_id: str) -> End | None:
    """The free terminal of an item toward a source; a transfer switch gives its alternate side first to a second source."""
    item = drawing.get(item_id)
    used = in_use(drawing, item_id)
    if isinstance(item, TransferSwitch):
        free = [t for t in ("normal", "alternate") if not used[t]]
        return End(item_id, free[0]) if free else None
    if isinstance(item, Bus):
        return None if used["bus"] else End(item_id, "bus")
    free = [t for t in item.terminals if t in UPPER and not used[t]]
    return End(item_id, free[0]) if free else None


def entering_terminal(item: Item, above: Item) -> str:
    """The terminal by which an item hangs below another one."""
    if isinstance(item, TransferSwitch):
        return "alternate" if above.kind in ("generator", "battery") else "normal"
    return item.terminals[0]


def ends_between(drawing: Drawing, a: End | str, b: End | str) -> tuple[End, End]:
    """The two ends of a connection from ``a`` (toward the source) to ``b``; an id leaves the choice of terminal to us.

    The choice prefers a free lower terminal above and a free upper terminal below, and turns the pair round where only
    the other way makes sense (from a load up to its breaker). Raises ``EditRefused`` for items that cannot be joined.
    """
    item_a, item_b = (e.item if isinstance(e, End) else e for e in (a, b))
    for item_id in (item_a, item_b):
        if isinstance(drawing.get(item_id), Connection):
            raise EditRefused(
                "A connection ends at an item's terminal, not at a line. Put a gutter or a device into it."
            )
    if item_a == item_b:
        raise EditRefused(f"Both ends are at {drawing.name_of(item_a)}. Connect it to something else.")
    pairs = [
        (cost_a + cost_b + (0 if _flows(end_a, end_b) else 3), n, end_a, end_b)
        for n, (cost_a, end_a) in enumerate(_choices(drawing, a, upper=True))
        for cost_b, end_b in _choices(drawing, b, upper=False)
    ]
    best = min(pairs, key=lambda p: p[:2])
    end_a, end_b = best[2], best[3]
    upside_down = end_a.terminal in UPPER or (
        end_b.terminal in LOWER and drawing.get(end_b.item).kind in SOURCE_KINDS and end_a.terminal == "bus"
    )
    return (end_b, end_a) if upside_down else (end_a, end_b)


def connection_kind(drawing: Drawing, upper: End, lower: End) -> str:
    """Whether two terminals are most likely bolted together ("joint") or joined by conductors ("run").

    A device on the load side of a bus is bolted to it; in a gutter or splice box conductors are spliced, so what is there
    hangs on tap conductors. A device that feeds a bus is bolted only when it is the main of a switchboard; everything
    else is conductors, whose unknown length and size then ask to be found out.
    """
    above, below = drawing.get(upper.item), drawing.get(lower.item)
    devices = ("disconnect", "transfer", "meter")
    if isinstance(above, Bus) and above.form not in SPLICED and below.kind in devices and lower.terminal in UPPER:
        return "joint"
    if isinstance(below, Bus) and above.kind in devices and upper.terminal == "load":
        plugged = any(
            c.kind == "joint" and End(above.id, above.terminals[0]) in (c.a, c.b)
            for c in drawing.connections_of(above.id)
        )
        return "joint" if below.form == "switchboard" and not plugged else "run"
    return "run"


def _flows(a: End, b: End) -> bool:
    """Whether one of the two is a terminal toward the load and the other one toward the source (a bus is both)."""
    return not (a.terminal in UPPER and b.terminal in UPPER) and not (a.terminal in LOWER and b.terminal in LOWER)


def _choices(drawing: Drawing, where: End | str, upper: bool) -> list[tuple[int, End]]:
    if isinstance(where, End):
        return [(0, where)]
    used = in_use(drawing, where)
    liked = LOWER if upper else UPPER
    found = []
    for terminal in drawing.get(where).terminals:
        cost = 0 if terminal == "bus" else (4 if used[terminal] else 0)
        cost += 0 if terminal in liked or terminal == "bus" else 1
        found.append((cost, End(where, terminal)))
    return found
