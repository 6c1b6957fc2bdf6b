"""What is not known about the loads at a point, in words."""

from __future__ import annotations

from oneline.rules.common import unique
from oneline.study.context import Context
from oneline.study.load_sums import duration_open, may_be_motor
from oneline.study.loads import LoadEntry

#: More circuits of one panel without a load than this are named together.
_NAMED_AT_MOST = 3


def summarize(ctx: Context, entries: list[LoadEntry]) -> tuple[str, ...]:
    """Unknown loads as phrases: one by one while they are few, by number where a panel has many."""
    circuits: dict[str, list[int]] = {}
    for entry in entries:
        if entry.circuit is not None and entry.va is None:
            circuits.setdefault(entry.item, []).append(entry.circuit)
    phrases: list[str] = []
    for entry in entries:
        spaces = circuits.get(entry.item, [])
        if entry.circuit is None or len(spaces) <= _NAMED_AT_MOST:
            phrases.extend(entry.needs)
        else:
            which = ", ".join(str(space) for space in spaces)
            phrases.append(f"loads of {len(spaces)} circuits of {ctx.name(entry.item)} ({which})")
            phrases.extend(n for n in entry.needs if n.startswith("phases of"))
    return unique((*phrases, *_open_phrases(ctx, entries)))


def is_open(entry: LoadEntry) -> bool:
    """Whether a load of known size may count with 25 % more than it says."""
    return bool(entry.va) and (duration_open(entry) or may_be_motor(entry))


def _open_phrases(ctx: Context, entries: list[LoadEntry]) -> list[str]:
    """What is not known of loads whose size is: their class, and whether they are continuous; by panel where many."""
    panels: dict[tuple[str, bool], list[LoadEntry]] = {}
    for entry in entries:
        if is_open(entry):
            panels.setdefault((entry.item, entry.load_class is None), []).append(entry)
    phrases = []
    for (item, no_class), found in panels.items():
        if len(found) > _NAMED_AT_MOST:
            which = f"{len(found)} circuits of {ctx.name(item)}"
            phrases.append(f"class of {which}" if no_class else f"whether {which} are continuous")
        else:
            phrases += [f"class of {e.label}" if no_class else f"whether {e.label} is continuous" for e in found]
    return phrases
