"""An open drawing: history, selection, view, the current study and picture. Knows nothing of windows."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from oneline.model import Drawing
from oneline.model.vocabulary import VIEW_STATUSES
from oneline.network.live import LiveState
from oneline.outage.origins import Origin
from oneline.outage.results import Plan
from oneline.session.planning import Planner, Plans
from oneline.session.trial import Rehearsal, Trial
from oneline.session.ways import Sides, ways_to
from oneline.sheet import Picture, build_picture
from oneline.sheet.asif import Shown, shown_of
from oneline.study import StudyResult
from oneline.study.kept import KeptStudy

#: What a listener is told: any of "drawing", "selection", "view", "study", "file", "history", "live" (positions that are
#: tried, the rehearsal, the outage that is shown).
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

    def __init__(
        self, drawing: Drawing | None = None, path: Path | None = None, planner: Planner | None = None
    ) -> None:
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
        self._plans = Plans(planner)
        self._trial = Trial(self._plans)
        self._zone: str | None = None

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
        changed = ["drawing", "study", "history", *self._follow_trial()]
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
            self._tell("view", "study", *self._follow_trial())

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
        """The sheet of the present view, with its marks and live figures, and with the positions that are tried."""
        if self._picture is None:
            self._picture = build_picture(self._drawing, self.study, self.view, self.symbols, shown=self.shown)
        return self._picture

    # ---------------------------------------------------------------------------------------------- positions tried
    @property
    def as_if(self) -> Mapping[str, bool]:
        """{branch key: closed} of what is tried on the sheet; the drawing stays as it is."""
        return self._trial.positions

    @property
    def live(self) -> LiveState:
        """What is live in the present view, by the drawing's positions and those that are tried."""
        return self._trial.live(self._drawing, self.view)

    def set_as_if(self, positions: Mapping[str, bool]) -> None:
        """Try positions by branch key, in place of what was tried; ends a rehearsal. ``KeyError`` for an unknown key."""
        if self._trial.put(positions, self._trial.finder(self._drawing, self.view).net):
            self._tell_live()

    def move_as_if(self, item_id: str) -> bool:
        """Try the next position of a device; ``False`` when it has none."""
        if not self._trial.move(item_id, self._trial.finder(self._drawing, self.view).net):
            return False
        self._tell_live()
        return True

    def clear_as_if(self) -> None:
        """Show the drawing as it stands again; a rehearsal ends."""
        if self._trial.clear():
            self._tell_live()

    def _tell_live(self) -> None:
        self._picture = None
        self._tell("live")

    def _follow_trial(self) -> tuple[str, ...]:
        """Bring what is tried in line with the drawing; ("live",) where that is to be told."""
        if self._zone is not None and all(zone.id != self._zone for zone in self._drawing.zones):
            self._zone = None
        tried = bool(self.as_if) or self.rehearsal is not None
        self._trial.follow(self._drawing, self.view)
        return ("live",) if tried else ()

    # --------------------------------------------------------------------------------------------------------- outages
    def plan_of(self, zone_id: str) -> Plan:
        """The plan of an outage of the present drawing; ``KeyError`` when there is no such zone."""
        return self._plans.of(self._drawing, zone_id)

    @property
    def zone(self) -> str | None:
        """The work zone that is outlined on the sheet."""
        return self._trial.rehearsal.zone if self._trial.rehearsal is not None else self._zone

    def show_zone(self, zone_id: str | None) -> None:
        """Outline a work zone on the sheet, with its isolation points; ``None`` for none."""
        if zone_id != self._zone:
            self._zone = zone_id
            self._tell_live()

    @property
    def rehearsal(self) -> Rehearsal | None:
        """Where the rehearsal of an outage stands, ``None`` without one."""
        return self._trial.rehearsal

    @property
    def rehearsal_ended(self) -> str:
        """Why the last rehearsal ended by itself, "" when it did not."""
        return self._trial.ended

    def begin_rehearsal(self, zone_id: str) -> bool:
        """Begin to rehearse an outage, in the view it is planned in; ``False`` when it has no switching order."""
        plan = self.plan_of(zone_id)
        if not plan.steps:
            return False
        self._trial.begin(self._drawing, zone_id)
        if plan.answer.view != self.view:
            self.set_view(plan.answer.view)
        else:
            self._tell_live()
        return True

    def rehearse(self, done: int) -> None:
        """Show how it stands after so many steps of the order."""
        if self._trial.go(done):
            self._tell_live()

    @property
    def shown(self) -> Shown | None:
        """What the picture shows besides the drawing as it stands: positions tried, the zone, its isolation points."""
        zone, tried = self.zone, bool(self.as_if) or self.rehearsal is not None
        if zone is None and not tried:
            return None
        return shown_of(self.live, self.plan_of(zone) if zone is not None else None, tried)

    def ways_to(self, item_id: str) -> Sides | None:
        """Why an item is live by what is shown: each source at each side, and the way from it; ``None`` outside the view."""
        return ways_to(self.live, item_id, self.unknown_origins)

    @property
    def unknown_origins(self) -> Mapping[str, Origin]:
        """Places of the present view at which energy may come in although no source is drawn there, by their names in the
        live state."""
        return self._trial.origins(self._drawing, self.view)

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
        self._zone = None
        self._trial.clear()
        self._tell("drawing", "selection", "view", "study", "file", "history", "live")

    def mark_saved(self, path: Path) -> None:
        """The present drawing is what is on disk at ``path``."""
        self._saved = self._drawing
        self.path = path
        self._tell("file")
