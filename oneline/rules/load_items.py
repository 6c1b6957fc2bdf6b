"""What one load comes to by the code's own figures: outlets, show windows, signs, vehicle outlets, motors by their duty.

Small functions on numbers. Volt-amperes are totals of all phases and of all pieces. ``entered_va``: what was entered for
the load itself; the code's figure is a least, so the larger of the two counts.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil

from oneline import tables
from oneline.rules.common import TOLERANCE, computed, looked_up, section
from oneline.rules.verdict import WorkLine


@dataclass(frozen=True)
class Figure:
    """A load as reckoned: ``va`` where it is known, else what it is at least and at most; how, and what is missing.

    ``needs``: what to find out, each with "{}" for the name of the load. ``assumed``: assumptions, likewise.
    """

    va: float | None
    least_va: float | None = None
    most_va: float | None = None
    lines: tuple[WorkLine, ...] = ()
    needs: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()


def outlets(quantity: int, entered_va: float | None, edition: int) -> Figure:
    """Receptacles at a load each, by yokes (220.14(I))."""
    line = computed(
        "Receptacles by number", "each * count", "VA", section("LOAD-2-outlets", edition),
        each=tables.limit_value("receptacle_yoke_va"), count=float(quantity),
    )  # fmt: skip
    return _larger(line, entered_va)


def by_length(load_class: str, length_ft: float, entered_va: float | None, edition: int) -> Figure:
    """Show window by its length, or lighting track by its parts (220.14(G), 220.43, 220.46)."""
    if load_class == "show window":
        line = computed(
            "Show window by length", "each * length_ft", "VA", section("LOAD-2-show-window", edition),
            each=tables.limit_value("show_window_va_ft"), length_ft=length_ft,
        )  # fmt: skip
        return _larger(line, entered_va)
    line = _by_parts(
        "Lighting track by length", length_ft, "track_lighting_va", "track_lighting_length_ft",
        section("LOAD-2-track", edition),
    )  # fmt: skip
    return _larger(line, entered_va)


def multioutlet(length_ft: float, simultaneous: bool | None, entered_va: float | None, edition: int) -> Figure:
    """Fixed multioutlet assembly by its length; whether its outlets are used together decides the share (220.14(H))."""
    source = section("LOAD-2-multioutlet", edition)
    apart, together = (
        _by_parts("Multioutlet assembly by length", length_ft, "multioutlet_va", part, source)
        for part in ("multioutlet_length_ft", "multioutlet_simultaneous_ft")
    )
    if simultaneous is not None:
        return _larger(together if simultaneous else apart, entered_va)
    low, high = _larger(apart, entered_va), _larger(together, entered_va)
    need = "whether the outlets of {} are used at the same time"
    return replace(low, va=None, least_va=low.va, most_va=high.va, needs=(need,), lines=(*low.lines, together))


def sign(entered_va: float | None, quantity: int, edition: int) -> Figure:
    """Sign outlets: a least load for each required circuit (220.14(F)); at least that where nothing was entered."""
    line = computed(
        "Sign outlets, at least", "each * count", "VA", section("LOAD-2-sign", edition),
        each=tables.limit_value("sign_min_va"), count=float(quantity),
    )  # fmt: skip
    return _at_least(line, entered_va)


def vehicle_outlets(entered_va: float | None, quantity: int, edition: int) -> Figure:
    """Outlets for electric vehicle supply equipment: nameplates, and a least load for each outlet where the edition has
    one (220.57)."""
    if not tables.applies("ev_outlet_minimum", edition):
        return Figure(entered_va)
    line = computed(
        "Vehicle outlets, at least", "each * count", "VA", section("LOAD-2-ev", edition),
        each=tables.limit_value("ev_outlet_min_va"), count=float(quantity),
    )  # fmt: skip
    return _at_least(line, entered_va)


def managed(setting_a: float, volts: float, roots: float, edition: int) -> Figure:
    """Load under a listed energy management system: its setting (220.70). ``roots``: sqrt(3) for three phases, else 1."""
    line = computed(
        "Setting of the energy management system", "roots * volts * setting_a", "VA", section("LOAD-2-ems", edition),
        roots=roots, volts=volts, setting_a=setting_a,
    )  # fmt: skip
    return Figure(_value(line), lines=(line,))


def rated_current(current_a: float, volts: float, roots: float, quantity: int, edition: int) -> Figure:
    """Compressors by their rated-load current (440.6, LOAD-5); the largest one takes its 25 % with the motors."""
    line = computed(
        "Compressors by rated-load current", "count * roots * volts * rated_a", "VA", section("LOAD-5", edition),
        count=float(quantity), roots=roots, volts=volts, rated_a=current_a,
    )  # fmt: skip
    return Figure(_value(line), lines=(line,))


def by_duty(
    current_a: float, volts: float, roots: float, quantity: int, duty: str, time_rating: str | None, edition: int
) -> Figure:
    """Motors by nameplate current and duty (430.22(E)): elevators and others that do not run continuously.

    An unknown time rating leaves the smallest and the largest share of the duty.
    """
    shares = tables.motor_duty_factors(duty)
    source = section("TABLE-motor-duty", edition)

    def line(share: float) -> WorkLine:
        return computed(
            "Motors by duty", "count * roots * volts * share * nameplate_a", "VA", source, count=float(quantity),
            roots=roots, volts=volts, share=share, nameplate_a=current_a,
        )  # fmt: skip

    if not shares:
        full = line(1.0)
        return Figure(_value(full), lines=(full,))
    if time_rating in shares:
        known = line(shares[time_rating])
        return Figure(_value(known), lines=(known,))
    low, high = line(min(shares.values())), line(max(shares.values()))
    return Figure(None, _value(low), _value(high), (low, high), ("time rating on the nameplate of {}",))


def between_steps(horsepower: float, steps_hp: tuple[float, float], steps_va: tuple[float, float], rule: str) -> Figure:
    """A motor whose rating the current table does not print: between the steps below and above it (430.6)."""
    lines = tuple(
        looked_up(f"{hp:g} hp, the step {word}", va, "VA", rule)
        for hp, va, word in zip(steps_hp, steps_va, ("below", "above"), strict=True)
    )
    need = f"full-load current on the nameplate of {{}}: {horsepower:g} hp is not in the motor table"
    low, high = steps_hp
    assumed = f"{horsepower:g} hp of {{}} taken between {low:g} hp and {high:g} hp"
    return Figure(None, min(steps_va), max(steps_va), lines, (need,), (assumed,))


def _by_parts(what: str, length_ft: float, each: str, part: str, source: str) -> WorkLine:
    """A load for each part of a length or fraction of it."""
    per_ft = tables.limit_value(part)
    return computed(
        what, "each * parts", "VA", source, each=tables.limit_value(each),
        parts=float(ceil(length_ft / per_ft * (1 - TOLERANCE))),
    )  # fmt: skip


def _larger(line: WorkLine, entered_va: float | None) -> Figure:
    """The code's figure, or what was entered where that is more."""
    if entered_va is None:
        return Figure(_value(line), lines=(line,))
    both = computed(
        "Larger of this and the load entered", "max(least, entered)", "VA", least=_value(line), entered=entered_va
    )
    return Figure(_value(both), lines=(line, both))


def _at_least(line: WorkLine, entered_va: float | None) -> Figure:
    """A least load: what is really there decides above it, and is asked for."""
    if entered_va is None:
        return Figure(None, least_va=_value(line), lines=(line,), needs=("load of {}",))
    return _larger(line, entered_va)


def _value(line: WorkLine) -> float:
    assert isinstance(line.value, float)
    return line.value
