"""A drawing as the bytes of a file.

Line 1 is the header, then one item a line in the drawing's order, then the rest; keys are sorted. The checksum in the
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
from oneline.model import Drawing, Item, Project
from oneline.version import VERSION as PROGRAM_VERSION

_UTC = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,6})?Z")

#: Keys of ``Drawing.extra`` in which the reader keeps what a newer minor version says.
EXTRA_VERSION, EXTRA_HEADER, EXTRA_TOP, EXTRA_ITEMS = "version", "header", "top", "items"


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

    The same object when nothing needs cleaning.
    """
    changed = [new for item in drawing.items.values() if (new := _cleaned(item)) is not item]
    project = _cleaned(drawing.project)
    if changed:
        drawing = drawing.with_items(changed)
    return drawing if project is drawing.project else replace(drawing, project=project)


def _cleaned(thing: Any) -> Any:
    values: dict[str, Any] = {}
    keys = keys_of(thing.__class__)
    texts, rows = _to_clean(thing.__class__)
    for name in texts:
        old = getattr(thing, name)
        if isinstance(old, str) and (new := clean_text(old, name)) != old:
            values[name] = new
    for name in rows:
        old = getattr(thing, name)
        made = tuple(_cleaned(row) for row in old)
        if any(a is not b for a, b in zip(made, old, strict=True)):
            values[name] = made
    # A word of a newer version was read as unknown (or as the default): it stands until somebody changes the field.
    stale = [k for k in thing.extra if k in keys and getattr(thing, k) != keys[k].fallback]
    if stale:
        values["extra"] = MappingProxyType({k: v for k, v in thing.extra.items() if k not in stale})
    return replace(thing, **values) if values else thing


@cache
def _to_clean(cls: type) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Keys of a class that hold texts, and those that hold rows."""
    keys = keys_of(cls)
    texts = tuple(n for n, k in keys.items() if k.spec is not None and k.spec.quantity == "text")
    return texts, tuple(n for n, k in keys.items() if isinstance(k.structure, type))


def _body(drawing: Drawing) -> str:
    lines = [_json(item_record(item)) for item in drawing.items.values()]
    lines += [_json(raw) for raw in drawing.extra.get(EXTRA_ITEMS, ())]
    rest: dict[str, Any] = {
        **drawing.extra.get(EXTRA_TOP, {}),
        "next_number": drawing.next_number,
        "project": record(drawing.project, Project),
    }
    tail = ",\n".join(f"{_json(k)}:{_json(v)}" for k, v in sorted(rest.items()))
    return '"items":[\n' + ",\n".join(lines) + ("\n" if lines else "") + "],\n" + tail + "}\n"


def _json(value: Any) -> str:
    return json.dumps(value, sort_keys=True, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def item_record(item: Item) -> dict[str, Any]:
    """The JSON object of an item."""
    return {"id": item.id, "kind": item.kind, **record(item, type(item))}


def record(thing: Any, cls: type) -> dict[str, Any]:
    """The JSON object of an item, row or project, without its id and kind."""
    out: dict[str, Any] = {}
    for name, key in keys_of(cls).items():
        value = getattr(thing, name)
        if value is None or value == () or (value == "" and not key.nullable and not key.required):
            continue
        if isinstance(key.structure, type):
            out[name] = [record(row, key.structure) for row in value]
        elif key.structure == "basis":
            if value:
                out[name] = dict(value)
        elif key.structure is not None:
            out[name] = write_structure(key.structure, value)
        else:
            out[name] = value if isinstance(value, str | bool) else write_number(value)
    return {**out, **thing.extra}
