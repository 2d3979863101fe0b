"""Prompts and overrides: what people are asked, what they take over, and how it ends."""

from __future__ import annotations

from datetime import timedelta

import pytest

from engine.decisions import Prompt, PromptOver
from engine.events import (
    Answer,
    LensReport,
    Outcome,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    ProjectorReport,
    Resumed,
    SourceChosen,
    moment_of,
)
from engine.reconcile import NOTHING_LIT
from engine.refusal import Refused
from engine.room import Room
from tests.engine.meetings import START
from tests.engine.moments import asked, prompted
from tests.engine.story import HAYLOFT, SILENT, UNANSWERED, Story, changed, shape

SIDES = OverrideLook(panels="sides")


def ends(story: Story) -> list[str]:
    return [one.how for one in story.of(PromptOver)]


def test_a_prompt_is_asked_reminded_of_and_given_up() -> None:
    story = prompted()
    story.at(23 + 119, None)
    assert len(story.prompts()) == 1
    story.at(23 + 121, None)
    assert story.prompts()[1:] == [("open", "reminded")]
    story.at(23 + 601, None)
    assert ends(story) == ["expired"]
    assert story.core.panels == "refused"
    assert story.core.arrangement == "sides"


def test_nobody_is_asked_again_in_a_session_in_which_nobody_was_free() -> None:
    story = prompted()
    story.at(35, Answer(prompt=asked(story), answer="not_tonight"))
    assert ends(story) == ["declined"]
    story.at(500, Playback(state="stopped"))
    story.film(600, 2.39)
    story.at(640, None)
    assert len(story.prompts()) == 1
    assert "helper" in story.notes()
    story.at(690, Playback(state="stopped"))
    story.at(700, ProjectorReport(state="off"))
    story.at(800, ProjectorReport(state="lit"))
    story.film(1_000, 2.39)
    story.at(1_040, None)
    assert len(story.prompts()) == 2


def test_whoever_is_ready_is_sent_to_the_screen_only_when_it_is_dark() -> None:
    story = Story(HAYLOFT, lens="tall", panels="sides")
    story.film(10, 2.39)
    story.done(11.5)
    story.at(30, None)
    story.at(40, Answer(prompt=asked(story), answer="ready"))
    assert story.pictures()[-1] == "dark"
    assert story.prompts()[-1] == ("open", "asked")
    assert story.core.picture is not None
    story.at(41, Outcome(order=story.core.picture, outcome="done"))
    assert story.prompts()[-1] == ("open", "at the screen")
    assert story.of(Prompt)[-1].words.startswith("The picture is dark now.")
    assert "never look into the lens" in story.of(Prompt)[-1].cautions["beam"]


def test_nobody_is_sent_to_the_screen_while_the_lens_travels() -> None:
    """Somebody is ready, the picture goes dark; meanwhile a remote sends the lens off."""
    story = Story(HAYLOFT, lens="tall", panels="sides")
    story.film(10, 2.39)
    story.done(11.5)
    story.at(30, None)
    story.at(40, Answer(prompt=asked(story), answer="ready"))
    story.at(40.5, LensReport(moving=True, preset=None))
    assert story.core.picture is not None
    story.at(41, Outcome(order=story.core.picture, outcome="done"))
    assert story.prompts() == [("open", "asked")]
    story.at(50, LensReport(moving=False, preset="broad"))
    assert story.prompts() == [("open", "asked"), ("open", "at the screen")]


@pytest.mark.parametrize("outcome", ["refused", "no answer"])
def test_a_picture_that_does_not_go_dark_is_said_so_before_anybody_reaches(outcome: str) -> None:
    story = Story(HAYLOFT, lens="tall", panels="sides")
    story.film(10, 2.39)
    story.done(11.5)
    story.at(30, None)
    story.at(40, Answer(prompt=asked(story), answer="ready"))
    assert story.core.picture is not None
    story.at(41, Outcome(order=story.core.picture, outcome=outcome))  # type: ignore[arg-type]
    assert story.of(Prompt)[-1].words.startswith("The picture could not be made dark")


def test_a_hub_that_says_nothing_of_orders_leaves_the_dark_unconfirmed() -> None:
    story = prompted()
    story.at(40, Answer(prompt=asked(story), answer="ready"))
    assert story.of(Prompt)[-1].words.startswith("The picture should be dark now: make sure")


def test_while_somebody_is_at_the_screen_nothing_travels_and_no_light_comes() -> None:
    story = prompted()
    story.at(40, Answer(prompt=asked(story), answer="ready"))
    story.at(50, Playback(state="stopped"))
    story.at(60, SourceChosen(source="console"))
    story.at(90, Override(taken=True, look=OverrideLook(preset="broad")))
    story.at(200, None)
    assert story.recalls() == []
    assert story.pictures()[-1] == "dark"
    assert ends(story) == []


