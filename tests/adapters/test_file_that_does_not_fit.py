"""Another room file comes that does not fit how the room stands: what is open then is settled.

Whoever goes on knows nothing of it, so nothing may leave for it, and nothing may be believed of it.
"""

from __future__ import annotations

import asyncio
import json
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any
from unittest.mock import AsyncMock

import pytest

from adapters.live import slow_work
from adapters.live.drafts import Committed
from adapters.live.messages import InboundMessage
from adapters.live.slow_work import SlowWork
from engine.events import (
    Event,
    LensReport,
    Outcome,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    Title,
    ToldFact,
)
from engine.snapshot import first_foreign_name
from rules.room.load import load
from tests.adapters.hayloft import AT_BROAD, HAYLOFT, LIT
from tests.adapters.scripted_broker import scripted_broker
from tests.adapters.staging import Stage, differences, staged, until
from tests.adapters.test_connection import AT_ONCE, Connected
from tests.golden.evenings import BEGINS

STRANGER = load(HAYLOFT.text.replace("broad", "wide"), "in/room")
FLAT = (
    PanelReport(panels="open"),
    Playback(state="playing"),
    Title(begun=True, name="a film", declared=1.78),
)
SETS_OFF = LensReport(moving=True, preset="tall", id="sets off")


def recalled(stage: Stage) -> int:
    """Let the room send its lens to 'tall'; give the order's id."""
    stage.clock.face = 1_200
    stage.hear(*LIT, AT_BROAD, *FLAT)
    stage.pass_to(BEGINS + 9_000)
    recall = stage.durable.engine.state.core.recall
    assert recall is not None
    return recall


def takes(stage: Stage) -> None:
    """Let the broker take all that waits, and write that down."""
    stage.all_taken()
    stage.durable.record.flush()


def goes_on(stage: Stage, *, by_message: bool) -> None:
    if by_message:
        stage.note(stage.durable.adopt(STRANGER))
    else:
        stage.restart(STRANGER)


def waiting(stage: Stage) -> list[dict[str, Any]]:
    return [json.loads(one.message.body) for one in stage.durable.record.waiting()]


@pytest.mark.parametrize("by_message", [True, False])
@pytest.mark.parametrize("taken", [True, False])
def test_an_open_recall_is_withdrawn_as_every_order_is(
    tmp_path: Path, *, by_message: bool, taken: bool
) -> None:
    """One that has not left yet never does."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        recall = recalled(stage)
        if taken:
            takes(stage)
        goes_on(stage, by_message=by_message)
        kinds = [(one["kind"], one.get("order")) for one in waiting(stage)]
        assert ("withdrawn", recall) in kinds
        assert "recall" not in dict(kinds)
        stage.hear(Outcome(order=recall, outcome="done"))
        assert stage.refusals == ["not_open"]
        assert differences(HAYLOFT, stage.lines()) == []


@pytest.mark.parametrize("by_message", [True, False])
def test_a_travel_that_was_ordered_under_the_old_file_is_no_person_s(
    tmp_path: Path, *, by_message: bool
) -> None:
    """It counts once, as ordered; the lens is on its way, and rests where it is said to arrive."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        recalled(stage)
        takes(stage)
        goes_on(stage, by_message=by_message)
        assert stage.durable.engine.state.core.lens == "unknown"
        stage.hear(SETS_OFF, *LIT, *FLAT)
        state = stage.durable.engine.state
        assert (state.core.lens, state.core.preset) == ("travelling", "tall")
        assert state.core.override == "rules"
        stage.hear(LensReport(moving=False, preset="tall"))
        state = stage.durable.engine.state
        assert (state.core.lens, state.core.preset) == ("resting", "tall")
        (travels,) = state.tally.travels
        assert (travels.preset, travels.ordered, travels.by_hand) == ("tall", 1, 0)


