"""What speaks for a rival, for how long that is kept, and which of two is weighed.

Each test fails if a condition is left out or turned round. Times are ms, ratios 1/10,000.
"""

from __future__ import annotations

from typing import Any

import pytest

from engine.settle import BarReading, Outline, Rival
from engine.settle.rivals import (
    changed,
    credited,
    is_written_in,
    new_rival,
    on_average,
    seen_again,
    speaks_for,
)
from engine.settle.shapes import FINE
from engine.settle.sightings import (
    BACK,
    BEYOND,
    CALM,
    CORNER,
    CORNERED,
    EATEN,
    GLIMPSE,
    OFFSET,
    PART,
    SETTLED,
    WHOLE,
    WITHIN,
    Evidence,
    Sighting,
)
from tests.engine.settling import DWELL, bars, lag, laid, outline, settled

TALL, SCOPE, NARROW = outline(18_500), outline(23_900), outline(13_333)
HD = (1_920, 1_080, 0)
NOW = 100_000


def rival(shape: Outline = SCOPE, **more: Any) -> Rival:  # noqa: ANN401 - fields of every type
    """Give a rival for which nothing was ever seen but what is said here."""
    none = {"proof": 0, "weak": 0, "span": 0, "seen": NOW, "loose": 0, "moves": 0, "signs": 0}
    return Rival(shape, **none | more)


def seen(
    evidence: Evidence,
    ratio: int = 23_900,
    **more: Any,  # noqa: ANN401 - fields of every type
) -> Sighting:
    return Sighting(evidence, ratio, **more)


# --------------------------------------------------------------------------------------- credit


def test_time_is_added_by_what_was_seen_in_it() -> None:
    def after(evidence: Evidence) -> tuple[int, int, int, int]:
        one = credited(rival(), evidence, 600, NOW + 600)
        return one.proof, one.weak, one.span, one.run

    assert after(WHOLE) == (600, 0, 600, 600)
    assert after(PART) == (300, 0, 600, 600)
    assert after(GLIMPSE) == after(CORNER) == after(OFFSET) == (0, 600, 600, 600)
    assert after(CALM) == (0, 0, 600, 0)


def test_darkness_is_no_sight_of_a_rival() -> None:
    assert credited(rival(), CALM, 600, NOW + 600).seen == NOW
    assert credited(rival(), WHOLE, 600, NOW + 600).seen == NOW + 600


def test_the_settled_shape_takes_away_from_a_rival_but_never_below_nothing() -> None:
    one = rival(proof=900, weak=500, span=700, run=1_200, stood=800)
    less = credited(one, SETTLED, 600, NOW + 600)
    assert (less.proof, less.weak, less.span) == (300, 0, 100)
    assert (less.run, less.stood, less.seen) == (0, 1_200, NOW)
    none = credited(one._replace(stood=2_000), SETTLED, 9_000, NOW + 9_000)
    assert (none.proof, none.weak, none.span, none.stood) == (0, 0, 0, 2_000)


def test_the_longest_stay_of_the_settled_shape_meanwhile_is_remembered() -> None:
    once = credited(rival(proof=900), SETTLED, 600, NOW + 600)
    assert once.back == 600
    still = credited(once, SETTLED, 200, NOW + 800)
    assert still.back == 800
    seen = credited(still, WHOLE, 1_200, NOW + 2_000)
    gone = credited(seen, SETTLED, 300, NOW + 2_300)
    assert gone.back == credited(gone, WHOLE, 100, NOW + 2_400).back == 800


# ------------------------------------------------------------------------------------- patience


