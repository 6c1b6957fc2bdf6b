"""What the papers of an outage say besides the plan itself: where each source is cut, what stays live, whom to call."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from oneline.model import SOURCE_KINDS, Bus, Connection, Disconnect, Drawing, Joint, Load, TransferSwitch
from oneline.outage.plan_words import begin_of, list_words, live_side_words, point_place, used
from oneline.outage.results import DarkItem, Plan
from oneline.paper.facts import place_of

#: Names in one sentence.
_TOGETHER = 5
_MOST_CIRCUITS = 4


@dataclass(frozen=True)
class Outage:
    """A plan with its drawing, ready for the papers. ``view``: the drawing as the plan's view sees it."""

    drawing: Drawing
    plan: Plan
    view: Drawing
    paper: str
    printed_at: datetime
    edition: int
    file_name: str = ""
    symbols: str = "us"

    @property
    def title(self) -> str:
        zone = self.plan.answer.zone
        return zone.name or f"Work zone {zone.id}"

    @property
    def begins(self) -> str:
        """When it begins, as typed; "" when nobody said."""
        zone = self.plan.answer.zone
        found = begin_of(zone)
        return f"{found:%Y-%m-%d %H:%M}" if found else (zone.begins or "")

    def name(self, item: str) -> str:
        return self.drawing.name_of(item)

    def place(self, item: str) -> str:
        found = self.drawing.items.get(item)
        return "" if found is None else place_of(self.drawing, found)


def sources_and_cuts(outage: Outage) -> list[tuple[str, tuple[str, ...]]]:
    """(source, where it is cut, a sentence for each point) for every source of the view, those that are cut first."""
    plan = outage.plan
    isolation = used(plan)
    points = isolation.held if isolation is not None else ()
    blocked = {b.source for b in plan.answer.blocked}
    ids = [i.id for i in outage.view.items.values() if i.kind in SOURCE_KINDS]
    ids += [s for p in points for s in p.parts_from if s not in ids and s in outage.drawing]
    first: list[tuple[str, tuple[str, ...]]] = []
    rest: list[tuple[str, tuple[str, ...]]] = []
    for source in dict.fromkeys(ids):
        cuts = [p for p in points if source in p.parts_from]
        item = outage.drawing.items.get(source)
        name = outage.name(source) + ("" if item is not None and item.kind in SOURCE_KINDS else " (not traced)")
        if source in blocked:
            first.insert(0, (name, ("nothing on the premises stands against it: only the utility",)))
        elif cuts:
            first.append(
                (
                    name,
                    tuple(
                        f"cut at {p.name}{f' ({p.lock})' if p.lock else ''}, {point_place(outage.drawing, p)}"
                        for p in cuts
                    ),
                )
            )
        elif plan.answer.state == "isolated" and plan.isolation is not None:
            rest.append((name, ("not cut by a point of this plan: by the drawing it does not reach the zone",)))
        else:
            rest.append((name, ("where it is cut is not known",)))
    return first + rest


def stays_live(outage: Outage) -> list[str]:
    """What is not dead by the drawing with every point open: terminals of the points, equipment in the same places."""
    plan = outage.plan
    isolation = used(plan)
    if isolation is None:
        return ["Everything: no isolation is known."]
    out = [b.says for b in plan.answer.blocked]
    out += [f"{p.name}: {s}" for p in isolation.held for s in live_side_words(outage.drawing, p)]
    dead = {*isolation.dead}
    worked_on = [outage.view.items[i] for i in plan.answer.zone.items if i in outage.view]
    near = {p.location for p in isolation.held} | {item.location or "" for item in worked_on}
    points = {p.item for p in isolation.held}
    by_place: dict[str, list[str]] = {}
    for item in outage.view.items.values():
        place = item.location or ""
        if place and place in near and item.id not in dead | points and not isinstance(item, Connection):
            by_place.setdefault(place, []).append(outage.name(item.id))
    for place, names in by_place.items():
        for start in range(0, len(names), _TOGETHER):
            some = names[start : start + _TOGETHER]
            out.append(f"{place}, not dead by the drawing: {list_words(some)}")
    return out


def dark_for_people(outage: Outage) -> list[DarkItem]:
    """What occupants know of what goes dark: panels and loads, not the devices and conductors between; each name once."""
    shown: dict[tuple[str, str], DarkItem] = {}
    for dark in outage.plan.dark:
        item = outage.drawing.items.get(dark.item)
        if dark.matters or item is None or isinstance(item, Load) or (isinstance(item, Bus) and item.circuits):
            shown.setdefault((dark.name, dark.place), dark)
    if not shown:
        shown = {
            (d.name, d.place): d for d in outage.plan.dark
            if not isinstance(outage.drawing.items.get(d.item), Joint | Disconnect | TransferSwitch)
        }  # fmt: skip
    return sorted(shown.values(), key=lambda d: (d.from_min if d.from_min is not None else 1e9, d.place, d.name))


def known_as(outage: Outage, dark: DarkItem) -> str:
    """What people know a panel by: what its circuits are for; the item's name where nobody wrote that down."""
    item = outage.view.items.get(dark.item)
    if isinstance(item, Bus):
        said = list(dict.fromkeys(c.description for c in item.circuits if c.description and c.use == "load"))
        if said:
            more = f" and {len(said) - _MOST_CIRCUITS} more" if len(said) > _MOST_CIRCUITS else ""
            return "; ".join(said[:_MOST_CIRCUITS]) + more
    return dark.name


def first_restore_step(plan: Plan) -> int | None:
    """Number of the step at which one begins to restore."""
    return next((s.number for s in plan.steps if s.part in ("check", "close")), None)
