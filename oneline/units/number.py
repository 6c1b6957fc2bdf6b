"""Reads plain numbers, fractions and small sums: the part of an entry before its unit."""

from __future__ import annotations

import math
import re

from oneline.units.problem import QuantityError

#: Longest entry that is read at all.
MAX_LENGTH = 100

_DECIMAL = r"(?:\d{1,3}(?:,\d{3})+|\d+)(?:\.\d*)?|\.\d+"
_NUMBER = re.compile(rf"(?:{_DECIMAL})(?:e[+-]?\d{{1,3}})?", re.IGNORECASE)
_WHOLE_AND_FRACTION = re.compile(r"(?:(\d+)(?:\s+|\s*-\s*))?(\d+)\s*/\s*(\d+)")
_DENOMINATORS = (2, 3, 4, 6, 8, 16, 32, 64)
_COMMA_AS_POINT = re.compile(r"\d,(?!\d{3}(?!\d))|,\d*\.\d*,|\.\d+,")

#: Characters that mean the same as a plain one. Anything else outside ASCII is refused by name.
_SAME = {
    "′": "'", "’": "'", "‘": "'", "ʹ": "'", "´": "'", "″": '"', "”": '"', "“": '"', "ʺ": '"',
    "−": "-", "‐": "-", "‑": "-", "–": "-",
    "\u00a0": " ", "\u202f": " ", "\u2009": " ", "\t": " ", "×": "*", "·": "*", "÷": "/",
    "½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅓": " 1/3", "⅔": " 2/3", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8",
    "⅙": " 1/6", "º": "°", "˚": "°", "㎡": "mm2",
}  # fmt: skip


def plain(text: str) -> str:
    """The entry with typographic quotes, dashes, spaces and fractions replaced by plain ones.

    Raises ``QuantityError`` for an entry that is too long or holds characters that mean nothing in a number.
    """
    if len(text) > MAX_LENGTH:
        raise QuantityError(
            "The entry is too long.", f"It has {len(text)} characters.", "Type one number and its unit."
        )
    for fancy, simple in _SAME.items():
        text = text.replace(fancy, simple)
    strange = next((c for c in text if not (c.isascii() and c.isprintable()) and c != "°"), None)
    if strange is not None:
        name = strange if strange.isprintable() else f"character {ord(strange)}"
        raise QuantityError(
            f"Unable to read {shown(text)}.", f"“{name}” has no meaning in a number.", "Type plain digits and a unit."
        )
    return text.strip()


def shown(text: str) -> str:
    """An entry as it is quoted in a message: printable and not too long."""
    clean = "".join(c if c.isprintable() else "·" for c in text)
    return f"“{clean[:40]}…”" if len(clean) > 40 else f"“{clean}”"


def read_number(text: str, entry: str, fractions: bool = False) -> float:
    """A number such as "12", "1,200", "0.5", ".5" or "1e3", with ``fractions`` also "1/2" or "5 1/2".

    ``entry`` is quoted in messages. Fractions are for lengths and horsepower only: 120/240 V is two voltages.
    """
    text = text.strip()
    fraction = _WHOLE_AND_FRACTION.fullmatch(text)
    if fraction and not fractions:
        raise QuantityError(
            f"Unable to read {shown(entry)}.", "There is more than one number in it.", "Type one number and its unit."
        )
    if fraction:
        whole, over, under = (int(part) if part else 0 for part in fraction.groups())
        if under not in _DENOMINATORS or over >= under:
            raise QuantityError(
                f"Unable to read {shown(entry)}.",
                f"{over}/{under} is not a proper fraction.",
                "Type it as 5 1/2 or 5.5.",
            )
        return whole + over / under
    if not _NUMBER.fullmatch(text):
        raise _not_a_number(text, entry)
    value = float(text.replace(",", ""))
    if not math.isfinite(value):
        raise QuantityError(f"Unable to take {shown(entry)}.", "The number is too large.", "Check its digits.")
    return value


def _not_a_number(text: str, entry: str) -> QuantityError:
    what = f"Unable to read {shown(entry)}."
    if _COMMA_AS_POINT.search(text):
        return QuantityError(
            what, "A comma separates thousands here, a point the decimals.", "Type 1,200 for twelve hundred or 1.2."
        )
    if re.search(r"\d\s+\d", text):
        return QuantityError(what, "There is more than one number in it.", "Type one number and its unit.")
    if re.search(r"\d\s*-\s*\d", text):
        return QuantityError(what, "It looks like a range or a subtraction.", "Type one number, or =12-3 to compute.")
    if text == "":
        return QuantityError(what, "There is no number in it.", "Type a number before the unit.")
    return QuantityError(what, "It is not a number.", "Type digits, such as 12 or 12.5.")


_TOKEN = re.compile(rf"\s*(?:((?:{_DECIMAL}))|([-+*/()]))")


class _Sum:
    """Recursive descent over ``+ - * / ( )``; nothing else is reachable."""

    def __init__(self, text: str, entry: str) -> None:
        self.entry = entry
        self.tokens: list[str] = []
        at = 0
        text = text.rstrip()
        while at < len(text):
            match = _TOKEN.match(text, at)
            if not match:
                raise self.unreadable()
            self.tokens.append(match.group(1) or match.group(2))
            at = match.end()
        self.at = 0

    def unreadable(self) -> QuantityError:
        return QuantityError(
            f"Unable to compute {shown(self.entry)}.",
            "Only numbers and + - * / ( ) can be computed.",
            "Type it as =12*1.25.",
        )

    def peek(self) -> str:
        return self.tokens[self.at] if self.at < len(self.tokens) else ""

    def take(self) -> str:
        token = self.peek()
        self.at += 1
        return token

    def total(self) -> float:
        value = self.product()
        while self.peek() in ("+", "-"):
            value = value + self.product() if self.take() == "+" else value - self.product()
        return value

    def product(self) -> float:
        value = self.atom()
        while self.peek() in ("*", "/"):
            if self.take() == "*":
                value *= self.atom()
            else:
                divisor = self.atom()
                if divisor == 0:
                    raise QuantityError(
                        f"Unable to compute {shown(self.entry)}.", "It divides by zero.", "Check the divisor."
                    )
                value /= divisor
        return value

    def atom(self) -> float:
        token = self.take()
        if token == "-":
            return -self.atom()
        if token == "(":
            value = self.total()
            if self.take() != ")":
                raise self.unreadable()
            return value
        if token == "" or token in "+*/)":
            raise self.unreadable()
        return float(token.replace(",", ""))


def compute(text: str, entry: str) -> float:
    """The value of a sum such as "12*1.25" or "(3*20+15)/2". Raises ``QuantityError``."""
    work = _Sum(text, entry)
    value = work.total()
    if work.peek():
        raise work.unreadable()
    if not math.isfinite(value):
        raise QuantityError(f"Unable to take {shown(entry)}.", "The result is too large.", "Check its digits.")
    return value
