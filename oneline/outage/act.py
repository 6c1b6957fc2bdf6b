"""One step of a switching order before it is simulated, and the words that steps share."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from oneline.model import Bus, Item, Load, SuspectedTie
from oneline.outage.devices import Outage, switched_circuits
from oneline.outage.results import ZoneAnswer
from oneline.outage.scene import Moment
from oneline.rules.common import listed
from oneline.study.context import Context


@dataclass(frozen=True)
class Act:
    """One step before it is simulated. ``positions``, ``free``, ``shed``, ``unshed``, ``stop``, ``start``: what it changes
    (see ``Moment.after``); ``key``: the contact whose current counts; ``state`` and ``why``: what is to be said of it
    whatever the moment."""

    key: str
    part: str
    action: str
    words: str
    item: str = ""
    contact: str = ""
    positions: Mapping[str, bool] = field(default_factory=dict)
    free: tuple[str, ...] = ()
    shed: tuple[str, ...] = ()
    unshed: tuple[str, ...] = ()
    stop: tuple[str, ...] = ()
    start: tuple[str, ...] = ()
    lock: str = ""
    state: str = "pass"
    why: str = ""
    hold: bool = False
    back_out: bool = False

    def done(self, moment: Moment) -> Moment:
        """The moment after it."""
        changes = (self.positions, self.free, self.shed, self.unshed, self.stop, self.start)
        if not any(changes):
            return moment
        return moment.after(*changes)


def flagged(acts: Sequence[Act]) -> tuple[Act, ...]:
    """The steps with the last one before the work as the one from which one can still turn back."""
    work = next((n for n, a in enumerate(acts) if a.action == "work"), 0)
    return tuple(
        replace(a, back_out=n == work - 1, hold=a.hold or n == work - 1) if n == work - 1 or a.back_out else a
        for n, a in enumerate(acts)
    )


def place_of(item: Item | None) -> str:
    return (item.location or "") if item is not None else ""


def where(item: Item) -> str:
    return f" ({item.location})" if item.location else ""


def cares_of(ctx: Context, item: Item) -> Iterator[tuple[str, str, str]]:
    """What has to be looked after before a load or a panel goes dark: key of the step, care, name."""
    if isinstance(item, Load):
        care = item.care or ("elevator" if item.load_class == "elevator" else None)
        if care and care != "none":
            yield f"care:{item.id}", care, ctx.name(item.id)
    elif isinstance(item, Bus):
        for c in item.circuits:
            care = c.care or ("elevator" if c.load_class == "elevator" else None)
            if care and care != "none" and c.use not in ("spare", "space"):
                said = f", {c.description}" if c.description else ""
                yield f"care:{item.id}:{c.space}", care, f"{ctx.name(item.id)} circuit {c.space}{said}"


def breakers(ctx: Context, panel: Bus) -> str:
    spaces = switched_circuits(ctx, panel)
    if not spaces or panel.unlisted:
        return f"every branch breaker of {ctx.name(panel.id)}{where(panel)}, whose directory is not entered"
    count = f"{len(spaces)} circuits: {min(spaces)}-{max(spaces)}" if len(spaces) > 1 else f"circuit {spaces[0]}"
    return f"the branch breakers of {ctx.name(panel.id)}{where(panel)} ({count})"


def is_service(ctx: Context, item_id: str) -> bool:
    return ctx.drawing.get(item_id).kind == "service"


def may_come_back(answer: ZoneAnswer, outage: Outage) -> str:
    """Why energy may come back into the work; "" where nothing on the drawing says so."""
    ctx = outage.scene.ctx
    region = outage.region | answer.nodes
    names = [ctx.name(s.id) for s in (*outage.stop, *outage.generators, *outage.kept)]
    names += [
        ctx.name(t.id) for t in ctx.drawing.of(SuspectedTie) if not region.isdisjoint(outage.scene.nodes_of(t.id))
    ]
    names += [
        name for i in outage.scene.fed_items if ctx.net.node(i.id) in region | outage.dark
        for _, care, name in cares_of(ctx, i) if care == "computers"
    ]  # fmt: skip
    if not names:
        return ""
    return f"{listed(tuple(dict.fromkeys(names)))} could feed back"
