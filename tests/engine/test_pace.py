"""How fast things may happen: wishes linger, recalls are few, and a film is left in peace."""

from __future__ import annotations

from dataclasses import replace

import pytest

from engine.events import (
    BarsSeen,
    Override,
    Playback,
    ProjectorReport,
    Service,
    Signal,
    SourceChosen,
    TimeOfDay,
    Title,
)
from tests.engine.meetings import START
from tests.engine.story import SILENT, TWO_A_NIGHT, UNANSWERED, UNLIMITED, Story, shape


def test_a_wish_for_a_travel_stands_for_a_while_before_the_lens_follows() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(10 + 0.5 + 0.5 + 11.9, None)
    assert story.recalls() == []
    story.at(10 + 0.5 + 0.5 + 12.0, None)
    assert story.recalls() == ["tall"]


def test_an_ident_in_another_shape_moves_no_lens() -> None:
    """Six seconds of 1.78, then the film's own 2.39, on the preset that fits the film."""
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(16.5, shape(2.39))
    story.at(300, None)
    assert story.recalls() == []
    assert story.prompts() == []


def test_nobody_s_slip_through_the_sources_moves_the_lens() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    for second, source in ((100, "console"), (103, "streamer"), (106, "disc")):
        story.at(second, SourceChosen(source=source))
    story.at(300, None)
    assert story.recalls() == []


def test_first_minutes_of_no_length_never_run_not_even_when_they_would_begin_anew() -> None:
    """A title plays unseen, then its shape is taken: first minutes would begin at that moment."""
    pace = UNANSWERED.pace._replace(first_minutes=0, linger=0, linger_people=0)
    story = Story(replace(UNANSWERED, pace=pace))
    story.at(10, SourceChosen(source="disc"))
    story.at(11, shape(1.78))
    story.at(100, Playback(state="playing"))
    assert story.core.timers.first_minutes is None
    story.at(500, None)
    assert story.recalls() == []
    assert story.prompts() == []


def test_beyond_a_title_s_first_minutes_the_lens_stays_and_the_nearest_is_shown() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(101, shape(1.78))
    story.at(400, None)
    assert story.recalls() == []
    assert story.prompts() == []
    assert {"first_minutes", "mid_title"} <= set(story.notes())
    assert story.core.shown is not None
    assert story.core.shown.aspect == 17_778


def test_a_title_has_its_one_recall_and_no_more() -> None:
    story = Story(UNANSWERED, panels="sides")
    story.film(10, 1.78)
    story.at(50, shape(2.39))
    story.at(80, None)
    assert len(story.recalls()) <= 1
    unlimited = Story(UNLIMITED)
    unlimited.film(10, 1.78)
    unlimited.at(30, None)
    assert unlimited.recalls() == ["tall"]


def test_a_night_has_its_recalls_and_noon_brings_new_ones() -> None:
    story = Story(TWO_A_NIGHT)
    story.at(1, TimeOfDay(minute=20 * 60))
    assert story.core.left_night == 2
    second = 10
    for ratio in (1.78, 2.39, 1.78):
        story.film(second, ratio)
        story.at(second + 60, None)
        story.at(second + 100, Playback(state="stopped"))
        second += 200
    assert story.core.left_night == 0
    story.at(15 * 3_600, TimeOfDay(minute=11 * 60))
    assert story.core.left_night == 0
    story.at(16 * 3_600, TimeOfDay(minute=12 * 60))
    assert story.core.left_night == 2


def test_a_hub_that_tells_the_time_once_a_day_or_never_brings_new_recalls_too() -> None:
    for told in (True, False):
        story = Story(TWO_A_NIGHT)
        story.at(1, TimeOfDay(minute=20 * 60) if told else None)
        story.film(10, 1.78)
        story.at(60, None)
        assert story.core.left_night == 1
        next_day = 24 * 3_600 + 1
        story.at(next_day, TimeOfDay(minute=20 * 60) if told else Playback(state="stopped"))
        assert story.core.left_night == 2


def test_midnight_brings_none() -> None:
    story = Story(TWO_A_NIGHT)
    story.at(1, TimeOfDay(minute=20 * 60))
    story.film(10, 1.78)
    story.at(60, None)
    assert story.core.left_night == 1
    story.at(4 * 3_600 + 600, TimeOfDay(minute=10))
    assert story.core.left_night == 1


