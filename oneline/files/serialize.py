"""A drawing as the bytes of a file.

Line 1 is the header, then one item a line in the drawing's order, then the rest, planned outages one a line too; keys are
sorted. The checksum in the
header is the SHA-256 of everything after line 1 (``tail -n +2 FILE | sha256sum``). Unknown facts are left out: what is not
in the file is not known.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from types import MappingProxyType
from typing import Any

from oneline.files.shape import FORMAT, VERSION, keys_of
from oneline.files.text import clean_text
from oneline.files.values import write_number, write_structure
from oneline.model import CONNECTION_KINDS, Circuit, Drawing, Item, Project, WorkZone
from oneline.version import VERSION as PROGRAM_VERSION

#: What a circuit is for and what it feeds are one statement: whoever changes one has said the other too.
_TOGETHER = {"use", "feeds"}
_UTC = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,6})?Z")

#: Keys of ``Drawing.extra`` in which the reader keeps what a newer minor version says.
EXTRA_VERSION, EXTRA_HEADER, EXTRA_TOP, EXTRA_ITEMS = "version", "header", "top", "items"
#: Key of ``Drawing.extra`` under which the reader says what of the file is not in the drawing (``LeftOut``). Never written.
EXTRA_LEFT_OUT = "left out"


def to_bytes(drawing: Drawing, saved_utc: str, more: Mapping[str, Any] | None = None) -> bytes:
    """The file of a drawing. The same drawing and time give the same bytes.

    ``saved_utc``: like "2026-03-31T14:05:00Z". ``more``: further entries of the header. Raises ``ValueError`` for a time
    of another form and for values that no file can hold (not a number).
    """
    if not _UTC.fullmatch(saved_utc):
        raise ValueError(f"the time {saved_utc!r} is not like 2026-03-31T14:05:00Z")
    drawing = settle(drawing)
    body = _body(drawing).encode("utf-8")
    header = {
        **drawing.extra.get(EXTRA_HEADER, {}),
        **(more or {}),
        "format": FORMAT,
        "program": PROGRAM_VERSION,
        "saved_utc": saved_utc,
        "sha256_of_body": hashlib.sha256(body).hexdigest(),
        "version": list(drawing.extra.get(EXTRA_VERSION, VERSION)),
    }
    return b'{"header":' + _json(header).encode("utf-8") + b",\n" + body


def settle(drawing: Drawing) -> Drawing:
    """The drawing as a file holds it: texts cleaned, words of a newer version dropped where the field has a value now.

    What only the running program knows (what was left out of the file) is not in it. The same object when nothing needs
    cleaning.
    """
    newer = tuple(drawing.extra.get(EXTRA_VERSION, VERSION)) > VERSION
    changed = [new for item in drawing.items.values() if (new := _cleaned(item, newer)) is not item]
    project = _cleaned(drawing.project, newer)
    zones = tuple(_cleaned(zone, newer) for zone in drawing.zones)
    if changed:
        drawing = drawing.with_items(changed)
    if project is not drawing.project:
        drawing = replace(drawing, project=project)
    if any(a is not b for a, b in zip(zones, drawing.zones, strict=True)):
        drawing = replace(drawing, zones=zones)
    extra = {k: v for k, v in drawing.extra.items() if k not in (EXTRA_LEFT_OUT, EXTRA_ITEMS)}
    if kept := _kept_items(drawing):
        extra[EXTRA_ITEMS] = kept
    return drawing if extra == drawing.extra else replace(drawing, extra=MappingProxyType(extra))


def _kept_items(drawing: Drawing) -> tuple[Any, ...]:
    """The items of a newer version, without connections to what was deleted here since."""
    kept = list(drawing.extra.get(EXTRA_ITEMS, ()))
    while True:
        there = {*drawing.items, *(raw["id"] for raw in kept)}
        held = [raw for raw in kept if raw["kind"] not in CONNECTION_KINDS or _ends_of(raw) <= there]
        if len(held) == len(kept):
            return tuple(held)
        kept = held


def _ends_of(raw: dict[str, Any]) -> set[str]:
    """Ids of the items at which a connection in the file's form ends."""
    ends = (raw.get("a"), raw.get("b"))
    return {end[0] for end in ends if isinstance(end, list) and end and isinstance(end[0], str)}


