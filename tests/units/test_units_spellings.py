"""Spellings that people type. Expected values are worked by hand: 1 ft = 0.3048 m exactly (1959 yard and pound agreement,
NIST SP 811), °C = (°F - 32) * 5/9, size names from the trade."""

from __future__ import annotations

import pytest

from oneline.units import QuantityError, parse, read_trade_size

ACCEPTED = [
    # lengths: value in feet
    ("30 ft", "length_ft", 30), ("30ft", "length_ft", 30), ("30 FT", "length_ft", 30), ("30 Feet", "length_ft", 30),
    ("30 foot", "length_ft", 30), ("30'", "length_ft", 30), ("30 '", "length_ft", 30), ("30’", "length_ft", 30),
    ("30′", "length_ft", 30), ("30", "length_ft", 30), (" 30 ", "length_ft", 30), ("30.", "length_ft", 30),
    ("30.0 ft.", "length_ft", 30), (".5 ft", "length_ft", 0.5), ("1,200 ft", "length_ft", 1200),
    ("0", "length_ft", 0), ("+5 ft", "length_ft", 5), ("5'6\"", "length_ft", 5.5), ("5' 6\"", "length_ft", 5.5),
    ("5'-6\"", "length_ft", 5.5), ("5' - 6\"", "length_ft", 5.5), ("5’6”", "length_ft", 5.5),
    ("5′6″", "length_ft", 5.5), ("5'6''", "length_ft", 5.5), ("5'6", "length_ft", 5.5), ("5' 6", "length_ft", 5.5),
    ("5-1/2 ft", "length_ft", 5.5), ("5 1/2 ft", "length_ft", 5.5), ("5 1/2'", "length_ft", 5.5),
    ("5½ ft", "length_ft", 5.5), ("5 ft 6 in", "length_ft", 5.5), ("5 FT 6 IN", "length_ft", 5.5),
    ("5ft6in", "length_ft", 5.5), ("5ft 6in.", "length_ft", 5.5), ("5 ft. 6 in.", "length_ft", 5.5),
    ("5 feet 6 inches", "length_ft", 5.5), ("5 foot 6", "length_ft", 5.5), ("5'-6 1/2\"", "length_ft", 5 + 6.5 / 12),
    ("5' 6-1/2\"", "length_ft", 5 + 6.5 / 12), ("5'6½\"", "length_ft", 5 + 6.5 / 12),
    ("5' 6.5\"", "length_ft", 5 + 6.5 / 12), ("5'6 1/2", "length_ft", 5 + 6.5 / 12),
    ("5' 1/2\"", "length_ft", 5 + 0.5 / 12), ("6'-0\"", "length_ft", 6), ("0'-9\"", "length_ft", 0.75),
    ("66\"", "length_ft", 5.5), ("66 in", "length_ft", 5.5), ("66 inches", "length_ft", 5.5),
    ("66in.", "length_ft", 5.5), ("66''", "length_ft", 5.5), ("1/2\"", "length_ft", 0.5 / 12),
    ("1/2 in", "length_ft", 0.5 / 12), ("12 ft 4 in", "length_ft", 12 + 4 / 12), ("9 m", "length_ft", 9 / 0.3048),
    ("9m", "length_ft", 9 / 0.3048), ("9 M", "length_ft", 9 / 0.3048), ("9 meters", "length_ft", 9 / 0.3048),
    ("9 metres", "length_ft", 9 / 0.3048), ("900 cm", "length_ft", 9 / 0.3048), ("9000 mm", "length_ft", 9 / 0.3048),
    ("2 yd", "length_ft", 6), ("10 yards", "length_ft", 30), ("=10+2.5", "length_ft", 12.5),
    ("=10+2.5 ft", "length_ft", 12.5), ("=3*2 m", "length_ft", 6 / 0.3048),
    ("30\u00a0ft", "length_ft", 30),
    # currents: value in amperes
    ("30", "current_a", 30), ("30 A", "current_a", 30), ("30A", "current_a", 30), ("30 a", "current_a", 30),
    ("30 amp", "current_a", 30), ("30 amps", "current_a", 30), ("30 AMPS", "current_a", 30),
    ("30 Amperes", "current_a", 30), ("30 amp.", "current_a", 30), ("1.2 kA", "current_a", 1200),
    ("1.2 KA", "current_a", 1200), ("1.2k", "current_a", 1200), ("1,200 A", "current_a", 1200),
    ("1200 A", "current_a", 1200), ("87.5 A", "current_a", 87.5), ("30 mA", "current_a", 0.03),
    ("30 ma", "current_a", 0.03), ("=12*1.25", "current_a", 15), ("= 12 * 1.25 A", "current_a", 15),
    ("=(3*20+15)/2", "current_a", 37.5), ("3*20+15", "current_a", 75), ("3*20+15 A", "current_a", 75),
    ("12×1.25", "current_a", 15), ("=100-20", "current_a", 80), ("=1,200/3", "current_a", 400),
    ("1e3", "current_a", 1000), ("1.5E2 A", "current_a", 150), ("0 A", "current_a", 0),
    ("10000 A", "current_a", 10000),
    # fault currents: value in kiloamperes
    ("22", "fault_ka", 22), ("22 kA", "fault_ka", 22), ("22ka", "fault_ka", 22), ("22 KA", "fault_ka", 22),
    ("22k", "fault_ka", 22), ("22 kAIC", "fault_ka", 22), ("22 kaic", "fault_ka", 22), ("22,000 A", "fault_ka", 22),
    ("22000 amps", "fault_ka", 22), ("22000 AIC", "fault_ka", 22), ("10.5 kiloamps", "fault_ka", 10.5),
    ("200 kA", "fault_ka", 200), ("65kA", "fault_ka", 65),
    # voltages
    ("208", "voltage_v", 208), ("208 V", "voltage_v", 208), ("208v", "voltage_v", 208),
    ("208 volts", "voltage_v", 208), ("208 VAC", "voltage_v", 208), ("0.48 kV", "voltage_v", 480),
    ("0.48 KV", "voltage_v", 480), ("119.5 V", "voltage_v", 119.5),
    # power
    ("75", "power_kva", 75), ("75 kVA", "power_kva", 75), ("75 KVA", "power_kva", 75), ("75kva", "power_kva", 75),
    ("75k", "power_kva", 75), ("75000 VA", "power_kva", 75), ("112.5 kVA", "power_kva", 112.5),
    ("1.5 MVA", "power_kva", 1500), ("1.5 mva", "power_kva", 1500), ("75 kilovolt-amperes", "power_kva", 75),
    ("1500", "power_va", 1500), ("1500 VA", "power_va", 1500), ("1,500 va", "power_va", 1500),
    ("1.5 kVA", "power_va", 1500), ("1.5k", "power_va", 1500), ("=8*180", "power_va", 1440),
    ("=8*180 VA", "power_va", 1440), ("1500 volt-amps", "power_va", 1500), ("25", "power_kw", 25),
    ("25 kW", "power_kw", 25), ("25 KW", "power_kw", 25), ("25000 W", "power_kw", 25),
    ("25000 watts", "power_kw", 25), ("0.025 MW", "power_kw", 25),
    # percent and ratio
    ("5.75", "percent", 5.75), ("5.75%", "percent", 5.75), ("5.75 %", "percent", 5.75),
    ("5.75 percent", "percent", 5.75), ("5.75 %Z", "percent", 5.75), ("0.12 pu", "percent", 12),
    ("0.0575 per unit", "percent", 5.75), ("90%", "percent", 90), ("0.9", "percent", 0.9),
    ("100 pct", "percent", 100), ("0.85", "ratio", 0.85), (".85", "ratio", 0.85), ("85 %", "ratio", 0.85),
    ("85%", "ratio", 0.85), ("4.9", "ratio", 4.9), ("1", "ratio", 1),
    # temperatures: value in degrees Celsius
    ("75", "temperature_c", 75), ("75 C", "temperature_c", 75), ("75C", "temperature_c", 75),
    ("75 °C", "temperature_c", 75), ("75°c", "temperature_c", 75), ("75°", "temperature_c", 75),
    ("75 deg C", "temperature_c", 75), ("75 degrees C", "temperature_c", 75), ("75 celsius", "temperature_c", 75),
    ("105 F", "temperature_c", 73 * 5 / 9), ("105F", "temperature_c", 73 * 5 / 9),
    ("105 °F", "temperature_c", 73 * 5 / 9), ("105 deg F", "temperature_c", 73 * 5 / 9), ("32 F", "temperature_c", 0),
    ("-40 F", "temperature_c", -40), ("-10 C", "temperature_c", -10), ("−10 C", "temperature_c", -10),
    ("212 fahrenheit", "temperature_c", 100),
    # horsepower
    ("5", "horsepower", 5), ("5 hp", "horsepower", 5), ("5HP", "horsepower", 5), ("7.5 hp", "horsepower", 7.5),
    ("7-1/2", "horsepower", 7.5), ("7 1/2 HP", "horsepower", 7.5), ("1/2 hp", "horsepower", 0.5),
    ("1/3", "horsepower", 1 / 3), ("1-1/2 horsepower", "horsepower", 1.5), ("½ hp", "horsepower", 0.5),
    ("1½ hp", "horsepower", 1.5),
    # counts
    ("3", "count", 3), ("3.0", "count", 3), ("=2*3", "count", 6), ("42", "count", 42),
    # conductor sizes
    ("4/0", "size", "4/0"), ("#4/0 AWG", "size", "4/0"), ("4/0 AWG", "size", "4/0"), ("4/0AWG", "size", "4/0"),
    ("4/0 awg", "size", "4/0"), ("#4/0", "size", "4/0"), ("4 / 0", "size", "4/0"), ("0000", "size", "4/0"),
    ("0", "size", "1/0"), ("00", "size", "2/0"), ("000 AWG", "size", "3/0"), ("12", "size", "12"),
    ("#12", "size", "12"), ("# 12", "size", "12"), ("12 AWG", "size", "12"), ("no. 12", "size", "12"),
    ("12 ga", "size", "12"), ("12 gauge", "size", "12"), ("500", "size", "500"), ("500 kcmil", "size", "500"),
    ("500 KCMIL", "size", "500"), ("500kcmil", "size", "500"), ("500 MCM", "size", "500"), ("500mcm", "size", "500"),
    ("500,000 cmil", "size", "500"), ("500000 CM", "size", "500"), ("1,000 kcmil", "size", "1000"),
    ("250", "size", "250"), ("1 AWG", "size", "1"), ("none", "size", "none"), ("Raceway", "size", "raceway"),
    # words
    ("yes", "flag", True), ("Y", "flag", True), ("no", "flag", False), ("off", "flag", False),
    ("2026-05-14", "date", "2026-05-14"), ("5/14/2026", "date", "2026-05-14"), ("05/04/2026", "date", "2026-05-04"),
    ("2024-2-29", "date", "2024-02-29"), ("1, 3,5", "spaces", "1,3,5"),
    ("  Room 101\t east ", "text", "Room 101 east"), ("a\x00b\x1bc", "text", "a b c"), ("EMT", "choice", "EMT"),
]  # fmt: skip

