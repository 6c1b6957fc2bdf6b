"""X/R of the circuits that low-voltage devices are tested in."""

from __future__ import annotations

from functools import cache

from oneline.tables.source import NotInTable, number, optional_number, rows

_TESTS = "interrupting_test_xr"
DEVICES = ("molded-case breaker", "power breaker, unfused", "power breaker, fused")


@cache
def test_x_r(device: str, interrupting_ka: float) -> float:
    """X/R of the test circuit of a device with this interrupting rating. ``device``: one of DEVICES.

    Raises ``NotInTable`` for another device or a rating that is not positive.
    """
    for row in rows(_TESTS):
        over, up_to = number(row, "over_ka", _TESTS), optional_number(row["up_to_ka"])
        if row["device"] == device and over < interrupting_ka and (up_to is None or interrupting_ka <= up_to):
            return number(row, "x_over_r", _TESTS)
    raise NotInTable(f"{_TESTS}.csv", f"{device} of {interrupting_ka:g} kA")