def _cleaned(thing: Any, newer: bool) -> Any:
    values: dict[str, Any] = {}
    texts, lists, rows = _to_clean(thing.__class__)
    for name in lists:
        words = tuple(filter(None, (clean_text(word, "name") for word in getattr(thing, name))))
        if words != getattr(thing, name):
            values[name] = words
    for name in texts:
        old = getattr(thing, name)
        if isinstance(old, str) and (new := clean_text(old, name)) != old:
            values[name] = new
    for name in rows:
        old = getattr(thing, name)
        made = tuple(_cleaned(row, newer) for row in old)
        if any(a is not b for a, b in zip(made, old, strict=True)):
            values[name] = made
    if thing.extra and (extra := _standing(thing, values, newer)) != thing.extra:
        values["extra"] = MappingProxyType(extra)
    return replace(thing, **values) if values else thing


def _standing(thing: Any, cleaned: dict[str, Any], newer: bool) -> dict[str, Any]:
    """What of ``thing.extra`` still stands.

    A word of a newer version was read as unknown (or as the default): it stands until somebody changes the field, and a
    word for where a value comes from until somebody changes the value or its source. In a drawing of this version (a copy
    that was pasted there) no such word has a meaning.
    """
    keys = keys_of(thing.__class__)
    if not newer:
        return {k: v for k, v in thing.extra.items() if k not in keys}
    stale = {k for k in thing.extra if k in keys and k != "basis" and getattr(thing, k) != keys[k].fallback}
    if isinstance(thing, Circuit) and stale & _TOGETHER:
        stale |= _TOGETHER
    extra = {k: v for k, v in thing.extra.items() if k not in stale}
    if "basis" in keys and "basis" in extra:
        kept = {}
        for name, basis in extra["basis"].items():
            fact = name in keys and keys[name].spec is not None
            same = not fact or cleaned.get(name, getattr(thing, name)) == basis.value
            if same and name not in thing.basis:
                kept[name] = basis
        extra["basis"] = kept
        if not kept:
            del extra["basis"]
    return extra


@cache
def _to_clean(cls: type) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
    """Keys of a class that hold texts, lists of texts, and rows."""
    keys = keys_of(cls)
    texts = tuple(n for n, k in keys.items() if k.spec is not None and k.spec.quantity == "text")
    lists = tuple(n for n, k in keys.items() if k.structure == "keys")
    return texts, lists, tuple(n for n, k in keys.items() if isinstance(k.structure, type))


def _body(drawing: Drawing) -> str:
    lines = [_json(item_record(item)) for item in drawing.items.values()]
    lines += [_json(raw) for raw in drawing.extra.get(EXTRA_ITEMS, ())]
    rest: dict[str, Any] = {
        **drawing.extra.get(EXTRA_TOP, {}),
        "next_number": drawing.next_number,
        "project": record(drawing.project, Project),
    }
    written = {k: _json(v) for k, v in rest.items()}
    if drawing.zones:
        zones = (_json({"id": zone.id, **record(zone, WorkZone)}) for zone in drawing.zones)
        written["zones"] = "[\n" + ",\n".join(zones) + "\n]"
    tail = ",\n".join(f"{_json(k)}:{v}" for k, v in sorted(written.items()))
    return '"items":[\n' + ",\n".join(lines) + ("\n" if lines else "") + "],\n" + tail + "}\n"


def _json(value: Any) -> str:
    return json.dumps(value, sort_keys=True, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def item_record(item: Item) -> dict[str, Any]:
    """The JSON object of an item."""
    return {"id": item.id, "kind": item.kind, **record(item, type(item))}


def record(thing: Any, cls: type) -> dict[str, Any]:
    """The JSON object of an item, row, project or work zone, without its id and kind."""
    out: dict[str, Any] = {}
    for name, key in keys_of(cls).items():
        value = getattr(thing, name)
        if value is None or (value in ((), "") and not key.nullable and not key.required):
            continue
        if isinstance(key.structure, type):
            out[name] = [record(row, key.structure) for row in value]
        elif key.structure == "basis":
            whole = {**{k: kept.word for k, kept in thing.extra.get("basis", {}).items()}, **value}
            if whole:
                out[name] = whole
        elif key.structure is not None:
            out[name] = write_structure(key.structure, value)
        else:
            out[name] = value if isinstance(value, str | bool) else write_number(value)
    merged = "basis" in keys_of(cls)
    return {**out, **{k: v for k, v in thing.extra.items() if not (merged and k == "basis")}}
