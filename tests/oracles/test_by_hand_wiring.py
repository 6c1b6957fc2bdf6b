"""Ampacity, counts, parallel sets, fill and boxes against ``by_hand_wiring``: 10,000 random inputs each, edges included."""

from __future__ import annotations

import random
from collections import Counter
from fractions import Fraction as F

import by_hand_wiring as hand
import pytest

from oneline.model.vocabulary import SYSTEMS
from oneline.rules.ampacity import RunFacts, ampacity
from oneline.rules.common import Fact, Subject
from oneline.rules.conductor_load import LoadFacts, conductor_load, parallel_sets
from oneline.rules.counting import Circuit, neutral_kind, of_raceway
from oneline.rules.enclosures import BoxFacts, GutterFacts, gutter, nipple, pull_box
from oneline.rules.raceways import FillFacts, Wire, raceway_fill
from oneline.rules.roof import Part, follow_all

COUNT = 10_000
RUN = Subject("r", "Run")
SIZES = ("12", "10", "8", "6", "4", "2", "1", "1/0", "3/0", "4/0", "250", "500", "750")
RACEWAYS = ("EMT", "RMC", "PVC-40", "PVC-80")
WORDS = {True: "pass", False: "fail"}


def known(value: F | None) -> Fact:
    """A number as the rules read it; its name stands for what is missing."""
    return Fact(None if value is None else float(value), need="it")


def random_run(rng: random.Random) -> tuple[RunFacts, dict]:
    size, material = rng.choice(SIZES), rng.choice(("copper", "aluminum"))
    roof = rng.random() < 0.3
    case = {
        "size": size, "material": material, "insulation": rng.choice([*hand.INSULATION]), "wet": rng.random() < 0.3,
        "sets": rng.choice((1, 1, 2, 3)), "ambient": F(rng.choice((10, 11, 26, 30, 31, 35, 36, 40, 41, 45, 60, 71))),
        "count": rng.choice((3, 4, 6, 7, 9, 10, 20, 21, 30, 31, 40, 41)), "terminal": rng.choice((60, 75, 90)),
        "length_ft": rng.choice((None, F(2), F(2) + F(1, 480), F(1), F(40))), "raceway": rng.choice(("EMT", "wireway")),
        "roof_in": rng.choice((F(0), F(7, 8), F(7, 8) - F(1, 64), F(12))) if roof else None,
    }  # fmt: skip
    facts = RunFacts(
        RUN, 2023, size, material, case["insulation"], case["sets"], case["wet"], float(case["ambient"]), case["count"], 3,
        case["raceway"], None if case["length_ft"] is None else float(case["length_ft"]), case["terminal"],
        rooftop=roof, roof_height_in=None if case["roof_in"] is None else float(case["roof_in"]),
    )  # fmt: skip
    return facts, case


def test_ampacity() -> None:
    rng, seen = random.Random(1), Counter()
    for _ in range(COUNT):
        facts, case = random_run(rng)
        got = ampacity(facts).iz_a
        if case["wet"] and case["insulation"] == "THHN":  # not permitted there: AMP-1 fails, whatever the figure
            continue
        wanted = hand.ampacity(**case)
        assert (got is None) == (wanted is None), case
        if wanted is not None:
            assert got == pytest.approx(float(wanted), rel=1e-12), case
        seen[wanted is None] += 1
    assert seen[False] > 5000
    assert seen[True] > 50