@pytest.mark.parametrize(
    ("one", "aspect", "kept_for"),
    [
        (rival(NARROW), 18_500, 2_000),
        (rival(NARROW), None, 2_000),
        (rival(NARROW, weak=1), 18_500, 9_000),
        (rival(SCOPE), 18_500, 9_000),
        (rival(outline(14_600)), 18_500, 9_000),
    ],
    ids=["taller", "first", "seen in part", "wider", "odd"],
)
def test_what_was_seen_long_ago_is_forgotten_soonest_of_what_wins_quickly(
    one: Rival, aspect: int | None, kept_for: int
) -> None:
    one = one._replace(proof=400)
    ratio = one.shape.ratio
    assert seen_again(one, aspect, seen(WHOLE, ratio), NOW + kept_for).proof == 400
    assert seen_again(one, aspect, seen(WHOLE, ratio), NOW + kept_for + 1).proof == 0


def test_a_bar_that_was_out_of_its_place_for_long_has_not_stood_still() -> None:
    one = rival(weak=400, moves=2, proof=100)
    kept = seen_again(one, 18_500, seen(EATEN), NOW + 1_500)
    assert (kept.weak, kept.moves, kept.proof) == (400, 2, 100)
    lost = seen_again(one, 18_500, seen(EATEN), NOW + 1_501)
    assert (lost.weak, lost.moves, lost.proof) == (0, 0, 100)
    assert seen_again(rival(moves=2), 18_500, seen(EATEN), NOW + 1_501).moves == 2


def test_an_eaten_bar_does_not_go_on_where_a_dark_corner_left_off_nor_the_other_way() -> None:
    def weak_after(before: int, evidence: Evidence) -> int:
        return seen_again(rival(weak=400, signs=before), 18_500, seen(evidence), NOW).weak

    assert weak_after(CORNERED, CORNER) == weak_after(0, EATEN) == 400
    assert weak_after(CORNERED, EATEN) == weak_after(0, CORNER) == 0
    assert weak_after(CORNERED, WHOLE) == weak_after(CORNERED, GLIMPSE) == 400


def test_signs_add_up_and_an_eaten_bar_is_no_corner_any_more() -> None:
    one = rival(signs=CORNERED | WITHIN)
    assert seen_again(one, 18_500, seen(EATEN, signs=BEYOND), NOW).signs == WITHIN | BEYOND
    assert seen_again(one, 18_500, seen(WHOLE), NOW).signs == CORNERED | WITHIN


def test_a_bar_has_moved_when_it_is_somewhere_else_by_as_much_as_counts() -> None:
    def moved(loose: int, evidence: Evidence, moves: int = 0) -> tuple[int, int]:
        one = rival(loose=100, moves=moves)
        one = seen_again(one, 18_500, seen(evidence, loose=loose, jump=10), NOW)
        return one.loose, one.moves

    assert moved(110, GLIMPSE) == (110, 1)
    assert moved(90, EATEN, 7) == (90, 8)
    assert moved(110, GLIMPSE, 8) == (110, 8)
    assert moved(109, GLIMPSE) == (109, 0)
    assert moved(109, EATEN) == (100, 0)


def test_what_has_no_unsteady_bar_says_nothing_of_one() -> None:
    one = seen_again(rival(loose=100, moves=1), 18_500, seen(WHOLE), NOW)
    assert (one.loose, one.moves) == (100, 1)


def test_a_picture_off_the_middle_is_remembered_for_half_a_minute_and_counted_as_back() -> None:
    place = rival(NARROW._replace(off_h=200), weak=500, moves=1, signs=WITHIN)
    sight = seen(OFFSET, 13_333, off_h=200, signs=BEYOND)
    again = seen_again(place, 18_500, sight, NOW + 30_000)
    assert (again.weak, again.moves, again.signs) == (500, 2, WITHIN | BEYOND)
    assert again.seen == NOW + 30_000
    assert seen_again(place, 18_500, sight, NOW).moves == 1
    assert seen_again(place._replace(moves=8), 18_500, sight, NOW + 1).moves == 8
    assert seen_again(place, 18_500, sight, NOW + 30_001) == new_rival(
        place.shape, sight, NOW + 30_001
    )


# ------------------------------------------------------------------------------- whose sight it is


