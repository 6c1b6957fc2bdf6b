"""What can be asked of a drawing: its findings and figures, what would help, what fits, which system was measured."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from oneline.model import (
    Drawing,
    VoltageReading,
)
from oneline.model.checked import objection
from oneline.model.vocabulary import EDITIONS, VIEW_STATUSES

if TYPE_CHECKING:
    from oneline.network.graph import Graph
    from oneline.outage.results import Plan
    from oneline.rules.system_identity import Identity
    from oneline.rules.verdict import Verdict
    from oneline.study import StudyResult
    from oneline.study.bounds import Bounds
    from oneline.study.fieldchecks import NeedGroup
    from oneline.study.fits import Fits
    from oneline.study.remedies import Remedies, Remedy


def check(drawing: Drawing, view: str = "proposed", edition: int | None = None) -> StudyResult:
    """Everything about one view of a drawing: ``points`` (figures by item id) and ``verdicts``.

    ``view``: "existing" or "proposed". ``edition``: of the code, by default the drawing's own. What cannot be decided is in
    the answers as not known yet; nothing on a drawing that was read, built or edited here makes this raise. Raises
    ``ValueError`` for a view or an edition that there is not.
    """
    from oneline.study import study

    _view_and_edition(view, edition)
    return study(drawing, view, edition)


def _view_and_edition(view: str, edition: int | None) -> None:
    if view not in VIEW_STATUSES:
        raise ValueError(f"view {view!r} is not one of {', '.join(VIEW_STATUSES)}")
    if edition is not None and edition not in EDITIONS:
        raise ValueError(f"edition {edition} is not one of {', '.join(map(str, EDITIONS))}")


# ------------------------------------------------------------------------------------------------------ tried on copies
def remedies(drawing: Drawing, verdict: Verdict, view: str = "proposed", edition: int | None = None) -> Remedies:
    """What would make a finding of ``check`` pass: the smallest changes, each tried on a copy of the drawing, after which it
    passes and no other finding is worse. Takes up to some seconds. Raises ``ValueError`` as ``check`` does."""
    from oneline.study.remedies import find_remedies
    from oneline.study.trials import Trials, finish

    _view_and_edition(view, edition)
    return finish(find_remedies(Trials(drawing, view, edition), verdict))


def with_remedy(drawing: Drawing, remedy: Remedy, view: str = "proposed") -> Drawing:
    """The drawing with a remedy of ``remedies``. Existing conductors become "to be removed", with new ones beside them;
    other existing items are changed in place, and their notes keep what they were."""
    from oneline.study.remedies import applied

    return applied(drawing, remedy, view)


def bounds(drawing: Drawing, verdict: Verdict, view: str = "proposed", edition: int | None = None) -> Bounds:
    """Values of the missing facts with which a finding that is not known passes. Raises ``ValueError`` as ``check`` does."""
    from oneline.study.bounds import find_bounds
    from oneline.study.trials import Trials, finish

    _view_and_edition(view, edition)
    return finish(find_bounds(Trials(drawing, view, edition), verdict))


def fits(
    drawing: Drawing, where: str, view: str = "proposed", edition: int | None = None, continuous: bool = False
) -> Fits:
    """The largest load that may be added at an item (by its id or its name), its limits in the order in which they are
    met, and the largest standard breaker for a sub-panel there. ``continuous``: the added load runs for 3 hours or more.
    Raises ``ValueError`` as ``check`` does, ``KeyError`` for an item that there is not, or a name that several have."""
    from oneline.study.fits import find_fits
    from oneline.study.trials import Trials, finish

    _view_and_edition(view, edition)
    return finish(find_fits(Trials(drawing, view, edition), _one_item(drawing, where), continuous))


def _one_item(drawing: Drawing, where: str) -> str:
    """Id of the one item of an id or a name. Raises ``KeyError``."""
    if where in drawing:
        return where
    found = [i.id for i in drawing.items.values() if drawing.name_of(i.id) == where]
    if len(found) != 1:
        raise KeyError(f"{len(found) or 'no'} items are named {where!r}")
    return found[0]


def plan_outage(drawing: Drawing, zone: str, view: str | None = None, edition: int | None = None) -> Plan:
    """How a work zone of the drawing is made dead, in which order, what is tested, what goes dark, how it is restored.

    ``zone``: id of one of ``drawing.zones`` (``drawing.with_zone(WorkZone(...))`` adds one). A plan is what the drawing
    shows: that something is dead is never proven by it. ``view``: by default the building as it stands, "existing", unless
    something that is worked on is new. Raises ``ValueError`` as ``check`` does, ``KeyError`` for a zone
    that there is not.
    """
    from oneline.outage.plan import make_plan

    _view_and_edition(view or "existing", edition)
    return make_plan(drawing, zone, view, edition)


def network_graph(drawing: Drawing, view: str = "proposed") -> Graph:
    """The electrical network of one view as a graph of networkx, with positions and sources; see ``network.graph.as_graph``.

    Raises ``ValueError`` for a view that there is not.
    """
    from oneline.network import build_network
    from oneline.network.graph import as_graph

    _view_and_edition(view, None)
    return as_graph(build_network(drawing.view(view)))


def field_checks(drawing: Drawing, view: str = "proposed", edition: int | None = None) -> tuple[NeedGroup, ...]:
    """What to find out in the building, by item, the facts that decide most findings first."""
    from oneline.study.fieldchecks import field_checks as listed

    return tuple(listed(check(drawing, view, edition), drawing))


def add_recording(
    drawing: Drawing, where: str, source: str | Path | bytes, answers: Mapping[str, str] | None = None, **record: Any
) -> Drawing:  # fmt: skip
    """The drawing with a demand record at the item named, read from interval data: CSV, or XML after NAESB REQ.21 (ESPI).

    ``where``: id or name of a service, meter or generator. ``answers``: to what the file leaves open ("unit": "kWh").
    ``record``: what no file tells: ``occupied``, ``seasonal_included``, ``power_factor``, ``source``, ``note``. Raises
    ``CannotOpen`` for a file of which nothing can be made; ``oneline.files.intervals.NeedsAnswers`` (a ``ValueError``) with
    the open questions; ``KeyError`` for an item that there is not.
    """
    from oneline.files.intervals import read_record, with_record

    item = _one_item(drawing, where)
    made, _, _ = read_record(source, answers, **record)
    return with_record(drawing, item, made)


def identify(**volts: float | None) -> Identity:
    """Which nominal systems measured voltages fit, and what would tell them apart where several do.

    ``volts``: ``ab_v``, ``bc_v``, ``ca_v`` between phases, ``an_v`` ... to the neutral, ``ag_v`` ... to ground, ``ng_v``;
    what was not measured is left out. Raises ``ValueError`` for another name, or for what is no voltage.
    """
    from oneline.rules.system_identity import PAIRS
    from oneline.rules.system_identity import identify as found

    strange = [name for name in volts if name not in PAIRS]
    if strange:
        raise ValueError(f"no reading is named {', '.join(strange)}, only {', '.join(PAIRS)}")
    why = objection(VoltageReading, volts)
    if why is not None:
        raise ValueError(why)
    return found(volts)
