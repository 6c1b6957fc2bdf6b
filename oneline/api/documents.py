"""Files and papers: read, open, save, print, export."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from oneline.api.questions import check
from oneline.files import FileTrouble, Opened, Saved, read_drawing, write_drawing
from oneline.files.atomic import replace_file
from oneline.model import (
    Bus,
    Drawing,
)

if TYPE_CHECKING:
    from oneline.outage.results import Plan

#: Formats of ``export``.
EXPORT_ENDINGS = (".svg", ".png", ".pdf")


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


def print_outage(
    drawing: Drawing, path: str | Path, plan: Plan, paper: str = "all", size: str = "letter", edition: int | None = None,
    file_name: str = "", printed_at: datetime | None = None, symbols: str = "us",
) -> tuple[str, ...]:  # fmt: skip
    """Print the papers of a planned outage as a vector PDF, whole or not at all. Raises ``CannotSave``.

    ``plan``: of ``plan_outage``. ``paper``: "order" (switching order to carry and sign), "cards" (what is tested at each
    point), "notice" (for occupants), "brief" (for the crew) or "all". ``size``: "letter", "tabloid" or "a4". Returns notes
    on what was shortened or left out.
    """
    from oneline.paper.outage import plan_outage_papers

    document = plan_outage_papers(
        drawing, plan, paper, size, edition=edition or drawing.project.edition, printed_at=printed_at or datetime.now(),
        file_name=file_name, symbols=symbols,
    )  # fmt: skip
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
