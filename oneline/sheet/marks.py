"""Verdict marks: one small shape per state, each with its sign. The same shapes in lists, on paper and in the legend."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from oneline.rules.verdict import Verdict
from oneline.sheet.display import Arc, Point, Primitive, Stroke, Text

#: Worst first; passing and not applicable ones carry no mark.
MARKED_STATES = ("fail", "unknown", "judge", "advice")
MARK_SIZE = 11.0


@lru_cache(maxsize=64)
def mark_shape(state: str) -> tuple[Primitive, ...]:
    """The shape of a state around (0, 0), within ``MARK_SIZE`` each way: fail a filled triangle with "!", unknown a ring
    with "?", judge a square with "J", advice a small ring with "i", pass a tick (lists only), else nothing."""
    half = MARK_SIZE / 2
    ink = f"verdict-{state}"
    if state == "fail":
        triangle = ((0.0, -half), (half + 0.7, half - 0.4), (-half - 0.7, half - 0.4))
        return (
            Stroke(triangle, "thin", "solid", ink, True, ink),
            Text((0, half - 1.6), "!", 8, "bold", "middle", "paper"),
        )
    if state == "unknown":
        return (
            Arc((0, 0), half - 1, weight="thin", ink=ink, fill="paper"),
            Text((0, 2.6), "?", 7, "bold", "middle", ink),
        )
    if state == "judge":
        square = (
            (-half + 0.5, -half + 0.5),
            (half - 0.5, -half + 0.5),
            (half - 0.5, half - 0.5),
            (-half + 0.5, half - 0.5),
        )
        return (
            Stroke(square, "thin", "solid", ink, True, "paper"),
            Text((0, 2.7), "J", 7.5, "bold", "middle", ink),
        )
    if state == "advice":
        return (
            Arc((0, 0), half - 1, weight="hair", ink=ink, fill="paper"),
            Text((0, 2.5), "i", 7, "bold", "middle", ink),
        )
    if state == "pass":
        return (Stroke(((-4.0, 0.0), (-1.0, 3.5), (4.5, -3.5)), "medium", "solid", ink),)
    return ()


def mark_at(state: str, at: Point) -> tuple[Primitive, ...]:
    """The shape of a state moved to a point."""
    dx, dy = at
    out: list[Primitive] = []
    for prim in mark_shape(state):
        if isinstance(prim, Stroke):
            points = tuple((x + dx, y + dy) for x, y in prim.points)
            out.append(Stroke(points, prim.weight, prim.dash, prim.ink, prim.closed, prim.fill))
        elif isinstance(prim, Arc):
            center = (prim.center[0] + dx, prim.center[1] + dy)
            out.append(
                Arc(center, prim.radius, prim.start_deg, prim.sweep_deg, prim.weight, prim.dash, prim.ink, prim.fill)
            )
        else:
            out.append(Text((prim.at[0] + dx, prim.at[1] + dy), prim.text, prim.size, prim.face, prim.anchor, prim.ink))
    return tuple(out)


def worst_states(verdicts: Iterable[Verdict]) -> dict[str, str]:
    """{item id: its worst state that is marked}. A rule tried beside others (``alternative``) does not count."""
    worst: dict[str, str] = {}
    for verdict in verdicts:
        if verdict.alternative or verdict.state not in MARKED_STATES:
            continue
        known = worst.get(verdict.subject)
        if known is None or MARKED_STATES.index(verdict.state) < MARKED_STATES.index(known):
            worst[verdict.subject] = verdict.state
    return worst
