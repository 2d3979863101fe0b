"""What readings, outcomes and other reports change, and on which conditions.

Each test fails if a condition is left out or turned round.
"""

from __future__ import annotations

import pytest

from engine import RoomEngine
from engine.events import (
    BarsSeen,
    FormatCode,
    LensReport,
    Outcome,
    PanelReport,
    Playback,
    ProjectorReport,
    RatioSeen,
    Resumed,
    Service,
    Signal,
    SourceChosen,
    TimeOfDay,
    Title,
    ToldFact,
)
from tests.engine.meetings import START
from tests.engine.moments import core_of, films, ms, prompted, settled_on, travelling
from tests.engine.story import HAYLOFT, UNANSWERED, Story, changed, shape

# ----------------------------------------------------------------------------------------- readings


def test_readings_of_a_source_that_is_left_alone_or_has_its_shape_count_for_nothing() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="console"))
    before = story.engine.state.settling
    story.at(6, shape(2.39))
    story.at(7, RatioSeen(ratio=2.39, id="a"))
    assert story.engine.state.settling == before


@pytest.mark.parametrize("alone", ["shape: 1.78", "leave_alone: yes"])
def test_each_of_the_two_is_enough_for_readings_to_count_for_nothing(alone: str) -> None:
    room = changed(
        ("orders: {answered: yes}\n", ""),
        ("console: {shape: 1.78, leave_alone: yes}", f"console: {{{alone}}}"),
    )
    story = Story(room)
    story.film(10, 2.39, "console")
    story.at(30, None)
    assert settled_on(story) is None


def test_a_format_code_that_leaves_the_shape_open_changes_nothing() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    before = story.engine.state
    story.at(6, FormatCode(code=0, frame="4:3"))
    assert story.engine.state.settling == before.settling
    assert core_of(story).frame == 17_778


def test_bars_of_a_coarse_raster_are_read_in_the_frame_that_was_told() -> None:
    def settled(rows: int) -> int | None:
        story = Story(UNANSWERED)
        story.at(5, SourceChosen(source="disc"))
        story.at(6, FormatCode(code=8, frame="4:3"))
        story.at(7, BarsSeen(top=0, bottom=0, left=0, right=0, columns=1_280, rows=rows))
        story.at(30, None)
        return story.engine.state.settling.aspect

    assert settled(719) == 13_333
    assert settled(720) == 17_778


@pytest.mark.parametrize(
    ("given", "aspect"),
    [
        ({"top_ends": 138, "bottom_starts": 943}, 23_851),
        ({"left_ends": 240, "right_starts": 1_681}, 13_333),
    ],
)
def test_bar_data_of_a_format_code_say_the_shape(given: dict[str, int], aspect: int) -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    story.at(6, FormatCode(code=0, frame="16:9", columns=1_920, rows=1_080, **given))  # type: ignore[arg-type]
    story.at(30, None)
    assert abs((story.engine.state.settling.aspect or 0) - aspect) < 60


def test_without_a_signal_readings_wait_and_the_last_counts_when_it_is_back() -> None:
    story = films()
    story.at(100, Signal(locked=False))
    assert core_of(story).parked is not None
    assert story.engine.state.settling.since == ms(100)
    story.at(101, shape(1.78))
    story.at(120, None)
    assert settled_on(story) == 23_900
    story.at(121, Signal(locked=True))
    assert core_of(story).parked is None
    story.at(130, None)
    assert settled_on(story) == 17_778


def test_another_source_in_a_pause_has_no_reading_yet() -> None:
    story = films()
    story.at(100, Signal(locked=False))
    story.at(101, shape(1.78))
    story.at(102, SourceChosen(source="streamer"))
    story.at(103, Signal(locked=True))
    story.at(130, None)
    assert settled_on(story) is None


def test_readings_still_wait_when_a_source_in_a_pause_gets_its_name() -> None:
    story = Story(UNANSWERED)
    story.at(5, Playback(state="paused"))
    story.at(6, shape(2.39))
    story.at(7, SourceChosen(source="console"))
    assert core_of(story).parked is not None
    assert core_of(story).parked == (None, None)


# ----------------------------------------------------------------------------------------- handlers


def test_a_source_said_again_changes_nothing() -> None:
    story = films()
    before = story.engine.state.core.copy()
    story.at(40, SourceChosen(source="disc"))
    assert story.core == before


def test_another_source_begins_with_nothing_known_of_what_it_plays() -> None:
    story = films()
    story.at(100, Playback(state="paused"))
    story.at(101, SourceChosen(source="streamer"))
    core = story.core
    assert (core.playback, core.pause_over, core.title, core.interrupted) == (
        "unknown",
        False,
        False,
        None,
    )
    assert core.timers.pause is None
    assert core.timers.session == ms(101) + UNANSWERED.pace.session


