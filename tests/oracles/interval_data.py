"""Invented interval data for the tests: a load curve, and tables of it as recorders and portals write them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo

#: A value for each interval: whole hundredths, so that every sum can be made exactly by hand.
Values = dict[datetime, Fraction]


def curve(count: int, start: datetime = datetime(2025, 6, 1), step_min: int = 15, scale: int = 1) -> Values:
    """An invented building: a base, working hours, and a little unrest that repeats nowhere near a day."""
    found = {}
    for k in range(count):
        at = start + timedelta(minutes=step_min * k)
        work = 45 if at.weekday() < 5 and 8 <= at.hour < 18 else 0
        found[at] = Fraction(scale * (2000 + 100 * work + 37 * (k * k % 29) + 11 * (k % 13)), 100)
    return found


def table(
    values: Values, form: str | Callable[[datetime], str], parter: str = ",", head: str = "Time,kW", comma: bool = False
) -> str:  # fmt: skip
    """Rows of time and value below a head."""

    def row(at: datetime, value: Fraction) -> str:
        text = f"{float(value):.2f}"
        when = form(at) if callable(form) else at.strftime(form)
        return f"{when}{parter}{text.replace('.', ',') if comma else text}"

    return "\n".join([head, *(row(at, value) for at, value in values.items())]) + "\n"


def local(count: int, start_utc: datetime, zone: str, step_min: int = 15) -> list[datetime]:
    """Times of day on the wall of a zone, interval after interval of real time, as the tz data base has them."""
    first = start_utc.replace(tzinfo=UTC)
    return [(first + timedelta(minutes=step_min * k)).astimezone(ZoneInfo(zone)) for k in range(count)]


def peak_by_hand(values: Iterable[Fraction]) -> Fraction:
    return max(values)


ESPI = "http://naesb.org/espi"
ATOM = "http://www.w3.org/2005/Atom"


def espi(
    readings: Iterable[tuple[int, int]], *, uom: int = 72, power: int = 0, seconds: int = 900, flow: int = 1,
    local_time: str = "", extra: str = "", quality: dict[int, int] | None = None, accumulation: int = 4,
) -> str:  # fmt: skip
    """A feed with one meter reading, built after the public schema of NAESB REQ.21 (ESPI): entries joined by their links."""
    base = "https://data.example/espi/1_1/resource/Subscription/1/UsagePoint/1"
    return f"""<?xml version="1.0" encoding="UTF-8"?>
<feed xmlns="{ATOM}">
 <id>urn:uuid:1</id><title>Usage</title>
 <entry><link rel="self" href="{base}"/><link rel="related" href="{base}/MeterReading"/>
  <content><UsagePoint xmlns="{ESPI}"><ServiceCategory><kind>0</kind></ServiceCategory></UsagePoint></content></entry>
 {local_time}
 {meter_reading(readings, 1, base, uom, power, seconds, flow, quality or {}, accumulation)}
 {extra}
</feed>"""


def meter_reading(
    readings: Iterable[tuple[int, int]], number: int, base: str, uom: int, power: int, seconds: int, flow: int,
    quality: dict[int, int], accumulation: int = 4, phase: int = 0,
) -> str:  # fmt: skip
    """The entries of a meter reading, its type and one block."""
    own = f"{base}/MeterReading/{number}"
    kind = f"https://data.example/espi/1_1/resource/ReadingType/{number}"
    rows = "".join(
        f"<IntervalReading>{_quality(quality.get(start))}<timePeriod><duration>{seconds}</duration><start>{start}</start>"
        f"</timePeriod><value>{value}</value></IntervalReading>"
        for start, value in readings
    )
    phases = f"<phase>{phase}</phase>" if phase else ""
    return f"""
 <entry><link rel="self" href="{own}"/><link rel="up" href="{base}/MeterReading"/><link rel="related" href="{kind}"/>
  <link rel="related" href="{own}/IntervalBlock"/><content><MeterReading xmlns="{ESPI}"/></content></entry>
 <entry><link rel="self" href="{kind}"/><content><ReadingType xmlns="{ESPI}">
  <accumulationBehaviour>{accumulation}</accumulationBehaviour><commodity>1</commodity><flowDirection>{flow}</flowDirection>
  <intervalLength>{seconds}</intervalLength><kind>12</kind>{phases}<powerOfTenMultiplier>{power}</powerOfTenMultiplier>
  <uom>{uom}</uom></ReadingType></content></entry>
 <entry><link rel="self" href="{own}/IntervalBlock/1"/><link rel="up" href="{own}/IntervalBlock"/>
  <content><IntervalBlock xmlns="{ESPI}">{rows}</IntervalBlock></content></entry>"""


def _quality(code: int | None) -> str:
    return "" if code is None else f"<ReadingQuality><quality>{code}</quality></ReadingQuality>"


def local_time(offset: int, dst: int, start: str, end: str) -> str:
    return f"""<entry><link rel="self" href="https://data.example/LocalTimeParameters/1"/><content>
 <LocalTimeParameters xmlns="{ESPI}"><dstEndRule>{end}</dstEndRule><dstOffset>{dst}</dstOffset>
 <dstStartRule>{start}</dstStartRule><tzOffset>{offset}</tzOffset></LocalTimeParameters></content></entry>"""
