"""What the filter learns: slips, shapes that have stood, lettering, and where pictures lie.

Each test fails if a condition is left out or turned round. Times are ms, ratios 1/10,000.
"""

from __future__ import annotations

from engine.settle import Outline
from engine.settle.learnt import (
    NOTHING_LEARNT,
    Learnt,
    Line,
    Slip,
    change_noted,
    has_stood,
    is_written,
    lines_noted,
    place_noted,
    slip_noted,
    slipped,
    without_place,
)
from tests.engine.settling import DWELL, aspects, laid, later, outline, settled, told

TALL, SCOPE, NARROW = outline(18_500), outline(23_900), outline(13_333)
TWO_MINUTES = 120_000


# ---------------------------------------------------------------------------------------- slips


def test_a_slip_is_known_by_its_shape_and_for_two_minutes() -> None:
    learnt = slip_noted(NOTHING_LEARNT, SCOPE, 900, 0)
    assert slipped(learnt, SCOPE, TWO_MINUTES) == 900
    assert slipped(learnt, SCOPE, TWO_MINUTES + 1) == 0
    assert slipped(learnt, TALL, 0) == 0


def test_of_a_slip_that_comes_again_the_longest_is_kept_while_it_is_known() -> None:
    learnt = slip_noted(NOTHING_LEARNT, SCOPE, 900, 0)
    again = slip_noted(learnt, SCOPE, 300, TWO_MINUTES)
    assert again.slips == (Slip(23_900, 900, TWO_MINUTES),)
    later = slip_noted(learnt, SCOPE, 300, TWO_MINUTES + 1)
    assert later.slips == (Slip(23_900, 300, TWO_MINUTES + 1),)


def test_four_slips_are_remembered_and_the_one_not_seen_for_longest_is_forgotten() -> None:
    learnt = NOTHING_LEARNT
    for now, ratio in enumerate((13_333, 16_600, 18_500, 22_000, 27_600)):
        learnt = slip_noted(learnt, outline(ratio), 500, now)
    assert [slip.ratio for slip in learnt.slips] == [27_600, 22_000, 18_500, 16_600]


def test_what_stood_for_longer_than_seven_seconds_was_no_slip() -> None:
    learnt = slip_noted(NOTHING_LEARNT, TALL, 500, 0)
    assert slip_noted(learnt, SCOPE, 7_000, 1).real == ()
    stood = slip_noted(slip_noted(learnt, SCOPE, 900, 1), SCOPE, 7_001, 2)
    assert (stood.real, [slip.ratio for slip in stood.slips]) == ((23_900,), [18_500])


def test_of_a_picture_off_the_middle_no_slip_is_learnt() -> None:
    assert slip_noted(NOTHING_LEARNT, NARROW._replace(off_h=200), 500, 0) == NOTHING_LEARNT
    assert slip_noted(NOTHING_LEARNT, SCOPE._replace(off_v=40), 9_000, 0) == NOTHING_LEARNT


