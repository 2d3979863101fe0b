"""When a preset will show that it has crept: the first passage of a limit.

Where the creep is what it is, the level is a Brownian motion with drift, and the time until it
passes a limit is inverse Gaussian. Creep and level are known as a mixture of Gaussians only, so
the answer is the mean over it, by Gauss-Hermite quadrature.
"""

from __future__ import annotations

from math import exp, inf, log
from typing import Final, NamedTuple

import numpy as np
from scipy.optimize import brentq
from scipy.special import log_ndtr, ndtr

from simulator.wear.creep import POINTS, Belief
from simulator.wear.kalman_filter import Figures

OVERSHOOT: Final = 0.5826
"""A walk in steps overshoots a limit by so many step sizes on average (-zeta(1/2) / sqrt(2 pi))."""
ONE_IN_TWENTY: Final = 1.6448536269514722
"""Scatter stays within so many standard deviations of the level in 19 of 20 travels, one-sided."""
FURTHEST: Final = 1e6
"""Forecasts end after so many travels."""

_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(9)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()
_FEW, _FEW_WEIGHTS = np.polynomial.hermite_e.hermegauss(5)
_FEW_WEIGHTS = _FEW_WEIGHTS / _FEW_WEIGHTS.sum()
_TOO_LITTLE: Final = 2e-5
_SOONEST: Final = 0.5


class Bounds(NamedTuple):
    """How far a level may go either way before it shows, in units; inf: as far as it likes."""

    up: float
    down: float
    """A distance, positive."""


class Forecast(NamedTuple):
    """When a preset will show that it has crept, in travels from now on."""

    first: float
    """The count by which it shows with a probability of 5 %; inf: never, as far as is known."""
    middle: float
    last: float
    """The count for 95 %; `middle` is that for 50 %."""


class FirstPassage:
    """The probability that one travel in twenty passes a bound, by any count from now on."""

    def __init__(self, belief: Belief, count: int, bounds: Bounds, taken: float = 0.0) -> None:
        """Look ahead from `count`, at or after the belief's last measurement.

        `taken` is the part of the way to a bound that is used up by anything besides scatter.
        """
        track = belief.at(count)
        shared, variance = track.known[0, 1], track.known[1, 1]
        slope = np.divide(shared, variance, out=np.zeros_like(variance), where=variance > 0)
        rest = np.sqrt(np.maximum(track.level_variance - slope * shared, 0.0))
        weight = belief.weight[:, None, None] * _WEIGHTS[:, None] * _FEW_WEIGHTS
        kept = np.nonzero(weight > _TOO_LITTLE)
        lens, node, few = kept
        self._weight = weight[kept]
        self._whole = float(self._weight.sum())
        self._creep, self._node = track.mean[1:, lens], _NODES[node]
        self._variance = track.known[1:, 1:, lens]
        self._walk = belief.walk[lens]
        apart = np.sqrt(variance[lens]) * self._node
        start = track.level[lens] + slope[lens] * apart + rest[lens] * _FEW[few]
        used = taken + ONE_IN_TWENTY * belief.scatter[lens]
        self._up, self._down = bounds.up - used - start, bounds.down - used + start
        self._over = (self._up <= 0) | (self._down <= 0)
        step = OVERSHOOT * self._walk
        self._up, self._down = self._up + step, self._down + step

    def by(self, travels: float) -> float:
        """Return the probability that it shows within so many travels from now on."""
        if travels <= 0:
            return float(np.sum(self._weight[self._over])) / self._whole
        # On average over the way it creeps as it does half way: a creep that changes is less known.
        half = np.array([1, travels / 2])
        variance = np.tensordot(half, np.tensordot(half, self._variance, 1), 1)
        creep = half @ self._creep + np.sqrt(np.maximum(variance, 0.0)) * self._node
        chance = _reached(self._up, creep, self._walk, travels)
        chance = chance + _reached(self._down, -creep, self._walk, travels)
        chance = np.where(self._over, 1.0, np.minimum(chance, 1.0))
        return float(np.sum(self._weight * chance)) / self._whole


class AnyOf:
    """The probability that something shows at any of some edges.

    Opposite edges move together, so of each pair the likelier counts; the pairs count as if one
    knew nothing of the other. That is never less than for any edge by itself.
    """

    def __init__(self, pairs: tuple[tuple[FirstPassage, ...], ...]) -> None:
        """Take the edges in pairs that lie opposite each other."""
        self._pairs = pairs

    def by(self, travels: float) -> float:
        """Return the probability that it shows within so many travels from now on."""
        none = 1.0
        for pair in self._pairs:
            none *= 1 - max(one.by(travels) for one in pair)
        return 1 - none

    def when(self, probability: float) -> float:
        """Return the count of travels by which it shows with a probability; inf: there is none."""
        if self.by(0) >= probability:
            return 0.0
        if self.by(FURTHEST) < probability:
            return inf
        if self.by(_SOONEST) >= probability:
            return _SOONEST
        root = brentq(
            lambda x: self.by(exp(x)) - probability, log(_SOONEST), log(FURTHEST), xtol=1e-3
        )
        return exp(root)

    def forecast(self) -> Forecast:
        """Return the counts at which it shows with 5 %, 50 % and 95 %."""
        return Forecast(*(self.when(point) for point in POINTS))


def _reached(limit: Figures, drift: Figures, step: Figures, travels: float) -> Figures:
    """Return the probability that a Brownian motion with drift reaches a limit within a time.

    This is the inverse Gaussian distribution, in a form that also holds for drift away from it.
    A limit at infinity is never reached.
    """
    far = np.minimum(limit, 1e9)
    root = step * np.sqrt(travels)
    direct = ndtr((drift * travels - far) / root)
    mirrored = np.exp(
        np.minimum(2 * drift * far / step**2 + log_ndtr((-drift * travels - far) / root), 0.0)
    )
    return np.asarray(direct + mirrored)
