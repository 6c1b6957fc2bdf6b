"""Sizes of equipment grounding conductors, bonding jumpers and grounding electrode conductors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from oneline import tables
from oneline.model.quick import but, quick
from oneline.model.vocabulary import CONDUCTOR_SIZES, MATERIALS
from oneline.rules.ampacity import RunFacts, ampacity, terminal_range
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    amperes,
    computed,
    judged,
    listed,
    looked_up,
    number,
    rated,
    section,
    size_text,
    unique,
    verdict,
    weakest,
)
from oneline.rules.overcurrent import proposed_size
from oneline.rules.raceway_grounding import RacewayGroundFacts, raceway_grounding
from oneline.rules.verdict import Verdict, WorkLine

NOT_KNOWN = Fact(None)
_BASELINE = "Smallest adequate phase conductor"


@quick
@dataclass(frozen=True)
class EgcFacts:
    """An equipment grounding conductor and the circuit it runs with.

    ``rating``: overcurrent device ahead, amperes; for a tap that of the feeder. ``size``: trade size, "none",
    "raceway", or ``None``. ``load``: calculated load, amperes, which bounds the smallest adequate conductor.
    ``trade_size`` and ``length``: of the raceway, ft, where it is the grounding conductor itself. ``assumed``: what is only
    assumed of the grounding conductor or that raceway.
    """

    run: RunFacts
    ahead: Subject
    rating: Fact
    size: str | None
    material: str | None
    load: Fact
    tap: bool = False
    ahead_kind: str = "breaker"
    trade_size: str | None = None
    length: Fact = NOT_KNOWN
    assumed: tuple[str, ...] = ()

    @property
    def resting_on(self) -> tuple[str, ...]:
        """What is only assumed of that which decides the size: of the device, the ampacity (whether the conductors are a
        tap, or larger than needed, follows from it), and the load where it matters."""
        found = unique((*self.assumed, *self.rating.assumptions))
        sizes = (self.size, self.run.size)
        if all(s in CONDUCTOR_SIZES for s in sizes) and tables.area_cmil(str(self.size)) >= tables.area_cmil(
            str(self.run.size)
        ):
            return unique((*found, *(a for a in self.run.assumed if a == size_text(self.run.size))))
        if self.tap or self.rating.value is None or self.load.least is None or not self.load.assumptions:
            return unique((*found, *ampacity(self.run).assumed))
        needed = {
            None if size is None else size.size
            for load_a in (0.0, self.load.most or 0.0)
            for size in (_needed(self, self.run, self.rating.value, self.material or MATERIALS[0], load_a),)
        }
        load = self.load.assumptions if len(needed) > 1 else ()
        return unique((*found, *ampacity(self.run).assumed, *load))


@quick
@dataclass(frozen=True)
class EgcSize:
    """Least equipment grounding conductor: trade size, worksheet, and the smallest adequate phase conductor used."""

    size: str
    lines: tuple[WorkLine, ...]
    baseline: str | None = None


def table_size(rating_a: float, material: str, run: RunFacts) -> EgcSize:
    """Size by Table 250.122, never larger than the circuit conductors. Raises ``tables.NotInTable`` above the table."""
    return _table_size(rating_a, material, run.size, run.edition)


@lru_cache(maxsize=1024)
def _table_size(rating_a: float, material: str, conductor: str | None, edition: int) -> EgcSize:
    size = tables.egc_size(rating_a, material)
    source = section("TABLE-egc", edition)
    lines = (looked_up(f"Grounding conductor for {amperes(rating_a)}, {material}", size, "", source),)
    if conductor is not None and tables.area_cmil(size) > tables.area_cmil(conductor):
        capped = looked_up("Not larger than the circuit conductors", conductor, "", section("GND-3", edition))
        return EgcSize(conductor, (*lines, capped))
    return EgcSize(size, lines)


def proportional_size(base: EgcSize, run: RunFacts, baseline: str) -> EgcSize:
    """Size raised in proportion to the phase conductors, ``baseline`` being their smallest adequate size."""
    assert run.size is not None
    return _raised(base, run.size, run.edition, baseline)


def _raised(base: EgcSize, conductor: str, edition: int, baseline: str) -> EgcSize:
    installed, least = tables.area_cmil(conductor), tables.area_cmil(baseline)
    if installed <= least:
        return but(base, baseline=baseline)
    cited = section("GND-3", edition)
    ratio = computed("Phase conductors larger than needed", "installed_cmil / least_cmil", "",
                     cited, installed_cmil=installed, least_cmil=least)  # fmt: skip
    area = computed("Grounding conductor in proportion", "table_cmil * ratio", "cmil", cited,
                    table_cmil=tables.area_cmil(base.size), ratio=float(ratio.value or 1))  # fmt: skip
    size = tables.size_for_area(float(area.value or 0)) or conductor
    if tables.area_cmil(size) > installed:
        size = conductor
    chosen = looked_up("Next trade size", size, "", section("TABLE-dc-resistance", edition))
    least_line = looked_up(_BASELINE, baseline, "", section("AMP-1", edition))
    return EgcSize(size, (*base.lines, least_line, ratio, area, chosen), baseline)


@lru_cache(maxsize=4096)
def _adequate(rating_a: float, material: str, conductor: str, edition: int, baseline: str) -> EgcSize:
    """Least size where ``baseline`` would be adequate for phase conductors of size ``conductor``."""
    return _raised(_table_size(rating_a, material, conductor, edition), conductor, edition, baseline)


def _plain(run: RunFacts) -> RunFacts:
    """The run at the conditions of the ampacity table: no correction, no adjustment."""
    ambient_c = tables.limit_value("ampacity_ambient_c")
    count = int(tables.limit_value("ampacity_conductors"))
    return but(run, ambient_c=ambient_c, current_carrying=count, own_conductors=min(run.own_conductors, count))


def _needed(
    facts: EgcFacts, run: RunFacts, rating_a: float, material: str, load_a: float, corrected: bool = True,
    round_up: bool = True,
) -> EgcSize | None:  # fmt: skip
    """Least size for given device and load; ``None`` where the smallest adequate phase conductor cannot be told.

    ``run``: with what its terminals may be. ``corrected``: the smallest adequate conductor is one under the run's own
    conditions. ``round_up``: it may be one that the device protects as the next size up.
    """
    if facts.tap:
        return table_size(rating_a, material, run)
    tried = run if corrected else _plain(run)
    least = proposed_size(tried, load_a, rating_a, facts.ahead_kind, round_up, run.material)
    if least is None or run.size is None:
        table_size(rating_a, material, run)  # raises above the table
        return None
    return _adequate(rating_a, material, run.size, run.edition, least)


def equipment_grounding(facts: EgcFacts) -> Verdict:
    """Size of the equipment grounding conductor (GND-3): by the device ahead, of a tap by the feeder's device, and in
    proportion where the phase conductors are larger than they need to be."""
    run = facts.run
    cited = section("GND-3G" if facts.tap else "GND-3", run.edition)
    if facts.size == "raceway":
        return raceway_grounding(
            RacewayGroundFacts(
                run.subject, run.edition, run.raceway, facts.trade_size, facts.length, facts.ahead, facts.rating, cited,
                facts.assumed,
            )
        )  # fmt: skip
    if facts.rating.value is None and facts.rating.most is None:
        sentence = (
            f"The size that the grounding conductor of {run.subject.name} needs is not known yet: it follows the rating of "
            f"{facts.ahead.name}."
        )
        return judged("GND-3", run.subject, run.edition,
                      [Condition("unknown", sentence, needs=facts.rating.needs)], section=cited)  # fmt: skip
    materials = (facts.material,) if facts.material else MATERIALS
    try:
        found = [_decide(facts, m) for m in materials]
    except tables.NotInTable:
        table, ahead = section("TABLE-egc", run.edition), rated(facts.ahead.name, facts.rating)
        text = (
            f"The grounding conductor of {run.subject.name} is for the authority: {table} has no size behind {ahead}."
        )
        return verdict("GND-3", run.subject, run.edition, "judge", text, section=cited)
    condition, lines = _over_materials(facts, found)
    condition = but(condition, assumed=facts.resting_on, basis=weakest(run.basis, facts.rating.basis))
    remedy = condition.cure if condition.state != "pass" else ""
    return judged("GND-3", run.subject, run.edition, [condition], section=cited, remedy=remedy, work=lines,
                  others=(facts.ahead.id,))  # fmt: skip


def _over_materials(
    facts: EgcFacts, found: Sequence[tuple[Condition, tuple[WorkLine, ...]]]
) -> tuple[Condition, tuple[WorkLine, ...]]:
    """The answer for a grounding conductor whose material may not be known: the same for each, or open."""
    if len(found) == 1:
        return found[0]
    name = facts.run.subject.name
    # Of those that say the same, the one that asks for the larger conductor.
    condition, lines = max(found, key=lambda f: f[0].limit or 0.0)
    if len({c.state for c, _ in found}) > 1:
        need = f"material of the grounding conductor of {name}"
        text = f"Whether the grounding conductor of {name} is large enough is not known yet: its material decides."
        both = tuple(
            looked_up(c.message.removesuffix("."), m, "") for (c, _), m in zip(found, MATERIALS, strict=True)
        )  # fmt: skip
        return replace(condition, state="unknown", needs=(need,), message=text), (*lines, *both)
    either = " or ".join(c.must for c, _ in found)
    return replace(
        condition, message=condition.message.replace(condition.must, either),
        cure=condition.cure.replace(condition.must, either),
    ), lines  # fmt: skip


def _possible_ratings(facts: EgcFacts) -> tuple[float, ...]:
    """Ratings that the device ahead may have: its own, or every standard one between the bounds."""
    if facts.rating.value is not None:
        return (facts.rating.value,)
    high_a = facts.rating.most if facts.rating.most is not None else facts.rating.least
    assert high_a is not None
    low_a = facts.rating.least or 0.0
    standard = tables.standard_ratings(facts.run.edition, facts.ahead_kind)
    return tuple(sorted({high_a, *([low_a] if low_a else []), *(a for a in standard if low_a < a < high_a)}))


def _size_range(facts: EgcFacts, material: str) -> tuple[EgcSize, EgcSize | None]:
    """Least and largest size that the unknowns leave; the largest ``None`` where it cannot be told.

    Every possible rating is tried: a larger device needs a larger grounding conductor, but a smaller one makes the phase
    conductors count as upsized. So do terminals for a higher temperature: both ends of what they may be are tried.
    """
    run, load = facts.run, facts.load
    low_c, high_c = terminal_range(run)
    colder, hotter = (run if run.terminal_c == c else but(run, terminal_c=float(c)) for c in (low_c, high_c))
    lows: list[EgcSize] = []
    highs: list[EgcSize | None] = []
    for rating_a in _possible_ratings(facts):
        least = None if load.most is None else _needed(facts, colder, rating_a, material, load.most, round_up=False)
        lows.append(least or table_size(rating_a, material, run))
        highs.append(_needed(facts, hotter, rating_a, material, load.least or 0.0, _own_conditions(run.edition)))
    known = [size for size in highs if size is not None]
    largest = max(known, key=_area) if len(known) == len(highs) else None
    return min(lows, key=_area), largest


def _own_conditions(edition: int) -> bool:
    """Whether conductors that are larger only for their ambient or bundling do not count as upsized."""
    return tables.applies("egc_upsized_not_for_correction", edition)


def _area(found: EgcSize) -> float:
    return tables.area_cmil(found.size)


def _decide(facts: EgcFacts, material: str) -> tuple[Condition, tuple[WorkLine, ...]]:
    """The condition for one material: against the least and the largest size that the unknowns leave."""
    run, name = facts.run, facts.run.subject.name
    smallest, largest = _size_range(facts, material)
    each = " in each raceway" if (run.sets or 1) > 1 else ""
    wanted = f"{size_text((largest or smallest).size, material)}{each}"
    ahead = rated(facts.ahead.name, facts.rating)
    lines = (largest or smallest).lines
    if largest is not None and largest.baseline and not any(line.what == _BASELINE for line in lines):
        lines = (*lines, looked_up(_BASELINE, largest.baseline, "", section("AMP-1", run.edition)))
    cure = f"Use {wanted}."
    if facts.size is None:
        text = f"The grounding conductor of {name} is not known yet; behind {ahead} it needs {wanted}."
        need = f"equipment grounding conductor of {name}"
        return Condition("unknown", text, needs=(need,), cure=cure, must=wanted), lines
    if facts.size == "none":
        text = f"{name} has no equipment grounding conductor; behind {ahead} it needs {wanted}."
        return Condition("fail", text, cure=cure, must=wanted), lines
    have = tables.area_cmil(facts.size)
    has = f"The grounding conductor of {name} is {size_text(facts.size, facts.material)}{each}"
    asks = f"{wanted} that it needs behind {ahead}"
    area = {"value": have, "limit": tables.area_cmil((largest or smallest).size), "unit": "cmil",
            "relation": "at least"}  # fmt: skip
    # It is never asked to be larger than the circuit conductors: while their size is not known, none is too small.
    if have < tables.area_cmil(smallest.size) and run.size is not None:
        return Condition("fail", f"{has}, smaller than the {asks}.", cure=cure, must=wanted, **area), lines  # type: ignore[arg-type]
    if run.size is not None and have >= tables.area_cmil(run.size) and largest is None:
        text = f"{has}, as large as the circuit conductors, and never needs to be larger."
        return Condition("pass", text, must=wanted, **{**area, "limit": tables.area_cmil(run.size)}), lines  # type: ignore[arg-type]
    if largest is not None and have >= tables.area_cmil(largest.size):
        just = "just the" if have == area["limit"] else "larger than the"
        return Condition("pass", f"{has}, {just} {asks}.", must=wanted, **area), lines  # type: ignore[arg-type]
    low_c, high_c = terminal_range(run)
    known = facts.load.value is not None and facts.rating.value is not None and low_c == high_c
    if largest is not None and known:
        text = (
            f"{has}, smaller than the {asks}, where {size_text(largest.baseline)} phase conductors would do. Whether "
            f"those installed count as upsized is for the authority."
        )
        return Condition("judge", text, cure=cure, must=wanted, **area), lines  # type: ignore[arg-type]
    # Of a tap only the device and the size of its conductors count.
    of_run = () if facts.tap else (*facts.load.needs, *ampacity(run).fact(name).needs)
    size = (f"conductor size of {name}",) if run.size is None else ()
    terminals = (f"terminal temperature of {name}",) if low_c != high_c and not facts.tap else ()
    needs = unique((*size, *of_run, *facts.rating.needs, *terminals)) or (f"conductor size of {name}",)
    text = (
        f"Whether the grounding conductor of {name} is large enough is not known yet: it is "
        f"{size_text(facts.size, facts.material)}{each}, and behind {ahead} it may need {wanted}."
    )
    return Condition("unknown", text, needs=needs, must=wanted, **area), lines  # type: ignore[arg-type]


# --------------------------------------------------------------------------------------- jumpers and electrodes
@dataclass(frozen=True)
class JumperFacts:
    """Conductors ahead of an overcurrent device and the bonding conductor or neutral with them, sized by area.

    ``what``: "supply-side bonding jumper" or "neutral". ``size``: its trade size, "none" or ``None``. ``in_one``: sets that
    lie in one raceway, 0 where all do, ``None`` while it is not known; each raceway goes by the conductors in it.
    """

    run: RunFacts
    what: str
    size: str | None
    material: str | None = None
    in_one: int | None = 0

    @property
    def apart(self) -> bool:
        """Whether the sets are known to lie in several raceways."""
        return bool(self.in_one) and self.in_one != self.run.sets

    @property
    def together(self) -> int:
        """Sets whose conductors count together."""
        return self.in_one or self.run.sets or 1


#: Citation by (neutral of a service, sets in several raceways).
_JUMPER_SECTIONS = {
    (False, False): "GND-4", (False, True): "GND-4-parallel",
    (True, False): "GND-1-neutral", (True, True): "GND-1-neutral-parallel",
}  # fmt: skip


def jumper_size(run: RunFacts, material: str | None = None, together: int | None = None) -> tables.BondingJumper:
    """Least bonding jumper or grounded service conductor for as many sets, by default all. Raises ``tables.NotInTable``."""
    assert run.size is not None
    assert run.material is not None
    sets = together or run.sets or 1
    return tables.bonding_jumper(tables.area_cmil(run.size) * sets, run.material, material or run.material)


@lru_cache(maxsize=2048)
def supply_side_jumper(facts: JumperFacts) -> Verdict:
    """Supply-side bonding jumper (GND-4), or neutral of a service (GND-1), against Table 250.102(C)(1)."""
    run, name = facts.run, facts.run.subject.name
    rule = "GND-1" if facts.what == "neutral" else "GND-4"
    cited = section(_JUMPER_SECTIONS[facts.what == "neutral", facts.apart], run.edition)
    if run.size is None or run.material is None or run.sets is None:
        sentence = f"The size that the {facts.what} of {name} needs is not known yet: it follows its phase conductors."
        unknown = Condition("unknown", sentence, needs=_missing_conductor(run))
        return judged(rule, run.subject, run.edition, [unknown], section=cited)
    if facts.in_one is None:
        return _however_laid(facts)
    if facts.what != "neutral" and facts.material is None and facts.size not in (None, "none"):
        return _of_either_material(facts)
    try:
        found = jumper_size(run, facts.material, facts.together)
    except tables.NotInTable:
        table = section("TABLE-bonding", run.edition)
        text = f"The {facts.what} of {name} is for the authority: {table} has no size for its conductors."
        return verdict(rule, run.subject, run.edition, "judge", text, section=cited)
    where = "in each raceway" if facts.apart else "in all"
    what = f"Ungrounded conductors of one phase{' in one raceway' if facts.apart else ''}"
    total = computed(what, "sets * each_cmil", "cmil", cited,
                     sets=facts.together, each_cmil=tables.area_cmil(run.size))  # fmt: skip
    lines = (total, looked_up(f"Least {facts.what}", found.area_cmil, "cmil", section("TABLE-bonding", run.edition)))
    wanted = size_text(found.size, facts.material or run.material) if found.size else f"{number(found.area_cmil)} cmil"
    if facts.size is None:
        if facts.what != "neutral" and facts.material is None:
            either = [jumper_size(run, m, facts.together) for m in MATERIALS] if not found.by_fraction else [found]
            wanted = listed([size_text(f.size, m) for f, m in zip(either, MATERIALS, strict=False) if f.size], "or")
        text = f"The {facts.what} of {name} is not known yet; it needs {wanted} {where}."
        need = f"neutral size of {name}" if facts.what == "neutral" else f"{facts.what} of {name}"
        unknown = Condition("unknown", text, needs=(need,))
        return judged(rule, run.subject, run.edition, [unknown], section=cited, work=lines)
    have = 0.0 if facts.size == "none" else tables.area_cmil(facts.size) * facts.together
    has = f"{name} has no {facts.what}"
    if facts.size != "none":
        each = size_text(facts.size, facts.material or run.material, facts.together)
        has = f"The {facts.what} of {name} is {each}{' in each raceway' if facts.apart else ''}"
    enough = have >= found.area_cmil
    gap = "just" if have == found.area_cmil else "more than" if enough else "less than"
    text = f"{has}, {gap} the {wanted} it needs {where}." if have else f"{has}; it needs {wanted} {where}."
    condition = Condition("pass" if enough else "fail", text, have, found.area_cmil, "cmil", "at least")
    remedy = f"Use {wanted} {where}." if condition.state == "fail" else ""
    return judged(rule, run.subject, run.edition, [condition], section=cited, work=lines, remedy=remedy)


def _however_laid(facts: JumperFacts) -> Verdict:
    """Parallel sets of which nobody said how many lie in one raceway: one in each asks for the most, all in one for the
    least."""
    apart, together = (supply_side_jumper(replace(facts, in_one=n)) for n in (1, 0))
    if apart.state == together.state:
        return together if facts.size is None else apart
    need = f"number of sets of {facts.run.subject.name} in one raceway"
    text = (
        f"Whether the {facts.what} of {facts.run.subject.name} is large enough is not known yet: the number of sets in one "
        f"raceway decides."
    )
    needs = unique((*together.needs, *apart.needs, need))
    return apart.but(state="unknown", message=text, needs=needs, remedy="", value=None, limit=None)


def _of_either_material(facts: JumperFacts) -> Verdict:
    """A bonding jumper whose material nobody entered: the same answer for each, or open until it is known."""
    each = [supply_side_jumper(replace(facts, material=m)) for m in MATERIALS]
    if len({v.state for v in each}) == 1:
        # Of those that say the same, the one that asks for the larger conductor.
        return max(each, key=lambda v: v.limit or 0.0)
    run, name = facts.run, facts.run.subject.name
    need = f"material of the {facts.what} of {name}"
    text = (
        f"Whether the {facts.what} of {name}, {size_text(facts.size, None, run.sets)}, is large enough is not known yet: its "
        f"material decides."
    )
    lines = tuple(looked_up(v.message.removesuffix("."), m, "") for v, m in zip(each, MATERIALS, strict=True))
    return verdict("GND-4", run.subject, run.edition, "unknown", text, needs=(need,), work=lines)


def _missing_conductor(run: RunFacts) -> tuple[str, ...]:
    """What is not known of a run's phase conductors."""
    asked = (("conductor size", run.size), ("conductor material", run.material), ("number of sets", run.sets))
    return tuple(f"{what} of {run.subject.name}" for what, known in asked if known is None)


