"""Shares of receptacles and lighting that count at each position (Tables 220.45 and 220.47). Arrays (n, kinds)."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from oneline import tables
from oneline.rules.load import lighting_factor, office_governs, receptacle_factor
from oneline.study.load_sums import LIGHTING_ROWS, OFFICE, OFFICE_FLOOR, RECEPTACLES, Floats, lighting_kinds

#: Any number this large has the last, lowest demand factor.
MANY = 10**6


def receptacle_weights(va: Floats, weights: Floats) -> None:
    """Receptacles by their table; those of offices together with the others, unless the load by floor area is more."""
    office = va[:, OFFICE] if va.shape[1] > OFFICE else None
    every = va[:, RECEPTACLES] if office is None else va[:, RECEPTACLES] + office
    for at in np.flatnonzero(every > tables.limit_value("receptacle_first_va")):
        factor = receptacle_factor(float(every[at]))
        weights[at, RECEPTACLES] = factor
        if office is not None:
            weights[at, OFFICE] = factor
    if office is None or va.shape[1] <= OFFICE_FLOOR:
        return
    for at in np.flatnonzero(va[:, OFFICE_FLOOR] > 0):
        governs = office_governs(float(office[at]), float(va[at, OFFICE_FLOOR]))
        weights[at, OFFICE_FLOOR] = 1.0 if governs else 0.0
        if governs:
            weights[at, OFFICE] = 0.0
            weights[at, RECEPTACLES] = receptacle_factor(float(va[at, RECEPTACLES]))


def lighting_weights(va: Floats, edition: int) -> Iterator[tuple[int, int, float]]:
    """(kind, position, share) of lighting of uses with demand steps of their own, all of one use together."""
    for row in LIGHTING_ROWS:
        kinds = [k for k in lighting_kinds(row) if k < va.shape[1]]
        if not kinds:
            continue
        total = va[:, kinds].sum(axis=1)
        for at in np.flatnonzero(total > 0):
            factor = lighting_factor(float(total[at]), row, edition)
            for kind in kinds:
                yield kind, int(at), factor


def least_lighting_weights(width: int, edition: int) -> Iterator[tuple[int, float]]:
    """(kind, least share) where some of the lighting is not known."""
    for row in LIGHTING_ROWS:
        for kind in lighting_kinds(row):
            if kind < width:
                yield kind, lighting_factor(float(MANY) * MANY, row, edition)