REJECTED = [
    # traps of a general parser: attometers, areas, coulombs, constants
    ("30 attometers", "length_ft"), ("30 amps", "length_ft"), ("30 A", "voltage_v"), ("208 V", "current_a"),
    ("1 C", "current_a"), ("5 ft", "current_a"), ("5 6", "length_ft"), ("5 ft ft", "length_ft"),
    ("5 ft 6 ft", "length_ft"), ("5'6'", "length_ft"), ("nan", "length_ft"), ("nan ft", "length_ft"),
    ("NaN", "current_a"), ("inf", "length_ft"), ("-inf A", "current_a"), ("infinity", "current_a"),
    ("1e999 ft", "length_ft"), ("1e99 ft", "length_ft"), ("99999999999999999999 A", "current_a"),
    ("10001 A", "current_a"), ("-5 ft", "length_ft"), ("-1 A", "current_a"), ("−1 A", "current_a"),
    ("-0.1", "power_kva"), ("=5-10", "current_a"),
    # commas and points
    ("1,5 A", "current_a"), ("12,34", "current_a"), ("1.200,5 A", "current_a"), ("1,2000 A", "current_a"),
    ("0,85", "ratio"), (",5", "ratio"), ("1.2.3", "current_a"), ("1 200 A", "current_a"), ("1'200 A", "current_a"),
    # more than one number, ranges
    ("120/240", "voltage_v"), ("120/240 V", "voltage_v"), ("208Y/120", "voltage_v"), ("480-277 V", "voltage_v"),
    ("60/75", "temperature_c"), ("20-30 A", "current_a"), ("1200/5", "ratio"), ("30 A 3P", "current_a"),
    ("200 A, 3 pole", "current_a"), ("2x30 A", "current_a"), ("~30 A", "current_a"), ("<30 A", "current_a"),
    ("30?", "current_a"), ("about 30", "current_a"), ("thirty", "current_a"),
    # feet and inches that do not add up
    ("5'14\"", "length_ft"), ("5' 12\"", "length_ft"), ("5.5' 6\"", "length_ft"), ("5 ft 1/2", "length_ft"),
    ("6\" 5'", "length_ft"), ("5''6", "length_ft"), ("5 3/2 ft", "length_ft"), ("5 1/0 ft", "length_ft"),
    ("1/7 ft", "length_ft"), ("5'-6\"-7", "length_ft"), ("30 f", "length_ft"), ("1 mile", "length_ft"),
    ("5²", "length_ft"), ("5 ft²", "length_ft"), ("3 sq ft", "length_ft"), ("٣٠ ft", "length_ft"),
    ("５ ft", "length_ft"),
    # other dimensions
    ("1500 W", "power_va"), ("1.5 kW", "power_va"), ("25 kW", "power_kva"), ("25 kVA", "power_kw"),
    ("5 hp", "power_kw"), ("3.7 kW", "horsepower"), ("348 K", "temperature_c"), ("75 kcmil", "temperature_c"),
    ("30 MA", "current_a"), ("1 mVA", "power_kva"), ("100 mW", "power_kw"), ("25 kvar", "power_kva"),
    ("5 tons", "power_va"), ("30 Ah", "current_a"), ("0.01 ohm", "percent"),
    # out of range
    ("22000", "fault_ka"), ("500 kA", "fault_ka"), ("13.8 kV", "voltage_v"), ("1200 V", "voltage_v"),
    ("150 %", "percent"), ("900 F", "temperature_c"), ("-80 C", "temperature_c"), ("20 miles", "length_ft"),
    ("3.5", "count"), ("-1", "count"), ("1001", "count"),
    # unit or operator without a number
    ("ft", "length_ft"), ("A", "current_a"), ("k", "current_a"), ("=", "current_a"), ("=A", "current_a"),
    ("-", "current_a"), (".", "current_a"), ("=1/0", "current_a"), ("=2**9", "current_a"), ("=9**9**9", "current_a"),
    ("=(1", "current_a"), ("=1)", "current_a"), ("=__import__('os')", "current_a"), ("=a+1", "current_a"),
    ("=1;2", "current_a"), ("=" + "1+" * 60 + "1", "current_a"), ("9" * 200, "current_a"), ("1\n2", "current_a"),
    ("30\x00A", "current_a"), ("<b>30</b>", "current_a"), ("30 A\u202e", "current_a"), ("30 µA", "current_a"),
    # sizes
    ("5/0", "size"), ("5 AWG", "size"), ("7", "size"), ("13", "size"), ("500 AWG", "size"), ("12 kcmil", "size"),
    ("4/0 kcmil", "size"), ("275", "size"), ("4/O", "size"), ("4/1", "size"), ("95 mm2", "size"), ("4/0 Cu", "size"),
    ("3/0 THHN", "size"), ("2 x 500", "size"), ("500 A", "size"), ("-12", "size"), ("12.0", "size"), ("5,00", "size"),
    ("#500 kcmil AWG", "size"), ("12 AWG 3", "size"), ("big", "size"),
    # words
    ("maybe", "flag"), ("14.05.2026", "date"), ("2026-13-01", "date"), ("2/30/2026", "date"), ("5/14/26", "date"),
    ("yesterday", "date"), ("13/05/2026", "date"), ("1;3", "spaces"), ("0", "spaces"), ("one", "spaces"),
]  # fmt: skip

