"""What one reading shows, held against the settled shape: another one, lettering, or darkness.

Each test fails if a condition is left out or turned round. Edges are top, bottom, left and right in
lines and columns of 1920 x 1080, unless a raster is named; ratios are 1/10,000.
"""

from __future__ import annotations

from engine.settle import BarReading, Outline
from engine.settle.elsewhere import is_rather_raised, look_off_the_middle
from engine.settle.shapes import FINE, Steps, outline_of, scale_of
from engine.settle.sightings import (
    AMBIGUOUS,
    BEYOND,
    CARD,
    CORNER,
    CORNERED,
    DARK,
    EATEN,
    EDGED,
    FAR,
    GLIMPSE,
    MARK,
    NO_EVIDENCE,
    NOTHING_SEEN,
    OFFSET,
    PART,
    SETTLED,
    TEXT,
    WHOLE,
    WITHIN,
    Sighting,
    look_at,
)
from tests.engine import settle_sets as sets
from tests.engine.settling import bars, outline

TALL, SCOPE, NARROW, FULL = 18_500, 23_900, 13_333, 17_778


def look(
    edges: sets.Edges,
    aspect: int | None = TALL,
    rival: int = 0,
    home: Outline | None = None,
    raster: sets.Raster = sets.HD,
) -> Sighting:
    """Look at bars while a shape is settled that was seen in this raster."""
    if home is None and aspect is not None:
        home = outline(aspect, raster=raster)
    return look_at(aspect, home, rival, bars(edges, raster), scale_of(*raster))


def off(edges: sets.Edges, aspect: int | None = TALL) -> Sighting:
    """Look for a picture that does not lie in the middle."""
    home = None if aspect is None else outline(aspect)
    return look_off_the_middle(aspect, home, BarReading(*edges, *sets.HD), scale_of(*sets.HD))


def window(aspect: int, bars_v: int, bars_h: int) -> Outline:
    """Say where a settled picture within a picture lies."""
    return outline_of(aspect, bars_v, bars_h, scale_of(*sets.HD), standard=True)


# ---------------------------------------------------------------------------------- equal bars


def test_equal_bars_are_the_settled_shape_or_another_one() -> None:
    assert look((138, 138, 0, 0), SCOPE).evidence == SETTLED
    assert look((138, 138, 0, 0), TALL)[:2] == (WHOLE, SCOPE)
    assert look((138, 138, 0, 0), None)[:2] == (WHOLE, SCOPE)


def test_the_settled_shape_in_a_window_is_seen_as_another_one() -> None:
    assert look((108, 108, 192, 192), FULL)[:2] == (WHOLE, FULL)


def test_a_shape_alike_that_somebody_standardised_is_another_than_one_that_nobody_did() -> None:
    assert look((22, 22, 0, 0), 18_800)[:2] == (WHOLE, TALL)
    assert look((22, 22, 0, 0), 18_700, home=outline(TALL))[:2] == (WHOLE, TALL)
    assert look((35, 35, 0, 0), TALL)[0] == WHOLE
    assert look((24, 24, 0, 0), TALL)[0] == SETTLED


def test_both_axes_err_where_both_have_bars() -> None:
    """1116 x 600 may be 1.85, but 1920 x 1034 is 1.857."""
    assert look((240, 240, 402, 402), NARROW)[1:3] == (TALL, True)
    assert look((23, 23, 0, 0), NARROW)[2] is False


def test_no_picture_is_narrower_than_a_square_or_wider_than_three_to_one() -> None:
    assert look((220, 220, 0, 0)).evidence == WHOLE
    assert look((222, 222, 0, 0)) == NOTHING_SEEN
    assert look((0, 0, 420, 420)).evidence == WHOLE
    assert look((0, 0, 424, 424)) == NOTHING_SEEN


def test_a_window_of_less_than_two_fifths_of_an_axis_is_no_picture() -> None:
    assert look((324, 324, 576, 576)).evidence == WHOLE
    assert look((325, 325, 576, 576)) == NOTHING_SEEN
    assert look((324, 324, 577, 577)) == NOTHING_SEEN


