"""What fits: the load is added to the drawing and everything studied again; a little more must not pass.

That is the whole check: it compares with nothing that the search said of itself. Random services as in
``tests/oracles/random_service.py``; the figures by hand are Ohm's law and subtraction.
"""

from __future__ import annotations

import random
from dataclasses import replace
from math import sqrt
from typing import Any

import pytest
from random_service import random_service

import oneline
from oneline.model import Circuit, Disconnect, Drawing, End, edits
from oneline.study import study
from oneline.study.fits import Addition, Fits, find_fits
from oneline.study.fits_panel import free_space
from oneline.study.fits_words import sub_panel_words
from oneline.study.trials import Trials, finish

BAD = ["not_applicable", "pass", "advice", "judge", "unknown", "fail"]


def fits(drawing: Drawing, name: str, **options: Any) -> Fits:
    item = next(i for i in drawing.items.values() if i.name == name)
    return finish(find_fits(Trials(drawing), item.id, **options))


def with_load(drawing: Drawing, panel: str, phases: str, va: float) -> Drawing:
    drawing, load = edits.add(
        drawing,
        "load",
        name="Tried",
        va=va,
        phases=phases,
        load_class="other",
        continuous=False,
        power_factor=1.0,
        status="new",
    )
    return edits.add(drawing, "joint", a=End(panel, "bus"), b=End(load, "in"), status="new")[0]


def worse(before: Drawing, after: Drawing) -> set[str]:
    """Names of items about which something is worse, what is recommended only (voltage drop) left out; a failure that
    was there already counts when it is further outside."""
    old: dict[tuple[str, str], list[tuple[int, float]]] = {}
    new: dict[tuple[str, str], list[tuple[int, float, str]]] = {}

    def over(v: Any) -> float:
        if v.state != "fail" or v.value is None or not v.limit:
            return 0.0
        return abs(v.value - v.limit) / v.limit

    for v in study(before).verdicts:
        if not v.alternative and v.rule != "VD":
            old.setdefault((v.rule, v.subject), []).append((max(BAD.index(v.state), 2), over(v)))
    for v in study(after).verdicts:
        if not v.alternative and v.rule != "VD" and v.subject in before:
            new.setdefault((v.rule, v.subject), []).append((max(BAD.index(v.state), 2), over(v), v.name))
    found = set()
    for key, states in new.items():
        were = sorted(old.get(key, []), reverse=True)
        for n, (state, out, name) in enumerate(sorted(states, reverse=True)):
            was, was_out = were[n] if n < len(were) else (2, 0.0)
            if state > was or (state == was == BAD.index("fail") and out > was_out + 1e-9):
                found.add(name)
    return found


def volts(drawing: Drawing, system: str, phases: str) -> float:
    """Volt-amperes per ampere on each phase, at nominal voltages."""
    line, to_neutral = {"208Y/120": (208, 120), "480Y/277": (480, 277)}[system]
    return line * sqrt(3) if len(phases) == 3 else to_neutral


@pytest.mark.parametrize("seed", range(200, 206))
def test_the_addition_passes_and_a_little_more_does_not(seed: int) -> None:
    drawing = random_service(seed, mistakes=1)
    rng = random.Random(seed)
    panel = rng.choice([i for i in drawing.items.values() if i.kind == "bus"])
    found = finish(find_fits(Trials(drawing), panel.id))
    additions = [a for a in (found.balanced, rng.choice(found.single)) if a is not None]
    assert additions
    for addition in additions:
        check_edge(drawing, panel.id, found, addition)


def check_edge(drawing: Drawing, panel: str, found: Fits, addition: Addition) -> None:
    """Passes as it is; 1 A or 1 % more is worse, and at an item that was named."""
    assert found.system is not None
    each = volts(drawing, found.system, addition.phases)
    assert addition.kva == pytest.approx(addition.amperes * each / 1000, rel=1e-6)
    if addition.amperes:
        assert not worse(drawing, with_load(drawing, panel, addition.phases, addition.amperes * each))
    if addition.over:  # another phase is over its rating already: nothing passes there, with or without it
        assert any(v.state == "fail" and v.rule in ("CAP", "AMP-1") for v in study(drawing).verdicts)
        return
    more = max(addition.amperes * 1.01, addition.amperes + 1)
    met = worse(drawing, with_load(drawing, panel, addition.phases, more * each))
    assert met & {limit.name for limit in addition.met}, (met, addition)


