"""From the time on the wall to a steady clock: daylight saving makes an hour that is missing and one that stands twice."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from oneline.files.intervals.asking import Asker, Choice, shown

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

HOUR_S = 3600
DAY_S = 86_400
#: A zone with the dates of the United States. Steps of time are the same in all of them, wherever the building stands.
US_ZONE = "America/New_York"
STANDARD, DAYLIGHT = "standard", "daylight"
_CHANGE_HOUR = 2
#: Clocks change on a quarter of an hour.
_QUARTER_S = 900


def wall_datetime(wall_s: int) -> datetime:
    """Wall seconds as date and time of day."""
    return datetime.fromtimestamp(wall_s, UTC).replace(tzinfo=None)


def wall_text(wall_s: int) -> str:
    """ "2026-07-14 15:30"."""
    return wall_datetime(wall_s).strftime("%Y-%m-%d %H:%M")


def clock_of(walls: Sequence[int], step_s: int, asker: Asker) -> str:
    """Whether the clock of the stamps changes to daylight saving time: "standard", "daylight" or the name of a time zone.

    Told by rows in an hour that daylight saving skips, or by an hour that stands twice where it falls back; where both
    ways of reading are left, it is asked. Raises ``Open``.
    """
    told, doubt = _told(walls, step_s, asker)
    if asker.answers.get("clock"):
        return _asked(asker, doubt)
    return told or (_asked(asker, doubt) if doubt else STANDARD)


def _told(walls: Sequence[int], step_s: int, asker: Asker) -> tuple[str, str]:
    """What the rows tell of the clock ("" for nothing), and what is doubtful about it."""
    there = set(walls)
    first, last = min(there), max(there)
    doubt = ""
    if step_s > HOUR_S:
        return STANDARD, ""
    for spring, autumn in _us_changes(first, last):
        per_hour = HOUR_S // step_s
        if first < spring - HOUR_S and spring + 2 * HOUR_S < last:
            inside = sum(spring < w < spring + HOUR_S for w in there) if per_hour > 1 else spring in there
            if inside:
                return STANDARD, ""
            around = sum(spring - HOUR_S <= w < spring for w in there) + sum(
                spring + HOUR_S <= w < spring + 2 * HOUR_S for w in there
            )
            if around * 2 >= 2 * per_hour:
                day = wall_datetime(spring).date()
                doubt = doubt or f"The hour after 2 o'clock is missing on {day}, when daylight saving time begins."
        if first <= autumn - HOUR_S and autumn < last:
            counted = Counter(w for w in walls if autumn - HOUR_S <= w < autumn)
            if counted and sum(n > 1 for n in counted.values()) * 2 >= per_hour:
                before = Counter(w for w in walls if autumn - 3 * HOUR_S <= w < autumn - HOUR_S)
                if all(n == 1 for n in before.values()):
                    asker.note(
                        f"The hour before 2 o'clock stands twice on {wall_datetime(autumn).date()}: daylight saving time."
                    )
                    return DAYLIGHT, doubt
            elif len(counted) >= per_hour:
                doubt = doubt or (
                    f"The hour that daylight saving time repeats on {wall_datetime(autumn).date()} stands there once."
                )
    return "", doubt


def _asked(asker: Asker, doubt: str) -> str:
    return asker.ask(
        "clock", f"{doubt} Did the clock of this file change to daylight saving time?".strip(),
        (Choice(DAYLIGHT, "Yes, on the dates of the United States"),
         Choice(STANDARD, "No, it ran on through: what is missing was not recorded")), free=True,
    )  # fmt: skip


def _us_changes(first_s: int, last_s: int) -> list[tuple[int, int]]:
    """Wall times (02:00 before the change) at which daylight saving begins and ends in each year of the record, by the
    dates in force since 2007: second Sunday in March, first Sunday in November."""
    years = range(wall_datetime(first_s).year, wall_datetime(last_s).year + 1)
    return [(_sunday(y, 3, 2), _sunday(y, 11, 1)) for y in years if y >= 2007]


def _sunday(year: int, month: int, nth: int) -> int:
    first = datetime(year, month, 1, _CHANGE_HOUR, tzinfo=UTC)
    return int((first + timedelta(days=(6 - first.weekday()) % 7 + 7 * (nth - 1))).timestamp())


def zone(name: str, asker: Asker) -> ZoneInfo:
    """A time zone of the system's data base. Raises ``CannotOpen`` for a name that is not in it."""
    from zoneinfo import ZoneInfo

    try:
        return ZoneInfo(US_ZONE if name == DAYLIGHT else name)
    except Exception:  # whatever a name makes of the search for a file
        raise asker.refusal(
            f"There is no time zone {shown(name)} on this machine.",
            "Give a name like America/Chicago; on Windows the Python package tzdata brings the zones.",
        ) from None


def local_offsets(steady: Sequence[int], name: str, asker: Asker) -> list[int]:
    """Seconds by which the wall of a time zone is ahead of universal time."""
    there = zone(name, asker)
    return [int((datetime.fromtimestamp(s, there).utcoffset() or timedelta()).total_seconds()) for s in steady]


def _ahead(wall_s: int, there: ZoneInfo) -> tuple[int, int]:
    """What the wall is ahead of universal time at a wall time: the first and the second time it comes."""
    at = wall_datetime(wall_s).replace(tzinfo=there)
    early, late = (at.replace(fold=fold).utcoffset() or timedelta() for fold in (0, 1))
    return int(early.total_seconds()), int(late.total_seconds())


def offsets(walls: Sequence[int], clock: str, asker: Asker) -> list[int]:
    """Seconds by which the wall is ahead of the steady clock at each row, in the order of the file.

    Where a time stands twice in the hour that is repeated, the first in time is daylight time. Raises ``CannotOpen`` for
    times that the zone does not have.
    """
    if clock == STANDARD:
        return [0] * len(walls)
    there = zone(clock, asker)
    falling = sum(b < a for a, b in itertools.pairwise(walls)) * 2 > len(walls)
    order = range(len(walls) - 1, -1, -1) if falling else range(len(walls))
    days: dict[int, tuple[tuple[int, int], tuple[int, int]]] = {}
    both: dict[int, tuple[int, int]] = {}
    seen: Counter[int] = Counter()
    found = [0] * len(walls)
    lost = 0
    for n in order:
        wall = walls[n]
        day = wall // DAY_S
        if day not in days:
            days[day] = (_ahead(day * DAY_S, there), _ahead((day + 1) * DAY_S, there))
        if days[day][0] == days[day][1] and days[day][0][0] == days[day][0][1]:
            found[n] = days[day][0][0]
            continue
        quarter = wall // _QUARTER_S
        if quarter not in both:
            both[quarter] = _ahead(quarter * _QUARTER_S, there)
        early_s, late_s = both[quarter]
        if early_s > late_s:  # the hour that stands twice
            found[n] = late_s if seen[wall] else early_s
            seen[wall] += 1
        else:
            found[n] = early_s
            lost += early_s < late_s and wall % HOUR_S != 0
    if lost:
        raise asker.refusal(
            f"{lost} of its times do not exist in a clock that changes to daylight saving time.",
            f"Answer “{STANDARD}” to the question about the clock, or name the right zone.",
        )
    return found