def test_a_pause_moves_nothing_and_a_long_one_counts_as_a_stop() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(100, None)
    before = len(story.made)
    story.at(200, Playback(state="paused"))
    story.at(201, shape(1.78))
    story.at(200 + 20 * 60 - 1, None)
    assert len(story.made) == before
    assert (story.core.title, story.core.playback) == (True, "paused")
    story.at(200 + 20 * 60, None)
    assert (story.core.title, story.core.pause_over) == (False, True)
    story.at(200 + 21 * 60, Playback(state="paused"))
    assert story.core.pause_over
    assert story.pictures()[-1] == "whole"


def test_without_light_nothing_is_ordered_and_one_look_follows_when_it_comes() -> None:
    """One recall, not a queue: what was asked for meanwhile is forgotten."""
    story = Story(UNANSWERED)
    story.at(1, ProjectorReport(state="off"))
    story.at(2, ProjectorReport(state="warming"))
    for second, ratio in ((10, 1.78), (20, 2.39), (30, 1.78)):
        story.film(second, ratio)
        story.at(second + 9, Playback(state="stopped"))
    story.film(40, 1.78)
    assert story.recalls() == []
    story.at(60, ProjectorReport(state="lit"))
    story.at(100, None)
    assert story.recalls() == ["tall"]


def test_in_service_nothing_is_ordered_and_open_orders_are_taken_back() -> None:
    story = Story()
    story.film(10, 2.39)
    assert story.core.picture is not None
    made = story.at(10.9, Service(begun=True))
    assert {one.kind for one in made} == {"withdrawn"}
    assert story.at(100, Playback(state="stopped")) == []
    after = story.at(200, Service(begun=False))
    assert "picture" in {one.kind for one in after}


def test_a_signal_lost_and_found_is_the_same_signal() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(12, Signal(locked=True, columns=3_840, rows=2_160))
    story.at(12.5, shape(2.39))
    story.at(60, None)
    before = len(story.made)
    for second in (100, 110, 120):
        story.at(second, Signal(locked=False))
        story.at(second + 1, Signal(locked=True))
        story.at(second + 1, SourceChosen(source="disc"))
    assert len(story.made) == before
    assert story.engine.state.settling.aspect == 23_900


def test_another_raster_is_another_signal() -> None:
    story = Story(UNANSWERED)
    story.at(10, SourceChosen(source="disc"))
    story.at(11, shape(2.39))
    story.at(60, None)
    story.at(61, Signal(locked=True, columns=1_920, rows=1_080))
    assert story.engine.state.settling.aspect is None


def test_in_mid_title_another_raster_is_a_stream_that_buffers_until_its_shape_is_refuted() -> None:
    """Four seconds in another raster change no picture; a shape that stands there in full does."""
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(600, None)
    before = len(story.pictures())
    story.at(601, Signal(locked=True, columns=1_280, rows=720))
    story.at(602, BarsSeen(top=92, bottom=92, left=0, right=0, columns=1_280, rows=720))
    story.at(605, Signal(locked=True, columns=3_840, rows=2_160))
    story.at(606, shape(2.39))
    story.at(700, None)
    assert len(story.pictures()) == before
    story.at(701, Signal(locked=True, columns=1_280, rows=720))
    story.at(702, BarsSeen(top=0, bottom=0, left=0, right=0, columns=1_280, rows=720))
    story.at(710, None)
    assert story.engine.state.settling.aspect == 17_778


@pytest.mark.parametrize("source", ["streamer", "disc"])
def test_a_title_ends_with_its_source_its_stop_or_its_own_word(source: str) -> None:
    for end in (
        Playback(state="stopped"),
        Title(begun=False),
        SourceChosen(source="console"),
    ):
        story = Story(UNANSWERED)
        story.at(5, SourceChosen(source=source))
        story.at(6, Playback(state="playing"))
        story.at(7, Title(begun=True, name="one"))
        assert story.core.title
        story.at(50, end)
        assert not story.core.title


