"""Which pairs of conductors have to be tested at a point so that a test says anything (rules of switching, SW-6)."""

from __future__ import annotations

from itertools import combinations

from oneline.model import ConductorRun, Transformer
from oneline.study.context import Context
from oneline.tables import system

#: Fields of ``VoltageTest`` by the two conductors.
FIELDS = {
    frozenset("AB"): "ab_v", frozenset("BC"): "bc_v", frozenset("CA"): "ca_v", frozenset("AN"): "an_v",
    frozenset("BN"): "bn_v", frozenset("CN"): "cn_v", frozenset("AG"): "ag_v", frozenset("BG"): "bg_v",
    frozenset("CG"): "cg_v", frozenset("NG"): "ng_v",
}  # fmt: skip


def fields_needed(ctx: Context, node: int) -> tuple[str, ...]:
    """Fields of ``VoltageTest`` for every pair of the conductors at a node and ground, in the order of a test card.

    Of a point whose system nobody entered: all there are. A neutral is counted unless the system has none or a run on
    the way from its source is drawn without one.
    """
    conductors = conductors_at(ctx, node) + "G"
    wanted = {frozenset(pair) for pair in combinations(conductors, 2)}
    return tuple(name for pair, name in FIELDS.items() if pair in wanted)


def conductors_at(ctx: Context, node: int) -> str:
    """Letters of the conductors at a node, ground left out: "ABCN", "AB"; all four where the system is not known."""
    code = ctx.feeding.system[node]
    if code is None:
        return "ABCN"
    phases = ctx.feeding.phases[node] or "ABC"
    return phases + ("N" if system(code).has_neutral and _neutral_led(ctx, node) else "")


def _neutral_led(ctx: Context, node: int) -> bool:
    for branch, _ in ctx.feeding.path(node):
        if isinstance(branch.item, Transformer):
            break
        if isinstance(branch.item, ConductorRun) and branch.item.neutral_size == "none":
            return False
    return True
