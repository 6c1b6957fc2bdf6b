"""A plan in words: shared by the window, the command line and the papers, so that all say the same.

Nothing here decides anything. "Dead by the drawing" is never said without "not verified".
"""

from __future__ import annotations

from datetime import datetime, timedelta

from oneline.model import Bus, Disconnect, Drawing, Joint, TransferSwitch, WorkZone
from oneline.outage.results import ITEM_STATES, Isolation, IsolationPoint, Plan, Step, SwitchCurrent

PART_TITLES = {
    "prepare": "Before anything is opened", "shed": "Shed the load at its own controls", "open": "Open", "lock": "Lock",
    "test": "Test for absence of voltage", "work": "The work", "check": "Before anything is closed",
    "close": "Restore: one device at a time, sources last",
}  # fmt: skip
#: What stands before the reason where a step is not simply in order.
STEP_SIGNS = {"fail": "Fails", "unknown": "Not known", "judge": "To be judged", "advice": "Note"}
#: Where the current of a step comes from.
BASIS_WORDS = {
    "reading": "by clamp reading", "calculated": "by calculated load", "none left": "no load left behind it",
    "dead": "line side dead by then", "unknown": "",
}  # fmt: skip
UNKNOWN = "not known"
_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
           "December")  # fmt: skip
_NAMED = 12


# --------------------------------------------------------------------------------------------------------------- times
def begin_of(zone: WorkZone) -> datetime | None:
    """When the outage begins; ``None`` when that is not said as a date with a time of day."""
    text = (zone.begins or "").strip()
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        return None
    return found.replace(tzinfo=None) if ":" in text else None


def clock(zone: WorkZone, minute: float | None) -> str:
    """The time of day of a minute of the plan ("06:12"), with the day of the week or the date on another day; "+12 min"
    where the beginning is not known; "" where the minute is not."""
    if minute is None:
        return ""
    begin = begin_of(zone)
    if begin is None:
        return f"+{minute:.0f} min"
    try:
        at = begin + timedelta(minutes=round(minute))
    except OverflowError:
        return f"+{minute:.0f} min"
    days = (at.date() - begin.date()).days
    if days == 0:
        return f"{at:%H:%M}"
    return f"{_DAYS[at.weekday()][:3]} {at:%H:%M}" if 0 < days < len(_DAYS) else f"{at:%Y-%m-%d %H:%M}"


def day_words(when: datetime) -> str:
    """Like "Saturday, December 5, 2026"."""
    return f"{_DAYS[when.weekday()]}, {_MONTHS[when.month - 1]} {when.day}, {when.year}"


def hour_words(when: datetime) -> str:
    """Like "6:05 AM"."""
    return f"{(when.hour - 1) % 12 + 1}:{when.minute:02d} {'AM' if when.hour < 12 else 'PM'}"


def lasting(minutes: float) -> str:
    """Like "2 h 15 min"."""
    hours, rest = divmod(round(minutes), 60)
    return " ".join(
        part for part in (f"{hours} h" if hours else "", f"{rest} min" if rest or not hours else "") if part
    )


# -------------------------------------------------------------------------------------------------------------- answer
def used(plan: Plan) -> Isolation | None:
    """The isolation that the steps work with. Where only the utility can make the zone dead, what is opened besides."""
    if plan.isolation is not None:
        return plan.isolation
    return plan.answer.besides[0] if plan.answer.besides else None


def holds(plan: Plan) -> bool:
    """Whether the plan stands by the drawing: isolated, complete, no step fails, the order is not a bad one."""
    isolation = plan.isolation
    return (
        plan.answer.state == "isolated"
        and isolation is not None
        and not (isolation.reached or isolation.unknown)
        and not plan.answer.missing
        and not plan.problems
        and all(step.state != "fail" for step in plan.steps)
    )


def headline(plan: Plan) -> str:
    """The answer in one sentence."""
    answer = plan.answer
    if answer.state == "not here":
        return "Not every source can be opened on the premises: the zone cannot be made dead from here."
    if answer.state == "unknown" or answer.missing:
        return "Not known whether the zone can be made dead: something that nobody traced, or that is not drawn, touches it."
    if plan.isolation is None:
        return "Not known yet: no way to isolate the zone was found."
    if plan.isolation.reached:
        return "Not isolated: with the points chosen by hand a source still reaches the zone."
    if plan.isolation.unknown:
        return "Not known whether these points make the zone dead: why stands with them."
    if plan.problems:
        return "Do not work by this order: it was arranged by hand, and it is bad as said with it."
    failing = [str(step.number) for step in plan.steps if step.state == "fail"]
    if failing:
        steps = f"step{'s' if len(failing) > 1 else ''} {list_words(failing)}"
        return f"Do not work by this order as it stands: {steps} would fail."
    count = len(plan.isolation.held)
    which = {1: "the isolation point is", 2: "both isolation points are"}.get(
        count, f"all {count} isolation points are"
    )
    if not count:
        return "By the drawing no source reaches the zone as it stands. Not verified."
    return f"Dead by the drawing when {which} open and locked. Not verified: only tests at the points of work tell."