def test_a_window_higher_than_a_card_may_be_a_quarter_of_the_raster_wide() -> None:
    wide = sets.Raster(4_320, 1_080)
    assert look((20, 20, 1_600, 1_600), raster=wide).evidence == WHOLE
    assert look((216, 216, 1_621, 1_621), raster=wide) == NOTHING_SEEN
    assert look((217, 217, 1_297, 1_297), raster=wide) == NOTHING_SEEN


def test_in_an_upright_raster_a_picture_may_be_as_low_as_it_likes() -> None:
    upright = sets.Raster(1_080, 1_920)
    home = outline_of(10_000, 840, 0, scale_of(*upright), standard=True)
    assert look((700, 700, 0, 0), 10_000, home=home, raster=upright).evidence == WHOLE


def test_a_window_that_is_small_both_ways_may_be_lettering() -> None:
    assert look((175, 175, 311, 311)).signs == CARD
    assert look((170, 170, 311, 311)).signs == 0
    assert look((175, 175, 305, 305)).signs == 0


# ------------------------------------------------------------------ equal above and below alone


def test_dark_sides_leave_a_glimpse_and_one_lit_side_leaves_half_a_proof() -> None:
    assert look((20, 20, 120, 240), SCOPE) == Sighting(GLIMPSE, TALL, bars_v=40, loose=120, jump=30)
    assert look((20, 20, 2, 240), SCOPE) == Sighting(PART, TALL, bars_v=40)
    assert look((20, 20, 120, 240), None).evidence == GLIMPSE


def test_dark_sides_say_nothing_with_the_settled_bars_or_with_nobody_s() -> None:
    assert look((20, 20, 120, 240), TALL) == look((20, 20, 2, 240), TALL) == NOTHING_SEEN
    assert look((50, 50, 10, 100)) == NOTHING_SEEN


def test_dark_sides_around_a_window_of_that_height_are_that_window_in_the_dark() -> None:
    home = window(NARROW, 276, 848)
    assert look((138, 138, 430, 500), NARROW, home=home) == NOTHING_SEEN
    assert look((138, 138, 300, 500), NARROW, home=home).evidence == GLIMPSE
    assert look((104, 104, 430, 500), NARROW, home=home).evidence == GLIMPSE


def test_a_mark_eats_into_a_bar_at_the_side() -> None:
    assert look((0, 0, 120, 240), NARROW).evidence == MARK
    eaten = Sighting(EATEN, NARROW, bars_v=0, bars_h=480, loose=120, jump=7)
    assert look((0, 0, 120, 240)) == look((0, 0, 240, 120)) == eaten
    assert look((0, 0, 120, 240), None) == eaten
    assert look((0, 0, 2, 240)).evidence == PART
    assert look((40, 40, 120, 240), NARROW).evidence != MARK


def test_a_mark_that_leaves_a_bar_of_the_settled_size_may_be_darkness() -> None:
    assert look((0, 0, 64, 240), 16_600).signs == AMBIGUOUS
    assert look((0, 0, 120, 240), 16_600).signs == 0
    assert look((0, 0, 40, 240), 16_600).signs == 0


def test_a_raster_lit_above_and_below_may_be_dark_up_to_its_middle_and_beyond() -> None:
    assert look((0, 0, 240, 600)).evidence == CORNER
    assert look((0, 0, 100, 960)) == NOTHING_SEEN
    assert look((0, 0, 100, 1_000)) == NOTHING_SEEN


# ---------------------------------------------------------------------- equal at the sides alone


def test_lettering_in_the_settled_bars_is_text_below_and_a_mark_above() -> None:
    assert look((138, 60, 0, 0), SCOPE).evidence == TEXT
    assert look((60, 138, 0, 0), SCOPE).evidence == MARK


def test_lettering_eats_into_a_bar_of_another_shape() -> None:
    eaten = Sighting(EATEN, SCOPE, bars_v=276, loose=60, jump=5)
    assert look((60, 138, 0, 0)) == look((138, 60, 0, 0)) == eaten
    assert look((60, 138, 0, 0), None) == eaten


def test_a_bar_of_the_settled_size_beside_a_larger_one_may_be_the_settled_shape_in_the_dark() -> (
    None
):
    assert look((21, 138, 0, 0)).signs == AMBIGUOUS
    assert look((2, 138, 0, 0), NARROW).signs == 0
    assert look((8, 138, 0, 0)).signs == 0
    assert look((40, 138, 0, 0)).signs == 0


