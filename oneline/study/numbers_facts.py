"""Impedances of the things on a drawing, and what is missing to know them.

Two readings of each conductor run: for the fault current (cold conductors, the raceway that gives the larger current
where it is not known) and for voltage drop (75 degrees C, the raceway that gives the larger drop where it is not known).
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field
from functools import lru_cache

from oneline import tables
from oneline.calc import fault
from oneline.calc.flow import half_winding, high_leg_z
from oneline.calc.flow_tree import Array
from oneline.model import ConductorRun, Generator, Item, UtilityService, basis_of

#: Bases of a transformer's impedance that stand for a tested value, which needs no tolerance.
TESTED = ("measured", "documents")
HIGH_LEG = "240D/120-HL"
#: Groups of raceways with impedances of their own.
_RACEWAY_GROUPS = ("pvc", "steel")


@dataclass(frozen=True)
class RunFigures:
    """Impedances of one conductor run in ohms, one way; 0 where not known, with the reason in ``lacks``.

    ``row``: phase and neutral for the fault current, phase and neutral for voltage drop, and the length in feet over
    (C x sets) of the point-to-point method. ``lacks`` makes the phase impedance unknown, ``lacks_neutral`` the
    neutral's, ``lacks_hand`` the constant C. ``neutral``: whether there is one (``None``: not known). ``assumed``: what
    was assumed for the impedances. ``hand_from_memory``: whether the constant C is only from memory.
    """

    row: tuple[complex, complex, complex, complex, complex]
    lacks: tuple[str, ...] = ()
    lacks_neutral: tuple[str, ...] = ()
    lacks_hand: tuple[str, ...] = ()
    neutral: bool | None = True
    assumed: tuple[str, ...] = ()
    hand_from_memory: bool = False
    #: What to find out where the raceway is not known: ``row`` has the one that gives the larger fault current.
    open_raceway: tuple[str, ...] = ()
    #: Phase and neutral for the fault current as large as any raceway makes them; ``None``: as in ``row``.
    most: tuple[complex, complex] | None = None
    #: Which of the above are there, as bits (``FLAGS``), so that they are read over whole arrays.
    flags: int = field(init=False, repr=False, compare=False)
    #: ``row`` as the bytes of five complex numbers, for the same reason.
    packed: bytes = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        there = (
            bool(self.lacks), bool(self.lacks_neutral), bool(self.lacks_hand), self.neutral is False,
            self.hand_from_memory, bool(self.open_raceway), self.most is not None,
        )  # fmt: skip
        object.__setattr__(self, "packed", struct.pack("=10d", *(part for z in self.row for part in (z.real, z.imag))))
        object.__setattr__(self, "flags", sum(FLAGS[name] for name, is_so in zip(FLAGS, there, strict=True) if is_so))


#: Bits of what is to be said of a run.
FLAGS = {
    "lacks": 1, "lacks_neutral": 2, "lacks_hand": 4, "without_neutral": 8, "hand_from_memory": 16, "open_raceway": 32,
    "most": 64,
}  # fmt: skip

#: A contact or a bolted connection: no impedance.
NOTHING = RunFigures((0j, 0j, 0j, 0j, 0j))


def figures_of(run: ConductorRun) -> RunFigures:
    """Figures of a drawn run. Items never change, so they are kept with the item: an edit makes a new one."""
    found = run.__dict__.get("_figures")
    if found is None:
        found = run_figures(run.sets, run.size, run.material, run.length_ft, run.neutral_size, run.raceway)
        run.__dict__["_figures"] = found
    assert isinstance(found, RunFigures)
    return found


@lru_cache(maxsize=50_000)
def run_figures(
    sets: int | None, size: str | None, material: str | None, length_ft: float | None, neutral_size: str | None,
    raceway: str | None,
) -> RunFigures:  # fmt: skip
    """Figures of a run with these fields. ``lacks`` are phrases with "{}" for the run's name."""
    lacks = [
        phrase
        for value, phrase in (
            (length_ft, "length of {}"),
            (size, "conductor size of {}"),
            (material, "conductor material of {}"),
            (sets, "number of sets of {}"),
        )
        if value is None
    ]
    group = tables.raceway_group(raceway)
    assumed: tuple[str, ...] = ()
    if raceway is not None and group is None:
        lacks.append("impedance of {} from the maker of the busway")
    elif raceway is None:
        assumed = ("raceway of {} taken as nonmagnetic for the fault current, as steel for voltage drop",)
    neutral = None if neutral_size is None else neutral_size != "none"
    unknown_neutral = ("neutral size of {}",) if neutral is None else ()
    if lacks:
        return RunFigures(NOTHING.row, tuple(lacks), unknown_neutral, tuple(lacks), neutral, assumed)
    assert length_ft is not None
    assert size is not None
    assert material is not None
    assert sets is not None
    groups = (group or "pvc", group or "steel")
    phase = _fault_and_drop(size, material, groups, length_ft, sets)
    if phase is None:
        lack = (f"impedance of the {size} conductors of {{}} (the impedance table has no such size)",)
        return RunFigures(NOTHING.row, lack, unknown_neutral, lack, neutral, assumed)
    own = (0j, 0j)
    if neutral:
        assert neutral_size is not None
        found = _fault_and_drop(neutral_size, material, groups, length_ft, sets)
        if found is None:
            unknown_neutral = (
                f"impedance of the {neutral_size} neutral of {{}} (the impedance table has no such size)",
            )
        else:
            own = found
    c = tables.point_to_point_c(size, material, groups[0])
    hand = 0j if c is None else complex(length_ft / (c * sets))
    no_c = () if c is not None else (f"constant C of the {size} {material} conductors of {{}}",)
    recalled = isinstance(c, tables.FromMemory)
    row = (phase[0], own[0], phase[1], own[1], hand)
    if group is not None:
        return RunFigures(row, (), unknown_neutral, no_c, neutral, assumed, recalled)
    most = _most(size, material, length_ft, sets), _most(neutral_size, material, length_ft, sets) if own[0] else 0j
    need = ("raceway of {}",) if most != (phase[0], own[0]) else ()
    return RunFigures(row, (), unknown_neutral, no_c, neutral, assumed, recalled, need, most)