def test_the_light_comes_back_after_a_warning_inside_what_can_only_be_open() -> None:
    """Nobody answered from the screen: how the panels stand is not known."""
    story = prompted()
    story.at(40, Answer(prompt=asked(story), answer="ready"))
    story.at(40 + 600 - 119, None)
    assert story.prompts()[-1] == ("open", "light comes back")
    assert story.pictures()[-1] == "dark"
    story.at(40 + 601, None)
    assert ends(story) == ["expired"]
    assert story.core.arrangement is None
    assert story.pictures()[-1] == "plain"


def test_panels_taken_off_bring_the_travel_they_were_in_the_way_of() -> None:
    story = prompted()
    story.at(40, Answer(prompt=asked(story), answer="ready"))
    story.at(150, Answer(prompt=asked(story), answer="done"))
    assert ends(story) == ["done"]
    assert story.core.arrangement == "open"
    assert story.recalls() == ["broad"]


def test_a_report_of_the_panels_answers_the_prompt_too() -> None:
    story = prompted()
    story.at(40, PanelReport(panels="open"))
    assert ends(story) == ["done"]


def test_panels_are_fitted_after_the_lens_has_travelled() -> None:
    story = Story(SILENT)
    story.film(10, 1.78)
    story.at(25, None)
    assert (story.recalls(), story.prompts()) == (["tall"], [])
    story.at(45, None)
    assert story.prompts() == [("sides", "asked")]


def test_a_prompt_that_is_not_wanted_any_more_is_taken_back() -> None:
    story = prompted()
    story.at(60, SourceChosen(source="console"))
    assert ends(story) == ["withdrawn"]
    assert story.core.panels == "still"


def test_an_answer_to_another_prompt_is_refused() -> None:
    story = prompted()
    with pytest.raises(Refused, match="is not open"):
        story.at(40, Answer(prompt=asked(story) + 1, answer="no"))
    assert story.core.arrangement == "sides"


def test_an_override_holds_the_look_until_it_is_given_back() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(60, Override(taken=True, look=OverrideLook(picture="whole")))
    assert story.pictures()[-1] == "whole"
    before = len(story.made)
    story.at(200, shape(2.2))
    story.at(300, None)
    assert len(story.made) == before
    story.at(400, Override(taken=False))
    assert story.pictures()[-1] == "gentle"


@pytest.mark.parametrize(("until", "stops"), [("title", True), ("session", False), ("time", False)])
def test_an_override_lasts_as_long_as_it_said(until: str, *, stops: bool) -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    moment = moment_of(START) + timedelta(seconds=900)
    lasting = moment if until == "time" else until
    story.at(60, Override(taken=True, until=lasting))  # type: ignore[arg-type]
    story.at(500, Playback(state="stopped"))
    assert (story.core.override == "rules") is stops
    story.at(901, None)
    assert (story.core.override == "rules") is (until != "session")
    story.at(902, ProjectorReport(state="cooling"))
    assert story.core.override == "rules"


def test_an_override_that_wants_a_preset_gets_it_past_the_room_s_pace() -> None:
    story = Story(SILENT)
    story.film(10, 2.39)
    story.at(60, Override(taken=True, look=OverrideLook(preset="tall")))
    assert story.recalls() == ["tall"]
    story.at(200, Override(taken=True, look=OverrideLook(preset="broad")))
    assert story.recalls() == ["tall", "broad"]
    assert "first_minutes" not in story.notes()


def test_a_picture_stays_inside_the_opening_even_under_an_override() -> None:
    story = Story(UNANSWERED, lens="tall", panels="sides")
    story.film(10, 1.78)
    story.at(60, None)
    story.at(100, LensReport(moving=True, preset="broad"))
    story.at(114, LensReport(moving=False, preset="broad"))
    order = [one for one in story.made if one.rule == "engine: inside the opening"]
    assert order
    assert story.recalls() == []


def test_an_override_for_a_source_that_is_not_shown_is_refused() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    with pytest.raises(Refused, match="which is not shown"):
        story.at(60, Override(taken=True, source="console"))
    assert story.core.override == "rules"


def test_an_override_that_was_to_end_before_it_came_is_refused() -> None:
    story = Story(UNANSWERED)
    with pytest.raises(Refused, match="already past"):
        story.at(60, Override(taken=True, until=moment_of(START)))


def test_the_light_comes_back_to_whoever_took_over_at_the_screen() -> None:
    """A person who wants no picture in particular does not want the dark one."""
    story = prompted()
    story.at(31, Answer(prompt=asked(story), answer="ready"))
    assert story.core.shown == NOTHING_LIT
    story.at(33, Override(taken=True))
    story.at(40, Answer(prompt=asked(story), answer="done"))
    assert story.core.shown is not None
    assert story.core.shown.picture == "plain"


def test_a_menu_is_not_left_stretched_under_an_override() -> None:
    """Who took over in a stretched film gets an even menu when it stops."""
    story = Story()
    story.film(1, 2.20)
    story.done(20)
    assert story.core.shown is not None
    assert story.core.shown.picture == "gentle"
    story.at(30, Override(taken=True))
    story.at(40, Playback(state="stopped"))
    assert story.core.shown.picture == "plain"


