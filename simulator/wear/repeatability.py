"""Repeatability: how well a lens finds the same place again, by ISO 9283 and ISO 230-2.

A session is a number of travels to one preset, the position read after each; ISO 9283 asks for 30.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot, sqrt
from statistics import mean, stdev
from typing import Final, NamedTuple

FEWEST: Final = 2
ISO_9283_CYCLES: Final = 30


class Unidirectional(NamedTuple):
    """Positions approached from one side."""

    mean: float
    spread: float
    """The standard deviation, over n - 1."""
    repeatability: float
    """Four standard deviations (ISO 230-2)."""


class Bidirectional(NamedTuple):
    """Positions approached from both sides."""

    up: Unidirectional
    down: Unidirectional
    reversal: float
    """How much further the approach from below comes (ISO 230-2: B)."""
    repeatability: float
    """The largest of both, and of two spreads of each with the reversal (ISO 230-2: R)."""


def unidirectional(positions: Sequence[float]) -> Unidirectional:
    """Judge positions from one side; raises ValueError for fewer than two."""
    if len(positions) < FEWEST:
        raise ValueError(f"{len(positions)} positions: at least {FEWEST} tell a spread")
    spread = stdev(positions)
    return Unidirectional(mean(positions), spread, 4 * spread)


def bidirectional(up: Sequence[float], down: Sequence[float]) -> Bidirectional:
    """Judge positions from both sides; raises ValueError for fewer than two of either."""
    above, below = unidirectional(up), unidirectional(down)
    reversal = above.mean - below.mean
    both = 2 * above.spread + 2 * below.spread + abs(reversal)
    worst = max(both, above.repeatability, below.repeatability)
    return Bidirectional(above, below, reversal, worst)


class Pose(NamedTuple):
    """Places in the plane (ISO 9283)."""

    repeatability: float
    """RP: the mean distance from the middle of all, and three standard deviations of it."""
    accuracy: float
    """AP: how far that middle lies from where it should be."""


def judge_pose(
    places: Sequence[tuple[float, float]], wanted: tuple[float, float] = (0.0, 0.0)
) -> Pose:
    """Judge places that should all be the same one; raises ValueError for fewer than two."""
    if len(places) < FEWEST:
        raise ValueError(f"{len(places)} places: at least {FEWEST} tell a spread")
    middle = mean(x for x, _ in places), mean(y for _, y in places)
    apart = [hypot(x - middle[0], y - middle[1]) for x, y in places]
    far = mean(apart)
    spread = sqrt(sum((one - far) ** 2 for one in apart) / (len(apart) - 1))
    return Pose(far + 3 * spread, hypot(middle[0] - wanted[0], middle[1] - wanted[1]))
