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