def test_a_bar_within_a_window_is_not_eaten_into() -> None:
    assert look((60, 138, 216, 216), SCOPE) == NOTHING_SEEN


def test_the_bar_of_a_shape_that_is_weighed_already_need_not_be_a_standard_one() -> None:
    assert look((40, 77, 0, 0), rival=20_700)[:2] == (EATEN, 20_700)
    assert look((40, 77, 0, 0), rival=20_500).evidence == NO_EVIDENCE
    assert look((40, 77, 0, 0)).evidence == NO_EVIDENCE


def test_a_dark_half_says_nothing_of_the_bar_that_it_hides() -> None:
    assert look((40, 540, 0, 0)) == look((40, 600, 0, 0)) == NOTHING_SEEN


def test_equal_bars_at_the_sides_are_half_a_proof_where_one_edge_above_or_below_is_lit() -> None:
    assert look((0, 90, 240, 240)) == Sighting(PART, NARROW, bars_h=480)
    assert look((90, 0, 240, 240)).evidence == PART
    assert look((20, 90, 267, 267), SCOPE) == NOTHING_SEEN
    assert look((0, 90, 2, 2), SCOPE).evidence == CORNER
    assert look((0, 90, 100, 100)) == NOTHING_SEEN


def test_the_settled_shape_with_a_dark_foot_is_the_settled_shape() -> None:
    assert look((0, 90, 240, 240), NARROW) == NOTHING_SEEN
    assert look((0, 90, 420, 420), NARROW)[:2] == (PART, 10_000)
    assert look((0, 90, 64, 64), NARROW)[:2] == (PART, 16_600)


# ------------------------------------------------------------------------------- a lit corner


def test_a_lit_corner_shows_where_a_picture_ends() -> None:
    signs = CORNERED | WITHIN | BEYOND | DARK
    corner = Sighting(CORNER, TALL, bars_v=44, bars_h=0, signs=signs, loose=52, jump=67)
    assert look((52, 22, 500, 0), SCOPE) == look((22, 52, 2, 500), SCOPE) == corner
    assert look((52, 22, 500, 0), None) == NOTHING_SEEN
    assert look((52, 22, 500, 0), TALL) == NOTHING_SEEN
    assert look((52, 22, 500, 40), SCOPE) == NOTHING_SEEN


def test_the_edge_that_is_further_from_its_place_is_watched() -> None:
    assert look((0, 0, 240, 600))[-4:-2] == (600, 120)
    assert look((22, 80, 0, 500), SCOPE)[-4:-2] == (80, 67)


def test_a_corner_within_the_settled_bars_hides_nothing_of_the_settled_picture() -> None:
    assert look((22, 52, 0, 500), SCOPE).signs & WITHIN
    assert not look((104, 200, 0, 500), TALL).signs & WITHIN
    assert not look((0, 60, 64, 500), TALL).signs & WITHIN


def test_a_corner_that_hides_some_of_it_must_meet_a_shape_more_exactly() -> None:
    assert look((0, 90, 61, 500), NARROW).evidence == CORNER
    assert look((0, 90, 61, 500), FULL) == NOTHING_SEEN


def test_light_beyond_the_settled_edge_is_noticed_on_each_axis() -> None:
    def beyond(edges: sets.Edges, aspect: int) -> bool:
        sighting = look(edges, aspect)
        assert sighting.evidence == CORNER
        return bool(sighting.signs & BEYOND)

    assert beyond((22, 52, 0, 500), SCOPE)
    assert not beyond((22, 200, 0, 500), SCOPE)
    assert beyond((0, 200, 0, 500), SCOPE)
    assert beyond((22, 60, 0, 500), NARROW)
    assert beyond((0, 60, 64, 200), NARROW)
    assert not beyond((0, 60, 64, 400), NARROW)


def test_darkness_in_the_settled_picture_is_noticed_on_each_axis() -> None:
    assert not look((22, 52, 0, 0), SCOPE).signs & DARK
    assert look((22, 200, 0, 0), SCOPE).signs & DARK
    assert look((22, 52, 0, 500), SCOPE).signs & DARK


