"""``oneline fits`` and ``oneline check --remedies``: what they say is what the drawing gives, in text and as JSON."""

from __future__ import annotations

import json
from math import sqrt
from pathlib import Path
from typing import Any

import jsonschema
import pytest

import oneline
from oneline.assets import resource, sample
from oneline.files import to_bytes
from oneline.start import main

UTC = "2026-03-31T14:05:00Z"
LIKE = {
    "material": "copper", "insulation": "THWN-2", "raceway": "EMT", "current_carrying": 3, "ambient_c": 30, "wet": False,
    "terminal_c": 75, "egc_material": "copper",
}  # fmt: skip


@pytest.fixture
def dock(tmp_path: Path) -> str:
    """A 400 A service; 72 kVA of load (200 A at 208 V) in Panel A behind conductors of 4/0 copper (230 A) on 250 A."""
    b = oneline.Builder("Dock house")
    utility = b.service("Utility", system="208Y/120", fault_ka=10)
    top = b.disconnect(
        "Main", rating_a=400, trip_a=400, interrupting_ka=22, service_disconnect=True, neutral_bonded=True
    )
    board = b.bus("Board", form="switchboard", rating_a=400, sccr_ka=22, phases="ABC", spaces=42)
    b.run(utility, top, size="600", neutral_size="600", egc_size="none", length_ft=10, **LIKE)
    b.joint(top, board)
    with b.status("new"):
        device = b.disconnect("Feeder A", trip_a=300, rating_a=400, interrupting_ka=22, adjustable=False)
        b.joint(board, device)
        panel = b.bus("Panel A", rating_a=400, sccr_ka=22, phases="ABC", spaces=24, neutral_bonded=False)
        b.run(
            device,
            panel,
            name="Run A",
            size="4/0",
            neutral_size="4/0",
            egc_size="4",
            raceway_size="3",
            length_ft=50,
            **LIKE,
        )
        b.circuit(
            panel, 1, "Ovens, dock", 225, poles=3, va=72_000, load_class="heat", continuous=False, power_factor=1.0
        )
    path = tmp_path / "dock.oneline"
    path.write_bytes(to_bytes(b.drawing, UTC))
    return str(path)


def test_fits_as_json(dock: str, capsys: pytest.CaptureFixture[str]) -> None:
    """72 kVA / (208 V x 1.732) = 199.85 A; of the 400 A main 200.15 A are left at the board."""
    assert main(["fits", dock, "--at", "Board", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    left = 400 - 72_000 / 208 / sqrt(3)
    assert found["balanced"]["amperes"] == pytest.approx(left, abs=0.05)
    assert found["balanced"]["kva"] == pytest.approx(left * 208 * sqrt(3) / 1000, abs=0.05)
    assert [a["phases"] for a in found["single"]] == ["A", "B", "C"]
    assert found["sub_panel"]["breaker_a"] == 200  # the largest standard rating that is not above 200.15 A
    order = [limit["remaining_a"] for limit in found["limits"]]
    assert order == sorted(order)


def test_fits_as_text_names_limits_in_order_and_cautions(dock: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["fits", dock, "--at", "Board"]) == 0
    said = capsys.readouterr().out
    assert "On all phases together" in said
    assert "200.1 A on each" in said
    assert "Limits in the order in which they are met" in said
    assert "four fifths" in said
    assert all(len(line) <= 130 for line in said.splitlines())


def test_an_unknown_item_is_refused_in_words(dock: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["fits", dock, "--at", "Nowhere"]) == 2
    assert "No item is named Nowhere." in capsys.readouterr().err


def test_check_tells_remedies_that_were_tried(dock: str, capsys: pytest.CaptureFixture[str]) -> None:
    """4/0 copper has 230 A at 75 degrees C (Table 310.16); behind 300 A it needs 350 kcmil (310 A) or a 225 A device
    ... 230 A takes a 250 A device by the next size up (240.4(B))."""
    assert main(["check", dock, "--remedies"]) == 1
    said = capsys.readouterr().out
    assert "Tried on the drawing, and passes:" in said
    assert "+ Feeder A: device 300 A -> 250 A" in said


def test_remedies_and_bounds_follow_the_schema(dock: str, capsys: pytest.CaptureFixture[str]) -> None:
    schema: Any = json.loads(resource("schema", "check.schema.json").read_text(encoding="utf-8"))
    for path in (dock, str(sample("cannery.oneline"))):
        main(["check", path, "--remedies", "--json"])
        report = json.loads(capsys.readouterr().out)
        jsonschema.validate(report, schema)
        assert any(v.get("remedies") for v in report["verdicts"])
        assert report["to_find_out"]
    assert any(v.get("bounds") for v in report["verdicts"])


def test_without_the_option_nothing_is_tried(dock: str, capsys: pytest.CaptureFixture[str]) -> None:
    main(["check", dock, "--json"])
    assert not any("remedies" in v or "bounds" in v for v in json.loads(capsys.readouterr().out)["verdicts"])
