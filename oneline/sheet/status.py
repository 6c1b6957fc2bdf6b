"""How the status of an item looks: existing thin, new medium, to be removed dashed with ticks, future dotted and light."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class StatusLook:
    """Weight and dash of the item's strokes, ink ("" for the usual one), and whether cross ticks are added."""

    weight: str
    dash: str
    ink: str = ""
    ticks: bool = False


_LOOKS = {
    "existing": StatusLook("thin", "solid"),
    "new": StatusLook("medium", "solid"),
    "remove": StatusLook("thin", "removed", ticks=True),
    "future": StatusLook("thin", "future", "faint"),
}


def status_look(status: str) -> StatusLook:
    """The look of a status of ``model.vocabulary.STATUSES``."""
    return _LOOKS[status]
