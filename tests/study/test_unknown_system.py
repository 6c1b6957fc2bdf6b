"""A service of which nobody knows the system: rules that do not need its voltage still speak, the others ask for it."""

from __future__ import annotations

from typing import Any

import pytest

from oneline.study import grounding, panels


def building(service: Any, circuit: Any, system: str | None, bonded: bool | None = True, **row: Any) -> Any:
    """A main and, behind a feeder, a panel with one circuit."""
    s = service(system)
    s.put("service", "Utility", system=system)
    s.put("disconnect", "Feeder", form="breaker", trip_a=100)
    s.put(
        "bus", "LP", rating_a=125, neutral_bonded=bonded, circuits=(circuit(space=1, trip_a=20, **row),) if row else ()
    )
    s.joint("MDP", "Feeder")
    s.run("Feeder", "LP", size="3", material="copper", neutral_size="3", length_ft=40)
    return s.context()


def bond(ctx: Any) -> Any:
    return next(v for v in grounding.verdicts(ctx) if v.rule == "GND-5" and v.name == "LP")


@pytest.mark.parametrize(("bonded", "state"), [(True, "fail"), (None, "unknown"), (False, "pass")])
def test_a_neutral_bond_needs_no_voltage(service, circuit, bonded, state) -> None:
    """250.24(A)(5): not on the load side. Whether there is a neutral is asked only where the answer depends on it."""
    assert bond(building(service, circuit, "208Y/120", bonded)).state == state
    found = bond(building(service, circuit, None, bonded))
    assert found.state == state
    if state == "unknown":
        assert "system voltage of Utility" in found.needs


def schedule(ctx: Any) -> Any:
    return next((v for v in panels.verdicts(ctx) if v.rule == "PNL-7" and v.name == "LP"), None)


@pytest.mark.parametrize(
    ("va", "state", "needs"),
    [
        (3_000, "unknown", ("system voltage of Utility",)),  # 25 A at 120 V, 8.6 A at 347 V
        (10_000, "fail", ()),  # 29 A even at 347 V, the highest line to neutral of any system here
        (2_000, None, ()),  # 16.7 A at 120 V, the lowest
    ],
)
def test_load_on_a_breaker_without_a_voltage_is_bounded(service, circuit, va, state, needs) -> None:
    """I = P / V for every nominal voltage that one pole can have."""
    found = schedule(building(service, circuit, None, va=va, poles=1, continuous=False, load_class="other"))
    assert (found and found.state) == state
    if found is not None:
        assert found.needs == needs
    if state == "unknown":
        known = schedule(building(service, circuit, "208Y/120", va=va, poles=1, continuous=False, load_class="other"))
        assert known.state == "fail"
