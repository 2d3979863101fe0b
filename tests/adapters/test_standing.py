"""How a room stands, for a phone that comes late: complete, and without what nobody knows."""

from __future__ import annotations

from typing import Any

import pytest

from adapters.live.messages import rfc3339
from adapters.live.standing import ON_THE_WAY, standing_data, standing_for_asker
from engine.events import (
    Answer,
    Forget,
    LensReport,
    Outcome,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    ProjectorReport,
    SourceChosen,
    Title,
    Undo,
)
from engine.room import Room
from tests.engine.meetings import START
from tests.engine.story import HAYLOFT, UNANSWERED, Story, shape


def stands(story: Story) -> dict[str, Any]:
    return standing_data(story.room, story.engine.state)


def asked(room: Room = UNANSWERED) -> tuple[Story, int]:
    """A scope film has begun with the side panels left from yesterday: they shall come off."""
    story = Story(room, lens="tall", panels="sides")
    story.film(10, 2.39)
    story.at(30, None)
    assert story.core.asked is not None
    return story, story.core.asked.id


def test_a_late_phone_gets_the_whole_prompt() -> None:
    story, number = asked()
    prompt = stands(story)["prompt"]
    assert (prompt["id"], prompt["panels"], prompt["stage"]) == (number, "open", "asked")
    assert prompt["words"] == "Please take the two side panels off."
    assert list(prompt["cautions"]) == ["ready_first", "room_light", "no_if_busy"]
    assert prompt["choices"]["ready"] == "Ready"
    assert (prompt["at_screen"], prompt["who"]) == (False, None)
    ends = (story.core.timers.give_up or 0) - START
    assert prompt["ends"].startswith(f"2026-11-22T19:{30 + ends // 60_000}:")


def test_it_says_whose_the_prompt_is_and_what_they_may_answer_then() -> None:
    story, number = asked(HAYLOFT)
    story.done(31)
    story.at(40, Answer(prompt=number, answer="ready", who="Ana"))
    prompt = stands(story)["prompt"]
    assert (prompt["stage"], prompt["who"]) == (ON_THE_WAY, "Ana")
    assert prompt["words"] == "The picture goes dark."
    assert "ready" not in prompt["choices"]
    assert "no" in prompt["choices"]
    story.done(41)
    prompt = stands(story)["prompt"]
    assert prompt["stage"] == "at the screen"
    assert "The picture is dark now." in prompt["words"]
    story.at(40 + 600 - 119, None)
    assert stands(story)["prompt"]["stage"] == "light comes back"


def test_without_a_name_nobodys_no_is_offered_at_the_screen() -> None:
    story, number = asked()
    story.at(40, Answer(prompt=number, answer="ready"))
    assert [*stands(story)["prompt"]["choices"]] == ["done", "all_away", "more_time"]


def test_what_is_ordered_is_said_to_stand_only_once_the_hub_says_so() -> None:
    story = Story()
    story.at(1, SourceChosen(source="disc"))
    parts = stands(story)["parts"]
    assert parts["picture"] == {"stands": None, "ordered": "whole", "failed": None}
    assert {one["stands"] for one in parts["cues"].values()} == {None}
    story.done(2)
    parts = stands(story)["parts"]
    assert parts["picture"] == {"stands": "whole", "ordered": None, "failed": None}
    assert {one["ordered"] for one in parts["cues"].values()} == {None}
    assert parts["preset"]["stands"] == "broad"
    assert parts["panels"]["stands"] == "open"


def test_with_a_hub_that_says_nothing_of_orders_they_stay_only_ordered() -> None:
    story = Story(UNANSWERED)
    story.at(1, SourceChosen(source="disc"))
    parts = stands(story)["parts"]
    assert parts["picture"]["ordered"] == "whole"
    assert all(one["ordered"] for one in parts["cues"].values())


@pytest.mark.parametrize("outcome", ["refused", "no answer"])
def test_what_failed_is_not_said_to_stand(outcome: str) -> None:
    story = Story()
    story.at(1, SourceChosen(source="disc"))
    core = story.core
    for number in (core.picture, *(one.id for one in core.open_cues)):
        assert number is not None
        story.at(2, Outcome(order=number, outcome=outcome))  # type: ignore[arg-type]
    parts = stands(story)["parts"]
    assert parts["picture"] == {"stands": None, "ordered": None, "failed": "whole"}
    assert [(one["stands"], bool(one["failed"])) for one in parts["cues"].values()] == [
        (None, True)
    ]


