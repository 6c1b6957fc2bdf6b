"""What is fed in several ways at once: findings follow from the network and never from the order in which it was drawn."""

from __future__ import annotations

import random
from typing import Any

import pytest
from random_edits import random_edit
from random_rings import random_rings
from same_answers import first_difference, same

from oneline.model import Circuit, Drawing
from oneline.network import build_feeding, build_network
from oneline.network.opened import ways
from oneline.study import study
from oneline.study.kept import KeptStudy


def test_kept_answers_of_rings_are_those_of_a_study_from_scratch() -> None:
    for seed in range(500, 510):
        drawing, rng, kept = random_rings(seed), random.Random(seed), KeptStudy()
        for step in range(8):
            found, wanted = kept.of(drawing), study(drawing)
            assert same(tuple(found.verdicts), wanted.verdicts), (
                seed, step, first_difference(tuple(found.verdicts), wanted.verdicts),
            )  # fmt: skip
            drawing = random_edit(drawing, rng)


# -------------------------------------------------------------------------------------------------- the ways themselves
def trees(drawing: Drawing) -> tuple[int, set[frozenset[str]]]:
    """Number of spanning trees of the closed network by Kirchhoff's theorem (a determinant; from memory), sources as one
    node, and the cuts that the program found."""
    import numpy as np

    net = build_network(drawing)
    found = ways(net, build_feeding(net))
    grounds = set(net.sources.values())
    index = {n: k for k, n in enumerate(n for n in range(net.node_count) if n not in grounds)}
    matrix = np.zeros((len(index) + 1, len(index) + 1))
    for b in net.branches.values():
        if b.b < 0 or not b.normally_closed:
            continue
        i, j = index.get(b.a, len(index)), index.get(b.b, len(index))
        if i != j:
            matrix[i, i] += 1
            matrix[j, j] += 1
            matrix[i, j] -= 1
            matrix[j, i] -= 1
    number = round(float(np.linalg.det(matrix[:-1, :-1])))
    return number, set() if found is None else set(found.cuts)


def feeders(sketch: Any, trips: tuple[float | None, ...], size: str = "3", bus_a: float = 400, **more: Any) -> Any:
    """A board that feeds one panel by several feeders, all closed."""
    s = sketch(2023)
    s.put("service", "Utility", system="208Y/120", fault_ka=10.0)
    s.put("disconnect", "Main", form="breaker", trip_a=800, rating_a=800, service_disconnect=True)
    s.put("bus", "Board", rating_a=800, form="switchboard")
    load = Circuit(space=1, poles=3, trip_a=60, va=10_000, load_class="other", continuous=False, use="load")
    s.put("bus", "Panel", form="panelboard", rating_a=bus_a, status="new", phases="ABC", circuits=(load,))
    s.chain("Utility", "Main", "Board")
    for k, trip in enumerate(trips, 1):
        s.put("disconnect", f"S{k}", form="breaker", trip_a=trip, rating_a=trip, adjustable=False)
        s.chain("Board", f"S{k}")
        s.run(f"S{k}.load", "Panel", f"F{k}", **{**WIRE, "size": size, **more})
    return s


WIRE = {
    "material": "copper", "insulation": "THHN/THWN-2", "wet": False, "ambient_c": 30.0, "current_carrying": 3,
    "terminal_c": 75.0, "raceway": "EMT", "length_ft": 60.0, "egc_size": "8", "egc_material": "copper", "status": "new",
    "sets": 1, "phases": "ABC",
}  # fmt: skip


@pytest.mark.parametrize("count", [2, 3])
def test_every_way_of_opening_is_there(sketch: Any, count: int) -> None:
    """Kirchhoff's matrix-tree theorem counts the spanning trees."""
    number, cuts = trees(feeders(sketch, (100,) * count).context().drawing)
    assert len(cuts) == number


# ------------------------------------------------------------------------------------------------------------- by hand
def states(s: Any, item: str, *rules: str) -> dict[str, str]:
    """States by rule of an item; alternatives left out."""
    return {v.rule: v.state for v in study(s.drawing).verdicts
            if v.subject == item and v.rule in rules and not v.alternative}  # fmt: skip


