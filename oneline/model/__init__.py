"""Items, connections, the drawing, and the edits that make a new drawing of an old one. Imports nothing above it."""

from oneline.model.drawing import Drawing, Project, basis_of, circuit_spaces, unknown_fields
from oneline.model.fields import Spec, applies, fact, specs
from oneline.model.items import (
    CONNECTION_KINDS,
    KINDS,
    SOURCE_KINDS,
    Battery,
    Bus,
    Circuit,
    ConductorRun,
    Connection,
    DemandRecord,
    DemandSeries,
    Disconnect,
    End,
    Generator,
    Item,
    Joint,
    Load,
    Meter,
    Place,
    Reading,
    SolarArray,
    SuspectedTie,
    TransferSwitch,
    Transformer,
    UtilityService,
    VoltageReading,
)
from oneline.model.plans import LockRecord, StepMark, VoltageTest, WorkZone

__all__ = [
    "CONNECTION_KINDS", "KINDS", "SOURCE_KINDS", "Battery", "Bus", "Circuit", "ConductorRun", "Connection",
    "DemandRecord", "DemandSeries", "Disconnect", "Drawing", "End", "Generator", "Item", "Joint", "Load", "LockRecord",
    "Meter", "Place",
    "Project", "Reading", "SolarArray", "Spec", "StepMark", "SuspectedTie", "TransferSwitch", "Transformer", "UtilityService",
    "VoltageReading", "VoltageTest", "WorkZone", "applies", "basis_of", "circuit_spaces", "fact", "specs", "unknown_fields",
]  # fmt: skip
