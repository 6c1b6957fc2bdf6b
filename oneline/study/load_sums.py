"""Sums of load below every node: by class of demand, by phase, through transformers. Arrays in pre-order.

A subtree is a slice. Nodes between two transformers make a *zone* with one voltage; a zone's loads are summed as line
currents, and its total enters the zone above through the transformer. Loads whose phases are not known enter as
volt-amperes without phases; loads that are not known at all are counted.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import product
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from oneline import tables
from oneline.model import Transformer
from oneline.network import Feeding
from oneline.study.loads import LoadEntry
from oneline.study.phasors import Vector, amperes_per_va, transfer_matrix

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Kinds of demand: ordinary load, continuous load, receptacles, kitchen equipment, elevators, motors, and load of which
#: nobody said whether it is continuous.
PLAIN, CONTINUOUS, RECEPTACLES, KITCHEN, ELEVATORS, MOTORS, OPEN = range(7)
#: Kinds that few drawings have: what is in the load and not in what is counted against ratings (lighting by a unit load
#: that holds the factor for continuous load), receptacles of offices, and the least load of those by floor area.
LOAD_ONLY, OFFICE, OFFICE_FLOOR = range(7, 10)
#: Household loads: appliances fastened in place, clothes dryers, cooking appliances.
APPLIANCES, DRYERS, COOKING = range(10, 13)
#: Lighting with demand steps of its own: for each row of that table continuous, not continuous, and in the load only.
LIGHTING_ROWS = tables.lighting_demand_rows()
_LIGHTING = 13
_LIGHTING_PARTS = 3
#: Row of the lighting demand table that small-appliance and laundry circuits of dwelling units are counted with (220.52).
_DWELLINGS = "Dwelling units"
_HOUSEHOLD = {"dwelling appliance": APPLIANCES, "dwelling dryer": DRYERS, "dwelling cooking": COOKING}
#: Kinds that every drawing has columns for; the others get theirs where they occur.
KINDS = 7
#: Classes that run three hours or more unless the drawing says otherwise: 600.5, 422.13, 625.42; lighting and show
#: windows by the practice of NEC Annex D, example D3.
_CONTINUOUS_CLASSES = ("lighting", "sign", "show window", "track lighting", "water heater", "ev charging")


#: Connections by what the load side needs, and how many transformers are tried in every combination.
_WYE_LOAD = ("delta-wye", "wye-wye")
_DELTA_LOAD = ("delta-delta", "wye-delta")
_TRIED_TOGETHER = 3


def lighting_kinds(row: str) -> tuple[int, int, int]:
    """Kinds of lighting under a row of the demand table: continuous, not continuous, in the load only."""
    first = _LIGHTING + _LIGHTING_PARTS * LIGHTING_ROWS.index(row)
    return first, first + 1, first + 2


def lighting_row(kind: int) -> str:
    """The row of the lighting demand table that a kind of load falls under, "" for none."""
    return LIGHTING_ROWS[(kind - _LIGHTING) // _LIGHTING_PARTS] if kind >= _LIGHTING else ""


def load_only(kind: int) -> bool:
    """Whether a kind is in the load and not in what is counted against ratings."""
    return kind == LOAD_ONLY or (kind >= _LIGHTING and (kind - _LIGHTING) % _LIGHTING_PARTS == 2)


def counts_more(kind: int) -> bool:
    """Whether a kind is continuous load."""
    return kind == CONTINUOUS or (kind >= _LIGHTING and (kind - _LIGHTING) % _LIGHTING_PARTS == 0)


def demand_kind(entry: LoadEntry) -> int:
    """Which demand rule a load falls under."""
    name = entry.load_class or "other"
    if entry.part:
        return _part_kind(entry)
    if name in _HOUSEHOLD:
        return _HOUSEHOLD[name]
    if name in ("dwelling small appliance", "dwelling laundry"):
        return lighting_kinds(_DWELLINGS)[1]
    if name in ("receptacles", "fixed multioutlet") and not entry.lighting_demand:
        return CONTINUOUS if entry.continuous else RECEPTACLES
    if name == "kitchen":
        return KITCHEN
    if name == "elevator":
        return ELEVATORS
    if entry.va_from == "nameplate MCA":
        return PLAIN
    if name in ("motor", "hvac") or entry.horsepower is not None:
        return MOTORS
    if entry.continuous is None and duration_open(entry):
        return OPEN
    continuous = is_continuous(entry)
    if entry.lighting_demand:
        return lighting_kinds(entry.lighting_demand)[0 if continuous else 1]
    return CONTINUOUS if continuous else PLAIN


def is_continuous(entry: LoadEntry) -> bool:
    """Whether a load counts as continuous: as entered, else by its class."""
    if entry.continuous is None:
        return (entry.load_class or "other") in _CONTINUOUS_CLASSES
    return entry.continuous


def _part_kind(entry: LoadEntry) -> int:
    """Kind of what is derived from a floor area, or belongs to one."""
    if entry.part == "office":
        return OFFICE
    if entry.part == "appliance":
        return APPLIANCES
    if entry.part == "office floor":
        return OFFICE_FLOOR
    which = ("continuous", "unit", "load only").index(entry.part)
    return (
        lighting_kinds(entry.lighting_demand)[which] if entry.lighting_demand else (CONTINUOUS, PLAIN, LOAD_ONLY)[which]
    )


def duration_open(entry: LoadEntry) -> bool:
    """Whether a load may be continuous or not: neither its class nor anybody says."""
    return entry.continuous is None and (entry.load_class or "other") == "other" and not entry.part


def may_be_motor(entry: LoadEntry) -> bool:
    """Whether a load of no class may turn out to be the largest motor."""
    return entry.load_class is None and entry.horsepower is None and entry.va_from != "nameplate MCA" and not entry.part


@dataclass(frozen=True)
class Zones:
    """Zones of a feeding forest. Positions are places in ``feeding.order``.

    ``of``: zone of each position. ``rows``: positions sorted by zone, then by place, so that a subtree's part within
    its own zone is a slice ``rows[first:last]`` of each position. ``roots``: first position of each zone;
    ``start``: first row of each zone (one more at the end). ``above``: for each zone the position of the transformer's
    line side, -1 at a source; ``transformer``: its branch key.
    """

    of: Ints
    rows: Ints
    first: Ints
    last: Ints
    roots: tuple[int, ...]
    start: Ints
    above: tuple[int, ...]
    transformer: tuple[str, ...]


def make_zones(feeding: Feeding) -> Zones:
    """Split the forest at its transformers and sources."""
    order, branches = feeding.order, feeding.network.branches
    n = len(order)
    of = np.zeros(n, dtype=np.int64)
    roots: list[int] = []
    above: list[int] = []
    keys: list[str] = []
    position, zone_of = feeding.position, [0] * n
    for place, node in enumerate(order):
        key = feeding.branch[node]
        if key and not isinstance(branches[key].item, Transformer):
            zone_of[place] = zone_of[position[feeding.parent[node]]]
            continue
        zone_of[place] = len(roots)
        roots.append(place)
        above.append(position[feeding.parent[node]] if key else -1)
        keys.append(key)
    of[:] = zone_of
    rows = np.argsort(of, kind="stable")
    inverse = np.empty(n, dtype=np.int64)
    inverse[rows] = np.arange(n)
    ends = np.fromiter((feeding.last[node] for node in order), dtype=np.int64, count=n)
    start = np.searchsorted(of[rows], np.arange(len(roots) + 1))
    # Rows of a zone ascend in position: the slice of a subtree ends before the first row at or past its end.
    width = n + 1
    last = np.searchsorted(of[rows] * width + rows, of * width + ends)
    return Zones(of, rows, inverse, last, tuple(roots), start, tuple(above), tuple(keys))


def connections_tried(feeding: Feeding) -> list[dict[str, str]]:
    """Every set of connections that the three-phase transformers without one can have: with a neutral on the load side a
    wye there, without one a delta. One empty set where all are known."""
    found: dict[str, tuple[str, ...]] = {}
    for key, branch in feeding.network.branches.items():
        item = branch.item
        if not isinstance(item, Transformer) or item.connection is not None:
            continue
        load = feeding.load_node(key)
        code = None if load is None else feeding.system[load]
        if code is None or tables.system(code).phases != 3:
            continue
        kinds = _WYE_LOAD if tables.system(code).solidly_grounded_wye else _DELTA_LOAD
        line = feeding.line_node(key)
        ahead = None if line is None else feeding.system[line]
        if kinds == _WYE_LOAD and ahead is not None and not tables.system(ahead).solidly_grounded_wye:
            kinds = ("delta-wye",) * 2  # a wye primary needs a neutral
        # Written primary-secondary, so from the other side where it is fed backwards.
        forward = branch.a == line
        found[item.id] = tuple(k if forward else "-".join(reversed(k.split("-"))) for k in kinds)
    if len(found) > _TRIED_TOGETHER:  # all alike, so that their number does not multiply
        return [{id_: kinds[k] for id_, kinds in found.items()} for k in range(2)]
    return [dict(zip(found, kinds, strict=True)) for kinds in product(*(dict.fromkeys(k) for k in found.values()))]


@dataclass
class Sums:
    """Totals of the subtree at each position; amperes at that position's own voltage.

    ``amps``: (n, kinds, 3) complex, loads on known phases. ``va``: (n, kinds), all known loads. ``loose_va``: (n,
    kinds), the part of ``va`` whose phases, or whose volts, are not known. ``unknown``: (n,) number of loads without an
    upper bound.
    """

    amps: Vector
    va: Floats
    loose_va: Floats
    unknown: Ints


class Placed(NamedTuple):
    """A load with its position in the forest, its kind of demand, and its volt-amperes: at least, where they are not
    known (``None`` where nothing is). ``share``: its line currents per volt-ampere, ``None`` where they are not known."""

    at: int
    kind: int
    entry: LoadEntry
    va: float | None
    share: tuple[complex, complex, complex] | None


#: Placed entries kept for each node of the network, at most.
_KEPT_AT_MOST = 8
_NOTHING = (0j, 0j, 0j)


class Summer:
    """Sums any choice of the view's entries over the forest. ``connections``: of transformers whose own is not known."""

    def __init__(self, feeding: Feeding, zones: Zones, connections: Mapping[str, str] | None = None) -> None:
        self.feeding, self.zones, self.connections = feeding, zones, connections or {}
        self._matrix: dict[int, Vector | None] = {}
        #: Entries placed before, by what they are in memory; the same ones come again after an edit.
        self._placed: dict[int, Placed] = {}

    def code(self, zone: int) -> str | None:
        """Nominal system of a zone."""
        return self.feeding.system[self.feeding.order[self.zones.roots[zone]]]

    def matrix(self, zone: int) -> Vector | None:
        """How a zone's line currents appear above its transformer; ``None`` where that is not known."""
        if zone not in self._matrix:
            feeding, zones = self.feeding, self.zones
            key, up = zones.transformer[zone], zones.above[zone]
            branch, line = feeding.network.branches[key], feeding.order[up]
            assert isinstance(branch.item, Transformer)
            kind = branch.item.connection or self.connections.get(branch.item.id)
            self._matrix[zone] = transfer_matrix(
                kind, branch.a == line, feeding.system[line], self.code(zone), feeding.phases[line]
            )
        return self._matrix[zone]

    def currents(self, entry: LoadEntry) -> tuple[complex, complex, complex] | None:
        """Line currents per volt-ampere of an entry at its own node, ``None`` where its phases or volts are not known."""
        code = self.feeding.system[entry.node]
        if code is None or not entry.phases_known or not entry.phases:
            return None
        return amperes_per_va(code, entry.phases)

    def place(self, entries: Iterable[LoadEntry]) -> list[Placed]:
        """Entries with their positions and kinds; those that nothing feeds are left out."""
        position, placed, found = self.feeding.position, self._placed, []
        if len(placed) > _KEPT_AT_MOST * (len(position) + 1):
            placed.clear()
        for entry in entries:
            known = placed.get(id(entry))
            if known is None or known.entry is not entry:
                va = entry.least_va if entry.va is None else entry.va
                known = Placed(position[entry.node], demand_kind(entry), entry, va, self.currents(entry))
                placed[id(entry)] = known
            if known.at >= 0:
                found.append(known)
        return found

    def sums(self, entries: list[Placed]) -> Sums:
        """Totals of these entries below every position."""
        n, kinds = len(self.feeding.order), _width(entries)
        amps = np.zeros((n, kinds, 3), dtype=complex)
        va, loose = np.zeros((n, kinds)), np.zeros((n, kinds))
        unknown = np.zeros(n, dtype=np.int64)
        known = [p for p in entries if p.va is not None]
        if not entries:
            return Sums(amps, va, loose, unknown)
        for placed in entries:
            if placed.entry.va is None and placed.entry.most_va is None:
                unknown[placed.at] += 1
        shares = [p.share for p in known]
        at = np.fromiter((p.at for p in known), dtype=np.int64, count=len(known))
        kind = np.fromiter((p.kind for p in known), dtype=np.int64, count=len(known))
        size = np.fromiter((p.va or 0.0 for p in known), dtype=float, count=len(known))
        free = np.fromiter((share is None for share in shares), dtype=bool, count=len(known))
        current = np.array([share or _NOTHING for share in shares], dtype=complex).reshape(-1, 3) * size[:, None]
        np.add.at(va, (at, kind), size)
        np.add.at(loose, (at[free], kind[free]), size[free])
        np.add.at(amps, (at, kind), current)
        return self._collect(amps, va, loose, unknown)

    def neutral(self, entries: list[Placed]) -> Floats:
        """Amperes line to neutral below every position, within its own zone: (n, kinds, 3, 3), the last axis all load, what
        is known to be linear, and what is known to be nonlinear."""
        own = np.zeros((len(self.feeding.order), _width(entries), 3, 3))
        for placed in entries:
            if placed.va and placed.share is not None and len(placed.entry.phases) == 1:
                lines = np.abs(np.array(placed.share)) * placed.va
                own[placed.at, placed.kind, :, 0] += lines
                if placed.entry.nonlinear is not None:
                    own[placed.at, placed.kind, :, 2 if placed.entry.nonlinear else 1] += lines
        whole = np.empty_like(own)
        for zone in range(len(self.zones.roots)):
            rows, first, last = self._rows(zone)
            whole[rows] = _below(own[rows], first, last)
        return whole

    def _rows(self, zone: int) -> tuple[Ints, Ints, Ints]:
        """Positions of a zone, and for each the first and the last of its subtree among them."""
        zones = self.zones
        rows = zones.rows[zones.start[zone] : zones.start[zone + 1]]
        return rows, zones.first[rows] - zones.start[zone], zones.last[rows] - zones.start[zone]

    def _collect(self, amps: Vector, va: Floats, loose: Floats, unknown: Ints) -> Sums:
        zones = self.zones
        total = np.empty_like(amps), np.empty_like(va), np.empty_like(loose), np.empty_like(unknown)
        for zone in range(len(zones.roots) - 1, -1, -1):
            rows, first, last = self._rows(zone)
            for own, whole in zip((amps, va, loose, unknown), total, strict=True):
                whole[rows] = _below(own[rows], first, last)
            up = zones.above[zone]
            if up < 0:
                continue
            top = rows[0]
            va[up] += total[1][top]
            unknown[up] += total[3][top]
            matrix = self.matrix(zone)
            if matrix is None:
                loose[up] += total[1][top]
            else:
                amps[up] += total[0][top] @ matrix.T
                loose[up] += total[2][top]
        return Sums(*total)

    def refer(self, current: Vector, zone: int, to_zone: int) -> Vector | None:
        """A zone's line currents as seen in a zone nearer to the source; ``None`` where that is not known."""
        while zone != to_zone:
            matrix = self.matrix(zone)
            if matrix is None:
                return None
            current = matrix @ current
            zone = int(self.zones.of[self.zones.above[zone]])
        return current


def _width(entries: list[Placed]) -> int:
    """Number of columns for the kinds of some entries."""
    return max(KINDS - 1, max((p.kind for p in entries), default=0)) + 1


def _below(own: Any, first: Ints, last: Ints) -> Any:
    """Sums of slices ``first`` to ``last`` of an array."""
    running = np.zeros((len(own) + 1, *own.shape[1:]), dtype=own.dtype)
    np.cumsum(own, axis=0, out=running[1:])
    return running[last] - running[first]


def largest_volts_divisor(code: str | None) -> float | None:
    """Smallest voltage a load of unknown phases may be across, in volts: its current is at most VA over this."""
    if code is None:
        return None
    system = tables.system(code)
    return system.v_ln or system.v_ll
