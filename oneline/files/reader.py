"""Opening a drawing: strict about every fact, generous about the rest of the file.

What is wrong with one item costs that item (or only the one fact) and is reported by place; what is wrong with the whole
file refuses it. Nothing is ever guessed: what cannot be read is unknown.
"""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any

from oneline.files import rows, zones
from oneline.files.fingerprint import Fingerprint, load
from oneline.files.problems import CannotOpen, LeftOut, Problem
from oneline.files.references import check_references
from oneline.files.serialize import EXTRA_HEADER, EXTRA_ITEMS, EXTRA_LEFT_OUT, EXTRA_TOP, EXTRA_VERSION
from oneline.files.shape import FORMAT, VERSION
from oneline.files.strict import MAX_DEPTH, Twice, fault_in, lines_of, parse
from oneline.files.values import is_id, shown
from oneline.model import KINDS, Drawing, Item, Project

MAX_ITEMS = 100_000
#: Brackets that are open around an item: the file's own and those of the list of items.
_ABOVE_ITEM = 2
_HEADER_KEYS = ("format", "program", "saved_utc", "sha256_of_body", "version")
_BACKUP = "Open a backup copy or an earlier saved version."
_REDRAW = "Draw it again, or open an earlier saved version."


@dataclass(frozen=True)
class Opened:
    """A file that was opened.

    ``problems``: everything that was found wrong, in the file's order; empty for a good file. ``version``: the file's
    (major, minor). ``read_only``: this user may not write the file or its folder. ``fingerprint``: what the file was, to see
    later whether somebody else changed it. ``header``: as it stands.
    """

    drawing: Drawing
    problems: tuple[Problem, ...]
    version: tuple[int, int]
    read_only: bool
    fingerprint: Fingerprint
    header: dict[str, Any] = field(default_factory=dict)

    @property
    def newer(self) -> bool:
        """Whether a program with a newer minor version of the format wrote it."""
        return self.version > VERSION

    @property
    def left_out(self) -> tuple[Problem, ...]:
        """What stands in the file and is not in the drawing. Saving the drawing there would lose it; the save asks."""
        return tuple(p for p in self.problems if p.loses)


@dataclass
class _Reading:
    """State while one file is read."""

    source: str
    text: str
    body: dict[str, Any]
    header: dict[str, Any]
    version: tuple[int, int]
    problems: list[Problem] = field(default_factory=list)
    kept_items: list[Any] = field(default_factory=list)
    known_lines: list[int] | None = None
    zone_lines: list[int] | None = None

    @property
    def newer(self) -> bool:
        return self.version > VERSION

    def line(self, index: int) -> int | None:
        if self.known_lines is None:
            self.known_lines = lines_of(self.text)
        return self.known_lines[index] if index < len(self.known_lines) else None

    def zone_line(self, index: int) -> int | None:
        if self.zone_lines is None:
            self.zone_lines = lines_of(self.text, "zones")
        return self.zone_lines[index] if index < len(self.zone_lines) else None


def read_drawing(source: str | Path | bytes) -> Opened:
    """Open a drawing from a path, or from the bytes of a file.

    Raises ``CannotOpen`` when nothing of it can be used: no such file, not a drawing, cut short, too large, written by a
    newer major version.
    """
    data, fingerprint, read_only, name = load(source)
    reading = _parse(name, data)
    _checksum(reading, data)
    items = _items(reading)
    project = _project(reading)
    items = check_references(items, reading.problems, reading.line, reading.newer, reading.kept_items)
    by_id = {item.id: item for item, _, _ in items}
    there = {*by_id, *(raw["id"] for raw in reading.kept_items)}
    zones_at = zones.Place(reading.source, reading.zone_line, reading.problems, reading.newer)
    planned = zones.read_zones(reading.body.get("zones", []), zones_at, there)
    drawing = Drawing(
        project=project,
        items=MappingProxyType(by_id),
        next_number=_next_number(reading, [*by_id, *(zone.id for zone in planned)]),
        zones=planned,
        extra=_extra(reading, fingerprint.sha256),
    )
    return Opened(drawing, tuple(reading.problems), reading.version, read_only, fingerprint, reading.header)