def by_hand(service: Any, circuit: Any, **feeder: Any) -> Drawing:
    """MDP with 36 kVA of heat, 100 A at 208 V; a 200 A feeder of 3/0 copper (200 A at 75 degrees C, Table 310.16) to LP,
    which has 36 kVA as well."""
    load = circuit(space=1, poles=3, va=36_000, load_class="heat", continuous=False, power_factor=1.0)
    s = service(circuits=(load,), spaces=42, sccr_ka=65)
    s.put("disconnect", "Feeder", rating_a=225, full_rated=False, adjustable=False, **({"trip_a": 200} | feeder))
    s.put("bus", "LP", rating_a=225, circuits=(load,), spaces=24, phases="ABC")
    s.joint("MDP", "Feeder")
    s.run(
        "Feeder", "LP", "Run LP", size="3/0", length_ft=60, material="copper", insulation="THHN/THWN-2", raceway="EMT",
        ambient_c=30, wet=False, current_carrying=3, terminal_c=75, neutral_size="3/0", egc_size="6",
    )  # fmt: skip
    return s.drawing


def test_limits_stand_in_the_order_in_which_they_are_met(service: Any, circuit: Any) -> None:
    """36 kVA at 208 V three-phase is 99.93 A: 100.07 A are left of 200 A, 125.07 of 225 A, 200.15 of the main's 400 A."""
    found = fits(by_hand(service, circuit), "LP")
    amperes = 36_000 / 208 / sqrt(3)
    way = [(limit.name, limit.what, limit.remaining_a) for limit in found.limits if limit.unit == "A"]
    assert [x[2] for x in way] == sorted(x[2] for x in way)
    left = {(name, what): pytest.approx(a, abs=0.05) for name, what, a in way}
    assert left["Feeder", "trip"] == 200 - amperes
    assert left["Run LP", "ampacity at terminals"] == 200 - amperes
    assert left["LP", "bus rating"] == 225 - amperes
    assert left["Main", "trip"] == 400 - 2 * amperes
    assert found.balanced is not None
    assert found.balanced.amperes == pytest.approx(200 - amperes, abs=0.05)
    assert {m.name for m in found.balanced.met} == {"Feeder", "Run LP"}


def test_the_largest_breaker_for_a_sub_panel_is_a_standard_one(service: Any, circuit: Any) -> None:
    """100 A are left: of the standard ratings of 240.6(A) 100 A is the largest, on 3 AWG copper (100 A at 75 degrees C)
    with an 8 AWG grounding conductor (Table 250.122)."""
    drawing = by_hand(service, circuit)
    found = fits(drawing, "LP").sub_panel
    assert found is not None
    assert (found.breaker_a, found.poles, found.size, found.egc_size) == (100, 3, "3", "8")
    assert found.larger.startswith("110 A")
    smaller = replace(drawing.get("Feeder"), trip_a=175)  # 75 A left: 70 A
    found = fits(drawing.with_items([smaller]), "LP").sub_panel
    assert found is not None
    assert found.breaker_a == 70


def test_a_panel_without_room_says_so(service: Any, circuit: Any) -> None:
    drawing = by_hand(service, circuit)
    full = tuple(Circuit(space=n, use="spare", trip_a=20, description="Spare") for n in (2, 4, 6, *range(7, 25)))
    panel = drawing.get("LP")
    drawing = drawing.with_items([replace(panel, circuits=(*panel.circuits, *full))])  # type: ignore[attr-defined]
    found = fits(drawing, "LP")
    assert found.sub_panel is None
    assert "no room" in found.sub_panel_why
    assert found.balanced is not None
    assert found.balanced.amperes > 0


def test_free_spaces_are_on_one_side(service: Any, circuit: Any) -> None:
    """Odd spaces stand left, even ones right: a three-pole breaker takes every second number (common practice)."""
    s = service(circuits=(circuit(space=1, poles=3, va=1), circuit(space=2, poles=1, va=1)), spaces=12)
    bus = s.drawing.get("MDP")
    assert free_space(bus, 3) == 4
    assert free_space(bus, 1) == 4
    assert free_space(replace(bus, spaces=8), 3) == 4
    assert free_space(replace(bus, spaces=7), 3) is None


def test_a_continuous_addition_counts_at_125_percent(service: Any, circuit: Any) -> None:
    """215.3: 100.07 A left carry 80.05 A of continuous load."""
    found = fits(by_hand(service, circuit), "LP", continuous=True).balanced
    assert found is not None
    assert found.amperes == pytest.approx((200 - 36_000 / 208 / sqrt(3)) / 1.25, abs=0.05)


