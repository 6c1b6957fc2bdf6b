"""A large building that is one network: services of its own do not hide what an edit touches.

Everything is invented and seeded. Every feeder is a breaker on its panel, a run and a panel with a schedule, some behind a
transformer of their own, some with drawn loads; a share of the facts is unknown, as on a real walk-through.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from types import MappingProxyType

from oneline.model import KINDS, Circuit, Drawing, End, Item, Project

#: Feeder sizes: device amperes, conductor, sets, grounding conductor, raceway trade size.
_FEEDERS = (
    (100.0, "3", 1, "8", "1-1/4"),
    (125.0, "1", 1, "6", "1-1/2"),
    (200.0, "3/0", 1, "6", "2"),
    (225.0, "4/0", 1, "4", "2"),
    (400.0, "500", 1, "3", "3-1/2"),
)
_CIRCUITS = (
    ("Lights, floor {}", "lighting", 1, 20.0, 900.0, True),
    ("Receptacles, room {}", "receptacles", 1, 20.0, 720.0, False),
    ("Receptacles, hall {}", "receptacles", 1, 20.0, 540.0, False),
    ("Water heater, closet {}", "water heater", 2, 30.0, 4500.0, True),
    ("Exhaust fan, room {}", "motor", 1, 20.0, 700.0, False),
    ("Copier, room {}", "other", 1, 20.0, 1100.0, False),
)


@dataclass
class _Maker:
    rng: random.Random
    items: dict[str, Item] = field(default_factory=dict)

    def put(self, kind: str, item_id: str, **values) -> str:
        self.items[item_id] = KINDS[kind](id=item_id, name=item_id.upper(), **values)
        return item_id

    def joint(self, item_id: str, a: str, b: str) -> None:
        self.put("joint", item_id, a=End(*a.split(".")), b=End(*b.split(".")))

    def run(self, item_id: str, a: str, b: str, size: str, sets: int, egc: str, pipe: str) -> None:
        known = self.rng.random() < 0.9
        self.put(
            "run", item_id, a=End(*a.split(".")), b=End(*b.split(".")), size=size, sets=sets, material="copper",
            insulation="THWN-2", length_ft=round(self.rng.uniform(8, 140), 1) if known else None, neutral_size=size,
            egc_size=egc, egc_material="copper", raceway="EMT", raceway_size=pipe, terminal_c=75.0, ambient_c=30.0,
            wet=False, current_carrying=3,
        )  # fmt: skip

    def schedule(self, feeders: list[tuple[str, int, float]]) -> tuple[Circuit, ...]:
        rows, space = [], 1
        for device, poles, trip in feeders:
            rows.append(Circuit(space, poles, trip, device, use="feeder", feeds=device))
            space += 2 * poles
        for k in range(self.rng.randrange(2, 7)):
            text, load_class, poles, trip, va, continuous = self.rng.choice(_CIRCUITS)
            known = self.rng.random() < 0.95
            load = round(va * self.rng.uniform(0.1, 0.4)) if known else None
            rows.append(
                Circuit(
                    2 * k + 2 if poles == 1 else space, poles, trip, text.format(k + 1), va=load, load_class=load_class,
                    continuous=continuous, traced="traced",
                )
            )  # fmt: skip
            if poles > 1:
                space += 2 * poles
        return tuple(rows)


def campus(size: int) -> Drawing:
    """A drawing of about ``size`` items: one service, and panels that feed panels, at most six deep."""
    made = _Maker(random.Random(size))
    made.put("service", "utility", system="480Y/277", fault_ka=42.0, fault_x_r=7.0)
    made.put(
        "disconnect", "main", form="fused switch", rating_a=4000.0, trip_a=4000.0, poles=3, interrupting_ka=200.0,
        sccr_ka=100.0, service_disconnect=True, service_rated=True, voltage_rating="480", neutral_bonded=True,
    )  # fmt: skip
    made.put("bus", "p0", form="switchboard", rating_a=4000.0, sccr_ka=100.0, neutral_bonded=False, spaces=84)
    made.run("r0", "utility.out", "main.line", "600", 12, "none", "4")
    made.joint("j0", "main.load", "p0.bus")
    depth, fed = {"p0": 0}, {"p0": []}
    places = ["p0"]
    k = 0
    while len(made.items) < size:
        k += 1
        up = made.rng.choice([p for p in places[-40:] if depth[p] < 6 and len(fed[p]) < 8] or places[:1])
        amperes, wire, sets, egc, pipe = made.rng.choice(_FEEDERS)
        device, panel = f"d{k}", f"p{k}"
        made.put(
            "disconnect", device, trip_a=amperes, rating_a=max(amperes, 225.0), poles=3, phases="ABC",
            interrupting_ka=made.rng.choice((10.0, 14.0, 42.0, 65.0, None)), voltage_rating="480Y/277",
            terminal_c=75.0, bus_end="between", status=made.rng.choice(("existing", "existing", "new")),
        )  # fmt: skip
        made.joint(f"j{k}", f"{up}.bus", f"{device}.line")
        fed[up].append((device, 3, amperes))
        made.put(
            "bus", panel, rating_a=max(amperes, 225.0) if amperes < 400 else 400.0, spaces=42, neutral_bonded=False,
            sccr_ka=made.rng.choice((22.0, 42.0, 65.0, None)), phases="ABC",
        )  # fmt: skip
        made.run(f"r{k}", f"{device}.load", f"{panel}.bus", wire, sets, egc, pipe)
        depth[panel], fed[panel] = depth[up] + 1, []
        places.append(panel)
        if made.rng.random() < 0.3:
            made.put("load", f"l{k}", load_class="hvac", mca_a=18.0, mocp_a=30.0, phases="ABC")
            made.put(
                "disconnect", f"b{k}", trip_a=30.0, poles=3, phases="ABC", voltage_rating="480Y/277",
                interrupting_ka=65.0,
            )  # fmt: skip
            made.joint(f"jb{k}", f"{panel}.bus", f"b{k}.line")
            made.run(f"rb{k}", f"b{k}.load", f"l{k}.in", "10", 1, "10", "3/4")
            fed[panel].append((f"b{k}", 3, 30.0))
    for panel, feeders in fed.items():
        if panel != "p0":
            made.items[panel] = made.items[panel].__class__(
                **{**made.items[panel].__dict__, "circuits": made.schedule(feeders)}
            )
    return Drawing(project=Project(title="Campus", edition=2023), items=MappingProxyType(made.items))
