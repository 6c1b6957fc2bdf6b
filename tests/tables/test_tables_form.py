"""Form of the csv files: heads, cells, row counts and column sums.

The sums were formed when the tables had passed the physics and the second sources; they only show that a cell changed.
Change one on purpose and the sum in data/sums.csv has to follow, with the source of the new value in the table.
"""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

TABLES = Path(__file__).resolve().parents[2] / "resources" / "tables"
DATA = Path(__file__).resolve().parent / "data"
NAMES = sorted(path.stem for path in TABLES.glob("*.csv"))


def parts(name: str) -> tuple[list[str], list[dict[str, str]]]:
    with (TABLES / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        lines = file.readlines()
    comments = [line for line in lines if line.startswith("#")]
    return comments, list(csv.DictReader(line for line in lines if not line.startswith("#")))


def amount(cell: str) -> float | None:
    """A numeric cell, or a size in circular mils by ASTM B258 ("4/0"), or a mixed fraction ("1-1/2")."""
    if re.fullmatch(r"-?\d+(\.\d+)?", cell):
        return float(cell)
    if re.fullmatch(r"[1-4]/0", cell):
        return (5 * 92 ** ((35 + int(cell[0])) / 39)) ** 2
    mixed = re.fullmatch(r"(?:(\d+)-)?(\d+)/([1-9]\d*)", cell)
    return int(mixed[1] or 0) + int(mixed[2]) / int(mixed[3]) if mixed else None


def sums() -> dict[tuple[str, str], tuple[int, float]]:
    found = {}
    for name in NAMES:
        _, rows = parts(name)
        for column in rows[0]:
            amounts = [a for a in (amount(row[column]) for row in rows) if a is not None]
            if amounts:
                found[(name, column)] = (len(amounts), round(sum(amounts), 6))
        found[(name, "(rows)")] = (len(rows), 0.0)
    return found


@pytest.mark.parametrize("name", NAMES)
def test_head_names_standard_units_and_provenance(name: str) -> None:
    comments, rows = parts(name)
    assert comments[0].startswith("# title: ")
    for word in ("# standard: ", "# units: ", "# provenance: "):
        assert any(line.startswith(word) for line in comments), word
    assert rows
    for row in rows:
        assert None not in row, "too many cells"
        assert None not in row.values(), "too few cells"
        assert all(cell == cell.strip() for cell in row.values())
        if "confidence" in row:
            assert row["confidence"] in ("confirmed", "memory")


@pytest.mark.parametrize("name", NAMES)
def test_no_cell_says_zero_for_missing(name: str) -> None:
    """Zero stands only where it is meant: lower ends of steps, device flags, and the 2026 label threshold."""
    for row in parts(name)[1]:
        for column, cell in row.items():
            if amount(cell) == 0:
                assert (name, column) in {
                    ("t240_6_A_standard_ratings", "breaker"), ("t240_6_A_standard_ratings", "fuse"),
                    ("rule_limits", "value"), ("interrupting_test_xr", "over_ka"), ("t220_86_schools", "over_va_ft2"),
                    ("t220_45_lighting_demand", "over_va"), ("t220_47_receptacle_demand", "over_va"),
                    ("t220_88_restaurants", "over_kVA"), ("t220_88_restaurants", "base_kVA"),
                }, (name, row)  # fmt: skip


def test_row_counts_and_column_sums() -> None:
    with (DATA / "sums.csv").open(encoding="utf-8", newline="") as file:
        kept = {(r["table"], r["column"]): (int(r["cells"]), float(r["sum"])) for r in csv.DictReader(file)}
    now = sums()
    assert set(now) == set(kept)
    for key, (cells, total) in now.items():
        assert cells == kept[key][0], key
        assert total == pytest.approx(kept[key][1], rel=1e-9, abs=1e-6), key
