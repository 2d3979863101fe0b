"""Titles and sessions that begin, pause and end otherwise than one would think."""

from __future__ import annotations

from engine.events import (
    FormatCode,
    Override,
    OverrideLook,
    Playback,
    ProjectorReport,
    SourceChosen,
    Title,
)
from engine.facts import first_minutes_run
from tests.engine.meetings import START
from tests.engine.moments import films, ms
from tests.engine.story import SILENT, UNANSWERED, Story, shape


def test_a_shape_carried_into_a_title_counts_though_it_was_paused_at_once() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    story.at(6, shape(2.39))
    story.at(20, Playback(state="playing"))
    story.at(22, Playback(state="paused"))
    story.at(40, Playback(state="playing"))
    story.at(160, shape(1.9))
    story.at(170, shape(2.39))
    story.at(180, None)
    assert story.core.varies


def test_what_a_person_wants_of_a_title_that_is_only_announced_is_counted() -> None:
    story = Story(SILENT)
    story.at(5, SourceChosen(source="streamer"))
    story.at(6, Playback(state="stopped"))
    story.at(7, Title(begun=True, name="one"))
    for second, preset in ((10, "tall"), (40, "broad"), (70, "tall")):
        story.at(second, Override(taken=True, look=OverrideLook(preset=preset)))
        assert story.core.left_title == 0
    story.at(200, None)
    assert story.recalls() == ["tall", "broad", "tall"]


def test_what_plays_on_past_its_title_s_end_is_left_in_peace() -> None:
    story = Story(SILENT)
    story.film(10, 2.39)
    story.at(300, shape(1.78))
    story.at(400, Title(begun=False))
    story.at(500, None)
    assert story.recalls() == []
    assert "first_minutes" in story.core.holds


def test_a_hub_that_repeats_paused_lets_the_session_end() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(60, Override(taken=True))
    for minute in range(2, 300):
        story.at(minute * 60, Playback(state="paused"))
    assert story.core.override == "rules"


def test_a_film_played_on_after_a_long_pause_is_the_film_and_no_preview() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="streamer"))
    story.at(6, Title(begun=True, name="one"))
    story.at(7, Playback(state="playing"))
    story.at(8, shape(2.2))
    story.at(100, Playback(state="paused"))
    story.at(100 + 1_300, None)
    assert not story.core.title
    story.at(1_500, Playback(state="playing"))
    assert (story.core.title, story.core.title_name) == (True, "one")


def test_a_projector_that_went_off_and_on_in_mid_film_shows_the_film_again() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(500, ProjectorReport(state="off"))
    assert not story.core.title
    story.at(560, ProjectorReport(state="lit"))
    assert story.core.title


def test_a_title_that_never_plays_does_not_keep_the_session() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="streamer"))
    story.at(6, Playback(state="stopped"))
    story.at(7, Override(taken=True))
    story.at(8, Title(begun=True, name="one"))
    story.at(4 * 3_600, None)
    assert story.core.override == "rules"


def test_a_title_of_a_source_that_says_titles_is_on_again_when_the_light_is() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="streamer"))
    story.at(6, Title(begun=True, name="one"))
    story.at(7, Playback(state="playing"))
    story.at(500, ProjectorReport(state="off"))
    assert not story.core.title
    story.at(560, ProjectorReport(state="lit"))
    assert (story.core.title, story.core.title_name) == (True, "one")


def test_a_title_that_was_paused_without_light_is_on_again_when_it_is_played_on() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="streamer"))
    story.at(6, Title(begun=True, name="one"))
    story.at(7, Playback(state="playing"))
    story.at(400, Playback(state="paused"))
    story.at(500, ProjectorReport(state="cooling"))
    story.at(8_000, ProjectorReport(state="lit"))
    assert not story.core.title
    story.at(8_010, Playback(state="playing"))
    assert (story.core.title, story.core.title_name) == (True, "one")