def test_a_sighting_is_of_the_rival_that_has_its_shape_in_its_place() -> None:
    assert speaks_for(seen(WHOLE), rival(), HD)
    assert not speaks_for(seen(WHOLE, 22_000), rival(), HD)
    aside = rival(SCOPE._replace(off_v=40))
    assert speaks_for(seen(OFFSET, off_v=44), aside, HD)
    assert not speaks_for(seen(OFFSET, off_v=60), aside, HD)
    assert not speaks_for(seen(WHOLE), aside, HD)
    assert not speaks_for(seen(OFFSET, off_v=60), rival(), HD)
    assert not speaks_for(seen(WHOLE, 13_333), rival(NARROW._replace(off_h=200)), HD)


def test_a_place_counts_for_a_shape_in_a_raster_and_for_nothing_else() -> None:
    """Equal bars have none that would differ, and a mere ratio has none at all."""
    assert speaks_for(seen(WHOLE, off_v=60), rival(), HD)
    assert speaks_for(seen(WHOLE), rival(SCOPE._replace(off_v=40)), None)


def test_lettering_is_written_in_a_wider_standard_shape_that_was_seen_plainly_not_long_ago() -> (
    None
):
    written = bars((40, 60, 0, 0))
    assert is_written_in(rival(proof=500), 18_500, written, NOW + 9_000)
    assert not is_written_in(rival(proof=499), 18_500, written, NOW)
    assert not is_written_in(rival(proof=500), 18_500, written, NOW + 9_001)
    assert not is_written_in(rival(proof=500), None, written, NOW)
    assert not is_written_in(rival(proof=500), 27_600, written, NOW)
    assert not is_written_in(rival(outline(22_500), proof=500), 18_500, written, NOW)
    window = outline(22_000, shrink=80)
    assert not is_written_in(rival(window, proof=500), 18_500, written, NOW)


@pytest.mark.parametrize(
    "reading", [laid(23_900), bars((40, 138, 0, 0)), bars((0, 60, 0, 0)), bars((40, 0, 0, 0))]
)
def test_lettering_stands_in_both_bars_and_leaves_the_edge_of_the_raster_dark(
    reading: BarReading,
) -> None:
    assert not is_written_in(rival(proof=500), 18_500, reading, NOW)


def test_lettering_leaves_the_sides_as_they_are() -> None:
    assert is_written_in(rival(proof=500), 18_500, bars((40, 60, 4, 4)), NOW)
    assert not is_written_in(rival(proof=500), 18_500, bars((40, 60, 30, 0)), NOW)
    assert not is_written_in(rival(proof=500), 18_500, bars((40, 60, 0, 30)), NOW)


# ------------------------------------------------------------------------------- one kept aside


def test_the_stronger_of_two_is_kept_aside() -> None:
    held, aside = rival(SCOPE, proof=300, weak=200), rival(NARROW, proof=100, weak=400)
    assert changed(held, None, seen(WHOLE, 18_500), HD, NOW)[1] == held
    assert changed(held, aside, seen(WHOLE, 18_500), HD, NOW) == (None, held)
    stronger = aside._replace(weak=401)
    assert changed(held, stronger, seen(WHOLE, 18_500), HD, NOW - 1)[1] == stronger


def test_one_that_was_not_seen_since_the_settled_shape_was_makes_room() -> None:
    """However strong it is: what is seen now is held against what was seen just before it."""
    held, old = rival(SCOPE, proof=300), rival(NARROW, proof=9_000, seen=NOW - 2_000)
    assert changed(held, old, seen(WHOLE, 18_500), HD, NOW - 2_000)[1] == held
    assert changed(held, old, seen(WHOLE, 18_500), HD, NOW - 2_001)[1] == old


def test_the_one_that_was_aside_is_weighed_again_when_it_is_seen() -> None:
    held, aside = rival(SCOPE, proof=300), rival(NARROW, proof=900)
    assert changed(held, aside, seen(WHOLE, 13_333), HD, NOW) == (aside, held)


