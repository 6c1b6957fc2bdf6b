"""Service equipment: number of disconnects by edition, ground-fault protection, ratings."""

from __future__ import annotations

import pytest

from oneline.rules.common import Fact, Subject
from oneline.rules.ground_faults import GroundFaultFacts, ground_fault, ground_fault_triggered
from oneline.rules.services import (
    DisconnectFacts,
    Enclosure,
    number_of_disconnects,
    service_rating,
    sum_of_ratings,
)

SERVICE = Subject("s", "Service 1")


def test_ground_fault_protection() -> None:
    """ECmag Q&A on 230.95 (2017): 1,600 A at 480Y/277: required, pickup at most 1,200 A, 1 s at 3,000 A."""
    facts = GroundFaultFacts(Subject("m", "Main"), 2017, "480Y/277", Fact(1600.0))
    found = ground_fault(facts)
    assert found.state == "unknown"
    assert "1200 A" in found.message
    assert "1 s at 3000 A" in found.message
    for fitted, pickup_a, time_s, state in (
        (True, 1200, 1, "pass"), (True, 1201, 1, "fail"), (True, 1200, 1.1, "fail"), (True, 1200, None, "unknown"),
        (False, None, None, "fail"),
    ):  # fmt: skip
        facts = GroundFaultFacts(
            Subject("m", "Main"), 2017, "480Y/277", Fact(1600.0), fitted, pickup_a, time_s, tested=True
        )
        assert ground_fault(facts).state == state


@pytest.mark.parametrize(
    ("system", "rating", "expected"),
    [
        ("480Y/277", Fact(1000.0), "yes"), ("480Y/277", Fact(999.0), "no"), ("208Y/120", Fact(4000.0), "no"),
        ("480D", Fact(2000.0), "no"), ("240D/120-HL", Fact(2000.0), "no"), ("600Y/347", Fact(1200.0), "yes"),
        ("480Y/277", Fact(None), "unknown"), ("480Y/277", Fact(None, high=800.0), "no"), (None, Fact(1600.0), "unknown"),
        (None, Fact(600.0), "no"), ("120/240-1", Fact(2000.0), "no"),
    ],
)  # fmt: skip
def test_ground_fault_trigger(system: str | None, rating: Fact, expected: str) -> None:
    """230.95: solidly grounded wye, more than 150 V to ground, 1,000 A and more."""
    assert ground_fault_triggered(system, rating) == expected


def disconnects(edition: int, count: int, form: str = "", new: int = 0, unsure: int = 0) -> str:
    names = tuple(f"Main {k}" for k in range(count))
    shared = (Enclosure("Board", form, count, new, unsure),) if form else tuple(Enclosure(n, "", 1) for n in names)
    return number_of_disconnects(DisconnectFacts(SERVICE, edition, names, names, shared, names[:unsure])).state


def test_disconnects_that_nobody_marked() -> None:
    """What may or may not be a service disconnect decides nothing."""
    assert disconnects(2023, 7, unsure=1) == "unknown"
    assert disconnects(2023, 8, unsure=1) == "fail"
    assert disconnects(2023, 6, unsure=6) == "pass"
    assert disconnects(2023, 3, "panelboard", new=3, unsure=2) == "unknown"
    assert disconnects(2023, 3, "panelboard", new=3, unsure=1) == "fail"


@pytest.mark.parametrize("edition", [2017, 2020, 2023, 2026])
def test_number_of_service_disconnects(edition: int) -> None:
    """230.71: at most six in every edition; since 2020 apart from each other; 2023 excepts existing equipment."""
    assert disconnects(edition, 1) == "pass"
    assert disconnects(edition, 6) == "pass"  # each in an enclosure of its own
    assert disconnects(edition, 7) == "fail"
    assert disconnects(edition, 0) == "unknown"
    shared = disconnects(edition, 4, "panelboard")
    assert shared == ("pass" if edition == 2017 else "judge")
    fourth_is_new = disconnects(edition, 4, "panelboard", new=1)
    assert fourth_is_new == {2017: "pass", 2020: "fail", 2023: "judge", 2026: "judge"}[edition]
    all_new = disconnects(edition, 4, "panelboard", new=4)  # the exception is for existing equipment
    assert all_new == ("pass" if edition == 2017 else "fail")
    assert disconnects(edition, 4, "switchboard", new=4) == ("pass" if edition == 2017 else "judge")
    assert disconnects(edition, 4, "switchboard") == ("pass" if edition == 2017 else "judge")


def test_rating_of_several_disconnects() -> None:
    """230.80: together at least what one would need."""
    total = sum_of_ratings([("a", Fact(400.0)), ("b", Fact(200.0))])
    assert service_rating(SERVICE, 2023, total, Fact(600.0), ("a", "b")).state == "pass"
    assert service_rating(SERVICE, 2023, total, Fact(601.0), ("a", "b")).state == "fail"
    assert service_rating(SERVICE, 2023, Fact(30.0), Fact(10.0), ("a",)).state == "judge"
    unknown = sum_of_ratings([("a", Fact(400.0)), ("b", Fact(None, need="rating of b"))])
    assert service_rating(SERVICE, 2023, unknown, Fact(300.0), ("a", "b")).state == "pass"  # one alone is enough
    found = service_rating(SERVICE, 2023, unknown, Fact(500.0), ("a", "b"))
    assert (found.state, found.needs) == ("unknown", ("rating of b",))
    assumed = sum_of_ratings([("a", Fact(400.0)), ("b", Fact(200.0, basis="assumed", name="rating of b"))])
    assert service_rating(SERVICE, 2023, assumed, Fact(600.0), ("a", "b")).basis == "assumed"
