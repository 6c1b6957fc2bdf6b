"""Daylight saving in interval data, against the tz data base (zoneinfo): real time never jumps."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from interval_data import curve, local, table

from oneline.files import CannotOpen
from oneline.files.intervals import Imported, read_recording, to_record
from oneline.files.intervals.espi import rule_time
from oneline.model import DemandRecord

ZONES = ["America/New_York", "America/Chicago", "America/Denver", "America/Los_Angeles"]


def read(text: str, **answers: str) -> Imported:
    return read_recording(text.encode(), answers, "log.csv")


def record(text: str, **answers: str) -> DemandRecord:
    imported = read(text, **answers)
    assert imported.recording is not None, imported.open
    return to_record(imported.recording)


def rows(times: list[datetime], form: str = "%Y-%m-%d %H:%M") -> str:
    return "Time,kW\n" + "".join(f"{t.strftime(form)},{20 + k % 50}\n" for k, t in enumerate(times))


@pytest.mark.parametrize(
    ("zone", "step_min"), [*((zone, 60) for zone in ZONES), ("America/New_York", 15), ("America/Chicago", 30)]
)
def test_a_year_of_local_time_is_whole(zone: str, step_min: int) -> None:
    """In local time an hour is missing in March and one stands twice in November; in real time nothing does."""
    count = 365 * 24 * 60 // step_min
    start = datetime(2025, 1, 1, tzinfo=ZoneInfo(zone)).astimezone(UTC).replace(tzinfo=None)
    times = local(count, start, zone, step_min)
    walls = [t.replace(tzinfo=None) for t in times]
    assert len(set(walls)) == count - 60 // step_min  # the hour of November is there twice
    made = record(rows(times))
    assert (made.gaps, made.period_days, made.unbroken_days, made.coverage_pct) == (0, 365, 365, 100)
    assert (made.start, made.end) == ("2025-01-01", "2025-12-31")


def test_newest_first_too() -> None:
    times = local(365 * 96, datetime(2025, 1, 1, 6), "America/Chicago")
    made = record(rows(times[::-1]))
    assert (made.gaps, made.unbroken_days) == (0, 365)


def test_a_missing_hour_in_march_is_asked_about() -> None:
    times = local(60 * 96, datetime(2025, 2, 1, 5), "America/New_York")
    asked = read(rows(times))
    assert [q.name for q in asked.open] == ["clock"]
    assert "2025-03-09" in asked.open[0].words
    whole = record(rows(times), clock="daylight")
    assert (whole.gaps, whole.unbroken_days) == (0, 60)
    for zone in ZONES:
        assert record(rows(times), clock=zone).gaps == 0
    broken = record(rows(times), clock="standard")
    assert broken.gaps == 1
    assert broken.period_days == pytest.approx(60 + 1 / 24, abs=1e-4)


def test_a_clock_that_runs_on_through_is_not_asked_about() -> None:
    made = record(table(curve(60 * 96, datetime(2025, 2, 1)), "%Y-%m-%d %H:%M"))
    assert (made.gaps, made.unbroken_days) == (0, 60)


def test_november_alone() -> None:
    """The hour that stands twice tells; where it stands once it is asked whether one was lost."""
    times = local(30 * 96, datetime(2025, 10, 20, 4), "America/New_York")
    made = record(rows(times))
    assert (made.gaps, made.period_days) == (0, 30)
    once = list(dict.fromkeys(t.replace(tzinfo=None) for t in times))
    assert [q.name for q in read(rows(once)).open] == ["clock"]
    assert record(rows(once), clock="standard").gaps == 0
    assert record(rows(once), clock="daylight").gaps == 1


def test_the_value_of_each_doubled_hour_counts() -> None:
    """The peak in the second 1:30 of November is not lost to the first."""
    times = local(10 * 96, datetime(2025, 10, 28, 4), "America/New_York")
    at = [k for k, t in enumerate(times) if t.strftime("%m-%d %H:%M") == "11-02 01:30"]
    assert len(at) == 2
    for k in at:
        lines = rows(times).splitlines()
        lines[k + 1] = lines[k + 1].split(",")[0] + ",99.5"
        made = record("\n".join(lines))
        assert (made.peak_kw, made.peak_at, made.gaps) == (99.5, "2025-11-02 01:30", 0)


def test_stamps_with_their_own_offset_need_no_answer() -> None:
    times = local(60 * 96, datetime(2025, 2, 1, 5), "America/New_York")
    made = record("Time,kW\n" + "".join(f"{t.isoformat()},{20 + k % 50}\n" for k, t in enumerate(times)))
    assert (made.gaps, made.unbroken_days, made.start) == (0, 60, "2025-02-01")
    named = "Time,kW\n" + "".join(f"{t.strftime('%m/%d/%Y %H:%M %Z')},{20 + k % 50}\n" for k, t in enumerate(times))
    assert record(named).gaps == 0


def test_universal_time_says_so_and_a_zone_makes_it_local() -> None:
    start = datetime(2025, 3, 1, 12, tzinfo=UTC)
    text = "Epoch,kW\n" + "".join(
        f"{int((start + timedelta(minutes=15 * k)).timestamp())},{k % 90 + 1}\n" for k in range(2000)
    )
    imported = read(text)
    assert any("universal time" in note for note in imported.notes)
    made = record(text, clock="America/Chicago")
    local_peak = (start + timedelta(minutes=15 * 89)).astimezone(ZoneInfo("America/Chicago"))
    assert made.peak_at == local_peak.strftime("%Y-%m-%d %H:%M")
    assert made.gaps == 0


def test_times_that_do_not_exist_and_zones_that_are_none() -> None:
    through = table(curve(60 * 96, datetime(2025, 2, 1)), "%Y-%m-%d %H:%M")
    with pytest.raises(CannotOpen, match="do not exist"):
        read(through, clock="daylight")
    for name in ("Mars/Olympus", "../../etc/passwd", "", "x" * 300, "\x00"):
        if name:
            with pytest.raises(CannotOpen, match="no time zone"):
                read(through, clock=name)


@pytest.mark.parametrize("year", range(2007, 2045))
def test_rules_of_the_standard_for_usage_data_name_the_days_of_the_tz_data_base(year: int) -> None:
    """NAESB REQ.21 packs a rule into 32 bits; 360E2000 and B40E2000 are those of the United States since 2007."""
    zone = ZoneInfo("America/New_York")
    for rule, before, after in ((0x360E2000, -5, -4), (0xB40E2000, -4, -5)):
        found = rule_time(rule, year)
        assert found is not None
        utc = datetime.fromtimestamp(found, UTC) - timedelta(hours=before)
        offsets = [(utc + timedelta(seconds=s)).astimezone(zone).utcoffset() for s in (-1, 0)]
        assert offsets == [timedelta(hours=before), timedelta(hours=after)]


@pytest.mark.parametrize(
    ("rule", "day"),
    [
        (0x70400000, "2025-07-04"),  # operator 0: a day of the month
        (0x3E0E2000, "2025-03-30"),  # 7: the last Sunday
        (0xBA082000, "2025-11-27"),  # 5: the fourth Thursday
        (3 << 28 | 1 << 25 | 8 << 20 | 6 << 17, "2025-03-08"),  # 1: the Saturday on or after the 8th
    ],
)
def test_other_rules(rule: int, day: str) -> None:
    """Packed by hand from the description of the bits in the standard's schema."""
    found = rule_time(rule, 2025)
    assert found is not None
    assert datetime.fromtimestamp(found, UTC).date().isoformat() == day


def test_rules_that_name_no_day() -> None:
    assert rule_time(0, 2025) is None
    assert rule_time(2 << 28 | 31 << 20, 2025) is None  # the 31st of February
