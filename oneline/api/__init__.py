"""The Python interface: build or open a drawing, study it, read verdicts and points, save, print.

::

    import oneline

    b = oneline.Builder("Dock house", edition=2023)
    utility = b.service("Utility", system="208Y/120", fault_ka=22)
    main = b.disconnect("Main", form="fused switch", rating_a=400, trip_a=400, interrupting_ka=200)
    board = b.bus("Main board", form="switchboard", rating_a=400, sccr_ka=42)
    b.run(utility, main, size="500", sets=1, material="copper", insulation="THWN-2", length_ft=40)
    b.joint(main, board)
    drawing = b.drawing
    result = oneline.check(drawing, view="proposed")
    print(result.points[board.id].available_a, [v.message for v in result.verdicts if v.state == "fail"])
    oneline.save(drawing, "dock.oneline")

Everything is immutable: a drawing never changes, ``Builder`` and the functions of ``oneline.model.edits`` make new ones.
"""

from __future__ import annotations

from oneline.api.builder import Builder, Handle
from oneline.api.documents import (
    EXPORT_ENDINGS,
    HasProblems,
    NoSuchPanel,
    export,
    open,
    print_door,
    print_outage,
    print_record,
    read,
    save,
)
from oneline.api.questions import (
    add_recording,
    bounds,
    check,
    field_checks,
    fits,
    identify,
    network_graph,
    plan_outage,
    remedies,
    with_remedy,
)
from oneline.files import Opened, Problem

__all__ = [
    "EXPORT_ENDINGS", "Builder", "Handle", "HasProblems", "NoSuchPanel", "Opened", "Problem", "add_recording", "bounds",
    "check", "export", "field_checks", "fits", "identify", "network_graph", "open", "plan_outage", "print_door",
    "print_outage", "print_record", "read", "remedies", "save", "with_remedy",
]  # fmt: skip
