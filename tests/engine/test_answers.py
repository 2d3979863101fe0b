"""Answers: nobody at the screen is lit by another's word, and a late word counts."""

from __future__ import annotations

import pytest

from engine.decisions import PromptOver
from engine.events import (
    Answer,
    AnswerWord,
    Helper,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    ProjectorReport,
    Service,
    SourceChosen,
    Title,
    Undo,
)
from engine.prompts import MOST_PERIODS, PROMPTS_KEPT
from engine.refusal import Refused
from tests.engine.moments import asked, core_of, ms, prompted
from tests.engine.story import UNANSWERED, Story, given_up_after, shape


def at_screen(who: str | None) -> Story:
    """Somebody has gone to take the side panels off: it is dark."""
    story = prompted()
    story.at(40, Answer(prompt=asked(story), answer="ready", who=who))
    assert story.pictures()[-1] == "dark"
    return story


def ends(story: Story) -> list[str]:
    return [one.how for one in story.of(PromptOver)]


def say(story: Story, second: float, word: AnswerWord, who: str | None = None) -> None:
    story.at(second, Answer(prompt=asked(story), answer=word, who=who))


@pytest.mark.parametrize("word", ["no", "done", "ready"])
@pytest.mark.parametrize("other", ["second", None])
@pytest.mark.parametrize("second", [40, 90])
def test_nobody_else_ends_the_dark_of_whoever_is_at_the_screen(
    word: AnswerWord, other: str | None, second: float
) -> None:
    """Not in the same millisecond either, and neither does a phone that gives no name."""
    story = at_screen("first")
    with pytest.raises(Refused, match="'first' says 'done', until 'all_away'") as refused:
        say(story, second, word, other)
    assert refused.value.code == "at_screen"
    assert story.pictures()[-1] == "dark"
    assert ends(story) == []


def test_whoever_is_at_the_screen_ends_the_dark_with_their_own_word() -> None:
    done = at_screen("first")
    say(done, 90, "done", "first")
    assert (ends(done), done.core.arrangement, done.pictures()[-1]) == (["done"], "open", "plain")
    no = at_screen("first")
    say(no, 90, "no", "first")
    assert (ends(no), no.core.arrangement, no.pictures()[-1]) == (["declined"], None, "plain")


@pytest.mark.parametrize("who", ["first", None])
@pytest.mark.parametrize("other", ["second", None])
def test_anybody_may_say_that_everybody_is_away(who: str | None, other: str | None) -> None:
    """The light comes back, inside what can only be open: nobody knows how the panels stand."""
    story = at_screen(who)
    say(story, 90, "all_away", other)
    assert (ends(story), core_of(story).arrangement) == (["declined"], None)
    assert story.pictures()[-1] == "plain"


def test_that_everybody_is_away_changes_nothing_while_nobody_is_at_the_screen() -> None:
    story = prompted()
    say(story, 40, "all_away")
    assert ends(story) == []


@pytest.mark.parametrize("other", ["second", None])
def test_where_nobody_knows_who_is_at_the_screen_a_no_ends_nothing(other: str | None) -> None:
    story = at_screen(None)
    with pytest.raises(Refused, match="stays dark until their 'done'"):
        say(story, 90, "no", other)
    assert story.pictures()[-1] == "dark"
    say(story, 100, "done", other)
    assert ends(story) == ["done"]


def test_a_second_person_is_not_sent_to_a_screen_at_which_one_is_already() -> None:
    """The first one's `done` would light the second."""
    story = at_screen(None)
    with pytest.raises(Refused, match="somebody is at the screen"):
        say(story, 41, "ready", "second")


def test_before_anybody_is_at_the_screen_everybody_may_say_no() -> None:
    story = prompted()
    say(story, 40, "no", "second")
    assert ends(story) == ["declined"]


def test_a_report_of_the_panels_brings_no_light_to_whoever_still_holds_one() -> None:
    story = at_screen("first")
    story.at(60, PanelReport(panels="open"))
    assert (ends(story), story.core.arrangement) == ([], "open")
    assert story.pictures()[-1] == "dark"
    say(story, 70, "done", "first")
    assert (ends(story), story.pictures()[-1]) == (["done"], "plain")


