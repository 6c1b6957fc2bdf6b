"""What people plan and write down for an outage: the work zone, locks, and tests for absence of voltage.

These are records of persons. The program computes from the drawing what *should* be dead; only a test by a person says
that something is, and only for as long as nothing that it rests on was changed (``VoltageTest.seal``).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from oneline.model.fields import fact

_EMPTY: Mapping[str, Any] = MappingProxyType({})


def _kept() -> Any:
    return field(default_factory=lambda: _EMPTY, hash=False)


@dataclass(frozen=True)
class VoltageTest:
    """A person's test for absence of voltage at one terminal of an item; ``None`` where a pair was not tested.

    ``seal``: fingerprint of everything on the drawing that the result rests on (``outage.states.seal_of``); when the
    drawing has another one, the record no longer says that the point is dead.
    """

    item: str = fact("Item", "text", required=True)
    terminal: str = fact("Terminal", "text", required=True)
    when: str = fact("When", "text", required=True, help="Date and time of day.")
    by: str = fact("Tested by", "text", default="")
    instrument: str = fact("Instrument", "text", default="", help="Make, number, measurement category.")
    proved_before: bool | None = fact("Proved on a known live source before", "flag")
    proved_after: bool | None = fact("Proved on a known live source after", "flag")
    ab_v: float | None = fact("A-B", "voltage_v")
    bc_v: float | None = fact("B-C", "voltage_v")
    ca_v: float | None = fact("C-A", "voltage_v")
    an_v: float | None = fact("A-N", "voltage_v")
    bn_v: float | None = fact("B-N", "voltage_v")
    cn_v: float | None = fact("C-N", "voltage_v")
    ag_v: float | None = fact("A-ground", "voltage_v")
    bg_v: float | None = fact("B-ground", "voltage_v")
    cg_v: float | None = fact("C-ground", "voltage_v")
    ng_v: float | None = fact("N-ground", "voltage_v")
    seal: str = fact("Seal", "text", default="")
    note: str = fact("Note", "text", default="")
    extra: Mapping[str, Any] = _kept()


@dataclass(frozen=True)
class LockRecord:
    """A lock that a person hung on an open device. Taking it off ends what was verified behind it: the record is removed."""

    item: str = fact("Item", "text", required=True)
    number: str = fact("Lock number", "text", default="")
    by: str = fact("Owner of the lock", "text", default="")
    when: str = fact("Locked", "text", default="", help="Date and time of day.")
    extra: Mapping[str, Any] = _kept()


@dataclass(frozen=True)
class StepMark:
    """A step of the switching order that was done: who and when. ``step``: the step's key."""

    step: str = fact("Step", "text", required=True)
    by: str = fact("Initials", "text", default="")
    when: str = fact("Done", "text", default="", help="Date and time of day.")
    extra: Mapping[str, Any] = _kept()


@dataclass(frozen=True, kw_only=True)
class WorkZone:
    """Items to be worked on in one outage, and what was decided by hand about it.

    ``items``: ids of what is to be dead. ``isolation``: ids of the devices to open, chosen by hand; () takes the best one
    computed. ``order``: keys of steps as they were arranged by hand; () takes the computed order.
    """

    id: str
    name: str = fact("Name of the work", "text", default="", group="Identity")
    items: tuple[str, ...] = ()
    begins: str | None = fact("Begins", "text", help="Date and time of day, like 2026-12-05 06:00.")
    work_min: float | None = fact("Time for the work itself (minutes)", "ratio", high=100_000)
    step_min: float | None = fact("Time for one step (minutes)", "ratio", high=1_000)
    lead: str = fact("In charge", "text", default="")
    second: str = fact("Second person", "text", default="")
    crew: str = fact("Crew", "text", default="")
    contact: str = fact("Contact for occupants", "text", default="")
    utility_contact: str = fact("Utility's number for outages", "text", default="")
    notes: str = fact("Notes", "text", default="")
    isolation: tuple[str, ...] = ()
    order: tuple[str, ...] = ()
    locks: tuple[LockRecord, ...] = ()
    tests: tuple[VoltageTest, ...] = ()
    marks: tuple[StepMark, ...] = ()
    extra: Mapping[str, Any] = _kept()
