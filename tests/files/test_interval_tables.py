"""Interval data in tables of any form. Expected figures are reckoned from the invented curve itself, in fractions."""

from __future__ import annotations

import hashlib
import random
from datetime import datetime, timedelta
from fractions import Fraction
from typing import Any

import pytest
from interval_data import Values, curve, table

from oneline.files import CannotOpen
from oneline.files.intervals import Imported, read_recording, to_record

WIN = "%m/%d/%Y %I:%M %p"


def read(text: str | bytes, **answers: str) -> Imported:
    data = text.encode() if isinstance(text, str) else text
    return read_recording(data, {k.replace("_", "-"): v for k, v in answers.items()}, "log.csv")


def record(text: str | bytes, **answers: str) -> Any:
    imported = read(text, **answers)
    assert imported.recording is not None, imported.open
    return to_record(imported.recording)


def expected(values: Values) -> tuple[float, str]:
    at = max(values, key=lambda t: values[t])
    return float(values[at]), at.strftime("%Y-%m-%d %H:%M")


FORMS = [
    "%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M:%S", "%Y/%m/%d %H:%M:%S", "%Y%m%d %H%M", "%m/%d/%Y %H:%M", WIN, "%m/%d/%y %H:%M",
    "%d.%m.%Y %H:%M:%S", "%d.%m.%y %H:%M", "%d/%m/%Y %H:%M", "%d-%b-%Y %H:%M", "%b %d, %Y %I:%M:%S %p", "%d %B %Y %H:%M",
    "%a %m/%d/%Y %H:%M", "%m-%d-%Y %H:%M", "%Y-%m-%d %H:%M:%S.000", "%s",
]  # fmt: skip


@pytest.mark.parametrize("form", FORMS)
def test_time_stamps_of_every_form(form: str) -> None:
    values = curve(40 * 96)
    if form == "%s":
        made = record(table(values, lambda t: str(int((t - datetime(1970, 1, 1)).total_seconds()))))
    else:
        made = record(table(values, form, ";", "Time;kW"))
    peak, at = expected(values)
    assert (made.peak_kw, made.peak_at) == (peak, at)
    assert (made.start, made.end, made.period_days) == ("2025-06-01", "2025-07-10", 40.0)
    assert (made.gaps, made.unbroken_days, made.coverage_pct, made.interval_min) == (0, 40.0, 100.0, 15.0)


@pytest.mark.parametrize(
    ("parter", "comma"),
    [(",", False), *((p, comma) for p in (";", "\t", "|") for comma in (False, True))],
)
def test_delimiters_and_decimal_marks(parter: str, comma: bool) -> None:
    values = curve(300)
    made = record(table(values, "%Y-%m-%d %H:%M", parter, "Time" + parter + "kW", comma))
    assert made.peak_kw == expected(values)[0]


