"""While no reading shows the shape that settled, nobody knows what is on: nothing slow moves."""

from __future__ import annotations

import pytest

from engine.decisions import Prompt, RecallOrder
from engine.events import (
    BarsSeen,
    BlackSeen,
    Event,
    LensReport,
    Override,
    OverrideLook,
    Playback,
    Title,
)
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


def test_a_dark_film_has_its_lens_though_it_is_seen_only_now_and_then() -> None:
    story = menu()
    story.at(60, Playback(state="playing"))
    story.at(61, shape(1.85))
    for second in range(80, 400, 40):
        story.at(second, CREDITS)
        story.at(second + 32, shape(1.85))
    (recall,) = story.of(RecallOrder)
    assert (recall.preset, recall.at) == ("tall", START + 112_000)


@pytest.mark.parametrize("seen", [BlackSeen(), CREDITS])
def test_a_film_behind_long_credits_has_its_lens_once_it_has_been_seen(seen: Event) -> None:
    """However long nothing of it was to be seen, its first minutes are not over."""
    story = menu()
    story.at(60, Playback(state="playing"))
    story.at(63, seen)
    story.at(363, shape(1.85))
    story.at(500, None)
    (recall,) = story.of(RecallOrder)
    assert START + 360_000 < recall.at < START + 415_000


def test_a_wish_that_has_stood_waits_for_sight_and_so_do_people() -> None:
    story = menu()
    story.at(60, Playback(state="playing"))
    story.at(61, shape(1.85))
    story.at(90, CREDITS)
    story.at(230, None)
    assert (story.recalls(), story.core.holds) == ([], ("linger",))
    story.at(231, shape(1.85))
    assert story.recalls() == ["tall"]
    story.at(235, LensReport(moving=False, preset="tall"))
    story.at(240, CREDITS)
    story.at(400, None)
    assert story.of(Prompt) == []
    story.at(401, shape(1.85))
    assert [one.panels for one in story.of(Prompt)] == ["sides"]


def test_whoever_asks_for_the_lens_has_it_out_of_sight() -> None:
    story = menu()
    story.at(60, Playback(state="playing"))
    story.at(63, UPRIGHT)
    story.at(90, Override(taken=True, look=OverrideLook(preset="tall")))
    assert story.recalls() == ["tall"]


def test_what_is_declared_is_known_without_being_seen() -> None:
    story = menu()
    story.at(60, Title(begun=True, name="one", declared=1.85))
    story.at(60, Playback(state="playing"))
    story.at(61, CREDITS)
    story.at(80, None)
    assert story.recalls() == ["tall"]
