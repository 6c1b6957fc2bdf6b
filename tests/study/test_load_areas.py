"""Lighting and receptacles by floor area, through drawings, against published examples and the printed tables."""

from __future__ import annotations

from math import sqrt
from typing import Any

import pytest


def put_loads(s: Any, bus: str, **loads: dict[str, Any]) -> None:
    for name, values in loads.items():
        s.put("load", name, **values)
        s.joint(bus, name)


def point(s: Any, edition: int = 2023, item: str = "MDP") -> tuple[Any, int]:
    ctx = s.context(edition=edition)
    return ctx.demand, ctx.net.node(item)


# ---------------------------------------------------------------------------------- NEC Annex D, Example D3
STORE = {
    "outlets": {"load_class": "receptacles", "phases": "AB", "quantity": 80},
    "window": {"load_class": "show window", "phases": "AB", "length_ft": 30},
    "sign": {"load_class": "sign", "phases": "AB", "va": 1_200},
}


@pytest.mark.parametrize("where", ["load", "panel", "service"])
def test_store_building_as_an_electrician_enters_it(service: Any, where: str) -> None:
    """Example D3 (2005-era reprint), 120/240 V: 3,000 ft2, 80 receptacles, 30 ft of show window, a sign, 8,500 VA of lamps:
    12,200 + 9,000 + 6,000 + 1,200 = 28,400 VA or 118 A; with continuous load at 125 % 32,450 VA or 135 A: 150 A."""
    area = {"area_ft2": 3_000, "occupancy": "retail store"}
    s = service("120/240-1", 150, 200, **(area if where == "panel" else {}))
    if where == "service":
        s.put("service", "Utility", system="120/240-1", **area)
    lamps = {"load_class": "lighting", "phases": "AB", "va": 8_500, **(area if where == "load" else {})}
    put_loads(s, "MDP", lamps=lamps, **STORE)
    demand, at = point(s, 2017, "MDP" if where != "service" else "Utility")
    assert demand.kva(at) == pytest.approx(28.4)
    assert demand.load_a(at) == pytest.approx({"A": 118.3, "B": 118.3}, abs=0.1)
    assert demand.counted_a(at) == pytest.approx({"A": 135.2, "B": 135.2}, abs=0.1)
    assert not demand.needs(at)
    lines = {line.what: line.value for line in demand.work(at)}
    assert lines["Unit load, retail store"] == pytest.approx(9_000)
    assert lines["Lighting connected"] == pytest.approx(8_500)
    assert lines["General lighting as counted"] == pytest.approx(11_250)
    assert lines["Calculated load"] == pytest.approx(28_400)
    assert lines["With continuous load counted in full"] == pytest.approx(32_450)


def test_store_lighting_entered_by_area_alone(service: Any) -> None:
    """The same with the lamps not listed: the unit load counts, and it is said that the lamps are taken as no more."""
    s = service("120/240-1", 150, 200)
    lamps = {"load_class": "lighting", "phases": "AB", "area_ft2": 3_000, "occupancy": "retail store"}
    put_loads(s, "MDP", lamps=lamps, **STORE)
    demand, at = point(s, 2017)
    assert demand.kva(at) == pytest.approx(28.4)
    assert demand.counted_a(at) == pytest.approx({"A": 135.2, "B": 135.2}, abs=0.1)
    assert demand.assumed(at) == ("lighting connected at lamps taken as no more than its unit load",)


@pytest.mark.parametrize(
    ("edition", "lamps_va", "load_va", "counted_va"),
    [
        # 2017: 3.5 VA/ft2 (ENGDB, GW15), 125 % on top. 10,000 ft2.
        (2017, 5_000, 35_000, 43_750), (2017, 40_000, 40_000, 50_000),
        # Since 2020: 1.3 VA/ft2 (from memory), which holds the 125 %; lamps take it.
        (2020, 5_000, 13_000, 13_000), (2023, 10_400, 13_000, 13_000), (2023, 12_000, 13_000, 15_000),
        (2023, 13_000, 13_000, 16_250), (2026, 20_000, 20_000, 25_000),
    ],
)  # fmt: skip
def test_office_lighting_by_edition(
    service: Any, edition: int, lamps_va: float, load_va: float, counted_va: float
) -> None:
    """The larger of the unit load and what is connected; the factor for continuous load never twice (change summaries).
    No receptacle is entered: 10,000 ft2 at 1 VA/ft2 beside the lighting (220.14(K))."""
    s = service("480Y/277", 400, 400, area_ft2=10_000, occupancy="office")
    put_loads(s, "MDP", lamps={"load_class": "lighting", "phases": "ABC", "va": lamps_va})
    demand, at = point(s, edition)
    assert demand.kva(at) == pytest.approx((load_va + 10_000) / 1000)
    assert demand.counted_a(at) == pytest.approx(dict.fromkeys("ABC", (counted_va + 10_000) / 480 / sqrt(3)), rel=1e-3)


