"""Notes what every answer is made from, so that an edit makes only those answers anew that read what it changed.

A *key* names something that can change while the network stays as it is: an item (its id), all items of a class, the
figures at a node. While an answer is made, whatever is looked at is noted. *Memos* are answers that other answers read;
they are keys too, and change only when making them anew gives something else.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, TypeVar

from oneline.model import Connection, Drawing, Item
from oneline.model.drawing import connections_by_end
from oneline.network import Branch

Key = Hashable
T = TypeVar("T")
ItemT = TypeVar("ItemT", bound=Item)


def all_of(cls: type[Item]) -> Key:
    """Key of everything that is an item of a class."""
    return ("all", cls)


def field_of(cls: type[Item], field_name: str) -> Key:
    """Key of one field of everything that is an item of a class."""
    return ("field", cls, field_name)


def changed_keys(item: Item, names: Iterable[str]) -> set[Key]:
    """Keys of a changed item, of the classes it is of, and of those fields that changed."""
    classes = [c for c in type(item).__mro__ if issubclass(c, Item)]
    return {item.id, *map(all_of, classes), *(field_of(c, name) for c in classes for name in names)}


@dataclass
class _Memo:
    value: Any
    make: Callable[[], Any]
    reads: frozenset[Key]
    #: Above every memo that it reads.
    height: int


@dataclass
class Reads:
    """The notes of one kept study. ``frame``: what is noted now, ``None`` while nothing is."""

    frame: set[Key] | None = None
    _memos: dict[Key, _Memo] = field(default_factory=dict)
    #: Which memos and answers read a key.
    _readers: dict[Key, set[Key]] = field(default_factory=dict)
    _answers: dict[Key, frozenset[Key]] = field(default_factory=dict)
    #: While an edit is followed: keys that changed, memos that wait to be made anew, lowest first.
    _changed: set[Key] = field(default_factory=set)
    _waiting: set[Key] = field(default_factory=set)
    _heap: list[tuple[int, int, Key]] = field(default_factory=list)
    _ticket: int = 0

    # -------------------------------------------------------------------------------------------------- noting
    def note(self, key: Key) -> None:
        """Somebody looks at this."""
        if self.frame is not None:
            self.frame.add(key)

    @contextmanager
    def noting(self) -> Iterator[set[Key]]:
        """What is looked at inside; not noted outside."""
        outer, self.frame = self.frame, set()
        try:
            yield self.frame
        finally:
            self.frame = outer

    @contextmanager
    def unseen(self) -> Iterator[None]:
        """What is looked at inside is nobody's business: it is brought up to date by other means."""
        outer, self.frame = self.frame, None
        try:
            yield
        finally:
            self.frame = outer

    # --------------------------------------------------------------------------------------------------- memos
    def recall(self, key: Key, make: Callable[[], T]) -> T:
        """The memo of this key, made where there is none."""
        if key in self._waiting:
            self._settle(key)
        memo = self._memos.get(key) or self._made(key, make)
        self.note(key)
        return memo.value

    def _made(self, key: Key, make: Callable[[], Any]) -> _Memo:
        with self.noting() as reads:
            value = make()
        old = self._memos.get(key)
        below = [m.height for k in reads if (m := self._memos.get(k)) is not None]
        memo = self._memos[key] = _Memo(value, make, frozenset(reads), 1 + max(below, default=0))
        self._moved(key, frozenset() if old is None else old.reads, memo.reads)
        return memo

    def _moved(self, reader: Key, before: frozenset[Key], now: frozenset[Key]) -> None:
        for key in before - now:
            self._readers[key].discard(reader)
        for key in now - before:
            self._readers.setdefault(key, set()).add(reader)

    # -------------------------------------------------------------------------------------------------- answers
    def answer(self, key: Key, make: Callable[[], T]) -> T:
        """Makes an answer and remembers what it read."""
        with self.noting() as reads:
            value = make()
        now = frozenset(reads)
        self._moved(key, self._answers.get(key, frozenset()), now)
        self._answers[key] = now
        return value

    def look_later(self, key: Key, make: Callable[[], T]) -> T:
        """A part of an answer that is made only now: what it reads counts for the whole answer."""
        with self.noting() as reads:
            value = make()
        before = self._answers.get(key, frozenset())
        now = before | reads
        self._moved(key, before, now)
        self._answers[key] = now
        return value

    def of_answer(self, key: Key) -> frozenset[Key]:
        """What an answer read."""
        return self._answers.get(key, frozenset())

    def affected(self, changed: set[Key]) -> set[Key]:
        """Answers that read something that changed, directly or through memos. Memos are brought up to date.

        A memo is made anew after those it reads, so that none is made from what is half up to date.
        """
        self._changed, self._heap, self._waiting = set(changed), [], set()
        self._ask(changed)
        while self._heap:
            self._settle(heapq.heappop(self._heap)[2])
        return {k for key in self._changed for k in self._readers.get(key, ()) if k in self._answers}

    def _ask(self, keys: Iterable[Key]) -> None:
        """Memos that read any of these wait to be made anew."""
        for key in keys:
            for reader in self._readers.get(key, ()):
                memo = self._memos.get(reader)
                if memo is not None and reader not in self._waiting:
                    self._waiting.add(reader)
                    self._ticket += 1
                    heapq.heappush(self._heap, (memo.height, self._ticket, reader))

    def _settle(self, key: Key) -> None:
        """Makes a waiting memo anew; where that gives something else, whatever reads it waits in turn."""
        if key not in self._waiting:
            return
        self._waiting.discard(key)
        memo = self._memos[key]
        if self._made(key, memo.make).value != memo.value:
            self._changed.add(key)
            self._ask((key,))


