"""Whether what was read goes out and back with the year.

A room is warmer in summer, and a lens with it. Beside the plain story another one is weighed: that
every reading is off by a swing with a period of a year, of unknown size and phase.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot, log, pi
from typing import Final, NamedTuple

import numpy as np

from engine.state import DAY
from simulator.wear.disturbances import SURE, WayRead, in_some
from simulator.wear.kalman_filter import Figures
from simulator.wear.known_shapes import fit_shapes

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
    found = supposed_swing(ways, read_at)
    return found if found.gain >= log(SURE) else None


def supposed_swing(ways: Sequence[WayRead], read_at: Sequence[int]) -> Swing:
    """Return how a preset swings if it does, be that as likely as it may."""
    turned = 2 * pi * np.array([at - read_at[0] for at in read_at]) / YEAR
    shapes = np.stack([np.cos(turned), np.sin(turned)])
    found = [fit_shapes(way, shapes, SWINGS) for way in ways]
    gains = np.array([sum(np.logaddexp(0.0, one.gain) for one in found)])
    return Swing(
        tuple(hypot(*one.sizes) for one in found),
        float(in_some(gains, len(ways))[0]) + log(BEFOREHAND),
        tuple(_without(way, one.sizes @ shapes) for way, one in zip(ways, found, strict=True)),
    )


def _without(way: WayRead, swings: Figures) -> WayRead:
    """Take a swing out of the readings; a realignment puts right what had swung by then."""
    series, put = [], 0.0
    for one, swung in zip(way.series, swings, strict=True):
        put = float(swung) if one.resets else put
        series.append(one._replace(offset=one.offset - float(swung) + put))
    return way._replace(series=tuple(series))
