"""The fault current that a rating is compared with: both methods, X/R of the fault against that of the test, worksheet."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from math import ceil, e, exp, pi, sqrt

from oneline.model.quick import quick
from oneline.rules.common import (
    Compared,
    Fact,
    Subject,
    bounds,
    compared,
    computed,
    looked_up,
    number,
    quantity,
    scaled,
    section,
)
from oneline.rules.verdict import WorkLine

BY_HAND = "the point-to-point method"
#: How a fault current was counted where there was a choice; or what tells it when somebody looks.
Notes = Sequence[str] | Callable[[], Sequence[str]]


@quick
@dataclass(frozen=True)
class FaultFacts:
    """A device or piece of equipment and the fault current it has to deal with.

    ``rating``: amperes; ``what``: which rating. ``duty``: available fault current in amperes from impedances, with what
    motors and inverters add; bounds where it is not known. ``hand_a``: the point-to-point value with the same additions.
    ``on``: the source that gives it, where it is not the normal one (" on Generator 1").
    ``x_r``: X/R of the fault; ``test_x_r``: of the device's test, ``None`` where no correction is asked for.
    """

    subject: Subject
    edition: int
    rating: Fact
    what: str
    duty: Fact
    hand_a: float | None = None
    x_r: float | None = None
    test_x_r: float | None = None
    notes: Notes = ()
    on: str = ""
    #: Tested by the whole current of the first cycle, as fuses are, not by its peak.
    rms: bool = False
    #: What running motors and inverters add to ``duty``, and the rules that say how.
    added_a: float | None = None
    added_by: tuple[str, ...] = ()
    #: What the finding says it is about, where that is not the item itself ("each breaker of Panel 1").
    called: str = ""
    #: What a current-limiting device ahead lets through, and by what that is shown.
    let_through: Fact | None = None
    let_through_by: str | None = None

    @property
    def who(self) -> str:
        """The item in the middle of a sentence."""
        return self.called or self.subject.name


@lru_cache(maxsize=64)
def _test_part(test_x_r: float) -> float:
    return exp(-pi / test_x_r)


def asymmetry_factor(x_r: float | None, test_x_r: float | None, rms: bool = False) -> float:
    """How much harder a fault of this X/R is than the device's test (FLT-10), never below 1; the worst when X/R is not
    known. 1 where no correction is asked for. By the peak of the first half cycle; ``rms``: by its effective value, for
    fuses."""
    if test_x_r is None:
        return 1.0
    own = 1.0 if x_r is None else exp(-pi / x_r) if x_r > 0 else 0.0
    test = _test_part(test_x_r)
    if rms:
        return max(1.0, sqrt((1 + 2 * own**2) / (1 + 2 * test**2)))
    return max(1.0, (1 + own) / (1 + test))


def x_r_open(facts: FaultFacts) -> bool:
    """Whether the duty is bounded by the worst X/R, because that of the fault is not known."""
    return facts.x_r is None and asymmetry_factor(None, facts.test_x_r, facts.rms) > 1.0


#: The same two where X/R is not known: the worst is all reactance.
_PEAK_MOST = "duty * 2 / (1 + e ** (-pi / test))"
_RMS_MOST = "duty * sqrt(3 / (1 + 2 * e ** (-2 * pi / test)))"
_PEAK = "duty * (1 + e ** (-pi / circuit)) / (1 + e ** (-pi / test))"
_RMS = "duty * sqrt((1 + 2 * e ** (-2 * pi / circuit)) / (1 + 2 * e ** (-2 * pi / test)))"


def duty_lines(facts: FaultFacts) -> list[WorkLine]:
    """Worksheet of :func:`duty_of`."""
    value = facts.duty.value
    lines = [looked_up("Available fault current, from impedances", value, "A", section("FLT-6", facts.edition))]
    lines.append(looked_up("Method: E / Z at nominal voltage, first cycle", "", "", section("FLT-12", facts.edition)))
    if value is not None and facts.added_a:
        shown = "; ".join(section(rule, facts.edition) for rule in facts.added_by)
        lines.append(looked_up("Of it, added by running motors and inverters", facts.added_a, "A", shown))
        lines.append(computed("What the source alone gives", "duty - added", duty=value, added=facts.added_a))
    if facts.hand_a is not None:
        lines.append(looked_up("Available fault current, by hand", facts.hand_a, "A", section("FLT-7", facts.edition)))
        value = None if value is None else max(value, facts.hand_a)
    factor = asymmetry_factor(facts.x_r, facts.test_x_r, facts.rms)
    if factor > 1.0 and value is not None and facts.test_x_r is not None and facts.x_r is not None:
        lines.append(
            computed(
                "Corrected for X/R", _RMS if facts.rms else _PEAK, "A",
                section("FLT-10", facts.edition), duty=value, e=e, pi=pi, circuit=facts.x_r, test=facts.test_x_r,
            )
        )  # fmt: skip
    most = facts.duty.most
    if x_r_open(facts) and most is not None and facts.test_x_r is not None:
        most = most if facts.hand_a is None else max(most, facts.hand_a)
        lines.append(
            computed(
                "Duty at most, by the worst X/R", _RMS_MOST if facts.rms else _PEAK_MOST, "A",
                section("FLT-10", facts.edition), duty=most, e=e, pi=pi, test=facts.test_x_r,
            )
        )  # fmt: skip
    return lines


def duty_of(facts: FaultFacts) -> Fact:
    """Duty in amperes: the larger of the value from impedances and the hand value, corrected for X/R."""
    factor = asymmetry_factor(facts.x_r, facts.test_x_r, facts.rms)
    value = facts.duty.value
    if facts.hand_a is not None:
        value = None if value is None else max(value, facts.hand_a)
    high = facts.duty.most
    if facts.hand_a is not None and high is not None:
        high = max(high, facts.hand_a)
    low = value if value is not None else facts.duty.low
    corrected: float | None = None
    if value is not None and (facts.x_r is not None or facts.test_x_r is None):
        corrected = value * factor
        low = corrected
    return Fact(
        corrected, low, None if high is None else high * factor, facts.duty.basis, "", facts.duty.name,
        facts.duty.assumed, missing=partial(_missing, facts.duty, facts.subject, value is None),
    )  # fmt: skip


def _missing(duty: Fact, subject: Subject, unknown: bool) -> tuple[str, ...]:
    return duty.needs if unknown else (f"X/R of the fault at {subject.name}",)


def compared_ka(one: Fact, other: Fact) -> Compared | None:
    return compared(scaled(one, 1e-3), scaled(other, 1e-3), "above", "below", "kA")


def ka_bounds(fact: Fact) -> str:
    return bounds(scaled(fact, 1e-3), "kA")


def kiloamperes(amperes: float | None, apart_from: float | None = None) -> str:
    """ "31.4 kA", with more decimals where it would otherwise read like ``apart_from``; "not known yet"."""
    if amperes is None:
        return "not known yet"
    return quantity(amperes / 1000, "kA", None if apart_from is None else apart_from / 1000)


def at_most_ka(duty: Fact) -> str:
    """The upper bound of a duty, rounded up."""
    return quantity((duty.most or 0.0) / 1000, "kA", rounding="up")


def note_lines(notes: Notes) -> tuple[WorkLine, ...]:
    """How a fault current was counted where there was a choice, as worksheet lines."""
    return tuple(looked_up("Counted", note, "") for note in (notes() if callable(notes) else notes))


def at_least_ka(duty: Fact) -> str:
    """The fault current as a rating to ask for, rounded up."""
    return f"{number(ceil((duty.most or duty.least or 0.0) / 100) / 10)} kA"
