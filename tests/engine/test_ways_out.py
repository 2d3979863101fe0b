"""Always a way out: not now, not tonight, more time, undo, find the lens, automatic again."""

from __future__ import annotations

import pytest

from engine.decisions import Note, PictureOrder, Prompt, PromptOver
from engine.events import (
    Answer,
    FindLens,
    Helper,
    LensReport,
    Outcome,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    SourceChosen,
    Title,
    Undo,
    moment_of,
)
from engine.prompts import MOST_PERIODS, stage_of
from engine.refusal import Refused
from rules.room.load import load
from simulator.shipped import CELLAR
from tests.engine.meetings import START
from tests.engine.moments import BARE, asked, core_of, films, ms, prompted, travelling
from tests.engine.story import UNANSWERED, Story, shape

PERIOD = 600
"""How long a prompt is open in the hayloft, in seconds."""


def ends(story: Story) -> list[str]:
    return [one.how for one in story.of(PromptOver)]


# ------------------------------------------------------------------------ not now, and not tonight


def test_a_no_is_for_this_title_and_the_next_one_asks_again() -> None:
    story = prompted()
    story.at(35, Answer(prompt=asked(story), answer="no"))
    story.at(400, None)
    assert len(story.prompts()) == 1
    story.at(500, Playback(state="stopped"))
    story.film(600, 2.39)
    story.at(640, None)
    assert story.prompts() == [("open", "asked"), ("open", "asked")]


def test_a_no_holds_for_a_title_that_is_played_on_after_a_long_pause() -> None:
    story = prompted()
    story.at(35, Answer(prompt=asked(story), answer="no"))
    story.at(40, Playback(state="paused"))
    story.at(40 + 1_300, Playback(state="playing"))
    assert (story.core.title, story.core.panels) == (True, "refused")
    story.at(40 + 1_400, Playback(state="stopped"))
    story.at(40 + 1_500, Playback(state="playing"))
    assert core_of(story).panels != "refused"


def test_not_tonight_is_for_the_whole_session() -> None:
    story = prompted()
    story.at(35, Answer(prompt=asked(story), answer="not_tonight"))
    assert ends(story) == ["declined"]
    story.at(500, Playback(state="stopped"))
    story.film(600, 2.39)
    story.at(640, None)
    assert len(story.prompts()) == 1
    assert "helper" in story.core.holds


def test_a_no_can_be_taken_back() -> None:
    story = prompted()
    story.at(35, Answer(prompt=asked(story), answer="not_tonight"))
    story.at(60, Helper(free=True))
    assert story.prompts() == [("open", "asked"), ("open", "asked")]


def test_nobody_is_free_can_be_said_before_anybody_is_asked() -> None:
    story = Story(UNANSWERED, lens="tall", panels="sides")
    story.at(5, Helper(free=False))
    assert [one.code for one in story.of(Note)] == ["nobody_free"]
    story.film(10, 2.39)
    story.at(60, None)
    assert story.prompts() == []


def test_nobody_is_free_ends_an_open_prompt_and_makes_a_no_last_for_the_session() -> None:
    story = prompted()
    story.at(35, Helper(free=False))
    assert (ends(story), story.core.refused_until) == (["declined"], "session")
    other = prompted()
    other.at(35, Answer(prompt=asked(other), answer="no"))
    other.at(36, Helper(free=False))
    assert other.core.refused_until == "session"


def test_a_room_in_which_nobody_is_ever_asked_has_no_helper() -> None:
    cellar = load(CELLAR.read_text("utf-8"), CELLAR.name)
    with pytest.raises(Refused) as refused:
        Story(cellar, lens="fixed").at(5, Helper(free=False))
    words = "this room has one panel arrangement, so nobody is ever asked"
    assert (refused.value.code, refused.value.words) == ("not_asked", words)


# --------------------------------------------------------------------------------------- more time