def answer_lines(drawing: Drawing, plan: Plan) -> list[tuple[str, str]]:
    """(label, sentence) of everything that makes the answer less than it seems."""
    answer = plan.answer
    out = [("Not on the premises", blocked.says) for blocked in answer.blocked]
    isolation = plan.isolation
    if isolation is not None:
        out += [("Still live", reached.says) for reached in isolation.reached]
    opened = used(plan)
    out += [("Rests on an interlock", sentence) for sentence in (opened.rests_on if opened is not None else ())]
    unknown = (*answer.unknown, *(isolation.unknown if isolation is not None else ()))
    out += [("Not known", sentence) for sentence in dict.fromkeys(unknown)]
    out += [("Circuits", f"{line}.".replace("..", ".")) for line in answer.listed]
    if answer.missing:
        names = list_words([drawing.name_of(i) for i in answer.missing])
        out.append(("Not drawn here", f"{names}: nothing can be said of that part of the work in this view."))
    out += [("Live beside the work", sentence) for sentence in plan.beside]
    out += [("The order is bad", problem.says) for problem in plan.problems]
    return out


def list_words(names: list[str] | tuple[str, ...], most: int = _NAMED) -> str:
    """Names with commas, or semicolons where a name has a comma; beyond ``most`` only how many more there are."""
    shown = names if len(names) <= most else names[:most]
    more = len(names) - len(shown)
    between = "; " if any("," in name for name in shown) else ", "
    return between.join(shown) + (f" and {more} more" if more else "")


# --------------------------------------------------------------------------------------------------------------- parts
def amps(value: float) -> str:
    return f"{value:,.0f} A" if abs(value) >= 99.95 else f"{value:.1f} A"


def rated(value: float) -> str:
    """A rating as it stands on the label: "40 A"."""
    return f"{value:,g} A"


def current_words(current: SwitchCurrent | None) -> str:
    """The current in one figure: "131 A", "at most 150 A", "none", "not known"; "" where none is asked."""
    if current is None:
        return ""
    if current.basis in ("none left", "dead") and not current.amperes:
        return "no current"
    if current.amperes is not None:
        return amps(current.amperes)
    if current.at_most is not None:
        return f"at most {amps(current.at_most)}"
    return UNKNOWN


def step_why(step: Step) -> str:
    """Why a step is not simply in order; "" when it is."""
    if step.state == "pass" or not step.why:
        return ""
    return f"{STEP_SIGNS.get(step.state, 'Note')}: {step.why}"


def current_basis(current: SwitchCurrent) -> str:
    """Where a current comes from, without a full stop."""
    return (current.words or BASIS_WORDS.get(current.basis, "")).rstrip(".")


def where_is(drawing: Drawing, item_id: str) -> str:
    """Where an item is found: its own place, or the board it is bolted to; "" where nobody wrote it down."""
    item = drawing.items.get(item_id)
    if item is None:
        return ""
    if item.location:
        return item.location
    for joint in (c for c in drawing.connections_of(item_id) if isinstance(c, Joint)):
        board = drawing.items.get(joint.b.item if joint.a.item == item_id else joint.a.item)
        if isinstance(board, Bus):
            return f"in {drawing.name_of(board.id)}" + (f", {board.location}" if board.location else "")
    return ""


def step_place(drawing: Drawing, step: Step) -> str:
    """The place of a step where its words do not name it."""
    said = step.place and (f"({step.place})" in step.words or f", {step.place}" in step.words)
    if said or (not step.place and not isinstance(drawing.items.get(step.item), Disconnect | TransferSwitch)):
        return ""
    return step.place or where_is(drawing, step.item)


def source_names(drawing: Drawing, sources: tuple[str, ...]) -> str:
    return list_words([drawing.name_of(s) for s in sources])


def live_side_words(drawing: Drawing, point: IsolationPoint) -> list[str]:
    """Each terminal of an opened device that stays live, and from where."""
    return [
        f"{side} side stays live from {source_names(drawing, sources)}"
        for side, sources in point.live_sides.items()
        if sources
    ]  # fmt: skip


def point_place(drawing: Drawing, point: IsolationPoint) -> str:
    return point.location or where_is(drawing, point.item) or "location not recorded"


def record_lines(drawing: Drawing, plan: Plan) -> list[str]:
    """What persons' tests on record say of the items worked on, the latest of each; only they can say that one is dead."""
    out = []
    tests = plan.answer.zone.tests
    for item in dict.fromkeys(t.item for t in tests if t.item in plan.answer.zone.items):
        last = max((t for t in tests if t.item == item), key=lambda t: t.when)
        who = " ".join(
            filter(None, (f"by {last.by}" if last.by else "by somebody not named", last.when, last.instrument))
        )
        if plan.states.get(item) == ITEM_STATES[3]:
            out.append(f"{drawing.name_of(item)}: verified dead {who}.")
        else:
            out.append(f"{drawing.name_of(item)}: tested {who}; this does not verify it as it stands now.")
    return out
