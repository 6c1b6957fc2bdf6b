"""Available load: which limit binds, how it passes transformers, and what must hold for any drawing."""

from __future__ import annotations

import random
from dataclasses import replace
from math import sqrt

import pytest

from oneline.model import Bus, Drawing, Load
from oneline.study import available
from oneline.study.context import Context
from oneline.study.points import Points

SEEN = {
    "material": "copper", "insulation": "THHN/THWN-2", "raceway": "EMT", "ambient_c": 30, "wet": False,
    "current_carrying": 3, "terminal_c": 75,
}  # fmt: skip


def at(ctx: Context, item_id: str) -> available.Available:
    return ctx.available[ctx.net.node(item_id)]


def feeder(service, circuit, size: str = "3/0", trip_a: float = 200, bus_a: float | None = 225, **load):
    """MDP with 36 kVA (100 A), a feeder and panel LP with 100 A."""
    values = {"va": 36_000, "load_class": "heat"} | load
    s = service(circuits=(circuit(space=1, poles=3, va=36_000, load_class="heat"),))
    s.put("disconnect", "Feeder", trip_a=trip_a, rating_a=225)
    s.put("bus", "LP", rating_a=bus_a, circuits=(circuit(space=1, poles=3, **values),))
    s.joint("MDP", "Feeder")
    s.run("Feeder", "LP", "Feeder LP", size=size, length_ft=60, **SEEN)
    return s


@pytest.mark.parametrize(
    ("changes", "name", "what", "left"),
    [
        # 100 A of load at LP, 200 A at MDP; the tightest of device, bus, conductor and main binds.
        ({}, "Feeder", "trip", 100),
        ({"trip_a": 225, "size": "3/0"}, "Feeder LP", "ampacity at terminals", 100),  # 200 A at 75 °C, Table 310.16
        ({"bus_a": 150}, "LP", "bus rating", 50),
        ({"size": "1/0"}, "Feeder LP", "ampacity at terminals", 50),  # 150 A
    ],
)
def test_the_one_limit_that_binds(service, circuit, changes, name, what, left) -> None:
    ctx = feeder(service, circuit, **changes).context()
    found = at(ctx, "LP")
    assert found.per_phase == pytest.approx(dict.fromkeys("ABC", left), abs=0.2)
    assert (found.limit.name, found.limit.what) == (name, what)
    assert found.kva == pytest.approx(left * 208 * sqrt(3) / 1000, abs=0.1)
    assert [limit.name for limit in found.limits][-2:] == ["MDP", "Main"]


def test_continuous_load_counts_at_125_percent_and_not_on_full_rated_equipment(service, circuit) -> None:
    """215.3: 100 A continuous counts 125 A, 100 A where device and assembly are listed for it."""
    s = feeder(service, circuit, continuous=True, size="500")
    assert at(s.context(), "LP").per_phase["A"] == pytest.approx(75, abs=0.2)
    s.drawing = s.drawing.with_items([replace(s.drawing.get("Feeder"), full_rated=True)])
    found = at(s.context(), "LP")
    assert found.per_phase["A"] == pytest.approx(100, abs=0.2)  # the bus leaves 225 - 125 = 100 as well
    assert {e.what for e in found.elements} >= {"bus rating"}


def test_over_is_negative_and_said(service, circuit) -> None:
    s = feeder(service, circuit, va=79_200)  # 220 A on a 200 A trip
    ctx = s.context()
    assert at(ctx, "LP").per_phase["B"] == pytest.approx(-20, abs=0.2)
    assert at(ctx, "LP").kva == 0
    by_name = {v.name: v for v in available.verdicts(ctx)}
    assert by_name["Feeder"].state == "fail"
    assert "over by 19.9 A" in by_name["Feeder"].message
    assert "trip 200 A" in by_name["Feeder"].message
    assert by_name["Feeder"].value == pytest.approx(219.8, abs=0.1)
    assert by_name["LP"].state == "pass"  # 225 A bus
    assert by_name["Main"].state == "pass"


def test_unknown_rating_leaves_a_bound(service, circuit) -> None:
    found = at(feeder(service, circuit, bus_a=None).context(), "LP")
    assert found.per_phase == {"A": None, "B": None, "C": None}
    assert found.kva is None
    assert found.bound["A"] == pytest.approx(100, abs=0.2)
    assert found.needs == ("bus rating of LP",)
    assert found.limit.name == "Feeder"  # the tightest that is known


