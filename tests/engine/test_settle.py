"""The settle filter: readings as levels, how quick and how slow it is, and darkness."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from engine.settle import (
    STANDARD,
    UNSETTLED,
    BarReading,
    DwellTimes,
    elapse,
    take_bars,
    take_ratio,
)
from tests.engine import settle_sets as sets
from tests.engine.settle_score import within
from tests.engine.settling import (
    DWELL,
    SETTLINGS,
    aspects,
    bars,
    lag,
    laid,
    later,
    odd_ratios,
    played,
    rasters,
    ratios,
    seeds,
    settled,
    told,
)

# ------------------------------------------------------------------ readings are levels

edge_counts = st.integers(0, 80).map(lambda count: count * 10)
any_bars = st.one_of(
    st.none(),
    st.builds(
        BarReading, edge_counts, edge_counts, edge_counts, edge_counts, st.just(1920), st.just(1080)
    ),
    st.builds(laid, ratios),
    st.builds(lambda ratio, depth: laid(ratio)._replace(bottom=depth), ratios, st.integers(0, 200)),
)
courses = st.lists(st.tuples(st.integers(0, 6_000), any_bars), max_size=30)


@given(courses, seeds)
def test_hearing_a_reading_again_or_being_asked_early_changes_nothing(
    course: list[tuple[int, BarReading | None]], seed: int
) -> None:
    chance, now = Random(seed), 0
    once = often = UNSETTLED
    for wait, reading in course:
        for step in sorted(chance.randrange(wait + 1) for _ in range(chance.randrange(4))):
            often = later(often, now + step)
            if often != UNSETTLED:  # Nothing was read yet, and black is something.
                same = take_bars(DWELL, often, often.reading, now + step)  # type: ignore[arg-type]
                assert same is often
            if often.deadline is not None:
                assert elapse(often, often.deadline - 1) is often
        now += wait
        once = take_bars(DWELL, later(once, now), reading, now)
        often = take_bars(DWELL, later(often, now), reading, now)
        assert often == once


@given(courses)
def test_a_deadline_lies_ahead_and_is_done_with_when_it_has_been_done(
    course: list[tuple[int, BarReading | None]],
) -> None:
    now, settling = 0, UNSETTLED
    for wait, reading in course:
        now += wait
        settling = take_bars(DWELL, later(settling, now), reading, now)
        assert settling.deadline is None or settling.deadline > now
        if settling.deadline is not None:
            done = elapse(settling, settling.deadline)
            assert done.deadline is None or done.deadline > settling.deadline


@given(courses)
def test_a_state_survives_being_written_down_and_can_be_compared(
    course: list[tuple[int, BarReading | None]],
) -> None:
    now, settling = 0, UNSETTLED
    for wait, reading in course:
        now += wait
        settling = take_bars(DWELL, later(settling, now), reading, now)
        copy = SETTLINGS.validate_json(SETTLINGS.dump_json(settling))
        assert copy == settling
        assert hash(copy) == hash(settling)
        settling = copy


@given(
    st.lists(
        st.builds(
            BarReading,
            *[st.integers(0, 4_000)] * 4,
            st.integers(0, 8_000),
            st.integers(0, 5_000),
            st.sampled_from((0, 0, 13_333, 17_778)),
        ),
        max_size=20,
    ),
    st.integers(0, 5_000),
)
@example(
    [BarReading(0, 0, 0, 0, 0, 0), BarReading(0, 0, 0, 0, 1, 1), BarReading(4_000, 0, 0, 0, 1, 1)],
    700,
)
def test_no_counts_however_absurd_raise_anything(readings: list[BarReading], wait: int) -> None:
    settling = UNSETTLED
    for at, reading in enumerate(readings):
        settling = take_bars(DWELL, later(settling, at * wait), reading, at * wait)
        assert settling.aspect is None or 10_000 <= settling.aspect <= 30_000


def test_a_state_does_not_grow_with_what_it_has_heard() -> None:
    settling, longest = UNSETTLED, 0
    for scene in (sets.vignette, sets.dim, sets.signs, sets.breathing):
        for now, reading in played(scene, 22_000, 5, seconds=60):
            settling = take_bars(DWELL, later(settling, now), reading, now)
            longest = max(longest, len(SETTLINGS.dump_json(settling)))
    assert longest < 1_200


# ------------------------------------------------------------------------- quick and slow


@given(ratios, ratios, rasters)
def test_a_standard_shape_is_quick_when_taller_and_takes_the_dwell_when_wider(
    old: int, new: int, raster: sets.Raster
) -> None:
    assume(not within(old, new, 3))
    taken = lag(new, [(0, laid(new, raster))], settled(old, raster))
    assert taken == (DWELL.taller if new < old else DWELL.wider)


@given(ratios, odd_ratios, rasters)
def test_a_shape_nobody_standardised_is_real_when_it_stands_even(
    old: int, new: int, raster: sets.Raster
) -> None:
    assume(not within(old, new, 3))
    taken = lag(new, [(0, laid(new, raster))], settled(old, raster))
    assert taken is not None
    assert DWELL.taller < taken <= 3_500


@given(ratios, ratios, st.sampled_from((75, 80, 90)))
def test_a_window_on_all_four_sides_is_its_own_ratio(old: int, new: int, shrink: int) -> None:
    assume(not within(old, new, 3) and new < 23_900)
    taken = lag(new, [(0, laid(new, shrink=shrink))], settled(old))
    assert taken is not None
    assert taken <= (1_000 if new < old else DWELL.wider)


@given(st.integers(100, 2_000), st.integers(2_000, 20_000), st.sampled_from((18_500, 23_900)))
def test_the_pace_is_the_rooms_to_say(taller: int, wider: int, old: int) -> None:
    dwell = DwellTimes(taller, wider)
    new = 23_900 if old == 18_500 else 18_500
    settling = take_bars(dwell, settled(old), laid(new), 0)
    assert settling.deadline == (taller if new < old else wider)


def test_a_shape_first_seen_of_all_is_settled_as_soon_as_a_taller_one() -> None:
    assert told((0, laid(23_900))).deadline == DWELL.taller


@given(ratios, ratios, st.integers(1_000, 8_000))
def test_a_taller_insert_of_a_few_seconds_is_followed_and_left_again(
    old: int, new: int, length: int
) -> None:
    assume(new < old and not within(old, new, 3))
    settling = told((0, laid(new)), (length, laid(old)), before=settled(old))
    assert within(settling.aspect, new)
    assert within(later(settling, length + DWELL.wider).aspect, old)


@given(ratios, st.sampled_from((75, 80, 90)))
def test_the_settled_shape_in_a_window_is_no_change(ratio: int, shrink: int) -> None:
    before = settled(ratio)
    window = told((0, laid(ratio, shrink=shrink)), before=before)
    assert later(window, 10_000).aspect == before.aspect
    assert told((20_000, laid(ratio)), before=later(window, 10_000)).aspect == before.aspect


@given(ratios, st.floats(-0.019, 0.019))
def test_a_ratio_within_two_percent_of_the_settled_one_is_no_change(old: int, off: float) -> None:
    before = settled(old)
    assert before.aspect is not None
    now = take_ratio(DWELL, before, round(before.aspect * (1 + off)), 0)
    assert (now.aspect, now.deadline) == (before.aspect, None)


@pytest.mark.parametrize(
    ("rests", "film", "dwell"), [(18_800, 18_500, DWELL.taller), (18_700, 19_000, DWELL.wider)]
)
def test_of_what_is_alike_the_nearer_standard_shape_is_settled(
    rests: int, film: int, dwell: int
) -> None:
    """A film of 1.85 does not rest at 1.88, which is as near to 1.90."""
    before = settled(rests)
    assert before.aspect not in STANDARD
    for now in (told((0, laid(film)), before=before), take_ratio(DWELL, before, film, 0)):
        assert now.deadline == dwell
        assert later(now, 10_000).aspect == film
    back = told((20_000, laid(rests)), before=later(told((0, laid(film)), before=before), 10_000))
    assert later(back, 60_000).aspect == film


@given(ratios, ratios)
def test_a_ratio_that_is_named_settles_like_an_even_shape(old: int, new: int) -> None:
    assume(not within(old, new, 3))
    settling = take_ratio(DWELL, settled(old), new, 0)
    assert settling.deadline == (DWELL.taller if new < old else DWELL.wider)
    assert within(later(settling, 10_000).aspect, new)


@given(ratios)
def test_bars_that_agree_with_a_ratio_named_before_change_nothing(ratio: int) -> None:
    named = later(take_ratio(DWELL, UNSETTLED, ratio, 0), 10_000)
    seen = told((20_000, laid(ratio)), before=named)
    assert (seen.aspect, seen.deadline) == (named.aspect, None)


# --------------------------------------------------------------- darkness says nothing


@given(ratios, st.lists(st.tuples(st.integers(0, 10_000), st.booleans()), max_size=8))
def test_black_leaves_all_as_it_is(ratio: int, course: list[tuple[int, bool]]) -> None:
    now, settling = 0, settled(ratio)
    for wait, black in course:
        now += wait
        reading = None if black else laid(ratio)
        settling = take_bars(DWELL, later(settling, now), reading, now)
        assert settling.deadline is None
        assert within(settling.aspect, ratio)


def test_black_in_all_its_counts_is_black() -> None:
    before = settled(23_900)
    assert take_bars(DWELL, before, BarReading(540, 540, 0, 0, 1920, 1080), 0).deadline is None
    assert take_bars(DWELL, before, BarReading(0, 0, 1920, 0, 1920, 1080), 0).deadline is None


@given(ratios, st.sampled_from((sets.night, sets.dim, sets.breathing)), seeds)
def test_a_dark_scene_that_moves_never_changes_the_aspect(
    ratio: int, scene: sets.Scene, seed: int
) -> None:
    before = settled(ratio)
    assert aspects(played(scene, ratio, seed), before) == {before.aspect}


@example(top=38, left=7, right=7)
@example(top=66, left=7, right=8)
@example(top=110, left=15, right=15)
@given(st.integers(28, 500), st.integers(0, 800), st.integers(0, 800))
def test_a_still_dark_scene_that_keeps_one_lit_edge_never_changes_the_aspect(
    top: int, left: int, right: int
) -> None:
    """Even where the lines above happen to be as many as a wider shape's bar has."""
    settling = told((0, bars((top, 22, left, right))), before=settled(18_500))
    assert later(settling, 30_000).aspect == 18_500


