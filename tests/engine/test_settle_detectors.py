"""What the settle filter makes of detectors that count coarsely or short, and of what stands."""

from __future__ import annotations

import pytest

from engine.settle import BarReading
from engine.settle.learnt import NOTHING_LEARNT, Learnt, counts_noted
from engine.settle.shapes import FINE, Steps, scale_of, standard_among, standard_for
from tests.engine import settle_sets as sets
from tests.engine.settling import aspects, bars, laid, later, played, settled, told

SCOPE, FLAT = 23_900, 18_500
WIDE_RASTER = sets.Raster(2_592, 1_080)


def floored(ratio: int, step: int) -> BarReading:
    """Read a picture with a detector that counts whole steps of lines and leaves out the rest."""
    bar = (1_080 - 1_920 * 10_000 / ratio) / 2
    lines = int(bar / step) * step
    return bars((lines, lines, 0, 0))


def after(*readings: BarReading) -> Learnt:
    """What is learnt of the steps of these readings."""
    learnt = NOTHING_LEARNT
    for reading in readings:
        learnt = counts_noted(learnt, reading)
    return learnt


# --------------------------------------------------------------------------- coarse steps


@pytest.mark.parametrize("ratio", [20_000, 22_000, 23_500, 23_900, 27_600])
def test_what_a_detector_counts_in_sixteens_is_the_standard_shape_it_may_be(ratio: int) -> None:
    aspect = later(told((0, floored(ratio, 16))), 10_000).aspect
    assert aspect == pytest.approx(ratio, rel=0.02)


@pytest.mark.parametrize("ratio", [23_900, 24_000])
def test_of_shapes_that_a_coarse_count_may_be_the_middle_one_is_settled(ratio: int) -> None:
    """Bars of 88 lines of 720, counted in eights, are of 2.35, 2.39 or 2.40 to 1."""
    lines = int((720 - 1_280 * 10_000 / ratio) / 2 / 8) * 8
    flat, count = (BarReading(bar, bar, 0, 0, 1_280, 720) for bar in (8, lines))
    assert lines == 88
    aspect = later(told((0, flat), (20_000, count)), 30_000).aspect
    assert aspect == pytest.approx(ratio, rel=0.02)


def test_the_middle_one_stands_for_all_only_where_it_is_like_them() -> None:
    assert standard_among(23_500, 24_001) == 23_900
    assert standard_among(23_501, 24_001) == 24_000
    assert standard_among(23_900, 24_000) == 0
    assert standard_among(18_500, 19_001) == 0
    assert standard_among(20_100, 20_200) == 0


def test_steps_are_learnt_from_fewer_counts_the_larger_they_are() -> None:
    assert after(bars((16, 16, 0, 0))).steps == Steps(16)
    assert after(bars((8, 8, 0, 0))).steps == FINE
    assert after(bars((8, 40, 0, 0))).steps == Steps(8)
    assert after(bars((4, 20, 0, 0)), bars((28, 20, 0, 0))).steps == FINE
    assert after(bars((4, 20, 0, 0)), bars((28, 44, 0, 0))).steps == Steps(4, sure=True)
    assert after(bars((0, 0, 240, 240))).steps == FINE


def test_a_count_between_two_steps_says_that_they_are_finer() -> None:
    learnt = after(bars((16, 32, 0, 0)), bars((48, 48, 0, 0)))
    assert learnt.steps == Steps(16, sure=True)
    assert counts_noted(learnt, bars((48, 50, 0, 0))).steps == FINE
    assert counts_noted(learnt, bars((0, 0, 0, 0))) is learnt


def test_bars_at_the_sides_lack_no_more_than_columns_where_steps_are_coarse() -> None:
    """A single count of 192 lines is of steps of 16 as well; 1.46 would be 1.43 if lines lacked."""
    before = later(told((0, bars((192, 192, 0, 0)))), 20_000)
    assert (before.aspect, before.learnt.steps) == (27_600, Steps(16))
    after_it = later(told((20_000, bars((0, 0, 171, 172))), before=before), 24_000)
    assert after_it.aspect is not None
    assert abs(after_it.aspect - 14_600) * 500 <= 14_600


def test_a_dark_side_is_no_square_s_bar_where_a_count_before_was_coarse_by_chance() -> None:
    """The picture is 1.66, one of its sides is dark, and 192 lines before are of steps of 16."""
    seen = aspects(played(sets.upright_steady, 16_600, seed=1), settled(27_600))
    assert 10_000 not in seen


def test_an_edge_is_looked_for_a_step_off_once_the_steps_are_sure() -> None:
    unsure, sure = (scale_of(*sets.HD, Steps(16, sure=sure)) for sure in (False, True))
    assert (unsure.near_v, sure.near_v) == (4, 16)
    assert (unsure.near_h, sure.near_h) == (6, 16)
    assert (unsure.loose_v, sure.loose_v) == (2, 16)
    assert unsure.slack == sure.slack > unsure.fine_slack


# --------------------------------------------------------------------------- counted short


def test_a_wider_picture_whose_bars_are_counted_short_is_settled_as_the_standard_one() -> None:
    short = floored(22_000, 2)
    assert short[:2] == (102, 102)
    settling = later(told((0, short), before=settled(17_778)), 4_000)
    assert settling.aspect == 22_000