def test_frame_bounds_an_unknown_trip(service, circuit) -> None:
    """A trip is never above its frame (225 A here)."""
    s = feeder(service, circuit, bus_a=400, size="500")
    s.drawing = s.drawing.with_items([replace(s.drawing.get("Feeder"), trip_a=None)])
    found = at(s.context(), "LP")
    assert found.per_phase["A"] is None
    assert found.bound["A"] == pytest.approx(125, abs=0.2)
    assert "trip rating of Feeder" in found.needs


def test_through_a_transformer_by_the_voltage_ratio(service) -> None:
    """75 kVA, 480 to 208Y/120: 90.2 A and 208.2 A rated (kVA / (V sqrt 3)). A 50 A primary device binds: 115.4 A below."""
    s = service("480Y/277", 400, 400)
    s.put("disconnect", "Primary", trip_a=50)
    s.put("transformer", "T1", kva=75, primary_system="480Y/277", secondary_system="208Y/120", connection="delta-wye")
    s.put("bus", "LA", rating_a=225, status="new")
    s.chain("MDP", "Primary", "T1", "LA")
    found = at(s.context(), "LA")
    assert found.per_phase["A"] == pytest.approx(50 * 480 / 208)
    assert found.limit.name == "Primary"
    s.drawing = s.drawing.with_items([replace(s.drawing.get("Primary"), trip_a=125)])
    found = at(s.context(), "LA")
    assert found.per_phase["A"] == pytest.approx(208.2, abs=0.1)
    assert (found.limit.name, found.limit.what) == ("T1", "rating")


def test_two_legs_of_a_wye_are_limited_by_their_own_phases(service, circuit) -> None:
    """Phase C is loaded to the brim; a panel on A and B does not care."""
    s = service(main_a=100, bus_a=100, circuits=(circuit(space=5, va=12_000, load_class="heat"),))
    s.put("disconnect", "Two-pole", trip_a=60, poles=2, phases="AB")
    s.put("bus", "Sub", rating_a=60, status="new")
    s.chain("MDP", "Two-pole", "Sub")
    ctx = s.context()
    assert at(ctx, "MDP").per_phase == pytest.approx({"A": 100, "B": 100, "C": 0})
    assert at(ctx, "MDP").kva == pytest.approx(0)
    assert at(ctx, "Sub").per_phase == pytest.approx({"A": 60, "B": 60})


def test_transfer_switch_loads_its_alternate_side(sketch, circuit) -> None:
    """A 30 kVA generator at 208 V is good for 83.3 A; the panel behind the switch takes 100 A."""
    s = sketch()
    s.put("service", "Utility", system="208Y/120")
    s.put("disconnect", "Main", trip_a=400)
    s.put("transfer", "ATS", rating_a=200, automatic=True)
    s.put("generator", "Gen", kva=30, system="208Y/120")
    s.put("bus", "EM", rating_a=200, circuits=(circuit(space=1, poles=3, va=36_000, load_class="heat"),))
    s.chain("Utility", "Main", "ATS")
    s.joint("Gen", "ATS.alternate")
    s.joint("ATS.load", "EM")
    ctx = s.context()
    by_name = {v.name: v for v in available.verdicts(ctx)}
    assert by_name["Gen"].state == "fail"
    assert by_name["Gen"].value == pytest.approx(99.9, abs=0.1)
    assert by_name["Gen"].limit == pytest.approx(83.3, abs=0.1)
    assert by_name["Main"].state == "pass"
    s.drawing = s.drawing.with_items([replace(s.drawing.get("ATS"), automatic=False)])
    assert {v.name: v.state for v in available.verdicts(s.context())}["Gen"] == "judge"  # 702.4: the user chooses


def test_existing_and_proposed(service, circuit) -> None:
    """Before: 100 A of 400 A. After: the removed 50 A is gone and 200 A is new."""
    s = service(
        circuits=(
            circuit(space=1, poles=3, va=18_000, load_class="heat"),
            circuit(space=2, poles=3, va=18_000, load_class="heat", status="remove"),
            circuit(space=8, poles=3, va=72_000, load_class="heat", status="new"),
            circuit(space=14, poles=3, va=72_000, load_class="heat", status="future"),
        )
    )
    assert at(s.context("existing"), "MDP").per_phase["A"] == pytest.approx(300, abs=0.2)
    assert at(s.context("proposed"), "MDP").per_phase["A"] == pytest.approx(150, abs=0.3)


