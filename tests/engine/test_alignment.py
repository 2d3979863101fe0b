"""Four screen corners, read off the test card: the exact map, the errors, what to turn first.

scikit-image fits the same projective picture of the screen and takes it apart by itself.
"""

from itertools import permutations
from math import cos, radians, sin

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from skimage.transform import AffineTransform, ProjectiveTransform

from engine.optics import fit
from engine.plane import Plane, corner_fault
from engine.planning.alignment import Split, align, split
from engine.room import Corner, Corners, Middles, Room, Throw
from tests.engine.planned import corners, off_square, room, screen

SQUARE = corners((0, 227), (4_096, 227), (4_096, 1_933), (0, 1_933))
UNIT = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
SEEN = off_square(screen(), (4_096, 2_160), 24_000)
SHARES = st.floats(0, 1)

Points = npt.NDArray[np.float64]


def corners_of(found: Split) -> tuple[tuple[float, float], ...]:
    """Work the four corners, in pixels, back out of the single errors, without the bow."""
    roll, half = radians(found.roll), radians(found.skew) / 2
    across, upright = roll - half, roll + half
    places = []
    for u, v in ((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)):
        depth = 1 - found.across * u - found.down * v
        x = found.width * cos(across) * u - found.height * sin(upright) * v
        y = found.width * sin(across) * u + found.height * cos(upright) * v
        places.append((found.middle[0] + x / depth, found.middle[1] + y / depth))
    return tuple(places)


def library_map(seen: Corners) -> ProjectiveTransform:
    """The map from shares of the screen to raster pixels, as scikit-image finds it."""
    pixels = np.array(seen) / 100
    found: ProjectiveTransform = ProjectiveTransform.from_estimate(  # type: ignore[no-untyped-call]
        UNIT, pixels
    )
    return found


@given(SEEN, SHARES, SHARES)
def test_a_place_in_the_raster_is_where_the_library_says_on_the_screen(
    seen: Corners, across: float, down: float
) -> None:
    ((x, y),) = library_map(seen)(np.array([[across, down]]))
    assert Plane.through(seen).back(float(x), float(y)) == pytest.approx((across, down), abs=1e-9)


@given(SEEN)
def test_the_rectangle_to_use_takes_in_the_screen_and_touches_it(seen: Corners) -> None:
    left, top, right, bottom = Plane.through(seen).outer()
    x, y = (np.array(seen) / 100).T
    assert left <= x.min() < left + 1
    assert top <= y.min() < top + 1
    assert right - 1 < x.max() <= right
    assert bottom - 1 < y.max() <= bottom


@given(SEEN, st.integers(1, 1_000), st.integers(1, 1_000))
def test_the_box_in_an_opening_lies_within_it(seen: Corners, across: int, down: int) -> None:
    left, top, right, bottom = Plane.through(seen).inner((across, 1_000), (down, 1_000))
    assume(right > left and bottom > top)
    edges = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    shares = library_map(seen).inverse(edges) - 0.5
    assert np.abs(shares[:, 0]).max() <= across / 2_000 + 1e-9
    assert np.abs(shares[:, 1]).max() <= down / 2_000 + 1e-9


@given(SEEN)
def test_the_parts_put_together_give_the_corners_again(seen: Corners) -> None:
    again = np.array(corners_of(split(seen)))
    assert np.abs(again - np.array(seen) / 100).max() < 1e-6


@given(SEEN)
def test_the_parts_are_those_that_the_library_finds(seen: Corners) -> None:
    found, matrix = split(seen), library_map(seen).params
    shift = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
    centred = matrix @ shift
    centred = centred / centred[2, 2]
    x, y = centred[:2, 2]
    flat = centred[:2, :2] - np.outer(centred[:2, 2], centred[2, :2])
    whole = np.eye(3)
    whole[:2, :2] = flat
    affine = AffineTransform(matrix=whole)  # type: ignore[no-untyped-call]
    width, height = np.hypot(*flat[:, 0]), np.hypot(*flat[:, 1])
    assert found.middle == pytest.approx((x, y), abs=1e-6)
    assert (found.width, found.height) == pytest.approx((width, height), abs=1e-6)
    assert (found.across, found.down) == pytest.approx(-centred[2, :2], abs=1e-9)
    turned = radians(found.roll - found.skew / 2)
    assert turned == pytest.approx(affine.rotation, abs=1e-9)


