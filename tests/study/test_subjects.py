"""Subjects say of which kinds of items they have anything to say; they must not be silent about others by mistake."""

from __future__ import annotations

import pytest

import oneline
from oneline.assets import sample
from oneline.study.context import Context
from oneline.study.study import modules
from oneline.study.subject import Subject


@pytest.mark.parametrize("name", ["cannery", "bindery"])
@pytest.mark.parametrize("view", ["existing", "proposed"])
def test_nothing_is_to_be_said_of_kinds_that_a_subject_leaves_out(name, view):
    ctx = Context(oneline.open(sample(f"{name}.oneline")), view, 2023)
    asked = 0
    for subject in [m.verdicts for m in modules() if isinstance(m.verdicts, Subject)]:
        for item in ctx.drawing.items.values():
            if not isinstance(item, subject.of):
                asked += 1
                assert list(subject.about(ctx, item)) == [], f"{subject.about.__module__}: {item.kind}"
    assert asked > 100
