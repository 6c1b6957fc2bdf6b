"""Equipment grounding conductors, bonding jumpers, grounding electrode conductors, and where the neutral is bonded."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

from oneline import tables
from oneline.model.vocabulary import MATERIALS
from oneline.rules.ampacity import RunFacts
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
)
from oneline.rules.overcurrent import propose_conductor
from oneline.rules.verdict import Verdict, WorkLine

_BASELINE = "Smallest adequate phase conductor"


@dataclass(frozen=True)
class EgcFacts:
    """An equipment grounding conductor and the circuit it runs with.

    ``rating``: overcurrent device ahead, amperes; for a tap that of the feeder. ``size``: trade size, "none",
    "raceway", or ``None``. ``load``: calculated load, amperes, which bounds the smallest adequate conductor.
    """

    run: RunFacts
    ahead: Subject
    rating: Fact
    size: str | None
    material: str | None
    load: Fact
    tap: bool = False
    ahead_kind: str = "breaker"


@dataclass(frozen=True)
class EgcSize:
    """Least equipment grounding conductor: trade size, worksheet, and the smallest adequate phase conductor used."""

    size: str
    lines: tuple[WorkLine, ...]
    baseline: str | None = None


def table_size(rating_a: float, material: str, run: RunFacts) -> EgcSize:
    """Size by Table 250.122, never larger than the circuit conductors. Raises ``tables.NotInTable`` above the table."""
    size = tables.egc_size(rating_a, material)
    source = section("TABLE-egc", run.edition)
    lines = (looked_up(f"Grounding conductor for {amperes(rating_a)}, {material}", size, "", source),)
    if run.size is not None and tables.area_cmil(size) > tables.area_cmil(run.size):
        capped = looked_up("Not larger than the circuit conductors", run.size, "", section("GND-3", run.edition))
        return EgcSize(run.size, (*lines, capped))
    return EgcSize(size, lines)


def proportional_size(base: EgcSize, run: RunFacts, baseline: str) -> EgcSize:
    """Size raised in proportion to the phase conductors, ``baseline`` being their smallest adequate size."""
    assert run.size is not None
    installed, least = tables.area_cmil(run.size), tables.area_cmil(baseline)
    if installed <= least:
        return replace(base, baseline=baseline)
    cited = section("GND-3", run.edition)
    ratio = computed("Phase conductors larger than needed", "installed_cmil / least_cmil", "",
                     cited, installed_cmil=installed, least_cmil=least)  # fmt: skip
    area = computed("Grounding conductor in proportion", "table_cmil * ratio", "cmil", cited,
                    table_cmil=tables.area_cmil(base.size), ratio=float(ratio.value or 1))  # fmt: skip
    size = tables.size_for_area(float(area.value or 0)) or run.size
    if tables.area_cmil(size) > installed:
        size = run.size
    chosen = looked_up("Next trade size", size, "", "Chapter 9 Table 8")
    least_line = looked_up(_BASELINE, baseline, "", section("AMP-1", run.edition))
    return EgcSize(size, (*base.lines, least_line, ratio, area, chosen), baseline)


def _plain(run: RunFacts) -> RunFacts:
    """The run at the conditions of the ampacity table: no correction, no adjustment."""
    ambient_c = tables.limit_value("ampacity_ambient_c")
    count = int(tables.limit_value("ampacity_conductors"))
    return replace(run, ambient_c=ambient_c, current_carrying=count, own_conductors=min(run.own_conductors, count))


def _needed(
    facts: EgcFacts, rating_a: float, material: str, load_a: float, corrected: bool = True, round_up: bool = True
) -> EgcSize | None:
    """Least size for given device and load; ``None`` where the smallest adequate phase conductor cannot be told.

    ``corrected``: the smallest adequate conductor is one under the run's own conditions. ``round_up``: it may be one
    that the device protects as the next size up.
    """
    base = table_size(rating_a, material, facts.run)
    if facts.tap:
        return base
    run = facts.run if corrected else _plain(facts.run)
    least = propose_conductor(run, load_a, rating_a, facts.ahead_kind, round_up)
    if least is None or least.size is None or facts.run.size is None:
        return None
    return proportional_size(base, facts.run, least.size)


@lru_cache(maxsize=4096)
def equipment_grounding(facts: EgcFacts) -> Verdict:
    """Size of the equipment grounding conductor (GND-3): by the device ahead, of a tap by the feeder's device, and in
    proportion where the phase conductors are larger than they need to be."""
    run = facts.run
    cited = section("GND-3G" if facts.tap else "GND-3", run.edition)
    if facts.size == "raceway":
        return _raceway_as_conductor(facts, cited)
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
    states = {c.state for c, _ in found}
    condition, lines = found[0]
    if len(states) > 1:
        name = run.subject.name
        need = f"material of the grounding conductor of {name}"
        text = f"Whether the grounding conductor of {name} is large enough is not known yet: its material decides."
        both = tuple(looked_up(c.message.removesuffix("."), m, "") for (c, _), m in zip(found, materials, strict=True))
        condition, lines = replace(condition, state="unknown", needs=(need,), message=text), (*lines, *both)
    remedy = condition.cure if condition.state != "pass" else ""
    return judged("GND-3", run.subject, run.edition, [condition], section=cited, remedy=remedy, work=lines,
                  others=(facts.ahead.id,))  # fmt: skip


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
    conductors count as upsized.
    """
    run, load = facts.run, facts.load
    lows: list[EgcSize] = []
    highs: list[EgcSize | None] = []
    for rating_a in _possible_ratings(facts):
        least = None if load.most is None else _needed(facts, rating_a, material, load.most, round_up=False)
        lows.append(least or table_size(rating_a, material, run))
        highs.append(_needed(facts, rating_a, material, load.least or 0.0, corrected=run.edition > 2017))
    known = [size for size in highs if size is not None]
    largest = max(known, key=_area) if len(known) == len(highs) else None
    return min(lows, key=_area), largest


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
        return Condition("unknown", text, needs=(need,), cure=cure), lines
    if facts.size == "none":
        text = f"{name} has no equipment grounding conductor; behind {ahead} it needs {wanted}."
        return Condition("fail", text, cure=cure), lines
    have = tables.area_cmil(facts.size)
    has = f"The grounding conductor of {name} is {size_text(facts.size, material)}{each}"
    asks = f"{wanted} that it needs behind {ahead}"
    area = {"value": have, "limit": tables.area_cmil((largest or smallest).size), "unit": "cmil",
            "relation": "at least"}  # fmt: skip
    if have < tables.area_cmil(smallest.size):
        return Condition("fail", f"{has}, smaller than the {asks}.", cure=cure, **area), lines  # type: ignore[arg-type]
    if largest is not None and have >= tables.area_cmil(largest.size):
        just = "just the" if have == area["limit"] else "larger than the"
        return Condition("pass", f"{has}, {just} {asks}.", **area), lines  # type: ignore[arg-type]
    if largest is not None and facts.load.value is not None and facts.rating.value is not None:
        text = (
            f"{has}, smaller than the {asks}, where {size_text(largest.baseline)} phase conductors would do. Whether "
            f"those installed count as upsized is for the authority."
        )
        return Condition("judge", text, cure=cure, **area), lines  # type: ignore[arg-type]
    needs = unique((*facts.load.needs, *facts.rating.needs)) or (f"conductor size of {name}",)
    text = (
        f"Whether the grounding conductor of {name} is large enough is not known yet: it is "
        f"{size_text(facts.size, material)}{each}, and behind {ahead} it may need {wanted}."
    )
    return Condition("unknown", text, needs=needs, **area), lines  # type: ignore[arg-type]


