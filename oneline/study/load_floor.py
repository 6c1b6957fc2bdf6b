"""Lighting and office receptacles by floor area: what an area asks for beyond what is connected there (LOAD-2).

An area stands at a panel, a service or a lighting load of its own. What the unit load exceeds the lighting connected below
it is one more load there, spread evenly over the phases. Areas inside areas are settled first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from oneline import tables
from oneline.model import Bus, Item, Load, UtilityService, basis_of
from oneline.rules.load import Lighting, general_lighting, office_floor
from oneline.rules.verdict import WorkLine
from oneline.study.context import Context
from oneline.study.load_rated import HIGH_LEG
from oneline.study.load_sums import is_continuous
from oneline.study.loads import LoadEntry

_RECEPTACLES = ("receptacles", "fixed multioutlet")
_WITH_AREA = frozenset((Bus, UtilityService, Load))
_FIELDS = ("area_ft2", "occupancy")


@dataclass(frozen=True)
class FloorArea:
    """A floor area at a node, and how its load was reckoned."""

    node: int
    item: Item
    area_ft2: float
    use: str | None
    lines: tuple[WorkLine, ...] = ()


def with_floor_areas(ctx: Context, entries: Sequence[LoadEntry]) -> tuple[list[LoadEntry], tuple[FloorArea, ...]]:
    """The view's loads with what their floor areas add, and the areas with their worksheets."""
    areas = _declared(ctx)
    if not areas:
        return list(entries), ()
    work = _Floors(ctx, list(entries))
    settled = tuple(replace(area, lines=work.settle(area)) for area in areas)
    return work.entries, settled


def _declared(ctx: Context) -> list[FloorArea]:
    """Areas that something feeds, the innermost first."""
    found = []
    for item in ctx.drawing.items.values():
        if type(item) in _WITH_AREA and item.area_ft2 is not None:  # type: ignore[attr-defined]
            assert isinstance(item, Bus | UtilityService | Load)
            assert item.area_ft2 is not None
            if isinstance(item, UtilityService) and item.load_calculation == "school" and item.occupancy is None:
                continue  # the area is there for the optional calculation
            if isinstance(item, Load) and item.load_class == "lighting" and item.va is None:
                continue  # its own entry is its unit load already
            if isinstance(item, Load) and item.load_class not in ("lighting", *_RECEPTACLES):
                continue
            node = ctx.net.node(item.id)
            if ctx.feeding.position[node] >= 0:
                found.append(FloorArea(node, item, item.area_ft2, item.occupancy))
    return sorted(found, key=lambda a: (not isinstance(a.item, Load), -ctx.feeding.position[a.node]))


