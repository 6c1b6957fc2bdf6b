"""Search for a line around obstacles on the grid, for the few that no simple shape fits."""

from __future__ import annotations

import heapq
import math

from oneline.sheet.display import Point
from oneline.sheet.tracks import Obstacles, Tracks

_GRID = 10.0
_BEND = 18.0
_CROSSING = 40.0
_WAYS = ((0, -1), (1, 0), (0, 1), (-1, 0))
_MOST_STEPS = 40_000


def search(
    start: Point, start_way: int, stop: Point, stop_way: int, own: tuple[str, str], keys: frozenset[object],
    obstacles: Obstacles, tracks: Tracks, margin: float,
) -> tuple[Point, ...] | None:  # fmt: skip
    """The cheapest orthogonal line from a terminal to another, or ``None`` when there is none within ``margin``.

    ``start_way``/``stop_way``: -1 when the line leaves upward, 1 downward. Costs: length, corners, crossings.
    """
    xs = _lines(min(start[0], stop[0]) - margin, max(start[0], stop[0]) + margin, (start[0], stop[0]))
    ys = _lines(min(start[1], stop[1]) - margin, max(start[1], stop[1]) + margin, (start[1], stop[1]))
    col, row = {x: i for i, x in enumerate(xs)}, {y: i for i, y in enumerate(ys)}
    first = (col[start[0]], row[start[1]], 2 if start_way > 0 else 0)
    goal = (col[stop[0]], row[stop[1]])
    last_way = 0 if stop_way > 0 else 2
    steps: dict[tuple[int, int, int, int], float | None] = {}
    corners: dict[tuple[int, int], bool] = {}

    def step_cost(i: int, j: int, i2: int, j2: int) -> float | None:
        key = (i, j, i2, j2)
        if key not in steps:
            p, q = (xs[i], ys[j]), (xs[i2], ys[j2])
            if obstacles.hit(p, q, own) or tracks.clashes(p, q, keys, ends=False):
                steps[key] = None
            else:
                steps[key] = abs(p[0] - q[0]) + abs(p[1] - q[1]) + _CROSSING * _crossed(tracks, p, q, keys)
        return steps[key]

    def blocked_corner(i: int, j: int) -> bool:
        if (i, j) not in corners:
            corners[i, j] = tracks.corner_clashes((xs[i], ys[j]), keys)
        return corners[i, j]

    def left_over(i: int, j: int) -> float:
        dx, dy = abs(xs[i] - stop[0]), abs(ys[j] - stop[1])
        return dx + dy + (_BEND if dx else 0)

    heap = [(left_over(*first[:2]), 0.0, first)]
    best = {first: 0.0}
    came: dict[tuple[int, int, int], tuple[int, int, int]] = {}
    count = 0
    while heap and count < _MOST_STEPS:
        _, cost, state = heapq.heappop(heap)
        if cost > best.get(state, math.inf):
            continue
        count += 1
        i, j, way = state
        if (i, j) == goal and way == last_way:
            return _path(state, came, xs, ys)
        for turn in (way, (way + 1) % 4, (way + 3) % 4):
            if state == first and turn != way:
                continue
            i2, j2 = i + _WAYS[turn][0], j + _WAYS[turn][1]
            if not (0 <= i2 < len(xs) and 0 <= j2 < len(ys)):
                continue
            step = step_cost(i, j, i2, j2)
            if step is None or (turn != way and blocked_corner(i, j)):
                continue
            new = cost + step + (_BEND if turn != way else 0)
            nxt = (i2, j2, turn)
            if new < best.get(nxt, math.inf):
                best[nxt] = new
                came[nxt] = state
                heapq.heappush(heap, (new + left_over(i2, j2), new, nxt))
    return None


def _crossed(tracks: Tracks, p: Point, q: Point, keys: frozenset[object]) -> int:
    """Crossings of a grid step; those exactly at its start count, those at its end belong to the next step."""
    dx, dy = (0.1 if q[0] > p[0] else -0.1 if q[0] < p[0] else 0), (0.1 if q[1] > p[1] else -0.1 if q[1] < p[1] else 0)
    return tracks.crossings((p[0] - dx, p[1] - dy), (q[0] - dx, q[1] - dy), keys)


def _lines(low: float, high: float, more: tuple[float, ...]) -> list[float]:
    first = math.floor(low / _GRID) * _GRID
    grid = {first + _GRID * i for i in range(int((high - first) / _GRID) + 2)}
    return sorted(grid | set(more))


def _path(
    state: tuple[int, int, int],
    came: dict[tuple[int, int, int], tuple[int, int, int]],
    xs: list[float],
    ys: list[float],
) -> tuple[Point, ...]:
    states = [state]
    while states[-1] in came:
        states.append(came[states[-1]])
    points = [(xs[i], ys[j]) for i, j, _ in reversed(states)]
    out: list[Point] = []
    for p in points:
        if len(out) > 1 and (out[-2][0] == out[-1][0] == p[0] or out[-2][1] == out[-1][1] == p[1]):
            out[-1] = p
        elif not out or p != out[-1]:
            out.append(p)
    return tuple(out)
