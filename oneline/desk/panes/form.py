"""A form over the declared fields of a class: groups under quiet headings, one row a field."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from itertools import pairwise
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QWidget

from oneline.desk.panes.fields import FieldRow, TypedRow, form_grid, lay_out, make_row
from oneline.desk.panes.look import Heading
from oneline.desk.panes.typed import can_be_unknown
from oneline.model import Spec, specs
from oneline.model.fields import PLACE_GROUP


class Form(QWidget):
    """Rows for some fields of a class.

    ``committed(name, value)`` when a field got another value, ``basis_picked(name, basis)`` when its origin was said.
    """

    committed = Signal(str, object)
    basis_picked = Signal(str, object)

    def __init__(
        self,
        owner: type,
        names: Iterable[str] | None = None,
        parent: QWidget | None = None,
        *,
        with_basis: bool = True,
        headings: bool = True,
        extra: Sequence[Spec] = (),
    ) -> None:
        super().__init__(parent)
        declared = specs(owner)
        wanted = [declared[n] for n in (declared if names is None else names)]
        self.rows: dict[str, FieldRow] = {}
        self._headings: dict[str, Heading] = {}
        grid = form_grid(self)
        line = 0
        for group, members in _grouped([*wanted, *extra]).items():
            if headings:
                self._headings[group] = Heading(group, self)
                grid.addWidget(self._headings[group], line, 0, 1, 3, Qt.AlignmentFlag(0))
                line += 1
            for spec in members:
                nullable = spec.name in declared and can_be_unknown(owner, spec.name)
                row = make_row(spec, nullable, self, with_basis)
                row.committed.connect(lambda value, n=spec.name: self.committed.emit(n, value))
                row.basis_picked.connect(lambda basis, n=spec.name: self.basis_picked.emit(n, basis))
                lay_out(grid, line, row)
                self.rows[spec.name] = row
                line += 1
        tab_through([*self.stops(), *self.origins()])

    def stops(self) -> list[QWidget]:
        """The entries from top to bottom, as Tab takes them."""
        return [stop for row in self.rows.values() for stop in row.stops()]

    def origins(self) -> list[QWidget]:
        """The buttons that say where each value comes from. Tab takes them after all entries."""
        return [row.basis for row in self.rows.values() if row.basis is not None]

    def show_values(self, values: Mapping[str, Any], bases: Mapping[str, str] | None = None) -> None:
        """Show a value for each row. A row where something is typed and whose value is as before is left alone."""
        for name, row in self.rows.items():
            value = values[name]
            basis = (bases or {}).get(name, "entered")
            if isinstance(row, TypedRow) and row.pending_text is not None and _same(row.value, value):
                continue
            row.show_value(value, basis)

    def hide_fields(self, names: Collection[str]) -> None:
        """Show all fields but these, and no heading above nothing."""
        left = set()
        for name, row in self.rows.items():
            row.show_row(name not in names)
            if name not in names:
                left.add(row.spec.group)
        for group, heading in self._headings.items():
            heading.setVisible(group in left)

    def commit_pending(self) -> None:
        """Take over everything typed that is understood."""
        for row in self.rows.values():
            row.commit_pending()

    def pending(self) -> dict[str, str]:
        """What is typed and not understood, by field."""
        rows = ((n, r.pending_text) for n, r in self.rows.items() if isinstance(r, TypedRow))
        return {n: text for n, text in rows if text is not None}

    def put_pending(self, texts: Mapping[str, str]) -> None:
        for name, text in texts.items():
            row = self.rows.get(name)
            if isinstance(row, TypedRow):
                row.put_pending(text)

    def focus(self, name: str | None = None) -> None:
        """Put the keyboard focus on a field, by default the first."""
        row = self.rows.get(name) if name else next(iter(self.rows.values()), None)
        if row is not None:
            row.control.setFocus(Qt.FocusReason.ShortcutFocusReason)
            if isinstance(row, TypedRow):
                row.line.selectAll()


def tab_through(stops: Sequence[QWidget]) -> None:
    """Let Tab take widgets in this order."""
    for before, after in pairwise(stops):
        QWidget.setTabOrder(before, after)


def _same(a: Any, b: Any) -> bool:
    return a is b or (type(a) is type(b) and a == b)


def _grouped(members: Iterable[Spec]) -> dict[str, list[Spec]]:
    groups: dict[str, list[Spec]] = {}
    for spec in members:
        groups.setdefault(spec.group, []).append(spec)
    return {name: groups[name] for name in sorted(groups, key=lambda name: name == PLACE_GROUP)}
