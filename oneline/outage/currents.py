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
from math import inf, sqrt

from oneline import tables
from oneline.model import Battery, Bus, Generator, Item, Load, Reading, SolarArray, Transformer, UtilityService
from oneline.network import Branch
from oneline.outage.results import SwitchCurrent
from oneline.outage.scene import Moment, Scene
from oneline.rules.common import amperes, unique
from oneline.study.loads import LoadEntry
from oneline.study.phasors import amperes_per_va, transfer

#: Amperes of A, B and C; infinite where nothing bounds them.
Amps = tuple[float, float, float]
_NONE: Amps = (0.0, 0.0, 0.0)
_OPEN: Amps = (inf, inf, inf)
#: Load that turns: what a switch may break of it goes by horsepower.
_MOTORS = ("motor", "hvac", "elevator")


@dataclass
class Side:
    """What hangs together with one end of a device, the device left out. ``load``: what it can take; ``give``: what it
    can deliver; ``needs``: why either is open; ``motors``: whether something that turns is connected."""

    nodes: Mapping[int, tuple[int, str]]
    load: Amps = _NONE
    give: Amps = _NONE
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
    own = _own_reading(moment, branch, far.nodes, len(sides) == 1)
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
    return _OPEN if whole.grids > 1 else _plus(whole.load, whole.give)


def _by_reading(own: _Read, most: Amps, motors: bool, needs: tuple[str, ...]) -> Through:
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
        own_load, own_give = _plus(taken, load.get(node, _NONE)), _plus(given, give.get(node, _NONE))
        parent, came = nodes[node]
        read = _bus_reading(moment, node, nodes, parent) if parent >= 0 or node == start else None
        if read is not None:
            own_load, replaced = _replaced(own_load, read)
            side.read |= replaced
        if max(own_load) == inf or max(own_give) == inf:
            side.needs += needs
        if parent < 0:
            side.load, side.give = own_load, own_give
            break
        up_load, up_give = _carried(scene, net.branches[came], parent, own_load, own_give, side)
        found = _reading_of(moment, net.branches[came], node, nodes, parent)
        if found is not None:
            up_load, replaced = _replaced(up_load, found)
            side.read |= replaced
        load[parent] = _plus(load.get(parent, _NONE), up_load)
        give[parent] = _plus(give.get(parent, _NONE), up_give)
    side.needs = list(unique(tuple(side.needs)))
    return side


def _at(moment: Moment, node: int, side: Side) -> tuple[Amps, Amps, list[str]]:
    """What a node's own loads can take and its own sources give, with what is missing to say it."""
    scene = moment.scene
    if node not in scene.busy:
        return _NONE, _NONE, []
    taken, given = _NONE, _NONE
    needs: list[str] = []
    for entry in scene.entries.get(node, ()):
        if entry.item in moment.shed:
            continue
        drawn = _load_amps(scene, entry)
        if max(drawn) == inf:
            needs += entry.needs or [f"load of {entry.label}"]
        elif max(drawn) > 0:
            side.calculated = True
        side.motors |= entry.load_class in _MOTORS or entry.horsepower is not None
        taken = _plus(taken, drawn)
    for source in scene.sources.get(node, ()):
        if source.id in moment.stopped:
            continue
        if isinstance(source, UtilityService):
            side.grids += 1
            continue
        out = _output(scene, source, node)
        given = _plus(given, out)
        if isinstance(source, Battery):
            taken = _plus(taken, out)
        if max(out) == inf:
            needs.append(f"rated output of {scene.ctx.name(source.id)}")
    for end, beyond in scene.ties:
        if end == node and (beyond < 0 or moment.live.possibly_at_node[beyond]):
            given = _OPEN
    return taken, given, needs


def _load_amps(scene: Scene, entry: LoadEntry) -> Amps:
    """Line amperes of a load, at most; each phase it may be on where that is not known."""
    va = entry.va if entry.va is not None else entry.most_va
    code = scene.ctx.feeding.system[entry.node]
    if va == 0:
        return _NONE
    if va is None or code is None or not entry.phases:
        return _OPEN
    if entry.phases_known:
        share = amperes_per_va(code, entry.phases)
        if share is not None:
            a, b, c = (abs(s) * va for s in share)
            return a, b, c
    system = tables.system(code)
    worst = va / (system.v_ln or system.v_ll)
    a, b, c = (worst if p in entry.phases else 0.0 for p in "ABC")
    return a, b, c


