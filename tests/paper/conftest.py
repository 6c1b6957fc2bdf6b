"""An invented building for the papers: an old mill with two services, an array, a generator and an addition."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import pytest

from oneline.api import Builder, Handle
from oneline.model import Drawing
from oneline.network import build_network
from oneline.network.live import live_state
from oneline.rules.verdict import Verdict
from oneline.sheet import Picture, build_picture
from oneline.study import PointFigures, StudyResult

PRINTED_AT = datetime(2026, 3, 14, 9, 26)

_ROOMS = ("101", "102", "103", "north hall", "loading dock", "boiler room", "stair 2", "loft west", "loft east", "yard")
_USES = ("lighting", "receptacles", "unit heater", "roof fan", "bench outlets", "door operator", "exit signs", "hoist")


@dataclass(frozen=True)
class Case:
    """A drawing with its study and picture, ready for the printer."""

    drawing: Drawing
    result: StudyResult
    picture: Picture


def _circuits(count: int, poles_every: int = 9) -> list[dict[str, object]]:
    """Circuits for ``count`` spaces: some of three poles, spares, spaces, untraced and by label only."""
    rows: list[dict[str, object]] = []
    taken: set[int] = set()
    for space in range(1, count + 1):
        if space in taken:
            continue
        poles = 3 if space % poles_every == 0 and space + 4 <= count and not {space + 2, space + 4} & taken else 1
        taken.update(space + 2 * k for k in range(poles))
        row: dict[str, object] = {"space": space, "poles": poles, "trip_a": 20.0 if poles == 1 else 60.0}
        if space % 11 == 0:
            row["use"] = "spare"
        elif space % 13 == 0:
            row |= {"use": "space", "trip_a": None}
        elif space % 7 == 0:
            row |= {"description": "", "traced": "untraced"}
        else:
            row["description"] = f"{_USES[space % len(_USES)].capitalize()}, {_ROOMS[space % len(_ROOMS)]}"
            row["traced"] = "traced" if space % 2 else "labeled only"
        rows.append(row)
    return rows


def _fill(b: Builder, panel: Handle, rows: list[dict[str, object]]) -> None:
    for row in rows:
        fields: dict[str, Any] = dict(row)
        b.circuit(panel, fields.pop("space"), fields.pop("description", ""), fields.pop("trip_a"), **fields)


def build_mill(spaces: int = 30, panels: int = 2) -> Drawing:
    """The building: about 40 items with two services, array, generator, transfer switch and a suspected tie."""
    b = Builder(
        "Cobble Street Mill", edition=2023, address="14 Cobble Street, Fairhaven", sheet_number="E1", prepared_by="R. Almond",
        contractor="Almond & Daughters Electric", license_no="C10-000000", phone="555 0134", permit_no="B-2291",
        verified_by="R. Almond", as_of="2026-03-12",
    )  # fmt: skip
    utility = b.service("North service", system="208Y/120", fault_ka=31.4, location="north vault", meter="4471 882")
    main = b.disconnect("M1", form="fused switch", rating_a=800, trip_a=800, poles=3, location="electrical room 101")
    board = b.bus("MDP", form="switchboard", rating_a=800, sccr_ka=42, location="electrical room 101")
    b.run(utility, main, size="500", sets=2, material="copper", insulation="THW", length_ft=35, raceway="RMC")
    b.joint(main, board)
    for n in range(1, panels + 1):
        feeder = b.disconnect(f"F{n}", trip_a=225, poles=3, interrupting_ka=22, space=n)
        panel = b.bus(f"LP-{n}", rating_a=225, spaces=spaces, location=f"corridor {n}")
        b.joint(board, feeder)
        b.run(
            feeder,
            panel,
            size="4/0",
            material="copper",
            insulation="THHN",
            length_ft=60.0 + n,
            raceway="EMT",
            raceway_size="2",
        )
        _fill(b, panel, _circuits(spaces))
    array = b.solar("Roof array", output_kw=30.0, output_a=83.0, forms_grid=False, location="roof, loft east")
    array_switch = b.disconnect(
        "AC disconnect", form="fused switch", rating_a=200, trip_a=110, poles=3, location="roof hatch"
    )
    array_breaker = b.disconnect("F9", trip_a=110, poles=3)
    b.run(array, array_switch, size="1", material="copper", insulation="THWN-2", length_ft=12)
    b.run(array_switch, array_breaker, size="1", material="copper", insulation="THWN-2", length_ft=90)
    b.joint(array_breaker, board)
    generator = b.generator("Yard generator", system="208Y/120", kva=60, location="yard")
    transfer = b.transfer("ATS-1", rating_a=200, automatic=True, location="boiler room")
    standby_feeder = b.disconnect("F8", trip_a=150, poles=3)
    standby = b.bus("SP", rating_a=200, spaces=12, location="boiler room")
    b.joint(board, standby_feeder)
    b.run(standby_feeder, transfer.at("normal"), size="1/0", material="copper", insulation="THHN", length_ft=45)
    b.run(generator, transfer.at("alternate"), size="1/0", material="copper", insulation="THHN")
    b.run(transfer, standby, size="1/0", material="copper", insulation="THHN", length_ft=8)
    _fill(b, standby, _circuits(12))
    second = b.service("South service", system="120/240-1", location="south wall", meter="9920 014")
    second_main = b.disconnect("M2", form="breaker", trip_a=100, poles=2, location="south wall")
    shop = b.bus("Shop panel", rating_a=125, spaces=16, location="shop")
    b.run(second, second_main, size="1", material="copper", insulation="THW", length_ft=15)
    b.joint(second_main, shop)
    _fill(b, shop, _circuits(16))
    b.tie(shop, None, name="Old conduit")
    with b.status("new"):
        tap = b.disconnect("S1", form="fused switch", rating_a=200, trip_a=200, poles=3, location="electrical room 101")
        bakery = b.bus("Bakery panel", rating_a=225, spaces=20, location="bakery")
        b.run(
            board,
            tap,
            size="3/0",
            material="copper",
            insulation="THWN-2",
            length_ft=12 + 4 / 12,
            raceway="EMT",
            raceway_size="2",
        )
        b.run(
            tap,
            bakery,
            size="3/0",
            material="copper",
            insulation="THWN-2",
            length_ft=80,
            raceway="EMT",
            raceway_size="2",
        )
        _fill(
            b, bakery, [{"space": n, "trip_a": 20.0, "description": f"Oven {n}", "status": "new"} for n in range(1, 9)]
        )
    with b.status("remove"):
        old = b.disconnect("F5", trip_a=60, poles=3)
        b.joint(board, old)
    return b.drawing


def study_of(drawing: Drawing, view: str = "proposed", fault_a: float | None = 14_210.0) -> StudyResult:
    """A study with what the papers read: who is live from whom, fault currents, one finding of each kind."""
    shown = drawing.view(view)
    net = build_network(shown)
    live = live_state(net)
    points = {}
    for n, item in enumerate(shown.items.values()):
        sides = {t: tuple(sorted(s)) for t, s in live.sides(item.id).items()}
        unknown = item.name == "Shop panel"
        points[item.id] = PointFigures(
            id=item.id, name=drawing.name_of(item.id), kind=item.kind, system="208Y/120", phases="ABC",
            live_from=tuple(sorted(set().union(*sides.values()))) if sides else (), live_sides=sides,
            load_a={"A": 120.0 + n, "B": 118.0, "C": 99.5}, available_a={"A": 41.0, "B": 50.0, "C": 61.0},
            fault_a=None if unknown else fault_a, fault_duty_a=None if unknown else fault_a, fault_bound_a=None,
            needs=("fault current of the South service", "ambient temperature along Feeder 3") if unknown else (),
            fault_needs=("fault current of the South service",) if unknown else (),
        )  # fmt: skip
    marked = [i.id for i in shown.items.values() if i.kind == "disconnect"]
    verdicts = tuple(
        Verdict(
            rule="TAP-10",
            section="240.21(B)(1)",
            edition=2023,
            subject=s,
            name=drawing.name_of(s),
            state=state,
            message="m",
        )
        for s, state in zip(marked, ("fail", "unknown", "judge", "advice"), strict=False)
    )
    return StudyResult(drawing.project.edition, view, points, verdicts, tuple(net.sources))


def case_of(drawing: Drawing, view: str = "proposed", result: StudyResult | None = None) -> Case:
    result = result or study_of(drawing, view)
    return Case(drawing, result, build_picture(drawing, result, view))


@pytest.fixture(scope="session")
def mill() -> Case:
    return case_of(build_mill())


@pytest.fixture(scope="session")
def small_mill() -> Case:
    return case_of(build_mill(spaces=12, panels=1))


@pytest.fixture(scope="session")
def large_mill() -> Case:
    return case_of(build_mill(spaces=42, panels=7))


@pytest.fixture(scope="session")
def mill_existing() -> Case:
    return case_of(build_mill(), "existing")
