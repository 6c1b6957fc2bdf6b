"""Whether two studies say the same: sums run over a whole drawing, so the last digits of figures may differ."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from math import isclose
from typing import Any

#: Share by which two figures may differ.
SHARE = 1e-9


def same(one: Any, other: Any) -> bool:
    """Equal, with figures equal but for rounding."""
    if one is other:
        return True
    if isinstance(one, float) and isinstance(other, int | float):
        return isclose(one, other, rel_tol=SHARE, abs_tol=SHARE)
    if is_dataclass(one):
        return type(one) is type(other) and all(same(getattr(one, f.name), getattr(other, f.name)) for f in fields(one))
    if isinstance(one, Mapping):
        return isinstance(other, Mapping) and list(one) == list(other) and all(same(one[k], other[k]) for k in one)
    if isinstance(one, tuple | list):
        return type(one) is type(other) and len(one) == len(other) and all(map(same, one, other))
    return bool(one == other)


def first_difference(one: Any, other: Any) -> str:
    """Where two lists of findings first differ, in words."""
    for left, right in zip(one, other, strict=False):
        if not same(left, right):
            names = [f.name for f in fields(left) if not same(getattr(left, f.name), getattr(right, f.name))]
            shown = [f"{n}: {getattr(left, n)!r} / {getattr(right, n)!r}" for n in names]
            return f"{left.rule} of {left.subject} / {right.rule} of {right.subject}: {'; '.join(shown)}"
    return f"{len(one)} findings / {len(other)}"
