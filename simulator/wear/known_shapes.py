"""How well what was read follows a shape that is known beforehand, but for its size.

Beside the plain story another one is weighed: that every reading is off by a shape, or by several,
each times a size that nobody knows. The filter is run on the readings and on the shapes alike; how
far the readings follow them is then a least-squares question with a closed answer (the augmented
filter: P. de Jong, The diffuse Kalman filter, 1991; memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log
from typing import NamedTuple

import numpy as np

from simulator.wear.creep import begun, grid_of, log_sum, steps
from simulator.wear.disturbances import WayRead
from simulator.wear.kalman_filter import Figures


class ShapeFit(NamedTuple):
    """How well shapes fit what was read in one way."""

    gain: float
    """How much likelier they make the readings, as a logarithm."""
    sizes: Figures
    """How large each shape is, in units."""
    spread: Figures
    """How far each may be from that, as a standard deviation."""


def fit_shapes(way: WayRead, shapes: Figures, sizes: Sequence[float]) -> ShapeFit:
    """Say how much likelier shapes make the readings of one way, and how large each is.

    Beforehand a size is Gaussian around 0 with one of these standard deviations, each as likely. A
    realignment sets the picture right as it stands then, whatever the shapes are.
    """
    score, pull, grip = _gathered(way, shapes)
    weights, middles, variances = [], [], []
    for size in sizes:
        held = np.moveaxis(grip + np.eye(len(shapes))[:, :, None] / size**2, -1, 0)
        most = np.linalg.solve(held, pull.T[..., None])[..., 0]
        gained = 0.5 * np.sum(most * pull.T, axis=1)
        gained -= 0.5 * np.log(np.linalg.det(held) * size ** (2 * len(shapes)))
        weights.append(score + gained)
        middles.append(most)
        variances.append(np.diagonal(np.linalg.inv(held), axis1=1, axis2=2))
    weight, middle = np.concatenate(weights), np.concatenate(middles)
    total = log_sum(weight)
    share = np.exp(weight - total)
    mean = share @ middle
    spread = np.sqrt(share @ (np.concatenate(variances) + (middle - mean) ** 2))
    return ShapeFit(float(total - log(len(sizes)) - log_sum(score)), mean, spread)


def _gathered(way: WayRead, shapes: Figures) -> tuple[Figures, Figures, Figures]:
    """Return how likely each point of the grid is, and how that goes by the sizes of the shapes.

    By a size w it goes as exp(pull w - grip w^2 / 2).
    """
    count = len(shapes)
    track, (likely, *_) = begun(grid_of(way.sessions), 1 + count, way.doubt)
    score, pull = likely, np.zeros((count, *likely.shape))
    grip = np.zeros((count, count, *likely.shape))
    for index, step in enumerate(steps(grid_of(way.sessions), [way.series])):
        step.arrive(track)
        if step.seen.resets:
            track.mean[0, 1:] = shapes[:, index, None]
        spread = track.level_variance[0] + np.atleast_2d(step.variance)[0]
        seen = np.array([[step.seen.offset], *shapes[:, index, None]])
        off, *shape = seen - track.level
        pull += np.stack(shape) * off / spread
        grip += np.array([[one * other / spread for other in shape] for one in shape])
        score = score + track.see(seen, step.variance)[0]
    return score, pull, grip
