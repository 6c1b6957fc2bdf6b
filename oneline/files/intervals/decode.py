"""Bytes of a table as text: UTF-8 with or without a mark, UTF-16, else the code page of western Windows."""

from __future__ import annotations

import codecs

from oneline.files.intervals.asking import refusal

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF32_LE, "utf-32"), (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"),
)  # fmt: skip
_LOOKED_AT = 4096
#: More unprintable characters than one in this many, and it is no table.
_ODD_SHARE = 100
#: First bytes of files that are often taken for tables, and what to do with them.
_OTHERS = (
    (b"PK\x03\x04", "It is a workbook or an archive.", "Save the table as CSV and import that."),
    (b"\xd0\xcf\x11\xe0", "It is an old workbook.", "Save the table as CSV and import that."),
    (b"%PDF", "It is a PDF.", "Ask for the data as CSV or XML."),
    (b"\x1f\x8b", "It is packed.", "Unpack it and import what is in it."),
)


def to_text(data: bytes, name: str) -> str:
    """The text of a table. Raises ``CannotOpen`` for what is no text."""
    if not data.strip():
        raise refusal(name, "It is empty.")
    for start, why, todo in _OTHERS:
        if data.startswith(start):
            raise refusal(name, why, todo)
    text = _decoded(data)
    head = text[:_LOOKED_AT]
    odd = sum(not (c.isprintable() or c in "\t\r\n\f\xa0\u202f") for c in head)
    if "\x00" in text or odd * _ODD_SHARE > len(head):
        raise refusal(name, "It is not a text.", "Import the recorder's data as CSV, or the utility's as CSV or XML.")
    return text


def _decoded(data: bytes) -> str:
    for mark, code in _MARKS:
        if data.startswith(mark):
            return data.decode(code, errors="replace").lstrip("\ufeff")
    head = data[:_LOOKED_AT]
    even, odd = head[::2].count(0), head[1::2].count(0)
    if max(even, odd) * 3 > len(head):  # every second byte is zero: plain letters in two bytes each
        return data.decode("utf-16-le" if odd > even else "utf-16-be", errors="replace")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")
