"""What a family said of a match holds on when it goes on, after the console at half-time."""

from __future__ import annotations

import pytest

from engine.decisions import PromptOver
from engine.events import (
    Answer,
    Helper,
    Override,
    OverrideLook,
    Playback,
    ProjectorReport,
    SourceChosen,
    Title,
)
from engine.room import PLAIN, WHOLE, Room, Show
from engine.state import first_state
from engine.title_records import NO_CHOICE, InterruptedTitle, LastChoice
from engine.titles import play_on as play_title_on
from engine.transaction import Transaction
from tests.engine.meetings import START
from tests.engine.moments import asked, core_of
from tests.engine.story import HAYLOFT, UNANSWERED, Story, changed, shape
from tests.engine.test_last_choice import begin, take


def match(room: Room = HAYLOFT) -> Story:
    """Watch a match without a name that wants its side panels; somebody says no."""
    story = Story(room, lens="tall")
    story.film(10, 1.78)
    story.done(11)
    story.done(100)
    story.at(110, Answer(prompt=asked(story), answer="no"))
    assert (story.core.panels, story.core.refused_until) == ("refused", "title")
    return story


def console(story: Story, begins: float) -> None:
    story.at(begins, SourceChosen(source="console"))
    story.at(begins + 1, Playback(state="playing"))
    story.done(begins + 2)


def play_on(story: Story, second: float) -> None:
    story.at(second, SourceChosen(source="disc"))
    story.at(second + 0.5, Playback(state="playing"))
    story.at(second + 1, shape(1.78))
    story.done(second + 2)


def test_a_no_to_a_match_outlasts_the_console_at_half_time() -> None:
    story = match()
    console(story, 600)
    assert story.core.panels == "still", "nobody has said no to the game"
    play_on(story, 1_000)
    assert (story.core.panels, story.core.refused_until) == ("refused", "title")
    story.done(1_200)
    assert len([one for one in story.prompts() if one == ("sides", "asked")]) == 1


def test_a_no_to_the_match_ends_with_it() -> None:
    story = match()
    console(story, 600)
    play_on(story, 1_000)
    story.at(2_000, Playback(state="stopped"))
    story.at(2_010, Playback(state="playing"))
    assert story.core.panels == "still"


def test_a_prompt_that_is_open_when_the_match_goes_on_is_taken_back() -> None:
    """It was for menus and for what was looked into: nobody fits panels for the match."""
    menus = "show: {picture: whole, lift: 0 %, cues: {lamps: full}}"
    story = match(changed((menus, menus.replace("lift", "panels: sides, lift"))))
    story.at(600, SourceChosen(source="streamer"))
    story.at(600, Title(begun=True, name="episode"))
    story.at(600, Playback(state="playing"))
    story.at(601, shape(1.78))
    story.done(602)
    story.done(900)
    assert core_of(story).asked is not None
    play_on(story, 1_000)
    over = story.of(PromptOver)[-1]
    assert (over.how, over.code) == ("withdrawn", "answered_no")
    assert core_of(story).asked is None


def test_whoever_asks_for_panels_takes_an_earlier_no_back() -> None:
    """They said it in a long pause: what goes on after it takes nothing from them."""
    story = match()
    story.at(600, Playback(state="paused"))
    later = 600 + HAYLOFT.pace.pause / 1_000 + 60
    story.done(later - 30)
    take(story, later, OverrideLook(panels="sides"))
    number = asked(story)
    story.at(later + 30, Playback(state="playing"))
    assert core_of(story).title
    assert asked(story) == number


def test_an_episode_that_goes_on_belongs_to_its_series_still() -> None:
    story = Story(UNANSWERED)
    begin(story, 10, "first", "all of them")
    story.at(600, SourceChosen(source="console"))
    story.at(700, SourceChosen(source="disc"))
    story.at(701, Playback(state="playing"))
    assert (story.core.title_name, story.core.series) == ("first", "all of them")


