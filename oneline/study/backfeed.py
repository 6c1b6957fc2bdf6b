"""For every device on the drawing: what stays live behind it when it is open, and from where."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from oneline.model import Bus, ConductorRun, Disconnect, Item, Meter, SuspectedTie, TransferSwitch
from oneline.network.live import LiveState, live_state
from oneline.network.transfer import behind
from oneline.rules.backfeed import Feed, OpenFacts, Takeover, stays_live
from oneline.rules.common import Subject, unique
from oneline.rules.verdict import Verdict
from oneline.study.context import Context
from oneline.study.subject import for_all


def about(ctx: Context, item: Item) -> Iterator[Verdict]:
    """LIVE-BOTH for every disconnect and transfer switch that something reaches from its far side."""
    if not isinstance(item, Disconnect | TransferSwitch) or ctx.settled("one way", lambda: _one_way(ctx)):
        return
    if ctx.net.branches_of(item.id):
        found = open_facts(ctx, item)
        said = stays_live(found) if found is not None else None
        if said is not None:
            yield said


def _one_way(ctx: Context) -> bool:
    """Whether one source is all there is and no place can be reached by two ways: nothing is live behind any open device."""
    feeding = ctx.feeding
    return len(ctx.net.sources) == 1 and all(
        feeding.load_node(key) is not None or (b.b >= 0 and max(feeding.position[b.a], feeding.position[b.b]) < 0)
        for key, b in ctx.net.branches.items()
    )


def open_facts(ctx: Context, item: Disconnect | TransferSwitch) -> OpenFacts | None:
    """What reaches the far side of a device when it is open, and what a transfer switch behind it may take to another
    source; ``None`` where nothing does or may."""
    far, near = _sides(ctx, item)
    opened = ctx.live.when_opened(item.id)
    certain, possibly = opened.sides[far], opened.possibly[far]
    switches = ctx.settled("transfer switches behind", lambda: behind(ctx.feeding)).get(item.id, ())
    if not certain and not possibly and not switches:
        return None
    keys, far_node = ctx.net.branches_of(item.id), ctx.net.node(item.id, far)
    state = live_state(ctx.net, {**ctx.live.positions, **dict.fromkeys(keys, False)})
    takeovers = (
        *_brought(ctx, state, possibly - certain, far_node, _side_name(ctx, item, far_node)),
        *(found for switch in switches for found in _taken_over(ctx, state, switch, possibly)),
    )
    is_open = not any(ctx.net.branches[k].closed for k in keys)
    # A tie that is no way of the normal feeding has two sides of equal right.
    tie = isinstance(item, Disconnect) and any(_between_fed(ctx, key) for key in keys)
    near_feeds = tuple(
        f for t in near for f in _feeds(ctx, state, opened.sides[t], ctx.net.node(item.id, t))
    ) if is_open or tie else ()  # fmt: skip
    return OpenFacts(
        device=Subject(item.id, ctx.name(item.id)), edition=ctx.edition, side=_side_name(ctx, item, far_node),
        feeds=_feeds(ctx, state, certain, far_node), line_feeds=near_feeds,
        ties=_ties(ctx, state, possibly - certain, far_node), is_open=is_open,
        takeovers=tuple(found for _, found in takeovers),
        line_side=_side_name(ctx, item, ctx.net.node(item.id, near[0])) if tie else "",
        ids=unique((
            *(s for s in ctx.net.sources if s in certain or (tie and s in opened.sides[near[0]])),
            *(i for _, found in takeovers for i in found.ids),
        )),
    )  # fmt: skip


def _taken_over(ctx: Context, state: LiveState, switch: str, said: Iterable[str]) -> Iterator[tuple[str, Takeover]]:
    """Sources that a transfer switch brings to its load side while a device ahead of it is open, each with its id; not
    those that reach the device itself."""
    node, device = ctx.net.node(switch, "load"), ctx.drawing.get(switch)
    assert isinstance(device, TransferSwitch)
    place = _side_name(ctx, device, node)
    wanted = state.possibly_at_node[node] - set(said)
    for source, found in _brought(ctx, state, wanted, node, place):
        if switch in (i.id for i in _way(ctx, state, source, node)):
            yield source, found


def _brought(
    ctx: Context, state: LiveState, sources: Iterable[str], node: int, place: str
) -> Iterator[tuple[str, Takeover]]:
    """Sources that a transfer switch that may move by itself brings to a node, each with its id."""
    wanted = set(sources)
    for source in (s for s in ctx.net.sources if s in wanted):
        way = _way(ctx, state, source, node)
        switches = [i for i in way if isinstance(i, TransferSwitch) and i.automatic is not False]
        if not switches or any(isinstance(i, SuspectedTie) for i in way):
            continue
        unsure = next((i for i in switches if i.automatic is None), None)
        need = f"whether {ctx.name(unsure.id)} is automatic" if unsure is not None else ""
        lock = next((ctx.name(i.id) for i in way if isinstance(i, Disconnect)), "")
        through = tuple(ctx.name(i.id) for i in way if isinstance(i, Disconnect | TransferSwitch))
        named = f"what {through[0]} feeds" if place.startswith("its ") else place
        yield source, Takeover(named, Feed(ctx.name(source), through), lock, need, (source, *(i.id for i in switches)))


def _way(ctx: Context, state: LiveState, source: str, node: int) -> list[Item]:
    """Items on the way from a node to a source, nearest first."""
    return [ctx.net.branches[k].item for k in reversed(state.path(source, node) or ()) if k in ctx.net.branches]


def _between_fed(ctx: Context, key: str) -> bool:
    """Whether a branch joins two places that are both fed without it, normally open or closed."""
    branch, feeding = ctx.net.branches[key], ctx.feeding
    ends = (branch.a, branch.b)
    return feeding.load_node(key) is None and min(ends) >= 0 and all(feeding.position[n] >= 0 for n in ends)


def _sides(ctx: Context, item: Disconnect | TransferSwitch) -> tuple[str, tuple[str, ...]]:
    """The terminal away from the normal supply, and the others."""
    if isinstance(item, TransferSwitch):
        return "load", ("normal", "alternate")
    down = ctx.feeding.load_node(item.id)
    far = "line" if down is not None and down == ctx.net.node(item.id, "line") else "load"
    return far, ("load",) if far == "line" else ("line",)


def _side_name(ctx: Context, item: Disconnect | TransferSwitch, node: int) -> str:
    """What is at the far side, by name: the first bus that conductors reach, else the equipment there."""
    seen, waiting = {node}, [node]
    nearest = ""
    for at in waiting:
        others = [ctx.drawing.get(end.item) for end in ctx.net.ends_of[at] if end.item != item.id]
        bus = next((o for o in others if isinstance(o, Bus)), None)
        if bus is not None:
            return ctx.name(bus.id)
        nearest = nearest or next((ctx.name(o.id) for o in others), "")
        for key in ctx.net.at_node[at]:
            branch = ctx.net.branches[key]
            other = branch.other(at)
            if isinstance(branch.item, ConductorRun | Meter) and other >= 0 and other not in seen:
                seen.add(other)
                waiting.append(other)
    return f"its side toward {nearest}" if nearest else "its load side"


def _feeds(ctx: Context, state: LiveState, sources: Iterable[str], node: int) -> tuple[Feed, ...]:
    found = []
    wanted = set(sources)
    for source in ctx.net.sources:
        if source not in wanted:
            continue
        keys = state.path(source, node) or ()
        devices = [ctx.net.branches[k].item for k in reversed(keys) if k in ctx.net.branches]
        through = tuple(ctx.name(d.id) for d in devices if isinstance(d, Disconnect | TransferSwitch))
        found.append(Feed(ctx.name(source), through))
    return tuple(found)


def _ties(ctx: Context, state: LiveState, sources: Iterable[str], node: int) -> tuple[str, ...]:
    """Untraced ties by which further sources may reach a node."""
    found: dict[str, None] = {}
    for source in sorted(sources):
        if source not in ctx.net.sources:
            found[ctx.name(source)] = None
        for key in state.path(source, node) or ():
            if key in ctx.net.branches and isinstance(ctx.net.branches[key].item, SuspectedTie):
                found[ctx.name(key)] = None
    return tuple(found)


#: Everything this subject finds on a drawing.
verdicts = for_all(about, of=(Disconnect, TransferSwitch))
