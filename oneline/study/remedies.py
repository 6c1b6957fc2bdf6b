"""Remedies that were tried: the smallest changes of a drawing after which a finding passes and no other becomes worse.

Every change is made to a copy, the copy is studied whole, and only what passes is offered. A change that settles the
finding but upsets another of the same conductors (a raceway that is then too full, a grounding conductor that is then too
small) is offered together with what puts that right. Where no single change helps the answer says so.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from oneline.model import Bus, ConductorRun, Disconnect, Drawing, edits, specs
from oneline.rules import secondary_taps, taps
from oneline.rules.common import feet_inches, number, quantity, size_text
from oneline.rules.verdict import Verdict
from oneline.study.remedy_choices import Family, families, fields_for, length_and_size
from oneline.study.remedy_panels import circuit_families, main_breakers
from oneline.study.trials import AddedMain, Change, Key, Steps, Trials, changed, costs, key_of, worse_than

#: States of findings that remedies are looked for.
REMEDIABLE = ("fail", "judge")
#: Remedies offered for one finding, and costs told beside one.
_OFFERED, _COSTS = 3, 2
#: What may be put right together with a change of conductors.
_COMPANIONS = (
    "size",
    "raceway_size",
    "egc_size",
    "neutral_size",
    "rating_a",
    "sccr_ka",
    "interrupting_ka",
    "breakers_ka",
)
_MOST_COMPANIONS = 4
#: Changes tried for one finding, and changes of one kind that settle it and upset others.
_MOST_TRIED, _MOST_UPSET = 160, 3
#: Fewest steps of a family for which its largest is tried first.
_WORTH_A_LOOK = 4
#: Values closer than this share of their limit read as the same.
_SAME = 1e-4
_UNITS = {"current_a": "A", "fault_ka": "kA", "power_kva": "kVA", "length_ft": "ft"}


@dataclass(frozen=True)
class Remedy:
    """A change that was tried and passes.

    ``text``: "Feeder LP: 6 AWG -> 4 AWG", to be read aloud. ``changes``: the fields set; ``after``: the drawing with them.
    ``costs``: what has less room then, as sentences. ``existing``: names of existing items that would be changed.
    ``then``: what the finding says afterwards, "" where it is gone.
    """

    text: str
    changes: tuple[Change, ...]
    after: Drawing
    costs: tuple[str, ...] = ()
    existing: tuple[str, ...] = ()
    then: str = ""

    @property
    def sentence(self) -> str:
        """The change and, in brackets, that existing equipment has to be changed for it."""
        if not self.existing:
            return self.text
        return f"{self.text} (existing: {', '.join(self.existing)} would have to be changed)"


@dataclass(frozen=True)
class Remedies:
    """What was found for one finding. ``tried``: how many changes were tried on the drawing."""

    verdict: Verdict
    found: tuple[Remedy, ...]
    tried: int

    @property
    def summary(self) -> str:
        """The answer as one line: what passes, or that no single change was found."""
        if self.found:
            return "; or ".join(r.sentence for r in self.found)
        if not self.tried:
            return "No change of a rating, a size or a length settles this."
        return f"No single change was found that settles this and makes nothing else worse ({self.tried} tried)."


def find_remedies(trials: Trials, verdict: Verdict, most: int = _OFFERED) -> Steps[Remedies]:
    """Look for remedies of one finding of ``trials``' drawing. Pauses often; ``trials.finish`` runs it to its end."""
    yield from trials.start()
    search = _Search(trials, verdict)
    found: list[Remedy] = []
    for family in search.families():
        remedy = yield from search.first_of(family)
        if remedy is not None:
            found.append(remedy)
    if not found:
        for family in length_and_size(trials.ctx, verdict, search.limits):
            remedy = yield from search.first_of(family)
            if remedy is not None:
                found.append(remedy)
    smallest = [r for r in found if not any(set(o.changes) < set(r.changes) for o in found)]
    smallest.sort(key=lambda r: (bool(r.existing), len(r.changes), len(r.costs)))
    return Remedies(verdict, tuple(smallest[:most]), search.tried)