def test_playback_said_again_starts_no_pause_anew() -> None:
    story = films()
    story.at(100, Playback(state="paused"))
    story.at(200, Playback(state="paused"))
    assert core_of(story).timers.pause == ms(100 + 1_200)
    story.at(1_400, None)
    assert core_of(story).pause_over
    story.at(1_401, Playback(state="playing"))
    assert core_of(story).pause_over is False


def test_a_pause_keeps_the_session() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    assert core_of(story).timers.session is not None
    story.at(6, Playback(state="paused"))
    assert core_of(story).timers.session is None


def test_a_film_that_is_played_on_waits_for_its_shape_only_if_it_has_none() -> None:
    story = films()
    story.at(100, Playback(state="paused"))
    story.at(110, Playback(state="playing"))
    assert core_of(story).timers.shape is None
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    story.at(6, Playback(state="playing"))
    story.at(7, Playback(state="paused"))
    story.at(8, Playback(state="playing"))
    assert core_of(story).timers.shape == ms(8 + 6)


def test_a_ratio_counts_only_from_a_source_that_may_declare_it() -> None:
    for source, declared in (("disc", 23_900), ("streamer", None)):
        story = Story(UNANSWERED)
        story.at(5, SourceChosen(source=source))
        story.at(6, Title(begun=True, declared=2.39))
        assert core_of(story).declared == declared
    story = Story(UNANSWERED)
    story.at(6, Title(begun=True, declared=2.39))
    assert core_of(story).declared == 23_900
    story.at(7, SourceChosen(source="streamer"))
    assert core_of(story).declared is None


def test_what_is_played_on_after_a_title_s_end_is_no_title() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="streamer"))
    story.at(6, Title(begun=False))
    story.at(7, Playback(state="playing"))
    assert not core_of(story).title


def test_more_that_is_said_of_a_title_is_added_to_it() -> None:
    story = films()
    story.at(40, Title(begun=True, declared=2.39))
    assert core_of(story).declared == 23_900
    assert core_of(story).timers.first_minutes == ms(11 + 90)
    story.at(41, Title(begun=True, name="one"))
    story.at(42, Title(begun=True, declared=1.85))
    assert (core_of(story).title_name, core_of(story).declared) == ("one", 18_500)
    assert core_of(story).timers.first_minutes == ms(41 + 90)
    story.at(43, Title(begun=True, name="two"))
    assert (core_of(story).title_name, core_of(story).declared) == ("two", None)
    assert core_of(story).timers.first_minutes == ms(43 + 90)


def test_a_signal_says_its_raster_its_range_and_whether_it_is_in_3d() -> None:
    story = films()
    story.at(40, Signal(locked=True, columns=1_920, rows=1_080, range="high", three_d=False))
    core = story.core
    assert (core.columns, core.rows, core.range, core.three_d) == (1_920, 1_080, "high", False)
    story.at(100, shape(2.39))
    story.at(110, None)
    story.at(111, Signal(locked=True))
    assert settled_on(story) == 23_900
    assert (core_of(story).range, core_of(story).three_d) == ("high", False)
    story.at(112, Signal(locked=True, columns=1_920, rows=800))
    assert core_of(story).frame == 24_000


@pytest.mark.parametrize(
    ("columns", "rows", "frame"),
    [(1_024, 768, 13_333), (1_080, 720, 15_000), (720, 576, 17_778), (1_024, None, 17_778)],
)
def test_a_raster_of_square_pixels_tells_the_frame(
    columns: int, rows: int | None, frame: int
) -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    story.at(6, Signal(locked=True, columns=columns, rows=rows))
    assert core_of(story).frame == frame


def test_a_told_fact_goes_back_to_what_it_was_at_first() -> None:
    room = changed(("guests: yes or no", "guests: {values: yes or no, at_first: no}"))
    story = Story(room)
    assert dict(core_of(story).told) == {"guests": False}
    story.at(5, ToldFact(fact="guests", value=True))
    story.at(6, ToldFact(fact="guests", value=None))
    assert dict(core_of(story).told) == {"guests": False}


def test_a_number_may_be_nought_at_most_or_at_least() -> None:
    room = changed(("guests: yes or no", "guests: yes or no\n  below: -3 to 0\n  above: 0 to 3"))
    story = Story(room)
    story.at(5, ToldFact(fact="below", value=0))
    story.at(5, ToldFact(fact="above", value=0))
    for fact, value in (("below", 1), ("above", -1)):
        reply = story.engine.receive(ToldFact(fact=fact, value=value), ms(6))
        assert reply.refusal is not None
    assert dict(core_of(story).told) == {"below": 0, "above": 0}