def test_a_square_screen_has_no_errors() -> None:
    found = split(SQUARE)
    assert [*found.middle, found.width, found.height] == [2_048, 1_080, 4_096, 1_706]
    assert [found.roll, found.skew, found.across, found.down] == [0, 0, 0, 0]
    assert align(room(), SQUARE).first is None


def turned(seen: Corners, angle: float, scale: float = 1.0) -> Corners:
    """The same corners, turned clockwise about the raster's middle and made smaller."""
    c, s = cos(radians(angle)) * scale, sin(radians(angle)) * scale
    places = [(corner.x / 100 - 2_048, corner.y / 100 - 1_080) for corner in seen]
    return corners(*((2_048 + c * x - s * y, 1_080 + s * x + c * y) for x, y in places))


@given(st.floats(-3, 3))
def test_a_turn_is_found_as_roll_and_nothing_else(angle: float) -> None:
    found = split(turned(SQUARE, angle, 0.9))
    assert found.roll == pytest.approx(angle, abs=1e-3)
    assert found.skew == pytest.approx(0, abs=1e-3)
    assert (found.across, found.down) == pytest.approx((0, 0), abs=1e-5)


def thrown(
    place: Room, pitch: float = 0.0, yaw: float = 0.0, distance: float = 5_200_000
) -> Corners:
    """Where a pinhole projector sees the screen's corners, tipped up and turned right by degrees.

    The raster is as wide as the screen on a wall square to it.
    """
    width, height = place.screen.width / 2, place.screen.height / 2
    pixels = distance * place.projector.columns / place.screen.width * 0.95
    up, right = radians(pitch), radians(yaw)
    places = []
    for x, y in ((-width, -height), (width, -height), (width, height), (-width, height)):
        across, deep = (
            x * cos(right) - distance * sin(right),
            x * sin(right) + distance * cos(right),
        )
        down, deep = y * cos(up) + deep * sin(up), deep * cos(up) - y * sin(up)
        places.append((2_048 + across / deep * pixels, 1_080 + down / deep * pixels))
    return corners(*places)


@pytest.mark.parametrize(
    ("pitch", "yaw", "error", "words"),
    [
        (1.5, 0.0, "tipped", "front down by about 1.50 degrees"),
        (-1.5, 0.0, "tipped", "front up by about 1.50 degrees"),
        (0.0, 2.0, "turned", "to the left by about 2.00 degrees"),
        (0.0, -2.0, "turned", "to the right by about 2.00 degrees"),
    ],
)
def test_a_projector_that_is_tipped_or_turned_is_sent_back(
    pitch: float, yaw: float, error: str, words: str
) -> None:
    throw = Throw(5_200_000, 13_500, 27_000, 5_000, 2_000, 0, 0)
    place = room(screen(border=500_000), throw=throw)
    first = align(place, thrown(place, pitch, yaw)).first
    assert first is not None
    assert first.error == error
    assert words in first.turn


def test_without_a_throw_the_step_gives_the_way_and_no_angle() -> None:
    first = align(room(), thrown(room(), pitch=1.5)).first
    assert first is not None
    assert "front down" in first.turn
    assert "degrees" not in first.turn


def test_only_the_largest_error_is_told_and_shift_comes_after_the_feet() -> None:
    rolled = turned(thrown(room(), pitch=0.5), 1.0, 0.9)
    moved = corners(*((corner.x / 100 + 90, corner.y / 100) for corner in rolled))
    first = align(room(), moved).first
    assert first is not None
    assert first.error == "rolled"
    assert "roll the projector clockwise, seen from behind it, by about 1.0" in first.turn
    tipped = corners(*((corner.x / 100 + 90, corner.y / 100) for corner in thrown(room(), 0.5)))
    assert (align(room(), tipped).first or first).error == "tipped"
    straight = corners(*((corner.x / 100 + 90, corner.y / 100) for corner in SQUARE))
    shifted = align(room(), straight).first
    assert shifted is not None
    assert shifted.error == "shift"
    assert "right" in shifted.turn


