"""The bindery: a 480Y/277 service with a transformer to 208Y/120, and a second, smaller one for the new hand bindery.

Everything here is invented.
"""

from __future__ import annotations

from typing import Any

from cannery import note_empty_spaces

from oneline import Builder, Handle

READ = "2026-04-11 10:15"
CLAMP = "clamp meter, true rms"
Row = tuple[int, int, float, str, str, float, bool]

LIGHTS: list[Row] = [
    (1, 1, 20, "High bay lights, press hall rows 1 and 2", "lighting", 3300, True),
    (2, 1, 20, "High bay lights, press hall rows 3 and 4", "lighting", 3300, True),
    (3, 1, 20, "High bay lights, fold room", "lighting", 2900, True),
    (4, 1, 20, "High bay lights, sewing room", "lighting", 2700, True),
    (5, 1, 20, "High bay lights, paper store", "lighting", 2400, True),
    (6, 1, 20, "Dock and yard lights", "lighting", 1900, True),
    (7, 1, 20, "Egress lights, all rooms", "lighting", 900, True),
    (8, 3, 20, "Unit heater, dock door 1", "heat", 7500, False),
    (9, 3, 20, "Unit heater, dock door 2", "heat", 7500, False),
    (14, 3, 30, "Duct heater, sewing room", "heat", 15000, False),
]
OFFICE: list[Row] = [
    (1, 1, 20, "Receptacles, front office north", "receptacles", 1080, False),
    (2, 1, 20, "Receptacles, front office south", "receptacles", 1080, False),
    (3, 1, 20, "Receptacles, plate room", "receptacles", 900, False),
    (4, 1, 20, "Plate setter, plate room", "other", 1500, False),
    (5, 1, 20, "Server cabinet, plate room", "other", 1350, True),
    (6, 1, 20, "Receptacles, sewing benches 1 to 6", "receptacles", 1080, False),
    (7, 1, 20, "Receptacles, sewing benches 7 to 12", "receptacles", 1080, False),
    (8, 2, 30, "Glue pots, case room", "other", 3600, True),
    (9, 2, 30, "Foil stamping press, case room", "other", 3800, False),
    (12, 1, 20, "Lights, front office", "lighting", 1250, True),
    (13, 1, 20, "Lights, stairs and toilets", "lighting", 680, True),
    (14, 3, 40, "Laminator, fold room", "other", 9600, False),
    (15, 3, 30, "Shrink tunnel, packing", "heat", 8400, False),
    (20, 1, 20, "Receptacles, packing tables", "receptacles", 720, False),
    (21, 2, 30, "Water heater, janitor closet", "water heater", 4500, True),
    (22, 1, 20, "Lunch room counter", "receptacles", 1080, False),
    (24, 1, 20, "Lunch room refrigerator", "other", 700, False),
    (25, 1, 20, "Door operators, dock", "motor", 1100, False),
]
HAND: list[Row] = [
    (1, 1, 20, "Lights, hand bindery", "lighting", 1150, True),
    (2, 1, 20, "Receptacles, sewing frames", "receptacles", 720, False),
    (3, 1, 20, "Receptacles, gilding benches", "receptacles", 720, False),
    (4, 1, 20, "Receptacles, leather benches", "receptacles", 720, False),
    (5, 2, 30, "Finishing stoves", "heat", 4200, False),
    (6, 2, 20, "Nipping press heater", "heat", 2400, False),
    (9, 1, 20, "Fume extraction", "motor", 900, True),
    (10, 3, 30, "Paper dryer", "heat", 7200, False),
    (11, 1, 20, "Humidifier", "other", 1300, True),
    (13, 1, 20, "Receptacles, class table", "receptacles", 900, False),
]


def fill(b: Builder, panel: Handle, rows: list[Row], spares: tuple[int, ...] = ()) -> None:
    """Enter a panel's schedule; ``spares`` are single-pole 20 A breakers without a load."""
    for space, poles, trip, text, load_class, va, continuous in rows:
        b.circuit(
            panel, space, text, trip, poles=poles, va=va, load_class=load_class, continuous=continuous, traced="traced"
        )
    for space in spares:
        b.spare(panel, space, 20)


