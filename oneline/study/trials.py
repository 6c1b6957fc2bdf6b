"""Changes tried on a copy of a drawing: what becomes of one finding, and whether any other becomes worse.

Everything here runs in steps: the functions are generators that pause often, so that a window can carry on with them in
small slices of time and drop them when the drawing changes. ``finish`` runs one to its end.
"""

from __future__ import annotations

from collections.abc import Generator, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from oneline.model import Bus, ConductorRun, Drawing, End, edits
from oneline.rules.verdict import Verdict
from oneline.study.context import Context
from oneline.study.study import subjects
from oneline.study.subject import Overall

T = TypeVar("T")
#: A piece of work that pauses between its steps and returns its answer at the end.
Steps = Generator[None, None, T]

#: How bad a state is; a finding becomes worse when it goes up.
SEVERITY = {"not_applicable": 0, "pass": 0, "advice": 1, "judge": 2, "unknown": 3, "fail": 4}
#: A margin that shrinks by less than this share of the limit is no cost worth a word.
_COST_SHARE = 0.01


def finish(steps: Steps[T]) -> T:
    """Run steps to their end and return the answer."""
    while True:
        try:
            next(steps)
        except StopIteration as done:
            value: T = done.value
            return value


@dataclass(frozen=True)
class Change:
    """One field of one item set to a value. ``space``: of that line of a panel's schedule instead, by its first space."""

    item: str
    field: str
    value: Any
    space: int | None = None

    def old(self, drawing: Drawing) -> Any:
        """What stands there now."""
        item = drawing.get(self.item)
        if self.space is None:
            return getattr(item, self.field)
        assert isinstance(item, Bus)
        return next((getattr(c, self.field) for c in item.circuits if c.space == self.space), None)


@dataclass(frozen=True)
class AddedMain(Change):
    """A main breaker put between a panel and the conductors that feed it. ``value``: its trip in amperes; ``run``: the
    conductors; ``interrupting_ka``: its interrupting rating."""

    run: str = ""
    interrupting_ka: float | None = None

    def old(self, drawing: Drawing) -> Any:
        return None


def _with_main(drawing: Drawing, main: AddedMain) -> Drawing:
    panel, run = drawing.get(main.item), drawing.get(main.run)
    assert isinstance(run, ConductorRun)
    poles = len(panel.phases) if isinstance(panel, Bus) and panel.phases else None
    drawing, new = edits.add(
        drawing, "disconnect", name=edits.free_name(drawing, f"{panel.name} main"), form="breaker", trip_a=main.value,
        rating_a=main.value, interrupting_ka=main.interrupting_ka, poles=poles, status="new", neutral_bonded=False,
    )  # fmt: skip
    line, load = End(new, "line"), End(new, "load")
    near_b = run.b.item == panel.id
    moved = replace(run, b=line) if near_b else replace(run, a=line)
    drawing = drawing.with_items([moved])
    drawing, _ = edits.add(drawing, "joint", a=load, b=End(panel.id, "bus"), status="new")
    return drawing


def changed(drawing: Drawing, changes: Iterable[Change]) -> Drawing:
    """The drawing with all changes made. Raises ``EditRefused`` for a value that cannot stand there."""
    for change in changes:
        if isinstance(change, AddedMain):
            drawing = _with_main(drawing, change)
        elif change.space is None:
            drawing = edits.change(drawing, change.item, **{change.field: change.value})
        else:
            bus = drawing.get(change.item)
            assert isinstance(bus, Bus)
            new = {change.field: change.value}
            rows = tuple(replace(c, **new) if c.space == change.space else c for c in bus.circuits)
            drawing = edits.change(drawing, change.item, circuits=rows)
    return drawing


Key = tuple[str, str, bool, str]


def key_of(verdict: Verdict) -> Key:
    """Finds the findings of one rule about one thing of one item again after a change."""
    return verdict.rule, verdict.subject, verdict.alternative, verdict.what


def grouped(verdicts: Iterable[Verdict]) -> dict[Key, list[Verdict]]:
    """Findings by rule and item, the worst of each first."""
    found: dict[Key, list[Verdict]] = {}
    for v in verdicts:
        found.setdefault(key_of(v), []).append(v)
    for group in found.values():
        group.sort(key=lambda v: -SEVERITY[v.state])
    return found


