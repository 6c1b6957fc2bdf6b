"""Whatever rests on an assumption says so: every field of several drawings in turn is marked as assumed.

Reference: a finding that changes when the fact is not known, or is another one, rests on it (definition, no source).
Both samples and small drawings are swept; in the samples one item of each kind stands for the others.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pytest

from oneline.files import read_drawing
from oneline.model import Drawing, Item, specs
from oneline.rules.verdict import Verdict
from oneline.study import study

SAMPLES = Path(__file__).resolve().parents[2] / "samples"
WIRE = {
    "material": "copper", "insulation": "THWN-2", "wet": False, "ambient_c": 30, "current_carrying": 3, "sets": 1,
    "raceway": "EMT", "raceway_size": "2", "terminal_c": 75, "outdoors": False, "leaves_enclosure": True, "status": "new",
    "phases": "ABC", "neutral_size": "none", "egc_size": "4", "egc_material": "copper",
}  # fmt: skip
#: Not facts that a rule reads: names, places, and positions of the moment (feeding keeps to the normal one).
NOT_READ = {
    "name",
    "status",
    "location",
    "notes",
    "closed",
    "normally_open",
    "position",
    "number",
    "form",
    "load_class",
}
#: Rules of interconnected sources: their own tests follow them.
INTERCONNECTED = ("PV-1", "PV-2", "PV-3", "PV-4", "PV-5")


def board(sketch: Any, **main: Any) -> Any:
    s = sketch(2023)
    s.put("service", "Utility", system="480Y/277", fault_ka=20, fault_x_r=5)
    s.put(
        "disconnect", "Main",
        **{"trip_a": 600, "rating_a": 600, "adjustable": False, "service_disconnect": True, "service_rated": True,
           "neutral_bonded": True, "interrupting_ka": 65, "poles": 3, "terminal_c": 75, "voltage_rating": "480Y/277", **main},
    )  # fmt: skip
    s.put("bus", "Board", rating_a=600, form="switchboard", sccr_ka=65, terminal_c=75, maker_tap_provision=True)
    s.run(
        "Utility", "Main", "service run", **{**WIRE, "size": "350", "sets": 2, "neutral_size": "350", "length_ft": 20}
    )
    s.joint("Main", "Board")
    return s


def load(s: Any, above: str, **values: Any) -> None:
    s.put(
        "load", "Load",
        **{"va": 20_000, "load_class": "other", "continuous": False, "phases": "ABC", "power_factor": 1.0, **values},
    )  # fmt: skip
    s.joint(above, "Load")


def tap(sketch: Any, size: str, length_ft: float, end_a: float) -> Any:
    s = board(sketch)
    s.put("disconnect", "End", trip_a=end_a, rating_a=end_a, adjustable=False, poles=3, interrupting_ka=65)
    s.run("Board", "End", "tap", **{**WIRE, "size": size, "length_ft": length_ft})
    load(s, "End")
    return s


def transformer(sketch: Any, size: str, length_ft: float) -> Any:
    s = board(sketch)
    s.put("disconnect", "Primary", trip_a=125, rating_a=125, adjustable=False, poles=3, interrupting_ka=65)
    s.joint("Board", "Primary")
    s.put(
        "transformer", "T", kva=75, z_pct=4, x_r=2, primary_system="480Y/277", secondary_system="208Y/120",
        connection="delta-wye", neutral_bonded=True,
    )  # fmt: skip
    s.run("Primary", "T", "primary", **{**WIRE, "size": "1", "length_ft": 40})
    s.put("disconnect", "Secondary main", trip_a=225, rating_a=225, adjustable=False, poles=3, interrupting_ka=22)
    s.run("T", "Secondary main", "secondary", **{**WIRE, "size": size, "neutral_size": size, "length_ft": length_ft})
    s.put("bus", "Panel", form="panelboard", rating_a=225, sccr_ka=22, spaces=42, phases="ABC", neutral_bonded=False)
    s.joint("Secondary main", "Panel")
    load(s, "Panel")
    return s


def motor(sketch: Any, trip_a: float) -> Any:
    s = board(sketch)
    s.put("disconnect", "Breaker", trip_a=trip_a, rating_a=trip_a, adjustable=False, poles=3, interrupting_ka=65)
    s.joint("Board", "Breaker")
    s.put("load", "Motor", horsepower=25, load_class="motor", continuous=True, phases="ABC", power_factor=0.85)
    s.run("Breaker", "Motor", "circuit", **{**WIRE, "size": "6", "length_ft": 80})
    return s


def standby(sketch: Any) -> Any:
    s = board(sketch)
    s.put("generator", "Generator", system="480Y/277", kva=100, xd_pct=12, neutral_bonded=True)
    s.put("transfer", "Transfer switch", rating_a=200, withstand_ka=30, switched_neutral=False)
    s.put("disconnect", "Feeder", trip_a=200, rating_a=200, adjustable=False, poles=3, interrupting_ka=65)
    s.put("bus", "Panel", form="panelboard", rating_a=225, sccr_ka=22, spaces=42, phases="ABC", neutral_bonded=False)
    s.joint("Board", "Feeder")
    s.run("Feeder", "Transfer switch.normal", "normal", **{**WIRE, "size": "3/0", "length_ft": 40})
    s.run("Generator", "Transfer switch.alternate", "standby", **{**WIRE, "size": "3/0", "length_ft": 60})
    s.joint("Transfer switch.load", "Panel")
    load(s, "Panel")
    return s


def flexible(sketch: Any) -> Any:
    s = board(sketch)
    s.put("disconnect", "Breaker", trip_a=50, rating_a=50, adjustable=False, poles=3, interrupting_ka=65)
    s.joint("Board", "Breaker")
    more = {"size": "8", "length_ft": 5, "raceway": "LFMC", "raceway_size": "3/4", "egc_size": "raceway"}
    s.put("bus", "Panel", form="panelboard", rating_a=100, sccr_ka=22, spaces=12, phases="ABC")
    s.run("Breaker", "Panel", "whip", **{**WIRE, **more})
    load(s, "Panel")
    return s


DRAWINGS = {
    "tap that holds": lambda s: tap(s, "4/0", 20, 225), "tap too small": lambda s: tap(s, "2", 20, 100),
    "short tap": lambda s: tap(s, "2", 9, 100), "secondary": lambda s: transformer(s, "4/0", 9),
    "long secondary": lambda s: transformer(s, "4/0", 40), "motor": lambda s: motor(s, 90),
    "motor device too large": lambda s: motor(s, 150), "standby": standby, "flexible": flexible,
}  # fmt: skip


# ---------------------------------------------------------------------------------------------------- the sweep
Key = tuple[str, str, tuple[str, ...]]


def findings(drawing: Drawing) -> dict[Key, list[Verdict]]:
    found: dict[Key, list[Verdict]] = {}
    for v in study(drawing).verdicts:
        if v.rule.startswith(INTERCONNECTED) or v.alternative:
            continue
        found.setdefault((v.rule, v.subject, v.others if v.rule.startswith(("CAP", "FLT", "PNL")) else ()), []).append(
            v
        )
    return found


def answers(verdicts: list[Verdict]) -> set[tuple[str, Any, Any]]:
    def shown(figure: float | None) -> Any:
        return None if figure is None else float(f"{figure:.5g}")

    return {(v.state, shown(v.value), shown(v.limit)) for v in verdicts}


def facts(drawing: Drawing, each: bool) -> Iterator[tuple[Item, str]]:
    """Items and the fields of theirs that somebody entered; ``each``: of every item, not one of each kind and field."""
    seen: set[tuple[str, str, str]] = set()
    for item in drawing.items.values():
        known = {f.name for f in fields(item)} & set(specs(type(item))) - NOT_READ
        for name in sorted(known):
            key = (item.kind, name, str(getattr(item, "form", "")))
            if getattr(item, name) is None or item.basis.get(name) == "assumed" or (not each and key in seen):
                continue
            seen.add(key)
            yield item, name


def others(item: Item, name: str) -> list[Any]:
    """What else a field may be: unknown; a flag the other way; half a number."""
    value = getattr(item, name)
    if isinstance(value, bool):
        return [None, not value]
    return (
        [None, value / 2] if isinstance(value, float | int) and name.endswith(("_a", "_ft", "_ka", "kva")) else [None]
    )


def silent(drawing: Drawing, each: bool = True) -> list[str]:
    """Findings that rest on an assumed field without saying so."""
    base, missing = findings(drawing), []
    for item, name in facts(drawing, each):
        marked = replace(item, basis=MappingProxyType({**item.basis, name: "assumed"}))
        assumed = findings(drawing.with_items([marked]))
        for value in others(item, name):
            changed = findings(drawing.with_items([replace(item, **{name: value})]))
            for key, before in base.items():
                if answers(before) == answers(changed.get(key, [])):
                    continue
                if all(v.state in ("unknown", "not_applicable") for v in before):
                    continue
                said = assumed.get(key, [])
                if not any(v.basis == "assumed" or "(assumed:" in v.message for v in said):
                    missing.append(f"{key[0]} of {key[1]} rests on {item.id}.{name} ({value})")
    return missing


@pytest.mark.parametrize("name", DRAWINGS)
def test_small_drawings(name: str, sketch: Any) -> None:
    assert silent(DRAWINGS[name](sketch).drawing) == []


@pytest.mark.parametrize("name", ["bindery", "cannery"])
def test_samples(name: str) -> None:
    assert silent(read_drawing(SAMPLES / f"{name}.oneline").drawing, each=False) == []
