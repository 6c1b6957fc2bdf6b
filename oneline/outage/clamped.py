"""Clamp readings as they count at a moment of the order: while nothing behind was switched they stand for what flows, and
afterwards they bound it. What generates behind may have been taken off what was read, or may add to it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf

from oneline.model import Bus, Item, Load, Reading, UtilityService
from oneline.network import Branch
from oneline.outage.amps import NONE, Amps, output, plus
from oneline.outage.scene import Moment


@dataclass(frozen=True)
class Clamped:
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


def _read(moment: Moment, item: Item, far: Mapping[int, tuple[int, str]], phases: str) -> Clamped | None:
    """An item's latest reading, of what is in the nodes behind it."""
    reading = latest(item)
    if reading is None:
        return None
    scene = moment.scene
    values = (reading.a_a, reading.b_a, reading.c_a)
    swing, needs = NONE, []
    for node in far:
        for source in scene.sources.get(node, ()):
            if not isinstance(source, UtilityService):
                out = output(scene, source, node)
                swing = plus(swing, out)
                if max(out) == inf:
                    needs.append(f"rated output of {scene.ctx.name(source.id)}")
    a, b, c = (0.0 if v is None else v for v in values)
    known = tuple(v is not None or (bool(phases) and p not in phases) for v, p in zip(values, "ABC", strict=True))
    touched = not moment.switched.isdisjoint(far)
    return Clamped((a, b, c), known, swing, touched, reading.when, tuple(needs))  # type: ignore[arg-type]


def own_reading(moment: Moment, branch: Branch, far: Mapping[int, tuple[int, str]], loop: bool) -> Clamped | None:
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


def reading_of(moment: Moment, branch: Branch, node: int, parent: int) -> Clamped | None:
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


def bus_reading(moment: Moment, node: int, nodes: Mapping[int, tuple[int, str]], parent: int) -> Clamped | None:
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
        came = nodes[node][1] or scene.ctx.feeding.branch[node]
        behind = scene.reach(node, scene.closed, without=came)
        if not scene.services_in(behind) and parent not in behind:
            return _read(moment, item, behind, scene.ctx.feeding.phases[node])
    return None


def replaced(amps: Amps, read: Clamped) -> tuple[Amps, bool]:
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