class _Search:
    """One finding's search; counts what was tried."""

    def __init__(self, trials: Trials, verdict: Verdict) -> None:
        self.trials, self.verdict = trials, verdict
        self.tried = 0
        #: Rules tried beside each other for the same item.
        self.limits = [v for v in _all(trials.before) if v.alternative and v.subject == verdict.subject]

    def families(self) -> Iterator[Family]:
        """Families to try: fields of items, lines of a schedule, a main for a panel."""
        ctx, verdict = self.trials.ctx, self.verdict
        if verdict.rule == "PNL-7":
            yield from circuit_families(self.trials, verdict)
        yield from families(ctx, verdict, self.limits)
        if verdict.rule == "PNL-1":
            yield from main_breakers(self.trials, verdict)

    def first_of(self, family: Family) -> Steps[Remedy | None]:
        """The smallest change of a family that is accepted."""
        upset = 0
        if not (yield from self._moves(family)):
            return None
        for changes in family.steps:
            if self.tried >= _MOST_TRIED:
                return None
            self.tried += 1
            try:
                after = changed(self.trials.drawing, changes)
            except edits.EditRefused:
                continue
            now = yield from self.trials.about(after, self.verdict.rule)
            if self.trials.settled(self.verdict, now) is False:
                continue
            remedy = yield from self._accepted(changes, after)
            if remedy is not None:
                return remedy
            upset += 1
            if upset > _MOST_UPSET:  # larger steps of the same kind upset the same findings
                return None
        return None

    def _moves(self, family: Family) -> Steps[bool]:
        """Whether the finding reads the field at all: the largest step of a long family is tried first, and where the finding
        says the same then, the smaller ones need not be."""
        if len(family.steps) < _WORTH_A_LOOK or self.tried >= _MOST_TRIED:
            return True
        try:
            after = changed(self.trials.drawing, family.steps[-1])
        except edits.EditRefused:
            return True
        self.tried += 1
        now = yield from self.trials.about(after, self.verdict.rule)
        own = key_of(self.verdict)
        return not any(key_of(v) == own and _same(v, self.verdict) for v in _all(now))

    def _accepted(self, changes: tuple[Change, ...], after: Drawing) -> Steps[Remedy | None]:
        """The whole copy studied: a remedy when nothing is worse, else with what puts right what is."""
        findings = yield from self.trials.whole(after)
        settled = self.trials.settled(self.verdict, findings)
        if settled is False:
            return None
        new_items = frozenset(after.items.keys() - self.trials.drawing.items.keys())
        worse = worse_than(self.trials.before, findings, new_items)
        if not worse:
            return self._remedy(changes, after, findings, settled)
        if len(changes) > _MOST_COMPANIONS:
            return None
        more = yield from self._companion(changes, after, worse[0])
        if not more:
            return None
        return (yield from self._accepted((*changes, *more), changed(after, more)))

    def _companion(self, changes: tuple[Change, ...], after: Drawing, worse: Verdict) -> Steps[tuple[Change, ...]]:
        """The smallest further change that puts a finding right which the changes upset; () where there is none."""
        allowed = fields_for(worse.rule) or _COMPANIONS
        taken = {(c.item, c.field) for c in changes}
        if not isinstance(after.get(worse.subject), ConductorRun | Bus | Disconnect):
            return ()
        found = list(families(self.trials.context(after), worse))
        for family in found:
            if family.item != worse.subject or family.field not in _COMPANIONS or family.field not in allowed:
                continue
            if (family.item, family.field) in taken:
                continue
            for more in family.steps:
                if self.tried >= _MOST_TRIED:
                    return ()
                self.tried += 1
                again = yield from self.trials.about(changed(after, more), worse.rule)
                left = worse_than(self.trials.before, again)
                if not any(v.rule == worse.rule and v.subject == worse.subject for v in left):
                    return more
        return ()

    def _remedy(
        self, changes: tuple[Change, ...], after: Drawing, findings: Mapping[Key, list[Verdict]], settled: object
    ) -> Remedy:
        drawing = self.trials.drawing
        text = said(drawing, changes) + self._by_rule(findings)
        paid = costs(self.trials.before, findings, key_of(self.verdict))
        touched = dict.fromkeys(c.item for c in changes)
        existing = tuple(drawing.name_of(i) for i in touched if drawing.get(i).status == "existing")
        then = settled.message if isinstance(settled, Verdict) else ""
        return Remedy(text, changes, after, tuple(_cost(*c) for c in paid[:_COSTS]), existing, then)

    def _by_rule(self, findings: Mapping[Key, list[Verdict]]) -> str:
        """ " (25-ft rule)": the one of several rules that carries it then."""
        if not self.limits or self.verdict.alternative:
            return ""
        names = {**taps.RULE_NAMES, **secondary_taps.RULE_NAMES}
        own = [v for v in _all(findings) if v.alternative and v.subject == self.verdict.subject and v.state == "pass"]
        found = next((names[v.rule] for v in own if v.rule in names), "")
        return f" ({found})" if found else ""


