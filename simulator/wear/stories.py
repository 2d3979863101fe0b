"""How likely the same measurements are if something else had happened at one of them.

Each story differs from what was told so far at one measurement: there the preset had moved at once,
or the reading is wrong. The filter is run forwards once, and once backwards it is gathered how what
was measured later goes by a shift of the level, or of one reading: as exp(pull w - grip w^2 / 2)
(P. de Jong and J. Penzer, Diagnosing shocks in time series, 1998; memory). A shift w of which only
the size is known is then a Gaussian integral, so that a story costs next to nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

import numpy as np

from simulator.wear.creep import (
    STEADY,
    Arrival,
    RepeatabilitySession,
    Series,
    begun,
    grid_of,
    log_sum,
    steps,
)
from simulator.wear.kalman_filter import Figures, KalmanFilter, carry

CREEP_CHANGES: Final = np.log([[STEADY], [1 - STEADY]])
"""How likely it is beforehand that creep is steady, and that it changes."""


class Shift(NamedTuple):
    """How the likelihood of all measurements goes by a shift of something, for many lenses."""

    pull: Figures
    grip: Figures

    def gained(self, size: float) -> Figures:
        """Return the logarithm of how much likelier they are with a shift of such a size."""
        share = 1 + size**2 * self.grip
        return np.asarray(0.5 * (size**2 * self.pull**2 / share - np.log(share)))


class Followed(NamedTuple):
    """Tales of the same measurements, a row for each, and what one story more does to them.

    All is told twice, for a creep that is steady and for one that changes: that is a matter of the
    lens, so whoever puts its ways together does so for each by itself.
    """

    score: Figures
    """The logarithm of how likely each tale is, by point of the grid."""
    steady: int
    """At so many points of the grid, the first ones, the creep does not change."""
    moved: tuple[Shift, ...]
    """Of the level, before each measurement."""
    misread: tuple[Shift, ...]
    """Of each reading. What a tale says something of already means nothing here."""

    def plain(self) -> Figures:
        """Return the logarithm of how likely each tale is: with steady creep, with changing."""
        return self._told(self.score)

    def with_one_more(self, size: float) -> tuple[Figures, Figures]:
        """Return the same by tale and measurement, if the preset moved there or it is misread."""
        moved, misread = (
            np.stack([self._told(self.score + one.gained(size)) for one in shifts], axis=-1)
            for shifts in (self.moved, self.misread)
        )
        return moved, misread

    def _told(self, score: Figures) -> Figures:
        halves = score[:, : self.steady], score[:, self.steady :]
        return np.stack([log_sum(half) for half in halves]) - CREEP_CHANGES


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
        moved.append(Shift(later.pull[0].copy(), later.grip[0, 0].copy()))
        later.leave(step)
    return Followed(score, int(np.sum(grid.quickening == 0)), (*moved[::-1],), (*misread[::-1],))


class _Later:
    """How what is measured from here on goes by a shift of level, creep and quickening."""

    def __init__(self, like: Figures) -> None:
        """Begin after the last measurement, where nothing is to come."""
        self.pull = np.zeros((3, *like.shape))
        self.grip = np.zeros((3, 3, *like.shape))

    def unread(self, step: Arrival, known: KalmanFilter) -> Shift:
        """Go back before a measurement; return how all goes by a shift of its reading."""
        spread = known.level_variance + step.variance
        gain = known.known[0] / spread
        felt = np.sum(gain[:, None] * self.grip, axis=0)
        surprise = (step.seen.offset - known.level) / spread
        reading = Shift(
            surprise - np.sum(gain * self.pull, axis=0), 1 / spread + np.sum(gain * felt, axis=0)
        )
        self.pull[0] += reading.pull
        self.grip[0] -= felt
        self.grip[:, 0] -= felt
        self.grip[0, 0] += reading.grip
        return reading

    def leave(self, step: Arrival) -> None:
        """Go back to the measurement before."""
        if step.seen.resets:
            self.pull[0] = self.grip[0] = self.grip[:, 0] = 0.0
        pull, travels = self.pull, step.travels
        pull[2] += travels * pull[1] + (travels**2 / 2) * pull[0]
        pull[1] += travels * pull[0]
        carry(self.grip, travels, (2, 1, 0))