def test_load_before_and_after_correction() -> None:
    rng, seen = random.Random(2), Counter()
    for _ in range(COUNT):
        facts, case = random_run(rng)
        case |= {"length_ft": None, "roof_in": None, "raceway": "EMT", "wet": False}
        facts = RunFacts(
            RUN, 2023, case["size"], case["material"], case["insulation"], case["sets"], False, float(case["ambient"]),
            case["count"], 3, "EMT", None, case["terminal"],
        )  # fmt: skip
        if hand.ampacity(**case) is None:
            continue
        lugs = case["sets"] * hand.table_ampacity(case["size"], case["material"], case["terminal"])
        column = hand.INSULATION[case["insulation"]][0]
        heat = hand.heat_factor(column, case["ambient"])
        use = (
            case["sets"]
            * hand.table_ampacity(case["size"], case["material"], column)
            * heat
            * hand.crowd_factor(case["count"])
        )
        listed = rng.random() < 0.3
        factor = F(1) if listed else F(5, 4)
        step = F(rng.choice((-1, 0, 1)), 100)
        edge = rng.choice(("lugs", "use", "any"))
        if edge == "lugs":
            continuous = max(F(0), lugs / factor + step)
            other = F(0)
        elif edge == "use":
            continuous, other = F(0), max(F(0), use + step)
        else:
            continuous, other = F(rng.randrange(400)), F(rng.randrange(400))
        wanted = hand.carries(use, lugs, continuous, other, listed)
        found = conductor_load(
            LoadFacts(facts, known(continuous + other), known(F(5, 4) * continuous + other), full_rated=listed)
        )
        assert found.state == WORDS[wanted], (case, continuous, other, listed)
        seen[wanted] += 1
    assert min(seen.values()) > 500


def test_counts() -> None:
    rng = random.Random(3)
    four_wire = [s for s in SYSTEMS if s not in ("240D", "480D", "240D-CG", "480D-CG")]
    for _ in range(COUNT):
        total, circuits, groups = 0, [], {}
        for k in range(rng.randrange(1, 6)):
            system = rng.choice(four_wire)
            all_phases = "A" if system == "120-1" else "AB" if system.endswith("-1") else "ABC"
            phases = rng.choice([p for p in ("A", "B", "AB", "BC", "CA", "ABC") if set(p) <= set(all_phases)])
            neutral, nonlinear, sets = rng.random() < 0.7 or len(phases) == 1, rng.random() < 0.5, rng.choice((1, 1, 2))
            group = rng.choice(("", "", "fire pump"))
            one = sets * hand.counted(system, phases, neutral, nonlinear)
            kind = neutral_kind(
                system, len(phases), "B" in phases and system == "240D/120-HL", "12" if neutral else "none", nonlinear
            )
            circuits.append(Circuit(Subject(str(k), str(k)), len(phases), sets, kind, group, sets))
            if group:
                groups[group] = max(groups.get(group, 0), one)
            else:
                total += one
        assert of_raceway(circuits).exact == total + sum(groups.values()), circuits


def test_short_lower_parts() -> None:
    rng, seen = random.Random(4), Counter()
    for _ in range(COUNT):
        high_ft = F(rng.choice((20, 50, 99, 100, 101, 300)))
        low_ft = rng.choice((F(10), F(10) + F(1, 48), high_ft / 10, high_ft / 10 + F(1, 48), F(rng.randrange(1, 40))))
        found = follow_all([Part("a", "a", 80.0, float(low_ft)), Part("b", "b", 100.0, float(high_ft))])
        wanted = hand.follows(low_ft, high_ft)
        assert (found["a"].leader == "b") == wanted, (low_ft, high_ft)
        assert found["b"].lower is False
        seen[wanted] += 1
    assert min(seen.values()) > 1000


def test_parallel_sets() -> None:
    rng, seen = random.Random(5), Counter()
    area = {r["size"]: F(r["area_cmil"]) for r in hand.read("t310_16_ampacity")}
    for _ in range(COUNT):
        size, neutral = rng.choice(SIZES), rng.choice(("none", *SIZES))
        alike = rng.choice((True, False, None))
        found = parallel_sets(RunFacts(RUN, 2023, size, "copper", "THHN", 2), alike, neutral)
        large = hand.parallel(area[size], area.get(neutral), True)
        wanted = "fail" if not large or alike is False else "unknown" if alike is None else "pass"
        assert found.state == wanted, (size, neutral, alike)
        seen[wanted] += 1
    assert min(seen.values()) > 500


