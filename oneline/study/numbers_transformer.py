"""What a transformer on the premises does to fault currents and to the load flow."""

from __future__ import annotations

from dataclasses import dataclass, replace

from oneline import tables
from oneline.calc import fault, flow
from oneline.calc.flow import half_winding
from oneline.model import Transformer
from oneline.study.numbers_facts import (
    HIGH_LEG,
    HeadFigures,
    all_reactance,
    half_winding_factors,
    high_leg_matrix,
    tolerance_note,
    tolerance_of,
)
from oneline.study.numbers_forest import PHASES, Zone
from oneline.study.phasors import phase_volts

#: Connections that can have a high leg on their load side.
HIGH_LEG_KINDS = ("delta-delta", "wye-delta")


@dataclass(frozen=True)
class Sides:
    """Voltages of the two sides of a transformer as it is fed. ``v_ahead``: between the conductors its feeding side is
    connected to; ``across``: their columns, (-1) for the neutral, empty where it takes all three."""

    v_ahead: float
    v_load: float
    across: tuple[int, ...]
    assumed: tuple[str, ...] = ()


def sides_of(zone: Zone, supply: str | None, phases: str, name: str) -> Sides | tuple[str, ...]:
    """The sides of a zone's transformer, or phrases of what is missing.

    ``supply``: system of the node that feeds it; ``phases``: phases there.
    """
    ahead = zone.primary_system or supply
    missing = [
        p for v, p in ((zone.system, f"secondary system of {name}"), (ahead, f"primary system of {name}")) if not v
    ]
    if missing:
        return tuple(missing)
    assert zone.system is not None
    assert ahead is not None
    assumed = () if zone.primary_system else (f"primary of {name} taken for {supply}, which feeds it",)
    line, load = tables.system(ahead), tables.system(zone.system)
    if load.phases == 3:
        if len(phases) < 3:
            return (f"three phases ahead of {name}",)
        return Sides(line.v_ll, load.v_ll, (), assumed)
    if zone.system == "208/120-1":
        return (f"secondary system of {name} (two legs of a wye do not come from a single-phase transformer)",)
    columns = tuple(PHASES.index(p) for p in sorted(phases))
    if not columns or (len(columns) == 1 and line.v_ln is None):
        return (f"phases ahead of {name}",)
    if ahead == HIGH_LEG and columns == (1,):
        return (f"connection of {name} (on the high leg)",)
    if len(columns) == 1:
        return Sides(abs(phase_volts(ahead)[columns[0]]), load.v_ll, (columns[0], -1), assumed)
    return Sides(line.v_ll, load.v_ll, columns, assumed)


def transformer_z(item: Transformer, code: str, tolerance: float = 1.0) -> complex | None:
    """Impedance per phase of a transformer at its load side, ohms; ``None`` where rating or impedance is unknown."""
    if item.kva is None or item.z_pct is None:
        return None
    system = tables.system(code)
    return fault.transformer_impedance(item.kva, item.z_pct, system.v_ll, item.x_r, tolerance, system.phases == 3)


def transformer_head(zone: Zone, supply: str | None, phases: str, name: str) -> HeadFigures:
    """Fault figures at the load side of a transformer."""
    item = zone.transformer
    assert item is not None
    found = sides_of(zone, supply, phases, name)
    if not isinstance(found, Sides):
        return HeadFigures(lacks=found)
    assert zone.system is not None
    lacks = tuple(
        p for v, p in ((item.kva, f"rating of {name}"), (item.z_pct, f"impedance (%Z) of {name}")) if v is None
    )
    tolerance = tolerance_of(item, "z_pct")
    z_t = transformer_z(item, zone.system, tolerance) or 0j
    square = (found.v_load / found.v_ahead) ** 2
    assumed = list(found.assumed)
    if item.x_r is None and not lacks:
        assumed.append(all_reactance(name))
    notes = (tolerance_note(name, tolerance),) if tolerance != 1 and not lacks else ()
    common = HeadFigures(
        z_t, None, abs(z_t), angle_known=item.x_r is not None,
        need_x_r="" if item.x_r is not None or lacks else f"X/R of {name}", ratio=found.v_load / found.v_ahead, factor=square,
        lacks=lacks, bounded=True,
        assumed=tuple(assumed), notes=notes,
    )  # fmt: skip
    return _loop(common, zone, found, square, z_t, name)


