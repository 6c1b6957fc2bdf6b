"""Several supplies of one building: transfer equipment (700 to 702), the neutral of a generator (250.30), the directory."""

from __future__ import annotations

from collections.abc import Sequence

from oneline import tables
from oneline.rules.bonds import bond_need
from oneline.rules.common import Subject, listed, looked_up, verdict
from oneline.rules.verdict import Verdict


def paralleled(
    subject: Subject, other: Subject, edition: int, through: Sequence[str], interlocked: bool
) -> Verdict:  # fmt: skip
    """GEN-1: two services or a generator and another supply, joined without transfer equipment.

    ``through``: names of the devices on the way between them. ``interlocked``: one of them is normally open, so an
    interlock may keep the two apart.
    """
    joined = _joined(subject, other, through)
    if interlocked:
        text = (
            f"{joined} A device between them is normally open: only a listed interlock makes that transfer equipment."
        )
        need = f"interlock that keeps {subject.name} and {other.name} apart"
        return verdict("GEN-1", subject, edition, "judge", text, needs=(need,), others=(other.id,))
    return verdict(
        "GEN-1", subject, edition, "fail", f"{joined} Both would feed the same conductors.",
        remedy="Fit transfer equipment between them.", others=(other.id,),
    )  # fmt: skip


def in_parallel(
    inverter: Subject, other: Subject, edition: int, through: Sequence[str], listed_interactive: bool | None
) -> Verdict:  # fmt: skip
    """PV-7: an inverter in parallel with a utility has to be listed for it, to stop when the utility is lost."""
    name = inverter.name
    if listed_interactive:
        text = (
            f"{name} is listed to run in parallel with {other.name} and stops when that is lost. It is a control, not an "
            "isolation point: lock its ac disconnect open."
        )
        return verdict("PV-7", inverter, edition, "pass", text, others=(other.id,))
    joined = _joined(inverter, other, through)
    if listed_interactive is None:
        text = f"Whether {name} is listed utility-interactive is not known yet. {joined.replace(name, 'It', 1)}"
        need = f"utility-interactive marking on {name}"
        return verdict("PV-7", inverter, edition, "unknown", text, needs=(need,), others=(other.id,))
    text = (
        f"{name} is not listed utility-interactive and may keep feeding a dead utility. {joined.replace(name, 'It', 1)}"
    )
    remedy = "Use an inverter listed utility-interactive, or fit transfer equipment between them."
    return verdict("PV-7", inverter, edition, "fail", text, remedy=remedy, others=(other.id,))


def _joined(subject: Subject, other: Subject, through: Sequence[str]) -> str:
    way = f" through {listed(tuple(through))}" if through else ""
    return f"{subject.name} is joined to {other.name}{way} without transfer equipment."


def transfer_present(generator: Subject, switches: Sequence[str], edition: int) -> Verdict:
    """GEN-1 where a generator reaches the other supply only through transfer equipment."""
    text = f"{generator.name} feeds through {listed(tuple(switches))} only, which keeps it apart from the other supply."
    check = f"Sign at the service naming type and place of {generator.name}."
    return verdict("GEN-1", generator, edition, "pass", text, field_checks=(check,))


