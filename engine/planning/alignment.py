"""Where the screen lies in the raster, found from its four corners read off the test card.

A flat screen seen from the raster is a projective picture of itself, and four corners fix it
altogether: eight figures, split here into where the screen's middle lies, how large it is, how
far it is rolled, how far it is out of square, and a trapezoid in each direction. Straight lines
stay straight in such a picture, so corners alone can never show a bow: that takes the middles
of the edges as well.

These figures are for people; decisions use the exact map of `engine.plane`.
"""

from __future__ import annotations

from math import atan, atan2, ceil, cos, degrees, hypot, radians, sin
from typing import TYPE_CHECKING, Final, NamedTuple

from engine.plane import PIXEL, Plane, corner_fault, cross

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.room import Corners, Middles, Room

NEGLIGIBLE: Final = 1.0
"""What moves no corner by more than this many pixels is left as it is."""

SIDES: Final = ("left", "top", "right", "bottom")


class Bow(NamedTuple):
    """How far the middle of each edge lies outside (positive) the line between its corners."""

    top: float
    right: float
    bottom: float
    left: float


class Split(NamedTuple):
    """What the corners say, each error by itself. Lengths in raster pixels."""

    middle: tuple[float, float]
    """Where the screen's middle lies, from the raster's top left."""
    width: float
    """How many pixels the screen takes across, measured through its middle."""
    height: float
    roll: float
    """Degrees by which the screen is turned clockwise in the raster: the picture stands too high
    on the right by as much."""
    skew: float
    """Degrees by which the screen's edges miss the right angle: hardly a projector's doing, so the
    screen is out of square or a corner is misread."""
    across: float
    """Trapezoid: how much larger the screen is in the raster at its right edge than at its left,
    as a share."""
    down: float
    """Trapezoid: how much larger it is at its bottom edge than at its top."""
    bow: Bow | None
    """None where only corners were read."""


class Correction(NamedTuple):
    """One error worth putting right."""

    error: str
    """roll, trapezoid across, trapezoid down, shift, skew or bow."""
    pixels: float
    """By how much it moves a corner, the screen's middle (shift) or an edge's (bow)."""
    turn: str
    """What to do about it, in words."""


class Alignment(NamedTuple):
    """One preset, measured."""

    box: tuple[int, int, int, int]
    """The rectangle to use: edges, in raster pixels, that just take in the whole screen."""
    spill: tuple[int, int, int, int]
    """How far that rectangle passes the screen at worst, micrometres, as `SIDES` lists them."""
    beyond: tuple[str, ...]
    """The sides on which it passes the border too."""
    split: Split
    steps: tuple[Correction, ...]
    """What to do, in this order: first what the projector's feet cure, the largest first, then
    lens shift, then what neither cures. Empty when nothing is worth touching."""


def align(room: Room, corners: Corners, middles: Middles | None = None) -> Alignment:
    """Say what measured corners mean; raises ValueError with a sentence where they cross."""
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
    """Split what the corners say into its parts, as they are in the screen's middle.

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


def corners_of(found: Split) -> tuple[tuple[float, float], ...]:
    """Put the parts together again: the four corners in pixels, the bow left out."""
    roll, half = radians(found.roll), radians(found.skew) / 2
    across, upright = roll - half, roll + half
    places = []
    for u, v in ((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)):
        depth = 1 - found.across * u - found.down * v
        x = found.width * cos(across) * u - found.height * sin(upright) * v
        y = found.width * sin(across) * u + found.height * cos(upright) * v
        places.append((found.middle[0] + x / depth, found.middle[1] + y / depth))
    return tuple(places)


def _steps(room: Room, found: Split) -> tuple[Correction, ...]:
    """List what is worth putting right, in the order in which it is done."""
    feet = sorted(_feet(room, found), key=lambda step: -step.pixels)
    return tuple(step for step in (*feet, *_others(room, found)) if step.pixels > NEGLIGIBLE)


def _feet(room: Room, found: Split) -> Iterator[Correction]:
    """List what standing, turning and tipping the projector cures."""
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
    """List what remains when the projector stands square."""
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
    """Say by how many degrees, where it is known how far away the projector stands."""
    throw = room.projector.throw
    if throw is None:
        return ""
    return f" by about {degrees(atan(abs(trapezoid) * throw.distance / length)):.2f} degrees"


def _spill(room: Room, plane: Plane, box: tuple[int, int, int, int]) -> tuple[int, int, int, int]:
    """Say how far each edge of a box passes the screen's at worst, micrometres, rounded up."""
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
    """Measure each edge's middle from the line between its corners, outwards positive."""
    one, two, three, four = corners
    edges = ((one, two), (two, three), (three, four), (four, one))
    return Bow(
        *(
            -cross(start, end, middle) / hypot(end.x - start.x, end.y - start.y) / PIXEL
            for (start, end), middle in zip(edges, middles, strict=True)
        )
    )
