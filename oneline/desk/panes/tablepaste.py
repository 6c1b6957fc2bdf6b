"""A table copied from a spreadsheet, as circuits of a panel: which column is what, which row goes into which space."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from oneline.desk.panes.directory import Slot, directory, fill_line
from oneline.desk.panes.loadentry import LoadPlace, load_in_va
from oneline.desk.panes.typed import Misread, can_be_unknown, understand
from oneline.model import Bus, Circuit, Drawing, specs
from oneline.model.edits import EditRefused

#: Columns of a table without headings, from the description on.
ORDER = ("space", "description", "trip_a", "poles", "va", "load_class", "continuous", "traced", "status")
#: Words that people write above the columns of a panel schedule; of several in one heading the first field here counts.
_HEADINGS = {
    "description": "description served serves serving name label directory room",
    "trip_a": "trip breaker amps amp ocp ocpd fuse at",
    "poles": "p pole poles",
    "load_class": "class type category",
    "continuous": "cont continuous",
    "traced": "traced trace",
    "status": "st status",
    "va": "va load w watt watts kw kilowatts kva connected demand",
    "phase": "ph phase",
    "space": "no ckt cct circuit circuits space spaces number position",
}
#: The unit that a heading gives to the bare numbers of a column of loads: "Load (kVA)", "Watts". "Load A" may be that
#: of phase A, so the letter alone counts only in brackets.
_UNITS = {
    "va": "VA", "kva": "kVA", "w": "W", "watt": "W", "watts": "W", "kw": "kW", "kilowatts": "kW",
    "amp": "A", "amps": "A", "amperes": "A", "(a)": "A", "[a]": "A",
}  # fmt: skip
_PHASES = {"a", "b", "c"}
_AMOUNT = re.compile(r"([\d.,]+)\s*([a-zA-Z]*)")
_OF_A_LOAD = {"load", "connected", "demand"}
_POLES = re.compile(r"\s*[1-4]\s*(?:p|poles?)?\s*", re.IGNORECASE)
_TRIP_AND_POLES = re.compile(r"^\s*([\d.]+)\s*(?:a|amps?)?\s*/\s*([1-4])\s*(?:p|poles?)?\s*$", re.IGNORECASE)
_MOST_SPACES = 200


@dataclass(frozen=True)
class Row:
    """One row: the space it names, if it names one, and the texts by field."""

    space: int | None
    texts: Mapping[str, str]


@dataclass
class Pasted:
    """What became of a table: the panel, how many rows were taken, what was refused and what was not understood."""

    bus: Bus
    filled: int = 0
    refused: list[str] = field(default_factory=list)
    misread: dict[tuple[int, str], tuple[str, str]] = field(default_factory=dict)


def is_table(text: str) -> bool:
    """Whether a text has more than one cell."""
    return "\t" in text or "\n" in text.strip("\r\n")


def trip_and_poles(text: str) -> tuple[str, str] | None:
    """ "60/3" or "60A/3P" is a trip and a number of poles; ``None`` for anything else."""
    found = _TRIP_AND_POLES.match(text)
    return (found.group(1), found.group(2)) if found else None


def read_rows(text: str, begin: str = "description") -> list[Row]:
    """The rows of a table. Columns are found by their headings, else they begin at the field ``begin``.

    Without headings a first column of whole numbers before words is that of the spaces, and the column of the poles may
    be missing.
    """
    cells = [[c.strip() for c in row] for row in csv.reader(io.StringIO(text.strip("\r\n")), delimiter="\t")]
    names = _headed(cells[0]) if cells else None
    units: dict[int, str] = {}
    by_phase: list[int] = []
    if names is not None:
        by_phase = _phase_columns(cells[0])
        units = {k: _unit_called(cells[0][k]) for k, name in enumerate(names) if name == "va" or k in by_phase}
        cells = cells[1:]
    else:
        names = _guessed(cells, begin)
    rows = []
    for line in cells:
        row = [f"{c} {units.get(k, '')}".rstrip() if c[-1:].isdigit() else c for k, c in enumerate(line)]
        texts = {n: c for n, c in zip(names, row, strict=False) if n not in ("", "phase", "space") and c}
        parts = [row[k] for k in by_phase if k < len(row) and row[k]]
        if parts:
            texts["va"] = _sum_of(parts)
        number = next((c for n, c in zip(names, row, strict=False) if n == "space"), "")
        first = re.match(r"\d+", number)
        rows.append(Row(int(first.group()) if first else None, texts))
    return rows


def _headed(first: Sequence[str]) -> list[str] | None:
    """Fields by the headings of the first row; ``None`` when it has none."""
    names: list[str] = []
    for cell in first:
        name = _field_called(cell)
        names.append("" if name in names else name)
    told = [c for c in first if c]
    known = [n for n in names if n]
    return names if known and len(known) * 2 >= len(told) and not any(c[:1].isdigit() for c in told) else None


def _phase_columns(first: Sequence[str]) -> list[int]:
    """Columns that give a circuit's load phase by phase ("VA A", "VA B"): two or more, each of another phase."""
    of = {k: _words(cell) & _PHASES for k, cell in enumerate(first) if _field_called(cell) == "va"}
    single = [next(iter(letters)) for letters in of.values() if len(letters) == 1]
    return list(of) if len(single) == len(of) == len(set(single)) >= 2 else []


