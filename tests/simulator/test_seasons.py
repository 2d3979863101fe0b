"""A preset that goes out and back with the year is told to, and nothing else is."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from scipy.special import logsumexp
from scipy.stats import multivariate_normal

from engine.state import DAY
from simulator.wear.creep import ALIGNED, Observation, Series, grid_of
from simulator.wear.disturbances import WayRead, disturbances
from simulator.wear.known_shapes import fit_shapes
from simulator.wear.seasons import SWINGS, YEAR, swing
from tests.soak import sample

MILLIMETRE = 80 / 3_400
ERROR = 0.5 / 2**0.5 * MILLIMETRE
A_DAY = 3
"""Travels."""


def series_of(counts: np.ndarray, read: np.ndarray) -> Series:
    return tuple(
        Observation(int(at), float(far), ERROR, resets=number == 0)
        for number, (at, far) in enumerate(zip(counts, read, strict=True))
    )


def swinging(far: float, years: float, a_year: int, seed: int) -> tuple[list[WayRead], list[int]]:
    """Read a preset so often a year; it swings so many mm sideways either way, and else stays."""
    chance = np.random.default_rng(seed)
    read_at = np.arange(round(years * a_year) + 1) * YEAR / a_year
    out = far * MILLIMETRE * np.sin(2 * pi * read_at / YEAR + chance.uniform(0, 2 * pi))
    ways = []
    for way in range(3):
        read = (out - out[0]) * (way == 0) + ERROR * chance.normal(size=len(read_at))
        ways.append(WayRead(series_of(read_at / DAY * A_DAY, read)))
    return ways, [int(at) for at in read_at]


@pytest.mark.parametrize(("years", "a_year"), [(2, 4), (1.5, 6), (3, 4)])
def test_a_preset_that_swings_with_the_year_is_told_to(years: float, a_year: int) -> None:
    for seed in range(sample(4, 40)):
        ways, read_at = swinging(5, years, a_year, seed)
        found = swing(ways, read_at)
        assert found is not None, seed
        sideways, down, scale = (far / MILLIMETRE for far in found.by)
        assert sideways == pytest.approx(5, abs=1.5), seed
        assert max(down, scale) < 1, seed
        assert disturbances(found.rest) == (), seed


def test_what_is_read_within_a_year_says_nothing_of_years() -> None:
    ways, read_at = swinging(5, 0.9, 12, 0)
    assert swing(ways, read_at) is None


@pytest.mark.parametrize("walk", [0.0, 0.001, 0.004])
@pytest.mark.parametrize("creep", [0.0, 0.0004])
def test_what_creeps_or_walks_does_not_swing(walk: float, creep: float) -> None:
    """Read four times a year over three years (seeded); of a hundred five may look like it."""
    told = 0
    seeds = sample(8, 100)
    for seed in range(seeds):
        chance = np.random.default_rng((seed, 3))
        read_at = [round(number * YEAR / 4) for number in range(13)]
        counts = np.array(read_at) / DAY * A_DAY
        ways = []
        for _ in range(3):
            steps = creep * np.diff(counts) + walk * np.diff(counts) ** 0.5 * chance.normal(size=12)
            read = np.concatenate([[0.0], np.cumsum(steps)]) + 0.015 * chance.normal(size=13)
            ways.append(WayRead(series_of(counts, read)))
        told += swing(ways, read_at) is not None
    assert told <= max(1, 0.05 * seeds)


def test_how_likely_a_swing_is_is_that_of_the_joint_gaussian() -> None:
    """SciPy's multivariate normal, for each point of the grid and each size by itself (computed).

    Read right after an alignment, and then five times; the swing counts from the alignment on.
    """
    counts = np.array([0, 200, 500, 700, 1_100, 1_500])
    read = np.array([0.01, 0.06, 0.02, -0.05, 0.07, 0.03])
    turned = 2 * pi * counts / 1_000
    shapes = np.stack([np.cos(turned), np.sin(turned)])
    grid = grid_of(())
    lies = (shapes - shapes[:, :1]).T
    shared, since = np.minimum.outer(counts, counts), np.outer(counts, counts)
    plain, swings = [], []
    for creep, change, walk, scatter, likely in zip(*grid, strict=True):
        known = ALIGNED**2 + creep**2 * since + change**2 * since**2 / 4 + walk**2 * shared
        known = known + np.eye(6) * (scatter**2 + ERROR**2)
        plain.append(likely + multivariate_normal.logpdf(read, cov=known))
        for size in SWINGS:
            wider = known + size**2 * lies @ lies.T
            swings.append(likely + multivariate_normal.logpdf(read, cov=wider))
    expected = logsumexp(swings) - np.log(len(SWINGS)) - logsumexp(plain)
    found = fit_shapes(WayRead(series_of(counts, read)), shapes, SWINGS)
    assert found.gain == pytest.approx(expected, abs=1e-6)