def copper(size: str, length_ft: float | None, egc: str, raceway_size: str, **more: Any) -> dict[str, Any]:
    """Conductors as this building has them: copper THWN-2 in EMT, 75 °C terminals."""
    measured = None if length_ft is None else (length_ft, "measured")
    return {
        "size": size, "length_ft": measured, "egc_size": egc, "raceway_size": raceway_size, "material": "copper",
        "insulation": "THWN-2", "raceway": "EMT", "phases": "ABC", "wet": False, "current_carrying": 3, "ambient_c": 30,
        "terminal_c": 75, "neutral_size": "none", "egc_material": None if egc in ("none", "raceway") else "copper", **more,
    }  # fmt: skip


def build() -> Builder:
    """The drawing, from the utility's pad down."""
    b = Builder(
        "Copperleaf Bindery",
        edition=2020,
        address="3 Folio Court, Wexbridge",
        sheet_number="E-1",
        prepared_by="L. Okonedo",
        contractor="Okonedo Power and Light Work",
        license_no="C10-00391 (invented)",
        permit_no="E26-112",
        as_of="2026-04-18",
    )
    board = service(b)
    machines(b, board)
    low_voltage(b, board)
    hand_bindery(b, board)
    note_empty_spaces(b)
    return b


def service(b: Builder) -> Handle:
    """Pad transformer, main breaker, switchboard."""
    utility = b.service(
        "Utility pad 18", system="480Y/277", fault_ka=(14.6, "documents"), fault_x_r=(4.8, "documents"),
        transformer_kva=(500, "nameplate"), location="North lawn", meter="KX-40112",
        notes="Available fault current from the utility's letter of 2026-03-02.",
    )  # fmt: skip
    meter = b.meter("Meter KX-40112", number="KX-40112", ct_ratio="800:5", location="North wall")
    b.demand(
        meter, source="Utility interval data", start="2025-04-01", end="2026-03-31", period_days=365, interval_min=15,
        peak_kw=268, power_factor=0.88, occupied=True, seasonal_included=True,
    )  # fmt: skip
    main = b.disconnect(
        "Main breaker", rating_a=(800, "nameplate"), trip_a=(700, "nameplate"), adjustable=False, poles=3,
        voltage_rating="480Y/277", interrupting_ka=(35, "nameplate"), full_rated=False, terminal_c=75,
        service_disconnect=True, service_rated=True, load_break=True, lockable=True, neutral_bonded=True,
        location="Switch room",
    )  # fmt: skip
    board = b.bus(
        "Switchboard MSB", form="switchboard", rating_a=(800, "nameplate"), sccr_ka=(35, "nameplate"), phases="ABC",
        terminal_c=75, feed_position="end", all_listed=True, neutral_bonded=False, location="Switch room",
    )  # fmt: skip
    like = {"sets": 2, "neutral_size": "3/0", "sets_alike": True}
    outside = copper("500", 64, "none", "4", raceway="PVC-80", wet=True, outdoors=True, **like)
    b.run(utility, meter, name="Service conductors, outside", **outside)
    b.run(meter, main, name="Service conductors, inside", **copper("500", 12, "none", "4", **like))
    b.joint(main, board)
    b.reading(main, READ, a_a=284, b_a=291, c_a=279, n_a=18, instrument=CLAMP, note="Both folders and press 1 running.")
    return board


def feeder(b: Builder, board: Handle, name: str, trip: float, frame: float, **more: Any) -> Handle:
    """A breaker on the switchboard."""
    device = b.disconnect(
        name, rating_a=(frame, "nameplate"), trip_a=(trip, "nameplate"), poles=3, voltage_rating="480Y/277",
        interrupting_ka=(25, "nameplate"), terminal_c=75, load_break=True, lockable=True, location="Switch room",
        adjustable=False, **more,
    )  # fmt: skip
    b.joint(board, device)
    return device