def test_utility_transformer_is_information_only(sketch) -> None:
    s = sketch()
    s.put("service", "Utility", system="208Y/120", transformer_kva=75)
    s.put("disconnect", "Main", trip_a=400)
    s.put("bus", "MDP", rating_a=400, status="new")
    s.chain("Utility", "Main", "MDP")
    ctx = s.context()
    (limit,) = available.information(ctx, ctx.net.node("MDP"))
    assert limit.rating_a == pytest.approx(208.2, abs=0.1)
    assert at(ctx, "MDP").per_phase["A"] == 400


# ------------------------------------------------------------------------------------------ for any drawing
def random_service(rng: random.Random, sketch, circuit, known: bool = False):
    """A radial service with feeders, transformers, panels and loads; some facts unknown unless ``known``."""
    gone = () if known else (None,)
    s = sketch()
    s.put("service", "Utility", system=rng.choice(("208Y/120", "480Y/277")))
    s.put("disconnect", "Main", trip_a=rng.choice((400, 600, *gone)), rating_a=600)
    s.put("bus", "B0", rating_a=rng.choice((400, 600, 800)))
    s.chain("Utility", "Main", "B0")
    buses = ["B0"]
    for k in range(1, rng.randint(3, 7)):
        up = rng.choice(buses)
        s.put("disconnect", f"F{k}", trip_a=rng.choice((60, 100, 200)), full_rated=rng.choice((None, True)))
        lines = [
            circuit(space=n, poles=rng.choice((1, 1, 2, 3)), va=rng.choice((0, 600, 1500, 4000, *gone)),
                    load_class=rng.choice(("heat", "lighting", "motor", *gone)))
            for n in range(1, rng.choice((3, 9, 15)), 6)
        ]  # fmt: skip
        s.put("bus", f"B{k}", rating_a=rng.choice((100, 225, *gone)), circuits=tuple(lines))
        if up == "B0" and s.drawing.get("Utility").system == "480Y/277" and rng.random() < 0.5:
            s.put("transformer", f"T{k}", kva=rng.choice((30, 75)), primary_system="480Y/277",
                  secondary_system="208Y/120", connection="delta-wye")  # fmt: skip
            s.chain(up, f"F{k}", f"T{k}", f"B{k}")
        else:
            s.joint(up, f"F{k}")
            s.run(f"F{k}", f"B{k}", size=rng.choice(("1/0", "3/0", *gone)), length_ft=20, **SEEN)
        buses.append(f"B{k}")
    return s, buses


def figures(drawing: Drawing, buses: list[str]) -> dict:
    ctx = Context(drawing, "proposed", 2023)
    return {b: at(ctx, b) for b in buses}


@pytest.mark.parametrize("seed", range(25))
def test_more_load_never_leaves_more(seed: int, sketch, circuit) -> None:
    """A balanced addition anywhere leaves no phase of any point with more."""
    rng = random.Random(seed)
    s, buses = random_service(rng, sketch, circuit)
    before = figures(s.drawing, buses)
    where = rng.choice(buses)
    s.put(
        "load", "More", va=rng.uniform(500, 20_000), phases="ABC", load_class=rng.choice(("heat", "motor", "lighting"))
    )
    s.joint(where, "More")
    after = figures(s.drawing, buses)
    for bus in buses:
        for phase, bound in before[bus].bound.items():
            less = after[bus].bound[phase]
            assert bound is None or (less is not None and less <= bound + 1e-6)
        if before[bus].kva is not None and after[bus].kva is not None:
            assert after[bus].kva <= before[bus].kva + 1e-6


@pytest.mark.parametrize("seed", range(25))
def test_an_addition_that_fits_fits(seed: int, sketch, circuit) -> None:
    """Adding what is said to be available overloads nothing more than before."""
    rng = random.Random(1000 + seed)
    s, buses = random_service(rng, sketch, circuit, known=True)
    known = [b for b, a in figures(s.drawing, buses).items() if a.kva]
    assert known
    bus = rng.choice(known)
    kva = figures(s.drawing, buses)[bus].kva
    assert kva is not None
    before = {v.name for v in available.verdicts(s.context()) if v.state == "fail"}
    s.put("load", "More", va=kva * 1000 * 0.9999, phases="ABC", load_class="heat")
    s.joint(bus, "More")
    assert {v.name for v in available.verdicts(s.context()) if v.state == "fail"} <= before
    assert min(v for v in figures(s.drawing, buses)[bus].per_phase.values() if v is not None) >= -1e-6


