"""The settle filter, guard by guard: what it counts, what it passes over, and what it keeps.

Each test fails if a condition is left out or turned round. Times are ms, ratios 1/10,000, bars are
lines and columns of 1920 x 1080.
"""

from __future__ import annotations

import pytest

from engine.settle import (
    LETTERING,
    UNSETTLED,
    BarReading,
    Settling,
    elapse,
    line_noted,
    parked,
    take_bars,
    take_ratio,
)
from engine.settle.learnt import Learnt, Slip
from engine.settle.shapes import expected_outline, outline_of, scale_of
from engine.settle.sightings import (
    CALM,
    CORNER,
    EATEN,
    MARK,
    NO_EVIDENCE,
    OFFSET,
    PART,
    TEXT,
    WHOLE,
)
from tests.engine import settle_sets as sets
from tests.engine.settling import DWELL, bars, laid, later, outline, settled, told

TALL, SCOPE, NARROW = 18_500, 23_900, 13_333
DARK = bars((200, 170, 100, 300))
"""A picture that is dark at all its edges: within the bars of scope and within those of 1.85."""
TWENTY = bars((60, 60, 0, 0))
"""A shape within the bars of scope."""


def knowing(ratio: int, learnt: Learnt) -> Settling:
    """The filter settled on a shape, with something learnt before."""
    return settled(ratio)._replace(learnt=learnt)


# ----------------------------------------------------------------------------- what is passed over


def test_a_reading_taken_again_gives_the_same_object_back() -> None:
    course = told((0, laid(SCOPE)), before=settled(TALL))
    assert take_bars(DWELL, course, laid(SCOPE), 900) is course


@pytest.mark.parametrize("edges", [(540, 540, 0, 0), (0, 0, 1_900, 20)])
def test_bars_that_leave_nothing_between_them_are_black(edges: sets.Edges) -> None:
    assert told((0, bars(edges)), before=settled(TALL)).evidence == CALM


def test_the_settled_shape_in_another_raster_is_seen_there() -> None:
    uhd = sets.Raster(3_840, 2_160)
    course = told((0, laid(17_778, uhd)), before=settled(17_778))
    assert (course.raster, course.evidence, course.left) == (uhd, NO_EVIDENCE, None)


def test_what_says_nothing_adds_no_time_to_a_rival_and_what_its_dark_would_show_does() -> None:
    for dark, evidence, due in (
        (DARK, CALM, 4_000),
        (bars((100, 170, 100, 300)), NO_EVIDENCE, 6_000),
    ):
        course = told((0, laid(SCOPE)), (1_000, dark), before=settled(TALL))
        assert course.evidence == evidence
        assert told((3_000, laid(SCOPE)), before=course).deadline == due


def test_a_rival_that_wavers_by_a_line_or_two_is_still_seen_plainly() -> None:
    waved = told((0, laid(SCOPE)), (1_000, bars((135, 141, 0, 0))), before=settled(TALL))
    assert waved.rival is not None
    assert (waved.evidence, waved.rival.shape) == (WHOLE, outline(SCOPE))
    odd = told((0, bars((77, 77, 0, 0))), (1_000, bars((75, 79, 0, 0))), before=settled(TALL))
    assert odd.evidence == EATEN


@pytest.mark.parametrize(("aside", "ratio"), [((38, 238, 0, 0), SCOPE), ((0, 0, 200, 280), NARROW)])
def test_a_rival_off_the_middle_is_not_the_same_shape_in_the_middle(
    aside: sets.Edges, ratio: int
) -> None:
    course = told((0, bars(aside)), before=settled(TALL))
    assert course.evidence == OFFSET
    centre = told((1_000, laid(ratio)), before=course)
    assert centre.rival is not None
    assert (centre.evidence, centre.rival.shape, centre.rival.proof) == (WHOLE, outline(ratio), 0)


def test_lettering_in_a_wider_rival_s_bars_is_calm_unless_it_is_in_the_settled_ones() -> None:
    course = told((0, laid(SCOPE)), (600, bars((40, 60, 0, 0))), before=settled(TALL))
    assert course.evidence == CALM
    assert course.rival is not None
    assert course.rival.shape == outline(SCOPE)
    early = told((0, laid(SCOPE)), (400, bars((40, 60, 0, 0))), before=settled(TALL))
    assert early.evidence == EATEN
    text = told((0, laid(SCOPE)), (600, bars((30, 10, 0, 0))), before=settled(TALL))
    assert text.evidence == TEXT


