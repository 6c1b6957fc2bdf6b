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
from oneline.rules.load_dwelling import LAUNDRY, SMALL_APPLIANCE, household
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
        #: Dwelling units of areas settled before, by node.
        self._units: list[tuple[int, int]] = []

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
        dwelling = use == tables.DWELLING
        if dwelling:
            self._dwelling_classes(members)
        inside = [self.entries[k] for k in members]
        # Receptacles of dwelling units are part of their general lighting.
        lamps = [
            e
            for e in inside
            if e.load_class == "lighting"
            or (dwelling and e.lighting_demand and not e.part and e.load_class in _RECEPTACLES)
        ]
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
        return (*found.lines, *self._circuits(area, members)) if dwelling else found.lines

    # --------------------------------------------------------------------------------------------- dwelling units
    def _dwelling_classes(self, members: Sequence[int]) -> None:
        """What loads of other classes are in dwelling units: receptacles are general lighting, which does not run for
        hours there; water heaters are appliances fastened in place; kitchen equipment counts in full."""
        for k in members:
            entry = self.entries[k]
            if entry.load_class in _RECEPTACLES and not entry.part:
                self.entries[k] = entry._replace(lighting_demand="Dwelling units")
            elif entry.load_class == "lighting" and entry.continuous is None:
                self.entries[k] = entry._replace(continuous=False)
            elif entry.load_class == "water heater" and entry.va_from == "entered":
                self.entries[k] = entry._replace(part="appliance")
            elif entry.load_class == "kitchen":
                self.entries[k] = entry._replace(load_class="other", continuous=False)

    def _circuits(self, area: FloorArea, members: Sequence[int]) -> tuple[WorkLine, ...]:
        """Small-appliance and laundry circuits that each dwelling unit has at least (220.52), as far as none are entered."""
        units = area.item.dwelling_units if isinstance(area.item, Bus | UtilityService) else None
        position = self.ctx.feeding.position
        first, last = position[area.node], self.ctx.feeding.last[area.node]
        inner = sum(n for node, n in self._units if first <= position[node] < last)
        has = {
            name: sum(self.entries[k].pieces for k in members if self.entries[k].load_class == name)
            for name in (SMALL_APPLIANCE, LAUNDRY)
        }
        name = self.ctx.name(area.item.id)
        if isinstance(area.item, Load):
            return ()
        if units is None:
            if inner or (has[SMALL_APPLIANCE] and has[LAUNDRY]):
                return ()
            if has[SMALL_APPLIANCE]:
                self._add_circuits(area, LAUNDRY, 0.0, None, f"number of dwelling units of {name}")
                return ()
            least = household(
                SMALL_APPLIANCE, None, int(tables.limit_value("small_appliance_circuits")), self.ctx.edition
            )
            self._add_circuits(area, SMALL_APPLIANCE, least.va or 0.0, None, f"number of dwelling units of {name}")
            return ()
        self._units.append((area.node, max(units - inner, 0)))
        missing = units * int(tables.limit_value("small_appliance_circuits")) - has[SMALL_APPLIANCE]
        lines: tuple[WorkLine, ...] = ()
        if missing > 0:
            found = household(SMALL_APPLIANCE, None, missing, self.ctx.edition)
            self._add_circuits(area, SMALL_APPLIANCE, found.va or 0.0, found.va)
            lines += found.lines
        if units > has[LAUNDRY] and not (has[LAUNDRY] and units > 1):
            found = household(LAUNDRY, None, units, self.ctx.edition)
            # Apartment houses may have one laundry for all instead.
            one = units == 1
            need = "" if one else f"whether the dwelling units of {name} have laundry circuits"
            self._add_circuits(area, LAUNDRY, (found.va or 0.0) if one else 0.0, found.va, need)
            lines += found.lines if one else ()
        return lines

    def _add_circuits(self, area: FloorArea, what: str, least: float, most: float | None, need: str = "") -> None:
        """Circuits that each dwelling unit has, at the area's node, evenly over the phases they can be on."""
        exact = most == least
        for phases, share in self._phases(area.node):
            self.entries.append(LoadEntry(
                node=area.node, item=area.item.id, circuit=None, label=f"{what} circuits of {self.ctx.name(area.item.id)}",
                phases=phases, va=least * share if exact else None, power_factor=None, load_class=what, continuous=False,
                status=area.item.status, basis=basis_of(area.item, "dwelling_units"), phases_known=bool(phases),
                least_va=None if exact else least * share, most_va=None if exact or most is None else most * share,
                lighting_demand="Dwelling units", needs=(need,) if need else (),
            ))  # fmt: skip

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
