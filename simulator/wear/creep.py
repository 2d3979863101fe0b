"""How far a preset has crept, and how sure that is.

After each travel the picture stands a little elsewhere. Four things cause that, and measurements
at a handful of counts have to tell them apart:

    creep(n + 1) = creep(n) + quickening      creep is steady, or quickens, or slows down
    level(n + 1) = level(n) + creep(n) + quickening / 2 + walk     walk is chance that stays
    seen(n)      = level(n) + scatter + error     scatter is chance that the next travel undoes

Creep changes while the lens travels, so in t travels the level gains t^2 / 2 times the quickening.

For given sizes of walk and scatter, and for what creep and quickening may be, a Kalman filter gives
level and creep. Nobody knows these sizes, so the filter runs over a grid of them, and each grid
point is weighted by how well it predicted the measurements. The result is a mixture of Gaussians;
nothing is sampled, so the same book gives the same answer.

Now and then something else happens: somebody bumps the projector or stores the preset anew, or a
reading is wrong. `disturbances` finds these; here they are given.

Lengths are in `unit_of` a room; counts are travels. The priors are wide on purpose: with few
measurements the forecast rests on them, and its width says so.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import exp, log, sqrt
from typing import Final, NamedTuple

import numpy as np
from scipy.special import ndtr

from engine.room import Room
from simulator.wear.kalman_filter import Figures, KalmanFilter

ENOUGH: Final = 3
"""With fewer measurements than this there is no forecast."""
POINTS: Final = (0.05, 0.5, 0.95)
"""An interval is told by these points: nine in ten lie between the first and the last."""

CREEPS: Final = (1 / 40_000, 1 / 10_000, 1 / 2_500, 1 / 600, 1 / 150)
LIKELY: Final = (0.15, 0.25, 0.3, 0.2, 0.1)
"""The prior of creep: Gaussian, with one of these standard deviations a travel, each so likely."""
STEADY: Final = 0.85
"""How likely it is that creep does not change."""
QUICKENING: Final = (1e-8, 1e-7, 1e-6, 1e-5, 1e-4)
"""If it does: by how much in each travel, as a standard deviation, each as likely."""
BEGUN: Final = 1 / 2_500
"""And how fast such a lens creeps at the beginning, as a standard deviation a travel."""
WALK: Final = (1 / 1_500, 1.2)
SCATTER: Final = (1 / 60, 0.9)
"""The priors of walk and scatter: the median, and the standard deviation of the logarithm."""
WALKS: Final = np.array([-2.2, -1.1, -0.4, 0.2, 0.7, 1.2, 1.65, 2.1, 2.6])
SCATTERS: Final = np.linspace(-2.6, 2.6, 7)
"""The points of the grid, in standard deviations. Many readings know a large walk well, and a grid
that holds none near it takes larger steps for bumps; a small one is lost in the errors."""
ALIGNED: Final = 0.02
"""How far a realignment may miss, as a standard deviation."""
UNITS: Final = 80
"""A screen is so many units wide."""


def unit_of(room: Room) -> float:
    """Return the length, in millimetres, in which lenses of this room are thought about.

    What creeps, walks and scatters does so in proportion to the size of the picture.
    """
    return room.screen.width / 1_000 / UNITS


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
    jumped: float = 0.0
    """How far the level may have jumped since the measurement before, as a standard deviation."""
    wrong: float = 0.0
    """How far the reading itself may be wrong besides `error`, as a standard deviation."""


Series = tuple[Observation, ...]


class RepeatabilitySession(NamedTuple):
    """What a repeatability session says of scatter: travels in a row, and their spread."""

    travels: int
    spread: float
    """The standard deviation of what was read (over n - 1)."""
    error: float


@dataclass(frozen=True, slots=True)
class Belief:
    """What is known of one offset after some measurements: a mixture over the grid."""

    count: int
    """Travels up to the last measurement."""
    weight: Figures
    quickening: Figures
    walk: Figures
    scatter: Figures
    track: KalmanFilter

    def at(self, count: float) -> KalmanFilter:
        """Return the filter at a count that is not before the last measurement."""
        track = self.track.copy()
        track.travel(count - self.count, self.walk)
        return track

    def points(self, count: float) -> tuple[float, float, float]:
        """Return the 5 %, 50 % and 95 % points of the level at a count."""
        track = self.at(count)
        return _mixture_points(self.weight, track.level, np.sqrt(track.level_variance))

    def creep(self) -> tuple[float, float, float]:
        """Return the same points of the creep, a travel."""
        track = self.track
        return _mixture_points(self.weight, track.creep, np.sqrt(track.known[1, 1]))

    def typical_scatter(self) -> float:
        """Return the median of the scatter."""
        order = np.argsort(self.scatter)
        reached = np.cumsum(self.weight[order])
        return float(self.scatter[order][min(int(np.searchsorted(reached, 0.5)), len(order) - 1)])

    def quickens(self) -> float:
        """Return the probability that the creep changes."""
        return float(np.sum(self.weight[self.quickening > 0]))


def _mixture_points(
    weight: Figures, means: Figures, deviations: Figures
) -> tuple[float, float, float]:
    """Return the 5 %, 50 % and 95 % points of a mixture of Gaussians."""
    low = float(np.min(means - 6 * deviations))
    high = float(np.max(means + 6 * deviations))

    def below(value: float) -> float:
        return float(np.sum(weight * ndtr((value - means) / deviations)))

    first, middle, last = (_solved(below, point, low, high) for point in POINTS)
    return first, middle, last


class Grid(NamedTuple):
    """Every size of what causes an offset, and the logarithm of how likely it is beforehand.

    Where the creep is steady comes first.
    """

    creep: Figures
    quickening: Figures
    walk: Figures
    scatter: Figures
    likely: Figures


@lru_cache(64)
def _grid(median: float, deviation: float) -> Grid:
    """Lay the grid for a scatter of this median, and of this deviation of its logarithm."""
    courses = [(creep, 0.0, STEADY * likely) for creep, likely in zip(CREEPS, LIKELY, strict=True)]
    courses += [(BEGUN, change, (1 - STEADY) / len(QUICKENING)) for change in QUICKENING]
    creep, quickening, likely = np.array(courses).T
    course, number, scatter = (
        axis.ravel()
        for axis in np.meshgrid(
            np.arange(len(courses)), np.arange(len(WALKS)), SCATTERS, indexing="ij"
        )
    )
    walk, wide = WALKS[number], np.gradient(WALKS)[number]
    return Grid(
        creep[course],
        quickening[course],
        WALK[0] * np.exp(WALK[1] * walk),
        median * np.exp(deviation * scatter),
        np.log(likely[course] * wide) - 0.5 * walk**2 - 0.5 * scatter**2,
    )


def grid_of(sessions: Iterable[RepeatabilitySession]) -> Grid:
    """Return every size of what causes an offset, given what sessions say of scatter."""
    return _grid(*_scatter_known(sessions))


def believe(
    seen: Iterable[Observation],
    sessions: Iterable[RepeatabilitySession] = (),
    count: int = 0,
    doubt: float = 0.0,
) -> Belief:
    """Return what is known after measurements, which come in the order of their counts.

    The level begins at 0 at `count` travels, as a realignment leaves it, give or take `doubt`.
    """
    series = (*seen,)
    grid = grid_of(sessions)
    track, score = begun(grid, 1, doubt)
    for step in steps(grid, [series], count):
        step.arrive(track)
        score = score + step.read(track)
    last = series[-1].travels if series else count
    sizes = grid.quickening, grid.walk, grid.scatter
    return Belief(last, np.exp(score[0] - log_sum(score[0])), *sizes, track.first())


class Arrival(NamedTuple):
    """What happens up to one measurement, in each of some tales of the same measurements.

    Tales, a row for each, differ in what they say has happened there, and in nothing else.
    """

    grid: Grid
    travels: int
    """Since the measurement before."""
    seen: Observation
    jumped: Figures | None
    """How far the level may have jumped, as a variance; None: in no tale."""
    variance: Figures
    """How far the reading may be from the level."""

    def arrive(self, track: KalmanFilter) -> None:
        """Bring a filter to where this is read."""
        track.travel(self.travels, self.grid.walk)
        if self.seen.resets:
            track.align(ALIGNED**2 + self.seen.doubt**2, self.seen.rests)
        if self.jumped is not None:
            track.jump(self.jumped)

    def read(self, track: KalmanFilter) -> Figures:
        """Take the measurement; return the logarithm of its likelihood, up to a constant."""
        return track.see(self.seen.offset, self.variance)


def steps(grid: Grid, tales: Sequence[Series], count: int = 0) -> Iterator[Arrival]:
    """Yield what happens up to each measurement, `count` travels having gone before."""
    for told in zip(*tales, strict=True):
        one = told[0]
        jumped = np.array([[tale.jumped**2] for tale in told])
        variance = grid.scatter**2 + one.error**2
        if any(tale.wrong for tale in told):
            variance = variance + np.array([[tale.wrong**2] for tale in told])
        if not one.resets:
            variance = variance + one.doubt**2
        yield Arrival(grid, one.travels - count, one, jumped if jumped.any() else None, variance)
        count = one.travels


def begun(grid: Grid, tales: int, doubt: float) -> tuple[KalmanFilter, Figures]:
    """Return the filter before the first measurement, and how likely each point of the grid is."""
    score = np.tile(grid.likely - log_sum(grid.likely), (tales, 1))
    level = np.full_like(score, ALIGNED**2 + doubt**2)
    return KalmanFilter(level, grid.creep**2 + 0 * score, grid.quickening**2), score


def log_sum(score: Figures) -> Figures:
    """Return the logarithms of the sums of exponentials over the last axis."""
    most = score.max(axis=-1, keepdims=True)
    return np.asarray(most[..., 0] + np.log(np.exp(score - most).sum(axis=-1)))


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


def _solved(rises: Callable[[float], float], wanted: float, low: float, high: float) -> float:
    """Find by bisection where a rising function has a value."""
    for _ in range(24):
        middle = (low + high) / 2
        if rises(middle) < wanted:
            low = middle
        else:
            high = middle
    return (low + high) / 2