@pytest.mark.parametrize(
    "look",
    [
        OverrideLook(picture="whole"),
        OverrideLook(preset="broad"),
        OverrideLook(panels="sides"),
        None,
    ],
)
def test_what_anybody_else_wants_meanwhile_waits_and_says_so(look: OverrideLook | None) -> None:
    story = at_screen("first")
    story.at(60, Override(taken=True, look=look, who="second"))
    story.at(60, Playback(state="stopped"))
    story.at(61, SourceChosen(source="console"))
    assert story.pictures()[-1] == "dark"
    assert story.recalls() == []
    assert "at_screen" in story.core.holds


def test_a_technician_and_a_projector_that_goes_off_end_a_prompt_at_the_screen() -> None:
    story = at_screen("first")
    story.at(60, Service(begun=True))
    assert ends(story) == ["withdrawn"]
    other = at_screen("first")
    other.at(60, ProjectorReport(state="off"))
    assert ends(other) == ["withdrawn"]


def expired() -> Story:
    """Side panels were to come off for a scope film; nobody has answered in ten minutes."""
    story = prompted()
    story.at(700, None)
    assert (ends(story), story.core.arrangement) == (["expired"], "sides")
    return story


def test_a_done_after_its_prompt_has_expired_tells_how_the_panels_stand() -> None:
    """What they made possible is done then: the lens may travel once more."""
    story = expired()
    story.at(720, Answer(prompt=story.of(PromptOver)[0].prompt, answer="done"))
    assert story.core.arrangement == "open"
    assert story.recalls() == ["broad"]


def test_whoever_has_done_it_after_all_is_asked_again_for_what_a_later_film_needs() -> None:
    """Nobody had answered, which counted as a `no` for the evening."""
    story = expired()
    before = story.core.panels
    story.at(720, Answer(prompt=story.of(PromptOver)[0].prompt, answer="done"))
    assert (before, story.core.panels) == ("refused", "still")
    story.at(1_000, Playback(state="stopped"))
    story.film(1_010, 1.78)
    story.at(1_300, None)
    assert story.prompts()[-1][0] == "sides"


def test_a_done_that_tells_nothing_of_the_panels_makes_nobody_free() -> None:
    story = expired()
    story.at(720, Answer(prompt=999, answer="done"))
    assert story.core.panels == "refused"


def test_a_done_after_its_prompt_was_withdrawn_tells_how_the_panels_stand() -> None:
    story = prompted()
    number = asked(story)
    story.at(60, SourceChosen(source="console"))
    assert ends(story) == ["withdrawn"]
    story.at(70, Answer(prompt=number, answer="done"))
    assert story.core.arrangement == "open"


def test_a_done_after_a_no_counts_too() -> None:
    story = prompted()
    number = asked(story)
    say(story, 40, "no")
    story.at(70, Answer(prompt=number, answer="done"))
    assert story.core.arrangement == "open"


def test_a_done_for_a_prompt_that_nobody_knows_leaves_the_panels_unknown() -> None:
    """The picture draws back inside all openings, rather than trust what was."""
    story = prompted()
    story.at(40, Answer(prompt=4_000, answer="done"))
    assert core_of(story).arrangement is None


def test_a_done_that_was_heard_is_not_heard_again() -> None:
    """A finger that taps twice must not undo what somebody has done since."""
    story = prompted()
    number = asked(story)
    say(story, 40, "done")
    story.at(50, PanelReport(panels="sides"))
    with pytest.raises(Refused, match="too late"):
        story.at(51, Answer(prompt=number, answer="done"))
    assert story.core.arrangement == "sides"


@pytest.mark.parametrize("word", ["ready", "no", "all_away"])
def test_any_other_late_answer_is_refused(word: AnswerWord) -> None:
    """Whoever is ready too late must not believe that it is dark."""
    story = expired()
    with pytest.raises(Refused, match="not open"):
        story.at(720, Answer(prompt=story.of(PromptOver)[0].prompt, answer=word))


def test_a_late_done_lights_nobody_who_is_at_the_screen_for_another_prompt() -> None:
    story = Story(UNANSWERED, lens="tall", panels="sides")
    story.at(10, SourceChosen(source="disc"))
    story.at(20, Override(taken=True, look=OverrideLook(panels="open")))
    first = asked(story)
    story.at(30, Override(taken=False))
    story.at(40, Override(taken=True, look=OverrideLook(panels="open")))
    say(story, 50, "ready", "first")
    story.at(60, Answer(prompt=first, answer="done", who="second"))
    assert story.core.arrangement == "open"
    assert story.pictures()[-1] == "dark"


