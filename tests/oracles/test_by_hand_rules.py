"""The rules against the exact ones of ``by_hand_rules``: 10,000 random inputs each, with unknown ones and exact edges.

The statements are those of reference material named in ``by_hand_rules``; ampacities of copper at 75 °C are those of Table
310.16, written here once more. Numbers are drawn so that equality is common: a third, a tenth, the limit itself.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction as F
from typing import Any

import by_hand_rules as hand
import pytest

from oneline.rules.ampacity import RunFacts
from oneline.rules.common import Fact, Subject
from oneline.rules.ground_faults import GroundFaultFacts, ground_fault
from oneline.rules.grounding import JumperFacts, supply_side_jumper
from oneline.rules.overcurrent import ProtectionFacts, conductor_protection, is_protected
from oneline.rules.panels import PanelFacts, panel_protection
from oneline.rules.secondary_taps import SecondaryFacts, secondary_10, secondary_25
from oneline.rules.service_protection import ArcFacts, arc_energy
from oneline.rules.special_systems import PoleFacts, single_pole_duty
from oneline.rules.tap_conditions import TapEnd, TapFacts
from oneline.rules.taps import TransformerTapFacts, effective_rating, tap_10, tap_25, tap_out, tap_xf
from oneline.rules.working_space import (
    DevicePlaceFacts,
    SpaceFacts,
    WiringSpaceFacts,
    device_place,
    wiring_space,
    working_space,
)

COUNT = 10_000
#: Copper at 75 °C, Table 310.16, amperes.
COPPER = {
    "8": 50, "6": 65, "4": 85, "3": 100, "2": 115, "1": 130, "1/0": 150, "2/0": 175, "3/0": 200, "4/0": 230, "250": 255,
    "300": 285, "350": 310, "400": 335, "500": 380, "600": 420, "750": 475,
}  # fmt: skip
CMIL = {"2": 66360, "1": 83690, "1/0": 105600, "2/0": 133100, "3/0": 167800, "4/0": 211600}
SIZES = tuple(COPPER)
RATINGS = (*hand.STANDARD[4:31], 333, 457, 620)
SYSTEMS = {"480Y/277": 480, "208Y/120": 208, "240D": 240, "600Y/347": 600}
EDITIONS = (2017, 2020, 2023, 2026)


class Draw:
    """Random numbers that like to be equal to each other."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)
        self.seen: Counter[str] = Counter()

    def maybe(self, value: Any, share: float = 0.06) -> Any:
        """The value, or now and then nothing."""
        return None if self.random.random() < share else value

    def rating(self, *near: int) -> int:
        pool = [*near, *(n + d for n in near for d in (-1, 1))] if near and self.random.random() < 0.5 else RATINGS
        return max(1, self.random.choice(pool))

    def length(self, limit: int) -> F:
        """Feet in quarter inches, the limit and its neighbors often."""
        if self.random.random() < 0.5:
            return F(limit) + F(self.random.choice((-1, 0, 1)), 48)
        return F(self.random.randrange(1, 48 * 2 * limit), 48)

    def flag(self) -> bool:
        return self.random.random() < 0.8

    def agree(self, got: str, wanted: str, case: object) -> None:
        assert got == wanted, case
        self.seen[wanted] += 1

    def balanced(self, *states: str) -> None:
        """Every answer came up often enough to mean something."""
        for state in states or ("pass", "fail", "unknown"):
            assert self.seen[state] >= COUNT // 50, self.seen


def fact(value: Any) -> Fact:
    return Fact(None if value is None else float(value), need="it")


def conductors(size: str | None, sets: int = 1, edition: int = 2023, raceway: str | None = "EMT") -> RunFacts:
    """Copper in a dry place of 30 °C with 75 °C terminals: the ampacity is the table's."""
    return RunFacts(
        Subject("tap", "Tap"), edition, size, "copper", "THWN-2", sets, False, 30.0, 3, 3, raceway, None, 75.0
    )


def tap(
    run: RunFacts, ahead: Any, load: Any, length: Any, end: Any, **more: Any
) -> TapFacts:  # fmt: skip
    device = TapEnd(Subject("end", "End"), "device", fact(end), **more.pop("end_place", {}))
    return TapFacts(run, Subject("main", "Main"), fact(ahead), fact(load), fact(length), (device,), **more)


def exact(*values: Any) -> list[Any]:
    return [None if v is None else F(v) for v in values]


