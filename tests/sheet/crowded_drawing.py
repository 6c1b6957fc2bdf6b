"""An invented drawing of a shop as it comes out of quick work with the mouse: short conductors, close columns, marks."""

from __future__ import annotations

from oneline.model import Drawing, End, Place
from oneline.model.edits import add, connect

_BELOW_BAR = (
    # name, x of the column, switch trip, panel rating, size, lengths of tap and feeder, raceway, status
    ("Cobbler", -270.0, 400.0, 400.0, "600", 6.0, 50.0, "4", "existing"),
    ("Florist", 20.0, 200.0, None, "3/0", None, 29.5, "2", "existing"),
    ("Attic", 140.0, 100.0, 125.0, "1", 4.0, 60.0, "1-1/2", "existing"),
    ("Annex", 290.0, 200.0, 225.0, "3/0", 14.0, 40.0, "2", "new"),
)


class _Drawn:
    def __init__(self) -> None:
        self.drawing = Drawing()

    def add(self, kind: str, name: str, x: float, y: float, **values: object) -> str:
        self.drawing, item_id = add(self.drawing, kind, name=name, place=Place(x, y), **values)
        return item_id

    def run(
        self, a: str, a_end: str, b: str, b_end: str, size: str | None, length_ft: float | None, **more: object
    ) -> None:
        values = {"size": size, "length_ft": length_ft, "material": "copper", "sets": 1, "raceway": "EMT", **more}
        self.drawing, _ = connect(self.drawing, End(a, a_end), End(b, b_end), kind="run", **values)


def crowded_drawing() -> Drawing:
    """One service, four columns below a gutter, an array that feeds back, a generator on a transfer switch, a tie."""
    d = _Drawn()
    service = d.add("service", "Quay service", 30, 30, system="208Y/120", fault_ka=22)
    meter = d.add("meter", "Meter 4", 30, 110)
    main = d.add("disconnect", "Main", 30, 200, form="fused switch", trip_a=800, interrupting_ka=200)
    gutter = d.add("bus", "Gutter", 30, 280, form="gutter")
    d.run(service, "out", meter, "line", None, None, raceway=None)
    d.run(meter, "load", main, "line", "500", 20, sets=2, raceway_size="4")
    d.run(main, "load", gutter, "bus", "500", 8, sets=2, raceway_size="4")
    panels = {}
    for name, x, trip_a, rating_a, size, tap_ft, feeder_ft, raceway, status in _BELOW_BAR:
        switch = d.add("disconnect", f"{name} switch", x, 360, form="fused switch", trip_a=trip_a, status=status)
        panels[name] = d.add("bus", f"{name} panel", x, 450, rating_a=rating_a, status=status)
        d.run(gutter, "bus", switch, "line", size, tap_ft, raceway_size=raceway, status=status)
        d.run(switch, "load", panels[name], "bus", size, feeder_ft, raceway_size=raceway, status=status)
    _standby(d, panels["Cobbler"])
    breaker = d.add("disconnect", "Array breaker", 140, 490, trip_a=70, poles=3)
    switch = d.add("disconnect", "Array switch", 140, 570, form="switch", rating_a=100)
    array = d.add("solar", "Roof array", 140, 660, output_kw=20, output_a=56)
    d.drawing, _ = connect(d.drawing, End(panels["Attic"], "bus"), End(breaker, "line"), kind="joint")
    d.run(breaker, "load", switch, "line", "4", 80, raceway_size="1-1/4")
    d.run(switch, "load", array, "out", "4", 6, raceway_size="1-1/4")
    d.drawing, _ = add(
        d.drawing, "tie", name="Old bell wire", a=End(panels["Cobbler"], "bus"), b=End(panels["Annex"], "bus")
    )
    return d.drawing


def _standby(d: _Drawn, panel: str) -> None:
    breaker = d.add("disconnect", "Standby breaker", -270, 490, trip_a=100, poles=3)
    transfer = d.add("transfer", "Transfer switch", -250, 580)
    standby = d.add("bus", "Standby panel", -250, 670, rating_a=100)
    cooler = d.add("load", "Walk-in cooler", -300, 740, va=5000)
    generator = d.add("generator", "Generator", -100, 430, kva=45, system="208Y/120")
    d.drawing, _ = connect(d.drawing, End(panel, "bus"), End(breaker, "line"), kind="joint")
    d.run(breaker, "load", transfer, "normal", "3", 20, raceway_size="1-1/4")
    d.run(transfer, "load", standby, "bus", "3", 10, raceway_size="1-1/4")
    d.run(standby, "bus", cooler, "in", "10", 30, raceway_size="3/4")
    d.run(generator, "out", transfer, "alternate", "3", 70, raceway_size="1-1/4")
