"""The typed look-ups: exact edges, loud failure, and that missing is never zero. Values from the sources named."""

from __future__ import annotations

import pytest

from oneline import tables
from oneline.model import vocabulary
from oneline.tables import NotInTable


# ------------------------------------------------------------------------------------------------------ conductors
def test_every_size_of_the_vocabulary_has_an_area() -> None:
    areas = [tables.area_cmil(size) for size in vocabulary.CONDUCTOR_SIZES]
    assert areas == sorted(areas)
    assert tables.area_cmil("4/0") == 211600


def test_ampacity() -> None:
    # EC&M tap example and job check value "250 kcmil copper lands a 200 A device" (common practice, no source).
    assert tables.ampacity_a("250", "copper", 75) == 255
    assert tables.ampacity_a("500", "aluminum", 75) == 310
    assert tables.ampacity_a("14", "aluminum", 75) is None
    assert tables.ampacity_a("18", "copper", 60) is None
    with pytest.raises(NotInTable, match="5/0"):
        tables.ampacity_a("5/0", "copper", 75)
    with pytest.raises(NotInTable, match="gold"):
        tables.ampacity_a("12", "gold", 75)
    with pytest.raises(KeyError, match="80 °C"):
        tables.ampacity_a("12", "copper", 80)


def test_next_size_for_ampacity_at_the_edges() -> None:
    assert tables.next_size_for_ampacity(255, "copper", 75) == "250"
    assert tables.next_size_for_ampacity(255.01, "copper", 75) == "300"
    assert tables.next_size_for_ampacity(1, "copper", 90) == "14", "18 and 16 AWG are no building wire"
    assert tables.next_size_for_ampacity(1, "aluminum", 75) == "12"
    assert tables.next_size_for_ampacity(665, "copper", 75) == "2000"
    assert tables.next_size_for_ampacity(666, "copper", 75) is None
    # Trade forum 2019: a third of 1600 A in two sets of aluminum; two sets of 250 kcmil (410 A) are not enough.
    assert tables.next_size_for_ampacity(1600 / 3, "aluminum", 75, sets=2) == "400"
    assert tables.next_size_for_ampacity(60, "copper", 75, sets=2) == "1/0", (
        "no smaller conductors in parallel, 310.10(G)"
    )
    with pytest.raises(ValueError, match="0 sets"):
        tables.next_size_for_ampacity(60, "copper", 75, sets=0)


@pytest.mark.parametrize(
    ("rated_c", "ambient_c", "factor"),
    [
        (75, 10, 1.20), (75, 10.01, 1.15), (75, 30, 1.00), (75, 30.01, 0.94), (75, 35, 0.94), (75, 36, 0.88),
        (90, 40.6, 0.87),
        (90, 85, 0.29), (90, 85.01, None), (90, 90, None), (60, 55, 0.41), (60, 56, None), (75, 70, 0.33), (75, 71, None),
        (60, -40, 1.29),
    ],
)  # fmt: skip
def test_ambient_factor_at_the_edges(rated_c: float, ambient_c: float, factor: float | None) -> None:
    assert tables.ambient_factor(rated_c, ambient_c) == factor


def test_ambient_factor_of_an_unknown_insulation() -> None:
    with pytest.raises(NotInTable, match="85 °C"):
        tables.ambient_factor(85, 30)


@pytest.mark.parametrize(
    ("count", "factor"),
    [(1, 1.0), (3, 1.0), (4, 0.8), (6, 0.8), (7, 0.7), (9, 0.7), (10, 0.5), (20, 0.5), (21, 0.45), (30, 0.45), (31, 0.4),
     (40, 0.4), (41, 0.35), (500, 0.35)],
)  # fmt: skip
def test_bundling_factor_at_the_edges(count: int, factor: float) -> None:
    assert tables.bundling_factor(count) == factor


def test_bundling_needs_a_conductor() -> None:
    with pytest.raises(NotInTable, match="0 conductors"):
        tables.bundling_factor(0)


def test_published_derating_examples() -> None:
    """EC&M quizzes: 10 AWG THHN with four conductors 32 A; six 14 AWG THHN at 105 °F 17.4 A; thirty 12 AWG 13.5 A."""
    ten, fourteen, twelve = (tables.ampacity_a(size, "copper", 90) for size in ("10", "14", "12"))
    factor = tables.ambient_factor(90, (105 - 32) * 5 / 9)
    assert ten is not None
    assert fourteen is not None
    assert twelve is not None
    assert factor is not None
    assert ten * tables.bundling_factor(4) == pytest.approx(32.0)
    assert fourteen * tables.bundling_factor(6) * factor == pytest.approx(17.4)
    assert twelve * tables.bundling_factor(30) == pytest.approx(13.5)


