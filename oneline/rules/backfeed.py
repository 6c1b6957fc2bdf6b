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
_TEST = "Treat both sides as energized until each is tested at the point of work."


@dataclass(frozen=True)
class Feed:
    """One source that still reaches a side: its name, and the devices it comes through, nearest to the side first."""

    source: str
    through: tuple[str, ...] = ()

    def __str__(self) -> str:
        return f"{self.source} through {self.through[0]}" if self.through else self.source


@dataclass(frozen=True)
class OpenFacts:
    """A device in its open position. ``side``: what its side away from the normal supply feeds, by name, or "its side
    toward" something.

    ``feeds``: sources that certainly reach that side; ``line_feeds``: those on the other side. ``line_side``: what the
    other side of a tie feeds, by name. ``ties``: untraced ties by which something may reach it. ``is_open``: whether the
    device is open now. ``ids``: of the sources.
    """

    device: Subject
    edition: int
    side: str
    feeds: tuple[Feed, ...] = ()
    line_feeds: tuple[Feed, ...] = ()
    line_side: str = ""
    ties: tuple[str, ...] = ()
    is_open: bool = False
    ids: tuple[str, ...] = ()


def stays_live(facts: OpenFacts) -> Verdict | None:
    """LIVE-BOTH for one device; ``None`` where nothing known or suspected reaches its far side."""
    if facts.feeds:
        return _certain(facts)
    return _suspected(facts) if facts.ties else None


def _certain(facts: OpenFacts) -> Verdict:
    name, sources = facts.device.name, _named(facts.feeds)
    message = f"When {name} is open, {facts.side} stays live from {sources}."
    if facts.line_side and facts.line_feeds:
        other = f"{facts.line_side} from {_named(facts.line_feeds)}"
        message = f"When {name} is open, both its sides stay live: {facts.side} from {sources}, and {other}."
    further = f"{listed(facts.ties)} may bring more." if facts.ties else ""
    if facts.is_open:
        message = f"{name} is open, and {facts.side} is live from {sources}."
        if facts.line_feeds:
            further = f"The other side is live from {_named(facts.line_feeds)}."
    sides = (*facts.feeds, *(facts.line_feeds if facts.line_side else ()))
    through = [f.through[0] for f in sides if f.through and f.through[0] != name]
    remedy = f"Open and lock {listed(tuple(dict.fromkeys(through)))} as well, then test." if through else ""
    return verdict(
        _RULE, facts.device, facts.edition, "advice", sentences(message, further), remedy=remedy, others=facts.ids,
        field_checks=(_TEST, *(f"Trace {tie}: it may bring more." for tie in facts.ties)),
    )  # fmt: skip


def _suspected(facts: OpenFacts) -> Verdict:
    ties = listed(facts.ties)
    message = f"With {facts.device.name} open, {facts.side} may stay live through {ties}, which nobody traced yet."
    needs = tuple(f"trace of {tie}" for tie in facts.ties)
    return verdict(
        _RULE, facts.device, facts.edition, "unknown", message, needs=needs, others=facts.ids, field_checks=(_TEST,)
    )  # fmt: skip


def _named(feeds: Sequence[Feed]) -> str:
    return listed([str(feed) for feed in feeds])
