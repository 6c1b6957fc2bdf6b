"""``oneline fits``: the largest load that may be added at a point, and the limits in the order in which they are met."""

from __future__ import annotations

import argparse
import json
import sys
from typing import Any

from oneline.cli.main import GOOD, WRONG, say
from oneline.cli.opening import open_or_say
from oneline.files import CannotOpen
from oneline.model import Drawing
from oneline.model.cautions import CAUTIONS
from oneline.study.fits import Addition, FitLimit, Fits
from oneline.study.fits_words import fits_text


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


# ----------------------------------------------------------------------------------------------------------------- JSON
def fits_record(path: str, found: Fits, view: str, edition: int) -> dict[str, Any]:
    """What fits as JSON, units in the names."""
    sub = found.sub_panel
    return {
        "file": path, "item": found.item, "name": found.name, "view": view, "edition": edition, "system": found.system,
        "certain": found.certain, "needs": list(found.needs),
        "beyond": list(found.beyond), "why_not": found.why_not,
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
        "unlimited": addition.unlimited, "over": addition.over, "met": [_limit(limit) for limit in addition.met],
    }  # fmt: skip


def _limit(limit: FitLimit) -> dict[str, Any]:
    return {
        "item": limit.item, "name": limit.name, "what": limit.what, "rating": limit.rating, "load": limit.load,
        "unit": limit.unit, "remaining_a": round(limit.remaining_a, 3), "recommended": limit.recommended,
        "needs": list(limit.needs),
    }  # fmt: skip
