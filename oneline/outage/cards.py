"""Test cards: which pairs to test at a point, what each shows while live, and what it should show now.

Pairs by system (SW-6): ten on three-phase four-wire, six on three-phase three-wire, six on single-phase three-wire, three
on two wires. Where the system is not known all ten are tested.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from oneline import tables
from oneline.model import Battery, Generator, Joint, SolarArray, SuspectedTie, UtilityService
from oneline.outage.devices import Outage
from oneline.outage.pairs import conductors_at
from oneline.outage.results import Pair, TestCard
from oneline.outage.scene import Scene
from oneline.rules.common import listed
from oneline.study.phasors import phase_volts

_METER = "Rated contact meter, proved on a known live source before and after. A proximity tester proves nothing."
_UNTESTED = "Everything here counts as energized until this card is done; testing is work on energized parts."
_CORNER = "Corner-grounded: zero from the grounded phase to ground proves nothing; phase to phase decides."
_AFLOAT = "Ungrounded: phase to ground may show anything, zero as well; phase to phase decides."
_HIGH_LEG = "High leg: B to neutral and to ground shows about {volts:g} V while live."
_NO_SYSTEM = "The system here is not known: all pairs, and what they showed live is written down first."
_NEUTRAL = (
    "Before a neutral is lifted, clamp it: a shared one carries another circuit's current, and opened it holds voltage."
)
_INVERTERS = "Inverters count as live: they may start when they see a voltage."
_LIGHT = "The DC side of an array is live in light."
_STORED = "The DC side of a battery stays live from what it stores."


def cards_for(outage: Outage, items: Iterable[str]) -> tuple[TestCard, ...]:
    """A card for every terminal of the items worked on and both sides of every device held open."""
    scene = outage.scene
    points: dict[tuple[str, str], int] = {}
    for item_id in dict.fromkeys((*items, *(p.item for p in outage.isolation.held))):
        item = scene.ctx.drawing.items.get(item_id)
        if item is None or isinstance(item, Joint):
            continue
        for terminal in ("a", "b") if not item.terminals else item.terminals:
            node = scene.ctx.net.node(item_id, terminal)
            if node >= 0 and not (isinstance(item, SuspectedTie) and terminal == "b" and item.b is None):
                points[item_id, terminal] = node
    opened = {k: v for d in (*outage.devices, *outage.standing) if d.point for k, v in d.opens.items()}
    after = scene.live({**outage.held, **opened})
    return tuple(
        _card(outage, item, terminal, node, after.at_node[node], after.possibly_at_node[node])
        for (item, terminal), node in points.items()
    )


def _card(
    outage: Outage, item_id: str, terminal: str, node: int, live: frozenset[str], possibly: frozenset[str]
) -> TestCard:  # fmt: skip
    scene = outage.scene
    ctx = scene.ctx
    code, phases = ctx.feeding.system[node], ctx.feeding.phases[node]
    gone = frozenset(outage.utility)
    item = ctx.drawing.get(item_id)
    from_now = _named(scene, live - gone)
    pairs = tuple(
        Pair(label, field, volts, _expected(scene, code, volts, live, gone, possibly - live))
        for label, field, volts in pairs_of(code, conductors_at(ctx, node))
    )
    kinds = {type(ctx.drawing.items.get(s)) for s in possibly}
    more = [_NEUTRAL] if any(p.field == "ng_v" for p in pairs) else []
    more += [_INVERTERS] if kinds & {SolarArray, Battery} else []
    more += [_LIGHT] if SolarArray in kinds else []
    more += [_STORED] if Battery in kinds else []
    return TestCard(
        item=item_id, terminal=terminal, name=ctx.name(item_id), place=item.location or "",
        system=tables.system(code).title if code else "not known", live_from=tuple(from_now), pairs=pairs,
        notes=(*_notes(code, phases), *more),
        waits_for=tuple(_named(scene, live & gone)), possibly_from=tuple(_named(scene, possibly - live)),
    )  # fmt: skip


def _named(scene: Scene, sources: Iterable[str]) -> list[str]:
    order = [*scene.ctx.net.sources, *scene.ctx.net.branches]
    return [scene.ctx.name(s) for s in sorted(sources, key=order.index)]


def _expected(
    scene: Scene, code: str | None, volts: float | None, live: frozenset[str], gone: frozenset[str],
    possibly: frozenset[str],
) -> str:  # fmt: skip
    """What the meter should show now."""
    reading = "" if volts is None else f"{volts:g} V"
    if volts == 0:
        return "0 V"
    if live - gone:
        names = listed(tuple(_named(scene, live - gone)))
        return f"{reading}: stays live from {names}" if reading else f"what it shows live: stays live from {names}"
    first = f"0 V only after {listed(tuple(_named(scene, live)))} was opened" if live else "0 V"
    if possibly:
        names = listed(tuple(_named(scene, possibly)))
        same = reading and all(_system_of(scene, s) == code for s in possibly)
        return f"{first}; {reading if same else 'any voltage'} if {names} reaches it"
    return first


def _system_of(scene: Scene, source: str) -> str | None:
    """System that a source brings; inverters follow that of where they stand. ``None`` where nobody can say."""
    item = scene.ctx.drawing.items.get(source)
    if isinstance(item, SolarArray | Battery):
        return scene.ctx.feeding.system[scene.ctx.net.sources[source]]
    return item.system if isinstance(item, UtilityService | Generator) else None


def pairs_of(code: str | None, conductors: str | None = None) -> tuple[tuple[str, str, float | None], ...]:
    """Pairs to test: label, field of the record, volts expected while live (``None`` where nothing can be said).

    ``conductors``: letters of those that are there ("ABCN"; on single-phase systems A and B stand for L1 and L2), by
    default all of the system.
    """
    system = tables.system(code) if code else None
    there = conductors or _all_phases(code) + ("N" if system is None or system.has_neutral else "")
    volts = {} if code is None else _volts(code)
    found: list[tuple[str, str, float | None]] = []
    for one, other in ("AB", "BC", "CA", "AN", "BN", "CN", "AG", "BG", "CG", "NG"):
        if one in there and (other in there or other == "G"):
            label = f"{one}-ground" if other == "G" else f"{one}-{other}"
            found.append((label, f"{one}{other}_v".lower(), volts.get(one + other)))
    return tuple(found)


def _all_phases(code: str | None) -> str:
    if code is None:
        return "ABC"
    system = tables.system(code)
    return "ABC" if system.phases == 3 else "A" if system.wires == 2 else "AB"


def _volts(code: str) -> Mapping[str, float]:
    """Nominal volts of the pairs; to ground only where the system's grounding tells."""
    system, at = tables.system(code), dict(zip("ABC", phase_volts(code), strict=True))
    found = {f"{a}{b}": float(round(abs(at[a] - at[b]))) for a, b in ("AB", "BC", "CA") if abs(at[a]) and abs(at[b])}
    found = {k: system.v_ll if abs(v - system.v_ll) <= 1 else v for k, v in found.items()}
    if system.has_neutral:
        for p in "ABC":
            if at[p]:
                v = system.v_high_leg if system.v_high_leg and p == "B" else system.v_ln
                assert v is not None
                found[p + "N"] = found[p + "G"] = v
        found["NG"] = 0.0
    return found


def _notes(code: str | None, phases: str) -> tuple[str, ...]:
    if code is None:
        return (_METER, _UNTESTED, _NO_SYSTEM)
    system = tables.system(code)
    if system.grounding == "corner":
        return (_METER, _UNTESTED, _CORNER)
    if system.grounding == "ungrounded":
        return (_METER, _UNTESTED, _AFLOAT)
    if system.v_high_leg and "B" in (phases or "ABC"):
        return (_METER, _UNTESTED, _HIGH_LEG.format(volts=system.v_high_leg))
    return (_METER, _UNTESTED)
