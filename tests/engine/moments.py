"""Moments of an evening to begin a story from."""

from __future__ import annotations

from typing import Final

from engine.events import Override, Resumed, SourceChosen
from engine.room import Room
from engine.state import Core
from tests.engine.meetings import START
from tests.engine.story import HAYLOFT, UNANSWERED, Story, changed


def ms(second: float) -> int:
    return START + round(second * 1_000)


def films(room: Room = UNANSWERED, ratio: float = 2.39) -> Story:
    """A scope film runs since the tenth second and stands as it should."""
    story = Story(room)
    story.film(10, ratio)
    story.at(30, None)
    return story


OVERRIDE: Final = "engine: override"
BARE: Final = changed(("orders: {answered: yes}\n", ""), ("tall, panels: sides", "tall"))
"""The hayloft with a hub that says nothing of orders, and no panels asked for."""


def travelling() -> Story:
    """A film at 1.78 has sent the lens off from broad to tall, at second 23."""
    story = Story(BARE)
    story.film(10, 1.78)
    story.at(25, None)
    assert story.recalls() == ["tall"]
    assert story.core.timers.travel == ms(23 + 27)
    return story


def lost() -> Story:
    """A restart in mid-travel: nobody knows where the lens is."""
    story = travelling()
    story.at(26, Resumed())
    assert story.core.lens == "unknown"
    return story


def prompted() -> Story:
    """A scope film has begun with the side panels left from yesterday: they shall come off."""
    story = Story(UNANSWERED, lens="tall", panels="sides")
    story.film(10, 2.39)
    story.at(30, None)
    assert story.prompts() == [("open", "asked")]
    return story


def ordered() -> Story:
    """A menu's picture (1) and lamps (2) have been ordered, and nothing has been heard of them."""
    story = Story(HAYLOFT)
    story.at(10, SourceChosen(source="disc"))
    return story


def taken() -> Story:
    """A person has taken over in mid-film."""
    story = films()
    story.at(40, Override(taken=True))
    return story


def asked(story: Story) -> int:
    assert story.core.asked is not None
    return story.core.asked.id


def core_of(story: Story) -> Core:
    """Give what the engine remembers now: mypy takes an attribute to be as it was tested last."""
    return story.core


def settled_on(story: Story) -> int | None:
    """Give the shape that the readings have settled on."""
    return story.engine.state.settling.aspect