def at_the_screen(room: Room = UNANSWERED, who: str | None = None) -> Story:
    """Somebody has gone to take the side panels off, and is told so."""
    story = Story(room, lens="tall", panels="sides")
    story.film(10, 2.39)
    story.done(11.5)
    story.at(30, None)
    story.at(40, Answer(prompt=asked(story), answer="ready", who=who))
    story.done(40.5)
    assert story.prompts()[-1] == ("open", "at the screen")
    return story


@pytest.mark.parametrize("stopped", [530, 700])
def test_after_a_restart_whoever_is_at_the_screen_hears_before_the_light_comes_back(
    stopped: int,
) -> None:
    """The warning fell due while roomcue was not there: it is given first, with all its time."""
    story = at_the_screen()
    made = story.engine.receive(Resumed(), START + stopped * 1_000).decisions
    assert [one.kind for one in made] == []
    story.at(stopped + 1, None)
    assert story.prompts()[-1] == ("open", "light comes back")
    story.at(stopped + 119, None)
    assert story.pictures()[-1] == "dark"
    story.at(stopped + 121, None)
    assert (ends(story), story.pictures()[-1]) == (["expired"], "plain")


def test_a_session_does_not_end_while_somebody_is_at_the_screen() -> None:
    """It ends with their prompt, and takes their refusal with it."""
    story = Story(
        changed(
            ("orders: {answered: yes}\n", ""), ("linger: 12 s", "linger: 12 s\n  session: 5 min")
        )
    )
    story.at(1, SourceChosen(source="disc"))
    story.at(2, Playback(state="stopped"))
    story.at(200, Override(taken=True, look=OverrideLook(panels="sides")))
    story.at(290, Answer(prompt=asked(story), answer="ready"))
    story.at(400, None)
    assert ends(story) == []
    assert story.pictures()[-1] == "dark"
    story.at(891, None)
    assert ends(story) == ["expired"]
    assert (story.core.panels, story.core.override) == ("still", "rules")


def test_a_projector_that_goes_dark_ends_a_prompt_at_the_screen_with_its_session() -> None:
    story = at_the_screen()
    story.at(60, ProjectorReport(state="cooling"))
    assert ends(story) == ["withdrawn"]


def test_a_dark_order_that_failed_for_one_is_given_again_for_the_next() -> None:
    story = Story(HAYLOFT, lens="tall", panels="sides")
    story.film(10, 2.39)
    story.done(11.5)
    story.at(30, None)
    story.at(40, Answer(prompt=asked(story), answer="ready"))
    assert story.core.picture is not None
    story.at(41, Outcome(order=story.core.picture, outcome="refused"))
    story.at(42, Answer(prompt=asked(story), answer="done"))
    story.done(42.5)
    story.at(43, PanelReport(panels="sides"))
    story.done(60)
    story.at(80, None)
    story.at(81, Answer(prompt=asked(story), answer="ready"))
    assert story.pictures()[-1] == "dark"
    assert story.core.picture is not None


def test_who_says_no_at_the_screen_and_then_how_the_panels_stand_is_not_asked_again() -> None:
    story = at_the_screen(who="one")
    story.at(50, Answer(prompt=asked(story), answer="no", who="one"))
    assert story.core.arrangement is None
    story.at(55, PanelReport(panels="sides"))
    story.at(80, None)
    assert story.core.panels == "refused"
    assert ends(story) == ["declined"]


def test_an_override_begun_while_no_session_runs_ends_with_a_session_of_its_own() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    story.at(6, Playback(state="stopped"))
    story.at(20_000, None)
    story.at(20_001, Override(taken=True))
    story.at(20_000 + 3 * 3_600, None)
    assert story.core.override == "person"
    story.at(20_002 + 3 * 3_600, None)
    after = story.core
    assert after.override == "rules"


def test_a_no_when_nothing_plays_and_no_session_runs_ends_with_a_session_of_its_own() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    story.at(6, Playback(state="stopped"))
    story.at(20_000, Override(taken=True, look=OverrideLook(panels="sides")))
    story.at(20_010, Override(taken=False))
    story.at(40_000, None)
    story.at(40_001, Override(taken=True, until=moment_of(START + 41_000_000), look=SIDES))
    story.at(40_002, Answer(prompt=asked(story), answer="no"))
    assert story.core.panels == "refused"
    story.at(60_000, None)
    after = story.core
    assert after.panels == "still"


def test_who_asks_for_what_has_failed_gets_it_tried_once_more() -> None:
    story = Story(HAYLOFT)
    story.film(10, 2.39)
    story.done(11.5)
    story.at(20, Override(taken=True, look=OverrideLook(picture="whole", preset="tall")))
    assert story.core.picture is not None
    story.at(21, Outcome(order=story.core.picture, outcome="refused"))
    assert story.core.recall is not None
    story.at(22, Outcome(order=story.core.recall, outcome="refused"))
    story.at(23, Override(taken=False))
    story.done(24)
    story.at(30, Override(taken=True, look=OverrideLook(picture="whole", preset="tall")))
    assert story.core.picture is not None
    assert story.core.unreached is None