def test_bars_counted_short_are_those_of_a_wider_standard_and_never_of_a_narrower_one() -> None:
    assert standard_for(21_918, 30) == 22_000
    assert standard_for(22_000 + 82, 30) == 0
    assert standard_for(21_900, 30) == 0


# --------------------------------------------------------------------------- what stands


def flickering(seen: BarReading, seconds: int) -> list[tuple[int, BarReading]]:
    """A second of a picture and two of darkness, another one each time, in turn."""
    readings = []
    for second in range(0, seconds, 3):
        depth = 210 + 7 * second
        readings.append((second * 1_000, seen))
        readings.append((second * 1_000 + 1_000, bars((40, depth, 2 * depth, 100 + depth))))
    return readings


def test_a_clock_that_is_back_as_it_was_after_each_dark_shot_is_seen_through() -> None:
    clock = bars((40, 138, 0, 0))
    settling = later(told(*flickering(clock, 24), before=settled(17_778)), 24_000)
    assert settling.aspect == SCOPE


def test_a_clock_as_high_as_the_old_bar_is_seen_through_once_it_outlasts_a_dark_scene() -> None:
    clock = bars((22, 138, 0, 0))
    settling = told((0, clock), before=settled(FLAT))
    assert later(settling, 34_900).aspect == FLAT
    assert later(settling, 35_100).aspect == SCOPE


def test_a_mark_in_a_bar_that_was_counted_in_coarse_steps_is_seen_through() -> None:
    """Bars of 2.00 have 60 lines, counted as 64; with the mark they might be those of 1.90."""
    readings = [bars((16, 16, 0, 0)), bars((48, 96, 0, 0)), bars((128, 128, 0, 0))]
    course = [(9_000 * place - 40_000, seen) for place, seen in enumerate(readings)]
    before = told(*course, (-5_000, bars((144, 144, 0, 0))))
    assert before.learnt.steps == Steps(16, sure=True)
    assert later(told((0, bars((16, 64, 0, 0))), before=before), 9_000).aspect == 20_000


# --------------------------------------------------------------------------- narrow pictures


@pytest.mark.parametrize(
    ("width", "ratio"), [(608, 5_625), (720, 6_667), (810, 7_500), (864, 8_000)]
)
def test_a_picture_that_was_taken_upright_settles(width: int, ratio: int) -> None:
    """So wide is 16:9 (ITU-R BT.709), 3:2 and 4:3 that is turned, as high as the raster.

    4:5 is common practice for hand-held screens, and 3:2 for a camera's pictures.
    """
    upright = bars((0, 0, (1_920 - width) // 2, (1_920 - width) // 2))
    assert later(told((0, upright), before=settled(17_778)), 500).aspect == ratio
    aside = bars((0, 0, 200, 1_112))  # As wide as 16:9 turned, but off the middle.
    assert later(told((0, aside), before=settled(17_778)), 60_000).aspect == 17_778
    other = bars((0, 0, 570, 570))  # 0.72: a picture half in the dark, perhaps.
    assert later(told((0, other), before=settled(17_778)), 60_000).aspect == 17_778


def test_a_narrow_frame_in_a_wide_raster_settles_though_it_has_little_of_the_width() -> None:
    high, wide = 756, 1_008
    edges = ((1_080 - high) // 2,) * 2 + ((2_592 - wide) // 2,) * 2
    window = bars(edges, WIDE_RASTER)
    assert later(told((0, window)), 5_000).aspect == 13_333


def test_a_picture_at_the_top_of_its_frame_is_believed_sooner_while_nothing_is_settled() -> None:
    top = bars((0, 276, 0, 0))
    assert later(told((0, top)), 1_999).aspect is None
    assert later(told((0, top)), 2_000).aspect == SCOPE
    assert later(told((0, top), before=settled(FLAT)), 3_999).aspect == FLAT
    assert later(told((0, top), before=settled(FLAT)), 4_000).aspect == SCOPE


# --------------------------------------------------------------------------- where pictures lie


def test_a_picture_that_a_detector_errs_about_at_first_lies_in_the_middle() -> None:
    course = [(0, bars((0, 0, 238, 242))), (41, bars((0, 0, 240, 240)))]
    won = later(told(*course), 541)
    assert (won.aspect, won.learnt.middle) == (13_333, None)


def test_a_mark_beside_a_narrow_picture_does_not_move_it_to_one_side() -> None:
    """The pictures before lay too high; both bars together are those of 1.43 to 1."""
    raised, marked = bars((72, 204, 0, 0)), bars((0, 0, 132, 240))
    before = later(told((0, raised), before=settled(17_778)), 20_000)
    assert before.learnt.middle is not None
    course = told((21_000, bars((0, 0, 240, 240))), (21_100, marked), before=before)
    assert later(course, 60_000).aspect == 13_333


def test_how_often_a_detector_reads_is_known_once_the_settled_shape_is_back() -> None:
    """What it read falsely for a second keeps it from being believed in half of one."""
    scope, nothing = laid(SCOPE), bars((0, 0, 0, 0))
    slip = told((0, bars((76, 348, 600, 68))), (1_000, scope), before=settled(SCOPE))
    assert told((9_000, nothing), before=slip).deadline == 10_062
    assert told((9_000, nothing), before=settled(SCOPE)).deadline == 9_500
    assert told((9_000, laid(FLAT)), before=slip).deadline == 9_500