def test_light_that_comes_gives_a_title_its_first_minutes_anew() -> None:
    story = films()
    story.at(50, ProjectorReport(state="warming"))
    assert core_of(story).title
    assert core_of(story).shown is None
    story.at(60, ProjectorReport(state="lit"))
    assert core_of(story).timers.first_minutes == ms(60 + 90)
    story.at(70, ProjectorReport(state="lit"))
    assert core_of(story).timers.first_minutes == ms(60 + 90)


def test_a_projector_that_turns_out_to_be_lit_keeps_the_picture_that_was_ordered() -> None:
    """Until its first report it counts as lit: the picture stands already."""
    engine = RoomEngine(UNANSWERED)
    engine.receive(PanelReport(panels="open"), ms(0))
    engine.receive(SourceChosen(source="disc"), ms(5))
    shown = engine.state.core.shown
    assert shown is not None
    assert engine.receive(ProjectorReport(state="lit"), ms(6)).decisions == ()
    assert engine.state.core.shown == shown


def test_a_technician_who_finishes_leaves_a_picture_that_nobody_knows() -> None:
    story = films()
    before = len(story.pictures())
    story.at(50, Service(begun=False))
    assert len(story.pictures()) == before
    story.at(60, Service(begun=True))
    assert core_of(story).shown is None
    story.at(70, Service(begun=False))
    assert len(story.pictures()) == before + 1


def test_a_technician_ends_a_prompt_without_a_refusal() -> None:
    story = prompted()
    story.at(40, Service(begun=True))
    assert (core_of(story).asked, core_of(story).panels) == (None, "still")


def test_a_restart_learns_the_time_and_keeps_what_is_known_of_a_travel() -> None:
    story = travelling()
    ends = story.core.timers.travel
    story.at(26, Resumed(minute=1_200))
    assert core_of(story).minute == 1_200
    assert core_of(story).unreached is None
    assert core_of(story).timers.travel == ends
    assert story.travels() == {"tall": (1, 0, 1)}
    story.at(27, Resumed())
    assert core_of(story).minute == 1_200


def test_a_restart_keeps_what_was_not_reached_before() -> None:
    story = travelling()
    story.at(26, Outcome(order=story.core.recall or 0, outcome="refused"))
    story.at(27, LensReport(moving=True, preset="broad"))
    story.at(28, Resumed())
    assert core_of(story).unreached == "tall"


def test_a_restart_knows_nothing_of_a_picture_that_was_on_its_way() -> None:
    story = Story(HAYLOFT)
    story.at(10, SourceChosen(source="disc"))
    first = story.core.picture
    story.at(11, Resumed())
    assert core_of(story).picture not in (None, first)
    story.done(12)
    second = story.core.shown
    before = len(story.pictures())
    story.at(13, Resumed())
    assert len(story.pictures()) == before
    assert core_of(story).shown == second


def test_the_room_s_clock_tells_in_whole_quarters_how_far_it_is_from_utc() -> None:
    minute = START % 86_400_000 // 60_000
    for apart in (0, 60, -60, 330, 345):
        story = Story(UNANSWERED)
        story.at(0, TimeOfDay(minute=(minute + apart) % 1_440))
        assert core_of(story).minute == (minute + apart) % 1_440
        assert core_of(story).apart % 900_000 == 0
        assert (core_of(story).apart - apart * 60_000) % 86_400_000 == 0


@pytest.mark.parametrize(("wrong", "quarters"), [(7, 0), (-7, 0), (8, 1), (-8, -1)])
def test_a_clock_that_is_a_few_minutes_wrong_is_in_the_nearest_zone(
    wrong: int, quarters: int
) -> None:
    minute = START % 86_400_000 // 60_000
    story = Story(UNANSWERED)
    story.at(0, TimeOfDay(minute=minute + wrong))
    assert core_of(story).apart == quarters * 900_000


# ----------------------------------------------------------------------------------------- outcomes


def test_a_cue_that_failed_counts_as_set() -> None:
    story = Story(HAYLOFT)
    story.at(10, SourceChosen(source="disc"))
    (cue,) = story.core.open_cues
    assert core_of(story).timers.cue == ms(10 + 5)
    story.at(11, Outcome(order=cue.id, outcome="refused"))
    assert (core_of(story).open_cues, core_of(story).cues) == ((), (("lamps", "full"),))
    assert core_of(story).timers.cue is None


def test_a_picture_that_is_done_is_no_longer_open() -> None:
    story = Story(HAYLOFT)
    story.at(10, SourceChosen(source="disc"))
    assert core_of(story).timers.picture == ms(10 + 5)
    story.at(11, Outcome(order=story.core.picture or 0, outcome="done"))
    assert (core_of(story).picture, core_of(story).failed) == (None, False)
    assert core_of(story).timers.picture is None
    assert story.notes() == []
