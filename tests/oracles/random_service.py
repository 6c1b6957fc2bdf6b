"""Random services with mistakes in them: drawings on which something fails, for tests of what is proposed against it.

Sizes and ratings are drawn from ranges in which old services are found; the mistakes are those of the trade: conductors
too small for their breaker or their load, taps too long, equipment braced too low, a second neutral bond, a raceway too full.
"""

from __future__ import annotations

import random

from oneline.api import Builder
from oneline.model import Drawing

RUN = {
    "material": "copper", "egc_material": "copper", "insulation": "THHN/THWN-2", "raceway": "EMT", "wet": False,
    "ambient_c": 30, "current_carrying": 3, "terminal_c": 75, "phases": "ABC", "outdoors": False, "leaves_enclosure": True,
}  # fmt: skip
#: Feeder breaker -> (phase, neutral, grounding conductor, raceway) that go with it, roughly as in the trade.
FEEDERS = {
    60.0: ("6", "6", "10", "1"), 100.0: ("3", "3", "8", "1-1/4"), 150.0: ("1/0", "1/0", "6", "2"),
    200.0: ("3/0", "3/0", "6", "2"), 225.0: ("4/0", "4/0", "4", "2-1/2"),
}  # fmt: skip
SMALLER = {"6": "8", "3": "6", "1/0": "2", "3/0": "1", "4/0": "2/0"}


def random_service(seed: int, mistakes: int = 3) -> Drawing:
    """A service with a board, feeders to new panels, a tap, now and then a transformer and an array."""
    rng = random.Random(seed)
    high = rng.random() < 0.4
    system = "480Y/277" if high else "208Y/120"
    b = Builder(f"Building {seed}", edition=rng.choice((2017, 2020, 2023, 2026)))
    wrong = _Mistakes(rng, mistakes)
    fault_ka = rng.choice((10.0, 18.0, 25.0, 40.0))
    utility = b.service("Utility", system=system, fault_ka=fault_ka, fault_x_r=3.0)
    main_a = rng.choice((400.0, 600.0, 800.0))
    main = b.disconnect(
        "Main", form="breaker", trip_a=main_a, rating_a=main_a, interrupting_ka=65.0, poles=3, service_disconnect=True,
        service_rated=True, neutral_bonded=True, full_rated=False, adjustable=False, closed=True,
        voltage_rating="480Y/277" if high else "240",
    )  # fmt: skip
    b.run(
        utility,
        main,
        size="500",
        sets=2 if main_a < 700 else 3,
        neutral_size="500",
        egc_size="none",
        length_ft=25.0,
        raceway_size="4",
        **RUN,
    )
    board = b.bus(
        "Board", form="switchboard", rating_a=main_a, sccr_ka=wrong.low(14.0, 65.0), spaces=42, neutral_bonded=False,
        terminal_c=75, maker_tap_provision=True, all_listed=True, phases="ABC", feed_position="end",
    )  # fmt: skip
    b.joint(main, board)
    for n in range(1, rng.randint(2, 4)):
        _feeder(b, rng, wrong, board, n, high)
    if rng.random() < 0.6:
        _tap(b, rng, wrong, board, high)
    if high and rng.random() < 0.6:
        _transformer(b, rng, wrong, board)
    if rng.random() < 0.4:
        with b.status("new"):
            array = b.disconnect(
                "Array breaker", form="breaker", trip_a=60.0, rating_a=100.0, interrupting_ka=65.0, poles=3,
                voltage_rating="480Y/277" if high else "240", bus_end="between" if wrong.now() else "opposite end",
            )  # fmt: skip
            b.joint(board, array)
            sun = b.solar("Array", output_a=46.0, phases="ABC", interactive_listed=True, fault_factor=1.2)
            b.run(array, sun, size="6", neutral_size="6", egc_size="10", length_ft=40.0, raceway_size="1", **RUN)
    return b.drawing


class _Mistakes:
    """Makes mistakes until there are enough."""

    def __init__(self, rng: random.Random, most: int) -> None:
        self.rng, self.left = rng, most

    def now(self) -> bool:
        if self.left and self.rng.random() < 0.3:
            self.left -= 1
            return True
        return False

    def low(self, bad: float, good: float) -> float:
        return bad if self.now() else good


