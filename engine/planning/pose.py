"""Find out how a projector stands from the places of a screen's four corners in its raster.

The projector is taken for a pinhole: turned (yaw), tipped (pitch) and rolled at a place in front of
the screen, with a lens whose zoom and shift are free. All of it is fitted as one, because each part
looks like others once the lens is shifted: the picture then lies off the lens's axis, and a
projector that is only turned shows a screen that seems rolled and out of square.

Four corners are eight figures, and the unknowns are nine. What the room file says about the
projector's place therefore counts as a reading too, as exact as a tape measure is, and so do the
limits of the lens's shift. Where the file says nothing, place and shift may be anything that is
usual, and the uncertainty of the angles says so.

The fit is Gauss and Newton's, weighted by the errors of the readings; its normal matrix gives the
uncertainty. These figures are for people.
"""

from __future__ import annotations

from math import cos, degrees, hypot, sin, sqrt
from typing import TYPE_CHECKING, Final, NamedTuple

from engine.aspect import SCALE
from engine.plane import PIXEL

if TYPE_CHECKING:
    from collections.abc import Sequence

    from engine.room import Corners, Room

READING: Final = 0.5
"""How exactly a corner is read off the test card, in pixels (standard deviation; common practice:
to half a line of its finest grid)."""
MISFIT: Final = 3 * READING
"""A corner that misses the projector fitted to it by more than this many pixels was misread, or the
screen's frame is out of square."""
TAPE: Final = 0.05
"""How exactly a lens's offset from the middle of the screen is known if it is stated, in metres."""
DISTANCE_ERROR: Final = 0.02
"""How exactly a distance is known if it is stated, as a share of it."""
USUAL_THROW: Final = 2.0
"""The distance that is taken if none is stated, in widths of the screen."""
UNSTATED_DISTANCE_ERROR: Final = 0.5
"""How exactly that distance is known, as a share of it."""
UNSTATED_ACROSS: Final = 0.15
UNSTATED_ABOVE: Final = 0.5
"""How far off the middle a lens may be if no offset is stated, in widths and heights of the
screen (standard deviations): most hang in the middle, and many above it or below."""
USUAL_SHIFT: Final = 0.5
"""How far a lens may be shifted if no limit is stated, as a share of the raster (standard
deviation)."""

ROUNDS: Final = 60
SETTLED: Final = 1e-12
NUDGE: Final = 1e-6

Numbers = list[float]
Matrix = list[Numbers]
Spot = tuple[float, float]


class Estimate(NamedTuple):
    """A figure and its uncertainty."""

    value: float
    error: float
    """One standard deviation."""

    @property
    def certain(self) -> bool:
        """Whether it differs from 0 by more than two standard deviations."""
        return abs(self.value) > 2 * self.error


class ProjectorPose(NamedTuple):
    """How the projector stands. Angles are in degrees, and 0 where it stands square."""

    yaw: Estimate
    """How far it is turned to the right, seen from behind it."""
    pitch: Estimate
    """How far its front is tipped up."""
    roll: Estimate
    """How far it is rolled clockwise, seen from behind it."""
    shift_up: Estimate
    """How far the lens is shifted up, as a share of the raster's height."""
    shift_across: Estimate
    """How far it is shifted to the right, as a share of the raster's width."""
    moves: tuple[float, float, float]
    """By how many pixels yaw, pitch and roll each move a corner against the others."""
    misfit: float
    """By how many pixels the corner that fits worst misses what this projector would show."""
    distance_known: bool
    """Whether the room file says how far away the projector is; if not, the angles are guesses."""


class _Unknowns(NamedTuple):
    """What is fitted: radians, raster pixels, metres."""

    yaw: float
    pitch: float
    roll: float
    focal: float
    axis_x: float
    axis_y: float
    across: float
    """The lens's place right of the middle of the screen."""
    above: float
    """Its place above the middle."""
    distance: float