UNKNOWN_SPELLINGS = ["", "  ", "?", "unknown", "Unknown", "UNK", "—", "not known"]


@pytest.mark.parametrize(("text", "quantity", "expected"), ACCEPTED, ids=[f"{q}:{t}" for t, q, _ in ACCEPTED])
def test_accepted(text: str, quantity: str, expected: object) -> None:
    value = parse(text, quantity)
    if isinstance(expected, int | float) and not isinstance(expected, bool):
        assert value == pytest.approx(expected, rel=1e-12, abs=1e-9)
    else:
        assert value == expected
        assert type(value) is type(expected)


@pytest.mark.parametrize(("text", "quantity"), REJECTED, ids=[f"{q}:{t[:30]!r}" for t, q in REJECTED])
def test_rejected(text: str, quantity: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse(text, quantity)
    problem = caught.value
    assert problem.what
    assert problem.why
    assert problem.do
    assert str(problem) == f"{problem.what} {problem.why} {problem.do}"
    for word in ("error", "failed", "illegal", "invalid", "abort", "fatal", "bad "):
        assert word not in str(problem).casefold()
    assert str(problem).isprintable()


def test_there_are_enough_spellings() -> None:
    assert len(ACCEPTED) + len(REJECTED) >= 200
    assert len(set(ACCEPTED)) == len(ACCEPTED)
    assert len(set(REJECTED)) == len(REJECTED)


@pytest.mark.parametrize("text", UNKNOWN_SPELLINGS)
@pytest.mark.parametrize("quantity", ["length_ft", "current_a", "size", "flag", "date", "count", "text", "choice"])
def test_unknown_is_none_never_zero(text: str, quantity: str) -> None:
    assert parse(text, quantity) is None


def test_unknown_quantity_is_loud() -> None:
    with pytest.raises(KeyError, match="weight_lb"):
        parse("3", "weight_lb")


#: °C = (°F - 32) * 5/9: every ninth degree Fahrenheit from 68 is a whole number of degrees Celsius, five apart.
@pytest.mark.parametrize("text", ["{}F", "{} F", "{}°F", "{} deg F"])
def test_fahrenheit_is_exact_where_celsius_is_whole(text: str) -> None:
    assert [parse(text.format(f), "temperature_c") for f in range(68, 141, 9)] == list(range(20, 61, 5))


@pytest.mark.parametrize("text", ["2", "2 sets", "2 set", "2 SETS", "2x", "2 x", "x2", "x 2", "2sets"])
def test_a_count_may_say_what_it_counts(text: str) -> None:
    assert parse(text, "count", ("set", "sets", "x")) == 2


@pytest.mark.parametrize("text", ["2 sets", "2 ft", "x2", "2 poles and", "x", "sets", "2x3p", "2 p x"])
def test_a_count_of_something_else_is_refused(text: str) -> None:
    with pytest.raises(QuantityError):
        parse(text, "count", ("p", "pole", "poles"))


@pytest.mark.parametrize(
    ("text", "size"),
    [
        ("3", "3"), ("3 in", "3"), ('3"', "3"), ("3 inch", "3"), ("3 in.", "3"), ("3 inches", "3"), ("1 1/4", "1-1/4"),
        ('1-1/4"', "1-1/4"), ("1¼", "1-1/4"), ("1 - 1/4 in", "1-1/4"), ("3/4 in", "3/4"), ("1.25", "1-1/4"),
        (".5", "1/2"), ("2.50 in", "2-1/2"), ('6"x6"', "6x6"), ("4 x 4 in", "4x4"),
    ],
)  # fmt: skip
def test_trade_sizes_of_raceways(text: str, size: str) -> None:
    assert read_trade_size(text) == size


@pytest.mark.parametrize("text", ["big", "53 mm", "3 ft", "1.3", "1 1 1/4", "-2"])
def test_no_trade_size(text: str) -> None:
    with pytest.raises(QuantityError):
        read_trade_size(text)


@pytest.mark.parametrize("text", ["-5", "-5 A", "−5"])
def test_below_zero_names_the_range_and_is_marked_as_outside(text: str) -> None:
    with pytest.raises(QuantityError, match="from 0 to 10,000") as caught:
        parse(text, "current_a")
    assert caught.value.outside
