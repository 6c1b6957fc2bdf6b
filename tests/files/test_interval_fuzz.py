"""Whatever the bytes: interval data is read, asked about, or refused with a reason and a next step; never anything else."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from interval_data import curve, espi, local_time, table

from oneline.files import CannotOpen
from oneline.files.intervals import QUESTIONS, read_recording, to_record
from oneline.model import DemandRecord, specs

NEW_YORK = local_time(-18_000, 3600, "360E2000", "B40E2000")
DAYS = "\n".join(f"2025-06-{d:02d}," + ",".join(str(d + h) for h in range(24)) for d in range(1, 20))
SAMPLES = [
    table(curve(150), "%m/%d/%Y %I:%M %p", head="Account,1\nUnits:,kWh\n\nTime,Usage (kWh)").encode(),
    table(curve(150), "%d.%m.%Y %H:%M", ";", "Zeit;Ia (A)", comma=True).encode("utf-16"),
    ("Date," + ",".join(f"{h:02d}:00" for h in range(24)) + "\n" + DAYS).encode(),
    espi([(1_735_700_400 + 900 * k, 1000 + k) for k in range(100)], local_time=NEW_YORK).encode(),
]


def holds(data: bytes, answers: dict[str, str] | None = None) -> None:
    """The promise about every file."""
    refused: CannotOpen | None = None
    try:
        imported = read_recording(data, answers, "some.csv")
    except CannotOpen as bad:
        refused = bad
    if refused is not None:
        assert refused.problem.what == "The recording cannot be read"
        assert refused.problem.why
        assert refused.problem.what_to_do
        assert len(str(refused)) < 1200
        return
    for question in imported.questions:
        assert question.name in QUESTIONS
        assert question.words
        assert len({c.key for c in question.choices}) == len(question.choices) >= 1
    if imported.recording is None:
        assert imported.open
        return
    made = to_record(imported.recording)
    for name, spec in specs(DemandRecord).items():
        value = getattr(made, name)
        if isinstance(value, float | int) and not isinstance(value, bool):
            assert math.isfinite(value), name
            assert spec.high is None or value <= spec.high, name
            assert spec.low is None or value >= spec.low, name
    assert made.series is not None
    assert len(made.series.highest) <= 1200


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=600))
def test_random_bytes(data: bytes) -> None:
    holds(data)


@settings(max_examples=300, deadline=None)
@given(st.text(alphabet="0123456789/-:.,; \t\n\"'kWhAVTZam+pm()eE\u00a0<>&=", max_size=500))
def test_random_texts_of_the_right_letters(text: str) -> None:
    holds(text.encode())


CELLS = [
    "2025-01-01 00:00", "2025-01-01 00:15", "2025-01-01 00:30", "01/02/2025", "13/13/2025", "24:00", "12:60 PM", "1e308",
    "-1e308", "1,234", "1.234,5", "nan", "inf", "", "9" * 40, "0", "-5", "kWh", "(3.5)", "45000.5", "1735689600",
    "99999999999999", "Total", "2025-03-09 02:30", "0001-01-01 00:00", "9999-12-31 23:59", "=cmd|' /C calc'!A0", "\u202e12",
    "2025-02-30 00:00",
]  # fmt: skip
HEADS = ["Time", "Date", "kW", "kWh", "Ia (A)", "Ib (A)", "Units", "Meter", "Usage", "Hour", "Status", "End"]


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(st.sampled_from(HEADS), min_size=2, max_size=5),
    st.lists(st.lists(st.sampled_from(CELLS), min_size=2, max_size=5), min_size=2, max_size=30),
    st.sampled_from([",", ";", "\t"]),
)
def test_tables_of_strange_cells(heads: list[str], rows: list[list[str]], parter: str) -> None:
    holds("\n".join(parter.join(row) for row in [heads, *rows]).encode())


@pytest.mark.parametrize("sample", range(len(SAMPLES)))
def test_every_sample_is_good_before_it_is_mangled(sample: int) -> None:
    imported = read_recording(SAMPLES[sample], {"unit": "kW", "clock": "standard"}, "some.csv")
    assert imported.recording is not None


@pytest.mark.parametrize("sample", range(len(SAMPLES)))
def test_mangled_files(sample: int) -> None:
    """Bits turned, pieces cut out, doubled, moved and overwritten."""
    rng = random.Random(sample)
    for _ in range(150):
        data = bytearray(SAMPLES[sample])
        for _ in range(rng.randint(1, 6)):
            at, length = rng.randrange(len(data)), rng.randint(1, 60)
            match rng.randrange(5):
                case 0:
                    data[at] ^= 1 << rng.randrange(8)
                case 1:
                    del data[at : at + length]
                case 2:
                    data[at:at] = data[at : at + length]
                case 3:
                    data[at : at + length] = rng.randbytes(length)
                case _:
                    piece = data[at : at + length]
                    del data[at : at + length]
                    to = rng.randrange(len(data) + 1)
                    data[to:to] = piece
            if not data:
                break
        holds(bytes(data), {"unit": "kW"} if rng.random() < 0.5 else None)


@pytest.mark.parametrize("sample", range(len(SAMPLES)))
def test_files_that_were_cut_off(sample: int) -> None:
    whole = SAMPLES[sample]
    for end in range(0, len(whole), max(1, len(whole) // 120)):
        holds(whole[:end])


@settings(max_examples=150, deadline=None)
@given(
    st.dictionaries(st.sampled_from([*QUESTIONS, "stamps", "nonsense"]), st.text(max_size=30), max_size=4),
    st.integers(0, 3),
)
def test_answers_of_any_kind(answers: dict[str, str], sample: int) -> None:
    holds(SAMPLES[sample], answers)


def test_long_lines_many_columns_and_many_cells() -> None:
    holds(b"Time,kW\n2025-01-01 00:00," + b"9" * 300_000 + b"\n2025-01-01 00:15,5\n")
    holds(b"Time," + b"kW," * 5000 + b"\n2025-01-01 00:00" + b",5" * 5000 + b"\n")
    holds(b'Time,kW\n2025-01-01 00:00,"5\n2025-01-01 00:15,5\n' * 50)
    holds(b"," * 200_000)
    holds(b"\n" * 200_000 + b"Time,kW\n2025-01-01 00:00,5\n2025-01-01 00:15,5\n")
