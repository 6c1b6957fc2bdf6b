"""What fits at a point: the largest load that may be added there with everything passing, and what is met in which order.

The load is added to a copy of the drawing and the copy studied whole, until a little more would put a finding into a worse
state. So it is not only the amperes of the way to the source that count, but also standard ratings, the rules for buses
that other sources feed, and whatever else depends on load. The list of limits says what is met first, and then.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf, isinf, sqrt

from oneline import tables
from oneline.model import ConductorRun, Drawing, End, Transformer, edits
from oneline.rules.common import unique
from oneline.rules.verdict import Verdict
from oneline.study.available import Available, load_bounds
from oneline.study.context import Context
from oneline.study.duty import figure
from oneline.study.fits_panel import SubPanel, with_sub_panel
from oneline.study.loads import volts_across
from oneline.study.points import nodes_of, source_only_nodes, where_added
from oneline.study.trials import SEVERITY, Key, Steps, Trials, key_of, room_left, worse_than

#: Amperes to which the largest addition is found, and beyond which nothing is looked for.
_STEP_A, _MOST_A = 0.02, 20_000.0
#: Findings that are listed by the limits of the way themselves.
_OF_THE_WAY = ("CAP", "AMP-1")
#: Findings of several conditions, which tell the two numbers of one of them.
_SEVERAL = ("SVC-4",)
#: Findings that recommend; what they say is listed and never binds.
_RECOMMENDED = ("VD",)
#: Findings that keep an answer from being certain while they are not known.
_LOADED = ("CAP", "AMP-1", "SVC-4", "PV-1", "PV-2", "TAP-SVC")

CAUTION = (
    "The added load is taken as not continuous, at unity power factor and without motors; of a continuous load, four fifths "
    "fit. It must be added with a device and conductors of its own."
)
CAUTION_CONTINUOUS = (
    "The added load is taken as continuous, at unity power factor and without motors. It must be "
    "added with a device and conductors of its own."
)


@dataclass(frozen=True)
class FitLimit:
    """One limit that an addition meets.

    ``item``, ``name``: what limits. ``what``: of it ("trip", "bus rating") or the rule's section. ``rating``, ``load``:
    in ``unit``, as they stand without the addition. ``remaining_a``: amperes at the point, on each of its phases, until it
    is met. ``recommended``: exceeding it is advice, not a failure; it never binds. ``needs``: what is not known, where more
    than that is not decided instead of failing.
    """

    item: str
    name: str
    what: str
    rating: float | None
    load: float | None
    remaining_a: float
    unit: str = "A"
    recommended: bool = False
    needs: tuple[str, ...] = ()


@dataclass(frozen=True)
class Addition:
    """The largest addition on some phases: ``amperes`` on each of ``phases``, ``kva`` of all, and what is met by more.

    ``unlimited``: no limit was met up to the most that was tried. ``over``: a limit on the way is exceeded already, on this
    phase or another.
    """

    phases: str
    amperes: float
    kva: float
    met: tuple[FitLimit, ...] = ()
    unlimited: bool = False
    over: bool = False


@dataclass(frozen=True)
class Fits:
    """What fits at an item, now: ``node_name`` is where load would really be connected.

    ``balanced``: on all phases of the point; ``single``: on one phase to neutral, by its letter (none where there is no
    neutral). ``limits``: of a balanced addition in the order in which they are met. ``certain``: nothing that decides is
    unknown; else the figures are upper bounds and ``needs`` says what is not known. ``why_not``: why nothing can be said.
    """

    item: str
    name: str
    system: str | None = None
    volts: float | None = None
    balanced: Addition | None = None
    single: tuple[Addition, ...] = ()
    limits: tuple[FitLimit, ...] = ()
    sub_panel: SubPanel | None = None
    sub_panel_why: str = ""
    certain: bool = True
    needs: tuple[str, ...] = ()
    caution: str = CAUTION
    why_not: str = ""

    @property
    def beyond(self) -> tuple[str, ...]:
        """What would have to be known for more to fit: where more is not decided instead of failing."""
        additions = (*((self.balanced,) if self.balanced else ()), *self.single)
        return unique(n for a in additions for m in a.met for n in m.needs)


def find_fits(trials: Trials, item_id: str, continuous: bool = False) -> Steps[Fits]:
    """Find what fits at an item. Pauses often; ``trials.finish`` runs it to its end."""
    ctx, name = trials.ctx, trials.drawing.name_of(item_id)
    caution = CAUTION_CONTINUOUS if continuous else CAUTION
    place = _place(ctx, item_id)
    if isinstance(place, str):
        return Fits(item_id, name, why_not=place, caution=caution)
    node, end = place
    yield from trials.start()
    phases, code = ctx.feeding.phases[node], ctx.feeding.system[node]
    volts = volts_across(ctx, node, phases)
    if code is None or volts is None or not phases:
        return Fits(item_id, name, why_not="The voltage and phases at this point are not known yet.", caution=caution)
    point = _Point(trials, node, end, phases, continuous)
    balanced = yield from point.largest(phases, volts * (sqrt(3) if len(phases) == 3 else 1.0))
    single: list[Addition] = []
    to_neutral = tables.system(code).v_ln
    if to_neutral is not None and len(phases) > 1 and _has_neutral(ctx, node):
        for phase in phases:
            single.append((yield from point.largest(phase, volts_across(ctx, node, phase) or to_neutral)))
    limits = yield from point.limits(balanced)
    found, why = (None, "Nothing is left for a sub-panel.")
    if balanced.amperes > 0:
        found, why = yield from point.sub_panel(balanced)
    needs = point.needs()
    return Fits(
        item_id, name, code, volts, balanced, tuple(single), limits, found, why, not needs, needs, caution,
    )  # fmt: skip


def _place(ctx: Context, item_id: str) -> tuple[int, End] | str:
    """Node and terminal at which load would be added at an item, or why there is none."""
    item = ctx.drawing.items.get(item_id)
    if item is None:
        return "It is not part of this view."
    nodes = nodes_of(ctx, item)
    if nodes is None or ctx.feeding.position[nodes[1]] < 0:
        return "Nothing feeds it, so nothing can be said."
    node = where_added(ctx, nodes[1])
    if node in source_only_nodes(ctx):
        return "This is the circuit of a source alone; no load is added to it."
    ends = sorted(ctx.net.ends_of[node], key=lambda e: ctx.drawing.get(e.item).kind != "bus")
    return node, ends[0]


def _has_neutral(ctx: Context, node: int) -> bool:
    """Whether no conductors on the way from the system's source are without a neutral."""
    for branch, _ in ctx.feeding.path(node):
        if isinstance(branch.item, Transformer):
            return True
        if isinstance(branch.item, ConductorRun) and branch.item.neutral_size == "none":
            return False
    return True


