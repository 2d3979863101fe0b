"""Where titles and sessions begin and end, what falls due, what is wished for.

Each test fails if a condition is left out or turned round.
"""

from __future__ import annotations

from typing import Any, cast

import pytest

from engine import RoomEngine
from engine.decisions import CueOrder, Decision, Note, PictureOrder, Prompt
from engine.events import (
    Answer,
    LensReport,
    Outcome,
    Override,
    OverrideLook,
    Playback,
    PlaybackState,
    ProjectorReport,
    Resumed,
    Service,
    SourceChosen,
    Title,
    moment_of,
)
from engine.state import Core
from tests.engine.meetings import START
from tests.engine.moments import BARE, asked, core_of, films, ms, prompted
from tests.engine.story import HAYLOFT, UNANSWERED, Story, changed, shape

# ------------------------------------------------------------------------------------------- titles


def test_a_title_begins_with_its_first_minutes_its_recalls_and_a_shape_to_come() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    story.at(10, Playback(state="playing"))
    core = story.core
    assert core.title
    assert core.interrupted is None
    assert core.ripe is False
    assert core.left_title == 1
    assert core.timers.first_minutes == ms(10 + 90)
    assert core.timers.shape == ms(10 + 4 + 2)
    assert core.timers.session is None


def test_a_session_runs_on_while_a_title_is_only_announced() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="streamer"))
    due = story.core.timers.session
    assert due is not None
    story.at(6, Title(begun=True, name="one"))
    assert core_of(story).timers.session == due
    story.at(7, Playback(state="playing"))
    assert core_of(story).timers.session is None


def test_a_title_that_ends_takes_all_that_was_known_of_it() -> None:
    story = films()
    story.at(31, shape(2.39, bottom=120))
    story.at(60, Title(begun=True, name="one", declared=2.39))
    assert core_of(story).title_name == "one"
    story.at(300, Title(begun=False))
    core = story.core
    assert (core.title, core.title_name, core.declared) == (False, None, None)
    assert (core.shapes, core.varies, core.tallest, core.subtitles) == ((), False, None, False)
    assert core.left_title == 1
    assert (core.timers.first_minutes, core.timers.shape) == (None, None)


def test_a_title_that_ends_in_its_first_minutes_has_none_any_more() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    story.at(10, Playback(state="playing"))
    story.at(12, Title(begun=False))
    timers = core_of(story).timers
    assert (timers.first_minutes, timers.shape) == (None, None)


def test_an_override_for_the_session_outlasts_its_title() -> None:
    story = films()
    story.at(40, Override(taken=True, until="session"))
    story.at(50, Title(begun=False))
    assert core_of(story).override == "person"


def test_a_title_that_is_stopped_is_not_kept_for_later_and_a_paused_one_is() -> None:
    for state, kept in (("paused", True), ("stopped", False)):
        story = films()
        story.at(60, Title(begun=True, name="one"))
        story.at(61, Playback(state=cast("PlaybackState", state)))
        story.at(62, ProjectorReport(state="off"))
        assert (core_of(story).interrupted is not None) is kept
        assert not core_of(story).title


def test_a_session_starts_running_where_nothing_plays_and_does_not_begin_again() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    due = ms(5) + UNANSWERED.pace.session
    assert core_of(story).timers.session == due
    story.at(6, SourceChosen(source="console"))
    assert core_of(story).timers.session == due
    story.at(7, Playback(state="playing"))
    assert core_of(story).timers.session is None
    story.at(8, Playback(state="paused"))
    assert core_of(story).timers.session is None
    story.at(9, Playback(state="stopped"))
    assert core_of(story).timers.session == ms(9) + UNANSWERED.pace.session


@pytest.mark.parametrize("playback", ["playing", "paused"])
def test_no_session_runs_out_while_somebody_watches_or_will_after_the_pause(
    playback: PlaybackState,
) -> None:
    """Whatever else happens; but after a pause that has become a stop it does."""
    story = films()
    story.at(40, Playback(state=playback))
    story.at(41, Override(taken=True, until="session"))
    assert core_of(story).timers.session is None
    story.at(42, Title(begun=True, name="another"))
    assert core_of(story).timers.session is None
    if playback == "paused":
        story.at(40 + 20 * 60, None)
        assert core_of(story).timers.session is not None


def test_a_session_ends_with_its_refusals() -> None:
    story = prompted()
    story.at(40, Answer(prompt=asked(story), answer="no"))
    assert core_of(story).panels == "refused"
    story.at(50, ProjectorReport(state="off"))
    assert core_of(story).panels == "still"
    assert core_of(story).timers.session is None


