"""Voltage drop of one run solved exactly, and the test of a demand record (220.87), without anything of the program.

The drop: a load of constant power behind an impedance has a receiving voltage in closed form, from the two equations of its
real and reactive power; in decimals of 40 digits. R and X are read from Chapter 9 Table 9's own file. The record: the
statements of 220.87 as trade articles restate them, square roots left out by squaring.
"""

from __future__ import annotations

from decimal import Decimal, getcontext
from fractions import Fraction as F

from by_hand_wiring import read

getcontext().prec = 40
#: A demand record: a year, or 30 days of averages over 15 minutes at most; utilities bill by averages of 30 minutes at most
#: (common practice).
YEAR, SHORT, WINDOW, BILLED = 365, 30, 15, 30


# -------------------------------------------------------------------------------------------------- voltage drop
def decimal(value: F) -> Decimal:
    return Decimal(value.numerator) / Decimal(value.denominator)


def impedance(size: str, material: str, conduit: str) -> tuple[F, F]:
    """Ohms per 1,000 ft of Table 9: ``conduit`` "pvc", "al" or "steel"."""
    row = next(r for r in read("ch9_t9_ac_impedance") if r["size"] == size)
    metal = "cu" if material == "copper" else "al"
    return F(row[f"{metal}_r_{conduit}"]), F(row["x_steel" if conduit == "steel" else "x_pvc_al"])


def receiving_v(sending_v: Decimal, watts: Decimal, vars_: Decimal, r: Decimal, x: Decimal) -> Decimal | None:
    """Volts at a load of constant power behind an impedance: V^4 + (2(PR + QX) - Vs^2) V^2 + S^2 Z^2 = 0, the higher of the
    two solutions; ``None`` where the load cannot be carried."""
    half = (sending_v**2 - 2 * (watts * r + vars_ * x)) / 2
    under = half**2 - (watts**2 + vars_**2) * (r**2 + x**2)
    return None if under < 0 else (half + under.sqrt()).sqrt()


def exact(
    loop: int, nominal_v: Decimal, va: F, pf: F, r: F, x: F, feet: F, sets: int
) -> tuple[Decimal, Decimal] | None:
    """(drop in percent of ``nominal_v``, amperes): ``va`` of the loop, one conductor's ohms per 1,000 ft, ``loop`` 1 for one
    conductor of a balanced run with ``nominal_v`` to neutral, 2 for there and back."""
    length = decimal(F(loop) * feet / 1000 / sets)
    sine = decimal(1 - pf * pf).sqrt()
    watts, vars_ = decimal(va * pf), decimal(va) * sine
    volts = receiving_v(nominal_v, watts, vars_, decimal(r) * length, decimal(x) * length)
    if volts is None:
        return None
    return 100 * (nominal_v - volts) / nominal_v, decimal(va) / volts


def approximate(loop: Decimal, amperes: Decimal, pf: F, r: F, x: F, feet: F, sets: int) -> Decimal:
    """k I (R cos + X sin) L / 1000 / n, volts; ``loop`` is k."""
    sine = decimal(1 - pf * pf).sqrt()
    return loop * amperes * (decimal(r) * decimal(pf) + decimal(x) * sine) * decimal(feet) / 1000 / sets


# ----------------------------------------------------------------------------------------------------- LOAD-1
def holds(
    peak: F, unit: str, pf: F | None, volts: F, three_phase: bool, new_va: F, rating_a: F
) -> bool:  # fmt: skip
    """1.25 x the recorded maximum + the new load <= the rating. ``peak``: in "kva", "kw" or, of the highest phase, "a".

    On three phases amperes times volts times sqrt(3) are volt-amperes: both sides are a + b sqrt(3), compared by squaring.
    """
    root = F(3) if three_phase else F(1)
    rated, plain = rating_a * volts, new_va  # of rated the root is to be taken times
    if unit == "a":
        rated -= F(5, 4) * peak * volts
    else:
        plain += F(5, 4) * 1000 * peak / (pf if unit == "kw" and pf is not None else 1)
    if rated < 0:
        return False
    return plain * plain <= root * rated * rated


def usable(
    days: F | None, interval: F | None, occupied: bool | None, seasonal: bool | None, protected: bool | None, generation: bool
) -> str:  # fmt: skip
    """Whether a record may stand for the load: "pass", "fail", "judge" or "unknown"; three-valued over what is not known."""
    states = ["unknown" if protected is None else "pass" if protected else "fail"]
    if days is None:
        states.append("unknown")
    elif days >= YEAR:
        states.append("unknown" if interval is None else "pass" if interval <= BILLED else "judge")
    elif days >= SHORT:
        states.append("unknown" if interval is None else "pass" if interval <= WINDOW else "fail")
        states += ["unknown" if x is None else "pass" if x else "fail" for x in (occupied, seasonal)]
    else:
        states.append("fail")
    if generation:  # not permitted: what is not known of the record does not matter
        states = ["fail" if "fail" in states else "judge"]
    return next((s for s in ("fail", "judge", "unknown") if s in states), "pass")
