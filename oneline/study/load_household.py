"""Dryers and cooking appliances of dwelling units at every position: what counts of them, by Tables 220.54 and 220.55.

On a three-phase four-wire feeder the demand goes by twice the number between the two phases that have most, and each phase
has half of that; elsewhere by all of them.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from oneline import tables
from oneline.rules.load_dwelling import Household, cooking_demand, dryer_demand, three_phase_demand
from oneline.study.load_sums import COOKING, DRYERS, Floats, Placed, Summer, Sums
from oneline.study.phasors import amperes_per_va

#: The two phases between which a load is counted, by the phases it is on; one from line to neutral with the next.
_PAIRS = {"A": 0, "AB": 0, "B": 1, "BC": 1, "C": 2, "AC": 2, "CA": 2}
Pairs = tuple[tuple[float, ...], ...]


@dataclass(frozen=True)
class Counted:
    """What counts of one kind at one position. ``pairs``: ratings between each two phases; ``balanced``: line currents
    per volt-ampere where the code has them equal on three phases, else ``None``."""

    at: int
    kind: int
    demand: Household
    pairs: Pairs
    balanced: tuple[complex, complex, complex] | None


class Households:
    """Household dryers and cooking appliances among some placed entries. Empty for most drawings."""

    def __init__(self, summer: Summer, placed: Sequence[Placed]) -> None:
        self.summer = summer
        found = [p for p in placed if p.kind in (DRYERS, COOKING) and p.va]
        self._by_kind = {
            kind: sorted((p for p in found if p.kind == kind), key=lambda p: p.at) for kind in (DRYERS, COOKING)
        }
        self._memo: dict[tuple[int, int, int, bool], tuple[Household, Pairs]] = {}
        self.counted = tuple(self._all())

    def _all(self) -> Iterator[Counted]:
        feeding = self.summer.feeding
        for kind, found in self._by_kind.items():
            places = [p.at for p in found]
            for at in self._above(places):
                node = feeding.order[at]
                low, high = bisect_left(places, at), bisect_left(places, feeding.last[node])
                three = self._three_phase(at)
                demand, pairs = self._demand(kind, low, high, three is not None)
                many = sum(map(len, pairs)) > 1
                yield Counted(at, kind, demand, pairs, three if many else None)

    def _above(self, places: Sequence[int]) -> list[int]:
        """Positions that have any of some places at or below them."""
        feeding, seen = self.summer.feeding, set[int]()
        for place in places:
            node = feeding.order[place]
            while node >= 0 and feeding.position[node] not in seen:
                seen.add(feeding.position[node])
                node = feeding.parent[node]
        return sorted(seen)

    def _three_phase(self, at: int) -> tuple[complex, complex, complex] | None:
        """Line currents per volt-ampere of a balanced load on a three-phase four-wire feeder, else ``None``."""
        node = self.summer.feeding.order[at]
        code = self.summer.feeding.system[node]
        if code is None or not tables.system(code).solidly_grounded_wye or len(self.summer.feeding.phases[node]) != 3:
            return None
        return amperes_per_va(code, "ABC")

    def _demand(self, kind: int, low: int, high: int, three: bool) -> tuple[Household, Pairs]:
        key = (kind, low, high, three)
        if key not in self._memo:
            pairs = _pairs(self._by_kind[kind][low:high])
            every = [va for found in pairs for va in found]
            if three and len(every) > 1:
                self._memo[key] = three_phase_demand(pairs, kind == DRYERS), pairs
            else:
                self._memo[key] = (dryer_demand if kind == DRYERS else cooking_demand)(every), pairs
        return self._memo[key]

    def spread(self, sums: Sums) -> None:
        """Line currents of appliances on three-phase feeders become equal on the three phases, as the code counts them."""
        for counted in self.counted:
            if counted.balanced is not None:
                known = sums.va[counted.at, counted.kind] - sums.loose_va[counted.at, counted.kind]
                sums.amps[counted.at, counted.kind] = known * np.array(counted.balanced)

    def neutral(self, sums: Sums, shape: tuple[int, ...]) -> Floats:
        """What they add to the neutral at every position: a share of their demand (220.61(B)), which is linear."""
        found = np.zeros(shape)
        share = tables.limit_value("household_neutral_factor")
        for counted in self.counted:
            at, kind = counted.at, counted.kind
            own = sums.va[at, kind]
            if own > 0 and self._neutral_here(at):
                lines = np.abs(sums.amps[at, kind]) * counted.demand.va / own
                found[at] += share * lines[:, None] * np.array([1.0, 1.0, 0.0])
        return found

    def _neutral_here(self, at: int) -> bool:
        code = self.summer.feeding.system[self.summer.feeding.order[at]]
        return code is not None and tables.system(code).has_neutral


def _pairs(placed: Sequence[Placed]) -> Pairs:
    """Ratings between each two phases. What is on all three, or nobody said where, goes where fewest are."""
    pairs: tuple[list[float], ...] = ([], [], [])
    free: list[float] = []
    for p in placed:
        pieces = [(p.va or 0.0) / p.entry.pieces] * p.entry.pieces
        if p.entry.phases_known and p.entry.phases in _PAIRS:
            pairs[_PAIRS[p.entry.phases]].extend(pieces)
        else:
            free.extend(pieces)
    for va in sorted(free, reverse=True):
        min(pairs, key=len).append(va)
    return tuple(tuple(found) for found in pairs)
