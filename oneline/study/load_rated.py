"""What one drawn load is rated for, in volt-amperes: as entered, by the motor tables, its nameplate, or the code's figure."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt

from oneline import tables
from oneline.model import Load
from oneline.rules import load_items
from oneline.rules.common import section
from oneline.rules.load_dwelling import HOUSEHOLD, household
from oneline.rules.load_items import Figure
from oneline.study.context import Context

#: The high leg of a four-wire delta, 408.3(E).
HIGH_LEG = "B"
#: Fields that a figure rests on, by where it is from.
BASIS_FIELDS = {
    "motor table": ("horsepower",), "nameplate MCA": ("mca_a",), "nameplate": ("nameplate_a",), "rated": ("rla_a",),
    "setting": ("managed_a",), "floor area": ("area_ft2",),
}  # fmt: skip
#: What an elevator's load in volt-amperes is taken for where nobody says what duty it is (LOAD-6).
ELEVATOR_ASSUMED = ("load of {} taken as that of its drive, which holds the factor for its duty",)
#: Classes for which the code has a least load whatever is entered.
LEAST_CLASSES = ("sign", "ev charging", *HOUSEHOLD)


def volts_across(ctx: Context, node: int, phases: str) -> float | None:
    """Nominal volts across a load on these phases: line to neutral for one phase, else line to line; ``None`` where the
    system is not known or has no neutral. The high leg of a four-wire delta has a line-to-neutral voltage of its own.
    """
    code = ctx.feeding.system[node]
    if code is None or not phases:
        return None
    system = tables.system(code)
    if len(phases) > 1:
        return system.v_ll
    return system.v_high_leg if system.v_high_leg and phases == HIGH_LEG else system.v_ln


def volt_amperes(amperes: float, volts: float, phases: str) -> float:
    """Volt-amperes of a load that takes ``amperes`` from each of its phases at ``volts`` (see :func:`volts_across`)."""
    return amperes * volts * (sqrt(3) if len(phases) == 3 else 1.0)


def rated(ctx: Context, node: int, load: Load, phases: str, known: bool) -> tuple[Figure, str]:
    """What a drawn load comes to, and where that is from: see ``LoadEntry.va_from``.

    A motor's by the full-load current table (430.6), not by its nameplate, unless its duty is not continuous.
    """
    volts = volts_across(ctx, node, phases) if known else None
    count = load.quantity or 1
    if volts is not None:
        found = _by_current(ctx, load, phases, volts, count)
        if found is not None:
            return found
    if load.load_class == "lighting" and load.va is None and load.area_ft2 is not None:
        return _by_area(ctx, load, load.area_ft2), "floor area"
    if load.va is not None and load.duty is not None and load.duty != "continuous":
        return load_items.by_duty(load.va, 1.0, 1.0, 1, load.duty, load.time_rating, ctx.edition), "entered"
    counted = load.quantity is not None or load.length_ft is not None
    if load.load_class != "elevator" and (counted or load.load_class in LEAST_CLASSES):
        return by_class(load.load_class, load.va, load.quantity, load.length_ft, load.simultaneous, ctx.edition), "code"
    if load.va is not None:
        return Figure(
            load.va, assumed=ELEVATOR_ASSUMED if load.load_class == "elevator" and load.duty is None else ()
        ), "entered"
    if load.mca_a is not None and volts is not None:
        return Figure(volt_amperes(load.mca_a, volts, phases) * count), "nameplate MCA"
    return Figure(None), "entered"


def by_class(
    load_class: str | None, va: float | None, quantity: int | None, length_ft: float | None, simultaneous: bool | None,
    edition: int,
) -> Figure:  # fmt: skip
    """The code's figure for a load by its number of outlets or its length, or what was entered."""
    if load_class == "receptacles" and quantity is not None:
        return load_items.outlets(quantity, va, edition)
    if load_class in ("show window", "track lighting") and length_ft is not None:
        return load_items.by_length(load_class, length_ft, va, edition)
    if load_class == "fixed multioutlet" and length_ft is not None:
        return load_items.multioutlet(length_ft, simultaneous, va, edition)
    if load_class == "sign":
        return load_items.sign(va, quantity or 1, edition)
    if load_class in HOUSEHOLD:
        return household(load_class, va, quantity or 1, edition)
    if load_class == "ev charging":
        return load_items.vehicle_outlets(va, quantity or 1, edition)
    return Figure(va)


def _by_current(ctx: Context, load: Load, phases: str, volts: float, count: int) -> tuple[Figure, str] | None:
    """A load whose current is known from a setting, a nameplate or the motor tables; ``None`` for others."""
    roots = sqrt(3) if len(phases) == 3 else 1.0
    if load.managed_a is not None:
        return load_items.managed(load.managed_a, volts, roots, ctx.edition), "setting"
    if load.load_class == "hvac" and load.rla_a is not None and load.mca_a is None and load.va is None:
        return load_items.rated_current(load.rla_a, volts, roots, count, ctx.edition), "rated"
    # Elevators never run continuously.
    duty = load.duty or ("intermittent" if load.load_class == "elevator" else "continuous")
    if load.nameplate_a is not None and duty != "continuous":
        return load_items.by_duty(
            load.nameplate_a, volts, roots, count, duty, load.time_rating, ctx.edition
        ), "nameplate"  # fmt: skip
    if load.horsepower is not None:
        found = _by_horsepower(ctx, load, load.horsepower, phases, volts, count)
        if found is not None:
            return found
    if load.nameplate_a is not None and load.va is None:
        return Figure(volt_amperes(load.nameplate_a, volts, phases) * count), "nameplate"
    return None


def _by_horsepower(
    ctx: Context, load: Load, horsepower: float, phases: str, volts: float, count: int
) -> tuple[Figure, str] | None:  # fmt: skip
    three = 3 if len(phases) == 3 else 1

    def va(hp: float) -> float:
        return volt_amperes(tables.motor_flc_a(hp, volts, three), volts, phases) * count

    try:
        if load.load_class == "elevator":  # by its duty; the nameplate's current stands in the table meanwhile
            current_a, roots = tables.motor_flc_a(horsepower, volts, three), sqrt(3) if three == 3 else 1.0
            found = load_items.by_duty(
                current_a, volts, roots, count, load.duty or "intermittent", load.time_rating, ctx.edition
            )
            assumed = ("nameplate current of {} taken from the motor table",)
            return replace(found, assumed=assumed), "motor table"
        return Figure(va(horsepower)), "motor table"
    except tables.NotInTable:
        pass
    # A rating that the table does not print: the nameplate tells, or the steps around it bound it.
    if load.va is not None or load.nameplate_a is not None:
        return None
    try:
        low, high = tables.motor_steps(horsepower, three)
        rule = section("TABLE-motor-3ph" if three == 3 else "TABLE-motor-1ph", ctx.edition)
        return load_items.between_steps(horsepower, (low, high), (va(low), va(high)), rule), "motor table"
    except tables.NotInTable:
        return None


def _by_area(ctx: Context, load: Load, area_ft2: float) -> Figure:
    """Lighting of which only the floor area is known."""
    from oneline.rules.load import general_lighting

    if load.occupancy is None:
        return Figure(None, needs=("use of the floor area of {}",))
    found = general_lighting(area_ft2, load.occupancy, 0.0, 0.0, ctx.edition)
    if found is None:
        need = f"lighting load of {{}}: the unit loads of this edition list no {load.occupancy}"
        return Figure(None, needs=(need,))
    assumed = ("lighting connected at {} taken as no more than its unit load",)
    return Figure(found.load_va, lines=found.lines[:1], assumed=assumed)
