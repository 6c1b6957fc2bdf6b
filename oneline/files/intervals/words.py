"""What the name of a column says: its unit, phase and direction, and whether it is an average, a register or no demand."""

from __future__ import annotations

import re
from dataclasses import dataclass

#: Units of a demand or an energy, in small letters: (what is measured, factor to its unit).
UNITS: dict[str, tuple[str, float]] = {
    "w": ("kW", 1e-3), "kw": ("kW", 1.0), "mw": ("kW", 1e3), "va": ("kVA", 1e-3), "kva": ("kVA", 1.0), "mva": ("kVA", 1e3),
    "wh": ("kWh", 1e-3), "kwh": ("kWh", 1.0), "mwh": ("kWh", 1e3), "vah": ("kVAh", 1e-3), "kvah": ("kVAh", 1.0),
    "a": ("A", 1.0), "ka": ("A", 1e3), "amp": ("A", 1.0), "amps": ("A", 1.0), "ampere": ("A", 1.0), "amperes": ("A", 1.0),
    "kilowatt": ("kW", 1.0), "kilowatts": ("kW", 1.0), "watt": ("kW", 1e-3), "watts": ("kW", 1e-3),
}  # fmt: skip
#: How a unit is written where it is asked for and told.
SHOWN_UNITS = ("kW", "W", "kVA", "VA", "kWh", "Wh", "kVAh", "A")
_OTHER_UNITS = frozenset(
    [
        "var",
        "kvar",
        "mvar",
        "varh",
        "kvarh",
        "v",
        "kv",
        "volt",
        "volts",
        "voltage",
        "hz",
        "pf",
        "cos",
        "cosphi",
        "thd",
        "usd",
        "cost",
        "price",
        "amount",
        "charge",
        "temperature",
        "temp",
        "deg",
        "degf",
        "degc",
        "ccf",
        "therm",
        "therms",
        "gal",
        "factor",
        "frequency",
        "angle",
        "harmonic",
        "humidity",
        "flicker",
        "imbalance",
        "unbalance",
        "reactive",
        "row",
        "record",
        "index",
        "number",
        "no",
        "hour",
    ]
)
_EXPORT = frozenset(
    (
        "export",
        "exported",
        "generation",
        "generated",
        "received",
        "reverse",
        "returned",
        "solar",
        "pv",
        "feedin",
        "surplus",
    )
)
_IMPORT = frozenset(
    ("import", "imported", "delivered", "consumption", "consumed", "usage", "used", "forward", "purchased")
)
_NEUTRAL = frozenset(("n", "neutral", "in", "ineutral"))
_PHASES = {
    word: phase
    for phase, words in {
        "A": "a l1 ia i1 il1 an 1 p1 ph1 pha phasea phase1 a1 w1 ch1",
        "B": "b l2 ib i2 il2 bn 2 p2 ph2 phb phaseb phase2 a2 w2 ch2",
        "C": "c l3 ic i3 il3 cn 3 p3 ph3 phc phasec phase3 a3 w3 ch3",
    }.items()
    for word in words.split()
}
_BESIDE_A_PHASE = frozenset(
    [
        "phase",
        "ph",
        "line",
        "leg",
        "current",
        "i",
        "amps",
        "amp",
        "amperes",
        "ampere",
        "power",
        "real",
        "active",
        "apparent",
        "energy",
        "avg",
        "average",
        "mean",
        "max",
        "maximum",
        "min",
        "minimum",
        "load",
        "demand",
        "rms",
    ]
)
_CURRENT = frozenset(
    ("current", "i", "ia", "ib", "ic", "i1", "i2", "i3", "il1", "il2", "il3", "amps", "amp", "amperes", "ampere", "in")
)
_REGISTER = frozenset(("register", "cumulative", "accumulated", "counter", "odometer", "cum", "running"))
_STATES = frozenset(("quality", "status", "estimated", "estimate", "flag", "validity", "est", "state"))
_METERS = frozenset(
    (
        "meter",
        "esiid",
        "esi",
        "premise",
        "account",
        "channel",
        "device",
        "point",
        "circuit",
        "serial",
        "sensor",
        "logger",
        "mpan",
        "said",
    )
)
_BRACKETED = re.compile(r"[\[(]\s*([A-Za-z]{1,9})\s*[\])]|(?:^|[\s,/:])in\s+([A-Za-z]{1,9})$")