@pytest.mark.parametrize("code", ["utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_encodings(code: str) -> None:
    values = curve(300)
    text = table(values, WIN, ";", "Zähler größter Wert, 25 °C\nTime;Leistung (kW)")
    made = record(text.encode(code))
    assert made.peak_kw == expected(values)[0]


@pytest.mark.parametrize(
    ("unit", "factor", "field"),
    [
        ("kW", 1, "peak_kw"), ("W", 1000, "peak_kw"), ("MW", Fraction(1, 1000), "peak_kw"), ("kVA", 1, "peak_kva"),
        ("VA", 1000, "peak_kva"), ("A", 1, "peak_a"), ("kWh", Fraction(1, 4), "peak_kw"), ("Wh", 250, "peak_kw"),
        ("kVAh", Fraction(1, 4), "peak_kva"),
    ],
)  # fmt: skip
def test_units_of_a_quarter_hour(unit: str, factor: Any, field: str) -> None:
    """Energy of a quarter of an hour times four is its average power; k is a thousand (SI)."""
    values = curve(300)
    rows = "".join(f"{t:%Y-%m-%d %H:%M},{float(v * factor):.8f}\n" for t, v in values.items())
    made = record(f"Time,Load ({unit})\n{rows}")
    assert getattr(made, field) == pytest.approx(expected(values)[0], rel=1e-6)
    assert [f for f in ("peak_kw", "peak_kva", "peak_a") if getattr(made, f) is not None] == [field]


@pytest.mark.parametrize("step_min", [1, 5, 10, 15, 30, 60])
def test_intervals(step_min: int) -> None:
    """Short intervals are averaged to quarter hours wherever they begin; longer ones stay what they are."""
    values = curve(500, step_min=step_min)
    made = record(table(values, "%Y-%m-%d %H:%M"))
    width = 15 // step_min if 15 % step_min == 0 else 1
    listed = list(values.values())
    by_hand = max(sum(listed[k : k + width], Fraction(0)) / width for k in range(len(listed) - width + 1))
    assert made.peak_kw == pytest.approx(float(by_hand), rel=1e-5)
    assert made.peak_kw >= float(by_hand) - 1e-9  # never told smaller
    assert made.recorded_every_min == step_min
    assert made.interval_min == (15 if width > 1 else step_min)


def test_phase_currents_and_the_highest_of_them() -> None:
    values = curve(36 * 96)
    rows = "".join(
        f"{t:%Y-%m-%d %H:%M},{float(v)},{float(v * 2)},{float(v / 2)},7.5,120.1\n" for t, v in values.items()
    )
    heads = (
        "Ia (A),Ib (A),Ic (A),In (A),Va (V)", "L1 Amps,L2 Amps,L3 Amps,Neutral Amps,Volts",
        "I1 avg [A],I2 avg [A],I3 avg [A],IN avg [A],U1 [V]",
    )  # fmt: skip
    for head in heads:
        made = record(f"Time,{head}\n{rows}")
        peak = expected(values)[0]
        assert (made.phase_a_a, made.phase_b_a, made.phase_c_a) == pytest.approx((peak, 2 * peak, peak / 2))
        assert made.peak_a == pytest.approx(2 * peak)
        assert made.exported is None


def test_the_highest_phase_is_one_phase() -> None:
    """Two phases that take turns within a quarter of an hour: neither averages what their highest would."""
    rows = ""
    for k in range(120):
        a, b = (300, 0) if k % 3 == 0 else (0, 150)
        rows += f"{datetime(2025, 6, 2) + timedelta(minutes=5 * k):%Y-%m-%d %H:%M},{a},{b},10\n"
    made = record(f"Time,Ia (A),Ib (A),Ic (A)\n{rows}")
    assert (made.phase_a_a, made.phase_b_a, made.phase_c_a, made.peak_a) == (100, 100, 10, 100)


def test_powers_of_phases_add_up() -> None:
    values = curve(300)
    rows = "".join(f"{t:%Y-%m-%d %H:%M},{float(v)},{float(v)},{float(v)}\n" for t, v in values.items())
    made = record(f"Time,Phase A kW,Phase B kW,Phase C kW\n{rows}")
    assert made.peak_kw == pytest.approx(3 * expected(values)[0], rel=1e-6)


def test_a_table_of_a_portal() -> None:
    """Lines about the account, separate columns of date, begin and end, a column of units, costs, a line of totals."""
    values = curve(31 * 96)
    rows = "".join(
        f"Electric usage,{t:%m/%d/%Y},{t:%I:%M %p},{t + timedelta(minutes=14):%I:%M %p},{float(v / 4):.4f},kWh,$1.20,\n"
        for t, v in values.items()
    )
    above = "Name,A. Invented\nAddress,1 Quay\nAccount,0001\n\nTYPE,DATE,START TIME,END TIME,USAGE,UNITS,COST,NOTES\n"
    text = f"{above}{rows}Total,,,,9999,kWh,,\n"
    imported = read(text)
    assert imported.recording is not None
    made = to_record(imported.recording)
    assert made.peak_kw == pytest.approx(expected(values)[0], rel=1e-4)
    assert made.unbroken_days == 31
    assert any("1 row without a time stamp was left out" in note and "Total" in note for note in imported.notes)


def test_a_row_for_each_day() -> None:
    values = curve(30 * 96)
    days: dict[str, list[str]] = {}
    for t, v in values.items():
        days.setdefault(f"{t:%m/%d/%Y}", []).append(f"{float(v):.2f}")
    head = ",".join(f"{h:02d}:{m:02d}" for h in range(24) for m in (0, 15, 30, 45))
    rows = "".join(f"{day},{','.join(cells)}\n" for day, cells in days.items())
    made = record(f"Meter 5\nUnits: kW\nDate,{head}\n{rows}")
    assert (made.peak_kw, made.peak_at) == expected(values)
    assert made.unbroken_days == 30


def test_stamps_at_the_end_of_an_interval() -> None:
    values = curve(96)
    ends = {t + timedelta(minutes=15): v for t, v in values.items()}
    assert record(table(ends, "%Y-%m-%d %H:%M", head="Interval End Time,kW")).peak_at == expected(values)[1]
    assert record(table(ends, "%Y-%m-%d %H:%M"), stamps="end").peak_at == expected(values)[1]
    assert record(table(ends, "%Y-%m-%d %H:%M")).peak_at != expected(values)[1]


def test_midnight_written_as_24() -> None:
    rows = "".join(f"06/{d:02d}/2025,{h:02d}:00,{d}.{h:02d}\n" for d in range(13, 20) for h in range(1, 25))
    made = record(f"Date,Ending,kW\n{rows}")
    assert (made.start, made.end, made.period_days) == ("2025-06-13", "2025-06-19", 7)
    assert made.gaps == 0


def test_hours_counted_from_one() -> None:
    rows = "".join(f"2025-06-{d:02d},{h},{d * 24 + h}\n" for d in range(1, 20) for h in range(1, 25))
    made = record(f"Date,Hour,kW\n{rows}")
    assert (made.start, made.end, made.period_days, made.gaps) == ("2025-06-01", "2025-06-19", 19, 0)
    assert made.peak_at == "2025-06-19 23:00"


# ---------------------------------------------------------------------------------------------- gaps, order, repeats
def test_gaps_break_the_record() -> None:
    values = curve(40 * 96)
    for k, t in enumerate(list(values)):
        if 1000 <= k < 1010 or k == 2000:
            del values[t]
    made = record(table(values, "%Y-%m-%d %H:%M"))
    assert made.gaps == 2
    assert made.unbroken_days == pytest.approx((40 * 96 - 2001) / 96, abs=1e-4)
    assert made.unbroken_days <= (40 * 96 - 2001) / 96  # rounded down, so that nothing short reaches a limit
    assert made.coverage_pct == pytest.approx(100 * (1 - 11 / 3840), abs=1e-3)
    assert made.series.gaps == ((15000, 15150), (30000, 30015))


@pytest.mark.parametrize("cell", ["", "-", "n/a", "NaN", "null", "inf", "---"])
def test_a_cell_without_a_value_is_a_gap(cell: str) -> None:
    values = curve(96)
    lines = table(values, "%Y-%m-%d %H:%M").splitlines()
    lines[40] = f"{lines[40].split(',')[0]},{cell}"
    imported = read("\n".join(lines))
    assert imported.recording is not None
    assert to_record(imported.recording).gaps == 1
    assert "1 row without a value: not recorded." in imported.notes


def test_the_order_of_rows_does_not_matter() -> None:
    values = curve(500)
    lines = table(values, "%Y-%m-%d %H:%M").splitlines()
    rows = lines[1:]
    straight = record("\n".join(lines))
    random.Random(5).shuffle(rows)
    for mixed in (rows, sorted(rows, reverse=True)):
        made = record("\n".join([lines[0], *mixed]))
        assert (made.peak_kw, made.peak_at, made.gaps, made.series) == (
            straight.peak_kw, straight.peak_at, 0, straight.series,
        )  # fmt: skip


def test_repeated_rows_count_once_and_the_higher_one() -> None:
    values = curve(200)
    lines = table(values, "%Y-%m-%d %H:%M").splitlines()
    at = lines[50].split(",")[0]
    imported = read("\n".join([*lines, lines[10], f"{at},500.5"]))
    assert imported.recording is not None
    made = to_record(imported.recording)
    assert (made.peak_kw, made.gaps, made.period_days) == (500.5, 0, pytest.approx(200 / 96, abs=1e-4))
    assert any("again with another value" in n and at in n for n in imported.notes)
    assert any("stood there twice" in n for n in imported.notes)


def test_a_clock_that_drifts_by_seconds() -> None:
    values = {t + timedelta(seconds=k % 7): v for k, (t, v) in enumerate(curve(300).items())}
    made = record(table(values, "%Y-%m-%d %H:%M:%S"))
    assert (made.gaps, made.recorded_every_min) == (0, 15)


# ------------------------------------------------------------------------------------------------- running totals
def running(values: Values, start: int = 1000, resets: tuple[int, ...] = ()) -> str:
    total, rows = Fraction(start), []
    for k, (t, v) in enumerate(values.items()):
        total = Fraction(0) if k in resets else total
        rows.append(f"{t:%Y-%m-%d %H:%M},{float(total):.4f}")
        total += v / 4
    return "\n".join(rows)


def test_a_running_total_is_told_by_its_name_or_asked() -> None:
    values = curve(31 * 96)
    made = record("Time,Energy register (kWh)\n" + running(values))
    assert made.peak_kw == pytest.approx(expected(values)[0], abs=0.001)
    assert made.peak_at == expected(values)[1]
    asked = read("Time,Energy (kWh)\n" + running(values))
    assert [q.name for q in asked.open] == ["energy"]
    assert record("Time,Energy (kWh)\n" + running(values), energy="register").peak_kw == made.peak_kw


def test_a_meter_that_begins_anew_leaves_a_gap() -> None:
    values = curve(31 * 96)
    imported = read("Time,Register kWh\n" + running(values, resets=(700, 1500)))
    assert imported.recording is not None
    made = to_record(imported.recording)
    assert made.gaps == 2
    assert made.unbroken_days == pytest.approx((31 * 96 - 1 - 1500) / 96, abs=1e-3)
    assert any("began anew 2 times" in n for n in imported.notes)


# ----------------------------------------------------------------------------------------- power that flowed back
def test_export_is_seen() -> None:
    values = {t: v - (4000 if t.hour in (11, 12, 13) else 0) / Fraction(100) for t, v in curve(960).items()}
    assert record(table(values, "%Y-%m-%d %H:%M")).exported is True
    positive = "".join(
        f"{t:%Y-%m-%d %H:%M},{float(max(v, 0)) / 4:.4f},{float(max(-v, 0)) / 4:.4f}\n" for t, v in values.items()
    )
    made = record("Time,Import kWh,Export kWh\n" + positive)
    assert made.exported is True
    assert made.peak_kw == pytest.approx(expected(values)[0], rel=1e-4)
    none = "".join(f"{t:%Y-%m-%d %H:%M},{float(v) / 4:.4f},0\n" for t, v in curve(960).items())
    assert record("Time,Delivered kWh,Received kWh\n" + none).exported is False
    assert record(table(curve(960), "%Y-%m-%d %H:%M")).exported is None  # such a table does not show it


def test_turned_currents_of_phases() -> None:
    """All three sensors the wrong way round: each phase is turned, and the highest is that of the phases."""
    values = curve(300)
    rows = "".join(f"{t:%Y-%m-%d %H:%M},{-float(v)},{-2 * float(v)},{-float(v) / 2}\n" for t, v in values.items())
    made = record("Time,Ia (A),Ib (A),Ic (A)\n" + rows, negative="reversed")
    peak = expected(values)[0]
    assert (made.phase_a_a, made.phase_b_a, made.peak_a) == pytest.approx((peak, 2 * peak, 2 * peak))
    assert made.exported is None


def test_one_sensor_the_wrong_way_round_is_asked_about() -> None:
    """Its power would be taken off the total: the record would show a third of what was used."""
    values = curve(300)
    rows = "".join(f"{t:%Y-%m-%d %H:%M},{float(v)},{float(v)},{-float(v)}\n" for t, v in values.items())
    peak = expected(values)[0]
    for head, field, wanted in (
        ("Phase A kW,Phase B kW,Phase C kW", "peak_kw", 3 * peak),
        ("Ia (A),Ib (A),Ic (A)", "peak_a", peak),
    ):
        text = f"Time,{head}\n{rows}"
        asked = read(text)
        assert [(q.name, [c.key for c in q.choices]) for q in asked.open] == [("negative", ["reversed", "export"])]
        assert "Phase C" in asked.open[0].words
        made = record(text, negative="reversed")
        assert getattr(made, field) == pytest.approx(wanted, rel=1e-6)
        assert made.exported is None
        assert record(text, negative="export").exported is True


def test_signs_that_may_be_something_else_are_asked() -> None:
    values = curve(400)
    turned = table({t: -v for t, v in values.items()}, "%Y-%m-%d %H:%M")
    assert [q.name for q in read(turned).open] == ["negative"]
    made = record(turned, negative="reversed")
    assert (made.peak_kw, made.exported) == (expected(values)[0], None)
    noisy = dict(values)
    noisy[next(iter(noisy))] = Fraction(-1, 100)
    asked = read(table(noisy, "%Y-%m-%d %H:%M"))
    assert [c.key for c in asked.open[0].choices] == ["noise", "export"]
    assert record(table(noisy, "%Y-%m-%d %H:%M"), negative="noise").exported is None
    assert record(table(noisy, "%Y-%m-%d %H:%M"), negative="export").exported is True


# ------------------------------------------------------------------------------------------------------- questions
def test_day_and_month_are_asked_only_where_the_rows_do_not_tell() -> None:
    day = curve(96, datetime(2025, 4, 3))
    asked = read(table(day, "%m/%d/%Y %H:%M"))
    assert [q.name for q in asked.open] == ["date-order"]
    words = {c.key: c.words for c in asked.open[0].choices}
    assert words == {"mdy": "month, day, year: April 3, 2025", "dmy": "day, month, year: March 4, 2025"}
    assert record(table(day, "%m/%d/%Y %H:%M"), date_order="mdy").start == "2025-04-03"
    assert record(table(day, "%m/%d/%Y %H:%M"), date_order="dmy").start == "2025-03-04"
    # Eleven days in a row: in one order they follow each other, in the other each is a month later.
    assert record(table(curve(11 * 96, datetime(2025, 1, 2)), "%m/%d/%Y %H:%M")).end == "2025-01-12"
    assert record(table(curve(11 * 96, datetime(2025, 1, 2)), "%d/%m/%Y %H:%M")).end == "2025-01-12"


def test_unit_and_column_are_asked() -> None:
    values = curve(200)
    asked = read(table(values, "%Y-%m-%d %H:%M", head="Time,Usage"))
    assert [q.name for q in asked.open] == ["unit"]
    assert record(table(values, "%Y-%m-%d %H:%M", head="Time,Usage"), unit="kWh").peak_kw == 4 * expected(values)[0]
    two = "".join(f"{t:%Y-%m-%d %H:%M},{float(v)},{float(v) * 3}\n" for t, v in values.items())
    asked = read("Time,Panel A kW,Panel B kW\n" + two)
    assert [(q.name, [c.key for c in q.choices]) for q in asked.open] == [("column", ["Panel A kW", "Panel B kW"])]
    made = record("Time,Panel A kW,Panel B kW\n" + two, column="panel b kw")
    assert made.peak_kw == pytest.approx(3 * expected(values)[0], rel=1e-6)
    assert record("Time,Panel A kW,Panel B kW\n" + two, column="2").peak_kw == expected(values)[0]


def test_thousands_or_decimals_are_asked() -> None:
    rows = "\n".join(f"2025-06-01 {h:02d}:{m:02d};1,{200 + h}" for h in range(24) for m in (0, 15, 30, 45))
    asked = read("Time;kW\n" + rows)
    assert [q.name for q in asked.open] == ["decimal"]
    assert record("Time;kW\n" + rows, decimal="comma").peak_kw == pytest.approx(1.223)
    assert record("Time;kW\n" + rows, decimal="point").peak_kw == 1223


def test_one_of_several_meters() -> None:
    values = curve(200)
    rows = "".join(
        f"{m},{t:%Y-%m-%d %H:%M},{float(v * k)}\n" for m, k in (("M-1", 1), ("M-2", 2)) for t, v in values.items()
    )
    asked = read("Meter,Time,kW\n" + rows)
    assert [(q.name, [c.key for c in q.choices]) for q in asked.open] == [("meter", ["M-1", "M-2"])]
    assert record("Meter,Time,kW\n" + rows, meter="M-2").peak_kw == pytest.approx(2 * expected(values)[0], rel=1e-6)


def test_estimated_values_are_not_recorded_but_may_be_the_peak() -> None:
    values = curve(200)
    rows = [f"{t:%Y-%m-%d %H:%M},{float(v)},A" for t, v in values.items()]
    rows[77] = f"{list(values)[77]:%Y-%m-%d %H:%M},400,E"
    made = record("Time,kW,Quality\n" + "\n".join(rows))
    assert (made.peak_kw, made.gaps) == (400, 1)


def test_answers_that_do_not_fit_are_refused() -> None:
    values = curve(96, datetime(2025, 4, 3))
    with pytest.raises(CannotOpen, match="does not fit"):
        read(table(values, "%m/%d/%Y %H:%M"), date_order="sideways")
    with pytest.raises(CannotOpen, match="No column with figures is named"):
        read(table(values, "%Y-%m-%d %H:%M"), column="kVAr")
    with pytest.raises(CannotOpen, match="cannot be read as dmy"):
        read(table(curve(40 * 96), "%m/%d/%Y %H:%M"), date_order="dmy")


# -------------------------------------------------------------------------------------------------------- refusals
@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "It is empty"),
        (b"   \n\n", "It is empty"),
        (b"hello world\nno figures here\n", "No row of it has a time stamp and a value"),
        (b"PK\x03\x04 something", "Save the table as CSV"),
        (b"%PDF-1.7", "It is a PDF"),
        (bytes(range(256)) * 20, "It is not a text"),
        (b"Date,kW\n2025-01-01,5\n2025-02-01,7\n2025-03-01,9\n", "a day or more apart"),
        (b"Time,kW\n2025-01-01 00:00,5\n", "Fewer than two of its rows"),
        (b"Time,Volts\n2025-01-01 00:00,120\n2025-01-01 00:15,121\n", "No column of it is a demand"),
        (b"Time,kW\n2025-01-01 00:00,0\n2025-01-01 00:15,0\n", "zero or less"),
        (b"Time,kW\n2025-01-01 00:00,90000\n2025-01-01 00:15,5\n", "a record goes up to 20,000 kW"),
        (b"Time,kW\n2025-01-01 00:00,5\n2025-01-01 00:15,5\n2025-01-01 00:21,5\n2025-01-01 00:50,6\n"
         b"2025-01-01 01:31,6\n", "do not follow each other"),
    ],
)  # fmt: skip
def test_what_is_no_interval_data_is_refused_with_a_reason(data: bytes, words: str) -> None:
    with pytest.raises(CannotOpen) as caught:
        read(data)
    assert words in str(caught.value)
    assert caught.value.problem.what_to_do


