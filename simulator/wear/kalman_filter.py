"""A Kalman filter of where a preset stands and how fast it creeps, for many lenses side by side.

Each entry of the arrays is one lens that might be the true one: its walk, its scatter, how much its
creep may change. Lengths are in `creep.unit_of` a room, counts are travels.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Figures = NDArray[np.float64]


class KalmanFilter:
    """The level and the creep of each lens, Gaussian, with what is known of both together."""

    __slots__ = ("creep", "creep_variance", "level", "level_variance", "shared")

    def __init__(self, level_variance: Figures, creep_variance: Figures) -> None:
        """Begin with level and creep at 0, known to within these variances."""
        self.level, self.creep = np.zeros_like(level_variance), np.zeros_like(level_variance)
        self.level_variance, self.creep_variance = level_variance, creep_variance
        self.shared = np.zeros_like(level_variance)

    def copy(self) -> KalmanFilter:
        """Return an independent copy; arrays are shared, because none is changed in place."""
        other = KalmanFilter(self.level_variance, self.creep_variance)
        other.level, other.creep, other.shared = self.level, self.creep, self.shared
        return other

    def first(self) -> KalmanFilter:
        """Return the first row by itself, where arrays have rows."""
        other = KalmanFilter(self.level_variance[0], self.creep_variance[0])
        other.level, other.creep, other.shared = self.level[0], self.creep[0], self.shared[0]
        return other

    def travel(self, travels: float, walk: Figures, quickening: Figures | float = 0.0) -> None:
        """Predict so many travels ahead; `quickening` is by how much creep changes in one."""
        changes = np.square(quickening) * travels
        self.level = self.level + self.creep * travels
        self.level_variance = (
            self.level_variance
            + 2 * travels * self.shared
            + travels**2 * (self.creep_variance + changes / 3)
            + walk**2 * travels
        )
        self.shared = self.shared + travels * (self.creep_variance + changes / 2)
        self.creep_variance = self.creep_variance + changes

    def align(self, variance: float, level: float = 0.0) -> None:
        """Set the level, known to within a variance; the creep goes on."""
        self.level = np.full_like(self.level, level)
        self.level_variance = np.full_like(self.level, variance)
        self.shared = np.zeros_like(self.level)

    def jump(self, variance: Figures | float) -> None:
        """Let the level be elsewhere by a distance with this variance; the creep goes on."""
        self.level_variance = self.level_variance + variance

    def see(self, offset: float, variance: Figures) -> Figures:
        """Take a measurement; return the logarithm of its likelihood, up to a constant."""
        spread = self.level_variance + variance
        surprise = offset - self.level
        gain, shift = self.level_variance / spread, self.shared / spread
        self.level = self.level + gain * surprise
        self.creep = self.creep + shift * surprise
        self.creep_variance = self.creep_variance - shift * self.shared
        self.shared = self.shared - gain * self.shared
        self.level_variance = self.level_variance - gain * self.level_variance
        return np.asarray(-0.5 * (surprise**2 / spread + np.log(spread)))
