"""Every field can be told from the others by its label."""

from __future__ import annotations

from collections import Counter

import pytest

from oneline.model import specs
from oneline.model.records import DemandRecord


@pytest.mark.parametrize("cls", [DemandRecord])
def test_no_two_fields_of_a_form_have_one_label(cls: type) -> None:
    """Common practice, no source: a peak in kW and one in kVA are two things to enter."""
    twice = [label for label, n in Counter(s.label for s in specs(cls).values()).items() if n > 1]
    assert twice == []
