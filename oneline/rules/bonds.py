"""Where the neutral is bonded: at the service or the transformer once, nowhere behind."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from oneline import tables
from oneline.model.quick import quick
from oneline.rules.common import Subject, listed, quantity, section, sentences, unique, verdict
from oneline.rules.verdict import Verdict


@quick
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
    #: A second building whose old feeder brings no equipment grounding conductor, "" otherwise (250.32(B)).
    building: str = ""
    #: Volts read between neutral and ground there, and amperes in the neutral at the same time; ``None``: not read.
    neutral_ground_v: float | None = None
    neutral_a: float | None = None
    #: A meter enclosure; whether its service disconnect has ground-fault protection, ``None`` not known.
    meter: bool = False
    ground_fault_protection: bool | None = None


def bond_need(place: str) -> str:
    """What to look for where a bond may be."""
    return f"neutral bond at {place}: in or out"


_FIELD_CHECK = (
    "Lift the neutral with the power off and test neutral to ground before relying on it. With load on, a clamp on the "
    "grounding conductor shows neutral current where there is a second bond."
)
_CONSEQUENCE = "Neutral current then returns over enclosures and raceways, and ground-fault protection is fooled."


@lru_cache(maxsize=2048)
def load_side_bond(facts: BondFacts) -> Verdict:
    """A neutral bond on the load side of the one that belongs (GND-5)."""
    place, behind = facts.place, facts.behind
    assert behind is not None
    others = (behind.id, facts.source.id)
    if facts.bonded and facts.building:
        text = (
            f"The neutral is bonded at {place.name}, in {facts.building}, whose old feeder brings no equipment grounding "
            f"conductor. That may stay only while no metal path runs in parallel and no ground-fault protection is ahead."
        )
        check = (
            f"Metal water pipe, raceway or shield between the buildings in parallel with the neutral of {place.name}."
        )
        cited = section("SVC-9-bond", facts.edition)
        return verdict(
            "GND-5", place, facts.edition, "judge", text, others=others, field_checks=(check,), section=cited
        )  # fmt: skip
    if facts.bonded and facts.meter and facts.ground_fault_protection is not True:
        return _at_meters(facts, others)
    if facts.bonded:
        text = (
            f"The neutral is bonded to the enclosure at {place.name}, on the load side of {behind.name}. {_CONSEQUENCE}"
        )
        remedy = "Take out the bonding screw or strap there, and keep neutrals and grounds on separate bars."
        return verdict(
            "GND-5", place, facts.edition, "fail", text, remedy=remedy, others=others, field_checks=(_FIELD_CHECK,)
        )
    if facts.bonded is None:
        text = f"Whether the neutral is bonded at {place.name} is not known yet; behind {behind.name} it must not be."
        need = bond_need(place.name)
        text = sentences(text, reading_words(facts)[1])
        return verdict(
            "GND-5", place, facts.edition, "unknown", text, needs=(need,), others=others, field_checks=(_FIELD_CHECK,)
        )
    points_to, words = reading_words(facts)
    if points_to:
        text = f"{place.name} is entered without a neutral bond behind {behind.name}. {words}"
        return verdict("GND-5", place, facts.edition, "judge", text, others=others, field_checks=(_FIELD_CHECK,))
    text = f"{place.name} has no neutral bond, as it should be behind {behind.name}."
    return verdict("GND-5", place, facts.edition, "pass", text, others=others)


def reading_words(facts: BondFacts) -> tuple[bool, str]:
    """What a reading between neutral and ground tells of a bond: whether it points to one, and in words; "" for nothing.

    Only while the neutral is loaded: without current in it there is no voltage, bonded or not.
    """
    volts, amps = facts.neutral_ground_v, facts.neutral_a
    if volts is None:
        return False, ""
    if amps is None or amps < tables.limit_value("bond_reading_load_a"):
        return False, ""
    read = f"{quantity(volts, 'V')} was read there between neutral and ground with {quantity(amps, 'A')} in the neutral"
    if volts <= tables.limit_value("bond_reading_zero_v"):
        return True, f"{read[:1].upper()}{read[1:]}, which points to a bond at or near it."
    return False, f"{read[:1].upper()}{read[1:]}, which speaks against a bond right there."


def _at_meters(facts: BondFacts, others: tuple[str, ...]) -> Verdict:
    """Meter enclosures on the load side of the service disconnect may stay bonded (250.142(B), exception)."""
    place = facts.place
    text = (
        f"The neutral is bonded at the meters of {place.name}, on the load side of the service disconnect. That may "
        f"stay only immediately beside that disconnect, without ground-fault protection, and with a neutral no smaller than "
        f"the equipment grounding conductor would be."
    )
    needs: tuple[str, ...] = ()
    if facts.ground_fault_protection is None and facts.behind is not None:
        needs = (f"ground-fault protection of {facts.behind.name}: present or not",)
    check = f"{place.name} stands immediately beside the service disconnect."
    return verdict("GND-5", place, facts.edition, "judge", text, needs=needs, others=others, field_checks=(check,))


@lru_cache(maxsize=512)
def frame_grounded_by_neutral(load: Subject, edition: int, household: bool, existing: bool) -> Verdict:
    """The frame of a load grounded by its neutral (GND-5): only existing circuits of household ranges and dryers (250.140).

    ``household``: a household cooking appliance or dryer; ``existing``: on an existing circuit.
    """
    if household and existing:
        text = (
            f"The frame of {load.name} is grounded by its neutral, which an existing circuit may keep: a neutral of enough "
            f"size, insulated or from the service equipment itself, and no equipment grounding conductor at the outlet."
        )
        check = f"Outlet of {load.name}: three-wire, its neutral's size, and where its cable starts."
        cited = section("GND-5-frames", edition)
        return verdict("GND-5", load, edition, "judge", text, field_checks=(check,), section=cited)
    why = "is a new circuit" if household else "is neither a household range nor a dryer on an existing circuit"
    text = f"The frame of {load.name} is grounded by its neutral, and it {why}. {_CONSEQUENCE}"
    remedy = f"Run an equipment grounding conductor to {load.name} and take the strap off its frame."
    return verdict("GND-5", load, edition, "fail", text, remedy=remedy, section=section("GND-5-frames", edition))


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
        check = f"The grounding electrode conductor of {source.name} lands at {bonded[0].name}, where the bond is."
        return verdict(rule, source, edition, "pass", text, others=others, field_checks=(check,) if derived else ())
    if open_places or not places:
        names = [p.name for p in open_places] or [source.name]
        text = f"Where the neutral of {source.name} is bonded is not known yet."
        needs = tuple(bond_need(n) for n in names)
        return verdict(rule, source, edition, "unknown", text, needs=needs, others=others)
    text = f"The neutral of {source.name} is bonded nowhere between it and its first disconnect."
    first = places[0][0].name
    return verdict(rule, source, edition, "fail", text, remedy=f"Fit the bonding jumper at {first}.", others=others)
