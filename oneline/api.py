"""The Python interface: build or open a drawing, study it, read verdicts and points, save, print.

::

    import oneline

    b = oneline.Builder("Dock house", edition=2023)
    utility = b.service("Utility", system="208Y/120", fault_ka=22)
    main = b.disconnect("Main", form="fused switch", rating_a=400, trip_a=400, interrupting_ka=200)
    board = b.bus("Main board", form="switchboard", rating_a=400, sccr_ka=42)
    b.run(utility, main, size="500", sets=1, material="copper", insulation="THWN-2", length_ft=40)
    b.joint(main, board)
    drawing = b.drawing
    result = oneline.check(drawing, view="proposed")
    print(result.points[board.id].available_a, [v.message for v in result.verdicts if v.state == "fail"])
    oneline.save(drawing, "dock.oneline")

Everything is immutable: a drawing never changes, ``Builder`` and the functions of ``oneline.model.edits`` make new ones.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from oneline.files import FileTrouble, Opened, Problem, Saved, read_drawing, write_drawing
from oneline.files.atomic import replace_file
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
    edits,
    specs,
)
from oneline.model.checked import objection
from oneline.model.vocabulary import EDITIONS, VIEW_STATUSES

if TYPE_CHECKING:
    from oneline.rules.system_identity import Identity
    from oneline.rules.verdict import Verdict
    from oneline.study import StudyResult
    from oneline.study.bounds import Bounds
    from oneline.study.fieldchecks import NeedGroup
    from oneline.study.fits import Fits
    from oneline.study.remedies import Remedies, Remedy

__all__ = [
    "Builder", "Handle", "HasProblems", "Opened", "Problem", "bounds", "check", "export", "field_checks", "fits", "identify",
    "open", "print_door", "read", "remedies", "save", "with_remedy",
]  # fmt: skip


#: Formats of ``export``.
EXPORT_ENDINGS = (".svg", ".png", ".pdf")


# --------------------------------------------------------------------------------------------------------------- files
class HasProblems(FileTrouble):
    """The file could be opened, but something in it is wrong. ``opened`` holds the drawing and all its problems."""

    def __init__(self, opened: Opened) -> None:
        super().__init__(opened.problems[0])
        self.opened = opened


def read(path: str | Path) -> Opened:
    """Open a file with everything that is known about it: drawing, problems, version. Raises ``CannotOpen``."""
    return read_drawing(path)


def open(path: str | Path) -> Drawing:
    """The drawing of a file. Raises ``CannotOpen``, or ``HasProblems`` when a part of it could not be taken as it is."""
    opened = read_drawing(path)
    if opened.problems:
        raise HasProblems(opened)
    return opened.drawing


def save(drawing: Drawing, path: str | Path, saved_utc: str | None = None, leave_out: bool = False) -> Saved:
    """Save a drawing; an earlier file of the name is kept among the earlier versions. Raises ``CannotSave``.

    ``saved_utc``: the time that stands in the file, like "2026-03-31T14:05:00Z"; by default now. When the file is the one
    that the drawing was read from and something of it could not be taken, ``LeavesOut`` (a ``CannotSave``) says what would
    be lost and nothing is written: save under another name, or say ``leave_out=True``.
    """
    when = saved_utc or datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    return write_drawing(drawing, path, when, leave_out=leave_out)


def check(drawing: Drawing, view: str = "proposed", edition: int | None = None) -> StudyResult:
    """Everything about one view of a drawing: ``points`` (figures by item id) and ``verdicts``.

    ``view``: "existing" or "proposed". ``edition``: of the code, by default the drawing's own. What cannot be decided is in
    the answers as not known yet; nothing on a drawing that was read, built or edited here makes this raise. Raises
    ``ValueError`` for a view or an edition that there is not.
    """
    from oneline.study import study

    _view_and_edition(view, edition)
    return study(drawing, view, edition)


def _view_and_edition(view: str, edition: int | None) -> None:
    if view not in VIEW_STATUSES:
        raise ValueError(f"view {view!r} is not one of {', '.join(VIEW_STATUSES)}")
    if edition is not None and edition not in EDITIONS:
        raise ValueError(f"edition {edition} is not one of {', '.join(map(str, EDITIONS))}")


# ------------------------------------------------------------------------------------------------------ tried on copies
def remedies(drawing: Drawing, verdict: Verdict, view: str = "proposed", edition: int | None = None) -> Remedies:
    """What would make a finding of ``check`` pass: the smallest changes, each tried on a copy of the drawing, after which it
    passes and no other finding is worse. Takes up to some seconds. Raises ``ValueError`` as ``check`` does."""
    from oneline.study.remedies import find_remedies
    from oneline.study.trials import Trials, finish

    _view_and_edition(view, edition)
    return finish(find_remedies(Trials(drawing, view, edition), verdict))


def with_remedy(drawing: Drawing, remedy: Remedy, view: str = "proposed") -> Drawing:
    """The drawing with a remedy of ``remedies``. Existing conductors become "to be removed", with new ones beside them;
    other existing items are changed in place, and their notes keep what they were."""
    from oneline.study.remedies import applied

    return applied(drawing, remedy, view)


def bounds(drawing: Drawing, verdict: Verdict, view: str = "proposed", edition: int | None = None) -> Bounds:
    """Values of the missing facts with which a finding that is not known passes. Raises ``ValueError`` as ``check`` does."""
    from oneline.study.bounds import find_bounds
    from oneline.study.trials import Trials, finish

    _view_and_edition(view, edition)
    return finish(find_bounds(Trials(drawing, view, edition), verdict))


def fits(
    drawing: Drawing, where: str, view: str = "proposed", edition: int | None = None, continuous: bool = False
) -> Fits:
    """The largest load that may be added at an item (by its id or its name), its limits in the order in which they are
    met, and the largest standard breaker for a sub-panel there. ``continuous``: the added load runs for 3 hours or more.
    Raises ``ValueError`` as ``check`` does, ``KeyError`` for an item that there is not, or a name that several have."""
    from oneline.study.fits import find_fits
    from oneline.study.trials import Trials, finish

    _view_and_edition(view, edition)
    return finish(find_fits(Trials(drawing, view, edition), _one_item(drawing, where), continuous))


def _one_item(drawing: Drawing, where: str) -> str:
    """Id of the one item of an id or a name. Raises ``KeyError``."""
    if where in drawing:
        return where
    found = [i.id for i in drawing.items.values() if drawing.name_of(i.id) == where]
    if len(found) != 1:
        raise KeyError(f"{len(found) or 'no'} items are named {where!r}")
    return found[0]


def field_checks(drawing: Drawing, view: str = "proposed", edition: int | None = None) -> tuple[NeedGroup, ...]:
    """What to find out in the building, by item, the facts that decide most findings first."""
    from oneline.study.fieldchecks import field_checks as listed

    return tuple(listed(check(drawing, view, edition), drawing))


def add_recording(
    drawing: Drawing, where: str, source: str | Path | bytes, answers: Mapping[str, str] | None = None, **record: Any
) -> Drawing:  # fmt: skip
    """The drawing with a demand record at the item named, read from interval data: CSV, or XML after NAESB REQ.21 (ESPI).

    ``where``: id or name of a service, meter or generator. ``answers``: to what the file leaves open ("unit": "kWh").
    ``record``: what no file tells: ``occupied``, ``seasonal_included``, ``power_factor``, ``source``, ``note``. Raises
    ``CannotOpen`` for a file of which nothing can be made; ``oneline.files.intervals.NeedsAnswers`` (a ``ValueError``) with
    the open questions; ``KeyError`` for an item that there is not.
    """
    from oneline.files.intervals import read_record, with_record

    item = _one_item(drawing, where)
    made, _, _ = read_record(source, answers, **record)
    return with_record(drawing, item, made)


def identify(**volts: float | None) -> Identity:
    """Which nominal systems measured voltages fit, and what would tell them apart where several do.

    ``volts``: ``ab_v``, ``bc_v``, ``ca_v`` between phases, ``an_v`` ... to the neutral, ``ag_v`` ... to ground, ``ng_v``;
    what was not measured is left out. Raises ``ValueError`` for another name, or for what is no voltage.
    """
    from oneline.rules.system_identity import PAIRS
    from oneline.rules.system_identity import identify as found

    strange = [name for name in volts if name not in PAIRS]
    if strange:
        raise ValueError(f"no reading is named {', '.join(strange)}, only {', '.join(PAIRS)}")
    why = objection(VoltageReading, volts)
    if why is not None:
        raise ValueError(why)
    return found(volts)


# ------------------------------------------------------------------------------------------------------------ building
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


# ---------------------------------------------------------------------------------------------------------------- paper
class NoSuchPanel(KeyError):
    """No panel, or more than one, has the name that was given. Its argument says which there are."""


def print_door(
    drawing: Drawing, path: str | Path, size: str = "letter", view: str = "proposed", edition: int | None = None,
    symbols: str = "us", file_name: str = "", printed_at: datetime | None = None, panel: str | None = None,
) -> tuple[str, ...]:  # fmt: skip
    """Print the sheet for the panel door as a vector PDF, whole or not at all. Raises ``CannotSave``.

    ``size``: "letter" or "tabloid". ``symbols``: "us" or "iec". ``file_name``: of the drawing, for the title block.
    ``printed_at``: local time, by default now. ``panel``: name or id of the one panel whose door it is for: what feeds
    it and its directory on one page; an unknown one raises ``NoSuchPanel``, a ``KeyError``. Returns notes on what was
    made smaller, moved to a further page or left out.
    """
    from oneline.paper import plan_door_sheet
    from oneline.sheet import build_picture

    panel_id = None if panel is None else _panel(drawing.view(view), panel)
    result = check(drawing, view, edition)
    picture = build_picture(drawing, result, view, symbols, ghosts=False)
    when = printed_at or datetime.now()
    document = plan_door_sheet(
        drawing, result, picture, size, printed_at=when, file_name=file_name, symbols=symbols,
        panel=panel_id,
    )  # fmt: skip
    replace_file(Path(path), document.pdf(), what="The file")
    return document.notes


def print_record(
    drawing: Drawing, path: str | Path, size: str = "letter", view: str = "proposed", edition: int | None = None,
    file_name: str = "", printed_at: datetime | None = None, item: str | None = None,
) -> tuple[str, ...]:  # fmt: skip
    """Print the demand records with their plots as a vector PDF, a page each. Raises ``CannotSave``.

    ``item``: id or name of the one item whose records are wanted. Raises ``oneline.paper.recorded.NoRecord`` (a
    ``ValueError``) where there is none. The rest as of ``print_door``.
    """
    from oneline.paper.recorded import NoRecord, plan_record_pages
    from oneline.study.record_chart import record_charts

    when = edition or drawing.project.edition
    charts = record_charts(drawing, view, when)
    named = tuple(c for c in charts if item in (None, c.item, c.name))
    if charts and not named:
        raise NoRecord(
            f"No demand record is at {item}. There are records at: {', '.join(dict.fromkeys(c.name for c in charts))}."
        )
    document = plan_record_pages(
        drawing, named, view, when, size, printed_at=printed_at or datetime.now(), file_name=file_name
    )
    replace_file(Path(path), document.pdf(), what="The file")
    return document.notes


def _panel(drawing: Drawing, wanted: str) -> str:
    """Id of the panel of a name or id."""
    found = [bus.id for bus in drawing.of(Bus) if wanted in (bus.id, bus.name)]
    if len(found) != 1:
        names = sorted({bus.name for bus in drawing.of(Bus) if bus.name and (bus.circuits or bus.form == "panelboard")})
        many = f"{len(found)} panels are" if found else "No panel is"
        between = "; " if any("," in name for name in names) else ", "
        there = f"The panels are: {between.join(names)}." if names else "The drawing has no panel."
        raise NoSuchPanel(f"{many} named {wanted}. {there}")
    return found[0]


def export(
    drawing: Drawing, path: str | Path, view: str = "proposed", edition: int | None = None, symbols: str = "us",
    dpi: float = 144,
) -> Path:  # fmt: skip
    """Write the diagram as .svg, .png or .pdf, by the ending of ``path``, whole or not at all.

    Below it stand the key of the source codes and the cautions.

    ``dpi``: pixels per inch of a PNG. Raises ``CannotSave``, ``ValueError`` for another ending or resolution.
    """
    path = Path(path)
    ending = path.suffix.lower()
    if ending not in EXPORT_ENDINGS:
        raise ValueError(f"{path.name}: the ending is none of {', '.join(EXPORT_ENDINGS)}")
    from oneline.paper.key import with_key
    from oneline.sheet import build_picture

    result = check(drawing, view, edition)
    picture = with_key(build_picture(drawing, result, view, symbols, ghosts=False), drawing, result)
    title = drawing.project.title or path.stem
    if ending == ".svg":
        from oneline.paper.svg import svg_of

        data = svg_of(picture, title=title).encode("utf-8")
    else:
        from oneline.paper.pdf import pdf_bytes
        from oneline.paper.png import picture_page, png_bytes

        data = png_bytes(picture, dpi) if ending == ".png" else pdf_bytes([picture_page(picture)], title=title)
    replace_file(path, data, what="The file")
    return path