def test_a_shape_alike_is_the_settled_one_in_another_place() -> None:
    course = told((0, laid(SCOPE)), (500, bars((26, 26, 0, 0))), before=settled(TALL))
    assert (course.aspect, course.deadline, course.left, course.rival) == (TALL, None, None, None)
    assert course.home == outline_of(18_677, 52, 0, scale_of(*sets.HD), standard=False)


# -------------------------------------------------------------------------------------- lettering


def test_what_stands_in_both_bars_for_half_a_second_is_lettering() -> None:
    odd = bars((77, 77, 0, 0))

    def lines(length: int, last: BarReading | None = odd) -> int | None:
        course = told((0, odd), (1, last), (length, laid(SCOPE)), before=settled(SCOPE))
        return course.learnt.lines

    assert lines(500) == 500
    assert lines(499) is None
    assert lines(900, None) is None
    assert lines(900, bars((77, 138, 0, 0))) is None


def test_lettering_in_the_settled_bars_takes_the_proof_of_equal_ones() -> None:
    course = told((0, TWENTY), (400, bars((60, 138, 0, 0))), before=settled(SCOPE))
    assert course.evidence == MARK
    assert course.rival is not None
    assert course.rival.proof == 0


def test_lettered_bars_are_waited_for_since_the_settled_shape_was_last_seen() -> None:
    """Black in between is no sight of it."""
    before = knowing(SCOPE, Learnt(lines=0))
    course = told((0, laid(TALL)), (1_000, None), (2_000, laid(TALL)), before=before)
    assert course.deadline == DWELL.taller + 3_000


def test_text_that_is_believed_is_waited_for_no_more() -> None:
    text = bars((138, 60, 0, 0))
    course = told((0, text), before=settled(SCOPE))
    assert course.deadline == LETTERING
    course = told((LETTERING, text), (2_000, bars((138, 64, 0, 0))), before=later(course, 1_000))
    assert (course.subtitles, course.deadline) == (True, None)


def test_text_counts_from_its_first_reading_and_a_mark_before_it_does_not_count() -> None:
    text, mark = bars((138, 60, 0, 0)), bars((60, 138, 0, 0))
    again = told((0, text), (300, bars((138, 64, 0, 0))), before=settled(SCOPE))
    assert again.deadline == LETTERING
    after = told((0, mark), (300, text), before=settled(SCOPE))
    assert (told((0, mark), before=settled(SCOPE)).deadline, after.deadline) == (None, 1_100)
    rival = told((0, TWENTY), (300, text), before=settled(SCOPE))
    assert rival.deadline == 300 + LETTERING


@pytest.mark.parametrize(("edges", "text"), [((138, 60, 0, 0), True), ((60, 138, 0, 0), False)])
def test_a_shape_settled_under_lettering_has_text_where_it_stands_below(
    edges: sets.Edges, text: bool
) -> None:
    course = later(told((0, bars(edges)), before=settled(TALL)), 10_000)
    assert (course.aspect, course.subtitles) == (SCOPE, text)


def test_a_shape_settled_plainly_has_no_text_though_its_bars_differ_by_a_line() -> None:
    course = later(told((0, bars((139, 137, 0, 0))), before=settled(TALL)), 10_000)
    assert (course.aspect, course.subtitles) == (SCOPE, False)


def test_a_line_that_still_stands_is_counted_again_and_no_other_deadline_is_moved() -> None:
    text = told((0, bars((138, 60, 0, 0))), before=settled(SCOPE))
    assert line_noted(text, 9_000).deadline == 9_000
    assert line_noted(text, None).deadline is None
    rival = told((0, laid(SCOPE)), before=settled(TALL)._replace(subtitles=True))
    noted = line_noted(rival, 9_000)
    assert (noted.subtitles, noted.deadline) == (False, DWELL.wider)


# ------------------------------------------------------------------------------------------- slips


def slips_after(ratio: int, length: int, back: int, before: Settling) -> tuple[Slip, ...]:
    """What is learnt of a shape that was read for so long, and then the settled one for so long."""
    assert before.aspect is not None
    home = laid(before.aspect)
    course = told((0, laid(ratio)), (length, home), (length + back, None), before=before)
    return course.learnt.slips


