"""What is notable about clamp readings: phases apart, a neutral that cannot be, far from the calculated load.

Kirchhoff's current law alone bounds the neutral: no more than the phases together, no less than the largest phase less
the others. With one power factor on all phases, which is assumed, the phasor sum of the phases says what it should be.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import sqrt

from oneline import tables
from oneline.model import Item, Reading
from oneline.outage.clamped import latest
from oneline.outage.devices import Outage
from oneline.outage.results import ReadingNote
from oneline.outage.scene import Scene
from oneline.rules.common import amperes, number
from oneline.study import readings as study_readings
from oneline.study.context import Context
from oneline.study.phasors import phase_volts
from oneline.study.points import nodes_of


def notes_of(outage: Outage) -> tuple[ReadingNote, ...]:
    """Notes on the readings of everything the outage has to do with."""
    scene = outage.scene
    found: list[ReadingNote] = []
    for item in scene.ctx.drawing.items.values():
        if item.readings and _near(outage, scene, item):
            found += reading_notes(scene.ctx, item)
    return tuple(found)


def _near(outage: Outage, scene: Scene, item: Item) -> bool:
    return not outage.region.isdisjoint(scene.nodes_of(item.id)) or item.id in outage.isolation.items


def reading_notes(ctx: Context, item: Item) -> Iterator[ReadingNote]:
    """What is notable about the readings of an item."""
    name, reading = ctx.name(item.id), latest(item)
    nodes = nodes_of(ctx, item)
    if reading is None or nodes is None:
        return
    code = ctx.feeding.system[nodes[1]]
    for state, says in (*unbalance(name, reading), *neutral(name, reading, code)):
        yield ReadingNote(item.id, name, state, says)
    # What is read above the drawing or above a rating is a finding of the study, said in the same words.
    for verdict in study_readings.about(ctx, item):
        yield ReadingNote(item.id, name, verdict.state, str(verdict.message))
    yield from _below(ctx, item, name, reading, nodes[1])


def unbalance(name: str, reading: Reading) -> Iterator[tuple[str, str]]:
    """Phases far from their average."""
    read = {p: v for p, v in zip("ABC", (reading.a_a, reading.b_a, reading.c_a), strict=True) if v is not None}
    if len(read) < 2:
        return
    average = sum(read.values()) / len(read)
    phase = max(read, key=lambda p: read[p])
    small, most = tables.switching_practice("small_reading_a"), tables.switching_practice("unbalance_pct")
    if read[phase] < small or average <= 0:
        return
    above = 100 * (read[phase] / average - 1)
    if above >= most:
        yield (
            "advice",
            (
                f"{name}: phase {phase} carries {amperes(read[phase])}, {number(above, 0)} % above the average of "
                f"{amperes(average)} ({reading.when})."
            ),
        )


def neutral(name: str, reading: Reading, code: str | None) -> Iterator[tuple[str, str]]:
    """A measured neutral against what the phases allow (Kirchhoff's current law) and against their phasor sum."""
    values, measured = (reading.a_a, reading.b_a, reading.c_a), reading.n_a
    phases = _present(code)
    read = [v for p, v in zip("ABC", values, strict=True) if p in phases and v is not None]
    if measured is None or len(read) < len(phases) or max(read) < tables.switching_practice("small_reading_a"):
        return
    largest, total = max(read), sum(read)
    slack = largest * tables.switching_practice("neutral_wrong_pct") / 100
    if measured > total + slack:
        yield (
            "fail",
            (
                f"{name}: {amperes(measured)} on the neutral cannot come back from phases that carry {amperes(total)} "
                f"together ({reading.when}). Read it again; a shared neutral carries another circuit's current too."
            ),
        )
        return
    least = 2 * largest - total
    if measured < least - slack:
        yield (
            "fail",
            (
                f"{name}: with these phases the neutral carries at least {amperes(least)}, and {amperes(measured)} was read "
                f"({reading.when}). The rest returns another way: another neutral, a raceway, or it was misread."
            ),
        )
        return
    should = neutral_sum(code, values)
    if should is None:
        return
    apart = largest * tables.switching_practice("neutral_apart_pct") / 100
    if measured > should + apart:
        yield (
            "advice",
            (
                f"{name}: {amperes(measured)} on the neutral, and the phasor sum of the phases is {amperes(should)} with "
                f"one power factor assumed ({reading.when}). Harmonics or a shared neutral: clamp it before it is lifted."
            ),
        )


def neutral_sum(code: str | None, values: tuple[float | None, float | None, float | None]) -> float | None:
    """Neutral current in amperes as the phasor sum of phase currents in A, each at one assumed angle to its own voltage.

    ``None`` where the system is not known or has no neutral, and on a high-leg delta, whose three-phase load does not
    return by the neutral.
    """
    if code is None:
        return None
    system = tables.system(code)
    if not system.has_neutral or system.v_high_leg:
        return None
    total = 0j
    for volts, amps in zip(phase_volts(code), values, strict=True):
        if volts:
            if amps is None:
                return None
            total += amps * volts / abs(volts)
    return sqrt(total.real**2 + total.imag**2)


def _present(code: str | None) -> str:
    if code is None:
        return "ABC"
    return "".join(p for p, v in zip("ABC", phase_volts(code), strict=True) if v)


def _below(ctx: Context, item: Item, name: str, reading: Reading, node: int) -> Iterator[ReadingNote]:
    """A reading far below the calculated load: it was read at a quiet time."""
    if ctx.feeding.position[node] < 0:
        return
    share = tables.switching_practice("reading_below_load_pct") / 100
    values = dict(zip("ABC", (reading.a_a, reading.b_a, reading.c_a), strict=True))
    load = {p: v for p, v in ctx.demand.known_a(node).items() if values.get(p) is not None}
    if not load:
        return
    phase = max(load, key=lambda p: load[p])
    read = values[phase] or 0.0
    if load[phase] >= tables.switching_practice("small_reading_a") and read < share * load[phase]:
        says = (
            f"{name}: {amperes(read)} read on phase {phase} ({reading.when}), and the calculated load is "
            f"{amperes(load[phase])}: more may flow at another hour; clamp it again right before it is opened."
        )
        yield ReadingNote(item.id, name, "advice", says)
