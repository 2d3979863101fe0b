"""The rectangle is the evidence: pictures off the middle, beside blank edges and beside marks."""

from __future__ import annotations

import pytest

from engine.settle import Settling
from tests.engine import settle_sets as sets
from tests.engine.settling import bars, later, told

HD, SMALL = sets.HD, sets.Raster(1_280, 720)
TAPE, OLD_TAPE = sets.Raster(720, 576, 13_333), sets.Raster(720, 480, 13_333)
FULL = (0, 0, 0, 0)


def shown(raster: sets.Raster, *scenes: tuple[float, sets.Edges]) -> Settling:
    """Show scenes one after the other, each for so many seconds."""
    course, now = [], 0
    for seconds, edges in scenes:
        course.append((now, bars(edges, raster)))
        now += round(seconds * 1_000)
    return later(told(*course), now)


# ------------------------------------------------------------------ pictures that lie elsewhere


@pytest.mark.parametrize(
    ("raster", "before", "edges", "ratio"),
    [
        (HD, FULL, (0, 0, 220, 260), 13_333),
        (SMALL, FULL, (0, 0, 146, 176), 13_333),
        (SMALL, FULL, (22, 116, 0, 0), 22_000),
        (OLD_TAPE, (95, 95, 0, 0), (81, 133, 0, 0), 24_000),
        (HD, (138, 138, 0, 0), (20, 188, 0, 0), 22_000),
        (HD, FULL, (0, 0, 658, 654), 5_625),
    ],
    ids=["to the left", "in 720 lines", "raised", "in 480 lines", "narrower bars", "upright"],
)
def test_a_picture_off_the_middle_is_settled_though_its_smaller_bar_is_another_standard_s(
    raster: sets.Raster, before: sets.Edges, edges: sets.Edges, ratio: int
) -> None:
    """A lit corner would explain them as well, but nothing moves there."""
    course = shown(raster, (20, before), (8, edges))
    assert course.aspect == pytest.approx(ratio, rel=0.01)


@pytest.mark.parametrize(
    ("raster", "scenes", "ratio"),
    [
        (SMALL, [(20, (101, 83, 0, 0)), (20, FULL), (8, (79, 97, 0, 0))], 23_500),
        (HD, [(40, (8, 268, 0, 0)), (8, (116, 92, 0, 0))], 22_000),
        (SMALL, [(20, (64, 74, 0, 0)), (8, (82, 102, 0, 0))], 23_900),
    ],
    ids=["full frame between", "far off, then nearly not", "five lines, then ten"],
)
def test_where_one_picture_of_an_evening_lay_says_nothing_against_where_another_lies(
    raster: sets.Raster, scenes: list[tuple[float, sets.Edges]], ratio: int
) -> None:
    assert shown(raster, *scenes).aspect == pytest.approx(ratio, rel=0.01)


def test_counts_in_steps_of_sixteen_lines_say_nothing_of_a_picture_far_off_the_middle() -> None:
    """Half of the next picture is dark, and by such counts it might be one of 2.76."""
    flat, dark = (32, 32, 0, 0), (144, 240, 0, 0)
    assert shown(HD, (10, (144, 144, 0, 0)), (10, flat), (9, dark)).aspect == 19_000


# ----------------------------------------------------------------------------- blank edges


@pytest.mark.parametrize(
    ("raster", "before", "edges", "ratio"),
    [
        (SMALL, (14, 14, 0, 0), (93, 93, 8, 4), 23_900),
        (TAPE, FULL, (127, 127, 8, 3), 23_500),
        (HD, FULL, (8, 2, 240, 240), 13_333),
    ],
    ids=["scope", "tape", "4:3"],
)
def test_a_few_blank_columns_or_lines_beside_two_bars_are_no_window(
    raster: sets.Raster, before: sets.Edges, edges: sets.Edges, ratio: int
) -> None:
    course = shown(raster, (20, before), (5, edges))
    assert course.aspect == pytest.approx(ratio, rel=0.005)
    assert course.home is not None
    assert not course.home.window