def _most(size: str | None, material: str, length_ft: float, sets: int) -> complex:
    """Impedance for the fault current with the resistance and the reactance of whichever raceway has more of them."""
    assert size is not None
    found = [_fault_and_drop(size, material, (group, group), length_ft, sets) for group in _RACEWAY_GROUPS]
    known = [z[0] for z in found if z is not None]
    return complex(max(z.real for z in known), max(z.imag for z in known))


def _fault_and_drop(
    size: str, material: str, groups: tuple[str, str], length_ft: float, sets: int
) -> tuple[complex, complex] | None:
    try:
        cold, warm = (tables.ac_impedance(size, material, group) for group in groups)
    except tables.NotInTable:
        return None
    table_c = tables.limit_value("resistance_table_c")
    r = tables.temperature_correct(cold[0], material, table_c, tables.limit_value("fault_conductor_c"))
    return (
        complex(fault.run_impedance(r, cold[1], length_ft, sets)),
        complex(fault.run_impedance(warm[0], warm[1], length_ft, sets)),
    )


def cold_impedance(size: str, material: str, group: str, length_ft: float, sets: int) -> complex | None:
    """Impedance of a conductor for the fault current, ohms; ``None`` for a size the table does not have."""
    found = _fault_and_drop(size, material, (group, group), length_ft, sets)
    return None if found is None else found[0]