@lru_cache(maxsize=1024)
def electrode_conductor(service: Subject, run: RunFacts) -> Verdict:
    """Grounding electrode conductor that a service needs (GND-2), by its largest ungrounded conductors."""
    if run.size is None or run.material is None or run.sets is None:
        sentence = (
            f"The size that the grounding electrode conductor of {service.name} needs is not known yet: it follows "
            f"{run.subject.name}."
        )
        unknown = Condition("unknown", sentence, needs=_missing_conductor(run))
        return judged("GND-2", service, run.edition, [unknown])
    total = computed("Ungrounded conductors of one phase", "sets * each_cmil", "cmil",
                     sets=run.sets, each_cmil=tables.area_cmil(run.size))  # fmt: skip
    size = tables.gec_size(float(total.value or 0), run.material)
    text = (
        f"{service.name} needs a grounding electrode conductor of at least {size_text(size, 'copper')} for its "
        f"{size_text(run.size, run.material, run.sets)} conductors. To rods alone a smaller one is enough."
    )
    line = looked_up("Grounding electrode conductor", size, "", section("TABLE-gec", run.edition))
    check = f"Size and landing of the grounding electrode conductor of {service.name}."
    return verdict("GND-2", service, run.edition, "advice", text, work=(total, line), field_checks=(check,))
