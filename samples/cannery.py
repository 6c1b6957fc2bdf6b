"""The former cannery: an old 208Y/120 service let to shops, and the bakery's annex that is to be added.

Everything here is invented. The walk-through left unknowns on purpose; they are marked in the notes.
"""

from __future__ import annotations

from typing import Any

from oneline import Builder, Handle
from oneline.model import Bus, circuit_spaces

SATURDAY = "2026-02-14 06:40"
CLAMP = "clamp meter, true rms"

#: space, poles, trip A, description, class, VA, continuous
Row = tuple[int, int, float, str, str, float, bool]

BAKERY: list[Row] = [
    (1, 3, 50, "Deck oven, west wall", "kitchen", 10800, False),
    (2, 3, 40, "Rack oven, north corner", "kitchen", 8600, False),
    (7, 3, 20, "Spiral mixer, prep room", "motor", 2900, False),
    (8, 2, 30, "Proofing cabinet, prep room", "kitchen", 3200, False),
    (12, 1, 20, "Retarder cabinet, prep room", "other", 1100, True),
    (13, 1, 20, "Lights, sales room", "lighting", 980, True),
    (14, 1, 20, "Lights, prep room", "lighting", 1120, True),
    (15, 1, 20, "Lights, store and toilet", "lighting", 420, True),
    (16, 1, 20, "Receptacles, sales counter", "receptacles", 900, False),
    (17, 1, 20, "Receptacles, prep tables east", "receptacles", 720, False),
    (18, 1, 20, "Receptacles, prep tables west", "receptacles", 720, False),
    (19, 1, 20, "Receptacles, office nook", "receptacles", 540, False),
    (20, 2, 30, "Water heater, under stairs", "water heater", 4500, True),
    (21, 1, 20, "Espresso grinder, counter", "other", 600, False),
    (23, 2, 30, "Espresso machine, counter", "kitchen", 3600, False),
    (24, 1, 15, "Exhaust fan, prep room", "motor", 540, True),
    (26, 1, 20, "Show window lights", "show window", 800, True),
]
CYCLES: list[Row] = [
    (1, 1, 20, "Lights, workshop front", "lighting", 860, True),
    (2, 1, 20, "Lights, workshop back", "lighting", 860, True),
    (3, 1, 20, "Receptacles, benches 1 to 4", "receptacles", 720, False),
    (4, 1, 20, "Receptacles, benches 5 to 8", "receptacles", 720, False),
    (5, 2, 20, "Air compressor, closet", "motor", 2400, False),
    (6, 2, 30, "Parts washer, back wall", "other", 3800, False),
    (9, 1, 20, "Receptacles, sales floor", "receptacles", 900, False),
    (10, 1, 20, "Show window lights", "show window", 600, True),
]
TAVERN: list[Row] = [
    (1, 3, 60, "Fryer pair, cook line", "kitchen", 16500, False),
    (2, 3, 50, "Dishwasher booster, dish room", "kitchen", 12000, False),
    (7, 3, 40, "Griddle, cook line", "kitchen", 9600, False),
    (8, 3, 30, "Make-up air unit, roof", "motor", 5200, True),
    (13, 1, 20, "Hood fan, cook line", "motor", 1150, True),
    (14, 1, 20, "Dishwasher, dish room", "kitchen", 1500, False),
    (15, 1, 20, "Keg cooler, cellar", "other", 1300, True),
    (16, 1, 20, "Ice machine, back bar", "other", 1450, True),
    (17, 1, 20, "Lights, barroom north", "lighting", 840, True),
    (18, 1, 20, "Lights, barroom south", "lighting", 840, True),
    (19, 1, 20, "Lights, kitchen and cellar", "lighting", 960, True),
    (20, 1, 20, "Receptacles, barroom", "receptacles", 1080, False),
    (21, 1, 20, "Receptacles, back bar", "receptacles", 720, False),
    (22, 1, 20, "Receptacles, kitchen", "receptacles", 900, False),
    (23, 1, 20, "Sound and stage, barroom", "other", 1200, False),
    (25, 2, 30, "Water heater, cellar", "water heater", 4500, True),
    (26, 1, 20, "Sign over the door", "sign", 1200, True),
]
HOUSE: list[Row] = [
    (1, 1, 20, "Lights, ground floor passage", "lighting", 940, True),
    (2, 1, 20, "Lights, upper passage", "lighting", 940, True),
    (3, 1, 20, "Lights, wharf side and yard", "lighting", 1300, True),
    (4, 1, 20, "Receptacles, passages", "receptacles", 1080, False),
    (5, 1, 20, "Receptacles, roof", "receptacles", 360, False),
    (6, 1, 20, "Fire alarm panel, entry", "other", 300, True),
    (7, 2, 30, "Unit heater, electrical room", "heat", 5000, False),
    (8, 1, 20, "Telephone and data closet", "other", 700, True),
    (10, 2, 40, "Unit heater, stair hall", "heat", 6000, False),
    (11, 1, 15, "Doorbell and gate", "other", 200, True),
]
STANDBY: list[Row] = [
    (1, 1, 20, "Egress lights, all floors", "lighting", 1150, True),
    (2, 1, 20, "Exit signs, all floors", "lighting", 240, True),
    (3, 2, 20, "Sump pump, tide cellar", "motor", 1760, False),
    (4, 2, 20, "Evaporator fans, cold store", "motor", 1400, True),
    (7, 1, 20, "Cold store door heaters", "heat", 900, True),
    (8, 1, 20, "Cold store lights", "lighting", 420, True),
    (9, 1, 20, "Receptacles, electrical room", "receptacles", 360, False),
]
DOCK: list[Row] = [
    (1, 1, 20, "Lights, dock office", "lighting", 560, True),
    (2, 1, 20, "Receptacles, dock office", "receptacles", 900, False),
    (3, 1, 20, "Pier lights", "lighting", 1100, True),
    (4, 2, 30, "Wall heater, dock office", "heat", 3600, False),
    (5, 1, 20, "Harbor radio and weather mast", "other", 450, True),
    (7, 1, 20, "Receptacles, net shed", "receptacles", 720, False),
    (9, 2, 20, "Bilge service pedestal", "receptacles", 1440, False),
]
ANNEX: list[Row] = [
    (1, 3, 50, "Deck oven A, annex east wall", "kitchen", 11800, False),
    (2, 3, 50, "Deck oven B, annex east wall", "kitchen", 11800, False),
    (7, 3, 30, "Spiral mixer, annex", "motor", 4300, False),
    (8, 3, 20, "Dough sheeter, annex", "motor", 1900, False),
    (13, 2, 30, "Proofing room, annex", "kitchen", 3900, False),
    (14, 2, 30, "Water heater, annex", "water heater", 4500, True),
    (17, 1, 20, "Lights, annex work tables", "lighting", 1180, True),
    (18, 1, 20, "Lights, annex sales window", "lighting", 760, True),
    (19, 1, 20, "Receptacles, annex tables north", "receptacles", 720, False),
    (20, 1, 20, "Receptacles, annex tables south", "receptacles", 720, False),
    (21, 1, 20, "Receptacles, annex sales window", "receptacles", 540, False),
    (22, 1, 20, "Display case, annex sales window", "other", 1350, True),
    (23, 1, 20, "Exhaust fan, annex", "motor", 900, True),
]


