"""Overcurrent protection of the transformers on a drawing."""

from __future__ import annotations

from collections.abc import Iterator

from oneline import tables
from oneline.model import Item, Transformer, basis_of
from oneline.rules.common import Fact, Subject
from oneline.rules.tap_conditions import times
from oneline.rules.transformers import TransformerFacts, transformer_protection
from oneline.rules.verdict import Verdict
from oneline.study.context import Context
from oneline.study.ends import device_kind, device_rating, ends_from, subject_of
from oneline.study.subject import for_all
from oneline.study.supply import ratio_of, system_volts


def transformer_facts(ctx: Context, transformer: Transformer) -> TransformerFacts:
    """What 450.3(B) asks about a transformer: its windings, the device ahead, the devices behind."""
    subject = subject_of(ctx, transformer)
    line, load = ctx.feeding.line_node(transformer.id), ctx.feeding.load_node(transformer.id)
    if line is None or load is None:
        return TransformerFacts(subject, ctx.edition, transformer.kva, None, None, None, None, Fact(None))
    protection = ctx.protection_of(line)
    primary, kind, item = Fact(None), "breaker", None
    if protection.device is not None:
        item = subject_of(ctx, protection.device)
        kind = device_kind(protection.device)
        primary = device_rating(ctx, protection.device)
        if protection.transformers:
            primary = times(primary, ratio_of(ctx, protection.transformers))
    code = ctx.feeding.system[line] or transformer.primary_system
    phases = tables.system(code).phases if code else None
    if transformer.connection == "single-phase":
        phases = 1
    volts = system_volts(ctx, line)
    if volts.value is None and code:
        volts = Fact(tables.system(code).v_ll)
    ends = ends_from(ctx, load, Fact(0.0))
    secondaries: tuple[tuple[Subject, Fact], ...] = tuple((e.item, e.rating) for e in ends.ends if e.kind == "device")
    complete = bool(ends.ends) and not ends.scheduled
    return TransformerFacts(
        subject, ctx.edition, transformer.kva, phases, volts.value, system_volts(ctx, load).value, item, primary, kind,
        secondaries, complete, basis_of(transformer, "kva"),
    )  # fmt: skip


def about(ctx: Context, transformer: Item) -> Iterator[Verdict]:
    """XFMR-450 of every fed transformer."""
    if isinstance(transformer, Transformer) and ctx.feeding.line_node(transformer.id) is not None:
        yield transformer_protection(transformer_facts(ctx, transformer))


#: Everything this subject finds on a drawing.
verdicts = for_all(about, of=(Transformer,))
