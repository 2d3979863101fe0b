"""In which shape a picture is ordered where no reading tells it."""

from __future__ import annotations

from engine.decisions import PictureOrder
from engine.events import Override, OverrideLook, Playback, SourceChosen, Title
from tests.engine.story import UNANSWERED, Story, changed


def shapes(story: Story) -> list[float]:
    return [one.aspect for one in story.of(PictureOrder)]


def test_a_source_that_has_one_shape_is_shown_in_it() -> None:
    story = Story(
        changed(
            ("orders: {answered: yes}\n", ""),
            ("console: {shape: 1.78, leave_alone: yes}", "console: {shape: 1.33}"),
        )
    )
    story.at(10, SourceChosen(source="console"))
    story.at(11, Playback(state="playing"))
    assert shapes(story)[-1] == 1.3333


def begun_in_a_pause(override: Override | None = None) -> list[float]:
    """Of which shapes a picture is ordered: first the whole frame's, then what a pause tells."""
    story = Story(UNANSWERED)
    story.at(10, SourceChosen(source="disc"))
    story.at(10, Playback(state="playing"))
    story.at(60, override)
    story.at(80, Playback(state="paused"))
    story.at(90, Title(begun=True, declared=2.39))
    story.at(95, None)
    told = shapes(story)
    story.at(100, Playback(state="playing"))
    assert shapes(story)[-1] == 2.39
    return told


def test_in_a_pause_the_picture_keeps_its_shape_whatever_is_told() -> None:
    assert 2.39 not in begun_in_a_pause()


def test_whoever_has_taken_over_has_the_new_shape_in_the_pause_too() -> None:
    plain = Override(taken=True, look=OverrideLook(picture="plain"), until="session")
    assert begun_in_a_pause(plain)[-1] == 2.39