@given(ratios, ratios, seeds)
def test_a_shape_that_changes_in_black_is_settled_as_if_it_had_not(
    old: int, new: int, seed: int
) -> None:
    assume(not within(old, new, 3))
    dark = Random(seed).randrange(100, 60_000)
    taken = lag(new, [(0, None), (dark, laid(new))], settled(old))
    assert taken == dark + (DWELL.taller if new < old else DWELL.wider)


@given(st.sampled_from((20_000, 22_000, 23_500, 24_000)), seeds)
def test_bars_above_and_below_that_stand_while_the_sides_flicker_are_believed_in_time(
    new: int, seed: int
) -> None:
    readings = played(sets.upright_steady, new, seed, raster=sets.HD)
    for old in (13_333, 18_500, 27_600):
        taken = lag(new, readings, settled(old))
        assert taken is None or taken <= 14_000
        assert all(
            seen == settled(old).aspect or within(seen, new)
            for seen in aspects(readings, settled(old))
        )


@given(ratios, ratios, seeds, st.sampled_from((sets.level_steady, sets.upright_steady)))
def test_one_axis_of_the_old_shape_is_never_joined_with_one_of_the_new(
    old: int, new: int, seed: int, scene: sets.Scene
) -> None:
    assume(not within(old, new, 3))
    before = settled(old)
    seen = aspects(played(scene, new, seed), before)
    assert all(aspect == before.aspect or within(aspect, new) for aspect in seen)


