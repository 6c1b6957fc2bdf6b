"""Why an order arranged by hand is bad: every step is simulated in its new place and held against the computed order."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cached_property

from oneline import tables
from oneline.model import TransferSwitch
from oneline.outage.ability import breaking
from oneline.outage.act import Act
from oneline.outage.currents import through
from oneline.outage.devices import Outage
from oneline.outage.results import OrderProblem, Step, ZoneAnswer
from oneline.outage.scene import Moment
from oneline.outage.steps import brought_together, followed
from oneline.rules.common import amperes, listed

_WORST = ("pass", "advice", "judge", "unknown", "fail")
#: What takes a step back, by the first word of its key, and what it takes back.
_UNDOES = {
    "restore": "shed", "close": "open", "start": "stop", "enable": "inhibit", "unlock": "lock", "utility back": "utility",
}  # fmt: skip
#: Steps that are about no single item, in a few words.
_SHORT = {
    "tell:occupants": "tell the people", "tell:done": "tell that power is back", "verify:locks": "check the locks",
    "discharge:stored": "let stored energy run down", "ground:zone": "ground", "clear:tools": "count the tools",
    "clear:grounds": "take off the grounds", "clear:people": "count the people", "verify:work": "check the work",
    "verify:loads": "check what runs again",
}  # fmt: skip
#: Names are counted beyond this many.
_NAMED = 4


def problems_of(
    answer: ZoneAnswer, outage: Outage, acts: Sequence[Act], computed: Mapping[str, Step], order: Sequence[str]
) -> tuple[tuple[Step, ...], tuple[OrderProblem, ...]]:  # fmt: skip
    """The steps as arranged, and what is wrong with their order. ``computed``: the steps of the computed order by key;
    ``order``: their keys."""
    check = _Check(answer, outage, acts, computed, order)
    return tuple(check.steps), tuple(check.found())


class _Check:
    def __init__(
        self, answer: ZoneAnswer, outage: Outage, acts: Sequence[Act], computed: Mapping[str, Step], order: Sequence[str]
    ) -> None:  # fmt: skip
        self.answer, self.outage, self.acts, self.computed = answer, outage, acts, computed
        self.scene = outage.scene
        self.moments = list(followed(self.scene, answer.zone, acts))
        self.steps = [step for step, _, _ in self.moments]
        self.at = {a.key: n for n, a in enumerate(acts)}
        self.computed_at = {k: n for n, k in enumerate(order)}
        #: What tests came too early for, said once.
        self.tested: set[tuple[str, ...]] = set()
        self.work = self.at[f"work:{answer.zone.id}"]

    # ------------------------------------------------------------------------------------------------------- helpers
    def late(self, keys: Iterable[str], at: int) -> tuple[str, ...]:
        """Those of the keys that come after a place, in computed order."""
        return tuple(sorted((k for k in keys if self.at.get(k, -1) > at), key=lambda k: self.computed_at.get(k, 0)))

    def keys(self, *actions: str, part: str = "") -> list[str]:
        return [a.key for a in self.acts if a.action in actions and (not part or a.part == part)]

    def said(self, keys: Sequence[str]) -> str:
        """Steps by name: "open M and lock M"."""
        words = list(dict.fromkeys(self.named(key) for key in keys[:_NAMED]))
        more = len(keys) - _NAMED
        return listed((*words, f"{more} more")) if more > 0 else listed(tuple(words))

    def named(self, key: str) -> str:
        """A step in a few words: "open M", "test Feeder E, line"."""
        act = self.acts[self.at[key]]
        head, _, what = key.partition(":")
        if key in _SHORT:
            return _SHORT[key]
        name = self.scene.ctx.name(act.item) if act.item else what
        if head.startswith("utility"):
            return f"the utility {'closes' if head.endswith('back') else 'opens'} {name}"
        if act.action == "test":
            return f"test {name}, {what.rpartition(':')[2]}"
        verb = {"stop source": "stop", "start source": "start"}.get(act.action, act.action)
        return f"{verb} {name}" if act.item else act.words.partition(".")[0]

    def name(self, act: Act) -> str:
        return self.scene.ctx.name(act.item) if act.item else act.words.partition(".")[0]

    @cached_property
    def points(self) -> frozenset[str]:
        """Everything that is locked open."""
        locked = (act.item for act in self.acts if act.action == "lock")
        return frozenset((*locked, *(p.item for p in self.outage.isolation.held)))

    # --------------------------------------------------------------------------------------------------------- checks
    def found(self) -> Iterator[OrderProblem]:
        """Every problem, step by step."""
        once: set[tuple[str, str]] = set()
        for n, act in enumerate(self.acts):
            for problem in self.of_step(n, act):
                kind = (problem.step, problem.says)
                if kind not in once:
                    once.add(kind)
                    yield problem

    def of_step(self, n: int, act: Act) -> Iterator[OrderProblem]:
        step, before, after = self.moments[n]
        undoes, _, what = act.key.partition(":")
        done = self.late([f"{_UNDOES[undoes]}:{what}"], n) if undoes in _UNDOES else ()
        if done:
            yield OrderProblem(act.key, f"{_start(self.said([act.key]))} stands before {self.said(done)}.", done)
        if act.contact and act.action == "open":
            yield from self.under_load(n, act, step, before)
        if act.contact and act.action == "close":
            yield from self.onto_load(n, act, step, after)
            yield from self.parallel(act, before)
        yield from self.dark_first(n, act, step)
        yield from self.acts_by_itself(n, act, before, after)
        yield from self.isolating(n, act, before)
        yield from self.back(n, act, before, after)
        yield from self.sequence(n, act)

    def sequence(self, n: int, act: Act) -> Iterator[OrderProblem]:
        """What has to be behind a step of which nothing on the drawing depends."""
        key = act.key
        if act.action == "test":
            late = self.late(("verify:locks", "discharge:stored"), n)
            says = f"{self.name(act)} is tested before: {self.said(late)}."
        elif key == "clear:people":
            late = self.late(("clear:tools", "clear:grounds", "verify:work"), n)
            says = f"People are counted out before: {self.said(late)}."
        elif key in ("tell:done", "verify:loads"):
            late = self.late(
                [a.key for a in self.acts if a.part == "close" and a.action in ("close", "start source")], n
            )
            says = f"{_start(self.named(key))}: too early, before {self.said(late)}."
        elif key.startswith("utility:"):
            late = self.late([f"arrange:{key.partition(':')[2]}"], n)
            says = f"{_start(self.named(key))} before that was arranged with it."
        else:
            return
        if late:
            yield OrderProblem(key, says, late)

    def under_load(self, n: int, act: Act, step: Step, before: Moment) -> Iterator[OrderProblem]:
        late_read = self.late([f"measure:{act.item}"], n)
        if late_read:
            says = f"{self.name(act)} is measured only after it was opened: nothing flows then."
            yield OrderProblem(act.key, says, late_read)
        if not self.worse(step):
            return
        takers = [k for k in self.keys("shed", "open", "stop source", "inhibit") if self.earlier(k, act.key)]
        first = self.fewest(self.late(takers, n), lambda keys: self.fine(act, before, keys, closing=False))
        flows = self.flows(step)
        says = f"{self.name(act)} is opened while {flows}."
        if step.state in ("fail", "unknown"):
            says += f" {step.why}"
        if first:
            says += f" First: {self.said(first)}."
        yield OrderProblem(act.key, says, first)

    def onto_load(self, n: int, act: Act, step: Step, after: Moment) -> Iterator[OrderProblem]:
        if not self.worse(step):
            return
        early = [
            a.key for a in self.acts[:n]
            if a.part == "close" and a.action in ("close", "start source", "enable") and self.earlier(act.key, a.key)
        ]  # fmt: skip
        undone = self.fewest(early, lambda keys: self.fine(act, after, keys, closing=True))
        for key in undone:
            other = self.acts[self.at[key]]
            says = f"{self.name(other)} is back before {self.name(act)}, which is then closed while {self.flows(step)}."
            yield OrderProblem(key, says, (act.key,))
        if not undone:
            yield OrderProblem(act.key, f"{self.name(act)} is closed while {self.flows(step)}. {step.why}".strip())

    def flows(self, step: Step) -> str:
        most = step.current.at_most if step.current is not None else None
        return "nobody knows what flows through it" if most is None else f"up to {amperes(most, rounding='up')} flows"

    def worse(self, step: Step) -> bool:
        """Whether a step in its place is worse than in the computed order: in what may be said of it, or because current
        flows that need not."""
        there = self.computed.get(step.key)
        if there is None or step.current is None:
            return False
        if _WORST.index(step.state) > _WORST.index(there.state):
            return True
        was = there.current.at_most if there.current is not None else 0.0
        most, zero = step.current.at_most, tables.switching_practice("about_zero_a")
        if was is None:
            return False
        return most is None or (most > zero and most > was + zero)

    def earlier(self, one: str, other: str) -> bool:
        return self.computed_at.get(one, 0) < self.computed_at.get(other, 0)

    def fewest(self, keys: Sequence[str], enough: Callable[[Sequence[str]], bool]) -> tuple[str, ...]:
        """The fewest of the steps that are enough, found by leaving out one after another from the last; () where all of
        them are not."""
        kept = list(keys)
        if not kept or not enough(kept):
            return ()
        for key in reversed(keys):
            fewer = [k for k in kept if k != key]
            if enough(fewer):
                kept = fewer
        return tuple(kept)

    def fine(self, act: Act, moment: Moment, keys: Sequence[str], closing: bool) -> bool:
        """Whether a step is as good as computed once other steps were done before (closing: had not been done)."""
        for key in keys:
            moment = self.undone(self.acts[self.at[key]], moment) if closing else self.acts[self.at[key]].done(moment)
        if not moment.closed[act.contact]:
            return True
        item = self.scene.ctx.drawing.get(act.item)
        found = through(moment, act.contact)
        answer = breaking(item, self.scene.ctx.name(act.item), found, closing)
        there = self.computed[act.key]
        if _WORST.index(answer.state) > _WORST.index(there.state):
            return False
        was, zero = there.current.at_most if there.current else 0.0, tables.switching_practice("about_zero_a")
        return was is None or (found.most is not None and (found.most <= zero or found.most <= was + zero))

    def undone(self, act: Act, moment: Moment) -> Moment:
        """The moment with a step of the restoration taken back."""
        opened = dict.fromkeys(act.free, False) if act.contact else {}
        return moment.after(opened or None, shed=act.unshed, stop=act.start)

    def parallel(self, act: Act, before: Moment) -> Iterator[OrderProblem]:
        says = brought_together(before, act.contact)
        if says and says not in self.computed[act.key].why:
            yield OrderProblem(act.key, f"{self.name(act)}: {says}")

    def dark_first(self, n: int, act: Act, step: Step) -> Iterator[OrderProblem]:
        """People told, and what has to be looked after looked after, before it goes dark."""
        if not step.dark:
            return
        told = self.late(["tell:occupants"], n)
        cares = self.late([a.key for a in self.acts if a.key.startswith("care:") and a.item in step.dark], n)
        if told:
            yield OrderProblem(act.key, f"It goes dark with {self.name(act)} before people were told.", told)
        if cares:
            names = listed(tuple(self.scene.ctx.name(self.acts[self.at[k]].item) for k in cares))
            yield OrderProblem(act.key, f"{names} loses power before it was looked after.", cares)

    def acts_by_itself(self, n: int, act: Act, before: Moment, after: Moment) -> Iterator[OrderProblem]:
        """Nothing starts or transfers by itself while supplies are taken away, or before they are back."""
        if act.part == "open" and self.loses_supply(before, after):
            free = self.late(self.keys("inhibit", part="prepare"), n)
            if free:
                says = f"What waits for a lost supply can act by itself when {self.name(act)} opens. "
                says += f"First: {self.said(free)}."
                yield OrderProblem(act.key, says, free)
        if act.key.startswith("enable:") or act.action == "start source":
            later = [
                a.key for a in self.acts[n + 1 :] if a.part == "close" and a.contact and self.earlier(a.key, act.key)
            ]
            if later and not self.supplied(act, after):
                first = self.fewest(later, lambda keys: self.supplied(act, self.through_all(after, keys))) or tuple(
                    later
                )
                says = f"{self.name(act)} is set going before the main is back: it would feed what is being restored."
                yield OrderProblem(act.key, says, first)

    def through_all(self, moment: Moment, keys: Sequence[str]) -> Moment:
        for key in keys:
            moment = self.acts[self.at[key]].done(moment)
        return moment

    def loses_supply(self, before: Moment, after: Moment) -> bool:
        """Whether something at which a transfer switch or a generator waits loses its supply."""
        nodes = {n for t in self.outage.transfers for n in self.scene.nodes_of(t.id)}
        watched = nodes or set(self.outage.region)
        return any(before.fed(n) and not after.fed(n) for n in watched)

    def supplied(self, act: Act, moment: Moment) -> bool:
        """Whether what a source or transfer switch is set going for has its normal supply back."""
        item = self.scene.ctx.drawing.get(act.item)
        if isinstance(item, TransferSwitch):
            return moment.fed(self.scene.ctx.net.node(item.id, "normal")) or not self.fed_at_first(item.id, "normal")
        if item.kind == "generator":
            nodes = [self.scene.ctx.net.node(t.id, "normal") for t in self.outage.transfers] or list(self.outage.region)
            start = self.scene.begin(stopped=[item.id])
            now = moment.after(stop=[item.id])
            return all(now.fed(n) for n in nodes if start.fed(n))
        node = self.scene.ctx.net.node(item.id)
        others = self.scene.forming - {item.id}
        return bool(moment.live.at_node[node] & others) or not self.scene.live({}).at_node[node] & others

    def fed_at_first(self, item_id: str, terminal: str) -> bool:
        return self.scene.begin().fed(self.scene.ctx.net.node(item_id, terminal))

    def isolating(self, n: int, act: Act, before: Moment) -> Iterator[OrderProblem]:
        """Locks on what is open, tests behind locks, work behind tests."""
        opens = [k for k in self.keys("open") if self.acts[self.at[k]].item in self.points]
        opens += [k for k in self.at if k.startswith("utility:")]
        locks = self.keys("lock", "inhibit")
        if act.action == "lock":
            late = self.late([f"open:{act.item}"], n)
            if late:
                yield OrderProblem(act.key, f"{self.name(act)} is locked before it is open.", late)
        if act.action == "test":
            late = self.late((*opens, *locks), n)
            if late and late not in self.tested:
                self.tested.add(late)
                yield OrderProblem(act.key, f"{self.name(act)} is tested too early. First: {self.said(late)}.", late)
        if act.action == "ground":
            late = self.late(self.keys("test"), n)
            if late:
                yield OrderProblem(act.key, "Grounds are set before it was tested there.", late)
        if act.key == "verify:locks":
            late = self.late((*opens, *locks), n)
            if late:
                yield OrderProblem(act.key, f"The locks are checked before all hang. First: {self.said(late)}.", late)
        if n == self.work:
            rest = [a.key for a in self.acts if a.part in ("prepare", "shed", "open", "lock", "test")]
            late = self.late([k for k in rest if k not in self.keys("measure", "shed")], n)
            if late:
                yield OrderProblem(act.key, f"Work begins too early. First: {self.said(late)}.", late)

    def back(self, n: int, act: Act, before: Moment, after: Moment) -> Iterator[OrderProblem]:
        """Nothing is closed onto people; locks come off before and only when everybody is clear."""
        clear = [f"work:{self.answer.zone.id}", *(k for k in self.at if k.startswith("clear:")), "verify:work"]
        if act.part == "check" and act.key in clear:
            late = self.late(clear[:1], n)
            if late:
                yield OrderProblem(act.key, "Cleared before the work is done.", late)
        if act.action == "unlock":
            late = self.late(clear, n)
            if late:
                yield OrderProblem(act.key, f"The lock comes off {self.name(act)} while people are at it.", late)
        if act.part != "close":
            return
        late = self.late(clear, n)
        makes_live = self.zone_live(after) and not self.zone_live(before)
        if late and (makes_live or act.item in self.points):
            yield OrderProblem(act.key, f"{self.name(act)} is closed onto people at work.", late)
        if act.contact and act.item in self.points:
            locked = self.late([f"unlock:{act.item}"], n)
            if locked:
                yield OrderProblem(act.key, f"{self.name(act)} is closed with the lock still on it.", locked)
        if act.action == "verify" and self.late([f"close:{act.item}"], n):
            yield OrderProblem(act.key, f"{self.name(act)} is checked before it is closed.", (f"close:{act.item}",))
        if act.action == "close":
            unread = [
                k for k in self.at
                if k.startswith("verify:") and self.at.get(f"close:{k[7:]}", n) < n and self.earlier(k, act.key)
            ]  # fmt: skip
            late = self.late(unread, n)
            if late:
                says = (
                    f"{self.name(act)} is closed before voltages and rotation were checked. First: {self.said(late)}."
                )
                yield OrderProblem(act.key, says, late)

    def zone_live(self, moment: Moment) -> bool:
        gone = moment.stopped & set(self.outage.utility)
        return any(moment.live.possibly_at_node[n] - gone for n in self.answer.nodes)


def _start(words: str) -> str:
    return words[:1].upper() + words[1:]