def test_a_settled_window_in_the_dark_at_its_full_size_is_the_settled_shape() -> None:
    home = outline(TALL, shrink=80)
    assert look((104, 200, 0, 100)).evidence == CORNER
    assert look((104, 200, 0, 100), home=home) == NOTHING_SEEN
    assert look((0, 200, 0, 100), home=home).evidence == CORNER


def test_in_a_coarse_raster_a_corner_must_not_hide_anything_of_the_settled_picture() -> None:
    coarse = sets.Raster(720, 576, 17_778)
    assert look((138, 200, 0, 100), FULL).evidence == CORNER
    assert look((74, 120, 0, 50), FULL, raster=coarse) == NOTHING_SEEN
    assert look((0, 90, 0, 90), SCOPE, raster=coarse).evidence == CORNER


# ------------------------------------------------------------------------------- off the middle


def test_bars_of_a_standard_sum_may_lie_anywhere() -> None:
    assert off((38, 238, 0, 0)) == Sighting(OFFSET, SCOPE, bars_v=276, signs=FAR, off_v=-200)
    assert off((0, 0, 280, 200)) == Sighting(OFFSET, NARROW, bars_h=480, signs=FAR, off_h=80)
    assert off((38, 238, 0, 0), None).evidence == OFFSET


def test_bars_of_another_sum_are_a_picture_s_only_near_the_middle() -> None:
    assert off((70, 84, 0, 0))[:3] == (OFFSET, 1_920 * 10_000 // 926, False)
    assert off((70, 84, 0, 0)).signs == off((132, 144, 0, 0)).signs == 0
    assert off((60, 94, 0, 0)) == NOTHING_SEEN
    assert off((0, 0, 160, 180)).evidence == OFFSET
    assert off((0, 0, 140, 200)) == NOTHING_SEEN
    assert off((235, 245, 0, 0)) == NOTHING_SEEN
    assert off((0, 0, 430, 440)) == NOTHING_SEEN


def test_a_window_off_the_middle_is_never_believed() -> None:
    assert off((100, 140, 350, 450)) == NOTHING_SEEN


def test_a_picture_at_the_edge_of_the_raster_has_darkness_on_one_side_alone() -> None:
    assert off((0, 276, 0, 0)).signs == FAR | EDGED
    assert not off((8, 268, 0, 0)).signs & EDGED
    assert not off((0, 0, 200, 280)).signs & EDGED


def test_an_edge_of_the_settled_shape_makes_a_picture_off_the_middle_doubtful() -> None:
    assert off((21, 255, 0, 0)).signs & AMBIGUOUS
    assert off((255, 21, 0, 0)).signs & AMBIGUOUS
    assert not off((60, 216, 0, 0)).signs & AMBIGUOUS
    assert off((0, 0, 64, 176), 16_600).signs & AMBIGUOUS
    assert off((0, 0, 176, 64), 16_600).signs & AMBIGUOUS
    assert off((0, 0, 80, 160), 16_600).signs == FAR


def test_nobody_lays_a_picture_far_to_one_side() -> None:
    assert off((0, 0, 180, 300), FULL).signs == FAR
    assert off((0, 0, 178, 302), FULL) == NOTHING_SEEN
    assert off((0, 0, 302, 178), FULL) == NOTHING_SEEN


def test_equal_bars_have_no_edge_of_their_own_in_common_with_the_settled_shape() -> None:
    assert not off((0, 0, 200, 280), FULL).signs & AMBIGUOUS
    assert not off((38, 238, 0, 0), FULL).signs & AMBIGUOUS


def test_the_settled_shape_moved_by_darkness_at_one_edge_is_the_settled_shape() -> None:
    assert off((138, 128, 0, 0), SCOPE) == NOTHING_SEEN
    assert off((100, 176, 0, 0), SCOPE).evidence == OFFSET


def test_a_bar_above_is_a_raised_picture_s_between_what_a_detector_errs_and_what_is_written() -> (
    None
):
    def raised(above: int, below: int, steps: Steps = FINE) -> bool:
        reading, scale = bars((above, below, 0, 0)), scale_of(1_920, 1_080, 0, steps)
        return is_rather_raised(reading, scale)

    assert [raised(140 - apart, 140) for apart in (8, 9, 27, 28)] == [False, True, True, False]
    assert not raised(140, 120)
    assert not raised(120, 140, steps=Steps(4))
