"""Questions and messages that need an answer: which file, what about unsaved changes, what went wrong with a file."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QFileDialog, QMessageBox, QWidget

from oneline.desk.panes.dialogs import ProblemsDialog, show_error
from oneline.files import FileTrouble, Problem

FILTER = "Drawings (*.oneline);;All files (*)"


def file_to_open(parent: QWidget, folder: str) -> Path | None:
    """The drawing to open, or ``None``."""
    name, _ = QFileDialog.getOpenFileName(parent, "Open a drawing", folder, FILTER)
    return Path(name) if name else None


def file_to_save(parent: QWidget, proposed: str) -> Path | None:
    """Where to save the drawing, or ``None``. A name without an ending gets ``.oneline``."""
    name, _ = QFileDialog.getSaveFileName(parent, "Save the drawing", proposed, FILTER)
    if not name:
        return None
    path = Path(name)
    return path if path.suffix else path.with_suffix(".oneline")


def unsaved(parent: QWidget, name: str) -> str:
    """What to do with unsaved changes: "save", "discard" or "cancel"."""
    button = QMessageBox.StandardButton
    box = QMessageBox(parent)
    box.setIcon(QMessageBox.Icon.Question)
    box.setWindowTitle("Unsaved changes")
    box.setText(f"Save the changes to {name}?")
    box.setInformativeText("Without saving, the changes since the last save are gone when it is closed.")
    box.setStandardButtons(button.Save | button.Discard | button.Cancel)
    box.setDefaultButton(button.Save)
    answer = box.exec()
    return {button.Save.value: "save", button.Discard.value: "discard"}.get(answer, "cancel")


def changed_outside(parent: QWidget, name: str) -> str:
    """What to do when the file on disk is not the one that was opened: "copy", "replace" or "cancel"."""
    box = QMessageBox(parent)
    box.setIcon(QMessageBox.Icon.Warning)
    box.setWindowTitle("The file was changed elsewhere")
    box.setText(f"{name} is not the file that was opened: somebody or something has written it since.")
    box.setInformativeText(
        "Saving now would put your drawing in its place. The other one is kept as an earlier version."
    )
    copy = box.addButton("Save as a copy …", QMessageBox.ButtonRole.AcceptRole)
    over = box.addButton("Put mine in its place", QMessageBox.ButtonRole.DestructiveRole)
    box.addButton(QMessageBox.StandardButton.Cancel)
    box.setDefaultButton(copy)
    box.exec()
    clicked = box.clickedButton()
    return "copy" if clicked is copy else "replace" if clicked is over else "cancel"


def trouble(parent: QWidget | None, bad: FileTrouble) -> None:
    """Say what went wrong with a file, where, why and what to do."""
    told = bad.problem
    show_error(parent, told.what, told.why or told.where, told.what_to_do or "Try it with another file.", str(told))


def show_problems(parent: QWidget | None, title: str, problems: list[Problem]) -> None:
    """Show what is wrong in a file that was opened, problem by problem; everything can be copied."""
    dialog = ProblemsDialog(title, problems, parent)
    dialog.exec()
    dialog.deleteLater()
