"""Find out from a screen's four corners, read off the test card, how a projector is aligned.

The map between a flat screen and the raster is projective, and four corners determine it. Their
eight figures are split here into the place of the screen's middle, its size, how far it is rolled,
how far it is out of square, and a trapezoid in each direction. Such a map keeps straight lines
straight, so corners alone cannot show a bow: that takes the middles of the edges as well.

These figures are for people. Decisions use the exact map of `engine.plane`.
"""

from __future__ import annotations

from math import atan, atan2, ceil, degrees, hypot, radians
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from engine.plane import PIXEL, Plane, corner_fault, cross

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.room import Corners, Middles, Room

NEGLIGIBLE: Final = 1.0
"""An error that moves no corner by more than this many pixels is not worth correcting."""

Side = Literal["left", "top", "right", "bottom"]

SIDES: Final[tuple[Side, ...]] = ("left", "top", "right", "bottom")
"""The order of a rectangle's edges wherever four figures are given without names."""

Misalignment = Literal["roll", "trapezoid across", "trapezoid down", "shift", "skew", "bow"]
"""What can be wrong with how a projector stands, or with the screen."""


class Bow(NamedTuple):
    """How far the middle of each edge is outside the line between its corners, in raster pixels.

    Inside is negative.
    """

    top: float
    right: float
    bottom: float
    left: float


class Split(NamedTuple):
    """What the corners say, one error at a time. Lengths are in raster pixels."""

    middle: tuple[float, float]
    """The place of the screen's middle, from the raster's top left."""
    width: float
    """Width of the screen, measured through its middle."""
    height: float
    """Height of the screen, measured through its middle."""
    roll: float
    """Degrees by which the screen is turned clockwise in the raster. The picture is turned as far
    the other way: it is too high on the right."""
    skew: float
    """Degrees by which the screen's edges miss a right angle. A projector hardly does that: the
    screen is out of square, or a corner was misread."""
    across: float
    """Trapezoid: how much larger the screen is in the raster at its right edge than at its left,
    as a share."""
    down: float
    """Trapezoid: how much larger it is at its bottom edge than at its top."""
    bow: Bow | None
    """None where only corners were read."""


class Correction(NamedTuple):
    """One error worth correcting."""

    error: Misalignment
    pixels: float
    """By how much it moves a corner, the middle of the screen (shift) or of an edge (bow)."""
    turn: str
    """What to do about it, in words."""


class Alignment(NamedTuple):
    """What the measured corners of one preset mean."""

    box: tuple[int, int, int, int]
    """The smallest rectangle round the whole screen, in raster pixels, as `SIDES` lists the
    edges."""
    spill: tuple[int, int, int, int]
    """How far that rectangle passes each edge of the screen at worst, in micrometres."""
    beyond: tuple[Side, ...]
    """The sides on which it passes the border as well."""
    split: Split
    steps: tuple[Correction, ...]
    """What to do, in order: first what moving the projector corrects, largest error first, then
    lens shift, then what neither corrects. Empty if nothing is worth correcting."""


def align(room: Room, corners: Corners, middles: Middles | None = None) -> Alignment:
    """Say what measured corners mean. Raises ValueError if no screen can have such corners."""
    wrong = corner_fault(corners)
    if wrong is not None:
        raise ValueError(wrong)
    plane = Plane.through(corners)
    columns, rows = room.projector.columns, room.projector.rows
    left, top, right, bottom = plane.outer()
    box = max(0, left), max(0, top), min(columns, right), min(rows, bottom)
    spill = _spill(room, plane, box)
    found = split(corners, middles)
    return Alignment(
        box=box,
        spill=spill,
        beyond=tuple(
            side for side, over in zip(SIDES, spill, strict=True) if over > room.screen.border
        ),
        split=found,
        steps=_steps(room, found),
    )


