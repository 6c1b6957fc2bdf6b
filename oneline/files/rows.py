"""Objects of the file to objects of the model, one problem at a time.

A bad fact becomes unknown and is reported. A fact that cannot be unknown costs its whole item (or row), which is reported.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from oneline.files.problems import Problem
from oneline.files.shape import Key, keys_of
from oneline.files.strict import Odd, Twice, fault_in
from oneline.files.text import text_cap
from oneline.files.values import (
    BadValue,
    KeptBasis,
    is_id,
    read_basis,
    read_fact,
    read_structure,
    shown,
    too_long,
)
from oneline.model.vocabulary import BASES

CHECK_VALUE = "Look at the equipment and enter the value again."
MAX_ROWS = 2000
_ROW = {
    "circuits": "A circuit", "readings": "A reading", "voltages": "A voltage reading", "demand": "A demand record",
    "locks": "A lock", "tests": "A test for absence of voltage", "marks": "A mark of a step",
}  # fmt: skip
_OF_ZONES = ("locks", "tests", "marks")


class Unreadable(ValueError):
    """The object cannot be taken as a whole. ``newer``: only because it uses a word that a newer version may know."""

    def __init__(self, why: str, newer: bool = False) -> None:
        super().__init__(why)
        self.newer = newer


@dataclass
class Spot:
    """Where in the file we are, for messages; ``line`` is computed only when there is something to say."""

    name: str
    item: str
    line: Callable[[], int | None]
    problems: list[Problem]
    newer: bool
    inside: str = ""

    def report(
        self, what: str, why: str, what_to_do: str, field: str = "", lasting: bool = False, loses: bool | None = None
    ) -> None:
        """Say what is wrong here. ``loses``: whether saving loses it; by default whatever is not kept (``lasting``)."""
        line = self.line()
        both = self.name and self.item and self.name != self.item
        who = f"{self.name} ({self.item})" if both else self.item or self.name
        parts = (who, self.inside, f"field {field}" if field else "", f"line {line}" if line else "")
        where = ", ".join(filter(None, parts))
        lost = not lasting if loses is None else loses
        self.problems.append(Problem(what, where, why, what_to_do, self.item, line, lasting, lost))


def read_object(cls: type, raw: Any, place: Spot, known: tuple[str, ...] = ()) -> dict[str, Any]:
    """Constructor values of a class from its JSON object. Raises ``Unreadable``. ``known``: keys read by the caller."""
    if not isinstance(raw, dict):
        raise Unreadable(f"It is {shown(raw)} where an object is needed.")
    if isinstance(raw, Twice):
        raise Unreadable(f"The key {', '.join(map(shown, raw.names))} stands twice; nobody can say which one holds.")
    keys = keys_of(cls)
    values: dict[str, Any] = {}
    extra: dict[str, Any] = {}
    for name, key in keys.items():
        if name in raw:
            if key.structure != "basis":
                _read_key(key, raw[name], values, extra, place)
        elif key.required:
            raise Unreadable(f"The entry {name} is missing, and it cannot be unknown.")
        elif key.nullable:
            values[name] = None
    for name in raw:
        if name not in keys and name not in known:
            keep_unknown(name, raw[name], extra, place)
    if "basis" in keys and "basis" in raw:
        _read_basis(raw["basis"], keys, values, extra, place)
    if extra:
        values["extra"] = MappingProxyType(extra)
    return values


def _read_basis(
    raw: Any, keys: dict[str, Key], values: dict[str, Any], extra: dict[str, Any], place: Spot
) -> None:  # fmt: skip
    """Where values come from. Read after the values: a word of a newer version holds only for the value it stands by."""
    good, foreign, bad = read_basis(raw, set(keys), place.newer)
    values["basis"] = MappingProxyType(good)
    todo = "Choose the source of the value again."
    for why in bad:
        place.report("It is not clear where a value comes from", why, todo, "basis")
    kept: dict[str, KeptBasis] = {}
    for name, word in foreign.items():
        key = keys.get(name)
        kept[name] = KeptBasis(word, None if key is None or key.spec is None else values.get(name, key.default))
        if key is not None:
            why = (
                f"{shown(name)} says {shown(word)}; known are {', '.join(BASES)}. It counts as entered until this program is "
                "updated; the file keeps the word."
            )
            place.report("It is not clear where a value comes from", why, "", "basis", lasting=True)
    if kept:
        extra["basis"] = kept


def _read_key(key: Key, raw: Any, values: dict[str, Any], extra: dict[str, Any], place: Spot) -> None:
    if isinstance(key.structure, type):
        values[key.name] = _read_rows(key.structure, key.name, raw, place)
        return
    try:
        value = read_fact(key, raw) if key.spec is not None else read_structure(key.structure, raw)
    except BadValue as bad:
        _bad_value(key, raw, bad, values, extra, place)
        return
    cap = too_long(key.spec, value) if key.spec is not None else 0
    if cap:
        why = f"It has {len(value)} characters; {cap} are possible. The rest was cut off."
        place.report("A text is too long", why, "Shorten it and save.", key.name)
        value = value[: text_cap(key.name)]
    elif isinstance(value, str) and value != raw:
        why = "It held characters that are invisible or turn the text around; they were taken out."
        place.report("A text was cleaned", why, "Read it once; save to keep it so.", key.name, loses=False)
    values[key.name] = value


def _bad_value(
    key: Key, raw: Any, bad: BadValue, values: dict[str, Any], extra: dict[str, Any], place: Spot
) -> None:  # fmt: skip
    keep = place.newer and bad.strange_word and not fault_in(raw)
    # An item whose form or status nobody knows is not shown, but stays in the file. A row cannot stay without its panel:
    # it keeps its place in the schedule and counts as a row of the usual kind, never as nothing.
    usual = key.default == "other" or bool(keep and place.inside and key.required and isinstance(key.default, str))
    if key.nullable or usual:
        values[key.name] = None if key.nullable else key.default
        if keep:
            extra[key.name] = raw
        label = key.spec.label if key.spec is not None else key.name
        whose = "Its class" if key.default == "other" else "It"
        taken = "It counts as unknown" if key.nullable else f"{whose} counts as {key.default}"
        kept = " until this program is updated; the file keeps the word." if keep else " until it is entered again."
        place.report(f"{label} cannot be read", f"{bad} {taken}{kept}", "" if keep else CHECK_VALUE, key.name, keep)
    elif key.required:
        raise Unreadable(f"Its entry {key.name} cannot be read. {bad}", newer=keep)
    else:
        place.report(f"The entry {key.name} cannot be read", f"{bad} It was left out.", CHECK_VALUE, key.name)


def keep_unknown(name: str, raw: Any, extra: dict[str, Any], place: Spot) -> None:
    fault = fault_in(raw) or fault_in(name)
    if fault:
        place.report("An unknown entry was left out", f"The entry {shown(name)} {fault}.", "")
        return
    extra[name] = raw
    if not place.newer:
        why = f"This version knows no {shown(name)} there. It is kept in the file, but nothing uses it."
        place.report(
            "An entry has an unknown name", why, "If it is a spelling mistake, correct the name.", lasting=True
        )


def _read_rows(cls: type, name: str, raw: Any, place: Spot) -> tuple[Any, ...]:
    if not isinstance(raw, list) or isinstance(raw, Odd) or len(raw) > MAX_ROWS:
        place.report(f"The {name} cannot be read", f"It says {shown(raw)}; a list is needed.", CHECK_VALUE, name)
        return ()
    rows = []
    for n, one in enumerate(raw, start=1):
        inner = Spot(place.name, place.item, place.line, place.problems, place.newer, f"{name} row {n}")
        try:
            values = read_object(cls, one, inner)
            if not is_id(values.get("item", "none")):
                raise Unreadable(f"Its item is {shown(values['item'])}; an id is needed.")
            rows.append(cls(**values))
        except Unreadable as bad:
            counts = "" if name in _OF_ZONES else " It is missing from every total."
            inner.report(f"{_ROW.get(name, 'A row')} was left out", f"{bad}{counts}", CHECK_VALUE)
    return tuple(rows)
