"""Why a number is not known, what was assumed for it and on what it rests: walked up the path when somebody asks."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cached_property

from oneline import tables
from oneline.model import ConductorRun, Generator, Transformer, UtilityService, basis_of
from oneline.network import Branch
from oneline.study.context import Context
from oneline.study.loads import LoadEntry
from oneline.study.numbers_contribution import Contribution
from oneline.study.numbers_core_flow import NO_CURRENT
from oneline.study.numbers_facts import HeadFigures
from oneline.study.numbers_fault import Faults
from oneline.study.numbers_flow import FlowFigures, LoopFlow, OpenLoad
from oneline.study.numbers_forest import Forest, Zone
from oneline.study.numbers_ground import GroundFaults
from oneline.study.numbers_overlay import CoreFaults
from oneline.study.numbers_transformer import transformer_z

BASIS_ORDER = ("assumed", "entered", "documents", "measured", "nameplate")
#: More unknown circuits of one panel than this are named together.
FEW_CIRCUITS = 3
NOT_FED = "a source that feeds it"


@dataclass(frozen=True)
class Reasons:
    """Missing facts, assumptions, notes and bases, each by node."""

    ctx: Context
    forest: Forest
    faults: Faults
    solved: Callable[[], FlowFigures]
    contribution: Contribution
    entries: tuple[LoadEntry, ...]
    _assumed: dict[tuple[int, bool], tuple[str, ...]] = field(default_factory=dict, repr=False, compare=False)
    _tops: dict[int, int] = field(default_factory=dict, repr=False, compare=False)
    _bases: dict[int, str] = field(default_factory=dict, repr=False, compare=False)
    _slices: dict[tuple[int, int], tuple[bool, bool, str]] = field(default_factory=dict, repr=False, compare=False)

    @cached_property
    def flow(self) -> FlowFigures:
        return self.solved()

    # ---------------------------------------------------------------------------------------------------- faults
    def fault_needs(self, node: int) -> tuple[str, ...]:
        """For the fault current of the node's phases; nothing when it is known."""
        if self._known(self.faults.main_a, node):
            return ()
        return self._fault_needs(node, with_neutral=len(self.ctx.feeding.phases[node]) == 1)

    def line_neutral_needs(self, node: int) -> tuple[str, ...]:
        """For the fault current line to neutral; nothing when it is known or where no neutral arrives."""
        place = self.ctx.feeding.position[node]
        if place >= 0:
            zone = self.forest.zones[int(self.forest.zone[place])]
            none = zone.system is not None and not self.faults.has_ln[place]
            if none or self._known(self.faults.ln_a, node):
                return ()
        return self._fault_needs(node, with_neutral=True)

    def _fault_needs(self, node: int, with_neutral: bool) -> tuple[str, ...]:
        if self.ctx.feeding.position[node] < 0:
            return (NOT_FED,)
        found: list[str] = []
        for branch, zone, loop in self._impedances(node, with_neutral):
            if branch is not None and isinstance(branch.item, ConductorRun):
                figures = self.forest.runs[self._place(branch)]
                found += [p.format(self.ctx.name(branch.key)) for p in (*figures.lacks, *figures.open_raceway)]
                if loop:
                    found += [p.format(self.ctx.name(branch.key)) for p in figures.lacks_neutral]
            if zone >= 0:
                head = self.faults.heads[zone]
                found += head.lacks
                found += head.lacks_ln if loop else ()
        core, k, loop = self._core_of(node, with_neutral)
        if core is not None:
            found += core.needs_ln[k] if loop else core.needs[k]
        return tuple(dict.fromkeys(found))

    def _core_of(self, node: int, with_neutral: bool) -> tuple[CoreFaults | None, int, bool]:
        """The core on the way to the source, the number in it of the node where the way enters it, and whether the loop to
        the neutral counts there."""
        index = self.faults.overlay.index
        loop = with_neutral
        if not index:
            return None, -1, loop
        while node not in index:
            if not self.ctx.feeding.branch[node]:
                return None, -1, loop
            place = self.ctx.feeding.position[node]
            if isinstance(self.ctx.net.branches[self.ctx.feeding.branch[node]].item, Transformer):
                head = self.faults.heads[int(self.forest.zone[place])]
                loop = head.of_loop_ln if loop else head.of_loop
            node = self.ctx.feeding.parent[node]
        core = next(c for c in self.faults.overlay.cores if node in c.core.number)
        return core, core.core.number[node], loop

    def _core_heads(self, node: int) -> list[HeadFigures]:
        """Heads of the sources and transformers of the core on the way."""
        core, _, _ = self._core_of(node, False)
        if core is None:
            return []
        return [s.head for s in core.core.sources] + [b.head for b in core.core.branches if b.head is not None]

    def ground_needs(self, node: int, ground: GroundFaults) -> tuple[str, ...]:
        """For the fault current from line to ground."""
        if self.ctx.feeding.position[node] < 0:
            return (NOT_FED,)
        found: list[str] = []
        while True:
            if node in ground.core:
                return tuple(dict.fromkeys((*found, *ground.core[node])))
            key = self.ctx.feeding.branch[node]
            if not key or isinstance(self.ctx.net.branches[key].item, Transformer):
                break
            place = self.ctx.feeding.position[node]
            figures, name = self.forest.runs[place], self.ctx.name(self.ctx.net.branches[key].item.id)
            found += [p.format(name) for p in (*figures.lacks, *figures.open_raceway, *ground.own[place])]
            node = self.ctx.feeding.parent[node]
        zone = self.forest.zones[int(self.forest.zone[self.ctx.feeding.position[node]])]
        if zone.system is None:
            found.append(f"system voltage of {self.ctx.name(zone.source)}")
        # A grounded wye or midpoint is bonded at the head of its zone; a corner needs the lines' figure there.
        found += self.line_neutral_needs(node) or self.fault_needs(node)
        return tuple(dict.fromkeys(found))

    def fault_assumed(self, node: int, with_neutral: bool = False) -> tuple[str, ...]:
        """What was assumed for the fault current, or for that line to neutral too; each makes its basis "assumed"."""
        if not self._faults_assume or self.ctx.feeding.position[node] < 0:
            return ()
        to_neutral = with_neutral or len(self.ctx.feeding.phases[node]) == 1
        if not self.faults.overlay.index:
            return self._assumed_on_way(node, to_neutral)
        found: list[str] = []
        for branch, zone, loop in self._impedances(node, to_neutral):
            if branch is not None and isinstance(branch.item, ConductorRun):
                found += [p.format(self.ctx.name(branch.key)) for p in self.forest.runs[self._place(branch)].assumed]
            if zone >= 0:
                found += self.faults.heads[zone].assumed
                found += self.faults.heads[zone].assumed_ln if loop else ()
        core, _, loop = self._core_of(node, with_neutral)
        if core is not None:
            found += core.core.assumed
            found += [p.format(b.name) for b in core.core.branches for p in b.figures.assumed]
            for head in self._core_heads(node):
                found += (*head.assumed, *(head.assumed_ln if loop else ()))
        return tuple(dict.fromkeys(found))

    def _assumed_on_way(self, node: int, loop: bool) -> tuple[str, ...]:
        """What is assumed of the impedances on the way to the source, worked out once for all that lies on it. ``loop``:
        the neutral counts at the node."""
        feeding, way = self.ctx.feeding, []
        found: tuple[str, ...] | None = ()
        while True:
            found = self._assumed.get((node, loop))
            if found is not None:
                break
            key, place = feeding.branch[node], feeding.position[node]
            item = self.ctx.net.branches[key].item if key else None
            own: list[str] = []
            before = loop
            if isinstance(item, ConductorRun):
                own += [p.format(self.ctx.name(key)) for p in self.forest.runs[place].assumed]
            elif item is None or isinstance(item, Transformer):
                head = self.faults.heads[int(self.forest.zone[place])]
                own += (*head.assumed, *(head.assumed_ln if loop else ()))
                loop = head.of_loop_ln if loop else head.of_loop
            way.append((node, before, own))
            if not key:
                found = ()
                break
            node = feeding.parent[node]
        for at, counted, own in reversed(way):
            found = self._assumed[at, counted] = tuple(dict.fromkeys((*own, *found))) if own else found
        return found

    @cached_property
    def _faults_assume(self) -> bool:
        """Whether anything at all is assumed for fault currents."""
        return (
            self._runs_assume or any(h.assumed or h.assumed_ln for h in self.faults.heads)
            or bool(self.faults.overlay.index)
        )  # fmt: skip

    @cached_property
    def _runs_assume(self) -> bool:
        """Whether anything is assumed of any run."""
        return any(r.assumed for r in self.forest.runs)

    def _impedances(self, node: int, with_neutral: bool) -> Iterator[tuple[Branch | None, int, bool]]:
        """The path to the source as ``_path`` gives it, and whether the neutral counts there: it need not ahead of a
        transformer that has it only on its load side, and it does ahead of one that is connected to it."""
        loop = with_neutral
        for branch, zone in self._path(node, into_cores=False):
            yield branch, zone, loop
            if zone >= 0:
                head = self.faults.heads[zone]
                loop = head.of_loop_ln if loop else head.of_loop

    def x_r_needs(self, node: int) -> tuple[str, ...]:
        """Ratios X/R on the way to the node that are not known."""
        found = [self.faults.heads[zone].need_x_r for _, zone in self._path(node, into_cores=False) if zone >= 0]
        core, _, _ = self._core_of(node, False)
        found += core.angle if core is not None else ()
        return tuple(dict.fromkeys(n for n in found if n))

    def fault_notes(self, node: int) -> tuple[str, ...]:
        """How it was reckoned where there was a choice; all on the high side."""
        found: list[str] = []
        for _, zone in self._path(node):
            if zone >= 0:
                found += self.faults.heads[zone].notes
        for head in self._core_heads(node):
            found += head.notes
        return tuple(dict.fromkeys(found))

    def fault_basis(self, node: int) -> str:
        """Weakest basis of the fields the fault currents rest on."""
        if self.fault_assumed(node):
            return "assumed"
        found = [self._way_basis(node)]
        core, _, _ = self._core_of(node, False)
        if core is not None:
            runs = [b.run for b in core.core.branches if b.run is not None]
            found += [basis_of(run, "length_ft", "size", "material", "sets", "raceway") for run in runs]
            found += [self._source_basis(s.item) for s in core.core.sources]
            found += [self._head_basis(b.zone) for b in core.core.branches if b.zone is not None]
        return _weakest(found)

    def _way_basis(self, node: int) -> str:
        """Weakest basis of the impedances on the way to the source, worked out once for all that lies on it."""
        if self.ctx.feeding.position[node] < 0:
            return "entered"
        way: list[tuple[int, str]] = []
        weakest = "nameplate"
        at, feeding = node, self.ctx.feeding
        while True:
            if at in self._bases:
                weakest = self._bases[at]
                break
            key = feeding.branch[at]
            item = self.ctx.net.branches[key].item if key else None
            own = ""
            if isinstance(item, ConductorRun):
                own = basis_of(item, "length_ft", "size", "material", "sets", "raceway")
            elif item is None or isinstance(item, Transformer):
                own = self._head_basis(self.forest.zones[int(self.forest.zone[feeding.position[at]])])
            way.append((at, own))
            if not key:
                break
            at = feeding.parent[at]
        for at, own in reversed(way):
            weakest = self._bases[at] = _weakest([weakest, own] if own else [weakest])
        return weakest

    def _head_basis(self, zone: Zone) -> str:
        if zone.transformer is not None:
            return basis_of(zone.transformer, "kva", "z_pct", "x_r", "secondary_system")
        return self._source_basis(zone.source)

    def _source_basis(self, item: str) -> str:
        source = self.ctx.drawing.get(item)
        if isinstance(source, UtilityService):
            if source.fault_ka is not None:
                return basis_of(source, "system", "fault_ka", "fault_x_r")
            return basis_of(
                source, "system", "transformer_kva", "transformer_z_pct", "transformer_x_r", "primary_fault_mva"
            )
        return basis_of(source, "system", "kva", "xd_pct") if isinstance(source, Generator) else "entered"

    # ----------------------------------------------------------------------------------------------- voltage drop
    def drop_needs(self, node: int) -> tuple[str, ...]:
        """For the voltage drop; nothing when it is known."""
        place = self.ctx.feeding.position[node]
        if place < 0:
            return (NOT_FED,)
        if self._known(self.flow.drop_pct, node):
            return ()
        zone = self.forest.zones[int(self.forest.zone[place])]
        found = list(self._loop_needs(node))
        if zone.system is None:
            what = zone.source if zone.transformer is None else zone.transformer.id
            found.append(f"system voltage of {self.ctx.name(what)}")
        head = self.flow.heads.get(int(self.forest.zone[place]))
        found += head.lacks if head is not None else ()
        for branch in self._zone_path(node, into_loops=False):
            if isinstance(branch.item, ConductorRun):
                at = self._place(branch)
                name = self.ctx.name(branch.key)
                found += [p.format(name) for p in self.forest.runs[at].lacks]
                if not abs(self.flow.neutral_a[at]) <= NO_CURRENT:
                    found += [p.format(name) for p in self.forest.runs[at].lacks_neutral]
        found += self.open_loads(*self._affecting(node))
        if not self.flow.settled[place]:
            found.append("loads that the conductors can carry (the voltage collapses at the loads entered)")
        return tuple(dict.fromkeys(found))

    def current_needs(self, node: int) -> tuple[str, ...]:
        """For the current into the node; nothing when it is known."""
        place = self.ctx.feeding.position[node]
        if place < 0:
            return (NOT_FED,)
        if self.flow.known[place]:
            return ()
        loop = self.flow.loop_of(node)
        if loop is None:
            solved = all(x.solved for x in self.flow.loops)
            own = self.open_loads(place, self.ctx.feeding.last[node])
            return tuple(dict.fromkeys((*(() if solved else self._loop_needs(node)), *own)))
        return tuple(dict.fromkeys((*loop.needs, *([loop.undecided[node]] if node in loop.undecided else ()))))

    def open_loads(self, first: int, last: int) -> list[str]:
        """Phrases for the loads that are not known between two places of the pre-order."""
        loads = self.flow.open_loads
        start = bisect_left(loads, first, key=lambda u: u.place)
        stop = bisect_left(loads, last, key=lambda u: u.place)
        groups: dict[str, list[OpenLoad]] = {}
        for load in loads[start:stop]:
            groups.setdefault(load.item, []).append(load)
        found = []
        for item, members in groups.items():
            spaces = [str(m.circuit) for m in members if m.circuit is not None]
            if len(spaces) > FEW_CIRCUITS:
                found.append(f"loads of {len(spaces)} circuits of {self.ctx.name(item)} ({', '.join(spaces)})")
            else:
                found += [m.phrase for m in members]
        return found

    def _slice(self, first: int, last: int) -> tuple[bool, bool, str]:
        """Of the loads between two places: whether a power factor was assumed, whether one lies behind conductors of unknown
        impedance, and the weakest basis."""
        found = self._slices.get((first, last))
        if found is None:
            by_place = self._entries_by_place
            start = bisect_left(by_place, first, key=lambda e: e[0])
            stop = bisect_left(by_place, last, key=lambda e: e[0])
            found = self._slices[first, last] = (
                bool(self.flow.assumed_pf[first:last].any()), any(r.lacks for r in self.forest.runs[first:last]),
                _weakest([entry.basis for _, entry in by_place[start:stop]] or ["nameplate"]),
            )  # fmt: skip
        return found

    def drop_assumed(self, node: int) -> tuple[str, ...]:
        """What was assumed for the voltage drop and the currents on the way."""
        place = self.ctx.feeding.position[node]
        if place < 0:
            return ()
        found: list[str] = []
        for branch in self._zone_path(node) if self._runs_assume else ():
            if isinstance(branch.item, ConductorRun):
                found += [p.format(self.ctx.name(branch.key)) for p in self.forest.runs[self._place(branch)].assumed]
        zone = int(self.forest.zone[place])
        while self.forest.zones[zone].transformer is not None:
            found += self.flow.heads[zone].assumed
            zone = int(self.forest.zone[self.forest.zones[zone].above])
        first, last = self._affecting(node)
        assumed_pf, behind_unknown, _ = self._slice(first, last)
        if assumed_pf:
            usual = tables.limit_value("power_factor_assumed")
            found.append(f"power factor {usual:g} where none is entered")
        meeting = [loop for loop in self.flow.loops if self._meets(loop, node, first, last)]
        # Of a loop any branch may be the one that the forest leaves out.
        if behind_unknown or any(b.figures.lacks for loop in meeting for b in loop.core.branches):
            found.append("loads behind conductors of unknown impedance taken at the voltage ahead of them")
        if bisect_left(self._blind, first) < bisect_left(self._blind, last):
            found.append("loads behind transformers of unknown impedance taken without the drop inside them")
        for loop in meeting:
            found += loop.assumed if loop.solved else ["loads in a closed loop taken as fed from one side"]
        if not self.flow.voltage_known[place]:
            found.append("loads taken at a voltage reckoned without what is not known further up")
        return tuple(dict.fromkeys(found))

    def drop_basis(self, node: int) -> str:
        """Weakest basis of the fields and loads the voltage drop rests on."""
        if self.drop_assumed(node):
            return "assumed"
        found = [
            basis_of(b.item, "length_ft", "size", "material", "sets", "raceway", "neutral_size")
            for b in self._zone_path(node)
            if isinstance(b.item, ConductorRun)
        ]
        first, last = self._affecting(node)
        of_loads = self._slice(first, last)[2] if self._any_entry(first, last) else ""
        return _weakest([*found, *([of_loads] if of_loads else [])])

    def _any_entry(self, first: int, last: int) -> bool:
        by_place = self._entries_by_place
        return bisect_left(by_place, first, key=lambda e: e[0]) < bisect_left(by_place, last, key=lambda e: e[0])

    @cached_property
    def _blind(self) -> list[int]:
        """Places ahead of transformers whose rating or impedance is not known, in order."""
        zones = ((z.above, z.transformer, z.system) for z in self.forest.zones)
        return sorted(
            int(up) for up, t, system in zones if t is not None and system and transformer_z(t, system) is None
        )

    @cached_property
    def _entries_by_place(self) -> list[tuple[int, LoadEntry]]:
        position = self.ctx.feeding.position
        fed = [(position[e.node], e) for e in self.entries if position[e.node] >= 0]
        return sorted(fed, key=lambda pair: pair[0])

    # ------------------------------------------------------------------------------------------------------ walking
    def _known(self, values, node: int) -> bool:  # type: ignore[no-untyped-def]
        place = self.ctx.feeding.position[node]
        return place >= 0 and bool(values[place] == values[place])

    def _place(self, branch: Branch) -> int:
        node = self.ctx.feeding.load_node(branch.key)
        assert node is not None
        return self.ctx.feeding.position[node]

    def _path(self, node: int, into_cores: bool = True) -> Iterator[tuple[Branch | None, int]]:
        """Branches up to the source, each with the zone whose head it is (-1: none); last ``(None, zone of the source)``.
        Without ``into_cores`` it ends where loops and parallel sources begin to decide."""
        index = {} if into_cores else self.faults.overlay.index
        if node in index:
            return
        place = self.ctx.feeding.position[node]
        if place < 0:
            return
        for branch, up in self.ctx.feeding.path(node):
            head = isinstance(branch.item, Transformer)
            yield branch, int(self.forest.zone[place]) if head else -1
            if up in index:
                return
            place = self.ctx.feeding.position[up]
        yield None, int(self.forest.zone[place])

    def _zone_path(self, node: int, into_loops: bool = True) -> Iterator[Branch]:
        """Branches up to the head of the node's zone; those of loops are left out where not wanted."""
        for branch, _ in self.ctx.feeding.path(node):
            if isinstance(branch.item, Transformer):
                return
            if into_loops or self.flow.loop_of(node) is None:
                yield branch
            node = self.ctx.feeding.parent[node]

    def _affecting(self, node: int) -> tuple[int, int]:
        """Places of the loads whose currents drop voltage on the way to the node, as a slice of the pre-order."""
        top = self._top(node)
        place = self.ctx.feeding.position[top]
        at_head = place == self.forest.zones[int(self.forest.zone[place])].head
        return (place, place) if at_head else (place, self.ctx.feeding.last[top])

    def _top(self, node: int) -> int:
        """The first node behind the head of its zone on the way to a node, worked out once for all that lies on it."""
        feeding, branches, way = self.ctx.feeding, self.ctx.net.branches, []
        while node not in self._tops:
            way.append(node)
            up = feeding.parent[node]
            if (
                not feeding.branch[node]
                or not feeding.branch[up]
                or any(isinstance(branches[feeding.branch[n]].item, Transformer) for n in (node, up))
            ):
                self._tops[node] = node
            else:
                node = up
        top = self._tops[node]
        self._tops.update(dict.fromkeys(way, top))
        return top

    def _meets(self, loop: LoopFlow, node: int, first: int, last: int) -> bool:
        """Whether a loop lies on the way to a node, or among the places between two of the pre-order."""
        position = self.ctx.feeding.position
        if any(first <= position[n] < last for n in loop.meshed):
            return True
        return node in loop.meshed or any(up in loop.meshed for _, up in self.ctx.feeding.path(node))

    def _loop_needs(self, node: int) -> Iterator[str]:
        """What is missing to know the voltage of loops on the way to a node."""
        for loop in self.flow.loops:
            if self._meets(loop, node, 0, 0):
                yield from loop.needs


def _weakest(found: list[str]) -> str:
    return min(found, key=BASIS_ORDER.index) if found else "entered"
