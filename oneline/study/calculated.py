"""The calculated load at every node (article 220, LOAD-2): connected load below it with the demand factors that apply there.

Phase currents are bounds: from what is known at least, to what it may be at most. Both are equal where every load below
is known with its phases. Load that is not known at all leaves no upper bound. Demand factors are those of the whole load
below a node, so a receptacle added on one phase may lower what counts on another, as in the code's own examples.
"""

from __future__ import annotations

from bisect import bisect_left
from functools import cached_property
from math import inf

import numpy as np

from oneline import tables
from oneline.rules.load import elevator_factor, kitchen_factor, receptacle_factor
from oneline.rules.load_dwelling import appliance_factor
from oneline.study.load_choices import Choice, alternatives, combinations
from oneline.study.load_household import Households
from oneline.study.load_sums import (
    APPLIANCES,
    DRYERS,
    ELEVATORS,
    KITCHEN,
    MOTORS,
    OPEN,
    RECEPTACLES,
    Floats,
    Ints,
    Summer,
    Sums,
    counts_more,
    largest_volts_divisor,
    load_only,
    may_be_motor,
)
from oneline.study.load_weights import MANY, least_lighting_weights, lighting_weights, receptacle_weights
from oneline.study.loads import LoadEntry
from oneline.study.phasors import Vector

#: Below this many amperes or volt-amperes a sum is arithmetic noise.
_NOISE = 1e-9


