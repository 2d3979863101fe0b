"""The hub is asked where another source is shown of which it may have told before."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from engine.events import Event, Playback, RatioSeen, SourceChosen, Title
from tests.adapters.hayloft import AT_BROAD, HAYLOFT, LIT
from tests.adapters.staging import Stage, staged
from tests.engine.meetings import START

FILM: tuple[Event, ...] = (
    *(*LIT, AT_BROAD),
    *(Title(begun=True, name="film"), Playback(state="playing"), RatioSeen(ratio=2.39)),
)
TEN_MINUTES = 600_000
"""Milliseconds in which any shape has settled."""


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    with staged(HAYLOFT, tmp_path / "journal", START) as stage:
        stage.hear(*FILM)
        stage.pass_to(START + TEN_MINUTES)
        yield stage


def questions(stage: Stage, *events: Event) -> int:
    """Tell what happens; gives how often the hub is asked for it."""
    said = stage.hear(*events)
    return [one.message.slot for one in said.messages].count("question")


def test_the_hub_is_asked_when_a_source_comes_back_on_which_a_title_was_left(stage: Stage) -> None:
    """It has told before that it plays, and a hub that tells only changes would not tell it again.

    Of the console, on which nothing was left and no reading counts, it is not asked.
    """
    assert [questions(stage, SourceChosen(source=one)) for one in ("console", "disc")] == [0, 1]
    stage.hear(Playback(state="playing"))
    assert stage.durable.engine.state.core.title_name == "film"


def test_the_hub_is_asked_for_the_shape_that_went_with_the_source_before(stage: Stage) -> None:
    """A detector that sees the same shape on another source has no change to tell."""
    stage.hear(Playback(state="stopped"), Title(begun=False))
    assert questions(stage, SourceChosen(source="streamer")) == 1
    assert stage.durable.engine.state.settling.aspect is None
    stage.hear(Title(begun=True, name="an episode"), Playback(state="playing"))
    stage.hear(RatioSeen(ratio=2.39))
    stage.pass_to(START + 2 * TEN_MINUTES)
    assert stage.durable.engine.state.settling.aspect == 23_900


def test_an_answer_that_tells_the_source_again_leads_to_no_other_question(stage: Stage) -> None:
    """Nor do two hubs that each tell a source of their own ask the room to ask for ever."""
    stage.hear(Playback(state="stopped"), Title(begun=False))
    streamer = (SourceChosen(source="streamer"), Playback(state="stopped"), RatioSeen(ratio=2.39))
    disc = (SourceChosen(source="disc"), Playback(state="stopped"), RatioSeen(ratio=2.39))
    assert questions(stage, *streamer) == 1
    assert [questions(stage, *streamer) for _ in range(3)] == [0, 0, 0]
    stage.pass_to(START + 2 * TEN_MINUTES)
    assert questions(stage, *disc) == 1
    assert [questions(stage, *streamer, *disc) for _ in range(3)] == [0, 0, 0]


def test_a_source_that_the_room_does_not_have_is_no_reason_to_ask(stage: Stage) -> None:
    assert questions(stage, SourceChosen(source="another")) == 0
    assert stage.refusals == ["unknown_name"]
