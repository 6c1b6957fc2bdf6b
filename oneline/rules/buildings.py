"""Feeders to a second building or structure (225.30 to 225.39, 250.32): supplies, disconnects, rating, grounding."""

from __future__ import annotations

from dataclasses import dataclass

from oneline import tables
from oneline.rules.common import (
    Condition,
    Fact,
    Subject,
    amperes,
    at_least,
    bounded_amperes,
    compared,
    judged,
    listed,
    section,
    unique,
)
from oneline.rules.verdict import Verdict

#: Part of the rule in edition_starts.csv: several feeders from the same equipment.
_SEVERAL = "outside_feeders_several"


@dataclass(frozen=True)
class BuildingDisconnect:
    """A disconnect at the building that a feeder ends in. ``marked``: suitable as service equipment."""

    item: Subject
    marked: bool | None
    rating: Fact


@dataclass(frozen=True)
class OutsideFeeder:
    """A feeder to the building. ``start``: id of the equipment that it starts from, "" not known. ``grounding``: its
    equipment grounding conductor: a size, "raceway", "none" or ``None`` unknown. ``existing``: status of the run."""

    item: Subject
    start: str
    grounding: str | None
    existing: bool
    disconnects: tuple[BuildingDisconnect, ...]
    #: What it ends in is not drawn.
    open: bool = False


@dataclass(frozen=True)
class BuildingFacts:
    """A second building and all its feeders. ``load``: largest phase of all together, amperes."""

    name: str
    edition: int
    feeders: tuple[OutsideFeeder, ...]
    load: Fact
    has_neutral: bool | None = None

    @property
    def subject(self) -> Subject:
        return self.feeders[0].item


def second_building(facts: BuildingFacts) -> Verdict:
    """SVC-9: one supply or one of the cases for more, a disconnect at the building, its rating and marking, an equipment
    grounding conductor with each feeder."""
    conditions = [
        _supplies(facts), *_disconnects(facts), *_marked(facts), *_rating(facts),
        *(_grounding(facts, f) for f in facts.feeders),
    ]  # fmt: skip
    musts = unique(c.must for c in conditions if c.state == "fail" and c.must)
    others = unique(i for f in facts.feeders for i in (f.item.id, *(d.item.id for d in f.disconnects)))
    checks = [
        f"Building disconnect of {facts.name}: readily accessible, outside or inside nearest the entrance, marked."
    ]
    if len(facts.feeders) > 1:
        checks.append(
            f"Plaque at each disconnect of {facts.name} naming the others ({section('SVC-9-supplies', facts.edition)})."
        )
    passes = f"{facts.name} is fed as a second building must be: {listed([f.item.name for f in facts.feeders])}."
    return judged(
        "SVC-9", facts.subject, facts.edition, conditions, pass_message=passes, field_checks=tuple(checks), others=others,
        remedy=f"{facts.name} must {listed(musts)}." if musts else "",
    )  # fmt: skip


def _supplies(facts: BuildingFacts) -> Condition:
    count, name = len(facts.feeders), facts.name
    if count == 1:
        return Condition("pass", f"{name} has one feeder, {facts.feeders[0].item.name}.")
    names = listed([f.item.name for f in facts.feeders])
    most = int(tables.limit_value("outside_feeders_max"))
    starts = {f.start for f in facts.feeders}
    if tables.applies(_SEVERAL, facts.edition) and count <= most and len(starts) == 1 and "" not in starts:
        several = [f.item.name for f in facts.feeders if len(f.disconnects) > 1]
        if not several and not any(f.open for f in facts.feeders):
            text = (
                f"{name} has {count} feeders from the same equipment, {names}, each with one disconnect, of "
                f"{most} at most."
            )
            return Condition("pass", text)
    text = f"{name} has {count} feeders, {names}, and more than one supply needs a reason."
    return Condition("judge", text, needs=(f"reason for more than one feeder to {name}",))


