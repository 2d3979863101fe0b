"""The last resort: what stands for longer than any dark shot or line is believed for that alone."""

from __future__ import annotations

import pytest

from engine.settle import UNSETTLED, take_bars, take_ratio
from engine.settle.shapes import FINE
from engine.settle.stillness import BRIEF, MOST_STANDS, now_at
from tests.engine import settle_sets as sets
from tests.engine.settling import DWELL, bars, later, told
from tests.engine.test_settle_elsewhere import FULL, HD, SMALL, TAPE, shown

UHD = sets.Raster(3_840, 2_160)
SCOPE = (138, 138, 0, 0)
STOOD = 36.0


@pytest.mark.parametrize(
    ("raster", "before", "edges", "ratio"),
    [
        (HD, (20, 22, 0, 0), (136, 74, 0, 0), 23_900),
        (HD, FULL, (102, 74, 0, 0), 22_000),
        (HD, (20, 20, 0, 0), (46, 102, 0, 0), 22_000),
        (SMALL, FULL, (144, 148, 128, 128), 23_900),
        (SMALL, FULL, (68, 72, 60, 60), 20_000),
        (HD, FULL, (0, 328, 0, 0), 25_531),
        (HD, FULL, (225, 225, 0, 0), 30_476),
        (UHD, FULL, (128, 526, 0, 0), 25_498),
        (TAPE, (0, 2, 10, 8), (114, 117, 15, 7), 21_600),
    ],
    ids=[
        "a mark below",
        "a mark below, after the full frame",
        "a mark above",
        "a window two lines off the middle",
        "another one",
        "at the top of its frame",
        "wider than three to one",
        "raised",
        "a tape",
    ],
)
def test_what_stands_for_long_is_settled_though_no_rule_knows_it(
    raster: sets.Raster, before: sets.Edges, edges: sets.Edges, ratio: int
) -> None:
    old = shown(raster, (20, before)).aspect
    assert shown(raster, (20, before), (STOOD - 0.1, edges)).aspect == old
    found = shown(raster, (20, before), (STOOD, edges)).aspect
    assert found is not None
    assert abs(found - ratio) * 100 <= ratio


def test_the_first_shape_of_an_evening_is_settled_though_a_mark_was_in_it_from_the_start() -> None:
    assert shown(HD, (STOOD, (130, 42, 0, 0))).aspect == 23_500


def test_lines_and_dark_shots_between_do_not_begin_its_time_anew() -> None:
    film, line, dark = (0, 328, 0, 0), (0, 77, 0, 0), (300, 500, 120, 700)
    course = [(20.0, FULL)] + 12 * [(3.0, film), (2.5, line), (0.4, dark)]
    assert abs((shown(HD, *course, (0.1, film)).aspect or 0) - 25_531) <= 1


def test_readings_that_err_by_a_line_and_rims_that_are_ragged_stand_still() -> None:
    rims = [(114, 116, 14, 7), (115, 117, 15, 8), (114, 115, 13, 6), (116, 116, 16, 9)]
    course = [(20.0, (0, 2, 10, 8))] + 50 * [(0.2, rim) for rim in rims]
    assert shown(TAPE, *course).aspect != 22_000
    found = shown(TAPE, *course[:1], *(2 * course[1:])).aspect
    assert found is not None
    assert abs(found - 21_600) * 50 <= 21_600


@pytest.mark.parametrize(
    "dark",
    [
        (138, 138, 0, 346),
        (344, 138, 0, 0),
        (176, 138, 40, 0),
        (138, 138, 376, 356),
        (300, 138, 90, 700),
        (138, 138, 312, 0),
    ],
)
def test_the_settled_shape_may_be_dark_at_one_side_for_as_long_as_it_likes(
    dark: sets.Edges,
) -> None:
    assert shown(HD, (20, SCOPE), (300, dark)).aspect == 23_900


@pytest.mark.parametrize("edges", [(300, 340, 500, 560), (420, 330, 400, 420), (40, 300, 0, 900)])
def test_a_menu_s_block_or_a_card_is_no_picture_however_long_it_stands(edges: sets.Edges) -> None:
    assert shown(HD, (20, FULL), (600, edges)).aspect == 17_778


