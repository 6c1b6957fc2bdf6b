"""Sources that only a transfer switch keeps from a zone, because it never joins its two supplies, and what to lock as well.

A transfer switch is a control device with an interlock, not a device to isolate with (29 CFR 1910.333(b)(2)(ii)(B)): here
it counts as joining all its terminals, unless it is held off by a lock.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from oneline.model import Disconnect, TransferSwitch
from oneline.network.isolation import joined
from oneline.network.topology import Network
from oneline.outage.origins import Origin
from oneline.rules.common import listed
from oneline.study.context import Context


@dataclass(frozen=True)
class Resting:
    """``key``: of the origin. ``switches``: transfer switches that alone keep it away. ``locks``: disconnects that part it
    from the zone whatever they do; () where the drawing has none for it."""

    key: str
    switches: tuple[str, ...]
    locks: tuple[str, ...]

    def says(self, ctx: Context, origin: Origin) -> str:
        name = ctx.name(origin.item)
        against = name if origin.kind == "source" else f"what may come in at {name}"
        names = listed(tuple(map(ctx.name, self.switches)))
        alone = "alone, which never joins its two supplies"
        if len(self.switches) > 1:
            alone = "alone, which never join their two supplies"
        start = f"Against {against} this rests on {names} {alone}"
        if self.locks:
            return f"{start}; lock {listed(tuple(map(ctx.name, self.locks)))} open as well."
        return f"{start}; no disconnect is drawn between that could be locked open as well."


def resting(
    ctx: Context, zone: Collection[int], items: Collection[str], origins: Mapping[str, Origin],
    prices: Mapping[str, int], known: Collection[str],
) -> tuple[Resting, ...]:  # fmt: skip
    """What only transfer switches keep from a zone with some devices held open.

    ``zone``: its nodes. ``prices``: {device: what opening it costs}: of those on a way the cheapest is chosen, of equal
    ones that nearer to the zone. ``known``: keys of the origins that reach the zone anyhow, which are left out.
    """
    net = ctx.net
    near = joined(net, zone, items)
    found = []
    opened = set(items)
    for key, origin in origins.items():
        if key in known or near.isdisjoint(origin.nodes):
            continue
        switches = _switches(net, zone, origin.nodes, items)
        mine: list[str] = []
        while (way := _way(net, zone, origin.nodes, {*items, *mine})) is not None:
            some = [i for i in dict.fromkeys(net.branches[k].item.id for k in way) if i in prices]
            devices = [i for i in some if isinstance(net.drawing.get(i), Disconnect)]
            if not devices:
                mine = []
                break
            # What is opened against another source already costs nothing more.
            mine.append(min(devices, key=lambda i: 0 if i in opened else prices[i]))
        for item in tuple(mine):
            rest = [i for i in mine if i != item]
            if joined(net, zone, {*items, *rest}).isdisjoint(origin.nodes):
                mine = rest
        opened.update(mine)
        found.append(Resting(key, switches, tuple(mine)))
    return tuple(found)


def _switches(net: Network, zone: Collection[int], source: Collection[int], opened: Collection[str]) -> tuple[str, ...]:
    """Transfer switches that would have to be in both positions at once, on any way from the zone to a source."""
    found: list[str] = []
    while (way := _way(net, zone, source, {*opened, *found})) is not None:
        passed = [net.branches[k].item for k in way]
        turned = [i.id for i in passed if isinstance(i, TransferSwitch) and passed.count(i) > 1]
        if not turned:
            break
        found += dict.fromkeys(turned)
    return tuple(found)


def _way(
    net: Network, zone: Collection[int], source: Collection[int], opened: Collection[str]
) -> tuple[str, ...] | None:
    """Branch keys of a shortest way from the zone to a source with transfer switches in both positions at once."""
    came: dict[int, tuple[int, str]] = {}
    seen, waiting, goal = set(zone), list(zone), set(source)
    for at in waiting:  # grows while it is walked
        if at in goal:
            keys = []
            while at in came:
                at, key = came[at]
                keys.append(key)
            return tuple(reversed(keys))
        for key in net.at_node[at]:
            branch = net.branches[key]
            other = branch.other(at)
            if other >= 0 and other not in seen and branch.item.id not in opened:
                seen.add(other)
                came[other] = (at, key)
                waiting.append(other)
    return None
