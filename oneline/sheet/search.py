"""Search for a line around obstacles, for the few that no simple shape fits.

Lines run on *lanes*: the half-way lines of the grid, so they never meet the columns that symbols stand on. The layout
keeps one lane free between any two columns.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from oneline.sheet.display import Point
from oneline.sheet.tracks import Obstacles, Tracks

_GRID = 10.0
_BEND = 18.0
_CROSSING = 40.0
#: Above 1 the search is faster and the line perhaps a little longer than the shortest.
_HASTE = 1.3
#: How many lanes a line may pass before its first corner.
_MOST_STUBS = 12
_NEAREST_EXITS = 8
_MOST_CORRIDORS = 400
_RIGHT, _DOWN, _LEFT, _UP = range(4)
_STEPS = ((1, 0), (0, 1), (-1, 0), (0, -1))

State = tuple[int, int, int]


def lane_after(value: float, way: int) -> float:
    """The first lane beyond a coordinate, in the direction of ``way`` (-1 or 1), at least half a square away."""
    if way > 0:
        return math.ceil((value - 0.01) / _GRID) * _GRID + _GRID / 2
    return math.floor((value + 0.01) / _GRID) * _GRID - _GRID / 2


@dataclass
class Effort:
    """Steps that the searches of one picture may take together, and how much of what is left one of them may use: a
    picture is never late because a few lines have no good way. Those take a simpler one."""

    left: int = 5000

    def share(self) -> int:
        """Steps for the next search."""
        return int(self.left * 0.7)


class Lanes:
    """The lane grid with what blocks it; remembered over all searches of one picture."""

    def __init__(self, obstacles: Obstacles) -> None:
        self.obstacles = obstacles
        self._owners: dict[tuple[int, int, bool], frozenset[str]] = {}

    def free(self, i: int, j: int, flat: bool, own: Iterable[str]) -> bool:
        """Whether the step from lane crossing (i, j) to the right (``flat``) or down meets nothing but one's own."""
        key = (i, j, flat)
        owners = self._owners.get(key)
        if owners is None:
            owners = self._owners[key] = self.obstacles.owners_at(_at(i, j), _at(i + flat, j + (not flat)))
        return not owners or not owners.difference(own)


def _at(i: int, j: int) -> Point:
    return (i * _GRID + _GRID / 2, j * _GRID + _GRID / 2)


def search(
    start: Point, start_way: int, stop: Point, stop_way: int, own: tuple[str, str], keys: frozenset[object],
    lanes: Lanes, tracks: Tracks, margin: float, effort: Effort,
) -> tuple[Point, ...] | None:  # fmt: skip
    """The cheapest orthogonal line from a terminal to another, or ``None`` when there is none within ``margin``, or
    none was found with the ``effort`` that is left.

    ``start_way``/``stop_way``: -1 when the line leaves upward, 1 downward. Costs: length, corners, crossings.
    """
    run = _Run(start, start_way, stop, stop_way, own, keys, lanes, tracks, margin)
    return run.corridor() or run.find(effort)


