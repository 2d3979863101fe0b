"""How much longer a rival must be seen: what each thing that is known of it shortens or lengthens.

Each test fails if a condition is left out or turned round. Times are ms, ratios 1/10,000.
"""

from __future__ import annotations

from typing import Any

import pytest

from engine.settle.contest import STANDING, Contest, time_to_win, time_to_win_in_the_dark
from engine.settle.learnt import Learnt, Line, Slip
from engine.settle.lettering import BothBars
from engine.settle.rivals import DwellTimes, Rival
from engine.settle.shapes import Outline
from engine.settle.sightings import (
    AMBIGUOUS,
    BACK,
    BEYOND,
    CARD,
    CORNER,
    DARK,
    EATEN,
    EDGED,
    FAR,
    GLIMPSE,
    OFFSET,
    PART,
    WHOLE,
    WITHIN,
    Evidence,
)
from tests.engine.settling import DWELL, outline

NOW = 1_000_000
TALL, NARROW, SCOPE = 18_500, 13_333, 23_900
"""A tall shape has bars that end within those of scope; a narrow one has bars at the sides."""

PLAINLY = {
    "proof": 1_000, "weak": 0, "span": 2_500, "seen": NOW, "loose": 0, "moves": 0, "signs": 0,
}  # fmt: skip
"""A rival that was seen for as long as a wider one must be."""


def lettered(ago: int = 0) -> Learnt:
    """A source in whose bars lettering has stood."""
    return Learnt(lines=NOW - ago)


def misread(ratio: int, stood: int, **more: Any) -> Learnt:  # noqa: ANN401 - fields of every type
    """A detector that has read a shape falsely for so long."""
    return Learnt(slips=(Slip(ratio, stood, NOW),), **more)


def beside(ratio: int, **of_rival: int) -> Rival:
    """Give another rival, that was seen plainly."""
    return Rival(outline(ratio), **PLAINLY | of_rival)


def wait(  # noqa: PLR0913 - whatever a story is about
    shape: int | Outline,
    against: int | Outline | None,
    learnt: Learnt = Learnt(),  # noqa: B008 - it cannot be changed
    *,
    by: Evidence = WHOLE,
    aside: Rival | None = None,
    away: int = 0,
    both: BothBars | None = None,
    bars_known: bool = True,
    dwell: DwellTimes = DWELL,
    **of_rival: int,
) -> int | None:
    """Say how long a rival of a shape that has long stood must still be seen."""
    home = outline(against) if isinstance(against, int) else against
    rival = Rival(
        outline(shape) if isinstance(shape, int) else shape,
        **{"proof": 0, "weak": 0, "span": 0, "seen": NOW, "loose": 0, "moves": 0, "signs": 0}
        | of_rival,
    )
    known = home if bars_known else None
    aspect = None if home is None else home.ratio
    return time_to_win(Contest(dwell, aspect, known, learnt, aside, away, both, NOW), rival, by)


# ------------------------------------------------------------------------------- a wider shape


def test_a_wider_shape_is_seen_for_a_quarter_of_its_dwell_and_unopposed_for_all_of_it() -> None:
    assert wait(SCOPE, TALL) == DWELL.wider
    assert wait(SCOPE, TALL, span=DWELL.wider) == DWELL.wider // 4
    assert wait(SCOPE, TALL, proof=DWELL.wider) == DWELL.wider
    assert wait(SCOPE, TALL, proof=500, span=3_800) == 500


def test_it_is_seen_for_half_of_it_where_the_settled_shape_may_only_be_dark() -> None:
    assert wait(SCOPE, TALL, span=DWELL.wider, signs=AMBIGUOUS) == DWELL.wider // 2


def test_a_wider_shape_that_is_back_soon_waits_for_a_quarter() -> None:
    def back(former: Outline | None, ago: int) -> int | None:
        return wait(SCOPE, TALL, Learnt(former=former, moved=NOW - ago))

    assert back(outline(SCOPE), 30_000) == DWELL.wider // 4
    assert back(outline(SCOPE), 30_001) == DWELL.wider
    assert back(outline(22_000), 30_000) == DWELL.wider
    assert back(None, 30_000) == DWELL.wider