def test_a_long_pause_loses_neither_a_title_s_name_nor_its_declared_shape() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    story.at(6, Playback(state="playing"))
    story.at(6.2, Title(begun=True, name="one", declared=2.39))
    story.at(100, Playback(state="paused"))
    story.at(1_400, None)
    assert not story.core.title
    story.at(1_500, Playback(state="playing"))
    assert (story.core.title_name, story.core.declared) == ("one", 23_900)
    assert story.pictures()[-1] == "plain"


def test_what_was_heard_before_the_first_source_had_a_name_is_its_own() -> None:
    """A hub may say first what plays, and in which shape, and then from where."""
    story = Story(UNANSWERED)
    story.at(1, shape(2.39))
    story.at(1, Playback(state="playing"))
    story.at(10, SourceChosen(source="disc"))
    assert (story.core.playback, story.core.title) == ("playing", True)
    assert story.engine.state.settling.aspect == 23_900
    story.at(20, SourceChosen(source="streamer"))
    assert (story.core.playback, story.core.title) == ("unknown", False)


def test_a_first_source_that_says_titles_itself_or_is_left_alone_takes_no_more_than_it_may() -> (
    None
):
    story = Story(UNANSWERED)
    story.at(1, Playback(state="playing"))
    story.at(2, SourceChosen(source="streamer"))
    assert not story.core.title
    story = Story(UNANSWERED)
    story.at(1, FormatCode(code=8, frame="4:3"))
    story.at(1.5, Title(begun=True, declared=2.39))
    story.at(2, SourceChosen(source="console"))
    assert (story.core.frame, story.core.declared) == (17_778, None)


def test_a_title_without_a_name_that_is_told_again_is_the_one_that_is_on() -> None:
    """An event says how things are, and hearing it again changes nothing: it must end first."""
    story = Story(UNANSWERED)
    story.at(10, SourceChosen(source="streamer"))
    story.at(10, Title(begun=True, declared=1.85))
    story.at(10, Playback(state="playing"))
    story.at(100, Override(taken=True, until="title"))
    story.at(200, Title(begun=True, declared=1.85))
    assert story.core.override == "person"
    story.at(300, Title(begun=False))
    story.at(301, Title(begun=True, declared=1.85))
    assert (story.core.title, story.core.override) == (True, "rules")


def test_what_plays_again_after_a_stop_is_another_title_though_nobody_names_it() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.85)
    story.at(100, Override(taken=True, until="title"))
    story.at(200, Playback(state="stopped"))
    story.at(210, Playback(state="playing"))
    assert (story.core.title, story.core.override) == (True, "rules")
    assert (story.core.interrupted, story.core.longest) == (None, None)


def test_a_title_that_has_ended_leaves_no_shape_and_no_lines_to_come() -> None:
    story = films()
    for second, seen in ((40, shape(2.39, bottom=150)), (43, shape(2.39)), (50, shape(1.78))):
        story.at(second, seen)
    story.at(60, None)
    timers = story.core.timers
    assert None not in {timers.longest, timers.lines}
    story.at(61, Playback(state="stopped"))
    timers = story.core.timers
    assert (timers.longest, timers.lines) == (None, None)


def test_first_minutes_that_are_held_at_their_last_moment_come_to_their_end() -> None:
    story = films()
    ends = story.core.timers.first_minutes
    assert ends is not None
    story.at((ends - 1 - START) / 1_000, Playback(state="paused"))
    assert story.core.first_left == 1
    assert first_minutes_run(story.core)
    story.at(200, Playback(state="playing"))
    story.at(201, None)
    assert not first_minutes_run(story.core)


def test_the_first_minutes_of_a_title_that_tells_its_shape_run_from_its_beginning() -> None:
    """Where a shape is only seen they run from there on, for nothing could be done before."""
    for declared, ends in ((2.39, 10 + 90), (None, 50.5 + 90)):
        story = Story(UNANSWERED)
        story.at(10, SourceChosen(source="disc"))
        story.at(10, Title(begun=True, declared=declared))
        story.at(10, Playback(state="playing"))
        story.at(50, shape(2.39))
        story.at(60, None)
        assert story.core.longest == 23_900
        assert story.core.timers.first_minutes == ms(ends)
