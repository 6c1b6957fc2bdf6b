"""The details pane: nothing changes by looking, each finished field is one named step, unknown is always a choice."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QComboBox, QLineEdit, QPlainTextEdit, QWidget

from oneline.desk.panes.controls import Segments
from oneline.desk.panes.details import DetailsPane
from oneline.desk.panes.fields import ChoiceRow, FlagRow, TypedRow
from oneline.model import KINDS, Disconnect, UtilityService, edits, specs


@pytest.fixture
def pane(session, host, show) -> DetailsPane:
    return show(DetailsPane(session, host))


def typed(pane: DetailsPane, name: str, text: str) -> TypedRow:
    """Type into a field and press Enter."""
    row = pane.form.rows[name]
    row.line.setFocus()
    row.line.selectAll()
    QTest.keyClicks(row.line, text)
    QTest.keyClick(row.line, Qt.Key.Key_Return)
    return row


def test_looking_at_every_item_changes_nothing(pane, session):
    before = session.drawing
    for item_id in before.items:
        session.select([item_id])
    session.select(list(before.items))
    session.select([])
    assert session.drawing is before
    assert session.undo_label is None


def test_tabbing_through_every_field_changes_nothing(pane, session, ids, qtbot):
    session.select([ids["main"]])
    before = session.drawing
    pane.form.focus()
    for _ in range(3 * len(pane.form.rows)):
        QTest.keyClick(pane.focusWidget(), Qt.Key.Key_Tab)
    assert session.drawing is before


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_declared_field_of_every_kind_has_a_row(kind, empty, host, show):
    host.session = empty
    drawing = empty.drawing
    if kind in ("run", "joint", "tie"):
        drawing, a = edits.add(drawing, "bus", name="One")
        drawing, b = edits.add(drawing, "bus", name="Two")
        drawing, item = edits.connect(drawing, edits.End(a, "bus"), edits.End(b, "bus"), kind=kind)
    else:
        drawing, item = edits.add(drawing, kind)
    empty.apply("Add", drawing)
    pane = show(DetailsPane(empty, host))
    empty.select([item])
    assert set(pane.form.rows) == set(specs(KINDS[kind]))


def test_a_rating_typed_with_its_unit_is_one_named_step(pane, session, ids):
    session.select([ids["main"]])
    typed(pane, "trip_a", "500 amps")
    assert session.drawing.get(ids["main"]).trip_a == 500
    assert session.undo_label == "Change trip or fuse rating of Main 1"
    session.undo()
    assert session.drawing.get(ids["main"]).trip_a == 600
    assert session.undo_label is None
    assert pane.form.rows["trip_a"].line.text() == "600 A"


@pytest.mark.parametrize(
    ("field", "text", "value"),
    [
        ("length_ft", "9 m", 9 / 0.3048),
        ("length_ft", "5'6\"", 5.5),
        ("size", "500 kcmil", "500"),
        ("size", "4/0", "4/0"),
    ],
)
def test_lengths_and_sizes_are_understood_as_the_trade_writes_them(pane, session, ids, field, text, value):
    """1 ft is 0.3048 m exactly (international foot, 1959)."""
    session.select([ids["tap"]])
    typed(pane, field, text)
    found = getattr(session.drawing.get(ids["tap"]), field)
    assert found == (pytest.approx(value) if isinstance(value, float) else value)


def test_what_is_not_understood_stays_and_says_why(pane, session, ids):
    session.select([ids["main"]])
    row = typed(pane, "trip_a", "about six hundred")
    assert row.line.text() == "about six hundred"
    assert row.message.is_problem
    assert "Type" in row.message.text()
    assert session.drawing.get(ids["main"]).trip_a == 600
    session.select([ids["board"]])
    session.select([ids["main"]])
    assert pane.form.rows["trip_a"].line.text() == "about six hundred"
    assert pane.form.rows["trip_a"].message.is_problem


def test_an_edit_elsewhere_leaves_half_typed_text_alone(pane, session, ids):
    session.select([ids["main"]])
    row = pane.form.rows["trip_a"]
    row.line.setFocus()
    row.line.selectAll()
    QTest.keyClicks(row.line, "40")
    session.apply("Rename", edits.change(session.drawing, ids["board"], name="Old board"))
    assert row.line.text() == "40"
    QTest.keyClicks(row.line, "0")
    QTest.keyClick(row.line, Qt.Key.Key_Return)
    assert session.drawing.get(ids["main"]).trip_a == 400


def test_leaving_for_another_item_takes_over_what_was_typed(pane, session, ids):
    session.select([ids["main"]])
    row = pane.form.rows["trip_a"]
    row.line.setFocus()
    row.line.selectAll()
    QTest.keyClicks(row.line, "450")
    session.select([ids["board"]])
    assert session.drawing.get(ids["main"]).trip_a == 450
    assert session.drawing.get(ids["board"]).rating_a == 800
    assert pane.title.text() == "Board"


def test_escape_brings_the_value_back(pane, session, ids):
    session.select([ids["main"]])
    row = pane.form.rows["trip_a"]
    row.line.setFocus()
    QTest.keyClicks(row.line, "77")
    QTest.keyClick(row.line, Qt.Key.Key_Escape)
    assert row.line.text() == "600 A"
    assert session.undo_label is None


@pytest.mark.parametrize("text", ["", "?", "unknown"])
def test_unknown_can_be_typed(pane, session, ids, text):
    session.select([ids["main"]])
    row = pane.form.rows["rating_a"]
    row.line.setFocus()
    row.line.selectAll()
    QTest.keyClick(row.line, Qt.Key.Key_Delete)
    QTest.keyClicks(row.line, text)
    QTest.keyClick(row.line, Qt.Key.Key_Return)
    assert session.drawing.get(ids["main"]).rating_a is None
    assert row.line.placeholderText() == "unknown"


def test_unknown_is_a_choice_of_every_field_that_can_be_unknown(pane, session, ids):
    """``None`` is the value of unknown, so every field whose declared type admits None must offer it."""
    for key in ("service", "main", "board", "array", "tap"):
        session.select([ids[key]])
        item = session.drawing.get(ids[key])
        for name, row in pane.form.rows.items():
            annotated = next(c.__annotations__[name] for c in type(item).__mro__ if name in c.__annotations__)
            offered = row.basis is not None and row.basis.unknown_action in row.basis.menu().actions()
            if isinstance(row, ChoiceRow):
                offered = offered and row.box.itemData(0) is None
            if isinstance(row, FlagRow):
                offered = offered and row.segments.button(None).text() == "?"
            assert offered == ("None" in annotated), name


def test_ring_button_makes_a_value_unknown(pane, session, ids):
    session.select([ids["main"]])
    pane.form.rows["rating_a"].basis.unknown_action.trigger()
    assert session.drawing.get(ids["main"]).rating_a is None
    assert session.undo_label == "Change frame or switch rating of Main 1"


def test_basis_is_said_beside_the_field_and_assumed_stands_in_italics(pane, session, ids):
    session.select([ids["main"]])
    row = pane.form.rows["trip_a"]
    assert row.control.font().italic()
    assert not pane.form.rows["rating_a"].control.font().italic()
    row.basis.basis_actions["measured"].trigger()
    assert session.drawing.get(ids["main"]).basis["trip_a"] == "measured"
    assert session.undo_label == "Change basis of trip or fuse rating of Main 1"
    assert not row.control.font().italic()
    row.basis.basis_actions["entered"].trigger()
    assert "trip_a" not in session.drawing.get(ids["main"]).basis


def test_flags_have_three_answers(pane, session, ids):
    session.select([ids["main"]])
    row = pane.form.rows["load_break"]
    answers = []
    for value in (True, False, None):
        row.segments.button(value).click()
        answers.append(session.drawing.get(ids["main"]).load_break)
    assert answers == [True, False, None]


def test_letters_pick_an_answer(pane, session, ids):
    session.select([ids["main"]])
    segments = pane.form.rows["lockable"].segments
    segments.button(None).setFocus()
    QTest.keyClicks(segments.button(None), "n")
    assert session.drawing.get(ids["main"]).lockable is False


def test_choice_is_taken_when_it_is_activated(pane, session, ids):
    session.select([ids["main"]])
    box = pane.form.rows["form"].box
    box.setFocus()
    QTest.keyClick(box, Qt.Key.Key_Up)
    assert session.drawing.get(ids["main"]).form == "breaker"
    assert session.undo_label == "Change form of Main 1"


def test_the_wheel_over_a_choice_changes_nothing(pane, session, ids, qtbot):
    from PySide6.QtCore import QPoint, QPointF
    from PySide6.QtGui import QWheelEvent
    from PySide6.QtWidgets import QApplication

    session.select([ids["main"]])
    box = pane.form.rows["form"].box
    box.setFocus()
    at = QPointF(5, 5)
    event = QWheelEvent(
        at, box.mapToGlobal(at), QPoint(), QPoint(0, -120), Qt.MouseButton.NoButton, Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(box, event)
    assert session.drawing.get(ids["main"]).form == "fused switch"


def test_several_of_one_kind_show_what_they_share(pane, session, ids):
    session.select([ids["main"], ids["switch"]])
    assert pane.title.text() == "2 disconnects"
    assert "name" not in pane.form.rows
    assert pane.form.rows["form"].box.currentText() == "fused switch"
    trip = pane.form.rows["trip_a"]
    assert trip.line.text() == ""
    assert trip.line.placeholderText() == "various"
    before = session.drawing
    trip.line.setFocus()
    QTest.keyClick(trip.line, Qt.Key.Key_Return)
    assert session.drawing is before
    typed(pane, "interrupting_ka", "42 kA")
    assert [session.drawing.get(ids[k]).interrupting_ka for k in ("main", "switch")] == [42, 42]
    session.undo()
    assert session.drawing == before


def test_several_kinds_show_only_what_all_have(pane, session, ids):
    session.select([ids["service"], ids["main"]])
    assert set(pane.form.rows) == (set(specs(UtilityService)) & set(specs(Disconnect))) - {"name"}
    assert pane.form.rows["status"].box.currentText() == "existing"


def test_project_data_and_edition_when_nothing_is_selected(pane, session):
    assert pane.title.text() == "Project"
    assert pane.form.rows["title"].line.text() == "Fish hall"
    box = pane.form.rows["edition"].box
    assert [box.itemText(i) for i in range(box.count())] == ["2017", "2020", "2023", "2026"]
    box.setFocus()
    QTest.keyClick(box, Qt.Key.Key_Down)
    assert session.drawing.project.edition == 2026
    assert session.undo_label == "Change code edition"
    typed(pane, "address", "4 Quay Road")
    assert session.drawing.project.address == "4 Quay Road"
    typed(pane, "as_of", "5/14/2026")
    assert session.drawing.project.as_of == "2026-05-14"


def test_ends_go_to_the_neighbors(pane, session, host, ids):
    session.select([ids["tap"]])
    assert "Board" in pane.ends.text()
    assert "Ice switch" in pane.ends.text()
    pane.ends.linkActivated.emit(f"item:{ids['switch']}")
    assert host.shown == [ids["switch"]]
    assert pane.title.text() == "Ice switch"
    assert "Tap to Ice switch" in pane.ends.text()


def test_names_cannot_bring_markup_into_the_pane(pane, session, ids):
    session.apply("Rename", edits.change(session.drawing, ids["board"], name="<b>A</b> & B"))
    session.select([ids["tap"]])
    assert "&lt;b&gt;A&lt;/b&gt; &amp; B" in pane.ends.text()


def test_a_refused_edit_says_why_and_keeps_the_text(pane, session, host, ids, monkeypatch):
    from oneline.desk.panes import changes

    def refuse(*_args, **_values):
        raise edits.EditRefused("Main 1 cannot be called so.")

    monkeypatch.setattr(changes, "change", refuse)
    session.select([ids["main"]])
    row = typed(pane, "name", "Main 2")
    assert host.said == ["Main 1 cannot be called so."]
    assert row.message.is_problem
    assert session.undo_label is None


def test_focus_can_be_asked_for_by_field(pane, session, ids, qtbot):
    session.select([ids["main"]])
    pane.focus_field("interrupting_ka")
    assert pane.form.rows["interrupting_ka"].line.hasFocus()
    pane.focus_field()
    assert pane.form.rows["name"].line.hasFocus()


def test_controls_are_at_least_24_pixels_high_and_named(pane, session, ids, qapp):
    """Least target size: WCAG 2.2, success criterion 2.5.8."""
    for key in ("service", "main", "panel", "tap", "array"):
        session.select([ids[key]])
        qapp.processEvents()
        for row in pane.form.rows.values():
            control: QWidget = row.control
            if not control.isVisible():  # it does not apply to the form
                continue
            assert control.height() >= 24, row.spec.name
            assert control.accessibleName() or isinstance(control, Segments)
            assert control.toolTip()
            if row.basis is not None:
                assert min(row.basis.width(), row.basis.height()) >= 24
        for button in pane.findChildren(QAbstractButton):
            parent = button.parentWidget()
            if button.isVisible() and not isinstance(parent, QLineEdit | QComboBox):
                assert button.height() >= 24, button.text()


def test_the_narrow_pane_cuts_nothing_off(session, host, ids, show, qapp):
    pane = show(DetailsPane(session, host), width=320)
    for key in ("service", "main", "panel", "tap", "array"):
        session.select([ids[key]])
        qapp.processEvents()
        page = pane.area.widget()
        assert page.minimumSizeHint().width() <= pane.area.viewport().width(), key


def test_notes_are_taken_over_when_the_focus_leaves(pane, session, ids):
    session.select([ids["main"]])
    row = pane.form.rows["notes"]
    row.edit.setFocus()
    QTest.keyClicks(row.edit, "Handle stiff.")
    assert session.undo_label is None
    QTest.keyClick(row.edit, Qt.Key.Key_Tab)
    assert session.drawing.get(ids["main"]).notes == "Handle stiff."
    assert session.undo_label == "Change notes of Main 1"
    assert isinstance(row.edit, QPlainTextEdit)


def test_notes_take_no_unseen_characters(pane, session, ids):
    session.select([ids["main"]])
    edit = pane.form.rows["notes"].edit
    edit.setFocus()
    edit.setPlainText("One\x07\ttwo\nthree")
    QTest.keyClick(edit, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    assert session.drawing.get(ids["main"]).notes == "One  two\nthree"


def test_a_hidden_pane_waits_and_catches_up(session, host, ids, show):
    pane = show(DetailsPane(session, host))
    pane.hide()
    session.select([ids["main"]])
    assert pane.title.text() == "Project"
    pane.show()
    assert pane.title.text() == "Main 1"


def test_a_deleted_pane_hears_nothing_more(session, host, qtbot):
    import shiboken6

    pane = DetailsPane(session, host)
    assert session._listeners
    shiboken6.delete(pane)
    assert not session._listeners
    session.set_view("existing")


# ---------------------------------------------------------------------------------------------------- typing a choice
@pytest.mark.parametrize("pause_ms", [0, 450])  # 400 ms: after so long Qt begins its own search anew
def test_typing_a_choice_is_one_step_however_slow(pane, session, ids, pause_ms):
    session.select([ids["run"]])
    box = pane.form.rows["insulation"].control
    box.setFocus()
    for letter in "THHN":
        QTest.keyClick(box, letter, delay=pause_ms)
        QApplication.processEvents()
    before = session.undo_label
    QTest.keyClick(box, Qt.Key.Key_Return)
    assert session.drawing.get(ids["run"]).insulation == "THHN"
    assert box.currentText() == "THHN"
    assert session.undo_label != before
    session.undo()
    assert session.drawing.get(ids["run"]).insulation is None


def test_a_typed_choice_is_taken_over_on_leaving_and_given_up_with_escape(pane, session, ids):
    session.select([ids["run"]])
    box = pane.form.rows["insulation"].control
    box.setFocus()
    QTest.keyClicks(box, "xhhw-2")
    QTest.keyClick(box, Qt.Key.Key_Escape)
    assert session.drawing.get(ids["run"]).insulation is None
    assert box.currentText() == "unknown"
    QTest.keyClicks(box, "thhn/")
    QTest.keyClick(box, Qt.Key.Key_Tab)
    assert session.drawing.get(ids["run"]).insulation == "THHN/THWN-2"
    box.setFocus()
    QTest.keyClicks(box, "use")
    session.select([ids["main"]])
    assert session.drawing.get(ids["run"]).insulation == "USE-2"
    assert session.drawing.get(ids["main"]) is not None


# ------------------------------------------------------------------------------------------ fields that do not apply
#: Common practice, no source: what such equipment has and what it has not.
FORMS = [
    ("disconnect", "breaker", {"adjustable", "full_rated", "series_rating_ka", "trip_a"}, {"sccr_ka", "load_break"}),
    ("disconnect", "fuses", {"trip_a", "interrupting_ka"}, {"adjustable", "full_rated", "series_rating_ka", "sccr_ka"}),
    ("disconnect", "switch", {"sccr_ka", "load_break"}, {"trip_a", "interrupting_ka", "adjustable"}),
    ("disconnect", "fused switch", {"trip_a", "sccr_ka", "interrupting_ka"}, {"adjustable", "series_rated_with"}),
    ("bus", "panelboard", {"spaces", "feed_position"}, set()),
    ("bus", "splice box", {"rating_a"}, {"spaces", "feed_position", "line_side_barrier"}),
]


@pytest.mark.parametrize(("kind", "form", "there", "gone"), FORMS, ids=[f"{k}-{f}" for k, f, _, _ in FORMS])
def test_a_form_shows_only_what_it_has(kind, form, there, gone, empty, host, show):
    host.session = empty
    drawing, item = edits.add(empty.drawing, kind, form=form)
    empty.apply("Add", drawing)
    pane = show(DetailsPane(empty, host))
    empty.select([item])
    shown = {name for name, row in pane.form.rows.items() if row.control.isVisible()}
    assert there <= shown
    assert not gone & shown


def test_what_is_known_is_never_hidden(empty, host, show):
    host.session = empty
    drawing, fuses = edits.add(empty.drawing, "disconnect", form="fuses", adjustable=True)
    drawing, breaker = edits.add(drawing, "disconnect", form="breaker")
    empty.apply("Add", drawing)
    pane = show(DetailsPane(empty, host))
    empty.select([fuses])
    assert pane.form.rows["adjustable"].control.isVisible()
    assert not pane.form.rows["full_rated"].control.isVisible()
    empty.select([fuses, breaker])
    assert pane.form.rows["full_rated"].control.isVisible()


def test_ratings_stand_before_place_and_notes(pane, session, ids):
    for key, rating in (("main", "trip_a"), ("panel", "rating_a"), ("service", "system"), ("tap", "size")):
        session.select([ids[key]])
        QApplication.processEvents()
        rows = pane.form.rows
        top = {name: rows[name].holder.y() for name in ("name", "status", rating, "location", "notes")}
        assert top["name"] < top["status"] < top[rating] < top["location"] < top["notes"]


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_tab_takes_every_shown_field_in_the_order_of_the_form(kind, empty, host, show):
    """Top to bottom, no field passed over, none twice, before anything else in the pane."""
    host.session = empty
    drawing = empty.drawing
    if kind in ("run", "joint", "tie"):
        drawing, a = edits.add(drawing, "bus", name="One")
        drawing, b = edits.add(drawing, "bus", name="Two")
        drawing, item = edits.connect(drawing, edits.End(a, "bus"), edits.End(b, "bus"), kind=kind)
    else:
        drawing, item = edits.add(drawing, kind)
    empty.apply("Add", drawing)
    pane = show(DetailsPane(empty, host))
    empty.select([item])
    pane.activateWindow()
    pane.focus_field()
    QApplication.processEvents()  # a form of many fields has its heights only then
    shown = [row for row in pane.form.rows.values() if row.holder.isVisible()]
    down = sorted(shown, key=lambda r: r.holder.mapTo(pane.form, r.holder.rect().topLeft()).y())
    order = []
    for _ in shown:
        order.append(next(r.spec.name for r in shown if r.holder.isAncestorOf(pane.focusWidget())))
        QTest.keyClick(pane.focusWidget(), Qt.Key.Key_Tab)
    assert order == [r.spec.name for r in down]


@pytest.mark.parametrize("kind", ["main", "feeder", "panel"])
def test_capital_letters_typed_into_a_choice_add_up(pane, session, ids, kind):
    """With a real keyboard Shift goes down and up with every capital letter."""
    session.select([ids[kind]])
    box = pane.form.rows["phases"].control
    for wanted in ("BC", "ABC"):
        box.setFocus()
        for letter in wanted:
            QTest.keyPress(box, Qt.Key.Key_Shift, Qt.KeyboardModifier.ShiftModifier)
            QTest.keyClick(box, letter, Qt.KeyboardModifier.ShiftModifier)
            QTest.keyRelease(box, Qt.Key.Key_Shift)
        QTest.keyClick(box, Qt.Key.Key_Return)
        assert session.drawing.get(ids[kind]).phases == wanted


def test_a_length_in_meters_is_kept_exactly_and_shown_on_the_tape(pane, session, ids):
    """9 m are 29 ft 6.33 in; 5/16 in is the nearest sixteenth."""
    session.select([ids["feeder"]])
    row = pane.form.rows["length_ft"]
    row.line.setFocus()
    row.line.selectAll()
    QTest.keyClicks(row.line, "9 m")
    assert row.message.text() == "= 29 ft 6-5/16 in"
    QTest.keyClick(row.line, Qt.Key.Key_Return)
    exact = session.drawing.get(ids["feeder"]).length_ft
    assert exact == pytest.approx(9 / 0.3048, rel=1e-9)
    assert row.line.text() == "29 ft 6-5/16 in"
    before = session.drawing
    row.line.setFocus()
    row.line.selectAll()
    QTest.keyClicks(row.line, "29 ft 6-5/16 in")
    QTest.keyClick(row.line, Qt.Key.Key_Return)
    assert session.drawing is before