def _raceway_as_conductor(facts: EgcFacts, cited: str) -> Verdict:
    """The metal raceway serves as grounding conductor: its continuity is for the field."""
    run = facts.run
    name, kind = run.subject.name, run.raceway
    if kind is None:
        need = f"raceway of {name}"
        unknown = Condition("unknown", f"Whether the raceway of {name} can ground it is not known yet.", needs=(need,))
        return judged("GND-3", run.subject, run.edition, [unknown], section=cited)
    if kind in ("open", "within enclosure", "cable") or not tables.raceway_is_metal(kind):
        words = {"open": "no raceway", "within enclosure": "no raceway", "cable": "a cable"}.get(kind, kind)
        fails = f"{name} counts on its raceway for grounding, but {words} does not ground it."
        return verdict("GND-3", run.subject, run.edition, "fail", fails, section=cited,
                       remedy="Pull an equipment grounding conductor.")  # fmt: skip
    text = f"{name} is grounded by its {kind} alone, so every fitting of it has to be tight and continuous."
    check = f"Continuity of the metal raceway of {name}, end to end."
    return verdict("GND-7", run.subject, run.edition, "advice", text, field_checks=(check,))


# --------------------------------------------------------------------------------------- jumpers and electrodes
@dataclass(frozen=True)
class JumperFacts:
    """Conductors ahead of an overcurrent device and the bonding conductor or neutral with them, sized by area.

    ``what``: "supply-side bonding jumper" or "neutral". ``size``: its trade size, "none" or ``None``.
    """

    run: RunFacts
    what: str
    size: str | None
    material: str | None = None


