"""How far a preset has crept, how sure that is, and when it will show.

After each travel the picture stands a little elsewhere. Three things cause that, and measurements
at a handful of counts have to tell them apart:

    level(n + 1) = level(n) + creep + walk        creep is steady, walk is chance that stays
    seen(n)      = level(n) + scatter + error     scatter is chance that the next travel undoes

For given sizes of walk and scatter, and for what creep may be, a Kalman filter gives level and
creep. Nobody knows these sizes, so the filter runs over a grid of them, and each grid point is
weighted by how well it predicted the measurements. The result is a mixture of Gaussians; nothing
is sampled, so the same book gives the same answer.

Lengths are in units of the limit that matters; counts are travels. The priors are wide on purpose:
with few measurements the forecast rests on them, and its width says so.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from math import exp, inf, log, sqrt
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr, ndtr

Figures = NDArray[np.float64]

OVERSHOOT: Final = 0.5826
"""A walk in steps overshoots a limit by so many step sizes on average (-zeta(1/2) / sqrt(2 pi))."""
ONE_IN_TWENTY: Final = 1.6448536269514722
"""Scatter stays within so many standard deviations of the level in 19 of 20 travels, one-sided."""

CREEPS: Final = (1 / 20_000, 1 / 5_000, 1 / 1_500, 1 / 300)
LIKELY: Final = (0.3, 0.35, 0.3, 0.05)
"""The prior of creep: Gaussian, with one of these standard deviations a travel, each so likely."""
WALK: Final = (1 / 400, 1.0)
SCATTER: Final = (1 / 40, 0.8)
"""The priors of walk and scatter: the median, and the standard deviation of the logarithm."""
SPREAD: Final = np.linspace(-2.6, 2.6, 7)
"""The points of the grid, in standard deviations."""
ALIGNED: Final = 0.02
"""How far a realignment may miss, as a standard deviation."""

_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(9)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()
_FEW, _FEW_WEIGHTS = np.polynomial.hermite_e.hermegauss(5)
_FEW_WEIGHTS = _FEW_WEIGHTS / _FEW_WEIGHTS.sum()


class Observation(NamedTuple):
    """One measurement."""

    travels: int
    """The count at which it was read."""
    offset: float
    error: float
    """Its uncertainty, as a standard deviation."""
    resets: bool = False
    """Whether it was read right after a realignment, which sets the level anew."""
    rests: float = 0.0
    """Where the realignment has put the level; 0 unless the two sides differ."""
    doubt: float = 0.0
    """How far from there it may be, if nobody knows from which side the lens came."""


class RepeatabilitySession(NamedTuple):
    """What a repeatability session says of scatter: travels in a row, and their spread."""

    travels: int
    spread: float
    """The standard deviation of what was read (over n - 1)."""
    error: float


class KalmanFilter:
    """A Kalman filter of level and creep, for many sizes of walk and scatter side by side."""

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

    def travel(self, travels: float, walk: Figures) -> None:
        """Predict so many travels ahead."""
        self.level = self.level + self.creep * travels
        self.level_variance = (
            self.level_variance
            + 2 * travels * self.shared
            + travels**2 * self.creep_variance
            + walk**2 * travels
        )
        self.shared = self.shared + travels * self.creep_variance

    def align(self, variance: float, level: float = 0.0) -> None:
        """Set the level, known to within a variance; the creep goes on."""
        self.level = np.full_like(self.level, level)
        self.level_variance = np.full_like(self.level, variance)
        self.shared = np.zeros_like(self.level)

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


@dataclass(frozen=True, slots=True)
class Belief:
    """What is known of one offset after some measurements: a mixture over the grid."""

    count: int
    """Travels up to the last measurement."""
    weight: Figures
    walk: Figures
    scatter: Figures
    track: KalmanFilter

    def at(self, count: float) -> KalmanFilter:
        """Return the filter at a count that is not before the last measurement."""
        track = self.track.copy()
        track.travel(count - self.count, self.walk)
        return track

    def mean(self, count: float) -> float:
        """Return the expected level at a count."""
        return float(np.sum(self.weight * self.at(count).level))

    def deviation(self, count: float) -> float:
        """Return the standard deviation of the level at a count."""
        track = self.at(count)
        middle = np.sum(self.weight * track.level)
        apart = track.level_variance + (track.level - middle) ** 2
        return float(np.sqrt(np.sum(self.weight * apart)))

    def points(self, count: float) -> tuple[float, float, float]:
        """Return the 5 %, 50 % and 95 % points of the level at a count."""
        track = self.at(count)
        return _mixture_points(self.weight, track.level, np.sqrt(track.level_variance))

    def size(self, name: str) -> tuple[float, float, float]:
        """Return the 5 %, 50 % and 95 % points of walk, scatter or creep."""
        track = self.track
        if name == "creep":
            return _mixture_points(self.weight, track.creep, np.sqrt(track.creep_variance))
        values = getattr(self, name)
        order = np.argsort(values)
        reached = np.cumsum(self.weight[order])
        points = [values[order][min(np.searchsorted(reached, p), len(order) - 1)] for p in _POINTS]
        return float(points[0]), float(points[1]), float(points[2])


def _mixture_points(
    weight: Figures, means: Figures, deviations: Figures
) -> tuple[float, float, float]:
    """Return the 5 %, 50 % and 95 % points of a mixture of Gaussians."""
    low = float(np.min(means - 6 * deviations))
    high = float(np.max(means + 6 * deviations))

    def below(value: float) -> float:
        return float(np.sum(weight * ndtr((value - means) / deviations)))

    first, middle, last = (_solved(below, point, low, high) for point in _POINTS)
    return first, middle, last


_POINTS: Final = (0.05, 0.5, 0.95)


def believe(
    seen: Iterable[Observation],
    sessions: Iterable[RepeatabilitySession] = (),
    count: int = 0,
    doubt: float = 0.0,
) -> Belief:
    """Return what is known after measurements, which come in the order of their counts.

    The level begins at 0 at `count` travels, as a realignment leaves it, give or take `doubt`.
    """
    prior, walks, scatters = (
        axis.ravel() for axis in np.meshgrid(CREEPS, SPREAD, SPREAD, indexing="ij")
    )
    walk = WALK[0] * np.exp(WALK[1] * walks)
    median, deviation = _scatter_known(sessions)
    scatter = median * np.exp(deviation * scatters)
    score = np.repeat(np.log(LIKELY), len(prior) // len(LIKELY)) - 0.5 * (walks**2 + scatters**2)
    track = KalmanFilter(np.full_like(prior, ALIGNED**2 + doubt**2), prior**2)
    for one in seen:
        track.travel(one.travels - count, walk)
        count = one.travels
        if one.resets:
            track.align(ALIGNED**2 + one.doubt**2, one.rests)
        score = score + track.see(one.offset, scatter**2 + one.error**2)
    weight = np.exp(score - score.max())
    return Belief(count, weight / weight.sum(), walk, scatter, track)


def _scatter_known(sessions: Iterable[RepeatabilitySession]) -> tuple[float, float]:
    """Return the median of scatter and the deviation of its logarithm, given the sessions.

    The logarithm of a spread over n - 1 degrees is nearly Gaussian with a variance of 1 / 2(n - 1).
    """
    weight = 1 / SCATTER[1] ** 2
    total = weight * log(SCATTER[0])
    for session in sessions:
        own = max(session.spread**2 - session.error**2, (session.spread / 10) ** 2, 1e-12)
        degrees = 2.0 * (session.travels - 1)
        total += degrees * 0.5 * log(own)
        weight += degrees
    return exp(total / weight), 1 / sqrt(weight)


# ---------------------------------------------------------------------------------- when it shows


class Forecast(NamedTuple):
    """When a preset will show that it has crept, in travels from now on."""

    first: float
    """The count by which it shows with a probability of 5 %; inf: never, as far as is known."""
    middle: float
    last: float
    """The count for 95 %; `middle` is that for 50 %."""


FURTHEST: Final = 1e6
"""Forecasts end after so many travels."""


class FirstPassage:
    """The probability that one travel in twenty passes the limit (1), by any count from now on."""

    def __init__(self, belief: Belief, count: int, taken: float = 0.0) -> None:
        """Look ahead from `count`, at or after the belief's last measurement.

        `taken` is the part of the limit that is used up by anything besides scatter.
        """
        track = belief.at(count)
        variance = track.creep_variance
        creep = track.creep[:, None] + np.sqrt(variance)[:, None] * _NODES
        slope = np.divide(track.shared, variance, out=np.zeros_like(variance), where=variance > 0)
        rest = np.sqrt(np.maximum(track.level_variance - slope * track.shared, 0.0))
        middle = track.level[:, None] + slope[:, None] * (creep - track.creep[:, None])
        start = middle[:, :, None] + rest[:, None, None] * _FEW
        weight = belief.weight[:, None, None] * _WEIGHTS[:, None] * _FEW_WEIGHTS
        room = 1 - taken - ONE_IN_TWENTY * belief.scatter[:, None, None]
        kept = weight > _TOO_LITTLE
        self._weight = weight[kept]
        self._creep = np.broadcast_to(creep[:, :, None], start.shape)[kept]
        self._walk = np.broadcast_to(belief.walk[:, None, None], start.shape)[kept]
        step = OVERSHOOT * self._walk
        self._up = (room - start)[kept]
        self._down = (room + start)[kept]
        self._over = (self._up <= 0) | (self._down <= 0)
        self._up, self._down = self._up + step, self._down + step
        self._whole = float(self._weight.sum())

    def by(self, travels: float) -> float:
        """Return the probability that it shows within so many travels from now on."""
        if travels <= 0:
            return float(np.sum(self._weight[self._over])) / self._whole
        chance = _reached(self._up, self._creep, self._walk, travels)
        chance = chance + _reached(self._down, -self._creep, self._walk, travels)
        chance = np.where(self._over, 1.0, np.minimum(chance, 1.0))
        return float(np.sum(self._weight * chance)) / self._whole

    def when(self, probability: float) -> float:
        """Return the count of travels by which it shows with a probability; inf: there is none."""
        if self.by(0) >= probability:
            return 0.0
        if self.by(FURTHEST) < probability:
            return inf
        return float(
            np.exp(_solved(lambda x: self.by(np.exp(x)), probability, log(0.5), log(FURTHEST)))
        )

    def forecast(self) -> Forecast:
        """Return the counts at which it shows with 5 %, 50 % and 95 %."""
        return Forecast(*(self.when(point) for point in _POINTS))


USED_UP: Final = 0.7
"""The share of the way from the last measurement to the 5 % count after which a preset is due. It
is less than 1 because each forecast is one more chance to be wrong."""
ENOUGH: Final = 3
"""With fewer measurements than this there is no forecast."""


def due_count(last: float, first: float) -> float:
    """Return the count at which a preset is due: to be measured again, and perhaps aligned.

    `last` is the count of its last measurement, `first` the one by which it shows with 5 %.
    """
    return last + USED_UP * (first - last)


_TOO_LITTLE: Final = 2e-5


def _reached(limit: Figures, drift: Figures, step: Figures, travels: float) -> Figures:
    """Return the probability that a Brownian motion with drift reaches a limit within a time.

    This is the inverse Gaussian distribution, in a form that also holds for drift away from it.
    """
    root = step * np.sqrt(travels)
    direct = ndtr((drift * travels - limit) / root)
    mirrored = np.exp(
        np.minimum(2 * drift * limit / step**2 + log_ndtr((-drift * travels - limit) / root), 0.0)
    )
    return np.asarray(direct + mirrored)


def _solved(rises: Callable[[float], float], wanted: float, low: float, high: float) -> float:
    """Find by bisection where a rising function has a value."""
    for _ in range(24):
        middle = (low + high) / 2
        if rises(middle) < wanted:
            low = middle
        else:
            high = middle
    return (low + high) / 2
