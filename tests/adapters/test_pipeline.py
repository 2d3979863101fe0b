"""What rooms hear in one turn of the loop is committed once, and told to each by itself."""

from __future__ import annotations

import asyncio
import io
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, cast
from unittest.mock import patch

import pytest

from adapters.live import live_room, pipeline
from adapters.live.batch import Batch
from adapters.live.drafts import Committed
from adapters.live.durable_room import DurableRoom
from adapters.live.journal import Journal
from adapters.live.journal_file import JournalError
from adapters.live.live_room import LiveRoom
from adapters.live.log import decision_log
from adapters.live.outbox import outbox_read
from adapters.live.pipeline import Pipeline
from adapters.live.session import Session
from adapters.live.startup import take_up
from engine.events import ProjectorReport, SourceChosen
from engine.snapshot import encode
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.adapters.staging import VERSION, Stage, inbound, staged, turns
from tests.brisk_hayloft import brisk_hayloft
from tests.golden.evenings import BEGINS

HAYLOFT = load(brisk_hayloft(), DEMO_ROOM.name)
LOFT = load(HAYLOFT.text.replace("room: hayloft", "room: loft"), "loft")
LIT = tuple(inbound(event) for event in (ProjectorReport(state="lit"), SourceChosen(source="disc")))


class Line:
    """Stands in for a session and its connection: gives one batch, remembers what it is told."""

    last_sent = 0

    def __init__(self, batch: Batch) -> None:
        self.connection = self
        self._batches = [batch]
        self.acknowledged: list[Batch] = []
        self.failures: list[str] = []
        self.marked = 0
        """How often the broker's session was marked as known."""

    def mark_session(self) -> None:
        self.marked += 1

    def write(self) -> None:
        """There is nothing to write to."""

    def read(self) -> Batch:
        return self._batches.pop()

    def acknowledge(self, batch: Batch) -> None:
        self.acknowledged.append(batch)

    def fail(self, error: Exception) -> None:
        self.failures.append(str(error))


class Living(LiveRoom):
    """A live room that remembers what it is to publish."""

    heard: list[Committed]

    def send(self, committed: Committed) -> None:
        self.heard.append(committed)

    def go_on(self, committed: Committed) -> None:
        """There is nothing to go on with."""


def living(durable: DurableRoom) -> Living:
    room = Living(durable, decision_log(io.BytesIO(), durable.room.name))
    room.heard = []
    return room


def two_rooms(stage: Stage) -> tuple[Living, Living]:
    taken_up = take_up(stage.journal, LOFT, stage.clock, VERSION)
    loft = DurableRoom(stage.journal, taken_up, VERSION)
    return living(stage.durable), living(loft)


async def read(stage: Stage, rooms: tuple[Living, ...], lines: tuple[Any, ...]) -> None:
    """Let every room's socket be readable in one turn of the loop."""
    turn = Pipeline(stage.journal, alone=False)
    for room, line in zip(rooms, lines, strict=True):
        turn.readable(room, line)
    await turns()