#: What somebody has to look after before it loses power.
CARES = {
    "Egress lights, all floors": "emergency lighting",
    "Sump pump, tide cellar": "pumps", "Evaporator fans, cold store": "refrigeration", "Keg cooler, cellar": "refrigeration",
    "Retarder cabinet, prep room": "refrigeration", "Fire alarm panel, entry": "fire alarm",
}  # fmt: skip


def fill(b: Builder, panel: Handle, rows: list[Row], spares: tuple[int, ...] = (), status: str = "existing") -> None:
    """Enter a panel's schedule; ``spares`` are single-pole 20 A breakers without a load."""
    with b.status(status):
        for space, poles, trip, text, load_class, va, continuous in rows:
            b.circuit(
                panel, space, text, trip, poles=poles, va=va, load_class=load_class, continuous=continuous,
                traced="labeled only" if status == "existing" else "traced", care=CARES.get(text),
            )  # fmt: skip
        for space in spares:
            b.spare(panel, space, 20)


def note_empty_spaces(b: Builder) -> None:
    """Spaces without a breaker, in every panel that was looked at."""
    for panel in list(b.drawing.of(Bus)):
        taken = {space for circuit in panel.circuits for space in circuit_spaces(circuit)}
        if panel.circuits and panel.status != "remove":
            with b.status(panel.status):
                b.spaces(panel.id, (n for n in range(1, (panel.spaces or 0) + 1) if n not in taken))