def jumper_size(run: RunFacts, material: str | None = None) -> tables.BondingJumper:
    """Least bonding jumper or grounded service conductor for all sets of a run. Raises ``tables.NotInTable``."""
    assert run.size is not None
    assert run.material is not None
    return tables.bonding_jumper(tables.area_cmil(run.size) * (run.sets or 1), run.material, material or run.material)


@lru_cache(maxsize=2048)
def supply_side_jumper(facts: JumperFacts) -> Verdict:
    """Supply-side bonding jumper (GND-4), or neutral of a service (GND-1), against Table 250.102(C)(1)."""
    run, name = facts.run, facts.run.subject.name
    rule = "GND-1" if facts.what == "neutral" else "GND-4"
    cited = section("GND-4", run.edition)
    if run.size is None or run.material is None or run.sets is None:
        sentence = f"The size that the {facts.what} of {name} needs is not known yet: it follows its phase conductors."
        unknown = Condition("unknown", sentence, needs=_missing_conductor(run))
        return judged(rule, run.subject, run.edition, [unknown], section=cited)
    try:
        found = jumper_size(run, facts.material)
    except tables.NotInTable:
        table = section("TABLE-bonding", run.edition)
        text = f"The {facts.what} of {name} is for the authority: {table} has no size for its conductors."
        return verdict(rule, run.subject, run.edition, "judge", text, section=cited)
    total = computed("Ungrounded conductors of one phase", "sets * each_cmil", "cmil", cited,
                     sets=run.sets, each_cmil=tables.area_cmil(run.size))  # fmt: skip
    lines = (total, looked_up(f"Least {facts.what}", found.area_cmil, "cmil", section("TABLE-bonding", run.edition)))
    wanted = size_text(found.size, facts.material or run.material) if found.size else f"{number(found.area_cmil)} cmil"
    if facts.size is None:
        text = f"The {facts.what} of {name} is not known yet; it needs {wanted} in all."
        need = f"neutral size of {name}" if facts.what == "neutral" else f"{facts.what} of {name}"
        unknown = Condition("unknown", text, needs=(need,))
        return judged(rule, run.subject, run.edition, [unknown], section=cited, work=lines)
    have = 0.0 if facts.size == "none" else tables.area_cmil(facts.size) * run.sets
    has = f"{name} has no {facts.what}"
    if facts.size != "none":
        has = f"The {facts.what} of {name} is {size_text(facts.size, facts.material or run.material, run.sets)}"
    enough = have >= found.area_cmil
    gap = "just" if have == found.area_cmil else "more than" if enough else "less than"
    text = f"{has}, {gap} the {wanted} it needs in all." if have else f"{has}; it needs {wanted} in all."
    condition = Condition("pass" if enough else "fail", text, have, found.area_cmil, "cmil", "at least")
    remedy = f"Use {wanted} in all." if condition.state == "fail" else ""
    return judged(rule, run.subject, run.edition, [condition], section=cited, work=lines, remedy=remedy)


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


# ------------------------------------------------------------------------------------------ neutral bonds
@dataclass(frozen=True)
class BondFacts:
    """A place where the neutral may be bonded to the enclosure.

    ``behind``: the disconnect toward the source behind which it lies, ``None`` where it is at the first disconnect or
    ahead of it. ``source``: service, transformer or generator of the system. ``matters``: why it is asked, "" where a
    bond here is the one that belongs.
    """

    place: Subject
    edition: int
    bonded: bool | None
    behind: Subject | None
    source: Subject


def bond_need(place: str) -> str:
    """What to look for where a bond may be."""
    return f"neutral bond at {place}: in or out"


_CONSEQUENCE = "Neutral current then returns over enclosures and raceways, and ground-fault protection is fooled."