def worse_than(
    before: Mapping[Key, Sequence[Verdict]], after: Mapping[Key, Sequence[Verdict]], new_items: frozenset[str] = frozenset()
) -> list[Verdict]:  # fmt: skip
    """Findings that are in a worse state than before, rules tried beside others left out.

    About ``new_items``, which were not there before, only what fails counts.
    """
    found = []
    for key, group in after.items():
        if key[2]:
            continue
        old = before.get(key, ())
        for n, verdict in enumerate(group):
            was = SEVERITY[old[n].state] if n < len(old) else 0
            if key[1] in new_items and verdict.state != "fail":
                continue
            if SEVERITY[verdict.state] > was:
                found.append(verdict)
    return found


def room_left(verdict: Verdict) -> float | None:
    """How far inside its limit a finding's value is as a share of the limit, negative outside; ``None`` without both."""
    value, limit = verdict.value, verdict.limit
    if value is None or not limit or verdict.relation not in ("at most", "at least"):
        return None
    return (limit - value if verdict.relation == "at most" else value - limit) / abs(limit)


def costs(
    before: Mapping[Key, Sequence[Verdict]], after: Mapping[Key, Sequence[Verdict]], settled: Key
) -> list[tuple[Verdict, Verdict]]:  # fmt: skip
    """Findings that keep their state with less room than before, the one with the least room left first."""
    found = []
    for key, group in after.items():
        old = before.get(key, ())
        if key == settled or key[2] or len(group) != 1 or len(old) != 1:
            continue
        was, now = room_left(old[0]), room_left(group[0])
        if was is not None and now is not None and was - now > _COST_SHARE:
            found.append((now, old[0], group[0]))
    return [(old, new) for _, old, new in sorted(found, key=lambda f: f[0])]


class Trials:
    """One view of one drawing under one edition, studied once, against which changed copies are held."""

    def __init__(self, drawing: Drawing, view: str = "proposed", edition: int | None = None) -> None:
        self.drawing, self.view = drawing, view
        self.edition = edition or drawing.project.edition
        self.ctx = Context(drawing, view, self.edition)
        self.before: dict[Key, list[Verdict]] = {}
        self._subject_of: dict[str, list[Overall]] = {}
        self._ready = False

    def start(self) -> Steps[None]:
        """Study the drawing as it is; needed once, before anything is tried."""
        if self._ready:
            return
        found: list[Verdict] = []
        for subject in subjects():
            for verdict in subject(self.ctx):
                found.append(verdict)
                makers = self._subject_of.setdefault(verdict.rule, [])
                if subject not in makers:
                    makers.append(subject)
                yield
            yield
        self.before = grouped(found)
        self._ready = True

    def context(self, drawing: Drawing) -> Context:
        """The same view and edition of a changed copy."""
        return Context(drawing, self.view, self.edition)

    def about(self, drawing: Drawing, rule: str, ctx: Context | None = None) -> Steps[dict[Key, list[Verdict]]]:
        """The findings of a changed copy by the subjects that make a rule's findings, which is much less than all."""
        ctx = ctx or self.context(drawing)
        found: list[Verdict] = []
        for subject in self._subject_of.get(rule, subjects()):
            for verdict in subject(ctx):
                found.append(verdict)
                yield
            yield
        return grouped(found)

    def whole(self, drawing: Drawing, ctx: Context | None = None) -> Steps[dict[Key, list[Verdict]]]:
        """All findings of a changed copy."""
        ctx = ctx or self.context(drawing)
        found: list[Verdict] = []
        for subject in subjects():
            for verdict in subject(ctx):
                found.append(verdict)
                yield
            yield
        return grouped(found)

    def settled(self, verdict: Verdict, after: Mapping[Key, Sequence[Verdict]]) -> Verdict | bool | None:
        """What has become of a finding: the finding that takes its place when it passes, ``None`` when it is gone,
        ``False`` while it does not pass."""
        key = key_of(verdict)
        old, new = self.before.get(key, ()), after.get(key, ())
        level = SEVERITY["judge"]
        open_before = sum(SEVERITY[v.state] >= level for v in old)
        open_now = sum(SEVERITY[v.state] >= level for v in new)
        if open_now and open_now >= open_before:
            return False
        # One rule may say several things of an item: what takes the place of a finding cites the same section.
        told_apart = len({v.section for v in old}) > 1
        own = [v for v in new if v.section == verdict.section or not told_apart]
        alone = sum(v.section == verdict.section or not told_apart for v in old) == 1
        same = [v for v in own if v.others == verdict.others] or own
        if alone and same and SEVERITY[same[0].state] >= level:
            return False
        passed = [v for v in same if SEVERITY[v.state] < level]
        return passed[0] if passed else None
