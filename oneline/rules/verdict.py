"""What every rule returns."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Generic, TypeVar, overload

from oneline.model.quick import quick

T = TypeVar("T")

STATES = ("fail", "unknown", "judge", "advice", "pass", "not_applicable")


@quick
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


class Later(Generic[T]):
    """A field that may be given as a function without arguments: it is called once, when somebody looks.

    States decide what is shown first; sentences and worksheets of thousands of findings nobody reads cost nothing so.
    The function may only use what cannot change.
    """

    def __init__(self, *default: T) -> None:
        self._default = default

    def __set_name__(self, owner: type, name: str) -> None:
        self._name, self._slot = name, f"_{name}"

    @overload
    def __get__(self, instance: None, owner: type) -> T: ...

    @overload
    def __get__(self, instance: object, owner: type) -> T: ...

    def __get__(self, instance: object | None, owner: type) -> T:
        if instance is None:
            if not self._default:
                raise AttributeError(self._name)
            return self._default[0]
        held = instance.__dict__[self._slot]
        if callable(held):
            held = instance.__dict__[self._slot] = held()
        return held

    def __set__(self, instance: object, value: T | Callable[[], T]) -> None:
        instance.__dict__[self._slot] = value


@quick
@dataclass(frozen=True)
class Verdict:
    """A finding.

    ``state``: "pass", "fail", "unknown" (not known yet), "judge" (for the authority or an engineer), "advice",
    "not_applicable". ``section``: citation in the edition used, e.g. "240.21(B)(1)"; ends with
    "(not confirmed for this edition)" where no source at hand gives the number for it. ``subject``: item id. ``name``: of
    the item on the drawing. ``value`` is tested against ``limit`` in ``unit``; ``relation`` says how: "at most" or "at
    least". ``basis``: weakest basis of the inputs. ``needs``: what is not known yet, each a phrase a foreman can take
    into the room. ``message``: one sentence to read aloud, at most a short one after it. ``remedy``: what would make it
    pass. ``others``: further item ids the finding is about. ``message``, ``needs``, ``remedy`` and
    ``work`` may be given as functions.
    """

    rule: str
    section: str
    edition: int
    subject: str
    name: str
    state: str
    message: Later[str] = Later()
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    relation: str = ""
    basis: str = "entered"
    needs: Later[tuple[str, ...]] = Later(())
    remedy: Later[str] = Later("")
    field_checks: tuple[str, ...] = ()
    work: Later[tuple[WorkLine, ...]] = Later(())
    others: tuple[str, ...] = ()
    #: Tried beside others, where one that holds is enough: does not count as a failure of the drawing by itself.
    alternative: bool = False
    #: What of the item is limited, where one rule tests several things of it: "fuse", "switch rating".
    what: str = ""

    def __post_init__(self) -> None:
        if self.state not in STATES:
            raise ValueError(f"state {self.state!r} is not one of {STATES}")

    def but(self, **changes: Any) -> Verdict:
        """The same finding with other fields; what nobody looked at yet stays unlooked at."""
        new = object.__new__(Verdict)
        new.__dict__.update(self.__dict__)
        for name, value in changes.items():
            new.__dict__[_HELD.get(name, name)] = value
        return new


#: Where the fields that may be given as functions are held.
_HELD = {name: f"_{name}" for name, value in vars(Verdict).items() if isinstance(value, Later)}