def test_more_time_gives_a_prompt_its_whole_time_again_but_not_for_ever() -> None:
    story = prompted()
    opened = story.core.timers.give_up
    assert opened is not None
    first = (opened - START) / 1_000 - PERIOD
    for at in (500, 1_000):
        story.at(first + at, Answer(prompt=asked(story), answer="more_time"))
        assert core_of(story).timers.give_up == ms(first + at + PERIOD)
    story.at(first + 1_500, Answer(prompt=asked(story), answer="more_time"))
    last = ms(first + MOST_PERIODS * PERIOD)
    assert core_of(story).timers.give_up == last
    assert story.of(Prompt)[-1].ends == last
    with pytest.raises(
        Refused, match=r"^that prompt has had all the time that there is$"
    ) as refused:
        story.at(first + 1_510, Answer(prompt=asked(story), answer="more_time"))
    assert refused.value.code == "no_more_time"
    story.at(first + MOST_PERIODS * PERIOD, None)
    assert ends(story) == ["expired"]


def test_more_time_at_the_screen_is_anybody_s_to_give_and_warns_again() -> None:
    story = prompted()
    story.at(40, Answer(prompt=asked(story), answer="ready", who="first"))
    story.at(40 + PERIOD - 119, None)
    assert story.prompts()[-1] == ("open", "light comes back")
    assert story.core.asked is not None
    assert stage_of(story.core, story.core.asked) == "light comes back"
    story.at(40 + PERIOD - 100, Answer(prompt=asked(story), answer="more_time", who="second"))
    assert story.prompts()[-1] == ("open", "at the screen")
    story.at(40 + 2 * PERIOD - 110, None)
    assert story.pictures()[-1] == "dark"
    story.at(40 + 2 * PERIOD - 100, None)
    assert story.pictures()[-1] == "plain"
    assert [stage for _, stage in story.prompts()].count("light comes back") == 2


# -------------------------------------------------------------------------------------------- undo


def test_undo_puts_the_picture_back_for_this_title() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(30, Override(taken=True, until="session", look=OverrideLook(picture="whole")))
    story.at(31, Undo(who="second"))
    assert (story.core.override_until, story.pictures()[-1]) == ("session", "plain")


def test_undo_of_what_the_rules_did_lasts_for_the_title() -> None:
    """A gentle stretch of a nearly wide film; the family would rather have it plain."""
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(20, None)
    story.at(25, shape(2.2))
    story.at(40, None)
    assert story.pictures()[-1] == "gentle"
    story.at(60, Undo())
    order = story.of(PictureOrder)[-1]
    assert (order.picture, order.rule) == ("plain", "engine: override")
    story.at(500, Playback(state="stopped"))
    assert story.core.override == "rules"


def test_undo_lets_a_raised_picture_down_again() -> None:
    """Standing in the middle is as much a place as any: nothing raised is put back too."""
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(30, Override(taken=True, look=OverrideLook(lift=0.11)))
    story.at(31, Undo())
    assert [one.lift for one in story.of(PictureOrder)][-2:] == [0.11, 0]


def test_undo_brings_no_picture_back_that_could_not_be_had() -> None:
    """What took its place at once is no change; what stood before both is put back."""
    story = films(UNANSWERED, ratio=2.20)
    for second, picture in ((100, "whole"), (110, "cropped")):
        story.at(second, Override(taken=True, look=OverrideLook(picture=picture)))
        assert story.pictures()[-1] == picture
    story.at(120, LensReport(moving=True, preset="tall"))
    story.at(135, LensReport(moving=False, preset="tall"))
    story.at(136, None)
    assert (story.pictures()[-1], story.core.holds) == ("plain", ("nearest",))
    story.at(140, Undo())
    assert story.pictures()[-1] == "whole"


def test_undo_twice_is_as_before() -> None:
    story = films()
    story.at(40, Override(taken=True, look=OverrideLook(picture="whole")))
    story.at(50, Undo())
    story.at(60, Undo())
    assert story.pictures()[-2:] == ["plain", "whole"]


