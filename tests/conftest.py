"""Every worksheet that a test makes is reckoned again, by arithmetic that shares nothing with the program's.

Formulas are read by a small parser of their own and worked out in decimal numbers of 40 digits; the line that gives a
finding's deciding figure must give that figure.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from decimal import Context, Decimal
from functools import lru_cache
from math import isclose
from pathlib import Path
from typing import Any, NamedTuple

import pytest

Part = Callable[[Mapping[str, Decimal]], Decimal]
DIGITS = Context(prec=40)
TOKEN = re.compile(r"\s*(?:(\d+(?:\.\d+)?)|([A-Za-z_]\w*)|(\*\*|[-+*/(),]))")
#: Tests outside these rooms make no worksheets of their own, or measure time.
ROOMS = ("rules", "study", "cli", "samples", "session")


# ------------------------------------------------------------------------------------------------------ arithmetic
class Parser:
    """sum = product (+- product)*; product = signed (*/ signed)*; signed = -signed | power; power = atom ** signed."""

    def __init__(self, formula: str) -> None:
        self.tokens: list[str] = []
        at = 0
        while at < len(formula.rstrip()):
            found = TOKEN.match(formula, at)
            assert found, f"{formula!r} at {at}"
            self.tokens.append(found[1] or found[2] or found[3])
            at = found.end()
        self.tokens.append("end")

    def take(self, *wanted: str) -> str:
        return self.tokens.pop(0) if self.tokens[0] in wanted else ""

    def sum(self) -> Part:
        left = self.product()
        while sign := self.take("+", "-"):
            left = self.pair(DIGITS.add if sign == "+" else DIGITS.subtract, left, self.product())
        return left

    def product(self) -> Part:
        left = self.signed()
        while sign := self.take("*", "/"):
            left = self.pair(DIGITS.multiply if sign == "*" else DIGITS.divide, left, self.signed())
        return left

    def signed(self) -> Part:
        if self.take("-"):
            part = self.signed()
            return lambda inputs: DIGITS.minus(part(inputs))
        return self.power()

    def power(self) -> Part:
        base = self.atom()
        return self.pair(DIGITS.power, base, self.signed()) if self.take("**") else base

    def atom(self) -> Part:
        if self.take("("):
            inner = self.sum()
            assert self.take(")")
            return inner
        name = self.tokens.pop(0)
        if name[0].isdigit():
            return lambda _inputs: Decimal(name)
        assert name != "end"
        assert name[0].isalpha() or name[0] == "_", name
        if not self.take("("):
            return lambda inputs: inputs[name]
        parts = [self.sum()]
        while self.take(","):
            parts.append(self.sum())
        assert self.take(")")
        function = {"sqrt": DIGITS.sqrt, "abs": DIGITS.abs, "min": smallest, "max": largest}[name]
        return lambda inputs: function(*(part(inputs) for part in parts))

    @staticmethod
    def pair(apply: Callable[[Decimal, Decimal], Decimal], left: Part, right: Part) -> Part:
        return lambda inputs: apply(left(inputs), right(inputs))


def smallest(*values: Decimal) -> Decimal:
    return sorted(values)[0]


def largest(*values: Decimal) -> Decimal:
    return sorted(values)[-1]


@lru_cache(maxsize=4096)
def parsed(formula: str) -> Part:
    parser = Parser(formula)
    found = parser.sum()
    assert parser.tokens == ["end"], f"{formula!r}: {parser.tokens} is left"
    return found


def again(formula: str, inputs: Mapping[str, float]) -> float:
    """A formula's value by these rules of arithmetic."""
    return float(parsed(formula)({name: Decimal(value) for name, value in inputs.items()}))


# -------------------------------------------------------------------------------------------------- deciding lines
class Deciding(NamedTuple):
    """Lines that give a figure of the finding itself: starts of the lines (one of them must give it), the finding's
    field ("either": a condition on one or the other decides), the factor from the line's unit to the finding's, and
    where other conditions may decide the finding's unit or relation for which it holds."""

    starts: tuple[str, ...]
    field: str
    factor: float = 1.0
    unit: str = ""
    relation: str = ""


