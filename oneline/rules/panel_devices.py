"""Devices in panelboards: back-fed plug-in breakers (PNL-2), delta breakers and breakers on a phase the panel lacks
(PNL-5)."""

from __future__ import annotations

from dataclasses import dataclass

from oneline.rules.common import Subject, listed, section, verdict
from oneline.rules.verdict import Verdict


@dataclass(frozen=True)
class BackFedFacts:
    """A plug-in breaker that the supply reaches from its load terminals.

    ``panel``: that it plugs in. ``plug_in``: whether it is known to be one. ``fastened``: an additional fastener holds it.
    ``sources``: inverters that feed through it, with whether each is listed utility-interactive; empty for a main.
    """

    subject: Subject
    edition: int
    panel: Subject
    plug_in: bool | None
    fastened: bool | None
    sources: tuple[tuple[Subject, bool | None], ...] = ()


def back_fed(facts: BackFedFacts) -> Verdict:
    """PNL-2: a back-fed plug-in main is held by a fastener that takes more than a pull; a listed interactive source's
    breaker needs none."""
    name, panel = facts.subject.name, facts.panel.name
    others = (facts.panel.id, *(s.id for s, _ in facts.sources))
    if facts.fastened:
        text = f"{name}, back-fed in {panel}, is held by an additional fastener."
        return verdict("PNL-2", facts.subject, facts.edition, "pass", text, others=others)
    needs: list[str] = []
    if facts.sources:
        unlisted = [s.name for s, is_listed in facts.sources if is_listed is False]
        if all(is_listed for _, is_listed in facts.sources):
            text = (
                f"{name} in {panel} is fed by {_names(facts)} only, listed utility-interactive, and needs no fastener."
            )
            cited = section("PNL-2-listed", facts.edition)
            return verdict("PNL-2", facts.subject, facts.edition, "pass", text, others=others, section=cited)
        if not unlisted:
            needs += [f"utility-interactive marking on {s.name}" for s, is_listed in facts.sources if is_listed is None]
    if facts.plug_in is None:
        needs.append(f"whether {name} plugs on the bus of {panel} or is bolted")
    if facts.fastened is None:
        needs.append(f"additional fastener on {name}")
    if needs:
        text = f"Whether {name}, back-fed in {panel}, is held as it must be is not known yet."
        return verdict("PNL-2", facts.subject, facts.edition, "unknown", text, needs=tuple(needs), others=others)
    text = f"{name} is back-fed in {panel} and comes off with a pull: it needs an additional fastener."
    remedy = "Fit the maker's hold-down for it."
    return verdict("PNL-2", facts.subject, facts.edition, "fail", text, remedy=remedy, others=others)


def _names(facts: BackFedFacts) -> str:
    return listed(tuple(source.name for source, _ in facts.sources))


def delta_breaker(device: Subject, panel: Subject, edition: int) -> Verdict:
    """PNL-5: no delta breaker in a panelboard (408.36(C))."""
    text = f"{device.name} is a delta breaker in {panel.name}: no panelboard may hold one."
    remedy = f"Feed the three-phase load of {device.name} from a three-phase panel."
    return verdict("PNL-5", device, edition, "fail", text, remedy=remedy, others=(panel.id,))


def wrong_phase(device: Subject, panel: Subject, edition: int, drawn: str, has: str) -> Verdict:
    """PNL-5: a breaker on a phase that the bus of its panel does not have. ``drawn``, ``has``: phase letters."""
    missing = [p for p in drawn if p not in has]
    text = (
        f"{device.name} is on phase {listed(missing)}, which {panel.name} does not have: its bus is "
        f"{'-'.join(has)} only."
    )
    remedy = "Correct the phases, or feed it from a panel that has them."
    return verdict("PNL-5", device, edition, "fail", text, remedy=remedy, others=(panel.id,))
