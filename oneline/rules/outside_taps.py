"""Outside taps and outside secondary conductors of unlimited length, 240.21(B)(5) and (C)(4): where they run, and where the
disconnect at their end stands."""

from __future__ import annotations

from oneline.rules.common import Condition, feet_inches
from oneline.rules.tap_conditions import WHERE_IT_RUNS, TapFacts

#: As in the drawing (``vocabulary.STANDS``).
_OUTDOORS, _NEAREST, _ELSEWHERE = "outdoors", "inside nearest the entrance", "inside elsewhere"


def outdoor_condition(facts: TapFacts) -> Condition:
    """Outdoors except at its end."""
    must = "run outdoors except at its end"
    if facts.outdoors is None:
        need = f"whether {facts.name} is outdoors except at its end, and any indoor part in feet"
        return Condition("unknown", "where it runs is not known yet", needs=(need,), must=must, open=WHERE_IT_RUNS)
    if not facts.outdoors:
        return Condition("fail", "it runs indoors, and the rule is for outdoors", cure="run it outdoors", must=must)
    return Condition("pass", "it is outdoors except at its end", must=must)


def place_conditions(facts: TapFacts) -> list[Condition]:
    """The disconnect at the end: in one with the overcurrent device, outside or inside nearest the point of entrance,
    readily accessible; and no indoor part but there. Nothing while another condition says that there is no device."""
    if len(facts.devices) != 1 or facts.scheduled or facts.outdoors is False:
        return []
    found = [_stands(facts), _indoor_part(facts), _accessible(facts), *_integral(facts)]
    # While nobody knows where it runs, only what is wrong either way counts.
    return found if facts.outdoors else [c for c in found if c.state == "fail"]


def _stands(facts: TapFacts) -> Condition:
    end = facts.devices[0]
    name = end.item.name
    must = "end at a disconnect outdoors, or inside nearest its point of entrance"
    if end.stands is None:
        need = f"where {name} stands: outdoors, inside nearest the point of entrance, or elsewhere"
        text = f"where {name} stands is not known yet"
        return Condition("unknown", text, needs=(need,), must=must, open=(f"where {name} stands",))
    if end.stands == _ELSEWHERE:
        part = f", with {feet_inches(facts.indoor.value)} of it indoors" if facts.indoor.value else ""
        text = f"it ends at {name}, inside but not nearest the point of entrance{part}"
        return Condition("fail", text, cure="put the disconnect at the point of entrance", must=must)
    where = "outdoors" if end.stands == _OUTDOORS else "inside nearest the point of entrance"
    return Condition("pass", f"it ends at {name}, {where}", must=must)


def _indoor_part(facts: TapFacts) -> Condition:
    """An outdoor disconnect leaves no indoor part; inside, the footage up to the disconnect is told."""
    end, indoor = facts.devices[0], facts.indoor
    must = "have no indoor part"
    if end.stands == _OUTDOORS and indoor.value:
        text = f"{feet_inches(indoor.value, 'up')} of it is indoors, though it ends outdoors"
        return Condition("fail", text, indoor.value, 0.0, "ft", "at most", cure="run it outdoors", must=must)
    if end.stands == _NEAREST and indoor.value:
        return Condition(
            "pass", f"{feet_inches(indoor.value)} of it is indoors, up to the disconnect nearest its entrance"
        )
    return Condition("pass", "no part of it is indoors but at its end")


def _accessible(facts: TapFacts) -> Condition:
    end = facts.devices[0]
    name, must = end.item.name, "end at a readily accessible disconnect"
    if end.accessible is None:
        need = f"whether {name} is readily accessible"
        text = f"whether {name} is readily accessible is not known yet"
        return Condition("unknown", text, needs=(need,), must=must, open=(f"access to {name}",))
    if not end.accessible:
        text = f"it ends at {name}, which is not readily accessible"
        return Condition("fail", text, cure="move the disconnect to where it is readily accessible", must=must)
    return Condition("pass", f"{name} is readily accessible", must=must)


def _integral(facts: TapFacts) -> list[Condition]:
    end = facts.devices[0]
    if end.in_disconnect:
        return []
    text = f"it ends at {end.item.name}, fuses without a switch, whose disconnect has to be immediately beside them"
    return [Condition("judge", text)]
