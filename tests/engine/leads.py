"""What went before: moments in an evening from which the stories of words set out."""

from __future__ import annotations

from typing import Final

from engine.events import (
    Hand,
    SourceChosen,
)
from tests.engine.story import HAYLOFT, UNANSWERED, Story
from tests.engine.test_holds import BARE


def films() -> Story:
    """A scope film runs and stands as it should."""
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(30, None)
    return story


def prompted() -> Story:
    """A scope film has begun with the side panels left from yesterday: they shall come off."""
    story = Story(UNANSWERED, lens="tall", panels="sides")
    story.film(10, 2.39)
    story.at(30, None)
    assert story.prompts() == [("open", "asked")]
    return story


def travelling() -> Story:
    """A film at 1.78 has sent the lens off from broad to tall."""
    story = Story(BARE)
    story.film(10, 1.78)
    story.at(25, None)
    assert story.recalls() == ["tall"]
    return story


def ordered() -> Story:
    """A menu's picture (1) and lamps (2) have been ordered, and nothing has been heard of them."""
    story = Story(HAYLOFT)
    story.at(10, SourceChosen(source="disc"))
    return story


def taken() -> Story:
    """A person has taken over in mid-film."""
    story = films()
    story.at(40, Hand(taken=True))
    return story


def prompt_of(story: Story) -> int:
    assert story.core.asked is not None
    return story.core.asked.id


HAND: Final = "engine: hand"
