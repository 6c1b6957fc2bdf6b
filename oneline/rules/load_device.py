"""The device ahead of one motor or air conditioner against the most that its article allows, whatever the conductor."""

from __future__ import annotations

from functools import lru_cache

from oneline.rules.common import Fact, Subject, amperes, at_most, bounds, compared, judged, looked_up, rated, section
from oneline.rules.overcurrent import SpecialLoad
from oneline.rules.verdict import Verdict


@lru_cache(maxsize=2048)
def load_device(
    load: Subject, device: Subject, rating: Fact, special: SpecialLoad, edition: int
) -> Verdict:  # fmt: skip
    """Nameplate maximum of air-conditioning equipment (LOAD-5), or Table 430.52 for a motor (OCP-4G).

    Conductors larger than needed do not allow a larger device: it protects the equipment too.
    """
    rule = "LOAD-5" if special.kind == "hvac" else "OCP-4G"
    cited = section("LOAD-5" if special.kind == "hvac" else "TABLE-motor-device", edition)
    limit, words = special.device_a, compared(rating, special.device_a, most=True)
    by = "by its nameplate" if special.kind == "hvac" else "by the motor rules"
    if words is None:
        allowed = amperes(limit.value) if limit.value is not None else bounds(limit)
        more = f": {allowed} is allowed {by}" if allowed else ""
        text = f"Whether {rated(device.name, rating)} is small enough for {load.name} is not known yet{more}."
    else:
        gap = "exactly the most" if words.gap == "exactly" else f"{words.gap} the {words.limit}"
        text = f"{device.name} ({words.value}) ahead of {load.name} is {gap} allowed {by}."
    condition = at_most(rating, limit, text)
    remedy = f"Use a device of at most {amperes(limit.most)}." if condition.state == "fail" else ""
    lines = (*special.lines, looked_up(f"Largest device for {load.name}", limit.value, source=cited))
    return judged(rule, load, edition, [condition], section=cited, remedy=remedy, work=lines, others=(device.id,))