def test_a_shape_is_a_slip_once_the_settled_one_was_seen_for_as_long_again() -> None:
    assert slips_after(NARROW, 400, 399, settled(TALL)) == ()
    assert slips_after(NARROW, 400, 400, settled(TALL)) == (Slip(NARROW, 400, 800),)


def test_a_wider_shape_that_was_seen_for_two_seconds_may_well_have_been_there() -> None:
    assert slips_after(SCOPE, 2_000, 2_000, settled(TALL)) == (Slip(SCOPE, 2_000, 4_000),)
    assert slips_after(SCOPE, 2_001, 2_001, settled(TALL)) == ()


def test_a_taller_shape_is_a_slip_however_long_it_was_seen() -> None:
    before = knowing(SCOPE, Learnt(lines=0))
    assert slips_after(TALL, 2_400, 2_400, before) == (Slip(TALL, 2_400, 4_800),)


# ------------------------------------------------------------------------------------ two rivals


def test_a_shape_seen_beside_another_one_waits_longer_unless_that_one_is_a_slip() -> None:
    def waits(gap: int, learnt: Learnt) -> int | None:
        before = UNSETTLED._replace(learnt=learnt)
        course = told((0, laid(SCOPE)), (gap, laid(NARROW)), before=before)
        return None if course.deadline is None else course.deadline - gap

    assert waits(100, Learnt()) == 3 * DWELL.taller
    assert waits(0, Learnt()) == DWELL.taller
    assert waits(100, Learnt(slips=(Slip(SCOPE, 300, 0),))) == DWELL.taller


def aside_after(second: BarReading, before: Settling) -> int:
    """What is left of 400 ms of scope, kept aside, after 300 ms of something else."""
    course = told((0, laid(SCOPE)), (400, second), (700, None), before=before)
    assert course.aside is not None
    return course.aside.proof


def test_what_is_seen_plainly_counts_against_the_rival_that_is_aside() -> None:
    assert aside_after(laid(NARROW), settled(TALL)) == 100
    assert aside_after(bars((0, 90, 240, 240)), settled(TALL)) == 100
    assert aside_after(bars((0, 0, 120, 240)), settled(TALL)) == 400


def test_but_not_if_it_is_a_slip_or_may_be_lettering_in_the_bars_of_that_rival() -> None:
    slip = knowing(TALL, Learnt(slips=(Slip(NARROW, 300, 0),)))
    assert aside_after(laid(NARROW), slip) == 400
    assert aside_after(TWENTY, settled(NARROW)) == 400


def test_a_rival_is_forgotten_when_the_settled_shape_has_spent_it_and_not_in_the_dark() -> None:
    dark = told((0, laid(SCOPE)), (0, DARK), (9_000, None), before=settled(TALL))
    assert dark.rival is not None
    spent = told((0, laid(SCOPE)), (300, laid(TALL)), (700, None), before=settled(TALL))
    assert spent.rival is None
    weak = told((0, bars((60, 138, 0, 0))), (300, laid(TALL)), (500, None), before=settled(TALL))
    assert weak.rival is not None


def test_the_settled_shape_puts_the_rival_aside_out_of_mind() -> None:
    course = told((0, laid(SCOPE)), (900, laid(NARROW)), (1_000, laid(TALL)), before=settled(TALL))
    assert course.rival is not None
    assert (course.rival.shape.ratio, course.aside) == (NARROW, None)


def test_an_odd_rival_is_taken_for_the_standard_shape_that_is_read_in_its_place() -> None:
    odd = told((0, bars((23, 23, 0, 0))), before=settled(SCOPE))
    assert odd.rival is not None
    assert not odd.rival.shape.standard
    whole = told((100, bars((22, 22, 0, 0))), before=odd)
    assert whole.rival is not None
    assert whole.rival.shape == outline_of(TALL, 44, 0, scale_of(*sets.HD), standard=True)
    part = told((100, bars((22, 22, 2, 240))), before=odd)
    assert part.rival is not None
    assert (part.evidence, part.rival.shape.standard) == (PART, False)


# ------------------------------------------------------------------------------ rasters and places