@dataclass(frozen=True)
class HeadFigures:
    """What stands at the head of a voltage zone: a source, or a transformer with what it passes on from ahead of it.

    ``z``: ohms per phase (half of the loop of a single-phase system). ``z_ln``: loop line to neutral; ``None`` where
    nothing is known of it or there is no neutral, its least value where ``lacks_ln`` says what is missing. ``hand``: sum
    of the magnitudes per phase, ohms. Of a transformer these are what it adds. ``given_a``: a current given where the
    voltage is not known. ``angle_known``: whether X/R is; ``need_x_r``: what to find out where it can be anything.

    A transformer of voltage ``ratio`` (load side over the side ahead) passes on ``factor`` times what is ahead of it, and
    ``factor_ln`` to the loop line to neutral; ``of_loop``/``of_loop_ln`` say whether that is the loop line to neutral
    ahead or the impedance per phase.

    ``lacks``, ``lacks_ln`` (of the loop only): phrases of what is not known. ``bounded``: whether an upper bound can be
    given when something is lacking. ``assumed`` lowers the basis of the result, ``notes`` only tell the method.
    """

    z: complex = 0j
    z_ln: complex | None = None
    hand: float = 0.0
    given_a: float | None = None
    angle_known: bool = True
    need_x_r: str = ""
    ratio: float = 0.0
    factor: float = 0.0
    of_loop: bool = False
    factor_ln: float = 0.0
    of_loop_ln: bool = False
    lacks: tuple[str, ...] = ()
    lacks_ln: tuple[str, ...] = ()
    bounded: bool = False
    assumed: tuple[str, ...] = ()
    assumed_ln: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def source_figures(source: Item, code: str | None, name: str) -> HeadFigures:
    """Figures of a source at its terminals."""
    if isinstance(source, UtilityService):
        return _service(source, code, name)
    if isinstance(source, Generator):
        return _generator(source, code, name)
    return HeadFigures(lacks=(f"a source that holds the voltage ahead of {name}",))


def _service(service: UtilityService, code: str | None, name: str) -> HeadFigures:
    if service.fault_ka is not None:
        return _given(service, code, name)
    if service.transformer_kva is None or service.transformer_z_pct is None:
        return _without_transformer(service, code, name)
    if code is None:
        return HeadFigures(lacks=(f"system voltage of {name}",))
    system = tables.system(code)
    three = system.phases == 3
    tolerance = tolerance_of(service, "transformer_z_pct")
    z_t = fault.transformer_impedance(
        service.transformer_kva, service.transformer_z_pct, system.v_ll, service.transformer_x_r, tolerance, three
    )
    up = 0j
    notes = [tolerance_note(f"the transformer of {name}", tolerance)] if tolerance != 1 else []
    if service.primary_fault_mva:
        up = fault.primary_impedance(service.primary_fault_mva, system.v_ll, None, three)
    else:
        notes.append(f"primary supply of {name} taken as unlimited")
    known = service.transformer_x_r is not None
    assumed = () if known else (all_reactance(f"the transformer of {name}"),)
    return HeadFigures(
        up + z_t, line_neutral(code, up, z_t), abs(up) + abs(z_t), angle_known=known,
        need_x_r="" if known else f"X/R of the transformer of {name}", bounded=True,
        assumed=(*assumed, *_equal_units(code, name)), notes=tuple(notes),
    )  # fmt: skip


def _without_transformer(service: UtilityService, code: str | None, name: str) -> HeadFigures:
    """Of the utility's transformer rating or impedance is not known; what its primary can give still bounds it."""
    lack = f"available fault current at {name}, or kVA and %Z of its transformer"
    if service.transformer_kva is not None:
        lack = f"impedance (%Z) of the transformer of {name}, or its available fault current"
    if not service.primary_fault_mva or code is None:
        return _unlimited(code, (lack,))
    system = tables.system(code)
    up = fault.primary_impedance(service.primary_fault_mva, system.v_ll, None, system.phases == 3)
    return HeadFigures(up, line_neutral(code, up, 0j), abs(up), lacks=(lack,), bounded=True)


def _unlimited(code: str | None, lacks: tuple[str, ...]) -> HeadFigures:
    """A source of which nothing but the voltage is known: behind conductors their own impedance still bounds what it
    gives."""
    if code is None:
        return HeadFigures(lacks=lacks)
    return HeadFigures(0j, line_neutral(code, 0j, 0j), lacks=lacks, bounded=True)


