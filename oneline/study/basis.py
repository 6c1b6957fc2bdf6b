"""Findings name what they rest on where it is only assumed, also where a rule reads yes or no, a choice or a voltage.

Numbers carry their basis through the rules themselves (``Fact``). What is no number is looked up here: which fields of
which items a rule reads, and which figures follow from a nominal system.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import cache

from oneline.model import Connection, Generator, Item
from oneline.rules.common import resting_on, unique
from oneline.rules.verdict import Verdict
from oneline.study.context import Context
from oneline.study.ends import assumptions

#: Fields without a number that a rule reads, by the kind of the item that the finding is about or names beside it. A key
#: is a rule or the family before its hyphen.
_READ: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "TAP": {"run": ("raceway", "outdoors", "leaves_enclosure"), "transformer": ("connection",)},
    "TAP-BUS": {"bus": ("maker_tap_provision",)},
    "BAR-1": {"bus": ("line_side_barrier",)},
    "AMP-3": {"run": ("size", "sets")},
    "PNL-1": {"transformer": ("connection",), "disconnect": ("service_disconnect",)},
    "PNL-4": {"bus": ("spaces", "phases"), "disconnect": ("space", "poles", "phases")},
    "PNL-7": {"bus": ("phases", "terminal_c")},
    "HL-1": {"bus": ("phases",)},
    "GND-1": {"bus": ("neutral_bonded",), "disconnect": ("neutral_bonded", "service_disconnect")},
    "GND-5": {
        "bus": ("neutral_bonded",), "disconnect": ("neutral_bonded", "service_disconnect"),
        "transformer": ("neutral_bonded",),
    },
    "GND-6": {"bus": ("neutral_bonded",), "disconnect": ("neutral_bonded",), "transformer": ("neutral_bonded",)},
    "GEN-2": {
        "transfer": ("switched_neutral",), "generator": ("neutral_bonded",), "bus": ("neutral_bonded",),
        "disconnect": ("neutral_bonded",),
    },
    "SVC-2": {"disconnect": ("service_disconnect",)},
    "SVC-3": {"disconnect": ("service_rated", "service_disconnect")},
    "SVC-4": {"disconnect": ("service_disconnect",)},
    "SVC-6": {"disconnect": ("service_disconnect",)},
    "SVC-7": {"disconnect": ("service_disconnect",)},
    "FLT-3": {"disconnect": ("voltage_rating", "poles")},
    "FLT-4": {"disconnect": ("series_rated_with", "series_rating_ka")},
    "PV-7": {"solar": ("interactive_listed",), "battery": ("interactive_listed",)},
    "XFMR-450": {"transformer": ("kva",)},
    "RWY-1": {
        "run": (
            "raceway", "raceway_size", "size", "sets", "insulation", "phases", "neutral_size", "egc_size", "current_carrying",
            "length_ft",
        ),
    },
}  # fmt: skip

#: Rules in which no voltage takes part: how things are arranged, marked and counted.
_WITHOUT_VOLTAGE = frozenset((
    "AMP-3", "AMP-TERM", "BAR-1", "DEC-SIDE", "GEN-2", "GND-2", "GND-4", "GND-7", "NET-LOOSE", "OCP-4B",
    "OCP-4C", "OCP-4D", "PNL-3", "PNL-4", "PV-4", "PV-7", "RWY-1", "SVC-2", "SVC-3", "SVC-6", "TAP-BUS",
    "TAP-HB", "TAP-OTH", "TAP-OUT",
))  # fmt: skip
#: Rules that read the load behind a point; phases and voltages there make it.
_OF_LOAD = ("AMP-1", "CAP", "LOAD", "OCP-4G", "SVC-4", "TAP", "VD")
#: Rules decided by which device on the way to the source is marked as service disconnect.
_OF_SERVICE_DISCONNECT = ("DEC-SIDE", "GND-5")
#: Fields by which an item tells the system around it.
_SYSTEM_FIELDS = ("system", "primary_system", "secondary_system")

Interval = tuple[int, int]


def named_assumptions(ctx: Context, verdicts: Sequence[Verdict]) -> Sequence[Verdict]:
    """The verdicts, each with what it rests on beside its numbers. Nothing is done where nothing is assumed."""
    items = {item.id: item for item in ctx.drawing.items.values() if "assumed" in item.basis.values()}
    if not items:
        return verdicts
    spread = [
        (_intervals(ctx, item), assumptions(ctx, item, *_has(item, _SYSTEM_FIELDS)), _phases(ctx, item))
        for item in items.values()
    ]
    spread = [x for x in spread if x[1] or x[2]]
    return [resting_on(v, unique((*_read(ctx, v, items), *_around(ctx, v, spread)))) for v in verdicts]


def _read(ctx: Context, found: Verdict, items: Mapping[str, Item]) -> Iterator[str]:
    """Assumed fields of the items that a finding is about, names beside it, or has on its way to the source."""
    for item_id in unique((found.subject, *found.others)):
        item = items.get(item_id)
        if item is not None:
            yield from assumptions(ctx, item, *_has(item, _fields(found.rule, item.kind)))
    if found.rule in _OF_SERVICE_DISCONNECT:
        for node in _nodes(ctx, ctx.drawing.items.get(found.subject))[:1]:
            for branch, _up in ctx.feeding.path(node):
                if branch.item.id in items:
                    yield from assumptions(ctx, branch.item, *_has(branch.item, ("service_disconnect",)))


def _around(
    ctx: Context, found: Verdict, spread: Sequence[tuple[list[Interval], tuple[str, ...], tuple[str, ...]]]
) -> Iterator[str]:  # fmt: skip
    """Assumed systems that a finding's figures follow from, and phases of the loads it counts."""
    if not spread or found.rule in _WITHOUT_VOLTAGE:
        return
    at = _intervals(ctx, ctx.drawing.items.get(found.subject))
    loads = found.rule.startswith(_OF_LOAD)
    # What a standby source may carry is fed from elsewhere in the normal state.
    standby = loads and isinstance(ctx.drawing.items.get(found.subject), Generator)
    for own, systems, phases in spread:
        behind = standby or (loads and any(a <= first < b for first, _ in own for a, b in at))
        if behind:
            yield from phases
        if behind or any(first <= a < last for first, last in own for a, _ in at):
            yield from systems


@cache
def _fields(rule: str, kind: str) -> tuple[str, ...]:
    named = _READ.get(rule) or _READ.get(rule.partition("-")[0]) or {}
    return named.get(kind, ())


def _has(item: Item, fields: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(name for name in fields if hasattr(item, name))


def _phases(ctx: Context, item: Item) -> tuple[str, ...]:
    """Phases of what carries load, where they are only assumed."""
    return assumptions(ctx, item, *_has(item, ("phases",)))


def _nodes(ctx: Context, item: Item | None) -> list[int]:
    """Fed nodes of an item."""
    if item is None:
        return []
    terminals = ("a", "b") if isinstance(item, Connection) else item.terminals
    nodes = dict.fromkeys(ctx.net.node(item.id, t) for t in terminals)
    return [n for n in nodes if n >= 0 and ctx.feeding.position[n] >= 0]


def _intervals(ctx: Context, item: Item | None) -> list[Interval]:
    """Where an item is in the tree of what feeds what, by node: its place, and the end of what is behind it."""
    return [(ctx.feeding.position[n], ctx.feeding.last[n]) for n in _nodes(ctx, item)]
