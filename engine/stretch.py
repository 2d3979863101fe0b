"""The non-linear stretch: a picture widened little in its middle and more towards its sides.

A stretch is stated by what it may cost. `middle_circle` and `edge_circle` say how wide a circle
may become against its height, in the middle and at the very edge; `even_middle` is the share of
the picture's width over which nothing changes from place to place; `rows_lost` is the share of
the rows that may be given up; `fill` is the share of the unlit width that shall be filled.

The map is one family. With x from 0 in the middle of the picture to 1 at its edge, and e the
even middle, a circle at x becomes

    m(x) = middle                                          for x <= e
    m(x) = middle + (edge - middle) (3 t^2 - 2 t^3)        with t = (x - e) / (1 - e) beyond,

which joins smoothly at e, never falls, and at the edge has stopped rising. A point x lands at
the integral of m from 0 to x; over the whole half that is middle + (edge - middle) (1 - e) / 2,
the gain. Nothing needs a numeric library.

Rows are given up first, because they bend nothing. What is then still missing is had by raising
both circles in proportion to what they may be, as far as needed and no further.

By hand: 2.10 on a 2.40 screen with edge_circle 1.30, middle_circle 1.03, even_middle 30 %,
rows_lost 3 %, fill 100 %. The picture must gain 2.40 / 2.10 = 1.142857. Giving up 3 % of the
rows leaves 1.142857 x 0.97 = 1.108571. At its limits the map gains 1.03 + 0.27 x 0.7 / 2 =
1.1245, so 0.108571 / 0.1245 = 0.872063 of the limits will do: middle 1.026162, edge 1.261619.
A point half way out, x = 0.5, has t = 0.2 / 0.7 = 0.285714 and lands at
1.026162 x 0.5 + 0.235457 x 0.7 x (t^3 - t^4 / 2) = 0.513081 + 0.003295 = 0.516376 of the source's
half width, 0.465803 of the way to the new edge.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from engine.aspect import SCALE
from engine.room import Crop, Stretch

if TYPE_CHECKING:
    from collections.abc import Iterator

CLOSE: Final = 1e-13
"""A place this near to the one looked for has been found."""


def most_gain(edge_circle: int, middle_circle: int, even_middle: int) -> tuple[int, int]:
    """Say how much wider the map can make a picture at its limits, as an integer fraction."""
    uneven = SCALE - even_middle
    return 2 * SCALE * middle_circle + (edge_circle - middle_circle) * uneven, 2 * SCALE * SCALE


class Curve(NamedTuple):
    """The map itself; places run from -1 at the left edge over 0 to 1 at the right edge."""

    middle: float
    """Width of a circle against its height in the even middle, 1 or more."""
    edge: float
    """The same at the very edge, never less."""
    even: float
    """Share of the width that is even, 0 to 1."""

    @property
    def gain(self) -> float:
        """How much wider the whole picture becomes."""
        return self.middle + (self.edge - self.middle) * (1 - self.even) / 2

    def circle(self, place: float) -> float:
        """Say how wide a small circle becomes against its height, at a place of the source."""
        x = abs(place)
        if x <= self.even:
            return self.middle
        t = (x - self.even) / (1 - self.even)
        return self.middle + (self.edge - self.middle) * t * t * (3 - 2 * t)

    def shown(self, place: float) -> float:
        """Say where a place of the source is shown; -1, 0 and 1 stay where they are."""
        x = abs(place)
        if x >= 1:
            return place
        return (self._reach(x) if place >= 0 else -self._reach(x)) / self.gain

    def source(self, place: float) -> float:
        """Say which place of the source is shown at this one: the inverse of `shown`."""
        if abs(place) >= 1:
            return place
        reach = abs(place) * self.gain
        x = reach / self.middle
        if x > self.even:
            x = self._solved(reach)
        return x if place >= 0 else -x

    def table(self, columns: int) -> tuple[float, ...]:
        """List, for the middle of each column shown, its place in the source from 0 to 1."""
        return tuple(self._places(columns))

    def _places(self, columns: int) -> Iterator[float]:
        for column in range(columns):
            place = (2 * column + 1 - columns) / columns
            yield (1 + self.source(place)) / 2

    def _reach(self, x: float) -> float:
        """Integrate the circles from the middle to x."""
        if x <= self.even:
            return self.middle * x
        uneven = 1 - self.even
        t = (x - self.even) / uneven
        return self.middle * x + (self.edge - self.middle) * uneven * t * t * t * (1 - t / 2)

    def _solved(self, reach: float) -> float:
        """Find the x that reaches so far.

        The reach bends upwards only, so Newton's steps from the edge come down to it and never
        pass it; the first step that no longer comes down has found it.
        """
        x = 1.0
        while True:
            below = x - (self._reach(x) - reach) / self.circle(x)
            if below >= x - CLOSE:
                return below
            x = below


STRAIGHT: Final = Curve(middle=1.0, edge=1.0, even=1.0)
"""No stretch at all."""


class Shaped(NamedTuple):
    """A picture made wider: by rows given up, by a curve, or by both."""

    curve: Curve
    rows_lost: float
    """Share of the rows that is given up, half at the top and half at the bottom."""

    @property
    def gain(self) -> float:
        """How much wider it is than the plain picture of the same height."""
        return self.curve.gain * self.enlarged

    @property
    def enlarged(self) -> float:
        """How much larger everything is, before the curve."""
        return 1 / (1 - self.rows_lost)

    def magnified(self, place: float) -> tuple[float, float]:
        """Say how much larger than plain a detail is, across and down, at a place of the source."""
        return self.enlarged * self.curve.circle(place), self.enlarged


class Solution(NamedTuple):
    """What a named picture does to one ratio on one window."""

    shaped: Shaped
    aspect: float
    """Ratio of the picture as it is shown."""
    asked: float
    """Share of the unlit width that was to be filled."""
    fill: float
    """Share of it that is filled: all that was asked, or the most that the limits allow."""

    @property
    def limited(self) -> bool:
        """Whether the limits forbid what was asked."""
        return self.fill < self.asked


def shaped(picture: Stretch | Crop, gain: float) -> Shaped:
    """Make a picture wider by this gain, 1 or more, at the least cost to its circles.

    A gain beyond the limits is met all the same, at the cost it takes: ask `solve` what is allowed.
    """
    rows_lost = min(picture.rows_lost / SCALE, 1 - 1 / gain)
    if isinstance(picture, Crop):
        return Shaped(STRAIGHT, rows_lost)
    missing = gain * (1 - rows_lost) - 1
    most, unit = most_gain(picture.edge_circle, picture.middle_circle, picture.even_middle)
    if missing <= 0 or most == unit:
        return Shaped(STRAIGHT, rows_lost)
    strength = missing * unit / (most - unit)
    middle = 1 + strength * (picture.middle_circle / SCALE - 1)
    edge = 1 + strength * (picture.edge_circle / SCALE - 1)
    return Shaped(Curve(middle, edge, picture.even_middle / SCALE), rows_lost)


def largest_gain(picture: Stretch | Crop) -> float:
    """Say how much wider than plain the limits let a picture become."""
    kept = SCALE - picture.rows_lost
    if isinstance(picture, Crop):
        return SCALE / kept
    most, unit = most_gain(picture.edge_circle, picture.middle_circle, picture.even_middle)
    return most * SCALE / (unit * kept)


def solve(picture: Stretch | Crop, aspect: int, window: int) -> Solution:
    """Show a picture of one ratio in a window of another, ending exactly where asked if allowed.

    A picture as wide as the window or wider has nothing to fill and stays as it is.
    """
    asked = picture.fill / SCALE if isinstance(picture, Stretch) else 1.0
    if aspect >= window:
        return Solution(Shaped(STRAIGHT, 0.0), aspect / SCALE, asked, asked)
    gap = window / aspect - 1
    wanted, most = 1 + gap * asked, largest_gain(picture)
    gain, fill = (wanted, asked) if wanted <= most else (most, (most - 1) / gap)
    return Solution(shaped(picture, gain), gain * aspect / SCALE, asked, fill)
