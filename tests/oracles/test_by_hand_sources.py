"""Fault ratings and interconnected sources against ``by_hand_sources``: 10,000 random inputs each, edges included."""

from __future__ import annotations

import random
from collections import Counter
from decimal import Decimal
from fractions import Fraction as F

import by_hand_sources as hand
import pytest

from oneline.rules.common import Fact, Subject
from oneline.rules.fault_duty import FaultFacts, duty_of
from oneline.rules.interconnect import BusFacts, FeederFacts, bus_tests, feeder
from oneline.rules.power_sources import ControlFacts, GeneratorConductors, controlled_output, generator_conductors
from oneline.rules.ratings import interrupting, withstand
from oneline.rules.series_ratings import SeriesFacts, series
from oneline.rules.supplies import generator_neutral
from oneline.rules.supply_side import SupplySideFacts, supply_side
from oneline.rules.voltage_ratings import VoltageFacts, voltage_rating
from oneline.tables import interrupting as circuits

COUNT = 10_000
IT = Subject("i", "It")
WORDS = {True: "pass", False: "fail"}


def known(value: F | int, need: str = "it") -> Fact:
    return Fact(float(value), need=need)


def near(rng: random.Random, *places: F) -> F:
    """A place or just beside it, or anything."""
    step = F(rng.choice((-1, 0, 1)), 16)
    return max(F(1, 16), rng.choice(places) + step) if rng.random() < 0.7 else F(rng.randrange(1, 1600))


def fault(rating_a: F, duty_a: F, **more: object) -> FaultFacts:
    return FaultFacts(IT, 2023, known(rating_a), "interrupting rating", known(duty_a), **more)  # type: ignore[arg-type]


# --------------------------------------------------------------------------------------------------------- faults
def test_duty_and_interrupting_rating() -> None:
    rng, seen = random.Random(1), Counter()
    for _ in range(COUNT):
        rating = rng.choice((F(5), F(10), F(14), F(20), F(22), F(65), F(200)))
        x_r, breaker = F(rng.randrange(5, 300), 10), rng.random() < 0.6
        ratio = circuits.test_x_r("molded-case breaker" if breaker else "power breaker, fused", float(rating))
        one = hand.duty(F(1), x_r, rating, breaker)
        # Just inside, just outside, or anywhere; equality is drawn where no correction applies.
        edge = F(Decimal(int(rating) * 1000) / one)
        current = rng.choice((edge * F(99999, 100000), edge * F(100001, 100000), F(rng.randrange(100, 90_000))))
        if one == 1 and rng.random() < 0.3:
            current = rating * 1000
        facts = fault(rating * 1000, current, x_r=float(x_r), test_x_r=ratio, rms=not breaker)
        exact = hand.duty(current, x_r, rating, breaker)
        assert duty_of(facts).value == pytest.approx(float(exact), rel=1e-12)
        wanted = exact <= Decimal(int(rating * 1000))
        assert interrupting(facts).state == WORDS[wanted], (rating, x_r, breaker, current)
        seen[wanted] += 1
    assert min(seen.values()) > 1000


def test_series_ratings() -> None:
    rng, seen = random.Random(2), Counter()
    ahead = Subject("m", "Main")
    for _ in range(COUNT):
        lower = F(rng.choice((10_000, 14_000, 22_000)))
        combination = F(rng.choice((22_000, 42_000, 65_000)))
        available = rng.choice((combination, combination + 1, combination - 1, F(rng.randrange(10_000, 70_000))))
        motors = near(rng, lower / 100)
        found = series(SeriesFacts(fault(lower, available), "Main", ahead, known(combination), known(motors))).state
        wanted = hand.series(available, combination, motors, lower)
        assert found == WORDS[wanted]
        seen[wanted] += 1
    assert min(seen.values()) > 1000


def test_let_through() -> None:
    rng, seen = random.Random(3), Counter()
    for _ in range(COUNT):
        rating = F(rng.choice((10_000, 22_000, 42_000)))
        duty = rng.choice((rating, rating + 1, F(rng.randrange(5_000, 60_000))))
        held = rng.choice((rating, rating + 1, F(rng.randrange(1_000, 30_000))))
        by = rng.choice(("tested combination on the label", "engineered", "let-through chart"))
        found = withstand(fault(rating, duty, let_through=known(held), let_through_by=by)).state
        wanted = hand.let_through(duty <= rating, held, rating, by)
        assert found == wanted, (rating, duty, held, by)
        seen[wanted] += 1
    assert len(seen) == 3
    assert min(seen.values()) > 300


