"""The settle filter: lettering in bars, from subtitles to signs."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from engine.settle import (
    LETTERING,
    MARKED,
    UNSETTLED,
    BarReading,
    new_title,
)
from tests.engine import settle_sets as sets
from tests.engine.settle_score import within
from tests.engine.settling import (
    DWELL,
    aspects,
    bars,
    lag,
    laid,
    later,
    played,
    seeds,
    settled,
    told,
)

letterboxed = st.sampled_from((20_000, 22_000, 23_500, 23_900, 24_000, 27_600))


@given(letterboxed, st.booleans(), st.integers(10, 90))
def test_a_bar_that_is_eaten_into_from_one_side_is_still_that_bar(
    ratio: int, above: bool, percent: int
) -> None:
    whole = laid(ratio)
    depth = whole.top * percent // 100
    reading = whole._replace(top=depth) if above else whole._replace(bottom=depth)
    settling = later(told((0, reading), before=settled(ratio)), 30_000)
    assert within(settling.aspect, ratio)
    assert settling.subtitles is not above


def test_text_in_the_bottom_bar_is_believed_after_a_moment_and_forgotten_with_the_shape() -> None:
    text = laid(23_900)._replace(bottom=60)
    settling = told((0, text), before=settled(23_900))
    assert (settling.subtitles, settling.deadline) == (False, LETTERING)
    settling = told((LETTERING, laid(23_900)), before=settling)
    assert settling.subtitles
    assert told((9_000, laid(18_500)), (9_900, None), before=settling).subtitles is False


def test_text_that_stands_while_the_grain_moves_is_still_text() -> None:
    settling = settled(23_900)
    for frame in range(24):
        reading = bars((138 + frame % 2 * 2, 60, 0, 0))
        settling = told((frame * 42, reading), before=settling)
    assert settling.subtitles


def test_another_title_has_text_of_its_own() -> None:
    text = later(told((0, laid(23_900)._replace(bottom=60)), before=settled(23_900)), 5_000)
    assert text.subtitles
    fresh = new_title(text)
    assert (fresh.subtitles, fresh.aspect) == (False, text.aspect)
    assert new_title(fresh) is fresh


@given(letterboxed, letterboxed, st.booleans(), st.integers(10, 85))
def test_a_new_shape_under_a_mark_takes_one_second_more_than_the_dwell(
    old: int, new: int, above: bool, percent: int
) -> None:
    assume(not within(old, new, 3))
    whole = laid(new)
    depth = whole.top * percent // 100
    assume(min(abs(depth - count) for count in (laid(old).top, laid(old).bottom)) > 6)
    reading = whole._replace(top=depth) if above else whole._replace(bottom=depth)
    taken = lag(new, [(0, reading)], settled(old))
    assert taken is not None
    assert taken <= DWELL.wider + MARKED


@given(letterboxed, st.sampled_from((13_333, 17_778, 18_500)), seeds)
def test_a_wider_shape_under_subtitles_takes_one_second_more_at_most(
    new: int, old: int, seed: int
) -> None:
    depth = Random(seed).randrange(30, max(32, laid(new).bottom - 8))
    text = laid(new)._replace(bottom=depth)
    course = [
        (at * 5_000 + start, r) for at in range(4) for start, r in ((0, text), (2_000, laid(new)))
    ]
    taken = lag(new, course, settled(old))
    assert taken is not None
    assert taken <= DWELL.wider + MARKED


@given(letterboxed, seeds)
def test_signs_in_both_bars_that_are_not_even_never_change_the_aspect(
    ratio: int, seed: int
) -> None:
    before = settled(ratio)
    assert aspects(played(sets.signs, ratio, seed), before) == {before.aspect}


@given(st.integers(24, 110).filter(lambda depth: all(abs(depth - b) > 3 for b in (35, 60, 104))))
def test_even_signs_do_not_change_the_aspect_unless_they_are_a_standard_shapes_bars(
    depth: int,
) -> None:
    settling = settled(23_500)
    for at in range(0, 60_000, 9_000):
        settling = told(
            (at, bars((depth, depth, 0, 0))), (at + 2_000, laid(23_500)), before=settling
        )
    assert later(settling, 70_000).aspect == settled(23_500).aspect


@given(st.integers(28, 56), st.integers(500, 3_000))
def test_a_mark_and_subtitles_that_happen_to_be_even_are_no_shape(depth: int, length: int) -> None:
    assume(abs(depth - 35) > 4)
    settling = settled(23_500)
    for at in range(0, 60_000, 5_000):
        settling = told(
            (at, bars((depth, 132, 0, 0))),
            (at + 1_000, bars((depth, depth, 0, 0))),
            (at + 1_000 + length, bars((depth, 132, 0, 0))),
            before=settling,
        )
    assert later(settling, 70_000).aspect == 23_500


def test_what_came_into_one_bar_before_the_other_is_no_taller_picture() -> None:
    """A sign stands in the top bar, then a line of the same depth comes into the bottom bar."""
    sign, both = laid(23_900)._replace(top=60), bars((60, 60, 0, 0))
    course = [(0, sign), (4_000, both), (7_000, sign), (12_000, laid(23_900))]
    assert aspects(course, before=settled(23_900)) == {23_900}
    assert told(*course, before=settled(23_900)).learnt.lines == 7_000


def test_a_picture_of_which_both_edges_move_at_once_is_taller_under_lettering_too() -> None:
    text = laid(23_900)._replace(bottom=30)
    course = [(0, text), (4_000, bars((60, 60, 0, 0))), (4_500, bars((60, 62, 0, 0)))]
    assert told(*course, before=settled(23_900)).aspect == 20_000


def test_a_mark_that_ends_where_the_taller_picture_does_not_tells_it_from_lettering() -> None:
    """A ticker stands in both pictures, and only the other edge moves: that is seen as before."""
    course = [(0, laid(23_900)._replace(bottom=24)), (9_000, bars((60, 24, 0, 0)))]
    assert later(told(*course, before=settled(23_900)), 12_300).aspect == 20_000


def test_uneven_lettering_in_both_bars_is_remembered() -> None:
    """It shows no shape at all, so there is no rival: the settled shape's return is looked at."""
    signs = bars((97, 30, 0, 0))
    course = told((0, signs), (2_000, laid(23_900)), before=settled(23_900))
    assert course.learnt.lines == 2_000