class _Point:
    """Trials of additions at one node."""

    def __init__(self, trials: Trials, node: int, end: End, phases: str, continuous: bool) -> None:
        self.trials, self.node, self.end = trials, node, end
        self.phases, self.continuous = phases, continuous
        self._factor = tables.limit_value("continuous_factor") if continuous else 1.0

    # ------------------------------------------------------------------------------------------------------- trying
    def added(self, phases: str, va: float, at: End | None = None, drawing: Drawing | None = None) -> Drawing:
        """The drawing with a load at the point."""
        drawing = drawing or self.trials.drawing
        status = "new" if self.trials.view == "proposed" else "existing"
        drawing, load = edits.add(
            drawing, "load", name=edits.free_name(drawing, "Added load"), va=va, phases=phases, load_class="other",
            continuous=self.continuous, power_factor=1.0, status=status,
        )  # fmt: skip
        return edits.add(drawing, "joint", a=at or self.end, b=End(load, "in"), status=status)[0]

    def met_with(self, phases: str, va: float) -> Steps[list[Verdict]]:
        """Findings that an addition puts into a worse state, or further outside a limit that fails already."""
        if va <= 0:
            return []
        drawing = self.added(phases, va)
        findings = yield from self.trials.whole(drawing)
        return self.upset(findings, drawing)

    def upset(self, findings: Mapping[Key, list[Verdict]], drawing: Drawing) -> list[Verdict]:
        """Findings that are worse than without the addition; what is only recommended left out."""
        before = self.trials.before
        new = frozenset(drawing.items.keys() - self.trials.drawing.items.keys())
        worse = [v for v in worse_than(before, findings, new) if v.state != "advice" and v.rule not in _RECOMMENDED]
        return worse + list(_further_out(before, findings))

    def largest(self, phases: str, volts: float) -> Steps[Addition]:
        """The largest addition on some phases. ``volts``: volt-amperes of all phases per ampere of one."""
        over = self._over()
        if over:
            # What fails already does not fail more until this phase is as full as the fullest: its own room counts.
            room = self._guess(phases, 0.0)
            found = yield from self.met_with(phases, room * volts)
            return Addition(phases, 0.0 if found else room, 0.0 if found else room * volts / 1000, over, over=True)
        low, high, met = 0.0, inf, []
        guess = self._guess(phases)
        while isinf(high):
            met = yield from self.met_with(phases, guess * volts)
            if met:
                high = guess
            else:
                low, guess = guess, max(guess * 1.002 + _STEP_A, 1.0) if low == 0 else guess * 2
                if low > _MOST_A:
                    return Addition(phases, low, low * volts / 1000, unlimited=True)
        if low == 0:
            low, high, met = yield from self._down(phases, volts, high, met)
        while high - low > _STEP_A:
            middle = (low + high) / 2
            found = yield from self.met_with(phases, middle * volts)
            low, high, met = (low, middle, found) if found else (middle, high, met)
        return Addition(phases, low, low * volts / 1000, tuple(self._as_limit(v, low) for v in met))

    def _down(
        self, phases: str, volts: float, high: float, met: list[Verdict]
    ) -> Steps[tuple[float, float, list[Verdict]]]:
        """Just below the first guess, which was too much by a hair or by far."""
        near = high - _STEP_A
        if near > 0:
            found = yield from self.met_with(phases, near * volts)
            if not found:
                return near, high, met
            return 0.0, near, found
        return 0.0, high, met

    def _over(self) -> tuple[FitLimit, ...]:
        """Limits of the way that are exceeded as it is."""
        available = self.trials.ctx.available.get(self.node)
        items = {e.item.id for at in available.way() for e in at.elements} if available else set()
        failing = [g[0] for key, g in self.trials.before.items() if key[0] in _OF_THE_WAY and key[1] in items]
        return tuple(self._as_limit(v, 0.0) for v in failing if v.state == "fail")

    def _guess(self, phases: str, least: float = _STEP_A) -> float:
        """Amperes that the way to the source leaves, as a first guess; at least ``least``."""
        available = self.trials.ctx.available.get(self.node)
        margins = [available.margins[p].high for p in phases if p in available.margins] if available else []
        room = min(margins, default=inf)
        return 100.0 if isinf(room) else max(room / self._factor, least)

    # ------------------------------------------------------------------------------------------------------- limits
    def _as_limit(self, verdict: Verdict, remaining_a: float) -> FitLimit:
        same = self.trials.before.get(key_of(verdict), [])
        old = next((v for v in same if v.limit == verdict.limit), same[0] if same else None)
        rating, load = verdict.limit, old.value if old else None
        if verdict.relation == "at least":  # the rating is the value then, and the load what it must reach
            rating = verdict.value
            # Of several conditions the finding told another one while it passed.
            load = old.limit if old and verdict.rule not in _SEVERAL else None
        what = verdict.section.partition(" (not confirmed")[0]
        recommended = verdict.state == "advice" or verdict.rule in _RECOMMENDED
        return FitLimit(
            verdict.subject, verdict.name, what, rating, load, max(remaining_a, 0.0), verdict.unit, recommended,
            verdict.needs if verdict.state == "unknown" else (),
        )  # fmt: skip

    def limits(self, balanced: Addition) -> Steps[tuple[FitLimit, ...]]:
        """Limits of a balanced addition in the order in which they are met: those of the way, and other rules' that are
        met before the last of them."""
        found = list(self._of_the_way())
        farthest = max((limit.remaining_a for limit in found), default=balanced.amperes)
        listed = {limit.item for limit in found}
        drawing = self.added(self.phases, max(farthest, balanced.amperes, 1.0) * 1.05 * self._volts())
        findings = yield from self.trials.whole(drawing)
        before, new = self.trials.before, frozenset(drawing.items.keys() - self.trials.drawing.items.keys())
        seen: set[Key] = set()
        for verdict in worse_than(before, findings, new):
            key = key_of(verdict)
            if verdict.rule in _RECOMMENDED and verdict.state != "advice":
                continue  # far beyond all other limits nothing is said of the voltage
            if key in seen or (verdict.rule in _OF_THE_WAY and verdict.subject in listed) or verdict.subject in new:
                continue
            seen.add(key)
            at = yield from self._first_met(key, max(farthest, balanced.amperes, 1.0) * 1.05)
            found.append(self._as_limit(verdict, at))
        return tuple(sorted(found, key=lambda limit: limit.remaining_a))

    def _volts(self) -> float:
        volts = volts_across(self.trials.ctx, self.node, self.phases) or 0.0
        return volts * (sqrt(3) if len(self.phases) == 3 else 1.0)

    def _first_met(self, key: Key, high: float) -> Steps[float]:
        """Amperes at which one finding becomes worse."""
        low = 0.0
        while high - low > max(_STEP_A, high * 1e-4):
            middle = (low + high) / 2
            findings = yield from self.trials.about(self.added(self.phases, middle * self._volts()), key[0])
            if any(key_of(v) == key for v in worse_than(self.trials.before, findings)):
                high = middle
            else:
                low = middle
        return low

    def _of_the_way(self) -> Iterator[FitLimit]:
        """Ratings on the way to the source less the loads on them, as amperes at the point."""
        ctx = self.trials.ctx
        here = volts_across(ctx, self.node, self.phases)
        available: Available | None = ctx.available.get(self.node)
        while available is not None:
            for element in available.elements:
                rating = element.rating.value if element.rating.value is not None else element.rating.most
                there = volts_across(ctx, element.node, ctx.feeding.phases[element.node])
                loads = [low for low, _ in load_bounds(ctx, element).values()]
                if rating is None or here is None or there is None or not loads:
                    continue
                factor = 1.0 if element.in_full else self._factor
                ratio = there / here * (_share(ctx.feeding.phases[element.node]) / _share(self.phases)) / factor
                yield FitLimit(
                    element.item.id, element.name, element.what, rating, max(loads), (rating - max(loads)) * ratio
                )
            available = available.above

    def needs(self) -> tuple[str, ...]:
        """What is not known of ratings and loads on the way."""
        available = self.trials.ctx.available.get(self.node)
        if available is None:
            return ()
        items = {e.item.id for at in available.way() for e in at.elements}
        waiting = [
            n for group in self.trials.before.values() for v in group
            if v.state == "unknown" and v.subject in items and v.rule.startswith(_LOADED) and not v.alternative
            for n in v.needs
        ]  # fmt: skip
        return unique((*available.needs, *waiting))

    # --------------------------------------------------------------------------------------------------- sub-panel
    def sub_panel(self, balanced: Addition) -> Steps[tuple[SubPanel | None, str]]:
        """The largest standard breaker whose whole rating may be loaded, tried with its conductors and a panel."""
        edition = self.trials.edition
        ratings = [a for a in tables.standard_ratings(edition, "breaker") if a <= balanced.amperes + _STEP_A]
        next_a = next((a for a in tables.standard_ratings(edition, "breaker") if a > balanced.amperes + _STEP_A), None)
        larger = ""
        if next_a is not None and balanced.met:
            larger = f"{next_a:g} A, fully loaded, is too much for {balanced.met[0].name} ({balanced.met[0].what})"
        for rating in reversed(ratings):
            status = "new" if self.trials.view == "proposed" else "existing"
            made = with_sub_panel(self.trials.drawing, self.end, self.phases, rating, status)
            if isinstance(made, str):
                return None, made
            drawing, found, panel = made
            va = rating / self._factor * self._volts()
            drawing = self.added(self.phases, va, End(panel, "bus"), drawing)
            findings = yield from self.trials.whole(drawing)
            met = self.upset(findings, drawing)
            if not met:
                return replace(found, interrupting_ka=self._interrupting(), larger=larger), ""
            larger = f"{rating:g} A is too much for {met[0].name} ({met[0].section})"
        return (
            None,
            f"Not even the smallest standard breaker fits. {larger}." if larger else "Nothing is left for a sub-panel.",
        )

    def _interrupting(self) -> float | None:
        duty = figure(self.trials.ctx, self.node)
        most = duty.most if duty.value is None else duty.value
        if most is None:
            return None
        return next((s for s in tables.equipment_steps("short_circuit") if s * 1000 >= most), None)


def _share(phases: str) -> float:
    return sqrt(3) if len(phases) == 3 else 1.0


def _further_out(before: Mapping[Key, Sequence[Verdict]], after: Mapping[Key, Sequence[Verdict]]) -> Iterable[Verdict]:
    """Findings that fail already and are further outside their limit than before."""
    level = SEVERITY["fail"]
    for key, group in after.items():
        old = before.get(key, ())
        for n, verdict in enumerate(group):
            if key[2] or SEVERITY[verdict.state] < level or n >= len(old) or old[n].state != "fail":
                continue
            was, now = room_left(old[n]), room_left(verdict)
            if was is not None and now is not None and now < was - 1e-9:
                yield verdict


__all__ = ["Addition", "FitLimit", "Fits", "SubPanel", "find_fits"]
