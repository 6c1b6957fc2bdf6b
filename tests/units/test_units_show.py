"""How values are written, and that reading back what was written gives the same value."""

from __future__ import annotations

import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oneline.model import fields, vocabulary
from oneline.units import QuantityError, between, edit_text, format_value, parse, quantities, rounded_up, size_text
from oneline.units.parse import KINDS
from oneline.units.size import AWG, KCMIL, WORDS


@pytest.mark.parametrize(
    ("value", "quantity", "text"),
    [
        (None, "length_ft", "—"),
        (400.0, "current_a", "400 A"),
        (166.7, "current_a", "167 A"),
        (99.94, "current_a", "99.9 A"),
        (99.96, "current_a", "100 A"),
        (87.54, "current_a", "87.5 A"),
        (20.0, "current_a", "20 A"),
        (22345.2, "current_a", "22,345 A"),
        (31.42, "fault_ka", "31.4 kA"),
        (10.0, "fault_ka", "10 kA"),
        (208.0, "voltage_v", "208 V"),
        (119.53, "voltage_v", "119.5 V"),
        (2.25, "percent", "2.2 %"),
        (12.0 + 4 / 12, "length_ft", "12 ft 4 in"),
        (5 + 6.5 / 12, "length_ft", "5 ft 6-1/2 in"),
        (10.0, "length_ft", "10 ft"),
        (10.004, "length_ft", "10.004 ft"),
        (0.5 / 12, "length_ft", "1/2 in"),
        (0.75, "length_ft", "9 in"),
        (112.5, "power_kva", "112.5 kVA"),
        (12500.0, "power_va", "12,500 VA"),
        (7.5, "horsepower", "7-1/2 hp"),
        (1 / 3, "horsepower", "1/3 hp"),
        (0.85, "ratio", "0.85"),
        (75.0, "temperature_c", "75 °C"),
        ("4/0", "size", "4/0 AWG"),
        ("500", "size", "500 kcmil"),
        ("none", "size", "none"),
        (True, "flag", "yes"),
        (3, "count", "3"),
        ("EMT", "choice", "EMT"),
    ],
)
def test_written_form(value: float | str | bool | None, quantity: str, text: str) -> None:
    assert format_value(value, quantity) == text


def test_figures_in_columns_keep_their_decimal() -> None:
    assert format_value(20.0, "current_a", fixed=True) == "20.0 A"
    assert format_value(120.0, "current_a", fixed=True) == "120 A"
    assert format_value(208.0, "voltage_v", fixed=True) == "208.0 V"


def test_metric_lengths() -> None:
    assert format_value(9 / 0.3048, "length_ft", "metric") == "9 m"
    with pytest.raises(ValueError, match="furlong"):
        format_value(1.0, "length_ft", "furlong")


@pytest.mark.parametrize(
    ("meters", "text"),
    [(9.0, "29 ft 6-5/16 in"), (10.1, "33 ft 1-5/8 in"), (0.03, "1-3/16 in"), (3.05, "10 ft 1/16 in"),
     (3.0485, "10.002 ft")],
)  # fmt: skip
def test_lengths_that_came_in_as_metric_are_shown_to_a_sixteenth(meters: float, text: str) -> None:
    """1 in is 25.4 mm exactly: 9 m are 354.3307 in, 29 ft and 6.3307 in; 5/16 in is 0.3125 in, 3/8 in 0.375 in.

    3.0485 m are 10 ft and 0.02 in: more than ten feet, so it is not shown as ten.
    """
    assert format_value(meters / 0.3048, "length_ft") == text


def test_decimal_feet_stay_as_they_were_typed() -> None:
    assert format_value(29.528, "length_ft") == "29.528 ft"
    assert format_value(12.34, "length_ft") == "12.34 ft"


def test_not_a_number_is_not_written() -> None:
    with pytest.raises(ValueError, match="nan"):
        format_value(float("nan"), "current_a")


def test_sizes_and_quantities_are_those_of_the_model() -> None:
    assert (*AWG, *KCMIL) == vocabulary.CONDUCTOR_SIZES
    assert size_text("1/0") == "1/0 AWG"
    assert set(WORDS).isdisjoint(vocabulary.CONDUCTOR_SIZES)
    words = {"size", "choice", "flag", "text", "date", "spaces"}
    assert set(quantities()) | words == set(fields.QUANTITIES)
    for name, (low, high) in fields._RANGES.items():
        assert (KINDS[name].low, KINDS[name].high) == (low, high)