def test_another_raster_forgets_rivals_and_places_but_not_what_is_settled() -> None:
    before = told((0, laid(NARROW)), (200, laid(SCOPE)), before=settled(TALL))._replace(
        learnt=Learnt(middle=(40, 0), former=outline(SCOPE))
    )
    assert (before.rival is None, before.aside is None) == (False, False)
    uhd = sets.Raster(3_840, 2_160)
    course = told((400, bars((400, 340, 200, 600), uhd)), before=before)
    assert (course.aspect, course.raster, course.rival, course.aside) == (
        TALL,
        uhd,
        None,
        None,
    )
    assert (course.learnt.middle, course.learnt.former) == (None, None)
    assert course.home is not None
    assert course.home.least_v > 30


@pytest.mark.parametrize(
    ("aside", "ratio", "middle"),
    [((38, 238, 0, 0), SCOPE, (-200, 0)), ((0, 0, 280, 200), NARROW, (0, 80))],
)
def test_a_picture_off_the_middle_is_believed_and_known_in_its_place(
    aside: sets.Edges, ratio: int, middle: tuple[int, int]
) -> None:
    course = later(told((0, bars(aside)), before=settled(TALL)), 20_000)
    assert (course.aspect, course.learnt.middle) == (ratio, middle)
    assert course.home == outline(ratio)
    again = told((21_000, None), (22_000, bars(aside)), before=course)
    assert (again.left, again.deadline) == (None, None)


def test_a_place_is_forgotten_when_the_shape_is_seen_in_the_middle_and_has_bars() -> None:
    place = Learnt(middle=(-200, 0))
    assert told((0, laid(SCOPE)), before=knowing(TALL, place)).learnt.middle == (-200, 0)
    back = told((0, None), (1, laid(SCOPE)), before=knowing(SCOPE, place))
    assert back.learnt.middle is None
    kept = told((0, None), (1, bars((38, 238, 0, 0))), before=knowing(SCOPE, place))
    assert (kept.learnt.middle, kept.left) == ((-200, 0), None)
    full = told((0, None), (1, laid(17_778)), before=knowing(17_778, place))
    assert full.learnt.middle == (-200, 0)


def test_where_a_place_is_known_equal_bars_still_are_what_they_are() -> None:
    course = told((0, laid(NARROW)), before=knowing(SCOPE, Learnt(middle=(-200, 0))))
    assert course.evidence == WHOLE


# -------------------------------------------------------- a corner, or a picture off the middle


@pytest.mark.parametrize(
    ("edges", "aspect", "evidence"),
    [
        ((52, 22, 500, 0), SCOPE, CORNER),
        ((70, 84, 0, 0), TALL, OFFSET),
        ((0, 276, 0, 0), TALL, OFFSET),
        ((20, 188, 0, 0), SCOPE, OFFSET),
        ((132, 144, 0, 0), TALL, OFFSET),
    ],
    ids=["dark sides", "odd near the middle", "at one edge", "far off", "near the middle"],
)
def test_unequal_bars_are_a_dark_picture_or_one_off_the_middle_whichever_is_likelier(
    edges: sets.Edges, aspect: int, evidence: int
) -> None:
    assert told((0, bars(edges)), before=settled(aspect)).evidence == evidence


@pytest.mark.parametrize(
    ("edges", "aspect", "evidence"),
    [
        ((50, 158, 0, 0), TALL, OFFSET),
        ((118, 90, 0, 0), SCOPE, OFFSET),
        ((118, 100, 0, 0), SCOPE, TEXT),
        ((118, 80, 0, 0), SCOPE, TEXT),
    ],
    ids=["not eaten into", "no text", "text, and an odd sum", "text, and the sum of no shape"],
)
def test_where_a_place_is_known_a_standard_sum_in_another_place_goes_before_lettering(
    edges: sets.Edges, aspect: int, evidence: int
) -> None:
    before = knowing(aspect, Learnt(middle=(-40, 0)))
    assert told((0, bars(edges)), before=before).evidence == evidence


# --------------------------------------------------------------------------------- ratios by name


def test_a_ratio_told_is_a_standard_shape_s_if_it_nearly_meets_it() -> None:
    named = take_ratio(DWELL, settled(TALL), 23_950, 0)
    assert (named.deadline, later(named, 9_000).aspect) == (DWELL.wider, SCOPE)
    odd = take_ratio(DWELL, settled(TALL), 20_700, 0)
    assert (odd.deadline, later(odd, 9_000).aspect) == (DWELL.odd, 20_700)
    assert take_ratio(DWELL, UNSETTLED, 23_950, 0).deadline == DWELL.taller
    assert take_ratio(DWELL, settled(18_800), TALL, 0).deadline == DWELL.taller