def test_it_waits_in_full_where_it_was_a_slip_itself() -> None:
    known = misread(SCOPE, 900, former=outline(SCOPE), moved=NOW - 10_000)
    assert wait(SCOPE, TALL, known) == DWELL.wider
    assert wait(SCOPE, TALL, known, bars_known=False) == DWELL.wider


@pytest.mark.parametrize(("ago", "waits"), [(3_999, 1_000), (4_000, 4_000)])
def test_but_not_where_the_settled_shape_is_a_slip_that_has_not_stood_four_times_as_long(
    ago: int, waits: int
) -> None:
    slips = (Slip(SCOPE, 900, NOW), Slip(TALL, 1_000, NOW))
    learnt = Learnt(former=outline(SCOPE), moved=NOW - ago, slips=slips)
    assert wait(SCOPE, TALL, learnt) == waits


def test_a_wider_shape_that_nobody_standardised_needs_to_be_seen_and_nothing_else() -> None:
    assert wait(22_500, TALL) == DWELL.odd
    assert wait(22_500, TALL, proof=DWELL.odd) == 0
    assert wait(22_500, TALL, dwell=DwellTimes(wider=10_000)) == 8_000


def test_a_wider_window_is_seen_plainly_for_the_whole_dwell_and_for_no_longer() -> None:
    window = outline(22_000, shrink=80)
    assert wait(window, TALL) == DWELL.wider
    assert wait(window, TALL, proof=DWELL.wider) == 0
    assert wait(window, TALL, span=DWELL.wider) == DWELL.wider


# ------------------------------------------------------------------------------- a taller shape


def test_a_taller_window_waits_a_little_longer_and_one_that_may_be_lettering_much_longer() -> None:
    window = outline(NARROW, shrink=80)
    assert wait(window, TALL) == 900
    assert wait(window, TALL, signs=CARD) == 12_000
    assert wait(outline(14_600, shrink=80), TALL) == 12_000
    assert wait(outline(22_000, shrink=80), TALL, signs=CARD) == 12_000
    assert wait(NARROW, TALL, signs=CARD) == DWELL.taller


def test_a_first_shape_waits_three_times_as_long_while_another_one_is_seen_as_well() -> None:
    other = beside(SCOPE)
    assert wait(NARROW, None, aside=other) == 3 * DWELL.taller
    assert wait(NARROW, TALL, aside=other) == 3 * DWELL.taller
    assert wait(SCOPE, TALL, aside=beside(NARROW), span=DWELL.wider) == DWELL.wider // 4


def test_what_was_not_seen_plainly_or_slipped_or_is_lettering_in_its_bars_contests_nothing() -> (
    None
):
    assert wait(NARROW, None, aside=beside(SCOPE, proof=0)) == DWELL.taller
    assert wait(NARROW, TALL, misread(SCOPE, 500), aside=beside(SCOPE)) == DWELL.taller
    assert wait(SCOPE, None, aside=beside(TALL)) == DWELL.taller


def test_an_odd_shape_is_believed_sooner_where_nobody_puts_lettering() -> None:
    assert wait(14_600, TALL) == DWELL.odd * 3 // 5
    assert wait(20_700, 22_000) == DWELL.odd


def test_an_odd_shape_is_never_believed_by_half_of_its_bars_above_and_below() -> None:
    assert wait(14_600, TALL, by=PART, proof=60_000) is None
    assert wait(20_700, SCOPE, by=EATEN, weak=60_000) is None


def test_a_shape_seen_on_one_axis_needs_twice_the_time() -> None:
    assert wait(NARROW, TALL, by=PART) == 2 * DWELL.taller
    assert wait(NARROW, TALL, by=PART, proof=200) == 2 * (DWELL.taller - 200)


# ---------------------------------------------------------------------------------------- slips


def test_a_slip_is_believed_once_it_stands_four_times_as_long_or_for_longer_than_any() -> None:
    assert wait(NARROW, TALL, misread(NARROW, 500)) == 2_000
    assert wait(NARROW, TALL, misread(NARROW, 500), run=1_500) == 500
    assert wait(NARROW, TALL, misread(NARROW, 3_000)) == 7_000
    assert wait(NARROW, TALL, misread(SCOPE, 3_000)) == DWELL.taller