def test_how_long_a_rival_stood_is_kept_with_it_aside() -> None:
    (_, kept) = changed(rival(run=700, stood=400), None, seen(WHOLE, 13_333), HD, NOW)
    assert kept is not None
    assert (kept.run, kept.stood) == (0, 700)
    (_, kept) = changed(rival(run=100, stood=400), None, seen(WHOLE, 13_333), HD, NOW)
    assert kept is not None
    assert (kept.run, kept.stood) == (0, 400)


def test_one_that_is_there_again_once_lettering_in_its_bars_is_gone_is_back() -> None:
    """It counts only while the settled shape, which was left at `NOW`, was not seen again."""

    def again(held: Outline, shape: Outline, last_seen: int) -> int:
        one = rival(shape, seen=last_seen)
        (back, _) = changed(rival(held), one, seen(WHOLE, shape.ratio), HD, NOW)
        assert back is not None
        return back.signs

    assert again(TALL, SCOPE, NOW + 1) == BACK
    assert again(TALL, SCOPE, NOW) == 0
    assert again(SCOPE, TALL, NOW + 1) == 0
    assert again(NARROW, SCOPE, NOW + 1) == 0
    assert credited(rival(signs=BACK | BEYOND), SETTLED, 100, NOW).signs == BEYOND
    assert credited(rival(signs=BACK | BEYOND), WHOLE, 100, NOW).signs == BACK | BEYOND


# ------------------------------------------------------------------ all its readings together


def of_bars(*lines: int, shape: Outline = TALL, home: Outline = SCOPE) -> bool:
    """Whether a rival is still a standard shape that was read with these bars, added up."""
    one = rival(shape, times=len(lines), lines=sum(lines))
    return on_average(one, home, HD, FINE).shape.standard


def test_a_rival_that_leaves_more_of_the_bars_than_its_standard_shape_has_is_none() -> None:
    """The bars of 1.85 to 1 have 42 lines in all, and 45 are within the tolerance."""
    assert of_bars(42, 48)
    assert not of_bars(44, 48)
    assert not of_bars(42, 48, 50)


def test_one_reading_is_no_average_and_bars_counted_short_are_let_pass() -> None:
    assert of_bars(48)
    assert of_bars(36, 38, 36)


def test_only_what_may_be_lettering_in_the_bars_is_asked_for_its_average() -> None:
    window = TALL._replace(window=True)
    assert of_bars(44, 48, shape=window)
    assert of_bars(44, 48, home=SCOPE._replace(window=True))
    assert of_bars(300, 320, shape=SCOPE, home=TALL)
    nowhere = rival(TALL, times=2, lines=92)
    assert on_average(nowhere, None, HD, FINE) is nowhere
    assert on_average(nowhere, SCOPE, None, FINE) is nowhere


def test_readings_are_added_up_until_the_settled_shape_is_seen() -> None:
    one = new_rival(TALL, seen(WHOLE, bars_v=42), NOW)
    assert (one.times, one.lines) == (1, 42)
    one = seen_again(one, 23_900, seen(WHOLE, bars_v=46), NOW)
    assert (one.times, one.lines) == (2, 88)
    one = credited(seen_again(one, 23_900, seen(EATEN, bars_v=40), NOW), EATEN, 100, NOW)
    assert (one.times, one.lines) == (2, 88)
    assert credited(one, SETTLED, 100, NOW)[-2:] == (0, 0)
    (_, kept) = changed(one, None, seen(WHOLE, 13_333), HD, NOW)
    assert kept is not None
    assert (kept.times, kept.lines) == (0, 0)
    eaten = new_rival(TALL, seen(EATEN, bars_v=42), NOW)
    assert (eaten.times, eaten.lines) == (0, 0)


def test_light_up_to_all_edges_of_the_raster_is_no_card_that_was_read_before() -> None:
    """It may be the full frame's shape, and out of black: it waits for no longer than a contest."""
    card, full = laid(17_778, shrink=42), laid(17_778)
    cards = [(0, card), (8_600, None), (11_900, full)]
    assert lag(17_778, cards, settled(22_000)) == 11_900 + 3 * DWELL.taller
