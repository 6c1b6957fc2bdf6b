"""The tables against physics and product standards, without the product's own loader.

Sources of the formulas: ASTM B258 (diameters of AWG sizes); resistivity at 20 °C of annealed copper 10.371 and of 1350
aluminum 17.002 ohm-cmil/ft with temperature coefficients 0.00393 and 0.00403 (IEC 60028, ASTM B230); Neher-McGrath form of
the ambient correction; ANSI C80.1, C80.3, C80.6 and NEMA TC-2 (conduit); UL 83 and UL 44 (insulation walls).
"""

from __future__ import annotations

import csv
import math
from itertools import pairwise
from pathlib import Path

import pytest

TABLES = Path(__file__).resolve().parents[2] / "resources" / "tables"
SQRT3 = math.sqrt(3)


def table(name: str) -> list[dict[str, str]]:
    with (TABLES / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def num(cell: str) -> float | None:
    return float(cell) if cell else None


def astm_cmil(size: str) -> float:
    """Diameter of AWG n in inches: 0.005 * 92^((36 - n) / 39); 250 and up are kcmil."""
    gauge = 1 - int(size.split("/")[0]) if "/" in size else int(size)
    if gauge >= 250:
        return gauge * 1000.0
    return (5 * 92 ** ((36 - gauge) / 39)) ** 2


def horsepower(text: str) -> float:
    total = 0.0
    for part in text.split("-"):
        over, _, under = part.partition("/")
        total += float(over) / float(under) if under else float(over)
    return total


def rising(values: list[float | None], strict: bool = True) -> bool:
    known = [v for v in values if v is not None]
    return all(a < b or (not strict and a == b) for a, b in pairwise(known))


# ----------------------------------------------------------------------------------------------------- conductors
@pytest.mark.parametrize("name", ["t310_16_ampacity", "ch9_t8_conductor_properties"])
def test_areas_follow_astm_b258(name: str) -> None:
    for row in table(name):
        assert float(row["area_cmil"]) == pytest.approx(astm_cmil(row["size"]), rel=0.003), row["size"]


def test_strands_and_diameters_follow_geometry() -> None:
    """Concentric lay: strands across a diameter are 1, 3, 5, ... for 1, 7, 19, ... strands."""
    across = {1: 1, 7: 3, 19: 5, 37: 7, 61: 9, 91: 11, 127: 13}
    for row in table("ch9_t8_conductor_properties"):
        strands = int(row["strands"])
        strand_in = math.sqrt(astm_cmil(row["size"]) / strands) / 1000
        overall_in = float(row["overall_diameter_in"])
        assert overall_in == pytest.approx(strand_in * across[strands], abs=0.0031), row["size"]
        assert float(row["overall_area_in2"]) == pytest.approx(math.pi / 4 * overall_in**2, abs=0.0011)
        if row["strand_diameter_in"]:
            assert float(row["strand_diameter_in"]) == pytest.approx(strand_in, abs=0.00061)


def test_dc_resistance_follows_resistivity() -> None:
    """R at 75 °C = resistivity * (1 + a * 55) * lay / area, lay 1.02 for stranded conductors."""
    for row in table("ch9_t8_conductor_properties"):
        lay = 1.0 if row["strands"] == "1" else 1.02
        for column, rho, a in (("cu_uncoated_ohm_kft", 10.371, 0.00393), ("al_ohm_kft", 17.002, 0.00403)):
            expected = rho * (1 + a * 55) * lay / float(row["area_cmil"]) * 1000
            assert float(row[column]) == pytest.approx(expected, rel=0.008), (row["size"], column)


def test_ac_impedance_against_dc_resistance_and_itself() -> None:
    dc = {
        r["size"]: (float(r["cu_uncoated_ohm_kft"]), float(r["al_ohm_kft"]))
        for r in table("ch9_t8_conductor_properties")
    }
    rows = table("ch9_t9_ac_impedance")
    for row in rows:
        assert float(row["x_steel"]) == pytest.approx(1.25 * float(row["x_pvc_al"]), abs=0.0021), row["size"]
        for index, metal in enumerate(("cu", "al")):
            pvc, aluminum, steel = (num(row[f"{metal}_r_{c}"]) for c in ("pvc", "al", "steel"))
            if pvc is None or aluminum is None or steel is None:
                continue
            assert pvc <= aluminum
            assert pvc <= steel
            for value in (pvc, aluminum, steel):
                assert 0.95 <= value / dc[row["size"]][index] <= 1.55, (row["size"], metal)
    for column in rows[0]:
        if "_r_" in column:
            assert rising([num(r[column]) for r in reversed(rows)]), column


def test_reactance_follows_spacing() -> None:
    """X of three conductors touching in a raceway: 0.05292 * log10(GMD / GMR) ohm/kft at 60 Hz.

    Random lay in a raceway spaces them wider than touching; with older, thicker walls
    than the diameters used here: the table lies between touching and 2.8 times that spacing.
    """
    diameter = {(r["family"], r["size"]): float(r["diameter_in"]) for r in table("ch9_t5_conductors")}
    bare = {r["size"]: float(r["overall_diameter_in"]) for r in table("ch9_t8_conductor_properties")}
    for row in table("ch9_t9_ac_impedance"):
        outside_in = diameter[("TW/THW/THHW/THW-2", row["size"])]
        gmr_in = 0.7788 * bare[row["size"]] / 2
        low = 0.05292 * math.log10(outside_in / gmr_in)
        high = 0.05292 * math.log10(2.8 * outside_in / gmr_in)
        assert 0.9 * low <= float(row["x_pvc_al"]) <= high, row["size"]


def test_ampacities_fit_the_temperature_ratio() -> None:
    """Same conductor, other limit: I ~ sqrt(rise / resistance). Zero-resistance temperatures 234.5 and 228.1 °C."""
    for row in table("t310_16_ampacity"):
        for metal, zero_c in (("cu", 234.5), ("al", 228.1)):
            a60, a75, a90 = (num(row[f"{metal}_{c}C"]) for c in (60, 75, 90))
            if a60 is None or a75 is None or a90 is None:
                continue
            assert a60 < a75 < a90
            assert a60 == pytest.approx(a75 * math.sqrt(30 / 45 * (zero_c + 75) / (zero_c + 60)), abs=3), row["size"]
            assert a90 == pytest.approx(a75 * math.sqrt(60 / 45 * (zero_c + 75) / (zero_c + 90)), abs=3), row["size"]
            assert {v % 5 for v in (a60, a75, a90)} == {0}


def test_ampacities_rise_with_size_and_aluminum_carries_less() -> None:
    rows = table("t310_16_ampacity")
    for column in ("cu_60C", "cu_75C", "cu_90C", "al_60C", "al_75C", "al_90C"):
        assert rising([num(r[column]) for r in rows]), column
    for row in rows:
        for c in (60, 75, 90):
            copper, aluminum = num(row[f"cu_{c}C"]), num(row[f"al_{c}C"])
            if copper and aluminum:
                assert 0.70 <= aluminum / copper <= 0.88, row["size"]


def test_ambient_factors_follow_their_formula() -> None:
    """sqrt((Tc - Ta) / (Tc - 30)) at the top of each band, rounded to two decimals; no factor at or above Tc."""
    for row in table("t310_15_B_1_1_ambient_30C"):
        ambient_c = float(row["band_max_C"])
        for rated_c in (60, 75, 90):
            printed = num(row[f"f_{rated_c}C"])
            if ambient_c >= rated_c:
                assert printed is None
            else:
                assert printed == pytest.approx(math.sqrt((rated_c - ambient_c) / (rated_c - 30)), abs=0.0055)
        assert row["ambient_F"].split()[0].split("-")[-1] == str(round(ambient_c * 9 / 5 + 32))


def test_insulated_diameters_follow_insulation_walls() -> None:
    """Diameter = strands + twice the wall of UL 83 / UL 44 (nylon included); area = pi/4 * diameter squared."""
    aught = ("1", "1/0", "2/0", "3/0", "4/0")
    to500, to1000 = ("250", "300", "350", "400", "500"), ("600", "700", "750", "800", "900", "1000")
    to2000 = ("1250", "1500", "1750", "2000")
    walls = {
        "THHN/THWN/THWN-2": (
            (("14", "12"), 19), (("10",), 24), (("8", "6"), 35), (("4", "3", "2"), 46), (aught, 57), (to500, 68),
            (to1000, 79),
        ),
        "XHHW/XHHW-2/XHH": (
            (("14", "12", "10"), 30), (("8", "6", "4", "3", "2"), 45), (aught, 55), (to500, 65), (to1000, 80), (to2000, 95),
        ),
        "TW/THW/THHW/THW-2": (
            (("14", "12", "10"), 30), (("8",), 45), (("6", "4", "3", "2"), 60), (aught, 80), (to500, 95), (to1000, 110),
            (to2000, 125),
        ),
        "RHH/RHW/RHW-2 without outer covering": (
            (("14", "12", "10"), 45), (("8", "6", "4", "3", "2"), 60), (aught, 80), (to500, 95), (to1000, 110), (to2000, 125),
        ),
    }  # fmt: skip
    bare = {
        r["size"]: float(r["overall_diameter_in"])
        for r in table("ch9_t8_conductor_properties")
        if int(r["strands"]) > 1
    }
    seen = []
    for row in table("ch9_t5_conductors"):
        wall_mil = next(mil for sizes, mil in walls[row["family"]] if row["size"] in sizes)
        diameter_in = float(row["diameter_in"])
        assert diameter_in == pytest.approx(bare[row["size"]] + 2 * wall_mil / 1000, abs=0.0016), row
        assert float(row["area_in2"]) == pytest.approx(math.pi / 4 * diameter_in**2, abs=0.00011), row
        seen.append((row["family"], row["size"]))
    assert len(set(seen)) == len(seen)


def test_compact_conductors() -> None:
    rows = table("ch9_t5a_compact")
    for row in rows:
        bare_in = float(row["bare_diameter_in"])
        assert 0.86 <= astm_cmil(row["size"]) / (bare_in * 1000) ** 2 <= 0.97, row["size"]
        for kind in ("thhn", "xhhw"):
            diameter_in, area_in2 = num(row[f"{kind}_diameter_in"]), num(row[f"{kind}_area_in2"])
            if diameter_in is not None:
                assert diameter_in > bare_in
                assert area_in2 == pytest.approx(math.pi / 4 * diameter_in**2, abs=0.00011)
    for column in ("bare_diameter_in", "thhn_diameter_in", "xhhw_diameter_in"):
        assert rising([num(r[column]) for r in rows]), column


def test_point_to_point_constants_rise_and_lie_below_cold_copper() -> None:
    """C = 1000 / |Z| per kft: not above 1000 / R of cold copper (25 °C, 3 % for lay), near it to 1/0 AWG."""
    cold = {
        r["size"]: float(r["cu_uncoated_ohm_kft"]) * (1 - 0.00323 * 50) for r in table("ch9_t8_conductor_properties")
    }
    rows = table("point_to_point_c")
    for column in ("cu_steel", "cu_nonmagnetic", "al_nonmagnetic"):
        assert rising([num(r[column]) for r in rows]), column
    for row in rows:
        steel, plain = float(row["cu_steel"]), float(row["cu_nonmagnetic"])
        assert steel <= plain <= 1000 / cold[row["size"]] * 1.03, row["size"]
        if astm_cmil(row["size"]) <= astm_cmil("1/0"):
            assert plain >= 0.88 * 1000 / cold[row["size"]], row["size"]
        if row["al_nonmagnetic"]:
            assert 0.55 <= float(row["al_nonmagnetic"]) / plain <= 0.85, row["size"]


# ------------------------------------------------------------------------------------------------------- raceways
#: Outside diameter and mean wall in inches: ANSI C80.3 (EMT), C80.1 (RMC), C80.6 (IMC), NEMA TC-2 (PVC).
PRODUCT = {
    "EMT": "1/2 .706 .042;3/4 .922 .049;1 1.163 .057;1-1/4 1.510 .065;1-1/2 1.740 .065;2 2.197 .065;2-1/2 2.875 .072;"
    "3 3.500 .072;3-1/2 4.000 .083;4 4.500 .083",
    "RMC": "1/2 .840 .104;3/4 1.050 .107;1 1.315 .126;1-1/4 1.660 .133;1-1/2 1.900 .138;2 2.375 .146;2-1/2 2.875 .193;"
    "3 3.500 .205;3-1/2 4.000 .215;4 4.500 .225;5 5.563 .245;6 6.625 .266",
    "IMC": "1/2 .815 .0775;3/4 1.029 .0825;1 1.290 .0925;1-1/4 1.638 .095;1-1/2 1.883 .100;2 2.360 .105;2-1/2 2.857 .150;"
    "3 3.476 .150;3-1/2 3.971 .150;4 4.466 .150",
    "PVC40": "1/2 .840 .119;3/4 1.050 .123;1 1.315 .143;1-1/4 1.660 .150;1-1/2 1.900 .155;2 2.375 .164;2-1/2 2.875 .215;"
    "3 3.500 .229;3-1/2 4.000 .2395;4 4.500 .251;5 5.563 .2735;6 6.625 .297",
    "PVC80": "1/2 .840 .157;3/4 1.050 .164;1 1.315 .1895;1-1/4 1.660 .2025;1-1/2 1.900 .212;2 2.375 .231;2-1/2 2.875 .2925;"
    "3 3.500 .318;3-1/2 4.000 .337;4 4.500 .357;5 5.563 .3975;6 6.625 .458",
}


def test_raceways_follow_their_product_standards() -> None:
    inside = {
        (kind, size): float(outside) - 2 * float(wall)
        for kind, text in PRODUCT.items()
        for size, outside, wall in (part.split() for part in text.split(";"))
    }
    rows = table("ch9_t4_conduit")
    for row in rows:
        id_in, total_in2 = float(row["id_in"]), float(row["area_100_in2"])
        if row["type"] in PRODUCT:
            assert id_in == pytest.approx(inside.pop((row["type"], row["trade_size"])), abs=0.0016), row
        assert total_in2 == pytest.approx(math.pi / 4 * id_in**2, abs=0.0016), row
        for percent in (60, 53, 31, 40):
            assert float(row[f"area_{percent}_in2"]) == pytest.approx(total_in2 * percent / 100, abs=0.0011), row
    assert not inside, "sizes of the product standard that the table lacks"
    for kind in {r["type"] for r in rows}:
        assert rising([float(r["id_in"]) for r in rows if r["type"] == kind]), kind


# -------------------------------------------------------------------------------------- grounding, devices, loads
def test_grounding_conductors_rise() -> None:
    rows = table("t250_122_egc")
    assert rising([float(r["ocpd_max_A"]) for r in rows])
    assert rising([astm_cmil(r["cu"]) for r in rows])
    assert rising([astm_cmil(r["al_or_cca"]) for r in rows], strict=False)
    assert all(1.2 <= astm_cmil(r["al_or_cca"]) / astm_cmil(r["cu"]) <= 2.1 for r in rows)


@pytest.mark.parametrize(("name", "column"), [("t250_66_gec", "gec"), ("t250_102_C_1_bonding", "jumper")])
def test_electrode_and_bonding_conductors_rise(name: str, column: str) -> None:
    rows = table(name)
    sized = [r for r in rows if "percent" not in r[f"{column}_cu"]]
    for metal in ("cu", "al"):
        assert rising([astm_cmil(r[f"{column}_{metal}"]) for r in sized])
        tops = [num(r[f"{metal}_up_to_cmil"]) for r in rows]
        assert rising(tops)
        assert tops[-1] is None
    for row in sized:
        assert astm_cmil(row[f"{column}_al"]) > astm_cmil(row[f"{column}_cu"])
    # Table 250.66 and Table 250.102(C)(1) share every row up to the last (NECA-NEIS, 4 Jan 2017).
    other = table("t250_66_gec" if column == "jumper" else "t250_102_C_1_bonding")
    there = "gec" if column == "jumper" else "jumper"
    for mine, theirs in zip(rows[:-1], other[:-1], strict=True):
        assert (mine[f"{column}_cu"], mine[f"{column}_al"]) == (theirs[f"{there}_cu"], theirs[f"{there}_al"])


def test_upper_ends_are_the_sizes_they_name() -> None:
    """The last size named in the text of a row is the area in circular mils beside it."""
    for name in ("t250_66_gec", "t250_102_C_1_bonding"):
        for row in table(name)[:-1]:
            for metal in ("cu", "al"):
                words = row[f"ungrounded_{metal}"].replace("or smaller", "").replace("through", "or").split("or")
                named = words[-1].split()[-1]
                assert float(row[f"{metal}_up_to_cmil"]) == pytest.approx(astm_cmil(named), rel=0.003), row


def test_standard_ratings_rise() -> None:
    rows = table("t240_6_A_standard_ratings")
    assert rising([float(r["rating_A"]) for r in rows])
    assert sum(r["breaker"] == "1" for r in rows) == 38
    assert sum(r["fuse"] == "1" for r in rows) == 42


def test_motor_currents_scale_with_voltage() -> None:
    """208 V carries 1.10 and 200 V 1.15 times the 230 V current, 460 V half of it, 575 V 0.8 times the 460 V current.

    40 hp (41 A) and 350 hp (336 A) at 575 V are printed off that rule in every source seen.
    """
    for name, volts, phases in (("t430_248_1ph_flc", 230, 1), ("t430_250_3ph_flc", 460, 3)):
        rows = table(name)
        for column in (c for c in rows[0] if c.startswith(("v", "sync"))):
            assert rising([num(r[column]) for r in rows]), column
        for row in rows:
            base = num(row["v230"])
            for column, factor in (("v208", 1.10), ("v200", 1.15), ("v460", 0.5)):
                value = num(row.get(column, ""))
                if base and value:
                    slack = max(0.06, 0.011 * base * factor) + (0.5 if value >= 100 else 0)
                    assert value == pytest.approx(base * factor, abs=slack), (name, row["hp"], column)
            high = num(row.get("v575", ""))
            if high and row["hp"] not in ("40", "350"):
                assert high == pytest.approx(0.8 * float(row["v460"]), abs=0.6), row["hp"]
            amps = num(row["v230"] if volts == 230 else row["v460"])
            assert amps is not None
            output = horsepower(row["hp"]) * 746 / (volts * amps * (SQRT3 if phases == 3 else 1))
            assert 0.2 < output < 0.95, (name, row["hp"])
    rows = table("t430_247_dc_flc")
    for column, volts in (("v90", 90), ("v120", 120), ("v180", 180), ("v240", 240), ("v500", 500), ("v550", 550)):
        assert rising([num(r[column]) for r in rows]), column
        for row in rows:
            amps = num(row[column])
            if amps:
                assert 0.45 < horsepower(row["hp"]) * 746 / (volts * amps) < 0.96, (row["hp"], column)


def test_systems_follow_the_square_root_of_three() -> None:
    rows = table("systems")
    for row in rows:
        line, neutral, high_leg = (num(row[c]) for c in ("v_line_line", "v_line_neutral", "v_high_leg"))
        assert line is not None
        if high_leg is not None:
            assert neutral is not None
            assert high_leg == pytest.approx(SQRT3 * neutral, abs=0.5)
            assert line == 2 * neutral
        elif neutral is not None and row["code"] in ("208Y/120", "480Y/277", "600Y/347", "208/120-1"):
            assert line == pytest.approx(SQRT3 * neutral, rel=0.005), row["code"]
        elif row["code"] == "120/240-1":
            assert line == 2 * (neutral or 0)
        assert (float(row["v_to_ground_max"]) <= 150) == row["working_space_row"].startswith("0-150"), row["code"]
        assert (neutral is None) == (row["grounding"] in ("ungrounded", "corner")), row["code"]
        if neutral is None:
            assert float(row["v_to_ground_max"]) == line


def test_unit_lighting_per_square_meter() -> None:
    """1 VA/ft2 is 10.764 VA/m2; three rows of the 2017 table are printed one off."""
    for row in table("t220_42_A_unit_lighting_loads"):
        slack = 1.5 if row["occupancy"] in ("Banks", "Office buildings", "Lodge rooms") else 0.75
        assert float(row["va_per_m2"]) == pytest.approx(float(row["va_per_ft2"]) * 10.764, abs=slack), row


@pytest.mark.parametrize(
    ("name", "low", "high", "group"),
    [
        ("t220_45_lighting_demand", "over_va", "up_to_va", ("edition", "occupancy")),
        ("t220_47_receptacle_demand", "over_va", "up_to_va", ()),
        ("t220_86_schools", "over_va_ft2", "up_to_va_ft2", ()),
        ("t220_88_restaurants", "over_kVA", "up_to_kVA", ("kind",)),
    ],
)
def test_steps_follow_without_a_gap(name: str, low: str, high: str, group: tuple[str, ...]) -> None:
    before: dict[tuple[str, ...], dict[str, str]] = {}
    for row in table(name):
        key = tuple(row[c] for c in group)
        last = before.get(key)
        assert (float(last[high]) if last else 0) == float(row[low]), row
        if last and name != "t220_88_restaurants":
            assert float(row["percent"]) <= float(last["percent"])
        before[key] = row
    assert all(row[high] == "" for row in before.values()), "the last step is open"


def test_restaurant_bases_are_running_totals() -> None:
    total: dict[str, float] = {}
    for row in table("t220_88_restaurants"):
        assert float(row["base_kVA"]) == pytest.approx(total.get(row["kind"], 0), abs=0.051)
        if row["up_to_kVA"]:
            step = (float(row["up_to_kVA"]) - float(row["over_kVA"])) * float(row["percent"]) / 100
            total[row["kind"]] = total.get(row["kind"], 0) + step


@pytest.mark.parametrize(
    ("name", "first", "column"),
    [
        ("t220_56_kitchen", 1, "percent"),
        ("t620_14_elevators", 1, "factor"),
        ("t310_15_C_1_bundling", 1, "percent"),
        ("t220_84_multifamily", 3, "percent"),
    ],
)
def test_counts_follow_without_a_gap_and_factors_fall(name: str, first: int, column: str) -> None:
    expected, last = first, math.inf
    for row in table(name):
        assert int(row["n_min"]) == expected
        assert float(row[column]) <= last
        last = float(row[column])
        expected = int(row["n_max"]) + 1 if row["n_max"] else -1
    assert expected == -1, "the last row is open"


def test_working_space_rises_with_condition_and_voltage() -> None:
    depth = {(r["volts_to_ground"], r["condition"]): float(r["min_ft"]) for r in table("t110_26_A_1_working_space")[:9]}
    ranges = ("0-150", "151-600", "601-1000")
    for volts in ranges:
        assert depth[(volts, "1")] <= depth[(volts, "2")] <= depth[(volts, "3")]
    for condition in "123":
        assert rising([depth[(v, condition)] for v in ranges], strict=False)


def test_interrupting_tests_follow_their_power_factor() -> None:
    """X/R = tan(acos(power factor)), at the higher power factor of the test range."""
    for row in table("interrupting_test_xr"):
        assert float(row["x_over_r"]) == pytest.approx(math.tan(math.acos(float(row["pf_high"]))), abs=0.012)