def generator_neutral(
    switch: Subject, generator: Subject, edition: int, switched: bool | None, places: Sequence[tuple[str, bool | None]]
) -> Verdict:
    """GEN-2: a switched neutral goes with a bond at the generator, a solid neutral with none.

    ``places``: where a bond on the generator's side can be, the generator first, and whether one is there. Two of them
    are wrong with any transfer switch.
    """
    found = [name for name, state in places if state]
    unseen = [name for name, state in places if state is None]
    if len(found) > 1:
        text = (
            f"The neutral of {generator.name} is bonded at {listed(found)}: one bond only, or neutral current returns over "
            f"enclosures."
        )
        remedy = f"Keep the bond at {found[0]} and take out the others."
        if switched is False:
            remedy = f"Take out the bonds at {listed(found)}."
        return verdict("GEN-2", switch, edition, "fail", text, remedy=remedy, others=(generator.id,))
    where = found[0] if found else places[0][0]
    # One bond settles a solid neutral; a switched one needs every other place seen, and so does finding none.
    bonded = bool(found) if not unseen or (found and switched is False) else None
    needs = []
    if switched is None:
        needs.append(f"number of poles of {switch.name}: neutral switched or solid")
    if bonded is None:
        needs.extend(bond_need(name) for name in unseen)
    others = (generator.id,)
    if switched is None or bonded is None:
        text = (
            f"Whether the neutral of {generator.name} is bonded in the place right for {switch.name} is not known yet."
        )
        return verdict("GEN-2", switch, edition, "unknown", text, needs=tuple(needs), others=others)
    kind = "switches the neutral" if switched else "keeps the neutral solid"
    state = "is bonded" if bonded else "is not bonded"
    text = f"{switch.name} {kind} and the neutral {state} at {where}"
    if switched == bonded:
        return verdict("GEN-2", switch, edition, "pass", f"{text}, as it belongs.", others=others)
    if bonded:
        remedy = f"Take out the bond at {where}, or use a transfer switch that switches the neutral."
        more = "a second bond beside the service's lets neutral current return over enclosures."
    else:
        remedy = (
            f"Bond the neutral at {where} with a grounding electrode, or use a transfer switch with a solid neutral."
        )
        more = "on generator the neutral is then bonded nowhere."
    return verdict("GEN-2", switch, edition, "fail", f"{text}: {more}", remedy=remedy, others=others)


def supplies(service: Subject, edition: int, others: Sequence[tuple[str, str, str]]) -> Verdict:
    """LBL-2: the directory that each service disconnect carries where a building has more than one supply.

    ``others``: id, name and where it disconnects of every further supply.
    """
    names = listed([name for _, name, _ in others])
    text = (
        f"Post a directory of all {len(others) + 1} supplies of the building at every service disconnect of {service.name}. "
        f"Beside it: {names}."
    )
    return verdict(
        "LBL-2", service, edition, "advice", text, others=tuple(id_ for id_, _, _ in others),
        work=tuple(looked_up(f"{name} disconnects at", where, "") for _, name, where in others),
    )  # fmt: skip


#: Reasons for a second service that need a special permission, or the authority's judgment. From memory.
_BY_PERMISSION = frozenset(("several occupancies", "large area", "enhanced reliability"))


def several_services(first: Subject, edition: int, services: Sequence[tuple[Subject, str | None]]) -> Verdict:
    """SVC-1: every service but the first needs one of the reasons of 230.2.

    ``services``: all of them, each with the reason entered for it, as in the drawing.
    """
    names = listed([s.name for s, _ in services])
    others = tuple(s.id for s, _ in services)
    head = f"The building has {len(services)} services, {names}"
    given = [(s, r) for s, r in services if r not in (None, "none", "first service")]
    missing = len(services) - 1 - len(given)
    refused = [s for s, r in services if r == "none"]
    if missing > 0 and refused and len(given) + sum(r is None for _, r in services) < len(services) - 1:
        text = f"{head}, and nothing of {tables.citation('SVC-1', edition).section} is a reason for more than one."
        remedy = "Feed everything from one service, or find the reason that applies and its permission."
        return verdict("SVC-1", first, edition, "fail", text, remedy=remedy, others=others)
    if missing > 0:
        text = (
            f"{head}, and more than one needs a reason. {tables.citation('SVC-1', edition).section} knows fire pump or "
            "standby, several occupancies, capacity, and a different voltage or use."
        )
        need = f"reason for the second service beside {first.name}"
        return verdict("SVC-1", first, edition, "judge", text, needs=(need,), others=others)
    reasons = listed([f"{s.name} for {r}" for s, r in given])
    asked = [s.name for s, r in given if r in _BY_PERMISSION]
    if asked:
        text = f"{head}: {reasons}. That reason needs the authority's permission."
        return verdict("SVC-1", first, edition, "judge", text, others=others)
    text = f"{head}: {reasons}."
    check = f"The reason holds: {reasons}."
    return verdict("SVC-1", first, edition, "pass", text, others=others, field_checks=(check,))


def battery_note(battery: Subject, edition: int) -> Verdict:
    """ESS-1: what opening the ac side of a battery does not do."""
    text = (
        f"{battery.name} stays live on its dc side with the ac disconnect open and can start without a command. Its "
        "inverter holds charge for the time marked on it."
    )
    return verdict("ESS-1", battery, edition, "advice", text)
