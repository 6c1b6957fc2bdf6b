"""The conductors, transformers and sources of a core as elements of a mesh, for faults and for the load flow.

Vertices of a core's node k: 5 k + 0, 1, 2 for the phases, + 3 for the neutral, + 4 for the equipment grounding conductor.
Star points of sides without a neutral come after them.

What is not known stands in as a *gap*: an element whose impedance is put in from outside, so that one can see which
figures depend on it and bound them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from oneline import tables
from oneline.calc.flow_tree import Array
from oneline.calc.mesh import Bank, Mesh, Wires, solve_mesh
from oneline.study.numbers_cores import Core, CoreBranch, CoreSource
from oneline.study.numbers_facts import HIGH_LEG, high_leg_matrix, tolerance_of

WIDTH, NEUTRAL, GROUND = 5, 3, 4
_PHASES = (0, 1, 2)


@dataclass(frozen=True)
class Gap:
    """Something that is not known: phrases of what is missing, and whether only the loop to the neutral has it."""

    needs: tuple[str, ...]
    neutral_only: bool = False


@dataclass
class Elements:
    """Wires (start, stop, ohms, gap or -1) and banks (bank, gap or -1, gap of its neutral or -1, X/R not known)."""

    count: int
    wires: list[tuple[int, int, complex, int]] = field(default_factory=list)
    banks: list[tuple[Bank, int, int, bool]] = field(default_factory=list)
    gaps: list[Gap] = field(default_factory=list)
    free: list[str] = field(default_factory=list)

    def gap(self, *needs: str, neutral_only: bool = False) -> int:
        self.gaps.append(Gap(needs, neutral_only))
        return len(self.gaps) - 1

    def star(self) -> int:
        self.count += 1
        return self.count - 1

    def wire(self, a: int, b: int, z: complex, gap: int = -1) -> None:
        self.wires.append((a, b, z, gap))

    def bank(self, bank: Bank, gap: int = -1, neutral_gap: int = -1, free: str = "") -> None:
        self.banks.append((bank, gap, neutral_gap, bool(free)))
        if free:
            self.free.append(free)


def fault_elements(core: Core) -> Elements:
    """Elements of a core for the largest fault current: cold conductors, impedances low by their tolerance."""
    found = Elements(WIDTH * len(core.nodes))
    for branch in core.branches:
        if branch.zone is None:
            _run(found, branch, 0)
        else:
            _transformer(found, branch, fault=True)
    for source in core.sources:
        _source(found, source)
    return found


def flow_elements(core: Core) -> Elements:
    """Elements of a core for the load flow: warm conductors, nameplate impedances. A source alone holds its voltage; of
    several each has its own impedance, because that decides which takes what part of the load."""
    found = Elements(WIDTH * len(core.nodes))
    for branch in core.branches:
        if branch.zone is None:
            _run(found, branch, 2)
        else:
            _transformer(found, branch, fault=False)
    for source in core.sources:
        if len(core.sources) > 1:
            if source.generator:
                found.gap(f"part of the load that {source.name} takes (its governor decides)")
            _source(found, source, core.volts[source.at])
        else:
            found.bank(_ideal(found, source, core.volts[source.at]))
    return found


def _run(found: Elements, branch: CoreBranch, column: int) -> None:
    """Wires of a run or a contact; ``column``: of the figures, 0 for faults and 2 for the load flow."""
    figures, name = branch.figures, branch.name
    z, z_neutral = figures.row[column], figures.row[column + 1]
    lacking = (*figures.lacks, *(figures.open_raceway if column == 0 else ()))
    gap = found.gap(*(p.format(name) for p in lacking)) if lacking else -1
    for p in branch.phases:
        found.wire(WIDTH * branch.a + p, WIDTH * branch.b + p, z, gap)
    if figures.neutral is False:
        return
    if figures.lacks_neutral and gap < 0:
        gap = found.gap(*(p.format(name) for p in figures.lacks_neutral), neutral_only=True)
    found.wire(WIDTH * branch.a + NEUTRAL, WIDTH * branch.b + NEUTRAL, z_neutral, gap)


def _transformer(found: Elements, branch: CoreBranch, fault: bool) -> None:
    assert branch.zone is not None
    assert branch.zone.system is not None
    assert branch.zone.transformer is not None
    assert branch.flow is not None
    assert branch.flow.coupling is not None
    assert branch.head is not None
    coupling, head = branch.flow.coupling, branch.head
    turns = coupling.turns
    used = [k for k in _PHASES if np.abs(turns[:, k]).max() > 0]
    through = np.abs(turns.sum(axis=1)).max() > 1e-12 * np.abs(turns).max()
    primary = [WIDTH * branch.a + k if k in used else -1 for k in _PHASES]
    primary.append(WIDTH * branch.a + NEUTRAL if through else -1)
    z = coupling.z * (tolerance_of(branch.zone.transformer, "z_pct") if fault else 1.0)
    lines = _lines(branch.b, branch.zone.system)
    neutral = _neutral(found, branch.b, branch.zone.system)
    gap = found.gap(*head.lacks) if head.lacks else -1
    neutral_gap = found.gap(*head.lacks_ln, neutral_only=True) if fault and head.lacks_ln else -1
    found.bank(
        Bank(lines, neutral, z, tuple(primary), turns), gap, neutral_gap, head.need_x_r if fault else ""
    )  # fmt: skip


def _lines(node: int, code: str) -> tuple[int, int, int]:
    system = tables.system(code)
    count = 3 if system.phases == 3 else 1 if system.wires == 2 else 2
    a, b, c = (WIDTH * node + k if k < count else -1 for k in _PHASES)
    return a, b, c


def _neutral(found: Elements, node: int, code: str) -> int:
    return WIDTH * node + NEUTRAL if tables.system(code).has_neutral else found.star()


def _source(found: Elements, source: CoreSource, volts: Array | None = None) -> None:
    """A source behind its own impedance."""
    assert source.system is not None
    head, system = source.head, tables.system(source.system)
    gap = found.gap(*head.lacks) if head.lacks else -1
    neutral_gap, own = -1, 0j
    if system.has_neutral:
        if head.z_ln is None or head.lacks_ln:
            neutral_gap = found.gap(*(head.lacks_ln or head.lacks), neutral_only=True)
        own = 0j if head.z_ln is None else head.z_ln - head.z
    z = high_leg_matrix(head.z) if source.system == HIGH_LEG else head.z * np.eye(3) + own
    bank = Bank(
        _lines(source.at, source.system), _neutral(found, source.at, source.system), z,
        emf=np.zeros(3) if volts is None else volts,
    )  # fmt: skip
    found.bank(bank, gap, neutral_gap, head.need_x_r)


def _ideal(found: Elements, source: CoreSource, volts: Array) -> Bank:
    assert source.system is not None
    return Bank(
        _lines(source.at, source.system), _neutral(found, source.at, source.system), np.zeros((3, 3)), emf=volts
    )  # fmt: skip


# ------------------------------------------------------------------------------------------------------------ solving
def solve(
    elements: Elements, gaps: Mapping[int, complex], default: complex = 1 + 1j, angles: tuple[float, ...] = ()
) -> Mesh:
    """The mesh with ``gaps`` filled in (the others with ``default`` ohms) and X/R that are not known at these angles."""
    z = np.array([w[2] if w[3] < 0 else gaps.get(w[3], default) for w in elements.wires], complex)
    turn = iter(angles)
    banks = []
    for bank, gap, neutral_gap, free in elements.banks:
        own = np.asarray(bank.z, complex)
        if free and angles:
            t = next(turn)
            own = _at_angle(own, t)
        if gap >= 0:
            own = gaps.get(gap, default) * np.eye(3)
        if neutral_gap >= 0:
            own = own + gaps.get(neutral_gap, default)
        banks.append(replace(bank, z=own))
    return solve_mesh(elements.count, _wires(elements, z), banks)


def solve_turned(elements: Elements, phi: float, least: float) -> Mesh:
    """The network of the real parts of every impedance turned back by ``phi``, what is not known as ``least`` ohms.

    By Tellegen's theorem an impedance seen from outside is the sum of every element's own times the square of its part of
    the current; turned back by ``phi`` its real part is no less than that of a network of resistances with these real
    parts, which shares the current so that the sum is least (Thomson's principle).
    """
    z = np.array([_real_part(w[2], phi) if w[3] < 0 else 0j for w in elements.wires], complex)
    banks = []
    for bank, gap, _, free in elements.banks:
        own = np.asarray(bank.z, complex)
        cosine, sine = np.cos(phi), np.sin(phi)
        # Of an unknown angle all is given as reactance; resistance instead is never less where a winding is divided.
        own = own.imag * min(cosine, sine) if free else own.real * cosine + own.imag * sine
        if gap >= 0:
            own = np.zeros((3, 3))
        banks.append(replace(bank, z=own + least * np.eye(3) + 0j))
    return solve_mesh(elements.count, _wires(elements, z), banks)


def _real_part(z: complex, phi: float) -> complex:
    turned = z.real * np.cos(phi) + z.imag * np.sin(phi)
    return complex(turned if turned > 1e-15 else 0.0)


def _at_angle(z: Array, t: float) -> Array:
    """An impedance given as all reactance, at the angle ``t``; a divided winding keeps its factor of reactance."""
    return np.asarray(z.imag * np.exp(1j * t))


def _wires(elements: Elements, z: Array) -> Wires:
    ends = np.array([(w[0], w[1]) for w in elements.wires], np.intp).reshape(-1, 2)
    return Wires(ends[:, 0], ends[:, 1], z)
