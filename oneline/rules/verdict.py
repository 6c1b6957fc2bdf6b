"""What every rule returns."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

STATES = ("fail", "unknown", "judge", "advice", "pass", "not_applicable")


@dataclass(frozen=True)
class WorkLine:
    """One line of a worksheet.

    ``formula`` is an arithmetic expression in the names of ``inputs`` (operators ``+ - * / **`` and ``sqrt min max abs``),
    or "" for a value looked up in a table. A test evaluates every formula with its inputs and compares with ``value``.
    ``source``: section or table, e.g. "Table 310.16".
    """

    what: str
    value: float | str | None
    unit: str = ""
    formula: str = ""
    inputs: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    source: str = ""


@dataclass(frozen=True)
class Verdict:
    """A finding.

    ``state``: "pass", "fail", "unknown" (not known yet), "judge" (for the authority or an engineer), "advice",
    "not_applicable". ``section``: citation in the edition used, e.g. "240.21(B)(1)"; ends with
    "(not confirmed for this edition)" where no source at hand gives the number for it. ``subject``: item id. ``name``: of
    the item on the drawing. ``value`` is tested against ``limit`` in ``unit``; ``relation`` says how: "at most" or "at
    least". ``basis``: weakest basis of the inputs. ``needs``: what is not known yet, each a phrase a foreman can take
    into the room. ``message``: one sentence to read aloud, at most a short one after it. ``remedy``: what would make it
    pass. ``others``: further item ids the finding is about.
    """

    rule: str
    section: str
    edition: int
    subject: str
    name: str
    state: str
    message: str
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    relation: str = ""
    basis: str = "entered"
    needs: tuple[str, ...] = ()
    remedy: str = ""
    field_checks: tuple[str, ...] = ()
    work: tuple[WorkLine, ...] = ()
    others: tuple[str, ...] = ()
    #: Tried beside others, where one that holds is enough: does not count as a failure of the drawing by itself.
    alternative: bool = False

    def __post_init__(self) -> None:
        if self.state not in STATES:
            raise ValueError(f"state {self.state!r} is not one of {STATES}")
