"""Overcurrent devices of motor branch circuits: Table 430.52."""

from __future__ import annotations

from oneline.tables.source import NotInTable, number, rows

_DEVICES = "t430_52_motor_ocpd"
_COLUMNS = {
    "nontime-delay fuse": "nontime_delay_fuse_pct",
    "dual-element fuse": "dual_element_fuse_pct",
    "inverse-time breaker": "inverse_time_breaker_pct",
}
_ROWS = {False: "single-phase", True: "AC polyphase other than wound-rotor"}


def motor_device_percent(device: str, three_phase: bool) -> float:
    """Largest device of a motor branch circuit, percent of the table full-load current.

    ``device``: "inverse-time breaker", "dual-element fuse" or "nontime-delay fuse". Raises ``NotInTable``.
    """
    column = _COLUMNS.get(device)
    for row in rows(_DEVICES):
        if column and row["row_kind"] == "table" and row["motor_or_device"] == _ROWS[three_phase]:
            return number(row, column, _DEVICES)
    raise NotInTable(f"{_DEVICES}.csv", device)
