"""Which readings of a feed after NAESB REQ.21 (ESPI) are the demand, and their figures as rows of a record."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from oneline.calc.intervals import DAY_S
from oneline.files.intervals.asking import Asker, Choice, Open, some
from oneline.files.intervals.espi import (
    ELECTRICITY,
    MAXIMUM,
    MINIMUM,
    NET,
    PHASES,
    REGISTERS,
    REVERSE,
    UOM,
    Block,
    Feed,
    LocalTime,
    ReadingType,
    read_feed,
)
from oneline.files.intervals.series import Rows

#: Which of several measures is taken: the fewer assumptions on the way to amperes, the better.
_PREFERRED = ("kVA", "kW", "A", "kWh", "kVAh")


@dataclass
class Channel:
    """All readings of one meter reading, with what they are."""

    point: str
    type: ReadingType
    readings: list[tuple[int, int, int, bool]]

    @property
    def measure(self) -> str:
        return UOM.get(self.type.uom, ("other", 1.0))[0] if self.type.uom is not None else ""


@dataclass
class Fed:
    """What a feed holds as rows, like a table's: see ``tabular.Tabled``."""

    rows: Rows | None = None
    by_phase: dict[str, list[float]] = field(default_factory=dict)
    exports: list[float] = field(default_factory=list)
    measure: str = ""
    step_s: int = 0
    register: bool | None = False
    flow: str = ""
    channels: int = 0


def read_espi(data: bytes, asker: Asker) -> Fed:
    """The rows of a feed. Raises ``CannotOpen``; what is asked stands in ``asker``."""
    feed = read_feed(data, asker)
    channels = [c for c in _channels(feed) if c.readings]
    if not channels:
        raise asker.refusal("It has no interval readings.", "Ask the utility for interval data of electricity use.")
    found = Fed(channels=len(channels))
    with contextlib.suppress(Open):
        _choose(found, channels, feed, asker)
    return found


def _channels(feed: Feed) -> Iterator[Channel]:
    """Blocks gathered by the meter reading they hang at, with its reading type; gas and water left out."""
    gathered: dict[str, Channel] = {}
    for block in feed.blocks:
        home, related = _home(block, feed.meter_readings)
        kinds = {kind for link, kind in feed.services.items() if home and (home + "/").startswith(link + "/")}
        if kinds and ELECTRICITY not in kinds:
            continue
        kind = next((t for t in feed.types if t.links & related), None)
        if kind is None:
            kind = feed.types[0] if len(feed.types) == 1 else ReadingType()
        point = home.partition("/MeterReading")[0]
        gathered.setdefault(home, Channel(point, kind, [])).readings.extend(block.readings)
    yield from gathered.values()


def _home(block: Block, meter_readings: Sequence[tuple[str, frozenset[str]]]) -> tuple[str, frozenset[str]]:
    """The meter reading whose link the block's own or upward link begins with, or that points to it."""
    best: tuple[str, frozenset[str]] = ("", frozenset())
    for own, related in meter_readings:
        near = any((link + "/").startswith(own + "/") for link in (*block.up, block.own)) if own else False
        if (near or related & block.up) and len(own) >= len(best[0]):
            best = (own, related)
    if not best[0] and len(meter_readings) == 1:
        best = meter_readings[0]
    return best if best[0] else (next(iter(sorted(block.up)), ""), frozenset())


def _choose(found: Fed, channels: list[Channel], feed: Feed, asker: Asker) -> None:
    points = list(dict.fromkeys(c.point for c in channels))
    if len(points) > 1:
        choices = tuple(Choice(str(n), f"usage point {n}: …{p[-40:]}") for n, p in enumerate(points, 1))
        wanted = points[int(asker.ask("meter", "The file holds several usage points. Which one is it?", choices)) - 1]
        channels = [c for c in channels if c.point == wanted]
    unknown = [c for c in channels if not c.measure]
    if unknown:
        words = "The file does not say the unit of its figures. Which is it?"
        energy = "energy of each interval"
        choices = (
            Choice("Wh", f"Wh, {energy}"),
            Choice("kWh", f"kWh, {energy}"),
            Choice("W", "W, average of each interval"),
        )
        answer = asker.ask("unit", words, choices)
        for c in unknown:
            c.type.uom, c.type.power = {"Wh": (72, 0), "kWh": (72, 3), "W": (38, 0)}[answer]
    demand = [c for c in channels if c.measure != "other" and c.type.qualifier != MINIMUM]
    forward = [c for c in demand if c.type.flow != REVERSE]
    back = [c for c in demand if c.type.flow == REVERSE]
    if not forward:
        raise asker.refusal("It has no readings of electricity taken from the utility.", "Ask for use, not generation.")
    measure = next(m for m in _PREFERRED if any(c.measure == m for c in forward))
    forward = [c for c in forward if c.measure == measure]
    net = [c for c in forward if c.type.flow == NET]
    forward = net or forward
    if len(forward) > 1 and not _phases(forward):
        forward = [_one_interval(forward, asker)]
    if forward[0].type.qualifier == MAXIMUM:
        asker.note("The readings are the highest values within each interval: a demand averaged over it is lower.")
    found.measure, found.flow = measure, "net" if net else "import"
    found.exports = [float(v) for c in back for _, _, v, _ in c.readings]
    _rows(found, forward, feed.local, asker)


