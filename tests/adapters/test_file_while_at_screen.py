"""A room file that does not know how the room stands waits while somebody is at the screen.

Begun at once, it would forget that they are there, and the light would come back unannounced.
"""

from __future__ import annotations

import asyncio
import io
import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from adapters.live import slow_work
from adapters.live.chapters import must_wait
from adapters.live.live_room import LiveRoom
from adapters.live.log import decision_log
from adapters.live.messages import (
    ROOM_FILE_TOPIC,
    InboundMessage,
    OutgoingMessage,
)
from adapters.live.slow_work import SlowWork
from engine.events import Answer
from rules.room.load import load
from tests.adapters.at_screen import asked, go_to_screen, has_light
from tests.adapters.hayloft import HAYLOFT
from tests.adapters.staging import Stage, differences, staged, turns, until
from tests.golden.evenings import BEGINS

STRANGER = HAYLOFT.text.replace("sides", "wings")
"""It does not know the panels that somebody is fitting."""
LATER = HAYLOFT.text + "\n# A later edition.\n"


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    """Somebody is at the screen to fit panels; the picture is dark."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as one:
        go_to_screen(one)
        yield one


@pytest.mark.parametrize("leaves", ["done", "all_away"])
def test_changed_on_the_disk_it_waits_over_every_start_until_they_have_left(
    stage: Stage, leaves: str
) -> None:
    prompt, stranger = asked(stage), load(STRANGER, "hayloft.yaml")
    for _ in range(2):
        stage.restart(stranger)
        assert stage.durable.room.text == HAYLOFT.text
        assert asked(stage) == prompt
        assert not any(map(has_light, stage.durable.record.waiting()))
        assert must_wait(stranger, stage.durable.engine.state)
        assert stage.durable.record.proposal() == STRANGER
    stage.hear(Answer(prompt=prompt, answer=leaves, who="Ana"))  # type: ignore[arg-type]
    assert not must_wait(stranger, stage.durable.engine.state)
    stage.note(stage.durable.adopt(stranger))
    assert differences(HAYLOFT, stage.lines()) == []
    stage.restart(stranger)
    assert stage.durable.room.text == STRANGER
    assert stage.durable.record.proposal() is None


@pytest.mark.parametrize("leaves_first", [True, False])
def test_the_former_file_that_is_put_back_on_the_disk_is_the_one_that_counts(
    stage: Stage, *, leaves_first: bool
) -> None:
    """Whether the other one still waits by then, or has been taken."""
    prompt, stranger = asked(stage), load(STRANGER, "hayloft.yaml")
    stage.restart(stranger)
    if leaves_first:
        stage.hear(Answer(prompt=prompt, answer="done", who="Ana"))
        stage.note(stage.durable.adopt(stranger))
    stage.restart(HAYLOFT)
    assert stage.durable.room.text == HAYLOFT.text
    assert stage.durable.record.proposal() is None


def test_changed_on_the_disk_it_takes_the_place_of_one_that_came_as_a_message(stage: Stage) -> None:
    stage.note(stage.durable.take([InboundMessage(ROOM_FILE_TOPIC, LATER.encode())]))
    stage.restart(load(STRANGER, "hayloft.yaml"))
    assert stage.durable.record.proposal() == STRANGER
    stage.note(stage.durable.take([InboundMessage(ROOM_FILE_TOPIC, LATER.encode())]))
    assert stage.durable.record.proposal() == LATER, "the newest one counts"
    assert stage.refusals == ["replaced"]


def test_a_file_that_knows_how_the_room_stands_is_taken_at_once(stage: Stage) -> None:
    prompt = asked(stage)
    stage.restart(load(LATER, "hayloft.yaml"))
    assert stage.durable.room.text == LATER
    assert asked(stage) == prompt
    assert not any(map(has_light, stage.durable.record.waiting()))


class Said:
    """Keeps what is said of the room file where the room says that it is alive."""

    may_explain_later = True
    last_sent = 0

    def __init__(self) -> None:
        self.alive: list[tuple[bool, bool]] = []

    def say(self, said: OutgoingMessage, serial: int | None) -> None:
        del serial
        if said.subtopic == "alive":
            data = json.loads(said.body)
            self.alive.append((data["proven"], data["file_waits"]))

    def write(self) -> None:
        pass

    def follow_clock(self, by: int) -> None:
        pass


async def test_brought_as_a_message_it_is_taken_once_they_have_left(
    stage: Stage, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def without_a_fault(_text: str) -> tuple[str, ...]:
        return ()

    log = io.BytesIO()
    monkeypatch.setattr(slow_work, "faults_of", without_a_fault)
    monkeypatch.setattr(slow_work, "RETRY_AFTER", 0.01)
    outlet = Said()
    room, prompt = LiveRoom(stage.durable, decision_log(log, "hayloft"), outlet), asked(stage)
    task = asyncio.create_task(SlowWork(tmp_path / "journal").check_proposals(room))
    room.publish(room.durable.take([InboundMessage(ROOM_FILE_TOPIC, STRANGER.encode())]))
    await until(lambda: b"room file waits" in log.getvalue())
    assert outlet.alive == [(True, True)], "said at once: what is proven is the file in force"
    room.publish(room.durable.take([InboundMessage(ROOM_FILE_TOPIC, STRANGER.encode())]))
    await turns(20)
    assert asked(stage) == prompt, "to bring it twice makes no difference"
    stage.hear(Answer(prompt=prompt, answer="done", who="Ana"))
    await until(lambda: room.durable.room.text == STRANGER)
    assert log.getvalue().count(b"room file waits") == 1
    await until(lambda: outlet.alive == [(True, True), (True, False)])
    room.end()
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)


async def test_one_that_is_insisted_on_unproven_is_taken_unproven_once_they_have_left(
    stage: Stage, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """`run --unproven` is said once: the file that had to wait is not refused for its proof."""

    async def a_fault(_text: str) -> tuple[str, ...]:
        return ("a promise does not hold",)

    monkeypatch.setattr(slow_work, "faults_of", a_fault)
    monkeypatch.setattr(slow_work, "RETRY_AFTER", 0.01)
    prompt = asked(stage)
    stage.restart(load(STRANGER, "hayloft.yaml"))
    log = decision_log(io.BytesIO(), "hayloft")
    room = LiveRoom(stage.durable, log, unproven=STRANGER)
    task = asyncio.create_task(SlowWork(tmp_path / "journal").check_proposals(room))
    await turns(20)
    stage.hear(Answer(prompt=prompt, answer="done", who="Ana"))
    await until(lambda: room.durable.record.proposal() is None)
    assert room.durable.room.text == STRANGER
    assert json.loads(room.alive().body)["proven"] is False
    room.publish(room.durable.take([InboundMessage(ROOM_FILE_TOPIC, LATER.encode())]))
    await until(lambda: room.durable.record.proposal() is None)
    assert room.durable.room.text == STRANGER, "any other file is proven as ever"
    room.end()
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
