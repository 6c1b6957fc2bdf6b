"""The current through a device at the moment it is opened, against figures worked out by hand and by networkx."""

from __future__ import annotations

import random
from dataclasses import replace
from math import sqrt

import networkx as nx
import pytest
from outage_drawings import drawn, small_shop

from oneline.model import KINDS, Circuit, Drawing, End, Reading
from oneline.model.edits import change
from oneline.outage.ability import DOUBTFUL, FINE, breaking
from oneline.outage.currents import through
from oneline.outage.scene import Scene
from oneline.study.context import Context

WYE = {"system": "208Y/120"}
BREAKER = {"form": "breaker", "trip_a": 200.0}


def at(drawing: Drawing, key: str, opened=(), shed=(), stop=()):
    scene = Scene(Context(drawing, "existing", 2023))
    moment = scene.begin(dict.fromkeys(opened, False), stop).after(shed=shed)
    return through(moment, key)


@pytest.mark.parametrize("seed", range(40))
def test_connected_load_behind_every_device_of_a_random_tree(seed: int) -> None:
    """Physics: balanced three-phase load of S volt-amperes draws S / (1.732 x 208 V); networkx sums what is behind."""
    rng = random.Random(seed)
    items = [KINDS["service"](id="S", system="208Y/120"), KINDS["bus"](id="bus0", form="gutter")]
    graph = nx.DiGraph()
    joints, va = [("S.out", "bus0.bus")], {}
    for n in range(1, 12):
        parent = rng.choice(list(graph.nodes) or ["bus0"])
        device, bus = f"d{n}", f"bus{n}"
        items += [KINDS["disconnect"](id=device, **BREAKER), KINDS["bus"](id=bus, form="gutter")]
        joints += [(f"{parent}.bus", f"{device}.line"), (f"{device}.load", f"{bus}.bus")]
        graph.add_edge(parent, bus, device=device)
        va[bus] = rng.choice((1000.0, 2500.0, 7000.0))
        items.append(KINDS["load"](id=f"load{n}", va=va[bus], phases="ABC"))
        joints.append((f"{bus}.bus", f"load{n}.in"))
    items += [
        KINDS["joint"](id=f"j{n}", a=End(*a.split(".")), b=End(*b.split("."))) for n, (a, b) in enumerate(joints)
    ]  # fmt: skip
    d = Drawing().with_items(items)
    gone = set(rng.sample(sorted(va), 3))
    for _, bus, device in graph.edges(data="device"):
        behind = {bus, *nx.descendants(graph, bus)}
        expected = sum(va[b] for b in behind) / (sqrt(3) * 208)
        found = at(d, device)
        assert found.most == pytest.approx(expected)
        assert found.current.basis == "calculated"
        less = sum(va[b] for b in behind - gone) / (sqrt(3) * 208)
        assert at(d, device, shed=[f"load{b[3:]}" for b in gone]).most == pytest.approx(less)


def test_through_a_transformer_at_the_ratio_of_its_voltages_with_its_exciting_current() -> None:
    """Physics: 30 kVA at 480 V three-phase are 36.1 A, whatever the secondary. A delta winding takes the currents of two
    secondary phases; whatever their angles are, that is at most 2 / 1.732 times as much. The exciting current, 3 % of the
    54.1 A of 45 kVA at 480 V, is common practice, no source."""
    d = drawn(
        ("service", "S", {"system": "480Y/277"}),
        ("disconnect", "M", BREAKER),
        ("transformer", "T", {
            "kva": 45.0, "primary_system": "480Y/277", "secondary_system": "208Y/120", "connection": "delta-wye",
        }),
        ("load", "L", {"va": 30000.0, "phases": "ABC"}),
        joints="S.out-M.line, M.load-T.line, T.load-L.in",
    )  # fmt: skip
    exciting = 0.03 * 45000 / (sqrt(3) * 480)
    assert at(d, "M").most == pytest.approx(2 / sqrt(3) * 30000 / (sqrt(3) * 480) + exciting, rel=1e-3)
    assert at(change(d, "T", connection="wye-wye"), "M").most == pytest.approx(
        30000 / (sqrt(3) * 480) + exciting, rel=1e-3
    )
    assert at(d, "M", shed=["L"]).most == pytest.approx(exciting)
    # A phase of delta-wye for one secondary phase: 10 kVA from A to N at 208/480 V, 277 V across a winding of two lines.
    single = change(change(d, "L", phases="A"), "L", va=10000.0)
    assert at(single, "M").most == pytest.approx(10000 / 480 + exciting, rel=1e-2)


