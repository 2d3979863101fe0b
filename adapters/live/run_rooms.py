"""`roomcue run`: many rooms in one process, until somebody stops it.

One task a room keeps it connected; one checks room files that came as messages. A signal to stop
ends all of them cleanly, and a power cut ends them just as well: the journal is the truth.
"""

from __future__ import annotations

import asyncio
import gc
import sys
from collections.abc import Callable, Coroutine, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from functools import partial
from pathlib import Path
from typing import BinaryIO, Final, NamedTuple

from adapters.live.broker import Broker
from adapters.live.clock import LARGEST_SLIP, Clock, WallClock, steady_ms
from adapters.live.connection import KEEPALIVE
from adapters.live.durable_room import STOOD_STILL, DurableRoom
from adapters.live.embedded_broker import running_broker
from adapters.live.epochs import new_epoch
from adapters.live.journal import Journal
from adapters.live.journal_file import JournalError, NotKeptError
from adapters.live.journal_watch import look_for_damage, watch_journal
from adapters.live.live_room import RETRY_AFTER, LiveRoom
from adapters.live.log import TolerantStream, decision_log
from adapters.live.log_stream import dropped_lines
from adapters.live.metrics import serve_metrics
from adapters.live.pipeline import Pipeline
from adapters.live.property_tables import share_tables
from adapters.live.session import Session
from adapters.live.slow_work import SECONDS_A_DAY, SlowWork
from adapters.live.startup import take_up
from adapters.live.stdio import LineReader
from adapters.live.stop_signals import signals_put_back_unless_stopped, stopped_by_signals
from engine.room import Room

LOOK_AT_CLOCK_EVERY: Final = 1.0
"""Seconds between two looks at whether the clock was set or the machine has slept."""
SLEPT_LONG: Final = 1_500 * KEEPALIVE
"""A machine that slept for more ms than this has no connections left (MQTT 5.0, 3.1.2.10)."""
PACK_EVERY: Final = 1.0
"""Seconds between two looks for lines to be packed."""
PACK_PAUSE: Final = 0.1
"""Seconds between two packs, in which rooms are heard."""
MOST_NEW: Final = 20_000
"""So many objects may come before Python looks for rings among them. Each of two hundred rooms that
hear a reading at once makes some; by its own measure (700) it would look many times in one turn."""

RENAMED_WORDS: Final = (
    "The journal keeps {names} as well, which nobody runs now. A room with another name is another "
    "room: nothing is taken over, and what waits for the old one stays with the broker."
)
NOT_PROVEN_WORDS: Final = "Its rules are not proven: 'roomcue check' says what may go wrong."


class RunOptions(NamedTuple):
    """How rooms shall run."""

    rooms: tuple[Room, ...]
    journal: Path
    version: str
    broker: Broker | None = None
    """None: events come as lines on standard input."""
    own_broker: int | None = None
    """The port of a broker to be started."""
    keep: int = 400
    """How many nights stay in the journal."""
    metrics: int | None = None
    """The port on which figures are served."""
    plain: bool = True
    """Whether the log is for people."""
    unproven: frozenset[str] = frozenset()
    """The rooms, by their names, whose files are not proven and shall run all the same."""
    clock: Callable[[int], Clock] = WallClock
    """Makes the clock of all rooms, given the moment (ms UTC) before which it must not begin."""
    epoch: Callable[[], int] = new_epoch
    """Draws what the ids of a room begin with that the journal does not know yet."""
    log_to: BinaryIO | None = None
    """Where the log goes; None: to standard error."""
    begun: Callable[[], None] | None = None
    """Called once everything that rooms need is there, and before they run."""


def run(running: RunOptions) -> None:
    """Run rooms until stopped; raises UnusableError for what a user can mend, OSError.

    Whoever stops the process again is not heard: the journal is still to be closed.
    """
    with signals_put_back_unless_stopped() as signals, taken_up(running) as (rooms, journal):
        signals.stopped = asyncio.run(_run_until_signalled(running, rooms, journal))


@contextmanager
def taken_up(running: RunOptions) -> Iterator[tuple[list[LiveRoom], Journal]]:
    """Take rooms up with what they need besides: journal, counters, a broker of their own.

    Raises `NotKeptError` where the journal has been lost as it is closed.
    """
    rooms: list[LiveRoom] = []
    with ExitStack() as stack:
        journal = Journal(running.journal)
        stack.callback(_say_parting, journal, rooms)
        stack.enter_context(journal)
        with journal.together():
            rooms += _live_rooms(running, journal)
        gc.freeze()  # What is there now stays; only what comes is worth looking through.
        gc.set_threshold(MOST_NEW, *gc.get_threshold()[1:])
        if running.metrics is not None:
            stack.enter_context(
                serve_metrics(running.metrics, lambda: [one.durable for one in rooms])
            )
        if running.own_broker is not None:
            stack.enter_context(running_broker(running.own_broker))
        if running.begun is not None:
            running.begun()
        yield rooms, journal
    if journal.parting is not None and journal.parting.lost:
        raise NotKeptError(journal.parting.words)


def _say_parting(journal: Journal, rooms: Sequence[LiveRoom]) -> None:
    """Say what became of a journal that was closed and does not lie whole at its path."""
    if journal.parting is not None:
        for room in rooms:
            room.log.error("journal is not in its place", words=journal.parting.words)