def test_a_lens_on_its_way_is_ordered_and_a_persons_is_not_ours() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(60, Override(taken=True, look=OverrideLook(preset="tall"), until="title"))
    told = stands(story)
    assert told["parts"]["preset"] == {"stands": None, "ordered": "tall", "failed": None}
    assert [one["code"] for one in told["next"]] == ["lens_arrives"]
    assert (told["override"], told["override_until"]) == ("person", "title")
    assert told["override_look"]["preset"] == "tall"
    assert told["why"] == {"code": "person_asked", "words": "Somebody asked for it."}
    assert told["undo"] == {"picture": None, "lift": None, "preset": "broad", "panels": None}
    by_hand = Story(UNANSWERED)
    by_hand.at(1, LensReport(moving=True, preset="tall"))
    assert stands(by_hand)["parts"]["preset"]["ordered"] is None


def test_it_says_what_comes_next_and_when() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(12, None)
    told = stands(story)
    (lens,) = told["next"]
    assert (lens["code"], lens["words"], lens["number"]) == ("lens", "The lens moves.", None)
    assert lens["at"] == rfc3339(story.core.timers.linger or 0)
    assert told["why"]["code"] == "linger"


def test_it_says_which_title_is_on_and_how_far_its_shape_is_known() -> None:
    story = Story(UNANSWERED)
    assert stands(story)["title"] is None
    story.film(10, 2.39)
    assert stands(story)["title"]["name"] is None
    story.at(11, Title(begun=True, name="an episode", declared=1.78))
    assert stands(story)["title"] == {
        "name": "an episode",
        "shape": 1.7778,
        "known_by": "declared",
        "remembered_as": None,
        "last_choice": None,
        "varies": False,
    }


def test_it_says_by_which_name_a_title_is_remembered_until_that_is_forgotten() -> None:
    story = Story(UNANSWERED)
    for begins in (10, 1_000):
        story.at(begins, Title(begun=True, name="first", series="all of them"))
        story.film(begins, 2.39)
        if begins == 10:
            assert stands(story)["title"]["remembered_as"] is None
            story.at(600, Playback(state="stopped"))
    title = stands(story)["title"]
    assert (title["known_by"], title["remembered_as"]) == ("remembered", "all of them")
    story.at(1_060, Forget(name=title["remembered_as"]))
    title = stands(story)["title"]
    assert (title["known_by"], title["remembered_as"]) == ("seen", None)


def test_it_says_what_was_chosen_last_for_the_title_that_is_on() -> None:
    story = Story(UNANSWERED)
    story.at(10, Title(begun=True, name="film"))
    story.film(10, 2.39)
    look = OverrideLook(picture="whole", cues={"lamps": "full"})
    story.at(60, Override(taken=True, until="title", look=look))
    named = {"picture": "whole", "lift": None, "preset": None, "panels": None}
    assert stands(story)["title"]["last_choice"] == {"look": named, "cues": {"lamps": "full"}}
    story.at(70, Override(taken=False))
    assert stands(story)["title"]["last_choice"] is None


def test_it_says_in_one_sentence_why_it_stands_so() -> None:
    story = Story(UNANSWERED)
    assert stands(story)["why"] == {"code": "no_source", "words": "Nothing is being shown yet."}
    story.at(1, SourceChosen(source="disc"))
    story.at(1, Playback(state="stopped"))
    why = stands(story)["why"]
    assert why["code"] == "row"
    assert why["words"] in {row.because for row in story.room.rules.rows}
    story.at(2, ProjectorReport(state="off"))
    assert stands(story)["why"]["code"] == "projector"


def test_panels_that_nobody_knows_are_not_said_to_stand() -> None:
    story, _ = asked()
    assert stands(story)["undo"] is None
    assert stands(story)["parts"]["panels"] == {
        "stands": "sides",
        "ordered": "open",
        "failed": None,
    }
    story.at(40, PanelReport(panels=None))
    assert stands(story)["parts"]["panels"]["stands"] is None


def test_nothing_is_said_to_stand_before_the_hub_has_said_so() -> None:
    story = Story()
    story.at(1, SourceChosen(source="disc"))
    told = stands(story)
    assert [told[part] for part in ("picture", "lift", "region")] == [None] * 3
    story.done(2)
    told = stands(story)
    assert (told["picture"], told["lift"]) == ("whole", 0)
    assert told["region"]["width"] > 0


