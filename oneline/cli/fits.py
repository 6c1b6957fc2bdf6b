"""``oneline fits``: the largest load that may be added at a point, and the limits in the order in which they are met."""

from __future__ import annotations

import argparse
import json
import sys
import textwrap
from typing import Any

from oneline.cli.main import GOOD, WRONG, say
from oneline.cli.opening import open_or_say
from oneline.files import CannotOpen
from oneline.model import Drawing
from oneline.model.cautions import CAUTIONS
from oneline.rules.common import size_text
from oneline.study.fits import Addition, FitLimit, Fits

_VIEWS = {"existing": "as it is", "proposed": "with the new work"}
_WIDTH, _NAME = 110, 62


def fits(options: argparse.Namespace) -> int:
    """Say what fits at one item of a drawing."""
    from oneline.study.fits import find_fits
    from oneline.study.trials import Trials, finish

    opened = open_or_say(options.file)
    if isinstance(opened, CannotOpen):
        return WRONG
    item = item_of(opened.drawing, options.at)
    if item is None:
        many = (
            "More than one item is"
            if sum(i.name == options.at for i in opened.drawing.items.values()) > 1
            else "No item is"
        )
        say(f"{options.file}: {many} named {options.at}.", "", "Give the name or the id of one item.")
        return WRONG
    trials = Trials(opened.drawing, options.view, options.edition)
    found = finish(find_fits(trials, item, continuous=options.continuous))
    if options.json:
        json.dump(
            fits_record(options.file, found, options.view, trials.edition), sys.stdout, ensure_ascii=False, indent=1
        )
        print()
    else:
        print(fits_text(found, options.view, trials.edition))
    return WRONG if opened.problems else GOOD


def item_of(drawing: Drawing, wanted: str) -> str | None:
    """Id of the one item of a name or id; ``None`` where there is none or more."""
    if wanted in drawing:
        return wanted
    found = [i.id for i in drawing.items.values() if drawing.name_of(i.id) == wanted]
    return found[0] if len(found) == 1 else None


# ----------------------------------------------------------------------------------------------------------------- text
def fits_text(found: Fits, view: str, edition: int) -> str:
    """The report."""
    system = f" ({found.system})" if found.system else ""
    lines = [f"What fits at {found.name}{system}: {_VIEWS[view]}, {edition} edition", ""]
    if found.why_not or found.balanced is None:
        return "\n".join([*lines, found.why_not, "", *_cautions(found)])
    lines += _additions(found)
    lines += ["", *_sub_panel(found), "", *_limits(found.limits)]
    if found.needs:
        lines += ["Not known yet, so these are upper bounds:", *(f"  - {need}" for need in found.needs), ""]
    return "\n".join([*lines, *_cautions(found)])


def _additions(found: Fits) -> list[str]:
    assert found.balanced is not None
    at_most = "" if found.certain else "at most "
    lines = [f"On all phases together   {at_most}{_amperes(found.balanced)} on each, {found.balanced.kva:.1f} kVA"]
    for one in found.single:
        lines.append(f"On phase {one.phases} alone         {at_most}{_amperes(one)}, {one.kva:.1f} kVA")
    if found.balanced.met:
        met = "; ".join(f"{m.name} ({m.what})" for m in found.balanced.met)
        lines += textwrap.wrap(f"More on all phases meets: {met}.", _WIDTH)
    return lines


def _amperes(addition: Addition) -> str:
    return f"{int(addition.amperes * 10) / 10:g} A" + (" and more" if addition.unlimited else "")


def _sub_panel(found: Fits) -> list[str]:
    sub = found.sub_panel
    if sub is None:
        return textwrap.wrap(f"New sub-panel: {found.sub_panel_why}", _WIDTH)
    rating = f", interrupting rating at least {sub.interrupting_ka:g} kA" if sub.interrupting_ka else ""
    size, egc = size_text(sub.size, "copper"), size_text(sub.egc_size, "copper")
    text = (
        f"New sub-panel: a breaker of at most {sub.breaker_a:g} A, {sub.poles}-pole, may be loaded fully{rating}; for "
        f"example {size} with a {egc} grounding conductor, at terminals for 75 °C."
    )
    more = f"{sub.larger}." if sub.larger else ""
    return textwrap.wrap(f"{text} {more}", _WIDTH)


def _limits(limits: tuple[FitLimit, ...]) -> list[str]:
    if not limits:
        return ["No limit is known on the way.", ""]
    head = f"{'Limits in the order in which they are met':<{_NAME}} {'rating':>12} {'load on it':>12} {'left here':>12}"
    lines = [head, "-" * _WIDTH]
    for limit in limits:
        name = f"{limit.name}: {limit.what}" + (" (recommended)" if limit.recommended else "")
        name = name if len(name) <= _NAME else name[: _NAME - 1] + "…"
        left = f"{limit.remaining_a:,.0f} A" if abs(limit.remaining_a) >= 99.95 else f"{limit.remaining_a:.1f} A"
        lines.append(f"{name:<{_NAME}} {_number(limit.rating, limit):>12} {_number(limit.load, limit):>12} {left:>12}")
    return [*lines, ""]


def _number(value: float | None, limit: FitLimit) -> str:
    if value is None:
        return "—"
    return f"{value:,.0f} {limit.unit}" if abs(value) >= 99.95 else f"{value:.1f} {limit.unit}"


def _cautions(found: Fits) -> list[str]:
    lines = ["Cautions"]
    for text in (found.caution, *CAUTIONS):
        lines += textwrap.wrap(text, _WIDTH, initial_indent="  - ", subsequent_indent="    ")
    return lines


# ----------------------------------------------------------------------------------------------------------------- JSON
def fits_record(path: str, found: Fits, view: str, edition: int) -> dict[str, Any]:
    """What fits as JSON, units in the names."""
    sub = found.sub_panel
    return {
        "file": path, "item": found.item, "name": found.name, "view": view, "edition": edition, "system": found.system,
        "certain": found.certain, "needs": list(found.needs), "why_not": found.why_not,
        "balanced": None if found.balanced is None else _addition(found.balanced),
        "single": [_addition(a) for a in found.single],
        "limits": [_limit(limit) for limit in found.limits],
        "sub_panel": None if sub is None else {
            "breaker_a": sub.breaker_a, "poles": sub.poles, "size": sub.size, "egc_size": sub.egc_size,
            "interrupting_ka": sub.interrupting_ka, "larger": sub.larger,
        },
        "sub_panel_why": found.sub_panel_why, "cautions": [found.caution, *CAUTIONS],
    }  # fmt: skip


def _addition(addition: Addition) -> dict[str, Any]:
    return {
        "phases": addition.phases, "amperes": round(addition.amperes, 3), "kva": round(addition.kva, 4),
        "unlimited": addition.unlimited, "met": [_limit(limit) for limit in addition.met],
    }  # fmt: skip


def _limit(limit: FitLimit) -> dict[str, Any]:
    return {
        "item": limit.item, "name": limit.name, "what": limit.what, "rating": limit.rating, "load": limit.load,
        "unit": limit.unit, "remaining_a": round(limit.remaining_a, 3), "recommended": limit.recommended,
    }  # fmt: skip
