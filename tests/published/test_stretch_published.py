"""The stretch against general-purpose numeric and image libraries, and the trade's experience.

The map is stated by how wide a circle becomes; SciPy integrates that statement and finds the
inverse by itself, and scikit-image warps pictures by what SciPy found.
"""

import numpy as np
import numpy.typing as npt
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from skimage.draw import disk
from skimage.measure import regionprops
from skimage.transform import warp

from engine.room import Crop, Stretch
from engine.stretch import Curve, Solution, solve
from tests.engine.planned import CROPPED, GENTLE

Picture = npt.NDArray[np.float64]

CASES = [
    (GENTLE, 21_000, 24_000),
    (GENTLE, 17_778, 24_000),
    (GENTLE._replace(even_middle=0, rows_lost=0), 20_000, 23_500),
    (GENTLE._replace(even_middle=6_000, middle_circle=10_000), 22_000, 23_900),
    (Stretch(5_000, 16_000, 11_000, 2_000, 0), 17_778, 23_500),
    (CROPPED, 22_000, 24_000),
]
PLACES = [-1.0, -0.83, -0.5, -0.2, 0.0, 0.1, 0.3, 0.31, 0.42, 0.77, 0.95, 1.0]


def stated(curve: Curve, place: float) -> float:
    """The statement itself, once more: even, then a smooth rise to the edge."""
    t = min(1.0, max(0.0, (abs(place) - curve.even) / (1 - curve.even))) if curve.even < 1 else 0.0
    return curve.middle + (curve.edge - curve.middle) * (3 * t**2 - 2 * t**3)


def integrated(curve: Curve, place: float) -> float:
    whole: float = quad(lambda x: stated(curve, x), 0, place, points=[curve.even], epsabs=1e-13)[0]
    return whole


@pytest.mark.parametrize(("named", "aspect", "window"), CASES)
@pytest.mark.parametrize("place", PLACES)
def test_a_place_is_shown_where_scipys_quadrature_of_the_circles_ends(
    named: Stretch | Crop, aspect: int, window: int, place: float
) -> None:
    # SciPy integrate.quad (computed)
    curve = solve(named, aspect, window).widening.curve
    reach = integrated(curve, abs(place)) / integrated(curve, 1.0)
    assert abs(curve.shown(place)) == pytest.approx(reach, abs=1e-12)
    assert curve.gain == pytest.approx(integrated(curve, 1.0), abs=1e-12)


@pytest.mark.parametrize(("named", "aspect", "window"), CASES)
@pytest.mark.parametrize("place", [0.05, 0.3, 0.55, 0.8, 0.99])
def test_the_inverse_is_the_root_that_scipy_finds(
    named: Stretch | Crop, aspect: int, window: int, place: float
) -> None:
    # SciPy optimize.brentq on the quadrature (computed)
    curve = solve(named, aspect, window).widening.curve
    root = brentq(lambda x: integrated(curve, x) - place * integrated(curve, 1.0), 0, 1, xtol=1e-14)
    assert curve.source(place) == pytest.approx(root, abs=1e-11)


def gratings(columns: int, rows: int) -> Picture:
    """A test picture of gratings across, down and aslant, smooth enough to be resampled."""
    y, x = np.mgrid[0:rows, 0:columns] / rows
    picture: Picture = 0.5 + 0.2 * np.sin(17 * x) + 0.15 * np.cos(11 * y) + 0.1 * np.sin(8 * x * y)
    return picture


def warped_by_table(picture: Picture, found: Solution, columns: int) -> Picture:
    """Warp a picture by the project's own table, between neighbouring pixels by hand."""
    rows, width = picture.shape
    across = np.clip(np.array(found.widening.curve.table(columns)) * width - 0.5, 0, width - 1)
    shown = (np.arange(rows) + 0.5 - rows / 2) / found.widening.enlarged
    down = np.clip(shown + rows / 2 - 0.5, 0, rows - 1)
    left, top = np.minimum(across.astype(int), width - 2), np.minimum(down.astype(int), rows - 2)
    x, y = across - left, (down - top)[:, None]
    upper = picture[top][:, left] * (1 - x) + picture[top][:, left + 1] * x
    lower = picture[top + 1][:, left] * (1 - x) + picture[top + 1][:, left + 1] * x
    result: Picture = upper * (1 - y) + lower * y
    return result


def warped_by_library(picture: Picture, found: Solution, columns: int) -> Picture:
    """Warp it with scikit-image, along the inverse that SciPy finds of the integrated circles."""
    rows, width = picture.shape
    curve, whole = found.widening.curve, integrated(found.widening.curve, 1.0)

    def back(place: float) -> float:
        root = brentq(lambda x: integrated(curve, x) - abs(place) * whole, 0, 1, xtol=1e-14)
        return float(np.copysign(root, place))

    shown = [(2 * column + 1 - columns) / columns for column in range(columns)]
    source = np.array([(1 + back(place)) / 2 * width - 0.5 for place in shown])
    down = (np.arange(rows) + 0.5 - rows / 2) * (1 - found.widening.rows_lost) + rows / 2 - 0.5
    places = np.array(np.meshgrid(down, source, indexing="ij"))
    result: Picture = warp(  # type: ignore[no-untyped-call]
        picture, places, order=1, mode="edge"
    )
    return result


@pytest.mark.parametrize(("named", "aspect", "window"), CASES)
def test_a_warped_test_picture_is_scikit_images_pixel_by_pixel(
    named: Stretch | Crop, aspect: int, window: int
) -> None:
    # scikit-image transform.warp (computed)
    rows = 60
    picture, found = gratings(rows * aspect // 10_000, rows), solve(named, aspect, window)
    columns = round(rows * found.aspect)
    ours = warped_by_table(picture, found, columns)
    theirs = warped_by_library(picture, found, columns)
    assert ours.shape == theirs.shape
    assert float(np.abs(ours - theirs).max()) < 1e-9


@pytest.mark.parametrize("place", [0.0, 0.2, 0.45, 0.7, 0.9])
def test_a_drawn_circle_is_measured_as_wide_as_it_was_stated(place: float) -> None:
    # scikit-image draws the circle and measures what became of it (computed)
    rows, width = 1_500, 3_150
    picture = np.zeros((rows, width))
    middle = rows / 2 - 0.5, width / 2 * (1 + place) - 0.5
    picture[disk(middle, 60)] = 1.0  # type: ignore[no-untyped-call]
    found = solve(GENTLE, 21_000, 24_000)
    shown = warped_by_table(picture, found, round(rows * found.aspect))
    (seen,) = regionprops((shown > 0.5).astype(int))  # type: ignore[no-untyped-call]
    down, across = seen.coords.std(axis=0)
    assert across / down == pytest.approx(found.widening.curve.circle(place), rel=0.01)


def needed(aspect: int) -> Solution:
    """What it takes to fill a 2.40 screen with nothing cropped and the middle left alone."""
    free = Stretch(10_000, 40_000, 10_000, 3_000, 0)
    return solve(free, aspect, 24_000)


def test_a_stretch_to_the_sides_is_mild_on_2_20_and_2_00_and_gross_on_16_to_9() -> None:
    # Common practice, no source: side stretch is tried first on 2.2 and 2.0 and gets visibly
    # wrong on 16:9 menus. Here the circles at the edge (computed).
    edges = [needed(aspect).widening.curve.edge for aspect in (22_000, 20_000, 17_778)]
    assert edges == pytest.approx([1.26, 1.571, 2.0], abs=0.001)
    assert [solve(GENTLE, aspect, 24_000).limited for aspect in (22_000, 17_778)] == [False, True]
