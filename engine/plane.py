"""Map between the screen and the raster through the screen's four measured corners.

Everything that decisions use is computed in integers.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from engine.room import Corner, Corners, Preset, Room

PIXEL: Final = 100
"""Corners are given in hundredths of a raster pixel."""

MARGIN: Final = 8
"""Edges of an opening are followed past the screen's edges by 1/8 of the screen's size."""


class ExactRect(NamedTuple):
    """The exact edges of a rectangle in raster pixels."""

    left: Fraction
    top: Fraction
    right: Fraction
    bottom: Fraction

    @property
    def width(self) -> Fraction:
        """The width; 0 where the edges cross."""
        return max(Fraction(), self.right - self.left)

    @property
    def height(self) -> Fraction:
        """The height; 0 where the edges cross."""
        return max(Fraction(), self.bottom - self.top)

    def in_middle(
        self, width: Fraction, height: Fraction, raised: Fraction, free: ExactRect
    ) -> ExactRect:
        """Put a size in the middle of it, raised by so much, as far as the free part allows.

        It is no larger than the free part.
        """
        left = (self.left + self.right - width) / 2
        top = (self.top + self.bottom - height) / 2 - raised
        left = max(free.left, min(left, free.right - width))
        top = max(free.top, min(top, free.bottom - height))
        return ExactRect(left, top, left + width, top + height)

    @classmethod
    def common(cls, boxes: Sequence[ExactRect]) -> ExactRect:
        """Give the part that is in all of them; its edges cross if there is none."""
        return cls(
            max(box.left for box in boxes),
            max(box.top for box in boxes),
            min(box.right for box in boxes),
            min(box.bottom for box in boxes),
        )


class Lengths(NamedTuple):
    """What decides on a picture's size, in whole numbers of one unit."""

    width: int
    """Width of the part of the screen that is within the opening and within the raster."""
    height: int
    """Its height."""
    free_width: int
    """Width of the part of the raster that panels leave free, past the screen's edge too."""
    free_height: int
    """Its height."""
    wanted: int
    """Width of the screen within the opening, whether the raster reaches it or not."""
    widest: int
    """How wide a picture may be where it passes the screen's edges."""
    highest: int
    """How high it may be there."""
    pixel: int
    """How many units a raster pixel has."""