def test_what_is_not_known_leaves_an_upper_bound(service: Any, circuit: Any) -> None:
    drawing = by_hand(service, circuit, trip_a=None)
    found = fits(drawing, "LP")
    assert not found.certain
    assert any("Feeder" in need for need in found.needs)
    unfed = edits.add(drawing, "bus", name="Loose", rating_a=100)[0]
    assert "Nothing feeds it" in fits(unfed, "Loose").why_not


def test_more_load_never_leaves_more(service: Any, circuit: Any) -> None:
    """Metamorphic: load added anywhere leaves no more at the panel."""
    drawing = by_hand(service, circuit)
    before = fits(drawing, "LP").balanced
    after = fits(with_load(drawing, "MDP", "ABC", 150 * 208 * sqrt(3)), "LP").balanced
    assert before is not None
    assert after is not None
    assert after.amperes == pytest.approx(400 - 150 - 2 * 36_000 / 208 / sqrt(3), abs=0.05)
    assert after.amperes <= before.amperes


def test_the_service_itself_answers_with_its_main(service: Any, circuit: Any) -> None:
    drawing = by_hand(service, circuit)
    assert any(isinstance(i, Disconnect) for i in drawing.items.values())
    found, at_main = fits(drawing, "Utility"), fits(drawing, "MDP")
    assert found.balanced == at_main.balanced


def test_where_one_phase_is_over_the_others_keep_their_own_room(service: Any, circuit: Any) -> None:
    """208Y/120: 24 kVA on phase A are 200 A of a 150 A feeder; B has 50 A of its 150 A, 100 A are left on it."""
    a = circuit(space=1, va=24_000, load_class="heat", continuous=False, power_factor=1.0)
    b = circuit(space=3, va=6_000, load_class="heat", continuous=False, power_factor=1.0)
    s = service(circuits=(), spaces=42, sccr_ka=65)
    s.put("disconnect", "Feeder", trip_a=150, rating_a=225, full_rated=False, adjustable=False)
    s.put("bus", "LP", rating_a=225, circuits=(a, b), spaces=24, phases="ABC")
    s.chain("MDP", "Feeder", "LP")
    found = fits(s.drawing, "LP")
    assert found.balanced is not None
    assert found.balanced.amperes == 0
    assert found.balanced.over
    assert [round(x.amperes) for x in found.single] == [0, 100, 150]


# ---------------------------------------------------------------------------------------------- where, and how certain
def board(va: float | None) -> Drawing:
    """A 400 A switchboard with one circuit, whose load may be unknown."""
    b = oneline.Builder("Board", edition=2023)
    s = b.service("S", system="208Y/120", fault_ka=10, fault_x_r=3)
    main = b.disconnect("Main", form="fused switch", rating_a=400, trip_a=400, poles=3, interrupting_ka=200, sccr_ka=200,
                        voltage_rating="240", service_disconnect=True, service_rated=True, neutral_bonded=True)  # fmt: skip
    b.joint(s, main)
    bus = b.bus("LP 1", form="panelboard", rating_a=400, sccr_ka=65, neutral_bonded=False, all_listed=True)
    b.joint(main, bus)
    b.circuit(bus, 1, "Oven", 60, poles=3, va=va, load_class="heat", continuous=False)
    return b.drawing


def test_a_point_is_given_by_its_id_or_its_name() -> None:
    drawing = board(12_000)
    item = next(i for i in drawing.items.values() if i.name == "LP 1")
    assert oneline.fits(drawing, "LP 1") == oneline.fits(drawing, item.id)
    with pytest.raises(KeyError, match="no items are named 'LP 2'"):
        oneline.fits(drawing, "LP 2")
    twice, _ = edits.add(drawing, "bus", name="LP 1")
    with pytest.raises(KeyError, match="2 items are named 'LP 1'"):
        oneline.fits(twice, "LP 1")


@pytest.mark.parametrize(("va", "bound"), [(12_000, False), (None, True)])
def test_the_sub_panel_is_an_upper_bound_while_load_is_not_known(va: float | None, bound: bool) -> None:
    """Load that nobody entered can only take away from what is left."""
    found = oneline.fits(board(va), "LP 1")
    assert found.sub_panel is not None
    assert found.certain != bound
    assert ("upper bound" in sub_panel_words(found)) == bound
