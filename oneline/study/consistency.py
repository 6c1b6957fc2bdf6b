"""Finds in a drawing what nothing feeds, and devices that join different systems."""

from __future__ import annotations

from collections.abc import Iterator

from oneline.model import Connection, Disconnect, Item, TransferSwitch, basis_of
from oneline.rules.common import Fact, Subject
from oneline.rules.consistency import LooseFacts, SystemsFacts, device_in_frame, not_fed, poles_and_phases, same_system
from oneline.rules.verdict import Verdict
from oneline.study.context import Context, protects
from oneline.study.ends import rating_words
from oneline.study.subject import for_all


def overall(ctx: Context) -> Iterator[Verdict]:
    """NET-LOOSE for every piece without a source."""
    yield from _loose(ctx)


def about(ctx: Context, item: Item) -> Iterator[Verdict]:
    """NET-POLES for devices whose poles and phases contradict each other, DEV-1 for those larger than their frame, SYS-V for
    transfer switches and ties between two fed sides."""
    if isinstance(item, Disconnect) and item.poles and item.phases:
        odd = poles_and_phases(Subject(item.id, ctx.name(item.id)), ctx.edition, item.poles, item.phases)
        if odd is not None:
            yield odd
    if isinstance(item, Disconnect) and protects(item):
        trip, frame = (
            Fact(getattr(item, f), basis=basis_of(item, f), name=rating_words(item, f)) for f in ("trip_a", "rating_a")
        )
        larger = device_in_frame(Subject(item.id, ctx.name(item.id)), ctx.edition, trip, frame)
        if larger is not None:
            yield larger
    found = None
    if isinstance(item, TransferSwitch):
        found = _systems(ctx, item, "normal", "alternate")
    elif isinstance(item, Disconnect) and item.normally_open:
        found = _systems(ctx, item, "line", "load")
    if found is not None:
        yield found


def _systems(ctx: Context, item: Item, one: str, other: str) -> Verdict | None:
    nodes = ctx.net.node(item.id, one), ctx.net.node(item.id, other)
    roots = [ctx.feeding.root[n] for n in nodes]
    if not all(roots) or roots[0] == roots[1]:
        return None  # an open end, or one source on both sides: the same system unless a transformer is between
    return same_system(
        SystemsFacts(
            Subject(item.id, ctx.name(item.id)),
            ctx.edition,
            ctx.name(roots[0]),
            ctx.name(roots[1]),
            ctx.feeding.system[nodes[0]],
            ctx.feeding.system[nodes[1]],
        )
    )


def _loose(ctx: Context) -> Iterator[Verdict]:
    net, feeding = ctx.net, ctx.feeding
    seen: set[int] = set()
    for start in range(net.node_count):
        if feeding.position[start] >= 0 or start in seen:
            continue
        piece, stack = [start], [start]
        seen.add(start)
        while stack:
            for key in net.at_node[stack.pop()]:
                branch = net.branches[key]
                for node in (branch.a, branch.b):
                    if node >= 0 and node not in seen and feeding.position[node] < 0:
                        seen.add(node)
                        piece.append(node)
                        stack.append(node)
        items = list(dict.fromkeys(end.item for node in piece for end in net.ends_of[node]))
        # A two-ended device with one end fed is no loose piece: its open end simply leads nowhere yet.
        loose = [i for i in items if all(feeding.position[net.node(i, t)] < 0 for t in ctx.drawing.get(i).terminals)]
        if not loose:
            continue
        ids = sorted(loose, key=lambda i: ctx.drawing.get(i).kind != "bus")
        first, rest = ids[0], ids[1:]
        joined = any(isinstance(c, Connection) for c in ctx.drawing.connections_of(first))
        yield not_fed(
            LooseFacts(
                Subject(first, ctx.name(first)), ctx.edition, tuple(ctx.name(i) for i in rest), tuple(rest),
                alone=not joined,
            )
        )  # fmt: skip


#: Everything this subject finds on a drawing.
verdicts = for_all(about, overall, of=(Disconnect, TransferSwitch))
