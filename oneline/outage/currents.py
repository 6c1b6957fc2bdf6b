"""The current through a device at the moment it is operated.

A device that is opened parts a connected piece of the network in two, or not at all where there is another way around.
What can flow through it is bounded by what one side can deliver and the other can take: no more than the connected
load on a side without a source, no more than the rated output of what generates there. Of a loop with one source it is no
more than the whole load of the loop. Nothing is ever reduced by demand factors here. A clamp reading stands for what is
behind it while nothing behind it was switched since, and bounds it afterwards.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import inf

from oneline import tables
from oneline.model import Battery, Transformer, UtilityService
from oneline.network import Branch
from oneline.outage.amps import NONE, OPEN, Amps, across, exciting, load_amps, output, plus
from oneline.outage.clamped import Clamped, bus_reading, own_reading, reading_of, replaced
from oneline.outage.results import SwitchCurrent
from oneline.outage.scene import Moment, Scene
from oneline.rules.common import amperes, unique

#: Load that turns: what a switch may break of it goes by horsepower.
MOTORS = ("motor", "hvac", "elevator")


@dataclass
class Side:
    """What hangs together with one end of a device, the device left out. ``load``: what it can take; ``give``: what it
    can deliver; ``needs``: why either is open; ``motors``: whether something that turns is connected."""

    nodes: Mapping[int, tuple[int, str]]
    load: Amps = NONE
    give: Amps = NONE
    needs: list[str] = field(default_factory=list)
    motors: bool = False
    read: bool = False
    calculated: bool = False
    #: Utility services: they give and take without bound and are in neither figure.
    grids: int = 0


@dataclass(frozen=True)
class Through:
    """Current through a device with what its ability to break it hangs on. ``certain_a``: it surely carries this much."""

    current: SwitchCurrent
    certain_a: float = 0.0
    motors: bool = False

    @property
    def most(self) -> float | None:
        return self.current.at_most


def through(moment: Moment, key: str) -> Through:
    """Current through a closed branch at a moment."""
    return moment.recall(key, lambda: _through(moment, key))


def _through(moment: Moment, key: str) -> Through:
    scene, net = moment.scene, moment.scene.ctx.net
    branch = net.branches[key]
    zero = tables.switching_practice("about_zero_a")
    one = _side(moment, branch.a, key, branch.b)
    if branch.b in one.nodes:
        sides: tuple[Side, ...] = (one,)
        most, needs = _around(one), tuple(one.needs)
    else:
        sides = (one, _side(moment, branch.b, key))
        most, needs = _between(*sides), unique(tuple(n for s in sides for n in s.needs))
    far = min(sides, key=lambda s: s.grids)
    if not any(s.grids or max(s.give) > 0 for s in sides):
        return Through(SwitchCurrent(0.0, 0.0, "dead", "Nothing feeds it by then."))
    if far.grids > (len(sides) == 1):
        needs = unique((*needs, f"current measured at {scene.ctx.name(branch.item.id)}, which is fed from both ends"))
    motors = any(s.motors for s in sides if not s.grids or s is far)
    own = own_reading(moment, branch, far.nodes, len(sides) == 1)
    if own is not None:
        return _by_reading(own, most, motors, needs)
    bound = max(most)
    if bound == inf:
        words = "Not known what it carries."
        return Through(SwitchCurrent(None, None, "unknown", words, needs), motors=motors)
    if bound == 0:
        return Through(SwitchCurrent(0.0, 0.0, "none left", "Everything behind it is off by then."))
    taking = [s for s in sides if not s.grids] or list(sides)
    read, calculated = any(s.read for s in taking), any(s.calculated for s in taking)
    words = (
        "Readings of the parts behind it and connected load of the rest." if read and calculated
        else "Readings of the parts behind it." if read
        else "Connected load behind it, without demand factors."
    )  # fmt: skip
    if all(max(s.load) < bound for s in taking):
        words = "Rated output of what generates behind it."
    motors = motors and bound > zero
    basis = "reading" if read and not calculated else "calculated"
    return Through(SwitchCurrent(bound, bound, basis, words), motors=motors)


def _between(one: Side, two: Side) -> Amps:
    """What one side delivers and the other takes, whichever way is more."""
    a, b, c = (
        max(
            min(inf if one.grids else one.give[p], inf if two.grids else two.load[p]),
            min(inf if two.grids else two.give[p], inf if one.grids else one.load[p]),
        )
        for p in range(3)
    )
    return a, b, c


def _around(whole: Side) -> Amps:
    """Bound of a device that has another way around it: the whole load of the loop, and what generates in it. Between
    two services nothing bounds what they exchange."""
    return OPEN if whole.grids > 1 else plus(whole.load, whole.give)


def _by_reading(own: Clamped, most: Amps, motors: bool, needs: tuple[str, ...]) -> Through:
    """By the device's own reading, or bounded by it once something behind it was switched."""
    highest = max(own.amps)
    said = f"Read {amperes(highest)} ({own.when})"
    if not own.touched:
        at_most = max(a + b for a, b in zip(own.amps, own.swing, strict=True))
        if at_most == inf:
            words = f"{said}; what generates behind it can change that, its rating is not known."
            return Through(SwitchCurrent(highest, None, "reading", words, own.needs), highest, motors)
        words = f"{said}; up to {amperes(at_most)} when what generates behind it changes." if own.swings else f"{said}."
        return Through(SwitchCurrent(highest, at_most, "reading", words), highest, motors)
    bound = max(min(m, a + s) for m, a, s in zip(most, own.amps, own.swing, strict=True))
    if bound == 0:
        return Through(SwitchCurrent(0.0, 0.0, "none left", "Everything behind it is off by then."))
    if bound == inf:
        return Through(SwitchCurrent(None, None, "unknown", "Not known what is left behind it.", needs), 0, motors)
    if bound < max(most):
        words = f"At most what was read ({amperes(highest)}, {own.when}) before load was taken off."
        return Through(SwitchCurrent(None, bound, "reading", words), motors=motors)
    words = "Connected load that is left behind it, without demand factors."
    return Through(SwitchCurrent(bound, bound, "calculated", words), motors=motors)