class _Run:
    def __init__(
        self, start: Point, start_way: int, stop: Point, stop_way: int, own: tuple[str, str], keys: frozenset[object],
        lanes: Lanes, tracks: Tracks, margin: float,
    ) -> None:  # fmt: skip
        self.start, self.stop, self.own, self.keys = start, stop, own, keys
        self.lanes, self.tracks = lanes, tracks
        self.low = (_index(min(start[0], stop[0]) - margin), _index(min(start[1], stop[1]) - margin))
        self.high = (_index(max(start[0], stop[0]) + margin), _index(max(start[1], stop[1]) + margin))
        self.costs: dict[tuple[int, int, bool], float | None] = {}
        self.corners: dict[tuple[int, int], bool] = {}
        self.came: dict[State, State | Point] = {}
        self.best: dict[State, float] = {}
        self.heap: list[tuple[float, float, State]] = []
        self.goals: dict[State, tuple[float, Point]] = {}
        self.firsts: dict[State, tuple[float, Point]] = {}
        for state, cost, corner in self._exits(stop, stop_way):
            i, j, way = state
            back = (i, j, (way + 2) % 4)
            if back not in self.goals or cost < self.goals[back][0]:
                self.goals[back] = (cost, corner)
        for state, cost, corner in self._exits(start, start_way):
            self._offer(state, cost, corner)
            if state not in self.firsts or cost < self.firsts[state][0]:
                self.firsts[state] = (cost, corner)

    def _exits(self, at: Point, way: int) -> Iterator[tuple[State, float, Point]]:
        """First lane crossings a line reaches from a terminal: along its column to a lane, then one step aside."""
        x, y = at
        lane = lane_after(y, way)
        for _ in range(_MOST_STUBS):
            corner = (x, lane)
            if self._blocked(at, corner) or not self.low[1] <= _index(lane) <= self.high[1]:
                return
            if not self.tracks.corner_clashes(corner, self.keys):
                for side, turn in ((1, _RIGHT), (-1, _LEFT)):
                    i = _index(lane_after(x, side)) if x % _GRID != _GRID / 2 else _index(x) + side
                    target = _at(i, _index(lane))
                    if not self._blocked(corner, target):
                        length = abs(y - lane) + abs(target[0] - x)
                        crossed = self.tracks.crossings(at, corner, self.keys)
                        yield (i, _index(lane), turn), length + _BEND + _CROSSING * crossed, corner
            lane += way * _GRID

    def _blocked(self, p: Point, q: Point) -> bool:
        return self.lanes.obstacles.hit(p, q, self.own) or self.tracks.clashes(p, q, self.keys, ends=False)

    def _offer(self, state: State, cost: float, came: State | Point) -> None:
        if cost < self.best.get(state, math.inf):
            self.best[state] = cost
            self.came[state] = came
            heapq.heappush(self.heap, (cost + self._left_over(state), cost, state))

    def _left_over(self, state: State) -> float:
        x, y = _at(state[0], state[1])
        return _HASTE * (abs(x - self.stop[0]) + abs(y - self.stop[1]))

    def corridor(self) -> tuple[Point, ...] | None:
        """The cheapest line of the form: aside along a lane, through one upright corridor, aside along a lane."""
        ends = list(self._reaches(list(self.goals.items()), True))
        found: list[tuple[float, int, int, int, Point, Point]] = []
        for j0, here, corner0 in self._reaches(list(self.firsts.items()), False):
            for j1, there, corner1 in ends:
                for i in here.keys() & there.keys():
                    cost = here[i] + there[i] + abs(j1 - j0) * _GRID + (2 * _BEND if j0 != j1 else 0.0)
                    found.append((cost, i, j0, j1, corner0, corner1))
        found.sort()
        best: tuple[float, tuple[Point, ...]] | None = None
        for cost, i, j0, j1, corner0, corner1 in found[:_MOST_CORRIDORS]:
            if best is not None and cost >= best[0]:
                break
            p, q = _at(i, j0), _at(i, j1)
            if self.lanes.obstacles.hit(p, q, self.own) or self.tracks.clashes(p, q, self.keys):
                continue
            cost += _CROSSING * self.tracks.crossings(p, q, self.keys)
            if best is None or cost < best[0]:
                best = (cost, (self.start, corner0, p, q, corner1, self.stop))
        return None if best is None else best[1]

    def _reaches(
        self, exits: list[tuple[State, tuple[float, Point]]], backward: bool
    ) -> Iterator[tuple[int, dict[int, float], Point]]:
        """For the nearest lanes of an end: {lane crossing: cost} of every upright corridor reached along the lane."""
        for (i, j, way), (cost, corner) in sorted(exits, key=lambda e: e[1][0])[:_NEAREST_EXITS]:
            turn = (way + 2) % 4 if backward else way
            reach: dict[int, float] = {i: cost}
            here = i
            while (step := self._step(here, j, turn)) is not None:
                here += _STEPS[turn][0]
                cost += step
                reach[here] = cost
            yield j, reach, corner

    def find(self, effort: Effort) -> tuple[Point, ...] | None:
        """Run the search; the line with the terminals at both ends, or ``None``."""
        goal: tuple[float, State] | None = None
        for _ in range(effort.share()):
            if not self.heap:
                break
            effort.left -= 1
            estimate, cost, state = heapq.heappop(self.heap)
            if goal is not None and estimate >= goal[0]:
                break
            if cost > self.best[state]:
                continue
            if state in self.goals and (goal is None or cost + self.goals[state][0] < goal[0]):
                goal = (cost + self.goals[state][0], state)
            i, j, way = state
            for turn in (way, (way + 1) % 4, (way + 3) % 4):
                if turn != way and self._corner_blocked(i, j):
                    continue
                step = self._step(i, j, turn)
                if step is not None:
                    nxt = (i + _STEPS[turn][0], j + _STEPS[turn][1], turn)
                    self._offer(nxt, cost + step + (_BEND if turn != way else 0.0), state)
        return None if goal is None else self._path(goal[1])

    def _step(self, i: int, j: int, turn: int) -> float | None:
        """Cost of going one lane further, ``None`` where something is in the way."""
        if turn == _LEFT:
            i -= 1
        elif turn == _UP:
            j -= 1
        flat = turn in (_RIGHT, _LEFT)
        if not (self.low[0] <= i <= self.high[0] and self.low[1] <= j <= self.high[1]):
            return None
        key = (i, j, flat)
        if key not in self.costs:
            p, q = _at(i, j), _at(i + flat, j + (not flat))
            if not self.lanes.free(i, j, flat, self.own) or self.tracks.clashes(p, q, self.keys, ends=False):
                self.costs[key] = None
            else:
                self.costs[key] = _GRID + _CROSSING * self.tracks.crossings(p, q, self.keys, closed=True)
        return self.costs[key]

    def _corner_blocked(self, i: int, j: int) -> bool:
        if (i, j) not in self.corners:
            self.corners[i, j] = self.tracks.corner_clashes(_at(i, j), self.keys)
        return self.corners[i, j]

    def _path(self, state: State) -> tuple[Point, ...]:
        points: list[Point] = [self.stop, self.goals[state][1]]
        while True:
            points.append(_at(state[0], state[1]))
            before = self.came[state]
            if len(before) == 2:
                points += [before, self.start]
                break
            state = before
        return tuple(reversed(points))


def _index(value: float) -> int:
    return math.floor(value / _GRID)
