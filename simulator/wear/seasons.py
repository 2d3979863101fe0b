"""Whether what was read goes out and back with the year.

A room is warmer in summer, and a lens with it. Beside the plain story another one is weighed: that
every reading is off by a swing with a period of a year, of unknown size and phase. The filter is
run on the readings and on the swing's two shapes alike; how far the readings follow the shapes is
then a least-squares question with a closed answer (the augmented filter: P. de Jong, The diffuse
Kalman filter, 1991; memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot, log, pi
from typing import Final, NamedTuple

import numpy as np

from engine.state import DAY
from simulator.wear.creep import begun, grid_of, log_sum, steps
from simulator.wear.disturbances import SURE, WayRead, in_some
from simulator.wear.kalman_filter import Figures

YEAR: Final = 365.25 * DAY
FEWEST: Final = 5
"""Fewer readings fit any swing."""
SWINGS: Final = (0.03, 0.15)
"""How far a lens swings either way, as a standard deviation, in units: each as likely (a guess)."""
BEFOREHAND: Final = 0.1
"""What share of lenses swing so that it matters (a guess)."""


class Swing(NamedTuple):
    """What goes out and back with the year."""

    by: tuple[float, ...]
    """How far it goes either way in each way, in units."""
    gain: float
    """How much likelier than nothing it is, all told, as a logarithm."""
    rest: tuple[WayRead, ...]
    """What remains of the readings without it."""


def swing(ways: Sequence[WayRead], read_at: Sequence[int]) -> Swing | None:
    """Return how a preset swings with the year; None if nothing says that it does.

    `read_at` is when it was read, ms UTC.
    """
    if len(read_at) < FEWEST or read_at[-1] - read_at[0] < YEAR:
        return None
    turned = 2 * pi * np.array([at - read_at[0] for at in read_at]) / YEAR
    shapes = np.stack([np.cos(turned), np.sin(turned)])
    found = [fit_swing(way, shapes) for way in ways]
    gains = np.array([sum(np.logaddexp(0.0, one.gain) for one in found)])
    gain = float(in_some(gains, len(ways))[0]) + log(BEFOREHAND)
    if gain < log(SURE):
        return None
    return Swing(
        tuple(hypot(*one.sizes) for one in found),
        gain,
        tuple(_without(way, one.sizes @ shapes) for way, one in zip(ways, found, strict=True)),
    )


class SwingFit(NamedTuple):
    """How well a swing of unknown size and phase fits what was read in one way."""

    gain: float
    """How much likelier it makes the readings, as a logarithm."""
    sizes: Figures
    """How far it goes with each of the two shapes, in units."""


def fit_swing(way: WayRead, shapes: Figures) -> SwingFit:
    """Say how much likelier a swing makes the readings of one way, and how large it is."""
    grid = grid_of(way.sessions)
    track, likely = begun(grid, 3, way.doubt)
    score, pull, grip = (
        likely[0],
        np.zeros((2, *likely[0].shape)),
        np.zeros((2, 2, *likely[0].shape)),
    )
    for index, step in enumerate(steps(grid, [way.series])):
        step.arrive(track)
        if step.seen.resets:
            track.mean[0, 1:] = shapes[:, index, None]
        spread = track.level_variance[0] + np.atleast_2d(step.variance)[0]
        seen = np.array([[step.seen.offset], *shapes[:, index, None]])
        off, *shape = seen - track.level
        pull += np.stack(shape) * off / spread
        grip += np.array([[one * other / spread for other in shape] for one in shape])
        score = score + track.see(seen, step.variance)[0]
    plain = log_sum(score)
    each, sizes = [], []
    for size in SWINGS:
        held = grip + np.eye(2)[:, :, None] / size**2
        most = np.linalg.solve(np.moveaxis(held, -1, 0), pull.T[..., None])[..., 0]
        gained = 0.5 * np.sum(most * pull.T, axis=1)
        gained -= 0.5 * np.log(np.linalg.det(np.moveaxis(held, -1, 0)) * size**4)
        each.append(score + gained)
        sizes.append(most)
    weight = np.concatenate(each)
    total = log_sum(weight)
    return SwingFit(
        float(total - log(len(SWINGS)) - plain),
        np.exp(weight - total) @ np.concatenate(sizes),
    )


def _without(way: WayRead, swings: Figures) -> WayRead:
    """Take a swing out of the readings; a realignment puts right what had swung by then."""
    series, put = [], 0.0
    for one, swung in zip(way.series, swings, strict=True):
        put = float(swung) if one.resets else put
        series.append(one._replace(offset=one.offset - float(swung) + put))
    return way._replace(series=tuple(series))
