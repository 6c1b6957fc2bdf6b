"""What is fed: buses and panels with their schedules, and loads."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import ClassVar

from oneline.model.fields import fact
from oneline.model.records import Circuit, Item
from oneline.model.vocabulary import BUS_FORMS, LOAD_CLASSES, PHASE_SETS

#: Forms that have what a field is about.
_SECTIONS = ("panelboard", "switchboard", "meter center")


@dataclass(frozen=True, kw_only=True)
class Bus(Item):
    """Panelboard, switchboard section, gutter, splice box: everything that joins several conductors at one point."""

    kind: ClassVar[str] = "bus"
    title: ClassVar[str] = "Bus or panel"
    terminals: ClassVar[tuple[str, ...]] = ("bus",)

    form: str = fact("Form", "choice", default="panelboard", choices=BUS_FORMS, group="Identity")
    rating_a: float | None = fact("Bus rating", "current_a", help="On the panel's label; not the size of its main.")
    sccr_ka: float | None = fact("Short-circuit current rating", "fault_ka", help="On the label, or its bracing.")
    phases: str | None = fact("Phases", "choice", choices=PHASE_SETS)
    spaces: int | None = fact(
        "Spaces", "count", high=200, forms=_SECTIONS, counted=("spaces", "space", "circuits", "sp")
    )
    terminal_c: float | None = fact("Terminal temperature", "temperature_c", low=60, high=90)
    feed_position: str | None = fact("Fed at", "choice", choices=("end", "center"), forms=(*_SECTIONS, "busway"))
    engineered: bool | None = fact("Bus load studied by an engineer", "flag", forms=(*_SECTIONS, "busway"))
    maker_tap_provision: bool | None = fact("Maker's provision for taps", "flag", forms=(*_SECTIONS, "busway"))
    line_side_barrier: bool | None = fact("Barrier over the line terminals", "flag", forms=_SECTIONS)
    neutral_bonded: bool | None = fact("Neutral bonded to the enclosure here", "flag", group="Bonding")
    all_listed: bool | None = fact(
        "All its circuits are listed or drawn", "flag", forms=_SECTIONS,
        help="A panelboard without a directory feeds nobody knows what, unless this says that what is drawn is all.",
    )  # fmt: skip
    circuits: tuple[Circuit, ...] = ()
    #: Length of the drawn bar in grid units; ``None`` lets the layout choose.
    width: float | None = None

    @property
    def unlisted(self) -> bool:
        """Whether it may feed more than what is drawn: an existing panelboard whose directory nobody entered."""
        return (
            self.form == "panelboard" and self.status in ("existing", "remove") and not self.circuits
            and self.all_listed is not True
        )  # fmt: skip

    def without_feeders(self, gone: Iterable[str | None]) -> Bus:
        """The bus with its lines for devices that are ``gone``: the line stays, and what it feeds nobody said yet."""
        ids = {i for i in gone if i is not None}
        rows = tuple(c.undrawn() if c.feeds in ids else c for c in self.circuits)
        return self if rows == self.circuits else replace(self, circuits=rows)


@dataclass(frozen=True, kw_only=True)
class Load(Item):
    kind: ClassVar[str] = "load"
    title: ClassVar[str] = "Load"
    terminals: ClassVar[tuple[str, ...]] = ("in",)

    load_class: str = fact("Class", "choice", default="other", choices=LOAD_CLASSES, group="Identity")
    va: float | None = fact("Load", "power_va", help="Total of all phases.")
    phases: str | None = fact("Phases", "choice", choices=PHASE_SETS)
    power_factor: float | None = fact("Power factor", "ratio", low=0.01, high=1)
    continuous: bool | None = fact("Continuous (3 hours or more)", "flag")
    horsepower: float | None = fact("Motor", "horsepower")
    mca_a: float | None = fact("Nameplate minimum circuit ampacity", "current_a")
    mocp_a: float | None = fact("Nameplate maximum overcurrent protection", "current_a")
    noncoincident_group: str | None = fact("Not at the same time as (group)", "text")
    nonlinear: bool | None = fact("Nonlinear", "flag")
