"""Trying what would help for findings of the open drawing: started on demand, in slices, dropped by an edit."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QObject, Signal

from oneline.desk.slices import Sliced
from oneline.model import Drawing
from oneline.rules.verdict import Verdict
from oneline.session.session import Session
from oneline.study.remedies import Remedy, applied
from oneline.study.trials import Steps, Trials
from oneline.study.tried import Tried, try_for, wanted

#: Longest name of a step in the menu.
_LABEL_LETTERS = 70


def arrows(text: str) -> str:
    """ "6 AWG -> 4 AWG" as it is drawn on a screen."""
    return text.replace("->", "→")


class TriedWork(QObject):
    """What was tried for some findings. ``changed`` tells that it began, stopped, was found or was dropped."""

    changed = Signal()

    def __init__(self, session: Session, say: Callable[[str], None], parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.session, self._say = session, say
        self.verdicts: tuple[Verdict, ...] = ()
        self.results: tuple[Tried, ...] = ()
        self._about: tuple[Drawing, str] | None = None
        self._trials: Trials | None = None
        self._work = Sliced(self)
        self._work.done.connect(self._take)
        stop = session.listen(self._heard)
        self.destroyed.connect(lambda *_: stop())

    @property
    def busy(self) -> bool:
        return self._work.busy

    def _heard(self, kinds: frozenset[str]) -> None:
        """An edit or another view: what is under way answers a question that nobody asks any more."""
        if kinds & {"drawing", "view"} and not self._current():
            self._work.cancel()

    def _current(self) -> bool:
        about = self._about
        return about is not None and about[0] is self.session.drawing and about[1] == self.session.view

    def put(self, verdicts: Sequence[Verdict]) -> None:
        """These are the findings it is about. The same ones on the same drawing keep what was found."""
        asked = tuple(v for v in verdicts if wanted(v))
        current = self._current()
        if (
            current
            and len(asked) == len(self.verdicts)
            and all(a is b for a, b in zip(asked, self.verdicts, strict=True))
        ):
            return
        self._work.cancel()
        self.verdicts, self.results = asked, ()
        self._about = (self.session.drawing, self.session.view)
        if not current:
            self._trials = None
        self.changed.emit()

    @property
    def fails(self) -> bool:
        """Whether something would be changed; else only values of what is not known are put in."""
        return any(v.state != "unknown" for v in self.verdicts)

    def start(self) -> bool:
        """Begin to try. False where there is nothing to try for."""
        if not self.verdicts:
            return False
        if not self.results and not self.busy:
            self._trials = self._trials or Trials(self.session.drawing, self.session.view)
            self._work.start(_try_all(self._trials, self.verdicts))
            self.changed.emit()
        return True

    def stop(self) -> None:
        """Stop trying."""
        self._work.cancel()
        self.changed.emit()

    def _take(self, results: object) -> None:
        assert isinstance(results, tuple)
        self.results = results
        self.changed.emit()

    def result_of(self, verdict: Verdict) -> Tried | None:
        """What was found for a finding, where that was asked and is still true."""
        return next((t for t in self.results if t.verdict is verdict), None)

    def apply(self, remedy: Remedy) -> None:
        """Make a change, as one step that can be taken back. Only on the drawing on which it was tried."""
        if not self._current():
            self._say("The drawing has changed since. Try again.")
            return
        text = arrows(remedy.text)
        label = text if len(text) <= _LABEL_LETTERS else f"{text[: _LABEL_LETTERS - 1]}…"
        self.session.apply(f"Apply {label}", applied(self.session.drawing, remedy, self.session.view))
        self._say(f"Applied: {text}. Undo takes it back.")


def _try_all(trials: Trials, verdicts: Sequence[Verdict]) -> Steps[tuple[Tried, ...]]:
    found: list[Tried] = []
    for verdict in verdicts:
        found.append((yield from try_for(trials, verdict)))
    return tuple(found)