def machines(b: Builder, board: Handle) -> None:
    """Lighting at 277 V, the press panel, rooftop units, the compressor."""
    lights = feeder(b, board, "Lighting feeder", 125, 250)
    panel = b.bus(
        "Panel HL, lights", rating_a=(225, "nameplate"), sccr_ka=(14, "nameplate"), breakers_ka=(14, "nameplate"),
        phases="ABC", spaces=30, all_listed=True, terminal_c=75,
        neutral_bonded=False, location="Fold room",
    )  # fmt: skip
    b.run(lights, panel, name="Feeder HL", **copper("2", 88, "6", "1-1/2", neutral_size="2"))
    fill(b, panel, LIGHTS, spares=(15, 17, 19))
    b.reading(lights, READ, a_a=44, b_a=41, c_a=39, n_a=7, instrument=CLAMP)

    presses = feeder(b, board, "Press feeder", 350, 400)
    hall = b.bus(
        "Panel HP, presses", rating_a=(400, "nameplate"), sccr_ka=(14, "nameplate"), breakers_ka=(14, "nameplate"),
        phases="ABC", spaces=42, all_listed=True, terminal_c=75,
        neutral_bonded=False, location="Press hall",
    )  # fmt: skip
    b.run(presses, hall, name="Feeder HP", **copper("500", 132, "1", "3"))
    b.reading(presses, READ, a_a=148, b_a=151, c_a=146, instrument=CLAMP)
    motors: list[tuple[str, int, float, float, str, float, float | None]] = [
        # name, space, breaker A, horsepower, size, length ft, reading A
        ("Press 1", 1, 125, 50, "3", 46, 48),
        ("Press 2", 2, 125, 50, "3", 71, None),
        ("Folder 1", 7, 40, 15, "10", 38, 14.5),
        ("Folder 2", 8, 40, 15, "10", 52, 15.2),
        ("Guillotine", 13, 30, 10, "10", 84, None),
        ("Dust extraction", 14, 60, 25, "8", 97, 26.8),
    ]
    for name, space, trip, hp, size, length, amps in motors:
        device = b.breaker(
            hall, space, f"{name} breaker", trip, rating_a=150, interrupting_ka=(14, "nameplate"), voltage_rating="480Y/277",
            terminal_c=75, lockable=True,
        )  # fmt: skip
        load = b.load(name, load_class="motor", horsepower=(hp, "nameplate"), phases="ABC", continuous=True,
                      location="Press hall")  # fmt: skip
        egc, pipe = ("6", "1-1/4") if trip > 100 else ("10", "3/4")
        b.run(device, load, name=f"{name} circuit", **copper(size, length, egc, pipe))
        if amps is not None:
            b.reading(device, READ, a_a=amps, b_a=amps * 1.02, c_a=amps * 0.99, instrument=CLAMP)
    b.spare(hall, 19, 30, poles=3)

    for n, (mca, mocp, trip, size) in enumerate(((33.5, 45, 45, "8"), (41.2, 60, 60, "6")), start=1):
        device = feeder(b, board, f"Rooftop unit {n} breaker", trip, 100)
        unit = b.load(f"Rooftop unit {n}", load_class="hvac", mca_a=(mca, "nameplate"), mocp_a=(mocp, "nameplate"),
                      phases="ABC", continuous=False, location="Roof")  # fmt: skip
        b.run(
            device,
            unit,
            name=f"Rooftop unit {n} circuit",
            **copper(size, 110 + 15 * n, "10", "1", wet=True, ambient_c=40),
        )
    air = feeder(b, board, "Compressor breaker", 90, 100)
    tank = b.load("Air compressor", load_class="motor", horsepower=(40, "nameplate"), phases="ABC", continuous=True,
                  location="Switch room")  # fmt: skip
    b.run(
        air, tank, name="Compressor circuit", **copper("4", None, "8", "1", notes="Route under the slab, not measured.")
    )