def test_insulations_of_the_vocabulary() -> None:
    for name in vocabulary.INSULATIONS:
        found = tables.insulation(name)
        assert found.dry_c in (60, 75, 90, None)
        assert found.wet_c is None or (found.dry_c is not None and found.wet_c <= found.dry_c)
    # Dual-marked THHN/THWN is 75 °C when wet, 90 °C only with -2 (trade consensus, from memory).
    assert tables.insulation("THWN").wet_c == 75
    assert tables.insulation("THHN/THWN-2").wet_c == 90
    assert tables.insulation("THHN").wet_c is None
    assert tables.insulation("MC").dry_c is None, "unknown is not a temperature"
    with pytest.raises(NotInTable, match="PVC"):
        tables.insulation("PVC")


def test_small_conductors() -> None:
    # Encore Wire footnote: 14, 12, 10 AWG copper 15, 20, 30 A; 12, 10 AWG aluminum 15, 25 A.
    for edition in vocabulary.EDITIONS:
        assert [tables.small_conductor_limit_a(s, "copper", edition) for s in ("14", "12", "10", "8")] == [
            15,
            20,
            30,
            None,
        ]
        assert [tables.small_conductor_limit_a(s, "aluminum", edition) for s in ("12", "10", "8")] == [15, 25, None]
    with pytest.raises(NotInTable):
        tables.small_conductor_limit_a("11", "copper", 2023)


# --------------------------------------------------------------------------------------------------------- devices
def test_standard_ratings_by_edition() -> None:
    """10 A is a breaker rating since 2023 (ExpertCE); fuses have it, and 1, 3, 6 and 601, in every edition."""
    assert 10 not in tables.standard_ratings(2020, "breaker")
    assert tables.standard_ratings(2023, "breaker")[0] == 10
    assert len(tables.standard_ratings(2017, "breaker")) == 37
    for edition in vocabulary.EDITIONS:
        assert {1, 3, 6, 10, 601} <= set(tables.standard_ratings(edition, "fuse"))
        assert 601 not in tables.standard_ratings(edition, "breaker")
    with pytest.raises(NotInTable, match="2014"):
        tables.standard_ratings(2014, "breaker")
    with pytest.raises(NotInTable, match="switch"):
        tables.standard_ratings(2023, "switch")


@pytest.mark.parametrize(
    ("amps", "up", "down"),
    [(200, 200, 200), (200.001, 225, 200), (199.999, 200, 175), (800, 800, 800), (801, 1000, 800), (0.5, 15, None),
     (15, 15, 15), (6000, 6000, 6000), (6001, None, 6000), (112.76, 125, 110)],
)  # fmt: skip
def test_next_and_previous_standard_at_the_edges(amps: float, up: float | None, down: float | None) -> None:
    assert tables.next_standard(amps, 2020, "breaker") == up
    assert tables.previous_standard(amps, 2020, "breaker") == down
    assert tables.is_standard(amps, 2020, "breaker") == (up == down == amps)


# ------------------------------------------------------------------------------------------------------- grounding
@pytest.mark.parametrize(
    ("ocpd_a", "copper", "aluminum"),
    [(15, "14", "12"), (15.1, "12", "10"), (20, "12", "10"), (60, "10", "8"), (61, "8", "6"), (200, "6", "4"),
     (201, "4", "2"), (400, "3", "1"), (500, "2", "1/0"), (1600, "4/0", "350"), (4000, "500", "750"),
     (6000, "800", "1250"), (1, "14", "12")],
)  # fmt: skip
def test_equipment_grounding_conductor_at_the_edges(ocpd_a: float, copper: str, aluminum: str) -> None:
    assert tables.egc_size(ocpd_a, "copper") == copper
    assert tables.egc_size(ocpd_a, "aluminum") == aluminum


@pytest.mark.parametrize("ocpd_a", [0, -1, 6000.1, float("nan")])
def test_equipment_grounding_conductor_outside_the_table(ocpd_a: float) -> None:
    with pytest.raises(NotInTable, match="250_122"):
        tables.egc_size(ocpd_a, "copper")


