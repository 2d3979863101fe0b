"""Scenes of an evening as the page sees them: what `standing` says, and what is shown."""

from __future__ import annotations

import json
from typing import Any

from adapters.live.standing import standing_data, standing_for_asker, standing_message
from adapters.page.room_view import RoomView, StandingHeard, room_view
from engine.events import Answer, PanelReport, Playback
from engine.room import Room
from tests.engine.meetings import START
from tests.engine.story import HAYLOFT, Story


def said_of(story: Story, second: float = 0) -> dict[str, Any]:
    """Give the payload of `standing` at a second of a story."""
    data = standing_data(story.room, story.engine.state)
    said: dict[str, Any] = json.loads(standing_message(data, START + round(second * 1_000)).body)
    return said


def said_to_asker(story: Story, second: float = 0) -> dict[str, Any]:
    """Give the same as whoever asks hears it, with the room file's text."""
    data = standing_for_asker(story.room, story.engine.state)
    said: dict[str, Any] = json.loads(standing_message(data, START + round(second * 1_000)).body)
    return said


def seen_of(story: Story, second: float = 0, *, own: bool = False, gone: bool = False) -> RoomView:
    """Give what somebody sees at a second of a story."""
    standing = StandingHeard(story.room, said_of(story, second), START, gone=gone)
    return room_view(standing, own=own)


def film(ratio: float = 2.39, room: Room = HAYLOFT) -> Story:
    """A film plays, and its picture stands."""
    story = Story(room)
    story.film(10, ratio)
    story.done(12)
    return story


def asked_for_panels() -> tuple[Story, int]:
    """A scope film has begun with yesterday's side panels; gives the prompt's number."""
    story = Story(HAYLOFT, lens="tall", panels="sides")
    story.film(10, 2.39)
    story.done(31)
    assert story.core.asked is not None
    return story, story.core.asked.id


def at_screen(who: str | None = "Ana") -> Story:
    """Somebody is at the screen, and it is dark."""
    story, number = asked_for_panels()
    story.at(40, Answer(prompt=number, answer="ready", who=who))
    story.done(41)
    return story


def unknown_panels() -> Story:
    """A film plays, and nobody knows how the panels stand."""
    story = film()
    story.at(13, PanelReport(panels=None))
    return story


def stopped() -> Story:
    """The film has been stopped: a menu may be seen."""
    story = film()
    story.at(20, Playback(state="stopped"))
    story.done(21)
    return story
