"""Random supplies with several sources, ties and transfer switches, and what is dead in them by trying every position.

Knows nothing of the program's nodes, branches and cuts: it reads a drawing item by item and joins terminals one by one.
Physics: closed contacts, conductors, meters and transformers (both ways) join their ends; a suspected tie may be closed; a
transfer switch is in one position at a time.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Collection, Iterable, Iterator

from oneline.model import KINDS, Connection, Disconnect, Drawing, End, Item, SuspectedTie, TransferSwitch

SOURCES = ("service", "generator", "solar", "battery")
Terminal = tuple[str, str]


def put(drawing: Drawing, kind: str, item_id: str, **values: object) -> Drawing:
    return drawing.with_items([KINDS[kind](id=item_id, **values)])


def join(drawing: Drawing, a: str, b: str, kind: str = "joint", item_id: str = "", **values: object) -> Drawing:
    """Connect "item.terminal" with "item.terminal"; ``b`` is "" for a tie to an unknown place."""
    ends = [End(*text.rsplit(".", 1)) if text else None for text in (a, b)]
    return put(drawing, kind, item_id or f"{kind} {a} {b}", a=ends[0], b=ends[1], **values)


def random_supply(rng: random.Random, devices: int, buses: int = 8, traced: str | None = None) -> Drawing:
    """Up to six sources on buses that up to ``devices`` disconnects and transfer switches connect in no sensible way; at
    times also conductors, meters, transformers and suspected ties (``traced`` as given)."""
    d = Drawing()
    count = rng.randint(2, buses)
    for i in range(count):
        d = put(d, "bus", f"bus{i}", all_listed=True)

    def point() -> str:
        return f"bus{rng.randrange(count)}.bus"

    for i in range(rng.randint(1, 6)):
        d = put(d, rng.choice(SOURCES), f"source{i}")
        d = join(d, f"source{i}.out", point())
    share = rng.choice((0, 0.15, 0.4))
    for i in range(devices):
        if rng.random() < share:
            values = {"lockable_off": rng.choice((True, False, None)), "automatic": rng.choice((True, False))}
            d = put(d, "transfer", f"switch{i}", position=rng.choice(("normal", "off", "alternate")), **values)
            for terminal in ("normal", "alternate", "load"):
                d = join(d, f"switch{i}.{terminal}", point())
        else:
            d = put(d, "disconnect", f"device{i}", closed=rng.random() < 0.7, normally_open=rng.random() < 0.2)
            for terminal in ("line", "load"):
                d = join(d, f"device{i}.{terminal}", point())
    for i in range(rng.choice((0, 0, 0, 1, 2))):
        kind = rng.choice(("transformer", "meter", "run", "run", "tie", "unknown place"))
        a, b = point(), point()
        if kind == "unknown place":
            d = join(d, a, "", "tie", f"more{i}", traced=traced or "untraced")
        elif kind in ("run", "tie"):
            more = {"traced": traced or "untraced"} if kind == "tie" else {}
            d = join(d, a, b, kind, f"more{i}", **more) if a != b else d
        else:
            d = put(d, kind, f"more{i}")
            d = join(join(d, f"more{i}.line", a), f"more{i}.load", b)
    return d


def terminals(item: Item) -> list[Terminal]:
    """All terminals of an item; of a connection the terminals that its ends lie on."""
    if isinstance(item, Connection):
        return [(end.item, end.terminal) for end in (item.a, item.b) if end is not None]
    return [(item.id, terminal) for terminal in item.terminals]


def may_open(item: Item) -> bool:
    return isinstance(item, Disconnect) or (isinstance(item, TransferSwitch) and item.lockable_off is True)


def energy_places(drawing: Drawing) -> dict[str, Terminal]:
    """Where energy comes in: sources, and the far end of ties to unknown places."""
    found = {i.id: (i.id, "out") for i in drawing.items.values() if i.kind in SOURCES}
    found |= {t.id: ("beyond", t.id) for t in drawing.of(SuspectedTie) if t.b is None}
    return found


def switch_positions(drawing: Drawing, opened: Collection[str], also_off: bool = False) -> Iterator[dict[str, str]]:
    """Every way the transfer switches may stand, those held open being off."""
    switches = list(drawing.of(TransferSwitch))
    either = ("normal", "alternate", "off") if also_off else ("normal", "alternate")
    for stand in itertools.product(*(("off",) if s.id in opened else either for s in switches)):
        yield {s.id: position for s, position in zip(switches, stand, strict=True)}


class Joined:
    """Terminals joined by everything closed."""

    def __init__(self, drawing: Drawing, opened: Collection[str], stand: dict[str, str]) -> None:
        self._over: dict[Terminal, Terminal] = {}
        for item in drawing.items.values():
            if isinstance(item, Connection):
                b = (item.b.item, item.b.terminal) if item.b else ("beyond", item.id)
                self._join((item.a.item, item.a.terminal), b)
            elif isinstance(item, TransferSwitch):
                if stand[item.id] != "off":
                    self._join((item.id, stand[item.id]), (item.id, "load"))
            elif len(item.terminals) == 2 and item.id not in opened:
                self._join(*terminals(item))

    def top(self, terminal: Terminal) -> Terminal:
        while (up := self._over.get(terminal, terminal)) != terminal:
            terminal = up
        return terminal

    def _join(self, a: Terminal, b: Terminal) -> None:
        a, b = self.top(a), self.top(b)
        if a != b:
            self._over[a] = b


def reaching(drawing: Drawing, opened: Collection[str], zone: Iterable[Terminal]) -> set[str]:
    """Sources that reach a zone in some position of the transfer switches, every disconnect not held open being closed."""
    found: set[str] = set()
    places = energy_places(drawing)
    for stand in switch_positions(drawing, opened):
        joined = Joined(drawing, opened, stand)
        tops = {joined.top(t) for t in zone}
        found |= {source for source, t in places.items() if joined.top(t) in tops}
    return found


def reaching_in_any_position(drawing: Drawing, opened: Collection[str], zone: Iterable[Terminal]) -> set[str]:
    """The same over every position of every device that is not held open, one by one."""
    free = [d.id for d in drawing.of(Disconnect) if d.id not in opened]
    places, zone = energy_places(drawing), list(zone)
    found: set[str] = set()
    for stand in switch_positions(drawing, opened, also_off=True):
        for bits in itertools.product((False, True), repeat=len(free)):
            open_now = {*opened, *(d for d, closed in zip(free, bits, strict=True) if not closed)}
            joined = Joined(drawing, open_now, stand)
            tops = {joined.top(t) for t in zone}
            found |= {source for source, t in places.items() if joined.top(t) in tops}
    return found


def all_minimal_sets(
    drawing: Drawing, zone: Iterable[Terminal], cost: dict[str, int], leave: Collection[str] = ()
) -> list[tuple[int, int, tuple[str, ...]]]:
    """(cost, number, devices) of every set without a superfluous device that parts a zone from all sources but those left,
    the cheapest first: by looking at every subset."""
    devices, zone = sorted(cost), list(zone)
    found: list[tuple[int, int, tuple[str, ...]]] = []
    every = (c for n in range(len(devices) + 1) for c in itertools.combinations(devices, n))
    for subset in sorted((sum(cost[d] for d in c), len(c), c) for c in every):
        if any(set(smaller) <= set(subset[2]) for _, _, smaller in found):
            continue
        if reaching(drawing, subset[2], zone) <= set(leave):
            found.append(subset)
    return found
