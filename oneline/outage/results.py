"""What planning an outage answers. The faces and the papers read these; nothing else computes.

Words: *dead by the drawing* is what the drawing shows when every isolation point is open; it is not verified. Nothing
here ever says that something may be touched.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from oneline.model import WorkZone

#: What the drawing says of a zone: "isolated" (with the points open, no source on the drawing reaches it), "unknown"
#: (something untraced touches it), "not here" (no device on the premises stands between a source and it).
ZONE_STATES = ("isolated", "unknown", "not here")
#: State of one item (rules of switching, SW-0).
ITEM_STATES = ("live by the drawing", "possibly live", "dead by the drawing, not verified", "verified dead")
#: Parts of a switching order, in their order.
PARTS = ("prepare", "shed", "open", "lock", "test", "work", "check", "close")
#: What is done at a step.
ACTIONS = (
    "tell", "inhibit", "measure", "shed", "stop source", "open", "lock", "test", "ground", "work", "clear", "unlock",
    "close", "start source", "verify", "enable",
)  # fmt: skip


@dataclass(frozen=True)
class IsolationPoint:
    """A device to open, lock and keep open.

    ``keys``: its branch keys in the network. ``cost``: what opening it costs, with ``why``: each reason in words.
    ``parts_from``: ids of the sources (and of ties to unknown places) that it stands against. ``is_open``: already
    open in the present positions. ``live_sides``: terminals that a source still reaches once everything is open;
    ``lock``: number of the lock planned for it ("L1").
    """

    item: str
    name: str
    location: str
    keys: tuple[str, ...]
    cost: int
    why: tuple[str, ...] = ()
    parts_from: tuple[str, ...] = ()
    is_open: bool = False
    live_sides: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    lock: str = ""


@dataclass(frozen=True)
class Blocked:
    """A source that nothing on the premises stands against. ``says``: "Only the utility can make this dead: ...".

    ``path``: branch keys from the source to the zone, () where it stands in the zone itself.
    """

    source: str
    name: str
    says: str
    path: tuple[str, ...] = ()


@dataclass(frozen=True)
class Isolation:
    """One way to isolate a zone. ``dead``: items dead by the drawing; ``dark``: those of them outside the zone that
    are fed at present; ``proof``: one sentence that says how it was proven."""

    points: tuple[IsolationPoint, ...]
    cost: int
    dead: tuple[str, ...]
    dark: tuple[str, ...]
    proof: str = ""
    #: Sources that still reach the zone with the points open, each with its way: only where they were chosen by hand.
    reached: tuple[Blocked, ...] = ()
    #: What nobody traced and touches the zone with these points open, one sentence each.
    unknown: tuple[str, ...] = ()
    #: Sources that only a transfer switch keeps away, which is no device to isolate with: one sentence each.
    rests_on: tuple[str, ...] = ()
    #: Devices to open and lock besides the points, against those sources.
    lock_too: tuple[IsolationPoint, ...] = ()

    @property
    def held(self) -> tuple[IsolationPoint, ...]:
        """Everything that is opened and locked: the points, and what is locked besides."""
        return (*self.points, *self.lock_too)

    @property
    def items(self) -> tuple[str, ...]:
        return tuple(p.item for p in self.points)


@dataclass(frozen=True)
class ZoneAnswer:
    """How a zone can be made dead.

    ``zone``: as planned. ``nodes``: network nodes that must be dead. ``missing``: ids of zone items that are not on
    the drawing (in this view). ``unknown``: what nobody traced and touches the zone, each by name, one sentence.
    ``listed``: circuits known only by their label, by number. ``alternatives``: ranked, the best first; empty where
    ``blocked``.
    """

    zone: WorkZone
    view: str
    state: str
    nodes: frozenset[int]
    alternatives: tuple[Isolation, ...] = ()
    blocked: tuple[Blocked, ...] = ()
    unknown: tuple[str, ...] = ()
    listed: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    #: Where ``blocked``: what has to be opened against the other sources besides, ranked; it does not isolate the zone.
    besides: tuple[Isolation, ...] = ()

    @property
    def best(self) -> Isolation | None:
        return self.alternatives[0] if self.alternatives else None


@dataclass(frozen=True)
class SwitchCurrent:
    """Current through a device at the moment it is operated.

    ``amperes``: of the highest-loaded phase, ``None`` when it cannot be said; ``at_most``: a bound where there is
    one. ``basis``: "reading", "calculated", "none left" (everything behind is off), "dead" (its line side is dead by
    then) or "unknown". ``words``: where it comes from, in one short sentence. ``needs``: what is missing.
    """

    amperes: float | None
    at_most: float | None
    basis: str
    words: str
    needs: tuple[str, ...] = ()


@dataclass(frozen=True)
class Step:
    """One step of a switching order.

    ``key``: what is done to what ("open:disconnect4"), the same whenever the order is computed. ``state``: pass,
    fail, unknown, judge or advice, with ``why`` wherever it is not pass. ``dark`` / ``back``: items that lose / get
    power by it. ``positions``: the positions that differ from the drawing after it, by branch key. ``minute``: when
    it begins, from the start. ``hold``: nobody goes on before it is confirmed. ``back_out``: last step from which one
    can turn back without having worked.
    """

    key: str
    number: int
    part: str
    action: str
    words: str
    item: str = ""
    name: str = ""
    place: str = ""
    current: SwitchCurrent | None = None
    rating_a: float | None = None
    state: str = "pass"
    why: str = ""
    lock: str = ""
    dark: tuple[str, ...] = ()
    back: tuple[str, ...] = ()
    positions: Mapping[str, bool] = field(default_factory=dict)
    minute: float | None = None
    hold: bool = False
    back_out: bool = False


@dataclass(frozen=True)
class OrderProblem:
    """Why an order arranged by hand is bad. ``step``: key of the step it is about; ``first``: keys of steps that must
    come before."""

    step: str
    says: str
    first: tuple[str, ...] = ()


@dataclass(frozen=True)
class Pair:
    """One pair of a test card. ``field``: name of the field of ``VoltageTest``. ``live_v``: voltage expected while
    live, ``None`` when the system is not known; ``expected``: what the meter should show now, in words ("0 V", "208
    V: stays live from S1")."""

    label: str
    field: str
    live_v: float | None
    expected: str


@dataclass(frozen=True)
class TestCard:
    """What is tested at one terminal, and what the meter should show once the isolation points are open.

    ``live_from``: names of the sources that still reach it then. ``waits_for``: of those that only somebody else can take
    away (the utility at its own side). ``possibly_from``: of those that may reach it.
    """

    __test__ = False  # not a test of pytest

    item: str
    terminal: str
    name: str
    place: str
    system: str
    live_from: tuple[str, ...]
    pairs: tuple[Pair, ...]
    notes: tuple[str, ...] = ()
    waits_for: tuple[str, ...] = ()
    possibly_from: tuple[str, ...] = ()


@dataclass(frozen=True)
class DarkItem:
    """An item without power during the outage: from and to step number, minutes from the start where they can be
    said."""

    item: str
    name: str
    place: str
    first_step: int
    last_step: int | None
    from_min: float | None
    to_min: float | None
    matters: str = ""


@dataclass(frozen=True)
class Spare:
    """What can be done when a device does not close again: other ways to feed what is behind it.

    ``close``: names of devices to close for it; ``feeds``: items that get power; ``state``: pass, fail, unknown for
    whether the other way can carry it; ``says``: one sentence.
    """

    device: str
    name: str
    close: tuple[str, ...]
    feeds: tuple[str, ...]
    source: str
    state: str
    says: str


@dataclass(frozen=True)
class ReadingNote:
    """What is notable about a reading: unbalanced phases, a neutral that cannot be, far from the calculated load."""

    item: str
    name: str
    state: str
    says: str


@dataclass(frozen=True)
class Plan:
    """Everything about one outage.

    ``isolation``: the one in use (chosen by hand, else the best). ``steps``: from the first call to the last check.
    ``states``: state of every item in the present positions with the tests on record.
    ``beside``: what stays live in the same raceways, a sentence each.
    """

    answer: ZoneAnswer
    isolation: Isolation | None
    steps: tuple[Step, ...] = ()
    problems: tuple[OrderProblem, ...] = ()
    cards: tuple[TestCard, ...] = ()
    dark: tuple[DarkItem, ...] = ()
    spares: tuple[Spare, ...] = ()
    notes: tuple[ReadingNote, ...] = ()
    states: Mapping[str, str] = field(default_factory=dict)
    beside: tuple[str, ...] = ()
