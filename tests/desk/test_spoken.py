"""What a screen reader is told about the sheet (WCAG 2.2, 4.1.2: name, role, value)."""

from __future__ import annotations

from PySide6.QtGui import QAccessible

from oneline.model import Joint, edits


def children(desk):
    sheet = QAccessible.queryAccessibleInterface(desk.window.canvas)
    return [sheet.child(n) for n in range(sheet.childCount())]


def names(desk) -> list[str]:
    return [c.text(QAccessible.Text.Name) for c in children(desk)]


def test_every_item_is_a_child_with_a_name_that_says_what_it_is(desk):
    desk.keys("subp")
    panel = desk.named("Panel 1")
    desk.session.apply("Rate", edits.change(desk.drawing, panel, name="LP-2", rating_a=100.0, status="new"))
    said = names(desk)
    shown = [i for i in desk.drawing.items.values() if not isinstance(i, Joint)]
    assert len(said) == len(shown)
    about = next(s for s in said if s.startswith("LP-2"))
    assert "panel" in about
    assert "100 A" in about
    assert "new" in about
    assert "live from Service 1" in about


def test_an_open_switch_is_said_to_be_open(desk):
    desk.keys("sw", "o")
    assert any("open" in s for s in names(desk))


def test_the_item_under_a_point_and_the_selected_one(desk):
    desk.keys("s")
    child = children(desk)[0]
    middle = child.rect().center()
    sheet = QAccessible.queryAccessibleInterface(desk.window.canvas)
    assert sheet.childAt(middle.x(), middle.y()).text(QAccessible.Text.Name) == child.text(QAccessible.Text.Name)
    assert child.state().selected
    desk.session.select([])
    assert not child.state().selected
