"""What a person may choose now: it is what they would be answered if they asked for it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from engine.choosable import Choosable, choosable
from engine.events import (
    Answer,
    LensReport,
    Outcome,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    ProjectorReport,
    Service,
    SourceChosen,
)
from engine.holds import HoldCode
from engine.replies import reply_to_person
from engine.room import Room
from engine.state import State
from engine.step import step
from simulator.nights.night_file import BadLine
from simulator.nights.replay import replay
from tests.engine.story import HAYLOFT, SILENT, UNANSWERED, Story
from tests.golden.evenings import EVENINGS
from tests.golden.test_golden_nights import opened

BY_ITSELF = {"flash", "linger", "picture", "travel_first"}
"""What ends by itself in a moment, and so keeps nothing from being chosen."""


def of(story: Story, part: str) -> dict[str, HoldCode | None]:
    made = choosable(story.room, story.engine.state)
    return {one.name: one.hold for one in made if one.part == part}


def test_before_anything_is_shown_nothing_can_be_chosen() -> None:
    story = Story(UNANSWERED)
    assert {*of(story, "picture").values()} == {"no_source"}
    assert of(story, "preset") == {"broad": None, "tall": "no_source"}, "what stands can be had"


def test_a_picture_that_does_not_fit_says_so_and_what_fits_can_be_had() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.20)
    story.at(20, None)
    assert of(story, "picture") == dict.fromkeys(("plain", "whole", "gentle", "cropped"))
    story.at(200, Playback(state="stopped"))
    story.film(300, 2.39)
    story.at(310, None)
    assert of(story, "picture")["gentle"] == "nearest"
    assert of(story, "picture")["plain"] is None


def test_what_fits_is_asked_of_the_place_where_the_lens_stands() -> None:
    """The raster of the tall preset has no unlit sides to fill."""
    story = Story(UNANSWERED, lens="tall")
    story.film(10, 2.20)
    story.at(20, None)
    assert of(story, "picture")["gentle"] == "nearest"


def test_what_fits_is_asked_of_the_shape_that_a_source_always_has() -> None:
    disc = UNANSWERED.sources["disc"]._replace(shape=22_000)
    story = Story(replace(UNANSWERED, sources={**UNANSWERED.sources, "disc": disc}))
    story.at(10, SourceChosen(source="disc"))
    story.at(11, Playback(state="playing"))
    assert of(story, "picture")["gentle"] is None


def test_in_a_menu_nothing_that_distorts_can_be_had() -> None:
    story = Story(UNANSWERED)
    story.at(1, SourceChosen(source="disc"))
    story.at(1, Playback(state="stopped"))
    assert of(story, "picture") == {
        "plain": None,
        "whole": None,
        "gentle": "menu",
        "cropped": "menu",
    }


def test_past_the_first_minutes_and_all_recalls_the_lens_can_still_be_had() -> None:
    """A person's wish knows no pace; only another travel, or panels in its way, keep it back."""
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(2_000, None)
    assert of(story, "preset") == {"broad": None, "tall": None}
    story.at(2_000, Override(taken=True, until="title", look=OverrideLook(preset="tall")))
    assert of(story, "preset") == {"broad": "travelling", "tall": None}
    assert of(story, "panels")["sides"] == "travelling"


def test_while_somebody_is_at_the_screen_nothing_can_be_chosen() -> None:
    story = Story(UNANSWERED, lens="tall", panels="sides")
    story.film(10, 2.39)
    story.at(30, None)
    assert story.core.asked is not None
    story.at(40, Answer(prompt=story.core.asked.id, answer="ready"))
    assert {*of(story, "picture").values()} == {"at_screen"}
    assert of(story, "preset")["broad"] == "at_screen"


def test_panels_that_were_refused_can_be_asked_for_all_the_same() -> None:
    story = Story(UNANSWERED, lens="tall")
    story.film(10, 1.78)
    story.at(100, None)
    assert story.core.asked is not None
    story.at(101, Answer(prompt=story.core.asked.id, answer="not_tonight"))
    assert of(story, "panels") == {"open": None, "sides": None}


def test_a_room_without_presets_and_panels_offers_only_pictures() -> None:
    room = replace(
        UNANSWERED,
        presets={"broad": UNANSWERED.presets["broad"]},
        panels={"open": UNANSWERED.panels["open"]},
    )
    assert {one.part for one in choosable(room, Story(UNANSWERED).engine.state)} == {"picture"}


def _in_a_menu(story: Story) -> None:
    story.at(1, SourceChosen(source="disc"))
    story.at(1, Playback(state="stopped"))


def _lens_lost(story: Story) -> None:
    story.film(10, 2.20)
    story.at(30, LensReport(moving=True, preset=None))
    story.at(40, LensReport(moving=False, preset=None))


def _lens_lost_in_a_menu(story: Story) -> None:
    _lens_lost(story)
    story.at(60, Playback(state="stopped"))


def _panels_not_known(story: Story) -> None:
    story.film(10, 1.78)
    story.at(20, PanelReport(panels=None))


def _no_light(story: Story) -> None:
    story.film(10, 1.78)
    story.at(20, ProjectorReport(state="cooling"))


def _in_service(story: Story) -> None:
    story.film(10, 1.78)
    story.at(20, Service(begun=True))


def _paused(story: Story) -> None:
    story.film(10, 2.39)
    story.at(500, Playback(state="paused"))


def _refused_picture(story: Story) -> None:
    story.film(10, 2.39)
    story.at(10.5, None)
    if story.core.picture is not None:
        story.at(10.6, Outcome(order=story.core.picture, outcome="refused"))


MOMENTS: tuple[Callable[[Story], None], ...] = (
    *(_in_a_menu, _lens_lost, _lens_lost_in_a_menu, _panels_not_known, _no_light),
    *(_in_service, _paused, _refused_picture),
)


def _differing(room: Room, state: State) -> list[Choosable]:
    """Give what is said of something to choose, where a reply would say otherwise."""
    found = []
    for one in choosable(room, state):
        look = {
            "picture": OverrideLook(picture=one.name),
            "preset": OverrideLook(preset=one.name),
            "panels": OverrideLook(panels=one.name),
        }[one.part]
        event = Override(taken=True, until="session", look=look)
        after, made = step(room, state, event, 0)
        hold = reply_to_person(room, event, state, after, made).hold
        if hold != one.hold and hold not in BY_ITSELF:
            found.append(one)
    return found


@pytest.mark.parametrize("room", [HAYLOFT, UNANSWERED, SILENT], ids=["answers", "obeys", "silent"])
@pytest.mark.parametrize("begin", MOMENTS, ids=[one.__name__[1:] for one in MOMENTS])
def test_what_is_said_to_keep_it_back_is_what_the_reply_says(
    room: Room, begin: Callable[[Story], None]
) -> None:
    story = Story(room)
    begin(story)
    assert _differing(room, story.engine.state) == []


@pytest.mark.parametrize("name", EVENINGS)
def test_so_it_is_at_every_moment_of_the_golden_nights(name: str) -> None:
    _, engine, lines = opened(name)
    for happening in replay(engine, lines):
        assert not isinstance(happening, BadLine)
        assert _differing(engine.room, engine.state) == []
