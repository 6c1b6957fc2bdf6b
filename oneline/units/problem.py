"""What the parser says when it cannot read an entry."""

from __future__ import annotations


class QuantityError(ValueError):
    """An entry that cannot be taken. ``what`` happened, ``why``, and what to ``do`` instead, one sentence each."""

    def __init__(self, what: str, why: str, do: str, *, outside: bool = False) -> None:
        super().__init__(f"{what} {why} {do}")
        self.what = what
        self.why = why
        self.do = do
        #: It is a number, but not one within the range: a field with a range of its own says so better.
        self.outside = outside
