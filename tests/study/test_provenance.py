"""What a drawing's worksheets say of figures that no second source supports, on screen and in JSON."""

from __future__ import annotations

import json
from math import sqrt

import pytest

from oneline.cli.record import verdict_record
from oneline.rules.common import Subject
from oneline.rules.raceways import FillFacts, Wire, raceway_fill
from oneline.study import available, ratings, transformers
from oneline.study.conductors import verdicts as conductor_verdicts

NOTE = "figure from memory"


def sources(found) -> list[str]:
    """Of all worksheet lines, as ``oneline check --json`` gives them."""
    return [line["source"] for line in json.loads(json.dumps(verdict_record(found)))["work"]]


@pytest.mark.parametrize(("raceway", "noted"), [("LFMC", True), ("EMT", False)])
def test_inside_area_of_a_raceway(raceway, noted) -> None:
    """Table 4: the diameters of LFMC have no second source."""
    facts = FillFacts(
        Subject("r", "Run"), 2023, raceway, "2", (Wire(count=4, insulation="THHN", size="2", material="copper"),)
    )
    assert ("Chapter 9 Table 4, " + NOTE in sources(raceway_fill(facts))) == noted
    assert ("Chapter 9 Table 4" in sources(raceway_fill(facts))) != noted


def test_compact_aluminum_decides_with_table_5a() -> None:
    """Whether aluminum fits only if it is compact-stranded rests on Table 5A, whose diameters have no second source."""
    facts = FillFacts(
        Subject("r", "Run"), 2023, "EMT", "1-1/2", (Wire(count=5, insulation="THHN", size="1/0", material="aluminum"),)
    )
    found = raceway_fill(facts)
    assert found.state == "unknown"
    assert "Chapter 9 Table 5A, " + NOTE in sources(found)
    copper = FillFacts(
        Subject("r", "Run"), 2023, "EMT", "1-1/2", (Wire(count=5, insulation="THHN", size="1/0", material="copper"),)
    )
    assert not any("5A" in s for s in sources(raceway_fill(copper)))


@pytest.mark.parametrize(("count", "noted"), [(4, True), (6, False)])
def test_kitchen_demand(service, count, noted) -> None:
    """Table 220.56: 65 % for six pieces has a second source, 80 % for four has none."""
    s = service("208Y/120", 400, 400)
    for k in range(count):
        s.put("load", f"Oven {k}", va=6000, load_class="kitchen", phases="ABC")
        s.joint("MDP", f"Oven {k}")
    found = [v for v in available.verdicts(s.context()) if v.name == "Main"]
    assert found
    assert all(("Table 220.56, " + NOTE in sources(v)) == noted for v in found)
    assert all(("Table 220.56" in sources(v)) != noted for v in found)


def test_kitchen_of_two_large_pieces_rests_on_no_factor(service) -> None:
    """220.56: the two largest pieces count in full whatever the table says; that has a second source."""
    s = service("208Y/120", 400, 400)
    for name, va in (("Range", 20_000), ("Oven", 20_000), ("Mixer", 100)):
        s.put("load", name, va=va, load_class="kitchen", phases="ABC")
        s.joint("MDP", name)
    found = next(v for v in available.verdicts(s.context()) if v.name == "Main")
    assert "Table 220.56" in sources(found)
    assert not any(NOTE in text for text in sources(found))


@pytest.mark.parametrize(("count", "noted"), [(7, True), (6, False)])
def test_elevator_demand(service, count, noted) -> None:
    """Table 620.14: six elevators stand in NEC Annex D, Example D10; seven in no source at hand."""
    s = service("480Y/277", 800, 800)
    for k in range(count):
        s.put("load", f"Lift {k}", va=20 * 480 * sqrt(3), load_class="elevator", phases="ABC")
        s.joint("MDP", f"Lift {k}")
    found = next(v for v in available.verdicts(s.context()) if v.name == "Main")
    assert ("Table 620.14, " + NOTE in sources(found)) == noted


