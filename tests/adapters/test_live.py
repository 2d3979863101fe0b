"""A room as a task decides what the bare engine decides, in virtual time."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress

import pytest

from adapters.live import INBOX, RoomTask, WallClock
from engine.decisions import DECISIONS, Decision
from engine.events import BlackSeen, Event, Mark, Playback, ProjectorReport, SourceChosen
from engine.step import RoomEngine
from engine.turn import Refused
from rules.load import load
from simulator.nights import Entry, decision_line, read_head, read_lines
from simulator.shipped import DEMO_ROOM, NIGHTS
from tests.golden.evenings import BEGINS, EVENINGS

HAYLOFT = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)


class StagedClock:
    """A clock that stands until it is moved, and wakes who waits for a moment it passes."""

    def __init__(self, now: int) -> None:
        self._now = now
        self._waits: list[tuple[int, asyncio.Event]] = []

    def now(self) -> int:
        return self._now

    async def until(self, moment: int) -> None:
        if moment > self._now:
            woken = asyncio.Event()
            self._waits.append((moment, woken))
            await woken.wait()

    def move(self, now: int) -> None:
        assert now >= self._now
        self._now = now
        for moment, woken in self._waits:
            if moment <= now:
                woken.set()


class Stage:
    """A task on a staged clock, with what it sent and refused."""

    def __init__(self, now: int) -> None:
        self.clock = StagedClock(now)
        self.sent: list[Decision] = []
        self.refused: list[str] = []
        self.room = RoomTask(RoomEngine(HAYLOFT), self.clock, self.send, self.refuse)

    async def send(self, decisions: tuple[Decision, ...]) -> None:
        self.sent += decisions

    async def refuse(self, _event: Event, refused: Refused) -> None:
        self.refused.append(refused.code)

    async def at(self, now: int, event: Event) -> None:
        """Move the clock from deadline to deadline up to `now`, then hand an event in."""
        while (deadline := self.room.engine.deadline) is not None and deadline <= now:
            self.clock.move(deadline)
            while self.room.engine.deadline == deadline:  # noqa: ASYNC110 - no time passes
                await asyncio.sleep(0)
        self.clock.move(now)
        await self.room.put(event)
        await self.room.drained()


@asynccontextmanager
async def staged(now: int) -> AsyncIterator[Stage]:
    stage = Stage(now)
    task = asyncio.create_task(stage.room.run())
    try:
        yield stage
    finally:
        task.cancel()
        with suppress(asyncio.CancelledError):
            await task


@pytest.mark.parametrize("name", EVENINGS)
async def test_a_golden_night_leads_to_its_decisions_through_the_task(name: str) -> None:
    """The same decisions as in replay, to the byte."""
    first, *rest = (NIGHTS / f"{name}.jsonl").read_bytes().splitlines()
    start = read_head(first).start
    async with staged(start) as stage:
        for entry in read_lines(start, rest):
            assert isinstance(entry, Entry)
            assert entry.event is not None
            await stage.at(entry.now, entry.event)
        sent = [decision_line(BEGINS, decision) for decision in stage.sent]
    assert sent == (NIGHTS / f"{name}.decisions.jsonl").read_bytes().splitlines()


async def test_what_falls_due_is_done_without_any_event() -> None:
    """The engine's own deadline wakes the task."""
    async with staged(BEGINS) as stage:
        await stage.at(BEGINS, ProjectorReport(state="lit"))
        await stage.at(BEGINS, SourceChosen(source="disc"))
        before = len(stage.sent)
        stage.clock.move(BEGINS + HAYLOFT.pace.order)
        while len(stage.sent) == before:  # noqa: ASYNC110 - no time passes
            await asyncio.sleep(0)
        assert {DECISIONS.dump_python(one)["kind"] for one in stage.sent[before:]} == {"note"}


async def test_a_refusal_is_handed_on_and_the_room_lives() -> None:
    async with staged(BEGINS) as stage:
        await stage.at(BEGINS, SourceChosen(source="nonesuch"))
        await stage.at(BEGINS, Mark())
        assert stage.refused == ["unknown_name"]
        assert [one.kind for one in stage.sent] == ["note"]


async def test_a_full_inbox_makes_whoever_puts_wait() -> None:
    """Nothing is dropped: every event of a flood is handled."""
    stage = Stage(BEGINS)
    flood = asyncio.create_task(flooded(stage.room, 2 * INBOX))
    for _ in range(INBOX + 10):
        await asyncio.sleep(0)
    assert not flood.done()
    task = asyncio.create_task(stage.room.run())
    await flood
    await stage.room.drained()
    task.cancel()
    with suppress(asyncio.CancelledError):
        await task
    assert len([one for one in stage.sent if one.kind == "note"]) == 2 * INBOX


async def flooded(room: RoomTask, count: int) -> None:
    for _ in range(count):
        await room.put(Mark())


async def test_cancelling_finishes_what_was_begun() -> None:
    """An event that was handled is committed, and its decisions were sent."""
    async with staged(BEGINS) as stage:
        await stage.at(BEGINS, ProjectorReport(state="lit"))
        await stage.at(BEGINS, SourceChosen(source="disc"))
        await stage.room.put(Playback(state="playing"))
        await stage.room.put(BlackSeen())
        await stage.room.drained()
    assert stage.room.engine.state.core.playback == "playing"


async def test_the_wall_clock_never_goes_back_and_does_not_wait_for_the_past() -> None:
    clock = WallClock()
    first = clock.now()
    await clock.until(first - 60_000)
    assert clock.now() >= first