def test_undo_sends_the_lens_back_whatever_the_pace_says() -> None:
    story = Story(BARE)
    story.film(10, 1.78)
    story.at(25, None)
    assert story.recalls() == ["tall"]
    story.at(40, LensReport(moving=False, preset="tall"))
    assert story.core.left_title == 0
    story.at(500, Undo())
    assert story.recalls() == ["tall", "broad"]


def test_undo_asks_for_the_panels_that_stood_before() -> None:
    story = prompted()
    story.at(40, Answer(prompt=asked(story), answer="done"))
    story.at(41, LensReport(moving=False, preset="broad"))
    story.at(42, Undo())
    assert story.recalls()[-1] == "tall"
    other = Story(BARE, panels="sides")
    other.at(5, SourceChosen(source="disc"))
    other.at(6, Override(taken=True, look=OverrideLook(panels="open")))
    other.at(7, Answer(prompt=asked(other), answer="done"))
    other.at(8, Undo())
    assert other.prompts()[-1] == ("sides", "asked")


def test_the_dark_and_a_report_are_nothing_to_undo() -> None:
    story = prompted()
    before = story.core.undo
    story.at(40, Answer(prompt=asked(story), answer="ready"))
    story.at(50, PanelReport(panels="open"))
    assert core_of(story).undo == before


def test_undo_in_a_menu_lasts_for_the_session_and_says_that_it_was_one() -> None:
    story = Story(BARE)
    story.at(10, SourceChosen(source="disc"))
    story.at(30, Override(taken=True, until="session", look=OverrideLook(preset="tall")))
    story.at(60, Override(taken=False))
    story.at(70, Undo())
    assert (core_of(story).override, core_of(story).override_until) == ("person", "session")
    begun = [one.parameters["why"] for one in story.of(Note) if one.code == "override_begun"]
    assert begun == ["person", "undo"]


def whole_for_a_while() -> Story:
    """A person wants a film's picture whole, up to second 600."""
    story = films(BARE)
    until = moment_of(ms(600))
    story.at(40, Override(taken=True, until=until, look=OverrideLook(picture="whole")))
    return story


def test_undo_under_an_override_up_to_a_moment_ends_with_it() -> None:
    story = whole_for_a_while()
    story.at(50, Undo())
    assert (story.core.override_until, story.core.timers.override) == ("time", ms(600))


def test_undo_of_a_search_lasts_for_the_title_and_nothing_is_left_to_undo() -> None:
    story = films(BARE)
    story.at(35, Override(taken=True, until="title", look=OverrideLook(preset="tall")))
    story.at(60, Override(taken=False))
    story.at(100, LensReport(moving=True, preset=None))
    story.at(110, LensReport(moving=False, preset=None))
    story.at(120, Override(taken=False))
    story.at(130, FindLens(preset="tall"))
    assert core_of(story).override_until == "arrival"
    assert core_of(story).undo is not None
    story.at(131, Undo())
    assert core_of(story).override_until == "title"


def test_with_the_title_ends_what_could_be_undone_in_it() -> None:
    story = films(BARE)
    story.at(35, Title(begun=True, name="one"))
    story.at(40, Override(taken=True, look=OverrideLook(preset="tall")))
    assert story.core.undo is not None
    story.at(41, Title(begun=True, name="another"))
    with pytest.raises(Refused, match="nothing has moved"):
        story.at(42, Undo())


# ----------------------------------------------------------------------------------- find the lens


def astray() -> Story:
    """A film plays; somebody's remote has left the lens between presets."""
    story = films(BARE)
    story.at(100, LensReport(moving=True, preset=None))
    story.at(110, LensReport(moving=False, preset=None))
    assert (story.core.lens, story.core.override) == ("unknown", "person")
    return story


def test_a_lens_that_was_found_leaves_the_room_to_the_rules_again() -> None:
    story = astray()
    story.at(120, FindLens(preset="broad"))
    assert story.recalls() == ["broad"]
    story.at(135, LensReport(moving=False, preset="broad"))
    assert (story.core.override, story.core.preset) == ("rules", "broad")


