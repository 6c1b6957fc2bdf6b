"""Edits of planned outages from the window: each is one named step that can be taken back."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtWidgets import QWidget

from oneline.desk.panes.changes import try_edit
from oneline.desk.panes.outagewords import now_words
from oneline.desk.panes.pane import Host, LivePane
from oneline.desk.panes.words import lower_first
from oneline.model import Drawing, LockRecord, VoltageTest, WorkZone, specs
from oneline.outage.results import Plan
from oneline.session import zones
from oneline.session.session import Session

EMPTY = "No outage is planned yet. Select what is to be worked on, then press New (Ctrl+U)."


class OutageEdits(LivePane):
    """What can be changed about the outage that is shown. ``zone_id``: its id; ``plan``: as computed last."""

    def __init__(self, session: Session, host: Host, parent: QWidget | None = None) -> None:
        super().__init__(session, host, parent)
        self.zone_id: str | None = None
        self.plan: Plan | None = None
        self._instrument = ""

    def _initials(self) -> str:
        """Initials that stand beside what is put on record, "" while there are none."""
        raise NotImplementedError

    def _edit(self, label: str, change: Callable[[Drawing], Drawing]) -> bool:
        refused = try_edit(self.session, label, change)
        if refused:
            self.host.say(refused)
        return not refused

    def _zone(self) -> WorkZone | None:
        if self.zone_id is None or all(z.id != self.zone_id for z in self.session.drawing.zones):
            self.host.say(EMPTY)
            return None
        return self.session.drawing.zone(self.zone_id)

    def add_selected(self) -> None:
        """Put the selected items into the work zone."""
        zone, chosen = self._zone(), self.session.selection
        if zone is not None and chosen:
            self._edit(f"Add to {zone.name or 'the work zone'}", lambda d: zones.add_items(d, zone.id, chosen))
        elif zone is not None:
            self.host.say("Select on the sheet what is to be worked on too.")

    def less_selected(self) -> None:
        """Take the selected items out of the work zone."""
        zone, chosen = self._zone(), self.session.selection
        if zone is not None and set(chosen) & set(zone.items):
            self._edit(f"Take out of {zone.name or 'the work zone'}", lambda d: zones.remove_items(d, zone.id, chosen))
        elif zone is not None:
            self.host.say("Select on the sheet what is to be taken out of the work zone.")

    def delete_zone(self) -> None:
        """Delete the outage with its records; undo brings it back."""
        zone = self._zone()
        if zone is not None:
            self._edit(f"Delete {zone.name or 'an outage'}", lambda d: d.without_zone(zone.id))

    def _change_field(self, name: str, value: Any) -> None:
        zone = self._zone()
        if zone is not None:
            label = f"Change {lower_first(specs(WorkZone)[name].label)} of the outage"
            self._edit(label, lambda d: zones.change_zone(d, zone.id, **{name: value}))

    def choose_isolation(self, items: tuple[str, ...]) -> None:
        """Use these isolation points, () for the best."""
        zone = self._zone()
        if zone is not None:
            label = "Choose isolation points" if items else "Use the best isolation points"
            self._edit(label, lambda d: zones.change_zone(d, zone.id, isolation=tuple(items)))

    def _isolate_at_selected(self) -> None:
        drawing = self.session.drawing
        chosen = tuple(i for i in self.session.selection if drawing.get(i).kind in ("disconnect", "transfer"))
        if chosen:
            self.choose_isolation(chosen)
        else:
            self.host.say("Select the devices to open on the sheet first.")

    def move_step(self, key: str, before: str | None) -> None:
        """Put a step before another one, or at the end."""
        from oneline.outage.plan import reorder

        zone = self._zone()
        if zone is not None and key != before:
            self._edit("Rearrange the switching order", lambda d: reorder(d, zone.id, key, before))

    def computed_order(self) -> None:
        """Back to the computed order."""
        zone = self._zone()
        if zone is not None:
            self._edit("Use the computed order", lambda d: zones.change_zone(d, zone.id, order=()))

    def hang_lock(self, item: str) -> None:
        """Put a lock on record."""
        zone = self._zone()
        initials = self._initials() if zone is not None else ""
        if zone is None or not initials or self.plan is None or self.plan.isolation is None:
            return
        number = next((p.lock for p in self.plan.isolation.held if p.item == item), "")
        lock = LockRecord(item=item, number=number, by=initials, when=now_words())
        name = self.session.drawing.name_of(item)
        self._edit(f"Hang lock {number} on {name}", lambda d: zones.hang_lock(d, zone.id, lock))

    def take_lock_off(self, item: str) -> None:
        """Take a lock off the record."""
        zone = self._zone()
        if zone is not None:
            name = self.session.drawing.name_of(item)
            self._edit(f"Take the lock off {name}", lambda d: zones.take_lock_off(d, zone.id, item))
            self.host.say(f"The lock is off {name}: what was verified behind it is verified no longer.")

    def store_test(self, test: VoltageTest) -> None:
        """Put a test on record, sealed with the drawing as it is now."""
        zone = self._zone()
        if zone is None:
            return
        self._instrument = test.instrument
        where = f"{self.session.drawing.name_of(test.item)}, {test.terminal}"
        if self._edit(f"Enter a test at {where}", lambda d: zones.add_test(d, zone.id, test)):
            plan = self.session.plan_of(zone.id)
            self.host.say(f"Test at {where} on record. {self._state_words(plan, test.item)}")

    def _state_words(self, plan: Plan, item: str) -> str:
        state = plan.states.get(item, "")
        return f"{self.session.drawing.name_of(item)}: {state}." if state else ""

    def _remove_test(self, test: VoltageTest) -> None:
        zone = self._zone()
        if zone is not None:
            where = f"{self.session.drawing.name_of(test.item)}, {test.terminal}"
            self._edit(f"Remove a test at {where}", lambda d: zones.remove_test(d, zone.id, test))