def _panel(b: Builder, rng: random.Random, wrong: _Mistakes, name: str, rating_a: float, high: bool):
    bus = b.bus(
        name, rating_a=rating_a, sccr_ka=wrong.low(10.0, 65.0), breakers_ka=65.0, spaces=24,
        neutral_bonded=wrong.now(), terminal_c=75, phases="ABC", line_side_barrier=not wrong.now(), all_listed=True,
        feed_position="end",
    )  # fmt: skip
    volts = 480 if high else 208
    part = rng.uniform(0.2, 0.8) * (1.6 if wrong.now() else 1.0)
    va = round(part * rating_a * volts * 1.732, -2)
    b.circuit(
        bus,
        1,
        "Heater bank, north hall",
        min(rating_a, 100.0),
        poles=3,
        va=va,
        load_class="heat",
        continuous=False,
        power_factor=1.0,
    )
    b.circuit(
        bus, 2, "Lights, north hall", 30.0 if wrong.now() else 20.0, va=1500, load_class="lighting", wire_size="12",
        continuous=True, power_factor=1.0,
    )  # fmt: skip
    return bus


def _feeder(b: Builder, rng: random.Random, wrong: _Mistakes, board, n: int, high: bool) -> None:
    trip = rng.choice(list(FEEDERS))
    size, neutral, egc, raceway = FEEDERS[trip]
    with b.status(rng.choice(("new", "new", "existing"))):
        device = b.disconnect(
            f"Feeder {n}", form="breaker", trip_a=trip, rating_a=max(trip, 100.0), interrupting_ka=wrong.low(10.0, 65.0),
            poles=3, full_rated=False, adjustable=False, voltage_rating="480Y/277" if high else "240",
        )  # fmt: skip
        b.joint(board, device)
        panel = _panel(b, rng, wrong, f"Panel {n}", 100.0 if wrong.now() else max(trip, 125.0), high)
        b.run(
            device, panel, name=f"Run {n}", size=SMALLER[size] if wrong.now() else size, neutral_size=neutral,
            egc_size="12" if wrong.now() else egc, raceway_size="3/4" if wrong.now() else raceway,
            length_ft=float(rng.randint(20, 220)), **RUN,
        )  # fmt: skip


def _tap(b: Builder, rng: random.Random, wrong: _Mistakes, board, high: bool) -> None:
    with b.status("new"):
        trip = rng.choice((100.0, 150.0, 200.0))
        size, neutral, egc, _ = FEEDERS[trip]
        switch = b.disconnect(
            "Tap switch", form="fused switch", rating_a=200.0, trip_a=trip, interrupting_ka=200.0,
            sccr_ka=wrong.low(10.0, 100.0), poles=3, full_rated=False, voltage_rating="480Y/277" if high else "240",
        )  # fmt: skip
        b.run(
            board, switch, name="Tap", size=rng.choice((size, SMALLER[size], "4", "8")), neutral_size=neutral, egc_size=egc,
            raceway_size="2-1/2", length_ft=rng.choice((6.0, 9.5, 12.0, 18.0, 24.0, 31.0)), **RUN,
        )  # fmt: skip
        panel = _panel(b, rng, wrong, "Panel T", 225.0, high)
        b.run(
            switch,
            panel,
            name="Run T",
            size=size,
            neutral_size=neutral,
            egc_size=egc,
            raceway_size="2-1/2",
            length_ft=30.0,
            **RUN,
        )


def _transformer(b: Builder, rng: random.Random, wrong: _Mistakes, board) -> None:
    """75 kVA, 480 to 208Y/120 V: 90 A in, 208 A out; primary device at most 125 %, secondary a panel main."""
    with b.status("new"):
        device = b.disconnect(
            "T1 breaker", form="breaker", trip_a=225.0 if wrong.now() else 110.0, rating_a=225.0, interrupting_ka=65.0,
            poles=3, full_rated=False, adjustable=False, voltage_rating="480Y/277",
        )  # fmt: skip
        b.joint(board, device)
        unit = b.transformer(
            "T1", kva=75.0, z_pct=4.5, x_r=2.0, primary_system="480Y/277", secondary_system="208Y/120",
            connection="delta-wye", neutral_bonded=True,
        )  # fmt: skip
        b.run(
            device, unit, name="T1 primary", size="4" if wrong.now() else "2", neutral_size="none", egc_size="6",
            raceway_size="1-1/4", length_ft=60.0, **RUN,
        )  # fmt: skip
        main = b.disconnect(
            "T1 main", form="breaker", trip_a=225.0, rating_a=225.0, interrupting_ka=wrong.low(10.0, 22.0), poles=3,
            full_rated=False, adjustable=False, neutral_bonded=False, voltage_rating="240",
        )  # fmt: skip
        b.run(
            unit, main, name="T1 secondary", size="3/0" if wrong.now() else "4/0", neutral_size="4/0", egc_size="4",
            raceway_size="2-1/2", length_ft=rng.choice((8.0, 20.0, 32.0)), **RUN,
        )  # fmt: skip
        panel = _panel(b, rng, wrong, "Panel L", 225.0, False)
        b.joint(main, panel)
