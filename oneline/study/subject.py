"""A subject of the study: ``about`` finds what is to be said of one item, ``overall`` what belongs to no single one."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from oneline.model import Item
from oneline.rules.verdict import Verdict
from oneline.study.context import Context

About = Callable[[Context, Item], Iterator[Verdict]]
Overall = Callable[[Context], Iterator[Verdict]]


def for_all(about: About, overall: Overall | None = None) -> Overall:
    """Everything a subject finds on a drawing, item by item."""

    def verdicts(ctx: Context) -> Iterator[Verdict]:
        if overall is not None:
            yield from overall(ctx)
        for item in ctx.drawing.items.values():
            yield from about(ctx, item)

    verdicts.__doc__ = about.__doc__
    return verdicts
