"""Texts as drawings may hold them: composed characters, nothing invisible that steers the display, a sensible length."""

from __future__ import annotations

import re
import unicodedata

#: Longest texts, in characters.
NAME_CHARS = 200
LINE_CHARS = 500
NOTE_CHARS = 10_000

#: Fields whose text may run over several lines.
LONG_TEXTS = ("notes", "note")

# C0 and C1 controls but for tab and newline, lone surrogates, marks that reorder the display, byte order mark.
_HIDDEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\u202a-\u202e\u2066-\u2069\ufeff\ufffe\uffff]")
_BREAKS = re.compile("\r\n?|[\u2028\u2029]")


def text_cap(field: str) -> int:
    """Most characters a text field can hold, by the field's name."""
    if field in LONG_TEXTS:
        return NOTE_CHARS
    return NAME_CHARS if field == "name" else LINE_CHARS


def clean_text(text: str, field: str) -> str:
    """The text without what a drawing may not hold; of any length. Cleaning twice changes nothing.

    Line breaks become plain newlines in notes and spaces elsewhere; hidden and display-steering characters go; the rest
    is composed (Unicode form C).
    """
    if text.isascii() and text.isprintable():
        return text
    text = _HIDDEN.sub("", _BREAKS.sub("\n", text))
    if field not in LONG_TEXTS:
        text = text.replace("\n", " ").replace("\t", " ")
    return text if text.isascii() else unicodedata.normalize("NFC", text)