def test_a_match_is_kept_for_as_long_as_a_pause_may_last_and_not_a_moment_longer() -> None:
    for late, goes_on in ((-0.001, True), (0, False)):
        story = match()
        console(story, 600)
        story.at(600 + HAYLOFT.pace.pause / 1_000 + late, SourceChosen(source="disc"))
        assert (core_of(story).interrupted is not None) is goes_on


def test_a_choice_for_the_match_does_not_outlast_the_session() -> None:
    story = match()
    take(story, 200, OverrideLook(picture=WHOLE))
    console(story, 600)
    story.at(700, ProjectorReport(state="off"))
    assert [(one.refused, one.choice) for one in story.core.left] == [(False, NO_CHOICE)]


def test_a_no_that_is_taken_back_at_the_console_is_taken_back_for_the_match() -> None:
    story = match()
    console(story, 600)
    story.at(700, Helper(free=True))
    play_on(story, 1_000)
    assert story.core.panels != "refused"


@pytest.mark.parametrize(("refused", "stands"), [(False, "still"), (True, "refused")])
def test_a_no_to_what_was_looked_into_is_none_to_the_match(*, refused: bool, stands: str) -> None:
    state = first_state(HAYLOFT)
    core = state.core
    core.source, core.playback = "disc", "playing"
    core.panels, core.refused_until = "refused", "title"
    tx = Transaction(HAYLOFT, state, START)
    play_title_on(tx, InterruptedTitle(None, None, refused=refused))
    assert tx.core.panels == stands


def test_a_no_that_was_taken_back_before_half_time_is_none_after_it() -> None:
    story = match()
    story.at(300, Helper(free=True))
    console(story, 600)
    play_on(story, 1_000)
    assert story.core.panels != "refused"


def test_a_film_that_goes_on_is_known_to_have_subtitles_and_to_change_its_shape() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    for second in (400, 410):
        story.at(second, shape(2.39, bottom=150))
        story.at(second + 3, shape(2.39))
    for second in (500, 560):
        story.at(second, shape(1.78))
        story.at(second + 30, shape(2.39))
    story.at(600, None)
    assert (story.core.subtitles, story.core.varies) == (True, True)
    console(story, 601)
    assert (core_of(story).subtitles, core_of(story).varies) == (False, False)
    story.at(700, SourceChosen(source="disc"))
    story.at(701, Playback(state="playing"))
    assert (core_of(story).subtitles, core_of(story).varies) == (True, True)


def test_a_no_to_the_match_does_not_outlast_the_session() -> None:
    story = match()
    story.at(600, ProjectorReport(state="off"))
    story.at(610, ProjectorReport(state="lit"))
    assert story.core.title, "the match goes on"
    assert story.core.panels == "still"


def test_what_was_chosen_for_a_match_without_a_name_stands_again_when_it_goes_on() -> None:
    story = match()
    take(story, 200, OverrideLook(picture=WHOLE))
    console(story, 600)
    assert story.core.override == "rules"
    play_on(story, 1_000)
    assert (story.core.override, story.core.override_look) == ("person", Show(WHOLE))


def test_what_is_kept_of_a_match_is_what_was_to_last_for_it_and_nothing_else() -> None:
    story = match()
    story.at(200, Override(taken=True, until="session", look=OverrideLook(picture=WHOLE)))
    story.at(210, Override(taken=True, until="session", look=OverrideLook(cues={"lamps": "full"})))
    console(story, 600)
    assert [one.choice for one in story.core.left] == [NO_CHOICE]
    other = match()
    take(other, 210, OverrideLook(cues={"lamps": "full"}))
    console(other, 600)
    assert [one.choice for one in other.core.left] == [LastChoice(None, (("lamps", "full"),))]


def test_a_choice_for_the_match_is_not_kept_where_the_room_is_given_back_first() -> None:
    story = match()
    take(story, 200, OverrideLook(picture=PLAIN))
    story.at(300, Override(taken=False))
    console(story, 600)
    play_on(story, 1_000)
    assert story.core.override == "rules"


def test_of_a_title_without_a_name_nothing_is_remembered() -> None:
    story = match()
    take(story, 200)
    story.at(2_000, Playback(state="stopped"))
    assert story.core.titles == ()