def test_the_settled_shape_that_is_seen_again_begins_it_anew() -> None:
    marked = (102, 74, 0, 0)
    course = [(20.0, FULL), (30.0, marked), (0.5, FULL), (30.0, marked)]
    assert shown(HD, *course).aspect == 17_778
    assert shown(HD, *course, (6.0, (102, 75, 0, 0))).aspect == 22_000


def test_a_ratio_that_is_named_between_begins_it_anew() -> None:
    reading = bars((102, 74, 0, 0), HD)
    course = later(told((0, bars(FULL, HD)), (20_000, reading)), 50_000)
    course = take_ratio(DWELL, course, 17_778, 50_000)
    course = told((51_000, reading), before=course)
    assert later(course, 86_000).aspect == 17_778
    assert later(course, 87_000).aspect == 22_000


def test_what_the_last_resort_takes_for_no_picture_is_left_to_the_rules() -> None:
    """By then it has stood for 36 seconds in all, and a rule has a few more to go."""
    beside, film, other = (0, 0, 240, 240), (0, 0, 176, 74), (0, 0, 138, 138)
    course = [(20.0, beside)] + 3 * [(11.5, film), (1.5, other)]
    assert shown(HD, *course, (4.9, film)).aspect == 13_333
    assert shown(HD, *course, (5.0, film)).aspect == 14_518
    late = [(20.0, beside)] + 6 * [(6.0, (0, 0, 20, 300)), (0.4, (138, 138, 138, 138))]
    assert shown(HD, *late, (1.3, (0, 0, 20, 300))).aspect == 13_333
    assert shown(HD, *late, (1.4, (0, 0, 20, 300))).aspect == 12_222


@pytest.mark.parametrize("seconds", [30, 36, 40, 60])
def test_a_room_whose_pace_lets_shapes_stand_for_longer_still_waits_for_that(seconds: int) -> None:
    """Its file may say up to a minute, and a detector may tell ratios as well as bars."""
    dwell = DWELL._replace(wider=1_000 * seconds, odd=1_000 * seconds)
    full, wide = bars(FULL, HD), bars(SCOPE, HD)
    read = take_bars(dwell, later(take_bars(dwell, UNSETTLED, full, 0), 99_000), wide, 99_000)
    named = later(take_ratio(dwell, UNSETTLED, 17_778, 0), 99_000)
    for course in (read, take_ratio(dwell, named, 23_900, 99_000)):
        assert later(course, 98_999 + 1_000 * seconds).aspect == 17_778
        assert later(course, 99_000 + 1_000 * seconds).aspect == 23_900


def test_black_between_counts_for_nothing() -> None:
    marked = bars((102, 74, 0, 0), HD)
    course = told((0, bars(FULL, HD)), (20_000, marked), (40_000, None), (80_000, marked))
    assert later(course, 95_900).aspect == 17_778
    assert later(course, 96_000).aspect == 22_000


def test_of_too_many_places_the_one_that_stood_least_is_forgotten() -> None:
    places = tuple((9 * n, 300, 0, 0, 1_000 * n) for n in range(1, MOST_STANDS + 1))
    found = now_at(places, bars((200, 300, 0, 0), HD), FINE)
    assert found[0] == (200, 300, 0, 0, 0)
    assert {*found[1:]} == {*places[1:]}
    assert now_at(places, bars((20, 300, 0, 0), HD), FINE)[0] is places[1]


def test_a_rectangle_that_was_only_just_there_is_forgotten_before_one_that_stood() -> None:
    """What trembles in the dark takes the places of nothing but of what trembled before it."""
    brief, stood = (20, 300, 0, 0, BRIEF - 1), (9, 300, 0, 0, BRIEF)
    places = (brief, stood, (40, 300, 0, 0, 1))
    assert now_at(places, bars((200, 300, 0, 0), HD), FINE) == ((200, 300, 0, 0, 0), *places[1:])
    places = (stood, brief, (40, 300, 0, 0, 1))
    found = now_at(places, bars((200, 300, 0, 0), HD), FINE)
    assert found == ((200, 300, 0, 0, 0), stood, brief)
