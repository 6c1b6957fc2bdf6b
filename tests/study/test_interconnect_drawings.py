"""Interconnected sources, several supplies and what stays live, on drawings."""

from __future__ import annotations

from dataclasses import replace

import pytest

from oneline.model import Disconnect, Drawing
from oneline.study import backfeed, interconnect, taps
from oneline.study.sources import sources_below

RUN = {
    "material": "copper", "insulation": "THHN/THWN-2", "raceway": "EMT", "ambient_c": 30, "wet": False,
    "current_carrying": 3, "terminal_c": 75, "length_ft": 20,
}  # fmt: skip


def change(s, item_id: str, **values) -> None:
    s.drawing = s.drawing.with_items([replace(s.drawing.get(item_id), **values)])


def rooftop(service, circuit, **breaker):
    """Published case: 200 A bus and main, 32 A inverter on a 40 A breaker, 120/240 V."""
    lines = [circuit(space=k, poles=2, va=4800, trip_a=50, load_class="kitchen") for k in (2, 6, 10, 14)]
    s = service("120/240-1", 200, 200, circuits=tuple(lines), feed_position="end")
    s.put("disconnect", "PV breaker", **({"trip_a": 40, "bus_end": "opposite end"} | breaker))
    s.put("solar", "Array", output_kw=7.68, phases="AB", interactive_listed=True)
    s.joint("MDP", "PV breaker")
    s.joint("PV breaker", "Array.out")
    return s


def free(circuit, spaces: int, *taken: int) -> tuple:
    """Lines that say of every other space that it is free."""
    return tuple(circuit(space=k, trip_a=None, va=None, use="space") for k in range(1, spaces + 1) if k not in taken)


def states(ctx, *rules: str) -> dict[tuple[str, str], str]:
    return {(v.rule, v.name): v.state for v in interconnect.verdicts(ctx) if not rules or v.rule in rules}


def test_120_percent_rule_on_a_drawing(service, circuit) -> None:
    """Solar installers' guide, 2017-2023: 200 A bus and main, opposite end: 32 A (7.68 kW at 240 V) is the most."""
    s = rooftop(service, circuit)
    ctx = s.context()
    (summary,) = [v for v in interconnect.verdicts(ctx) if v.rule == "PV-1"]
    assert (summary.state, summary.subject) == ("pass", "MDP")
    assert (summary.value, summary.limit) == pytest.approx((240, 240))
    change(s, "Array", output_kw=7.7)
    assert states(s.context(), "PV-1") == {("PV-1", "MDP"): "fail"}
    change(s, "Array", output_kw=None)
    assert states(s.context(), "PV-1") == {("PV-1", "MDP"): "unknown"}


@pytest.mark.parametrize(("place", "state"), [("feed end", "fail"), ("between", "fail"), (None, "unknown")])
def test_moving_the_breaker_breaks_it(service, circuit, place, state) -> None:
    assert states(rooftop(service, circuit, bus_end=place).context(), "PV-1") == {("PV-1", "MDP"): state}


def test_a_new_breaker_breaks_the_sum_of_breakers(service, circuit) -> None:
    """705.12(B)(3): 40 A source and 150 A of loads on 200 A hold; 20 A more do not."""
    s = rooftop(service, circuit, bus_end="feed end")
    lines = [circuit(space=2 * k, trip_a=75, va=0, load_class="heat") for k in (1, 2)]
    change(s, "PV breaker", poles=2, space=1)
    change(s, "MDP", spaces=10, circuits=tuple(lines))
    assert states(s.context(), "PV-1") == {("PV-1", "MDP"): "unknown"}  # nobody said what the other spaces hold
    rest = free(circuit, 10, 1, 2, 3, 4, 9)
    change(s, "MDP", circuits=(*lines, *rest, *free(circuit, 9, *range(1, 9))))
    assert states(s.context(), "PV-1") == {("PV-1", "MDP"): "pass"}
    new = circuit(space=9, trip_a=20, va=0, load_class="heat", status="new")
    change(s, "MDP", spaces=None, circuits=(*lines, *rest))
    assert states(s.context(), "PV-1") == {("PV-1", "MDP"): "unknown"}  # nor how many there are
    change(s, "MDP", spaces=10, circuits=(*lines, *rest, new))
    assert states(s.context(), "PV-1") == {("PV-1", "MDP"): "fail"}
    assert states(s.context("existing"), "PV-1") == {("PV-1", "MDP"): "pass"}