def test_a_title_that_begins_in_what_plays_has_its_shape_to_come_too() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="streamer"))
    story.at(6, Playback(state="playing"))
    timers = core_of(story).timers
    assert (timers.shape, timers.session) == (None, None)
    story.at(10, Title(begun=True))
    assert core_of(story).timers.shape == ms(10 + 4 + 2)


def test_a_wish_begins_to_linger_anew_in_the_next_title() -> None:
    story = Story(BARE)
    story.film(10, 1.78)
    story.at(12, Title(begun=True, name="one"))
    assert core_of(story).timers.linger == ms(12 + 12)
    assert core_of(story).timers.linger_people == ms(12 + 12)
    story.at(20, Title(begun=True, name="two"))
    assert core_of(story).timers.linger == ms(20 + 12)
    assert core_of(story).timers.linger_people == ms(20 + 12)


def test_an_override_that_is_given_back_leaves_nothing() -> None:
    story = films()
    look = OverrideLook(picture="whole")
    story.at(40, Override(taken=True, until=moment_of(ms(900)), look=look))
    story.at(41, Override(taken=False))
    core = story.core
    assert (core.override, core.override_until, core.override_look) == ("rules", "session", None)
    assert core.timers.override is None


def test_a_session_waits_for_whoever_is_at_the_screen_unless_the_light_is_gone() -> None:
    for state, open_still in (("off", False), ("cooling", False), ("warming", True)):
        story = prompted()
        story.at(40, Answer(prompt=asked(story), answer="ready"))
        story.at(41, ProjectorReport(state=cast("Any", state)))
        assert (core_of(story).asked is not None) is open_still


def test_orders_that_are_taken_back_are_forgotten() -> None:
    story = Story(HAYLOFT)
    story.at(10, SourceChosen(source="disc"))
    story.at(11, Service(begun=True))
    core = story.core
    assert (core.picture, core.shown, core.open_cues) == (None, None, ())
    assert (core.timers.picture, core.timers.cue) == (None, None)


def test_what_failed_may_be_tried_again_when_the_light_the_source_or_the_technician_goes() -> None:
    for second in (
        SourceChosen(source="console"),
        ProjectorReport(state="warming"),
        Service(begun=True),
        Title(begun=True),
    ):
        story = Story(HAYLOFT)
        story.at(10, SourceChosen(source="disc"))
        story.at(11, Outcome(order=story.core.picture or 0, outcome="refused"))
        assert core_of(story).failed
        story.at(12, second)
        assert not core_of(story).failed


def test_only_a_title_that_plays_has_shapes() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="streamer"))
    story.at(6, Title(begun=True))
    story.at(7, shape(2.39))
    story.at(20, None)
    assert core_of(story).shapes == ()
    story.at(21, Playback(state="playing"))
    story.at(27, None)
    assert core_of(story).shapes == (23_900,)


def test_a_title_varies_when_an_earlier_shape_comes_back_and_not_before() -> None:
    story = films()
    assert (core_of(story).shapes, core_of(story).varies) == ((23_900,), False)
    story.at(110, shape(1.78))
    story.at(120, None)
    assert (core_of(story).shapes, core_of(story).varies) == ((23_900, 17_778), False)
    assert core_of(story).tallest == 17_778
    story.at(200, shape(2.39))
    story.at(210, None)
    assert (core_of(story).shapes, core_of(story).varies) == ((17_778, 23_900), True)
    assert core_of(story).tallest == 17_778


def test_of_a_title_s_shapes_the_last_four_are_kept() -> None:
    story = films()
    for number, ratio in enumerate((2.2, 2.0, 1.85, 1.66)):
        story.at(100 + 20 * number, shape(ratio))
    story.at(200, None)
    assert len(core_of(story).shapes) == 4
    assert not core_of(story).varies
    assert 23_900 not in core_of(story).shapes


# ---------------------------------------------------------------------------------------- deadlines


def test_a_prompt_is_reminded_of_at_its_time_and_expires_at_its_time() -> None:
    story = prompted()
    timers = story.core.timers
    assert timers.remind is not None
    assert timers.give_up is not None
    assert timers.give_up - timers.remind == 480_000
    story.at((timers.remind - START - 1) / 1_000, None)
    assert core_of(story).panels == "asked"
    story.at((timers.remind - START) / 1_000, None)
    assert core_of(story).panels == "reminded"
    story.at((timers.give_up - START - 1) / 1_000, None)
    assert core_of(story).asked is not None
    story.at((timers.give_up - START) / 1_000, None)
    assert core_of(story).panels == "refused"
    assert core_of(story).asked is None
    assert core_of(story).refused_until == "session"