def build() -> Builder:
    """The drawing, from the wharf pole down."""
    b = Builder(
        "Tideway Cannery, let to shops",
        edition=2023,
        address="14 Netmakers Wharf, Saltmere",
        sheet_number="E-1",
        prepared_by="P. Aldine",
        contractor="Aldine and Daughter Electric",
        license_no="EC-20417 (invented)",
        permit_no="26-0318",
        as_of="2026-03-07",
    )
    old_bus = service_one(b)
    shops(b, old_bus)
    standby(b, old_bus)
    service_two(b)
    annex(b, old_bus)
    note_empty_spaces(b)
    outage(b)
    return b


def wires(size: str, length_ft: float | None, neutral: str, egc: str, pipe: str, **more: Any) -> dict[str, Any]:
    """Copper in a metal raceway, as this building has it: size, measured length, neutral, grounding conductor, pipe."""
    made: dict[str, Any] = {
        "size": size, "length_ft": None if length_ft is None else (length_ft, "measured"), "neutral_size": neutral,
        "egc_size": egc, "raceway_size": pipe, "material": "copper", "insulation": "THWN-2", "raceway": "EMT",
        "phases": "ABC", "wet": False, "current_carrying": 3, "ambient_c": 30, "terminal_c": 75,
    }  # fmt: skip
    if egc not in ("none", "raceway"):
        made["egc_material"] = "copper"
    return {**made, **more}


def old_wires(size: str, length_ft: float | None, neutral: str, egc: str, pipe: str, **more: Any) -> dict[str, Any]:
    """The same in the old rigid pipes, with the old insulation."""
    return {**wires(size, length_ft, neutral, egc, pipe, insulation="THW", raceway="RMC"), **more}


def fused(b: Builder, name: str, rating_a: float, fuse_a: float, **more: Any) -> Handle:
    """A modern fused switch with class J fuses, both read on the labels."""
    fields: dict[str, Any] = {
        "rating_a": (rating_a, "nameplate"), "trip_a": (fuse_a, "nameplate"), "poles": 3, "voltage_rating": "240",
        "interrupting_ka": (200, "nameplate"), "sccr_ka": (100, "nameplate"), "terminal_c": 75, "load_break": True,
        "lockable": True, "location": "Electrical room",
    }  # fmt: skip
    return b.disconnect(name, form="fused switch", **{**fields, **more})


def panelboard(b: Builder, name: str, rating_a: float, sccr_ka: float, location: str, **more: Any) -> Handle:
    """A panel with its label read and its neutral bar looked at."""
    fields: dict[str, Any] = {
        "rating_a": (rating_a, "nameplate"), "sccr_ka": (sccr_ka, "nameplate"), "phases": "ABC", "terminal_c": 75,
        "spaces": 30, "all_listed": True, "neutral_bonded": False, "location": location,
    }  # fmt: skip
    return b.bus(name, **{**fields, **more})


