"""The command that plays an evening against a live room, before there is a hub."""

from __future__ import annotations

import asyncio
import os
import signal
from collections.abc import Coroutine
from contextlib import suppress
from datetime import date, datetime, time
from enum import StrEnum
from itertools import chain
from pathlib import Path
from socket import socket
from tempfile import TemporaryDirectory
from typing import Annotated, Final, NamedTuple
from zoneinfo import ZoneInfo

import typer

from adapters.cli.console import console, print_blocks
from adapters.cli.exit_status import OK, errors_reported, read_room_file
from adapters.cli.file_kinds import lines_of_kind
from adapters.cli.files import STDIN, lines_of, open_input
from adapters.cli.invented_nights import read_evening
from adapters.cli.live_commands import Authority, BrokerUrl, PasswordFile, address_of
from adapters.cli.main import INTERRUPTED
from adapters.cli.night_files import good_entries, open_night
from adapters.cli.options import RoomArgument
from adapters.cli.rehearsal import (
    LifeTime,
    Rehearsal,
    StagedTime,
    longest_gap,
    shortened,
    tellable,
)
from adapters.cli.typed_script import read_typed_script
from adapters.cli.version import roomcue_version
from adapters.live.broker import Broker
from adapters.live.clock import RehearsalClock
from adapters.live.embedded_broker import LOOPBACK, require_broker
from adapters.live.run_rooms import RunOptions, keep_rooms, taken_up
from adapters.render.night_text import clock
from adapters.render.rehearsal_text import RehearsalHead, rehearsal_heading
from engine.errors import UnusableError
from engine.events import milliseconds, moment_of
from engine.room import Room
from simulator.nights.invention import NightPlan, invent_events
from simulator.nights.replay import engine_for
from simulator.nights.stand_in_hub import Hub, Person, TimedEvent
from simulator.nights.what_if import happened_anyway

rehearsal_commands = typer.Typer(rich_markup_mode=None)

DEFAULT_SPEED: Final = 60.0
LAST_PORT: Final = 65_534
DAY_OF_NO_PARTICULAR: Final = "2026-11-22"


class People(StrEnum):
    """How the people of a rehearsal answer."""

    WILLING = "willing"
    BUSY = "busy"
    ABSENT = "absent"


PEOPLE: Final = {
    People.WILLING: Person(),
    People.BUSY: Person(answer=10_000, says_no=True),
    People.ABSENT: Person(answer=None),
}


class _Evening(NamedTuple):
    """What is played."""

    words: str
    begins: int
    """When it begins, in ms UTC."""
    script: list[TimedEvent]


NightOrScript = Annotated[
    Path | None,
    typer.Argument(help="A night, or a script in plain words; without one an evening is invented."),
]
Seed = Annotated[int, typer.Option(help="The same seed invents the same evening.")]
Titles = Annotated[int, typer.Option(min=1, max=20, help="How many films and episodes.")]
Minutes = Annotated[int, typer.Option(min=10, max=300, help="How long each is.")]
Answering = Annotated[
    People, typer.Option("--people", help="How people answer: they come, say no, or stay away.")
]
Speed = Annotated[
    float | None,
    typer.Option(min=0.1, max=1_000, help="How many times as fast as life; 60 if left out."),
]
Begins = Annotated[
    str | None,
    typer.Option(help="The time of day at which it begins; else 19:30, or the night's own."),
]
OwnPort = Annotated[
    int | None,
    typer.Option(min=1, max=LAST_PORT, help="The embedded broker's port; else a free one."),
]


@rehearsal_commands.command()
def rehearse(
    room: RoomArgument,
    night: NightOrScript = None,
    seed: Seed = 1,
    titles: Titles = 2,
    minutes: Minutes = 10,
    people: Answering = People.WILLING,
    speed: Speed = None,
    begins: Begins = None,
    port: OwnPort = None,
    broker: BrokerUrl = None,
    ca: Authority = None,
    password_file: PasswordFile = None,
) -> None:
    """Play an evening against a live room as its hub, its hardware and its people would.

    Starts the room itself, with a broker and a clock of its own; with --broker, plays against a
    room that runs there already.
    """
    with errors_reported():
        if broker is None:
            require_broker()
        elif (speed, begins, port) != (None, None, None):
            words = "--speed, --begins and --port are for a room that is started here"
            raise UnusableError(f"{words}: one that runs at a broker has its own time")
        compiled = read_room_file(room)
        hub = Hub(compiled, PEOPLE[people])
        evening = _invented(compiled, seed, titles, minutes)
        if night is not None:
            evening = _written(night, room, compiled)
        evening = _begun_at(evening, begins, compiled)
        if broker is None:
            _rehearse_here(hub, evening, speed or DEFAULT_SPEED, port, people)
        else:
            address = address_of(broker, ca, password_file)
            _rehearse_there(hub, evening, address, broker, people)
    raise typer.Exit(OK)


# ------------------------------------------------------------------------------- the evening


def _invented(room: Room, seed: int, titles: int, minutes: int) -> _Evening:
    start = read_evening(DAY_OF_NO_PARTICULAR, room.time_zone)
    script = invent_events(room, seed, start, NightPlan(titles=titles, minutes=minutes))
    return _Evening(f"an invented evening (seed {seed})", start, [*tellable(script)])