class _Fit(NamedTuple):
    """The readings and how exactly each is known."""

    room: Room
    corners: Corners
    stated: tuple[float, ...]
    """What is known beforehand of `_Unknowns`, from `axis_x` on."""
    stated_errors: tuple[float, ...]

    def seen(self, at: _Unknowns) -> list[Spot]:
        """Say where this projector has the screen's corners in its raster."""
        width, height = self.room.screen.width / 2e6, self.room.screen.height / 2e6
        ends = ((-width, -height), (width, -height), (width, height), (-width, height))
        return [_project(at, x, y) for x, y in ends]

    def misses(self, at: _Unknowns) -> Numbers:
        """List what every reading misses, each divided by its error."""
        found = []
        for (x, y), read in zip(self.seen(at), self.corners, strict=True):
            found += [(x - read.x / PIXEL) / READING, (y - read.y / PIXEL) / READING]
        known = zip(at[-len(self.stated) :], self.stated, self.stated_errors, strict=True)
        return found + [(value - stated) / error for value, stated, error in known]


def find_pose(room: Room, corners: Corners) -> ProjectorPose:
    """Fit how the projector stands to measured corners, which must be without `corner_fault`."""
    fit = _with_place(room, corners)
    at = _fitted(fit)
    columns, rows = room.projector.columns, room.projector.rows
    seen = fit.seen(at)
    misfit = max(
        hypot(x - read.x / PIXEL, y - read.y / PIXEL)
        for (x, y), read in zip(seen, corners, strict=True)
    )
    errors = _errors(fit, at, widened=misfit > MISFIT)
    return ProjectorPose(
        yaw=Estimate(degrees(at.yaw), degrees(errors[0])),
        pitch=Estimate(degrees(at.pitch), degrees(errors[1])),
        roll=Estimate(degrees(at.roll), degrees(errors[2])),
        shift_up=Estimate((at.axis_y - rows / 2) / rows, errors[5] / rows),
        shift_across=Estimate((columns / 2 - at.axis_x) / columns, errors[4] / columns),
        moves=(
            _moved(seen, fit.seen(at._replace(yaw=0.0))),
            _moved(seen, fit.seen(at._replace(pitch=0.0))),
            _moved(seen, fit.seen(at._replace(roll=0.0))),
        ),
        misfit=misfit,
        distance_known=room.projector.throw is not None,
    )


def _with_place(room: Room, corners: Corners) -> _Fit:
    """Take the projector's place from the room file, with what it leaves open."""
    width, height = room.screen.width / 1e6, room.screen.height / 1e6
    throw = room.projector.throw
    across = above = 0.0
    distance, share = USUAL_THROW * width, UNSTATED_DISTANCE_ERROR
    if throw is not None:
        distance, share = throw.distance / 1e6, DISTANCE_ERROR
        across, above = throw.offset_across / 1e6, throw.offset_up / 1e6
    columns, rows = room.projector.columns, room.projector.rows
    errors = (
        ((throw and throw.shift_across / SCALE) or USUAL_SHIFT) * columns,
        ((throw and throw.shift_up / SCALE) or USUAL_SHIFT) * rows,
        TAPE if across or above else UNSTATED_ACROSS * width,
        TAPE if across or above else UNSTATED_ABOVE * height,
        share * distance,
    )
    return _Fit(room, corners, (columns / 2, rows / 2, across, above, distance), errors)


def _project(at: _Unknowns, x: float, y: float) -> Spot:
    """Say where a point of the screen lies in the raster; x to the right, y down, in metres."""
    x, y, z = x - at.across, y + at.above, at.distance
    x, z = x * cos(at.yaw) - z * sin(at.yaw), x * sin(at.yaw) + z * cos(at.yaw)
    y, z = y * cos(at.pitch) + z * sin(at.pitch), z * cos(at.pitch) - y * sin(at.pitch)
    x, y = x * cos(at.roll) + y * sin(at.roll), y * cos(at.roll) - x * sin(at.roll)
    return at.axis_x + at.focal * x / z, at.axis_y + at.focal * y / z