def split(corners: Corners, middles: Middles | None = None) -> Split:
    """Split what the corners say into single errors, as they are in the middle of the screen.

    With u across and v down the screen from its middle, each from -1/2 to 1/2, the screen is
    seen at middle + (U u + V v) / (1 - across u - down v). U is `width` long, V `height`; the
    mean of how far both are turned is the roll, their difference the skew.
    """
    a, b, c, d, e, f, g, h, n = (float(part) for part in Plane.through(corners))
    depth = g / 2 + h / 2 + n
    x, y = (a / 2 + b / 2 + c) / depth, (d / 2 + e / 2 + f) / depth
    xu, xv = (a - g * x) / depth, (b - h * x) / depth
    yu, yv = (d - g * y) / depth, (e - h * y) / depth
    width, height = hypot(xu, yu), hypot(xv, yv)
    along, upright = atan2(yu, xu), atan2(-xv, yv)
    return Split(
        middle=(x / PIXEL, y / PIXEL),
        width=width / PIXEL,
        height=height / PIXEL,
        roll=degrees((along + upright) / 2),
        skew=degrees(upright - along),
        across=-g / depth,
        down=-h / depth,
        bow=None if middles is None else _bow(corners, middles),
    )


def _steps(room: Room, found: Split) -> tuple[Correction, ...]:
    """List what is worth correcting, in the order in which to do it."""
    feet = sorted(_feet(room, found), key=lambda step: -step.pixels)
    return tuple(step for step in (*feet, *_others(room, found)) if step.pixels > NEGLIGIBLE)


def _feet(room: Room, found: Split) -> Iterator[Correction]:
    """List what rolling, turning and tipping the projector corrects."""
    corner = hypot(found.width, found.height) / 2
    way = "clockwise" if found.roll > 0 else "anticlockwise"
    yield Correction(
        "roll",
        abs(radians(found.roll)) * corner,
        f"roll the projector {way}, seen from behind it, by {abs(found.roll):.2f} degrees",
    )
    side = "right" if found.across > 0 else "left"
    yield Correction(
        "trapezoid across",
        abs(found.across) / 2 * corner,
        f"turn the projector to the {side}{_angle(room, found.across, room.screen.width)}",
    )
    end = "down" if found.down > 0 else "up"
    yield Correction(
        "trapezoid down",
        abs(found.down) / 2 * corner,
        f"tip the projector's front {end}{_angle(room, found.down, room.screen.height)}, and "
        "bring the picture back with lens shift",
    )


def _others(room: Room, found: Split) -> Iterator[Correction]:
    """List what remains once the projector stands square."""
    x = found.middle[0] - room.projector.columns / 2
    y = found.middle[1] - room.projector.rows / 2
    ways = "right" if x > 0 else "left", "down" if y > 0 else "up"
    yield Correction(
        "shift",
        hypot(x, y),
        f"shift the picture {abs(x):.1f} pixels {ways[0]} and {abs(y):.1f} pixels {ways[1]}",
    )
    yield Correction(
        "skew",
        abs(radians(found.skew)) / 2 * hypot(found.width, found.height) / 2,
        "read the corners again; if they stand, the screen's frame is out of square",
    )
    yield Correction(
        "bow",
        0.0 if found.bow is None else max(abs(edge) for edge in found.bow),
        "no turn cures a bow: look to the screen's frame and tension, then to the lens",
    )


def _angle(room: Room, trapezoid: float, length: int) -> str:
    """Say by how many degrees to turn, if the projector's distance is known."""
    throw = room.projector.throw
    if throw is None:
        return ""
    return f" by about {degrees(atan(abs(trapezoid) * throw.distance / length)):.2f} degrees"


def _spill(room: Room, plane: Plane, box: tuple[int, int, int, int]) -> tuple[int, int, int, int]:
    """Give how far a box passes each edge of the screen at worst, micrometres, rounded up."""
    left, top, right, bottom = box
    places = [plane.back(x, y) for x in (left, right) for y in (top, bottom)]
    width, height = room.screen.width, room.screen.height
    return (
        ceil(max(0.0, *(-u for u, _ in places)) * width),
        ceil(max(0.0, *(-v for _, v in places)) * height),
        ceil(max(0.0, *(u - 1 for u, _ in places)) * width),
        ceil(max(0.0, *(v - 1 for _, v in places)) * height),
    )


def _bow(corners: Corners, middles: Middles) -> Bow:
    """Measure how far each edge's middle is from the line between its corners."""
    one, two, three, four = corners
    edges = ((one, two), (two, three), (three, four), (four, one))
    return Bow(
        *(
            -cross(start, end, middle) / hypot(end.x - start.x, end.y - start.y) / PIXEL
            for (start, end), middle in zip(edges, middles, strict=True)
        )
    )
