"""The settle filter: what it must do with any readings, and how it scores on labelled sets."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from random import Random

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st
from pydantic import ConfigDict, TypeAdapter

from engine.settle import (
    LETTERING,
    MARKED,
    UNSETTLED,
    BarReading,
    DwellTimes,
    Settling,
    elapse,
    new_title,
    take_bars,
    take_ratio,
)
from tests.engine import settle_sets as sets
from tests.engine.settle_score import LabelledSet, Segment, load, report, run, score, within
from tests.house.tree import beside

DWELL = DwellTimes()
FINE = (sets.HD, sets.Raster(3840, 2160), sets.Raster(4096, 2160))
SETTLINGS: TypeAdapter[Settling] = TypeAdapter(Settling, config=ConfigDict(strict=True))

ratios = st.sampled_from(sets.STANDARD)
odd_ratios = st.sampled_from(sets.ODD)
rasters = st.sampled_from(FINE)
seeds = st.integers(0, 2**32)


def bars(edges: sets.Edges, raster: sets.Raster = sets.HD) -> BarReading:
    return BarReading(*edges, *raster)


def laid(ratio: int, raster: sets.Raster = sets.HD, shrink: int = 100) -> BarReading:
    return bars(sets.lay_in(ratio, raster, shrink), raster)


def later(settling: Settling, now: int) -> Settling:
    """Let time pass without any reading."""
    while settling.deadline is not None and settling.deadline <= now:
        settling = elapse(settling, settling.deadline)
    return settling


def told(*readings: tuple[int, BarReading | None], before: Settling = UNSETTLED) -> Settling:
    """Take readings at their times."""
    settling = before
    for now, reading in readings:
        settling = take_bars(DWELL, later(settling, now), reading, now)
    return settling


def settled(ratio: int, raster: sets.Raster = sets.HD, shrink: int = 100) -> Settling:
    """The filter settled on a shape, at a time before 0."""
    settling = later(told((-60_000, laid(ratio, raster, shrink))), 0)
    assert within(settling.aspect, ratio)
    return settling


def lag(
    ratio: int, readings: Iterable[tuple[int, BarReading | None]], before: Settling
) -> int | None:
    """Milliseconds from the first reading until the aspect is right; None if it never is."""
    settling, first = before, None
    for now, reading in readings:
        first = now if first is None else first
        while settling.deadline is not None and settling.deadline <= now:
            at = settling.deadline
            settling = elapse(settling, at)
            if within(settling.aspect, ratio):
                return at - first
        settling = take_bars(DWELL, settling, reading, now)
        if within(settling.aspect, ratio):
            return now - first
    while settling.deadline is not None and first is not None:
        at = settling.deadline
        settling = elapse(settling, at)
        if within(settling.aspect, ratio):
            return at - first
    return None


def played(
    scene: sets.Scene, ratio: int, seed: int, seconds: float = 30, raster: sets.Raster = sets.HD
) -> list[tuple[int, BarReading | None]]:
    """A scene's readings from 0 on."""
    part = sets.Part(scene, ratio, seconds)
    return list(sets.make(Random(seed), raster, [part]).readings)


def aspects(readings: Iterable[tuple[int, BarReading | None]], before: Settling) -> set[int | None]:
    """All that is ever settled on while these are read."""
    settling, seen = before, {before.aspect}
    for now, reading in readings:
        settling = later(settling, now)
        seen.add(settling.aspect)
        settling = take_bars(DWELL, settling, reading, now)
        seen.add(settling.aspect)
    return seen


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
            assert take_bars(DWELL, often, often.reading, now + step) is often  # type: ignore[arg-type]
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
        assert settling.aspect is None or 11_500 <= settling.aspect <= 30_000


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


@given(
    st.integers(30, 500).filter(lambda count: not 118 < count < 202),
    st.integers(0, 800),
    st.integers(0, 800),
)
def test_a_still_dark_scene_that_keeps_one_lit_edge_never_changes_the_aspect(
    top: int, left: int, right: int
) -> None:
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


# --------------------------------------------------------------------- lettering in bars

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


# ----------------------------------------------------------- figures from outside the project

# One bar's rows, rounded to an even picture (computed; the rounding is a convention), of ratios
# from SMPTE standards and trade practice: 1.85, 2.35, 2.39 second-hand, the others from memory.
ACTIVE_ROWS = [
    (18_500, 21, 42),
    (19_000, 35, 69),
    (20_000, 60, 120),
    (22_000, 104, 207),
    (23_500, 131, 263),
    (23_900, 138, 277),
    (24_000, 140, 280),
    (25_500, 164, 327),
    (27_600, 192, 384),
]
# The same for columns: 4:3 and 1.66.
ACTIVE_COLUMNS = [(13_333, 240, 480), (16_600, 64, 127)]


@pytest.mark.parametrize(("ratio", "in_1080", "in_2160"), ACTIVE_ROWS)
def test_published_rows_in_a_16_to_9_raster_settle_to_their_ratio(
    ratio: int, in_1080: int, in_2160: int
) -> None:
    for bar, raster in ((in_1080, sets.HD), (in_2160, sets.Raster(3840, 2160))):
        settling = later(told((0, bars((bar, bar, 0, 0), raster))), 10_000)
        assert settling.aspect == pytest.approx(ratio, rel=0.004)


