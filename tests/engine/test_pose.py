"""How a projector stands, from four corners, however it is turned, tipped, rolled and shifted.

The corners come from a pinhole of the test's own: scipy turns it, and a plain matrix projects.
"""

from __future__ import annotations

from dataclasses import replace
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from adapters.render.alignment_text import alignment_rows
from engine.planning.alignment import align, split
from engine.planning.pose import MISFIT, find_pose
from engine.room import Corners, Room, Throw
from tests.engine.planned import corners, room, screen

DISTANCE = 5.2
"""Metres."""


def placed(above: float = 0.0, across: float = 0.0) -> Room:
    """A room whose file states where the lens stands, in metres from the screen's middle."""
    offsets = round(above * 1e6), round(across * 1e6)
    throw = Throw(round(DISTANCE * 1e6), 13_500, 27_000, 6_000, 3_000, *offsets)
    return room(screen(border=500_000), throw=throw)


def shown(  # noqa: PLR0913 - a projector stands in as many ways
    at: Room,
    *,
    yaw: float = 0.0,
    pitch: float = 0.0,
    roll: float = 0.0,
    shift: tuple[float, float] = (0.0, 0.0),
    lens: tuple[float, float] = (0.0, 0.0),
    zoom: float = 0.9,
    noise: float = 0.0,
    seed: int = 0,
) -> Corners:
    """Where a pinhole has the screen's corners. Angles in degrees: right, up, clockwise.

    `shift` is the lens's, right and up, in shares of the raster; `lens` is its place right of the
    screen's middle and above it, in metres. The world's axes point right, down and away.
    """
    columns, rows = at.projector.columns, at.projector.rows
    # Turning the projector moves its axes; a point is seen by the inverse. It turns about the
    # upright (down) axis to the right, about its own right to tip up, and rolls about its own axis.
    axes = Rotation.from_euler("YXZ", [yaw, pitch, roll], degrees=True).as_matrix()
    focal = DISTANCE * columns / (at.screen.width / 1e6) * zoom
    middle = np.array([columns * (0.5 - shift[0]), rows * (0.5 + shift[1])])
    width, height = at.screen.width / 2e6, at.screen.height / 2e6
    chance, places = Random(seed), []
    for x, y in ((-width, -height), (width, -height), (width, height), (-width, height)):
        point = axes.T @ np.array([x - lens[0], y + lens[1], DISTANCE])
        column, row = middle + focal * point[:2] / point[2]
        places.append((column + chance.gauss(0, noise), row + chance.gauss(0, noise)))
    return corners(*places)


ANGLES = st.floats(-6, 6)
SMALL = st.floats(-2, 2)


@given(ANGLES, ANGLES, SMALL, st.floats(-0.5, 0.5), st.floats(-0.2, 0.2))
def test_all_of_a_pose_is_found_as_one_where_the_lens_stands_is_stated(
    yaw: float, pitch: float, roll: float, above: float, across: float
) -> None:
    at = placed(above, across)
    seen = shown(at, yaw=yaw, pitch=pitch, roll=roll, shift=(across / 4, above / 2),
                 lens=(across, above))  # fmt: skip
    found = find_pose(at, seen)
    # An offset of exactly 0 counts as unstated; the angles are then known a little less well.
    assert found.yaw.value == pytest.approx(yaw, abs=0.15)
    assert found.pitch.value == pytest.approx(pitch, abs=0.15)
    assert found.roll.value == pytest.approx(roll, abs=0.08)
    assert found.misfit < 0.5


@pytest.mark.parametrize("above", [0.0, 0.7])
def test_a_turned_projector_with_a_shifted_lens_is_given_no_roll(above: float) -> None:
    """The screen seems rolled and out of square by a fifth and two fifths of a degree.

    Even where the file does not say how high the lens stands, what is rolled is told from what
    only looks so.
    """
    at = placed(above)
    seen = shown(at, yaw=3.0, shift=(0.07, 0.37), lens=(0.0, 0.7))
    looks = split(seen)
    assert abs(looks.roll) > 0.15
    assert abs(looks.skew) > 0.3
    found = align(at, seen)
    assert abs(found.pose.roll.value) < 0.02
    assert not found.pose.roll.certain
    assert found.first is not None
    assert found.first.error == "turned"
    assert "to the left by about 3.00 degrees" in found.first.turn