def test_the_record_names_its_file() -> None:
    text = table(curve(3000), "%Y-%m-%d %H:%M")
    made = record(text)
    assert made.file_name == "log.csv"
    assert made.file_sha256 == hashlib.sha256(text.encode()).hexdigest()


def test_the_series_stays_small_and_holds_the_peak() -> None:
    for days, most in ((36, 1200), (365, 400), (1000, 1200)):
        values = curve(days * 96, datetime(2023, 1, 1))
        made = record(table(values, "%Y-%m-%d %H:%M"), clock="standard")
        assert len(made.series.highest) <= most
        assert max(v for v in made.series.highest if v is not None) == pytest.approx(made.peak_kw, rel=1e-3)


@pytest.mark.parametrize(
    "head",
    [
        [f"HE{h}" for h in range(1, 25)],
        [f"Hour {h}" for h in range(1, 25)] + ["Hour 25"],
        [f"{h:02d}:00" for h in range(24)],
        [f"{h:02d}:00" for h in range(1, 25)],
        [f"{h % 24}:00" for h in range(1, 25)],
        [f"{h:02d}:00 - {h + 1:02d}:00" for h in range(24)],
        [datetime(2025, 1, 1, h).strftime("%I:%M %p") for h in range(24)],
    ],
)
def test_heads_of_a_row_for_each_day(head: list[str]) -> None:
    """An hour ending at 1 begins at midnight; figures of an account that look like a count of seconds are no dates."""
    values = list(curve(40 * 24, step_min=60).values())
    rows = "".join(
        f"1234567890,{datetime(2025, 6, 1) + timedelta(days=d):%Y-%m-%d},"
        + ",".join(f"{float(v):.2f}" for v in values[24 * d : 24 * d + 24]) + "\n"
        for d in range(40)
    )  # fmt: skip
    made = record(f"Account,Day,{','.join(head)}\n{rows}", unit="kW")
    assert (made.peak_kw, made.peak_at) == expected(curve(40 * 24, step_min=60))
    assert (made.period_days, made.gaps, made.start, made.end) == (40, 0, "2025-06-01", "2025-07-10")