def low_voltage(b: Builder, board: Handle) -> None:
    """The building's transformer and the office panel."""
    device = feeder(b, board, "T1 primary breaker", 175, 250)
    t1 = b.transformer(
        "T1", kva=(112.5, "nameplate"), z_pct=(4.6, "nameplate"), x_r=(2.4, "assumed"), primary_system="480Y/277",
        secondary_system="208Y/120", connection="delta-wye", neutral_bonded=True, location="Switch room",
    )  # fmt: skip
    b.run(device, t1, name="Feeder to T1", **copper("2/0", 21, "6", "2"))
    main = b.disconnect(
        "Panel LA main", rating_a=(400, "nameplate"), trip_a=(350, "nameplate"), adjustable=False, poles=3,
        voltage_rating="240",
        interrupting_ka=(22, "nameplate"), terminal_c=75, load_break=True, lockable=True, location="Switch room",
        neutral_bonded=False,
    )  # fmt: skip
    behind = copper("500", 9, "1/0", "3-1/2", neutral_size="500", leaves_enclosure=True)
    b.run(t1, main, name="T1 secondary", **behind)
    panel = b.bus(
        "Panel LA, office and benches", rating_a=(400, "nameplate"), sccr_ka=(10, "nameplate"), breakers_ka=(10, "nameplate"),
        phases="ABC", spaces=42, all_listed=True,
        terminal_c=75, neutral_bonded=False, location="Switch room",
    )  # fmt: skip
    b.joint(main, panel)
    fill(b, panel, OFFICE, spares=(26, 27, 28))
    b.reading(main, READ, a_a=88, b_a=79, c_a=93, n_a=21, instrument=CLAMP)


def hand_bindery(b: Builder, board: Handle) -> None:
    """The remodel: a breaker can be had here, so the question is the new transformer and its secondary conductors."""
    with b.status("new"):
        device = b.disconnect(
            "T2 primary breaker", rating_a=100, trip_a=70, poles=3, voltage_rating="480Y/277", interrupting_ka=25,
            terminal_c=75, load_break=True, lockable=True, location="Switch room",
        )  # fmt: skip
        b.joint(board, device)
        t2 = b.transformer(
            "T2", kva=45, z_pct=(5.0, "assumed"), x_r=(1.8, "assumed"), primary_system="480Y/277",
            secondary_system="208Y/120", connection="delta-wye", neutral_bonded=True, location="Hand bindery, on the wall",
        )  # fmt: skip
        b.run(device, t2, name="Feeder to T2", **copper("4", 148, "8", "1-1/4"))
        main = b.disconnect(
            "Panel LB main", rating_a=150, trip_a=150, poles=3, voltage_rating="240", interrupting_ka=10, terminal_c=75,
            load_break=True, lockable=True, neutral_bonded=False, location="Hand bindery",
        )  # fmt: skip
        behind = copper("1/0", 8.5, "6", "2", neutral_size="1/0", leaves_enclosure=True)
        b.run(t2, main, name="T2 secondary", **behind)
        panel = b.bus(
            "Panel LB, hand bindery", rating_a=225, sccr_ka=10, phases="ABC", spaces=30, terminal_c=75, neutral_bonded=False,
            line_side_barrier=True, location="Hand bindery",
        )  # fmt: skip
        b.joint(main, panel)
        fill(b, panel, HAND, spares=(15, 16, 17))
    with b.status("remove"):
        old = b.disconnect("Old lathe breaker", rating_a=100, trip_a=70, poles=3, location="Switch room")
        b.joint(board, old)
        lathe = b.load("Line shaft motor", load_class="motor", horsepower=20, phases="ABC", continuous=False)
        b.run(old, lathe, name="Line shaft circuit", **copper("4", None, "raceway", "1-1/4"))
    with b.status("future"):
        later = b.disconnect(
            "Press 3 breaker", rating_a=250, trip_a=150, adjustable=False, poles=3, location="Switch room"
        )
        b.joint(board, later)
        press = b.load("Press 3", load_class="motor", horsepower=60, phases="ABC", continuous=True)
        b.run(later, press, name="Press 3 circuit", **copper("1/0", None, "6", "2"))