def test_grounding_electrode_conductor() -> None:
    # VoltageLab, Table 250.66: 3 x 600 kcmil = 1800 kcmil takes 3/0.
    assert tables.gec_size("2", "copper") == "8"
    assert tables.gec_size("1", "copper") == "6"
    assert tables.gec_size("1/0", "aluminum") == "8"
    assert tables.gec_size("350", "copper") == "2"
    assert tables.gec_size(350_001, "copper") == "1/0"
    assert tables.gec_size(3 * 600_000, "copper") == "3/0"
    assert tables.gec_size(1_100_000, "copper") == "2/0"
    assert tables.gec_size(1_100_001, "copper", "aluminum") == "250"
    with pytest.raises(NotInTable):
        tables.gec_size(0.0, "copper")
    with pytest.raises(NotInTable):
        tables.gec_size(float("nan"), "copper")


def test_bonding_jumper() -> None:
    """Mike Holt forum 27781: above 1100 kcmil copper 12.5 percent of the area of the parallel set."""
    assert tables.bonding_jumper(350_000, "copper").size == "2"
    assert tables.bonding_jumper(1_100_000, "copper").size == "2/0"
    large = tables.bonding_jumper(3 * 500_000, "copper")
    assert large.by_fraction
    assert large.area_cmil == pytest.approx(187_500)
    assert large.size == "4/0"
    assert tables.bonding_jumper(500_000, "aluminum").size == "1/0"
    assert tables.bonding_jumper(500_000, "aluminum", "copper").size == "2"
    assert tables.bonding_jumper(20_000_000, "copper").size is None
    with pytest.raises(NotInTable, match="copper jumper"):
        tables.bonding_jumper(3_000_000, "aluminum", "copper")


# ------------------------------------------------------------------------------------------------------- impedance
def test_impedance() -> None:
    # NEC 2008 Table 9 page: 1/0 AWG copper in PVC 0.12 + j0.044, steel 0.12 + j0.055.
    assert tables.ac_impedance("1/0", "copper", "pvc") == (0.12, 0.044)
    assert tables.ac_impedance("1/0", "copper", "steel") == (0.12, 0.055)
    assert tables.ac_impedance("1/0", "copper", "aluminum") == (0.13, 0.044)
    for size in ("700", "2000"):
        with pytest.raises(NotInTable, match=size):
            tables.ac_impedance(size, "copper", "steel")
    with pytest.raises(NotInTable, match="al_r_steel"):
        tables.ac_impedance("14", "aluminum", "steel")
    with pytest.raises(NotInTable, match="wood"):
        tables.ac_impedance("12", "copper", "wood")


def test_dc_resistance_and_temperature() -> None:
    assert tables.dc_resistance_ohm_kft("12", "copper") == 1.98
    assert tables.dc_resistance_ohm_kft("12", "copper", stranded=False) == 1.93
    with pytest.raises(NotInTable, match="solid"):
        tables.dc_resistance_ohm_kft("500", "copper", stranded=False)
    # Physics: copper is a straight line through -234.5 °C, aluminum (1350) through -228.1 °C.
    for material, zero_c in (("copper", 234.5), ("aluminum", 228.1)):
        assert tables.temperature_correct(1.0, material, 75, 25) == pytest.approx(
            (zero_c + 25) / (zero_c + 75), rel=0.003
        )
        there = tables.temperature_correct(0.1, material, 20, 90)
        assert tables.temperature_correct(there, material, 90, 20) == pytest.approx(0.1)


def test_raceway_groups_cover_the_vocabulary() -> None:
    assert tables.raceway_group(None) is None
    assert tables.raceway_group("busway") is None
    assert tables.raceway_group("EMT") == "steel"
    assert tables.raceway_group("PVC-40") == "pvc"
    for raceway in vocabulary.RACEWAYS:
        assert tables.raceway_group(raceway) in ("steel", "pvc", None)
        assert tables.raceway_is_metal(raceway) in (True, False, None)
    with pytest.raises(NotInTable, match="clay pipe"):
        tables.raceway_group("clay pipe")


def test_point_to_point_constants() -> None:
    # Used in published examples of the method: 500 kcmil steel 22185 and nonmagnetic 26706, 3/0 nonmagnetic 13923.
    assert tables.point_to_point_c("500", "copper", "steel") == 22185
    assert tables.point_to_point_c("500", "copper", "pvc") == 26706
    assert tables.point_to_point_c("3/0", "copper", "aluminum") == 13923
    assert tables.point_to_point_c("500", "aluminum", "pvc") == 21391
    assert tables.point_to_point_c("500", "aluminum", "steel") is None
    assert tables.point_to_point_c("750", "aluminum", "pvc") is None
    assert tables.point_to_point_c("700", "copper", "steel") is None