def service_one(b: Builder) -> Handle:
    """Pole transformer, gutter with three mains and no single one, the old board, the house panel with the array."""
    utility = b.service(
        "Service 1, wharf pole", system="208Y/120", transformer_kva=(300, "documents"),
        transformer_z_pct=(4.2, "documents"), transformer_x_r=(3.5, "documents"), meter="W-7731", location="North gable",
        notes="Transformer bank from the utility's letter of 2026-02-20.",
    )  # fmt: skip
    meter = b.meter("Meter W-7731", number="W-7731", ct_ratio="800:5", location="North gable")
    b.demand(
        meter, source="Utility billing demand", start="2025-02-01", end="2026-01-31", period_days=365, interval_min=15,
        peak_kw=71.5, power_factor=0.9, occupied=True, seasonal_included=True,
        note="Net of the roof array: the meter sees only the difference.",
    )  # fmt: skip
    gutter = b.bus("Service gutter", form="gutter", location="Electrical room")
    outside = old_wires("350", 38, "4/0", "none", "3", sets=3, wet=True, outdoors=True)
    b.run(utility, meter, name="Service conductors 1, outside", **outside)
    b.run(meter, gutter, name="Service conductors 1, inside", **old_wires("350", 9, "4/0", "none", "3", sets=3))

    mains = {"service_disconnect": True, "service_rated": True, "neutral_bonded": True}
    main1 = fused(b, "Main 1", 600, 600, notes="Replaced 1998. Class J fuses read through the window.", **mains)
    main2 = fused(b, "Main 2, house", 200, 200, **mains)
    main3 = fused(
        b, "Main 3, hoist", 100, 100, interrupting_ka=None, load_break=None, **mains,
        notes="Fuse class not readable: the cover interlock is seized. Do not open under load before it is freed.",
    )  # fmt: skip
    b.run(
        gutter, main1, name="Conductors to Main 1", **old_wires("350", 4.5, "3/0", "none", "3", sets=2, sets_alike=True)
    )
    b.run(gutter, main2, name="Conductors to Main 2", **old_wires("3/0", 5, "1/0", "none", "2"))
    b.run(gutter, main3, name="Conductors to Main 3", **old_wires("2", 6, "8", "none", "1-1/4"))

    recorder = b.meter(
        "Recorder at Main 1",
        location="Electrical room",
        notes="Three-phase recording meter, left in place for 36 days.",
    )
    b.demand(
        recorder, source="Own recorder, highest phase", start="2026-01-05", end="2026-02-10", period_days=36,
        interval_min=15, peak_a=232, occupied=True, seasonal_included=True, note="No generation behind this point.",
    )  # fmt: skip
    board = b.bus(
        "Old main board", form="switchboard", rating_a=(600, "nameplate"), phases="ABC", terminal_c=(75, "assumed"),
        feed_position="end", all_listed=True, location="Electrical room",
        notes="Slate front replaced by steel in 1962. No short-circuit rating on it; the maker is gone.",
    )  # fmt: skip
    b.run(
        main1,
        recorder,
        name="Bus feeder, upper part",
        **old_wires("350", 3, "3/0", "2/0", "3", sets=2, sets_alike=True),
    )
    b.run(
        recorder,
        board,
        name="Bus feeder, lower part",
        **old_wires("350", 6, "3/0", "2/0", "3", sets=2, sets_alike=True),
    )
    b.reading(
        main1, SATURDAY, a_a=118, b_a=104, c_a=131, n_a=22, instrument=CLAMP, note="Shops closed, coolers running."
    )

    house(b, main2)
    hoist = b.load(
        "Freight hoist", load_class="motor", horsepower=(15, "nameplate"), phases="ABC", continuous=False,
        location="Hoist loft",
    )  # fmt: skip
    b.run(main3, hoist, name="Hoist feeder", **old_wires("4", 72, "none", "8", "1-1/4"))
    return board


