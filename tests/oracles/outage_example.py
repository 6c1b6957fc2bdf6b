"""A planned outage written by hand: an invented building, its zone, and the plan that a person would make for it.

No part of the program made any of this; papers, reports and schemas are tried with it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from oneline.api import Builder
from oneline.model import Drawing, WorkZone
from oneline.outage.results import (
    DarkItem,
    Isolation,
    IsolationPoint,
    OrderProblem,
    Pair,
    Plan,
    ReadingNote,
    Spare,
    Step,
    SwitchCurrent,
    TestCard,
    ZoneAnswer,
)

ZONE = "zone900"
PAIRS = ("A-B", "B-C", "C-A", "A-N", "B-N", "C-N", "A-G", "B-G", "C-G", "N-G")


def ropewalk() -> tuple[Drawing, dict[str, str]]:
    """An invented hall: one service, an array on a feeder, a generator behind a transfer switch. Ids by short names."""
    b = Builder(
        "Ropewalk Hall", edition=2023, address="2 Hemp Lane, Fairhaven", contractor="Almond & Daughters Electric",
        phone="555 0134", prepared_by="R. Almond", sheet_number="E-2", license_no="C10-000000",
    )  # fmt: skip
    room = "Electrical room 101"
    utility = b.service("North service", system="208Y/120", location="North vault")
    main = b.disconnect(
        "Main M1", form="fused switch", rating_a=800, trip_a=800, poles=3, location=room, load_break=True
    )
    board = b.bus("Main distribution board", form="switchboard", rating_a=800, location=room)
    b.run(utility, main, size="500", sets=2, material="copper", insulation="THW")
    b.joint(main, board)
    ids = {"utility": utility.id, "main": main.id, "board": board.id}
    for key, name, place in (
        ("shop", "Rope shop", "North hall"), ("cafe", "Harbor café", "Ground floor west"),
        ("loft", "Loft studios", "Second floor"),
    ):  # fmt: skip
        feeder = b.disconnect(f"{name} feeder", trip_a=225, poles=3, location=room)
        panel = b.bus(f"Panel {name}", rating_a=225, spaces=12, location=place)
        b.joint(board, feeder)
        b.run(feeder, panel, size="4/0", material="copper", insulation="THHN")
        b.circuit(panel, 1, f"Lights, {place.lower()}", 20, va=900)
        ids |= {f"{key} feeder": feeder.id, f"{key} panel": panel.id}
    array = b.solar("Roof array", output_kw=30, output_a=83, location="Main roof")
    roof = b.disconnect("Array switch", form="fused switch", rating_a=200, trip_a=110, poles=3, location="Roof hatch")
    b.run(array, roof, size="1", material="copper")
    b.run(roof, board, size="1", material="copper")
    generator = b.generator("Yard generator", system="208Y/120", kva=60, location="Yard")
    transfer = b.transfer("Transfer switch", rating_a=200, automatic=True, location="Boiler room")
    standby = b.disconnect("Standby feeder", trip_a=150, poles=3, location=room)
    panel = b.bus("Panel SP, standby", rating_a=200, spaces=12, location="Boiler room")
    b.circuit(panel, 1, "Exit lights, all floors", 20, va=400)
    b.joint(board, standby)
    b.run(standby, transfer.at("normal"), size="1/0", material="copper")
    b.run(generator, transfer.at("alternate"), size="1/0", material="copper")
    b.run(transfer, panel, size="1/0", material="copper")
    elevator = b.load("Elevator", load_class="elevator", horsepower=20, phases="ABC", location="Stair tower")
    b.run("Panel Loft studios", elevator, size="2", material="copper")
    ids |= {
        "array": array.id, "roof": roof.id, "generator": generator.id, "transfer": transfer.id, "standby": standby.id,
        "sp": panel.id, "elevator": elevator.id,
    }  # fmt: skip
    zone = WorkZone(
        id=ZONE, name="New lugs on the main distribution board", items=(ids["board"],), begins="2026-04-18 06:00",
        work_min=120.0, step_min=4.0, lead="R. Almond", second="T. Quince", crew="R. Almond, T. Quince, an apprentice",
        contact="R. Almond, 555 0134", utility_contact="555 0190",
    )  # fmt: skip
    return b.drawing.with_zone(zone), ids


def _points(ids: dict[str, str]) -> tuple[IsolationPoint, ...]:
    room = "Electrical room 101"
    return (
        IsolationPoint(
            ids["main"], "Main M1", room, (ids["main"],), 12, ("leaves 5 panels without power",), (ids["utility"],),
            live_sides={"line": (ids["utility"],)}, lock="L1",
        ),
        IsolationPoint(
            ids["roof"], "Array switch", "Roof hatch", (ids["roof"],), 3, (), (ids["array"],),
            live_sides={"line": (ids["array"],)}, lock="L2",
        ),
        IsolationPoint(
            ids["standby"], "Standby feeder", room, (ids["standby"],), 6, ("nobody said whether it can be locked",),
            (ids["generator"],), live_sides={"load": (ids["generator"],)}, lock="L3",
        ),
    )  # fmt: skip


def _steps(ids: dict[str, str]) -> tuple[Step, ...]:
    room = "Electrical room 101"
    made: list[dict[str, Any]] = [
        {"part": "prepare", "action": "tell", "words": "Tell the occupants and the fire alarm company", "minute": 0.0},
        {"part": "prepare", "action": "inhibit", "words": "Set the Yard generator to off at its control", "place": "Yard",
         "item": ids["generator"], "name": "Yard generator"},
        {"part": "prepare", "action": "measure", "words": "Clamp every conductor of Main M1", "place": room,
         "item": ids["main"], "name": "Main M1", "hold": True},
        {"part": "shed", "action": "shed", "words": "Send the elevator to the ground floor and stop it there",
         "item": ids["elevator"], "name": "Elevator", "place": "Stair tower", "state": "advice",
         "why": "Somebody may be in it: look first."},
        *({"part": "open", "action": "open", "words": f"Open {name} feeder", "item": ids[f"{key} feeder"], "place": room,
           "name": f"{name} feeder", "rating_a": 225.0, "current": current, "dark": (ids[f"{key} panel"],)}
          for key, name, current in (
              ("shop", "Rope shop", SwitchCurrent(61.0, None, "reading", "clamp reading of 2026-04-11 07:10, phase B")),
              ("cafe", "Harbor café", SwitchCurrent(148.2, None, "calculated", "calculated load, no reading")),
              ("loft", "Loft studios", SwitchCurrent(None, 225.0, "unknown", "no reading, load not entered",
                                                     ("load of circuit 4",))))),
        {"part": "open", "action": "open", "words": "Open Standby feeder", "item": ids["standby"], "name": "Standby feeder",
         "place": room, "rating_a": 150.0, "current": SwitchCurrent(31.0, None, "reading", "clamp reading"),
         "state": "unknown", "why": "Nobody said whether it may open under load: bring the current to zero first.",
         "lock": "L3"},
        {"part": "open", "action": "open", "words": "Open Array switch", "item": ids["roof"], "name": "Array switch",
         "place": "Roof hatch", "rating_a": 200.0, "current": SwitchCurrent(0.0, None, "none left", ""), "lock": "L2"},
        {"part": "open", "action": "open", "words": "Open Main M1", "item": ids["main"], "name": "Main M1", "place": room,
         "rating_a": 800.0, "current": SwitchCurrent(0.0, None, "none left", ""), "lock": "L1", "dark": (ids["board"],)},
        *({"part": "lock", "action": "lock", "words": f"Lock and tag {name}", "item": ids[key], "name": name, "place": place,
           "lock": lock} for key, name, place, lock in (
               ("main", "Main M1", room, "L1"), ("roof", "Array switch", "Roof hatch", "L2"),
               ("standby", "Standby feeder", room, "L3"))),
        {"part": "test", "action": "test", "words": "Test Main distribution board for absence of voltage, all pairs",
         "item": ids["board"], "name": "Main distribution board", "place": room, "hold": True, "back_out": True},
        {"part": "work", "action": "work", "words": "Carry out the work on the Main distribution board", "place": room},
        {"part": "check", "action": "clear", "words": "Tools, grounds and people are away; covers are on", "place": room,
         "hold": True},
        {"part": "check", "action": "unlock", "words": "Each owner takes the own lock off", "place": room},
        {"part": "close", "action": "close", "words": "Close Main M1 with every feeder open", "item": ids["main"],
         "name": "Main M1", "place": room, "rating_a": 800.0, "back": (ids["board"],)},
        {"part": "close", "action": "verify", "words": "Measure all voltages and the phase rotation", "place": room},
        *({"part": "close", "action": "close", "words": f"Close {name} feeder", "item": ids[f"{key} feeder"], "place": room,
           "name": f"{name} feeder", "rating_a": 225.0, "back": (ids[f"{key} panel"],)}
          for key, name in (("loft", "Loft studios"), ("cafe", "Harbor café"), ("shop", "Rope shop"))),
        {"part": "close", "action": "close", "words": "Close Standby feeder", "item": ids["standby"],
         "name": "Standby feeder", "place": room, "rating_a": 150.0},
        {"part": "close", "action": "start source", "words": "Close Array switch", "item": ids["roof"],
         "name": "Array switch", "place": "Roof hatch", "rating_a": 200.0},
        {"part": "close", "action": "enable", "words": "Set the Yard generator back to automatic", "place": "Yard"},
    ]  # fmt: skip
    steps = []
    minute = 0.0
    for n, values in enumerate(made, 1):
        values = {"key": f"{values['action']}:{values.get('item', n)}", "number": n, "minute": minute, **values}
        steps.append(Step(**values))
        minute += 120.0 if values["part"] == "work" else 4.0
    return tuple(steps)


def example() -> tuple[Drawing, Plan]:
    """The drawing with its zone, and the plan."""
    drawing, ids = ropewalk()
    zone = drawing.zone(ZONE)
    points = _points(ids)
    dark_ids = ("shop panel", "cafe panel", "loft panel", "elevator", "board")
    isolation = Isolation(
        points,
        21,
        (ids["board"],),
        tuple(ids[k] for k in dark_ids),
        "No closed way from any source to the board is left.",
    )
    answer = ZoneAnswer(
        zone, "existing", "isolated", frozenset({3}), (isolation,), listed=("circuit 7 of Panel Loft studios",)
    )
    live = {"AB": 208.0, "AN": 120.0}
    pairs = tuple(
        Pair(p, p.replace("-", "").lower() + "_v", 0.0 if p == "N-G" else live["AN" if p[2] in "NG" else "AB"], "0 V")
        for p in PAIRS
    )
    cards = (
        TestCard(ids["board"], "bus", "Main distribution board", "Electrical room 101", "208Y/120",
                 (ids["utility"], ids["array"], ids["generator"]), pairs),
        TestCard(ids["main"], "line", "Main M1", "Electrical room 101", "208Y/120", (ids["utility"],),
                 tuple(replace(p, expected=f"{p.live_v:.0f} V: stays live from North service") for p in pairs),
                 ("Stays live: the utility feeds this side with every point open.",)),
        TestCard(ids["main"], "load", "Main M1", "Electrical room 101", "208Y/120", (ids["utility"],), pairs),
        TestCard(ids["roof"], "load", "Array switch", "Roof hatch", "208Y/120", (ids["array"],), pairs),
        TestCard(ids["standby"], "load", "Standby feeder", "Electrical room 101", "", (), tuple(
            replace(p, live_v=None, expected="not known") for p in pairs)),
    )  # fmt: skip
    dark = tuple(
        DarkItem(ids[key], drawing.name_of(ids[key]), place, first, last, at, to, matters)
        for key, place, first, last, at, to, matters in (
            ("shop panel", "North hall", 5, 23, 16.0, 204.0, ""),
            ("cafe panel", "Ground floor west", 6, 22, 20.0, 200.0, "refrigeration"),
            ("loft panel", "Second floor", 7, 21, 24.0, 196.0, ""),
            ("elevator", "Stair tower", 4, 21, 12.0, 196.0, "elevator"),
            ("board", "Electrical room 101", 10, 19, 36.0, 188.0, ""),
        )
    )
    spares = (
        Spare(ids["main"], "Main M1", ("Transfer switch",), (ids["sp"],), ids["generator"], "pass",
              "If Main M1 does not close again: Panel SP, standby stays on the Yard generator; nothing else can be fed."),
    )  # fmt: skip
    notes = (
        ReadingNote(ids["main"], "Main M1", "advice", "Main M1: the phases differ by 23 %; the neutral fits them."),
    )
    return drawing, Plan(answer, isolation, _steps(ids), (), cards, dark, spares, notes)


def not_here(drawing: Drawing, plan: Plan) -> Plan:
    """The same zone where only the utility can make it dead: no isolation, no steps."""
    from oneline.outage.results import Blocked

    blocked = Blocked(plan.isolation.points[0].parts_from[0], "North service", "Only the utility can make this dead: North "
                      "service reaches it through no device on the premises.") if plan.isolation else None  # fmt: skip
    answer = replace(plan.answer, state="not here", alternatives=(), blocked=(blocked,) if blocked else ())
    return Plan(answer, None)


def hard(drawing: Drawing, plan: Plan) -> tuple[Drawing, Plan]:
    """Sixty steps, long names, names the font lacks, figures that nobody knows, a bad order."""
    long = "Feeder to the former rope walk and the tenants of the northern extension, second and third floor, west side"
    kana = "配電盤 №7 щит ΔΩ"
    zone = replace(
        plan.answer.zone, name=f"{kana} {long}", begins="some Saturday in spring", notes="A note that goes on and on. " * 30,
        lead=long, second=kana, crew=long * 2, contact=long, utility_contact=kana,
    )  # fmt: skip
    base = plan.steps[6]
    steps = tuple(
        replace(
            base, key=f"open:x{n}", number=n, part="open" if n <= 40 else "close", minute=None, rating_a=None,
            words=f"Open {long if n % 3 else kana} {n}", name=long, place=f"{kana}, {long}", hold=n % 20 == 0,
            back_out=n == 40,            state=("pass", "fail", "unknown", "judge", "advice")[n % 5], why=long, lock=f"L{n}",
            current=SwitchCurrent(None, None, "unknown", "nothing was entered or measured", (long, kana)),
            dark=tuple(i.id for i in drawing.items.values())[:25],
        )
        for n in range(1, 61)
    )  # fmt: skip
    points = tuple(
        replace(p, name=f"{long} {kana}", location=long, why=(long, kana), lock=f"L{n}", is_open=True,
                live_sides={"line": p.parts_from, "load": p.parts_from})
        for n, p in enumerate((plan.isolation.points if plan.isolation else ()) * 4, 1)
    )  # fmt: skip
    isolation = replace(plan.isolation, points=points, proof=long) if plan.isolation else None
    answer = replace(
        plan.answer, zone=zone, state="unknown", unknown=(long, kana), listed=(long,) * 3, missing=("bus77",)
    )
    dark = tuple(
        replace(
            plan.dark[0], name=f"{long} {n}", place=kana if n % 2 else long, from_min=None, to_min=None, last_step=None
        )
        for n in range(60)
    )
    cards = tuple(
        replace(c, name=long, place=f"{kana} {long}", system="", notes=(long, long, kana)) for c in plan.cards * 2
    )
    problem = OrderProblem("open:x3", long, ("open:x1",))
    spares = tuple(replace(s, says=f"{long} {kana}") for s in plan.spares * 3)
    return drawing.with_zone(zone), Plan(answer, isolation, steps, (problem,), cards, dark, spares, plan.notes)