#: The larger of the two methods, or what the correction makes of it.
AVAILABLE = ("Available fault current", "Corrected for X/R")
DECIDING: dict[str, tuple[Deciding, ...]] = {
    "VD": (Deciding(("Voltage drop",), "value"), Deciding(("Recommended",), "limit")),
    "OCP-4B": (Deciding(("Largest device for that ampacity",), "value"),),
    "LOAD-5": (Deciding(("Largest device for",), "limit"),),
    "FLT-1": (Deciding(("Interrupting rating",), "limit"), Deciding(AVAILABLE, "value")),
    "FLT-2": (Deciding(("Short-circuit current rating",), "limit"), Deciding(AVAILABLE, "value")),
    "AMP-1": (Deciding(("Ampacity",), "value"),),
    "TAP-SVC": (Deciding(("Ampacity", "Largest device"), "either"),),
    "XFMR-450": (Deciding(("Permitted, next standard rating included", "Largest primary device"), "either"),),
    "PNL-1": (Deciding(("Bus rating",), "limit"),),
    "LOAD-1": (Deciding(("Existing and new load as counted",), "value", 0.001, "kVA"),),
    "GND-1": (Deciding(("Least neutral",), "limit"),),
    "GND-4": (Deciding(("Least supply-side bonding jumper",), "limit"),),
    "RWY-1": (Deciding(("Fill",), "value"),),
    "RWY-4": (Deciding(("Fill",), "value"),),
    "SVC-7": (
        Deciding(("Rating",), "value", relation="at least"),
        Deciding(("Asked for from",), "limit", relation="at least"),
    ),
    "PV-1a": (Deciding(("Bus rating",), "limit"), Deciding(("Main and sources",), "value")),
    "PV-1b": (Deciding(("Main and sources",), "value"),),
    "PV-1c": (Deciding(("Bus rating",), "limit"), Deciding(("All load and supply breakers", "Main:"), "value")),
    "PV-2": (Deciding(("Source current as counted",), "limit"),),
}


#: Inputs of a formula that are figures of the finding itself.
INPUTS = {"CAP": ("rating - load", {"load": "value", "rating": "limit"})}


def same(a: float, b: float) -> bool:
    return isclose(a, b, rel_tol=1e-9, abs_tol=1e-9)


def check_line(line: Any) -> None:
    """Reckon a line again where it has a formula."""
    if line.formula:
        value = again(line.formula, line.inputs)
        assert isclose(value, line.value, rel_tol=1e-12, abs_tol=1e-12), (line, value)


def check_worksheet(found: Any) -> int:
    """Reckon a finding's worksheet again; returns how many lines gave its deciding figure."""
    for line in found.work:
        check_line(line)
    named = 0
    for d in DECIDING.get(found.rule, ()):
        lines = [w for w in found.work if w.what.startswith(d.starts) and isinstance(w.value, int | float)]
        wanted = (found.value, found.limit) if d.field == "either" else (getattr(found, d.field),)
        known = [w for w in wanted if w is not None]
        if not lines or not known or d.unit not in ("", found.unit) or d.relation not in ("", found.relation):
            continue
        assert any(same(line.value * d.factor, w) for line in lines for w in known), (found, lines, known)
        named += 1
    formula, fields = INPUTS.get(found.rule, ("", {}))
    for line in (w for w in found.work if formula and w.formula == formula):
        for name, field in fields.items():
            known = getattr(found, field)
            assert known is None or same(line.inputs[name], known), (found, line)
        named += 1
    return named


# ---------------------------------------------------------------------------------------------- what a finding says
def check_finding(found: Any) -> None:
    """What the words of ``Verdict`` mean, held against every finding: what passes needs no cure and no further fact, what
    is not known names what would decide it, and two numbers that are told lie as the state says."""
    if found.state == "pass":
        assert not found.remedy, found
        assert not found.needs, found
    if found.state == "unknown":
        assert found.needs, found
    if found.value is None or found.limit is None or found.state not in ("pass", "fail"):
        return
    off = found.value - found.limit if found.relation == "at most" else found.limit - found.value
    noise = 1e-6 * abs(found.limit)
    if found.relation in ("at most", "at least"):
        assert off <= noise if found.state == "pass" else off > -noise, found


@pytest.fixture
def reckoned_again() -> Callable[[str, Mapping[str, float]], float]:
    return again


@pytest.fixture
def worksheet_checked() -> Callable[[Any], int]:
    return check_worksheet


@pytest.fixture(autouse=True)
def every_worksheet_is_checked(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Findings are checked where they are made, whatever the test looks at."""
    room = Path(request.node.path).relative_to(Path(__file__).parent).parts[0]
    if room not in ROOMS:
        return
    from oneline.rules.verdict import Verdict, WorkLine

    made, written = Verdict.__post_init__, WorkLine.__init__

    def checked(self: Verdict) -> None:
        made(self)
        check_worksheet(self)
        check_finding(self)

    def reckoned(self: WorkLine, *args: Any, **values: Any) -> None:
        written(self, *args, **values)
        check_line(self)

    monkeypatch.setattr(Verdict, "__post_init__", checked)
    monkeypatch.setattr(WorkLine, "__init__", reckoned)
