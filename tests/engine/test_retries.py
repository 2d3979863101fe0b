"""A picture that was refused is tried again twice, later each time; then people are told."""

from __future__ import annotations

import pytest

from engine.decisions import Note, PictureOrder
from engine.events import Outcome, OutcomeWord, Playback, SourceChosen
from engine.outcomes import RETRY_AFTER
from tests.engine.story import Story

FIRST, SECOND = (ms / 1_000 for ms in RETRY_AFTER)


def refused(outcome: OutcomeWord = "refused") -> Story:
    """Let the first picture of an evening fail at second 11."""
    story = Story()
    story.at(10, SourceChosen(source="disc"))
    answer(story, 11, outcome)
    return story


def answer(story: Story, second: float, outcome: OutcomeWord) -> None:
    """Answer the picture order that is open then."""
    story.at(second, None)
    assert story.core.picture is not None
    story.at(second, Outcome(order=story.core.picture, outcome=outcome))


def pictures(story: Story) -> list[tuple[float, str]]:
    """List the pictures ordered so far, each with its second."""
    orders = [one for one in story.made if isinstance(one, PictureOrder)]
    return [((one.at - orders[0].at) / 1_000 + 10, one.picture) for one in orders]


def said(story: Story) -> list[str]:
    """List the notes of pictures that failed."""
    notes = [one for one in story.made if isinstance(one, Note)]
    return [one.code for one in notes if one.code == "picture_failed"]


def test_a_refused_picture_is_ordered_again_after_a_while_and_nothing_is_said() -> None:
    story = refused()
    story.at(11 + FIRST - 0.001, None)
    assert len(pictures(story)) == 1
    story.at(11 + FIRST, None)
    assert pictures(story) == [(10, "whole"), (11 + FIRST, "whole")]
    assert said(story) == []


def test_the_second_try_waits_longer_and_after_it_people_are_told_and_nothing_is_tried() -> None:
    story = refused()
    answer(story, 12 + FIRST, "refused")
    story.at(12 + FIRST + SECOND, None)
    assert [second for second, _ in pictures(story)] == [10, 11 + FIRST, 12 + FIRST + SECOND]
    assert said(story) == []
    answer(story, 13 + FIRST + SECOND, "refused")
    assert said(story) == ["picture_failed"]
    story.at(3_600, None)
    assert len(pictures(story)) == 3
    assert story.core.timers.retry is None


def test_an_order_that_nobody_answers_is_tried_again_likewise() -> None:
    story = Story()
    story.at(10, SourceChosen(source="disc"))
    story.at(200, None)
    assert len(pictures(story)) == 1 + len(RETRY_AFTER)
    assert said(story) == ["picture_failed"]


def test_a_try_that_succeeds_grants_the_next_failure_its_own_two_tries() -> None:
    story = refused()
    answer(story, 12 + FIRST, "done")
    assert (story.core.failed, story.core.tries, story.core.timers.retry) == (False, 0, None)
    story.at(3_600, None)
    assert len(pictures(story)) == 2


@pytest.mark.parametrize("tries", [1, 2])
def test_another_picture_begins_with_its_own_tries(tries: int) -> None:
    story = refused()
    for number in range(1, tries):
        answer(story, 12 + FIRST * number, "refused")
    assert story.core.tries == tries
    before = len(pictures(story))
    story.film(25, 2.39)
    story.at(27, None)
    assert len(pictures(story)) > before
    assert (story.core.tries, story.core.timers.retry) == (0, None)


def test_what_changes_allows_a_try_at_once_and_grants_two_more() -> None:
    story = refused()
    story.at(15, SourceChosen(source="streamer"))
    story.at(15, Playback(state="playing"))
    assert len(pictures(story)) == 2
    assert (story.core.tries, story.core.timers.retry) == (0, None)
