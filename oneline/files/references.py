"""References among items: every one leads somewhere, nothing feeds itself."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from oneline.files.rows import Spot
from oneline.files.text import clean_text
from oneline.model import Bus, Connection, Item, SuspectedTie

ItemAt = tuple[Item, int, Any]
_JOIN = "Connect it again."


def check_references(
    items: list[ItemAt],
    problems: list[Any],
    line: Callable[[int], int | None],
    newer: bool,
    kept: list[Any],
) -> list[ItemAt]:
    """Drop connections that lead nowhere and cut schedules that feed themselves; each is reported.

    ``kept``: raw items of a newer version; a connection that ends at one of them, or at a terminal that only a newer
    version knows, joins them there instead of being lost. Returns the remaining items.
    """
    by_id = {item.id: item for item, _, _ in items}
    kept_ids = {raw["id"] for raw in kept}
    good: list[ItemAt] = []
    for item, index, raw in items:
        at = Spot(_name(item, by_id), item.id, lambda index=index: line(index), problems, newer)  # type: ignore[misc]
        if isinstance(item, Connection):
            why, foreign = _end_fault(item, by_id, kept_ids)
            if why and foreign and newer:
                problems[:] = [p for p in problems if p.item != item.id]  # nothing of it was taken
                why = f"{why} It stays in the file."
                at.report("A connection is not shown", why, "Update Oneline to see it.", lasting=True)
                kept.append(raw)
                continue
            if why:
                at.report("A connection was left out", why, _JOIN)
                continue
        if isinstance(item, Bus):
            item = _checked_schedule(item, by_id, kept_ids if newer else set(), at)
            by_id[item.id] = item
        good.append((item, index, raw))
    return _without_feeding_cycles(good, by_id, problems, line, newer)


def _name(item: Item, by_id: dict[str, Item]) -> str:
    if item.name or not isinstance(item, Connection):
        return item.name
    ends = [by_id[e.item].name for e in (item.a, item.b) if e is not None and e.item in by_id]
    return f"{item.title} {' to '.join(filter(None, ends))}".strip()


def _end_fault(item: Connection, by_id: dict[str, Item], kept_ids: set[str]) -> tuple[str, bool]:
    """What is wrong with the ends of a connection ("" when nothing), and whether a newer version may know such an end."""
    if item.a is None:
        return "It has no first end.", False
    if item.b is None and not isinstance(item, SuspectedTie):
        return "It has only one end.", False
    ends = [item.a] if item.b is None else [item.a, item.b]
    for end in ends:
        if end.item not in by_id and end.item not in kept_ids:
            return f"It ends at {end.item}, and there is no such item.", False
    for end in ends:
        if end.item in kept_ids:
            return f"It ends at {end.item}, an item of a newer version.", True
        if end.terminal not in by_id[end.item].terminals:
            where = by_id[end.item].name or end.item
            return f"It ends at {where}, which has no terminal {clean_text(end.terminal, 'name')!r}.", True
    if len(ends) == 2 and ends[0].item == ends[1].item:
        return f"Both its ends are at {by_id[ends[0].item].name or ends[0].item}: an item cannot feed itself.", False
    return "", False


def _checked_schedule(bus: Bus, by_id: dict[str, Item], kept_ids: set[str], at: Spot) -> Bus:
    rows = []
    for row in bus.circuits:
        if row.feeds is None:
            rows.append(row)
            continue
        target = by_id.get(row.feeds)
        if row.feeds in kept_ids:
            extra = MappingProxyType({"use": row.use, **row.extra, "feeds": row.feeds})
            rows.append(replace(row, feeds=None, use="load", extra=extra))
            continue
        if row.feeds == bus.id:
            why = f"Its circuit in space {row.space} feeds the panel it is in: an item cannot feed itself."
        elif target is None:
            why = f"Its circuit in space {row.space} feeds {row.feeds}, and there is no such item."
        elif isinstance(target, Connection):
            why = f"Its circuit in space {row.space} feeds {row.feeds}, which is a connection and not a device."
        else:
            rows.append(row)
            continue
        at.report("A circuit leads nowhere", f"{why} Its load counts as unknown.", "Say again what the circuit feeds.")
        rows.append(replace(row, feeds=None, use="load"))
    return bus if tuple(rows) == bus.circuits else replace(bus, circuits=tuple(rows))


def _without_feeding_cycles(
    items: list[ItemAt], by_id: dict[str, Item], problems: list[Any], line: Callable[[int], int | None], newer: bool
) -> list[ItemAt]:
    """Schedules that feed each other in a ring: the row that closes the ring is cut."""
    state: dict[str, int] = {}
    cut: set[tuple[str, str]] = set()

    def feeds(bus_id: str) -> list[str]:
        bus = by_id[bus_id]
        assert isinstance(bus, Bus)
        return [r.feeds for r in bus.circuits if r.feeds is not None and isinstance(by_id.get(r.feeds), Bus)]

    for start in [item.id for item, _, _ in items if isinstance(item, Bus)]:
        stack = [(start, iter(feeds(start)))] if start not in state else []
        state.setdefault(start, 1)
        while stack:
            here, rest = stack[-1]
            there = next(rest, None)
            if there is None:
                state[here] = 2
                stack.pop()
            elif state.get(there) == 1:
                cut.add((here, there))
            elif there not in state:
                state[there] = 1
                stack.append((there, iter(feeds(there))))
    if not cut:
        return items
    out: list[ItemAt] = []
    for item, index, raw in items:
        ring = {there for here, there in cut if here == item.id}
        if ring and isinstance(item, Bus):
            at = Spot(item.name, item.id, lambda index=index: line(index), problems, newer)  # type: ignore[misc]
            names = ", ".join(sorted(by_id[t].name or t for t in ring))
            why = f"It feeds {names}, which feeds it in turn. Nothing can feed itself; the load counts as unknown."
            at.report("Panel schedules feed each other in a ring", why, "Say again what the circuit feeds.")
            rows = tuple(replace(r, feeds=None, use="load") if r.feeds in ring else r for r in item.circuits)
            item = replace(item, circuits=rows)
        out.append((item, index, raw))
    return out
