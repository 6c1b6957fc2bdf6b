"""The things on a drawing. All frozen; ``None`` in a field means *unknown*.

Items reference each other by id only. An item has named terminals; *joints*, *conductor runs* and *suspected ties*
connect two terminals. Sources have the terminal "out", loads "in", two-ended devices "line" and "load", a bus has one
terminal "bus" that takes any number of connections, a transfer switch has "normal", "alternate" and "load".
"""

from __future__ import annotations

from oneline.model.connections import ConductorRun, Connection, Joint, SuspectedTie
from oneline.model.devices import Disconnect, Meter, TransferSwitch, Transformer
from oneline.model.equipment import Bus, Load
from oneline.model.records import Circuit, DemandRecord, DemandSeries, End, Item, Place, Reading, VoltageReading
from oneline.model.sources import Battery, Generator, SolarArray, UtilityService

__all__ = [
    "CONNECTION_KINDS", "KINDS", "SOURCE_KINDS", "Battery", "Bus", "Circuit", "ConductorRun", "Connection", "DemandRecord",
    "DemandSeries", "Disconnect", "End", "Generator", "Item", "Joint", "Load", "Meter", "Place", "Reading", "SolarArray",
    "SuspectedTie", "TransferSwitch", "Transformer", "UtilityService", "VoltageReading",
]  # fmt: skip

#: All kinds, in the order the palette shows them.
KINDS: dict[str, type[Item]] = {
    cls.kind: cls
    for cls in (
        UtilityService, Generator, SolarArray, Battery, Transformer, Meter, Disconnect, TransferSwitch, Bus, Load,
        ConductorRun, Joint, SuspectedTie,
    )
}  # fmt: skip

SOURCE_KINDS = ("service", "generator", "solar", "battery")
CONNECTION_KINDS = ("run", "joint", "tie")
