"""Usage data after NAESB REQ.21 (ESPI), in feeds built here after the public schema; codes are those of the standard."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from interval_data import espi, local_time, meter_reading

from oneline.files import CannotOpen
from oneline.files.intervals import Imported, read_recording, to_record
from oneline.model import DemandRecord

START = int(datetime(2025, 1, 1, 5, tzinfo=UTC).timestamp())  # midnight in New York
US = local_time(-18_000, 3600, "360E2000", "B40E2000")
BASE = "https://data.example/espi/1_1/resource/Subscription/1/UsagePoint/1"


def readings(count: int, seconds: int = 900, peak_at: int = 100, peak: int = 9000) -> list[tuple[int, int]]:
    return [(START + seconds * k, peak if k == peak_at else 1000 + 7 * (k % 31)) for k in range(count)]


def read(text: str, **answers: str) -> Imported:
    return read_recording(text.encode(), answers, "usage.xml")


def record(text: str, **answers: str) -> DemandRecord:
    imported = read(text, **answers)
    assert imported.recording is not None, imported.open
    return to_record(imported.recording)


def test_a_year_of_quarter_hours() -> None:
    """9,000 Wh in a quarter of an hour are 36 kW; local time by the feed's own rules is that of New York."""
    made = record(espi(readings(35_040, peak_at=20_000), local_time=US))
    assert made.peak_kw == 36
    at = (datetime.fromtimestamp(START, UTC) + timedelta(minutes=15 * 20_000)).astimezone(ZoneInfo("America/New_York"))
    assert made.peak_at == at.strftime("%Y-%m-%d %H:%M")
    assert (made.period_days, made.gaps, made.start, made.end) == (365, 0, "2025-01-01", "2025-12-31")


@pytest.mark.parametrize(
    ("uom", "power", "kw", "field"),
    [
        (72, 0, 36, "peak_kw"), (72, 3, 36_000 / 1000 * 1000, "peak_kw"), (72, -3, 0.036, "peak_kw"), (38, 0, 9, "peak_kw"),
        (38, 1, 90, "peak_kw"), (61, 0, 9, "peak_kva"), (71, 0, 36, "peak_kva"), (5, -2, 90, "peak_a"),
    ],
)  # fmt: skip
def test_units_and_powers_of_ten(uom: int, power: int, kw: float, field: str) -> None:
    """uom 72 Wh, 38 W, 61 VA, 71 VAh, 5 A; the value times ten to the power is in that unit."""
    text = espi(readings(200), uom=uom, power=power, local_time=US)
    if kw > 20_000:
        with pytest.raises(CannotOpen, match="goes up to"):
            read(text)
        return
    assert getattr(record(text), field) == pytest.approx(kw, rel=1e-6)


def test_flow_directions() -> None:
    """1 is toward the customer, 19 back, 4 the net of both."""
    back = meter_reading(
        [(s, 500 if k == 50 else 0) for k, (s, _) in enumerate(readings(200))], 2, BASE, 72, 0, 900, 19, {}
    )
    made = record(espi(readings(200), local_time=US, extra=back))
    assert (made.peak_kw, made.exported) == (36, True)
    idle = meter_reading([(s, 0) for s, _ in readings(200)], 2, BASE, 72, 0, 900, 19, {})
    assert record(espi(readings(200), local_time=US, extra=idle)).exported is False
    assert record(espi(readings(200), local_time=US)).exported is None
    net = [(s, v if k % 20 else -800) for k, (s, v) in enumerate(readings(200, peak_at=101))]
    assert record(espi(net, flow=4, local_time=US)).exported is True
    assert record(espi(readings(200), flow=4, local_time=US)).exported is False
    with pytest.raises(CannotOpen, match="taken from the utility"):
        read(espi(readings(200), flow=19))


