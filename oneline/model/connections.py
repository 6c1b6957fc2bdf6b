"""What joins two terminals: bolted connections, conductor runs, suspected ties."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from oneline.model.fields import PLACE_GROUP, fact
from oneline.model.records import End, Item, Place
from oneline.model.vocabulary import CONDUCTOR_SIZES, INSULATIONS, MATERIALS, PHASE_SETS, RACEWAYS, TRACED


@dataclass(frozen=True, kw_only=True)
class Connection(Item):
    """Base of everything that joins two terminals. ``bends`` are the user's own corner points, from a to b."""

    a: End
    b: End | None
    bends: tuple[Place, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Joint(Connection):
    """Bolted or plugged connection without a length: a breaker on its bus."""

    kind: ClassVar[str] = "joint"
    title: ClassVar[str] = "Bolted connection"
    b: End


@dataclass(frozen=True, kw_only=True)
class ConductorRun(Connection):
    """Conductors from ``a`` (line side as drawn) to ``b``: sets x size x material x insulation x length x raceway."""

    kind: ClassVar[str] = "run"
    title: ClassVar[str] = "Conductors"
    b: End

    sets: int | None = fact(
        "Sets in parallel", "count", default=1, low=1, high=20, group="Conductors",
        counted=("sets", "set", "runs", "run", "x"),
    )  # fmt: skip
    size: str | None = fact("Size", "size", choices=CONDUCTOR_SIZES, group="Conductors")
    material: str | None = fact("Material", "choice", choices=MATERIALS, group="Conductors")
    insulation: str | None = fact("Insulation", "choice", choices=INSULATIONS, group="Conductors")
    length_ft: float | None = fact(
        "Length",
        "length_ft",
        help="Conductor length terminal to terminal, drops inside enclosures included.",
        group="Conductors",
    )
    phases: str | None = fact("Phases", "choice", choices=PHASE_SETS, group="Conductors")
    neutral_size: str | None = fact("Neutral size", "size", choices=("none", *CONDUCTOR_SIZES), group="Conductors")
    egc_size: str | None = fact(
        "Equipment grounding conductor", "size", choices=("none", "raceway", *CONDUCTOR_SIZES), group="Conductors"
    )
    egc_material: str | None = fact("Grounding conductor material", "choice", choices=MATERIALS, group="Conductors")
    raceway: str | None = fact("Raceway", "choice", choices=RACEWAYS, group="Raceway")
    raceway_size: str | None = fact("Raceway trade size", "text", help='Trade size, "2" or "1-1/4".', group="Raceway")
    current_carrying: int | None = fact(
        "Current-carrying conductors in the raceway",
        "count",
        low=1,
        help="Of all circuits in it.",
        group="Raceway",
        counted=("conductors", "conductor", "wires", "wire", "ccc"),
    )
    ambient_c: float | None = fact("Ambient temperature", "temperature_c", group="Raceway")
    wet: bool | None = fact("Wet location", "flag", group="Raceway")
    outdoors: bool | None = fact("Outdoors except at its end", "flag", group="Raceway")
    indoor_ft: float | None = fact(
        "Indoor part of an outside run", "length_ft", group="Raceway",
        help="Feet inside the building up to the device at its end; 0 where that is outdoors.",
    )  # fmt: skip
    leaves_enclosure: bool | None = fact("Leaves the enclosure it starts in", "flag", group="Raceway")
    terminal_c: float | None = fact(
        "Terminal temperature",
        "temperature_c",
        low=60,
        high=90,
        help="Lowest of both ends: 60, 75 or 90.",
        group="Conductors",
    )
    mostly_nonlinear: bool | None = fact(
        "Most of its load is nonlinear", "flag", group="Conductors",
        help="Electronic: the neutral of a four-wire wye then counts as current-carrying.",
    )  # fmt: skip
    sets_alike: bool | None = fact(
        "Parallel sets alike", "flag", group="Conductors",
        help="Same length, size, material, insulation and ends in every set of a phase.",
    )  # fmt: skip
    raceway_name: str | None = fact(
        "Raceway name or number", "text", group="Raceway",
        help="Runs with the same name share one raceway; what is drawn in a named raceway is all there is in it.",
    )  # fmt: skip
    not_together_with: str | None = fact(
        "Never loaded at the same time as (group)", "text", group="Raceway",
        help="Interlocked circuits of one raceway: the largest of a group counts.",
    )  # fmt: skip
    circuit_together: bool | None = fact(
        "All conductors of a circuit in one raceway", "flag", group="Raceway",
        help="Phases, neutral and grounding conductor; of parallel sets in several raceways one of each in every one.",
    )  # fmt: skip
    holes_slotted: bool | None = fact(
        "Single conductors through steel grouped or slotted", "flag", group="Raceway",
        help="Where single conductors pass a steel wall: one hole for all, or a slot between the holes.",
    )  # fmt: skip
    rooftop: bool | None = fact("On or above a roof, in the sun", "flag", group="Raceway")
    roof_height_ft: float | None = fact(
        "Height above that roof", "length_ft", group="Raceway", help="From the roof to the bottom of the raceway."
    )
    to_building: str | None = fact(
        "Feeds another building or structure", "text", help="Its name; leave unknown inside one building.",
        group=PLACE_GROUP,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class SuspectedTie(Connection):
    """A connection nobody traced. ``b`` is ``None`` when it leads to an unknown place. Counts as possibly closed."""

    kind: ClassVar[str] = "tie"
    title: ClassVar[str] = "Suspected tie"

    traced: str | None = fact("Traced", "choice", default="untraced", choices=TRACED, group="Identity")