def test_a_preset_stands_only_once_the_lens_is_there() -> None:
    story = Story(UNANSWERED)
    assert stands(story)["preset"] == "broad"
    story.film(10, 1.78)
    story.at(25, LensReport(moving=True, preset="tall"))
    assert (stands(story)["lens"], stands(story)["preset"]) == ("travelling", None)
    story.at(40, LensReport(moving=False, preset="tall"))
    assert stands(story)["preset"] == "tall"


@pytest.mark.parametrize("outcome", ["refused", "no answer"])
def test_a_picture_that_failed_does_not_stand(outcome: str) -> None:
    story = Story()
    story.at(1, SourceChosen(source="disc"))
    story.at(2, Outcome(order=story.core.picture or 0, outcome=outcome))  # type: ignore[arg-type]
    assert stands(story)["picture"] is None


def test_it_says_what_may_be_chosen_and_of_the_rest_why_not_and_what_would_help() -> None:
    story = Story(UNANSWERED)
    story.at(1, SourceChosen(source="disc"))
    story.at(1, Playback(state="stopped"))
    looks = stands(story)["looks"]
    assert [one["name"] for one in looks["picture"]] == ["plain", "whole", "gentle", "cropped"]
    assert [one["name"] for one in looks["preset"]] == ["broad", "tall"]
    assert [one["name"] for one in looks["panels"]] == ["open", "sides"]
    plain, _, gentle, _ = looks["picture"]
    assert plain == {"name": "plain", "hold": None, "why": None, "help": None}
    assert gentle == {
        "name": "gentle",
        "hold": "menu",
        "why": "A menu is not stretched: what you chose counts once something plays.",
        "help": "It goes on once something plays.",
    }


def test_it_says_in_words_what_undo_would_do_and_when_that_moved() -> None:
    story = Story(UNANSWERED)
    assert [stands(story)[name] for name in ("undo", "undo_words", "undo_since")] == [None] * 3
    story.film(10, 2.39)
    story.at(60, Override(taken=True, look=OverrideLook(preset="tall"), until="title"))
    story.at(75, None)
    told = stands(story)
    assert told["undo_words"] == "The lens goes back to where it was."
    assert told["undo_since"] == rfc3339(START + 60_000)


def test_it_says_whose_doing_undo_would_put_back() -> None:
    """The room's own, a person's by name, or a person's who gave none."""
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.film(30, 2.20)
    story.at(50, None)
    assert [stands(story)[name] for name in ("undo_by", "undo_who")] == ["rules", None]
    for second, who in ((60, "Ana"), (120, None)):
        preset = "tall" if who else "broad"
        look = OverrideLook(preset=preset)
        story.at(second, Override(taken=True, look=look, until="title", who=who))
        story.at(second + 20, LensReport(moving=False, preset=preset))
        assert [stands(story)[name] for name in ("undo_by", "undo_who")] == ["person", who]
    story.at(160, Undo(who="Rui"))
    assert stands(story)["undo_who"] == "Rui"


def test_whoever_asks_hears_all_that_is_remembered_and_nobody_else_is_told() -> None:
    story = Story(UNANSWERED)
    for number, name in enumerate(("first", "second")):
        begins = 10 + number * 1_000
        story.at(begins, Title(begun=True, name=name))
        story.film(begins, 2.39)
        story.at(begins + 600, Playback(state="stopped"))
    assert stands(story)["remembered"] is None
    assert standing_for_asker(story.room, story.engine.state)["remembered"] == [
        {"name": "second", "shape": 2.39, "last_choice": None},
        {"name": "first", "shape": 2.39, "last_choice": None},
    ]
    story.at(2_000, Forget(name="second"))
    assert standing_for_asker(story.room, story.engine.state)["remembered"] == [
        {"name": "first", "shape": 2.39, "last_choice": None},
    ]


def test_it_says_what_is_wanted_where_something_keeps_it_back() -> None:
    """A film turns out to be another shape long after its first minutes: the lens waits."""
    story = Story(UNANSWERED)
    assert stands(story)["wanted"] is None
    story.film(10, 2.39)
    story.at(101, shape(1.78))
    story.at(400, None)
    told = stands(story)
    assert (told["preset"], told["wanted"]["preset"]) == ("broad", "tall")
    assert "first_minutes" in told["holds"]
