"""What surrounds a conductor run: insulation, heat, roof, conductors beside it; and the factors these make.

Unknown facts leave a least and a greatest factor.
"""

from __future__ import annotations

from dataclasses import dataclass

from oneline import tables
from oneline.model.quick import hashed_once, quick
from oneline.rules.common import Subject, equal_or_above, number

COLUMNS_C = (60, 75, 90)
#: Exempt from the temperature that a roof adds.
_ROOF_EXEMPT = "XHHW-2"
#: More conductors than any raceway has, for the least factor.
_ANY_COUNT = 1000


@hashed_once
@quick
@dataclass(frozen=True)
class RunFacts:
    """What the ampacity of a run is reckoned from; ``None`` is unknown.

    ``own_conductors``: current-carrying conductors of this run in one raceway, the least that the raceway can hold.
    ``terminal_c``: lowest temperature rating of the terminals the circuit lands on, °C; where it is ``None`` the rule of
    110.14(C) stands in and is named as an assumption. ``terminal_seen_c``: lowest of those that are known, when others
    are not. ``circuit_a``: rating of the circuit, amperes, for that rule. ``basis``: weakest basis of the fields used;
    ``assumed``: which of them the user only assumed. ``most_conductors``: the most current-carrying conductors that the
    raceway can hold, ``None`` without a bound; ``count_needs``: what would tell their number. ``roof_height_in``: inches from
    a sunlit roof to the raceway where it is ``rooftop``. ``wireway_full``: a wireway known to be filled beyond its limit.
    ``eased_by``: the longer part of the run whose surroundings count for this short one.
    """

    subject: Subject
    edition: int
    size: str | None
    material: str | None
    insulation: str | None
    sets: int | None = 1
    wet: bool | None = None
    ambient_c: float | None = None
    current_carrying: int | None = None
    own_conductors: int = 1
    raceway: str | None = None
    length_ft: float | None = None
    terminal_c: float | None = None
    terminal_seen_c: float | None = None
    circuit_a: float | None = None
    basis: str = "entered"
    assumed: tuple[str, ...] = ()
    most_conductors: int | None = None
    count_needs: tuple[str, ...] = ()
    rooftop: bool | None = None
    roof_height_in: float | None = None
    wireway_full: bool = False
    eased_by: str = ""


def insulation_columns(facts: RunFacts) -> tuple[int, ...]:
    """Columns that the insulation may stand in: one when everything is known."""
    if facts.insulation is None:
        return COLUMNS_C
    kind = tables.insulation(facts.insulation)
    if kind.dry_c is None:
        return COLUMNS_C
    dry, wet = int(kind.dry_c), int(kind.wet_c) if kind.wet_c is not None else COLUMNS_C[0]
    if facts.wet is None:
        return tuple(sorted({dry, wet}))
    return (wet,) if facts.wet else (dry,)


def counts(facts: RunFacts) -> tuple[int, int | None]:
    """Least and most current-carrying conductors beside each other; the most is ``None`` without a bound."""
    if facts.current_carrying is not None:
        count = max(facts.current_carrying, facts.own_conductors)
        return count, count
    return facts.own_conductors, facts.most_conductors


def adjustment_range(facts: RunFacts) -> tuple[float, float]:
    """Least and greatest adjustment factor for the number of current-carrying conductors."""
    if is_nipple(facts.length_ft):
        return 1.0, 1.0
    least, most = counts(facts)
    if facts.raceway == "within enclosure" and facts.current_carrying is None:
        return 1.0, 1.0
    return _factor(facts, _ANY_COUNT if most is None else most), _factor(facts, least)


def _factor(facts: RunFacts, count: int) -> float:
    """Adjustment for a number of conductors, with what wireways and small cables are exempt from."""
    if facts.raceway == "wireway" and not facts.wireway_full and count <= tables.limit_value("wireway_adjust_over"):
        return 1.0
    if _small_cables(facts):
        few = count <= tables.limit_value("cable_bundle_most")
        return 1.0 if few else tables.limit_value("cable_bundle_factor")
    return tables.bundling_factor(count)


def _small_cables(facts: RunFacts) -> bool:
    """Metal-clad cables of small copper with few conductors each, which may lie bundled."""
    return (
        facts.raceway == "cable" and facts.insulation == "MC" and facts.material == "copper"
        and facts.size is not None
        and tables.area_cmil(facts.size) == tables.limit_value("cable_bundle_size_cmil")
        and facts.own_conductors <= tables.limit_value("ampacity_conductors")
    )  # fmt: skip


def adjustment_text(facts: RunFacts) -> str:
    """What the adjustment is for, as a worksheet line."""
    if is_nipple(facts.length_ft):
        return f"No adjustment in a raceway of {number(tables.limit_value('nipple_length_in'))} in or less"
    if facts.raceway == "within enclosure" and facts.current_carrying is None:
        return "No adjustment inside one enclosure"
    least, most = counts(facts)
    count = f"{least}" if least == most else f"{least} to {most}"
    if facts.raceway == "wireway" and adjustment_range(facts)[0] == 1.0:
        over = number(tables.limit_value("wireway_adjust_over"))
        return f"No adjustment for {count} current-carrying conductors in a wireway, up to {over}"
    if _small_cables(facts):
        return f"Adjustment for {count} current-carrying conductors in bundled cables"
    return f"Adjustment for {count} current-carrying conductors"


def ambients_c(facts: RunFacts) -> tuple[float, float] | None:
    """Lowest and highest temperature around the run, the roof's part added; ``None`` while the ambient is not known."""
    if facts.ambient_c is None:
        return None
    low = high = facts.ambient_c
    if facts.rooftop and facts.insulation != _ROOF_EXEMPT:
        hot = facts.ambient_c + tables.limit_value("rooftop_adder_c")
        near = near_roof(facts.roof_height_in)
        low, high = (hot if near else low), (hot if near is not False else high)
    return low, high


def near_roof(height_in: float | None) -> bool | None:
    """Whether a raceway is so near above a roof that the roof heats it; ``None`` while the height is not known."""
    if height_in is None:
        return None
    return not equal_or_above(height_in, tables.limit_value("rooftop_height_in"))


def ambient_range(facts: RunFacts, column_c: int) -> tuple[float | None, float]:
    """Least (``None``: no bound) and greatest correction factor for the ambient temperature."""
    around = ambients_c(facts)
    if around is not None:
        return tables.ambient_factor(column_c, around[1]), tables.ambient_factor(column_c, around[0]) or 0.0
    return None, tables.ambient_factor(column_c, 0.0) or 0.0


def is_nipple(length_ft: float | None) -> bool:
    """Whether a raceway is known to be short enough that the conductors beside it do not count."""
    return length_ft is not None and length_ft * 12 <= tables.limit_value("nipple_length_in")
