"""The order of the reasons against opening a device: common practice, no source."""

from __future__ import annotations

import pytest

from oneline.tables import NotInTable, isolation_cost, isolation_cost_ids


def test_every_reason_costs_something():
    costs = {id_: isolation_cost(id_) for id_ in isolation_cost_ids()}
    assert all(isinstance(c, int) and c > 0 for c in costs.values())


def test_known_to_be_bad_costs_more_than_not_known():
    assert isolation_cost("not_load_break") > isolation_cost("load_break_unknown")
    assert isolation_cost("cannot_lock") > isolation_cost("lockable_unknown")
    assert isolation_cost("suspect") > isolation_cost("suspect_unknown")
    assert isolation_cost("already_open") < isolation_cost("base")


def test_a_device_more_costs_more_than_any_single_fault():
    """Otherwise two good devices would be opened where one does it."""
    faults = ("not_load_break", "cannot_lock", "suspect", "transfer")
    assert all(isolation_cost("base") > isolation_cost(fault) for fault in faults)


def test_no_such_reason():
    with pytest.raises(NotInTable):
        isolation_cost("dusty")
