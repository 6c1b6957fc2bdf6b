"""Tables of the code book and of the trade, read from resources/tables: typed look-ups that fail loudly.

Every figure of a rule comes from here. Missing is ``None`` or ``NotInTable`` (a ``KeyError``), never 0.
"""

from __future__ import annotations

from oneline.tables.citations import Citation, citation, cited_rules
from oneline.tables.conductors import (
    Insulation,
    ambient_factor,
    ampacity_a,
    area_cmil,
    bundling_factor,
    insulation,
    next_size_for_ampacity,
    size_for_area,
    small_conductor_limit_a,
)
from oneline.tables.devices import is_standard, next_standard, previous_standard, standard_ratings
from oneline.tables.dwellings import (
    dryer_demand_factor,
    least_dryer_share,
    least_range_demand_va,
    range_column_c_va,
    range_demand_va,
)
from oneline.tables.editions import applies, since
from oneline.tables.grounding import BondingJumper, bonding_jumper, egc_size, gec_size
from oneline.tables.impedance import (
    ac_impedance,
    dc_resistance_ohm_kft,
    point_to_point_c,
    raceway_group,
    raceway_is_metal,
    temperature_correct,
)
from oneline.tables.isolation import isolation_cost, isolation_cost_ids
from oneline.tables.limits import Limit, limit, limit_ids, limit_value
from oneline.tables.loads import (
    DWELLING,
    FloorUse,
    apartment_demand_factor,
    elevator_demand_factor,
    floor_use,
    kitchen_demand_factor,
    lighting_demand_rows,
    lighting_demand_va,
    motor_duty_factors,
    occupancies,
    receptacle_demand_va,
    restaurant_demand_va,
    school_demand_va,
    unit_lighting_includes_continuous,
    unit_lighting_va_ft2,
)
from oneline.tables.machines import (
    TransformerProtection,
    motor_flc_a,
    motor_horsepowers,
    motor_steps,
    transformer_protection,
)
from oneline.tables.raceways import (
    FlexibleGrounding,
    compact_area_in2,
    conductor_area_in2,
    fill_limit,
    flexible_grounding,
    raceway_area_in2,
    raceway_trade_sizes,
    trade_inches,
)
from oneline.tables.source import FROM_MEMORY, FromMemory, NotInTable, with_provenance
from oneline.tables.space import bending_space_in, working_depth_ft
from oneline.tables.steps import equipment_steps
from oneline.tables.switching import step_minutes, switching_practice
from oneline.tables.systems import System, phase_color, system

__all__ = [
    "DWELLING",
    "FROM_MEMORY",
    "BondingJumper",
    "Citation",
    "FlexibleGrounding",
    "FloorUse",
    "FromMemory",
    "Insulation",
    "Limit",
    "NotInTable",
    "System",
    "TransformerProtection",
    "ac_impedance",
    "ambient_factor",
    "ampacity_a",
    "apartment_demand_factor",
    "applies",
    "area_cmil",
    "bending_space_in",
    "bonding_jumper",
    "bundling_factor",
    "citation",
    "cited_rules",
    "compact_area_in2",
    "conductor_area_in2",
    "dc_resistance_ohm_kft",
    "dryer_demand_factor",
    "egc_size",
    "elevator_demand_factor",
    "equipment_steps",
    "fill_limit",
    "flexible_grounding",
    "floor_use",
    "gec_size",
    "insulation",
    "is_standard",
    "isolation_cost",
    "isolation_cost_ids",
    "kitchen_demand_factor",
    "least_dryer_share",
    "least_range_demand_va",
    "lighting_demand_rows",
    "lighting_demand_va",
    "limit",
    "limit_ids",
    "limit_value",
    "motor_duty_factors",
    "motor_flc_a",
    "motor_horsepowers",
    "motor_steps",
    "next_size_for_ampacity",
    "next_standard",
    "occupancies",
    "phase_color",
    "point_to_point_c",
    "previous_standard",
    "raceway_area_in2",
    "raceway_group",
    "raceway_is_metal",
    "raceway_trade_sizes",
    "range_column_c_va",
    "range_demand_va",
    "receptacle_demand_va",
    "restaurant_demand_va",
    "school_demand_va",
    "since",
    "size_for_area",
    "small_conductor_limit_a",
    "standard_ratings",
    "step_minutes",
    "switching_practice",
    "system",
    "temperature_correct",
    "trade_inches",
    "transformer_protection",
    "unit_lighting_includes_continuous",
    "unit_lighting_va_ft2",
    "with_provenance",
    "working_depth_ft",
]