def test_a_slip_that_is_seen_again_and_again_is_believed_in_twice_that_time() -> None:
    assert wait(NARROW, TALL, misread(NARROW, 500), proof=3_400) == 600


def test_a_new_shape_in_place_of_a_new_shape_waits_longer_than_a_title_s_first_words() -> None:
    def hasty(ago: int, **more: Any) -> int | None:  # noqa: ANN401 - fields of every type
        run = more.pop("run", 0)
        bars_known = more.pop("bars_known", True)
        learnt = Learnt(moved=NOW - ago, **more)
        return wait(NARROW, TALL, learnt, run=run, bars_known=bars_known)

    assert hasty(4_999) == 3_000
    assert hasty(5_000) == DWELL.taller
    assert hasty(5_999, run=1_000) == 2_000
    assert hasty(6_000, run=1_000) == DWELL.taller
    assert hasty(4_999, real=(TALL,)) == DWELL.taller
    assert hasty(4_999, real=(NARROW,)) == DWELL.taller
    assert hasty(4_999, bars_known=False) == DWELL.taller


def test_where_readings_come_slowly_a_full_frame_waits_for_the_second_one() -> None:
    twice, full = 1_062, 17_778  # Without bars, as what a detector fails to read.
    assert wait(full, TALL, Learnt(period=1_000)) == twice
    assert wait(full, TALL, Learnt(period=1_000), run=400, proof=400) == twice - 400
    assert wait(full, TALL, Learnt(period=1_000, real=(full,))) == twice
    assert wait(NARROW, TALL, misread(NARROW, 1, period=1_000)) == 5_062  # Five, for a slip.
    assert wait(TALL, SCOPE, Learnt(period=1_000)) == DWELL.taller
    assert wait(SCOPE, TALL, Learnt(period=1_000)) == DWELL.wider


def test_a_wider_shape_that_is_back_soon_waits_for_the_second_one_as_well() -> None:
    back = Learnt(former=outline(SCOPE), moved=NOW, period=1_000)
    assert wait(SCOPE, TALL, back) == 1_062
    assert wait(SCOPE, TALL, back._replace(period=500)) == DWELL.wider // 4 + 31
    assert wait(SCOPE, TALL, back._replace(period=200)) == DWELL.wider // 4


def test_a_wider_shape_that_was_seen_plainly_need_not_be_light_again() -> None:
    def dark(shape: Outline, aspect: int | None = 17_778, **of_rival: int) -> int | None:
        one = Rival(shape, **PLAINLY | of_rival)
        return time_to_win_in_the_dark(DWELL, aspect, one)

    scope = outline(SCOPE)
    assert dark(scope) == 6_000 - 2_500
    assert dark(scope, proof=999) is None
    assert dark(scope, signs=AMBIGUOUS) is None
    assert dark(scope, aspect=None) is None
    assert dark(scope, aspect=27_600) is None
    assert dark(outline(22_500)) is None
    assert dark(scope._replace(window=True)) is None


# ------------------------------------------------------------------------- lettering in both bars


def test_an_odd_shape_within_the_bars_waits_out_any_lettering_that_is_known_or_likely() -> None:
    outlasts = DWELL.odd + 6_500
    assert wait(20_700, SCOPE) == DWELL.odd
    assert wait(20_700, SCOPE, lettered()) == outlasts
    assert wait(20_700, SCOPE, lettered(), run=1_000) == outlasts - 1_000
    assert wait(20_700, SCOPE, Learnt(moved=NOW - 30_000)) == outlasts
    assert wait(20_700, SCOPE, Learnt(moved=NOW - 30_001)) == DWELL.odd
    assert wait(20_700, SCOPE, Learnt(moved=NOW, real=(20_700,))) == outlasts


def test_lettering_is_known_for_two_minutes() -> None:
    assert wait(20_700, SCOPE, lettered(120_000)) == DWELL.odd + 6_500
    assert wait(20_700, SCOPE, lettered(120_001)) == DWELL.odd


