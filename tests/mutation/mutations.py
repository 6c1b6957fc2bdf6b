"""Mutants of a module: mutmut's operators, and some of this project's own for limits.

mutmut itself leaves out functions with a decorator, which here are most of those that give a verdict (``lru_cache``),
and everything outside functions. So its operators are applied by a visitor that leaves out neither.
"""

from __future__ import annotations

import ast
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import libcst as cst
from libcst.metadata import MetadataWrapper, PositionProvider
from mutmut.mutation.file_mutation import IgnoredCode, MutationVisitor, OuterFunctionProvider, deep_replace
from mutmut.mutation.mutators import mutation_operators

#: Kinds whose survivors have to be killed or explained, in the order in which they are tried.
JUDGED = ("comparison", "limit", "min-max", "membership", "none", "logic", "number", "arithmetic", "constant")
#: Kinds of which a random sample is tried.
SAMPLED = ("branch", "flag", "flow", "argument", "assignment", "text")
#: Look-ups that give a figure of the code; each is made one percent larger and smaller where it is used.
FIGURES = frozenset(
    (
        "limit_value", "ampacity_a", "ambient_factor", "bundling_factor", "small_conductor_limit_a", "next_standard",
        "previous_standard", "working_depth_ft", "raceway_area_in2", "conductor_area_in2", "compact_area_in2",
        "fill_limit", "receptacle_demand_va", "school_demand_va", "restaurant_demand_va", "lighting_demand_va",
        "kitchen_demand_factor", "elevator_demand_factor", "apartment_demand_factor", "trade_inches",
    )
)  # fmt: skip
#: How a mutated module calls what scales a figure (see ``scaled``).
SCALED = "_mutation_scaled"
_COMPARISONS = (
    cst.LessThan, cst.LessThanEqual, cst.GreaterThan, cst.GreaterThanEqual, cst.Equal, cst.NotEqual,
)  # fmt: skip
_MEMBERSHIP = (cst.In, cst.NotIn)
_TEXTS = ("str", "str | None", "tuple[str, ...]", "list[str]")
_LINES = ("WorkLine", "tuple[WorkLine, ...]", "list[WorkLine]")
_EXTREMES = {"min": "max", "max": "min"}