@pytest.mark.parametrize(("kva", "noted"), [(3, True), (75, False)])
def test_transformer_below_nine_amperes(sketch, kva, noted) -> None:
    """Table 450.3(B): the 167 % of 2 A to 9 A has no second source, the 125 % from 9 A has one."""
    s = sketch()
    s.put("service", "Utility", system="480Y/277")
    s.put("disconnect", "Breaker", trip_a=15 if kva == 3 else 100, service_disconnect=True)
    s.put("transformer", "T1", kva=kva, primary_system="480Y/277", secondary_system="208Y/120")
    s.chain("Utility", "Breaker", "T1")
    (found,) = transformers.verdicts(s.context())
    assert ("Table 450.3(B), " + NOTE in sources(found)) == noted


def run(s, **values):
    base = {
        "size": "3/0", "material": "copper", "insulation": "THHN/THWN-2", "sets": 1, "wet": False, "ambient_c": 30,
        "current_carrying": 3, "raceway": "EMT", "length_ft": 20, "terminal_c": 75, "neutral_size": "3/0",
    }  # fmt: skip
    s.put("service", "Utility", system="208Y/120", fault_ka=22, fault_x_r=2)
    s.put("disconnect", "Main", trip_a=200, rating_a=200, interrupting_ka=10, service_disconnect=True)
    s.put("bus", "MDP", rating_a=200)
    s.put("disconnect", "Feeder", trip_a=200, rating_a=200, interrupting_ka=22)
    s.chain("Utility", "Main", "MDP", "Feeder")
    s.put("bus", "LP", rating_a=200, sccr_ka=10)
    return s.run("Feeder", "LP", "Run", **{**base, **values})


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ({"insulation": "XHHW-2"}, "Table 310.16; 90 °C of XHHW-2 from memory"),
        ({"insulation": "XHHW", "wet": True}, "Table 310.16; 75 °C of XHHW from memory"),
        ({"insulation": "THHN/THWN-2"}, "Table 310.16"),
        ({"insulation": "THWN", "wet": True}, "Table 310.16"),
    ],
)
def test_rating_of_the_insulation(sketch, values, expected) -> None:
    """Table 310.4(1) is from memory but where a published answer used the column (THHN) or a text names it (THWN)."""
    s = sketch()
    run(s, **values)
    lines = [
        line for v in conductor_verdicts(s.context()) if v.subject == "Run" for line in v.work
        if line.what.startswith("Table ampacity") and line.source != "Table 310.16"
    ]  # fmt: skip
    assert {line.source for line in lines} == ({expected} - {"Table 310.16"})


@pytest.mark.parametrize(("size", "noted"), [("4/0", True), ("1/0", False)])
def test_constant_of_the_hand_method_on_the_way(sketch, size, noted) -> None:
    """Fuse maker's constants above 1/0 AWG were reconstructed from a scan; the mark goes down with the current."""
    s = sketch()
    run(s, size=size)
    ctx = s.context()
    found = next(v for v in ratings.verdicts(ctx) if v.subject == "LP" and any("by hand" in w.what for w in v.work))
    (line,) = [w for w in found.work if "by hand" in w.what]
    assert line.source.endswith(NOTE) == noted
    above = next(v for v in ratings.verdicts(ctx) if v.subject == "Main" and any("by hand" in w.what for w in v.work))
    assert not any(NOTE in text for text in sources(above))


@pytest.mark.parametrize(("trip_a", "noted"), [(None, True), (100, False), (200, False)])
def test_default_of_the_terminals_by_conductor_size(sketch, trip_a, noted) -> None:
    """110.14(C)(1): 100 A decides where the circuit's rating is known; else 1 AWG does, which has no second source."""
    s = sketch()
    run(s, size="2", terminal_c=None)
    s.drawing = s.drawing.with_items([])
    s.put("disconnect", "Feeder", trip_a=trip_a, rating_a=trip_a)
    found = [w.source for v in conductor_verdicts(s.context()) if v.subject == "Run" for w in v.work
             if w.what.startswith("Ampacity at") and w.formula]  # fmt: skip
    assert found
    assert {text.endswith(NOTE) for text in found} == {noted}