def _equal_units(code: str | None, name: str) -> tuple[str, ...]:
    """How a four-wire delta is taken that the utility made of transformers nobody read."""
    return (f"bank of {name} taken as three equal transformers in a closed delta",) if code == HIGH_LEG else ()


def _given(service: UtilityService, code: str | None, name: str) -> HeadFigures:
    assert service.fault_ka is not None
    amperes = service.fault_ka * 1000
    if amperes <= 0:
        return HeadFigures(lacks=(f"available fault current at {name} (more than zero)",))
    if code is None:
        return HeadFigures(given_a=amperes, lacks=(f"system voltage of {name}",))
    system = tables.system(code)
    z = fault.source_impedance(amperes, system.v_ll, service.fault_x_r, system.phases == 3)
    known = service.fault_x_r is not None
    z_ln = line_neutral(code, 0j, z)
    return HeadFigures(
        z, z_ln, abs(z), angle_known=known, need_x_r="" if known else f"X/R at {name}", bounded=True,
        assumed=(*(() if known else (all_reactance(name),)), *_equal_units(code, name)),
        assumed_ln=() if z_ln is None else (f"line-to-neutral fault current at {name} taken from that of the lines",),
    )  # fmt: skip


def _generator(generator: Generator, code: str | None, name: str) -> HeadFigures:
    lacks = [
        phrase
        for value, phrase in (
            (generator.kva, f"rating of {name}"),
            (generator.xd_pct, f'subtransient reactance X"d of {name}'),
            (code, f"system voltage of {name}"),
        )
        if value is None
    ]
    if lacks:
        return _unlimited(code, tuple(lacks))
    assert generator.kva is not None
    assert generator.xd_pct is not None
    assert code is not None
    system = tables.system(code)
    z = fault.transformer_impedance(generator.kva, generator.xd_pct, system.v_ll, None, 1.0, system.phases == 3)
    # The loop is (z1 + z2 + z0) / 3 with z2 about z1; no zero-sequence reactance at all would be the largest current.
    z_ln = 2 / 3 * z if system.v_ln is not None and system.phases == 3 and code != HIGH_LEG else None
    lacks_ln = (f"zero-sequence reactance of {name}",) if system.v_ln is not None else ()
    return HeadFigures(z, z_ln, abs(z), angle_known=False, bounded=True, lacks_ln=lacks_ln)


def line_neutral(code: str, z_up: complex, z_transformer: complex) -> complex | None:
    """Loop line to neutral at the terminals of a transformer with a delta primary, or center-tapped.

    On a four-wire delta of the legs A and C; ahead of the winding half the line current flows in two lines.
    """
    system = tables.system(code)
    if system.v_ln is None:
        return None
    if code == HIGH_LEG:
        return z_up / 2 + complex(high_leg_matrix(z_transformer)[0, 0])
    if system.wires == 2:
        return 2 * (z_up + z_transformer)
    if system.grounding == "midpoint":
        return z_up / 2 + half_winding(2 * z_transformer, *half_winding_factors())
    return fault.secondary_line_neutral(z_up, z_transformer)


def high_leg_matrix(z: complex) -> Array:
    """Impedances of the windings of a four-wire delta from its lines to its neutral; ``z``: per phase, ohms."""
    return high_leg_z(z, *half_winding_factors())


def half_winding_factors() -> tuple[float, float]:
    """(resistance, reactance) of a half winding, times those of the whole on the half's own base."""
    return tables.limit_value("half_winding_resistance_factor"), tables.limit_value("half_winding_reactance_factor")


def tolerance_of(item: Item, field: str) -> float:
    """Factor on a transformer's impedance for the largest fault current: 1 where it was tested."""
    return 1.0 if basis_of(item, field) in TESTED else tables.limit_value("impedance_tolerance")


def tolerance_note(name: str, tolerance: float) -> str:
    """How the tolerance is told."""
    return f"impedance of {name} taken {100 * (1 - tolerance):g} % low for the largest fault current"


def all_reactance(name: str) -> str:
    """How an unknown X/R is told."""
    return f"X/R of {name} not known: taken as all reactance, which gives the larger current further down"
