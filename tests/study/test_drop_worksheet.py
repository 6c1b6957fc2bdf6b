"""Worksheet of a voltage drop: by phase, cumulative from the service, exact and approximate."""

from __future__ import annotations

from math import sqrt
from typing import Any

import pytest

from oneline.study import drop

WIRE = {
    "size": "6", "material": "copper", "raceway": "RMC", "insulation": "THWN-2", "sets": 1, "length_ft": 150.0, "wet": False,
    "ambient_c": 30, "current_carrying": 3, "terminal_c": 75, "neutral_size": "none", "egc_size": "raceway",
}  # fmt: skip


def of(found: Any, name: str) -> Any:
    (one,) = [v for v in found if v.name == name]
    return one


def branch(service: Any, phases: str = "ABC", neutral: str = "none", va: float = 16627.7) -> Any:
    s = service("480Y/277", 100, 100)
    s.put("disconnect", "B", trip_a=50, rating_a=50)
    s.put("load", "L", va=va, load_class="heat", continuous=False, phases=phases, power_factor=0.85)
    s.joint("MDP", "B")
    s.run("B", "L", "run", **{**WIRE, "phases": phases, "neutral_size": neutral})
    return s


def test_exact_and_approximate(service: Any) -> None:
    """NEC Chapter 9 Table 9: 6 AWG copper in steel R 0.49, X 0.064 ohm per 1,000 ft, effective 0.45 at 0.85 power factor.
    20 A over 150 ft, three-phase 480 V: sqrt(3) x 20 x 0.4502 x 0.150 = 2.34 V, 0.49 %; the exact formula agrees closely.
    The load takes constant power, so its current is half a percent above 20 A."""
    found = of(drop.verdicts(branch(service).context()), "L")
    lines = {w.what: w.value for w in found.work}
    volts = sqrt(3) * 20 * 0.4502 * 0.150
    assert lines["Approximate drop of run"] == pytest.approx(volts, rel=1e-2)
    assert lines["Approximate drop, of the runs together"] == pytest.approx(100 * volts / 480, rel=1e-2)
    exact = [v for k, v in lines.items() if k.startswith("By phase") and "last transformer" in k]
    assert len(exact) in (3, 6)
    assert exact == pytest.approx([100 * volts / 480] * len(exact), rel=0.02)
    assert max(exact) == pytest.approx(found.value, rel=1e-6)


def test_by_phase_where_one_is_loaded(service: Any) -> None:
    """One phase to neutral: twice the length; the other phases drop nothing or rise, as the neutral moves."""
    s = branch(service, "A", "6", 5542.6)
    s.put("load", "M", va=0.0, load_class="heat", continuous=False, phases="B", power_factor=1.0)
    found = of(drop.verdicts(s.context()), "L")
    lines = {w.what: w.value for w in found.work}
    volts = 2 * 20 * 0.4502 * 0.150
    assert lines["Approximate drop, of the runs together"] == pytest.approx(100 * volts / 277, rel=1.5e-2)
    (exact,) = [v for k, v in lines.items() if k.startswith("By phase, A to neutral") and "last transformer" in k]
    assert exact == pytest.approx(100 * volts / 277, rel=0.02)


def test_cumulative_from_the_service_through_a_transformer(service: Any) -> None:
    """Behind a transformer the drop from there is told beside the one from the service, which has the transformer's too."""
    s = service("480Y/277", 100, 100)
    s.put("disconnect", "P", trip_a=70, rating_a=70)
    s.put("transformer", "T", kva=45, z_pct=4, x_r=1.5, primary_system="480Y/277", secondary_system="208Y/120",
          connection="delta-wye")  # fmt: skip
    s.put("disconnect", "S", trip_a=150, rating_a=150)
    s.put("load", "L", va=30000.0, load_class="heat", continuous=False, phases="ABC", power_factor=1.0)
    s.joint("MDP", "P")
    s.run("P", "T", "primary", **{**WIRE, "phases": "ABC"})
    s.run("T", "S", "secondary", **{**WIRE, "size": "1/0", "length_ft": 20.0, "phases": "ABC", "neutral_size": "1/0"})
    s.joint("S", "L")
    found = of(drop.verdicts(s.context()), "L")
    near = [w.value for w in found.work if w.what.startswith("By phase") and "last transformer" in w.what]
    whole = [w.value for w in found.work if w.what.startswith("By phase") and "from the service" in w.what]
    assert near
    assert len(near) == len(whole)
    # Transformer at unity power factor: about its resistance, 4 % x 1/sqrt(1 + 1.5^2) x 30/45 = 1.48 %; primary run:
    # sqrt(3) x 36.1 x 0.49 x 0.150 = 4.6 V, 0.96 %.
    assert [w - n for w, n in zip(whole, near, strict=True)] == pytest.approx([1.48 + 0.96] * len(near), rel=0.06)


@pytest.mark.parametrize(("kva", "said"), [(45, False), (None, True)])
def test_a_transformer_nobody_read_is_named_ahead_of_it(service: Any, kva: float | None, said: bool) -> None:
    """Definition: the drop ahead of a transformer rests on the current through it, and that on the drop inside it."""
    s = service("480Y/277")
    s.put("disconnect", "F", trip_a=80)
    s.put("bus", "Hall")
    s.joint("MDP", "F")
    s.run("F", "Hall", "way", **{**WIRE, "phases": "ABC", "neutral_size": "none"})
    s.put("disconnect", "P", trip_a=60)
    s.put("transformer", "T", kva=kva, z_pct=4.0, x_r=2.0, primary_system="480Y/277", secondary_system="208Y/120",
          connection="delta-wye")  # fmt: skip
    s.put("disconnect", "S", trip_a=125)
    s.put("load", "Lamps", va=20_000, phases="ABC", load_class="heat", power_factor=1.0)
    s.chain("Hall", "P", "T", "S", "Lamps")
    ctx = s.context()
    assumed = ctx.numbers.drop_assumed(ctx.net.node("Hall"))
    assert any("transformers of unknown impedance" in text for text in assumed) == said