def _live_rooms(running: RunOptions, journal: Journal) -> Iterator[LiveRoom]:
    """Take every room up where the journal left it."""
    kept = [journal.kept(room.name) for room in running.rooms]
    clock = running.clock(max((one.now for one in kept if one is not None), default=0))
    file = running.log_to or sys.stderr.buffer
    stream, dropped = TolerantStream(file), dropped_lines(file)
    others = {*journal.rooms()} - {room.name for room in running.rooms}
    for room in running.rooms:
        begun = take_up(journal, room, clock, running.version, running.epoch())
        log = decision_log(stream, room.name, plain=running.plain)
        if journal.found_log is not None:
            log.warning("journal has gone", words=journal.found_log)
        for words in begun.words:
            log.info("begins", words=words)
        if begun.first and others:
            names = ", ".join(f"'{name}'" for name in sorted(others))
            log.warning("begins anew", words=RENAMED_WORDS.format(names=names))
        durable = DurableRoom(journal, begun, running.version)
        durable.counts.log = dropped
        durable.record.drop_nights(running.keep)
        unproven = room.text if room.name in running.unproven else None
        if durable.room.text == unproven:
            log.warning("not proven", words=NOT_PROVEN_WORDS)
        yield LiveRoom(durable, log, unproven=unproven)


async def _run_until_signalled(
    running: RunOptions, rooms: Sequence[LiveRoom], journal: Journal
) -> bool:
    """Keep rooms; tell whether a signal has ended them."""
    stop = asyncio.Event()
    with stopped_by_signals(stop):
        await keep_rooms(running, rooms, journal, stop)
    return stop.is_set()


async def keep_rooms(
    running: RunOptions, rooms: Sequence[LiveRoom], journal: Journal, stop: asyncio.Event
) -> None:
    """Keep rooms that are taken up until `stop` is set, or one of the tasks cannot go on."""
    sessions: list[Session] = []
    lines: LineReader | None = None
    waiting: list[asyncio.Task[object]] = [asyncio.create_task(stop.wait())]
    if running.broker is not None:
        share_tables()
        pipeline = Pipeline(journal, alone=len(rooms) == 1)
        for room in rooms:
            durable = room.durable
            session = Session(durable.client_name, running.broker, durable.now, room.log)
            room.outlet, room.in_turn = session, pipeline.add
            on_readable = partial(pipeline.readable, room, session)
            waiting.append(asyncio.create_task(session.run(on_readable, sessions)))
            sessions.append(session)
    else:
        lines = LineReader(rooms)
        waiting.append(asyncio.create_task(lines.run()))
    waiting += map(asyncio.create_task, _housework(running, rooms, sessions, journal))
    for room in rooms:
        room.begin()
    try:
        done, _ = await asyncio.wait(waiting, return_when=asyncio.FIRST_COMPLETED)
    finally:
        for room in rooms:
            room.end()
        leaving = sessions if lines is None else (lines,)
        await asyncio.gather(*(one.leave() for one in leaving))
        for room in rooms:
            room.flush()
        await _cancel_all(waiting)
    for task in done:
        task.result()


def _housework(
    running: RunOptions,
    rooms: Sequence[LiveRoom],
    sessions: Sequence[Session],
    journal: Journal,
) -> Iterator[Coroutine[None, None, None]]:
    """Give what is done beside the rooms for as long as they live."""
    yield watch_journal(journal, rooms)
    yield look_for_damage(journal, rooms)
    yield _watch_clock(rooms, sessions)
    yield _drop_old_nights(rooms, running.keep)
    yield _pack_old_lines(rooms, journal)
    slow = SlowWork(running.journal)
    for room in rooms:
        yield slow.check_proposals(room)
        yield slow.report_due_presets(room)


async def _cancel_all(tasks: Sequence[asyncio.Task[object]]) -> None:
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)


async def _watch_clock(rooms: Sequence[LiveRoom], sessions: Sequence[Session]) -> None:
    """Let rooms look at the clock once it was set, or the machine has slept.

    The event loop's clock knows of neither: a timer would come as late as the machine slept. The
    broker has given up a client that was silent for so long, which would notice that late as well.
    """
    loop, apart = asyncio.get_running_loop(), _apart_from_loop()
    while True:
        looked = loop.time()
        await asyncio.sleep(LOOK_AT_CLOCK_EVERY)
        slept = _apart_from_loop() - apart
        late = 1_000 * (loop.time() - looked - LOOK_AT_CLOCK_EVERY) + slept
        if slept > SLEPT_LONG:
            for session in sessions:
                session.begin_anew()
        if slept > LARGEST_SLIP or any(room.durable.record.clock.was_set() for room in rooms):
            for room in rooms:
                room.look_at_clock()
        if late >= STOOD_STILL:
            for room in rooms:
                room.stood_still()
        apart = _apart_from_loop()


def _apart_from_loop() -> float:
    """Say by how many ms the machine's time is ahead of the event loop's, which sleeps too."""
    return steady_ms() - 1_000 * asyncio.get_running_loop().time()


async def _drop_old_nights(rooms: Sequence[LiveRoom], keep: int) -> None:
    """Drop old nights once a day."""
    while True:
        await asyncio.sleep(SECONDS_A_DAY)
        for room in rooms:
            try:
                room.durable.record.drop_nights(keep)
            except JournalError as error:
                room.log.warning("journal cannot be written", why=str(error))


async def _pack_old_lines(rooms: Sequence[LiveRoom], journal: Journal) -> None:
    """Pack what the journal has of older lines, a little at a time."""
    while True:
        try:
            packed = journal.pack_a_room()
        except JournalError as error:
            rooms[0].log.warning("journal cannot be written", why=str(error))
            await asyncio.sleep(RETRY_AFTER)
        else:
            await asyncio.sleep(PACK_PAUSE if packed else PACK_EVERY)