def _same(one: Verdict, other: Verdict) -> bool:
    """Whether two findings say the same."""
    return (one.state, one.value, one.limit, one.message) == (other.state, other.value, other.limit, other.message)


def _all(before: Mapping[Key, Sequence[Verdict]]) -> Iterator[Verdict]:
    for group in before.values():
        yield from group


def _cost(old: Verdict, new: Verdict) -> str:
    assert old.value is not None
    assert old.limit is not None
    assert new.value is not None
    assert new.limit is not None
    limit = quantity(new.limit, new.unit, new.value)
    now = quantity(new.value, new.unit, old.value)
    section = new.section.partition(" (not confirmed")[0]
    start = f"{new.name}, {section}" + (" (fails already)" if new.state == "fail" else "")
    if abs(old.value - new.value) <= abs(old.limit) * _SAME:
        return f"{start}: {now}, {new.relation} {quantity(old.limit, old.unit, new.limit)} -> {limit}"
    return f"{start}: {quantity(old.value, new.unit, new.value)} -> {now}, {new.relation} {limit}"


_FIGURE = re.compile(r"\d[\d,./-]* ?(?:AWG|kcmil|kA|kVA|A|ft)\b")


def agrees(text: str, found: Remedies) -> bool:
    """Whether a rule's own words on what would help may stand beside what was tried: every figure in them is one of
    those that pass. Words without a figure explain and may stay."""
    # An ampacity in brackets is told, not offered.
    offered = _FIGURE.findall(re.sub(r"\([^()]*\)", "", text))
    parts = (part for r in found.found for part in (r.text.split("->")[1:] or [r.text]))
    passing = {f for part in parts for f in _FIGURE.findall(part)[:1]}
    return all(figure in passing for figure in offered)


# --------------------------------------------------------------------------------------------------------------- words
def said(drawing: Drawing, changes: Iterable[Change]) -> str:
    """Changes as one line: "Feeder LP: 6 AWG -> 4 AWG, raceway 1 -> 1-1/4"."""
    parts: list[str] = []
    last = ""
    for change in changes:
        name = drawing.name_of(change.item)
        if change.space is not None:
            name = f"{name} circuit {change.space}"
        words = _change_words(drawing, change)
        parts.append(words if name == last else f"{name}: {words}")
        last = name
    return ", ".join(parts)


_FLAGS = {
    ("neutral_bonded", False): "take out the neutral bond",
    ("neutral_bonded", True): "bond the neutral here",
    ("line_side_barrier", True): "fit a barrier over the line terminals",
    ("service_rated", True): "use equipment marked suitable as service equipment",
    ("full_rated", True): "use a device listed for 100 % continuous load",
    ("switched_neutral", True): "use one that switches the neutral",
    ("switched_neutral", False): "use one with a solid neutral",
}


