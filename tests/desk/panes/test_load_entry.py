"""Loads of circuits typed in amperes or watts. Expected values by hand: single-phase VA = V A, three-phase VA = √3 V A."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from oneline.desk.panes.circuits import CircuitsPane
from oneline.desk.panes.loadentry import LoadPlace, load_in_va
from oneline.desk.panes.typed import Misread

WYE = "208Y/120"


@pytest.mark.parametrize(
    ("typed", "place", "va"),
    [
        ("24 A", LoadPlace(1, "A", WYE), 2880),  # 24 * 120
        ("24A", LoadPlace(2, "A", WYE), 4992),  # 24 * 208
        ("24 amps", LoadPlace(3, "A", WYE), 8646),  # 24 * 208 * 1.7320508 = 8646.4
        ("20 A", LoadPlace(3, "A", "480Y/277"), 16628),  # 20 * 480 * 1.7320508 = 16627.7
        ("20 A", LoadPlace(2, "A", "120/240-1"), 4800),
        ("10 A", LoadPlace(1, "C", "240D/120-HL"), 1200),
        ("1920 W", LoadPlace(load_class="heat"), 1920),
        ("1.9 kW", LoadPlace(load_class="kitchen"), 1900),
        ("1.8 kW", LoadPlace(load_class="motor", power_factor=0.9), 2000),
    ],
)
def test_amperes_and_watts_become_va(typed, place, va):
    made = load_in_va(typed, place)
    assert made is not None
    assert made[0] == f"{va} VA"
    assert made[1].replace(",", "").endswith(f"= {va} VA")


@pytest.mark.parametrize("typed", ["1500", "1500 VA", "1.5 kVA", "1.5k", "", "?", "=8*180 VA", "lamp"])
def test_what_is_in_va_already_is_left_alone(typed):
    assert load_in_va(typed, LoadPlace()) is None


@pytest.mark.parametrize(
    ("typed", "place", "words"),
    [
        ("24 A", LoadPlace(1, "A", None), "system is not known"),
        ("1920 W", LoadPlace(load_class="lighting"), "power factor"),
        ("1920 W", LoadPlace(), "Type VA or amperes"),
        ("10 A", LoadPlace(1, "B", "240D/120-HL"), "high leg"),
        ("10 A", LoadPlace(1, "A", "480D"), "no neutral"),
        ("10 A", LoadPlace(3, "A", "120/240-1"), "three poles"),
        ("x A", LoadPlace(1, "A", WYE), None),
    ],
)
def test_a_missing_fact_is_named(typed, place, words):
    if words is None:
        assert load_in_va(typed, place) is None
        return
    with pytest.raises(Misread, match=words):
        load_in_va(typed, place)


def test_typed_into_the_grid_with_the_poles_of_the_moment(session, ids, host, show):
    session.select([ids["panel"]])
    pane = show(CircuitsPane(session, host), width=1300, height=420)
    assert pane.model.system == WYE
    model = pane.model
    model.setData(model.cell_of(11, "trip_a"), "60/3", Qt.ItemDataRole.EditRole)
    model.setData(model.cell_of(11, "va"), "24 A", Qt.ItemDataRole.EditRole)
    (line,) = [c for c in session.drawing.get(ids["panel"]).circuits if c.space == 11]
    assert (line.poles, line.va) == (3, 8646.0)
    assert host.said[-1] == "24 A × 208 V × √3 = 8646 VA."
    model.setData(model.cell_of(11, "va"), "9 kW", Qt.ItemDataRole.EditRole)
    assert "power factor" in model.misread[11, "va"][1]
