"""Fault ratings and interconnected sources once more, slowly and exactly, without anything of the program.

Written from the statements of 110.9, 110.10, 240.83 to 240.86, 445.13, 250.30 and article 705 as trade articles and makers'
literature restate them. Amperes, volts, feet as fractions; what has an exponential in it in decimal numbers of 40 digits.
"""

from __future__ import annotations

from decimal import Context, Decimal
from fractions import Fraction as F

DIGITS = Context(prec=40)
PI = Decimal("3.14159265358979323846264338327950288419716939937510")
#: 8 AWG to 1/0: circular mils (ASTM B258); 6 AWG copper and 4 AWG aluminum are the least ahead of a service since 2020.
CMIL = {"10": 10380, "8": 16510, "6": 26240, "4": 41740, "3": 52620, "1/0": 105600}


def decimal(value: F) -> Decimal:
    return DIGITS.divide(Decimal(value.numerator), Decimal(value.denominator))


# --------------------------------------------------------------------------------------------------------- faults
def test_ratio(rating_ka: F, breaker: bool) -> Decimal:
    """X/R of the test: molded-case breakers 1.73 up to 10 kA, 3.18 up to 20 kA, 4.90 above; fuses 4.90."""
    if not breaker:
        return Decimal("4.9")
    return Decimal("1.73") if rating_ka <= 10 else Decimal("3.18") if rating_ka <= 20 else Decimal("4.9")


def duty(current: F, x_r: F, rating_ka: F, breaker: bool) -> Decimal:
    """The current as the device feels it, where the fault is more reactive than its test: breakers by the first peak,
    1 + exp(-pi/(X/R)); fuses by the effective value of the first half cycle, sqrt(1 + 2 exp(-2 pi/(X/R)))."""
    factors = []
    for ratio in (decimal(x_r), test_ratio(rating_ka, breaker)):
        fall = DIGITS.exp(DIGITS.divide(-PI, ratio))
        if breaker:
            factors.append(1 + fall)
        else:
            factors.append(DIGITS.sqrt(1 + 2 * fall * fall))
    factor = max(Decimal(1), DIGITS.divide(factors[0], factors[1]))
    return DIGITS.multiply(decimal(current), factor)


def series(available: F, combination: F, motors: F, lower: F) -> bool:
    """The combination covers what is available; motors between take no more than 1 % of the lower device's own rating."""
    return available <= combination and 100 * motors <= lower


def let_through(alone: bool, held: F, rating: F, by: str) -> str:
    """By itself; else by a tested combination when that is enough; engineered or by a chart it is for somebody to judge."""
    if alone:
        return "pass"
    if by == "tested combination on the label":
        return "pass" if held <= rating else "fail"
    return "judge"


def volts_fit(line: int, neutral: int | None, grounded_neutral: bool, high: int, low: int | None) -> bool:
    """Line to line no more than the higher figure; to ground no more than the lower, on a grounded neutral only."""
    if line > high:
        return False
    return low is None or (grounded_neutral and neutral is not None and neutral <= low)


# ---------------------------------------------------------------------------------------------------------- sources
def bus_tests(bus: F, main: F, output: F, breakers: F, opposite: bool) -> dict[str, bool]:
    """a: 125 % of the sources and the main; b: the same against 120 %, at the opposite end; c: all breakers, and the main."""
    both = main + F(5, 4) * output
    return {"PV-1a": both <= bus, "PV-1b": 5 * both <= 6 * bus and opposite, "PV-1c": breakers <= bus and main <= bus}


def feeder(iz: F, output: F, device: F, joined: bool) -> bool:
    """125 % of the sources; where both supplies meet, the device of the feeder beside them."""
    return iz >= F(5, 4) * output + (device if joined else 0)


def ahead_of_service(
    edition: int, devices: F, service: F, output: F, conductors: F, iz: F, size: str, copper: bool, length: F
) -> str:  # fmt: skip
    """Sources ahead of the service: 2017 their devices against the service; since 2020 their output against its conductors.
    Conductors 125 % of the output, 6 AWG copper or 4 AWG aluminum. Distance to the device 16.5 ft in 2020 and 2026, in words
    (for the authority) in 2023, 10 ft without limiters in 2017."""
    small = CMIL[size] < (26240 if copper else 41740)
    fails = [iz < F(5, 4) * output, devices > service if edition == 2017 else output > conductors]
    judge, unknown = False, False
    if edition == 2017:
        judge = small
        unknown = length > 10
    else:
        fails.append(small)
        if edition == 2023:
            judge = True
        else:
            fails.append(length > F(33, 2))
    return "fail" if any(fails) else "unknown" if unknown else "judge" if judge else "pass"


def counts_with(output: F, setting: F | None, listed: bool | None, edition: int) -> tuple[F, F]:
    """Least and most current that an inverter counts with: its setting where power control may be counted, since 2020."""
    if setting is None or edition == 2017 or listed is False or setting >= output:
        return output, output
    return (setting, setting) if listed else (setting, output)


def generator(iz: F, rated: F, held: bool) -> bool:
    """115 % of the nameplate current, 100 % where it cannot overload its conductors."""
    return 20 * iz >= (20 if held else 23) * rated


def neutral(switched: bool, bonded: bool) -> bool:
    """A switched neutral with a bond at the generator, a solid one without."""
    return switched == bonded
