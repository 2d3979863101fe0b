"""Live rooms on a staged clock: no broker, no waiting, a real journal."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from itertools import count
from pathlib import Path
from zoneinfo import ZoneInfo

from adapters.cli.night_export import export_night
from adapters.live.drafts import Committed
from adapters.live.durable_room import DurableRoom
from adapters.live.journal import Journal
from adapters.live.messages import InboundMessage, payload_of
from adapters.live.startup import take_up
from engine.decisions import Decision
from engine.events import Event, Resumed, TimeOfDay
from engine.room import Room
from simulator.nights.night_file import BadLine, decision_line, read_head, read_lines
from simulator.nights.replay import engine_for, verify
from tests.live.broker import PATIENCE

VERSION = "0.1.0"
_BOOTS = count()
INTERNAL = (TimeOfDay, Resumed)


class StagedClock:
    """A clock that stands until it is moved; its face shows what it is told."""

    def __init__(self, now: int) -> None:
        self.time = now
        self.boot, self.ahead = f"boot {next(_BOOTS)}", now
        self.face: int | None = None

    def now(self) -> int:
        return self.time

    def set(self, by: int) -> None:
        """Show another time, though none has passed."""
        self.time += by
        self.ahead += by

    def minute(self, _zone: ZoneInfo) -> int:
        return self.face  # type: ignore[return-value]

    def next_minute(self) -> int:
        return self.time + 60_000

    def seconds_until(self, moment: int) -> float:
        return max(0, moment - self.time) / 1_000


async def turns(times: int = 5) -> None:
    """Let the event loop go round a few times."""
    for _ in range(times):
        await asyncio.sleep(0)


async def until(happened: Callable[[], bool]) -> None:
    """Let the event loop go round until something has happened."""
    async with asyncio.timeout(PATIENCE):
        while not happened():
            await turns()


def inbound(event: Event) -> InboundMessage:
    """Put an event as a hub publishes it."""
    return InboundMessage(*payload_of(event))


class ZonedClock(StagedClock):
    """A staged clock whose face shows a zone's local time."""

    def minute(self, zone: ZoneInfo) -> int:
        local = datetime.fromtimestamp(self.time // 1_000, zone)
        return 60 * local.hour + local.minute

    def next_minute(self) -> int:
        return self.time + 60_000 - self.time % 60_000


class Stage:
    """One room with its journal, which may stop and start again."""

    def __init__(
        self, room: Room, path: Path, now: int, clock: type[StagedClock] = StagedClock
    ) -> None:
        self.room, self.path = room, path
        self.clock = clock(now)
        self.decisions: list[Decision] = []
        self.refusals: list[str] = []
        self.said: list[str] = []
        self.journal = Journal(path)
        self.durable = self.taken_up()

    def taken_up(self) -> DurableRoom:
        """Take the room up from the journal."""
        taken_up = take_up(self.journal, self.room, self.clock, VERSION)
        return DurableRoom(self.journal, taken_up, VERSION)

    def restart(self, room: Room | None = None) -> None:
        """Stop without a word, as a power cut would, and begin again."""
        self.journal.close()
        self.journal = Journal(self.path)
        self.room = room or self.room
        self.durable = self.taken_up()
        self.note(self.durable.resume())

    def note(self, answer: Committed) -> Committed:
        self.decisions += answer.decisions
        self.refusals += [one.refused.code for one in answer.refusals]
        self.said += [queued.message.subtopic for queued in answer.messages]
        return answer

    def pass_to(self, now: int) -> None:
        """Let every deadline up to a moment come at its own time."""
        while (due := self.durable.deadline) is not None and due <= now:
            self.clock.time = max(due, self.clock.time)
            self.note(self.durable.pass_time())
        self.clock.time = now

    def hear(self, *events: Event) -> Committed:
        """Take events as one batch of messages, or what roomcue tells itself."""
        if isinstance(events[0], TimeOfDay):
            self.clock.face = events[0].minute
            return self.note(self.durable.hear(events[0]))
        return self.note(self.durable.take([inbound(event) for event in events]))

    def all_taken(self) -> None:
        """Let the broker take all that waits."""
        for one in self.durable.record.waiting():
            assert one.serial is not None
            self.durable.record.sent(one.serial)

    def lines(self) -> list[bytes]:
        """Take the whole journal out as a night."""
        return [*export_night(self.path, None, "2000-01-01", None, without_titles=False).lines]


@contextmanager
def staged(
    room: Room, path: Path, now: int, clock: type[StagedClock] = StagedClock
) -> Iterator[Stage]:
    stage = Stage(room, path, now, clock)
    try:
        yield stage
    finally:
        stage.journal.close()


def differences(room: Room, lines: list[bytes]) -> list[object]:
    """Hold a night's decisions against those of its replay."""
    head = read_head(lines[0])
    entries = list(read_lines(head.start, lines[1:]))
    assert not [entry for entry in entries if isinstance(entry, BadLine)]
    found = verify(engine_for(room, head), entries)
    return [one for one in found if isinstance(one, BadLine) or not one.alone]


def as_lines(decisions: list[Decision], start: int) -> list[bytes]:
    return [decision_line(start, decision) for decision in decisions]
