"""While no reading shows the shape that settled, nobody knows what is on: nothing slow moves."""

from __future__ import annotations

import pytest

from engine.decisions import Prompt, RecallOrder
from engine.events import BarsSeen, BlackSeen, Event, Playback, Title
from tests.engine.meetings import START
from tests.engine.story import Story, shape
from tests.engine.test_guesses import PATIENT

UPRIGHT = BarsSeen(top=0, bottom=0, left=1_312, right=1_312, columns=3_840, rows=2_160)
"""Camera footage that was taken upright: no shape that settles."""
CREDITS = BarsSeen(top=900, bottom=900, left=1_300, right=1_300, columns=3_840, rows=2_160)
"""A name in the middle of the black raster."""


def menu() -> Story:
    """Rest in a menu that fills its frame."""
    story = Story(PATIENT)
    story.film(10, 1.78)
    story.at(20, Playback(state="stopped"))
    return story


def test_footage_that_was_taken_upright_sends_nobody_for_its_menu_s_shape() -> None:
    story = menu()
    story.at(60, Playback(state="playing"))
    story.at(63, UPRIGHT)
    story.at(900, None)
    assert (story.recalls(), story.of(Prompt)) == ([], [])


def test_clips_that_lie_and_stand_in_turn_send_nobody() -> None:
    story = menu()
    story.at(60, Playback(state="playing"))
    for number in range(30):
        story.at(63 + number * 20, UPRIGHT if number % 3 else shape(1.78))
    assert (story.recalls(), story.of(Prompt)) == ([], [])


@pytest.mark.parametrize("seen", [BlackSeen(), CREDITS])
def test_a_film_behind_long_credits_has_its_lens_once_it_has_been_seen(seen: Event) -> None:
    """However long nothing of it was to be seen, its first minutes are not over."""
    story = menu()
    story.at(60, Playback(state="playing"))
    story.at(63, seen)
    story.at(363, shape(1.85))
    story.at(500, None)
    (recall,) = story.of(RecallOrder)
    assert START + 405_000 < recall.at < START + 415_000


def test_credits_in_mid_wish_let_it_stand_anew() -> None:
    story = menu()
    story.at(60, Playback(state="playing"))
    story.at(61, shape(1.85))
    story.at(90, CREDITS)
    story.at(130, None)
    assert story.recalls() == []
    story.at(230, shape(1.85))
    story.at(274, None)
    assert story.recalls() == []
    story.at(276, None)
    assert story.recalls() == ["tall"]


def test_what_is_declared_is_known_without_being_seen() -> None:
    story = menu()
    story.at(60, Title(begun=True, name="one", declared=1.85))
    story.at(60, Playback(state="playing"))
    story.at(61, CREDITS)
    story.at(80, None)
    assert story.recalls() == ["tall"]
