"""What the engine replies: decisions, refusal, deadline, how many were due, what holds still."""

from __future__ import annotations

import pytest

from engine import RoomEngine
from engine.events import Event, Mark, Playback, RatioSeen, SourceChosen
from engine.room_engine import Reply
from tests.engine.moments import films, ms
from tests.engine.story import UNANSWERED, Story


def test_the_reading_that_holds_is_answered_at_once_and_always_by_the_same_reply() -> None:
    """Whether it is the very event or one like it; most events are such readings."""
    story = films()
    story.at(40, RatioSeen(ratio=2.39))
    engine, before = story.engine, story.engine.state
    reply = engine.receive(RatioSeen(ratio=2.39), ms(41))
    assert reply == Reply((), None, engine.deadline, before, due=0, still_holds=True)
    assert engine.receive(RatioSeen(ratio=2.39), ms(42)) is reply
    assert engine.receive(None, ms(42)) == Reply((), None, engine.deadline, before)
    assert engine.state is before


@pytest.mark.parametrize(
    "event", [Playback(state="playing"), RatioSeen(ratio=2.39, id="a"), Mark()]
)
def test_no_other_event_is_said_to_hold_already(event: Event) -> None:
    """Not even one that changes nothing, nor a reading with an id, which is entered each time."""
    story = films()
    story.at(40, RatioSeen(ratio=2.39))
    for second in (41, 42):
        assert not story.engine.receive(event, ms(second)).still_holds


def test_whoever_asks_is_told_whether_a_reading_would_say_nothing_new() -> None:
    story = films()
    heard = RatioSeen(ratio=2.39)
    story.at(40, heard)
    assert story.engine.still_holds(heard)
    assert story.engine.still_holds(RatioSeen(ratio=2.39))
    assert not story.engine.still_holds(RatioSeen(ratio=1.85))


def late(event: Event | None) -> tuple[RoomEngine, Reply]:
    """Let an event, or nothing, come only after the lens should have been sent off."""
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(20, None)
    return story.engine, story.engine.receive(event, ms(25))


def test_a_reply_says_how_many_decisions_had_fallen_due_before_the_event() -> None:
    engine, alone = late(None)
    assert [one.kind for one in alone.decisions] == ["recall"]
    assert alone == Reply(alone.decisions, None, engine.deadline, engine.state, due=1)
    sent_off = engine.state
    engine, taken = late(Mark())
    assert [one.kind for one in taken.decisions] == ["recall", "note"]
    assert taken == Reply(taken.decisions, None, engine.deadline, sent_off, due=1)
    engine, refused = late(SourceChosen(source="dsc"))
    assert [one.kind for one in refused.decisions] == ["recall"]
    assert refused.refusal is not None
    assert refused == Reply(alone.decisions, refused.refusal, engine.deadline, sent_off, due=1)
    assert engine.deadline is not None


def test_a_reply_without_anything_due_says_so() -> None:
    story = films()
    assert story.engine.receive(Mark(), ms(40)).due == 0
    assert story.engine.receive(SourceChosen(source="dsc"), ms(40)).due == 0


def test_refusals_are_counted_by_their_codes() -> None:
    engine = films().engine
    for event in (SourceChosen(source="dsc"), SourceChosen(source="dis"), Playback(state="paused")):
        engine.receive(event, ms(40))
    engine.receive(Playback(state="playing", source="console"), ms(40))
    assert engine.refusals == {"unknown_name": 2, "not_shown": 1}