@given(st.integers(0, 10_000), ANGLES, ANGLES, SMALL)
def test_readings_half_a_pixel_out_leave_the_truth_within_what_is_said(
    seed: int, yaw: float, pitch: float, roll: float
) -> None:
    """Within five of its standard deviations, which chance leaves out once in a million."""
    at = placed(0.4, 0.1)
    seen = shown(at, yaw=yaw, pitch=pitch, roll=roll, lens=(0.1, 0.4), shift=(0, 0.2),
                 noise=0.5, seed=seed)  # fmt: skip
    found = find_pose(at, seen)
    for estimate, truth in ((found.yaw, yaw), (found.pitch, pitch), (found.roll, roll)):
        assert abs(estimate.value - truth) <= 5 * estimate.error + 0.02


def test_the_uncertainty_is_that_of_many_readings() -> None:
    """The spread of 200 readings of one projector, and the error that each of them states."""
    at = placed(0.4, 0.1)
    found = [
        find_pose(at, shown(at, yaw=2.0, roll=0.3, lens=(0.1, 0.4), shift=(0, 0.2), noise=0.5,
                            seed=seed))
        for seed in range(200)
    ]  # fmt: skip
    for angles in ([one.yaw for one in found], [one.roll for one in found]):
        spread = float(np.std([angle.value for angle in angles]))
        stated = float(np.mean([angle.error for angle in angles]))
        assert 0.6 * stated < spread < 1.3 * stated


@given(st.integers(0, 10_000))
def test_a_square_projector_is_hardly_ever_sent_anywhere_by_its_reading_error(seed: int) -> None:
    """What is told is beyond two standard deviations, and beyond a pixel: a few pixels at most."""
    at = placed(0.4, 0.1)
    seen = shown(at, lens=(0.1, 0.4), shift=(0.02, 0.2), noise=0.3, seed=seed)
    first = align(at, seen).first
    assert first is None or first.error == "shift" or first.pixels < 4


def test_step_after_step_a_projector_comes_to_stand_square() -> None:
    """Only the first step is told; done, and the corners read again, the next one is right too."""
    at, stands = placed(0.5), {"yaw": 4.0, "pitch": -2.0, "roll": 1.0}
    names = {"turned": "yaw", "tipped": "pitch", "rolled": "roll"}
    told = []
    for _ in range(6):
        yaw, pitch, roll = stands.values()
        seen = shown(at, yaw=yaw, pitch=pitch, roll=roll, lens=(0.0, 0.5), shift=(0.0, 0.3))
        found = align(at, seen)
        if found.first is None or found.first.error not in names:
            break
        told.append(found.first.error)
        name = names[found.first.error]
        stands[name] -= getattr(found.pose, name).value
    assert sorted(told[:3]) == ["rolled", "tipped", "turned"]
    assert all(abs(angle) < 0.1 for angle in stands.values())


def test_without_a_distance_angles_are_guesses_and_say_so() -> None:
    bare = replace(placed(), projector=placed().projector._replace(throw=None))
    found = find_pose(bare, shown(bare, yaw=3.0))
    assert not found.distance_known
    assert found.yaw.error > 0.5
    assert found.yaw.value > 0


def test_what_is_told_to_be_put_right_is_told_to_be_so() -> None:
    """Nobody is sent to tip a projector that is *not tipped as far as can be read*.

    Without a distance the way is seen, and how far it goes is a guess.
    """
    at = room(screen(border=500_000))
    for seed in range(20):
        found = align(at, shown(at, pitch=1.0, yaw=-0.6, noise=0.3, seed=seed))
        said = dict(alignment_rows(found, at.screen.border))
        assert "degrees (give or take" in said["Tipped"]
        assert ") up, guessed" in said["Tipped"]
        assert ") to the left, guessed" in said["Turned"]


def test_corners_that_no_projector_shows_leave_its_figures_the_less_certain() -> None:
    """One corner is misread by forty pixels: the shift was said to be known to a few per cent."""
    at = placed(0.4, 0.1)
    good = shown(at, yaw=1.0, lens=(0.1, 0.4), shift=(0.02, 0.2))
    misread = good._replace(top_left=good.top_left._replace(x=good.top_left.x + 4_000))
    sure, unsure = find_pose(at, good), find_pose(at, misread)
    assert unsure.misfit > MISFIT
    assert unsure.yaw.error > 5 * sure.yaw.error
    assert unsure.shift_up.error > 5 * sure.shift_up.error
    assert abs(unsure.yaw.value - 1.0) < 3 * unsure.yaw.error
    assert abs(unsure.shift_up.value - 0.2) < 3 * unsure.shift_up.error