def three(states: list[str]) -> str:
    """Several conditions that must all hold."""
    return "fail" if "fail" in states else "unknown" if "unknown" in states else "pass"


# ---------------------------------------------------------------------------------------------------- feeder taps
def test_ten_foot_rule() -> None:
    draw = Draw(1)
    for _ in range(COUNT):
        size, sets = draw.random.choice(SIZES), draw.random.choice((1, 1, 2, 3))
        iz = COPPER[size] * sets
        ahead, end, load = draw.maybe(draw.rating(10 * iz)), draw.maybe(draw.rating(iz)), draw.maybe(draw.rating(iz))
        length, leaves, raceway = draw.maybe(draw.length(10)), draw.maybe(draw.flag()), draw.maybe(draw.flag())
        kind = None if raceway is None else "EMT" if raceway else "open"
        facts = tap(conductors(size, sets, raceway=kind), ahead, load, length, end, leaves=leaves)
        states = [
            hand.over_unknowns(
                lambda x, y, z, w, out=out, inside=inside, iz=iz: hand.ten_foot(x, F(iz), y, z, w, out, inside),
                exact(length, load, end, ahead), ([F(10)], [F(iz)], [F(iz)], [F(10 * iz)]),
            )
            for out in ((True, False) if leaves is None else (leaves,))
            for inside in ((True, False) if raceway is None else (raceway,))
        ]  # fmt: skip
        wanted = states[0] if len(set(states)) == 1 else "unknown"
        draw.agree(tap_10.__wrapped__(facts).state, wanted, (size, sets, ahead, end, load, length, leaves, raceway))
    draw.balanced()


def test_twenty_five_foot_rule() -> None:
    draw = Draw(2)
    for _ in range(COUNT):
        size, sets = draw.random.choice(SIZES), draw.random.choice((1, 1, 2, 3))
        iz = COPPER[size] * sets
        ahead, end = draw.maybe(draw.rating(3 * iz)), draw.maybe(draw.rating(iz))
        length, raceway = draw.maybe(draw.length(25)), draw.flag()
        facts = tap(conductors(size, sets, raceway="RMC" if raceway else "open"), ahead, 1, length, end)
        wanted = hand.over_unknowns(
            lambda x, y, z, iz=iz, inside=raceway: hand.twenty_five_foot(x, F(iz), y, z, inside),
            exact(length, end, ahead), ([F(25)], [F(iz)], [F(3 * iz)]),
        )  # fmt: skip
        draw.agree(tap_25.__wrapped__(facts).state, wanted, (size, sets, ahead, end, length, raceway))
    draw.balanced()


