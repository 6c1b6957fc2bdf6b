"""Runs every subject over a drawing. ``study`` is the only entry: a drawing, a view and an edition in, all answers out."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from oneline.model import Drawing
from oneline.rules.verdict import STATES, Verdict
from oneline.study.basis import named_assumptions
from oneline.study.context import Context
from oneline.study.points import Points
from oneline.study.results import StudyResult

Subject = Callable[[Context], Iterator[Verdict]]


def subjects() -> tuple[Subject, ...]:
    """The subjects in the order in which their findings are listed among equals."""
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
        panels,
        raceways,
        ratings,
        service_protection,
        services,
        special_systems,
        taps,
        transformers,
        working_space,
    )

    return (
        taps.verdicts,
        conductors.verdicts,
        ratings.verdicts,
        transformers.verdicts,
        backfeed.verdicts,
        consistency.verdicts,
        available.verdicts,
        interconnect.verdicts,
        services.verdicts,
        service_protection.verdicts,
        working_space.verdicts,
        special_systems.verdicts,
        buildings.verdicts,
        panels.verdicts,
        demand.verdicts,
        grounding.verdicts,
        raceways.verdicts,
        drop.verdicts,
    )


@contextmanager
def without_collection() -> Iterator[None]:
    """A study makes many objects that live on and no garbage in circles: searching for it takes a quarter of the time."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


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
