"""An invented old service of about eighty items, and an invented study of it, for the golden pictures.

The figures of the study are made up: the golden pictures show where things are drawn, not what is computed.
"""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

from oneline.model import Circuit, Connection, Drawing, End
from oneline.model.edits import add, connect
from oneline.model.vocabulary import RACEWAYS
from oneline.rules.verdict import Verdict
from oneline.study import PointFigures, StudyResult

_ONE_END = {"service": "out", "generator": "out", "solar": "out", "bus": "bus", "load": "in"}


class _Sheet:
    def __init__(self) -> None:
        self.drawing = Drawing()
        self.ids: dict[str, str] = {}

    def add(self, key: str, kind: str, **values: object) -> None:
        self.drawing, self.ids[key] = add(self.drawing, kind, **values)

    def link(self, a: str, b: str, *, into: str = "", **values: object) -> None:
        """Connect the load side of ``a`` to the line side of ``b``; a conductor run when a size is given."""
        kind_a, kind_b = self.drawing.get(self.ids[a]).kind, self.drawing.get(self.ids[b]).kind
        upper = End(self.ids[a], _ONE_END.get(kind_a, "load"))
        lower = End(self.ids[b], into or _ONE_END.get(kind_b, "normal" if kind_b == "transfer" else "line"))
        kind = "run" if "size" in values else "joint"
        self.drawing, _ = connect(self.drawing, upper, lower, kind=kind, **values)

    def run(
        self, a: str, b: str, size: str | None, length_ft: float | None, raceway: str = "EMT 2", **values: object
    ) -> None:
        name, trade = (raceway, None) if raceway in RACEWAYS else raceway.split(" ")
        self.link(a, b, size=size, length_ft=length_ft, material="copper", raceway=name, raceway_size=trade, **values)


def golden_drawing() -> Drawing:
    """Two services, an array, a standby generator, a remodel to come and a lift to go, with unknowns."""
    s = _Sheet()
    s.add("service", "service", name="Service 1", system="208Y/120", transformer_kva=300)
    s.add("meter", "meter", name="Meter 1", number="4471-A")
    s.add("main", "disconnect", name="Service switch", form="fused switch", rating_a=800, trip_a=800, poles=3,
          interrupting_ka=100, neutral_bonded=True)  # fmt: skip
    s.add("gutter", "bus", name="Main gutter", form="gutter", rating_a=800)
    s.run("service", "meter", "500", 30, "RMC 3", sets=2)
    s.link("meter", "main")
    s.run("main", "gutter", "500", 12 + 1 / 3, "within enclosure", sets=2)
    s.add("sail", "disconnect", name="Sail loft switch", form="fused switch", rating_a=200, trip_a=200, poles=3)
    s.add("sail-panel", "bus", name="Panel S", rating_a=225, sccr_ka=10, spaces=12, circuits=tuple(
        Circuit(space=n, trip_a=20, description=f"Bench {n}" if n % 5 else "", use="spare" if n == 12 else "load", va=900)
        for n in range(1, 13)
    ))  # fmt: skip
    s.run("gutter", "sail", "3/0", 12 + 1 / 3)
    s.run("sail", "sail-panel", "3/0", 42)
    s.add("net", "disconnect", name="Net store switch", form="fused switch", rating_a=100, trip_a=100, poles=3)
    s.add("net-panel", "bus", name="Panel N", sccr_ka=10)
    s.run("gutter", "net", "3", None)
    s.run("net", "net-panel", "3", 61, "EMT 1-1/4")
    s.drawing, _ = add(s.drawing, "tie", a=End(s.ids["net-panel"], "bus"), b=None)
    _house(s)
    _roof(s)
    _remodel(s)
    _second_service(s)
    return s.drawing


