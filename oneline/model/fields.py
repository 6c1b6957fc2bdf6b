"""What each field of an item is: one declaration drives the details pane, the file schema and the strict loader."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Any

#: Kinds of values a field can hold. The unit is part of the field's name (``rating_a``, ``length_ft``).
QUANTITIES = (
    "current_a", "fault_ka", "voltage_v", "length_ft", "power_va", "power_kva", "power_kw", "percent", "ratio",
    "count", "temperature_c", "horsepower", "size", "choice", "flag", "text", "date", "spaces",
)  # fmt: skip


@dataclass(frozen=True)
class Spec:
    """Description of one field.

    ``label``: short name in the words of the trade. ``quantity``: one of QUANTITIES. ``choices``: allowed values when
    the quantity is "choice". ``low``/``high``: inclusive range of numbers. ``help``: one sentence for tooltips: where
    the value is read or measured in the field. ``unit``: as shown to the user. ``group``: heading in the details pane.
    ``counted``: words that may be typed behind a count ("sets" of "2 sets"). ``forms``: forms of the item that have such
    a thing, () for all: a fuse has no trip to adjust.
    """

    name: str
    label: str
    quantity: str
    unit: str = ""
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    help: str = ""
    group: str = "Ratings"
    counted: tuple[str, ...] = ()
    forms: tuple[str, ...] = ()


#: Heading of what stands last in the details pane: where it is, and notes. The ratings come before.
PLACE_GROUP = "Place and notes"
WORK_GROUP = "Working space"
#: Heading of what the code's load calculation asks for.
LOAD_GROUP = "Load calculation"

_UNITS = {
    "current_a": "A", "fault_ka": "kA", "voltage_v": "V", "length_ft": "ft", "power_va": "VA", "power_kva": "kVA",
    "power_kw": "kW", "percent": "%", "temperature_c": "°C", "horsepower": "hp",
}  # fmt: skip
_RANGES: dict[str, tuple[float, float]] = {
    "current_a": (0, 10_000), "fault_ka": (0, 400), "voltage_v": (0, 1000), "length_ft": (0, 10_000),
    "power_va": (0, 20_000_000), "power_kva": (0, 20_000), "power_kw": (0, 20_000), "percent": (0, 100),
    "ratio": (0, 1000), "count": (0, 1000), "temperature_c": (-60, 250), "horsepower": (0, 1000),
}  # fmt: skip


def fact(
    label: str,
    quantity: str,
    *,
    default: Any = None,
    required: bool = False,
    choices: tuple[str, ...] = (),
    low: float | None = None,
    high: float | None = None,
    help: str = "",
    group: str = "Ratings",
    counted: tuple[str, ...] = (),
    forms: tuple[str, ...] = (),
) -> Any:
    """A dataclass field that the user fills in. ``None`` is *unknown*, never zero and never fine.

    A ``required`` field has no default: it must be given whenever the row is made.
    """
    if quantity not in QUANTITIES:
        raise ValueError(f"unknown quantity {quantity!r}")
    bounds = _RANGES.get(quantity, (None, None))
    spec = {
        "label": label,
        "quantity": quantity,
        "unit": _UNITS.get(quantity, ""),
        "choices": choices,
        "low": bounds[0] if low is None else low,
        "high": bounds[1] if high is None else high,
        "help": help,
        "group": group,
        "counted": counted,
        "forms": forms,
    }
    if required:
        return field(metadata={"spec": spec})
    return field(default=default, metadata={"spec": spec})


_SPECS: dict[type, dict[str, Spec]] = {}


def specs(cls: type) -> dict[str, Spec]:
    """The user-editable fields of an item or row class, in the order of the details pane: ``{field name: Spec}``."""
    found = _SPECS.get(cls)
    if found is not None:
        return found
    found = {}
    for f in fields(cls):
        if "spec" in f.metadata:
            found[f.name] = Spec(name=f.name, **f.metadata["spec"])
    _SPECS[cls] = found
    return found


def applies(owner: Any, spec: Spec) -> bool:
    """Whether an item of this form has what the field is about. A field that holds something always applies."""
    form = getattr(owner, "form", None)
    return not spec.forms or form is None or form in spec.forms or getattr(owner, spec.name) is not None
