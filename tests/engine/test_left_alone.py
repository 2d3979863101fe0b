"""Somebody wants everything left as it is, while nobody knows which picture stands."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

import pytest

from engine.events import (
    Event,
    Outcome,
    Override,
    OverrideLook,
    Playback,
    Resumed,
    SourceChosen,
    Title,
    moment_of,
)
from tests.engine.meetings import START
from tests.engine.story import Story

LEAVE = Override(taken=True, until="session")
"""Everything shall stay as it is."""


def in_doubt(story: Story, word: Override = LEAVE) -> None:
    """A film's picture is refused, and somebody wants everything left as it stands."""
    story.film(10, 2.39)
    story.at(12, None)
    assert story.core.picture is not None
    story.at(13, Outcome(order=story.core.picture, outcome="refused"))
    story.at(14, word)


@pytest.mark.parametrize(
    "ends",
    [
        Title(begun=True, name="the next film"),
        SourceChosen(source="streamer"),
        Override(taken=False),
        Override(taken=True, until="session", look=OverrideLook(picture="plain")),
    ],
    ids=["another title", "another source", "given back", "a picture is chosen"],
)
def test_a_picture_is_left_in_doubt_until_something_else_begins_or_somebody_says_otherwise(
    ends: Event,
) -> None:
    story = Story()
    in_doubt(story)
    before = len(story.pictures())
    story.at(60, ends)
    story.done(60.5)
    story.at(70, None)
    assert len(story.pictures()) > before
    assert "left_alone" not in story.core.holds


@pytest.mark.parametrize("until", ["title", moment_of(START + 100_000)], ids=["title", "moment"])
def test_a_picture_that_was_left_in_doubt_is_set_once_the_word_to_leave_it_is_over(
    until: Literal["title"] | datetime,
) -> None:
    """The rules want the very picture that was refused, and nothing else would bring it."""
    story = Story()
    in_doubt(story, Override(taken=True, until=until))
    before = story.pictures()
    story.at(40, Title(begun=False))
    story.at(110, None)
    assert story.core.override == "rules"
    assert story.pictures()[len(before)] == before[-1]


def test_a_picture_that_is_given_again_once_a_word_is_over_is_tried_as_at_first() -> None:
    story = Story()
    in_doubt(story, Override(taken=True, until="title"))
    story.at(40, Title(begun=False))
    assert not story.core.failed
    assert story.core.picture is not None
    given = len(story.pictures())
    story.at(41, Outcome(order=story.core.picture, outcome="refused"))
    story.at(51.5, None)
    assert len(story.pictures()) == given + 1


def test_a_film_is_shown_though_all_was_to_be_left_before_there_was_a_picture() -> None:
    """Nothing stood yet that could be left."""
    story = Story()
    story.at(5, LEAVE)
    story.at(10, SourceChosen(source="disc"))
    assert "left_alone" in story.core.holds
    story.at(20, Playback(state="playing"))
    assert story.pictures() == ["plain"]
    assert story.core.holds == ()


def test_what_stood_is_given_again_after_a_stop_to_whoever_wants_all_left_as_it_stands() -> None:
    """Its order was open: what became of it may be lost."""
    story = Story()
    story.film(10, 2.20)
    story.at(12, None)
    stood = story.pictures()[-1]
    story.at(12.1, LEAVE)
    assert story.core.picture is not None
    story.at(13, Resumed())
    assert story.pictures()[-1] == stood
    assert story.core.picture is not None


def test_a_menu_s_picture_is_given_again_to_a_menu() -> None:
    story = Story()
    story.at(10, Playback(state="stopped"))
    story.at(10.1, SourceChosen(source="disc"))
    story.at(11, None)
    story.at(11.1, LEAVE)
    assert story.core.picture is not None
    story.at(12, Resumed())
    assert story.pictures() == ["whole", "whole"]
