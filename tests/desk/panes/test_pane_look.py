"""What all panes share: they fit the window, follow the theme, cost nothing while hidden, and read well."""

from __future__ import annotations

import pytest
from PySide6.QtGui import QPalette
from PySide6.QtWidgets import QAbstractButton, QAbstractItemView, QApplication, QComboBox, QLineEdit, QWidget

from oneline.desk.panes import make_panes
from oneline.desk.panes.fields import make_row
from oneline.desk.panes.look import Quiet, edge, ink, quiet
from oneline.desk.panes.typed import Misread, can_be_unknown, spell, understand
from oneline.desk.theme import window_palette
from oneline.model import KINDS, Circuit, DemandRecord, Project, Reading, specs
from oneline.sheet.inks import contrast_ratio

OWNERS = [*KINDS.values(), Circuit, DemandRecord, Project, Reading]


@pytest.fixture
def panes(session, host, show):
    made = make_panes(session, host)
    for pane in made:
        show(pane.widget, 340, 500)
    return made


def test_panes_have_titles_areas_and_keys_of_their_own(panes):
    assert [p.title for p in panes] == ["Details", "Findings", "Figures", "Circuits", "Field checks", "Outage"]
    assert len({p.key for p in panes}) == len(panes)
    assert {p.area for p in panes} <= {"right", "bottom", "left"}


def test_every_pane_can_be_as_narrow_as_320_pixels(panes):
    for pane in panes:
        assert pane.widget.minimumSizeHint().width() <= 320, pane.title


def test_every_control_has_a_name_and_a_tip(panes):
    for pane in panes:
        for widget in pane.widget.findChildren(QAbstractButton):
            inside = widget.parentWidget()
            if isinstance(inside, QLineEdit | QComboBox | QAbstractItemView) or not widget.isVisible():
                continue
            assert widget.text() or widget.accessibleName(), pane.title
            assert widget.toolTip(), (pane.title, widget.text())
        for view in pane.widget.findChildren(QAbstractItemView):
            own = isinstance(view.parentWidget(), QComboBox | QAbstractItemView)  # lists and headers inside another
            assert view.accessibleName() or own or not view.isVisible()


def test_hidden_panes_do_not_ask_for_a_study(session, host, qtbot):
    asked = []
    answer = session.answer
    session.answer = lambda view: (asked.append(view), answer(view))[1]
    made = make_panes(session, host)
    for pane in made:
        qtbot.addWidget(pane.widget)
    session.select([next(iter(session.drawing.items))])
    session.set_view("existing")
    QApplication.processEvents()
    assert asked == []


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_edges_of_controls_are_seen_in_both_themes(qapp, theme):
    """3:1 for the boundary of a control: WCAG 2.2, success criterion 1.4.11."""
    palette = window_palette(theme)
    for ground in (QPalette.ColorRole.Window, QPalette.ColorRole.Base):
        assert contrast_ratio(edge(palette).name(), palette.color(ground).name()) >= 3


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_text_of_the_panes_has_contrast_in_both_themes(qapp, theme):
    """4.5:1 for text: WCAG 2.2, success criterion 1.4.3; ratio by its definition."""
    palette = window_palette(theme)
    for ground in (QPalette.ColorRole.Window, QPalette.ColorRole.Base, QPalette.ColorRole.AlternateBase):
        on = palette.color(ground).name()
        assert contrast_ratio(quiet(palette).name(), on) >= 4.5
        assert contrast_ratio(ink(palette, "verdict-fail").name(), on) >= 4.5
    marked = (
        palette.color(QPalette.ColorRole.HighlightedText).name(),
        palette.color(QPalette.ColorRole.Highlight).name(),
    )
    assert contrast_ratio(*marked) >= 4.5


def test_quiet_text_follows_the_theme(qapp, qtbot):
    before = qapp.palette()
    label = Quiet("Load")
    qtbot.addWidget(label)
    try:
        seen = []
        for theme in ("light", "dark"):
            qapp.setPalette(window_palette(theme))
            QApplication.processEvents()
            seen.append(label.palette().color(QPalette.ColorRole.WindowText).name())
            assert seen[-1] == quiet(window_palette(theme)).name()
        assert seen[0] != seen[1]
    finally:
        qapp.setPalette(before)


# ---------------------------------------------------------------------------------------------------------- typed text
@pytest.mark.parametrize("owner", OWNERS, ids=lambda c: c.__name__)
def test_every_choice_can_be_typed_back_as_it_is_shown(owner):
    for name, spec in specs(owner).items():
        for choice in spec.choices:
            assert understand(spell(choice, spec), spec, can_be_unknown(owner, name)) == choice


@pytest.mark.parametrize("owner", OWNERS, ids=lambda c: c.__name__)
def test_unknown_is_empty_and_empty_is_unknown(owner):
    for name, spec in specs(owner).items():
        if can_be_unknown(owner, name) and spec.quantity != "flag":
            assert spell(None, spec) == ""
            assert understand("", spec, True) is None
            assert understand(" ? ", spec, True) is None


def test_a_value_outside_its_range_names_the_range():
    spec = specs(KINDS["disconnect"])["poles"]
    with pytest.raises(Misread, match=r"from 1 to 4"):
        understand("7", spec, True)


def test_a_choice_that_two_begin_with_is_not_guessed():
    spec = specs(Circuit)["load_class"]
    with pytest.raises(Misread, match="Type hvac or heat"):
        understand("h", spec, True)
    assert understand("hv", spec, True) == "hvac"


def test_systems_are_offered_by_the_name_in_their_table():
    spec = specs(KINDS["service"])["system"]
    assert spell("240D/120-HL", spec) == "240/120 V 3-phase 4-wire delta, high-leg"


def test_counts_and_trade_sizes_as_they_are_called():
    run, switch = specs(KINDS["run"]), specs(KINDS["disconnect"])
    assert [understand(t, run["sets"], True) for t in ("2 sets", "2x", "x2", "2")] == [2, 2, 2, 2]
    assert [understand(t, switch["poles"], True) for t in ("3p", "3 pole", "3P", "3 Poles")] == [3, 3, 3, 3]
    for text, spec in (("3 poles", run["sets"]), ("2 sets", switch["poles"])):
        with pytest.raises(Misread):
            understand(text, spec, True)
    assert [understand(t, run["raceway_size"], True) for t in ('3"', "3 in", '1 1/4"', "6 x 6")] == [
        "3", "3", "1-1/4", "6x6",
    ]  # fmt: skip
    for text in ("7", "1-3/4", "big", "3 ft"):  # Chapter 9 Table 4 has no such trade size
        with pytest.raises(Misread):
            understand(text, run["raceway_size"], True)


def test_below_zero_is_refused_with_the_range_of_the_field():
    with pytest.raises(Misread, match=r"from 0\.1 to 100 %"):
        understand("-5", specs(KINDS["transformer"])["z_pct"], True)
    with pytest.raises(Misread, match=r"from 0\.1 to 100 %"):
        understand("0", specs(KINDS["transformer"])["z_pct"], True)


def test_a_temperature_stands_in_both_scales(qtbot):
    page = QWidget()
    qtbot.addWidget(page)
    row = make_row(specs(KINDS["run"])["ambient_c"], True, page)
    row.show_value(understand("86 F", row.spec, True))
    assert (row.line.text(), row.line.beside) == ("30 °C", "86 °F")