def test_heads_above_empty_lines_and_on_two_lines() -> None:
    values = curve(300)
    rows = "".join(f"{t:%Y-%m-%d},{t:%H:%M},{float(v)},{float(v)},{float(v)}\n\n" for t, v in values.items())
    made = record(f"Recorder,7\nDate,Time,kW,kW,kW\n,,A,B,C\n\n{rows}")
    assert made.peak_kw == pytest.approx(3 * expected(values)[0], rel=1e-6)


def test_midnight_without_a_time_of_day() -> None:
    """Spreadsheets write midnight as the date alone."""
    values = curve(300)
    made = record(table(values, lambda t: f"{t:%m/%d/%Y}" if (t.hour, t.minute) == (0, 0) else f"{t:%m/%d/%Y %H:%M}"))
    assert (made.peak_kw, made.peak_at, made.gaps) == (*expected(values), 0)


def test_rows_of_several_units_in_one_column() -> None:
    values = curve(300)
    rows = "".join(
        f"9,{t:%Y-%m-%d %H:%M},KWH,{float(v / 4)}\n9,{t:%Y-%m-%d %H:%M},KVARH,5000\n" for t, v in values.items()
    )
    made = record(f"Meter,Time,Units,Value\n{rows}")
    assert made.peak_kw == pytest.approx(expected(values)[0], rel=1e-6)