def test_transformer_tap_rule() -> None:
    draw = Draw(3)
    for _ in range(COUNT):
        one, other = draw.random.choice(SIZES), draw.random.choice(SIZES)
        v_primary, v_secondary = draw.random.choice(((480, 208), (480, 240), (208, 480), (600, 208)))
        iz_1, iz_2 = COPPER[one], COPPER[other]
        ahead, end = draw.rating(3 * iz_1, 3 * iz_2 * v_secondary // v_primary), draw.maybe(draw.rating(iz_2))
        first = draw.maybe(F(draw.random.randrange(1, 48 * 20), 48))
        second = draw.maybe(draw.length(25) if first is None else max(F(1, 48), draw.length(25) - first))
        primary = tap(conductors(one), ahead, 1, first, None)
        ratio = Fact(v_primary / v_secondary)
        facts = TransformerTapFacts(
            primary, tap(conductors(other), ahead, 1, second, end, ratio=ratio), Subject("t", "T")
        )
        wanted = hand.over_unknowns(
            lambda a, b, e, *, at=(F(iz_1), F(iz_2), F(v_primary), F(v_secondary), F(ahead)): hand.transformer_tap(
                a, b, *at, e
            ),
            exact(first, second, end),
            ([F(25) - (second or 0)], [F(25) - (first or 0)], [F(iz_2)]),
        )
        draw.agree(
            tap_xf.__wrapped__(facts).state, wanted, (one, other, v_primary, v_secondary, ahead, end, first, second)
        )
    draw.balanced()


def test_outside_tap_rule() -> None:
    draw = Draw(4)
    places = ("outdoors", "inside nearest the entrance", "inside elsewhere", None)
    for _ in range(COUNT):
        size = draw.random.choice(SIZES)
        iz = COPPER[size]
        end, outdoors = draw.maybe(draw.rating(iz)), draw.maybe(True)
        stands, accessible = draw.random.choice(places), draw.maybe(draw.flag(), 0.2)
        run = conductors(size, raceway=draw.random.choice(("EMT", "PVC-80", "open")))
        facts = tap(
            run, 400, 1, 75, end, outdoors=outdoors, end_place={"stands": stands, "accessible": accessible}
        )  # fmt: skip
        states = [
            hand.over_unknowns(
                lambda e, *, out=out, place=place, near=near, iz=iz, ok=run.raceway != "open": hand.outside_tap(
                    F(iz), e, out, ok, place, near
                ),
                exact(end), ([F(iz)],),
            )
            for out in ((True, False) if outdoors is None else (True,))
            for place in ((True, False) if stands is None else (stands != "inside elsewhere",))
            for near in ((True, False) if accessible is None else (accessible,))
        ]  # fmt: skip
        wanted = states[0] if len(set(states)) == 1 else "unknown"
        draw.agree(tap_out.__wrapped__(facts).state, wanted, (size, end, outdoors, stands, accessible, run.raceway))
    draw.balanced()


def test_effective_rating_with_sources() -> None:
    draw = Draw(5)
    for _ in range(COUNT):
        ahead, output, devices = (draw.random.randrange(1, 2000) for _ in range(3))
        if draw.random.random() < 0.3:
            output, devices = 4 * (devices // 5), 5 * (devices // 5)
        found, _why = effective_rating(fact(ahead), fact(output), fact(devices), "Array")
        assert found.value is not None
        assert F(found.value) == hand.effective_rating(F(ahead), F(output), F(devices)), (ahead, output, devices)


# ---------------------------------------------------------------------------------------------------- secondaries
@pytest.mark.parametrize("rule", ["10 ft", "25 ft"])
def test_secondary_rules(rule: str) -> None:
    draw = Draw(6)
    for _ in range(COUNT):
        size = draw.random.choice(SIZES)
        iz = COPPER[size]
        v_primary, v_secondary = draw.random.choice(((480, 208), (480, 240), (600, 208), (208, 480)))
        part, limit = (10, 10) if rule == "10 ft" else (3, 25)
        ahead = draw.maybe(draw.rating(part * iz * v_secondary // v_primary))
        end, load, length = draw.maybe(draw.rating(iz)), draw.rating(iz), draw.maybe(draw.length(limit))
        ratio = Fact(v_primary / v_secondary)
        facts = SecondaryFacts(
            tap(conductors(size), ahead, load, length, end, ratio=ratio, leaves=True), Subject("t", "T")
        )
        volts = (F(v_primary), F(v_secondary))
        turns = ([F(limit)], [F(iz)], [F(part * iz * v_secondary, v_primary)])
        if rule == "10 ft":
            wanted = hand.over_unknowns(
                lambda x, e, a, iz=iz, load=load, v=volts: hand.secondary_ten_foot(x, F(iz), F(load), e, a, *v, True),
                exact(length, end, ahead), turns,
            )  # fmt: skip
            got = secondary_10.__wrapped__(facts).state
        else:
            wanted = hand.over_unknowns(
                lambda x, e, a, iz=iz, v=volts: hand.secondary_twenty_five_foot(x, F(iz), e, a, *v),
                exact(length, end, ahead), turns,
            )  # fmt: skip
            got = secondary_25.__wrapped__(facts).state
        draw.agree(got, wanted, (rule, size, v_primary, v_secondary, ahead, end, load, length))
    draw.balanced()


# --------------------------------------------------------------------------------------------- devices and panels
def test_next_size_up() -> None:
    draw = Draw(7)
    for _ in range(COUNT):
        iz, device = draw.random.randrange(15, 1300), draw.random.choice(hand.STANDARD[:31])
        if draw.random.random() < 0.4:
            iz = max(1, device + draw.random.choice((-1, 0, 1)))
        got = is_protected(fact(iz), fact(device), draw.random.choice(EDITIONS))
        draw.agree(got, "pass" if hand.device_allowed(F(iz), F(device)) else "fail", (iz, device))
    draw.balanced("pass", "fail")


def test_small_conductors() -> None:
    """240.4(D) beside 240.4(B): both hold. Ampacities at 75 °C, Table 310.16."""
    table = {("14", "copper"): 20, ("12", "copper"): 25, ("10", "copper"): 35, ("8", "copper"): 50,
             ("12", "aluminum"): 20, ("10", "aluminum"): 30, ("8", "aluminum"): 40}  # fmt: skip
    draw = Draw(16)
    for _ in range(COUNT):
        size, material = draw.random.choice(list(table))
        device = draw.maybe(draw.random.choice((15, 20, 25, 30, 35, 40, 45, 50, 60)))
        run = replace(conductors(size, 1, draw.random.choice(EDITIONS)), material=material)
        got = conductor_protection(ProtectionFacts(run, Subject("m", "Main"), fact(device)))
        wanted = hand.over_unknowns(
            lambda d, size=size, material=material: hand.device_allowed(F(table[size, material]), d)
            and hand.small_conductor(size, material == "copper", d),
            exact(device), ([F(r) for r in hand.STANDARD[:10]],),
        )  # fmt: skip
        draw.agree(got.state, wanted, (size, material, device))
    draw.balanced()


def test_panel_protection() -> None:
    draw = Draw(8)
    for _ in range(COUNT):
        bus = draw.maybe(draw.rating(), 0.1)
        v_device, v_panel = draw.random.choice(((480, 480), (480, 240), (480, 208), (240, 480)))
        through = v_device != v_panel
        device = draw.maybe(draw.rating(*((bus * v_panel // v_device,) if bus else ())), 0.1)
        facts = PanelFacts(
            Subject("p", "Panel"), 2023, fact(bus), Subject("m", "Main"), fact(device),
            ratio=Fact(v_device / v_panel), through=Subject("t", "T") if through else None,
        )  # fmt: skip
        wanted = "unknown"
        if bus is not None and device is not None:
            wanted = "pass" if hand.panel(F(bus), F(device), F(v_device), F(v_panel)) else "fail"
        draw.agree(panel_protection(facts).state, wanted, (bus, device, v_device, v_panel))
    draw.balanced()


# ------------------------------------------------------------------------------------------------------- services
def test_ground_fault_protection() -> None:
    draw = Draw(9)
    systems = {
        "480Y/277": (480, 277, True), "208Y/120": (208, 120, True), "600Y/347": (600, 347, True),
        "240D/120-HL": (240, 120, False), "120/240-1": (240, 120, False),
    }  # fmt: skip
    for _ in range(COUNT):
        code = draw.random.choice(list(systems))
        rating = draw.random.choice((800, 999, 1000, 1001, 1200, 1600, 2000))
        fitted, tested = draw.maybe(draw.flag()), draw.maybe(draw.flag())
        pickup = draw.maybe(draw.random.choice((600, 1199, 1200, 1201, 2000)))
        delay = draw.maybe(F(draw.random.choice((5, 10, 11, 20)), 10))
        facts = GroundFaultFacts(
            Subject("m", "Main"), draw.random.choice(EDITIONS), code, fact(rating), fitted,
            None if pickup is None else float(pickup), None if delay is None else float(delay), tested=tested,
        )  # fmt: skip
        got = ground_fault(facts).state
        v_line, v_neutral, wye = systems[code]
        if not hand.ground_fault_needed(F(v_line), F(v_neutral), wye, F(rating)):
            draw.agree(got, "not_applicable", facts)
            continue
        if fitted is None:
            wanted = "unknown"
        elif not fitted:
            wanted = "fail"
        else:
            settings = hand.over_unknowns(hand.ground_fault_set, exact(pickup, delay), ([F(1200)], [F(1)]))
            wanted = three([settings, "unknown" if tested is None else "pass" if tested else "fail"])
        draw.agree(got, wanted, facts)
    draw.balanced("pass", "fail", "unknown", "not_applicable")


def test_arc_energy_reduction() -> None:
    draw = Draw(10)
    for _ in range(COUNT):
        rating, fuses = draw.random.choice((1000, 1199, 1200, 1201, 1600)), draw.random.random() < 0.5
        edition = draw.random.choice(EDITIONS)
        clearing = draw.maybe(F(draw.random.choice((1, 69, 70, 71, 200)), 1000), 0.5) if fuses else None
        method, recorded = draw.random.choice(("none", "maintenance switch", None)), draw.maybe(draw.flag(), 0.3)
        facts = ArcFacts(
            Subject("m", "Main"), edition, fact(rating), fuses, method, recorded,
            None if clearing is None else float(clearing),
        )  # fmt: skip
        found = arc_energy(facts)
        got = "pass" if found is None else found.state
        wanted = "pass"
        if hand.arc_reduction_needed(F(rating), fuses, edition, clearing):
            wanted = {"none": "fail", None: "unknown"}.get(method, "")
            wanted = wanted or ("unknown" if recorded is None else "pass" if recorded else "fail")
        draw.agree(got, wanted, facts)
    draw.balanced()


# --------------------------------------------------------------------------------------------------- room to work
def test_working_space() -> None:
    draw = Draw(11)
    opposite = ("nothing live or grounded", "grounded parts", "live parts")
    for _ in range(COUNT):
        volts, where = (
            draw.maybe(draw.random.choice((120, 150, 151, 277, 480, 600, 601, 1000)), 0.1),
            draw.random.choice((0, 1, 2, None)),
        )
        depth = draw.maybe(F(draw.random.choice((35, 36, 37, 41, 42, 43, 47, 48, 49, 60)), 12), 0.1)
        own_width, own_height = (
            F(draw.random.choice((20, 30, 31, 36)), 12),
            F(draw.random.choice((60, 78, 79, 90)), 12),
        )
        width = draw.maybe(own_width + F(draw.random.choice((-1, 0, 1, 20)), 12), 0.1)
        height = draw.maybe(own_height + F(draw.random.choice((-1, 0, 1, 20)), 12), 0.1)
        if where is None and depth is None and width is None and height is None:
            continue
        facts = SpaceFacts(
            Subject("p", "Panel"), 2023, volts, None if where is None else opposite[where], fact(depth), fact(width),
            fact(height), fact(own_width), fact(own_height), Fact(225.0),
        )  # fmt: skip
        states = [
            hand.over_unknowns(
                lambda d, w, h, *, own=(own_width, own_height), v=v, c=c: hand.working_space(d, w, h, *own, F(v), c),
                exact(depth, width, height),
                ([hand.working_depth(F(v), c)], [max(F(5, 2), own_width)], [max(F(13, 2), own_height)]),
            )
            for v in ((120, 277, 1000) if volts is None else (volts,))
            for c in ((1, 2, 3) if where is None else (where + 1,))
        ]
        wanted = states[0] if len(set(states)) == 1 else "unknown"
        draw.agree(working_space(facts).state, wanted, (volts, where, depth, width, height, own_width, own_height))
    draw.balanced()


def test_places_of_devices() -> None:
    draw = Draw(12)
    for _ in range(COUNT):
        inches = draw.maybe(F(draw.random.choice((48, 78, 79, 80, 90)) * 4 + draw.random.choice((-1, 0, 1)), 4))
        accessible, excluded = draw.maybe(draw.flag()), draw.maybe(not draw.flag())
        facts = DevicePlaceFacts(
            Subject("s", "Switch"), 2023, fact(None if inches is None else inches / 12), accessible, excluded
        )
        low = "unknown" if inches is None else "pass" if hand.handle_low_enough(inches / 12) else "fail"
        near = "unknown" if accessible is None else "pass" if accessible else "fail"
        clear = "unknown" if excluded is None else "fail" if excluded else "pass"
        draw.agree(device_place(facts).state, three([low, near, clear]), (inches, accessible, excluded))
    draw.balanced()


def test_wiring_space() -> None:
    draw = Draw(13)
    for _ in range(COUNT):
        space = draw.maybe(F(draw.random.choice((20, 40, 64, 100))), 0.1)
        at = space or F(40)
        passing = draw.maybe(F(at * draw.random.choice((0, 20, 39, 40, 41)), 100))
        filled = draw.maybe(F(at * draw.random.choice((30, 74, 75, 76)), 100))
        if space is None and passing is None and filled is None:
            continue
        marked = draw.maybe(draw.flag())
        facts = WiringSpaceFacts(Subject("p", "Panel"), 2023, fact(space), fact(passing), fact(filled), marked)
        turns: list[Any] = [
            [x * F(100, 40) for x in (passing,) if x] + [x * F(100, 75) for x in (filled,) if x],
            [at * F(2, 5)], [at * F(3, 4)],
        ]  # fmt: skip
        states = [hand.over_unknowns(hand.wiring_fits, exact(space, passing, filled), turns)]
        if space is None or (passing is None and filled is None):
            # What is asked of one number at a time is open as long as that number is.
            states = [
                hand.over_unknowns(lambda s, p: hand.wiring_fits(s, p, F(0)), exact(space, passing), turns[:2]),
                hand.over_unknowns(
                    lambda s, f: hand.wiring_fits(s, F(0), f), exact(space, filled), (turns[0], turns[2])
                ),
            ]
        if passing:
            states.append("unknown" if marked is None else "pass" if marked else "fail")
        draw.agree(wiring_space(facts).state, three(states), (space, passing, filled, marked))
    draw.balanced()


# ------------------------------------------------------------------------------------------------------ grounding
def test_supply_side_bonding_jumper() -> None:
    areas = {**CMIL, "250": 250000, "350": 350000, "500": 500000, "600": 600000, "750": 750000}
    jumpers = {"8": 16510, "6": 26240, "4": 41740, **areas}
    draw = Draw(14)
    for _ in range(COUNT):
        size, sets, jumper = (
            draw.random.choice(list(areas)),
            draw.random.choice((1, 2, 3, 4)),
            draw.maybe(draw.random.choice(list(jumpers))),
        )
        found = supply_side_jumper.__wrapped__(
            JumperFacts(conductors(size, sets), "supply-side bonding jumper", jumper, "copper")
        )
        least = hand.jumper_area(F(areas[size] * sets))
        wanted = "unknown" if jumper is None else "pass" if jumpers[jumper] * sets >= least else "fail"
        draw.agree(found.state, wanted, (size, sets, jumper))
    draw.balanced()


def test_one_pole_alone_on_a_corner_grounded_system() -> None:
    draw = Draw(15)
    for _ in range(COUNT):
        rating = draw.random.choice((10, 14, 18, 22, 25, 35, 42, 65)) * 1000
        duty = draw.maybe(rating + draw.random.choice((-5000, -1, 0, 1, 40, 45, 46, 47, 5000)))
        facts = PoleFacts(Subject("b", "Breaker"), 2023, "corner", fact(duty), fact(rating), Fact(None, need="maker"))
        wanted = "unknown" if duty is None else "judge" if hand.one_pole(F(duty), F(rating)) else "fail"
        draw.agree(single_pole_duty(facts).state, wanted, (rating, duty))
    draw.balanced("judge", "fail", "unknown")


# ------------------------------------------------------------------------------------- the oracle against itself
@pytest.mark.parametrize(
    ("rule", "given", "state"),
    [
        # Trade forum, 240.21(B)(1)(4): 1600 A ahead asks for 160 A; 50 A conductors fail although the device is 50 A.
        (lambda iz: hand.ten_foot(F(9), iz, F(40), F(50), F(1600), True, True), 159, False),
        (lambda iz: hand.ten_foot(F(9), iz, F(40), F(50), F(1600), True, True), 160, True),
        # Trade forum, "25 feet tap conductor": 1600 A, 2 x 250 kcmil aluminum (410 A) fails, 533.3 A needed.
        (lambda iz: hand.twenty_five_foot(F(20), iz, F(200), F(1600), True), 410, False),
        (lambda iz: hand.twenty_five_foot(F(20), iz, F(200), F(1600), True), 620, True),
        # Trade forum, "Taps for Transformers": 175 A, 4 AWG (85 A), 1/0 (150 A) to a 150 A main, 8 + 15 ft.
        (lambda iz: hand.transformer_tap(F(8), F(15), F(85), iz, F(480), F(208), F(175), F(150)), 150, True),
        # Trade forum, "Transformer Secondary Feeder Tap": 250 A primary, 600 A device: 510 A fails, 620 A holds.
        (lambda iz: hand.secondary_twenty_five_foot(F(20), iz, F(600), F(250), F(480), F(208)), 510, False),
        (lambda iz: hand.secondary_twenty_five_foot(F(20), iz, F(600), F(250), F(480), F(208)), 620, True),
        # Trade forum, "Parallel conductor sizing": 2 x 500 kcmil, 760 A, may be protected at 800 A.
        (lambda iz: hand.device_allowed(iz, F(800)), 760, True),
        # Inspectors' forum: 3 x 250 kcmil: 2/0.
        (lambda area: hand.jumper_area(area) == 133100, 750000, True),
        # Steel conductors of 2000 kcmil: an eighth, 250 kcmil (250.102(C)(1), maker's literature).
        (lambda area: hand.jumper_area(area) == 250000, 2000000, True),
    ],
)  # fmt: skip
def test_the_oracle_gives_the_published_answers(rule: Callable[[F], bool], given: int, state: bool) -> None:
    assert rule(F(given)) is state
