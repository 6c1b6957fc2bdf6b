"""What clamp readings tell beside the calculated load (READ-1): that load is missing on the drawing, or that something is
overloaded as it stands. No reading ever stands for the load itself (220.87)."""

from __future__ import annotations

from dataclasses import dataclass

from oneline import tables
from oneline.rules.common import Subject, amperes, verdict
from oneline.rules.verdict import Verdict

_RULE = "READ-1"


@dataclass(frozen=True)
class ReadPhase:
    """The highest reading of one phase, amperes. ``when``: its date and time. ``most_a``: what was there already draws no
    more by the drawing; ``None`` where that has no upper bound."""

    phase: str
    read_a: float
    when: str
    most_a: float | None


def more_than_drawn(subject: Subject, edition: int, phases: tuple[ReadPhase, ...]) -> Verdict | None:
    """A reading well above what the load can be by the drawing: some load is not on it. ``None`` where none is.

    A reading below tells nothing: not everything runs at once.
    """
    share = 1 + tables.limit_value("reading_above_load_pct") / 100
    above = [p for p in phases if p.most_a is not None and p.read_a > share * p.most_a]
    if not above:
        return None
    worst = max(above, key=lambda p: p.read_a - (p.most_a or 0.0))
    message = (
        f"{subject.name} reads {amperes(worst.read_a)} on phase {worst.phase} ({worst.when}), and its load by this drawing "
        f"is {amperes(worst.most_a or 0.0)}: load is missing on the drawing."
    )
    return verdict(
        _RULE, subject, edition, "advice", message, remedy=f"Find out what else {subject.name} feeds, and enter it.",
        field_checks=(f"Trace what {subject.name} feeds that is not on the drawing.",),
    )  # fmt: skip


def above_rating(
    subject: Subject, edition: int, phases: tuple[ReadPhase, ...], rating_a: float | None, rated: str
) -> Verdict | None:
    """A reading above the rating of what carries it: overloaded as it stands. ``rated``: what has the rating, "fuse".
    ``None`` where no reading is above it."""
    worst = max(phases, key=lambda p: p.read_a, default=None)
    if rating_a is None or worst is None or worst.read_a <= rating_a:
        return None
    message = (
        f"{subject.name} reads {amperes(worst.read_a)} on phase {worst.phase} ({worst.when}), above the "
        f"{amperes(rating_a)} of its {rated}: it is overloaded as it stands."
    )
    return verdict(
        _RULE, subject, edition, "fail", message,
        remedy=f"Take load off {subject.name} before anything is added, and read it again.",
        field_checks=(f"Read {subject.name} again, with a second instrument.",),
    )  # fmt: skip