@pytest.mark.parametrize(("feed", "state"), [("end", "pass"), ("center", "fail"), (None, "unknown")])
def test_only_a_bus_fed_at_its_end_has_an_opposite_end(service, circuit, feed, state) -> None:
    s = rooftop(service, circuit)
    change(s, "MDP", feed_position=feed)
    assert states(s.context(), "PV-1b") == {("PV-1b", "MDP"): state}


def test_every_bus_on_the_way_is_tested(service, circuit) -> None:
    s = service(main_a=400, bus_a=400, feed_position="end")
    s.put("disconnect", "Feeder", trip_a=100, bus_end="opposite end")
    s.put("bus", "LP", rating_a=225)
    s.put("disconnect", "PV breaker", trip_a=60)
    s.put("solar", "Array", output_a=48, phases="ABC")
    s.joint("MDP", "Feeder")
    s.run("Feeder", "LP", "Feeder LP", size="1", **RUN)
    s.joint("LP", "PV breaker")
    s.joint("PV breaker", "Array.out")
    found = states(s.context(), "PV-1", "PV-2")
    assert found == {("PV-1", "MDP"): "pass", ("PV-1", "LP"): "pass", ("PV-2", "Feeder LP"): "pass"}
    change(s, "Feeder LP", size="8")  # 50 A against 60 A
    assert states(s.context(), "PV-2")[("PV-2", "Feeder LP")] == "fail"


def test_main_lug_panel_is_not_exempt(service, circuit) -> None:
    """The upstream feeder device protects it: 200 A and 60 A on a 225 A bus, not at the end."""
    s = service(main_a=400, bus_a=800)
    s.put("disconnect", "Feeder", trip_a=200)
    rows = (circuit(space=1, trip_a=20), circuit(space=3, trip_a=20), *free(circuit, 6, 1, 3, 2, 4, 6))
    s.put("bus", "LP", rating_a=225, spaces=6, circuits=rows)
    s.put("disconnect", "PV breaker", trip_a=60, poles=3, space=2, bus_end="feed end")
    s.put("solar", "Array", output_a=48, phases="ABC")
    s.chain("MDP", "Feeder", "LP", "PV breaker")
    s.joint("PV breaker", "Array.out")
    ctx = s.context()
    found = {v.rule: v for v in interconnect.verdicts(ctx) if v.subject == "LP"}
    assert found["PV-1a"].state == "fail"
    assert found["PV-1"].state == "pass"  # 60 + 20 + 20 A of breakers within 225 A
    assert found["PV-1"].section == found["PV-1c"].section


def test_an_adjustable_breaker_counts_with_its_highest_setting(service) -> None:
    """705.12(B)(3)(3) sums ratings; the rating of an adjustable breaker is its highest setting, 240.6(C) (both from memory).

    A 225 A bus with 100 A and 60 A of breakers passes; the 100 A trip in a 250 A frame may be set to 250 A.
    """
    s = service(main_a=400, bus_a=800)
    s.put("disconnect", "Feeder", trip_a=200)
    s.put("bus", "LP", rating_a=225, form="switchboard")
    s.put("disconnect", "PV breaker", trip_a=60, bus_end="feed end")
    s.put("disconnect", "Shop", trip_a=100, rating_a=250, adjustable=False)
    s.put("solar", "Array", output_a=48, phases="ABC")
    s.chain("MDP", "Feeder", "LP", "PV breaker")
    s.joint("PV breaker", "Array.out")
    s.joint("LP", "Shop")
    assert states(s.context(), "PV-1c")["PV-1c", "LP"] == "pass"
    change(s, "Shop", adjustable=True)
    assert states(s.context(), "PV-1c")["PV-1c", "LP"] == "fail"
    change(s, "Shop", adjustable=None)
    assert states(s.context(), "PV-1c")["PV-1c", "LP"] == "unknown"


