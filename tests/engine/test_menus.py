"""What may be a menu is never distorted, and a game that is left alone is no menu."""

from __future__ import annotations

import pytest

from engine.decisions import PictureOrder
from engine.events import (
    Answer,
    LensReport,
    Override,
    OverrideLook,
    Playback,
    ProjectorReport,
    SourceChosen,
    Title,
)
from tests.engine.moments import asked
from tests.engine.story import UNANSWERED, Story, shape


def shown(source: str, state: str | None) -> str:
    """Give the picture that stands when somebody asks for the cropped one."""
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source=source))
    if state is not None:
        story.at(6, Playback(state=state))  # type: ignore[arg-type]
    story.at(7, Override(taken=True, look=OverrideLook(picture="cropped")))
    story.at(8, None)
    assert story.core.shown is not None
    return story.core.shown.picture


@pytest.mark.parametrize(
    ("source", "state", "picture"),
    [
        ("disc", "playing", "cropped"),
        ("disc", "stopped", "whole"),
        ("disc", None, "whole"),
        ("streamer", "playing", "whole"),
        ("console", "playing", "cropped"),
        ("console", "stopped", "whole"),
        ("console", None, "cropped"),
    ],
)
def test_what_may_be_a_menu_is_shown_whole_even_if_somebody_asks_for_another_picture(
    source: str, state: str | None, picture: str
) -> None:
    """The streamer says where its titles begin, and none has; the console is left alone."""
    assert shown(source, state) == picture


@pytest.mark.parametrize(("state", "aspect"), [(None, 23_900), ("stopped", 17_778)])
def test_a_film_of_which_no_hub_says_that_it_plays_is_no_smaller_for_a_picture_it_cannot_have(
    state: str | None, aspect: int
) -> None:
    """It may be a menu, so it is not cropped; what has surely stopped is shown whole."""
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    if state is not None:
        story.at(6, Playback(state=state))  # type: ignore[arg-type]
    story.at(7, shape(2.39))
    story.at(20, Override(taken=True, look=OverrideLook(picture="cropped")))
    story.at(21, None)
    assert story.core.shown is not None
    assert story.core.shown.aspect == aspect


@pytest.mark.parametrize(
    ("look", "picture", "aspect"),
    [
        (OverrideLook(preset="broad"), "plain", 23_900),
        (OverrideLook(panels="open"), "plain", 23_900),
        (OverrideLook(lift=0.02), "plain", 23_900),
        (OverrideLook(picture="whole"), "whole", 17_778),
        (None, "whole", 17_778),
    ],
    ids=["lens", "panels", "lift", "whole", "leave it"],
)
def test_a_film_is_no_smaller_for_what_somebody_chose_of_the_lens_in_the_menu_before_it(
    look: OverrideLook | None, picture: str, aspect: int
) -> None:
    """The menu's picture is the whole frame; who asks for that, or to leave it, keeps it."""
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    story.at(6, shape(1.78))
    story.at(7, Override(taken=True, until="session", look=look))
    story.film(20, 2.39)
    story.at(60, None)
    assert story.core.shown is not None
    assert (story.core.shown.picture, story.core.shown.aspect) == (picture, aspect)


def test_a_film_of_the_menu_s_own_shape_is_not_ordered_anew() -> None:
    """Whole and plain are one picture then, so the screen need not flash."""
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    story.at(6, shape(1.78))
    story.at(7, Override(taken=True, until="session", look=OverrideLook(lift=0.02)))
    before = story.of(PictureOrder)
    story.film(20, 1.78)
    story.at(60, None)
    assert story.of(PictureOrder) == before


def test_a_film_that_begins_while_somebody_fits_panels_is_as_large_when_the_light_is_back() -> None:
    """In the dark nothing stands, so the picture is the one that was wanted in the menu."""
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    story.at(6, shape(1.78))
    look = OverrideLook(preset="tall", panels="sides")
    story.at(7, Override(taken=True, until="session", look=look))
    story.at(40, LensReport(moving=False, preset="tall"))
    story.at(45, Answer(prompt=asked(story), answer="ready"))
    story.film(50, 2.39)
    story.at(70, Answer(prompt=asked(story), answer="done"))
    assert [one.picture for one in story.of(PictureOrder)[-2:]] == ["dark", "plain"]
    assert story.core.shown is not None
    assert story.core.shown.aspect == 23_900


def test_a_film_that_goes_on_the_next_evening_is_as_large_as_it_was() -> None:
    """Somebody raised it; the evening ended in a pause, and the next one began with a menu."""
    story = Story(UNANSWERED)
    story.at(9, SourceChosen(source="disc"))
    story.at(10, Title(begun=True, name="film"))
    story.film(10, 2.39)
    look = OverrideLook(lift=0.02)
    story.at(600, Override(taken=True, until="title", look=look))
    shown = story.core.shown
    story.at(1_000, Playback(state="paused"))
    story.at(1_010, ProjectorReport(state="off"))
    story.at(80_000, ProjectorReport(state="lit"))
    story.at(80_010, shape(1.78))
    assert story.core.shown is not None
    assert story.core.shown.picture == "whole"
    story.at(80_020, Playback(state="playing"))
    story.at(80_021, shape(2.39))
    story.at(80_100, None)
    assert story.core.shown == shown