def _sum_of(parts: Sequence[str]) -> str:
    """The total of the loads of a circuit's phases as an entry.

    Parts in words and amperes, which do not add up to a load, stay as they are, to be refused and told.
    """
    found = [_AMOUNT.fullmatch(part) for part in parts]
    units = {match.group(2) for match in found if match}
    if len(parts) == 1 or None in found or len(units) != 1 or units == {"A"}:
        return parts[0] if len(parts) == 1 else " + ".join(parts)
    return f"={'+'.join(match.group(1).replace(',', '') for match in found if match)} {units.pop()}".rstrip()


def _field_called(heading: str) -> str:
    words = _words(heading)
    if heading.strip() == "#":
        return "space"
    if words & _OF_A_LOAD and words & set(_UNITS):
        return "va"
    return next((name for name, known in _HEADINGS.items() if words & set(known.split())), "")


def _unit_called(heading: str) -> str:
    """The unit in a heading unless it is the field's own; "" also for two, since "VA or W" decides nothing."""
    units = {_UNITS[word] for word in _words(heading) if word in _UNITS}
    return units.pop() if len(units) == 1 and units != {"VA"} else ""


def _words(heading: str) -> set[str]:
    return set(re.findall(r"[a-z]+|\([a-z]\)|\[[a-z]\]", heading.casefold()))


def _guessed(cells: Sequence[Sequence[str]], begin: str) -> list[str]:
    def column(number: int) -> list[str]:
        return [row[number] for row in cells if number < len(row) and row[number]]

    numbered = begin != "space" and _numbers(column(0), _MOST_SPACES) and any(c[:1].isalpha() for c in column(1))
    start = ORDER.index("space" if numbered else begin)
    names = list(ORDER[start:])
    if numbered and begin != "description":
        names = ["space", *ORDER[ORDER.index(begin) :]]
    if "poles" in names and not _all_poles(column(names.index("poles"))):
        names.remove("poles")
    return names


def _all_poles(texts: Sequence[str]) -> bool:
    return bool(texts) and all(_POLES.fullmatch(t) for t in texts)


def _numbers(texts: Sequence[str], most: int) -> bool:
    return bool(texts) and all(t.isdigit() and 1 <= int(t) <= most for t in texts)


# ------------------------------------------------------------------------------------------------------------ filling
def paste(bus: Bus, drawing: Drawing, view: str, rows: Sequence[Row], start: int, system: str | None) -> Pasted:
    """The panel with the rows in its spaces: those that name a space there, the others down from space ``start``.

    ``system`` is the code of the panel's nominal system, ``None`` while unknown: loads in amperes are turned into VA by it.

    Texts that are not understood are left out and told; rows whose space is taken are refused and told.
    """
    done = Pasted(bus)
    order = _order(bus, drawing, view, start)
    at = 0
    for row in rows:
        slots = directory(done.bus, drawing, view, "")
        target = row.space
        if target is None:
            if not row.texts:  # a blank row: the next space of the device above it, or one that stays as it is
                at += 1
                continue
            while at < len(order) and slots.get(order[at], Slot(0, "")).kind in ("more", "drawn"):
                at += 1
            if at >= len(order):
                done.refused.append(f"{bus.name} has no more spaces for {row.texts.get('description', 'a row')}.")
                continue
            target = order[at]
            at += 1
        if row.texts:
            _fill(done, drawing, slots.get(target, Slot(target, "")), row, system)
    return done


def _order(bus: Bus, drawing: Drawing, view: str, start: int) -> list[int]:
    """Spaces in the order in which rows are filled in: down the side of the first, then the other side."""
    last = max(directory(bus, drawing, view, ""), default=0)
    side = list(range(start, last + 1, 2))
    other = [] if start % 2 == 0 else list(range(2, last + 1, 2))
    beyond = [] if bus.spaces else list(range(last + 1, _MOST_SPACES + 1))
    return [*side, *other, *beyond]


def _fill(done: Pasted, drawing: Drawing, slot: Slot, row: Row, system: str | None) -> None:
    values, misread = understood(row.texts, LoadPlace(phase=slot.phase, system=system))
    if values:
        try:
            done.bus = fill_line(done.bus, drawing, slot, values)
        except EditRefused as refused:
            done.refused.append(str(refused))
            return
        done.filled += 1
    for name, told in misread.items():
        done.misread[slot.space, name] = told


def understood(
    texts: Mapping[str, str], place: LoadPlace | None = None
) -> tuple[dict[str, Any], dict[str, tuple[str, str]]]:
    """Values by field, and for what is not understood the text with the reason.

    A load in amperes or watts is turned into VA by the row's own poles and class; ``place`` knows the rest.
    """
    texts = dict(texts)
    both = trip_and_poles(texts.get("trip_a", ""))
    if both is not None:
        texts["trip_a"] = both[0]
        texts.setdefault("poles", both[1])
    values: dict[str, Any] = {}
    misread: dict[str, tuple[str, str]] = {}
    for name, text in sorted(texts.items(), key=lambda entry: entry[0] == "va"):  # the load last: it needs the others
        try:
            entry = text
            if name == "va":
                here = replace(place or LoadPlace(), poles=values.get("poles", 1), load_class=values.get("load_class"))
                made = load_in_va(text, here)
                entry = made[0] if made else text
            values[name] = understand(entry, specs(Circuit)[name], can_be_unknown(Circuit, name))
        except Misread as problem:
            misread[name] = (text, str(problem))
    return values, misread