def test_a_recall_that_never_left_is_no_travel(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        recalled(stage)
        goes_on(stage, by_message=True)
        assert stage.durable.engine.state.tally.travels == ()


def travels(stage: Stage) -> list[tuple[str, int, int]]:
    """Count the travels to each preset: ordered, and by hand."""
    kept = stage.durable.engine.state.tally.travels
    return [(one.preset, one.ordered, one.by_hand) for one in kept]


@pytest.mark.parametrize("sent", [True, False], ids=["sent", "still queued"])
async def test_a_recall_that_was_sent_counts_once_whether_the_broker_has_taken_it_or_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, sent: bool
) -> None:
    """The hub may have begun it; one that the broker had no room for is none."""
    monkeypatch.setattr(slow_work, "faults_of", AsyncMock(return_value=()))
    broker_has = scripted_broker(acknowledges=False, receive_maximum=20 if sent else 1)
    async with broker_has as broker:
        with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
            one = Connected(stage, broker, AT_ONCE)
            await one.said(1)
            recalled(stage)
            one.room.publish(Committed(stage.durable.record.waiting()))
            if sent:
                await broker.until(lambda: "recall" in dict(broker.orders()))
            task = asyncio.create_task(SlowWork(tmp_path / "journal").check_proposals(one.room))
            one.room.publish(stage.durable.take([InboundMessage("room", STRANGER.text.encode())]))
            await until(lambda: stage.durable.room.text == STRANGER.text)
            assert travels(stage) == ([("tall", 1, 0)] if sent else [])
            if sent:
                one.hear(SETS_OFF, *LIT, *FLAT)
                assert stage.durable.engine.state.core.override == "rules"
                assert travels(stage) == [("tall", 1, 0)]
            task.cancel()
            await asyncio.gather(task, return_exceptions=True)
            await one.stop()


def test_a_recall_that_waits_as_roomcue_was_killed_may_have_left(tmp_path: Path) -> None:
    """Nobody knows: the lens that sets off was sent by nobody's hand."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        recalled(stage)
        goes_on(stage, by_message=False)
        stage.hear(SETS_OFF, *LIT, *FLAT)
        assert stage.durable.engine.state.core.override == "rules"
        assert travels(stage) == [("tall", 1, 0)]


LIGHTS = HAYLOFT.text.replace("lamps", "lights")
BRIGHT = HAYLOFT.text.replace("lamps: full or low", "lamps: bright or low")
BRIGHT = BRIGHT.replace("lamps: full", "lamps: bright")
COUNTED = HAYLOFT.text.replace("guests: yes or no", "guests: 0 to 9")
COUNTED = COUNTED.replace("guests: yes", 'guests: ">= 2"').replace("guests: no", 'guests: "< 2"')


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (LIGHTS, Playback(state="playing")),
        (BRIGHT, Override(taken=True, until="session", look=OverrideLook(cues={"lamps": "full"}))),
        (COUNTED, ToldFact(fact="guests", value=True)),
    ],
    ids=["a cue that is open", "what somebody has set", "what was told"],
)
def test_nothing_goes_on_that_the_new_file_does_not_know(
    tmp_path: Path, text: str, told: Event
) -> None:
    """A cue would be ordered that the room has not, and guests who are there would count as one."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.clock.face = 1_200
        stage.hear(*LIT, told)
        room = load(text, "in/room")
        assert first_foreign_name(room, stage.durable.engine.state) is not None
        stage.note(stage.durable.adopt(room))
        assert "question" in [one["kind"] for one in waiting(stage)]
        core = stage.durable.engine.state.core
        assert not core.told + core.cue_overrides + core.open_cues + core.cues


def test_what_waits_of_a_state_that_cannot_be_read_never_leaves(tmp_path: Path) -> None:
    """Nobody would know an order's outcome, or what to make of an answer.

    A prompt that has left stays at the broker, until something takes its place.
    """
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.clock.face = 1_200
        stage.hear(*LIT, AT_BROAD, *FLAT)
        stage.durable.record.flush()
        with closing(sqlite3.connect(stage.path)) as base, base:
            base.execute("UPDATE latest SET state = '[1, {}]'")
        stage.restart()
        assert {one["kind"] for one in waiting(stage)} <= {"question", "withdrawn", "prompt over"}
        instead = stage.durable.ask_again(lost=False)
        assert instead is not None
        assert json.loads(instead.body)["kind"] == "nothing asked"