def test_a_lens_that_is_not_lost_is_not_sought_and_it_is_said_where_it_is() -> None:
    for story, words in (
        (films(BARE), "the lens stands at 'broad'"),
        (travelling(), "the lens is on its way to 'tall'"),
    ):
        with pytest.raises(Refused) as refused:
            story.at(31, FindLens())
        assert refused.value.words == words
    with pytest.raises(Refused, match=r"^this room has no preset 'braod'"):
        astray().at(120, FindLens(preset="braod"))


def test_a_search_by_whoever_has_the_room_up_to_a_moment_ends_then() -> None:
    story = whole_for_a_while()
    story.at(100, LensReport(moving=False, preset=None))
    story.at(120, FindLens(preset="broad"))
    assert (story.core.override_until, story.core.timers.override) == ("time", ms(600))


def test_a_lens_is_sought_where_it_is_wanted_else_at_the_first_preset() -> None:
    story = astray()
    story.at(111, Override(taken=False))
    story.at(120, FindLens())
    assert story.recalls() == ["broad"]
    tall = Story(BARE, lens=None)
    tall.film(10, 1.78)
    tall.at(30, FindLens())
    assert tall.recalls() == ["tall"]
    menu = Story(BARE, lens=None)
    menu.at(10, SourceChosen(source="disc"))
    menu.at(30, FindLens())
    assert menu.recalls() == ["broad"]


def test_a_lens_that_cannot_be_found_leaves_the_room_to_the_rules_too() -> None:
    story = astray()
    story.at(120, FindLens(preset="broad"))
    assert story.core.recall is not None
    story.at(121, Outcome(order=story.core.recall, outcome="refused"))
    assert (story.core.override, story.core.unreached) == ("rules", "broad")
    (over,) = [one for one in story.of(Note) if one.code == "override_ended"]
    assert over.parameters == {"why": "not_found"}


def test_what_else_a_person_wanted_stays_once_the_lens_is_found() -> None:
    story = films(BARE)
    story.at(40, Override(taken=True, until="title", look=OverrideLook(picture="whole")))
    story.at(100, LensReport(moving=False, preset=None))
    story.at(120, FindLens(preset="broad"))
    story.at(140, LensReport(moving=False, preset="broad"))
    assert (story.core.override, story.core.override_until) == ("person", "title")
    assert story.pictures()[-1] == "whole"


def test_whoever_moves_the_lens_themselves_while_it_is_sought_has_it() -> None:
    story = astray()
    story.at(120, FindLens(preset="broad"))
    story.at(125, LensReport(moving=True, preset="tall"))
    story.at(140, LensReport(moving=False, preset="tall"))
    assert (story.core.override, story.core.override_until) == ("person", "title")


def test_whoever_moves_it_themselves_where_no_title_is_on_has_it_for_the_session() -> None:
    story = Story(BARE, lens=None)
    story.at(10, SourceChosen(source="disc"))
    story.at(30, FindLens(preset="broad"))
    story.at(35, LensReport(moving=True, preset="tall"))
    story.at(50, LensReport(moving=False, preset="tall"))
    assert (story.core.override, story.core.override_until) == ("person", "session")


def test_a_search_that_must_wait_ends_with_the_session_at_the_latest() -> None:
    story = Story(BARE, lens=None)
    story.at(30, FindLens())
    assert story.core.holds == ("no_source",)
    story.at(30 + 3 * 3_600 + 1, None)
    assert story.core.override == "rules"


# --------------------------------------------------------------------------- leave it, automatic


def test_leave_it_is_an_override_that_wants_nothing() -> None:
    story = Story(BARE)
    story.film(10, 2.39)
    story.at(20, Override(taken=True, until="title"))
    story.at(21, shape(1.78))
    story.at(400, None)
    assert story.recalls() == []
    story.at(410, Override(taken=False))
    assert story.core.override == "rules"
