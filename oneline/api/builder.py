"""Makes a drawing step by step."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from oneline.model import (
    KINDS,
    Bus,
    Circuit,
    Connection,
    DemandRecord,
    Drawing,
    End,
    Item,
    Project,
    Reading,
    TransferSwitch,
    VoltageReading,
    WorkZone,
    edits,
    specs,
)
from oneline.model.checked import objection

if TYPE_CHECKING:
    pass


@dataclass(frozen=True)
class Handle:
    """An item of a drawing that is being built: its id, and its ends for ``Builder.run`` and ``Builder.joint``."""

    id: str
    terminals: tuple[str, ...] = ()

    def at(self, terminal: str) -> End:
        """One end by the name of its terminal: "line", "load", "out", "in", "bus", "normal", "alternate"."""
        if terminal not in self.terminals:
            raise ValueError(f"{self.id} has no terminal {terminal!r}, only {', '.join(self.terminals) or 'none'}")
        return End(self.id, terminal)


#: What names an item: its handle, its name on the drawing, or one of its ends.
Where = Handle | End | str


class Builder:
    """Makes a drawing step by step, from the source down.

    Fields are those of the item classes in ``oneline.model``; what is not given stays unknown. Items are named by their
    handle or by their name on the drawing.
    """

    def __init__(self, title: str = "", edition: int = 2023, **project: Any) -> None:
        self._drawing = Drawing(project=Project(title=title, edition=edition, **project))
        self._status = "existing"
        self._defaults: dict[str, Any] = {}

    @property
    def drawing(self) -> Drawing:
        """The drawing as built so far."""
        return self._drawing

    # ------------------------------------------------------------------------------------------------------- context
    @contextmanager
    def status(self, status: str) -> Iterator[None]:
        """Everything added inside the block is "existing", "new", "remove" or "future"."""
        before, self._status = self._status, status
        try:
            yield
        finally:
            self._status = before

    @contextmanager
    def runs_like(self, **fields: Any) -> Iterator[None]:
        """Conductor runs added inside the block share these fields unless they say otherwise."""
        before, self._defaults = self._defaults, {**self._defaults, **fields}
        try:
            yield
        finally:
            self._defaults = before

    def find(self, where: Where) -> str:
        """Id of the item named. Raises ``KeyError`` when no item, or more than one, has the name."""
        if isinstance(where, Handle):
            return where.id
        if isinstance(where, End):
            return where.item
        found = [i.id for i in self._drawing.items.values() if i.name == where or i.id == where]
        if len(found) != 1:
            raise KeyError(f"{len(found) or 'no'} items are named {where!r}")
        return found[0]

    # --------------------------------------------------------------------------------------------------------- items
    def add(self, kind: str, name: str = "", **fields: Any) -> Handle:
        """Add an item of any kind by name. A field given as ``("value", "nameplate")`` states where it comes from."""
        values, basis = _with_basis(KINDS[kind], fields)
        values.setdefault("status", self._status)
        if basis:
            values["basis"] = MappingProxyType(basis)
        self._drawing, item_id = edits.add(self._drawing, kind, name=name, **values)
        return Handle(item_id, KINDS[kind].terminals)

    def service(self, name: str, **fields: Any) -> Handle:
        return self.add("service", name, **fields)

    def generator(self, name: str, **fields: Any) -> Handle:
        return self.add("generator", name, **fields)

    def solar(self, name: str, **fields: Any) -> Handle:
        return self.add("solar", name, **fields)

    def battery(self, name: str, **fields: Any) -> Handle:
        return self.add("battery", name, **fields)

    def transformer(self, name: str, **fields: Any) -> Handle:
        return self.add("transformer", name, **fields)

    def meter(self, name: str, **fields: Any) -> Handle:
        return self.add("meter", name, **fields)

    def disconnect(self, name: str, **fields: Any) -> Handle:
        """A breaker (the default), fused switch, switch or set of fuses: ``form=``."""
        return self.add("disconnect", name, **fields)

    def transfer(self, name: str, **fields: Any) -> Handle:
        return self.add("transfer", name, **fields)

    def bus(self, name: str, **fields: Any) -> Handle:
        """A panelboard (the default), switchboard, gutter, splice box, busway or meter center: ``form=``."""
        return self.add("bus", name, **fields)

    def load(self, name: str, **fields: Any) -> Handle:
        return self.add("load", name, **fields)

    # --------------------------------------------------------------------------------------------------- connections
    def run(self, a: Where, b: Where, **fields: Any) -> Handle:
        """Conductors from ``a`` (line side) to ``b`` (load side)."""
        return self._join("run", self._end(a, down=True), self._end(b, down=False), {**self._defaults, **fields})

    def joint(self, a: Where, b: Where, **fields: Any) -> Handle:
        """A bolted or plugged connection from ``a`` (line side) to ``b`` (load side)."""
        return self._join("joint", self._end(a, down=True), self._end(b, down=False), fields)

    def tie(self, a: Where, b: Where | None = None, **fields: Any) -> Handle:
        """A connection nobody traced, to ``b`` or to an unknown place."""
        return self._join("tie", self._end(a, down=True), None if b is None else self._end(b, down=False), fields)

    def _join(self, kind: str, a: End, b: End | None, fields: Mapping[str, Any]) -> Handle:
        values, basis = _with_basis(KINDS[kind], fields)
        values.setdefault("status", self._status)
        if basis:
            values["basis"] = MappingProxyType(basis)
        self._drawing, item_id = edits.add(self._drawing, kind, a=a, b=b, **values)
        return Handle(item_id)

    def _end(self, where: Where, down: bool) -> End:
        """The terminal that is meant: going down from an item its load side, arriving at it its line side."""
        if isinstance(where, End):
            return where
        item = self._drawing.get(self.find(where))
        if isinstance(item, Connection) or not item.terminals:
            raise ValueError(f"{item.title} {item.id} has no terminal to connect to")
        if isinstance(item, TransferSwitch):
            return End(item.id, "load" if down else "normal")
        return End(item.id, item.terminals[-1 if down else 0])

    # ---------------------------------------------------------------------------------------------------------- rows
    def circuit(self, panel: Where, space: int, description: str, trip_a: float | None = None, **fields: Any) -> None:
        """One line of a panel's schedule; ``poles``, ``va``, ``load_class``, ... as in ``oneline.model.Circuit``."""
        fields.setdefault("status", self._status)
        self._add_row(panel, "circuits", Circuit, space=space, description=description, trip_a=trip_a, **fields)

    def spare(self, panel: Where, space: int, trip_a: float | None = None, poles: int = 1) -> None:
        """A breaker without a load."""
        self.circuit(panel, space, "Spare", trip_a, poles=poles, use="spare")

    def spaces(self, panel: Where, spaces: Iterable[int]) -> None:
        """Places without a breaker."""
        for space in spaces:
            self.circuit(panel, space, "Space", use="space")

    def breaker(
        self, panel: Where, space: int, name: str, trip_a: float | None, poles: int = 3, **fields: Any
    ) -> Handle:
        """A breaker drawn as an item of its own, plugged on the panel's bus, with its line in the schedule."""
        handle = self.disconnect(name, form="breaker", trip_a=trip_a, poles=poles, space=space, **fields)
        self.joint(panel, handle)
        made = self._drawing.get(handle.id)
        self._add_row(
            panel, "circuits", Circuit, space=space, description=name, trip_a=_plain(trip_a), poles=poles, use="feeder",
            feeds=handle.id, status=made.status,
        )  # fmt: skip
        return handle

    def reading(self, where: Where, when: str, **amperes: Any) -> None:
        """A clamp reading: ``a_a``, ``b_a``, ``c_a``, ``n_a``, ``instrument``, ``note``."""
        self._add_row(where, "readings", Reading, when=when, **amperes)

    def voltages(self, where: Where, when: str, **volts: Any) -> None:
        """Voltages measured live: ``ab_v``, ``bc_v``, ``ca_v``, ``an_v`` ... ``cn_v``, ``ag_v`` ... ``cg_v``, ``ng_v``,
        ``instrument``, ``note``."""
        self._add_row(where, "voltages", VoltageReading, when=when, **volts)

    def demand(self, where: Where, **record: Any) -> None:
        """A recorded maximum demand of a service or meter, as in ``oneline.model.DemandRecord``."""
        self._add_row(where, "demand", DemandRecord, **record)

    def _add_row(self, where: Where, field: str, kind: type, **values: Any) -> None:
        item = self._drawing.get(self.find(where))
        if not hasattr(item, field):
            raise ValueError(f"{item.title} {item.name} has no {field}")
        why = objection(kind, values)
        if why is not None:
            raise edits.EditRefused(why)
        rows = (*getattr(item, field), kind(**values))
        if isinstance(item, Bus) and field == "circuits":
            rows = tuple(sorted(rows, key=lambda c: c.space))
        changes: dict[str, Any] = {field: rows}
        self._drawing = self._drawing.with_items([replace(item, **changes)])

    def zone(self, name: str, items: Iterable[Where], **fields: Any) -> str:
        """Plan an outage: what is worked on, and what of ``WorkZone`` is known. Returns its id.

        Raises ``ValueError`` for a value that cannot be, ``KeyError`` for an item that there is not.
        """
        why = objection(WorkZone, {"name": name, **fields})
        if why is not None:
            raise ValueError(why)
        chosen = tuple(self.find(item) for item in items)
        zone_id, drawing = self._drawing.fresh_id("zone")
        self._drawing = drawing.with_zone(WorkZone(id=zone_id, name=name, items=chosen, **fields))
        return zone_id

    def change(self, where: Where, **fields: Any) -> None:
        """Change fields of an item that is there already."""
        item = self._drawing.get(self.find(where))
        values, basis = _with_basis(type(item), fields)
        kept = {k: v for k, v in item.basis.items() if k not in values}
        self._drawing = edits.change(self._drawing, item.id, **values, basis=MappingProxyType({**kept, **basis}))


def _plain(value: Any) -> Any:
    return value[0] if isinstance(value, tuple) else value


def _with_basis(cls: type[Item], fields: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, str]]:
    """Split ``field=(value, basis)`` into values and bases. Raises ``TypeError`` for a field the class does not have."""
    known = specs(cls)
    values: dict[str, Any] = {}
    basis: dict[str, str] = {}
    for name, value in fields.items():
        if name in known and isinstance(value, tuple):
            values[name], basis[name] = value
        else:
            values[name] = value
    return values, basis