def _house(s: _Sheet) -> None:
    s.add("house", "disconnect", name="House main", trip_a=225, poles=3, interrupting_ka=22)
    s.add("house-panel", "bus", name="House panel H", rating_a=225, sccr_ka=22, neutral_bonded=True)
    s.run("gutter", "house", "4/0", 9.5)
    s.run("house", "house-panel", "4/0", 18.5, "EMT 2-1/2")
    s.add("h1", "disconnect", name="H-1,3,5", trip_a=60, poles=3, interrupting_ka=10)
    s.add("hoist", "load", name="Hoist", load_class="elevator", horsepower=15)
    s.link("house-panel", "h1")
    s.run("h1", "hoist", "6", 70, "EMT 1")
    s.add("h2", "disconnect", name="H-2,4,6", trip_a=70, poles=3, interrupting_ka=10)
    s.add("ats", "transfer", name="Standby switch", rating_a=100, automatic=True)
    s.add("standby", "bus", name="Standby panel", rating_a=100, sccr_ka=10)
    s.add("generator", "generator", name="Generator", kva=45, system="208Y/120")
    s.add("gen-breaker", "disconnect", name="Gen breaker", trip_a=125, poles=3, interrupting_ka=10)
    s.link("house-panel", "h2")
    s.run("h2", "ats", "4", 22, "EMT 1-1/4")
    s.link("generator", "gen-breaker")
    s.run("gen-breaker", "ats", "1", 55, "PVC-40 1-1/2", into="alternate")
    s.run("ats", "standby", "3", 8, "EMT 1-1/4")
    s.add(
        "h3",
        "disconnect",
        name="H-8,10,12",
        trip_a=50,
        poles=3,
        interrupting_ka=10,
        closed=False,
        bus_end="opposite end",
    )
    s.add("array", "solar", name="Roof array", output_a=36, output_kw=13)
    s.link("house-panel", "h3")
    s.run("h3", "array", "6", 120, "EMT 1")


def _roof(s: _Sheet) -> None:
    s.add("units", "disconnect", name="Roof units", form="switch", poles=3)
    s.add("roof", "bus", name="Roof gutter", form="gutter")
    s.run("gutter", "units", None, 14)
    s.run("units", "roof", "2/0", 80, "RMC 2")
    for n in (1, 2):
        s.add(f"f{n}", "disconnect", name=f"Unit {n} fuses", form="fused switch", rating_a=60, trip_a=45, poles=3)
        s.add(f"u{n}", "load", name=f"Unit {n}", load_class="hvac", va=12_000)
        s.run("roof", f"f{n}", "6", 6, "LFMC 1")
        s.run(f"f{n}", f"u{n}", "8", 6, "LFMC 3/4")


def _remodel(s: _Sheet) -> None:
    s.add("new", "disconnect", name="Remodel switch", form="fused switch", rating_a=100, trip_a=100, poles=3,
          interrupting_ka=200, status="new")  # fmt: skip
    s.add("new-panel", "bus", name="Panel R", rating_a=125, sccr_ka=22, status="new",
          basis=MappingProxyType({"sccr_ka": "assumed"}))  # fmt: skip
    s.run("gutter", "new", "3", 9, "EMT 1-1/4", status="new")
    s.run("new", "new-panel", "3", 55.5, "EMT 1-1/4", status="new")
    s.add("r1", "disconnect", name="R-1,3", trip_a=30, poles=2, interrupting_ka=10, status="new")
    s.add("kiln", "load", name="Kiln", load_class="heat", va=8000, status="new")
    s.link("new-panel", "r1", status="new")
    s.run("r1", "kiln", "10", 30, "EMT 3/4", status="new")
    s.add("r2", "disconnect", name="R-2,4", trip_a=40, poles=2, interrupting_ka=10, status="future")
    s.add("charger", "load", name="Charger", load_class="ev charging", va=7200, status="future")
    s.link("new-panel", "r2", status="future")
    s.run("r2", "charger", "8", 40, "EMT 3/4", status="future")
    s.add("old", "disconnect", name="Old winch fuses", form="fuses", trip_a=60, poles=3, status="remove")
    s.add("winch", "load", name="Old winch", load_class="motor", horsepower=5, status="remove")
    s.run("gutter", "old", "6", 11, "EMT 1", status="remove")
    s.run("old", "winch", "8", 50, "EMT 3/4", status="remove")


