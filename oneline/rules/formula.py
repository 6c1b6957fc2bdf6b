"""Worksheet formulas: arithmetic in the names of their inputs.

A formula is read once into small functions; nothing of it is ever run as a program.
"""

from __future__ import annotations

import ast
import math
import operator
from collections.abc import Callable, Mapping
from functools import lru_cache

_Part = Callable[[Mapping[str, float]], float]
_OPERATORS: dict[type[ast.AST], Callable[[float, float], float]] = {
    ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul, ast.Div: operator.truediv,
    ast.Pow: operator.pow,
}  # fmt: skip
_FUNCTIONS: dict[str, Callable[..., float]] = {"sqrt": math.sqrt, "min": min, "max": max, "abs": abs}


def evaluate(formula: str, inputs: Mapping[str, float]) -> float:
    """Value of a formula: numbers, names of inputs, ``+ - * / **``, brackets, sqrt, min, max, abs.

    Raises ``ValueError`` for anything else in it, ``KeyError`` for a name that is no input.
    """
    return float(_read(formula)(inputs))


@lru_cache(maxsize=512)
def _read(formula: str) -> _Part:
    try:
        tree = ast.parse(formula.strip(), mode="eval")
    except SyntaxError as problem:
        raise ValueError(f"{formula!r} is no formula") from problem
    return _part(tree.body, formula)


def _part(node: ast.expr, formula: str) -> _Part:
    if isinstance(node, ast.Constant) and isinstance(node.value, int | float) and not isinstance(node.value, bool):
        value = float(node.value)
        return lambda _inputs: value
    if isinstance(node, ast.Name):
        return operator.itemgetter(node.id)
    if isinstance(node, ast.BinOp) and type(node.op) in _OPERATORS:
        return _pair(_OPERATORS[type(node.op)], _part(node.left, formula), _part(node.right, formula))
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        part = _part(node.operand, formula)
        return lambda inputs: -part(inputs)
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in _FUNCTIONS:
        if node.keywords or not node.args or any(isinstance(a, ast.Starred) for a in node.args):
            raise ValueError(f"{ast.unparse(node)} in the formula {formula!r}")
        return _call(_FUNCTIONS[node.func.id], [_part(a, formula) for a in node.args])
    raise ValueError(f"{ast.unparse(node)} in the formula {formula!r}")


def _pair(apply: Callable[[float, float], float], left: _Part, right: _Part) -> _Part:
    return lambda inputs: apply(left(inputs), right(inputs))


def _call(function: Callable[..., float], parts: list[_Part]) -> _Part:
    return lambda inputs: function(*(part(inputs) for part in parts))
