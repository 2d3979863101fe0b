"""How far both sides of a lens end apart is told by readings that take turns, and by no others."""

from __future__ import annotations

import numpy as np
import pytest

from engine.events import moment_of
from engine.state import DAY
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from simulator.wear.approach import with_sides
from simulator.wear.creep import unit_of
from simulator.wear.estimates import Basis, estimate_of
from simulator.wear.measurements import ApproachSide, Measured
from tests.golden.evenings import BEGINS
from tests.soak import sample

HAYLOFT = load(DEMO_ROOM.read_text(), DEMO_ROOM.name)
EVERY = 100
"""Travels between two readings."""


def basis_of(read: list[float], sides: list[ApproachSide | None], error: float = 0.5) -> Basis:
    """Read a preset every hundred travels, sideways alone; it was aligned at the first reading."""
    book = [
        Measured(
            id=number + 1,
            at=moment_of(BEGINS + number * 20 * DAY),
            preset="tall",
            left=far,
            right=far,
            top=0.0,
            bottom=0.0,
            unit="mm",
            error=error,
            lit=60,
            side=side,
            aligned=number == 0,
        )
        for number, (far, side) in enumerate(zip(read, sides, strict=True))
    ]
    counts = [EVERY * number for number in range(len(read))]
    return Basis(HAYLOFT, book, counts, (), counts[-1], unit_of(HAYLOFT), (0.0, 0.0))


def lens(
    seed: int, readings: int = 12
) -> tuple[list[float], list[ApproachSide | None], float, float]:
    """Make a lens that creeps; return its readings, their sides, the gap and where it stands."""
    chance = np.random.default_rng((seed, 19))
    gap, rate = chance.uniform(1, 14), chance.normal(0, 0.01)
    shorter = chance.random(readings) < 0.5
    ends = np.where(shorter, gap / 2, -gap / 2)
    middle = rate * EVERY * np.arange(readings)
    read = middle + ends - ends[0] + chance.normal(0, 0.45, readings)
    read[0] = chance.normal(0, 0.35)
    sides: list[ApproachSide | None] = ["shorter" if one else "longer" for one in shorter]
    return [float(one) for one in read], sides, float(gap), float(middle[-1] - ends[0])


def test_where_it_stands_in_the_middle_is_held_nine_times_in_ten() -> None:
    """Seeded: 1 to 14 mm between both sides, which no session has measured."""
    held, off = [], []
    for seed in range(sample(40, 400)):
        read, sides, gap, middle = lens(seed)
        basis = with_sides(basis_of(read, sides))
        low, _, high = estimate_of(basis, "across", ()).offset
        held.append(low <= middle <= high)
        off.append(abs(basis.apart[0] - gap))
    assert np.mean(held) >= 0.85
    assert np.median(off) < 0.5


def test_how_far_apart_is_what_least_squares_have_it() -> None:
    """NumPy's `lstsq` of a line and a step for the side; a walk that is small beside the errors."""
    for seed in range(8):
        read, sides, *_ = lens(seed, 30)
        side = np.array([1.0 if one == "shorter" else -1.0 for one in sides])
        travels = EVERY * np.arange(30.0)
        columns = np.stack([travels, side - side[0]], axis=1)
        (_, half), *_ = np.linalg.lstsq(columns, np.array(read), rcond=None)
        basis = with_sides(basis_of(read, sides))
        assert basis.apart[0] == pytest.approx(2 * half, abs=4 * basis.unsure[0] + 0.05), seed
        assert basis.unsure[0] < 0.25, seed


@pytest.mark.parametrize(
    "sides",
    [
        ["shorter", "shorter", "shorter", "longer", "longer"],
        ["shorter", "shorter", "shorter", "shorter", "longer"],
    ],
)
def test_a_side_that_never_comes_back_tells_nothing_but_makes_intervals_wider(
    sides: list[ApproachSide | None],
) -> None:
    """A bump that falls together with the turn would look the same."""
    basis = with_sides(basis_of([0.0, 0.2, 0.1, 6.0, 6.1], sides))
    assert (basis.told_apart, basis.apart) == (False, (0.0, 0.0))
    assert basis.unsure[0] > 0.5


@pytest.mark.parametrize("side", [None, "shorter", "longer"])
def test_readings_from_one_side_or_from_any_are_left_as_they_are(side: ApproachSide | None) -> None:
    basis = basis_of([0.0, 0.2, 0.1, 0.3], [side] * 4)
    assert with_sides(basis) == basis