# ------------------------------------------------------------------------------------------------------ the whole file
def _refuse(what: str, where: str, why: str, what_to_do: str = _BACKUP, line: int | None = None) -> CannotOpen:
    return CannotOpen(Problem(what, where, why, what_to_do, line=line))


def _parse(name: str, data: bytes) -> _Reading:
    if not data.strip():
        raise _refuse("The file is empty", name, "It holds no drawing.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as bad:
        line = data.count(b"\n", 0, bad.start) + 1
        why = f"Line {line} is not UTF-8 text. A drawing is a text file."
        raise _refuse("The file is damaged or is not a drawing", name, why, line=line) from None
    problems: list[Problem] = []
    lines: list[int] | None = None
    zone_lines: list[int] | None = None
    try:
        whole = parse(text)
    except ValueError as bad:
        saved = _salvage(text, name)
        if saved is None:
            raise _not_json(name, text, bad) from None
        whole, lines, zone_lines, problems = saved
    header, version = _header(name, whole)
    body = {k: v for k, v in whole.items() if k != "header"}
    if isinstance(whole, Twice):
        raise _refuse("The file is damaged", name, f"The part {shown(whole.names[0])} stands in it twice.")
    return _Reading(name, text, body, header, version, problems, known_lines=lines, zone_lines=zone_lines)


def _not_json(name: str, text: str, bad: ValueError) -> CannotOpen:
    """Why nothing of the text could be read."""
    if not isinstance(bad, json.JSONDecodeError):
        why = f"Its brackets are nested too deeply: more than {MAX_DEPTH} levels, where a drawing needs fewer than ten."
        return _refuse("The file is not a drawing", name, why)
    whole_text = text.strip()
    early = whole_text.startswith("{") and (bad.pos >= len(text.rstrip()) - 1 or not whole_text.endswith("}"))
    what = "The file is cut short" if early else "The file is damaged or is not a drawing"
    why = f"Reading stopped at line {bad.lineno}, column {bad.colno}: {bad.msg.lower()}."
    return _refuse(what, name, why, line=bad.lineno)


def _header(name: str, whole: Any) -> tuple[dict[str, Any], tuple[int, int]]:
    header = whole.get("header") if isinstance(whole, dict) else None
    if not isinstance(header, dict) or header.get("format") != FORMAT:
        raise _refuse("This is not a drawing", name, f'Its header does not say "{FORMAT}".', "Choose another file.")
    version = header.get("version")
    if isinstance(header, Twice):
        raise _refuse("The file is damaged", name, f"Its header says {shown(header.names[0])} twice.")
    numbers = version if isinstance(version, list) else []
    good = len(numbers) == 2 and all(isinstance(n, int) and not isinstance(n, bool) and 0 <= n < 1000 for n in numbers)
    if not good or numbers[0] < 1:
        raise _refuse("The file is damaged", name, "Its header does not say which version of the format it has.")
    if numbers[0] > VERSION[0]:
        why = (
            f"It has format version {numbers[0]}.{numbers[1]}; this program knows versions up to {VERSION[0]}.x. "
            "Nothing was opened and nothing was changed."
        )
        raise _refuse("The file is from a newer program", name, why, "Update Oneline, then open it again.")
    return header, (numbers[0], numbers[1])


def _checksum(reading: _Reading, data: bytes) -> None:
    said = reading.header.get("sha256_of_body")
    body = data.partition(b"\n")[2].replace(b"\r\n", b"\n")
    if said == hashlib.sha256(body).hexdigest():
        return
    why = (
        "Its content does not match the checksum in its header: a fault of storage or transfer, or somebody edited the file "
        "by hand. Any figure in it may be wrong."
    )
    if said is None:
        why = "The checksum in its header is missing, so nobody can tell whether it is still as it was saved."
    todo = "Compare it with an earlier saved version or with the equipment before relying on it. Saving renews the checksum."
    reading.problems.insert(0, Problem("The file was changed after it was saved", reading.source, why, todo))


def _salvage(text: str, name: str) -> tuple[dict[str, Any], list[int], list[int], list[Problem]] | None:
    """A file in our own layout with broken lines of items or zones: everything but those lines.

    ``None`` when it is more than that. Else the file, the lines of its items and of its zones, and what was left out.
    """
    lines = text.replace("\r\n", "\n").rstrip("\n").split("\n")
    try:
        zones_at = max((n for n, line in enumerate(lines) if line == '"zones":['), default=len(lines))
        end = max(n for n, line in enumerate(lines[:zones_at]) if line == "],")
        if lines[1] != '"items":[' or end < 2:
            return None
        rest = lines[end + 1 :]
        zones_end = zones_at
        if zones_at < len(lines):
            zones_end = next(n for n in range(zones_at, len(lines)) if lines[n].rstrip(",}") == "]")
            rest = [*lines[end + 1 : zones_at], '"zones":[' + lines[zones_end], *lines[zones_end + 1 :]]
        whole = {**parse(lines[0].removesuffix(",") + "}"), **parse("{" + "\n".join(rest))}
    except (ValueError, RecursionError, TypeError, IndexError, StopIteration):
        return None
    whole["items"], numbers, problems = _sound_lines(lines, 2, end, name, "An item was left out", _REDRAW)
    found, zone_numbers, more = _sound_lines(lines, zones_at + 1, zones_end, name, zones.LEFT_OUT, zones.AGAIN)
    if found or more:
        whole["zones"] = found
    return whole, numbers, zone_numbers, problems + more


def _sound_lines(
    lines: list[str], first: int, end: int, name: str, what: str, todo: str
) -> tuple[list[Any], list[int], list[Problem]]:
    """The values of the lines that can be read, their numbers, and a problem for each other one."""
    values, numbers, problems = [], [], []
    for n, line in enumerate(lines[first:end], start=first + 1):
        try:
            values.append(parse(line.removesuffix(","), MAX_DEPTH - _ABOVE_ITEM))
            numbers.append(n)
        except (ValueError, RecursionError) as bad:
            found = re.search(r'"id":"([A-Za-z0-9_.:-]{1,64})', line)
            item = found.group(1) if found else ""
            why = f"Its line cannot be read: {str(bad).split(':')[0].lower()}."
            where = f"{item + ', ' if item else ''}line {n} of {name}"
            problems.append(Problem(what, where, why, todo, item if first == 2 else "", n, loses=True))
    return values, numbers, problems


# --------------------------------------------------------------------------------------------------------------- parts
ItemAt = tuple[Item, int, Any]


def _items(reading: _Reading) -> list[ItemAt]:
    raw_items = reading.body.get("items")
    if not isinstance(raw_items, list):
        raise _refuse("The file is damaged", reading.source, f'Its "items" are {shown(raw_items)}; a list is needed.')
    if len(raw_items) > MAX_ITEMS:
        why = f"It has {len(raw_items)} items; at most {MAX_ITEMS} can be opened."
        raise _refuse("The file is too large", reading.source, why, "Split it, or check where it comes from.")
    found: list[ItemAt] = []
    seen: dict[str, str] = {}
    for index, raw in enumerate(raw_items):
        item = _item(reading, index, raw)
        if item is None:
            continue
        if item.id in seen:
            at = _spot(reading, index, raw)
            why = f"The id {item.id} already belongs to {seen[item.id]}. The second one was left out."
            at.report("Two items have the same id", why, "Draw the second one again if it exists.")
            continue
        seen[item.id] = item.name or f"{item.title} {item.id}"
        found.append((item, index, raw))
    taken = set(seen)
    for raw in list(reading.kept_items):
        if raw["id"] in taken:
            reading.kept_items = [other for other in reading.kept_items if other is not raw]
            why = f"The id {raw['id']} belongs to another item too. The one of a newer version was left out."
            where = f"{raw['id']} of {reading.source}"
            todo = "Update Oneline and look at the file with it."
            reading.problems.append(Problem("Two items have the same id", where, why, todo, loses=True))
        taken.add(raw["id"])
    return found


def _spot(reading: _Reading, index: int, raw: Any) -> rows.Spot:
    item_id = raw.get("id") if isinstance(raw, dict) else None
    name = raw.get("name") if isinstance(raw, dict) else None
    return rows.Spot(
        name=shown(name).strip('"') if isinstance(name, str) and name else "",
        item=str(item_id) if is_id(item_id) else "",
        line=lambda: reading.line(index),
        problems=reading.problems,
        newer=reading.newer,
    )


def _item(reading: _Reading, index: int, raw: Any) -> Item | None:
    """The item, or ``None`` when it was set aside (and reported) or is kept for a newer version."""
    at = _spot(reading, index, raw)
    said = len(reading.problems)
    try:
        if not isinstance(raw, dict):
            raise rows.Unreadable(f"It is {shown(raw)} where an object is needed.")
        if not is_id(raw.get("id")):
            raise rows.Unreadable(f"Its id is {shown(raw.get('id'))}; letters, digits and - _ . : are possible.")
        kind = raw.get("kind")
        cls = KINDS.get(kind) if isinstance(kind, str) else None
        if cls is None:
            raise rows.Unreadable(
                f"Its kind is {shown(kind)}; known are {', '.join(KINDS)}.", newer=isinstance(kind, str)
            )
        return cls(id=raw["id"], **rows.read_object(cls, raw, at, known=("id", "kind")))
    except rows.Unreadable as bad:
        if reading.newer and bad.newer and not fault_in(raw):
            reading.kept_items.append(raw)
            del reading.problems[said:]  # nothing of it was taken, so nothing else of it is wrong
            what = "An item of a newer version is not shown"
            todo = "Update Oneline to see it. Figures near it may change then."
            at.report(what, f"{bad} It stays in the file.", todo, lasting=True)
        else:
            at.report("An item was left out", f"{bad}", _REDRAW)
        return None


def _project(reading: _Reading) -> Project:
    raw = reading.body.get("project")
    at = rows.Spot("the title block", "", lambda: None, reading.problems, reading.newer)
    try:
        return Project(**rows.read_object(Project, raw, at))
    except rows.Unreadable as bad:
        default = Project()
        if isinstance(raw, dict) and "edition" in raw and not isinstance(raw, Twice):
            values = rows.read_object(Project, {**raw, "edition": default.edition}, at)
            kept = {"edition": raw["edition"]} if reading.newer and not fault_in(raw["edition"]) else {}
            default = Project(**{**values, "extra": MappingProxyType({**values.get("extra", {}), **kept})})
        why = f"{bad} The {default.edition} edition is used."
        what = "The title block or the edition of the code cannot be read"
        at.report(what, why, "Choose the edition again.", lasting="edition" in default.extra)
        return default


def _next_number(reading: _Reading, ids: list[str]) -> int:
    raw = reading.body.get("next_number")
    all_ids = ids + [raw_item["id"] for raw_item in reading.kept_items]
    tails = (re.search(r"(\d{1,15})$", item_id) for item_id in all_ids)
    least = max((int(t.group(1)) for t in tails if t), default=0) + 1
    if isinstance(raw, int) and not isinstance(raw, bool) and raw >= 1:
        return max(raw, least) if raw < least and reading.problems else raw
    why = f"next_number is {shown(raw)}; a whole number is needed. It was counted anew."
    reading.problems.append(Problem("The count of items cannot be read", reading.source, why, "Save to renew it."))
    return least


def _extra(reading: _Reading, sha256: str) -> MappingProxyType[str, Any]:
    """What the drawing keeps of a newer minor version (and of strange entries of this one), and what was left out."""
    header: dict[str, Any] = {}
    top: dict[str, Any] = {}
    at = rows.Spot(reading.source, "", lambda: None, reading.problems, reading.newer)
    for name, raw in reading.header.items():
        if name not in (*_HEADER_KEYS, "recovery"):
            rows.keep_unknown(name, raw, header, at)
    for name, raw in reading.body.items():
        if name not in ("items", "next_number", "project", "zones"):
            rows.keep_unknown(name, raw, top, at)
    found: dict[str, Any] = {}
    if reading.newer:
        found[EXTRA_VERSION] = reading.version
    if header:
        found[EXTRA_HEADER] = header
    if top:
        found[EXTRA_TOP] = top
    if reading.kept_items:
        found[EXTRA_ITEMS] = tuple(reading.kept_items)
    lost = tuple(p for p in reading.problems if p.loses)
    if lost:
        found[EXTRA_LEFT_OUT] = LeftOut(sha256, lost)
    return MappingProxyType(found)
