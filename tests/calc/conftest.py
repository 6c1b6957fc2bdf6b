"""A small general circuit solver from first principles (Kirchhoff, modified nodal analysis), the oracle of this room.

It knows nothing of trees, phases or neutrals: every conductor, the neutral too, is an element of its own between two
points, and transformers are windings on a core.
"""

from __future__ import annotations

import numpy as np
import pytest


class Circuit:
    """Elements between named points; "0" is the reference. ``solve`` returns the complex voltage of every point."""

    def __init__(self) -> None:
        self.impedances: list[tuple[str, str, complex]] = []
        self.sources: list[tuple[str, str, complex]] = []
        self.cores: list[list[tuple[str, str, float]]] = []
        self.loads: list[tuple[str, str, complex]] = []
        #: After ``solve``: current out of the first point of every source, through the circuit, into its second.
        self.source_currents: list[complex] = []

    def impedance(self, a: str, b: str, z: complex) -> None:
        self.impedances.append((a, b, z))

    def source(self, a: str, b: str, volts: complex) -> None:
        """Ideal voltage of ``a`` against ``b``."""
        self.sources.append((a, b, volts))

    def core(self, *windings: tuple[str, str, float]) -> None:
        """Ideal windings (from, to, turns) on one core."""
        self.cores.append(list(windings))

    def load(self, a: str, b: str, va: complex) -> None:
        """Constant complex power between two points."""
        self.loads.append((a, b, va))

    def solve(self) -> dict[str, complex]:
        """Voltages by repeated linear solution with the loads as currents, until they no longer change."""
        points = sorted({p for a, b, _ in [*self.impedances, *self.sources, *self.loads] for p in (a, b)}
                        | {p for core in self.cores for a, b, _ in core for p in (a, b)} | {"0"})  # fmt: skip
        at = {p: k for k, p in enumerate(p for p in points if p != "0")}
        n = len(at)
        windings = [w for core in self.cores for w in core]
        size = n + len(self.sources) + len(windings)
        matrix = np.zeros((size, size), complex)
        fixed = np.zeros(size, complex)

        def put(row: int, point: str, value: complex) -> None:
            if point != "0":
                matrix[row, at[point]] += value

        for a, b, z in self.impedances:
            for p, q in ((a, b), (b, a)):
                if p != "0":
                    put(at[p], p, 1 / z)
                    put(at[p], q, -1 / z)
        column = n
        for a, b, volts in self.sources:
            put(column, a, 1)
            put(column, b, -1)
            fixed[column] = volts
            for p, sign in ((a, 1), (b, -1)):
                if p != "0":
                    matrix[at[p], column] += sign
            column += 1
        for core in self.cores:
            start = column
            for k, (a, b, turns) in enumerate(core):
                for p, sign in ((a, 1), (b, -1)):
                    if p != "0":
                        matrix[at[p], start + k] += sign
                if k == 0:  # ampere-turns cancel
                    for m, (_, _, other) in enumerate(core):
                        matrix[start, start + m] += other
                else:  # volts per turn are the same
                    a0, b0, turns0 = core[0]
                    for p, value in ((a, 1 / turns), (b, -1 / turns), (a0, -1 / turns0), (b0, 1 / turns0)):
                        put(start + k, p, value)
            column += len(core)

        voltage = np.linalg.solve(matrix, fixed)
        for _ in range(500):
            right = fixed.copy()
            for a, b, va in self.loads:
                across = (voltage[at[a]] if a != "0" else 0) - (voltage[at[b]] if b != "0" else 0)
                current = np.conj(va / across)
                if a != "0":
                    right[at[a]] -= current
                if b != "0":
                    right[at[b]] += current
            new = np.linalg.solve(matrix, right)
            change = np.abs(new[:n] - voltage[:n]).max()
            voltage = new
            if change < 1e-10:
                break
        else:
            raise AssertionError("the oracle did not converge")
        self.source_currents = [-voltage[n + k] for k in range(len(self.sources))]
        return {"0": 0j, **{p: voltage[k] for p, k in at.items()}}


@pytest.fixture
def circuit() -> Circuit:
    return Circuit()
