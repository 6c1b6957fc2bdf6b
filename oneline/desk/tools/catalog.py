"""What can be put on the sheet: name, kind with its preset fields, key and icon. For the palette, the menu and the keys."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

_NONE: Mapping[str, Any] = MappingProxyType({})


@dataclass(frozen=True)
class Placeable:
    """One entry of the palette. ``letter`` is its key on the sheet; ``values`` are the fields it starts with."""

    key: str
    title: str
    kind: str
    letter: str
    tip: str
    values: Mapping[str, Any] = field(default_factory=lambda: _NONE)


PLACEABLES: tuple[Placeable, ...] = (
    Placeable("service", "Service", "service", "S", "Utility service: where the utility's supply enters"),
    Placeable("meter", "Meter", "meter", "M", "Utility or submeter"),
    Placeable(
        "fused-switch", "Fused switch", "disconnect", "W", "Switch with fuses",
        MappingProxyType({"form": "fused switch"}),
    ),
    Placeable("breaker", "Breaker", "disconnect", "B", "Circuit breaker", MappingProxyType({"form": "breaker"})),
    Placeable("switch", "Switch", "disconnect", "I", "Switch without fuses", MappingProxyType({"form": "switch"})),
    Placeable("fuses", "Fuses", "disconnect", "Z", "Fuses without a switch", MappingProxyType({"form": "fuses"})),
    Placeable("bus", "Bus", "bus", "U", "Switchboard bus", MappingProxyType({"form": "switchboard"})),
    Placeable("panel", "Panel", "bus", "P", "Panelboard", MappingProxyType({"form": "panelboard"})),
    Placeable("gutter", "Gutter", "bus", "K", "Gutter or splice box", MappingProxyType({"form": "gutter"})),
    Placeable("transformer", "Transformer", "transformer", "T", "Transformer"),
    Placeable("transfer", "Transfer switch", "transfer", "R", "Transfer switch between two sources"),
    Placeable("generator", "Generator", "generator", "G", "Generator"),
    Placeable("solar", "Array", "solar", "A", "Solar array with its inverter"),
    Placeable("battery", "Battery", "battery", "Y", "Battery with its inverter"),
    Placeable("load", "Load", "load", "L", "A load: motor, heater, lighting, machine"),
)  # fmt: skip

BY_KEY: dict[str, Placeable] = {p.key: p for p in PLACEABLES}