def test_a_dark_shot_that_ends_in_one_frame_of_lettering_is_none() -> None:
    dark, signs = bars((300, 420, 200, 0)), bars((60, 60, 0, 0))
    course = [(0, dark), (5_000, signs), (5_042, laid(23_900))]
    assert told(*course, before=settled(23_900)).learnt.lines is None


def test_two_lines_are_no_taller_picture_where_one_line_was_seen() -> None:
    """One line is 39 lines of the raster high, two would leave the bars of 2.00 to 1."""
    one, two = bars((99, 99, 0, 0)), bars((60, 60, 0, 0))
    course = [(0, one), (3_000, laid(23_900)), (6_000, two), (12_000, laid(23_900))]
    assert aspects(course, before=settled(23_900)) == {23_900}
    stays = told(*course[:3], before=settled(23_900))
    assert later(stays, 12_999).aspect == 23_900
    assert later(stays, 13_000).aspect == 20_000


def test_lettering_of_another_depth_may_stand_for_a_quarter_longer_than_any_before_it() -> None:
    """What stood for five seconds was 31 lines deep. 2.00 to 1 begins 78 lines deep in scope."""
    low, high = bars((122, 92, 0, 0)), bars((60, 60, 0, 0))
    course = [(0, low), (5_000, laid(23_900)), (10_000, high), (16_000, laid(23_900))]
    assert aspects(course, before=settled(23_900)) == {23_900}
    stays = told(*course[:3], before=settled(23_900))
    assert later(stays, 16_749).aspect == 23_900
    assert later(stays, 16_750).aspect == 20_000
    late = told(*course[:2], (130_000, low), (132_000, laid(23_900)), before=settled(23_900))
    assert later(told((140_000, high), before=late), 143_500).aspect == 20_000


def test_lettering_over_a_picture_with_dark_sides_waits_as_it_does_over_a_bright_one() -> None:
    """It leaves the bars of 1.85 to 1, and stands for five seconds while the dark moves."""
    signs = bars((97, 97, 0, 0))
    course: list[tuple[int, BarReading | None]] = [(0, signs), (2_000, laid(23_900))]
    course += [(6_000 + 250 * n, bars((21, 21, 300 + 40 * (n % 2), 500))) for n in range(20)]
    course += [(11_000, laid(23_900))]
    assert aspects(course, before=settled(23_900)) == {23_900}


def test_a_title_in_place_of_a_picture_that_is_new_is_waited_for_as_long_as_titles_stand() -> None:
    """Two shapes have come, the second is new, and lettering in its bars leaves those of 1.85."""
    scope, title = laid(23_900), bars((21, 21, 0, 0))
    course = [(0, laid(13_333)), (1_000, scope), (7_000, title), (12_000, scope)]
    assert aspects(course, before=UNSETTLED) == {None, 13_333, 23_900}
    stays = told(*course[:3], before=UNSETTLED)
    assert later(stays, 13_499).aspect == 23_900
    assert later(stays, 13_500).aspect == 18_500