async def test_what_many_rooms_hear_at_once_is_committed_at_once(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        rooms, lines = two_rooms(stage), (Line(Batch(LIT)), Line(Batch(LIT)))
        with counted_commits() as commits:
            await read(stage, rooms, lines)
        assert len(commits) == 1
        for room, line in zip(rooms, lines, strict=True):
            assert [len(one.messages) for one in room.heard] == [2]
            assert line.acknowledged == [Batch(LIT)]
            known = stage.journal.kept(room.durable.room.name)
            assert known is not None
            assert known.state == encode(room.durable.engine.state)


@pytest.mark.parametrize("system_yields", [True, False])
async def test_the_orders_of_all_rooms_leave_then_the_broker_runs_then_all_is_acknowledged(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, system_yields: bool
) -> None:
    """The broker may wait for the processor that we hold, to hand the orders on."""
    happened: list[str] = []
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        rooms, lines = two_rooms(stage), (Line(Batch(LIT)), Line(Batch(LIT)))
        for room, line in zip(rooms, lines, strict=True):
            monkeypatch.setattr(room, "send", lambda _: happened.append("order"))
            monkeypatch.setattr(line, "acknowledge", lambda _: happened.append("acknowledged"))
        yields = (lambda: happened.append("broker runs")) if system_yields else None
        monkeypatch.setattr(pipeline, "_YIELD", yields)
        await read(stage, rooms, lines)
        between = ["broker runs"] if system_yields else []
        assert happened == ["order", "order", *between, "acknowledged", "acknowledged"]


async def test_where_nothing_is_ordered_nobody_need_run_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a busy machine that would cost a turn of everybody's for each reading."""
    happened: list[str] = []
    monkeypatch.setattr(pipeline, "_YIELD", lambda: happened.append("broker runs"))
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        rooms, line = two_rooms(stage), Line(Batch((inbound(ProjectorReport(state="off")),)))
        await read(stage, rooms[:1], (line,))
        assert len(line.acknowledged) == 1
    assert happened == []


async def test_rooms_that_come_back_together_are_greeted_with_one_commit(tmp_path: Path) -> None:
    """A broker that is started anew lets a thousand rooms in: a sync for each would take long."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        rooms, lines = two_rooms(stage), tuple(Line(Batch(LIT, lost=True)) for _ in range(2))
        commits: list[object] = []
        commit = Journal.commit

        def counted(own: Journal) -> None:
            commits.append(own)
            commit(own)

        with patch.object(Journal, "commit", counted):
            await read(stage, rooms, lines)
        assert len(commits) == 1
        for room, line in zip(rooms, lines, strict=True):
            known = stage.journal.kept(room.durable.room.name)
            assert known is not None
            waits = [one.message.subtopic for one in outbox_read(known.waiting)]
            assert waits.count("ask") == 1, "the hub is asked for everything"
            assert (line.marked, line.acknowledged) == (1, [Batch(LIT, lost=True)])


async def test_a_room_that_could_not_be_greeted_knows_no_session(tmp_path: Path) -> None:
    """Its next connection finds the session unmarked, and asks the hub then."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        rooms, lines = two_rooms(stage), tuple(Line(Batch(lost=True)) for _ in range(2))
        with patch.object(Journal, "commit", side_effect=JournalError("the disk is full")):
            await read(stage, rooms, lines)
        for room, line in zip(rooms, lines, strict=True):
            assert (room.heard, line.marked, line.failures) == ([], 0, ["the disk is full"])


async def test_where_the_commit_fails_no_room_has_heard_anything(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        rooms, lines = two_rooms(stage), (Line(Batch(LIT)), Line(Batch(LIT)))
        before = [room.durable.engine.state for room in rooms]
        with patch.object(Journal, "commit", side_effect=JournalError("the disk is full")):
            await read(stage, rooms, lines)
        assert [room.durable.engine.state for room in rooms] == before
        assert [room.durable.record.waiting() for room in rooms] == [(), ()]
        for room, line in zip(rooms, lines, strict=True):
            assert room.heard == []
            assert line.acknowledged == []
            assert line.failures == ["the disk is full"]


async def test_what_goes_wrong_in_one_room_is_not_kept_from_the_others(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown: list[dict[str, Any]] = []
    asyncio.get_running_loop().set_exception_handler(lambda _loop, context: shown.append(context))
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        rooms, lines = two_rooms(stage), (Line(Batch(LIT)), Line(Batch(LIT)))

        def breaks(_committed: Committed) -> None:
            raise RuntimeError("a fault")

        monkeypatch.setattr(rooms[0], "send", breaks)
        await read(stage, rooms, lines)
        assert len(rooms[1].heard) == 1
        assert (lines[0].failures, lines[1].failures) == (["a fault"], [])
        assert [str(one["exception"]) for one in shown] == ["a fault"]


async def test_a_fault_while_a_batch_is_looked_at_ends_its_connection(tmp_path: Path) -> None:
    """Otherwise the batch would be lost, and later messages would pass it."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        room, line = living(stage.durable), Line(Batch(LIT, lost=True))
        with (
            patch.object(DurableRoom, "lost", side_effect=RuntimeError("a fault")),
            pytest.raises(RuntimeError),
        ):
            Pipeline(stage.journal, alone=True).readable(room, cast("Session", line))
        assert line.failures == ["a fault"]
        assert line.acknowledged == []


def with_timers(stage: Stage) -> tuple[LiveRoom, ...]:
    """Give two live rooms, as `run` keeps them, with something that falls due."""
    together = Pipeline(stage.journal, alone=False)
    rooms = tuple(
        LiveRoom(one.durable, decision_log(io.BytesIO(), "room")) for one in two_rooms(stage)
    )
    for room in rooms:
        room.in_turn = together.add
        room.publish(room.durable.take(LIT))
        assert room.durable.deadline is not None
    return rooms


async def all_due(stage: Stage, rooms: tuple[LiveRoom, ...]) -> None:
    """Let what is due in every room fall due in one turn of the loop."""
    dues = [room.durable.deadline for room in rooms]
    stage.clock.time = max(due for due in dues if due is not None)
    for room in rooms:
        room.arm(anew=True)
    await turns()


@contextmanager
def counted_commits() -> Iterator[list[Journal]]:
    """Let journals commit as ever for a while; gives the journal of each commit."""
    commits: list[Journal] = []
    commit = Journal.commit

    def counted(own: Journal) -> None:
        commits.append(own)
        commit(own)

    with patch.object(Journal, "commit", counted):
        yield commits


async def test_what_falls_due_in_many_rooms_at_once_is_committed_at_once(tmp_path: Path) -> None:
    """Rooms that look at the clock are all due as a minute begins."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        rooms = with_timers(stage)
        before = [room.durable.engine.state for room in rooms]
        with counted_commits() as commits:
            await all_due(stage, rooms)
        assert len(commits) == 1
        for room, state in zip(rooms, before, strict=True):
            assert room.durable.engine.state != state
            room.end()


async def test_what_fell_due_and_could_not_be_kept_is_tried_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(live_room, "RETRY_AFTER", 0.0)
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        rooms = with_timers(stage)
        before = [room.durable.engine.state for room in rooms]
        with patch.object(Journal, "commit", side_effect=JournalError("the disk is full")):
            await all_due(stage, rooms)
            assert [room.durable.engine.state for room in rooms] == before
        await turns(20)
        for room, state in zip(rooms, before, strict=True):
            assert room.durable.engine.state != state
            room.end()


async def test_what_the_broker_has_taken_of_many_rooms_is_written_down_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(live_room, "FLUSH_AFTER", 0.0)
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        rooms = with_timers(stage)
        with counted_commits() as commits:
            for room in rooms:
                waits = room.durable.record.waiting()
                assert waits
                room.taken(one.serial for one in waits if one.serial is not None)
            await turns()
        assert len(commits) == 1
        for room in rooms:
            known = stage.journal.kept(room.durable.room.name)
            assert known is not None
            assert outbox_read(known.waiting) == ()
            room.end()