class _Floors:
    """Settles areas one after the other; ``entries`` grow by what each adds."""

    def __init__(self, ctx: Context, entries: list[LoadEntry]) -> None:
        self.ctx, self.entries = ctx, entries
        self._more = tables.limit_value("continuous_factor")
        self._office: list[tuple[int, float]] = []

    def settle(self, area: FloorArea) -> tuple[WorkLine, ...]:
        members = self._members(area)
        if area.use is None:
            self._open(area, f"use of the floor area of {self.ctx.name(area.item.id)}")
            return ()
        lines: tuple[WorkLine, ...] = ()
        if not isinstance(area.item, Load) or area.item.load_class == "lighting":
            lines = self._lighting(area, area.use, members)
        if tables.floor_use(area.use, self.ctx.edition).office_receptacles:
            lines += self._receptacles(area, members)
        return lines

    def _members(self, area: FloorArea) -> list[int]:
        """Indices of the entries that the area is about."""
        if isinstance(area.item, Load):
            return [k for k, e in enumerate(self.entries) if e.item == area.item.id]
        position, first, last = (
            self.ctx.feeding.position,
            self.ctx.feeding.position[area.node],
            self.ctx.feeding.last[area.node],
        )
        return [k for k, e in enumerate(self.entries) if first <= position[e.node] < last]

    # ------------------------------------------------------------------------------------------------ lighting
    def _lighting(self, area: FloorArea, use: str, members: list[int]) -> tuple[WorkLine, ...]:
        floor = tables.floor_use(use, self.ctx.edition)
        if floor.demand:
            for k in members:
                entry = self.entries[k]
                if entry.load_class == "lighting" and not entry.lighting_demand:
                    self.entries[k] = entry._replace(lighting_demand=floor.demand)
        inside = [self.entries[k] for k in members]
        lamps = [e for e in inside if e.load_class == "lighting"]
        load, counted = sum(_va(e) for e in lamps), sum(self._counted(e) for e in lamps)
        found = general_lighting(area.area_ft2, use, load, counted, self.ctx.edition)
        if found is None:
            name = self.ctx.name(area.item.id)
            self._open(area, f"lighting load of {name}: the unit loads of this edition list no {use}")
            return ()
        maybe = sum(_va(e) for e in inside if e.load_class is None and not e.part)
        low = general_lighting(area.area_ft2, use, load + maybe, counted + maybe, self.ctx.edition)
        assert low is not None
        plain = floor.holds_continuous or not floor.continuous
        high_parts = _parts(found, load, counted, plain, self._more)
        low_parts = _parts(low, load + maybe, counted + maybe, plain, self._more)
        for part, va in high_parts.items():
            if va:
                least = min(low_parts.get(part, 0.0), va)
                self._add(area, part, least, va, floor.demand)
        return found.lines

    def _counted(self, entry: LoadEntry) -> float:
        if entry.part == "load only":
            return 0.0
        continuous = entry.part == "continuous" if entry.part else is_continuous(entry)
        return _va(entry) * (self._more if continuous else 1.0)

    # --------------------------------------------------------------------------------------------- receptacles
    def _receptacles(self, area: FloorArea, members: list[int]) -> tuple[WorkLine, ...]:
        """Receptacles of an office: marked as such, with the least load of what is not inside a smaller office."""
        outlets = [
            k for k, e in ((k, self.entries[k]) for k in members)
            if e.load_class in _RECEPTACLES and not e.continuous and e.part != "office floor"
        ]  # fmt: skip
        if not outlets and isinstance(area.item, Load):
            return ()  # an area of lamps; the receptacles of it are somewhere else
        for k in outlets:
            self.entries[k] = self.entries[k]._replace(part="office")
        position, first, last = (
            self.ctx.feeding.position,
            self.ctx.feeding.position[area.node],
            self.ctx.feeding.last[area.node],
        )
        inner = sum(ft2 for node, ft2 in self._office if first <= position[node] < last)
        rest = max(area.area_ft2 - inner, 0.0)
        self._office.append((area.node, rest))
        found = office_floor(rest, self.ctx.edition)
        if found.value > 0:
            self._add(area, "office floor", found.value, found.value, "")
        return found.lines

    # -------------------------------------------------------------------------------------------------- entries
    def _add(self, area: FloorArea, part: str, least: float, most: float, demand: str) -> None:
        """One more load at the area's node, evenly over the phases it can be on."""
        what = "receptacles" if part == "office floor" else "lighting"
        name, exact = self.ctx.name(area.item.id), abs(most - least) <= 1e-9 * max(1.0, abs(most))
        for phases, share in self._phases(area.node):
            self.entries.append(LoadEntry(
                node=area.node, item=area.item.id, circuit=None, label=f"{what} by floor area of {name}", phases=phases,
                va=most * share if exact else None, power_factor=None, load_class=what, continuous=None,
                status=area.item.status, basis=basis_of(area.item, *_FIELDS), phases_known=bool(phases),
                least_va=None if exact else least * share, most_va=None if exact else most * share, part=part,
                lighting_demand=demand,
            ))  # fmt: skip

    def _open(self, area: FloorArea, need: str) -> None:
        """An area whose load is not known: no upper bound at its node."""
        self.entries.append(LoadEntry(
            node=area.node, item=area.item.id, circuit=None, label=f"floor area of {self.ctx.name(area.item.id)}",
            phases=self.ctx.feeding.phases[area.node], va=None, power_factor=None, load_class="lighting", continuous=None,
            status=area.item.status, part="unit", needs=(need,),
        ))  # fmt: skip

    def _phases(self, node: int) -> list[tuple[str, float]]:
        """Line to neutral on every phase that has lighting voltage; line to line where there is no neutral."""
        fed, code = self.ctx.feeding.phases[node], self.ctx.feeding.system[node]
        system = tables.system(code) if code else None
        if system is None or not system.has_neutral:
            return [(fed, 1.0)]
        single = [p for p in fed if not (system.v_high_leg and p == HIGH_LEG)]
        return [(p, 1 / len(single)) for p in single] or [(fed, 1.0)]


def _va(entry: LoadEntry) -> float:
    return (entry.least_va or 0.0) if entry.va is None else entry.va


def _parts(found: Lighting, load_va: float, counted_va: float, plain: bool, factor: float) -> dict[str, float]:
    """What an area adds to the lighting connected, by kind: so much in the load, so much as counted against ratings."""
    load, counted = found.load_va - load_va, found.counted_va - counted_va
    main = counted if plain else counted / factor
    return {"unit" if plain else "continuous": main, "load only": load - main}
