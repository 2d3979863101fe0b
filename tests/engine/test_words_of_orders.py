"""Why a picture, a travel or a prompt is ordered, and what is taken back: the words of orders."""

from __future__ import annotations

from engine.decisions import (
    PictureOrder,
    Prompt,
    RecallOrder,
    Withdrawn,
)
from engine.events import (
    Answer,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    Service,
    Signal,
)
from tests.engine.meetings import START
from tests.engine.moments import OVERRIDE, asked, films, ordered, prompted
from tests.engine.story import HAYLOFT, UNANSWERED, Story


def last_picture(story: Story) -> tuple[str, str, str]:
    order = story.of(PictureOrder)[-1]
    return order.picture, order.rule, order.reason


def test_a_picture_is_ordered_in_the_words_of_its_row() -> None:
    story = films()
    assert last_picture(story) == ("plain", "scope", "It fills the screen.")
    story.at(40, Playback(state="stopped"))
    assert last_picture(story)[:2] == ("whole", "menus")


def test_a_shape_of_which_no_row_speaks_is_shown_in_the_words_of_the_otherwise_row() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.5)
    story.at(30, None)
    picture, rule, reason = last_picture(story)
    assert (picture, rule) == ("plain", HAYLOFT.rules.otherwise.label)
    assert reason == "No rule speaks of this shape, so it is shown plain where the lens stands."


def test_what_a_person_wants_is_ordered_in_their_name() -> None:
    story = films()
    story.at(40, Override(taken=True, look=OverrideLook(picture="whole", preset="tall")))
    assert last_picture(story) == ("whole", OVERRIDE, "Somebody asked for it.")
    order = story.of(RecallOrder)[-1]
    assert (order.rule, order.reason) == (OVERRIDE, "Somebody asked for it.")


def test_safety_orders_the_dark_and_the_light_that_comes_back() -> None:
    story = prompted()
    story.at(31, Answer(prompt=asked(story), answer="ready"))
    dark = ("dark", "engine: safety", "Somebody is at the screen: nothing may dazzle them.")
    assert last_picture(story) == dark
    story.at(33, Override(taken=True))
    story.at(40, Answer(prompt=asked(story), answer="done"))
    light = ("plain", "engine: safety", "Nobody is at the screen any more: the light comes back.")
    assert last_picture(story) == light


def test_a_menu_under_an_override_is_made_even() -> None:
    story = Story()
    story.film(1, 2.20)
    story.done(20)
    story.at(30, Override(taken=True))
    story.at(40, Playback(state="stopped"))
    even = ("plain", "engine: menus", "Menus are never stretched.")
    assert last_picture(story) == even


def test_a_picture_under_an_override_draws_back_from_a_panel() -> None:
    story = films()
    story.at(40, Override(taken=True))
    story.at(50, PanelReport(panels="sides"))
    inside = ("plain", "engine: inside the opening", "The picture keeps off the panels.")
    assert last_picture(story) == inside


def test_an_order_is_taken_back_by_its_number_at_that_moment() -> None:
    story = ordered()
    story.at(11, Service(begun=True))
    taken_back = story.of(Withdrawn)
    assert [one.order for one in taken_back] == [1, 2]
    assert {one.at for one in taken_back} == {START + 11_000}
    assert {one.facts["source"] for one in taken_back} == {"disc"}


def test_what_a_newer_order_replaces_is_taken_back_by_its_number() -> None:
    story = ordered()
    story.at(11, Signal(locked=True, columns=1_024, rows=768))
    assert [one.order for one in story.of(Withdrawn)] == [1]
    story.at(12, Playback(state="playing"))
    assert [one.order for one in story.of(Withdrawn)] == [1, 2]


def test_a_prompt_gives_the_words_of_its_row() -> None:
    story = prompted()
    (prompt,) = story.of(Prompt)
    assert (prompt.rule, prompt.reason) == ("scope", "It fills the screen.")
