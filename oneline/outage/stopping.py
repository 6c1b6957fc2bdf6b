"""Which sources an outage stops, which of them go on, and what is without power then."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from oneline.model import Generator, UtilityService
from oneline.outage.results import Isolation
from oneline.outage.scene import Scene

Sources = Sequence[frozenset[str]]


def sources_after(
    scene: Scene, generators: Iterable[Generator], before: Sources, after: Sources, region: frozenset[int],
    blocked: frozenset[str], isolation: Isolation,
) -> tuple[tuple[Generator, ...], tuple[Generator, ...], frozenset[str], frozenset[int]]:  # fmt: skip
    """Generators that go on running, running generators that are stopped, all other sources that are stopped, and the
    nodes without any source that feeds on its own by then.

    ``before``, ``after``: sources at each node now and with the devices open; ``region``: nodes that lose every source;
    ``blocked``: sources only others can take away.
    """
    net, drawing = scene.ctx.net, scene.ctx.drawing
    feeding = [g for g in generators if any(g.id in before[net.node(i.id)] for i in scene.fed_items)]
    taken = {*blocked, *(b.source for b in isolation.reached)}
    kept = tuple(g for g in feeding if g.id not in taken and _goes_on(scene, g, before, after, region))
    running = tuple(g for g in feeding if g not in kept)
    off = blocked | {g.id for g in running}
    anchors = frozenset(s for s in scene.forming if isinstance(drawing.get(s), UtilityService | Generator))
    # What forms a grid would go on alone once it is parted from the rest, and be out of step when that comes back.
    islands = {
        s for s, n in net.sources.items() if s not in anchors and before[n] & anchors and not after[n] & (anchors - off)
    } & scene.forming  # fmt: skip
    forming = scene.forming - off - islands
    cut_off = frozenset(islands) | {
        s for s, n in net.sources.items()
        if n in region or (before[n] & scene.forming and not after[n] & forming and s not in forming)
    }  # fmt: skip
    dark = frozenset(n for n, found in enumerate(before) if found & scene.forming and not after[n] & forming)
    return kept, running, cut_off, region | dark


def _goes_on(
    scene: Scene, generator: Generator, before: Sources, after: Sources, region: frozenset[int]
) -> bool:  # fmt: skip
    """Whether a generator that runs feeds something outside the outage afterwards as before, and ran alone: parted from
    a utility it would go on out of step with it."""
    net = scene.ctx.net
    here = net.node(generator.id)
    if (before[here] - after[here]) & scene.forming:
        return False
    nodes = (net.node(i.id) for i in scene.fed_items)
    return any(generator.id in before[n] & after[n] for n in nodes if n not in region)