def test_a_pillarboxed_picture_that_begins_in_the_dark_is_no_window_of_the_old_height() -> None:
    chance, now, settling = Random(7), 0, settled(23_500)
    for _ in range(24 * 20):
        now += 42
        reading = bars((chance.randrange(100, 400), 0, 240, 240))
        settling = take_bars(DWELL, later(settling, now), reading, now)
        assert settling.aspect in (23_500, 13_333)
    assert settling.aspect == 13_333


def test_a_taller_picture_that_begins_in_the_dark_shows_in_the_corner_that_is_lit() -> None:
    chance, now, settling = Random(3), 0, settled(23_500)
    for _ in range(24 * 8):
        now += 42
        reading = bars((chance.randrange(52, 600), 22, chance.randrange(500, 1_200), 0))
        settling = take_bars(DWELL, later(settling, now), reading, now)
        assert settling.aspect in (23_500, 18_500)
    assert settling.aspect == 18_500


@given(ratios, seeds)
def test_soft_edges_that_wander_are_no_bars(ratio: int, seed: int) -> None:
    before = settled(ratio)
    assert aspects(played(sets.vignette, ratio, seed), before) == {before.aspect}


def test_a_wider_picture_that_turns_dark_soon_is_settled_in_the_dark() -> None:
    """It is seen for two seconds, and then for long only dark shots of it."""
    dark = [(2_000 + at * 500, bars((200 + at, 340, 0, 90 + 2 * at))) for at in range(20)]
    course = [(0, laid(23_900)), *dark]
    assert lag(23_900, course, settled(13_333)) == 6_000
    brief = [(0, laid(23_900)), (900, bars((200, 340, 0, 90))), *dark]
    assert later(told(*brief, before=settled(13_333)), 60_000).aspect == 13_333
    other = [*course[:8], (5_800, laid(13_333))]
    assert later(told(*other, before=settled(13_333)), 60_000).aspect == 13_333


