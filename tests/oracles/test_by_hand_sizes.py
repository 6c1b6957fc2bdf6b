"""Transformer protection, household loads, electrode and grounding conductors and service ratings against ``by_hand_sizes``:
10,000 random inputs each, edges and unknown ones included."""

from __future__ import annotations

import random
from fractions import Fraction as F

import by_hand_sizes as hand
import pytest

from oneline.rules.ampacity import RunFacts
from oneline.rules.common import Fact, Subject
from oneline.rules.grounding import EgcFacts, electrode_conductor, equipment_grounding
from oneline.rules.load_dwelling import (
    DwellingLoads,
    cooking_demand,
    dryer_demand,
    dwelling_va,
    three_phase_demand,
)
from oneline.rules.services import service_rating, sum_of_ratings
from oneline.rules.transformers import TransformerFacts, transformer_protection

COUNT = 10_000
T, PRIMARY, SECONDARY = (Subject(x, x) for x in ("T1", "Primary", "Secondary"))


def same(found: float, wanted: F) -> bool:
    return abs(found - float(wanted)) <= 1e-9 * max(1.0, abs(float(wanted)))


# ------------------------------------------------------------------------------------------------- transformers
def test_published_transformer_examples() -> None:
    """Makers' selection tables (from memory): 75 kVA 480 V to 208Y/120: primary alone 125 A; primary 225 A at most with a
    secondary of 300 A at most."""
    given = (F(75), F(480), F(208), True)
    assert hand.transformer(*given, F(125), None)
    assert not hand.transformer(*given, F(150), None)
    assert hand.transformer(*given, F(225), F(300))
    assert not hand.transformer(*given, F(250), F(300))
    assert not hand.transformer(*given, F(225), F(350))


def test_transformer_protection() -> None:
    rng, wrong, seen = random.Random(450), [], {True: 0, False: 0}
    for _ in range(COUNT):
        three = rng.random() < 0.7
        kva = F(rng.choice((1, 2, 3, 5, 9, 15, 30, 45, 75, 112, 150, 225, 300, 500, 750)))
        primary_v, secondary_v = F(rng.choice((480, 240, 208, 600))), F(rng.choice((208, 240, 480)))
        # Exact edges where there are any: single phase.
        exact = kva * 1000 / primary_v * rng.choice((F(5, 4), F(5, 2), F(167, 100)))
        primary = rng.choice((F(rng.choice(hand.STANDARD)), F(rng.choice(hand.STANDARD)), exact))
        secondary = F(rng.choice(hand.STANDARD)) if rng.random() < 0.7 else None
        found = transformer_protection(TransformerFacts(
            T, 2023, float(kva), 3 if three else 1, float(primary_v), float(secondary_v), PRIMARY, Fact(float(primary)),
            secondaries=((SECONDARY, Fact(float(secondary))),) if secondary is not None else (), secondary_complete=True,
        )).state  # fmt: skip
        wanted = hand.transformer(kva, primary_v, secondary_v, three, primary, secondary)
        seen[wanted] += 1
        if found != ("pass" if wanted else "fail"):
            wrong.append((kva, primary_v, secondary_v, three, primary, secondary, found))
    assert wrong[:3] == []
    assert min(seen.values()) > COUNT // 10


@pytest.mark.parametrize("missing", ["kva", "primary_v", "phases", "primary_item"])
def test_a_transformer_with_something_unknown(missing: str) -> None:
    values = {
        "kva": 75.0,
        "phases": 3,
        "primary_v": 480.0,
        "secondary_v": 208.0,
        "primary_item": PRIMARY,
        missing: None,
    }
    found = transformer_protection(TransformerFacts(T, 2023, primary=Fact(125.0), **values))  # type: ignore[arg-type]
    assert found.state == "unknown"
    assert found.needs


# ---------------------------------------------------------------------------------------------- household loads
def ratings(rng: random.Random, most: int, *edges: int) -> list[F]:
    edged = [*edges, *(e + 1 for e in edges), *(e - 1 for e in edges)]
    count = rng.choice((1, 2, 3, 4, 5, 6, 11, 12, 23, 24, 25, 26, 40, 41, 42, 43, 60, 61, rng.randint(1, 70)))
    if rng.random() < 0.3:
        return [F(rng.choice(edged))] * count
    return [F(rng.choice(edged)) if rng.random() < 0.4 else F(rng.randint(1_000, most)) for _ in range(count)]


