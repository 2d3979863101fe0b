"""What bars mean in a raster: where a shape lies, and which shapes are one and the same.

Each test fails if a condition is left out or turned round. Edges are lines and columns of
1920 x 1080, ratios 1/10,000.
"""

from __future__ import annotations

import pytest

from engine.settle import Outline
from engine.settle.shapes import (
    centred,
    eats_both_bars,
    explains,
    fits,
    has_bars,
    is_nearer,
    is_too_small,
    is_window,
    lies_within,
    outline_of,
    same_outline,
    same_place,
    scale_of,
    standard_near,
)
from tests.engine import settle_sets as sets
from tests.engine.settling import bars, laid, outline

HD = (1_920, 1_080, 0)
SCALE = scale_of(*HD)
TALL, SCOPE, NARROW = outline(18_500), outline(23_900), outline(13_333)


def test_a_shape_fits_where_each_of_its_bars_is() -> None:
    assert fits(SCOPE, laid(23_900))
    for edges in ((120, 138, 0, 0), (138, 120, 0, 0), (138, 138, 9, 0), (138, 138, 0, 9)):
        assert not fits(SCOPE, bars(edges))
    for edges in ((150, 138, 0, 0), (138, 150, 0, 0)):
        assert not fits(SCOPE, bars(edges))
    for edges in ((0, 0, 230, 240), (0, 0, 240, 230)):
        assert not fits(NARROW, bars(edges))


def test_no_reading_fits_a_shape_that_came_as_a_ratio_or_without_a_raster() -> None:
    for mere in (
        outline_of(23_900, -1, -1, SCALE, standard=True),
        outline_of(23_900, 276, 0, None, standard=True),
    ):
        assert not fits(mere, laid(23_900))
        assert not fits(mere, bars((0, 0, 0, 0)))


def test_only_of_a_standard_shape_at_its_full_size_may_a_bar_be_off_by_more_than_a_line() -> None:
    def slack(*, standard: bool, bars_h: int) -> int:
        shape = outline_of(23_900, 276, bars_h, SCALE, standard=standard)
        return shape.most_v - 138

    assert slack(standard=True, bars_h=0) == SCALE.near_v
    assert slack(standard=False, bars_h=0) == SCALE.even_v
    assert slack(standard=True, bars_h=400) == SCALE.even_v


def test_a_window_has_bars_on_both_axes_that_no_raster_loses_at_its_edges() -> None:
    assert is_window(22, 40, SCALE)
    assert not is_window(21, 40, SCALE)
    assert not is_window(22, 38, SCALE)


def test_less_than_two_fifths_of_either_axis_is_too_small_but_for_what_is_higher_than_a_card() -> (
    None
):
    assert not is_too_small(648, 1_152, SCALE)
    assert is_too_small(649, 0, SCALE)
    assert is_too_small(433, 1_153, SCALE)
    assert not is_too_small(432, 1_440, SCALE)
    assert is_too_small(0, 1_441, SCALE)


def test_a_standard_ratio_is_near_within_the_slack() -> None:
    assert standard_near(18_550, 28) == 18_500
    assert standard_near(18_550, 27) == 0


def test_only_what_nobody_standardised_gives_way_to_a_standard_shape() -> None:
    assert is_nearer(18_500, 18_800)
    assert not is_nearer(18_500, 18_500)
    assert not is_nearer(18_700, 18_800)
    assert not is_nearer(18_500, 19_000)


@pytest.mark.parametrize(
    ("shape", "nearest_other"),
    [
        (SCOPE, 23_661),
        (outline(20_700), 20_597),
        (outline(22_000, shrink=80), 21_890),
        (outline(20_700, shrink=80), 20_680),
    ],
    ids=["standard", "odd", "standard window", "odd window"],
)
def test_the_less_is_known_of_a_shape_the_more_exactly_it_must_be_met(
    shape: Outline, nearest_other: int
) -> None:
    for off in (-1, 1):
        other = shape.ratio + off * (shape.ratio - nearest_other)
        assert not same_outline(shape, other + (-1 if off < 0 else 1))
        assert same_outline(shape, other + (1 if off < 0 else -1))