class _Seen(Mapping[str, T]):
    """A mapping in which looking at an entry is looking at an item. Which keys there are is not noted: that is the
    network's. ``raw`` may be brought up to date in place, as long as connections keep their ends."""

    def __init__(self, entries: dict[str, T], reads: Reads) -> None:
        self.raw = entries
        self._reads = reads

    def item_of(self, key: str) -> str:
        """Id of the item that an entry is."""
        return key

    def __getitem__(self, key: str) -> T:
        frame = self._reads.frame
        if frame is not None:
            frame.add(self.item_of(key))
        return self.raw[key]

    def __contains__(self, key: object) -> bool:
        return key in self.raw

    def __iter__(self) -> Iterator[str]:
        return iter(self.raw)

    def __len__(self) -> int:
        return len(self.raw)

    def values(self):  # type: ignore[no-untyped-def]
        self._reads.note(all_of(Item))
        return self.raw.values()

    def items(self):  # type: ignore[no-untyped-def]
        self._reads.note(all_of(Item))
        return self.raw.items()


class SeenItems(_Seen[Item]):
    """Items of a drawing; looking at one is noted."""

    _ending_at: dict[str, tuple[str, ...]] | None = None
    _of: dict[type[Item], tuple[str, ...]] | None = None

    def others(self, items: Mapping[str, Item]) -> None:
        """Items have come or gone."""
        self.raw.clear()
        self.raw.update(items)
        self._ending_at = self._of = None

    def connections_at(self, item_id: str) -> list[Connection]:
        """Connections that end at an item; looking at all connections is noted."""
        self._reads.note(all_of(Connection))
        if self._ending_at is None:
            self._ending_at = connections_by_end(self.raw.values())
        return [self.raw[i] for i in self._ending_at.get(item_id, ())]  # type: ignore[misc]

    def get(self, item_id: str, default: Any = None) -> Any:
        self._reads.note(item_id)
        return self.raw.get(item_id, default)

    def seen_of(self, cls: type[ItemT]) -> Iterator[ItemT]:
        """All items of a class; looking at them is noted."""
        self._reads.note(all_of(cls))
        return (self.raw[i] for i in self._ids_of(cls))  # type: ignore[misc]

    def set_in(self, cls: type[ItemT], field_name: str) -> Iterator[ItemT]:
        """Items of a class in which a field is neither unknown nor empty; looking at that field of all of them is
        noted, and looking at those that have it."""
        self._reads.note(field_of(cls, field_name))
        for item_id in self._ids_of(cls):
            if getattr(self.raw[item_id], field_name):
                yield self[item_id]  # type: ignore[misc]

    def _ids_of(self, cls: type[Item]) -> tuple[str, ...]:
        """Ids of the items of a class."""
        if self._of is None:
            self._of = {}
        if cls not in self._of:
            self._of[cls] = tuple(i for i, item in self.raw.items() if isinstance(item, cls))
        return self._of[cls]


class SeenDrawing(Drawing):
    """A drawing whose items note that they are looked at."""

    def of(self, cls: type[ItemT]) -> Iterator[ItemT]:
        items = self.items
        return items.seen_of(cls) if isinstance(items, SeenItems) else super().of(cls)

    def set_in(self, cls: type[ItemT], field_name: str) -> Iterator[ItemT]:
        items = self.items
        return items.set_in(cls, field_name) if isinstance(items, SeenItems) else super().set_in(cls, field_name)

    def connections_of(self, item_id: str) -> list[Connection]:
        items = self.items
        return items.connections_at(item_id) if isinstance(items, SeenItems) else super().connections_of(item_id)


class SeenBranches(_Seen[Branch]):
    """Branches of a network; looking at one is looking at its item."""

    def __init__(self, branches: dict[str, Branch], reads: Reads) -> None:
        super().__init__(branches, reads)
        self._ids = {key: branch.item.id for key, branch in branches.items()}

    def item_of(self, key: str) -> str:
        return self._ids[key]

    def get(self, key: str, default: Any = None) -> Any:
        return self[key] if key in self.raw else default


def seen_drawing(drawing: Drawing, reads: Reads) -> SeenDrawing:
    """A copy of a drawing that notes what is looked at; ``items.raw`` may be brought up to date in place."""
    return SeenDrawing(drawing.project, SeenItems(dict(drawing.items), reads), drawing.next_number, extra=drawing.extra)
