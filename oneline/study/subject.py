"""A subject of the study: ``about`` finds what is to be said of one item, ``overall`` what belongs to no single one."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from oneline.model import Item
from oneline.rules.verdict import Verdict
from oneline.study.context import Context

About = Callable[[Context, Item], Iterator[Verdict]]
Overall = Callable[[Context], Iterator[Verdict]]


class Subject:
    """Everything a subject finds on a drawing: what belongs to no single item, then item by item.

    ``of``: the kinds of items that ``about`` has anything to say of; it is not asked about others.
    """

    def __init__(self, about: About, overall: Overall | None, of: tuple[type[Item], ...]) -> None:
        self.about, self.overall, self.of = about, overall, of

    def __call__(self, ctx: Context) -> Iterator[Verdict]:
        if self.overall is not None:
            yield from self.overall(ctx)
        for item in ctx.drawing.items.values():
            if isinstance(item, self.of):
                yield from self.about(ctx, item)


def for_all(about: About, overall: Overall | None = None, of: tuple[type[Item], ...] = (Item,)) -> Subject:
    """A subject that goes through the items of a drawing, those of some kinds only where ``of`` names them."""
    return Subject(about, overall, of)