class Calculated:
    """Calculated load of some entries at every position of the forest. All arrays have one row per position.

    ``load_low``/``load_high``: amperes (n, 3), continuous load at 100 %; ``counted_low``/``counted_high``: the same with
    continuous load at 125 %, where load that may or may not be continuous is in the upper bound only. ``load_most``:
    upper bound of the load where what has no class may be the largest motor. ``va_low``: calculated VA of what is known,
    at 100 %; ``counted_va_low`` at 125 %. ``unknown``: whether any load below is not known, or only within bounds.
    ``spread``: where connections of transformers that are not known make a difference.
    """

    load_low: Floats
    load_high: Floats
    load_most: Floats
    counted_low: Floats
    counted_high: Floats
    va_low: Floats
    counted_va_low: Floats
    motor_va: Floats

    def __init__(self, summer: Summer, entries: list[LoadEntry], edition: int) -> None:
        self.summer, self.edition = summer, edition
        self._others: list[Calculated] = []
        self.placed = summer.place(entries)
        self.entries = [p.entry for p in self.placed]
        self._single = [p for p in self.placed if p.entry.group is None]
        self._extra = tables.limit_value("motor_largest_factor") - 1
        self._more = tables.limit_value("continuous_factor") - 1
        self.sums = summer.sums(self._single)
        self.households = Households(summer, self._single if self.sums.va.shape[1] > DRYERS else ())
        self.households.spread(self.sums)
        self.motor = self._largest_motors()
        n = len(summer.feeding.order)
        divisors = [largest_volts_divisor(summer.code(z)) or np.nan for z in range(len(summer.zones.roots))]
        self._divisor = np.array(divisors)[summer.zones.of] if n else np.zeros(0)
        #: Demand factors that are only from memory, by position and kind.
        self.from_memory: set[tuple[int, int]] = set()
        self.unbounded = self.sums.unknown > 0
        self.unknown = self.unbounded.copy()
        if not self.placed:
            self._nothing(n)
            return
        self.weights, low = self._weights()
        self._reckon(low)
        self._alternatives()
        self._bounded_loads()
        any_motor, plain_motor = self._possible_motors()
        self.load_most = self.load_high + any_motor
        self.counted_high = self.counted_high + plain_motor
        self.spread = np.zeros(len(self.va_low), dtype=bool)
        for array in (self.load_low, self.load_high, self.counted_low, self.counted_high, self.va_low):
            array[np.abs(array) < _NOISE] = 0.0

    def _nothing(self, n: int) -> None:
        """No load anywhere."""
        self.weights = np.ones((n, self.sums.va.shape[1]))
        self.load_low, self.load_high, self.load_most, self.counted_low, self.counted_high = (
            np.zeros((n, 3)) for _ in range(5)
        )
        self.spread = np.zeros(n, dtype=bool)
        self.va_low, self.counted_va_low, self.motor_va = np.zeros(n), np.zeros(n), np.zeros(n)

    def widen(self, other: Calculated) -> None:
        """Take in what the same loads come to under another assumption: bounds become those of both."""
        width = np.abs(other.counted_low - self.counted_low) + np.abs(other.load_low - self.load_low)
        self.spread = self.spread | (width.max(axis=1) > _NOISE * np.maximum(1.0, self.load_low.max(axis=1)))
        for name in ("load_low", "counted_low"):
            setattr(self, name, np.minimum(getattr(self, name), getattr(other, name)))
        for name in ("load_high", "load_most", "counted_high"):
            setattr(self, name, np.maximum(getattr(self, name), getattr(other, name)))
        self._others.append(other)

    @cached_property
    def neutral(self) -> Floats:
        """Amperes line to neutral, (n, 3, 3): the last axis all load, what is known to be linear, what is known not to be.

        Of loads that do not run together all count: whatever may run. Worked out when somebody looks.
        """
        if not self.placed:
            return np.zeros((len(self.va_low), 3, 3))
        total: Floats = np.einsum("nk,nkpq->npq", self.weights, self.summer.neutral(self._single))
        total += self.households.neutral(self.sums, total.shape)
        if len(self._single) < len(self.placed):
            total += self.summer.neutral([p for p in self.placed if p.entry.group is not None]).sum(axis=1)
        for other in self._others:
            # What is known to be linear is taken off the neutral, so the smaller one counts.
            least = np.minimum(total[..., 1], other.neutral[..., 1])
            total = np.maximum(total, other.neutral)
            total[..., 1] = least
        return total

    # ------------------------------------------------------------------------------------------------- factors
    def _weights(self) -> tuple[Floats, Floats]:
        """Share of each kind that counts at each position, and the least it can come to with what is not known."""
        sums = self.sums
        weights = np.ones((len(sums.va), sums.va.shape[1]))
        receptacle_weights(sums.va, weights)
        count, largest = self._kitchens()
        for at in np.flatnonzero(count > 0):
            factor = kitchen_factor(float(sums.va[at, KITCHEN]), int(count[at]), float(largest[at]))
            weights[at, KITCHEN] = self._noted(int(at), KITCHEN, factor)
        elevators = self._count(ELEVATORS)
        for at in np.flatnonzero(elevators > 0):
            weights[at, ELEVATORS] = self._noted(int(at), ELEVATORS, elevator_factor(int(elevators[at])))
        some = np.flatnonzero(sums.unknown > 0)
        low = weights.copy() if len(some) else weights
        if len(some):
            low[some, RECEPTACLES] = receptacle_factor(float(MANY) * MANY)
            low[some, KITCHEN] = kitchen_factor(1.0, MANY, 0.0)
            low[some, ELEVATORS] = elevator_factor(MANY)
        for kind, place, share in lighting_weights(sums.va, self.edition):
            weights[place, kind] = low[place, kind] = self._noted(place, kind, share)
        self._household_weights(weights, low)
        for kind, factor in least_lighting_weights(sums.va.shape[1], self.edition) if len(some) else ():
            low[some, kind] = factor
        return weights, low

    def _household_weights(self, weights: Floats, low: Floats) -> None:
        """Shares of appliances fastened in place, dryers and cooking appliances of dwelling units."""
        sums = self.sums
        unknown = sums.unknown > 0
        if sums.va.shape[1] <= APPLIANCES:
            return
        for place in np.flatnonzero(sums.va[:, APPLIANCES] > 0):
            factor = appliance_factor(int(self._appliances[place]))
            weights[place, APPLIANCES] = self._noted(int(place), APPLIANCES, factor)
            low[place, APPLIANCES] = appliance_factor(MANY) if unknown[place] else factor
        for found in self.households.counted:
            at, kind = found.at, found.kind
            connected = float(sums.va[at, kind])
            weights[at, kind] = self._noted(at, kind, found.demand.va / connected)
            low[at, kind] = (found.demand.least_va if unknown[at] else found.demand.va) / connected

    @cached_property
    def _appliances(self) -> Ints:
        return self._count(APPLIANCES)

    def _noted(self, at: int, kind: int, factor: float) -> float:
        """The factor, which the array cannot mark, after a note of where it is from."""
        if isinstance(factor, tables.FromMemory):
            self.from_memory.add((at, kind))
        return factor

    def factor(self, at: int, kind: int) -> float:
        """Share of a kind of load that counts at a position."""
        share = float(self.weights[at, kind])
        return tables.FromMemory(share) if (at, kind) in self.from_memory else share

    def _count(self, kind: int) -> Ints:
        """Number of entries of a kind below each position."""
        feeding = self.summer.feeding
        own = np.zeros(len(feeding.order) + 1, dtype=np.int64)
        for placed in self._single:
            if placed.kind == kind and placed.va is not None:
                own[placed.at + 1] += placed.entry.pieces
        running = np.cumsum(own)
        last = np.fromiter((feeding.last[node] for node in feeding.order), dtype=np.int64, count=len(feeding.order))
        return np.asarray(running[last] - running[:-1])

    def _kitchens(self) -> tuple[Ints, Floats]:
        """Pieces of kitchen equipment below each position and the sum of the largest ones that always count in full."""
        feeding = self.summer.feeding
        keep = int(tables.limit_value("kitchen_largest_count"))
        best: dict[int, list[float]] = {}
        for placed in self._single:
            if placed.kind == KITCHEN and placed.va is not None:
                count = placed.entry.pieces
                best.setdefault(placed.at, []).extend([placed.va / count] * min(count, keep))
        largest = np.zeros(len(feeding.order))
        if not best:
            return np.zeros(len(feeding.order), dtype=np.int64), largest
        for at in range(len(feeding.order) - 1, -1, -1):
            pieces = best.get(at)
            if pieces is None:
                continue
            best[at] = sorted(pieces)[-keep:]
            largest[at] = sum(best[at])
            up = feeding.parent[feeding.order[at]]
            if up >= 0:
                best.setdefault(feeding.position[up], []).extend(best[at])
        return self._count(KITCHEN), largest

    # -------------------------------------------------------------------------------------------------- motors
    def _largest_motors(self) -> list[int]:
        """Index of the largest motor below each position, -1 without one."""
        feeding = self.summer.feeding
        found = [-1] * len(feeding.order)
        for index, placed in enumerate(self.placed):
            motor = placed.kind == MOTORS or (placed.kind == APPLIANCES and placed.entry.horsepower is not None)
            if motor and placed.entry.group is None and placed.va is not None:
                found[placed.at] = self._larger(found[placed.at], index)
        for at in range(len(found) - 1, 0, -1):
            up = feeding.parent[feeding.order[at]]
            if up >= 0 and found[at] >= 0:
                up_at = feeding.position[up]
                found[up_at] = self._larger(found[up_at], found[at])
        return found

    def _possible_motors(self) -> tuple[Floats, Floats]:
        """Amperes that the largest load of no class below each position adds if it is the largest motor: of all, and of
        those that cannot be continuous (the others count at least as much if they are continuous)."""
        feeding, zone_of = self.summer.feeding, self.summer.zones.of
        found = np.zeros((2, len(feeding.order), 3))
        for index, placed in enumerate(self.placed):
            va = placed.entry.va
            if not va or not may_be_motor(placed.entry):
                continue
            node, zone, amperes = feeding.order[placed.at], -1, np.zeros(3)
            while node >= 0:
                at = feeding.position[node]
                if zone_of[at] != zone:
                    zone = int(zone_of[at])
                    seen = self._seen(index, zone)
                    amperes = np.full(3, self._without_phases(va, at)) if seen is None else np.abs(seen)
                found[0, at] = np.maximum(found[0, at], amperes)
                if placed.kind != OPEN:
                    found[1, at] = np.maximum(found[1, at], amperes)
                node = feeding.parent[node]
        return self._extra * found[0], self._extra * found[1]

    def _without_phases(self, va: float, at: int) -> float:
        """Amperes of a load at most, whatever phases it is on."""
        volts = float(self._divisor[at])
        return va / volts if volts > 0 else inf

    def _larger(self, one: int, other: int) -> int:
        if one < 0 or other < 0:
            return max(one, other)
        return other if self._piece(other) > self._piece(one) else one

    def _piece(self, index: int) -> float:
        """Volt-amperes of one piece of an entry, 0.0 where nothing is known of it."""
        return (self.placed[index].va or 0.0) / self.entries[index].pieces

    def _seen(self, index: int, zone: int, va: float | None = None) -> Vector | None:
        """Line currents of one entry, or of so many volt-amperes of it, as seen in a zone; ``None`` where its phases or the
        volts are not known."""
        share = self.summer.currents(self.entries[index])
        va = self.placed[index].va if va is None else va
        if share is None or va is None:
            return None
        own = int(self.summer.zones.of[self.placed[index].at])
        current = np.zeros(3, dtype=complex)
        current[:] = share
        return self.summer.refer(np.asarray(current * va, dtype=np.complex128), own, zone)

    # ---------------------------------------------------------------------------------------------------- sums
    def _reckon(self, low: Floats) -> None:
        sums: Sums = self.sums
        zone_of = self.summer.zones.of
        self._load = np.einsum("nk,nkp->np", self.weights, sums.amps)
        self._load_least = self._load if low is self.weights else np.einsum("nk,nkp->np", low, sums.amps)
        width = sums.va.shape[1]
        #: What each kind adds where load is counted against ratings, as a share of it.
        self.adds = np.array([self._more if counts_more(k) else -1.0 if load_only(k) else 0.0 for k in range(width)])
        more = self.weights * self.adds
        adding = np.flatnonzero(self.adds)
        self._added = np.einsum("nk,nkp->np", more[:, adding], sums.amps[:, adding])
        self._added_least = self._added
        if low is not self.weights:
            self._added_least = np.einsum("nk,nkp->np", (low * self.adds)[:, adding], sums.amps[:, adding])
        self._loose = sums.loose_va.sum(axis=1)
        self._loose_added = sums.loose_va @ np.maximum(self.adds, 0.0)
        self.va_low = (self.weights * sums.va).sum(axis=1)
        self.added_va = (more * sums.va).sum(axis=1)
        self.motor_va = np.zeros(len(self.motor))
        shares = np.zeros((len(self.motor), 3), dtype=complex)
        loose = np.zeros(len(self.motor))
        memo: dict[tuple[int, int], Vector | None] = {}
        for at, index in enumerate(self.motor):
            if index < 0:
                continue
            key = (index, int(zone_of[at]))
            if key not in memo:
                memo[key] = self._seen(*key)
            seen, va = memo[key], self._piece(index)
            self.motor_va[at] = va
            if seen is None:
                loose[at] = self._extra * va
            else:
                shares[at] = self._extra * seen / self.entries[index].pieces
        self._finish(shares, loose)

    def _finish(self, motor: Vector, loose_motor: Floats) -> None:
        """Magnitudes and bounds from the phasors, the motor's 25 %, and what has no phases."""
        counted = self._load + self._added
        counted_least = self._load_least + self._added_least
        self.load_low = np.abs(self._load_least + motor)
        self.counted_low = np.abs(counted_least + motor)
        with np.errstate(divide="ignore", invalid="ignore"):
            loose = self._loose + loose_motor
            at_most = _over(loose, self._divisor)
            counted_most = _over(loose + self._loose_added, self._divisor)
            self._open = self._more * np.abs(self.sums.amps[:, OPEN])
            self._open += _over(self._more * self.sums.loose_va[:, OPEN], self._divisor)[:, None]
        self.load_high = np.abs(self._load + motor) + at_most[:, None]
        self.counted_high = np.abs(counted + motor) + counted_most[:, None]
        self.counted_high += self._open
        self.load_high[self.unbounded] = inf
        self.counted_high[self.unbounded] = inf
        self.va_low = self.va_low + self._extra * self.motor_va
        self.counted_va_low = self.va_low + self.added_va

    # -------------------------------------------------------------------------------------- loads in alternation
    def _alternatives(self) -> None:
        """Loads that do not run together (220.60): every choice is tried, each phase takes its worst one."""
        feeding, zones = self.summer.feeding, self.summer.zones
        grouped = sorted((p.at, i) for i, p in enumerate(self.placed) if p.entry.group is not None)
        if not grouped:
            return
        places = [at for at, _ in grouped]
        memo: dict[tuple[int, int, int], list[Choice]] = {}
        for at, node in enumerate(feeding.order):
            low, high = bisect_left(places, at), bisect_left(places, feeding.last[node])
            if low == high:
                continue
            key = (low, high, int(zones.of[at]))
            if key not in memo:
                memo[key] = self._choices([i for _, i in grouped[low:high]], key[2])
            self._take_worst(at, key[2], memo[key])

    def _choices(self, indices: list[int], zone: int) -> list[Choice]:
        return [self._choice(chosen, zone) for chosen in combinations(alternatives(self.entries, indices))]

    def _choice(self, indices: list[int], zone: int) -> Choice:
        choice = Choice()
        for index in indices:
            entry = self.entries[index]
            va, kind, seen = self.placed[index].va, self.placed[index].kind, self._seen(index, zone)
            if entry.va is None:
                choice.unknown = True
            if va is None:
                continue
            continuous = counts_more(kind)
            choice.va += va
            choice.continuous_va += va if continuous else 0.0
            choice.open_va += va if kind == OPEN else 0.0
            if kind == MOTORS:
                choice.motor = self._larger(choice.motor, index)
            if seen is None:
                choice.loose_va += va
                choice.loose_continuous_va += va if continuous else 0.0
            else:
                choice.load = choice.load + seen
                choice.continuous = choice.continuous + (seen if continuous else 0)
        return choice

    def _take_worst(self, at: int, zone: int, choices: list[Choice]) -> None:
        """Replace a position's figures by the worst of the choices below it."""
        rows = []
        for choice in choices:
            motor = self._larger(self.motor[at], choice.motor)
            va = self._piece(motor) if motor >= 0 else 0.0
            seen = self._seen(motor, zone, va) if motor >= 0 else np.zeros(3, dtype=complex)
            share = self._extra * seen if seen is not None else np.zeros(3, dtype=complex)
            more = self._added[at] + self._more * choice.continuous
            more_least = self._added_least[at] + self._more * choice.continuous
            loose = self._loose[at] + choice.loose_va + (self._extra * va if seen is None else 0.0)
            loose_more = self._loose_added[at] + self._more * choice.loose_continuous_va
            full, least = self._load[at] + choice.load + share, self._load_least[at] + choice.load + share
            open_end = inf if choice.unknown else 0.0
            divisor = self._divisor[at]
            base_va = self.va_low[at] - self._extra * self.motor_va[at]
            va_total = base_va + choice.va + self._extra * va
            added_va = float(self.added_va[at]) + self._more * choice.continuous_va
            rows.append((
                np.abs(least), np.abs(full) + _over(np.array(loose), divisor) + open_end,
                np.abs(least + more_least),
                np.abs(full + more) + _over(np.array(loose + loose_more), divisor) + open_end
                + self._open[at] + _over(np.array(self._more * choice.open_va), divisor),
                va_total, va_total + added_va,
            ))  # fmt: skip
        if self.unbounded[at]:
            rows = [(r[0], r[1] + inf, r[2], r[3] + inf, r[4], r[5]) for r in rows]
        self.load_low[at], self.load_high[at] = (
            np.max([r[0] for r in rows], axis=0),
            np.max([r[1] for r in rows], axis=0),
        )
        self.counted_low[at] = np.max([r[2] for r in rows], axis=0)
        self.counted_high[at] = np.max([r[3] for r in rows], axis=0)
        self.va_low[at] = max(r[4] for r in rows)
        self.counted_va_low[at] = max(r[5] for r in rows)
        self.unknown[at] = bool(self.unknown[at]) or any(c.unknown for c in choices)

    # ----------------------------------------------------------------------------------- loads known within bounds
    def _bounded_loads(self) -> None:
        """Loads of which a least and a largest figure are known: the upper bounds take the rest in full."""
        feeding, zone_of = self.summer.feeding, self.summer.zones.of
        for index, placed in enumerate(self.placed):
            most, kind = placed.entry.most_va, placed.kind
            if most is None or placed.entry.va is not None or placed.entry.group is not None:
                continue
            span, piece = most - (placed.va or 0.0), most / placed.entry.pieces
            more = 1 + (self._more if counts_more(kind) else 0.0)
            node, zone, amperes = feeding.order[placed.at], -1, np.zeros(3)
            while node >= 0:
                at = feeding.position[node]
                if zone_of[at] != zone:
                    zone = int(zone_of[at])
                    seen = self._seen(index, zone, 1.0)
                    amperes = np.full(3, self._without_phases(1.0, at)) if seen is None else np.abs(seen)
                # It may take the place of the largest motor.
                motor = self._extra * max(piece - float(self.motor_va[at]), 0.0) if kind == MOTORS else 0.0
                self.load_high[at] += (span + motor) * amperes
                self.counted_high[at] += (more * span + motor) * amperes
                self.unknown[at] = True
                node = feeding.parent[node]


def _over(va: Floats, volts: Floats) -> Floats:
    """Amperes of loads without phases: none where there are none, unbounded where the volts are not known."""
    return np.where(va > 0, np.where(np.isnan(volts), inf, va / volts), 0.0)
