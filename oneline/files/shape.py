"""How the model's classes look in a file: which keys an object has and what each may hold.

Everything comes from the model's own declarations (``model.fields.specs``); this module only adds the few structures that
are not facts the user types: places, ends, rows.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import cache
from typing import Any

from oneline.model import (
    Circuit,
    DemandRecord,
    LockRecord,
    Project,
    Reading,
    Spec,
    StepMark,
    VoltageReading,
    VoltageTest,
    specs,
)

#: Name and version [major, minor] of the format. A higher minor only adds keys, kinds and words; a higher major may change
#: the meaning of what is there.
FORMAT = "oneline drawing"
VERSION = (1, 0)

#: Keys of structures: what the value is.
STRUCTURES: dict[str, str | type] = {
    "place": "place", "bends": "places", "a": "end", "b": "end", "basis": "basis", "width": "width",
    "edition": "edition", "readings": Reading, "voltages": VoltageReading, "demand": DemandRecord, "circuits": Circuit,
    "series": "series", "items": "ids", "isolation": "ids", "order": "keys", "locks": LockRecord, "tests": VoltageTest,
    "marks": StepMark,
}  # fmt: skip
_NOT_STORED = ("id", "extra")


@dataclass(frozen=True)
class Key:
    """One key of an object in the file.

    ``spec`` for a fact, ``structure`` for the rest. ``nullable``: the value may be unknown. ``required``: the key must be
    there: facts that cannot be unknown and are not texts (an absent text is ""). ``number`` is ``float`` or ``int``.
    """

    name: str
    spec: Spec | None
    structure: str | type | None
    nullable: bool
    required: bool
    default: Any
    number: type = float

    @property
    def fallback(self) -> Any:
        """What a word that only a newer version knows is read as: unknown, or the default."""
        return None if self.nullable else self.default


@cache
def keys_of(cls: type) -> dict[str, Key]:
    """The keys of an item, row or project class. Raises ``TypeError`` for a field that nothing describes."""
    facts = specs(cls)
    found: dict[str, Key] = {}
    for f in dataclasses.fields(cls):
        if f.name in _NOT_STORED:
            continue
        nullable = "None" in str(f.type)
        default = None if f.default is dataclasses.MISSING else f.default
        spec = facts.get(f.name)
        if spec is None and f.name not in STRUCTURES:
            raise TypeError(f"{cls.__name__}.{f.name} is neither a fact nor a known structure")
        if spec is not None:
            needed = not nullable and (spec.quantity != "text" or f.default is dataclasses.MISSING)
            number = int if "int" in str(f.type) else float
            found[f.name] = Key(f.name, spec, None, nullable, needed, default, number)
        else:
            needed = f.name in ("a", "edition", "items") or (f.name == "b" and not nullable)
            found[f.name] = Key(f.name, None, STRUCTURES[f.name], nullable, needed, default)
    return found


def project_keys() -> dict[str, Key]:
    return keys_of(Project)