@pytest.mark.parametrize(("ratio", "in_1080", "in_2160"), ACTIVE_COLUMNS)
def test_published_columns_in_a_16_to_9_raster_settle_to_their_ratio(
    ratio: int, in_1080: int, in_2160: int
) -> None:
    for bar, raster in ((in_1080, sets.HD), (in_2160, sets.Raster(3840, 2160))):
        settling = later(told((0, bars((0, 0, bar, bar), raster))), 10_000)
        assert settling.aspect == ratio


# Active lines of a 576-line 4:3 frame (ETSI EN 300 294 as a public decoder implements it, read):
# a reader of such counts needs a tolerance of about 2.1 %.
@pytest.mark.parametrize(("ratio", "lines"), [(15_556, 504), (17_778, 430)])
def test_published_lines_of_a_4_to_3_frame_settle_to_their_ratio(ratio: int, lines: int) -> None:
    bar = (576 - lines) // 2
    reading = BarReading(bar, bar, 0, 0, 720, 576, 13_333)
    assert later(told((0, reading)), 10_000).aspect == pytest.approx(ratio, rel=0.021)


def test_small_rasters_whose_pixels_cannot_be_square_are_16_to_9_unless_somebody_says() -> None:
    assert later(told((0, BarReading(0, 0, 0, 0, 720, 576))), 10_000).aspect == 17_778
    assert later(told((0, BarReading(0, 0, 0, 0, 720, 480, 13_333))), 10_000).aspect == 13_333
    assert later(told((0, BarReading(0, 0, 0, 0, 640, 480))), 10_000).aspect == 13_333


def test_a_new_raster_keeps_the_settled_aspect_and_where_its_bars_are_now() -> None:
    settling = told((0, laid(23_900, sets.Raster(3840, 2160))), before=settled(23_900))
    assert (settling.aspect, settling.deadline) == (23_900, None)


# ------------------------------------------------------------------------- labelled sets


@pytest.mark.parametrize("seed", range(16))
def test_made_evenings_of_the_ordinary_kind_are_right_all_the_time(seed: int) -> None:
    result = score(sets.make_plain(seed, FINE))
    assert not result.false, report(f"plain {seed}", result)
    assert result.share > 99, report(f"plain {seed}", result)


@pytest.mark.parametrize("seed", range(16))
def test_made_evenings_of_what_misleads_settle_on_nothing_that_is_not_there(seed: int) -> None:
    result = score(sets.make_hard(seed, FINE))
    assert not result.false, report(f"hard {seed}", result)
    assert result.share > 88, report(f"hard {seed}", result)


def test_made_evenings_of_what_misleads_are_right_nearly_all_the_time() -> None:
    results = [score(sets.make_hard(seed, FINE)) for seed in range(16)]
    right, counted = sum(r.right for r in results), sum(r.counted for r in results)
    assert right > 0.97 * counted


@pytest.mark.parametrize("seed", range(8))
def test_sets_in_coarse_rasters_are_right_most_of_the_time(seed: int) -> None:
    coarse = [raster for raster in sets.RASTERS if raster not in FINE]
    assert score(sets.make_plain(seed, coarse)).share > 97


@pytest.fixture(scope="module")
def readings() -> Path:
    """The folder of real readings that may lie beside the checkout."""
    return beside("readings", "made sets of the same kinds are scored all the same")


def test_the_real_plain_set_is_right_all_the_time(readings: Path) -> None:
    result = score(load(readings / "plain"))
    assert (result.right, result.false) == (result.counted, ()), report("plain", result)


def test_the_real_hard_set_is_right_nearly_all_the_time(readings: Path) -> None:
    result = score(load(readings / "hard"))
    assert result.share >= 97, report("hard", result)
    assert not result.false, report("hard", result)


def test_the_real_sets_are_settled_within_their_lags(readings: Path) -> None:
    plain, hard = (score(load(readings / kind)).lags for kind in ("plain", "hard"))
    most = 42 * 2  # Some segments begin with a frame or two of the last one.
    limits = {
        "tall-scene": 600, "broadcast-4x3": 600, "flat-film": DWELL.wider + most,
        "scope-film": DWELL.wider + most, "scope-return": DWELL.wider + most,
        "grain": DWELL.wider + most, "mark-in-upper-bar": DWELL.wider + MARKED + most,
        "odd-2.55": 3_500, "odd-1.5": 3_500, "windowed": 1_000,
    }  # fmt: skip
    found = {**plain, **hard}
    assert {name: found[name] for name in limits if (found[name] or 0) > limits[name]} == {}
    assert all(found[name] is not None for name in limits)


def test_the_scorer_counts_what_is_wrong() -> None:
    segments = [Segment("wide", 0, 10_000, 23_900), Segment("tall", 10_000, 20_000, 13_333)]
    always = LabelledSet([(0, laid(23_900))], segments)
    result = score(always)
    assert result.lags == {"wide": 500, "tall": None}
    assert (result.right, result.counted) == (90, 180)
    lie = LabelledSet([(0, laid(18_500))], segments)
    assert [change.aspect for change in score(lie).false] == [18_500]
    assert run([], DWELL) == [(0, None, False)]