def test_a_tap_beside_the_source_is_judged_as_a_tap_only(service) -> None:
    """705.12(A) and (B): a feeder's part beyond the junction carries feeder and source, a tap is measured against their
    sum by a tenth or a third (numbers of the sections from memory). 3/0 copper, 200 A, is a third of no more than 600 A:
    400 A and 1.25 times 48 A are 460 A."""
    s = service()
    s.put("disconnect", "Feeder", trip_a=400)
    s.put("bus", "Gutter", form="gutter")
    s.put("disconnect", "PV breaker", trip_a=60)
    s.put("solar", "Array", output_a=48, phases="ABC")
    s.put("disconnect", "Shop", form="fused switch", trip_a=200, rating_a=200)
    s.put("bus", "LP", rating_a=225)
    s.joint("MDP", "Feeder")
    s.run("Feeder", "Gutter", "Line part", size="600", **RUN)
    s.joint("Gutter", "PV breaker")
    s.joint("PV breaker", "Array.out")
    s.run("Gutter", "Shop", "Shop tap", size="3/0", **{**RUN, "length_ft": 20})
    s.joint("Shop", "LP")
    ctx = s.context()
    assert "Shop tap" not in {subject for _rule, subject in states(ctx, "PV-2")}
    found = {(v.rule, v.subject): v.state for v in taps.verdicts(ctx)}
    assert found["TAP-25", "Shop tap"] == "pass"


def test_source_in_the_middle_of_a_feeder(service) -> None:
    """705.12(A): beyond the junction the conductors see the feeder's device and the source: 200 + 60 A on 200 A."""
    s = service()
    s.put("disconnect", "Feeder", trip_a=200)
    s.put("bus", "Gutter", form="gutter")
    s.put("bus", "LP", rating_a=225)
    s.put("disconnect", "PV switch", form="fused switch", trip_a=60)
    s.put("solar", "Array", output_a=48, phases="ABC")
    s.joint("MDP", "Feeder")
    s.run("Feeder", "Gutter", "First part", size="3/0", **RUN)
    s.run("Gutter", "LP", "Second part", size="3/0", **RUN)
    s.joint("Gutter", "PV switch")
    s.joint("PV switch", "Array.out")
    found = {v.name: v for v in interconnect.verdicts(s.context()) if v.rule == "PV-2"}
    assert found["First part"].state == "pass"
    assert (found["Second part"].state, found["Second part"].value, found["Second part"].limit) == ("fail", 200, 260)


def test_ahead_of_the_service_disconnect(sketch) -> None:
    """705.11: a connection ahead of the main: tested against the service, not as a bus."""
    s = sketch(edition=2020)
    s.put("service", "Utility", system="208Y/120")
    s.put("bus", "Gutter", form="gutter")
    s.put("disconnect", "Main", trip_a=200, rating_a=200, service_disconnect=True)
    s.put("bus", "MDP", rating_a=200, status="new")
    s.put("disconnect", "PV switch", form="fused switch", trip_a=100, rating_a=100)
    s.put("solar", "Array", output_a=80, phases="ABC")
    s.run("Utility", "Gutter", "Service conductors", size="3/0", **RUN)
    s.chain("Gutter", "Main", "MDP")
    s.run("Gutter", "PV switch", "PV tap", size="3", **RUN | {"length_ft": 10})
    s.joint("PV switch", "Array.out")
    found = states(s.context(), "PV-1", "PV-2", "PV-4")
    assert found == {("PV-4", "PV tap"): "pass"}
    change(s, "PV tap", length_ft=20)
    assert states(s.context(), "PV-4") == {("PV-4", "PV tap"): "fail"}


def test_what_counts_against_the_service_by_edition(sketch) -> None:
    """705.12(A) of 2017: the devices against the service; 705.11(A) since 2020: output against conductors. From memory."""
    s = sketch(edition=2017)
    s.put("service", "Utility", system="208Y/120")
    s.put("bus", "Gutter", form="gutter")
    s.put("disconnect", "Main", form="breaker", trip_a=350, rating_a=350, service_disconnect=True)
    s.put("bus", "MDP", rating_a=400)
    s.put("disconnect", "PV breaker", form="breaker", trip_a=400, rating_a=400)
    s.put("solar", "Array", output_a=300, phases="ABC")
    s.run("Utility", "Gutter", "Service conductors", size="500", **RUN)  # 380 A
    s.chain("Gutter", "Main", "MDP")
    s.run("Gutter", "PV breaker", "PV tap", size="500", **RUN | {"length_ft": 9})
    s.joint("PV breaker", "Array.out")
    assert states(s.context(), "PV-4") == {("PV-4", "PV tap"): "fail"}  # 400 A on a service of 350 A
    assert states(s.context(edition=2020), "PV-4") == {("PV-4", "PV tap"): "pass"}  # 300 A on 380 A
    change(s, "Array", output_a=390)
    change(s, "PV tap", sets=2)
    assert states(s.context(edition=2020), "PV-4") == {("PV-4", "PV tap"): "fail"}
    # A breaker that can be set higher counts with its highest setting.
    change(s, "Array", output_a=40)
    change(s, "PV breaker", trip_a=50, rating_a=600, adjustable=True)
    assert states(s.context(), "PV-4") == {("PV-4", "PV tap"): "fail"}