def test_the_settled_shape_with_blank_columns_is_settled_and_says_nothing_of_a_rival() -> None:
    scope = [(20.0, (138, 138, 0, 0))]
    assert shown(HD, *scope, (20, (138, 138, 8, 3))).left is None
    between = shown(HD, *scope, (0.4, FULL), (0.2, (138, 138, 8, 3)))
    assert between.rival is not None
    assert between.rival.shape.ratio == 17_778


# ------------------------------------------------------------------------ marks at the side


def test_a_mark_in_a_side_bar_says_nothing_against_the_academy_frame() -> None:
    assert shown(HD, (20, FULL), (3, (0, 0, 58, 218))).aspect == 13_700


@pytest.mark.parametrize("edges", [(0, 0, 317, 55), (0, 0, 150, 72)], ids=["1.19", "3:2"])
def test_beside_a_mark_a_shape_that_nobody_standardised_is_settled_once_it_has_long_stood(
    edges: sets.Edges,
) -> None:
    """One of its bars stands still; the other one might be any part of a dark picture."""
    width = 1_920 - 2 * max(edges)
    assert shown(HD, (20, FULL), (34, edges)).aspect == 17_778
    assert shown(HD, (20, FULL), (35, edges)).aspect == width * 10_000 // 1_080


def test_dark_beside_the_settled_shape_s_own_edge_is_no_mark_however_long_it_stands() -> None:
    assert shown(HD, (20, (0, 0, 64, 64)), (90, (0, 0, 64, 317))).aspect == 16_600


# ----------------------------------------------------------------- lines in the larger bar


def test_lines_below_a_picture_at_the_top_are_none_once_one_of_them_was_known_for_it() -> None:
    top, line = (0, 262, 0, 0), (0, 122, 0, 0)
    known = [(20.0, top), (3.0, (0, 112, 0, 0)), (4.0, top)]
    assert shown(HD, *known, (6, line), (4, top), (6, line)).aspect == 23_500
    assert shown(HD, *known, (12, line)).aspect == 20_000, "it is no line that stands for so long"
    assert shown(HD, (20, top), (6, line)).aspect == 20_000, "no line is known"


def test_a_line_below_a_picture_at_the_top_is_known_though_it_leaves_a_standard_shape() -> None:
    """It is remembered for the whole picture, however seldom lines come."""
    top, line = (0, 262, 0, 0), (0, 122, 0, 0)
    known = [(20.0, top), (1.5, line), (200.0, top)]
    assert shown(HD, *known, (6, line)).aspect == 23_500
    assert shown(HD, *known, (12, line)).aspect == 20_000


def test_lines_below_a_picture_that_was_half_dark_at_first_do_not_keep_it_unsettled() -> None:
    dark, film, line = (104, 282, 0, 0), (104, 104, 0, 0), (104, 34, 0, 0)
    assert shown(HD, (8, dark)).aspect == 27_600
    assert shown(HD, (8, dark), (5, line), (3, film), (4, line), (3, film)).aspect == 22_000


def test_a_line_of_time_over_a_pause_is_no_picture() -> None:
    scope, paused = (138, 138, 0, 0), (43, 54, 0, 0)
    assert shown(HD, (20, scope), (30, paused)).aspect == 23_900
    assert shown(HD, (20, scope), (36, paused)).aspect == 1_920 * 10_000 // (1_080 - 97)


# ------------------------------------------------------------------------ dark on one side


@pytest.mark.parametrize(
    ("raster", "still", "dark"),
    [
        (HD, (35, 35, 0, 0), [(242, 35, 0, 0), (241, 35, 0, 0), (266, 36, 1, 1)]),
        (HD, (0, 0, 64, 64), [(0, 0, 64, 315), (0, 0, 64, 316), (0, 0, 64, 271)]),
    ],
    ids=["above", "at the right"],
)
def test_dark_on_one_side_waits_however_its_edge_flickers_while_the_other_edge_stands(
    raster: sets.Raster, still: sets.Edges, dark: list[sets.Edges]
) -> None:
    flicker = [(0.2, dark[count % len(dark)]) for count in range(100)]
    settled = shown(raster, (20, still)).aspect
    assert shown(raster, (20, still), *flicker).aspect == settled
