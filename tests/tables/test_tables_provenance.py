"""Figures that no second source supports carry that with them, into the source of the worksheet lines they stand in."""

from __future__ import annotations

import pickle

import pytest

from oneline import tables
from oneline.rules.common import Fact, Subject, at_most, computed, judged, looked_up
from oneline.tables.source import figure, rows

LINE = "Table 450.3(B), figure from memory"


@pytest.mark.parametrize(
    ("recalled", "confirmed"),
    [
        # Rows of resources/tables; each pair is one row that says "memory" and one of the same table that does not.
        (lambda: tables.limit_value("supply_side_min_cmil"), lambda: tables.limit_value("gec_rod_copper_cmil")),
        (lambda: tables.insulation("THW").dry_c, lambda: tables.insulation("THHN").dry_c),
        (lambda: tables.insulation("XHHW").wet_c, lambda: tables.insulation("THWN").wet_c),
        (lambda: tables.raceway_area_in2("LFMC", "2"), lambda: tables.raceway_area_in2("EMT", "2")),
        (lambda: tables.compact_area_in2("thhn", "250"), lambda: tables.conductor_area_in2("THHN", "250")),
        (lambda: tables.point_to_point_c("4/0", "copper", "steel"), lambda: tables.point_to_point_c("500", "copper", "pvc")),
        (lambda: tables.kitchen_demand_factor(4), lambda: tables.kitchen_demand_factor(6)),
        (lambda: tables.elevator_demand_factor(7), lambda: tables.elevator_demand_factor(6)),
        (
            lambda: tables.transformer_protection("primary", 4, "primary only").factor,
            lambda: tables.transformer_protection("primary", 20, "primary only").factor,
        ),
        (lambda: tables.unit_lighting_va_ft2("Retail", 2023), lambda: tables.unit_lighting_va_ft2("Stores", 2017)),
        (lambda: tables.working_depth_ft(800, 1), lambda: tables.working_depth_ft(277, 1)),
    ],
)  # fmt: skip
def test_look_ups_mark_rows_from_memory(recalled, confirmed) -> None:
    assert isinstance(recalled(), tables.FromMemory)
    assert not isinstance(confirmed(), tables.FromMemory)


@pytest.mark.parametrize("id_", tables.limit_ids())
def test_every_single_figure_carries_its_confidence(id_) -> None:
    found = tables.limit(id_)
    assert isinstance(found.value, tables.FromMemory) == (found.confidence == "memory")


def test_every_table_with_the_word_memory_marks_its_cells() -> None:
    row = next(r for r in rows("t620_14_elevators") if r["confidence"] == "memory")
    assert isinstance(figure(row, "factor"), tables.FromMemory)
    assert figure(row | {"factor": ""}, "factor") is None
    assert not isinstance(figure({**row, "confidence": "confirmed"}, "factor"), tables.FromMemory)


def test_the_mark_passes_through_products_only_and_the_figure_is_a_number_like_any_other() -> None:
    mark = tables.FromMemory(3.0)
    for kept in (mark * 2, 2 * mark, mark / 2, 2 / mark, mark * mark):
        assert isinstance(kept, tables.FromMemory)
    assert [mark * 2, 2 * mark, mark / 2, 2 / mark] == [6, 6, 1.5, 2 / 3]
    assert not isinstance(mark + 1, tables.FromMemory)
    assert (mark, hash(mark), f"{mark:g}") == (3.0, hash(3.0), "3")
    assert isinstance(pickle.loads(pickle.dumps(mark)), tables.FromMemory)


def test_worksheet_lines_say_so() -> None:
    mark = tables.FromMemory(1.67)
    assert looked_up("Factor", mark, "", "Table 450.3(B)").source == LINE
    assert looked_up("Factor", 1.67, "", "Table 450.3(B)").source == "Table 450.3(B)"
    assert looked_up("Factor", mark, "").source == "figure from memory"
    line = computed("Largest device", "factor * rated_a", "A", "Table 450.3(B)", factor=mark, rated_a=4.0)
    assert line.source == LINE
    assert type(line.inputs["factor"]) is float
    assert type(looked_up("Factor", mark, "").value) is float
    assert computed("Largest device", "factor * rated_a", "A", "Table 450.3(B)", factor=1.67, rated_a=4.0).source == (
        "Table 450.3(B)"
    )
    # Both remarks may stand: the number of the section, and the figure.
    both = tables.with_provenance(tables.citation("TABLE-transformer", 2026).text, mark)
    assert both == "Table 450.3(B) (not confirmed for this edition), figure from memory"


@pytest.mark.parametrize(("limit", "said"), [(tables.FromMemory(10), True), (10.0, False)])
def test_a_verdict_without_a_line_of_the_figure_says_so_in_its_checklist(limit, said) -> None:
    condition = at_most(Fact(8.0), Fact(limit), "It is 8 ft, inside the 10 ft.", "ft")
    found = judged("TAP-10", Subject("x", "X"), 2023, [condition])
    assert [line.source for line in found.work] == (["figure from memory"] if said else [])
    work = (looked_up("Most", limit, "ft", "a table"),)
    assert len(judged("TAP-10", Subject("x", "X"), 2023, [condition], work=work).work) == 1


def test_constants_called_confirmed_by_physics_are() -> None:
    """C = 1 / |Z| of a cold conductor (25 °C): resistance of Chapter 9 Table 8, reactance of Table 9; reconstructed
    columns could slip by a row, so each is near its own size by a fifth of the way to the next."""
    table = rows("point_to_point_c")
    checked = [r["size"] for r in table if r["basis"].startswith("P: cold dc resistance")]
    assert checked == ["10", "8", "4", "3", "2", "1", "1/0"]
    columns = {
        "cu_steel": ("copper", "steel"),
        "cu_nonmagnetic": ("copper", "pvc"),
        "al_nonmagnetic": ("aluminum", "pvc"),
    }
    alpha = {"copper": 0.00323, "aluminum": 0.00330}  # Chapter 9 Table 8, note 2
    for at, row in enumerate(table):
        for column, (material, group) in columns.items():
            if row["size"] not in checked:
                continue
            r = tables.dc_resistance_ohm_kft(row["size"], material) * (1 - 50 * alpha[material])
            x = tables.ac_impedance(row["size"], material, group)[1]
            c = float(row[column])
            gap = min(abs(float(table[k][column]) / c - 1) for k in (at - 1, at + 1))
            assert abs(1000 / abs(complex(r, x)) / c - 1) < gap / 5, (row["size"], column)
