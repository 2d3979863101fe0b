"""Every golden evening leads to its decisions live, over a real broker.

The room is kept as `roomcue run` keeps it: connected, with its journal and its own deadlines. Only
its clock is moved by hand, to each moment of the evening in turn, so that nothing hangs on how fast
the machine is.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager
from functools import partial
from io import BytesIO
from pathlib import Path

import pytest
from paho.mqtt.client import Client

from adapters.cli.night_export import export_night
from adapters.live.broker import Broker
from adapters.live.live_room import LiveRoom
from adapters.live.messages import payload_of
from adapters.live.run_rooms import RunOptions, keep_rooms, taken_up
from adapters.live.tell_client import listening_client, publish_to_room
from engine import RoomEngine
from engine.events import Event, TimeOfDay
from engine.room import Room
from rules.room.load import load
from simulator.nights.night_file import NightEntry, decision_line, read_head, read_lines
from simulator.shipped import NIGHTS
from tests.adapters.staging import VERSION, StagedClock
from tests.golden.evenings import BEGINS, EVENINGS
from tests.live.broker import PATIENCE, Mosquitto

A_TURN = 0.0005
"""Seconds to leave to the broker and the room before looking again."""


class LiveEvening:
    """A room that is kept at a broker, with a clock moved by hand, and its hub."""

    def __init__(self, room: LiveRoom, clock: StagedClock, hub: Client) -> None:
        self.room, self.clock, self._hub = room, clock, hub
        self._told = 0

    async def pass_to(self, now: int) -> None:
        """Let everything that falls due up to a moment (ms UTC) do so at its own time."""
        engine = self.room.durable.engine
        while (due := engine.deadline) is not None and due <= now:
            self.clock.time = max(due, self.clock.time)
            self.room.look_at_clock()
            await until(partial(_is_past, engine, due))
        self.clock.time = now

    async def hear(self, event: Event) -> None:
        """Publish an event as a hub does, or let the clock show what the room reads off it."""
        durable = self.room.durable
        if isinstance(event, TimeOfDay):
            self.clock.face = event.minute
            self.room.publish(durable.hear(event))
            return
        publish_to_room(self._hub, durable.room.name, *payload_of(event))
        self._told += 1
        await until(lambda: durable.counts.waited == self._told)


def _is_past(engine: RoomEngine, due: int) -> bool:
    """Tell whether everything has happened that was due at a moment (ms UTC)."""
    return engine.deadline is None or engine.deadline > due


async def until(true: Callable[[], bool]) -> None:
    """Let the event loop go on until something is true."""
    async with asyncio.timeout(PATIENCE):
        while not true():  # noqa: ASYNC110 - a room says to nobody that it has taken an event
            await asyncio.sleep(A_TURN)


@asynccontextmanager
async def kept(
    room: Room, journal: Path, begins: int, broker: Broker
) -> AsyncIterator[LiveEvening]:
    """Keep a room as `roomcue run` does, from a moment (ms UTC) on."""
    clock, stop = StagedClock(begins), asyncio.Event()
    running = RunOptions(
        rooms=(room,),
        journal=journal,
        version=VERSION,
        broker=broker,
        clock=lambda _: clock,
        epoch=lambda: 0,  # The nights' ids begin with 1.
        log_to=BytesIO(),
    )
    with taken_up(running) as (rooms, book):
        keeping = asyncio.create_task(keep_rooms(running, rooms, book, stop))
        await rooms[0].greeted.wait()
        with listening_client(broker, room.name, lambda _: None) as hub:
            yield LiveEvening(rooms[0], clock, hub)
        stop.set()
        await keeping


def lines_of(journal: Path) -> list[bytes]:
    """Take the whole journal out as a night."""
    return [*export_night(journal, None, "2000-01-01", None, without_titles=False).lines]


@pytest.fixture(scope="module")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Broker]:
    """One broker for all evenings; each evening has a session of its own."""
    with Mosquitto(tmp_path_factory.mktemp("golden") / "broker") as mosquitto:
        yield Broker("127.0.0.1", mosquitto.port)


@pytest.mark.parametrize("name", EVENINGS)
async def test_a_golden_evening_leads_to_its_decisions_over_a_real_broker(
    name: str, broker: Broker, tmp_path: Path
) -> None:
    """Each event is published by a hub at its own second, and each decision is the golden one."""
    first, *rest = (NIGHTS / f"{name}.jsonl").read_bytes().splitlines()
    head = read_head(first)
    entries = [one for one in read_lines(head.start, rest) if isinstance(one, NightEntry)]
    assert len(entries) == len(rest)
    journal = tmp_path / "journal"
    async with kept(load(head.room_file, head.room), journal, head.start, broker) as evening:
        for entry in entries:
            assert entry.event is not None
            await evening.pass_to(entry.now)
            await evening.hear(entry.event)
    lines = lines_of(journal)
    made = [
        decision_line(BEGINS, one.decision)
        for one in read_lines(read_head(lines[0]).start, lines[1:])
        if isinstance(one, NightEntry) and one.decision is not None
    ]
    assert made == (NIGHTS / f"{name}.decisions.jsonl").read_bytes().splitlines()