@pytest.mark.parametrize("trips", [(100, 225), (225, 100)])
def test_a_conductor_is_fed_from_both_its_ends(sketch: Any, trips: Any) -> None:
    """3 AWG copper carries 100 A at 75 °C (Table 310.16). From the panel each of two such feeders is fed by the other's
    device too: 225 A protect neither of them at both ends (240.4; 240.21 where conductors receive their supply). 225 A ask
    for an equipment grounding conductor of 4 AWG copper, 100 A for 8 AWG (Table 250.122). From memory."""
    s = feeders(sketch, trips)
    for run in ("F1", "F2"):
        found = [v for v in study(s.drawing).verdicts if v.subject == run and not v.alternative]
        assert {v.state for v in found if v.rule == "OCP-4B"} == {"fail"}
        assert {v.state for v in found if v.rule == "GND-3"} == {"fail"}
        assert "S1" in " ".join(v.message for v in found)
        assert "S2" in " ".join(v.message for v in found)


def test_feeders_that_either_device_protects_pass(sketch: Any) -> None:
    """The same feeders behind 100 A each: from both ends the device ahead is no larger than their 100 A."""
    s = feeders(sketch, (100, 100))
    for run in ("F1", "F2"):
        assert states(s, run, "OCP-4B", "TAP-0", "GND-3") == {"OCP-4B": "pass", "GND-3": "pass"}


def test_an_unknown_device_at_the_other_end_leaves_it_open(sketch: Any) -> None:
    """What is not known of one device ahead is not known of the conductor, at whichever end."""
    s = feeders(sketch, (100, None))
    assert states(s, "F1", "OCP-4B", "TAP-0").get("TAP-0") != "pass"
    assert "unknown" in states(s, "F1", "OCP-4B", "TAP-0").values()


@pytest.mark.parametrize(("bus_a", "state"), [(100, "fail"), (199, "fail"), (200, "pass")])
def test_a_panel_is_held_against_the_sum(sketch: Any, bus_a: float, state: str) -> None:
    """Kirchhoff's current law: two devices of 100 A pass 200 A to the bus before either opens."""
    assert states(feeders(sketch, (100, 100), bus_a=bus_a), "Panel", "PNL-1") == {"PNL-1": state}


@pytest.mark.parametrize(("size", "state"), [("3", "unknown"), ("3/0", "pass")])
def test_conductors_behind_a_loop_are_held_against_the_sum(sketch: Any, size: str, state: str) -> None:
    """3 AWG (100 A) from a bus that two devices of 100 A feed may be loaded with 200 A; 3/0 AWG carries them (200 A at 75 °C,
    Table 310.16)."""
    s = feeders(sketch, (100, 100))
    s.put("load", "Heater", va=9000, load_class="heat", continuous=False, phases="ABC", power_factor=1.0)
    s.run("Panel", "Heater", "Tail", **{**WIRE, "size": size})
    assert states(s, "Tail", "OCP-4B") == {"OCP-4B": state}


def test_one_run_of_several_sets_is_no_loop(sketch: Any) -> None:
    """Conductors in parallel (310.10(G), from memory) are one conductor: one device ahead."""
    s = feeders(sketch, (225,), size="1/0", sets=2)
    assert states(s, "F1", "OCP-4B") == {"OCP-4B": "pass"}
    assert trees(s.drawing) == (1, set())


def test_services_joined_by_a_closed_tie_feed_each_board_from_two_sides(sketch: Any) -> None:
    """A closed tie of 600 A brings the other service's current to a board of 400 A behind a main of 400 A; it would not while
    the tie is normally open."""
    for normally_open, state in ((False, "fail"), (True, "pass")):
        s = sketch(2023)
        for k in (1, 2):
            s.put("service", f"U{k}", system="208Y/120")
            s.put(
                "disconnect",
                f"M{k}",
                form="breaker",
                trip_a=400,
                rating_a=400,
                service_disconnect=True,
                adjustable=False,
            )
            s.put("bus", f"B{k}", form="panelboard", rating_a=400, status="new")
            s.chain(f"U{k}", f"M{k}", f"B{k}")
        s.put("disconnect", "Tie", form="breaker", trip_a=600, rating_a=600, adjustable=False,
              normally_open=normally_open, closed=not normally_open)  # fmt: skip
        s.chain("B1", "Tie")
        s.joint("Tie", "B2")
        assert [states(s, f"B{k}", "PNL-1") for k in (1, 2)] == [{"PNL-1": state}] * 2


def test_figures_of_a_loop_are_not_those_of_one_branch(sketch: Any) -> None:
    """Two feeders of 100 A: what fits at the panel is at least what one of them leaves, and that the loop brings more is not
    excluded by either; the board's main leaves more."""
    point = study(feeders(sketch, (100, 100)).drawing).points["Panel"]
    assert set(point.available_a.values()) == {None}
    assert all(a is not None and a > 100 for a in point.available_bound_a.values())
