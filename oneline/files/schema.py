"""The JSON Schema of the file format, made from the model's own declarations.

``python -m oneline.files.schema`` writes it to resources/schema/drawing.schema.json; a test proves that it is up to date.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from oneline.files.fingerprint import MAX_BYTES
from oneline.files.shape import FORMAT, VERSION, Key, keys_of
from oneline.files.text import text_cap
from oneline.files.values import (
    FARTHEST,
    ID_PATTERN,
    KEY_CHARS,
    MAX_BENDS,
    MAX_IDS,
    MAX_STEPS,
    MOST_MINUTES,
    MOST_RECORDED,
    SERIES_START,
    SERIES_UNITS,
)
from oneline.files.zones import MAX_ZONES
from oneline.model import (
    KINDS,
    Circuit,
    DemandRecord,
    LockRecord,
    Project,
    Reading,
    StepMark,
    VoltageReading,
    VoltageTest,
    WorkZone,
)
from oneline.model.vocabulary import BASES, EDITIONS

_ROWS: dict[type, str] = {
    Reading: "reading", VoltageReading: "voltage_reading", DemandRecord: "demand_record", Circuit: "circuit",
    LockRecord: "lock", VoltageTest: "voltage_test", StepMark: "step_mark",
}  # fmt: skip


def drawing_schema() -> dict[str, Any]:
    """The schema of a file of the present version, as a JSON-ready dictionary."""
    defs: dict[str, Any] = {
        "id": {"type": "string", "pattern": ID_PATTERN},
        "point": {
            "description": "x and y on the sheet in grid units, y downward.",
            "type": "array", "minItems": 2, "maxItems": 2,
            "items": {"type": "number", "minimum": -FARTHEST, "maximum": FARTHEST},
        },
        "end": {
            "description": "Id of an item and the name of its terminal.",
            "type": "array", "prefixItems": [{"$ref": "#/$defs/id"}, {"type": "string"}], "minItems": 2, "maxItems": 2,
        },
    }  # fmt: skip
    for cls, name in _ROWS.items():
        defs[name] = _object(cls, {})
    for kind, cls in KINDS.items():
        own = {"id": {"$ref": "#/$defs/id"}, "kind": {"const": kind}}
        defs[kind] = {"title": cls.title, **_object(cls, own)}
    defs["zone"] = {"title": "Planned outage", **_object(WorkZone, {"id": {"$ref": "#/$defs/id"}})}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Single-line drawing",
        "description": (
            f"UTF-8 JSON of at most {MAX_BYTES} bytes. Line 1 holds the header, then one item a line; "
            "sha256_of_body is the SHA-256 of everything after line 1. A fact that is absent (or null) is unknown. "
            "The unit of a number is the end of its name."
        ),
        "type": "object",
        "required": ["header", "items", "next_number", "project"],
        "additionalProperties": False,
        "properties": {
            "header": _header(),
            "items": {"type": "array", "items": {"oneOf": [{"$ref": f"#/$defs/{kind}"} for kind in KINDS]}},
            "next_number": {"description": "Ids are never used again.", "type": "integer", "minimum": 1},
            "project": _object(Project, {}),
            "zones": {
                "description": "Planned outages, one a line; absent where there are none.",
                "type": "array", "items": {"$ref": "#/$defs/zone"}, "maxItems": MAX_ZONES,
            },
        },
        "$defs": defs,
    }  # fmt: skip


def _header() -> dict[str, Any]:
    return {
        "type": "object",
        "required": ["format", "version", "program", "saved_utc", "sha256_of_body"],
        "properties": {
            "format": {"const": FORMAT},
            "version": {
                "description": "[major, minor]: a higher minor only adds; a higher major is refused.",
                "type": "array", "prefixItems": [{"const": VERSION[0]}, {"type": "integer", "minimum": 0}],
                "minItems": 2, "maxItems": 2,
            },
            "program": {"type": "string"},
            "saved_utc": {"type": "string", "pattern": r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,6})?Z$"},
            "sha256_of_body": {"type": "string", "pattern": "^[0-9a-f]{64}$"},
            "recovery": {"description": "Only in recovery copies.", "type": "object"},
        },
        "additionalProperties": False,
    }  # fmt: skip


def _object(cls: type, own: dict[str, Any]) -> dict[str, Any]:
    keys = keys_of(cls)
    return {
        "type": "object",
        "required": [*own, *(name for name, key in keys.items() if key.required)],
        "properties": {**own, **{name: _value(key) for name, key in keys.items()}},
        "additionalProperties": False,
    }


def _value(key: Key) -> dict[str, Any]:
    found = _fact(key) if key.spec is not None else _structure(key.structure)
    return {"anyOf": [found, {"type": "null"}]} if key.nullable else found


def _fact(key: Key) -> dict[str, Any]:
    spec = key.spec
    assert spec is not None
    out: dict[str, Any] = {"title": spec.label}
    if spec.help:
        out["description"] = spec.help
    if spec.choices:
        return {**out, "enum": list(spec.choices)}
    if spec.quantity == "flag":
        return {**out, "type": "boolean"}
    if spec.quantity == "date":
        return {**out, "type": "string", "pattern": r"^\d{4}-\d\d-\d\d$"}
    if spec.quantity in ("text", "size"):
        return {**out, "type": "string", "maxLength": text_cap(spec.name)}
    out["type"] = "integer" if key.number is int else "number"
    if spec.low is not None:
        out["minimum"] = spec.low
    if spec.high is not None:
        out["maximum"] = spec.high
    return out


def _structure(structure: str | type | None) -> dict[str, Any]:
    if isinstance(structure, type):
        return {"type": "array", "items": {"$ref": f"#/$defs/{_ROWS[structure]}"}}
    if structure == "place":
        return {"$ref": "#/$defs/point"}
    if structure == "places":
        return {"type": "array", "items": {"$ref": "#/$defs/point"}, "maxItems": MAX_BENDS}
    if structure == "end":
        return {"$ref": "#/$defs/end"}
    if structure == "width":
        return {"type": "number", "minimum": 0, "maximum": FARTHEST}
    if structure == "edition":
        return {"enum": list(EDITIONS)}
    if structure == "series":
        return _series()
    if structure == "ids":
        return {"type": "array", "items": {"$ref": "#/$defs/id"}, "maxItems": MAX_IDS}
    if structure == "keys":
        return {"type": "array", "items": {"type": "string", "maxLength": KEY_CHARS}, "maxItems": MAX_IDS}
    return {
        "description": "Where values come from: field name to one of the words; absent means entered.",
        "type": "object",
        "additionalProperties": {"enum": list(BASES)},
    }


def _series() -> dict[str, Any]:
    minutes = {"type": "number", "minimum": -MOST_MINUTES, "maximum": MOST_MINUTES}
    figure = {"type": "number", "minimum": -MOST_RECORDED, "maximum": MOST_RECORDED}
    gap = {"type": "array", "items": minutes, "minItems": 2, "maxItems": 2}
    return {
        "description": (
            "What was recorded, for its plot: the highest average of each step from start (time on the wall), null where "
            "nothing was recorded; gaps as [begin, end] in minutes from start."
        ),
        "type": "object",
        "required": ["start", "step_min", "unit", "highest"],
        "properties": {
            "start": {"type": "string", "pattern": SERIES_START},
            "step_min": {"type": "number", "exclusiveMinimum": 0, "maximum": MOST_MINUTES},
            "unit": {"enum": list(SERIES_UNITS)},
            "highest": {
                "type": "array", "items": {"anyOf": [figure, {"type": "null"}]}, "minItems": 1, "maxItems": MAX_STEPS,
            },
            "gaps": {"type": "array", "items": gap, "maxItems": MAX_STEPS},
        },
        "additionalProperties": False,
    }  # fmt: skip


def schema_text() -> str:
    return json.dumps(drawing_schema(), indent=1, ensure_ascii=False) + "\n"


def main() -> None:
    """Write the schema file of this checkout."""
    path = Path(__file__).resolve().parents[2] / "resources" / "schema" / "drawing.schema.json"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(schema_text(), encoding="utf-8")
    print(f"{path.name}: written")


if __name__ == "__main__":
    main()
