"""What a person asks for outranks the pace; it is counted all the same, and never unsafe."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine import RoomEngine
from engine.decisions import PictureOrder, Prompt, PromptOver
from engine.events import (
    Answer,
    Event,
    LensReport,
    Outcome,
    Override,
    OverrideLook,
    Playback,
    ProjectorReport,
    Service,
    SourceChosen,
)
from engine.refusal import Refused
from engine.state import Core
from tests.engine.meetings import START, evenings, events
from tests.engine.moments import BARE, asked, films, lost, prompted
from tests.engine.story import HAYLOFT, SILENT, TWO_A_NIGHT, UNANSWERED, Story, changed, shape

TALL = Override(taken=True, look=OverrideLook(preset="tall"))
BROAD = Override(taken=True, look=OverrideLook(preset="broad"))
SIDES = Override(taken=True, look=OverrideLook(panels="sides"))


def test_a_preset_is_recalled_in_mid_film_and_after_the_title_s_recalls() -> None:
    story = films(SILENT)
    for second, wish in ((1_000, TALL), (1_100, BROAD), (1_200, TALL)):
        story.at(second, wish)
        assert story.core.left_title == 0
    assert story.recalls() == ["tall", "broad", "tall"]


def test_a_preset_is_recalled_after_the_night_s_recalls_and_each_is_counted() -> None:
    story = films(TWO_A_NIGHT)
    for second, wish in ((100, TALL), (200, BROAD), (300, TALL)):
        story.at(second, wish)
    assert story.recalls() == ["tall", "broad", "tall"]
    assert story.core.left_night == 0
    story.at(400, None)
    assert story.travels() == {"broad": (1, 0, 1), "tall": (2, 0, 2)}


def test_the_rules_have_no_more_recalls_once_a_person_has_used_them_up() -> None:
    story = Story(TWO_A_NIGHT)
    story.at(10, SourceChosen(source="disc"))
    story.at(11, Playback(state="stopped"))
    for second, wish in ((100, TALL), (200, BROAD)):
        story.at(second, wish)
    story.at(300, Override(taken=False))
    story.film(310, 1.78)
    story.at(380, None)
    assert story.recalls() == ["tall", "broad"]
    assert "per_night" in story.core.holds


def test_a_preset_that_was_refused_is_tried_once_more_for_each_new_wish() -> None:
    """The same wish again is a new one once it has failed."""
    story = films(BARE)
    for second in (100, 200):
        story.at(second, TALL)
        assert story.core.recall is not None
        story.at(second + 1, Outcome(order=story.core.recall, outcome="refused"))
        story.at(second + 50, None)
        assert "unreached" in story.core.holds
    assert story.recalls() == ["tall", "tall"]


def test_a_picture_that_was_refused_is_tried_once_more_for_each_new_wish() -> None:
    story = films(HAYLOFT)
    story.done(31)
    wish = Override(taken=True, look=OverrideLook(picture="whole", lift=0.05))
    for second in (100, 200):
        story.at(second, wish)
        assert story.core.picture is not None
        story.at(second + 1, Outcome(order=story.core.picture, outcome="refused"))
    assert story.pictures()[-2:] == ["whole", "whole"]


def test_panels_are_asked_for_in_mid_film_whatever_was_refused_before() -> None:
    story = prompted()
    story.at(40, Answer(prompt=asked(story), answer="no"))
    story.at(1_000, Override(taken=True, look=OverrideLook(panels="open")))
    assert story.prompts() == [("open", "asked"), ("open", "asked")]


def test_a_no_to_a_person_s_own_prompt_holds_until_they_ask_again() -> None:
    story = films()
    story.at(100, SIDES)
    story.at(110, Answer(prompt=asked(story), answer="no"))
    story.at(900, None)
    assert story.prompts() == [("sides", "asked")]
    assert "helper" in story.core.holds
    story.at(901, SIDES)
    assert story.prompts() == [("sides", "asked"), ("sides", "asked")]


def test_a_person_s_prompt_that_nobody_answers_is_not_asked_again_and_again() -> None:
    story = films()
    story.at(100, SIDES)
    story.at(5_000, None)
    assert [one.how for one in story.of(PromptOver)] == ["expired"]


def test_a_lens_that_stands_at_no_preset_is_found_in_mid_film_for_whoever_asks() -> None:
    """The picture stays inside what any place of the lens leaves safe until it arrives."""
    story = films()
    story.at(100, LensReport(moving=True, preset=None))
    story.at(110, LensReport(moving=False, preset=None))
    story.at(120, BROAD)
    assert story.recalls() == ["broad"]
    story.at(135, LensReport(moving=False, preset="broad"))
    assert (story.core.lens, story.core.holds) == ("resting", ())


def test_a_lens_that_may_still_be_on_its_way_is_not_sent_off_for_anybody() -> None:
    story = lost()
    story.at(27, TALL)
    story.at(67, None)
    assert (story.recalls(), story.core.holds) == (["tall"], ("lens_unknown",))
    story.at(68, None)
    assert story.recalls() == ["tall", "tall"]


def test_a_lift_raises_the_picture_that_stands_and_leaves_its_name() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.20)
    story.at(30, None)
    story.at(100, Override(taken=True, look=OverrideLook(lift=0.02)))
    order = story.of(PictureOrder)[-1]
    assert (order.picture, order.lift, order.rule) == ("gentle", 0.02, "engine: override")
    story.at(200, Override(taken=True, look=OverrideLook(lift=0)))
    assert story.of(PictureOrder)[-1].lift == 0


def test_a_lift_ends_with_the_override_also_where_no_row_speaks_of_lifts() -> None:
    """The picture would stand off the middle on every evening that follows."""
    silent = changed(
        ("show: {picture: gentle, lift: 0 %", "show: {picture: gentle"),
        ("orders: {answered: yes}\n", ""),
    )
    story = Story(silent)
    story.film(10, 2.20)
    story.at(30, None)
    story.at(100, Override(taken=True, look=OverrideLook(lift=0.02)))
    story.at(200, Override(taken=False))
    assert story.of(PictureOrder)[-1].lift == 0


@pytest.mark.parametrize("lift", [-0.01, 0.51, True, "0.1", float("nan")])
def test_a_lift_is_a_share_of_the_screen_s_height(lift: Any) -> None:  # noqa: ANN401
    with pytest.raises(Refused, match=r"plain number from 0 to 0\.5"):
        OverrideLook(lift=lift)


# ----------------------------------------------------------- whatever the evening has been before


def unmet(look: OverrideLook, core: Core) -> list[str]:
    """Name the parts of a person's wish that are neither ordered nor answered with a reason."""
    if core.holds:
        return []
    shown, asked_for = core.shown, None if core.asked is None else core.asked.panels
    undone = {
        "preset": look.preset not in {None, core.preset},
        "panels": look.panels not in {None, core.arrangement, asked_for},
        "picture": look.picture not in {None, shown.picture if shown else None},
        "lift": look.lift not in {None, shown.lift / 10_000 if shown else None},
    }
    return [part for part, wanting in undone.items() if wanting]