@pytest.mark.parametrize("seed", range(25))
def test_unknowns_never_raise_what_is_available(seed: int, sketch, circuit) -> None:
    """Forgetting a rating or a load takes the figure away or leaves it; it never makes it larger."""
    rng = random.Random(2000 + seed)
    s, buses = random_service(rng, sketch, circuit)
    before = figures(s.drawing, buses)
    items = [i for i in s.drawing.items.values() if getattr(i, "rating_a", None) or getattr(i, "trip_a", None)]
    item = rng.choice(items)
    fields = {f: None for f in ("rating_a", "trip_a") if getattr(item, f, None) is not None}
    changed = [replace(item, **fields)]
    panel = s.drawing.get(rng.choice(buses))
    assert isinstance(panel, Bus)
    if panel.circuits and panel.id != item.id:
        changed.append(replace(panel, circuits=tuple(replace(c, va=None) for c in panel.circuits)))
    after = figures(s.drawing.with_items(changed), buses)
    for bus in buses:
        for phase, value in after[bus].per_phase.items():
            was = before[bus].per_phase[phase]
            if value is not None:
                assert was is not None
                assert value <= was + 1e-6
        for phase, low in after[bus].least.items():
            was_low = before[bus].least[phase]
            assert low is None or (was_low is not None and low <= was_low + 1e-6)


@pytest.mark.parametrize("seed", range(10))
def test_names_and_order_change_nothing(seed: int, sketch, circuit) -> None:
    rng = random.Random(3000 + seed)
    s, buses = random_service(rng, sketch, circuit)
    before = figures(s.drawing, buses)
    items = [replace(i, name=f"x{k}") for k, i in enumerate(s.drawing.items.values())]
    rng.shuffle(items)
    after = figures(Drawing(s.drawing.project).with_items(items), buses)
    for bus in buses:
        for phase, value in before[bus].per_phase.items():
            assert after[bus].per_phase[phase] == pytest.approx(value)
            assert after[bus].bound[phase] == pytest.approx(before[bus].bound[phase])


def test_unconnected_panel_has_no_figure(service) -> None:
    s = service()
    s.put("bus", "Loose", rating_a=100)
    ctx = s.context()
    assert ctx.net.node("Loose") not in ctx.available
    assert isinstance(s.drawing.get("Loose"), Bus)
    assert not any(isinstance(i, Load) for i in s.drawing.items.values())


# ------------------------------------------------------------------------------------------ what stands in line
def test_conductors_answer_with_the_device_at_their_end(service) -> None:
    """Whatever is added beyond a tap passes the fuses that it ends in; a service passes its main."""
    s = service(main_a=400, bus_a=600)
    s.put("disconnect", "Shop", form="fused switch", trip_a=100, rating_a=100)
    s.put("bus", "LP", rating_a=225, form="switchboard", status="new")
    s.run("MDP", "Shop", "Tap", size="4/0", length_ft=20, **SEEN)
    s.joint("Shop", "LP")
    points = Points(s.context())
    for point in ("Tap", "Shop", "LP"):
        assert points[point].available_a["A"] == pytest.approx(100)
        assert points[point].limited_by.item == "Shop"
    for point in ("Utility", "Main", "MDP"):
        assert points[point].available_a["A"] == pytest.approx(400)
        assert points[point].limited_by.item == "Main"
    s.put("load", "Sign", va=1200, phases="A", load_class="heat")
    s.joint("LP", "Sign")
    assert Points(s.context())["Tap"].available_a["A"] == pytest.approx(90)


def test_an_open_switch_and_a_branching_end_what_stands_in_line(service) -> None:
    s = service(main_a=400, bus_a=600)
    s.put("disconnect", "Shop", trip_a=100, normally_open=True, closed=False)
    s.put("bus", "LP", rating_a=225, form="switchboard", status="new")
    s.run("MDP", "Shop", "Tap", size="4/0", length_ft=20, **SEEN)
    s.joint("Shop", "LP")
    assert Points(s.context())["Tap"].available_a["A"] == pytest.approx(230)  # Table 310.16, 4/0 copper at 75 °C
