"""Raceway fill against published examples, the wrong one too."""

from __future__ import annotations

from dataclasses import replace

import pytest

from oneline import tables
from oneline.rules.common import Subject
from oneline.rules.raceways import (
    FillFacts,
    Wire,
    known_overfull,
    raceway_fill,
    smallest_trade_size,
    total_area_in2,
    wireway_area_in2,
)

RUN = Subject("run1", "Feeder LP")


def fill(raceway: str | None, trade_size: str | None, *wires: Wire, **more: object) -> FillFacts:
    return FillFacts(RUN, 2023, raceway, trade_size, wires, **more)  # type: ignore[arg-type]


O29 = (Wire(3, "500", "copper", "THHN"), Wire(1, "250", "copper", "THHN"), Wire(1, "3", "copper", "THHN"))


def test_fill() -> None:
    """EC&M Code Q&A: 3-500, 1-250, 1-3 AWG THHN in PVC 40: 2.6162 in2 -> trade size 3 (2.907 at 40 %)."""
    assert total_area_in2(O29)[1] == pytest.approx(2.6162, abs=1e-4)
    assert smallest_trade_size("PVC-40", total_area_in2(O29)[1], 5) == "3"
    assert raceway_fill(fill("PVC-40", "3", *O29)).state == "pass"
    small = raceway_fill(fill("PVC-40", "2-1/2", *O29))
    assert small.state == "fail"
    assert "trade size 3 PVC-40" in small.remedy


def test_the_published_answer_is_wrong() -> None:
    """Student Q&A site answered 1 in EMT for three 1/0 THHN: 0.5565 in2 against 0.346; 1-1/4 in is needed."""
    wires = (Wire(3, "1/0", "copper", "THHN"),)
    assert total_area_in2(wires)[1] == pytest.approx(0.5565, abs=1e-4)
    published = raceway_fill(fill("EMT", "1", *wires))
    assert published.state == "fail"
    assert published.limit == 40
    assert "1-1/4" in published.remedy
    assert raceway_fill(fill("EMT", "1-1/4", *wires)).state == "pass"


def test_wireway() -> None:
    """Trade forum on 376.22: 8 x 8 in: 12.8 in2 of fill, 962 conductors of 12 AWG THHN."""
    assert wireway_area_in2("8x8") == 64
    assert wireway_area_in2('8" x 8"') == 64
    assert raceway_fill(fill("wireway", "8x8", Wire(962, "12", "copper", "THHN"))).state == "pass"
    over = raceway_fill(fill("wireway", "8x8", Wire(963, "12", "copper", "THHN")))
    assert (over.rule, over.state) == ("RWY-4", "fail")


@pytest.mark.parametrize(("count", "share"), [(1, 53), (2, 31), (3, 40), (4, 40)])
def test_limits_by_count(count: int, share: float) -> None:
    """Chapter 9 Table 1."""
    assert raceway_fill(fill("EMT", "4", Wire(count, "4", "copper", "THHN"))).limit == pytest.approx(share)


def test_nipple() -> None:
    """Chapter 9 note 4: 60 % up to 24 in."""
    wires = (Wire(3, "1/0", "copper", "THHN"), Wire(1, "6", "copper", "THHN"))
    # 0.6072 in2 in trade size 1 EMT (0.864 in2) is 70 %; in 1-1/4 (1.496 in2) 40.6 %.
    assert raceway_fill(fill("EMT", "1-1/4", *wires)).state == "fail"
    assert raceway_fill(fill("EMT", "1-1/4", *wires, nipple=True)).state == "pass"
    unknown = raceway_fill(fill("EMT", "1-1/4", *wires, nipple=None))
    assert unknown.state == "unknown"
    assert "60 % in 24 in or less" in unknown.message
    assert unknown.needs == ("length of Feeder LP",)


def test_other_conductors_in_the_raceway() -> None:
    assert raceway_fill(fill("PVC-40", "3", *O29, foreign=True)).state == "unknown"
    assert raceway_fill(fill("PVC-40", "3", *O29, foreign=None)).state == "unknown"
    # Too full already with its own.
    assert raceway_fill(fill("PVC-40", "2-1/2", *O29, foreign=True)).state == "fail"


def test_unknown_size_gets_a_proposal() -> None:
    verdict = raceway_fill(fill("PVC-40", None, *O29))
    assert verdict.state == "unknown"
    assert verdict.needs == ("trade size of the raceway of Feeder LP",)
    assert "trade size 3" in verdict.remedy


def test_insulation_without_an_area() -> None:
    verdict = raceway_fill(fill("EMT", "2", Wire(3, "1/0", "copper", "MC")))
    assert verdict.state == "unknown"
    assert "MC" in verdict.needs[0]


def test_conductors_without_an_area_do_not_take_a_failure_away() -> None:
    """Definition: what is known is too much already. Three 1/0 THHN take 0.5565 in2 of 0.346 in 1 in EMT (Table 4, 40 %)."""
    wires = (Wire(3, "1/0", "copper", "THHN"), Wire(1, "1/0", "copper", "MC"))
    found = raceway_fill(fill("EMT", "1", *wires))
    assert (found.state, known_overfull(fill("EMT", "1", *wires))) == ("fail", True)
    assert raceway_fill(fill("EMT", "2", *wires)).state == "unknown"
    assert not known_overfull(fill("EMT", "2", *wires))


def test_aluminum_may_be_compact() -> None:
    """Tables 5 and 5A: 4/0 THHN 0.3237 in2 concentric; compact is smaller, so near the limit the strands decide."""
    least, greatest = total_area_in2((Wire(4, "4/0", "aluminum", "THHN"),))
    assert greatest == pytest.approx(4 * 0.3237)
    assert least < greatest
    assert raceway_fill(fill("EMT", "2", Wire(4, "4/0", "aluminum", "THHN"))).state == "pass"  # 1.2948 <= 1.342
    near = raceway_fill(fill("PVC-80", "2", Wire(4, "4/0", "aluminum", "THHN")))  # 1.150 permitted
    assert near.state == "unknown"


@pytest.mark.parametrize("raceway", ["EMT", "RMC", "IMC", "PVC-40", "PVC-80"])
@pytest.mark.parametrize("size", ["12", "6", "1/0", "4/0"])
def test_proposed_trade_sizes_pass_and_are_the_smallest(raceway: str, size: str) -> None:
    wires = (Wire(4, size, "copper", "THHN/THWN-2"),)
    trade = smallest_trade_size(raceway, total_area_in2(wires)[1], 4)
    assert trade is not None
    assert raceway_fill(fill(raceway, trade, *wires)).state == "pass"
    sizes = tables.raceway_trade_sizes(raceway)
    if sizes.index(trade):
        smaller = replace(fill(raceway, sizes[sizes.index(trade) - 1], *wires))
        assert raceway_fill(smaller).state == "fail"