def test_voltage_ratings() -> None:
    """Volts of the systems and of the ratings written here again."""
    systems = {
        "208Y/120": (208, 120, True), "480Y/277": (480, 277, True), "600Y/347": (600, 347, True),
        "120/240-1": (240, 120, True),
        "240D": (240, None, False), "480D": (480, None, False), "240D-CG": (240, None, False), "480D-CG": (480, None, False),
    }  # fmt: skip
    marks = {
        "120/240": (240, 120), "240": (240, None), "208Y/120": (208, 120), "480Y/277": (480, 277), "480": (480, None),
        "600Y/347": (600, 347), "600": (600, None),
    }  # fmt: skip
    rng, seen = random.Random(4), Counter()
    for _ in range(COUNT):
        system, mark = rng.choice([*systems]), rng.choice([*marks])
        wanted = hand.volts_fit(*systems[system], *marks[mark])
        assert voltage_rating(VoltageFacts(IT, 2023, system, mark)).state == WORDS[wanted], (system, mark)
        seen[wanted] += 1
    assert min(seen.values()) > 1000


# ---------------------------------------------------------------------------------------------------------- sources
def test_bus_rules() -> None:
    rng, seen = random.Random(5), Counter()
    for _ in range(COUNT):
        bus, main = F(rng.choice((100, 125, 200, 225, 400, 600))), F(rng.choice((60, 100, 150, 200, 225, 400)))
        room = F(4, 5) * (bus - main), F(4, 5) * (F(6, 5) * bus - main)
        output = near(rng, *[max(F(1), r) for r in room])
        breakers, opposite = near(rng, bus), rng.random() < 0.6
        facts = BusFacts(
            IT, rng.choice((2017, 2020, 2023, 2026)), known(bus), known(main), "Main", known(output), known(breakers),
            opposite_end=opposite, center_fed=False, engineered=False, sources=("Array",), source_devices=("Breaker",),
        )  # fmt: skip
        found = {v.rule: v.state for v in bus_tests(facts)}
        wanted = hand.bus_tests(bus, main, output, breakers, opposite)
        for rule, state in wanted.items():
            assert found[rule] == WORDS[state], (rule, facts)
            seen[rule, state] += 1
        assert found["PV-1"] == WORDS[any(wanted.values())]
    assert len(seen) == 6
    assert min(seen.values()) > 300


def test_feeders_with_a_source() -> None:
    rng, seen = random.Random(6), Counter()
    for _ in range(COUNT):
        output, device, joined = F(rng.randrange(1, 300)), F(rng.choice((100, 200, 400))), rng.random() < 0.5
        iz = near(rng, F(5, 4) * output, F(5, 4) * output + device)
        facts = FeederFacts(IT, 2020, known(iz), known(output), known(device), "Main", joined, ("Array",))
        wanted = hand.feeder(iz, output, device, joined)
        assert feeder(facts).state == WORDS[wanted]
        seen[wanted] += 1
    assert min(seen.values()) > 1000


def test_sources_ahead_of_the_service() -> None:
    rng, seen = random.Random(7), Counter()
    for _ in range(COUNT):
        edition, service = rng.choice((2017, 2020, 2023, 2026)), F(rng.choice((200, 400, 800)))
        devices, conductors = near(rng, service), service
        output = near(rng, conductors) if rng.random() < 0.4 else F(rng.randrange(1, 200))
        iz = near(rng, F(5, 4) * output)
        size, copper = rng.choice([*hand.CMIL]), rng.random() < 0.5
        length = rng.choice((F(10), F(10) + F(1, 48), F(33, 2), F(33, 2) + F(1, 48), F(5)))
        if rng.random() < 0.5:  # more of those that hold
            iz, size, devices, output = F(5, 4) * output, "1/0", min(devices, service), min(output, conductors)
        found = supply_side(
            SupplySideFacts(
                IT, edition, known(devices), known(service), known(output), known(iz), size,
                "copper" if copper else "aluminum", known(length), ("Array",), (), known(conductors), known(output),
            )
        ).state  # fmt: skip
        wanted = hand.ahead_of_service(edition, devices, service, output, conductors, iz, size, copper, length)
        assert found == wanted, (edition, devices, service, output, iz, size, copper, length)
        seen[wanted] += 1
    assert len(seen) == 4
    assert min(seen.values()) > 200


def test_power_control_generators_and_their_neutral() -> None:
    rng, seen = random.Random(8), Counter()
    for _ in range(COUNT):
        output = F(rng.randrange(10, 100))
        setting, listed = near(rng, output), rng.choice((True, False, None))
        edition = rng.choice((2017, 2020, 2023, 2026))
        got = controlled_output(ControlFacts(IT, edition, known(output), known(setting), listed))
        assert (got.least, got.most) == tuple(map(float, hand.counts_with(output, setting, listed, edition)))
        rated, held = F(rng.randrange(50, 1000)), rng.random() < 0.5
        iz = near(rng, rated, rated * F(23, 20))
        found = generator_conductors(GeneratorConductors(IT, edition, Subject("g", "G"), known(iz), known(rated), held))
        wanted = hand.generator(iz, rated, held)
        assert found.state == WORDS[wanted]
        seen[wanted] += 1
        switched, bonded = rng.random() < 0.5, rng.random() < 0.5
        assert (
            generator_neutral(IT, Subject("g", "G"), edition, switched, (("G", bonded),)).state
            == WORDS[hand.neutral(switched, bonded)]
        )
    assert min(seen.values()) > 1000