def test_a_wider_picture_that_begins_in_the_dark_need_not_be_seen_for_as_long() -> None:
    """Nothing else is read before it: no light in its bars, no other shape, nor all black."""
    dark = [(at * 500, bars((300 + at, 210, 0, 90 + 2 * at))) for at in range(10)]
    bright = (5_000, laid(23_900))
    assert lag(23_900, [*dark, bright], settled(17_778)) == 6_000 + 500 // 16
    assert lag(23_900, [*dark[6:], bright], settled(17_778)) == 4_000
    foot = (2_000, bars((300, 60, 0, 90)))
    assert lag(23_900, [*dark[:4], foot, *dark[5:], bright], settled(17_778)) == 9_000
    seen = (2_000, laid(17_778))
    assert lag(23_900, [*dark[:4], seen, *dark[5:], bright], settled(17_778)) == 6_500
    other = [(2_000, laid(22_000)), *dark[5:]]
    assert lag(23_900, [*dark[:4], *other, bright], settled(17_778)) == 9_000


def test_a_former_shape_gains_nothing_by_the_dark_before_it() -> None:
    """A slow detector's next reading is waited for: the shape may be gone in it."""
    dark = [(at * 1_000, bars((300 + at, 210, 0, 90 + 2 * at))) for at in range(5)]
    gone = (6_000, laid(17_778))
    before = told((-20_000, laid(17_778)), before=settled(23_900))
    course = told(*dark, (5_000, laid(23_900)), gone, before=later(before, 0))
    assert course.aspect == 17_778
