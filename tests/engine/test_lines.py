"""Lines in the bar below a picture: what makes them subtitles, and when they are over."""

from engine.decisions import PictureOrder
from engine.events import Playback, Title
from tests.engine.moments import films
from tests.engine.story import Story, shape

BAR = shape(2.39).bottom
"""So many rows has the lower bar."""


def line(story: Story, at: float, seconds: float) -> None:
    """Let one line stand in the lower bar of the scope film."""
    story.at(at, shape(2.39, bottom=150))
    story.at(at + seconds, shape(2.39))


def subtitled(story: Story) -> bool:
    """Whether the title is known to have subtitles."""
    return story.core.subtitles


def lifts(story: Story) -> list[bool]:
    """Whether each picture order so far lifts the picture."""
    return [one.lift > 0 for one in story.of(PictureOrder)]


def test_one_overlay_of_a_second_and_a_half_raises_nothing_for_the_whole_title() -> None:
    story = films()
    line(story, 100, 1.5)
    story.at(3_000, None)
    assert not subtitled(story)
    assert not any(lifts(story))


def test_an_overlay_that_flickers_within_a_few_seconds_is_still_one() -> None:
    story = films()
    line(story, 100, 1)
    line(story, 101.5, 1)
    assert not subtitled(story)


def test_two_overlays_some_minutes_apart_raise_nothing() -> None:
    """Somebody turns the volume up, and down again later."""
    story = films()
    for minute in range(10):
        line(story, 100 + 120 * minute, 2)
    assert not subtitled(story)


def test_a_second_line_some_seconds_after_the_first_raises_the_picture_once() -> None:
    story = films()
    for number in range(20):
        line(story, 100 + 7 * number, 3)
        assert subtitled(story) is (number > 0)
    assert sum(lifts(story)) == 1


def test_lines_are_a_second_one_from_four_seconds_apart_to_a_minute() -> None:
    for apart, means in ((3.999, False), (4, True), (60, True), (60.001, False)):
        story = films()
        line(story, 100, 1)
        line(story, 100 + apart, 1)
        assert subtitled(story) is means, apart


def test_a_film_without_lines_waits_for_none_to_be_gone() -> None:
    assert films().core.timers.lines is None


def test_one_overlay_that_stands_for_fifteen_seconds_raises_nothing() -> None:
    """Subtitles come again; the bar of a player that was paused or wound does not."""
    story = films()
    line(story, 100, 15)
    story.at(3_000, None)
    assert not subtitled(story)
    assert not any(lifts(story))


def test_what_stands_longer_than_any_overlay_is_there_to_be_read() -> None:
    """A ticker, or lines that follow each other without a gap."""
    story = films()
    story.at(100, shape(2.39, bottom=150))
    story.at(120.7, None)
    assert not subtitled(story)
    story.at(120.9, None)
    assert subtitled(story)


def test_what_is_lit_at_the_raster_s_lower_edge_is_no_line() -> None:
    """The last lines of a tape, which flicker; titles keep away by 5 % of the rows (ST 2046-1)."""
    story = films()
    for number in range(60):
        story.at(100 + 5 * number, shape(2.39, bottom=BAR - number % 3))
        story.at(103 + 5 * number, shape(2.39))
    assert not subtitled(story)
    line(story, 500, 3)
    line(story, 507, 3)
    assert subtitled(story)


def test_subtitles_are_over_though_the_raster_s_lower_edge_is_lit() -> None:
    story = films()
    line(story, 100, 3)
    line(story, 110, 3)
    story.at(114, shape(2.39, bottom=BAR))
    story.at(110.8 + 901, None)
    assert not subtitled(story)


def test_a_line_that_stands_for_ever_is_counted_twice_and_no_more() -> None:
    """With nothing new to read the room comes to rest."""
    story = films()
    story.at(100, shape(2.39, bottom=150))
    story.at(300, None)
    assert subtitled(story)
    assert story.engine.state.settling.deadline is None


def test_lines_that_come_no_more_let_the_picture_down_after_a_quarter_of_an_hour() -> None:
    story = films()
    line(story, 100, 3)
    line(story, 110, 3)
    story.at(110.8 + 899, None)
    assert subtitled(story)
    story.at(110.8 + 901, None)
    assert not subtitled(story)
    assert lifts(story)[-1] is False


def test_a_pause_is_no_time_without_lines() -> None:
    """In it nothing moves; once the film plays on, a line has a quarter of an hour to come."""
    story = films()
    line(story, 100, 3)
    line(story, 110, 3)
    story.at(600, Playback(state="paused"))
    story.at(1_200, None)
    assert subtitled(story)
    story.at(1_300, Playback(state="playing"))
    story.at(2_199, None)
    assert subtitled(story)
    story.at(2_201, None)
    assert not subtitled(story)


def test_a_line_of_the_last_title_is_no_line_of_this_one() -> None:
    story = films()
    line(story, 100, 3)
    story.at(200, Title(begun=False))
    story.at(202, Title(begun=True, name="another"))
    line(story, 210, 3)
    assert not subtitled(story)