def _output(scene: Scene, source: Item, node: int) -> Amps:
    """Rated output of a source on each phase; without bound where its rating is not known."""
    code = scene.ctx.feeding.system[node] or getattr(source, "system", None)
    amps = source.output_a if isinstance(source, SolarArray | Battery) else None
    va = None
    if isinstance(source, Generator) and source.kva is not None:
        va = source.kva * 1000
    elif isinstance(source, SolarArray | Battery) and source.output_kw is not None:
        va = source.output_kw * 1000
    if amps is None and va is not None and code is not None:
        system = tables.system(code)
        amps = va / (system.v_ll * (sqrt(3) if system.phases == 3 and _three(source) else 1))
    if amps is None:
        return _OPEN
    own = (source.phases if isinstance(source, SolarArray | Battery) else None) or "ABC"
    a, b, c = (amps if p in own else 0.0 for p in "ABC")
    return a, b, c


def output_a(scene: Scene, source: Item, node: int) -> float | None:
    """Rated output of a source in amperes; ``None`` where not known."""
    most = max(_output(scene, source, node))
    return None if most == inf else most


def _three(source: Item) -> bool:
    return not isinstance(source, SolarArray | Battery) or source.phases == "ABC"


# ------------------------------------------------------------------------------------------------- through branches
def _carried(scene: Scene, branch: Branch, parent: int, load: Amps, give: Amps, side: Side) -> tuple[Amps, Amps]:
    """Amperes on the near side of a branch for what is beyond it: another figure across a transformer."""
    item = branch.item
    if not isinstance(item, Transformer):
        return load, give
    forward = branch.a == parent
    excited = _exciting(scene, item, parent)
    if max(excited) == inf:
        side.needs.append(f"rating of {scene.ctx.name(item.id)}")
    else:
        side.calculated = True
    return _plus(_across(scene, item, parent, forward, load), excited), _across(scene, item, parent, forward, give)


def _across(scene: Scene, item: Transformer, parent: int, forward: bool, amps: Amps) -> Amps:
    if not any(amps):
        return _NONE
    systems = (item.primary_system, item.secondary_system)
    near, beyond = systems if forward else systems[::-1]
    near = scene.ctx.feeding.system[parent] or near
    if near is None or beyond is None or max(amps) == inf:
        return _OPEN
    line, load, phases = near, beyond, scene.ctx.feeding.phases[parent]
    turns = scene.recall(("turns", item.id, forward, phases), lambda: _turns(item, forward, line, load, phases))
    if turns is not None and item.connection is not None:
        a, b, c = (sum(row[j] * amps[j] for j in range(3)) for row in turns)
        return a, b, c
    far, own = tables.system(beyond), tables.system(near)
    va = sum(amps) * (far.v_ln or far.v_ll)
    worst = va / own.v_ll
    return worst, worst, worst


def _turns(item: Transformer, forward: bool, near: str, beyond: str, phases: str) -> list[list[float]] | None:
    """How large line currents on the near side are for those beyond, whatever their angles."""
    matrix = transfer(item, forward, near, beyond, phases)
    return None if matrix is None else [[abs(complex(v)) for v in row] for row in matrix]


def _exciting(scene: Scene, item: Transformer, node: int) -> Amps:
    """What a transformer takes with nothing behind it."""
    code = scene.ctx.feeding.system[node]
    if item.kva is None or code is None:
        return _OPEN
    system = tables.system(code)
    three = system.phases == 3 and item.connection != "single-phase"
    rated = item.kva * 1000 / (system.v_ll * (sqrt(3) if three else 1))
    part = rated * tables.switching_practice("transformer_exciting_pct") / 100
    return part, part, part


# --------------------------------------------------------------------------------------------------------- readings
@dataclass(frozen=True)
class _Read:
    """A clamp reading as it counts at a moment. ``swing``: what generates behind it can add, or had taken off."""

    amps: Amps
    known: tuple[bool, bool, bool]
    swing: Amps
    touched: bool
    when: str
    needs: tuple[str, ...] = ()

    @property
    def swings(self) -> bool:
        return any(self.swing)