def test_lettering_lies_within_the_bars_and_off_the_edge_of_the_raster() -> None:
    assert lies_within(SCOPE, TALL)
    assert not lies_within(SCOPE, NARROW)
    assert not lies_within(TALL, SCOPE)
    assert not lies_within(SCOPE, SCOPE)


def test_lettering_that_nearly_fills_the_bars_of_a_coarse_raster_lies_within_them() -> None:
    """Its bars are read to a few lines, which are half of what is left of them."""
    coarse = sets.Raster(640, 360)
    assert lies_within(outline(23_900, 100, coarse), outline(18_500, 100, coarse))
    assert not lies_within(outline(23_900, 100, coarse), outline(17_778, 100, coarse))


@pytest.mark.parametrize(
    ("edges", "eats"),
    [
        ((60, 40, 0, 0), True),
        ((0, 40, 0, 0), False),
        ((60, 0, 0, 0), False),
        ((138, 40, 0, 0), False),
        ((60, 138, 0, 0), False),
        ((60, 40, 9, 0), False),
        ((60, 40, 0, 9), False),
    ],
)
def test_lettering_eats_into_both_bars_and_into_nothing_else(
    edges: tuple[int, int, int, int], eats: bool
) -> None:
    assert eats_both_bars(SCOPE, bars(edges)) is eats


def test_neither_black_nor_a_ratio_eats_into_bars() -> None:
    assert not eats_both_bars(SCOPE, None)
    assert not eats_both_bars(SCOPE, 20_000)


def test_darkness_explains_bars_that_are_larger_than_a_shape_s_and_never_smaller_ones() -> None:
    assert explains(SCOPE, bars((134, 400, 0, 90)))
    for edges in ((133, 400, 0, 0), (400, 133, 0, 0)):
        assert not explains(SCOPE, bars(edges))
    for edges in ((0, 0, 230, 400), (0, 0, 400, 230)):
        assert not explains(NARROW, bars(edges))


def test_darkness_explains_them_where_the_shape_lies_off_the_middle() -> None:
    lower = SCOPE._replace(off_v=-200)
    assert explains(lower, bars((38, 238, 0, 0)))
    assert not explains(lower, bars((138, 138, 0, 0)))
    beside = NARROW._replace(off_h=80)
    assert explains(beside, bars((0, 0, 280, 200)))
    assert not explains(beside, bars((0, 0, 240, 240)))


def test_only_unequal_bars_are_moved_to_the_middle() -> None:
    def moved(edges: sets.Edges) -> tuple[int, ...]:
        return centred(bars(edges), (-200, 80), (2, 3))[:4]

    assert moved((38, 238, 0, 0)) == (138, 138, 0, 0)
    assert moved((20, 22, 280, 200)) == (20, 22, 240, 240)
    assert moved((20, 23, 0, 3)) == (120, -77, 0, 3)


def test_a_shape_without_bars_on_either_axis_has_none() -> None:
    assert has_bars(SCOPE)
    assert has_bars(NARROW)
    assert not has_bars(outline(17_778))


def test_a_picture_is_in_its_place_when_it_is_so_on_both_axes() -> None:
    place = SCOPE._replace(off_v=40, off_h=60)
    assert same_place(place, 48, 72, SCALE)
    assert not same_place(place, 49, 60, SCALE)
    assert not same_place(place, 40, 73, SCALE)


@pytest.mark.parametrize(
    ("columns", "rows", "frame", "shown"),
    [
        (1_920, 1_080, 0, 17_777),
        (720, 576, 0, 17_777),
        (720, 576, 13_333, 13_333),
        (640, 480, 0, 13_333),
        (1_024, 576, 0, 17_777),
        (1_080, 720, 0, 15_000),
    ],
)
def test_pixels_are_square_unless_somebody_says_or_the_raster_cannot_be(
    columns: int, rows: int, frame: int, shown: int
) -> None:
    scale = scale_of(columns, rows, frame)
    ratio = columns * scale.numerator // (rows * scale.denominator)
    assert ratio == pytest.approx(shown, abs=1)