def _written(path: Path, room: Path, compiled: Room) -> _Evening:
    """Read an evening from a file: a night, or a script in plain words."""
    if str(path) == STDIN:  # It cannot be looked into and then read from its beginning.
        return _recorded(path, room)
    with open_input(path) as file:
        lines = lines_of_kind(lines_of(file, path), path, "a night", "a script of an evening")
        first = next(lines, b"")
        if first.startswith(b"{"):
            return _recorded(path, room)
        day = date.fromisoformat(DAY_OF_NO_PARTICULAR)
        script = read_typed_script(str(path), chain((first,), lines), compiled, day)
    return _Evening(f"the evening of {path.name}", script[0].now, script)


def _recorded(night: Path, room: Path) -> _Evening:
    """Read what happens in a night anyway, without what only answered its own orders."""
    with open_night(night, room) as opened:
        engine = engine_for(opened.own or opened.room, opened.head)
        entries = good_entries(opened, skip=None)
        happened = happened_anyway(engine, entries, [])
        script = [timed for timed in happened if isinstance(timed, TimedEvent)]
    if not script:
        raise UnusableError(f"{night}: nothing happens in this night")
    return _Evening(f"the evening of {night.name}", opened.head.start, [*tellable(script)])


def _begun_at(evening: _Evening, begins: str | None, room: Room) -> _Evening:
    """Let an evening begin at another time of day; raises `UnusableError`."""
    if begins is None:
        return evening
    zone = ZoneInfo(room.time_zone)
    try:
        wanted = time.fromisoformat(begins)
    except ValueError:
        words = f"--begins {begins} is no time of day: write one such as 19:30"
        raise UnusableError(words) from None
    day = moment_of(evening.begins).astimezone(zone).date()
    start = milliseconds(datetime.combine(day, wanted.replace(tzinfo=None), zone))
    moved = start - evening.begins
    script = [TimedEvent(timed.now + moved, timed.event) for timed in evening.script]
    return _Evening(evening.words, start, script)


# ------------------------------------------------------------------------------- both places


def _rehearse_here(
    hub: Hub, evening: _Evening, speed: float, port: int | None, people: People
) -> None:
    """Start a broker and the room, with a clock that runs as fast as is wanted."""
    room, port = hub.room, port or _free_port()
    staged = RehearsalClock(evening.begins, speed)
    head = RehearsalHead(
        room=room.name,
        evening=evening.words,
        people=people,
        begins=clock(evening.begins, ZoneInfo(room.time_zone)),
        speed=speed,
        broker=f"mqtt://localhost:{port}",
        example=_example(room),
    )
    with TemporaryDirectory(prefix="roomcue-") as folder, Path(os.devnull).open("wb") as nowhere:
        running = RunOptions(
            rooms=(room,),
            journal=Path(folder) / "journal",
            version=roomcue_version(),
            broker=Broker(LOOPBACK, port),
            own_broker=port,
            clock=lambda _: staged,
            epoch=lambda: 0,
            log_to=nowhere,
        )
        with taken_up(running) as (rooms, journal):
            print_blocks(out := console(), rehearsal_heading(head))
            play = Rehearsal(hub, StagedTime(staged, rooms[0]), out)

            async def both() -> None:
                stop = asyncio.Event()
                kept = asyncio.create_task(keep_rooms(running, rooms, journal, stop))
                played = asyncio.create_task(play.play(Broker(LOOPBACK, port), evening.script))
                await asyncio.wait((kept, played), return_when=asyncio.FIRST_COMPLETED)
                stop.set()
                await kept
                await played

            _run_interruptibly(both())


def _rehearse_there(
    hub: Hub, evening: _Evening, address: Broker, broker: str, people: People
) -> None:
    """Play against a room that runs already, at its own pace."""
    longest = longest_gap(hub)
    head = RehearsalHead(
        room=hub.room.name,
        evening=evening.words,
        people=people,
        begins="",
        speed=1,
        broker=broker,
        longest_gap=longest,
        example=_example(hub.room),
    )
    life, out = LifeTime(), console()
    script = shortened(evening.script, life.now(), longest)
    play = Rehearsal(hub, life, out)
    _run_interruptibly(play.play(address, script, rehearsal_heading(head)))


def _run_interruptibly(work: Coroutine[None, None, None]) -> None:
    """Run to the end; Ctrl-C ends it quietly with its status."""

    async def guarded() -> None:
        task = asyncio.current_task()
        if task is not None:
            asyncio.get_running_loop().add_signal_handler(signal.SIGINT, task.cancel)
        await work

    try:
        asyncio.run(guarded())
    except asyncio.CancelledError:
        raise typer.Exit(INTERRUPTED) from None


def _free_port() -> int:
    """Give a port that is free, and the next one with it."""
    while True:
        with socket() as first, socket() as second, suppress(OSError, OverflowError):
            first.bind((LOOPBACK, 0))
            port = int(first.getsockname()[1])
            second.bind((LOOPBACK, port + 1))
            return port


def _example(room: Room) -> str:
    """Give something that may be said in this room."""
    return f"source {next(iter(room.sources))}"