# ------------------------------------------------------------------------------------------------------- one side
def _side(moment: Moment, start: int, key: str, other: int = -1) -> Side:
    """Everything on one side of a branch, referred to the branch's own voltage. ``other``: the branch's other node.

    Of a side with a utility service nothing is added up, unless the other node is on it too.
    """
    scene, net = moment.scene, moment.scene.ctx.net
    nodes = scene.reach(start, moment.closed, without=key)
    if other not in nodes:
        grids = sum(1 for n in scene.service_nodes if n in nodes and not scene.service_nodes[n] <= moment.stopped)
        if grids:
            return Side(nodes, grids=grids)
    side = Side(nodes)
    load: dict[int, Amps] = {}
    give: dict[int, Amps] = {}
    for node in reversed(list(nodes)):
        taken, given, needs = _at(moment, node, side)
        own_load, own_give = plus(taken, load.get(node, NONE)), plus(given, give.get(node, NONE))
        parent, came = nodes[node]
        read = bus_reading(moment, node, nodes, parent) if parent >= 0 or node == start else None
        if read is not None:
            own_load, counts = replaced(own_load, read)
            side.read |= counts
        if max(own_load) == inf or max(own_give) == inf:
            side.needs += needs
        if parent < 0:
            side.load, side.give = own_load, own_give
            break
        up_load, up_give = _carried(scene, net.branches[came], parent, own_load, own_give, side)
        found = reading_of(moment, net.branches[came], node, parent)
        if found is not None:
            up_load, counts = replaced(up_load, found)
            side.read |= counts
        load[parent] = plus(load.get(parent, NONE), up_load)
        give[parent] = plus(give.get(parent, NONE), up_give)
    side.needs = list(unique(tuple(side.needs)))
    return side


def _at(moment: Moment, node: int, side: Side) -> tuple[Amps, Amps, list[str]]:
    """What a node's own loads can take and its own sources give, with what is missing to say it."""
    scene = moment.scene
    if node not in scene.busy:
        return NONE, NONE, []
    taken, given = NONE, NONE
    needs: list[str] = []
    for entry in scene.entries.get(node, ()):
        if entry.item in moment.shed:
            continue
        drawn = load_amps(scene, entry)
        if max(drawn) == inf:
            needs += entry.needs or [f"load of {entry.label}"]
        elif max(drawn) > 0:
            side.calculated = True
        side.motors |= entry.load_class in MOTORS or entry.horsepower is not None
        taken = plus(taken, drawn)
    for source in scene.sources.get(node, ()):
        if source.id in moment.stopped:
            continue
        if isinstance(source, UtilityService):
            side.grids += 1
            continue
        out = output(scene, source, node)
        given = plus(given, out)
        if isinstance(source, Battery):
            taken = plus(taken, out)
        if max(out) == inf:
            needs.append(f"rated output of {scene.ctx.name(source.id)}")
    for end, beyond in scene.ties:
        if end == node and (beyond < 0 or moment.live.possibly_at_node[beyond]):
            given = OPEN
    return taken, given, needs


# ------------------------------------------------------------------------------------------------- through branches
def _carried(scene: Scene, branch: Branch, parent: int, load: Amps, give: Amps, side: Side) -> tuple[Amps, Amps]:
    """Amperes on the near side of a branch for what is beyond it: another figure across a transformer."""
    item = branch.item
    if not isinstance(item, Transformer):
        return load, give
    forward = branch.a == parent
    excited = exciting(scene, item, parent)
    if max(excited) == inf:
        side.needs.append(f"rating of {scene.ctx.name(item.id)}")
    else:
        side.calculated = True
    return plus(across(scene, item, parent, forward, load), excited), across(scene, item, parent, forward, give)