def test_what_came_into_one_bar_first_waits_as_where_lettering_is_known() -> None:
    written, unknown = (
        BothBars(0, there=True, edge=21, written=True),
        BothBars(0, there=True, edge=21, written=False),
    )
    assert wait(TALL, SCOPE, both=unknown) == DWELL.taller
    assert wait(TALL, SCOPE, both=written, away=1_000) == DWELL.taller + 2_000
    assert wait(TALL, SCOPE, Learnt(real=(TALL,)), both=written) == DWELL.taller + 3_000
    assert wait(TALL, None, both=written) == DWELL.taller


def test_a_standard_shape_within_lettered_bars_waits_until_the_settled_one_is_long_away() -> None:
    assert wait(TALL, SCOPE) == DWELL.taller
    assert wait(TALL, SCOPE, lettered()) == DWELL.taller + 3_000
    assert wait(TALL, SCOPE, lettered(), away=1_000, run=9_000) == DWELL.taller + 2_000
    assert wait(NARROW, SCOPE, lettered()) == DWELL.taller


def test_it_waits_longest_where_lettering_of_its_depth_was_seen() -> None:
    learnt = misread(TALL, 900, lines=NOW)
    assert wait(TALL, SCOPE, learnt) == DWELL.taller + 6_500


def test_lettering_of_one_line_is_known_for_that_of_two_and_the_other_way_round() -> None:
    """The bars of scope have 138 lines, those of the tall shape 21: it ends 117 lines within."""

    def read(depth: int, *, former: int = NARROW, times: int = 1) -> int | None:
        line, tall = Line(depth, times), outline(former)
        return wait(TALL, SCOPE, Learnt(lines=NOW, written=(line,), former=tall, real=(TALL,)))

    long, short = DWELL.taller + 6_500, DWELL.taller + 3_000
    assert (read(117), read(58), read(234)) == (long, long, long)
    assert (read(39), read(90)) == (short, short)
    assert (read(58, former=TALL), read(117, former=TALL)) == (short, short)
    assert read(117, former=TALL, times=2) == long


def test_a_window_in_the_bars_is_no_lettering_for_it_has_bars_at_its_sides() -> None:
    window = outline(TALL, shrink=90)
    assert window.window
    assert wait(window, outline(27_600), lettered()) == 900


def test_what_stands_in_the_bars_of_a_shape_that_is_nearer_is_lettering_there() -> None:
    """Scope was settled, 2.20 was seen since, and now what would be 1.85 stands in its bars."""
    nearer, need = beside(22_000, seen=NOW - 1_000), 3 * DWELL.taller
    assert wait(TALL, SCOPE, lettered(), aside=nearer, away=9_000) == need + 6_500
    assert wait(TALL, SCOPE, lettered(), aside=nearer, away=9_000, run=1_000) == need + 5_500
    assert wait(TALL, SCOPE, lettered(), aside=nearer, away=1_000) == need + 2_000
    assert wait(TALL, SCOPE, aside=nearer, away=9_000) == need
    window = nearer._replace(shape=nearer.shape._replace(window=True))
    odd = nearer._replace(shape=nearer.shape._replace(standard=False))
    assert wait(TALL, SCOPE, lettered(), aside=window, away=9_000) == need
    assert wait(TALL, SCOPE, lettered(), aside=odd, away=9_000) == need


def test_what_is_there_again_once_lettering_in_its_bars_is_gone_is_believed_at_once() -> None:
    assert wait(TALL, SCOPE, lettered(), signs=BACK) == DWELL.taller
    assert wait(20_700, SCOPE, lettered(), signs=BACK) == DWELL.odd


def test_an_odd_shape_in_the_bars_of_a_wider_one_that_was_just_seen_waits_for_lettering() -> None:
    seen_before, odd = beside(SCOPE, seen=NOW - 1_000), 20_700
    outlasts = DWELL.odd + 6_500
    assert wait(odd, TALL, Learnt(moved=NOW), aside=seen_before, away=2_000) == outlasts
    assert wait(odd, TALL, lettered(), aside=seen_before, away=2_000, run=500) == outlasts - 500
    assert wait(odd, TALL, aside=seen_before, away=2_000) == DWELL.odd
    assert wait(odd, TALL, lettered(), aside=seen_before, away=1_000) == DWELL.odd
    assert wait(odd, TALL, lettered(), aside=beside(NARROW), away=2_000) == DWELL.odd