def test_corners_that_no_projector_shows_are_to_be_read_again_first() -> None:
    """One corner is 12 pixels off, and the place of the lens is known: that is no turn."""
    throw = Throw(5_200_000, 13_500, 27_000, 5_000, 2_000, 300_000, 100_000)
    place = room(screen(border=500_000), throw=throw)
    square = [(corner.x / 100, corner.y / 100) for corner in turned(SQUARE, 0, 0.9)]
    first = align(place, corners((square[0][0] - 12, square[0][1] + 12), *square[1:])).first
    assert first is not None
    assert first.error == "misfit"
    assert "out of square" in first.turn


def test_corners_alone_show_no_bow_and_the_edges_middles_do() -> None:
    assert split(SQUARE).bow is None
    middles = Middles(
        top=Corner(204_800, 22_300),
        right=Corner(409_600, 108_000),
        bottom=Corner(204_800, 192_800),
        left=Corner(-200, 108_000),
    )
    bow = split(SQUARE, middles).bow
    assert bow is not None
    assert tuple(bow) == pytest.approx((4, 0, -5, 2))  # the bottom edge hangs inwards
    first = align(room(), SQUARE, middles).first
    assert first is not None
    assert (first.error, first.pixels) == ("bow", 5)


def test_the_spill_is_what_the_rectangle_passes_the_screen_by_at_worst() -> None:
    # One corner 20 pixels in: along the top edge the rectangle passes the screen by nothing on
    # the right and by those 20 pixels, 3.4 m x 20 / 4000, on the left.
    place = room(fits={"broad": 24_000})
    seen = corners((68, 250), (4_048, 250), (4_048, 1_910), (48, 1_910))
    found = align(place, seen)
    assert found.box == (48, 250, 4_048, 1_910)
    assert found.spill[0] == pytest.approx(20 / 3_980 * 3_400_000, rel=0.01)
    assert found.spill[1:] == (0, 0, 0)
    assert found.beyond == ()
    assert align(room(screen(border=10_000)), seen).beyond == ("left",)


@given(SEEN)
def test_a_raster_that_ends_before_the_screen_does_is_said_to(seen: Corners) -> None:
    """How far, as scikit-image has it: along the screen's edge, and no further up or down.

    Of the screen's points that the raster's first column meets, the furthest from the edge counts.
    """
    narrow = corners(*((corner.x / 100 - 200, corner.y / 100) for corner in seen))
    found = align(room(), narrow)
    assume(found.box[0] == 0 and narrow.top_left.x < 0 and narrow.bottom_left.x < 0)
    seen_at = library_map(narrow)
    across = np.linspace(0, 0.3, 3_001)
    dark = [
        np.interp(0, seen_at(np.column_stack([across, np.full(3_001, down)]))[:, 0], across)
        for down in (0, 0.25, 0.5, 0.75, 1)
    ]
    assert found.short[0] == pytest.approx(max(dark) * 3_400_000, abs=1)
    assert found.short[2] == 0


@given(SEEN)
def test_no_spill_is_negative_and_a_wide_border_takes_it_all(seen: Corners) -> None:
    found = align(room(screen(border=1_000_000)), seen)
    assert all(over >= 0 for over in found.spill)
    assert found.beyond == ()


@pytest.mark.parametrize("order", list(permutations(range(4))))
def test_corners_in_the_wrong_order_or_crossing_are_refused(order: tuple[int, ...]) -> None:
    mixed = Corners(*(SQUARE[index] for index in order))
    if mixed == SQUARE:
        assert corner_fault(mixed) is None
        return
    with pytest.raises(ValueError, match="give them as seen on the screen, top left first"):
        align(room(), mixed)


def test_a_corner_on_the_line_between_its_neighbours_is_refused() -> None:
    assert corner_fault(corners((0, 0), (50, 0), (100, 0), (0, 100))) is not None


def test_a_measured_screen_is_where_the_picture_goes() -> None:
    seen = corners((100, 300), (3_940, 300), (3_940, 1_900), (100, 1_900))
    place = room(measured={"broad": seen})
    rect = fit(place, "plain", 0, 24_000, "broad", "open")
    assert tuple(rect) == (100, 300, 3_840, 1_600)
