"""Runs every subject over a drawing. ``study`` is the only entry: a drawing, a view and an edition in, all answers out."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from types import ModuleType

from oneline.model import Drawing, Item
from oneline.rules.verdict import STATES
from oneline.study.basis import named_assumptions
from oneline.study.context import Context
from oneline.study.points import Points
from oneline.study.results import StudyResult
from oneline.study.rings import wrapped
from oneline.study.subject import About, Overall, Subject, for_all


def subjects() -> tuple[Overall, ...]:
    """What each subject finds on a whole drawing, in the order in which findings are listed among equals."""
    return tuple(_all_of(about, overall, of) for about, overall, of in parts())


def _all_of(about: About | None, overall: Overall | None, of: tuple[type[Item], ...]) -> Overall:
    return for_all(about, overall, of) if about is not None else overall or (lambda ctx: iter(()))


def parts() -> tuple[tuple[About | None, Overall | None, tuple[type[Item], ...]], ...]:
    """What each subject has to say of one item of some kinds, and what belongs to no single one, both in all ways in which
    a drawing may be fed; a subject that is not divided so is all of the latter."""
    found = [m.verdicts for m in modules()]
    return tuple(
        (*wrapped(v.about, v.overall), v.of) if isinstance(v, Subject) else (*wrapped(None, v), ()) for v in found
    )  # fmt: skip


@cache
def modules() -> tuple[ModuleType, ...]:
    """The subjects, in the order in which their findings are listed among equals."""
    from oneline.study import (
        available,
        backfeed,
        buildings,
        conductors,
        consistency,
        demand,
        drop,
        grounding,
        interconnect,
        load_checks,
        panels,
        raceways,
        ratings,
        readings,
        service_protection,
        services,
        special_systems,
        taps,
        transformers,
        working_space,
    )

    return (
        taps, conductors, ratings, transformers, backfeed, consistency, available, interconnect, services,
        service_protection, working_space, special_systems, buildings, panels, demand, load_checks,
        readings, grounding, raceways, drop,
    )  # fmt: skip


#: More objects than this at once are put with the old ones instead of being searched for garbage.
_MANY = 100_000
#: So many may be put there before everything is searched once: those of about three studies of the largest drawings.
_SEARCHED_AFTER = 4_000_000
_unsearched = 0


@contextmanager
def without_collection() -> Iterator[None]:
    """A study makes many objects that live on and next to no garbage in circles: searching for it takes a quarter of the
    time."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            _settle()
            gc.enable()


def _settle() -> None:
    """Puts what was made to the objects that are seldom searched, where it would come after two searches that find
    nothing; searches everything where much has come together so."""
    global _unsearched
    made = gc.get_count()[0]
    if made < _MANY or gc.get_freeze_count():
        return
    _unsearched += made
    if _unsearched > _SEARCHED_AFTER:
        gc.collect()
        _unsearched = 0
    else:
        gc.freeze()
        gc.unfreeze()


def study(drawing: Drawing, view: str = "proposed", edition: int | None = None) -> StudyResult:
    """Study one view of a drawing.

    ``view``: "existing" or "proposed". ``edition``: edition of the code, by default the drawing's own. Never raises for
    what is on the drawing: what cannot be decided is reported as not known yet.
    """
    ctx = Context(drawing, view, edition or drawing.project.edition)
    with without_collection():
        verdicts = list(named_assumptions(ctx, [v for subject in subjects() for v in subject(ctx)]))
    verdicts.sort(key=lambda v: STATES.index(v.state))
    return StudyResult(
        edition=ctx.edition,
        view=view,
        points=Points(ctx),
        verdicts=tuple(verdicts),
        sources=tuple(ctx.net.sources),
    )
