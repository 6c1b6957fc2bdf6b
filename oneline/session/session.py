"""An open drawing: history, selection, view, the current study and picture. Knows nothing of windows."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from oneline.model import Drawing
from oneline.model.vocabulary import VIEW_STATUSES
from oneline.sheet import Picture, build_picture
from oneline.study import StudyResult
from oneline.study.kept import KeptStudy

#: What a listener is told: any of "drawing", "selection", "view", "study", "file", "history".
Listener = Callable[[frozenset[str]], None]


@dataclass(frozen=True)
class Step:
    """One step of the history: what the menu calls it, and the drawing before and after."""

    label: str
    before: Drawing
    after: Drawing
    merge_key: Any = None


class Session:
    """One open drawing. All edits go through ``apply``; listeners hear what changed after everything is consistent."""

    def __init__(self, drawing: Drawing | None = None, path: Path | None = None) -> None:
        self._drawing = drawing or Drawing()
        self._saved = self._drawing
        self.path = path
        self.view = "proposed"
        self.symbols = "us"
        self._selection: tuple[str, ...] = ()
        self._done: list[Step] = []
        self._undone: list[Step] = []
        self._listeners: list[Listener] = []
        self._studies = {view: KeptStudy(view) for view in VIEW_STATUSES}
        self._picture: Picture | None = None

    # --------------------------------------------------------------------------------------------------- listening
    def listen(self, listener: Listener) -> Callable[[], None]:
        """Call ``listener`` after every change; returns the function that stops it."""
        self._listeners.append(listener)
        return lambda: self._listeners.remove(listener) if listener in self._listeners else None

    def _tell(self, *what: str) -> None:
        kinds = frozenset(what)
        first: Exception | None = None
        for listener in list(self._listeners):
            try:
                listener(kinds)
            except Exception as bad:  # one that fails must not keep the others from hearing
                first = first or bad
        if first is not None:
            raise first

    # ----------------------------------------------------------------------------------------------------- drawing
    @property
    def drawing(self) -> Drawing:
        return self._drawing

    @property
    def clean(self) -> bool:
        """Whether the drawing is the one last saved or opened."""
        return self._drawing is self._saved or self._drawing == self._saved

    def apply(self, label: str, after: Drawing, merge_key: Any = None) -> bool:
        """Make ``after`` the drawing as one named step. Returns False (and records nothing) when nothing changed.

        Steps with the same ``merge_key`` (one drag, one typing) melt into one until ``close_gesture``.
        """
        if not label:
            raise ValueError("every step needs a name")
        if after == self._drawing:
            return False
        before = self._drawing
        if merge_key is not None and self._done and self._done[-1].merge_key == merge_key and not self._undone:
            before = self._done.pop().before
        if after == before:
            self._set(after)
            return True
        self._done.append(Step(label, before, after, merge_key))
        self._undone.clear()
        self._set(after)
        return True

    def close_gesture(self) -> None:
        """End a gesture: the next step does not melt into the last one."""
        if self._done and self._done[-1].merge_key is not None:
            last = self._done[-1]
            self._done[-1] = Step(last.label, last.before, last.after)

    def _set(self, drawing: Drawing) -> None:
        self._drawing = drawing
        self._picture = None
        kept = tuple(i for i in self._selection if i in drawing)
        changed = ["drawing", "study", "history"]
        if kept != self._selection:
            self._selection = kept
            changed.append("selection")
        self._tell(*changed)

    # ----------------------------------------------------------------------------------------------------- history
    @property
    def undo_label(self) -> str | None:
        return self._done[-1].label if self._done else None

    @property
    def redo_label(self) -> str | None:
        return self._undone[-1].label if self._undone else None

    def undo(self) -> None:
        """Go back one step and select what it had changed. Without a step nothing happens."""
        if self._done:
            step = self._done.pop()
            self._undone.append(step)
            self._set(step.before)
            self._select_difference(step.after, step.before)

    def redo(self) -> None:
        if self._undone:
            step = self._undone.pop()
            self._done.append(step)
            self._set(step.after)
            self._select_difference(step.before, step.after)

    def _select_difference(self, old: Drawing, new: Drawing) -> None:
        touched = [i for i, item in new.items.items() if old.items.get(i) is not item]
        if touched:
            self.select(touched)

    # --------------------------------------------------------------------------------------------------- selection
    @property
    def selection(self) -> tuple[str, ...]:
        return self._selection

    def select(self, item_ids: Iterable[str]) -> None:
        wanted = tuple(dict.fromkeys(i for i in item_ids if i in self._drawing))
        if wanted != self._selection:
            self._selection = wanted
            self._tell("selection")

    # -------------------------------------------------------------------------------------------- view and answers
    def set_view(self, view: str) -> None:
        """Switch between the "existing" and the "proposed" view."""
        if view != self.view:
            self.view = view
            self._picture = None
            self._tell("view", "study")

    def set_symbols(self, symbols: str) -> None:
        """Draw with another set of symbols."""
        if symbols != self.symbols:
            self.symbols = symbols
            self._picture = None
            self._tell("view")

    def study_of(self, view: str) -> StudyResult:
        """The answers for one view of the present drawing; those of a drawing before it are no longer good."""
        return self._studies[view].of(self._drawing)

    @property
    def study(self) -> StudyResult:
        return self.study_of(self.view)

    @property
    def picture(self) -> Picture:
        """The sheet of the present view, with its marks and live figures."""
        if self._picture is None:
            self._picture = build_picture(self._drawing, self.study, self.view, self.symbols)
        return self._picture

    # ------------------------------------------------------------------------------------------------------- files
    def replace_document(self, drawing: Drawing, path: Path | None) -> None:
        """Another document takes this one's place: history and selection start anew."""
        self._drawing = self._saved = drawing
        self.path = path
        self._done.clear()
        self._undone.clear()
        self._selection = ()
        self._studies = {view: KeptStudy(view) for view in VIEW_STATUSES}
        self._picture = None
        self._tell("drawing", "selection", "view", "study", "file", "history")

    def mark_saved(self, path: Path) -> None:
        """The present drawing is what is on disk at ``path``."""
        self._saved = self._drawing
        self.path = path
        self._tell("file")