@lru_cache(maxsize=2048)
def load_side_bond(facts: BondFacts) -> Verdict:
    """A neutral bond on the load side of the one that belongs (GND-5)."""
    place, behind = facts.place, facts.behind
    assert behind is not None
    others = (behind.id, facts.source.id)
    if facts.bonded:
        text = (
            f"The neutral is bonded to the enclosure at {place.name}, on the load side of {behind.name}. {_CONSEQUENCE}"
        )
        remedy = "Take out the bonding screw or strap there, and keep neutrals and grounds on separate bars."
        check = "Lift the neutral with the power off and test neutral to ground before relying on it."
        return verdict("GND-5", place, facts.edition, "fail", text, remedy=remedy, others=others, field_checks=(check,))
    if facts.bonded is None:
        text = f"Whether the neutral is bonded at {place.name} is not known yet; behind {behind.name} it must not be."
        need = bond_need(place.name)
        return verdict("GND-5", place, facts.edition, "unknown", text, needs=(need,), others=others)
    text = f"{place.name} has no neutral bond, as it should be behind {behind.name}."
    return verdict("GND-5", place, facts.edition, "pass", text, others=others)


@lru_cache(maxsize=1024)
def service_bond(source: Subject, places: tuple[tuple[Subject, bool | None], ...], edition: int) -> Verdict:
    """The main bonding jumper of every service disconnect (GND-1).

    ``places``: each service disconnect, or the board that holds it, with whether the neutral is bonded there.
    """
    bonded, missing, open_places = (tuple(p for p, s in places if s is state) for state in (True, False, None))
    others = unique(p.id for p, _ in places)
    each = " Each service disconnect needs it." if len(others) > 1 else ""
    if missing:
        names = listed(unique(p.name for p in missing))
        text = f"The neutral of {source.name} is not bonded at {names}.{each}"
        return verdict(
            "GND-1", source, edition, "fail", text, remedy=f"Fit the bonding jumper at {names}.", others=others
        )
    if open_places:
        names = listed(unique(p.name for p in open_places))
        text = f"Whether the neutral of {source.name} is bonded at {names} is not known yet.{each}"
        needs = unique(bond_need(p.name) for p in open_places)
        return verdict("GND-1", source, edition, "unknown", text, needs=needs, others=others)
    text = f"The neutral of {source.name} is bonded at {listed(unique(p.name for p in bonded))}."
    return verdict("GND-1", source, edition, "pass", text, others=others)


@lru_cache(maxsize=1024)
def source_bond(
    source: Subject, derived: bool, places: tuple[tuple[Subject, bool | None], ...], edition: int
) -> Verdict:
    """The bond that belongs: at a service (GND-1), or once between a transformer and its first disconnect (GND-6).

    ``places``: everything from the source to the first disconnects, with whether the neutral is bonded there.
    """
    rule = "GND-6" if derived else "GND-1"
    bonded = [p for p, state in places if state]
    open_places = [p for p, state in places if state is None]
    others = tuple(p.id for p, _ in places)
    if derived and len(bonded) > 1:
        text = f"The neutral of {source.name} is bonded at {listed([p.name for p in bonded])}: one bond only. {_CONSEQUENCE}"
        remedy = f"Keep the bond at {bonded[0].name} and take out the others."
        return verdict(rule, source, edition, "fail", text, remedy=remedy, others=others)
    if bonded:
        text = f"The neutral of {source.name} is bonded at {listed([p.name for p in bonded])}."
        if derived and open_places:
            text = (
                f"Whether the neutral of {source.name} is bonded once only is not known yet: at "
                f"{listed([p.name for p in bonded])} it is, at {listed([p.name for p in open_places])} it may be too."
            )
            needs = tuple(bond_need(p.name) for p in open_places)
            return verdict(rule, source, edition, "unknown", text, needs=needs, others=others)
        return verdict(rule, source, edition, "pass", text, others=others)
    if open_places or not places:
        names = [p.name for p in open_places] or [source.name]
        text = f"Where the neutral of {source.name} is bonded is not known yet."
        needs = tuple(bond_need(n) for n in names)
        return verdict(rule, source, edition, "unknown", text, needs=needs, others=others)
    text = f"The neutral of {source.name} is bonded nowhere between it and its first disconnect."
    first = places[0][0].name
    return verdict(rule, source, edition, "fail", text, remedy=f"Fit the bonding jumper at {first}.", others=others)