def test_fill() -> None:
    rng, seen = random.Random(6), Counter()
    for _ in range(COUNT):
        kind = rng.choice(RACEWAYS)
        trade = rng.choice(hand.trade_sizes(kind))
        wires = [(rng.choice((1, 1, 2, 3, 4)), rng.choice(SIZES)) for _ in range(rng.choice((1, 1, 2, 3)))]
        is_nipple, room = rng.random() < 0.3, hand.inside(kind, trade)
        if rng.random() < 0.6:  # near the limit: as many of one size as fit, or one more
            size = rng.choice(SIZES)
            share = F(60, 100) if is_nipple else F(40, 100)
            most = int(share * room / hand.wire_area(size))
            wires = [(max(1, most + rng.choice((0, 1))), size)]
        facts = FillFacts(
            RUN, 2023, kind, trade, tuple(Wire(n, s, "copper", "THHN") for n, s in wires), nipple=is_nipple
        )
        wanted = hand.fits(wires, room, is_nipple)
        found = raceway_fill(facts)
        assert found.state == WORDS[wanted], (kind, trade, wires, is_nipple)
        if not wanted:  # what is proposed fits, and the next smaller does not
            sizes = hand.trade_sizes(kind)
            good = [s for s in sizes if hand.fits(wires, hand.inside(kind, s), is_nipple)]
            shown = (
                f"Use trade size {good[0]} {kind}."
                if good
                else "Use more than one raceway: none of this kind is large enough."
            )
            assert found.remedy == shown
        seen[wanted] += 1
    assert min(seen.values()) > 1500


def test_wireways_and_gutters() -> None:
    rng, seen = random.Random(7), Counter()
    for _ in range(COUNT):
        width, depth = rng.choice((4, 6, 8, 10, 12)), rng.choice((4, 6, 8))
        size = rng.choice(SIZES)
        most = int(F(width * depth, 5) / hand.wire_area(size))
        count = max(1, most + rng.choice((-1, 0, 1)))
        found = raceway_fill(
            FillFacts(RUN, 2023, "wireway", f"{width}x{depth}", (Wire(count, size, "copper", "THHN"),))
        )
        assert found.state == WORDS[5 * count * hand.wire_area(size) <= width * depth]
        space = F(width * depth)
        passing = rng.choice((space / 5, space / 5 + F(1, 100), F(rng.randrange(1, 20))))
        filled = rng.choice((space * F(3, 4), space * F(3, 4) + F(1, 100), passing))
        beyond = rng.choice((F(30), F(30) + F(1, 48), F(rng.randrange(1, 60))))
        wanted = hand.gutter(space, passing, filled, beyond)
        made = gutter(GutterFacts(RUN, 2023, known(space), known(passing), known(filled), Fact(3.0), known(beyond)))
        assert made is not None
        assert made.state == WORDS[wanted]
        seen[wanted] += 1
    assert min(seen.values()) > 500


def test_pull_boxes_and_nipples() -> None:
    rng, seen = random.Random(8), Counter()
    for _ in range(COUNT):
        sizes = [F(rng.choice((F(3, 4), 1, F(5, 4), 2, 3, 4))) for _ in range(2)]
        straight = rng.random() < 0.5
        edge = (8 if straight else 6) * max(sizes)
        distance = rng.choice((edge, edge - F(1, 16), edge + F(1, 16), F(rng.randrange(4, 40))))
        facts = BoxFacts(RUN, 2023, tuple(map(float, sizes)), "straight" if straight else "angle", known(distance))
        wanted = hand.box(straight, sizes, distance)
        assert pull_box(facts).state == WORDS[wanted], facts
        seen[wanted] += 1
        length = rng.choice((F(2), F(2) + F(1, 48), F(1), F(3)))
        assert nipple(RUN, 2023, known(length)).state == WORDS[12 * length <= 24]
    assert min(seen.values()) > 1000