def test_a_ratio_told_leaves_it_known_since_when_the_settled_shape_is_away() -> None:
    away = told((0, laid(SCOPE)), before=settled(TALL))
    assert take_ratio(DWELL, away, NARROW, 300).left == 0
    assert take_ratio(DWELL, settled(TALL), NARROW, 300).left == 300


def test_a_ratio_told_again_changes_nothing() -> None:
    named = take_ratio(DWELL, settled(TALL), SCOPE, 0)
    assert take_ratio(DWELL, named, SCOPE, 500) is named


def test_the_settled_ratio_told_takes_all_from_its_rivals() -> None:
    course = told((0, laid(NARROW)), (300, laid(SCOPE)), before=settled(TALL))
    named = take_ratio(DWELL, course, 18_600, 1_000)
    assert (named.left, named.rival, named.aside, named.deadline) == (None, None, None, None)


@pytest.mark.parametrize(
    ("ratio", "believed"), [(9_999, False), (10_000, True), (30_000, True), (30_001, False)]
)
def test_no_ratio_is_believed_that_no_picture_has(ratio: int, believed: bool) -> None:
    named = take_ratio(DWELL, settled(TALL), ratio, 0)
    assert (named.deadline is not None) is believed


def test_of_a_ratio_told_nobody_knows_where_its_bars_are() -> None:
    named = later(take_ratio(DWELL, settled(TALL), SCOPE, 0), 10_000)
    assert (named.aspect, named.home) == (SCOPE, None)
    seen = told((11_000, laid(SCOPE)), before=named)
    assert seen.home == expected_outline(SCOPE, sets.HD)


# ------------------------------------------------------------------------------ settled and parked


def test_a_window_of_the_nearer_standard_shape_moves_nothing() -> None:
    before = settled(18_800)
    course = later(told((0, laid(TALL, shrink=80)), before=before), 30_000)
    assert course.aspect == before.aspect
    assert course.home is not None
    assert course.home.window
    assert course.learnt.moved == before.learnt.moved


def test_of_shapes_alike_only_a_nearer_one_becomes_the_settled_ratio() -> None:
    nearer = later(told((0, laid(TALL)), before=settled(18_800)), 10_000)
    assert nearer.aspect == TALL
    aside = told((0, bars((80, 200, 0, 0))), before=settled(SCOPE))
    assert aside.evidence == OFFSET
    moved = later(aside, 60_000)
    assert (moved.aspect, moved.learnt.middle) == (SCOPE, (-120, 0))


def test_parked_readings_are_seen_afresh_and_what_is_settled_stays() -> None:
    course = told((0, laid(NARROW)), (300, laid(SCOPE)), before=settled(TALL))
    kept = parked(course, 900)
    assert (kept.aspect, kept.home, kept.learnt) == (TALL, course.home, course.learnt)
    assert kept[2:6] == (None, None, 900, NO_EVIDENCE)
    assert kept[-5:] == (None, None, None, (), None)
    assert told((1_000, laid(SCOPE)), before=kept).deadline == 1_000 + DWELL.wider


def test_while_readings_are_parked_no_lettering_stands() -> None:
    """A pause comes as soon as something is in both bars; after it they are black again."""
    sign = told((0, bars((97, 30, 0, 0))), before=settled(SCOPE))
    assert told((60_000, laid(SCOPE)), before=parked(sign, 40)).learnt.lines is None


def test_nothing_is_due_before_its_time() -> None:
    course = told((0, laid(SCOPE)), before=settled(TALL))
    assert elapse(course, DWELL.wider - 1) is course
    assert elapse(course, DWELL.wider).aspect == SCOPE
    assert elapse(UNSETTLED, 9_000) is UNSETTLED


def test_the_last_reading_decides_at_once_what_only_lacked_a_look() -> None:
    """A slip is over while it is dark: nothing is left to wait for."""
    course = told((0, laid(SCOPE)), (3_900, DARK), before=settled(TALL))
    assert course.deadline == DWELL.wider * 3 // 2
    assert take_bars(DWELL, course, laid(SCOPE), 4_500).aspect == SCOPE