def _fitted(fit: _Fit) -> _Unknowns:
    """Fit from a first guess, with steps that are halved while they make it worse."""
    at = _guess(fit)
    misses = fit.misses(at)
    for _ in range(ROUNDS):
        normal, slope = _normal(fit, at, misses)
        step = _solved(normal, [[value] for value in slope])
        share, better, worth = 1.0, at, _sum_of_squares(misses)
        while share > NUDGE:
            tried = _Unknowns(*(old - share * new[0] for old, new in zip(at, step, strict=True)))
            if _sum_of_squares(fit.misses(tried)) < worth:
                better = tried
                break
            share /= 2
        gained = worth - _sum_of_squares(fit.misses(better))
        at, misses = better, fit.misses(better)
        if gained <= SETTLED * (1 + worth):
            break
    return at


def _guess(fit: _Fit) -> _Unknowns:
    """Begin square to the screen, with the zoom and the shift that fit best so."""
    across, above, distance = fit.stated[-3:]
    x = [corner.x / PIXEL for corner in fit.corners]
    y = [corner.y / PIXEL for corner in fit.corners]
    width = (x[1] + x[2] - x[0] - x[3]) / 2
    focal = width * distance / (fit.room.screen.width / 1e6)
    return _Unknowns(
        *(0.0, 0.0, 0.0),
        focal,
        sum(x) / 4 + focal * across / distance,
        sum(y) / 4 - focal * above / distance,
        *(across, above, distance),
    )


def _normal(fit: _Fit, at: _Unknowns, misses: Numbers) -> tuple[Matrix, Numbers]:
    """Give the normal matrix and the slope of the sum of squares at a place."""
    columns = []
    for index, value in enumerate(at):
        nudge = NUDGE * max(1.0, abs(value))
        values = list(at)
        values[index] += nudge
        moved = fit.misses(_Unknowns(*values))
        columns.append([(new - old) / nudge for new, old in zip(moved, misses, strict=True)])
    return (
        [[_dot(one, other) for other in columns] for one in columns],
        [_dot(one, misses) for one in columns],
    )


def _errors(fit: _Fit, at: _Unknowns, *, widened: bool) -> Numbers:
    """Give the standard deviation of everything that was fitted.

    Where no projector shows such corners, the readings are further out than they were taken for:
    then it is `widened` by as much as they miss.
    """
    misses = fit.misses(at)
    normal, _ = _normal(fit, at, misses)
    spare = len(misses) - len(at)
    wider = sqrt(max(1.0, _sum_of_squares(misses) / spare)) if widened else 1.0
    size = len(normal)
    unit = [[1.0 if row == column else 0.0 for column in range(size)] for row in range(size)]
    inverse = _solved(normal, unit)
    return [wider * sqrt(max(0.0, inverse[index][index])) for index in range(size)]


def _solved(matrix: Matrix, right: Matrix) -> Matrix:
    """Solve a symmetric, positive definite system for several right-hand sides.

    Rows and columns are brought to one scale first, because pixels and radians are far apart.
    """
    size = len(matrix)
    scale = [1 / sqrt(matrix[index][index]) for index in range(size)]
    rows = [
        [matrix[i][j] * scale[i] * scale[j] for j in range(size)]
        + [value * scale[i] for value in right[i]]
        for i in range(size)
    ]
    for column in range(size):
        pivot = max(range(column, size), key=lambda row: abs(rows[row][column]))
        rows[column], rows[pivot] = rows[pivot], rows[column]
        for row in range(size):
            if row != column:
                share = rows[row][column] / rows[column][column]
                rows[row] = [a - share * b for a, b in zip(rows[row], rows[column], strict=True)]
    return [[value / rows[i][i] * scale[i] for value in rows[i][size:]] for i in range(size)]


def _moved(corners: Sequence[Spot], others: Sequence[Spot]) -> float:
    """Say how far a corner moves from one to the other, besides what all of them move together."""
    moves = [(x - u, y - v) for (x, y), (u, v) in zip(corners, others, strict=True)]
    across = sum(x for x, _ in moves) / len(moves)
    down = sum(y for _, y in moves) / len(moves)
    return max(hypot(x - across, y - down) for x, y in moves)


def _dot(one: Sequence[float], other: Sequence[float]) -> float:
    return sum(a * b for a, b in zip(one, other, strict=True))


def _sum_of_squares(values: Sequence[float]) -> float:
    return _dot(values, values)