def test_an_area_inside_an_area_counts_once(service: Any) -> None:
    """A tenant's panel with its 2,000 ft2 inside the service's 10,000 ft2: 1.3 VA/ft2 of the whole; tenant 4,000 VA of lamps
    above its own 2,600 VA. Receptacles of either, none entered: 1 VA/ft2 of the whole, 2,000 VA of it the tenant's."""
    s = service("480Y/277", 400, 400)
    s.put("service", "Utility", system="480Y/277", area_ft2=10_000, occupancy="office")
    s.put("bus", "LP", rating_a=100, area_ft2=2_000, occupancy="office")
    s.put("disconnect", "feeder", trip_a=100)
    s.chain("MDP", "feeder", "LP")
    put_loads(s, "LP", lamps={"load_class": "lighting", "phases": "ABC", "va": 4_000})
    demand, at = point(s, item="Utility")
    assert demand.kva(at) == pytest.approx(13 + 10)
    assert demand.kva(point(s, item="LP")[1]) == pytest.approx(4 + 2)


def test_circuits_of_no_class_may_be_the_lighting(service: Any, circuit: Any) -> None:
    """3 kVA that may be lamps below 10,000 ft2 of office: between 13 kVA, if they are, and 16 kVA; and 10 kVA for
    receptacles, none being entered."""
    rows = (
        circuit(space=1, poles=3, va=3_000, load_class=None),
        circuit(space=2, poles=3, va=5_000, load_class="lighting"),
    )
    s = service("480Y/277", 400, 400, circuits=rows, area_ft2=10_000, occupancy="office")
    demand, at = point(s)
    assert demand.kva(at) is None
    found = demand.bounds(at, counted=False)["A"]
    assert found.low == pytest.approx(23_000 / 480 / sqrt(3), rel=1e-3)
    assert found.high is not None
    assert found.high >= 26_000 / 480 / sqrt(3)
    assert any("class of" in n for n in demand.needs(at))


def test_an_area_without_its_use_is_asked_for(service: Any) -> None:
    s = service("480Y/277", 400, 400, area_ft2=10_000)
    put_loads(s, "MDP", lamps={"load_class": "lighting", "phases": "ABC", "va": 4_000})
    demand, at = point(s)
    assert demand.kva(at) is None
    assert demand.known_kva(at) == pytest.approx(4)
    assert demand.needs(at) == ("use of the floor area of MDP",)


def test_a_use_that_the_edition_does_not_list(service: Any) -> None:
    """The older table lists no library."""
    s = service("480Y/277", 400, 400, area_ft2=10_000, occupancy="library")
    put_loads(s, "MDP", lamps={"load_class": "lighting", "phases": "ABC", "va": 4_000})
    demand, at = point(s, 2017)
    assert demand.needs(at) == ("lighting load of MDP: the unit loads of this edition list no library",)
    assert point(s, 2023)[0].kva(at) == pytest.approx(15)


# ----------------------------------------------------------------------------------------- lighting demand
@pytest.mark.parametrize(
    ("use", "edition", "connected_va", "expected_va"),
    [
        # Warehouses: 12,500 VA in full, half of the rest (GW18, ECN).
        ("warehouse", 2017, 12_500, 12_500), ("warehouse", 2017, 12_501, 12_500.5), ("warehouse", 2023, 30_000, 21_250),
        # Hospitals: 40 % of 50,000 VA, 20 % of the rest (GW18), until 2017 only (from memory).
        ("hospital", 2017, 50_000, 20_000), ("hospital", 2017, 60_000, 22_000), ("hospital", 2020, 60_000, 60_000),
        # Hotels: 50/40/30 % (GW18, MH-123433); 60/50/35 % since 2020 (from memory).
        ("hotel or motel", 2017, 20_000, 10_000), ("hotel or motel", 2017, 120_000, 48_000),
        ("hotel or motel", 2020, 20_000, 12_000), ("hotel or motel", 2023, 120_000, 59_000),
        # Dwelling units: 3,000 VA in full, 35 % to 120,000 VA, 25 % above (GW18).
        ("dwelling units", 2023, 3_000, 3_000), ("dwelling units", 2023, 120_000, 43_950),
        ("dwelling units", 2017, 124_000, 44_950), ("office", 2023, 124_000, 124_000 + 1),
    ],
)  # fmt: skip
@pytest.mark.parametrize("where", ["load", "panel"])
def test_lighting_demand_edges(
    service: Any, use: str, edition: int, connected_va: float, expected_va: float, where: str
) -> None:
    """Table 220.42 (2017, 2020), 220.45 (2023). The square foot of office counts 1 VA of receptacles at a panel."""
    area = {"area_ft2": 1, "occupancy": use} if where == "panel" else {}
    s = service("208Y/120", 800, 800, **area)
    if use == "dwelling units":  # whose circuits take part: two for small appliances and the laundry at 1,500 VA each
        small = {"load_class": "dwelling small appliance", "phases": "ABC", "quantity": 2}
        put_loads(s, "MDP", small=small, laundry={"load_class": "dwelling laundry", "phases": "A"})
        assert expected_va == {3_000: 3_000, 120_000: 43_950, 124_000: 44_950}[connected_va]
        expected_va += {3_000: 0.35, 120_000: 0.25, 124_000: 0.25}[connected_va] * 4_500
    lamps = {"load_class": "lighting", "phases": "ABC", "va": connected_va, "continuous": False}
    put_loads(s, "MDP", lamps=lamps | ({"occupancy": use} if where == "load" else {}))
    demand, at = point(s, edition)
    if use == "office" and where == "load":
        expected_va -= 1
    assert demand.kva(at) == pytest.approx(expected_va / 1000)


