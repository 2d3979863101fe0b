"""The non-linear stretch: widen a picture little in its middle and more towards its sides.

A room file describes a stretch by what it may cost. `middle_circle` and `edge_circle` say how wide
a circle may become compared with its height, in the middle and at the very edge. `even_middle` is
the share of the picture's width over which circles stay equally wide. `rows_lost` is the share of
the rows that may be cut off. `fill` is the share of the unlit width that is to be filled.

All stretches are one family of curves. With x from 0 in the middle of the picture to 1 at its edge,
and e the even middle, the width of a circle at x becomes

    m(x) = middle                                          for x <= e
    m(x) = middle + (edge - middle) (3 t^2 - 2 t^3)        with t = (x - e) / (1 - e) beyond,

which joins smoothly at e, never falls, and at the edge has stopped rising. A point x lands at
the integral of m from 0 to x; over the whole half that is middle + (edge - middle) (1 - e) / 2,
the gain. No numeric library is needed.

Rows are cut off first, because that bends nothing. What is then still missing is gained by widening
both circles in proportion to their limits, as far as needed and no further.

By hand: 2.10 on a 2.40 screen with edge_circle 1.30, middle_circle 1.03, even_middle 30 %,
rows_lost 3 %, fill 100 %. The picture must gain 2.40 / 2.10 = 1.142857. Cutting off 3 % of the
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

    from engine.plane import Lengths

PRECISION: Final = 1e-13
"""How exactly the inverse of the curve is found, in half widths of the picture."""


def most_gain(edge_circle: int, middle_circle: int, even_middle: int) -> tuple[int, int]:
    """Give the largest gain of a curve as an integer fraction, from its limits in 1/10,000."""
    uneven = SCALE - even_middle
    return 2 * SCALE * middle_circle + (edge_circle - middle_circle) * uneven, 2 * SCALE * SCALE


def enlarged_size(shape: Stretch | Crop, aspect: int, at: Lengths) -> tuple[int, int]:
    """Fill the window's height, and as much of its width as the picture's limits allow.

    The lengths are in a unit in which all divisions come out even.
    """
    height = at.height
    plain = height * aspect // SCALE
    kept = SCALE - shape.rows_lost
    if isinstance(shape, Crop):
        wide = height * aspect // kept
    else:
        gain, unit = gain_of(shape)
        wide = min(height * aspect * gain // (kept * unit), target_width(shape, aspect, at))
    return min(at.width, max(plain, wide)), height


def gain_of(shape: Stretch) -> tuple[int, int]:
    """Give the largest gain of a stretch as an integer fraction."""
    return most_gain(shape.edge_circle, shape.middle_circle, shape.even_middle)


def target_width(shape: Stretch, aspect: int, at: Lengths) -> int:
    """Say how wide a stretch is to make a picture: by how much of the gap it fills."""
    plain = at.height * aspect // SCALE
    return plain + (at.wanted - plain) * shape.fill // SCALE


class Curve(NamedTuple):
    """The curve itself. Places run from -1 at the left edge over 0 to 1 at the right edge."""

    middle: float
    """Width of a circle in the even middle, divided by its height: 1 or more."""
    edge: float
    """The same at the very edge; never less than `middle`."""
    even: float
    """Share of the width over which circles stay equally wide, 0 to 1."""

    @property
    def gain(self) -> float:
        """How much wider the whole picture becomes."""
        return self.middle + (self.edge - self.middle) * (1 - self.even) / 2

    def circle(self, place: float) -> float:
        """Give the width of a small circle at a place of the source, divided by its height."""
        x = abs(place)
        if x <= self.even:
            return self.middle
        t = (x - self.even) / (1 - self.even)
        return self.middle + (self.edge - self.middle) * t * t * (3 - 2 * t)

    def shown(self, place: float) -> float:
        """Give the place where a place of the source is shown; -1, 0 and 1 stay where they are."""
        x = abs(place)
        if x >= 1:
            return place
        return (self._reach(x) if place >= 0 else -self._reach(x)) / self.gain

    def source(self, place: float) -> float:
        """Give the place of the source that is shown at this place: the inverse of `shown`."""
        if abs(place) >= 1:
            return place
        reach = abs(place) * self.gain
        x = reach / self.middle
        if x > self.even:
            x = self._solved(reach)
        return x if place >= 0 else -x

    def table(self, columns: int) -> tuple[float, ...]:
        """List for the middle of each column shown its place in the source, from 0 to 1."""
        return tuple(self._places(columns))

    def _places(self, columns: int) -> Iterator[float]:
        for column in range(columns):
            place = (2 * column + 1 - columns) / columns
            yield (1 + self.source(place)) / 2

    def _reach(self, x: float) -> float:
        """Integrate the widths of circles from the middle to x."""
        if x <= self.even:
            return self.middle * x
        uneven = 1 - self.even
        t = (x - self.even) / uneven
        return self.middle * x + (self.edge - self.middle) * uneven * t * t * t * (1 - t / 2)

    def _solved(self, reach: float) -> float:
        """Find the x with this reach, by Newton's method.

        The reach rises ever more steeply, so the steps start at the edge, come down to x and never
        pass it. The first step that no longer comes down has found it.
        """
        x = 1.0
        while True:
            below = x - (self._reach(x) - reach) / self.circle(x)
            if below >= x - PRECISION:
                return below
            x = below


STRAIGHT: Final = Curve(middle=1.0, edge=1.0, even=1.0)
"""The curve that changes nothing."""


class Widening(NamedTuple):
    """How a picture is made wider: by cutting off rows, by a curve, or by both."""

    curve: Curve
    rows_lost: float
    """Share of the rows that is cut off, half at the top and half at the bottom."""

    @property
    def gain(self) -> float:
        """How many times as wide it becomes as the plain picture of the same height."""
        return self.curve.gain * self.enlarged

    @property
    def enlarged(self) -> float:
        """How many times as large everything becomes, before the curve."""
        return 1 / (1 - self.rows_lost)

    def magnified(self, place: float) -> tuple[float, float]:
        """Give how many times as large a detail at a place of the source is, across and down."""
        return self.enlarged * self.curve.circle(place), self.enlarged


class Solution(NamedTuple):
    """What a named picture does to one ratio in one window."""

    widening: Widening
    aspect: float
    """Ratio of the picture as it is shown, a plain number."""
    asked: float
    """Share of the unlit width that was to be filled, 0 to 1."""
    fill: float
    """Share of it that is filled: what was asked, or the most that the limits allow."""

    @property
    def limited(self) -> bool:
        """Whether the limits forbid what was asked."""
        return self.fill < self.asked


def widen(picture: Stretch | Crop, gain: float) -> Widening:
    """Make a picture wider by this gain, 1 or more, with circles as round as possible.

    A gain beyond the picture's limits is met all the same: ask `solve` what the limits allow.
    """
    rows_lost = min(picture.rows_lost / SCALE, 1 - 1 / gain)
    if isinstance(picture, Crop):
        return Widening(STRAIGHT, rows_lost)
    missing = gain * (1 - rows_lost) - 1
    most, unit = most_gain(picture.edge_circle, picture.middle_circle, picture.even_middle)
    if missing <= 0 or most == unit:
        return Widening(STRAIGHT, rows_lost)
    strength = missing * unit / (most - unit)
    middle = 1 + strength * (picture.middle_circle / SCALE - 1)
    edge = 1 + strength * (picture.edge_circle / SCALE - 1)
    return Widening(Curve(middle, edge, picture.even_middle / SCALE), rows_lost)


def largest_gain(picture: Stretch | Crop) -> float:
    """Give the largest gain that the limits of a picture allow, 1 or more."""
    kept = SCALE - picture.rows_lost
    if isinstance(picture, Crop):
        return SCALE / kept
    most, unit = most_gain(picture.edge_circle, picture.middle_circle, picture.even_middle)
    return most * SCALE / (unit * kept)


def solve(picture: Stretch | Crop, aspect: int, window: int) -> Solution:
    """Show a picture of one ratio in a window of another, both in 1/10,000.

    It fills exactly the share that was asked, or as much of it as the limits allow. A picture as
    wide as the window or wider has nothing to fill and stays as it is.
    """
    asked = picture.fill / SCALE if isinstance(picture, Stretch) else 1.0
    if aspect >= window:
        return Solution(Widening(STRAIGHT, 0.0), aspect / SCALE, asked, asked)
    gap = window / aspect - 1
    wanted, most = 1 + gap * asked, largest_gain(picture)
    gain, fill = (wanted, asked) if wanted <= most else (most, (most - 1) / gap)
    return Solution(widen(picture, gain), gain * aspect / SCALE, asked, fill)
