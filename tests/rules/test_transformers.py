"""Transformer protection, 450.3(B)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from oneline.rules.common import Fact, Subject
from oneline.rules.transformers import TransformerFacts, primary_alone, rated_current, transformer_protection

T1 = TransformerFacts(
    Subject("t", "T1"), 2023, 75, 3, 480, 208, Subject("f", "F1"), Fact(125.0), secondary_complete=False
)  # fmt: skip


def test_primary_only() -> None:
    """ECmag "Sizing Conductors Part XXX": 75 kVA, 480 V: 90.2 A, x 125 % = 113 A, 125 A fuses proposed."""
    assert rated_current(75, 480, 3).value == pytest.approx(90.21, abs=0.01)
    verdict = transformer_protection(T1)
    assert verdict.state == "pass"
    assert [w.value for w in verdict.work[1:]] == [pytest.approx(112.76, abs=0.01), 125]
    assert transformer_protection(replace(T1, primary=Fact(150.0))).state == "unknown"
    assert transformer_protection(replace(T1, primary=Fact(150.0), secondary_complete=True)).state == "fail"


def test_primary_and_secondary() -> None:
    """Table 450.3(B): primary 250 % without rounding (225 A for 90.2 A), secondary 125 % rounded up (208 A: 260 -> 300)."""
    both = replace(T1, primary=Fact(225.0), secondaries=((Subject("m", "LP main"), Fact(225.0)),))
    assert transformer_protection(both).state == "pass"
    assert transformer_protection(replace(both, primary=Fact(250.0))).state == "fail"
    assert transformer_protection(replace(both, secondaries=((Subject("m", "LP main"), Fact(300.0)),))).state == "pass"
    too_big = transformer_protection(replace(both, secondaries=((Subject("m", "LP main"), Fact(350.0)),)))
    assert too_big.state == "fail"
    assert "125 A" in too_big.remedy
    assert "300 A" in too_big.remedy


def test_several_secondary_devices_count_together() -> None:
    """Note 2: up to six grouped devices, their sum not over the single device."""
    pair = ((Subject("a", "LP1"), Fact(150.0)), (Subject("b", "LP2"), Fact(150.0)))
    assert transformer_protection(replace(T1, primary=Fact(200.0), secondaries=pair)).state == "pass"
    trio = (*pair, (Subject("c", "LP3"), Fact(60.0)))
    assert transformer_protection(replace(T1, primary=Fact(200.0), secondaries=trio)).state == "fail"


def test_small_transformers() -> None:
    """Table 450.3(B): below 9 A 167 % and no rounding. 5 kVA, 480 V, one phase: 10.4 A; 3 kVA: 6.25 A -> 10.4 A."""
    small = replace(T1, kva=3, phases=1, secondary_v=120, primary=Fact(10.0))
    assert rated_current(3, 480, 1).value == pytest.approx(6.25)
    assert transformer_protection(small).state == "pass"
    assert primary_alone(replace(small, primary=Fact(15.0))) == "fail"


def test_unknowns() -> None:
    assert transformer_protection(replace(T1, kva=None)).needs == ("rating of T1",)
    assert transformer_protection(replace(T1, primary_item=None)).state == "unknown"
    assert transformer_protection(replace(T1, primary=Fact(None, need="fuse of F1"))).state == "unknown"
    assert transformer_protection(replace(T1, primary=Fact(None, None, 100.0, need="fuse of F1"))).state == "pass"
    assert primary_alone(replace(T1, kva=None)) == "unknown"


def test_remedies_pass_when_applied() -> None:
    bad = replace(T1, primary=Fact(400.0), secondaries=((Subject("m", "LP main"), Fact(400.0)),))
    remedy = transformer_protection(bad).remedy
    assert "primary device of at most 125 A" in remedy
    assert transformer_protection(replace(bad, primary=Fact(125.0))).state == "pass"
    assert "secondary device of at most 300 A with a primary of at most 225 A" in remedy
    cured = replace(bad, primary=Fact(225.0), secondaries=((Subject("m", "LP main"), Fact(300.0)),))
    assert transformer_protection(cured).state == "pass"
