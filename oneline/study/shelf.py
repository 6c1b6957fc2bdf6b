"""The findings of a kept study in their order: by state first, then by the order of the subjects."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from functools import cached_property
from itertools import accumulate, chain
from typing import overload

from oneline.rules.verdict import STATES, Verdict

#: So many ranks are one block: an edit puts together again the blocks it touches, and only those.
_BLOCK = 512
_STATE_RANKS = {state: rank for rank, state in enumerate(STATES)}
#: Rank of a state, number of a block.
_Place = tuple[int, int]


class Findings(Sequence[Verdict]):
    """Findings in blocks. Looks like a tuple, and like one does not change."""

    def __init__(self, blocks: tuple[tuple[Verdict, ...], ...]) -> None:
        self._blocks = blocks

    @cached_property
    def _ends(self) -> list[int]:
        return list(accumulate(map(len, self._blocks)))

    def __len__(self) -> int:
        return self._ends[-1] if self._blocks else 0

    def __iter__(self) -> Iterator[Verdict]:
        return chain.from_iterable(self._blocks)

    @overload
    def __getitem__(self, index: int) -> Verdict: ...

    @overload
    def __getitem__(self, index: slice) -> tuple[Verdict, ...]: ...

    def __getitem__(self, index: int | slice) -> Verdict | tuple[Verdict, ...]:
        if isinstance(index, slice):
            return tuple(self)[index]
        place = range(len(self))[index]
        block = bisect_right(self._ends, place)
        return self._blocks[block][place - self._ends[block]]

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Findings | tuple):
            return NotImplemented
        return tuple(self) == tuple(other)

    def __hash__(self) -> int:
        return hash(tuple(self))

    def __repr__(self) -> str:
        return f"{type(self).__name__}({tuple(self)!r})"


class Shelf:
    """Findings by the rank of their answer, ready to be taken in order."""

    def __init__(self) -> None:
        #: By state and block: findings by rank, and the same put together, absent where something changed since.
        self._found: dict[_Place, dict[int, tuple[Verdict, ...]]] = {}
        self._blocks: dict[_Place, tuple[Verdict, ...]] = {}
        self._states: dict[int, tuple[int, ...]] = {}
        self._order: list[_Place] = []

    def put(self, rank: int, findings: Sequence[Verdict]) -> None:
        """The findings of an answer, in place of those it had."""
        block, before = rank // _BLOCK, self._states.get(rank, ())
        by_state: dict[int, list[Verdict]] = {}
        for finding in findings:
            by_state.setdefault(_STATE_RANKS[finding.state], []).append(finding)
        for state in before:
            if state not in by_state:
                del self._found[state, block][rank]
                self._blocks.pop((state, block), None)
        for state, members in by_state.items():
            self._found.setdefault((state, block), {})[rank] = tuple(members)
            self._blocks.pop((state, block), None)
        if by_state or before:
            self._states[rank] = tuple(by_state)

    def all(self) -> Findings:
        """All findings, sorted by state, then by the order of the subjects."""
        if len(self._order) != len(self._found):
            self._order = sorted(self._found)
        for place in self._found.keys() - self._blocks.keys():
            found = self._found[place]
            self._blocks[place] = tuple(chain.from_iterable(found[rank] for rank in sorted(found)))
        return Findings(tuple(map(self._blocks.__getitem__, self._order)))
