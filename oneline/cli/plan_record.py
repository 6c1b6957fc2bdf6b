"""The JSON of ``oneline plan``, and its schema, both made from the answers' own declarations.

``python -m oneline.cli.plan_record`` writes resources/schema/plan.schema.json; a test proves that it is up to date.
"""

from __future__ import annotations

import dataclasses
import json
import types
import typing
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from oneline.model import Drawing, WorkZone
from oneline.model.cautions import CAUTIONS, ZONE_CAUTION
from oneline.outage import results
from oneline.outage.plan_words import headline, holds
from oneline.outage.results import Plan
from oneline.version import VERSION

#: Fields that mean nothing outside the running program, or stand elsewhere in the report.
_LEFT_OUT = {"nodes", "extra", "best"}
_WORDS: dict[tuple[str, str], tuple[str, ...]] = {
    ("ZoneAnswer", "state"): results.ZONE_STATES,
    ("Step", "part"): results.PARTS,
    ("Step", "action"): results.ACTIONS,
    ("Step", "state"): ("pass", "fail", "unknown", "judge", "advice"),
    ("Spare", "state"): ("pass", "fail", "unknown"),
}
_DIGITS = 4


def plan_report(path: str, drawing: Drawing, plan: Plan, edition: int) -> dict[str, Any]:
    """One plan as JSON, units in the names. What is null is not known."""
    return {
        "file": path, "title": drawing.project.title, "program": VERSION, "edition": edition, "view": plan.answer.view,
        "holds": holds(plan), "says": headline(plan), "plan": _plain(plan), "cautions": [ZONE_CAUTION, *CAUTIONS],
    }  # fmt: skip


def zones_report(path: str, drawing: Drawing) -> dict[str, Any]:
    """The planned outages of a file."""
    zones = [
        {"id": z.id, "name": z.name, "begins": z.begins, "items": [_item(drawing, i) for i in z.items]}
        for z in drawing.zones
    ]
    return {"file": path, "title": drawing.project.title, "zones": zones}


def _item(drawing: Drawing, item: str) -> dict[str, str]:
    return {"id": item, "name": drawing.name_of(item)}


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value):
        return {f.name: _plain(getattr(value, f.name)) for f in dataclasses.fields(value) if f.name not in _LEFT_OUT}
    if isinstance(value, Mapping):
        return {str(key): _plain(one) for key, one in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(one) for one in value]
    return round(value, _DIGITS) if isinstance(value, float) else value


# -------------------------------------------------------------------------------------------------------------- schema
def plan_schema() -> dict[str, Any]:
    """The schema of what ``oneline plan --json`` prints."""
    defs: dict[str, Any] = {}
    plan = _schema_of(Plan, defs)
    text: dict[str, Any] = {"type": "string"}
    zone = _object({"id": text, "name": text, "begins": {"type": ["string", "null"]}, "items": _list(_object(
        {"id": text, "name": text}))})  # fmt: skip
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Report of oneline plan --json",
        "description": (
            "The planned outages of a file, or one plan. Units are the ends of the names: _a amperes, _v volts, _min "
            "minutes from the start. Null is not known. A computed state is never verified: only a person's test is."
        ),
        "oneOf": [
            _object({"file": text, "title": text, "zones": _list(zone)}),
            _object({
                "file": text, "title": text, "program": text, "edition": {"type": "integer"}, "view": text,
                "holds": {
                    "type": "boolean",
                    "description": "Isolated by the drawing, nothing missing, no step fails, no bad order.",
                },
                "says": text, "plan": plan, "cautions": _list(text),
            }),
        ],
        "$defs": defs,
    }  # fmt: skip


def _object(properties: dict[str, Any]) -> dict[str, Any]:
    return {"type": "object", "required": list(properties), "additionalProperties": False, "properties": properties}


def _list(items: Any) -> dict[str, Any]:
    return {"type": "array", "items": items}


def _schema_of(cls: type, defs: dict[str, Any]) -> dict[str, Any]:
    """A reference to the schema of an answer's class, which goes into ``defs``."""
    if cls.__name__ not in defs:
        defs[cls.__name__] = {}
        hints = typing.get_type_hints(cls)
        made = _object({
            f.name: _words(cls, f.name) or _type(hints[f.name], defs)
            for f in dataclasses.fields(cls) if f.name not in _LEFT_OUT
        })  # fmt: skip
        about = "" if cls is WorkZone else " ".join((cls.__doc__ or "").split("\n\n")[0].split())
        defs[cls.__name__] = {"description": about, **made} if about else made
    return {"$ref": f"#/$defs/{cls.__name__}"}


def _words(cls: type, name: str) -> dict[str, Any] | None:
    words = _WORDS.get((cls.__name__, name))
    return {"enum": list(words)} if words else None


def _type(hint: Any, defs: dict[str, Any]) -> dict[str, Any]:
    origin, parts = typing.get_origin(hint), typing.get_args(hint)
    if origin in (types.UnionType, typing.Union):
        some = [_type(part, defs) for part in parts if part is not type(None)]
        return {"anyOf": [*some, {"type": "null"}]} if type(None) in parts else {"anyOf": some}
    if origin is tuple:
        return _list(_type(parts[0], defs))
    if origin is not None and issubclass(origin, Mapping):
        return {"type": "object", "additionalProperties": _type(parts[1], defs)}
    if dataclasses.is_dataclass(hint) and isinstance(hint, type):
        return _schema_of(hint, defs)
    return {"type": {str: "string", bool: "boolean", int: "integer", float: "number"}[hint]}


def schema_text() -> str:
    return json.dumps(plan_schema(), indent=1, ensure_ascii=False) + "\n"


def main() -> None:
    """Write the schema file of this checkout."""
    path = Path(__file__).resolve().parents[2] / "resources" / "schema" / "plan.schema.json"
    path.write_text(schema_text(), encoding="utf-8")
    print(f"{path.name}: written")


if __name__ == "__main__":
    main()