def test_a_picture_that_is_there_again_behind_lettering_is_believed_at_once() -> None:
    """The picture is 2.20 to 1 now: a line in its bars, which would be a taller one, is gone."""
    one, now_flat, line = bars((70, 70, 0, 0)), laid(22_000), bars((49, 49, 0, 0))
    course = [(0, one), (3_000, laid(23_900)), (9_000, now_flat), (11_000, line)]
    back = told(*course, (14_000, now_flat), before=settled(23_900))
    assert later(back, 14_499).aspect == 23_900
    assert later(back, 14_500).aspect == 22_000


def test_lettering_that_ends_in_a_dark_shot_is_not_remembered() -> None:
    """Its end was not seen: a taller picture may have stood there, and gone in the dark."""
    course = [(0, bars((60, 60, 0, 0))), (900, bars((200, 300, 300, 90))), (4_000, laid(27_600))]
    assert told(*course, (5_000, laid(23_900)), before=settled(23_900)).learnt.lines is None


def test_noise_at_the_edges_of_the_bars_is_no_lettering() -> None:
    near = settled(23_900)
    assert near.home is not None
    noisy = near.home.least_v - 2
    course = told((0, bars((noisy, noisy, 0, 0))), (2_000, laid(23_900)), before=near)
    assert (course.both, course.learnt.lines) == (None, None)


# A detector that errs by two lines, over lettering that leaves 24 lines of each bar and over a
# picture of 1.85 to 1, whose bars have 21.
ERRS = ((0, 0), (-2, -2), (2, 0), (-2, 2), (0, 2), (2, -2), (2, 2), (-2, 0), (0, -2))