def test_reactive_energy_and_gas_are_not_taken() -> None:
    reactive = meter_reading([(s, v * 3) for s, v in readings(200)], 2, BASE, 73, 0, 900, 1, {})
    assert record(espi(readings(200), local_time=US, extra=reactive)).peak_kw == 36
    gas = espi(readings(200), local_time=US).replace("<kind>0</kind>", "<kind>1</kind>")
    with pytest.raises(CannotOpen, match="no interval readings"):
        read(gas)


def test_gaps_repeats_and_estimates() -> None:
    rows = readings(3000)
    del rows[500:510]
    rows.append(rows[10])
    made = record(espi(rows, local_time=US, quality={rows[2000][0]: 8, rows[2500][0]: 17}))
    assert made.gaps == 2  # ten that are missing, one that was estimated; 17 is validated
    assert made.unbroken_days == pytest.approx(1500 / 96, abs=1e-4)
    assert made.peak_kw == 36


def test_hourly_and_register_readings() -> None:
    hourly = record(espi(readings(24 * 365, 3600), seconds=3600, local_time=US))
    assert (hourly.peak_kw, hourly.interval_min) == (9, 60)
    total, rows = 0, []
    for start, value in readings(400):
        rows.append((start, total))
        total += value
    assert record(espi(rows, accumulation=3, local_time=US)).peak_kw == 36


def test_phase_currents() -> None:
    """Phase codes of the standard: 128 is A to neutral, 64 B, 32 C."""
    parts = [
        meter_reading([(s, v * f) for s, v in readings(200)], n, BASE, 5, -1, 900, 1, {}, phase=code)
        for n, (code, f) in enumerate(((128, 1), (64, 2), (32, 3)), 1)
    ]
    text = espi([], local_time=US)
    start = text.index('<entry><link rel="self" href="' + BASE + "/MeterReading/1")
    made = record(text[:start] + "".join(parts) + "</feed>")
    assert (made.phase_a_a, made.phase_b_a, made.phase_c_a, made.peak_a) == (900, 1800, 2700, 2700)


def test_several_usage_points_are_asked_about() -> None:
    other = BASE.replace("UsagePoint/1", "UsagePoint/2")
    second = meter_reading([(s, v * 2) for s, v in readings(200)], 5, other, 72, 0, 900, 1, {})
    text = espi(readings(200), local_time=US, extra=second)
    asked = read(text)
    assert [q.name for q in asked.open] == ["meter"]
    assert record(text, meter="2").peak_kw == 72


def test_a_feed_without_a_reading_type_asks_for_the_unit() -> None:
    text = espi(readings(200), local_time=US)
    bare = text.replace("<uom>72</uom>", "")
    assert [q.name for q in read(bare).open] == ["unit"]
    assert record(bare, unit="Wh").peak_kw == 36


def test_without_local_time_it_is_said() -> None:
    imported = read(espi(readings(200)))
    assert any("does not tell the local time" in note for note in imported.notes)


HOSTILE = {
    "entities": """<?xml version="1.0"?><!DOCTYPE feed [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>
<feed><entry><content>&b;</content></entry></feed>""",
    "outside": """<?xml version="1.0"?><!DOCTYPE feed [<!ENTITY x SYSTEM "file:///etc/hostname">]><feed>&x;</feed>""",
    "doctype": """<!DOCTYPE feed SYSTEM "http://example.invalid/x.dtd"><feed/>""",
    "deep": "<feed>" + "<a>" * 5000 + "</a>" * 5000 + "</feed>",
    "cut": espi(readings(50))[:2000],
    "empty": "<feed/>",
    "page": "<!DOCTYPE html><html><body>Please sign in</body></html>",
    "encoding": """<?xml version="1.0" encoding="no-such-code"?><feed/>""",
    "figures": espi([(START + 900 * k, 10**17) for k in range(20)], power=12),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_and_damaged_files_are_refused_with_a_reason(name: str) -> None:
    with pytest.raises(CannotOpen) as caught:
        read(HOSTILE[name])
    assert caught.value.problem.why
    assert caught.value.problem.what_to_do
