"""Sets of isolation points with everything that follows from opening them, each proven by computing the live state again."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from functools import cached_property

from oneline.model import Battery, Disconnect, Generator, SolarArray, TransferSwitch, UtilityService, WorkZone
from oneline.network.isolation import Cuts, find_cuts, joined, region, way_to
from oneline.network.live import LiveState, live_state, worst_state
from oneline.outage.costs import costs, is_open
from oneline.outage.origins import Origin, nodes_by_item, nodes_of, origins
from oneline.outage.resting import Resting, resting
from oneline.outage.results import Blocked, Isolation, IsolationPoint
from oneline.study.context import Context
from oneline.tables import system


class Maker:
    """Works out sets of isolation points for one zone."""

    def __init__(self, ctx: Context, zone: WorkZone, nodes: frozenset[int]) -> None:
        self.ctx, self.zone, self.nodes = ctx, zone, nodes
        self._inside: dict[frozenset[str], frozenset[int]] = {}
        self.origins = origins(ctx)
        self.places = {key: origin.nodes for key, origin in self.origins.items()}

    @cached_property
    def nodes_of(self) -> dict[str, tuple[int, ...]]:
        return nodes_by_item(self.ctx.net)

    @cached_property
    def prices(self) -> dict[str, tuple[int, tuple[str, ...]]]:
        return costs(self.ctx)

    def cuts(self) -> Cuts:
        """The cheapest sets of devices that part the zone from everything that a device can part it from."""
        prices = {item: cost for item, (cost, _) in self.prices.items()}
        return find_cuts(self.ctx.net, self.nodes, self.places, prices)

    def inside(self, items: Collection[str]) -> frozenset[int]:
        """Nodes that hang together with the zone in some position of everything but a set of devices held open."""
        key = frozenset(items)
        if key not in self._inside:
            self._inside[key] = region(self.ctx.net, self.nodes, key)
        return self._inside[key]

    def made(self, items: Collection[str], exact: bool, besides: Collection[str] = ()) -> Isolation:
        """A set of devices held open. ``besides``: keys of origins that no device parts from the zone."""
        ctx, net = self.ctx, self.ctx.net
        worst = worst_state(net, items, self.places)
        inside = self.inside(items)
        after = live_state(net, {key: False for item in items for key in net.branches_of(item)})
        # Computed once more, in the present positions, by what draws the live state on the sheet.
        again = frozenset().union(*(after.possibly_at_node[node] for node in self.nodes))
        still = [
            key for key in self.origins
            if key not in besides and (key in again or any(key in worst[node] for node in self.nodes))
        ]  # fmt: skip
        reached = tuple(self.blocked(self.origins[key], items) for key in still if self.origins[key].kind == "source")
        unknown = [self.origins[k].says for k in (*besides, *still) if self.origins[k].kind == "unknown"]
        unknown += self._moves(inside, items)
        few = tuple(self._too_few_poles(items))
        unknown += few
        at = self.nodes_of
        dead = tuple(i for i, nodes in at.items() if nodes and not any(after.possibly_at_node[n] for n in nodes))
        dark = tuple(
            i for i in dead
            if i not in self.zone.items and any(ctx.live.at_node[node] for node in at[i])
        )  # fmt: skip
        points = tuple(self._points(items, worst, inside, after))
        known = {*besides, *still, *(key for node in self.nodes for key in worst[node])}
        prices = {item: cost for item, (cost, _) in self.prices.items()}
        rests = resting(ctx, self.nodes, items, self.origins, prices, known)
        return Isolation(
            points=points, cost=sum(p.cost for p in points), dead=dead, dark=dark,
            proof=self._proof(points, reached, few, besides, exact), reached=reached, unknown=tuple(unknown),
            rests_on=tuple(dict.fromkeys(r.says(ctx, self.origins[r.key]) for r in rests)),
            lock_too=tuple(self._lock_too(rests, items)),
        )  # fmt: skip

    def _points(
        self, items: Collection[str], worst: tuple[frozenset[str], ...], inside: frozenset[int], after: LiveState
    ) -> Iterator[IsolationPoint]:
        ctx, net = self.ctx, self.ctx.net
        # What hangs together with the zone only by a transfer switch in both positions.
        near = any(worst[node] for node in inside)
        entangled = joined(net, inside, items) - inside if near else frozenset()
        for number, item_id in enumerate(sorted(items, key=lambda i: (ctx.name(i), i)), start=1):
            cost, why = self.prices[item_id]
            keys = net.branches_of(item_id)
            parted = self._parted(item_id, items, worst, inside, entangled)
            live = after.sides(item_id, possibly=True)
            yield IsolationPoint(
                item=item_id, name=ctx.name(item_id), location=ctx.drawing.get(item_id).location or "", keys=keys,
                cost=cost, why=why,
                parts_from=tuple(dict.fromkeys(o.item for k, o in self.origins.items() if k in parted)),
                is_open=is_open(ctx, item_id),
                live_sides={t: tuple(s for s in self.origins if s in at) for t, at in live.items() if at},
                lock=f"L{number}",
            )  # fmt: skip

    def _lock_too(self, rests: tuple[Resting, ...], opened: Collection[str]) -> Iterator[IsolationPoint]:
        """Devices to lock besides the points, against what only a transfer switch keeps away."""
        ctx, net = self.ctx, self.ctx.net
        locks = tuple(dict.fromkeys(i for r in rests for i in r.locks))
        if not locks:
            return
        after = live_state(net, {key: False for item in (*opened, *locks) for key in net.branches_of(item)})
        for number, item in enumerate(locks, len(opened) + 1):
            mine = [r for r in rests if item in r.locks]
            against = _listed(list(dict.fromkeys(ctx.name(self.origins[r.key].item) for r in mine)))
            switches = _listed(list(dict.fromkeys(ctx.name(s) for r in mine for s in r.switches)))
            cost, why = self.prices[item]
            yield IsolationPoint(
                item=item, name=ctx.name(item), location=ctx.drawing.get(item).location or "",
                keys=net.branches_of(item), cost=cost,
                why=(f"stands against {against}, which only {switches} keeps away", *why),
                parts_from=tuple(dict.fromkeys(self.origins[r.key].item for r in mine)), is_open=is_open(ctx, item),
                live_sides={
                    t: tuple(s for s in self.origins if s in at)
                    for t, at in after.sides(item, possibly=True).items() if at
                },
                lock=f"L{number}",
            )  # fmt: skip

    def _parted(
        self, item: str, items: Collection[str], worst: tuple[frozenset[str], ...], inside: frozenset[int],
        entangled: frozenset[int],
    ) -> set[str]:  # fmt: skip
        """Keys of the origins that reach the zone when one of the points alone is closed again.

        What reaches its outer side does, unless a transfer switch would have to be in both positions for it: where one
        could bring energy to what hangs together with the zone, the ways are looked for again.
        """
        net = self.ctx.net
        ends = [(net.branches[key].a, net.branches[key].b) for key in net.branches_of(item)]
        outer = [b if a in inside else a for a, b in ends if (a in inside) != (b in inside)]
        if entangled and (not outer or not entangled.isdisjoint(outer)):
            again = region(net, self.nodes, [i for i in items if i != item])
            still = {k for node in self.nodes for k in worst[node]}
            return {k for k, nodes in self.places.items() if not again.isdisjoint(nodes)} - still
        return {k for node in outer for k in worst[node]}

    def _moves(self, inside: frozenset[int], items: Collection[str]) -> Iterator[str]:
        """Transfer switches that stand at what would be dead and of which nobody said whether they move by themselves."""
        for switch in self.ctx.drawing.of(TransferSwitch):
            here = not inside.isdisjoint(nodes_of(self.ctx.net, switch.id))
            if here and switch.automatic is None and switch.id not in items:
                yield f"Nobody said whether {self.ctx.name(switch.id)} moves by itself."

    def _too_few_poles(self, items: Collection[str]) -> Iterator[str]:
        """Devices that leave a phase conductor closed when they are open. The grounded phase of a corner-grounded system
        need not be opened."""
        feeding, net = self.ctx.feeding, self.ctx.net
        for item_id in items:
            item = self.ctx.drawing.get(item_id)
            if not isinstance(item, Disconnect) or item.poles is None:
                continue
            branch = net.branches[item_id]
            code = feeding.system[branch.a] or feeding.system[branch.b]
            passing = min(len(feeding.phases[n]) for n in (branch.a, branch.b))
            if code is not None and system(code).grounding == "corner":
                passing -= 1
            if item.poles < passing:
                poles = "one pole" if item.poles == 1 else f"{item.poles} poles"
                name = self.ctx.name(item_id)
                yield f"{name} has {poles}, and {passing} phase conductors pass it: open, it parts not all of them."

    # ------------------------------------------------------------------------------------------------- in words
    def blocked(self, origin: Origin, opened: Collection[str] | None = None) -> Blocked:
        """A source that reaches the zone although some devices are held open (``None``: all that could be)."""
        held = self.prices.keys() if opened is None else opened
        path = way_to(self.ctx.net, origin.nodes, self.nodes, held) or ()
        return Blocked(origin.item, self.ctx.name(origin.item), self._says(origin, path, opened is not None), path)

    def _says(self, origin: Origin, path: tuple[str, ...], chosen: bool) -> str:
        ctx, name = self.ctx, self.ctx.name(origin.item)
        way = ", ".join(dict.fromkeys(ctx.name(ctx.net.branches[key].item.id) for key in path))
        way = f"its way: {way}" if way else "it is connected there directly"
        if chosen:
            return f"{name} still reaches the zone with these devices open; {way}."
        source = ctx.drawing.get(origin.item)
        if isinstance(source, UtilityService):
            return (
                f"Only the utility can make this dead: no device on the premises stands between {name} and the zone; "
                f"{way}."
            )
        if isinstance(source, Generator):
            return (
                f"No disconnect is drawn between {name} and the zone ({way}): it has to be stopped and kept from starting "
                "by its own means, as its maker says."
            )
        if isinstance(source, SolarArray):
            return (
                f"No disconnect is drawn between {name} and the zone ({way}): the AC side of its inverter stays live as "
                "long as there is light."
            )
        assert isinstance(source, Battery)
        return (
            f"No disconnect is drawn between {name} and the zone ({way}): the AC side of its inverter stays live from "
            "stored energy."
        )

    def _proof(
        self, points: tuple[IsolationPoint, ...], reached: tuple[Blocked, ...], few: Collection[str],
        besides: Collection[str], exact: bool,
    ) -> str:  # fmt: skip
        if reached:
            return "With these open a source still reaches the zone."
        if few:
            return "Not proven: with these open not every conductor is parted."
        if not self.nodes:
            return ""
        others = [key for key in self.origins if key not in besides]
        rest = "" if not besides else f" {len(besides)} more cannot be parted from it by any device on the drawing."
        count = "the only place" if len(others) == 1 else f"any of the {len(others)} places"
        if not others:
            return f"No device on the drawing parts the zone from what feeds it.{rest}"
        what = f"With {_listed([p.name for p in points])} open" if points else "Without opening anything"
        cheap = "" if exact else " There may be a set that costs less."
        return (
            f"{what}, nothing leads to the zone from {count} where energy comes in or may come in, whatever position every "
            f"other device and transfer switch is in. Computed again in the present positions: the same.{rest}{cheap}"
        )


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
