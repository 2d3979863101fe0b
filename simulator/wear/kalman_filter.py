"""A Kalman filter of where a preset stands, how it creeps and how that quickens, for many lenses.

Each entry of the arrays is one lens that might be the true one: its walk, its scatter, how much its
creep may change. Lengths are in `creep.unit_of` a room, counts are travels.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Figures = NDArray[np.float64]


def carry(known: Figures, travels: float, order: tuple[int, int, int] = (0, 1, 2)) -> None:
    """Carry a symmetric matrix over so many travels, in place.

    In each travel the first of `order` gains the second, and the second the third.
    """
    first, second, third = order
    for half in (known, known.swapaxes(0, 1)):
        half[first] += travels * half[second] + (travels**2 / 2) * half[third]
        half[second] += travels * half[third]


class KalmanFilter:
    """Level, creep and quickening of each lens, Gaussian, with what is known of them together."""

    __slots__ = ("known", "mean")

    def __init__(self, level: Figures, creep: Figures, quickening: Figures | float = 0.0) -> None:
        """Begin with all three at 0, known to within these variances."""
        self.mean = np.zeros((3, *level.shape))
        self.known = np.zeros((3, 3, *level.shape))
        self.known[0, 0], self.known[1, 1], self.known[2, 2] = level, creep, quickening

    @property
    def level(self) -> Figures:
        """Where each stands."""
        return np.asarray(self.mean[0])

    @property
    def creep(self) -> Figures:
        """How far each goes in a travel."""
        return np.asarray(self.mean[1])

    @property
    def level_variance(self) -> Figures:
        """How far the level may be elsewhere."""
        return np.asarray(self.known[0, 0])

    def copy(self) -> KalmanFilter:
        """Return an independent copy."""
        return self._of(self.mean, self.known)

    def first(self) -> KalmanFilter:
        """Return the first row by itself, where arrays have rows."""
        return self._of(self.mean[:, 0], self.known[:, :, 0])

    def _of(self, mean: Figures, known: Figures) -> KalmanFilter:
        other = KalmanFilter.__new__(KalmanFilter)
        other.mean, other.known = mean.copy(), known.copy()
        return other

    def travel(self, travels: float, walk: Figures) -> None:
        """Predict so many travels ahead."""
        mean = self.mean
        mean[0] += travels * mean[1] + (travels**2 / 2) * mean[2]
        mean[1] += travels * mean[2]
        carry(self.known, travels)
        self.known[0, 0] += walk**2 * travels

    def align(self, variance: float, level: float = 0.0) -> None:
        """Set the level, known to within a variance; creep and quickening go on."""
        self.mean[0] = level
        self.known[0] = self.known[:, 0] = 0.0
        self.known[0, 0] = variance

    def jump(self, variance: Figures | float) -> None:
        """Let the level be elsewhere by a distance with this variance; the creep goes on."""
        self.known[0, 0] += variance

    def see(self, offset: float | Figures, variance: Figures) -> Figures:
        """Take a measurement; return the logarithm of its likelihood, up to a constant."""
        spread = self.known[0, 0] + variance
        surprise = offset - self.mean[0]
        gain = self.known[0] / spread
        self.mean += gain * surprise
        self.known -= gain[:, None] * self.known[0]
        return np.asarray(-0.5 * (surprise**2 / spread + np.log(spread)))