def test_only_the_latest_prompts_are_remembered() -> None:
    story = Story(UNANSWERED, lens="tall", panels="sides")
    story.at(10, SourceChosen(source="disc"))
    numbers = []
    for one in range(PROMPTS_KEPT + 1):
        story.at(20 + one, Override(taken=True, look=OverrideLook(panels="open")))
        numbers.append(asked(story))
        story.at(20.5 + one, Override(taken=False))
    assert [one.id for one in story.engine.state.tally.prompts] == numbers[1:]
    story.at(50, Answer(prompt=numbers[0], answer="done"))
    assert core_of(story).arrangement is None
    story.at(51, Answer(prompt=numbers[1], answer="done"))
    assert core_of(story).arrangement == "open"


@pytest.mark.parametrize(
    ("give_up", "warned"), [(60_000, 30_000), (60_001, 30_001)], ids=["half", "whole milliseconds"]
)
def test_whoever_is_at_the_screen_is_warned_in_good_time_however_the_pace_reminds(
    give_up: int, warned: int
) -> None:
    """No room file says so, but a program may: the warning would come at once, and never again."""
    story = Story(given_up_after(give_up), lens="tall", panels="sides")
    story.film(10, 2.39)
    story.at(40, None)
    story.at(40, Answer(prompt=asked(story), answer="ready"))
    assert story.core.timers.give_up == ms(40) + give_up
    assert story.core.timers.remind == ms(40) + warned


def test_while_somebody_is_at_the_screen_nobody_can_say_that_nobody_is_free() -> None:
    story = at_screen("first")
    with pytest.raises(Refused) as refused:
        story.at(50, Helper(free=False))
    words = "somebody is at the screen, so somebody is free"
    assert (refused.value.code, refused.value.words) == ("at_screen", words)


def test_that_everybody_is_away_is_a_no_for_this_title() -> None:
    story = at_screen("first")
    say(story, 90, "all_away")
    assert story.core.refused_until == "title"


def test_whoever_is_at_the_screen_has_so_many_periods_and_no_more() -> None:
    story = at_screen("first")
    period = UNANSWERED.pace.give_up
    assert story.core.asked is not None
    assert story.core.asked.latest == ms(40) + MOST_PERIODS * period


def test_what_stood_before_a_done_can_be_undone() -> None:
    story = Story(UNANSWERED, lens="broad", panels="sides")
    story.film(10, 2.39)
    story.at(40, None)
    say(story, 40, "done")
    assert story.core.undo is not None
    assert story.core.undo.panels == "sides"
    story.at(60, Undo())
    assert story.prompts()[-1] == ("sides", "asked")


def test_a_late_done_that_ends_another_prompt_says_why_and_counts_once() -> None:
    """What was asked for is asked for again meanwhile; the first done was on its way."""
    story = prompted()
    first = asked(story)
    story.at(60, SourceChosen(source="console"))
    story.at(70, Override(taken=True, look=OverrideLook(panels="open")))
    second = asked(story)
    assert second != first
    story.at(80, Answer(prompt=first, answer="done"))
    over = story.of(PromptOver)[-1]
    assert (over.prompt, over.how, over.code) == (second, "done", "answered_late")
    story.at(85, PanelReport(panels="sides"))
    with pytest.raises(Refused, match="too late"):
        story.at(90, Answer(prompt=first, answer="done"))
    assert story.core.arrangement == "sides"


def test_a_no_to_a_title_that_goes_on_sends_nobody_away_who_is_at_the_screen_for_another() -> None:
    story = prompted()
    story.at(40, Answer(prompt=asked(story), answer="no"))
    story.at(50, SourceChosen(source="streamer"))
    story.at(50, Title(begun=True, declared=2.39))
    story.at(50, Playback(state="playing"))
    story.at(51, shape(2.39))
    story.at(80, None)
    story.at(81, Answer(prompt=asked(story), answer="ready"))
    at_screen = core_of(story).asked
    story.at(90, SourceChosen(source="disc"))
    story.at(90, Playback(state="playing"))
    assert core_of(story).title
    assert (core_of(story).asked, core_of(story).panels) == (at_screen, "asked")