def test_what_slipped_within_the_bars_is_not_believed_sooner_for_coming_often() -> None:
    learnt = misread(TALL, 2_000)
    assert wait(TALL, SCOPE, learnt) == 8_000
    assert wait(TALL, SCOPE, learnt, proof=20_000, run=1_000) == 7_000


def test_a_shape_that_has_stood_before_is_no_lettering_while_none_is_known() -> None:
    assert wait(TALL, SCOPE, misread(TALL, 2_000, real=(TALL,))) == 7_000
    assert wait(TALL, SCOPE, Learnt(real=(TALL,), lines=NOW)) == DWELL.taller + 3_000


def test_what_ends_within_the_bars_of_the_first_shape_of_all_waits_as_long_as_titles_stand() -> (
    None
):
    outlasts = DWELL.taller + 6_500
    assert wait(TALL, SCOPE, Learnt(moved=NOW - 9_999)) == outlasts
    assert wait(TALL, SCOPE, Learnt(moved=NOW - 10_000)) == DWELL.taller
    assert wait(TALL, SCOPE, Learnt(moved=NOW - 10_999), run=1_000) == outlasts - 1_000
    assert wait(TALL, SCOPE, Learnt(moved=NOW - 9_999, real=(SCOPE,))) == DWELL.taller
    assert wait(TALL, SCOPE, Learnt(moved=NOW - 4_999, former=outline(NARROW))) == 6_500
    assert wait(TALL, SCOPE, Learnt(moved=NOW - 5_000, former=outline(NARROW))) == DWELL.taller


def test_nothing_is_within_bars_that_nobody_has_seen() -> None:
    assert wait(TALL, SCOPE, lettered(), bars_known=False) == DWELL.taller


# ------------------------------------------------------------------------------- off the middle

ASIDE = outline(NARROW)._replace(off_h=200)


def test_a_picture_at_one_edge_of_the_settled_shape_may_be_that_shape_in_the_dark() -> None:
    assert wait(ASIDE, TALL, by=OFFSET, signs=AMBIGUOUS, weak=1_000) == 34_000
    assert wait(ASIDE, TALL, by=OFFSET, signs=AMBIGUOUS | EDGED, proof=1_000) == 14_000
    assert wait(ASIDE, TALL, by=OFFSET, signs=AMBIGUOUS | EDGED, moves=1) == 4_000
    assert wait(ASIDE, TALL, by=OFFSET, signs=EDGED) == DWELL.odd * 3 // 5


def test_a_picture_far_off_the_middle_waits_until_its_place_is_known() -> None:
    learnt = Learnt(middle=(0, 200))
    assert wait(ASIDE, TALL, by=OFFSET, signs=FAR) == 4_000
    assert wait(ASIDE, TALL, learnt, by=OFFSET, signs=FAR) == DWELL.odd * 3 // 5
    assert wait(ASIDE, TALL, learnt, by=OFFSET, weak=300, proof=80) == DWELL.odd * 3 // 5 - 380


def test_what_lies_off_the_middle_of_the_bars_waits_for_lettering_to_end() -> None:
    within = outline(TALL)._replace(off_v=20)
    assert wait(within, SCOPE, by=OFFSET, weak=500) == 6_000
    assert wait(within, SCOPE, lettered(), by=OFFSET, run=800) == 6_500 + DWELL.odd - 800
    assert wait(ASIDE, SCOPE, lettered(), by=OFFSET) == DWELL.odd * 3 // 5
    assert wait(within, SCOPE, Learnt(middle=(20, 0)), by=OFFSET) == DWELL.odd * 3 // 5


def test_off_the_middle_within_the_bars_an_odd_shape_outlasts_a_pause_written_over() -> None:
    odd = outline(20_700)._replace(off_v=8)
    for learnt in (Learnt(), Learnt(middle=(8, 0))):
        assert wait(odd, SCOPE, learnt, by=OFFSET, weak=100) == 34_900