def house(b: Builder, main2: Handle) -> None:
    """The house panel, the roof array that feeds back into it, and the chargers of a later phase."""
    panel = panelboard(b, "Panel H, house", 225, 22, "Electrical room", feed_position="end")
    b.run(main2, panel, name="Feeder H", **old_wires("3/0", 11, "1/0", "6", "2"))
    fill(b, panel, HOUSE, spares=(13, 14))
    b.reading(panel, SATURDAY, a_a=31, b_a=27, c_a=24, n_a=9, instrument=CLAMP)
    back = b.breaker(
        panel, 26, "Array breaker", 60, rating_a=100, interrupting_ka=(22, "nameplate"), voltage_rating="240",
        bus_end="opposite end", terminal_c=75, load_break=True, lockable=True,
    )  # fmt: skip
    roof = b.disconnect(
        "Array switch, roof door", form="switch", rating_a=(60, "nameplate"), poles=3, voltage_rating="240",
        load_break=True, lockable=True, terminal_c=75, location="Roof door", sccr_ka=(10, "nameplate"),
    )  # fmt: skip
    array = b.solar(
        "Roof array", output_a=(45, "nameplate"), output_kw=(16.2, "nameplate"), phases="ABC", interactive_listed=True,
        forms_grid=False, fault_factor=(1.2, "documents"), location="Main roof",
    )  # fmt: skip
    b.run(back, roof, name="Array conductors, inside", **wires("6", 85, "10", "10", "1"))
    b.run(roof, array, name="Array conductors, roof", **wires("6", 22, "10", "10", "1", wet=True, ambient_c=40))
    with b.status("future"), b.runs_like(material="copper", insulation="THWN-2", phases="ABC", size="2"):
        later = b.disconnect(
            "Charger switch", form="fused switch", rating_a=100, trip_a=90, poles=3, location="Yard wall"
        )
        cars = b.load("Yard chargers", load_class="ev charging", va=24000, phases="ABC", continuous=True)
        b.run(panel, later, name="Charger feeder", raceway="EMT")
        b.run(later, cars, name="Charger circuit", raceway="PVC-40")


def shops(b: Builder, board: Handle) -> None:
    """Feeders of the shops, and the packing panel that goes."""
    bakery = fused(b, "Ferry Bakery switch", 200, 150)
    b.joint(board, bakery)
    panel = panelboard(b, "Panel B, Ferry Bakery", 225, 22, "Ferry Bakery, back room")
    b.run(bakery, panel, name="Feeder B", **wires("1/0", 64, "1/0", "6", "2"))
    fill(b, panel, BAKERY, spares=(28, 29))
    b.reading(bakery, SATURDAY, a_a=58, b_a=49, c_a=66, n_a=14, instrument=CLAMP)

    tavern = fused(b, "Gull Tavern switch", 400, 225)
    b.joint(board, tavern)
    panel = panelboard(
        b, "Panel D, Gull Tavern", 225, 22, "Gull Tavern, cellar", neutral_bonded=(True, "measured"),
        notes="Green bonding screw found driven in.",
    )  # fmt: skip
    b.run(tavern, panel, name="Feeder D", **wires("4/0", 118, "4/0", "4", "2-1/2"))
    fill(b, panel, TAVERN, spares=(28, 29))
    b.reading(tavern, SATURDAY, a_a=41, b_a=44, c_a=37, n_a=6, instrument=CLAMP)

    cycles(b, board)
    with b.status("remove"):
        packing = b.disconnect(
            "Packing line pull-out", form="fused switch", rating_a=60, poles=3, location="Electrical room",
            notes="Handle broken off. Fuses not seen.",
        )  # fmt: skip
        b.joint(board, packing)
        gone = b.bus("Packing line panel", spaces=12, phases="ABC", location="Old packing floor")
        b.run(packing, gone, name="Packing feeder", **wires("6", None, "6", "raceway", "1-1/4", insulation="RHW"))
        b.spare(gone, 1, 30, poles=3)


def cycles(b: Builder, board: Handle) -> None:
    """The workshop whose panel nobody could trace completely."""
    switch = fused(b, "Net Loft Cycles switch", 100, 100, interrupting_ka=None, notes="Fuse labels painted over.")
    b.joint(board, switch)
    panel = panelboard(b, "Panel C, Net Loft Cycles", 125, 10, "Net Loft Cycles, stair", spaces=24, neutral_bonded=None)
    b.run(switch, panel, name="Feeder C", **wires("1", None, "1", "raceway", "1-1/2"))
    fill(b, panel, CYCLES, spares=(12,))
    for space, text in ((11, "Not labeled, wire leaves upward"), (13, "Old net loft, not traced")):
        b.circuit(panel, space, text, 20, va=1500, load_class="other", continuous=True, traced="untraced",
                  note="Not traced: a full circuit is assumed.")  # fmt: skip
    b.reading(switch, SATURDAY, a_a=12, b_a=4.4, c_a=9.1, n_a=7.8, instrument=CLAMP)


