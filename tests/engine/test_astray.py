"""A lens that is not where it was sent: what an order did, what a person did, what nobody saw."""

from __future__ import annotations

import pytest

from engine.decisions import RecallOrder
from engine.events import (
    Event,
    LensReport,
    Override,
    Playback,
    ProjectorReport,
    Resumed,
    SourceChosen,
    Title,
)
from engine.lens import UNSEEN
from tests.engine.moments import BARE, travelling
from tests.engine.story import HAYLOFT, UNLIMITED, Story

LATE = UNSEEN / 1_000 + 1


def recalled() -> Story:
    """Begin a film for which the lens is sent to `tall`."""
    story = Story(HAYLOFT)
    story.film(10, 1.78)
    story.done(30)
    assert recalls(story) == ["tall"]
    return story


def recalls(story: Story) -> list[str]:
    """List the presets that the lens has been sent to."""
    return [one.preset for one in story.made if isinstance(one, RecallOrder)]


def astray(story: Story, second: float) -> None:
    """Let the lens set off as ordered and come to rest where it was before."""
    story.at(second, LensReport(moving=True, preset="tall"))
    story.at(second + 5, LensReport(moving=False, preset="broad"))


def test_a_lens_that_came_to_rest_elsewhere_is_sent_once_more_though_the_title_had_its_recall() -> (
    None
):
    story = recalled()
    astray(story, 31)
    story.done(60)
    assert recalls(story) == ["tall", "tall"]
    assert story.core.override == "rules"


def test_after_the_second_try_it_is_left_where_it_is_until_something_changes() -> None:
    story = recalled()
    astray(story, 31)
    story.done(37)
    astray(story, 38)
    assert story.core.unreached == "tall"
    story.done(85)
    assert recalls(story) == ["tall", "tall"]


def test_what_is_missed_and_then_reached_is_forgotten() -> None:
    story = recalled()
    astray(story, 31)
    story.done(60)
    story.at(61, LensReport(moving=True, preset="tall"))
    story.at(70, LensReport(moving=False, preset="tall"))
    assert (story.core.missed, story.core.unreached) == (None, None)


def test_a_new_title_has_its_own_tries() -> None:
    story = recalled()
    astray(story, 31)
    assert story.core.missed == "tall"
    story.at(36, Playback(state="stopped"))
    story.at(36, Playback(state="playing"))
    assert story.core.missed is None


@pytest.mark.parametrize(
    "events",
    [
        (Resumed(),),
        (
            ProjectorReport(state="off"),
            ProjectorReport(state="warming"),
            ProjectorReport(state="lit"),
            Playback(state="playing"),
        ),
    ],
)
@pytest.mark.parametrize("preset", ["tall", None])
@pytest.mark.parametrize("moving", [True, False])
def test_after_a_power_cut_or_a_restart_the_first_word_of_the_lens_is_nobodys_doing(
    events: tuple[Event, ...], preset: str | None, *, moving: bool
) -> None:
    story = Story(HAYLOFT)
    story.film(10, 2.39)
    for event in events:
        story.at(100, event)
    story.at(110, LensReport(moving=moving, preset=preset))
    assert story.core.override == "rules"


def test_the_second_word_is_and_so_is_a_first_one_that_comes_late() -> None:
    for second, heard in ((110, True), (100 + LATE, False)):
        story = Story(HAYLOFT)
        story.film(10, 2.39)
        story.at(100, Resumed())
        if heard:
            story.at(105, LensReport(moving=False, preset="broad"))
        story.at(second, LensReport(moving=True, preset="tall"))
        assert story.core.override == "person"


def episode(story: Story, second: float, ratio: float = 1.78, source: str = "disc") -> None:
    """Play another episode from that second on; the last one has ended."""
    story.at(second, Playback(state="stopped"))
    story.film(second + 8, ratio, source)
    story.at(second + 60, None)


def put_back() -> Story:
    """Let the lens go to `tall` for a first episode, and somebody put it back by remote."""
    story = travelling()
    story.at(30, LensReport(moving=True, preset="tall"))
    story.at(40, LensReport(moving=False, preset="tall"))
    story.at(60, LensReport(moving=True, preset="broad"))
    story.at(75, LensReport(moving=False, preset="broad"))
    assert story.core.override == "person"
    return story


def test_whoever_puts_the_zoom_back_has_to_do_it_once_in_a_session() -> None:
    story = put_back()
    for second in (1_000, 3_000, 5_000):
        episode(story, second)
        assert story.core.override == "rules"
        assert "put_back" in story.core.holds
    assert story.recalls() == ["tall"]
    assert story.notes().count("put_back") == 3


@pytest.mark.parametrize(
    ("ratio", "source"),
    [(1.66, "disc"), (1.78, "streamer")],
    ids=["another shape", "another source"],
)
def test_it_is_left_for_that_source_and_shape_alone(ratio: float, source: str) -> None:
    story = put_back()
    story.at(900, Title(begun=False))
    episode(story, 1_000, ratio, source)
    assert "put_back" not in story.core.holds


def test_it_is_left_for_the_shape_that_the_title_declares() -> None:
    """Before anything of it has been seen: the lens goes where the title belongs."""
    story = Story(BARE)
    story.at(10, SourceChosen(source="disc"))
    story.at(10, Title(begun=True, declared=1.78))
    story.at(10, Playback(state="playing"))
    story.at(40, LensReport(moving=False, preset="tall"))
    story.at(60, LensReport(moving=True, preset="broad"))
    story.at(75, LensReport(moving=False, preset="broad"))
    assert story.core.put_back == (("disc", 17_778),)


def test_the_next_session_and_whoever_gives_the_room_back_begin_afresh() -> None:
    story = put_back()
    story.at(80, Override(taken=False))
    assert story.core.put_back == ()
    story = put_back()
    story.at(100, ProjectorReport(state="off"))
    assert story.core.put_back == ()


def test_a_lens_moved_to_where_the_rules_want_it_is_not_put_back() -> None:
    story = Story(BARE)
    story.film(10, 1.78)
    story.at(12, LensReport(moving=True, preset="tall"))
    assert story.core.override == "person"
    assert story.core.put_back == ()


def test_the_second_try_costs_the_title_no_recall() -> None:
    """However many it has left."""
    story = Story(UNLIMITED)
    story.film(10, 1.78)
    story.done(30)
    left = story.core.left_title
    assert left == UNLIMITED.pace.per_title - 1
    astray(story, 31)
    assert recalls(story) == ["tall", "tall"]
    assert story.core.left_title == left