def test_dwelling_lighting_of_the_newest_edition(service: Any) -> None:
    """Trade summaries of the 2026 changes: 2 VA in place of 3 VA per square foot of dwelling units. 1,000 ft2."""
    s = service("120/240-1", 100, 100, area_ft2=1_000, occupancy="dwelling units", dwelling_units=1)
    put_loads(s, "MDP", lamps={"load_class": "lighting", "phases": "AB", "va": 1_000, "continuous": False})
    # With two small-appliance circuits and the laundry: 3,000 VA in full, 35 % of 4,500 VA (2026: 3,500 VA).
    found = [point(s, e)[0].kva(point(s, e)[1]) for e in (2017, 2023, 2026)]
    assert found == pytest.approx([4.575, 4.575, 4.225])


def test_two_warehouses_share_their_demand(service: Any) -> None:
    """12,500 VA in full once for the whole, not for each panel: 2 x 12,500 VA make 18,750 VA."""
    s = service("480Y/277", 400, 400)
    for name in ("W1", "W2"):
        s.put("bus", name, rating_a=100)
        s.put("disconnect", f"feeder {name}", trip_a=100)
        s.chain("MDP", f"feeder {name}", name)
        put_loads(s, name, **{
            f"lamps {name}": {"load_class": "lighting", "phases": "ABC", "va": 12_500, "occupancy": "warehouse"}
        })  # fmt: skip
    demand, at = point(s)
    assert demand.kva(at) == pytest.approx(18.75)
    assert demand.kva(point(s, item="W1")[1]) == pytest.approx(12.5)
    assert demand.counted_a(at)["A"] == pytest.approx(1.25 * 18_750 / 480 / sqrt(3))


# ------------------------------------------------------------------------------------- office receptacles
@pytest.mark.parametrize(
    ("outlets", "area_ft2", "expected_va"),
    [
        (40, 5_000, 7_200),  # 40 x 180 VA, more than 5,000 VA by area
        (40, 10_000, 10_000),  # 1 VA/ft2 is more
        (100, 14_000, 14_000),  # 18,000 VA connected, 14,000 VA with its demand: equal
        (100, 14_001, 14_001), (100, 13_999, 14_000),
    ],
)  # fmt: skip
def test_office_receptacles(service: Any, outlets: int, area_ft2: float, expected_va: float) -> None:
    """220.14(K), since 2023 220.43: the larger of the receptacles with their demand and 1 VA/ft2 (NECDRILL, ENGDB)."""
    s = service("208Y/120", 400, 400)
    put_loads(s, "MDP", plugs={
        "load_class": "receptacles", "phases": "ABC", "quantity": outlets, "area_ft2": area_ft2, "occupancy": "office"
    })  # fmt: skip
    demand, at = point(s)
    assert demand.kva(at) == pytest.approx(expected_va / 1000)


def test_receptacles_beside_an_office(service: Any) -> None:
    """Where the floor area governs in the office, the shop's receptacles keep a demand of their own: 10,000 by area and
    12,000 VA of the shop's 14,000 VA."""
    s = service("208Y/120", 400, 400)
    put_loads(
        s, "MDP", shop={"load_class": "receptacles", "phases": "ABC", "va": 14_000},
        office={"load_class": "receptacles", "phases": "ABC", "va": 1_800, "area_ft2": 10_000, "occupancy": "office"},
    )  # fmt: skip
    demand, at = point(s)
    assert demand.kva(at) == pytest.approx(22)


def test_receptacles_of_an_office_of_which_none_is_entered(service: Any) -> None:
    """220.14(K): the larger of the outlets and 1 VA/ft2; with no outlet entered the floor area is the larger. 10,000 ft2
    of office at 1.3 VA/ft2 and 1 VA/ft2 (2023): 13 + 10 = 23 kVA, at a panel and at a service; an area that stands at
    lamps of their own tells of lamps only."""
    area = {"area_ft2": 10_000, "occupancy": "office"}
    for where in ("MDP", "Utility"):
        s = service("480Y/277", 400, 400, **(area if where == "MDP" else {}))
        if where == "Utility":
            s.put("service", "Utility", system="480Y/277", **area)
        demand, at = point(s, item=where)
        assert demand.kva(at) == pytest.approx(23.0)
    s = service("480Y/277", 400, 400)
    put_loads(s, "MDP", lamps={"load_class": "lighting", "phases": "ABC", **area})
    demand, at = point(s)
    assert demand.kva(at) == pytest.approx(13.0)
