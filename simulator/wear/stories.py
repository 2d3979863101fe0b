"""How likely the same measurements are if something else had happened at one of them.

Each story differs from what was told so far at one measurement: there the preset had moved at once,
or the reading is wrong. The filter is run forwards once, and once backwards it is gathered how what
was measured later goes by a shift of the level, or of one reading: as exp(pull w - grip w^2 / 2)
(P. de Jong and J. Penzer, Diagnosing shocks in time series, 1998; memory). A shift w of which only
the size is known is then a Gaussian integral, so that a story costs next to nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np

from simulator.wear.creep import (
    Arrival,
    RepeatabilitySession,
    Series,
    begun,
    grid_of,
    log_sum,
    steps,
)
from simulator.wear.kalman_filter import Figures, KalmanFilter


class Shift(NamedTuple):
    """How the likelihood of all measurements goes by a shift of something, for many lenses."""

    pull: Figures
    grip: Figures

    def gained(self, size: float) -> Figures:
        """Return the logarithm of how much likelier they are with a shift of such a size."""
        share = 1 + size**2 * self.grip
        return np.asarray(0.5 * (size**2 * self.pull**2 / share - np.log(share)))


class Followed(NamedTuple):
    """Tales of the same measurements, a row for each, and what one story more does to them."""

    score: Figures
    """The logarithm of how likely each tale is, by point of the grid."""
    moved: tuple[Shift, ...]
    """Of the level, before each measurement."""
    misread: tuple[Shift, ...]
    """Of each reading. What a tale says something of already means nothing here."""

    def plain(self) -> Figures:
        """Return the logarithm of how likely each tale is."""
        return log_sum(self.score)

    def with_one_more(self, size: float) -> tuple[Figures, Figures]:
        """Return the same by tale and measurement, if the preset moved there or it is misread."""
        moved, misread = (
            np.array([log_sum(self.score + one.gained(size)) for one in shifts]).T
            for shifts in (self.moved, self.misread)
        )
        return moved, misread


def follow(
    tales: Sequence[Series], sessions: Iterable[RepeatabilitySession] = (), doubt: float = 0.0
) -> Followed:
    """Follow tales of the same measurements, forwards and backwards."""
    grid = grid_of(sessions)
    track, score = begun(grid, len(tales), doubt)
    way = []
    for step in steps(grid, tales):
        step.arrive(track)
        way.append((step, track.copy()))
        score = score + step.read(track)
    later, moved, misread = _Later(score), [], []
    for step, known in reversed(way):
        misread.append(later.unread(step, known))
        moved.append(Shift(later.level, later.grip_level))
        later.leave(step)
    return Followed(score, (*moved[::-1],), (*misread[::-1],))


class _Later:
    """How what is measured from here on goes by a shift of the level and of the creep."""

    def __init__(self, like: Figures) -> None:
        """Begin after the last measurement, where nothing is to come."""
        self.level = self.creep = np.zeros_like(like)
        self.grip_level = self.grip_both = self.grip_creep = self.level

    def unread(self, step: Arrival, known: KalmanFilter) -> Shift:
        """Go back before a measurement; return how all goes by a shift of its reading."""
        spread = known.level_variance + step.variance
        surprise = (step.seen.offset - known.level) / spread
        gain, shift = known.level_variance / spread, known.shared / spread
        felt = gain * self.grip_level + shift * self.grip_both
        grip = 1 / spread + gain * felt + shift * (gain * self.grip_both + shift * self.grip_creep)
        reading = Shift(surprise - gain * self.level - shift * self.creep, grip)
        self.level = self.level + reading.pull
        self.grip_level = self.grip_level - 2 * felt + grip
        self.grip_both = self.grip_both - gain * self.grip_both - shift * self.grip_creep
        return reading

    def leave(self, step: Arrival) -> None:
        """Go back to the measurement before."""
        if step.seen.resets:
            self.level = self.grip_level = self.grip_both = np.zeros_like(self.level)
        self.creep = self.creep + step.travels * self.level
        twice = 2 * self.grip_both + step.travels * self.grip_level
        self.grip_creep = self.grip_creep + step.travels * twice
        self.grip_both = self.grip_both + step.travels * self.grip_level