def test_one_reading_of_a_slow_detector_changes_nothing() -> None:
    """It errs by a line every second, and once it reads the full frame."""
    scope = laid(23_900)
    noisy = [(at, scope._replace(top=138 + at // 1_000 % 2 * 2)) for at in range(0, 9_000, 1_000)]
    course = [*noisy, (9_000, laid(17_778)), (10_000, scope)]
    assert aspects(course, before=settled(23_900)) == {23_900}
    twice = told(*course[:-1], before=settled(23_900))
    assert later(twice, 10_061).aspect == 23_900
    assert later(twice, 10_062).aspect == 17_778


def test_how_often_a_detector_reads_is_known_from_the_shortest_reading() -> None:
    """What stood until the settled shape was there again tells it as well."""
    text, scope = laid(23_900)._replace(bottom=60), laid(23_900)
    course = [(0, scope), (5_000, text), (6_400, scope), (7_200, text), (8_500, scope)]
    assert [
        told(*course[:count], before=settled(23_900)).learnt.period for count in range(2, 6)
    ] == [0, 1_400, 800, 800]
    quick = told(*course, (8_600, laid(17_778)), before=settled(23_900))
    assert quick.deadline == 8_600 + DWELL.taller


def test_the_settled_shape_between_readings_of_the_wider_one_that_wins_was_a_slip() -> None:
    """A detector reads the full frame now and then; the picture has become wider meanwhile."""
    scope, full = laid(23_900), laid(17_778)
    course = [(0, scope), (2_000, full), (2_800, scope), (8_000, scope._replace(top=140))]
    won = told(*course, before=settled(17_778))
    assert won.aspect == 23_900
    assert won.learnt.slips == (Slip(17_778, 800, 5_600),)
    again = told((9_000, full), before=won)
    assert again.deadline == 9_000 + 5 * 800 + 50  # A sixteenth of the time between two.
    plain = told((0, scope), (8_000, scope._replace(top=140)), before=settled(17_778))
    assert plain.learnt.slips == ()


def test_one_slip_tells_too_little_of_how_long_the_next_one_stands() -> None:
    """A reading comes each second. One was the full frame by mistake, and now five are."""
    scope, full = laid(23_900), laid(17_778)
    course = [(0, scope._replace(bottom=60)), (1_000, scope), (2_000, full), (3_000, scope)]
    course += [(12_000, full), (17_000, scope)]
    assert aspects(course, before=settled(23_900)) == {23_900}
    assert later(told(*course[:5], before=settled(23_900)), 17_062).aspect == 17_778


def test_the_dark_between_two_readings_is_no_part_of_a_slip() -> None:
    """The wider picture turns dark soon, and the first that is read again is the full frame."""
    scope, full = laid(23_900), laid(17_778)
    dark = scope._replace(top=300, bottom=400)
    course = [(0, scope), (900, dark), (5_000, full), (5_300, scope), (12_000, full)]
    won = told(*course, before=settled(17_778))
    assert won.learnt.slips == (Slip(17_778, 300, 5_700),)
    assert won.deadline == 12_000 + 5 * 300 + 18


# ------------------------------------------------------------------------- shapes that have stood


def changed(
    home: Outline | None, shape: Outline, stood: int, learnt: Learnt = NOTHING_LEARNT
) -> Learnt:
    """Change from a shape that was seen from 0 on; the new one is believed `stood` ms later."""
    return change_noted(learnt, home, shape, stood - 400, stood)


def test_a_shape_has_stood_when_it_was_settled_for_longer_than_a_mistake() -> None:
    assert not has_stood(changed(SCOPE, TALL, 7_000), SCOPE)
    assert has_stood(changed(SCOPE, TALL, 7_001), SCOPE)
    assert not has_stood(changed(SCOPE, TALL, 7_001), TALL)


def test_of_what_was_there_before_the_first_shape_nothing_is_learnt() -> None:
    assert changed(None, SCOPE, 9_000, Learnt(real=(18_500,))).real == (18_500,)


def test_one_that_has_stood_before_need_not_stand_so_long_again() -> None:
    known = Learnt(real=(18_500, 23_900))
    assert changed(SCOPE, TALL, 5_501, known).real == (23_900, 18_500)
    assert changed(SCOPE, TALL, 5_500, known).real == (18_500, 23_900)
    assert changed(SCOPE, TALL, 5_501, Learnt(real=(18_500,))).real == (18_500,)


def test_three_shapes_that_stood_are_remembered_each_once() -> None:
    learnt = NOTHING_LEARNT
    for ratio in (13_333, 18_500, 23_900, 18_500, 27_600):
        learnt = changed(outline(ratio), NARROW, 9_000, learnt._replace(begun=0))
    assert learnt.real == (27_600, 18_500, 23_900)


def test_a_shape_that_is_left_for_the_one_before_it_at_once_was_a_slip() -> None:
    back = changed(TALL, SCOPE, 2_000, Learnt(former=SCOPE))
    assert back.slips == (Slip(18_500, 1_600, 2_000),)
    assert changed(TALL, NARROW, 2_000, Learnt(former=SCOPE)).slips == ()
    assert changed(TALL, SCOPE, 2_000).slips == ()
    assert changed(None, SCOPE, 2_000, Learnt(former=SCOPE)).slips == ()
    assert changed(TALL, SCOPE, 9_000, Learnt(former=SCOPE)).slips == ()


def test_such_a_slip_within_the_bars_was_lettering_as_well() -> None:
    assert changed(TALL, SCOPE, 2_000, Learnt(former=SCOPE)).lines == 2_000
    assert changed(NARROW, SCOPE, 2_000, Learnt(former=SCOPE)).lines is None
    assert changed(SCOPE, TALL, 2_000, Learnt(former=TALL)).lines is None


def test_lettering_is_remembered_by_its_depth_and_how_often_it_came() -> None:
    """The bars of scope have 138 lines."""
    learnt = NOTHING_LEARNT
    for now, edge in enumerate((90, 40, 92, 20, 60)):
        learnt = lines_noted(learnt, now, SCOPE, edge)
    assert learnt.lines == 4
    assert learnt.written == (Line(78, 1), Line(118, 1), Line(46, 2))


def test_lettering_that_stands_for_longer_than_any_does_was_a_picture() -> None:
    """A tall shape in the bars of scope, that stands for 7 s and a little more, is none."""
    known = Learnt(former=SCOPE, lines=100, written=(Line(117), Line(58)))
    assert changed(TALL, SCOPE, 7_400, known).real == ()
    assert changed(TALL, SCOPE, 7_400, known._replace(lines=None)).real == (18_500,)
    assert changed(TALL, NARROW, 7_400, known).real == (18_500,)
    stood = changed(TALL, SCOPE, 7_401, known)
    assert (stood.real, stood.lines, stood.written) == ((18_500,), 100, (Line(58),))
    stood = changed(TALL, SCOPE, 7_401, known._replace(written=(Line(117),)))
    assert (stood.lines, stood.written) == (None, ())


def test_lettering_is_known_again_by_its_depth() -> None:
    known = lines_noted(NOTHING_LEARNT, 0, SCOPE, 80)
    assert is_written(known, SCOPE, TALL)  # 117 lines deep: twice 58.
    assert is_written(known, SCOPE, outline(20_900))  # As deep.
    assert is_written(known, SCOPE, outline(22_200))  # Half as deep.
    assert not is_written(known, SCOPE, outline(19_400))
    assert not is_written(known, SCOPE, outline(20_400))
    assert not is_written(NOTHING_LEARNT, SCOPE, TALL)


def test_a_shape_counts_as_settled_since_the_one_before_it_was_last_seen() -> None:
    learnt = changed(SCOPE, TALL, 9_000)
    assert (learnt.former, learnt.begun, learnt.moved) == (SCOPE, 8_600, 9_000)


# --------------------------------------------------------------------------------------- places


def test_of_an_axis_without_bars_no_place_is_learnt() -> None:
    beside = place_noted(NOTHING_LEARNT, NARROW._replace(off_v=2, off_h=200))
    assert beside.middle == (0, 200)
    assert place_noted(beside, SCOPE._replace(off_v=40, off_h=2)).middle == (40, 200)


def test_another_raster_takes_the_former_shape_with_the_place() -> None:
    lines = (Line(58),)
    learnt = Learnt(middle=(40, 0), former=SCOPE, real=(23_900,), written=lines)
    assert without_place(learnt, raster=True) == Learnt(real=(23_900,))
    kept = Learnt(former=SCOPE, real=(23_900,), written=lines)
    assert without_place(learnt, raster=False) == kept
