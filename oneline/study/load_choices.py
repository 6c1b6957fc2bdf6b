"""Loads that do not run at the same time (220.60): groups, their alternatives, and every choice among them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import product

import numpy as np

from oneline.study.loads import LoadEntry
from oneline.study.phasors import Vector

#: More combinations of loads that do not run together are not tried: all of them count then.
MOST_COMBINATIONS = 64

#: {group: {alternative: indices of entries}}
Groups = Mapping[str, Mapping[str, list[int]]]


@dataclass
class Choice:
    """One choice of alternatives among loads that do not run together, below one node, in that node's zone."""

    load: Vector = field(default_factory=lambda: np.zeros(3, dtype=complex))
    continuous: Vector = field(default_factory=lambda: np.zeros(3, dtype=complex))
    va: float = 0.0
    loose_va: float = 0.0
    loose_continuous_va: float = 0.0
    continuous_va: float = 0.0
    open_va: float = 0.0
    motor: int = -1
    unknown: bool = False


def alternatives(entries: Sequence[LoadEntry], indices: Sequence[int]) -> Groups:
    """Grouped entries by group and alternative: "season/heat" is the alternative "heat" of the group "season"; without a
    word of its own the class of the load is the alternative, so that loads of one class run together."""
    groups: dict[str, dict[str, list[int]]] = {}
    for index in indices:
        entry = entries[index]
        name, _, word = (entry.group or "").partition("/")
        groups.setdefault(name.strip(), {}).setdefault(word.strip() or entry.load_class or "", []).append(index)
    return groups


def combinations(groups: Groups) -> Iterator[list[int]]:
    """Every choice of one alternative from each group; all of them together where there are too many."""
    count = 1
    for found in groups.values():
        count *= len(found)
    if count > MOST_COMBINATIONS:
        yield [i for found in groups.values() for part in found.values() for i in part]
        return
    for choice in product(*(found.values() for found in groups.values())):
        yield [i for part in choice for i in part]