def noisy(line: int, seconds: int) -> list[tuple[int, BarReading | None]]:
    """Bars of so many lines, read a dozen times a second."""
    frames = range(seconds * 12)
    errs = (ERRS[frame * 7 % len(ERRS)] for frame in frames)
    return [
        (frame * 1_000 // 12, bars((line + above, line + below, 0, 0)))
        for frame, (above, below) in zip(frames, errs, strict=True)
    ]


def test_lettering_next_to_a_standard_shape_is_not_that_shape_for_one_reading_that_errs() -> None:
    course = [*noisy(24, 6), (6_000, laid(20_000))]
    assert aspects(course, before=settled(20_000)) == {20_000}


def test_a_taller_picture_that_a_detector_errs_about_is_settled_as_soon_as_a_plain_one() -> None:
    took = lag(18_500, noisy(21, 3), settled(20_000))
    assert took is not None
    assert took <= DWELL.taller + 84


def test_a_title_in_the_bars_of_an_evening_s_first_picture_is_no_taller_picture() -> None:
    """Nothing is known yet, of lettering or of shapes."""
    title = [(0, laid(23_900)), (6_000, laid(18_500)), (12_000, laid(23_900))]
    assert aspects(title, before=UNSETTLED) == {None, 23_900}
    assert later(told(*title[:2]), 13_000).aspect == 18_500


def test_a_title_card_that_comes_out_of_black_is_no_window() -> None:
    """It has the shape of 2.40 to 1 by accident, and stands for eight seconds."""
    card, film = bars((251, 252, 268, 268)), laid(17_778)
    course = [(0, None), (1_000, card), (9_000, None), (10_000, film)]
    assert aspects(course, before=settled(17_778)) == {17_778}
    assert later(told(*course[:2], before=settled(17_778)), 13_000).aspect == 24_000
    assert later(told((1_000, card), before=settled(17_778)), 5_000).aspect == 24_000


def test_lettering_that_a_slow_detector_has_read_until_just_now_may_be_gone() -> None:
    """A reading comes each second. Two lines stood for seven, and the eighth shows them gone."""
    one, two, scope = bars((99, 99, 0, 0)), bars((60, 60, 0, 0)), laid(23_900)
    course = [(0, one), (1_000, scope), (6_000, two), (13_000, scope)]
    assert aspects(course, before=settled(23_900)) == {23_900}
    assert later(told(*course[:3], before=settled(23_900)), 13_062).aspect == 20_000


def test_a_line_is_held_against_the_picture_that_was_seen_just_before_it() -> None:
    """Long lettering of no shape stood in the bars of scope, then 2.20 was there for a second."""
    long, line, scope = bars((92, 92, 0, 0)), bars((21, 21, 0, 0)), laid(23_900)
    course = [(0, long), (3_000, scope), (7_000, long), (12_000, scope), (15_000, laid(22_000))]
    course += [(16_200, line), (22_000, laid(22_000)), (28_000, line)]
    assert aspects(course, before=settled(23_900)) == {23_900, 22_000}


def test_a_picture_a_little_above_the_middle_is_no_wider_one_with_a_mark_in_its_bar() -> None:
    """The bars of 2.35 to 1, nine lines too high: one of them is as large as those of 2.40 to 1."""
    high, marked = bars((122, 140, 0, 0)), bars((112, 140, 0, 0))
    assert later(told((0, high), before=settled(18_500)), 10_000).aspect == 23_500
    assert later(told((0, marked), before=settled(18_500)), 10_000).aspect == 24_000


def test_lettering_that_leaves_nearly_nothing_of_the_bars_is_lettering_where_some_is_known() -> (
    None
):
    two, five = bars((100, 100, 0, 0)), bars((14, 14, 0, 0))
    course = [(0, two), (3_000, laid(23_900)), (6_000, five), (12_000, laid(23_900))]
    assert aspects(course, before=settled(23_900)) == {23_900}
    assert within(later(told(*course[2:3], before=settled(23_900)), 9_300).aspect, 18_250)
    edge = later(told(*course[:2], (6_000, bars((0, 0, 0, 0))), before=settled(23_900)), 7_000)
    assert edge.aspect == 17_778


def test_what_was_written_in_the_bars_of_a_picture_that_was_not_settled_yet_is_known() -> None:
    """The first lines stand in the bars of scope before it wins; the next leave 2.00 to 1."""
    scope, one, two = laid(23_900), bars((100, 100, 0, 0)), bars((60, 60, 0, 0))
    course = [(0, scope), (2_300, one), (5_000, scope), (10_000, two), (16_000, scope)]
    before = told(*course[:3], before=settled(17_778))
    assert before.learnt.lines == 5_000
    assert aspects(course, before=settled(17_778)) == {17_778, 23_900}


def test_lettering_as_deep_as_the_picture_before_says_nothing_against_the_wider_one() -> None:
    """Scope has come, and its lettering leaves the bars of 2.00 to 1, which is still settled."""
    scope, text = laid(23_900), laid(20_000)
    course = [(0, scope), (2_500, text), (5_000, scope)]
    assert told(*course, before=settled(20_000)).aspect == 23_900
    assert told((0, scope), (1_900, text), (5_000, scope), before=settled(20_000)).aspect == 20_000


def test_a_picture_is_settled_behind_its_own_lettering_once_no_lettering_stands_so_long() -> None:
    scope, one, flat = laid(23_900), bars((104, 104, 0, 0)), laid(22_000)
    before = told((-9_000, one), (-6_000, scope), before=settled(23_900, shrink=100))
    course = told((0, flat), (6_000, bars((49, 49, 0, 0))), before=before)
    assert later(course, 6_999).aspect == 23_900
    assert later(course, 7_000).aspect == 22_000


def test_uneven_lettering_that_comes_into_both_bars_at_once_waits_for_a_second_more() -> None:
    """The larger bar is that of 2.00 to 1, as under a mark, which was seen in the bar before."""
    uneven, plain = bars((60, 46, 0, 0)), laid(23_900)
    assert later(told((0, uneven), before=settled(23_900)), 4_999).aspect == 23_900
    assert later(told((0, uneven), before=settled(23_900)), 5_000).aspect == 20_000
    marked = told((0, plain._replace(bottom=90)), (9_000, uneven), before=settled(23_900))
    assert later(marked, 12_300).aspect == 20_000
    apart = told((0, bars((60, 30, 0, 0))), before=settled(23_900))
    assert later(apart, 3_300).aspect == 20_000


def test_a_title_in_the_bars_of_the_very_first_picture_is_not_settled_instead_of_it() -> None:
    title = [(0, laid(20_000)), (100, bars((21, 21, 0, 0))), (6_000, laid(20_000))]
    assert aspects([*title, (9_000, laid(20_000))], before=UNSETTLED) == {None, 20_000}


@pytest.mark.parametrize("since", [0, 1_000])
def test_a_title_card_after_an_evening_s_first_black_is_no_window(since: int) -> None:
    card, film = bars((251, 252, 268, 268)), laid(17_778)
    course = [(since, None), (3_000, card), (11_000, None), (12_000, film)]
    assert aspects([*course, (20_000, laid(18_500))], before=UNSETTLED) == {None, 17_778}
    assert told((since, None)).left is None
