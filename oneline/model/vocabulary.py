"""The closed sets of words that drawings use. Figures that belong to a word (volts of a system, ...) live in tables."""

from __future__ import annotations

EDITIONS = (2017, 2020, 2023, 2026)

STATUSES = ("existing", "new", "remove", "future")
STATUS_LETTERS = {"existing": "E", "new": "N", "remove": "R", "future": "F"}

VIEWS = ("existing", "proposed")
#: Which statuses each view studies.
VIEW_STATUSES = {"existing": ("existing", "remove"), "proposed": ("existing", "new")}

#: Where a value comes from. A field without an entry in ``Item.basis`` counts as "entered".
BASES = ("nameplate", "measured", "documents", "entered", "assumed")

#: Codes of the nominal systems; their figures are in resources/tables/systems.csv.
SYSTEMS = (
    "208Y/120", "480Y/277", "600Y/347", "120/240-1", "208/120-1", "240D/120-HL", "240D", "480D", "240D-CG", "480D-CG",
    "120-1",
)  # fmt: skip

#: "A", "AB", "ABC", ... On single-phase three-wire systems A and B stand for L1 and L2.
PHASE_SETS = ("A", "B", "C", "AB", "BC", "CA", "ABC")

DISCONNECT_FORMS = ("breaker", "fused switch", "switch", "fuses")
BUS_FORMS = ("panelboard", "switchboard", "gutter", "splice box", "busway", "meter center")

#: Trade sizes of conductors, smallest first; areas and ampacities are in tables.
CONDUCTOR_SIZES = (
    "18", "16", "14", "12", "10", "8", "6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0", "250", "300", "350", "400",
    "500", "600", "700", "750", "800", "900", "1000", "1250", "1500", "1750", "2000",
)  # fmt: skip
MATERIALS = ("copper", "aluminum")
INSULATIONS = (
    "TW", "THW", "THWN", "THHN", "THWN-2", "THHN/THWN-2", "XHHW", "XHHW-2", "RHW", "RHW-2", "USE-2", "MC", "other",
)  # fmt: skip
RACEWAYS = (
    "EMT", "RMC", "IMC", "PVC-40", "PVC-80", "FMC", "LFMC", "wireway", "cable", "busway", "open", "within enclosure",
)  # fmt: skip

LOAD_CLASSES = (
    "lighting", "receptacles", "fixed multioutlet", "motor", "hvac", "heat", "kitchen", "sign", "show window", "elevator",
    "ev charging", "water heater", "track lighting", "dwelling small appliance", "dwelling laundry",
    "dwelling appliance", "dwelling dryer", "dwelling cooking", "other",
)  # fmt: skip

#: What a floor area is used for; which row of the lighting tables it takes in an edition is in tables.
OCCUPANCIES = (
    "armory or auditorium", "assembly hall", "automotive facility", "bank", "barber shop or beauty parlor", "club",
    "convention center", "courthouse", "dormitory", "dwelling units", "exercise center", "fire station", "gymnasium",
    "hall, corridor or stairway", "health care clinic", "hospital", "hotel or motel", "industrial loft building",
    "library", "lodge rooms", "manufacturing facility", "motion picture theater", "museum", "office", "parking garage",
    "penitentiary", "performing arts theater", "place of worship", "police station", "post office", "restaurant",
    "retail store", "school or university", "sports arena", "storage space", "town hall", "transportation", "warehouse",
    "workshop",
)  # fmt: skip

#: Optional ways to calculate the load of a whole service, or of a panel or meter center.
LOAD_CALCULATIONS = (
    "standard", "school", "new restaurant, all electric", "new restaurant, not all electric", "apartment house",
    "dwelling unit", "existing dwelling unit",
)  # fmt: skip

#: Duty of a motor and the time its nameplate rates it for.
DUTIES = ("continuous", "short-time", "intermittent", "periodic", "varying")
TIME_RATINGS = ("5 minutes", "15 minutes", "30 or 60 minutes", "continuous")
#: Kind of device that a nameplate asks for.
MARKED_DEVICES = ("fuse", "fuse or breaker")

#: What a line of a panel's schedule is for.
CIRCUIT_USES = ("load", "spare", "space", "feeder")
TRACED = ("traced", "labeled only", "untraced")
TRANSFER_POSITIONS = ("normal", "off", "alternate")
#: What somebody has to look after before it loses power; "none" says that nobody has to.
OUTAGE_CARES = (
    "none", "fire alarm", "emergency lighting", "elevator", "refrigeration", "computers", "medical", "security", "pumps",
    "other",
)  # fmt: skip

#: Where a disconnect stands, as the rules for outside conductors and for services ask it.
STANDS = ("outdoors", "inside nearest the entrance", "inside elsewhere")
#: What is across the working space from equipment: condition 1, 2 or 3 of the working-space table.
OPPOSITE = ("nothing live or grounded", "grounded parts", "live parts")
#: Ways of reducing the arcing energy of large breakers and fuses.
ARC_REDUCTIONS = (
    "none", "zone-selective interlocking", "differential relaying", "maintenance switch", "active mitigation",
    "instantaneous trip", "instantaneous override", "current-limiting fuse", "other approved",
)  # fmt: skip
#: What exempts a large disconnect from ground-fault protection of equipment.
GROUND_FAULT_EXEMPTIONS = ("none", "fire pump", "continuous industrial process", "emergency or legally required")
#: How a series rating came about.
SERIES_RATINGS = ("tested combination on the label", "engineered for existing equipment")
#: Reasons for a service beside another one.
SERVICE_REASONS = (
    "first service", "fire pump", "emergency or standby", "parallel generation", "enhanced reliability",
    "several occupancies", "large area", "capacity", "different voltage or use", "none",
)  # fmt: skip
#: What the lamps of a ground detector show: all alike, or the phase whose lamp is dim or dark.
DETECTOR_LAMPS = ("all alike", "A dark", "B dark", "C dark", "no lamps or meter readings")