def test_a_long_pause_lets_the_session_run_from_then() -> None:
    story = films()
    story.at(100, Playback(state="paused"))
    assert core_of(story).timers.pause == ms(100 + 1_200)
    story.at(1_299.9, None)
    assert not core_of(story).pause_over
    story.at(1_300, None)
    assert core_of(story).pause_over
    assert core_of(story).timers.session == ms(1_300) + UNANSWERED.pace.session


def test_each_cue_has_its_own_time() -> None:
    room = changed(
        ("  lamps: full or low\n", "  lamps: full or low\n  door: shut or ajar\n"),
        ("lift: 0 %, cues: {lamps: full}}", "lift: 0 %, cues: {lamps: full, door: ajar}}"),
    )
    story = Story(room)
    story.at(10, SourceChosen(source="disc"))
    assert [cue.cue for cue in core_of(story).open_cues] == ["door", "lamps"]
    story.at(12, Playback(state="playing"))
    assert core_of(story).timers.cue == ms(15)
    story.at(15, None)
    assert [cue.cue for cue in core_of(story).open_cues] == ["lamps"]
    assert core_of(story).timers.cue == ms(17)


# --------------------------------------------------------------------------------------------- step


def away(story: Story, second: float) -> list[Decision]:
    """Come back after a stop: nobody was there when things fell due."""
    return [*story.engine.receive(Resumed(), ms(second)).decisions]


def test_after_a_stop_what_fell_due_is_known_but_nobody_is_sent_for_it() -> None:
    story = prompted()
    made = away(story, 200)
    assert core_of(story).panels == "reminded"
    assert [one for one in made if isinstance(one, Prompt)] == []
    made = away(story, 5_000)
    assert core_of(story).panels == "refused"
    assert "helper" in [one.code for one in made if isinstance(one, Note)]


def test_after_a_stop_what_falls_due_at_that_very_moment_is_done_too() -> None:
    story = prompted()
    remind = story.core.timers.remind
    assert remind is not None
    away(story, (remind - START) / 1_000)
    assert story.core.panels == "reminded"


def test_after_a_stop_all_is_told_that_fell_due_one_after_the_other() -> None:
    story = Story(HAYLOFT)
    story.at(10, LensReport(moving=True, preset="tall"))
    story.at(11, Override(taken=True, until=moment_of(ms(20))))
    made = away(story, 60)
    codes = [one.code for one in made if isinstance(one, Note)]
    assert codes == ["override_ended", "lens_lost"]


@pytest.mark.parametrize(("seconds", "again"), [(12, ["picture"]), (60, ["picture", "cue"])])
def test_after_a_stop_no_order_is_called_failed_whose_outcome_may_be_lost(
    seconds: int, again: list[str]
) -> None:
    """Nobody was there to hear of it, so it is given again; a cue that still has time goes on."""
    story = Story(HAYLOFT)
    story.at(9, ProjectorReport(state="lit"))
    made = story.at(10, SourceChosen(source="disc"))
    made += away(story, seconds)
    given = [one for one in made if isinstance(one, PictureOrder | CueOrder)]
    assert [one.kind for one in given] == ["picture", "cue", *again]
    assert len({one.id for one in given}) == len(given)
    assert [one.code for one in made if isinstance(one, Note)] == []
    assert (story.core.failed, story.engine.state.tally.failed_cues) == (False, ())


def test_after_a_stop_whoever_is_at_the_screen_is_warned_at_once() -> None:
    story = prompted()
    story.at(40, Answer(prompt=asked(story), answer="ready"))
    before = story.core.timers
    away(story, 100)
    assert core_of(story).timers.give_up == before.give_up
    away(story, 40 + 480)
    timers = story.core.timers
    assert timers.remind == ms(520) + 1
    assert timers.give_up == ms(520) + 1 + 120_000


def test_a_stop_without_anybody_at_the_screen_warns_nobody() -> None:
    story = prompted()
    give_up = story.core.timers.give_up
    away(story, 300)
    assert core_of(story).timers.give_up == give_up


def test_a_core_that_is_copied_is_equal_and_another() -> None:
    core = films().core
    assert core.copy() == core
    assert core.copy() is not core
    assert isinstance(core, Core)
    assert RoomEngine(UNANSWERED).state.core == RoomEngine(UNANSWERED).state.core