def test_playing_outside_a_title_is_a_preview_where_the_source_says_titles() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="streamer"))
    story.at(6, Playback(state="playing"))
    assert not story.core.title
    assert story.made[-1].facts["playback"] == "unknown"
    story.at(7, shape(2.2))
    story.at(60, None)
    assert story.pictures() == ["whole"]


def test_a_title_begun_twice_is_begun_once_and_the_next_one_is_another() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="streamer"))
    story.at(6, Title(begun=True, name="one"))
    first_minutes = story.core.timers.first_minutes
    story.at(20, Title(begun=True, name="one"))
    assert story.core.timers.first_minutes == first_minutes
    story.at(30, Title(begun=True, name="two"))
    assert story.core.timers.first_minutes != first_minutes


def local(second: float, hours: int) -> TimeOfDay:
    """Tell the time of a clock that is so many hours ahead of UTC."""
    return TimeOfDay(minute=((START // 1_000 + round(second)) // 60 + hours * 60) % 1_440)


def test_a_hub_that_tells_the_time_once_has_new_recalls_at_its_own_noon() -> None:
    """Where clocks are ten hours ahead of UTC, their noon is at two at night in UTC."""
    story = Story(TWO_A_NIGHT)
    story.at(1, local(1, 10))
    story.film(10, 1.78)
    story.at(60, Playback(state="stopped"))
    noon = 6.5 * 3_600
    story.at(noon - 60, Playback(state="unknown"))
    assert story.core.left_night == 1
    story.at(noon + 60, Playback(state="stopped"))
    assert story.core.left_night == 2


@pytest.mark.parametrize(("before", "after"), [(12, 13), (13, 12), (-12, -11), (1, 2), (12, 12)])
def test_a_clock_that_is_moved_brings_no_recalls_and_takes_none(before: int, after: int) -> None:
    story = Story(TWO_A_NIGHT)
    evening = (21.5 - 19.5 - before) % 24 * 3_600  # half past nine there, the first time
    story.at(evening + 30, local(evening + 30, before))
    story.film(evening + 40, 1.78)
    story.at(evening + 100, None)
    assert story.core.left_night == 1
    for hour in range(1, 14):
        story.at(evening + hour * 3_600 + hour, local(evening + hour * 3_600 + hour, after))
        assert story.core.left_night == 1
    story.at(evening + 16 * 3_600, local(evening + 16 * 3_600, after))
    assert story.core.left_night == 2


def test_a_noon_brings_its_recalls_once_however_many_seconds_are_not_told() -> None:
    story = Story(TWO_A_NIGHT)
    noon = round(16.5 * 3_600)
    story.at(10, TimeOfDay(minute=19 * 60 + 30))
    story.at(noon, TimeOfDay(minute=12 * 60))
    story.film(noon + 1, 1.78)
    story.at(noon + 30, None)
    assert story.core.left_night == 1
    for second in (30.5, 59, 60, 119):
        story.at(noon + second, TimeOfDay(minute=12 * 60 + int(second) // 60))
    assert story.core.left_night == 1


def test_a_wish_that_ripened_in_one_title_has_to_stand_anew_in_the_next() -> None:
    story = Story(SILENT)
    story.at(5, SourceChosen(source="streamer"))
    story.at(6, Title(begun=True, name="one"))
    story.at(6.1, Playback(state="playing"))
    story.at(7, shape(2.39))
    story.at(200, shape(1.78))
    story.at(300, Title(begun=True, name="two"))
    story.at(302, shape(2.39))
    story.at(400, None)
    assert story.recalls() == []


def test_playing_said_again_after_a_title_s_end_begins_no_other() -> None:
    story = Story(SILENT)
    story.film(10, 2.39)
    story.at(300, shape(1.78))
    story.at(400, Title(begun=False))
    story.at(460, Playback(state="playing"))
    story.at(600, None)
    assert not story.core.title
    assert story.recalls() == []


def test_a_title_said_again_in_a_long_pause_does_not_keep_the_session() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(11, Title(begun=True, name="one"))
    story.at(60, Override(taken=True))
    story.at(100, Playback(state="paused"))
    story.at(1_400, Title(begun=True, name="one"))
    story.at(1_301 + 3 * 3_600, None)
    assert story.core.override == "rules"
    story.at(20_000, Playback(state="playing"))
    assert (story.core.title, story.core.title_name) == (True, "one")
