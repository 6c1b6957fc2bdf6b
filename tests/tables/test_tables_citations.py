"""Citations and single figures: complete, loud, and honest about what is not confirmed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from oneline import tables
from oneline.model.vocabulary import EDITIONS
from oneline.tables import NotInTable
from oneline.tables.source import by, head, optional_number, rows

DATA = Path(__file__).resolve().parent / "data"
RULES = [r for r in (DATA / "rule_ids.txt").read_text(encoding="utf-8").split("\n") if r and not r.startswith("#")]


@pytest.mark.parametrize("rule", RULES)
def test_every_rule_has_a_citation_for_every_edition(rule: str) -> None:
    for edition in EDITIONS:
        found = tables.citation(rule, edition)
        assert found.section
        assert found.text.startswith(found.section)
        assert found.text.endswith("(not confirmed for this edition)") != found.confirmed
        assert str(found) == found.text


def test_every_cited_rule_has_all_editions_once() -> None:
    counted = [(r["rule"], r["edition"]) for r in rows("citations")]
    assert len(set(counted)) == len(counted) == len(tables.cited_rules()) * len(EDITIONS)
    assert {r["confirmed"] for r in rows("citations")} == {"yes", "no"}
    assert set(RULES) <= set(tables.cited_rules())


@pytest.mark.parametrize(
    ("rule", "edition", "text"),
    [
        ("TAP-10", 2017, "240.21(B)(1)"),
        ("TAP-10", 2026, "240.21(B)(1) (not confirmed for this edition)"),
        ("LOAD-1", 2026, "120.87"),
        ("LOAD-3", 2026, "120.61"),
        ("PV-1b", 2017, "705.12(B)(2)(3)(b)"),
        ("PV-1b", 2020, "705.12(B)(3)(2)"),
        ("PV-1b", 2023, "705.12(B)(2)"),
        ("AMP-3", 2017, "310.10(H)"),
        ("TABLE-ampacity", 2017, "Table 310.15(B)(16)"),
        ("TABLE-ampacity", 2020, "Table 310.16"),
        ("BAR-1", 2020, "215.15 (not confirmed for this edition)"),
        ("BAR-1", 2023, "215.15"),
        ("GND-5", 2020, "250.142(B), 250.24(A)(5)"),
        ("GND-5", 2023, "250.142(B), 250.24 (not confirmed for this edition)"),
        ("LOAD-2-lighting", 2023, "220.42(A)"),
        ("LBL-20", 2026, "230.70(D)"),
    ],
)
def test_numbers_that_moved_between_editions(rule: str, edition: int, text: str) -> None:
    """Trade summaries of the 2020, 2023 and 2026 changes; see column note of citations.csv and edition_differences.csv."""
    assert tables.citation(rule, edition).text == text


def test_unknown_rule_or_edition_is_loud() -> None:
    with pytest.raises(NotInTable, match="TAP-99"):
        tables.citation("TAP-99", 2023)
    with pytest.raises(NotInTable, match="2014"):
        tables.citation("TAP-10", 2014)


def test_limits_have_units_sections_and_confidence() -> None:
    for name in tables.limit_ids():
        found = tables.limit(name)
        assert found.unit
        assert found.section
        assert found.confidence in ("confirmed", "memory")
        assert tables.limit_value(name) == found.value
    with pytest.raises(NotInTable, match="tap_11ft"):
        tables.limit("tap_11ft")


@pytest.mark.parametrize(
    ("name", "value"),
    [
        # Trade articles named in sources.csv: ECM-ST8, ECM-25, FASTTRAX10, MH-90841, SYM, EC-75534, DAILYREP, ECM-HB.
        ("tap_10ft_length_ft", 10), ("tap_10ft_fraction", 1 / 10), ("tap_25ft_length_ft", 25), ("tap_25ft_fraction", 1 / 3),
        ("secondary_10ft_length_ft", 10), ("secondary_25ft_fraction", 1 / 3), ("round_up_limit_a", 800),
        ("continuous_factor", 1.25), ("demand_record_factor", 1.25), ("demand_record_short_days", 30),
        ("demand_record_interval_min", 15), ("receptacle_yoke_va", 180), ("neutral_full_a", 200),
        ("neutral_over_factor", 0.7),
        ("gfpe_disconnect_a", 1000), ("gfpe_pickup_max_a", 1200), ("gfpe_time_current_a", 3000), ("bus_120_factor", 1.2),
        ("source_current_factor", 1.25), ("impedance_tolerance", 0.9), ("motor_contribution_factor", 4),
        ("inverter_fault_factor", 1.2), ("terminal_default_rating_a", 100), ("terminal_default_low_c", 60),
        ("terminal_default_high_c", 75), ("service_disconnects_max", 6), ("series_rating_motor_pct", 1),
        ("tap_high_bay_total_ft", 100), ("voltage_drop_total_pct", 5), ("bonding_fraction", 0.125),
        ("supply_side_other_ft", 16.5), ("parallel_min_cmil", 105600), ("nipple_length_in", 24),
    ],
)  # fmt: skip
def test_figures_of_the_rules(name: str, value: float) -> None:
    assert tables.limit_value(name) == value


def test_limits_agree_with_the_tables_they_repeat() -> None:
    taps = {r["item"]: r for r in rows("s240_21_B_feeder_taps")}
    assert tables.limit_value("tap_10ft_length_ft") == float(taps["(B)(1)"]["max_length_ft"])
    assert tables.limit_value("tap_25ft_length_ft") == float(taps["(B)(2)"]["max_length_ft"])
    assert tables.limit_value("tap_25ft_fraction") == pytest.approx(
        float(taps["(B)(2)"]["min_fraction_of_feeder_ocpd"]), abs=1e-4
    )
    assert tables.limit_value("receptacle_first_va") == float(rows("t220_47_receptacle_demand")[0]["up_to_va"])
    assert tables.limit_value("terminal_default_size_cmil") == tables.area_cmil("1")
    assert tables.limit_value("parallel_min_cmil") == tables.area_cmil("1/0")
    assert tables.limit_value("tap_high_bay_copper_cmil") == tables.area_cmil("6")
    assert tables.limit_value("gec_concrete_copper_cmil") == tables.area_cmil("4")


# ---------------------------------------------------------------------------------------------------------- loader
def test_loader_is_loud(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(FileNotFoundError, match="no_such_table"):
        rows("no_such_table")
    with pytest.raises(ValueError, match="occurs twice"):
        by("citations", "rule")
    (tmp_path / "short.csv").write_text("# title: x\na,b\n1\n", encoding="utf-8")
    monkeypatch.setattr("oneline.tables.source.resource", lambda *parts: tmp_path / parts[-1])
    with pytest.raises(ValueError, match="1 cells, not 2"):
        rows("short")


@pytest.mark.parametrize(
    ("cell", "value"), [("", None), ("0", 0.0), ("1/3", 1 / 3), ("1-1/2", 1.5), ("12.5", 12.5), ("-3", -3.0)]
)
def test_cells_are_read_exactly(cell: str, value: float | None) -> None:
    assert optional_number(cell) == value


def test_heads_are_kept() -> None:
    assert head("t310_16_ampacity")[0].startswith("title: Ampacities")


def test_every_rule_that_the_program_names_is_cited() -> None:
    """Rule ids in the source of the program: each has its citations, so that no study stops at a missing one."""
    root = Path(tables.__file__).resolve().parents[1]
    families = "TAP|OCP|AMP|LOAD|PNL|SVC|FLT|PV|ESS|GEN|SRC|GND|RWY|SW|LBL|HL|CG|UG|ISO|BAR|TABLE|VD"
    pattern = re.compile(rf'"((?:{families})-[A-Za-z0-9-]+)"')
    named = {m for path in root.rglob("*.py") for m in pattern.findall(path.read_text(encoding="utf-8"))}
    assert len(named) > 40
    assert named <= set(tables.cited_rules())
