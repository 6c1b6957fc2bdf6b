"""Loads of dwelling units: small appliances, laundry, dryers, cooking (220.52 to 220.55), and the optional calculation of
one dwelling unit (220.82, existing ones 220.83)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from oneline import tables
from oneline.rules.common import computed, looked_up, section
from oneline.rules.load_items import Figure
from oneline.rules.verdict import WorkLine

#: Classes of household loads that have a figure of the code.
SMALL_APPLIANCE, LAUNDRY, DRYER, COOKING = (
    "dwelling small appliance",
    "dwelling laundry",
    "dwelling dryer",
    "dwelling cooking",
)
HOUSEHOLD = (SMALL_APPLIANCE, LAUNDRY, DRYER)
_EACH = {SMALL_APPLIANCE: ("small_appliance_va", "LOAD-2-small-appliances"), LAUNDRY: ("laundry_va", "LOAD-2-laundry")}
#: Methods of one dwelling unit -> limits of the part in full and of the share of the rest.
_STEPS = {
    "dwelling unit": ("dwelling_optional_first_va", "dwelling_optional_rest"),
    "existing dwelling unit": ("dwelling_existing_first_va", "dwelling_existing_rest"),
}  # fmt: skip
METHODS = tuple(_STEPS)


def household(load_class: str, entered_va: float | None, quantity: int, edition: int) -> Figure:
    """Small-appliance and laundry circuits at a load each (220.52); dryers at their nameplate or a least load (220.54)."""
    if load_class == DRYER:
        line = computed(
            "Clothes dryers, at least", "each * count", "VA", section("LOAD-2-dryers", edition),
            each=tables.limit_value("dryer_least_va"), count=float(quantity),
        )  # fmt: skip
        if entered_va is None:
            return Figure(None, least_va=_value(line), lines=(line,), needs=("load of {}",))
    else:
        limit, rule = _EACH[load_class]
        line = computed(
            "Circuits at a load each", "each * count", "VA", section(rule, edition),
            each=tables.limit_value(limit), count=float(quantity),
        )  # fmt: skip
    if entered_va is None:
        return Figure(_value(line), lines=(line,))
    both = computed(
        "Larger of this and the load entered", "max(least, entered)", "VA", least=_value(line), entered=entered_va
    )
    return Figure(_value(both), lines=(line, both))


def appliance_factor(count: int) -> float:
    """Share of appliances fastened in place that counts (220.53)."""
    return tables.limit_value("appliance_factor") if count >= tables.limit_value("appliance_count") else 1.0


# ------------------------------------------------------------------------------------------- dryers and cooking
@dataclass(frozen=True)
class Household:
    """Demand of dryers or of cooking appliances: with what is known, and at least, whatever else there is; VA."""

    va: float
    least_va: float


def dryer_demand(ratings_va: Sequence[float]) -> Household:
    """Dryers between two conductors, Table 220.54."""
    total = sum(ratings_va)
    share = tables.dryer_demand_factor(len(ratings_va)) if ratings_va else 1.0
    return Household(share * total, tables.least_dryer_share(len(ratings_va)) * total)


def cooking_demand(ratings_va: Sequence[float]) -> Household:
    """Cooking appliances between two conductors, Table 220.55."""
    return Household(tables.range_demand_va(ratings_va), tables.least_range_demand_va(ratings_va))


def three_phase_demand(pairs: Sequence[Sequence[float]], dryers: bool) -> Household:
    """Demand on a three-phase four-wire feeder: by twice what is between the two phases that have most (220.54, 220.55).

    ``pairs``: ratings between each two phases. Half of the demand of the doubled number is on each of the three phases.
    """
    demand = dryer_demand if dryers else cooking_demand
    most = max((demand([*found, *found]) for found in pairs if found), key=lambda d: d.va)
    return Household(1.5 * most.va, 1.5 * most.least_va)


def demand_line(dryers: bool, pairs: Sequence[Sequence[float]], three_phase: bool, edition: int) -> WorkLine:
    """The number of appliances that the demand goes by, for the worksheet."""
    table = section("TABLE-dryers" if dryers else "TABLE-ranges", edition)
    what = "Clothes dryers" if dryers else "Household cooking appliances"
    if not three_phase:
        return looked_up(f"{what} on the feeder", float(sum(len(p) for p in pairs)), "", table)
    return computed(
        f"{what} to go by, twice those between two phases", "2 * most", "", table, most=float(max(map(len, pairs)))
    )


# ------------------------------------------------------------------------------------------- optional calculation
@dataclass(frozen=True)
class DwellingLoads:
    """Loads of one dwelling unit for the optional calculation, VA at their nameplates.

    ``general_va``: lighting by floor area, small-appliance and laundry circuits, appliances, motors. ``vehicles_va``:
    outlets for vehicles, which count in full beside it. ``heat_units``: separately controlled ones. ``apart``: whether
    heating and cooling are known not to run together. ``new_conditioning``: whether either is new.
    """

    general_va: float
    cooling_va: float
    heat_va: float
    heat_units: int
    vehicles_va: float
    apart: bool
    new_conditioning: bool


def conditioning_va(loads: DwellingLoads, method: str) -> tuple[float, WorkLine]:
    """What heating and cooling add beside the general loads: the larger of both, or both where they may run together."""
    many = loads.heat_units >= tables.limit_value("dwelling_heat_units")
    if method == "dwelling unit":
        share = tables.limit_value("dwelling_heat_many_factor" if many else "dwelling_heat_few_factor")
    else:
        share = 1.0
    words = "max(cooling, share * heating)" if loads.apart else "cooling + share * heating"
    line = computed("Heating and cooling", words, "VA", cooling=loads.cooling_va, share=share, heating=loads.heat_va)
    return _value(line), line


def dwelling_lines(loads: DwellingLoads, method: str, source: str, edition: int) -> tuple[WorkLine, ...]:
    """Worksheet of the optional calculation of one dwelling unit; the last line is the demand.

    In an existing one to which neither heating nor cooling is added, what is there counts among the general loads.
    """
    first, rest = _STEPS[method]
    found, line = conditioning_va(loads, method)
    lines = [looked_up("General loads by area and nameplates", loads.general_va, "VA", source)]
    if loads.heat_va or loads.cooling_va:
        lines.append(line)
    general, beside = loads.general_va, found
    if method == "existing dwelling unit" and not loads.new_conditioning:
        general, beside = loads.general_va + found, 0.0
    demand = computed(
        "General loads with their demand", "min(general, first) + rest * max(general - first, 0)", "VA", source,
        general=general, first=tables.limit_value(first), rest=tables.limit_value(rest),
    )  # fmt: skip
    total = computed(
        "Demand", "general + beside + vehicles", "VA", source, general=_value(demand), beside=beside,
        vehicles=loads.vehicles_va,
    )  # fmt: skip
    return (*lines, demand, total)


def dwelling_va(loads: DwellingLoads, method: str, edition: int) -> float:
    """Demand of one dwelling unit by the optional calculation, VA."""
    return _value(dwelling_lines(loads, method, "", edition)[-1])


def _value(line: WorkLine) -> float:
    assert isinstance(line.value, float)
    return line.value
