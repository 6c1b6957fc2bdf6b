"""Loads of circuits typed in amperes or watts. Expected values by hand: single-phase VA = V A, three-phase VA = √3 V A."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from oneline.desk.panes.circuits import CircuitsPane
from oneline.desk.panes.details import DetailsPane
from oneline.desk.panes.fields import TypedRow
from oneline.desk.panes.loadentry import LoadPlace, load_in_va
from oneline.desk.panes.tablepaste import read_rows, understood
from oneline.desk.panes.typed import Misread
from oneline.model import Drawing, End, edits
from oneline.session.session import Session
from tests.desk.panes.conftest import NoteTakingHost

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
        ("24 A", LoadPlace(1, "A", None), "system here is not known"),
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


@pytest.fixture
def real(qapp) -> tuple[Session, str]:
    """A session with its own answers: a load of three phases behind a 480Y/277 service."""
    drawing, service = edits.add(Drawing(), "service", name="Service", system="480Y/277")
    drawing, fan = edits.add(drawing, "load", name="Fan", phases="ABC", load_class="motor")
    drawing, _joint = edits.connect(drawing, End(service, "out"), End(fan, "in"))
    return Session(drawing), fan


def enter(pane: DetailsPane, text: str) -> TypedRow:
    row = pane.form.rows["va"]
    row.line.setFocus()
    row.line.selectAll()
    QTest.keyClicks(row.line, text)
    QTest.keyClick(row.line, Qt.Key.Key_Return)
    return row


def test_a_load_takes_amperes_and_watts_in_its_details(real, show):
    session, fan = real
    session.select([fan])
    pane = show(DetailsPane(session, NoteTakingHost(session)))
    enter(pane, "20 A")
    assert session.drawing.get(fan).va == 16628  # 20 * 480 * 1.7320508 = 16627.7
    row = enter(pane, "9 kW")
    assert "power factor" in row.message.text()
    session.apply("Change power factor", edits.change(session.drawing, fan, power_factor=0.9))
    enter(pane, "9 kW")
    assert session.drawing.get(fan).va == 10_000


def test_a_load_whose_phases_nobody_knows_takes_no_amperes(real, show):
    session, fan = real
    session.apply("Change phases", edits.change(session.drawing, fan, phases=None))
    session.select([fan])
    pane = show(DetailsPane(session, NoteTakingHost(session)))
    row = enter(pane, "20 A")
    assert "phases are not known" in row.message.text()
    assert session.drawing.get(fan).va is None


@pytest.mark.parametrize(
    ("rows", "va"),
    [
        (("Description\tPoles\tLoad (kVA)", "Fan\t3\t3.2"), 3200),
        (("Description\tPoles\tLoad (VA)", "Fan\t3\t3,200"), 3200),
        (("Description\tPoles\tConnected load, amps", "Fan\t3P\t20"), 7205),  # 20 * 208 * 1.7320508 = 7205.3
        (("Description\tPoles\tLoad (A)", "Fan\t3P\t20"), 7205),
        (("Description\tPoles\tLoad A", "Fan\t3P\t20"), 20),
        (("Description\tPoles\tLoad", "Fan\t3\t20 A"), 7205),
        (("Description\tClass\tWatts", "Oven\theat\t4500"), 4500),
        (("Description\tPoles\tVA A\tVA B\tVA C", "Fan\t3\t1,200\t1100\t900"), 3200),
        (("Description\tPoles\tPhase A kVA\tPhase B kVA", "Fan\t2\t1.2\t1.1"), 2300),
        (("Description\tPoles\tVA A\tVA B", "Lights\t1\t\t1100"), 1100),
        (("Description\tPoles\tConnected VA\tDemand VA", "Fan\t3\t3200\t1600"), 3200),
        (("Fan\t30\t3P\t20 A",), 7205),
        (("Fan\t30\t3\t3200",), 3200),
    ],
)
def test_a_pasted_column_of_loads_keeps_its_unit(rows, va):
    (row,) = read_rows("\n".join(rows))
    values, misread = understood(row.texts, LoadPlace(phase="A", system=WYE))
    assert values["va"] == va
    assert not misread


def test_pasted_watts_of_a_motor_are_told_and_left_out():
    (row,) = read_rows("Description\tClass\tkW\nFan\tmotor\t3.2")
    values, misread = understood(row.texts, LoadPlace(phase="A", system=WYE))
    assert "va" not in values
    assert misread["va"][0] == "3.2 kW"


def test_pasted_amperes_of_each_phase_are_told_and_left_out():
    (row,) = read_rows("Description\tPoles\tAmps load A\tAmps load B\tAmps load C\nFan\t3\t20\t20\t20")
    values, misread = understood(row.texts, LoadPlace(phase="A", system=WYE))
    assert "va" not in values
    assert misread["va"][0] == "20 A + 20 A + 20 A"