def _change_words(drawing: Drawing, change: Change) -> str:
    if isinstance(change, AddedMain):
        rating = f", {quantity(change.interrupting_ka, 'kA')} interrupting rating" if change.interrupting_ka else ""
        return f"add a main of {quantity(change.value, 'A')}{rating}"
    flag = _FLAGS.get((change.field, change.value)) if isinstance(change.value, bool) else None
    if flag:
        return flag
    old = change.old(drawing)
    was, now = (_value_words(drawing, change, v) for v in (old, change.value))
    if change.field == "length_ft":
        return f"shorten to {feet_inches(change.value)} ({was} now)"
    if change.field == "bus_end":
        return "move it to the end of the bus opposite the feed"
    label = _LABELS.get(change.field, "")
    if old is None:
        return f"{label} {now}".strip()
    if change.field == "rating_a":
        label = _RATED.get(drawing.get(change.item).kind, "rating")
    return f"{label} {was} -> {now}".strip()


_RATED = {"bus": "bus", "disconnect": "frame"}
_LABELS = {
    "raceway_size": "raceway", "egc_size": "grounding conductor", "neutral_size": "neutral", "sets": "sets",
    "trip_a": "device", "interrupting_ka": "interrupting rating", "sccr_ka": "short-circuit rating",
    "breakers_ka": "breakers of",
    "withstand_ka": "withstand rating", "series_rating_ka": "series combination rating", "voltage_rating": "voltage rating",
    "wire_size": "wire",
}  # fmt: skip


def _value_words(drawing: Drawing, change: Change, value: object) -> str:
    if value is None:
        return "unknown"
    item = drawing.get(change.item)
    if change.field in ("size", "egc_size", "neutral_size", "wire_size"):
        sets = item.sets if change.field == "size" and isinstance(item, ConductorRun) else 1
        return size_text(str(value), None, sets) if str(value)[0].isdigit() else str(value)
    spec = specs(type(item)).get(change.field)
    if isinstance(value, int | float) and not isinstance(value, bool):
        unit = "A" if change.space is not None else _UNITS.get(spec.quantity if spec else "", "")
        return quantity(float(value), unit) if unit else number(float(value))
    return str(value)


# ------------------------------------------------------------------------------------------------------------ applying
def applied(drawing: Drawing, remedy: Remedy, view: str = "proposed") -> Drawing:
    """The drawing with a remedy, as it should be kept: new work is changed as it stands.

    Existing conductors become "to be removed" with new ones beside them, so that the survey stays what it was; in the
    existing view, and of other existing items, the value is changed in place and the notes keep what it was.
    """
    by_item: dict[str, list[Change]] = {}
    for change in remedy.changes:
        by_item.setdefault(change.item, []).append(change)
    for item_id, changes in by_item.items():
        item = drawing.get(item_id)
        if item.status != "existing":
            drawing = changed(drawing, changes)
        elif isinstance(item, ConductorRun) and view == "proposed":
            drawing = _replaced_run(drawing, item, changes)
        else:
            drawing = _noted(changed(drawing, changes), item_id, said(drawing, changes))
    return drawing


def _replaced_run(drawing: Drawing, run: ConductorRun, changes: Sequence[Change]) -> Drawing:
    new_id, drawing = drawing.fresh_id("run")
    new = replace(run, id=new_id, status="new", readings=(), bends=(), **{c.field: c.value for c in changes})
    kept = {k: v for k, v in run.basis.items() if k not in {c.field for c in changes}}
    return drawing.with_items([replace(run, status="remove"), replace(new, basis=MappingProxyType(kept))])


def _noted(drawing: Drawing, item_id: str, words: str) -> Drawing:
    item = drawing.get(item_id)
    notes = f"{item.notes}\n{words}" if item.notes else words
    return edits.change(drawing, item_id, notes=notes)
