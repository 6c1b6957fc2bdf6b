"""A tie that is closed between two services: opening it leaves both its sides live, each from its own service."""

from __future__ import annotations

from typing import Any

import pytest

from oneline.study import backfeed


@pytest.mark.parametrize(("normally_open", "closed"), [(False, True), (True, True), (True, False)])
def test_a_tie_names_both_sides(sketch: Any, normally_open: bool, closed: bool) -> None:
    """Each side has its own service, whatever position the tie is normally in and is in now."""
    s = sketch()
    for k in (1, 2):
        s.put("service", f"U{k}", system="208Y/120")
        s.put("disconnect", f"M{k}", trip_a=400)
        s.put("bus", f"S{k}")
        s.chain(f"U{k}", f"M{k}", f"S{k}")
    s.put("disconnect", "Tie", trip_a=400, normally_open=normally_open, closed=closed)
    s.joint("S1", "Tie.line")
    s.joint("Tie.load", "S2")
    found = {v.name: v for v in backfeed.verdicts(s.context())}
    message = found["Tie"].message
    if closed:
        assert "both its sides stay live" in message
        assert "S1 from U1 through M1" in message
        assert "S2 from U2 through M2" in message
    else:
        assert "U1 through M1" in message
        assert "U2 through M2" in message
    assert set(found["Tie"].others) == {"U1", "U2"}
    assert "M1 and M2" in found["Tie"].remedy or "M2 and M1" in found["Tie"].remedy
    # A main has its service on one side only, which everybody expects.
    assert not closed or "both its sides" not in found["M1"].message


@pytest.mark.parametrize(
    ("automatic", "position", "state"),
    [(True, "normal", "advice"), (None, "normal", "unknown"), (False, "normal", None), (True, "alternate", "advice")],
)
def test_what_a_transfer_switch_may_take_over(
    sketch: Any, automatic: bool | None, position: str, state: str | None
) -> None:
    """Opening the normal supply of a transfer switch that moves by itself starts the generator: its load side is live
    again (702.5 and the purpose of transfer equipment; common practice, no source). One moved by hand stays."""
    s = sketch()
    s.put("service", "U", system="208Y/120")
    s.put("generator", "Yard", system="208Y/120", kva=50)
    s.put("disconnect", "Main", trip_a=400)
    s.put("bus", "Board")
    s.put("disconnect", "Ahead", trip_a=100)
    s.put("disconnect", "Set", trip_a=100)
    s.put("transfer", "ATS", automatic=automatic, position=position)
    s.put("bus", "Standby")
    s.chain("U", "Main", "Board", "Ahead.line")
    s.joint("Ahead.load", "ATS.normal")
    s.chain("Yard", "Set.line")
    s.joint("Set.load", "ATS.alternate")
    s.joint("ATS.load", "Standby")
    ctx = s.context()
    found = {v.name: v for v in backfeed.verdicts(ctx)}
    ids = {i.name: i.id for i in ctx.drawing.items.values()}
    possibly = ctx.live.sides(ids["Standby"], possibly=True)["bus"]
    assert possibly == ({ids["U"]} if automatic is False else {ids["U"], ids["Yard"]})
    # Never its two supplies with each other.
    assert ctx.live.sides(ids["Ahead"], possibly=True)["load"] == {ids["U"]}
    assert ctx.live.sides(ids["Set"], possibly=True)["load"] == {ids["Yard"]}
    for name in ("Main", "Ahead"):
        if state is None:
            assert name not in found
            continue
        assert found[name].state == state
        assert "Standby may be taken over by Yard through ATS" in found[name].message
        assert "Set" in found[name].remedy
        assert ids["Yard"] in found[name].others
        assert (found[name].needs == ("whether ATS is automatic",)) == (automatic is None)
    # On the generator's side only once the load is there.
    assert ("Set" in found) == (position == "alternate")
