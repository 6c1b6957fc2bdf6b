"""Usage data of a utility after the open standard NAESB REQ.21, Energy Services Provider Interface (ESPI): Atom with XML.

A feed holds entries: meter readings, their reading types (unit, power of ten, direction, phase, interval), blocks of
interval readings, and the local time. They belong together by their links. Read with defusedxml, which refuses entities
and document types; nothing outside the file is ever opened.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

from oneline.files.intervals.asking import Asker
from oneline.files.intervals.clock import HOUR_S

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

#: Codes of the standard. Units: (measure, factor to its unit).
UOM = {
    38: ("kW", 1e-3), 61: ("kVA", 1e-3), 71: ("kVAh", 1e-3), 72: ("kWh", 1e-3), 5: ("A", 1.0), 63: ("other", 1.0),
    73: ("other", 1.0), 29: ("other", 1.0),
}  # fmt: skip
FORWARD, NET, REVERSE = 1, 4, 19
PHASES = {128: "A", 129: "A", 64: "B", 65: "B", 66: "B", 32: "C", 33: "C", 40: "C"}
#: Accumulation: what is a running total, and what a maximum or minimum and no average.
REGISTERS = (1, 2, 3, 9)
MAXIMUM, MINIMUM = 8, 9
#: Qualities of a reading that was not measured: edited, two ways of estimating, questionable, projected.
NOT_MEASURED = (7, 8, 9, 10, 12)
ELECTRICITY = 0
MAX_READINGS = 2_000_000


@dataclass
class ReadingType:
    """What the figures of a meter reading are."""

    links: frozenset[str] = frozenset()
    uom: int | None = None
    power: int = 0
    flow: int | None = None
    phase: int | None = None
    accumulation: int | None = None
    qualifier: int | None = None
    interval_s: int | None = None


@dataclass
class Block:
    """Interval readings: where the block hangs, and (start, seconds, value, measured) of each."""

    up: frozenset[str]
    own: str = ""
    readings: list[tuple[int, int, int, bool]] = field(default_factory=list)


@dataclass
class Feed:
    """Everything of a file that matters. ``readings``: links of each meter reading: (self, those it points to);
    ``services``: kind of service by the usage point's own link."""

    types: list[ReadingType] = field(default_factory=list)
    blocks: list[Block] = field(default_factory=list)
    meter_readings: list[tuple[str, frozenset[str]]] = field(default_factory=list)
    services: dict[str, int] = field(default_factory=dict)
    local: LocalTime | None = None


@dataclass(frozen=True)
class LocalTime:
    """Local time parameters: hours from universal time, and when daylight saving begins and ends by rules in bits."""

    offset_s: int
    dst_s: int = 0
    start_rule: int = 0
    end_rule: int = 0

    def offset_at(self, utc_s: int) -> int:
        """Seconds by which local time is ahead of universal time."""
        if not self.dst_s or not self.start_rule or not self.end_rule:
            return self.offset_s
        year = datetime.fromtimestamp(utc_s + self.offset_s, UTC).year
        begin, end = rule_time(self.start_rule, year), rule_time(self.end_rule, year)
        if begin is None or end is None:
            return self.offset_s
        begin -= self.offset_s  # the rule is told on the clock in force before the change
        end -= self.offset_s + self.dst_s
        inside = begin <= utc_s < end if begin < end else not end <= utc_s < begin
        return self.offset_s + (self.dst_s if inside else 0)


def rule_time(rule: int, year: int) -> int | None:
    """Local time (as seconds) at which a rule for daylight saving falls in a year; ``None`` where it names no day.

    Bits of the standard: 0-11 seconds, 12-16 hour, 17-19 day of the week (Monday 1), 20-24 day of the month, 25-27
    operator (0 that day of the month, 1 the weekday on or after it, 2 to 6 first to fifth weekday, 7 the last), 28-31
    month.
    """
    seconds, hour, weekday = rule & 0xFFF, rule >> 12 & 0x1F, rule >> 17 & 7
    day, operator, month = rule >> 20 & 0x1F, rule >> 25 & 7, rule >> 28 & 0xF
    try:
        if operator == 0:
            found = date(year, month, day)
        elif operator == 1:
            found = _on_or_after(date(year, month, day), weekday)
        elif operator < 7:
            found = _on_or_after(date(year, month, 1), weekday) + timedelta(weeks=operator - 2)
        else:
            first_of_next = (date(year, month, 28) + timedelta(days=4)).replace(day=1)
            found = _on_or_after(first_of_next, weekday) - timedelta(weeks=1)
    except ValueError:
        return None
    midnight = datetime(found.year, found.month, found.day, tzinfo=UTC)
    return int(midnight.timestamp()) + hour * HOUR_S + seconds


def _on_or_after(day: date, weekday: int) -> date:
    return day + timedelta(days=(weekday - 1 - day.weekday()) % 7)


# -------------------------------------------------------------------------------------------------------------- reading
def looks_like_xml(data: bytes) -> bool:
    """Whether the bytes begin like XML, whatever stands in it."""
    head = data[:200].lstrip(b"\xef\xbb\xbf\xff\xfe\x00 \t\r\n").replace(b"\x00", b"")
    return head.startswith(b"<")