def test_a_tap_from_the_bus_counts_in_the_sum(service, circuit) -> None:
    """705.12(B)(3): every device that takes current from the bus, also at the end of a tap: 40 + 4 x 50 (or 20) + 175 A."""
    s = rooftop(service, circuit, bus_end="feed end", poles=2, space=1)
    lines = (circuit(space=2, trip_a=20, va=0, load_class="heat"), *free(circuit, 6, 1, 2, 3))
    change(s, "MDP", spaces=6, circuits=lines)
    assert states(s.context(), "PV-1") == {("PV-1", "MDP"): "pass"}  # 60 A
    s.put("disconnect", "Tap switch", form="fused switch", trip_a=175, rating_a=200)
    s.run("MDP", "Tap switch", "Tap", size="3/0", **RUN)
    (found,) = [v for v in interconnect.verdicts(s.context()) if v.rule == "PV-1c"]
    assert (found.state, found.value) == ("fail", 235)
    s.put("transformer", "T1", kva=15)
    s.joint("MDP", "T1")
    change(s, "Tap switch", trip_a=20)
    (found,) = [v for v in interconnect.verdicts(s.context()) if v.rule == "PV-1c"]
    assert found.state == "unknown"  # nobody drew what protects its primary
    assert any("T1" in n for n in found.needs)


@pytest.mark.parametrize("forms_grid", [True, None, False])
@pytest.mark.parametrize(("listed", "state"), [(True, "pass"), (None, "unknown"), (False, "fail")])
def test_a_battery_beside_the_utility_is_listed_or_transferred(service, forms_grid, listed, state) -> None:
    """UL 1741, IEEE 1547: an inverter in parallel with the utility stops when that is lost."""
    s = service()
    s.put("disconnect", "Battery breaker", trip_a=30)
    s.put("battery", "Battery", output_a=20, phases="ABC", forms_grid=forms_grid, interactive_listed=listed)
    s.chain("MDP", "Battery breaker")
    s.joint("Battery breaker", "Battery.out")
    found = states(s.context(), "PV-7")
    assert found == {("PV-7", "Battery"): state}


def test_places_that_are_only_assumed_are_named(service, circuit) -> None:
    s = rooftop(service, circuit, basis={"bus_end": "assumed"})
    (found,) = [v for v in interconnect.verdicts(s.context()) if v.rule == "PV-1"]
    assert (found.state, found.basis) == ("pass", "assumed")
    assert "of PV breaker)" in found.message


def test_output_through_a_transformer(sketch) -> None:
    """48 A at 208 V are 20.8 A at 480 V."""
    s = sketch()
    s.put("service", "Utility", system="480Y/277")
    s.put("disconnect", "Main", trip_a=400)
    s.put("bus", "MDP", rating_a=400)
    s.put("disconnect", "Primary", trip_a=50)
    s.put("transformer", "T1", kva=45, primary_system="480Y/277", secondary_system="208Y/120", connection="delta-wye")
    s.put("bus", "LA", rating_a=225)
    s.put("solar", "Array", output_a=48, phases="ABC")
    s.chain("Utility", "Main", "MDP", "Primary", "T1", "LA")
    s.run("LA", "Array.out", size="6", **RUN)
    ctx = s.context()
    assert sources_below(ctx, ctx.net.node("LA")).output.value == pytest.approx(48)
    assert sources_below(ctx, ctx.net.node("MDP")).output.value == pytest.approx(48 * 208 / 480)


# -------------------------------------------------------------------------------------------------- transfer
def standby(sketch, circuit, **transfer):
    s = sketch()
    s.put("service", "Utility", system="208Y/120")
    s.put("disconnect", "Main", trip_a=200, location="Electrical room")
    s.put("generator", "Gen", kva=60, system="208Y/120", neutral_bonded=False)
    s.put("disconnect", "Gen breaker", trip_a=200, location="Yard")
    s.put("bus", "EM", rating_a=200, circuits=(circuit(space=1, poles=3, va=9000, load_class="heat"),))
    s.joint("Utility", "Main")
    s.joint("Gen", "Gen breaker")
    return s