@dataclass(frozen=True)
class Column:
    """A column by its name. ``measure``: "kW", "kVA", "kWh", "kVAh", "A", "" for unknown, "other" for what is no demand;
    ``factor`` to that unit. ``phase``: "A", "B", "C", "N", "total" or "". ``stat``: "avg", "max", "min" or "".
    ``flow``: "import", "export", "net" or ""."""

    number: int
    name: str
    measure: str = ""
    factor: float = 1.0
    phase: str = ""
    stat: str = ""
    flow: str = ""
    register: bool = False


def tokens(name: str) -> list[str]:
    """The words of a name in small letters: "Avg_kVA Total" → avg, kva, total."""
    spaced = re.sub(r"(?<=[a-z]{2})(?=[A-Z][a-z])", " ", name)
    return [t for t in re.split(r"[^A-Za-z0-9]+", spaced.lower()) if t]


def describe(number: int, name: str) -> Column:
    """What the name of a column tells."""
    unit, words = _unit(name)
    measure, factor = UNITS.get(unit, ("", 1.0))
    rest = set(words)
    if unit in _OTHER_UNITS or (not measure and rest & _OTHER_UNITS):
        measure = "other"
    elif not measure and rest & _CURRENT:
        measure = "A"
    phase = "N" if measure == "A" and rest & _NEUTRAL else ""
    phase = phase or _phase(words, unit)
    if rest & {"total", "sum", "tot", "3ph", "3p", "threephase", "overall", "system"}:
        phase = "total"
    register = bool(rest & _REGISTER or {"meter", "reading"} <= rest)
    return Column(number, name, measure, factor, phase, _stat(rest), _flow(rest), register)


def _phase(words: list[str], unit: str) -> str:
    """The phase a name tells. A letter or figure alone tells it only beside words of the subject: "Panel A" is a panel."""
    for word in words:
        if word in _PHASES and (len(word) > 1 or {*words} - {word, unit} <= _BESIDE_A_PHASE):
            return _PHASES[word]
    return ""


def _unit(name: str) -> tuple[str, list[str]]:
    """The unit in a name, in small letters, and the other words."""
    bracketed = [
        b for pair in _BRACKETED.findall(name) for b in pair if b and (b.lower() in UNITS or b.lower() in _OTHER_UNITS)
    ]
    words = tokens(_BRACKETED.sub(" ", name) if bracketed else name)
    if bracketed:
        return bracketed[-1].lower(), words
    spelled = [w for w in words if (w in UNITS or w in _OTHER_UNITS) and w not in _PHASES and w != "no"]
    unit = next((w for w in spelled if w in UNITS), spelled[0] if spelled else "")
    return unit, [w for w in words if w != unit or w in _OTHER_UNITS | _CURRENT]


def _stat(words: set[str]) -> str:
    if words & {"avg", "average", "mean"}:
        return "avg"
    if words & {"max", "maximum", "peak", "highest"}:
        return "max"
    return "min" if words & {"min", "minimum", "lowest"} else ""


def _flow(words: set[str]) -> str:
    if "net" in words:
        return "net"
    return "export" if words & _EXPORT else "import" if words & _IMPORT else ""


def says_end(name: str) -> bool:
    """Whether a time column holds the end of each interval."""
    return bool(set(tokens(name)) & {"end", "ending", "ended", "stop", "to", "until", "finish"})


def says_start(name: str) -> bool:
    return bool(set(tokens(name)) & {"start", "begin", "beginning", "starting", "from"})


def says_state(name: str) -> bool:
    return bool(set(tokens(name)) & _STATES)


def says_meter(name: str) -> bool:
    return bool(set(tokens(name)) & _METERS)


def says_unit(name: str) -> bool:
    return bool(set(tokens(name)) & {"unit", "units", "uom"})


def unit_in_lines(lines: tuple[str, ...]) -> str:
    """The unit that a line above the table tells ("Units: kWh"), where just one is told; else ""."""
    found = set()
    for line in lines:
        if match := re.search(r"\bunits?\b(?:\s+of\s+measure)?\s*[:=,; ]\s*([A-Za-z]{1,9})\b", line, re.I):
            found.add(match[1].lower())
    found &= UNITS.keys()
    return found.pop() if len(found) == 1 else ""