def _loop(head: HeadFigures, zone: Zone, sides: Sides, square: float, z_t: complex, name: str) -> HeadFigures:
    """The loop line to neutral at the load side, added to the head."""
    assert zone.system is not None
    load = tables.system(zone.system)
    if load.phases == 3:
        if load.v_ln is None:
            return head
        kind = zone.connection
        if zone.system == HIGH_LEG:
            own = complex(high_leg_matrix(z_t)[0, 0])
            wrong = "" if kind is None else f" ({kind} gives no high leg)"
            lacks = () if kind in HIGH_LEG_KINDS else (f"connection of {name}{wrong}",)
            return replace(head, z_ln=own, factor_ln=square / 2, lacks_ln=lacks)
        if kind == "delta-wye":  # the delta blocks zero sequence
            return replace(head, z_ln=z_t, factor_ln=2 / 3 * square)
        if kind == "wye-wye":
            return replace(head, z_ln=z_t, factor_ln=square, of_loop_ln=True)
        wrong = "" if kind is None else f" ({kind} gives no neutral)"
        return replace(head, z_ln=z_t, lacks_ln=(f"connection of {name}{wrong}",))  # its own part is a bound
    # One winding: its loop is twice the impedance per phase ahead, or the loop line to neutral there.
    of_loop = sides.across[-1:] == (-1,)
    loop = square if of_loop else 2 * square
    two_wire = load.wires == 2
    own = 2 * z_t if two_wire else half_winding(2 * z_t, *half_winding_factors())
    return replace(
        head, z_ln=own, factor=loop / 2, of_loop=of_loop, factor_ln=loop if two_wire else loop / 4, of_loop_ln=of_loop
    )


@dataclass(frozen=True)
class FlowHead:
    """How a transformer couples the load flow of its two sides; ``coupling`` is ``None`` where ``lacks`` says why."""

    coupling: flow.Coupling | None
    lacks: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()


def flow_head(zone: Zone, supply: str | None, phases: str, name: str) -> FlowHead:
    """Coupling of a zone's transformer for the load flow, at its nameplate impedance without tolerance."""
    item = zone.transformer
    assert item is not None
    found = sides_of(zone, supply, phases, name)
    if not isinstance(found, Sides):
        return FlowHead(None, found)
    assert zone.system is not None
    load = tables.system(zone.system)
    assumed = list(found.assumed)
    z = transformer_z(item, zone.system)
    if z is None:
        z = 0j
        assumed.append(f"voltage drop inside {name} left out (its rating or impedance is not known)")
    elif item.x_r is None:
        assumed.append(f"X/R of {name} not known: taken as all reactance")
    if load.phases == 1:
        if len(found.across) == 3:
            return FlowHead(None, (f"phases that feed {name}",))
        across = (found.across[0], found.across[1])
        if load.wires == 2:
            return FlowHead(flow.single_phase(found.v_ahead, found.v_load, 2 * z, across), (), tuple(assumed))
        coupling = flow.center_tapped(found.v_ahead, found.v_load, 2 * z, across, *half_winding_factors())
        return FlowHead(coupling, (), tuple(assumed))
    kind = zone.connection
    tapped = zone.system == HIGH_LEG
    if kind is None:
        kind = "delta-wye" if load.v_ln is not None and not tapped else "delta-delta"
        assumed.append(f"connection of {name} taken as {kind}")
    make = {
        ("delta-wye", True): flow.delta_wye, ("wye-wye", True): flow.wye_wye,
        ("delta-delta", False): flow.delta_delta, ("wye-delta", False): flow.wye_delta,
    }.get((kind, load.v_ln is not None and not tapped))  # fmt: skip
    if make is None:
        return FlowHead(None, (f"connection of {name} ({kind} does not give {zone.system})",))
    if tapped:
        coupling = flow.high_leg(make(found.v_ahead, found.v_load, z), z, *half_winding_factors())
        return FlowHead(coupling, (), tuple(assumed))
    return FlowHead(make(found.v_ahead, found.v_load, z), (), tuple(assumed))
