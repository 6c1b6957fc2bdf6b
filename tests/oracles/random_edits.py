"""Random edits of a drawing, of every field of every kind of item, and of the network."""

from __future__ import annotations

import random
from dataclasses import replace
from typing import Any

from oneline.model import Bus, Circuit, Connection, Disconnect, Drawing, End, Item, Project, SuspectedTie, edits, specs
from oneline.model.vocabulary import BASES, CIRCUIT_USES, LOAD_CLASSES, STATUSES

_NUMBERS = (0.5, 1.0, 2.0, 5.0, 10.0, 24.0, 60.0, 75.0, 100.0, 225.0, 400.0, 9000.0)


def random_edit(drawing: Drawing, rng: random.Random) -> Drawing:
    """A drawing with one thing changed; the same one where the change that was drawn is not to be had."""
    kind = rng.random()
    items = list(drawing.items.values())
    if not items:
        return drawing
    item = rng.choice(items)
    try:
        if kind < 0.80:
            return _field(drawing, item, rng)
        if kind < 0.88 and isinstance(item, Bus):
            return _circuit(drawing, item, rng)
        if kind < 0.91:
            return _basis(drawing, item, rng)
        if kind < 0.93:
            return replace(drawing, project=_project(drawing.project, rng))
        return _network(drawing, item, rng)
    except (ValueError, KeyError):
        return drawing


def _field(drawing: Drawing, item: Item, rng: random.Random) -> Drawing:
    names = [n for n in specs(type(item)) if n not in ("location", "notes")]
    name = rng.choice(names)
    return edits.change(drawing, item.id, **{name: _value(specs(type(item))[name], rng)})


def _value(spec: Any, rng: random.Random) -> Any:
    if rng.random() < 0.2:
        return None
    if spec.choices:
        return rng.choice([*spec.choices])
    if spec.quantity == "flag":
        return rng.random() < 0.5
    if spec.quantity == "count":
        return rng.randrange(1, 5)
    if spec.quantity in ("text", "date"):
        return rng.choice(("", "North", "Raceway 1", "Shed", "A", "B"))
    number = rng.choice(_NUMBERS)
    if spec.quantity == "temperature_c":
        return rng.choice((30.0, 60.0, 75.0, 90.0))
    return number


def _circuit(drawing: Drawing, bus: Bus, rng: random.Random) -> Drawing:
    rows = list(bus.circuits)
    if not rows or rng.random() < 0.1:
        used = {c.space for c in rows}
        space = next(s for s in range(1, 200) if s not in used)
        rows.append(
            Circuit(space, 1, 20.0, "Receptacles, shed", va=rng.choice((None, 360.0)), load_class="receptacles")
        )
    else:
        k = rng.randrange(len(rows))
        changes: list[dict[str, Any]] = [
            {"va": rng.choice((None, 0.0, 500.0, 12000.0))}, {"trip_a": rng.choice((None, 15.0, 20.0, 60.0))},
            {"continuous": rng.choice((None, True, False))}, {"load_class": rng.choice((None, *LOAD_CLASSES))},
            {"use": rng.choice(CIRCUIT_USES)}, {"status": rng.choice(STATUSES)}, {"poles": rng.choice((1, 2, 3))},
            {"description": rng.choice(("", "Lights, shed", "Spare?"))},
        ]  # fmt: skip
        rows[k] = replace(rows[k], **rng.choice(changes))
    return edits.change(drawing, bus.id, circuits=tuple(rows))


def _basis(drawing: Drawing, item: Item, rng: random.Random) -> Drawing:
    name = rng.choice(list(specs(type(item))))
    return drawing.with_items([replace(item, basis={**item.basis, name: rng.choice(BASES)})])


def _project(project: Project, rng: random.Random) -> Project:
    return replace(
        project, assumed_ambient_c=rng.choice((None, 30.0, 40.0)), edition=rng.choice((2017, 2020, 2023, 2026))
    )


def _network(drawing: Drawing, item: Item, rng: random.Random) -> Drawing:
    choice = rng.random()
    if choice < 0.3 and isinstance(item, Disconnect):
        return edits.change(drawing, item.id, closed=not item.closed)
    if choice < 0.4 and isinstance(item, Disconnect):
        return edits.change(drawing, item.id, normally_open=not item.normally_open)
    if choice < 0.55:
        return edits.remove(drawing, [item.id])
    ends = [End(i.id, t) for i in drawing.items.values() if not isinstance(i, Connection) for t in i.terminals]
    one, other = rng.choice(ends), rng.choice(ends)
    if one == other:
        return drawing
    made, drawing = drawing.fresh_id("tie" if choice > 0.95 else "joint")
    if choice > 0.95:
        return drawing.with_items([SuspectedTie(id=made, a=one, b=rng.choice((None, other)))])
    return edits.connect(drawing, one, other, kind=rng.choice(("joint", "run")))[0]
