"""``oneline identify``: which nominal systems measured voltages fit, and what would tell them apart."""

from __future__ import annotations

import argparse
import json

from oneline.cli.main import FAILED, GOOD, WRONG, say
from oneline.rules.system_identity import PAIRS, Identity, volts_text
from oneline.rules.system_identity import identify as identified
from oneline.units import QuantityError, parse

_TROUBLE = {
    "open neutral": "Right between the phases and unequal to the neutral: the neutral may be open. Stop work there.",
    "phase grounded": "One phase reads nothing to ground: on an ungrounded system that phase is grounded.",
}


def identify(options: argparse.Namespace) -> int:
    """Exit 0 where at least one system fits and nothing speaks of trouble, 1 otherwise, 2 for a wrong call."""
    volts: dict[str, float | None] = {}
    for name in PAIRS:
        option = name.removesuffix("_v")
        typed = getattr(options, option)
        if typed is None:
            continue
        try:
            value = parse(typed, "voltage_v")
        except QuantityError as problem:
            say(f"--{option} {typed}: {problem}", what_to_do="Give volts, such as 208.")
            return WRONG
        if isinstance(value, int | float) and not isinstance(value, bool):
            volts[name] = float(value)
    if not volts:
        say("No voltage is given.", what_to_do="Give what was measured, such as --ab 240 --an 120 --bn 208.")
        return WRONG
    found = identified(volts)
    print(_json(volts, found) if options.json else _text(volts, found))
    return GOOD if found.fits and not found.trouble else FAILED


def _text(volts: dict[str, float | None], found: Identity) -> str:
    lines = [f"Measured: {volts_text(volts)}."]
    if not found.fits:
        lines.append("These voltages fit no nominal system. Measure again, live, with a meter proved before and after.")
    elif found.trouble != "open neutral":
        lines += ["They fit:", *(f"  {fit.words}" for fit in found.fits)]
    if found.trouble:
        lines.append(_TROUBLE[found.trouble])
    if found.settle:
        lines += ["What would tell them apart:", *(f"  {settle}" for settle in found.settle)]
    return "\n".join(lines)


def _json(volts: dict[str, float | None], found: Identity) -> str:
    record = {
        "measured_v": {name.removesuffix("_v"): v for name, v in volts.items()},
        "fits": [
            {"system": f.code, "high_leg": f.high_leg or None, "grounded_phase": f.grounded or None} for f in found.fits
        ],
        "settle": list(found.settle),
        "trouble": found.trouble or None,
    }
    return json.dumps(record, ensure_ascii=False, indent=1)
