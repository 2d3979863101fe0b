"""What may be a menu is never distorted, and a game that is left alone is no menu."""

from __future__ import annotations

import pytest

from engine.events import Override, OverrideLook, Playback, SourceChosen
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
