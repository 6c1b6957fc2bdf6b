"""Questions and messages that need an answer: which file, what about unsaved changes, what went wrong with a file."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QFileDialog, QMessageBox, QWidget

from oneline.desk.panes.dialogs import ProblemsDialog, show_error
from oneline.files import FileTrouble, Problem

#: Things that are left out of a file and stand in the question itself; the rest is in its details.
LISTED = 5
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
    for which, words in ((button.Save, "&Save"), (button.Discard, "&Discard"), (button.Cancel, "&Cancel")):
        box.button(which).setText(words)  # the platform's own words may come without a key
    box.setDefaultButton(button.Save)
    answer = box.exec()
    return {button.Save.value: "save", button.Discard.value: "discard"}.get(answer, "cancel")


def changed_outside(parent: QWidget, name: str, known: bool = True) -> str:
    """What to do when the file on disk is not the one that was opened: "copy", "replace" or "cancel".

    ``known``: whether it is known what the opened file was; after a crash nobody may know.
    """
    box = QMessageBox(parent)
    box.setIcon(QMessageBox.Icon.Warning)
    box.setWindowTitle("The file was changed elsewhere" if known else "The file may have been changed elsewhere")
    changed = f"{name} is not the file that was opened: somebody or something has written it since."
    box.setText(changed if known else f"It is not known whether {name} was changed since it was opened.")
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


def left_out(parent: QWidget, name: str, lost: tuple[Problem, ...]) -> str:
    """What to do when saving would lose what could not be taken from the file: "copy", "save" or "cancel"."""
    box = QMessageBox(parent)
    box.setIcon(QMessageBox.Icon.Warning)
    box.setWindowTitle("Saving would lose a part of the file")
    count = "One thing" if len(lost) == 1 else f"{len(lost)} things"
    box.setText(f"{count} in {name} could not be taken when it was opened. Saving there takes it out of the file.")
    some = [f"{p.what} ({p.where})" if p.where else p.what for p in lost[:LISTED]]
    more = [f"and {len(lost) - LISTED} more"] if len(lost) > LISTED else []
    box.setInformativeText("\n".join([*some, *more, "", "The file as it is now is kept as an earlier version."]))
    box.setDetailedText("\n\n".join(map(str, lost)))
    copy = box.addButton("Save as a copy …", QMessageBox.ButtonRole.AcceptRole)
    save = box.addButton("Save without it", QMessageBox.ButtonRole.DestructiveRole)
    box.addButton(QMessageBox.StandardButton.Cancel)
    box.setDefaultButton(copy)
    box.exec()
    clicked = box.clickedButton()
    return "copy" if clicked is copy else "save" if clicked is save else "cancel"


def trouble(parent: QWidget | None, bad: FileTrouble) -> None:
    """Say what went wrong with a file, where, why and what to do."""
    told = bad.problem
    show_error(parent, told.what, told.why or told.where, told.what_to_do or "Try it with another file.", str(told))


def show_problems(parent: QWidget | None, title: str, problems: list[Problem]) -> None:
    """Show what is wrong in a file that was opened, problem by problem; everything can be copied."""
    dialog = ProblemsDialog(title, problems, parent)
    dialog.exec()
    dialog.deleteLater()