def test_generator_with_and_without_transfer_switch(sketch, circuit) -> None:
    """702.5: transfer equipment keeps the sources apart."""
    s = standby(sketch, circuit)
    s.put("transfer", "ATS", rating_a=200, switched_neutral=False)
    s.joint("Main", "ATS.normal")
    s.joint("Gen breaker", "ATS.alternate")
    s.joint("ATS.load", "EM")
    found = states(s.context(), "GEN-1", "GEN-2")
    assert found == {("GEN-1", "Gen"): "pass", ("GEN-2", "ATS"): "pass"}
    change(s, "Gen", neutral_bonded=True)
    assert states(s.context(), "GEN-2") == {("GEN-2", "ATS"): "fail"}

    without = standby(sketch, circuit)
    without.joint("Main", "EM")
    without.joint("Gen breaker", "EM")
    assert states(without.context(), "GEN-1") == {("GEN-1", "Gen"): "fail"}
    change(without, "Gen breaker", normally_open=True, closed=False)
    assert states(without.context(), "GEN-1") == {("GEN-1", "Gen"): "judge"}


def test_directory_names_every_supply_and_its_disconnect(sketch, circuit) -> None:
    """230.2(E), 705.10."""
    s = standby(sketch, circuit)
    s.put("transfer", "ATS", rating_a=200)
    s.joint("Main", "ATS.normal")
    s.joint("Gen breaker", "ATS.alternate")
    s.joint("ATS.load", "EM")
    s.put("service", "Second", system="120/240-1")
    s.put("disconnect", "Dock main", trip_a=100)
    s.joint("Second", "Dock main")
    found = {(v.rule, v.name): v for v in interconnect.verdicts(s.context()) if v.rule in ("LBL-2", "SVC-1")}
    directory = found[("LBL-2", "Utility")]
    assert "all 3 supplies" in directory.message
    assert "Gen and Second" in directory.message
    assert [(line.what, line.value) for line in directory.work] == [
        ("Gen disconnects at", "Gen breaker (Yard)"), ("Second disconnects at", "Dock main"),
    ]  # fmt: skip
    assert found[("SVC-1", "Utility")].state == "judge"


# ------------------------------------------------------------------------------------------------ stays live
def live(ctx) -> dict[str, str]:
    return {v.name: v.message for v in backfeed.verdicts(ctx)}


def test_main_open_with_a_roof_array(service, circuit) -> None:
    s = rooftop(service, circuit)
    found = live(s.context())
    assert found["Main"] == "When Main is open, MDP stays live from Array through PV breaker."
    assert set(found) == {"Main", "PV breaker"}
    change(s, "Main", closed=False)
    assert live(s.context())["Main"].startswith("Main is open, and MDP is live from Array through PV breaker")
    assert "Utility" in live(s.context())["Main"]
    change(s, "PV breaker", closed=False)
    assert "Main" not in live(s.context())


def test_untraced_tie(service, circuit) -> None:
    s = service(circuits=(circuit(space=1, va=1000, load_class="heat"),))
    s.put("tie", "Stair light", a=s.end("MDP", 0), b=None)
    (found,) = backfeed.verdicts(s.context())
    assert (found.state, found.needs) == ("unknown", ("trace of Stair light",))


def test_against_closing_and_opening_by_hand(service, circuit) -> None:
    """A device is named exactly where, with it open, its far side is still connected to a source (physics)."""
    s = rooftop(service, circuit)
    s.put("disconnect", "F1", trip_a=100)
    s.put("bus", "LP", rating_a=100, status="new")
    s.chain("MDP", "F1", "LP")
    named = set(live(s.context()))
    for device in s.drawing.of(Disconnect):
        opened = Drawing(s.drawing.project).with_items(
            [replace(i, closed=False) if i.id == device.id else i for i in s.drawing.items.values()]
        )
        reach = {"MDP": "MDP.bus", "F1": "LP", "Main": "MDP", "PV breaker": "Array"}[device.id]
        joined = {reach.partition(".")[0]}
        while True:
            more = {
                other
                for c in opened.connections()
                for here, other in ((c.a.item, c.b.item), (c.b.item, c.a.item))
                if here in joined and other not in joined and other != device.id
            }
            if not more:
                break
            joined |= more
        assert (device.id in named) == bool(joined & {"Utility", "Array"})