def _second_service(s: _Sheet) -> None:
    s.add("service2", "service", name="Service 2", system="120/240-1", fault_ka=10)
    s.add("meter2", "meter", name="Meter 2")
    s.add("flat", "disconnect", name="Flat main", trip_a=100, poles=2, interrupting_ka=10)
    s.add("flat-panel", "bus", name="Flat panel", rating_a=100, sccr_ka=10)
    s.run("service2", "meter2", "2", None, "RMC 1-1/4")
    s.link("meter2", "flat")
    s.link("flat", "flat-panel")
    for n, (name, group, va) in enumerate((("Range", "kitchen", 8000), ("Hall lights", "lighting", 600))):
        s.add(f"b{n}", "disconnect", name=name, trip_a=50 if n == 0 else 15, poles=2 - n, interrupting_ka=10)
        s.add(f"l{n}", "load", name=name, load_class=group, va=va)
        s.link("flat-panel", f"b{n}")
        s.run(f"b{n}", f"l{n}", "6" if n == 0 else "14", 30, "cable")


def golden_result(drawing: Drawing, view: str) -> StudyResult:
    """A made-up study: everything on the first service is live from it, three other sources reach their own parts."""
    shown = drawing.view(view)
    by_name = {i.name: i.id for i in shown.items.values() if i.name}
    sources = tuple(by_name[n] for n in ("Service 1", "Generator", "Roof array", "Service 2"))
    first, generator, array, second = sources
    second_side = _downstream(shown, second)
    points = {}
    for item in shown.items.values():
        ends = ("a", "b") if isinstance(item, Connection) else item.terminals
        own = second if item.id in second_side else first
        sides = dict.fromkeys(ends, (own,))
        if item.name in ("Generator", "Gen breaker"):
            sides = dict.fromkeys(ends, (generator,))
        elif item.name == "Standby switch":
            sides["alternate"] = (generator,)
        elif item.name == "H-8,10,12":
            sides["load"] = (array,)
        elif item.name == "Roof array":
            sides = dict.fromkeys(ends, (array,))
        if isinstance(item, Connection) and item.b is not None:
            tail, head = shown.get(item.a.item), shown.get(item.b.item)
            if tail.name in ("Generator", "Gen breaker"):
                sides = dict.fromkeys(ends, (generator,))
            if head.name == "Roof array":
                sides = dict.fromkeys(ends, (array,))
            if tail.name == "Unit 2 fuses":
                sides = dict.fromkeys(ends, ())
        points[item.id] = PointFigures(
            item.id, item.name, item.kind, phases="ABC", live_sides=sides,
            live_from=tuple(source for source in sources if any(source in side for side in sides.values())),
            load_a={"A": 131.6, "B": 64.2}, available_a={"A": None if item.name == "Panel N" else 68.4}, fault_a=14_230, fault_duty_a=14_230,  # noqa: E501
            voltage_drop_pct=1.26,
        )  # fmt: skip
    states = {
        "Panel S": "fail",
        "House panel H": "judge",
        "Main gutter": "unknown",
        "Service 1": "advice",
        "Meter 1": "pass",
    }
    verdicts = [Verdict("made up", "", 2023, by_name[n], n, state, "Made up.") for n, state in states.items()]
    verdicts.append(replace(Verdict("made up", "", 2023, by_name["Meter 1"], "", "fail", "Made up."), alternative=True))
    return StudyResult(2023, view, points, tuple(verdicts), sources)


def _downstream(drawing: Drawing, start: str) -> set[str]:
    found, stack = {start}, [start]
    while stack:
        here = stack.pop()
        for conn in drawing.connections_of(here):
            for nxt in (conn.id, conn.a.item, conn.b.item if conn.b else conn.a.item):
                if nxt not in found:
                    found.add(nxt)
                    stack.append(nxt)
    return found