# -------------------------------------------------------------------------------------------------------- raceways
def test_fill() -> None:
    assert [tables.fill_limit(n) for n in (1, 2, 3, 40)] == [0.53, 0.31, 0.40, 0.40]
    assert tables.fill_limit(9, nipple=True) == 0.60
    with pytest.raises(NotInTable):
        tables.fill_limit(0)


def test_raceway_areas() -> None:
    assert tables.raceway_area_in2("EMT", "2") == 3.356
    assert tables.raceway_area_in2("EMT", ' 1-1/4" ') == 1.496
    assert tables.raceway_area_in2("PVC-40", "2") == tables.raceway_area_in2("PVC40", "2") == 3.291
    assert tables.raceway_trade_sizes("EMT") == ("1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "3-1/2", "4")
    for kind in ("wireway", "busway", "open"):
        with pytest.raises(NotInTable, match=kind):
            tables.raceway_trade_sizes(kind)
    with pytest.raises(NotInTable, match="EMT 7"):
        tables.raceway_area_in2("EMT", "7")


def test_conductor_areas() -> None:
    assert tables.conductor_area_in2("THHN", "12") == 0.0133
    assert tables.conductor_area_in2("THHN/THWN-2", "250") == 0.3970
    assert tables.conductor_area_in2("XHHW-2", "4/0") == 0.3197
    assert tables.conductor_area_in2("TW/THW/THHW/THW-2", "12") == 0.0181
    assert tables.compact_area_in2("xhhw", "4/0") == 0.2733
    for name in ("MC", "other", "USE-2"):
        with pytest.raises(NotInTable, match=name):
            tables.conductor_area_in2(name, "12")
    with pytest.raises(NotInTable, match="2000"):
        tables.conductor_area_in2("THHN", "2000")


# -------------------------------------------------------------------------------------------- motors, transformers
def test_motor_currents() -> None:
    # Paige Electric reprint of Tables 430-148 and 430-150.
    assert tables.motor_flc_a(1, 120, 1) == 16
    assert tables.motor_flc_a(7.5, 208, 3) == 24.2
    assert tables.motor_flc_a(7.5, 480, 3) == 11
    assert tables.motor_flc_a(1 / 3, 240, 1) == tables.motor_flc_a(0.33, 240, 1) == 3.6
    assert tables.motor_flc_a(10, 200, 3) == 32.2
    for hp, volts, phases in (
        (7, 208, 3),
        (0, 208, 3),
        (250, 208, 3),
        (15, 240, 1),
        (10, 277, 3),
        (5, 230, 2),
        (1, 480, 1),
    ):
        with pytest.raises(NotInTable):
            tables.motor_flc_a(hp, volts, phases)
    assert tables.motor_horsepowers(1)[0] == pytest.approx(1 / 6)


def test_transformer_protection() -> None:
    # ECmag: 75 kVA at 480 V, 90.2 A, primary only: 125 percent, next standard rating up.
    found = tables.transformer_protection("primary", 90.2, "primary only")
    assert (found.factor, found.next_size_up) == (1.25, True)
    assert tables.next_standard(90.2 * found.factor, 2020, "fuse") == 125
    assert tables.transformer_protection("primary", 9, "primary only").factor == 1.25
    assert tables.transformer_protection("primary", 8.99, "primary only").factor == 1.67
    assert tables.transformer_protection("primary", 2, "primary only").factor == 1.67
    assert tables.transformer_protection("primary", 1.99, "primary only").factor == 3.00
    both = tables.transformer_protection("primary", 90.2, "primary and secondary")
    assert (both.factor, both.next_size_up) == (2.50, False)
    assert tables.transformer_protection("secondary", 208, "primary and secondary").next_size_up
    assert tables.transformer_protection("secondary", 8, "primary and secondary").factor == 1.67
    for side, method, amps in (
        ("secondary", "primary only", 90.0),
        ("tertiary", "primary only", 90.0),
        ("primary", "none", 1.0),
    ):
        with pytest.raises(NotInTable):
            tables.transformer_protection(side, amps, method)
    with pytest.raises(NotInTable):
        tables.transformer_protection("primary", 0, "primary only")


# ---------------------------------------------------------------------------------------------------------- systems
def test_systems_cover_the_vocabulary() -> None:
    for code in vocabulary.SYSTEMS:
        found = tables.system(code)
        assert found.phases in (1, 3)
        assert found.v_ll > 0
        assert found.has_neutral == (found.wires in (2, 3, 4) and found.v_ln is not None)
        assert tables.phase_color(code, "G") == "green"
    assert tables.system("208Y/120").solidly_grounded_wye
    assert not tables.system("208/120-1").solidly_grounded_wye
    assert tables.system("240D/120-HL").v_high_leg == 208
    assert tables.system("240D").v_ln is None
    with pytest.raises(NotInTable, match="400Y/230"):
        tables.system("400Y/230")


def test_phase_colors_by_common_practice() -> None:
    """Common practice, no source: 208Y/120 black, red, blue, white; 480Y/277 brown, orange, yellow, gray."""
    assert [tables.phase_color("208Y/120", c) for c in "ABCNG"] == ["black", "red", "blue", "white", "green"]
    assert [tables.phase_color("480Y/277", c) for c in "ABCN"] == ["brown", "orange", "yellow", "gray"]
    assert tables.phase_color("240D/120-HL", "B") == "orange"
    assert tables.phase_color("600Y/347", "A") is None
    for code, conductor in (("240D", "N"), ("120-1", "B"), ("120/240-1", "C"), ("nothing", "A")):
        with pytest.raises(NotInTable):
            tables.phase_color(code, conductor)


# ------------------------------------------------------------------------------------------------------------ loads
def test_receptacle_demand() -> None:
    # EC-75534 and MH: 80 receptacles of 180 VA: 10,000 + half of 4,400 = 12,200 VA.
    assert tables.receptacle_demand_va(80 * 180) == pytest.approx(12_200)
    assert tables.receptacle_demand_va(10_000) == 10_000
    assert tables.receptacle_demand_va(10_001) == pytest.approx(10_000.5)
    assert tables.receptacle_demand_va(0) == 0
    with pytest.raises(ValueError, match="-1 VA"):
        tables.receptacle_demand_va(-1)


def test_lighting() -> None:
    assert (
        tables.unit_lighting_va_ft2("Office", 2023) == tables.unit_lighting_va_ft2("office (incl. banks)", 2020) == 1.3
    )
    assert tables.unit_lighting_va_ft2("Office buildings", 2017) == 3.5
    assert tables.unit_lighting_includes_continuous("Office", 2023)
    assert not tables.unit_lighting_includes_continuous("Office buildings", 2017)
    with pytest.raises(NotInTable, match="Office buildings"):
        tables.unit_lighting_va_ft2("Office buildings", 2023)
    for edition in vocabulary.EDITIONS:
        for name in tables.occupancies(edition):
            assert 0 < tables.unit_lighting_va_ft2(name, edition) <= 3.5
    # Warehouse: 12,500 VA in full and half of the rest (GW18, ECN); other occupancies in full.
    assert tables.lighting_demand_va(20_000, "Warehouses (storage)", 2023) == pytest.approx(16_250)
    assert tables.lighting_demand_va(20_000, "Office", 2023) == 20_000
    # Hotels 50/40/30 before 2020 (MH-123433), 60/50/35 since.
    assert tables.lighting_demand_va(120_000, "Hotels and motels", 2017) == pytest.approx(10_000 + 32_000 + 6_000)
    assert tables.lighting_demand_va(120_000, "Hotels and motels", 2020) == pytest.approx(12_000 + 40_000 + 7_000)


def test_demand_factors_by_count() -> None:
    assert [tables.kitchen_demand_factor(n) for n in (1, 2, 3, 4, 5, 6, 60)] == [1, 1, 0.9, 0.8, 0.7, 0.65, 0.65]
    assert [tables.elevator_demand_factor(n) for n in (1, 2, 3, 10, 11)] == [1, 0.95, 0.9, 0.72, 0.72]
    with pytest.raises(NotInTable):
        tables.kitchen_demand_factor(0)
    with pytest.raises(NotInTable):
        tables.elevator_demand_factor(0)


def test_working_depth() -> None:
    # UFC 3-520-01 Table 8-1: 0-150 V 3, 3, 3 ft; 151-600 V 3, 3.5, 4 ft.
    assert [tables.working_depth_ft(120, c) for c in (1, 2, 3)] == [3, 3, 3]
    assert [tables.working_depth_ft(277, c) for c in (1, 2, 3)] == [3, 3.5, 4]
    assert tables.working_depth_ft(150, 3) == 3
    assert tables.working_depth_ft(150.5, 3) == 4
    with pytest.raises(NotInTable):
        tables.working_depth_ft(1200, 1)
    with pytest.raises(NotInTable):
        tables.working_depth_ft(120, 4)
