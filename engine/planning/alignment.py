"""Find out from a screen's four corners, read off the test card, how a projector is aligned.

The map between a flat screen and the raster is projective, and four corners determine it. Their
eight figures are split here into the place of the screen's middle, its size, how far it is rolled,
how far it is out of square, and a trapezoid in each direction: what the eye sees. How the projector
stands is another question, which `pose` answers. Such a map keeps straight lines straight, so
corners alone cannot show a bow: that takes the middles of the edges as well.

Only one correction is told. Each changes what the others look like, so the corners are read again
after it.

These figures are for people. Decisions use the exact map of `engine.plane`.
"""

from __future__ import annotations

from math import atan2, ceil, degrees, hypot
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from engine.plane import PIXEL, Plane, at_ends, corner_fault, cross
from engine.planning.pose import MISFIT, find_pose

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.planning.pose import Estimate, ProjectorPose
    from engine.room import Corners, Middles, Room

NEGLIGIBLE: Final = 1.0
"""An error that moves no corner by more than this many pixels is not worth correcting."""
Side = Literal["left", "top", "right", "bottom"]

SIDES: Final[tuple[Side, ...]] = ("left", "top", "right", "bottom")
"""The order of a rectangle's edges wherever four figures are given without names."""

Misalignment = Literal["turned", "tipped", "rolled", "misfit", "shift", "bow"]
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
    """Degrees by which the screen seems turned clockwise in the raster. A projector that is turned
    or tipped with a shifted lens shows that too, without being rolled: see `ProjectorPose.roll`."""
    skew: float
    """Degrees by which the screen's edges miss a right angle in the raster; for the same reason
    that alone says nothing against the screen's frame."""
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
    short: tuple[int, int, int, int]
    """How far that rectangle ends inside each edge of the screen at worst, in micrometres: the
    raster is at its end there."""
    spill: tuple[int, int, int, int]
    """How far that rectangle passes each edge of the screen at worst, in micrometres."""
    beyond: tuple[Side, ...]
    """The sides on which it passes the border as well."""
    split: Split
    pose: ProjectorPose
    first: Correction | None
    """The one thing to do before the corners are read again: to read them again at once where no
    projector shows them, else the largest of what moving the projector corrects, then lens shift,
    then what neither corrects. None if nothing is worth it."""


def align(room: Room, corners: Corners, middles: Middles | None = None) -> Alignment:
    """Say what measured corners mean. Raises ValueError if no screen can have such corners."""
    wrong = corner_fault(corners)
    if wrong is not None:
        raise ValueError(wrong)
    plane = Plane.through(corners)
    columns, rows = room.projector.columns, room.projector.rows
    whole = plane.outer()
    left, top, right, bottom = whole
    box = max(0, left), max(0, top), min(columns, right), min(rows, bottom)
    spill, ends = _spill(room, plane, box), _short(room, plane, box)
    left, top, right, bottom = (
        end if one != other else 0 for end, one, other in zip(ends, box, whole, strict=True)
    )
    found, pose = split(corners, middles), find_pose(room, corners)
    return Alignment(
        box=box,
        short=(left, top, right, bottom),
        spill=spill,
        beyond=tuple(
            side for side, over in zip(SIDES, spill, strict=True) if over > room.screen.border
        ),
        split=found,
        pose=pose,
        first=_first(room, found, pose),
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


def _first(room: Room, found: Split, pose: ProjectorPose) -> Correction | None:
    """Pick what to do first: no shift can be judged while the projector stands askew."""
    feet = sorted(_feet(pose), key=lambda step: -step.pixels)
    worth = [step for step in (*feet, *_others(room, found)) if step.pixels > NEGLIGIBLE]
    largest = worth[0] if worth else None
    return _misfit(pose, largest) if pose.misfit > MISFIT else largest


def _feet(pose: ProjectorPose) -> Iterator[Correction]:
    """List what turning, tipping and rolling the projector corrects, as far as it is certain."""
    turned, tipped, rolled = pose.moves
    if shows(pose, pose.yaw, turned):
        side = "left" if pose.yaw.value > 0 else "right"
        turn = f"turn the projector to the {side}{_angle(pose, pose.yaw)}"
        yield Correction("turned", turned, turn)
    if shows(pose, pose.pitch, tipped):
        end = "down" if pose.pitch.value > 0 else "up"
        turn = f"tip the projector's front {end}{_angle(pose, pose.pitch)}, and "
        yield Correction("tipped", tipped, turn + "bring the picture back with lens shift")
    if pose.roll.certain:
        way = "anticlockwise" if pose.roll.value > 0 else "clockwise"
        turn = f"roll the projector {way}, seen from behind it, by about {degrees_said(pose.roll)}"
        yield Correction("rolled", rolled, turn)


def shows(pose: ProjectorPose, angle: Estimate, moved: float) -> bool:
    """Tell whether the way of a turn is certain, if not how far it goes without a distance.

    `moved` is by how many pixels it moves a corner: see `ProjectorPose.moves`.
    """
    return angle.certain if pose.distance_known else moved > MISFIT


def _misfit(pose: ProjectorPose, otherwise: Correction | None) -> Correction:
    """Ask for new readings where no projector shows corners like these."""
    turn = (
        "read the corners again, for no projector shows a square screen so; if they stand, the "
        "screen's frame is out of square"
    )
    if otherwise is not None:
        turn += f": then {otherwise.turn}"
    return Correction("misfit", pose.misfit, turn)


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
        "bow",
        0.0 if found.bow is None else max(abs(edge) for edge in found.bow),
        "no turn cures a bow: look to the screen's frame and tension, then to the lens",
    )


def _angle(pose: ProjectorPose, angle: Estimate) -> str:
    """Say by how many degrees to turn, if the projector's distance is known."""
    return f" by about {degrees_said(angle)}" if pose.distance_known else ""


def degrees_said(angle: Estimate) -> str:
    """Say an angle without its sign, with how far it may be out."""
    out = max(0.01, 2 * angle.error)
    return f"{abs(angle.value):.2f} degrees (give or take {out:.2f})"


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


def _short(room: Room, plane: Plane, box: tuple[int, int, int, int]) -> tuple[int, int, int, int]:
    """Give how far a box ends inside each edge of the screen at worst, micrometres."""
    left, top, right, bottom = box
    one, two, three, four = (
        plane.back(x, y) for x, y in ((left, top), (right, top), (right, bottom), (left, bottom))
    )
    whole = (0.0, 1.0)
    width, height = room.screen.width, room.screen.height
    return (
        round(max(0.0, *at_ends((one, four), 0, whole)) * width),
        round(max(0.0, *at_ends((one, two), 1, whole)) * height),
        round(max(0.0, 1 - min(at_ends((two, three), 0, whole))) * width),
        round(max(0.0, 1 - min(at_ends((four, three), 1, whole))) * height),
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