def test_single_phase_loads_add_up_on_their_own_phase() -> None:
    """1,200 VA at 120 V are 10 A on A; 2,080 VA at 208 V are 10 A on A and B: at most 20 A on A."""
    rows = (Circuit(space=1, va=1200.0), Circuit(space=7, poles=2, va=2080.0), Circuit(space=3, va=600.0))
    d = drawn(
        ("service", "S", WYE), ("disconnect", "M", BREAKER), ("bus", "P", {"circuits": rows, "phases": "ABC"}),
        joints="S.out-M.line, M.load-P.bus",
    )  # fmt: skip
    assert at(d, "M").most == pytest.approx(20.0)
    assert at(d, "M", shed=["P"]).current.basis == "none left"


def test_a_solar_array_behind_bounds_the_current_the_other_way() -> None:
    """9 kVA are 25.0 A in; with them off, the 40 A of the inverter flow out; with the inverter stopped, nothing."""
    d = drawn(
        ("service", "S", WYE), ("disconnect", "M", BREAKER), ("bus", "P", {"form": "gutter"}),
        ("load", "L", {"va": 9000.0, "phases": "ABC", "control": "starter"}),
        ("disconnect", "D", BREAKER), ("solar", "PV", {"output_a": 40.0, "phases": "ABC"}),
        joints="S.out-M.line, M.load-P.bus, P.bus-L.in, P.bus-D.line, D.load-PV.out",
    )  # fmt: skip
    assert at(d, "M").most == pytest.approx(40.0)
    assert at(d, "M", stop=["PV"]).most == pytest.approx(24.98, abs=0.01)
    assert at(d, "M", stop=["PV"], shed=["L"]).most == 0
    assert at(d, "D").most == pytest.approx(40.0)
    assert at(d, "D", stop=["PV"]).most == 0
    unknown = at(change(d, "PV", output_a=None), "D")
    assert unknown.most is None
    assert unknown.current.needs == ("rated output of PV",)
    # Read net of the array: what is left once the sun is gone is as much more.
    read = change(d, "M", readings=(Reading(when="2026-01-01", a_a=5.0, b_a=5.0, c_a=5.0),))
    assert (at(read, "M").current.amperes, at(read, "M").most) == (5, 45)


def test_a_loop_is_bounded_by_its_whole_load_and_two_services_by_nothing() -> None:
    ring = drawn(
        ("service", "S", WYE), ("bus", "A", {"form": "gutter"}), ("bus", "B", {"form": "gutter"}),
        ("disconnect", "X", BREAKER), ("disconnect", "Y", BREAKER), ("load", "L", {"va": 9000.0, "phases": "ABC"}),
        ("load", "K", {"va": 3600.0, "phases": "ABC"}),
        joints="S.out-A.bus, A.bus-X.line, A.bus-Y.line, X.load-B.bus, Y.load-B.bus, B.bus-L.in, A.bus-K.in",
    )  # fmt: skip
    assert at(ring, "X").most == pytest.approx(12600 / (sqrt(3) * 208))
    assert at(ring, "X", opened=["Y"]).most == pytest.approx(9000 / (sqrt(3) * 208))
    both = drawn(
        ("service", "S", WYE), ("service", "R", WYE), ("disconnect", "T", BREAKER), joints="S.out-T.line, T.load-R.out"
    )
    found = at(both, "T")
    assert (found.most, found.current.basis) == (None, "unknown")
    assert found.current.needs == ("current measured at T, which is fed from both ends",)
    read = change(both, "T", readings=(Reading(when="2026-01-01", a_a=7.0, b_a=8.0, c_a=9.0),))
    assert at(read, "T").most == 9


