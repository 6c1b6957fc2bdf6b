"""Findings name what they rest on where it is only assumed, also where a rule reads yes or no, a choice or a voltage.

Numbers carry their basis through the rules themselves (``Fact``). What is no number is looked up here: which fields of
which items a rule reads, and which figures follow from a nominal system.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from oneline.model import Connection, Generator, Item
from oneline.rules.common import resting_on, unique
from oneline.rules.verdict import Verdict
from oneline.study.context import Context
from oneline.study.ends import assumptions

#: Fields without a number that a rule reads, by the kind of the item that the finding is about or names beside it. A key
#: is a rule or the family before its hyphen.
_READ: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "TAP": {
        "run": ("raceway", "outdoors", "leaves_enclosure"), "transformer": ("connection",),
        "disconnect": ("stands", "readily_accessible"),
    },
    "TAP-BUS": {"bus": ("maker_tap_provision",)},
    "BAR-1": {"bus": ("line_side_barrier",)},
    "AMP-3": {"run": ("size", "sets", "sets_alike", "neutral_size")},
    "PNL-1": {"transformer": ("connection",), "disconnect": ("service_disconnect",)},
    "PNL-4": {"bus": ("spaces", "phases"), "disconnect": ("space", "poles", "phases")},
    "PNL-7": {"bus": ("phases", "terminal_c")},
    "HL-1": {"bus": ("phases", "high_leg_identified", "system_marked")},
    "GND-1": {"bus": ("neutral_bonded",), "disconnect": ("neutral_bonded", "service_disconnect")},
    "GND-5": {
        "bus": ("neutral_bonded",), "disconnect": ("neutral_bonded", "service_disconnect"),
        "transformer": ("neutral_bonded",),
    },
    "GND-6": {"bus": ("neutral_bonded",), "disconnect": ("neutral_bonded",), "transformer": ("neutral_bonded",)},
    "GEN-2": {
        "transfer": ("switched_neutral",), "generator": ("neutral_bonded",), "bus": ("neutral_bonded",),
        "disconnect": ("neutral_bonded",),
    },
    "SVC-2": {"disconnect": ("service_disconnect",)},
    "SVC-3": {"disconnect": ("service_rated", "service_disconnect", "stands", "readily_accessible")},
    "SVC-4": {"disconnect": ("service_disconnect",)},
    "SVC-6": {"disconnect": ("service_disconnect",)},
    "SVC-5": {"disconnect": ("service_disconnect",)},
    "SVC-7": {"disconnect": ("service_disconnect", "gfp_fitted", "gfp_pickup_a", "gfp_delay_s", "gfp_tested", "gfp_exempt")},
    "SVC-8": {"disconnect": ("arc_reduction", "arc_reduction_tested", "clearing_s")},
    "SVC-9": {"run": ("to_building", "egc_size"), "disconnect": ("service_rated",)},
    "SVC-10": {
        "bus": ("work_opposite", "work_entrances", "continuous_egress", "panic_hardware", "dedicated_clear"),
        "disconnect": ("work_opposite",),
    },
    "SVC-11": {"disconnect": ("readily_accessible", "excluded_place")},
    "SVC-12": {"bus": ("passing_marked", "gutter_width_in")},
    "PNL-2": {"disconnect": ("back_fed", "held_down"), "solar": ("interactive_listed",), "battery": ("interactive_listed",)},
    "PNL-5": {"disconnect": ("delta_breaker", "phases"), "bus": ("phases",)},
    "GND-8": {"bus": ("ground_detector", "system_marked")},
    "UG-1": {"bus": ("detector_lamps",)},
    "CG-1": {"disconnect": ("grounded_pole_solid", "poles")},
    "FLT-5": {"disconnect": ("service_disconnect",)},
    "FLT-3": {"disconnect": ("voltage_rating", "poles")},
    "FLT-4": {"disconnect": ("series_rated_with", "series_rating_ka", "series_by")},
    "PV-5": {
        "solar": ("control_setting_a", "control_listed", "output_a", "output_kw"),
        "battery": ("control_setting_a", "control_listed", "output_a", "output_kw"),
    },
    "PV-6": {"disconnect": ("readily_accessible",)},
    "ESS-1": {"disconnect": ("readily_accessible",)},
    "PV-8": {"solar": ("rapid_shutdown",)},
    "GEN-1": {"generator": ("kva", "overload_prevented")},
    "GEN-3": {"transfer": ("automatic",), "solar": ("forms_grid",), "battery": ("forms_grid",)},
    "LIVE-BOTH": {"transfer": ("automatic",)},
    "PV-7": {"solar": ("interactive_listed",), "battery": ("interactive_listed",)},
    "LOAD-2": {"service": ("area_ft2", "occupancy")},
    "LOAD-3": {"run": ("neutral_size", "size", "sets", "material")},
    "LOAD-5": {"load": ("mocp_device",), "disconnect": ("form",)},
    "LOAD-8": dict.fromkeys(("service", "bus"), ("load_calculation", "area_ft2", "dwelling_units")),
    "XFMR-450": {"transformer": ("kva",)},
    "RWY": {
        "run": (
            "raceway", "raceway_size", "size", "sets", "insulation", "phases", "neutral_size", "egc_size", "current_carrying",
            "length_ft", "material", "raceway_name", "circuit_together", "holes_slotted",
        ),
        "bus": ("wiring_space_in2", "passing_in2", "spliced_in2", "length_ft", "pull", "pull_distance_in"),
    },
    "AMP-2": {
        "run": (
            "current_carrying", "phases", "neutral_size", "sets", "mostly_nonlinear", "raceway", "raceway_name", "length_ft",
            "not_together_with",
        ),
    },
    "AMP-4": {
        "run": ("rooftop", "roof_height_ft", "outdoors", "insulation", "length_ft", "ambient_c", "raceway"),
    },
}  # fmt: skip

#: Rules in which no voltage takes part: how things are arranged, marked and counted.
_WITHOUT_VOLTAGE = frozenset((
    "AMP-3", "AMP-TERM", "BAR-1", "DEC-SIDE", "DEV-1", "GEN-2", "GND-2", "GND-4", "GND-7", "NET-LOOSE", "OCP-4B",
    "OCP-4C", "OCP-4D", "PNL-3", "PNL-4", "PV-4", "PV-7", "RWY-1",
    "RWY-2", "RWY-3", "RWY-4", "RWY-5", "RWY-6", "AMP-4", "PV-6", "PV-8", "ESS-1",
    "GEN-3", "SRC-1", "SVC-2", "SVC-3", "SVC-6", "TAP-BUS",
    "TAP-HB", "TAP-IND", "TAP-OTH", "TAP-OUT", "SVC-1", "SVC-5", "SVC-11", "SVC-12", "PNL-2",
))  # fmt: skip
#: Rules that read the load behind a point; phases and voltages there make it.
_OF_LOAD = ("AMP-1", "CAP", "LOAD", "OCP-4G", "READ", "SVC-4", "TAP", "VD")
#: Rules that read the fault current at a point; motors and inverters anywhere on the same supply add to it.
_OF_FAULT = ("FLT-1", "FLT-2", "FLT-4", "FLT-5", "PNL-6")
#: Fields by which an item tells the system around it.
_SYSTEM = ("system", "primary_system", "secondary_system")
_CONDUCTORS = ("size", "sets", "material", "length_ft", "raceway")

#: Fields that reach further than the item they stand on: rules by the start of their names ("" all in which a voltage
#: takes part), where the item is ("behind" the finding, on the "way" to its source, on the same "supply", "anywhere"),
#: and the fields by its kind ("" of any).
_REACH: tuple[tuple[tuple[str, ...], str, Mapping[str, tuple[str, ...]]], ...] = (
    (("",), "way", {"": _SYSTEM}),
    (_OF_LOAD, "behind", {"": _SYSTEM, "load": ("phases", "continuous"), "bus": ("phases", "all_listed"),
                          "run": ("phases",), "disconnect": ("phases",), "transformer": ("connection",),
                          "solar": ("phases",), "battery": ("phases",)}),
    (("VD",), "behind", {"run": _CONDUCTORS, "transformer": ("kva", "z_pct", "x_r"), "load": ("power_factor",)}),
    (("VD",), "way", {"run": _CONDUCTORS, "transformer": ("kva", "z_pct", "x_r")}),
    (_OF_FAULT, "way", {"run": (*_CONDUCTORS, "neutral_size"), "transformer": ("kva", "z_pct", "x_r", "connection"),
                        "service": ("fault_ka", "fault_x_r")}),
    (_OF_FAULT, "supply", {"": _SYSTEM, "load": ("horsepower", "mca_a", "phases")}),
    (_OF_FAULT, "anywhere", {"generator": ("system", "kva", "xd_pct"), "solar": ("output_a", "output_kw", "fault_factor"),
                             "battery": ("output_a", "output_kw", "fault_factor")}),
    (("SVC-2", "SVC-4", "SVC-6"), "behind", {"disconnect": ("service_disconnect",)}),
    (("DEC-SIDE", "GND-5", "GND-1"), "way", {"disconnect": ("service_disconnect",)}),
)  # fmt: skip

Interval = tuple[int, int]


class Naming:
    """Names what findings rest on beside their numbers, with the assumptions that a drawing has now."""

    def __init__(self, ctx: Context) -> None:
        self._ctx = ctx
        self._items = {item.id: item for item in ctx.drawing.items.values() if assumes(item)}
        self._reaching = [x for item in self._items.values() for x in _reaching(ctx, item)]

    def named(self, found: Verdict) -> Verdict:
        """The finding with what it rests on; as it is where nothing is assumed."""
        if not self._items:
            return found
        ctx = self._ctx
        return resting_on(found, unique((*_read(ctx, found, self._items), *_around(ctx, found, self._reaching))))


def assumes(item: Item) -> bool:
    """Whether any field of an item is only assumed."""
    return "assumed" in item.basis.values()


def named_assumptions(ctx: Context, verdicts: Sequence[Verdict]) -> Sequence[Verdict]:
    """The verdicts, each with what it rests on beside its numbers."""
    naming = Naming(ctx)
    return [naming.named(v) for v in verdicts]


@dataclass(frozen=True)
class _Reaching:
    """Assumed fields of one item that findings elsewhere rest on: for which rules, where those are, in words."""

    rules: tuple[str, ...]
    where: str
    words: tuple[str, ...]
    at: tuple[Interval, ...]
    roots: frozenset[str]


def _reaching(ctx: Context, item: Item) -> Iterator[_Reaching]:
    nodes = _nodes(ctx, item)
    for rules, where, kinds in _REACH:
        words = assumptions(ctx, item, *_has(item, (*kinds.get("", ()), *kinds.get(item.kind, ()))))
        if words:
            roots = frozenset(ctx.feeding.root[n] for n in nodes)
            yield _Reaching(rules, where, words, _intervals(ctx, nodes), roots)


def _read(ctx: Context, found: Verdict, items: Mapping[str, Item]) -> Iterator[str]:
    """Assumed fields of the items that a finding is about or names beside it."""
    for item_id in unique((found.subject, *found.others)):
        item = items.get(item_id)
        if item is not None:
            yield from assumptions(ctx, item, *_has(item, _fields(found.rule, item.kind)))


def _around(ctx: Context, found: Verdict, reaching: Sequence[_Reaching]) -> Iterator[str]:
    """Assumed fields of items elsewhere that a finding's figures follow from."""
    asked = [x for x in reaching if found.rule.startswith(x.rules)]
    if found.rule in _WITHOUT_VOLTAGE:
        asked = [x for x in asked if "" not in x.rules]
    if not asked:
        return
    nodes = _nodes(ctx, ctx.drawing.items.get(found.subject))
    at, roots = _intervals(ctx, nodes), {ctx.feeding.root[n] for n in nodes}
    # What a standby source may carry is fed from elsewhere in the normal state.
    standby = any(isinstance(ctx.drawing.items.get(root), Generator) for root in roots)
    for x in asked:
        if (
            x.where == "anywhere"
            or (x.where == "supply" and (standby or not roots.isdisjoint(x.roots)))
            or (x.where == "behind" and (standby or any(a <= first < b for first, _ in x.at for a, b in at)))
            or (x.where == "way" and any(first <= a < last for first, last in x.at for a, _ in at))
        ):
            yield from x.words


@cache
def _fields(rule: str, kind: str) -> tuple[str, ...]:
    named = _READ.get(rule) or _READ.get(rule.partition("-")[0]) or {}
    return named.get(kind, ())


def _has(item: Item, fields: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(name for name in fields if hasattr(item, name))


def _nodes(ctx: Context, item: Item | None) -> list[int]:
    """Fed nodes of an item."""
    if item is None:
        return []
    terminals = ("a", "b") if isinstance(item, Connection) else item.terminals
    nodes = dict.fromkeys(ctx.net.node(item.id, t) for t in terminals)
    return [n for n in nodes if n >= 0 and ctx.feeding.position[n] >= 0]


def _intervals(ctx: Context, nodes: Sequence[int]) -> tuple[Interval, ...]:
    """Where nodes are in the tree of what feeds what: the place of each, and the end of what is behind it."""
    return tuple((ctx.feeding.position[n], ctx.feeding.last[n]) for n in nodes)