@given(evening=evenings(HAYLOFT), data=st.data())
def test_whatever_a_person_asks_for_is_done_or_answered_with_a_reason(
    evening: list[tuple[int, Event]], data: st.DataObject
) -> None:
    """Within the one step in which they ask, from whatever has been lived through."""
    engine, now = RoomEngine(HAYLOFT), START
    for wait, event in evening:
        now += wait
        engine.receive(event, now)
    named = st.sampled_from
    look = OverrideLook(
        picture=data.draw(named([None, "plain", "whole", *HAYLOFT.pictures])),
        lift=data.draw(named([None, 0, 0.11])),
        preset=data.draw(named([None, *HAYLOFT.presets])),
        panels=data.draw(named([None, *HAYLOFT.panels])),
    )
    reply = engine.receive(Override(taken=True, look=look), now)
    assert reply.refusal is None
    assert unmet(look, engine.state.core) == []


@given(evening=evenings(UNANSWERED), event=events(UNANSWERED), who=st.sampled_from(["first", None]))
def test_a_person_at_the_screen_is_never_lit_by_anybody_else_s_word(
    evening: list[tuple[int, Event]], event: Event, who: str | None
) -> None:
    """Only their own word, the word that all are away, a technician, or a lamp that goes off."""
    story = prompted()
    engine, now = story.engine, START + 40_000
    number = asked(story)
    engine.receive(Answer(prompt=number, answer="ready", who=who), now)
    for wait, one in (*evening, (0, event)):
        now += min(wait, 10_000)
        if now > START + 400_000 or _theirs(one, number, who):
            continue
        engine.receive(one, now)
        core = engine.state.core
        assert core.asked is not None
        assert core.asked.at_screen
        assert core.shown is None or core.shown.picture == "dark"


