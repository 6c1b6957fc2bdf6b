"""A switching order arranged by hand: the steps as they were put, and what is missing at its computed place."""

from __future__ import annotations

from collections.abc import Sequence

from oneline.outage.act import Act, flagged
from oneline.outage.results import OrderProblem


def arranged_by_hand(acts: Sequence[Act], order: Sequence[str]) -> tuple[tuple[Act, ...], tuple[OrderProblem, ...]]:
    """The computed steps in the order of ``order`` (keys of steps; () is the computed order).

    What ``order`` does not name comes after what it follows in the computed order. A key of which there is no such step
    any more is left out, with a word about it.
    """
    if not order:
        return flagged(acts), ()
    by_key = {a.key: a for a in acts}
    wanted = list(dict.fromkeys(order))
    found = [by_key[k] for k in wanted if k in by_key]
    placed = {a.key for a in found}
    before = ""
    for act in acts:
        if act.key not in placed:
            at = next((n + 1 for n, a in enumerate(found) if a.key == before), 0)
            found.insert(at, act)
            placed.add(act.key)
        before = act.key
    gone = [k for k in wanted if k not in by_key]
    says = "is no step of this outage any more; it was left out of the order."
    return flagged(found), tuple(OrderProblem(k, f'"{k}" {says}') for k in gone)


def moved(keys: Sequence[str], key: str, before: str | None) -> tuple[str, ...]:
    """The keys with one of them put before another, or at the end."""
    rest = [k for k in keys if k != key]
    rest.insert(len(rest) if before is None else rest.index(before), key)
    return tuple(rest)
