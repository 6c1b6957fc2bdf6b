"""Positions tried on the sheet that never change the drawing: switches moved "as if", and the rehearsal of an outage."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from oneline.model import Disconnect, Drawing, TransferSwitch
from oneline.network import Network
from oneline.network.contracted import LiveFinder
from oneline.network.live import LiveState
from oneline.outage.origins import Origin, origins
from oneline.outage.results import Plan, Step
from oneline.session.planning import Plans
from oneline.study.context import Context

Positions = Mapping[str, bool]
NO_POSITIONS: Positions = MappingProxyType({})
_NEXT = {"normal": "off", "off": "alternate", "alternate": "normal"}


@dataclass(frozen=True)
class Rehearsal:
    """Where a rehearsal stands. ``done``: number of steps done as if, 0 before the first; ``plan``: what is rehearsed."""

    zone: str
    plan: Plan
    done: int = 0

    @property
    def step(self) -> Step | None:
        """The step that was done last, ``None`` before the first."""
        return self.plan.steps[self.done - 1] if self.done else None

    @property
    def last(self) -> bool:
        return self.done >= len(self.plan.steps)

    @property
    def positions(self) -> Positions:
        """Positions that differ from the drawing after the steps done."""
        return self.step.positions if self.step is not None else NO_POSITIONS


class Trial:
    """As-if positions over one drawing, and the live state by them."""

    def __init__(self, plans: Plans) -> None:
        self._plans = plans
        self._by_hand: dict[str, bool] = {}
        self.rehearsal: Rehearsal | None = None
        #: Why a rehearsal was ended by itself, "" while none was.
        self.ended = ""
        self._drawing: Drawing | None = None
        self._finders: dict[str, LiveFinder] = {}
        self._origins: dict[str, Mapping[str, Origin]] = {}
        self._states: dict[tuple[str, frozenset[tuple[str, bool]]], LiveState] = {}

    # ------------------------------------------------------------------------------------------------------- network
    def finder(self, drawing: Drawing, view: str) -> LiveFinder:
        """Live states of a view of a drawing; the network is built once."""
        if drawing is not self._drawing:
            self._drawing, self._finders, self._states = drawing, {}, {}
            self._origins = {}
        if view not in self._finders:
            ctx = Context(drawing, view, drawing.project.edition)
            unknown = {key: origin for key, origin in origins(ctx).items() if origin.kind != "source"}
            self._origins[view] = unknown
            self._finders[view] = LiveFinder(ctx.net, {key: origin.nodes for key, origin in unknown.items()})
        return self._finders[view]

    def origins(self, drawing: Drawing, view: str) -> Mapping[str, Origin]:
        """Places at which energy may come in although no source is drawn there, by the name the live state gives them."""
        self.finder(drawing, view)
        return self._origins[view]

    def live(self, drawing: Drawing, view: str) -> LiveState:
        """What is live by the present positions and those tried over them."""
        finder = self.finder(drawing, view)
        positions = {k: v for k, v in self.positions.items() if k in finder.net.branches}
        key = (view, frozenset(positions.items()))
        if key not in self._states:
            if len(self._states) > 200:
                self._states.clear()
            self._states[key] = finder.state(positions)
        return self._states[key]

    # ----------------------------------------------------------------------------------------------------- positions
    @property
    def positions(self) -> Positions:
        """{branch key: closed} of everything that is tried; a device moved by hand counts more than the rehearsal."""
        rehearsed = self.rehearsal.positions if self.rehearsal is not None else NO_POSITIONS
        return MappingProxyType({**rehearsed, **self._by_hand})

    def put(self, positions: Positions, net: Network) -> bool:
        """Try exactly these positions; what stands so on the drawing anyway is left out. Returns whether it is a change.

        Raises ``KeyError`` for a key that is no branch of the network.
        """
        for key in positions:
            if key not in net.branches:
                raise KeyError(f"{key} is no branch of this network")
        found = {k: closed for k, closed in positions.items() if _matters(net, k, closed)}
        changed = found != self._by_hand or self.rehearsal is not None
        self._by_hand, self.rehearsal = found, None
        return changed

    def move(self, item_id: str, net: Network) -> bool:
        """Open a closed device as if, close an open one, move a transfer switch on. Returns whether it has positions."""
        item = net.drawing.items.get(item_id)
        wanted: dict[str, bool]
        if isinstance(item, Disconnect):
            wanted = {item_id: not self._closed(net, item_id)}
        elif isinstance(item, TransferSwitch):
            now = next((side for side in ("normal", "alternate") if self._closed(net, f"{item_id}/{side}")), "off")
            wanted = {f"{item_id}/{side}": _NEXT[now] == side for side in ("normal", "alternate")}
        else:
            return False
        rehearsed = self.rehearsal.positions if self.rehearsal is not None else NO_POSITIONS
        usual = all(rehearsed.get(key, net.branches[key].closed) == closed for key, closed in wanted.items())
        for key in wanted:
            self._by_hand.pop(key, None)
        if not usual:  # the two sides of a transfer switch make one position: they are held together
            self._by_hand.update(wanted)
        return True

    def _closed(self, net: Network, key: str) -> bool:
        return self.positions.get(key, net.branches[key].closed)

    def clear(self) -> bool:
        """Show the drawing as it stands. Returns whether anything was tried."""
        tried = bool(self._by_hand) or self.rehearsal is not None
        self._by_hand, self.rehearsal = {}, None
        return tried

    # ----------------------------------------------------------------------------------------------------- rehearsal
    def begin(self, drawing: Drawing, zone_id: str) -> Rehearsal:
        """Begin the rehearsal of an outage, before its first step."""
        self._by_hand, self.ended = {}, ""
        self.rehearsal = Rehearsal(zone_id, self._plans.of(drawing, zone_id))
        return self.rehearsal

    def go(self, done: int) -> bool:
        """Show how it stands after so many steps; devices moved by hand go back. Returns whether it is a change."""
        if self.rehearsal is None:
            return False
        done = min(max(done, 0), len(self.rehearsal.plan.steps))
        changed = done != self.rehearsal.done or bool(self._by_hand)
        self._by_hand = {}
        self.rehearsal = replace(self.rehearsal, done=done)
        return changed

    def follow(self, drawing: Drawing, view: str) -> bool:
        """Bring what is tried in line with an edited drawing; a rehearsal that is not possible any more ends, with the
        reason in ``ended``. Returns whether it ended."""
        if not self._by_hand and self.rehearsal is None:
            return False
        net = self.finder(drawing, view).net
        self._by_hand = {
            k: c for k, c in self._by_hand.items() if k in net.branches and (self.rehearsal or _matters(net, k, c))
        }
        rehearsal = self.rehearsal
        if rehearsal is None:
            return False
        if all(zone.id != rehearsal.zone for zone in drawing.zones):
            return self._end("The rehearsal ended: its work zone is gone.")
        plan = self._plans.of(drawing, rehearsal.zone)
        if not plan.steps:
            return self._end("The rehearsal ended: after this change there is no switching order for its work zone.")
        done = min(rehearsal.done, len(plan.steps))
        if rehearsal.step is not None:
            key = rehearsal.step.key
            done = next((n for n, step in enumerate(plan.steps, 1) if step.key == key), done)
        self.rehearsal = replace(rehearsal, plan=plan, done=done)
        return False

    def _end(self, why: str) -> bool:
        self._by_hand, self.rehearsal, self.ended = {}, None, why
        return True


def _matters(net: Network, key: str, closed: bool) -> bool:
    """Whether a position differs from the drawing. A suspected tie, and a transfer switch that may move by itself, count as
    closed and open at once, so that every position given to them does."""
    branch = net.branches[key]
    return closed != branch.closed or closed != branch.possibly_closed or isinstance(branch.item, TransferSwitch)
