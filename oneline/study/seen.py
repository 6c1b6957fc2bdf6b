"""A context that notes what is looked at: its drawing, its network, its loads and figures by node."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, cast

from oneline.model import Drawing
from oneline.network import Network, build_feeding, build_network
from oneline.study.context import Context
from oneline.study.loads import LoadEntry
from oneline.study.numbers import Column, PhaseColumn
from oneline.study.reads import Key, Reads, SeenBranches, seen_drawing

if TYPE_CHECKING:
    from oneline.study.demand import Demand
    from oneline.study.numbers import Numbers

#: Figures by node that follow from the load flow; all others of the numbers follow from impedances alone.
_OF_CURRENT = frozenset(("current_a", "neutral_a", "branch_current_a", "current_needs"))
_OF_DROP = frozenset(("voltage_v", "drop_pct", "drop_needs"))
#: What the flow rests on, which most changes of its values leave as it is.
_RESTS = frozenset(("drop_assumed", "drop_basis"))
_OF_BOTH = frozenset(("needs",))


def every_load(ctx: Context) -> Key:
    """Key of all loads of a context."""
    return id(ctx), "loads"


def at_node(ctx: Context, what: str, node: int) -> Key:
    """Key of figures at a node: "load", "fault", "current", "drop", or "rests" for what the drop rests on."""
    return id(ctx), what, node


class SeenLoads(Sequence[LoadEntry]):
    """All loads; looking at any of them is looking at all."""

    def __init__(self, entries: tuple[LoadEntry, ...], ctx: Context, reads: Reads) -> None:
        self.raw, self._key, self._reads = entries, every_load(ctx), reads

    def __getitem__(self, index):  # type: ignore[no-untyped-def]
        self._reads.note(self._key)
        return self.raw[index]

    def __iter__(self) -> Iterator[LoadEntry]:
        self._reads.note(self._key)
        return iter(self.raw)

    def __len__(self) -> int:
        self._reads.note(self._key)
        return len(self.raw)


class _SeenColumn:
    def __init__(self, column: Column | PhaseColumn, ctx: Context, what: str) -> None:
        self._column, self._ctx, self._what = column, ctx, what

    def __getitem__(self, node: int) -> Any:
        self._ctx.seen(self._what, node)
        return self._column[node]


class _SeenFigures:
    """Figures of which every method takes a node first; what is no method and no column is of no single node."""

    def __init__(self, raw: Any, ctx: Context) -> None:
        self.raw, self._ctx = raw, ctx

    def _kinds(self, name: str) -> tuple[str, ...]:
        raise NotImplementedError

    def __getattr__(self, name: str) -> Any:
        value, ctx = getattr(self.raw, name), self._ctx
        kinds = self._kinds(name)
        if isinstance(value, Column | PhaseColumn):
            return _SeenColumn(value, ctx, kinds[0])
        if not callable(value):
            return self._other(value)

        def looked_at(node: int, *more: Any, **named: Any) -> Any:
            for kind in kinds:
                ctx.seen(kind, node)
            return value(node, *more, **named)

        return looked_at

    def _other(self, value: Any) -> Any:
        return value


class SeenNumbers(_SeenFigures):
    def _kinds(self, name: str) -> tuple[str, ...]:
        if name in _OF_BOTH:
            return "fault", "drop"
        if name in _RESTS:
            return ("rests",)
        return ("current",) if name in _OF_CURRENT else ("drop",) if name in _OF_DROP else ("fault",)

    def branch_current_a(self, key: str) -> Any:
        ctx = self._ctx
        node = ctx.feeding.load_node(key)
        if node is not None:
            ctx.seen("current", node)
        return self.raw.branch_current_a(key)


class SeenDemand(_SeenFigures):
    def _kinds(self, name: str) -> tuple[str, ...]:
        return ("load",)

    def _other(self, value: Any) -> Any:
        assert self._ctx.reads is not None
        self._ctx.reads.note(every_load(self._ctx))
        return value


def seen_context(drawing: Drawing, view: str, edition: int, reads: Reads) -> Context:
    """A context of a view of a drawing that notes what is looked at. Loads and figures are filled in by ``fill``."""
    viewed = drawing.view(view)
    ctx = Context(seen_drawing(drawing, reads), view, edition, reads)
    known = ctx.__dict__
    known["drawing"] = seen_drawing(viewed, reads)
    net = build_network(viewed)
    known["net"] = seen_network(net, reads)
    known["feeding"] = replace(build_feeding(net), network=known["net"])
    return ctx


def seen_network(net: Network, reads: Reads) -> Network:
    """The network with branches that note that they are looked at."""
    return replace(net, branches=SeenBranches(dict(net.branches), reads))


def put(ctx: Context, name: str, make: Callable[[Context], Any]) -> None:
    """Works out loads, numbers or demand of a context and keeps them there, unnoted."""
    assert ctx.reads is not None
    with ctx.reads.unseen():
        value = make(ctx)
    wrapped: Any = value
    if name == "loads":
        wrapped = SeenLoads(value, ctx, ctx.reads)
    elif name == "numbers":
        wrapped = SeenNumbers(value, ctx)
    elif name == "demand":
        wrapped = SeenDemand(value, ctx)
    ctx.__dict__[name] = wrapped


def raw_loads(ctx: Context) -> tuple[LoadEntry, ...]:
    return cast("SeenLoads", ctx.__dict__["loads"]).raw


def raw_numbers(ctx: Context) -> Numbers:
    return cast("Numbers", cast("SeenNumbers", ctx.__dict__["numbers"]).raw)


def raw_demand(ctx: Context) -> Demand:
    return cast("Demand", cast("SeenDemand", ctx.__dict__["demand"]).raw)