def _theirs(event: Event, number: int, who: str | None) -> bool:
    """Tell whether an event may bring the light back on whoever is at the screen."""
    match event:
        case Answer():
            own = event.who == who if who is not None else event.answer == "done"
            return event.prompt == number and (own or event.answer == "all_away")
        case Service(begun=True):
            return True
        case ProjectorReport():
            return event.state in {"off", "cooling"}
        case _:
            return False


def regions(story: Story, second: float) -> list[tuple[str, int, int, str]]:
    """Give the pictures that were ordered from a second on: name, width, height and reason."""
    made = (one for one in story.of(PictureOrder) if one.at >= START + second * 1_000)
    return [(one.picture, one.region.width, one.region.height, one.code) for one in made]


def test_to_another_preset_alone_the_picture_is_fitted_anew_once_the_lens_is_there() -> None:
    """On the way it stays as small as it was, for it has to be safe at both ends."""
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(15, TALL)
    assert (story.recalls(), regions(story, 15)) == (["tall"], [])
    story.at(16, LensReport(moving=True, preset="tall"))
    story.at(31, LensReport(moving=False, preset="tall"))
    assert regions(story, 31) == [("plain", 3_840, 2_160, "person_asked")]


def test_to_other_panels_alone_the_picture_is_fitted_anew_once_they_stand() -> None:
    story = Story(UNANSWERED, lens="tall", panels="sides")
    story.film(10, 2.39)
    story.at(12, None)
    story.at(15, Override(taken=True, look=OverrideLook(panels="open")))
    assert regions(story, 15) == []
    story.at(40, Answer(prompt=story.of(Prompt)[-1].id, answer="done"))
    assert regions(story, 40) == [("plain", 4_096, 1_713, "person_asked")]


def test_a_picture_that_another_lens_cannot_show_is_plain_there_and_they_are_told() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.20)
    story.at(20, None)
    assert story.pictures()[-1] == "gentle"
    story.at(30, TALL)
    story.at(31, LensReport(moving=True, preset="tall"))
    story.at(46, LensReport(moving=False, preset="tall"))
    assert story.pictures()[-1] == "plain"
    assert "nearest" in story.notes()


@pytest.mark.parametrize(("ratio", "stood"), [(2.20, "gentle"), (2.39, "plain")])
def test_a_menu_is_distorted_and_cut_for_nobody_who_names_only_the_lens(
    ratio: float, stood: str
) -> None:
    """They have named no picture, so nothing of what they chose waits for the film."""
    story = Story(UNANSWERED)
    story.film(10, ratio)
    story.at(20, None)
    story.at(30, BROAD)
    assert story.pictures()[-1] == stood
    story.at(100, Playback(state="stopped"))
    story.at(101, None)
    frame = 1_778
    assert shown(story) == ("plain", frame)
    assert "menu" not in story.core.holds
    story.at(150, Playback(state="playing"))
    story.at(151, shape(ratio))
    story.at(160, None)
    assert shown(story) == ("plain", round(ratio * 1_000))


def shown(story: Story) -> tuple[str, int]:
    """Give the picture that was ordered last, and its shape in thousandths."""
    order = story.of(PictureOrder)[-1]
    return order.picture, round(order.aspect * 1_000)


def test_whoever_wants_it_left_as_it_is_gets_no_other_picture_when_the_shape_changes() -> None:
    story = films(SILENT)
    story.at(100, Override(taken=True, until="title"))
    story.at(110, shape(1.78))
    story.at(130, None)
    assert regions(story, 100) == []


def with_lines() -> Story:
    """A scope film with subtitles is raised at the broad preset."""
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    for second in (20, 26, 32):
        story.at(second, shape(2.39, bottom=150))
        story.at(second + 3, shape(2.39))
    assert story.of(PictureOrder)[-1].lift == 0.11
    return story


def test_a_picture_that_a_person_names_is_not_raised_for_the_lines_of_another() -> None:
    """The whole frame has its lines in it, and raised its top would be off the screen."""
    story = with_lines()
    story.at(40, Override(taken=True, look=OverrideLook(picture="whole")))
    order = story.of(PictureOrder)[-1]
    assert (order.picture, order.lift) == ("whole", 0)


def test_whoever_names_only_the_lens_keeps_the_lift_until_the_title_ends() -> None:
    """Neither the menu nor the next film would be whole on the screen."""
    story = with_lines()
    story.at(40, BROAD)
    story.at(41, None)
    assert story.of(PictureOrder)[-1].lift == 0.11
    story.at(100, Playback(state="stopped"))
    story.at(101, None)
    assert story.of(PictureOrder)[-1].lift == 0
    story.film(150, 1.78)
    story.at(160, None)
    assert story.of(PictureOrder)[-1].lift == 0