def read_feed(data: bytes, asker: Asker) -> Feed:
    """The entries of a file. Raises ``CannotOpen``."""
    from xml.etree.ElementTree import ParseError

    from defusedxml import DefusedXmlException
    from defusedxml.ElementTree import iterparse

    feed = Feed()
    blocks: list[Block] = []
    count = 0
    try:
        events = iterparse(io.BytesIO(data), events=("start", "end"), forbid_dtd=True)
        depth = 0
        for event, element in events:
            if event == "start":
                depth += 1
                if depth > 64:
                    raise asker.refusal("Its elements are nested too deeply.")
                continue
            depth -= 1
            name = _local(element)
            if name == "IntervalReading":
                reading = _reading(element)
                if reading is not None:
                    if not blocks:
                        blocks.append(Block(frozenset()))
                    blocks[-1].readings.append(reading)
                    count += 1
                element.clear()
                if count > MAX_READINGS:
                    raise asker.refusal(f"It has more than {MAX_READINGS:,} readings.", "Ask for fewer months.")
            elif name == "IntervalBlock":
                feed.blocks += blocks
                blocks = []
                element.clear()
            elif name == "entry":
                _entry(element, feed)
                element.clear()
    except ParseError as bad:
        raise asker.refusal(f"Its XML is damaged: {str(bad)[:120]}.", "Export or download it again.") from None
    except DefusedXmlException:
        raise asker.refusal(
            "It declares entities or a document type, which usage data never needs.", "Ask the utility for plain data."
        ) from None
    except (ValueError, LookupError) as bad:  # an encoding nobody knows
        raise asker.refusal(f"Its XML cannot be read: {str(bad)[:120]}.", "Export or download it again.") from None
    feed.blocks += blocks
    return feed


def _local(element: Element) -> str:
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""


def _whole(element: Element, path: str) -> int | None:
    """The whole number in a child, by local names parted with "/"; ``None`` where there is none."""
    found: Element | None = element
    for name in path.split("/"):
        found = next((c for c in found if _local(c) == name), None) if found is not None else None
    text = (found.text or "").strip() if found is not None else ""
    body = text.removeprefix("-")
    if len(body) > 18 or not (body.isascii() and body.isdigit()):
        return None
    return int(text)


def _reading(element: Element) -> tuple[int, int, int, bool] | None:
    start, value = _whole(element, "timePeriod/start"), _whole(element, "value")
    if start is None or value is None or not 0 <= start < 2**33:
        return None
    codes = [
        (c.text or "").strip() for q in element if _local(q) == "ReadingQuality" for c in q if _local(c) == "quality"
    ]
    measured = not any(c.isdecimal() and int(c) in NOT_MEASURED for c in codes if len(c) < 4)
    return start, _whole(element, "timePeriod/duration") or 0, value, measured


def _entry(entry: Element, feed: Feed) -> None:
    links = [(c.get("rel", ""), (c.get("href") or "").rstrip("/")) for c in entry if _local(c) == "link"]
    own = next((href for rel, href in links if rel == "self"), "")
    others = frozenset(href for rel, href in links if rel == "related")
    up = frozenset(href for rel, href in links if rel == "up")
    for content in (c for c in entry if _local(c) == "content"):
        for thing in content:
            name = _local(thing)
            if name == "IntervalBlock":
                # The readings themselves were taken when the block ended.
                fresh = [b for b in feed.blocks if not b.up and not b.own]
                for block in fresh:
                    block.up, block.own = up, own or "?"
            elif name == "ReadingType":
                feed.types.append(_type(thing, frozenset((own, *up)) - {""}))
            elif name == "MeterReading":
                feed.meter_readings.append((own, others))
            elif name == "UsagePoint":
                kind = _whole(thing, "ServiceCategory/kind")
                if own and kind is not None:
                    feed.services[own] = kind
            elif name == "LocalTimeParameters":
                feed.local = _local_time(thing)


def _type(element: Element, links: frozenset[str]) -> ReadingType:
    power = _whole(element, "powerOfTenMultiplier") or 0
    return ReadingType(
        links, _whole(element, "uom"), power if abs(power) <= 12 else 0, _whole(element, "flowDirection"),
        _whole(element, "phase"), _whole(element, "accumulationBehaviour"), _whole(element, "dataQualifier"),
        _whole(element, "intervalLength"),
    )  # fmt: skip


def _local_time(element: Element) -> LocalTime | None:
    def bits(name: str) -> int:
        text = next(((c.text or "").strip() for c in element if _local(c) == name), "")
        try:
            return int(text, 16) if 0 < len(text) <= 8 else 0
        except ValueError:
            return 0

    offset, dst = _whole(element, "tzOffset"), _whole(element, "dstOffset") or 0
    if offset is None or abs(offset) > 15 * HOUR_S or abs(dst) > 3 * HOUR_S:
        return None
    return LocalTime(offset, dst, bits("dstStartRule"), bits("dstEndRule"))
