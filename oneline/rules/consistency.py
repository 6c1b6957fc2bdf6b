"""Whether the drawing hangs together: what nothing feeds, and systems that do not go together on one device."""

from __future__ import annotations

from dataclasses import dataclass

from oneline.rules.common import Fact, Subject, amperes, difference, listed, looked_up, verdict, weakest
from oneline.rules.verdict import Verdict

#: Beyond so many, further items are counted instead of named.
_NAMED_AT_MOST = 3


@dataclass(frozen=True)
class LooseFacts:
    """A connected piece of the drawing that no source reaches. ``others``: names of what else is part of it; ``ids``:
    their ids; ``alone``: nothing is connected to the subject."""

    subject: Subject
    edition: int
    others: tuple[str, ...] = ()
    ids: tuple[str, ...] = ()
    alone: bool = False


def not_fed(facts: LooseFacts) -> Verdict:
    """NET-LOOSE: what no source feeds is in no figure, so the answers about the rest may be too good."""
    name = facts.subject.name
    named = list(facts.others[:_NAMED_AT_MOST])
    more = len(facts.others) - len(named)
    if more > 0:
        named.append(f"{more} more")
    together = f" and with it {listed(named)}" if named else ""
    state = "is not connected to anything" if facts.alone else "has no source on this drawing"
    message = f"{name}{together} {state}; its load is in no figure."
    return verdict(
        "NET-LOOSE", facts.subject, facts.edition, "unknown", message, others=facts.ids,
        needs=(f"what feeds {name}",), remedy=f"Connect {name} to what feeds it, or delete it.",
    )  # fmt: skip


def poles_and_phases(device: Subject, edition: int, poles: int, phases: str) -> Verdict | None:
    """NET-POLES: a device has as many poles as phases; a fourth pole switches the neutral. ``None`` where they agree."""
    if poles == len(phases) or (poles, len(phases)) == (4, 3):
        return None
    plural = "s" if poles > 1 else ""
    message = (
        f"{device.name} has {poles} pole{plural} and is entered on phase{'s' if len(phases) > 1 else ''} {phases}."
    )
    return verdict(
        "NET-POLES", device, edition, "unknown", message, needs=(f"poles and phases of {device.name}",),
        remedy=f"Enter the phases of all poles of {device.name}, or its right number of poles.",
    )  # fmt: skip


def device_in_frame(device: Subject, edition: int, trip: Fact, frame: Fact) -> Verdict | None:
    """DEV-1: fuses or a trip are not larger than the switch or frame they stand in. ``trip``, ``frame``: amperes, as they
    are entered. ``None`` where they go together or one is not known."""
    if trip.value is None or frame.value is None or trip.value <= frame.value:
        return None
    gap = difference(trip.value, frame.value, rounding="up")
    message = (
        f"The {trip.name} of {device.name} is {amperes(trip.value, frame.value)}, {gap} more than its {frame.name} of "
        f"{amperes(frame.value, trip.value)}: one of the two entries is wrong, or it is used beyond its listing."
    )
    lines = (looked_up(trip.name.capitalize(), trip.value), looked_up(frame.name.capitalize(), frame.value))
    return verdict(
        "DEV-1", device, edition, "fail", message, value=trip.value, limit=frame.value, unit="A", relation="at most",
        basis=weakest(trip.basis, frame.basis), work=lines,
        remedy="Correct the entry that the label does not bear out, or use a device that fits the frame.",
    )  # fmt: skip


@dataclass(frozen=True)
class SystemsFacts:
    """A device between two supplies. ``one``/``other``: codes of the systems at its two sides; ``None`` is unknown."""

    device: Subject
    edition: int
    one_name: str
    other_name: str
    one: str | None
    other: str | None


def same_system(facts: SystemsFacts) -> Verdict | None:
    """SYS-V: a transfer switch or tie joins supplies of one and the same nominal system only (110.4).

    ``None`` where both are known and equal, which needs no words.
    """
    name = facts.device.name
    if facts.one is not None and facts.other is not None:
        if facts.one == facts.other:
            return None
        message = (
            f"{name} joins {facts.one} ({facts.one_name}) with {facts.other} ({facts.other_name}); "
            "both sides must be the same system."
        )
        remedy = f"Use a source of {facts.one} on both sides of {name}, or a transformer ahead of one of them."
        return verdict("SYS-V", facts.device, facts.edition, "fail", message, remedy=remedy)
    needs = tuple(
        f"system of {n}" for n, code in ((facts.one_name, facts.one), (facts.other_name, facts.other)) if code is None
    )
    message = f"Whether both sides of {name} are the same system is not known yet."
    return verdict("SYS-V", facts.device, facts.edition, "unknown", message, needs=needs)