def _disconnects(facts: BuildingFacts) -> list[Condition]:
    name = facts.name
    count = sum(len(f.disconnects) for f in facts.feeders)
    most = int(tables.limit_value("second_building_disconnects_max"))
    cited = section("SVC-9-count", facts.edition)
    found: list[Condition] = []
    for feeder in facts.feeders:
        if feeder.disconnects:
            continue
        if feeder.open:
            text = f"What {feeder.item.name} ends in at {name} is not known yet: a disconnect belongs there."
            found.append(Condition("unknown", text, needs=(f"disconnect of {feeder.item.name} at {name}",)))
        else:
            text = f"{feeder.item.name} has no disconnect at {name}."
            found.append(Condition("fail", text, must=f"have a disconnect for {feeder.item.name}"))
    if count > most:
        text = f"{name} has {count} disconnects, {count - most} more than the {most} allowed ({cited})."
        found.append(
            Condition(
                "fail",
                text,
                float(count),
                float(most),
                "disconnects",
                "at most",
                must=f"have at most {most} disconnects",
            )
        )
    elif count:
        found.append(Condition("pass", f"{name} has {count} disconnect{'s' if count > 1 else ''}, of {most} at most."))
    return found


def _marked(facts: BuildingFacts) -> list[Condition]:
    devices = [d for f in facts.feeders for d in f.disconnects]
    missing = [d.item.name for d in devices if d.marked is False]
    unseen = [d.item.name for d in devices if d.marked is None]
    if missing:
        text = f"{listed(missing)}, disconnect of {facts.name}, is not marked suitable as service equipment."
        return [Condition("fail", text, must="have disconnects marked suitable as service equipment")]
    if unseen:
        text = (
            f"Whether {listed(unseen)}, disconnect of {facts.name}, is marked suitable as service equipment is not known "
            f"yet."
        )
        return [Condition("unknown", text, needs=tuple(f"service equipment marking on {n}" for n in unseen))]
    return []


def _rating(facts: BuildingFacts) -> list[Condition]:
    """The disconnects together at least the load and the least rating."""
    devices = [d for f in facts.feeders for d in f.disconnects]
    if not devices:
        return []
    need, *also = unique(n for d in devices for n in d.rating.needs) or ("",)
    known = [d.rating.value for d in devices if d.rating.value is not None]
    total = (
        Fact(sum(known)) if len(known) == len(devices) else Fact(None, sum(known), None, need=need, also=tuple(also))
    )
    least = tables.limit_value("second_building_rating_min_a")
    many = len(devices) > 1
    what, has = (f"The disconnects of {facts.name}", "have") if many else (f"The disconnect of {facts.name}", "has")
    smallest = at_least(
        total, Fact(least), f"{what} {has} a rating of {bounded_amperes(total)}; {amperes(least)} is the least.",
        must=f"have disconnects of at least {amperes(least)}",
    )  # fmt: skip
    if smallest.state == "fail":
        smallest = Condition("judge", f"{smallest.message} Smaller is for a few small circuits only.")
    words = compared(total, facts.load)
    text = f"Whether {what[:1].lower() + what[1:]} {'are' if many else 'is'} large enough is not known yet."
    if words is not None:
        text = f"{what} {has} a rating of {words.value}, {words.gap} the {words.limit} of its calculated load."
    return [smallest, at_least(total, facts.load, text, must="have disconnects large enough for the load")]


def _grounding(facts: BuildingFacts, feeder: OutsideFeeder) -> Condition:
    """An equipment grounding conductor with the feeder; the neutral stood in for it in old work only."""
    name = feeder.item.name
    cited = section("SVC-9-bond", facts.edition)
    if feeder.grounding is None:
        text = f"Whether {name} brings an equipment grounding conductor to {facts.name} is not known yet."
        return Condition("unknown", text, needs=(f"equipment grounding conductor of {name}",))
    if feeder.grounding != "none":
        return Condition("pass", f"{name} brings an equipment grounding conductor to {facts.name}.")
    text = f"{name} brings no equipment grounding conductor to {facts.name} ({cited})."
    if feeder.existing and facts.has_neutral is not False:
        said = f"{text} Old feeders may use the neutral for it, where no metal path runs in parallel."
        return Condition("judge", said)
    return Condition("fail", text, must=f"have an equipment grounding conductor with {name}")