def test_unknown_is_never_zero_and_a_reading_bounds_it() -> None:
    d = change(small_shop(), "motor", va=None)
    found = at(d, "B")
    assert (found.current.amperes, found.most, found.current.basis) == (None, None, "unknown")
    assert found.current.needs
    read = change(d, "F2", readings=(Reading(when="2026-01-01", a_a=22.0, b_a=20.0, c_a=21.0),))
    assert at(read, "F2").most == 22
    # Readings of the parts: the 22 A read at F2, and 1,200 and 900 VA at 120 V on spaces 1 and 2 of P1, both phase A.
    main = at(read, "M")
    assert main.most == pytest.approx(22 + 10 + 7.5)
    assert main.current.words == "Readings of the parts behind it and connected load of the rest."
    # Once something behind was switched, a reading is only a bound.
    later = at(change(read, "B", form="breaker"), "F2", shed=["P2"])
    assert later.current.amperes is None
    assert later.most == 22
    # So it is seen from the main: what is left behind F2, and no more than was read there, beside P1's 17.5 A.
    known = change(small_shop(), "F2", readings=(Reading(when="2026-01-01", a_a=22.0, b_a=20.0, c_a=21.0),))
    assert at(known, "M").most == pytest.approx(39.5)
    assert at(known, "M", shed=["motor"]).most == pytest.approx(17.5)
    assert at(known, "M", opened=["B"]).most == pytest.approx(17.5)
    assert at(read, "M", shed=["P2"]).most == pytest.approx(39.5)
    # One phase was not read: nothing is said of it.
    part = change(d, "F2", readings=(Reading(when="2026-01-01", a_a=22.0),))
    assert at(part, "F2").most is None


def test_the_latest_reading_counts() -> None:
    rows = tuple(Reading(when=w, a_a=a, b_a=a, c_a=a) for w, a in (("2026-02-01", 12.0), ("2025-11-01", 40.0)))
    assert at(change(small_shop(), "B", readings=rows), "B").most == 12


def test_a_suspected_tie_leaves_what_is_upstream_unknown() -> None:
    d = small_shop()
    tie = KINDS["tie"](id="tie", a=End("P2", "bus"), b=None)
    found = at(d.with_items([tie]), "F2", shed=["P1"], opened=["B"])
    assert found.most is None


@pytest.mark.parametrize(
    ("fields", "amps", "state"),
    [
        # SW-4, common practice, no source: a breaker breaks up to its rating ...
        ({"form": "breaker", "trip_a": 100.0}, 90.0, "pass"),
        ({"form": "breaker", "trip_a": 100.0}, 110.0, "fail"),
        ({"form": "breaker"}, 10.0, "unknown"),
        # ... a general-use switch up to its ampere rating where it is made for load ...
        ({"form": "fused switch", "load_break": True, "rating_a": 60.0, "trip_a": 40.0}, 60.0, "pass"),
        ({"form": "fused switch", "load_break": True, "rating_a": 60.0}, 61.0, "fail"),
        ({"form": "switch", "load_break": None, "rating_a": 60.0}, 5.0, "unknown"),
        ({"form": "switch", "load_break": None, "rating_a": 60.0}, 0.6, "pass"),
        ({"form": "switch", "load_break": False, "rating_a": 60.0}, 5.0, "fail"),
        ({"form": "switch", "load_break": False, "rating_a": 60.0}, 0.6, "pass"),
        # ... and fuses that are pulled break none.
        ({"form": "fuses", "trip_a": 60.0}, 5.0, "fail"),
        ({"form": "fuses", "trip_a": 60.0}, 0.0, "pass"),
    ],
)
def test_what_each_form_of_device_may_break(fields, amps: float, state: str) -> None:
    """SW-4 of the rules of switching; about zero is 1 A (common practice, no source)."""
    d = drawn(
        ("service", "S", WYE), ("disconnect", "D", fields), ("load", "L", {"va": 100.0, "phases": "ABC"}),
        joints="S.out-D.line, D.load-L.in",
    )  # fmt: skip
    d = change(d, "D", readings=(Reading(when="2026-01-01", a_a=amps, b_a=amps, c_a=amps),))
    found = breaking(d.get("D"), "D", at(d, "D"))
    assert found.state == state
    assert (found.risk == FINE) == (state == "pass")
    assert bool(found.why) == (state != "pass")


def test_motors_behind_a_switch_are_for_judgement() -> None:
    """SW-4: what a switch breaks of motors goes by its horsepower rating (general-use switches, trade practice)."""
    d = change(change(small_shop(), "B", form="switch"), "B", load_break=True)
    d = change(d, "B", rating_a=60.0)
    assert breaking(d.get("B"), "B", at(d, "B")).state == "judge"
    heater = d.with_items([replace(d.get("motor"), load_class="heat")])
    assert breaking(heater.get("B"), "B", at(heater, "B")).state == "pass"


def test_connected_load_above_the_rating_asks_for_a_reading_and_is_no_failure() -> None:
    d = change(small_shop(), "B", trip_a=20.0)
    found = breaking(d.get("B"), "B", at(d, "B"))
    assert (found.state, found.risk) == ("unknown", DOUBTFUL)
    assert "25 A" in found.why
    assert "20 A" in found.why