def test_off_the_middle_an_odd_shape_and_a_wider_one_wait_longer() -> None:
    odd = outline(14_600)._replace(off_h=40)
    wider = outline(SCOPE)._replace(off_v=40)
    assert wait(odd, TALL, by=OFFSET, weak=100) == 2 * DWELL.odd - 100
    assert wait(wider, TALL, by=OFFSET, weak=100) == DWELL.wider + 1_000 - 100


# ------------------------------------------------------------------------------- seen in part


def test_what_was_proven_once_only_has_to_go_unopposed() -> None:
    assert wait(SCOPE, TALL, by=GLIMPSE, proof=1_000, span=2_500) == 1_500
    assert wait(SCOPE, TALL, by=GLIMPSE, proof=999, span=2_500) is None


def test_dark_sides_speak_for_a_shape_once_they_have_moved() -> None:
    assert wait(TALL, SCOPE, by=GLIMPSE) is wait(TALL, None, by=GLIMPSE, moves=1) is None
    assert wait(TALL, SCOPE, by=GLIMPSE, moves=1, weak=300) == DWELL.odd - 300
    assert wait(SCOPE, TALL, by=GLIMPSE, moves=2) is None
    assert wait(SCOPE, TALL, by=GLIMPSE, moves=3, weak=300) == 2 * DWELL.wider - 300
    assert wait(TALL, SCOPE, lettered(), by=GLIMPSE, moves=1) == DWELL.odd + 3_000


def test_a_lit_corner_speaks_for_a_shape_if_the_dark_moves_and_light_is_in_the_bars() -> None:
    both = WITHIN | BEYOND
    assert wait(TALL, SCOPE, by=CORNER, signs=both | DARK, moves=1) == DWELL.odd
    assert wait(TALL, SCOPE, by=CORNER, signs=both | DARK) is None
    assert wait(TALL, SCOPE, by=CORNER, signs=both, moves=9) is None
    assert wait(TALL, SCOPE, by=CORNER, signs=WITHIN | DARK, moves=1) is None
    assert wait(TALL, SCOPE, by=CORNER, signs=BEYOND | DARK, moves=1) is None
    assert wait(TALL, SCOPE, by=CORNER, signs=DARK, moves=3) == 2 * DWELL.wider


def test_a_shape_that_is_known_is_believed_soon_where_light_is_in_the_bars() -> None:
    stood = Learnt(real=(TALL, SCOPE))
    assert wait(TALL, SCOPE, stood, by=GLIMPSE, signs=BEYOND, weak=200) == 3 * DWELL.taller - 200
    assert wait(TALL, SCOPE, stood, by=GLIMPSE) is None
    assert wait(TALL, SCOPE, by=GLIMPSE, signs=BEYOND) is None
    assert wait(TALL, SCOPE, Learnt(real=(TALL,), lines=NOW), by=GLIMPSE, signs=BEYOND) is None
    assert wait(SCOPE, TALL, stood, by=GLIMPSE, signs=BEYOND) is None


def test_a_bar_that_is_eaten_into_is_lettering_unless_it_wavers_or_may_be_the_settled_one() -> None:
    eaten = DWELL.wider + 1_000
    assert wait(SCOPE, TALL, by=EATEN, weak=300) == eaten - 300
    assert wait(SCOPE, TALL, by=EATEN, moves=7) == eaten
    assert wait(SCOPE, TALL, by=EATEN, moves=8) is None
    assert wait(SCOPE, TALL, by=EATEN, signs=AMBIGUOUS) == STANDING


def test_a_mark_in_a_bar_at_the_side_is_believed_sooner_than_one_above_or_below() -> None:
    assert wait(NARROW, TALL, by=EATEN, weak=100) == DWELL.odd * 3 // 5 - 100
    assert wait(TALL, SCOPE, by=EATEN, weak=100) == DWELL.odd - 100
    assert wait(17_778, SCOPE, by=EATEN, weak=100) == DWELL.odd - 100


def test_a_taller_shape_under_a_mark_waits_for_lettering_in_both_bars_too() -> None:
    assert wait(TALL, SCOPE, lettered(), by=EATEN) == DWELL.odd + 3_000
    assert wait(NARROW, None, by=EATEN) == DWELL.odd * 3 // 5
    assert wait(SCOPE, None, by=EATEN) == DWELL.wider + 1_000