def scaled(factor: float, value: Any) -> Any:
    """A figure times a factor, with its provenance; anything else as it is."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return value
    return value * factor


def _extreme(node: cst.Call) -> Iterator[cst.Call]:
    if isinstance(node.func, cst.Name) and node.func.value in _EXTREMES:
        yield node.with_changes(func=cst.Name(_EXTREMES[node.func.value]))


def _figure(node: cst.Call) -> Iterator[cst.Call]:
    name = node.func.attr.value if isinstance(node.func, cst.Attribute) else getattr(node.func, "value", "")
    if name in FIGURES:
        for factor in ("0.99", "1.01"):
            yield cst.Call(cst.Name(SCALED), [cst.Arg(cst.Float(factor)), cst.Arg(node)])


def _further_off(node: cst.BaseNumber) -> Iterator[cst.BaseNumber]:
    """mutmut adds one; a factor may also be too small."""
    if isinstance(node, cst.Integer | cst.Float) and node.evaluated_value > 0:
        less = node.evaluated_value - 1 if isinstance(node, cst.Integer) else node.evaluated_value / 2
        yield node.with_changes(value=repr(less))


_OPERATORS = (
    *mutation_operators,
    (cst.Call, _extreme),
    (cst.Call, _figure),
    (cst.BaseNumber, _further_off),
)


@dataclass(frozen=True)
class Mutant:
    """One change. ``first`` and ``last``: lines of the changed expression; ``where``: the function, "Class.method", the
    name of a module's constant or "Class.field". ``words``: it is in a function that makes nothing but sentences or
    worksheet lines."""

    file: str
    where: str
    kind: str
    number: int
    first: int
    last: int
    before: str
    after: str
    words: bool

    @property
    def id(self) -> str:
        return f"{self.file}:{self.where}:{self.kind}:{self.number}"


class Found:
    """All mutants of one file, and the source each one makes of the function or statement that it changes."""

    def __init__(self, root: Path, file: str) -> None:
        self.file = file
        self.module = cst.parse_module((root / file).read_text("utf-8"))
        wrapper = MetadataWrapper(self.module)
        visitor = _Visitor(_OPERATORS, IgnoredCode(set(), set(), set()))
        wrapper.visit(visitor)
        self.owners = dict(_owners(wrapper.module))
        #: Lines where the statements of each function start.
        self.statements = statement_lines(self.module.code)
        words = makers_of_words(self.module.code)
        self.mutants: list[Mutant] = []
        self._changes: dict[str, tuple[cst.CSTNode, cst.CSTNode, cst.CSTNode]] = {}
        counted: dict[str, int] = {}
        for change, (first, last), outer in visitor.kept:
            where = self.owners.get(outer)
            if where is None or not (kind := _kind(change.original_node, change.mutated_node, outer)):
                continue
            counted[kind] = counted.get(kind, 0) + 1
            texts = (self.module.code_for_node(node).strip() for node in (change.original_node, change.mutated_node))
            in_words = any(start <= first <= end for start, end in words)
            mutant = Mutant(file, where, kind, counted[kind], first, last, *texts, in_words)
            self.mutants.append(mutant)
            self._changes[mutant.id] = (outer, change.original_node, change.mutated_node)

    def source(self, mutant: Mutant) -> str:
        """The changed function (without its decorators) or statement."""
        outer, old, new = self._changes[mutant.id]
        changed = deep_replace(outer, old, new)
        if isinstance(changed, cst.FunctionDef):
            changed = changed.with_changes(decorators=[], leading_lines=[])
        assert isinstance(changed, cst.CSTNode)
        return self.module.code_for_node(changed)


def statement_lines(source: str) -> dict[str, list[int]]:
    tree = ast.parse(source)
    found: dict[str, list[int]] = {}
    for owner in (tree, *(n for n in tree.body if isinstance(n, ast.ClassDef))):
        for function in (n for n in owner.body if isinstance(n, ast.FunctionDef)):
            where = function.name if isinstance(owner, ast.Module) else f"{owner.name}.{function.name}"
            inner = (n for n in ast.walk(function) if isinstance(n, ast.stmt) and n is not function)
            found[where] = sorted({n.lineno for n in inner})
    return found


def makers_of_words(source: str) -> list[tuple[int, int]]:
    """First and last lines of functions, inner ones too, that return texts made there or lines of a worksheet."""
    found = []
    for function in (n for n in ast.walk(ast.parse(source)) if isinstance(n, ast.FunctionDef) and n.returns):
        returns = ast.unparse(function.returns) if function.returns else ""
        makes_text = any(isinstance(n, ast.JoinedStr) for n in ast.walk(function))
        if (returns in _TEXTS and makes_text) or returns in _LINES:
            found.append((function.lineno, function.end_lineno or function.lineno))
    return found


class _Visitor(MutationVisitor):
    """Keeps with every mutation its lines and the function, method or statement it is in."""

    def __init__(self, operators: Any, ignored: IgnoredCode) -> None:
        super().__init__(operators, ignored)
        self.kept: list[tuple[Any, tuple[int, int], cst.CSTNode]] = []
        self._statements: list[cst.CSTNode] = []

    def on_visit(self, node: cst.CSTNode) -> bool:
        if isinstance(node, cst.SimpleStatementLine):
            self._statements.append(node)
        return super().on_visit(node)

    def on_leave(self, original_node: cst.CSTNode) -> None:
        if isinstance(original_node, cst.SimpleStatementLine):
            self._statements.pop()
        super().on_leave(original_node)

    def _create_mutations(self, node: cst.CSTNode) -> None:
        before = len(self.mutations)
        super()._create_mutations(node)
        place = self.get_metadata(PositionProvider, node, None)
        outer: Any = self.get_metadata(OuterFunctionProvider, node, None)
        if not isinstance(outer, cst.FunctionDef):
            outer = self._statements[-1] if self._statements else None
        if place is not None and outer is not None:
            lines = (place.start.line, place.end.line)
            self.kept.extend((change, lines, outer) for change in self.mutations[before:])

    def _skip_node_and_children(self, node: cst.CSTNode) -> bool:
        if isinstance(node, cst.Call) and isinstance(node.func, cst.Name) and node.func.value == "isinstance":
            return True
        return isinstance(node, cst.Annotation | cst.Decorator | cst.Import | cst.ImportFrom)


def _owners(module: cst.Module) -> Iterator[tuple[cst.CSTNode, str]]:
    for statement in module.body:
        if isinstance(statement, cst.ClassDef):
            for part in statement.body.body:
                if name := _name(part):
                    yield part, f"{statement.name.value}.{name}"
        elif name := _name(statement):
            yield statement, name


def _name(statement: cst.CSTNode) -> str:
    if isinstance(statement, cst.FunctionDef):
        return statement.name.value
    if isinstance(statement, cst.SimpleStatementLine) and len(statement.body) == 1:
        only = statement.body[0]
        target = only.targets[0].target if isinstance(only, cst.Assign) else getattr(only, "target", None)
        if isinstance(target, cst.Name):
            return target.value
    return ""


def _kind(old: cst.CSTNode, new: cst.CSTNode, outer: cst.CSTNode) -> str:
    """Which kind a change is of; "" for what is not counted."""
    outside = not isinstance(outer, cst.FunctionDef)
    if isinstance(old, cst.BaseNumber):
        return "constant" if outside else "number"
    if isinstance(old, cst.ComparisonTarget):
        return "comparison"
    if isinstance(old, cst.Call) and isinstance(new, cst.Call) and isinstance(new.func, cst.Name):
        if new.func.value == SCALED:
            return "limit"
        if new.func.value in _EXTREMES and new.func.value != getattr(old.func, "value", ""):
            return "min-max"
    for types, kind in (
        (_MEMBERSHIP, "membership"), ((cst.Is, cst.IsNot), "none"), ((cst.BooleanOperation,), "logic"),
        ((cst.IfExp,), "branch"), ((cst.BinaryOperation, cst.AugAssign), "arithmetic"), ((cst.Name,), "flag"),
        ((cst.Break, cst.Continue), "flow"), ((cst.Call, cst.Lambda), "argument"),
        ((cst.Assign, cst.AnnAssign), "assignment"), ((cst.BaseString,), "text"),
    ):  # fmt: skip
        if isinstance(old, types):
            return "" if outside and kind not in ("arithmetic", "flag") else kind
    if isinstance(old, cst.UnaryOperation):
        return "logic" if isinstance(old.operator, cst.Not) else "arithmetic"
    return ""


def all_mutants(root: Path, files: Iterable[str]) -> dict[str, Found]:
    return {file: Found(root, file) for file in files}
