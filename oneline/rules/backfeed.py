"""What stays live when a device is open: energy that arrives from its load side (404.6(C), SW-10).

No code rule fails here; it is the finding that matters most to the person at the device. A computed state never proves
anything dead.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from oneline.rules.common import Subject, listed, sentences, verdict
from oneline.rules.verdict import Verdict

_RULE = "LIVE-BOTH"
#: Places behind transfer switches that are named; of more the rest is counted.
_NAMED_AT_MOST = 3
_TEST = "Treat both sides as energized until each is tested at the point of work."


@dataclass(frozen=True)
class Feed:
    """One source that still reaches a side: its name, and the devices it comes through, nearest to the side first."""

    source: str
    through: tuple[str, ...] = ()

    def __str__(self) -> str:
        return f"{self.source} through {self.through[0]}" if self.through else self.source


@dataclass(frozen=True)
class Takeover:
    """What a transfer switch feeds, by name, that another source may take over. ``lock``: the first device of that
    source's own, to be opened as well; "" where none is drawn. ``need``: what is not known of the switch. ``ids``: of the
    source and the switches on its way."""

    place: str
    feed: Feed
    lock: str = ""
    need: str = ""
    ids: tuple[str, ...] = ()


@dataclass(frozen=True)
class OpenFacts:
    """A device in its open position. ``side``: what its side away from the normal supply feeds, by name, or "its side
    toward" something.

    ``feeds``: sources that certainly reach that side; ``line_feeds``: those on the other side. ``line_side``: what the
    other side of a tie feeds, by name. ``ties``: untraced ties by which something may reach it. ``is_open``: whether the
    device is open now. ``takeovers``: what a transfer switch behind the device may take to another source. ``ids``: of the
    sources.
    """

    device: Subject
    edition: int
    side: str
    feeds: tuple[Feed, ...] = ()
    line_feeds: tuple[Feed, ...] = ()
    line_side: str = ""
    ties: tuple[str, ...] = ()
    is_open: bool = False
    takeovers: tuple[Takeover, ...] = ()
    ids: tuple[str, ...] = ()


def stays_live(facts: OpenFacts) -> Verdict | None:
    """LIVE-BOTH for one device; ``None`` where nothing known or suspected reaches its far side."""
    if facts.feeds:
        return _certain(facts)
    if facts.ties:
        return _suspected(facts)
    return _taken_over(facts) if facts.takeovers else None


def _certain(facts: OpenFacts) -> Verdict:
    name, sources = facts.device.name, _named(facts.feeds)
    message = f"When {name} is open, {facts.side} stays live from {sources}."
    if facts.line_side and facts.line_feeds:
        other = f"{facts.line_side} from {_named(facts.line_feeds)}"
        message = f"When {name} is open, both its sides stay live: {facts.side} from {sources}, and {other}."
    further = " ".join([*([f"{listed(facts.ties)} may bring more."] if facts.ties else []), *_takeovers(facts)])
    if facts.is_open:
        message = f"{name} is open, and {facts.side} is live from {sources}."
        if facts.line_feeds:
            further = " ".join([f"The other side is live from {_named(facts.line_feeds)}.", *_takeovers(facts)])
    sides = (*facts.feeds, *(facts.line_feeds if facts.line_side else ()))
    through = [f.through[0] for f in sides if f.through and f.through[0] != name]
    remedy = _locking([*through, *(t.lock for t in facts.takeovers if t.lock)])
    return verdict(
        _RULE, facts.device, facts.edition, "advice", sentences(message, further), remedy=remedy, others=facts.ids,
        field_checks=(_TEST, *(f"Trace {tie}: it may bring more." for tie in facts.ties)),
    )  # fmt: skip


def _suspected(facts: OpenFacts) -> Verdict:
    ties = listed(facts.ties)
    message = f"With {facts.device.name} open, {facts.side} may stay live through {ties}, which nobody traced yet."
    needs = (*(f"trace of {tie}" for tie in facts.ties), *(t.need for t in facts.takeovers if t.need))
    return verdict(
        _RULE, facts.device, facts.edition, "unknown", sentences(message, *_takeovers(facts)),
        needs=tuple(dict.fromkeys(needs)), others=facts.ids, field_checks=(_TEST,),
    )  # fmt: skip


def _taken_over(facts: OpenFacts) -> Verdict:
    """Nothing reaches the far side itself; a transfer switch behind it moves by itself, or may."""
    name = facts.device.name
    needs = tuple(dict.fromkeys(t.need for t in facts.takeovers if t.need))
    first, *more = _takeovers(facts)
    begin = f"{name} is open, and" if facts.is_open else f"When {name} is open,"
    return verdict(
        _RULE, facts.device, facts.edition, "unknown" if needs else "advice", sentences(f"{begin} {first}", *more),
        needs=needs, others=facts.ids, remedy=_locking([t.lock for t in facts.takeovers if t.lock]), field_checks=(_TEST,),
    )  # fmt: skip


def _takeovers(facts: OpenFacts) -> list[str]:
    """One sentence for each source: a few places with the way to each, of many the first ones."""
    by_source: dict[str, list[Takeover]] = {}
    for taken in facts.takeovers:
        by_source.setdefault(taken.feed.source, []).append(taken)
    found = []
    for source, each in by_source.items():
        feeds = {str(t.feed) for t in each}
        places = list(dict.fromkeys(t.place for t in each))
        if len(places) > _NAMED_AT_MOST:
            places = [*places[: _NAMED_AT_MOST - 1], f"{len(places) - _NAMED_AT_MOST + 1} more"]
        found.append(f"{listed(places)} may be taken over by {feeds.pop() if len(feeds) == 1 else source}.")
    return found


def _locking(devices: Sequence[str]) -> str:
    """The devices to be opened as well, all of them: none may be left out."""
    return f"Open and lock {listed(tuple(dict.fromkeys(devices)))} as well, then test." if devices else ""


def _named(feeds: Sequence[Feed]) -> str:
    return listed([str(feed) for feed in feeds])