def _values(quantity: str) -> st.SearchStrategy[float]:
    kind = KINDS[quantity]
    if quantity == "count":
        return st.integers(int(kind.low), int(kind.high)).map(float)
    return st.floats(kind.low, kind.high, allow_subnormal=False)


@given(st.data())
def test_entry_text_reads_back_exactly(data: st.DataObject) -> None:
    quantity = data.draw(st.sampled_from(quantities()))
    value = data.draw(_values(quantity))
    assert parse(edit_text(value, quantity), quantity) == value


#: Half of the last digit that ``format_value`` writes, in the native unit; of a length half a sixteenth of an inch.
HALF_STEP = {
    "current_a": 0.5, "fault_ka": 0.05, "voltage_v": 0.05, "length_ft": 1 / 384, "power_va": 0.5, "power_kva": 0.05,
    "power_kw": 0.05, "temperature_c": 0.5, "horsepower": 0.0005, "percent": 0.05, "ratio": 0.005, "count": 0,
}  # fmt: skip


@given(st.data())
def test_shown_text_reads_back_to_its_digits(data: st.DataObject) -> None:
    quantity = data.draw(st.sampled_from(quantities()))
    value = data.draw(_values(quantity))
    back = parse(format_value(value, quantity), quantity)
    assert isinstance(back, int | float)
    assert abs(back - value) <= HALF_STEP[quantity] + 1e-9 * abs(value)


@given(st.sampled_from(vocabulary.CONDUCTOR_SIZES))
def test_sizes_read_back(size: str) -> None:
    assert parse(format_value(size, "size"), "size") == size
    assert parse(edit_text(size, "size"), "size") == size


@given(st.text(max_size=40), st.sampled_from([*quantities(), "size", "flag", "date", "text", "spaces"]))
def test_any_text_is_read_or_refused(text: str, quantity: str) -> None:
    try:
        value = parse(text, quantity)
    except QuantityError:
        return
    if quantity in KINDS and value is not None:
        assert isinstance(value, int | float)
        assert KINDS[quantity].low <= value <= KINDS[quantity].high


@given(
    st.text(st.sampled_from("0123456789.,'\"-/ =+*()eEftinmkKAVWvac%#°½"), max_size=14),
    st.sampled_from([*quantities(), "size"]),
)
def test_near_misses_are_read_or_refused(text: str, quantity: str) -> None:
    try:
        value = parse(text, quantity)
    except QuantityError:
        return
    if quantity in KINDS and value is not None:
        assert isinstance(value, int | float)
        assert KINDS[quantity].low <= value <= KINDS[quantity].high


def test_feet_and_inches_by_hand() -> None:
    """Every sixteenth of an inch over six feet, written and read back."""
    for sixteenths in range(6 * 12 * 16 + 1):
        feet = sixteenths / 16 / 12
        assert parse(format_value(feet, "length_ft"), "length_ft") == pytest.approx(feet, abs=1e-12)


def test_unit_library_is_loaded_only_for_another_unit() -> None:
    program = (
        "import sys\n"
        "from oneline.units import parse, format_value\n"
        "parse('30 ft', 'length_ft'); parse('4/0', 'size'); format_value(30.0, 'length_ft')\n"
        "assert 'pint' not in sys.modules\n"
        "parse('9 m', 'length_ft')\n"
        "assert 'pint' in sys.modules\n"
    )
    subprocess.run([sys.executable, "-c", program], check=True)


@pytest.mark.parametrize(
    ("value", "quantity", "up"),
    [(102.3, "current_a", 103), (99.95, "current_a", 100), (68.41, "current_a", 68.5), (68.5, "current_a", 68.5),
     (100.0, "current_a", 100), (9.5000000001, "fault_ka", 9.5), (9.51, "fault_ka", 9.6), (0.0, "current_a", 0)],
)  # fmt: skip
def test_a_bound_is_never_shown_lower_than_it_is(value, quantity, up):
    assert rounded_up(value, quantity) == up


@pytest.mark.parametrize(
    ("low", "high", "text"),
    [(17.14, 27.86, "17.1–27.9 kA"), (17.19, 27.81, "17.1–27.9 kA"), (None, 9.51, "≤ 9.6 kA"), (0.04, 9.5, "≤ 9.5 kA"),
     (17.19, None, "≥ 17.1 kA"), (None, None, "—"), (10.0, 10.0, "10.0 kA")],
)  # fmt: skip
def test_bounds_are_rounded_to_their_own_side(low, high, text):
    assert between(low, high, "fault_ka") == text