def _phases(channels: Sequence[Channel]) -> bool:
    letters = [PHASES.get(c.type.phase or 0, "") for c in channels]
    return "A" in letters and len(set(letters)) == len(letters) and "" not in letters


def _one_interval(channels: list[Channel], asker: Asker) -> Channel:
    """One of several readings of the same thing: the one with the shortest interval, else asked."""
    lengths = [_length(c) for c in channels]
    shortest = [c for c, s in zip(channels, lengths, strict=True) if s == min(lengths)]
    if len(shortest) == 1:
        asker.note(f"Of several intervals the shortest was taken, {min(lengths) / 60:g} minutes.")
        return shortest[0]
    choices = tuple(
        Choice(
            str(n), f"reading {n}: {some(len(c.readings), 'value')}, highest {max(v for _, _, v, _ in c.readings):,}"
        )
        for n, c in enumerate(channels, 1)
    )
    return channels[int(asker.ask("column", "Which reading is the demand of what this item measures?", choices)) - 1]


def _length(channel: Channel) -> int:
    """Seconds of an interval: of most readings, else as the type says."""
    lengths = [d for _, d, _, _ in channel.readings[:2000] if d > 0]
    return max(set(lengths), key=lengths.count) if lengths else channel.type.interval_s or 0


def _rows(found: Fed, channels: Sequence[Channel], local: LocalTime | None, asker: Asker) -> None:
    step = _length(channels[0])
    if step >= DAY_S or step < 0:
        raise asker.refusal("Its readings are of a day or longer.", "Ask the utility for interval data.")
    found.step_s = step
    found.register = channels[0].type.accumulation in REGISTERS if found.measure.endswith("h") else False
    values: list[dict[int, tuple[float, bool]]] = []
    odd = 0
    for c in channels:
        factor = UOM[c.type.uom or 0][1]
        one: dict[int, tuple[float, bool]] = {}
        for start, seconds, value, measured in c.readings:
            if step and seconds and seconds != step:
                odd += 1
                continue
            # The power of ten is applied to the whole number first: 10**-3 times 3 would not be 3 / 1000.
            figure = value * 10**c.type.power if c.type.power >= 0 else value / 10**-c.type.power
            figure = figure * factor if factor == 1.0 else figure / round(1 / factor)
            if start not in one or figure > one[start][0]:
                one[start] = (figure, measured)
        values.append(one)
    if odd:
        asker.note(f"{some(odd, 'reading')} of another length than {step / 60:g} minutes left out.")
    starts = sorted(set(values[0]).intersection(*values[1:]))
    if len(starts) < 2:
        raise asker.refusal("It has fewer than two readings that belong together.")
    if local is None:
        asker.note("The file does not tell the local time; times of day are universal time.")
        local = LocalTime(0)
    total = [max(v[s][0] for v in values) if found.measure == "A" else sum(v[s][0] for v in values) for s in starts]
    taken = [all(v[s][1] for v in values) for s in starts]
    if not all(taken):
        asker.note(
            f"{some(len(taken) - sum(taken), 'value')} estimated by the utility: not recorded, but may be the peak."
        )
    if len(channels) > 1:
        found.by_phase = {
            PHASES[c.type.phase or 0]: [v[s][0] for s in starts] for c, v in zip(channels, values, strict=True)
        }
    found.rows = Rows(starts, [local.offset_at(s) for s in starts], total, taken)
