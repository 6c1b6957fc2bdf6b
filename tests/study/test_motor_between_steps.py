"""A motor whose rating the motor tables do not print."""

from __future__ import annotations

from typing import Any

import pytest

from oneline.study import conductors


@pytest.mark.parametrize(
    ("horsepower", "system", "need"),
    [
        (22, "480Y/277", "full-load current on the nameplate of Fan: 22 hp is not in the motor table"),
        (25, None, "system voltage of Utility"),
    ],
)
def test_what_is_missing_of_a_motor_is_named(service: Any, horsepower: float, system: str | None, need: str) -> None:
    """Table 430.250 prints 20 and 25 hp, nothing between them."""
    s = service(system)
    s.put("service", "Utility", system=system)
    s.put("disconnect", "Breaker", form="breaker", trip_a=60, rating_a=60)
    s.put("load", "Fan", load_class="motor", horsepower=horsepower, phases="ABC")
    s.joint("MDP", "Breaker")
    s.run("Breaker", "Fan", "Circuit", size="6", material="copper", insulation="THWN-2", length_ft=20)
    needs = [n for v in conductors.verdicts(s.context()) if v.rule == "OCP-4G" for n in v.needs]
    assert needs == [need]