def latest(item: Item) -> Reading | None:
    """The latest reading at an item that says something."""
    said = [r for r in item.readings if any(v is not None for v in (r.a_a, r.b_a, r.c_a))]
    return max(said, key=lambda r: r.when, default=None)


def _read(moment: Moment, item: Item, far: Mapping[int, tuple[int, str]], phases: str) -> _Read | None:
    """An item's latest reading, of what is in the nodes behind it."""
    reading = latest(item)
    if reading is None:
        return None
    scene = moment.scene
    values = (reading.a_a, reading.b_a, reading.c_a)
    swing, needs = _NONE, []
    for node in far:
        for source in scene.sources.get(node, ()):
            if not isinstance(source, UtilityService):
                out = _output(scene, source, node)
                swing = _plus(swing, out)
                if max(out) == inf:
                    needs.append(f"rated output of {scene.ctx.name(source.id)}")
    a, b, c = (0.0 if v is None else v for v in values)
    known = tuple(v is not None or (bool(phases) and p not in phases) for v, p in zip(values, "ABC", strict=True))
    touched = not moment.switched.isdisjoint(far)
    return _Read((a, b, c), known, swing, touched, reading.when, tuple(needs))  # type: ignore[arg-type]


def _own_reading(moment: Moment, branch: Branch, far: Mapping[int, tuple[int, str]], loop: bool) -> _Read | None:
    """The device's own reading, where every phase of it was read."""
    if not branch.item.readings or not moment.scene.closed[branch.key]:
        return None
    scene = moment.scene
    near = branch.a if branch.b in far else branch.b
    behind = scene.reach(branch.b if branch.b in far else branch.a, scene.closed, without=branch.key)
    found = _read(moment, branch.item, behind, scene.ctx.feeding.phases[near])
    if found is None or not all(found.known):
        return None
    # Around a loop, and between two services, another switch anywhere shifts what it carries.
    if (loop or near in behind or scene.services_in(behind)) and moment.switched:
        return None
    return found


def _reading_of(
    moment: Moment, branch: Branch, node: int, nodes: Mapping[int, tuple[int, str]], parent: int
) -> _Read | None:
    """Reading of a branch on the way, of what lies beyond it."""
    if not branch.item.readings:
        return None
    scene = moment.scene
    if not scene.closed[branch.key]:
        return None
    behind = scene.reach(node, scene.closed, without=branch.key)
    if parent in behind or scene.services_in(behind):
        return None
    return _read(moment, branch.item, behind, scene.ctx.feeding.phases[node])


def _bus_reading(moment: Moment, node: int, nodes: Mapping[int, tuple[int, str]], parent: int) -> _Read | None:
    """Reading of a panel or a load at a node, of all that the node feeds."""
    scene = moment.scene
    if node not in scene.read:
        return None
    ends = scene.ctx.net.ends_of[node]
    items = dict.fromkeys(e.item for e in ends)
    for item_id in items:
        item = scene.ctx.drawing.get(item_id)
        if not item.readings or not isinstance(item, Bus | Load):
            continue
        if isinstance(item, Load) and len(scene.entries.get(node, ())) > 1:
            continue
        came = nodes[node][1] or _entering(scene, node)
        behind = scene.reach(node, scene.closed, without=came)
        if not scene.services_in(behind) and parent not in behind:
            return _read(moment, item, behind, scene.ctx.feeding.phases[node])
    return None


def _entering(scene: Scene, node: int) -> str:
    return scene.ctx.feeding.branch[node]


def _replaced(amps: Amps, read: _Read) -> tuple[Amps, bool]:
    """A reading in place of the calculated load while nothing was switched, otherwise as a bound of it."""
    changed = False
    found = []
    for calc, value, known, swing in zip(amps, read.amps, read.known, read.swing, strict=True):
        if not known:
            found.append(calc)
            continue
        new = min(calc, value + swing) if read.touched else value + swing
        changed |= not read.touched or new < calc
        found.append(new)
    return (found[0], found[1], found[2]), changed


def _plus(one: Amps, other: Amps) -> Amps:
    return one[0] + other[0], one[1] + other[1], one[2] + other[2]
