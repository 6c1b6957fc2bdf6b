"""What fits at a point, as text: for the command line and the clipboard."""

from __future__ import annotations

import textwrap

from oneline.model.cautions import CAUTIONS
from oneline.rules.common import number, size_text
from oneline.study.fits import Addition, FitLimit, Fits
from oneline.tables import limit_value

_VIEWS = {"existing": "as it is", "proposed": "with the new work"}
_WIDTH, _NAME = 110, 62


def fits_text(found: Fits, view: str, edition: int) -> str:
    """The report."""
    system = f" ({found.system})" if found.system else ""
    lines = [f"What fits at {found.name}{system}: {_VIEWS[view]}, {edition} edition", ""]
    if found.why_not or found.balanced is None:
        return "\n".join([*lines, found.why_not, "", *_cautions(found)])
    lines += _additions(found)
    lines += ["", *textwrap.wrap(sub_panel_words(found), _WIDTH), "", *_limits(found.limits)]
    if found.needs:
        lines += ["Not known yet, so these are upper bounds:", *(f"  - {need}" for need in found.needs), ""]
    if found.beyond:
        lines += ["Perhaps more, once this is known:", *(f"  - {need}" for need in found.beyond), ""]
    return "\n".join([*lines, *_cautions(found)])


def _additions(found: Fits) -> list[str]:
    assert found.balanced is not None
    at_most = "" if found.certain else "at most "
    lines = [f"On all phases together   {at_most}{amperes_of(found.balanced)} on each, {found.balanced.kva:.1f} kVA"]
    for one in found.single:
        lines.append(f"On phase {one.phases} alone         {at_most}{amperes_of(one)}, {one.kva:.1f} kVA")
    if found.balanced.met:
        met = "; ".join(f"{m.name} ({m.what})" for m in found.balanced.met)
        lead = "Exceeded already" if found.balanced.over else "More on all phases is too much for"
        lines += textwrap.wrap(f"{lead}: {met}.", _WIDTH)
    return lines


def amperes_of(addition: Addition) -> str:
    """ "45.1 A", rounded down; "20000 A and more" where no limit was met."""
    return f"{int(addition.amperes * 10) / 10:g} A" + (" and more" if addition.unlimited else "")


def sub_panel_words(found: Fits) -> str:
    """ "New sub-panel: a breaker of at most 100 A, 3-pole, may be loaded fully, ...", or why there is none."""
    sub = found.sub_panel
    if sub is None:
        return f"New sub-panel: {found.sub_panel_why}"
    rating = f", interrupting rating at least {sub.interrupting_ka:g} kA" if sub.interrupting_ka else ""
    size, egc = size_text(sub.size, "copper"), size_text(sub.egc_size, "copper")
    terminals = number(limit_value("terminal_default_high_c"))
    most = "" if found.certain else "an upper bound, as not everything is known: "
    text = (
        f"New sub-panel: {most}a breaker of at most {sub.breaker_a:g} A, {sub.poles}-pole, may be loaded fully{rating}; for "
        f"example {size} with a {egc} grounding conductor, at terminals for {terminals} °C."
    )
    return f"{text} {sub.larger}." if sub.larger else text


def _limits(limits: tuple[FitLimit, ...]) -> list[str]:
    if not limits:
        return ["No limit is known on the way.", ""]
    head = f"{'Limits in the order in which they are met':<{_NAME}} {'rating':>12} {'load on it':>12} {'left here':>12}"
    lines = [head, "-" * _WIDTH]
    for limit in limits:
        name = limit_name(limit)
        name = name if len(name) <= _NAME else name[: _NAME - 1] + "…"
        rating, load = figure_of(limit.rating, limit), figure_of(limit.load, limit)
        lines.append(f"{name:<{_NAME}} {rating:>12} {load:>12} {left_of(limit):>12}")
    return [*lines, ""]


def limit_name(limit: FitLimit) -> str:
    """ "Feeder 1: trip", with what is special about it."""
    special = " (recommended)" if limit.recommended else " (not known beyond)" if limit.needs else ""
    return f"{limit.name}: {limit.what}{special}"


def figure_of(value: float | None, limit: FitLimit) -> str:
    """A rating or a load of a limit in its unit, a dash where it is not known."""
    if value is None:
        return "—"
    return f"{value:,.0f} {limit.unit}" if abs(value) >= 99.95 else f"{value:.1f} {limit.unit}"


def left_of(limit: FitLimit) -> str:
    """What is left at the point until a limit is met."""
    left = limit.remaining_a
    return f"{left:,.0f} A" if abs(left) >= 99.95 else f"{left:.1f} A"


def _cautions(found: Fits) -> list[str]:
    lines = ["Cautions"]
    for text in (found.caution, *CAUTIONS):
        lines += textwrap.wrap(text, _WIDTH, initial_indent="  - ", subsequent_indent="    ")
    return lines