class Plane(NamedTuple):
    """The exact projective map from the screen to the raster.

    A point u / q of the way across the screen and v / q of the way down lies at
    X = (a u + b v + c q) / (g u + h v + n q), Y = (d u + e v + f q) / (g u + h v + n q),
    in hundredths of a raster pixel. All nine coefficients are integers.
    """

    a: int
    b: int
    c: int
    d: int
    e: int
    f: int
    g: int
    h: int
    n: int

    @classmethod
    def through(cls, corners: Corners) -> Plane:
        """Find the map that takes the screen's corners to these places in the raster.

        The corners must be without `corner_fault`.
        """
        (x0, y0), (x1, y1), (x2, y2), (x3, y3) = corners
        px, py, qx, qy = x1 - x2, y1 - y2, x3 - x2, y3 - y2
        sx, sy = x0 - x1 + x2 - x3, y0 - y1 + y2 - y3
        n = px * qy - qx * py
        g = sx * qy - qx * sy
        h = px * sy - sx * py
        return cls(
            *((x1 - x0) * n + g * x1, (x3 - x0) * n + h * x3, x0 * n),
            *((y1 - y0) * n + g * y1, (y3 - y0) * n + h * y3, y0 * n),
            *(g, h, n),
        )

    def outer(self) -> tuple[int, int, int, int]:
        """Give the smallest box of whole pixels round the screen: left, top, right, bottom."""
        corners = [self._at(u, v, 1) for u in (0, 1) for v in (0, 1)]
        return (
            min(x // (w * PIXEL) for x, _, w in corners),
            min(y // (w * PIXEL) for _, y, w in corners),
            max(-(-x // (w * PIXEL)) for x, _, w in corners),
            max(-(-y // (w * PIXEL)) for _, y, w in corners),
        )

    def inner(self, across: tuple[int, int], down: tuple[int, int]) -> ExactRect:
        """Give the largest box within an opening.

        The opening is centred on the screen. `across` is its width and the screen's, `down` its
        height and the screen's, in micrometres. Its edges are followed a little past the screen's
        corners, because a picture may pass them.
        """
        (width, whole), (height, whole_height) = across, down
        q = 2 * whole * whole_height * MARGIN
        left, right = (
            (whole - width) * whole_height * MARGIN,
            (whole + width) * whole_height * MARGIN,
        )
        top, bottom = (
            (whole_height - height) * whole * MARGIN,
            (whole_height + height) * whole * MARGIN,
        )
        before, after = -q // MARGIN, q + q // MARGIN
        return ExactRect(
            max(Fraction(x, w * PIXEL) for x, _, w in self._ends(left, before, left, after, q)),
            max(Fraction(y, w * PIXEL) for _, y, w in self._ends(before, top, after, top, q)),
            min(Fraction(x, w * PIXEL) for x, _, w in self._ends(right, before, right, after, q)),
            min(Fraction(y, w * PIXEL) for _, y, w in self._ends(before, bottom, after, bottom, q)),
        )

    def back(self, x: float, y: float) -> tuple[float, float]:
        """Say where a place in raster pixels lies on the screen.

        Gives shares of the screen's width and height from its top left, for people only: floats.
        """
        a, b, c, d, e, f, g, h, n = self
        x, y = x * PIXEL, y * PIXEL
        p, q, r = a - g * x, b - h * x, n * x - c
        s, t, u = d - g * y, e - h * y, n * y - f
        whole = p * t - q * s
        return (r * t - q * u) / whole, (p * u - r * s) / whole

    def _ends(self, *ends: int) -> tuple[tuple[int, int, int], ...]:
        """Map the two end points of an edge to the raster; both are given as u and v over q."""
        u, v, other_u, other_v, q = ends
        return self._at(u, v, q), self._at(other_u, other_v, q)

    def _at(self, u: int, v: int, q: int) -> tuple[int, int, int]:
        """Map a point to X and Y before the division, and their common divisor."""
        return (
            self.a * u + self.b * v + self.c * q,
            self.d * u + self.e * v + self.f * q,
            self.g * u + self.h * v + self.n * q,
        )


def in_whole_numbers(*lengths: Fraction) -> Lengths:
    """Give lengths in pixels as whole numbers of one unit."""
    pixel = 1
    for length in lengths:
        pixel *= (length * pixel).denominator
    return Lengths._make((*(int(length * pixel) for length in lengths), pixel))


def corner_fault(corners: Corners) -> str | None:
    """Say in a sentence why no screen can have these four corners; None if one can.

    Followed in the raster from the top left, the way round the corners must turn right at each.
    """
    one, two, three, four = corners
    upright = one.x < two.x and four.x < three.x and one.y < four.y and two.y < three.y
    if upright and all(cross(*turn) > 0 for turn in turns(corners)):
        return None
    places = ", ".join(f"{corner.x / PIXEL:g} x {corner.y / PIXEL:g}" for corner in corners)
    return (
        f"the corners {places} cross, lie in one line or are in another order: give them as seen "
        "on the screen, top left first, then top right, bottom right, bottom left"
    )


def raster_seen(room: Room, preset: Preset) -> tuple[float, float]:
    """Give the width and height of the whole raster in the plane of the screen, in micrometres.

    With measured corners they are worked out from how many pixels the screen takes up.
    """
    if preset.measured is None:
        return float(preset.raster_width), float(preset.raster_height)
    taken = sum(a.x * b.y - b.x * a.y for a, b, _ in turns(preset.measured)) / (2 * PIXEL * PIXEL)
    pixel = (room.screen.width * room.screen.height / taken) ** 0.5
    return room.projector.columns * pixel, room.projector.rows * pixel


def at_ends(
    edge: tuple[tuple[float, float], tuple[float, float]], axis: int, ends: tuple[float, float]
) -> tuple[float, float]:
    """Say where an edge stands at both ends of a length that it runs along.

    `axis` is 0 for an edge that runs down (its place is an x), 1 for one that runs across. Where it
    is shorter than the length, its own end counts.
    """
    one, other = sorted(edge, key=lambda place: place[1 - axis])
    low, high = one[1 - axis], other[1 - axis]
    slope = (other[axis] - one[axis]) / (high - low) if high > low else 0.0
    first, last = (min(max(end, low), high) for end in ends)
    return one[axis] + slope * (first - low), one[axis] + slope * (last - low)


def turns(corners: Corners) -> Iterator[tuple[Corner, Corner, Corner]]:
    """Give each corner, between the corner before it and the corner after it."""
    for index in range(4):
        yield corners[index - 1], corners[index], corners[(index + 1) % 4]


def cross(before: Corner, here: Corner, after: Corner) -> int:
    """Tell which way a path turns at `here`, where rows count downwards.

    Positive is to the right, negative to the left, 0 straight on.
    """
    return (here.x - before.x) * (after.y - here.y) - (here.y - before.y) * (after.x - here.x)
