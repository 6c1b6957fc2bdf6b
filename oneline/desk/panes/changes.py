"""Edits that the panes make: each is one named step, refused edits change nothing and give their sentence."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any

from oneline.desk.panes.words import lower_first
from oneline.model import Drawing
from oneline.model.edits import EditRefused, change, set_basis
from oneline.session.session import Session


def title_of(drawing: Drawing, ids: Iterable[str]) -> str:
    """The item's name, or "3 disconnects" for several, "3 items" where their kinds differ."""
    found = list(ids)
    if len(found) == 1:
        return drawing.name_of(found[0])
    titles = {drawing.get(i).title for i in found}
    if len(titles) != 1:
        return f"{len(found)} items"
    title = lower_first(titles.pop())
    return f"{len(found)} {title}{'' if title.endswith('s') else 's' if not title.endswith('ch') else 'es'}"


def try_edit(session: Session, label: str, edit: Callable[[Drawing], Drawing]) -> str:
    """Apply an edit as one step named ``label``. Returns "" or the sentence with which it was refused."""
    try:
        after = edit(session.drawing)
    except EditRefused as refused:
        return str(refused)
    session.apply(label, after)
    return ""


def change_field(session: Session, ids: Iterable[str], field: str, word: str, value: Any) -> str:
    """Give a field of one or several items a value, as one step "Change trip rating of Main 1"."""
    wanted = tuple(ids)

    def edit(drawing: Drawing) -> Drawing:
        for item_id in wanted:
            drawing = change(drawing, item_id, **{field: value})
        return drawing

    return try_edit(session, f"Change {lower_first(word)} of {title_of(session.drawing, wanted)}", edit)


def change_basis(session: Session, ids: Iterable[str], field: str, word: str, basis: str) -> str:
    """Say where a field's value comes from, for every item that has one. "Entered" takes the statement back."""
    wanted = tuple(ids)

    def edit(drawing: Drawing) -> Drawing:
        for item_id in wanted:
            if getattr(drawing.get(item_id), field) is not None:
                drawing = set_basis(drawing, item_id, field, None if basis == "entered" else basis)
        return drawing

    return try_edit(session, f"Change basis of {lower_first(word)} of {title_of(session.drawing, wanted)}", edit)


def change_project(session: Session, label: str, **values: Any) -> str:
    """Change fields of the project as one step named ``label``."""
    return try_edit(session, label, lambda d: replace(d, project=replace(d.project, **values)))