def standby(b: Builder, board: Handle) -> None:
    """The cold store's tap, the transfer switch, and the generator in the yard."""
    cold = fused(
        b, "Cold store switch", 100, 100, interrupting_ka=(10, "nameplate"), sccr_ka=(10, "nameplate"),
        location="Beside the old main board", notes="Class H fuses of the first installation.",
    )  # fmt: skip
    b.run(
        board, cold, name="Cold store tap", leaves_enclosure=True, notes="Runs behind the board: not measured.",
        **old_wires("2", None, "2", "raceway", "2"),
    )  # fmt: skip
    transfer = b.transfer(
        "Transfer switch", rating_a=(150, "nameplate"), withstand_ka=(42, "nameplate"), automatic=True,
        location="Cold store lobby", notes="Cover not opened: pole count unknown.",
    )  # fmt: skip
    b.run(cold, transfer.at("normal"), name="Feeder to transfer switch", **wires("3", 31, "3", "8", "1-1/2"))
    panel = panelboard(b, "Panel S, standby", 125, 22, "Cold store lobby", spaces=24)
    b.run(transfer, panel, name="Feeder S", **wires("3", 7, "3", "8", "1-1/2"))
    fill(b, panel, STANDBY, spares=(10, 11))
    cooler = b.breaker(
        panel, 14, "Cold store unit breaker", 40, rating_a=100, interrupting_ka=(22, "nameplate"), voltage_rating="240",
        terminal_c=75, lockable=True,
    )  # fmt: skip
    unit = b.load(
        "Cold store condensing unit", load_class="hvac", mca_a=(28.4, "nameplate"), mocp_a=(45, "nameplate"),
        phases="ABC", continuous=False, location="Yard",
    )  # fmt: skip
    outside = wires("8", 54, "none", "10", "3/4", raceway="LFMC", wet=True, ambient_c=35)
    b.run(cooler, unit, name="Cold store unit circuit", **outside)
    engine = b.generator(
        "Yard generator", system="208Y/120", kva=(45, "nameplate"), xd_pct=(12, "nameplate"), location="Yard",
        notes="Jumper inside not seen.",
    )  # fmt: skip
    breaker = b.disconnect(
        "Generator breaker", rating_a=(150, "nameplate"), trip_a=(100, "nameplate"), poles=3, voltage_rating="240",
        interrupting_ka=(10, "nameplate"), terminal_c=75, load_break=True, lockable=True, location="At the generator",
    )  # fmt: skip
    b.joint(engine, breaker)
    b.run(breaker, transfer.at("alternate"), name="Generator feeder", **wires("1/0", 96, "1/0", "4", "2"))
    b.reading(panel, SATURDAY, a_a=24, b_a=26, c_a=19, n_a=6, instrument=CLAMP, note="Compressor running.")


def service_two(b: Builder) -> None:
    """The dock office has a service of its own, and perhaps a wire in common with the workshop."""
    utility = b.service(
        "Service 2, dock", system="120/240-1", meter="W-2210", location="Pier head",
        notes="Transformer on the pier; the utility has not answered yet.",
    )  # fmt: skip
    meter = b.meter("Meter W-2210", number="W-2210", location="Pier head")
    b.demand(
        meter, source="Utility interval data", start="2025-02-01", end="2026-01-31", period_days=365, interval_min=15,
        peak_kw=6.4, power_factor=0.95, occupied=True, seasonal_included=True,
    )  # fmt: skip
    main = b.disconnect(
        "Dock main", rating_a=(100, "nameplate"), trip_a=(100, "nameplate"), poles=2, voltage_rating="120/240",
        interrupting_ka=(10, "nameplate"), terminal_c=75, service_disconnect=True, service_rated=True, load_break=True,
        lockable=True, neutral_bonded=True, location="Pier head",
    )  # fmt: skip
    panel = panelboard(b, "Panel K, dock office", 125, 10, "Dock office", phases="AB", spaces=20)
    pier = {"material": "aluminum", "insulation": "XHHW-2", "raceway": "PVC-40", "wet": True, "phases": "AB",
            "current_carrying": 2}  # fmt: skip
    b.run(utility, meter, name="Service conductors 2, outside", **wires("1/0", 26, "1/0", "none", "1-1/2", **pier))
    b.run(meter, main, name="Service conductors 2, inside", **wires("1/0", 3, "1/0", "none", "1-1/2", **pier))
    b.run(main, panel, name="Feeder K", **wires("1/0", 41, "1/0", "4", "1-1/2", **pier, egc_material="aluminum"))
    fill(b, panel, DOCK, spares=(8,))
    for space, text in ((10, "Not labeled, pipe into the pier deck"), (12, "Marked ice chute, not traced")):
        b.circuit(panel, space, text, 20, traced="untraced")
    b.tie(
        "Panel C, Net Loft Cycles", panel, name="Net loft stair light", traced="untraced",
        notes="The stair light goes out with either panel.",
    )  # fmt: skip