def test_dryers_and_cooking_appliances() -> None:
    rng, wrong = random.Random(220), []
    for _ in range(COUNT):
        cooks = ratings(rng, 30_000, 1_750, 3_500, 8_750, 12_000, 12_500, 13_500, 27_000)
        dries = ratings(rng, 9_000, 5_000)
        found, dried = cooking_demand([float(r) for r in cooks]), dryer_demand([float(r) for r in dries])
        if not same(found.va, hand.cooking(cooks)) or not same(dried.va, hand.dryers(dries)):
            wrong.append((cooks, found, hand.cooking(cooks), dried))
        # What is known to be there is a lower bound, whatever comes to it.
        more = [*cooks, *ratings(rng, 20_000, 3_500, 12_000)[:5]]
        assert found.least_va <= float(hand.cooking(more)) + 1e-6
        assert found.least_va <= found.va + 1e-6
        fuller = [*dries, *(max(r, F(5_000)) for r in ratings(rng, 9_000, 5_000)[:5])]
        assert dried.least_va <= float(hand.dryers(fuller)) + 1e-6
    assert wrong[:2] == []


def test_three_phases_go_by_twice_the_largest_pair() -> None:
    rng, wrong = random.Random(55), []
    for _ in range(COUNT):
        pairs = [[F(rng.choice((5_000, 6_000)))] * rng.randint(0, 12) for _ in range(3)]
        if not any(pairs):
            continue
        dryers = rng.random() < 0.5
        rule = hand.dryers if dryers else hand.cooking
        wanted = F(3, 2) * max(rule([*p, *p]) for p in pairs if p)
        found = three_phase_demand([[float(r) for r in p] for p in pairs], dryers)
        if not same(found.va, wanted):
            wrong.append((pairs, dryers, found.va, wanted))
    assert wrong[:2] == []


def test_optional_calculation_of_a_dwelling() -> None:
    rng, wrong = random.Random(82), []
    for _ in range(COUNT):
        general = F(rng.choice((0, 9_999, 10_000, 10_001, rng.randint(0, 60_000))))
        cooling, heating = (F(rng.choice((0, 5_000, rng.randint(0, 30_000)))) for _ in range(2))
        units, apart = rng.randint(0, 8), rng.random() < 0.5
        loads = DwellingLoads(float(general), float(cooling), float(heating), units, 0.0, apart, False)
        found, wanted = (
            dwelling_va(loads, "dwelling unit", 2023),
            hand.one_dwelling(general, cooling, heating, units, apart),
        )
        if not same(found, wanted):
            wrong.append((loads, found, wanted))
    assert wrong[:2] == []


# --------------------------------------------------------------------------------------------------- conductors
def run(size: str, sets: int = 1) -> RunFacts:
    return RunFacts(Subject("r", "Run"), 2023, size, "copper", "THWN-2", sets)


def test_electrode_conductors() -> None:
    rng = random.Random(66)
    for _ in range(COUNT):
        sets = rng.choice((1, 1, 2, 3, 4))
        size = rng.choice([s for s in hand.CMIL if sets == 1 or hand.CMIL[s] >= hand.CMIL["1/0"]])
        wanted = hand.electrode(hand.CMIL[size] * sets)
        found = electrode_conductor(Subject("s", "Service"), run(size, sets))
        assert next(x.value for x in found.work if x.what == "Grounding electrode conductor") == wanted, (size, sets)


def test_grounding_conductors_of_taps() -> None:
    """250.122(G), with every size there may be, larger, just right and smaller, and without what decides."""
    rng, seen = random.Random(122), {"pass": 0, "fail": 0, "unknown": 0}
    sizes = list(hand.CMIL)[:17]
    for _ in range(COUNT):
        feeder = rng.choice([s for s in hand.STANDARD if s <= 4000])
        conductor = rng.choice(sizes)
        own = rng.choice((hand.tap_grounding(feeder, conductor), rng.choice(sizes)))
        rating = Fact(float(feeder)) if rng.random() < 0.95 else Fact(None, need="rating of Feeder")
        found = equipment_grounding(EgcFacts(
            run(conductor), Subject("f", "Feeder"), rating, own, "copper", Fact(None), tap=True
        )).state  # fmt: skip
        enough = hand.CMIL[own] >= hand.CMIL[hand.tap_grounding(feeder, conductor)]
        wanted = "unknown" if rating.value is None else "pass" if enough else "fail"
        seen[wanted] += 1
        assert found == wanted, (feeder, conductor, own)
    assert min(seen.values()) > COUNT // 100


def test_service_ratings() -> None:
    rng, wrong = random.Random(79), []
    for _ in range(COUNT):
        each = [
            F(rng.choice((15, 30, 60, 100, 200, 400))) if rng.random() < 0.9 else None for _ in range(rng.randint(1, 6))
        ]
        total = sum((r for r in each if r is not None), F(0))
        load = rng.choice((total, total + 1, max(total - 1, F(0)), F(rng.randint(0, 1_000))))
        names = [f"M{k}" for k in range(len(each))]
        rated = sum_of_ratings([
            (n, Fact(None if r is None else float(r), need=f"rating of {n}")) for n, r in zip(names, each, strict=True)
        ])  # fmt: skip
        found, wanted = service_rating(T, 2023, rated, Fact(float(load)), names).state, hand.service(each, load)
        if found != wanted:
            wrong.append((each, load, found, wanted))
    assert wrong[:3] == []
