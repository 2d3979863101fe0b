"""How far both sides of a lens end apart by the readings alone, where no session says it.

Readings from both sides that take turns tell it by themselves: whatever creeps, walks or jumps goes
on from one to the next, and what belongs to a side comes and goes with it.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import numpy as np

from simulator.wear.disturbances import Disturbance, kinds, told
from simulator.wear.estimates import Basis
from simulator.wear.known_shapes import fit_shapes
from simulator.wear.sides import SIDES, both_measured, sides_unmeasured

HALVES: Final = (0.005, 0.03, 0.1)
"""How far off the middle a side ends, as a standard deviation, in units: each as likely (guess)."""
TURNS: Final = 2
"""So often readings must have come from another side than the one before: a bump may fall together
with one turn, and is seldom put back with the next."""
UNSURE: Final = 0.03
"""Until then either side may end so far from the middle: a standard deviation, in units (guess)."""


def with_sides(basis: Basis, found: Sequence[Disturbance] = ()) -> Basis:
    """Return what estimates rest on, with how far both sides end apart, given what has happened."""
    if both_measured(basis.sessions):
        return basis
    unsure = UNSURE * basis.unit
    if not sides_unmeasured(basis.read, basis.sessions):
        return basis._replace(beside=unsure if basis.from_both else 0.0)
    plain = basis._replace(apart=(0.0, 0.0), unsure=(unsure, unsure))
    if _turns(plain) < TURNS:
        return plain
    shape = np.array([[float(SIDES[one.side]) for one in basis.read]])
    alone, noted = plain._replace(unsure=(0.0, 0.0)), kinds(found)
    across, down = (
        fit_shapes(way._replace(series=told(way.series, noted)), shape, HALVES)
        for way in map(alone.course, ("across", "down"))
    )
    mm = basis.unit
    return basis._replace(
        apart=(2 * mm * float(across.sizes[0]), 2 * mm * float(down.sizes[0])),
        unsure=(mm * float(across.spread[0]), mm * float(down.spread[0])),
        told_apart=True,
    )


def _turns(basis: Basis) -> int:
    """Count the readings that are known to have come from another side than the one before."""
    sides = [one.side for one in basis.read if one.side]
    return sum(before != side for before, side in pairwise(sides))