def annex(b: Builder, board: Handle) -> None:
    """The remodel: a fused switch tapped from the old board, and the annex panel behind it.

    No breaker can be had for the board. The first thought was the 10-ft rule; the switch had to go around the column.
    """
    with b.status("new"):
        switch = b.disconnect(
            "Annex switch", form="fused switch", rating_a=200, trip_a=200, poles=3, voltage_rating="240",
            interrupting_ka=200, sccr_ka=100, terminal_c=75, load_break=True, lockable=True, service_disconnect=False,
            neutral_bonded=False, location="Electrical room, beyond the column", handle_ft=5.5, readily_accessible=True,
            excluded_place=False, work_depth_ft=4, work_width_ft=3, work_height_ft=8, work_opposite="live parts",
            equipment_width_ft=1.5, equipment_height_ft=3,
        )  # fmt: skip
        b.run(
            board, switch, name="Annex tap", leaves_enclosure=True, **wires("250", 12 + 4 / 12, "250", "1", "3"),
            notes="Measured along the route around the column, drops included.",
        )  # fmt: skip
        panel = b.bus(
            "Panel R, bakery annex", rating_a=225, sccr_ka=22, breakers_ka=22, phases="ABC", spaces=42, terminal_c=75,
            neutral_bonded=False, line_side_barrier=True, location="Bakery annex, passage", work_depth_ft=3.5,
            work_width_ft=2.5, work_height_ft=7, work_opposite="grounded parts", dedicated_clear=True,
            equipment_width_ft=1.75, equipment_height_ft=5,
        )  # fmt: skip
        b.run(switch, panel, name="Feeder R", **wires("3/0", 76, "3/0", "6", "2-1/2"))
        fill(b, panel, ANNEX, spares=(24, 25, 26), status="new")
        breaker = b.breaker(
            panel, 37, "Annex rooftop unit breaker", 40, rating_a=100, interrupting_ka=22, voltage_rating="240",
            terminal_c=75, lockable=True,
        )  # fmt: skip
        unit = b.load(
            "Annex rooftop unit", load_class="hvac", mca_a=29.8, mocp_a=45, phases="ABC", continuous=False,
            location="Annex roof",
        )  # fmt: skip
        roof = wires("8", 48, "none", "10", "3/4", wet=True, ambient_c=40)
        b.run(breaker, unit, name="Annex rooftop unit circuit", **roof)


def outage(b: Builder) -> None:
    """The Saturday on which the lugs of the tap are bolted to the old board, and the pull-out that nobody can turn comes off.

    Main 1 parts the board from the pole. The stair light that goes out with either panel may carry the dock's service into
    the workshop's panel, and so on to the board.
    """
    b.zone(
        "Lugs of the annex tap on the old main board", ("Old main board", "Packing line pull-out"), begins="2026-04-25 05:30",
        work_min=150.0, step_min=3.0, lead="P. Aldine", second="M. Quill", crew="P. Aldine, M. Quill, one apprentice",
        contact="P. Aldine, 555 0117", utility_contact="555 0160, district office",
        notes="Shops are closed until noon. The tenant of the cold store takes the ice out the evening before.",
    )  # fmt: skip
