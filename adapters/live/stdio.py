"""Events as JSON lines on standard input, messages as JSON lines on standard output: no broker.

{"room": "hayloft", "kind": "source", "source": "disc"}      in; "room" where there are several
{"room": "hayloft", "on": "order", "say": {"kind": "picture", …}}   out
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable, Sequence
from concurrent.futures import CancelledError
from contextlib import suppress
from functools import partial
from threading import Thread
from typing import Final, TypeVar

from adapters.live.announcements import NotTaken, id_in
from adapters.live.drafts import Committed
from adapters.live.journal_file import JournalError
from adapters.live.line_printer import LinePrinter
from adapters.live.live_room import LiveRoom
from adapters.live.log_stream import LAST_WAIT
from adapters.live.messages import TOLD_TOPIC, InboundMessage, OutgoingMessage
from adapters.live.redating import with_time_left
from engine.errors import UnusableError
from engine.refusal import Refused

MOST_LINE_BYTES: Final = 1 << 20
MOST_LINES_AHEAD: Final = 64
"""No more lines than this are read before they are taken, or wait to be printed meanwhile."""

TRY_AGAIN_AFTER: Final = 1.0
"""Seconds after which what could not be written to the journal is tried again."""

_Made = TypeVar("_Made")


class _PrintingOutlet:
    """Carries a room's messages to standard output."""

    may_explain_later = False
    """What is printed stands in the order in which it came."""

    def __init__(self, room: LiveRoom, printer: LinePrinter) -> None:
        self._room, self._printer = room, printer
        self._going: set[int] = set()
        """Outbox numbers of what is to be printed and is not yet."""
        self.last_sent = 0
        """The highest outbox number that was handed to the printer."""

    def say(self, said: OutgoingMessage, serial: int | None) -> None:
        """Let a message be printed, which is then as good as taken.

        Whoever reads it sees that we are alive, and nothing is retained whose place must be taken.
        """
        if serial in self._going:
            return
        then: Callable[[], None] | None = None
        if serial is not None:
            self.last_sent = max(self.last_sent, serial)
            self._going.add(serial)
            then = partial(self._taken, serial)
        line = b""
        if said.stays is None:
            head = f'{{"room":"{self._room.durable.room.name}","on":"{said.subtopic}","say":'
            line = head.encode() + with_time_left(said, self._room.durable.now()) + b"}\n"
        self._printer.put(line, then)

    def _taken(self, serial: int) -> None:
        self._going.discard(serial)
        self._room.durable.record.sent(serial)

    def follow_clock(self, by: int) -> None:
        """Do nothing: what is printed says for how long it holds as of when it was said."""

    def write(self) -> None:
        """Hand on what was said."""
        self._printer.begin()


def is_too_long(line: bytes) -> bool:
    """Tell whether a line goes on after what was read of it: it is longer than one may be."""
    return len(line) > MOST_LINE_BYTES and not line.endswith(b"\n")


def _read_lines(loop: asyncio.AbstractEventLoop, lines: asyncio.Queue[bytes | OSError]) -> None:
    """Read lines in a thread that nobody waits for: the last one may never come."""
    with suppress(RuntimeError, CancelledError):
        last: bytes | OSError = b""
        try:
            with open(0, "rb", closefd=False) as file:
                while line := file.readline(MOST_LINE_BYTES + 1):
                    rest = line
                    while is_too_long(rest):  # nobody wants to have all of it
                        rest = file.readline(MOST_LINE_BYTES + 1)
                    asyncio.run_coroutine_threadsafe(lines.put(line), loop).result()
        except OSError as error:
            last = error
        asyncio.run_coroutine_threadsafe(lines.put(last), loop).result()


class LineReader:
    """Reads lines until they end."""

    def __init__(self, rooms: Sequence[LiveRoom]) -> None:
        self._rooms = {room.durable.room.name: room for room in rooms}
        self._printer = LinePrinter()
        for room in rooms:
            room.outlet = _PrintingOutlet(room, self._printer)

    async def run(self) -> None:
        """Take every line, then return; raises UnusableError, OSError.

        While the journal cannot be written, the line that has come waits, and no more is read.
        """
        parts = [*map(asyncio.create_task, (self._take_lines(), self._printer.has_failed()))]
        try:
            done, _ = await asyncio.wait(parts, return_when=asyncio.FIRST_COMPLETED)
            for part in done:
                part.result()
        finally:
            for part in parts:
                part.cancel()
            await asyncio.gather(*parts, return_exceptions=True)

    async def leave(self) -> None:
        """Wait a moment for whoever reads; what is not printed yet comes after the next start."""
        with suppress(OSError):
            async with asyncio.timeout(LAST_WAIT):
                await self._printer.has_printed()

    async def _take_lines(self) -> None:
        for room in self._rooms.values():
            greeting = partial(room.durable.greeting, lost=False)
            greeted = await self._once_kept(greeting, "the start waits for the journal")
            room.greet(greeted, lost=False)
        lines: asyncio.Queue[bytes | OSError] = asyncio.Queue(MOST_LINES_AHEAD)
        Thread(target=_read_lines, args=(asyncio.get_running_loop(), lines), daemon=True).start()
        while line := await lines.get():
            if isinstance(line, OSError):
                raise UnusableError(f"standard input cannot be read: {line.strerror or line}")
            if is_too_long(line) or line.strip():
                await self._once_kept(partial(self._take, line), "line waits for the journal")
            await self._printer.has_printed(but=MOST_LINES_AHEAD)
        await self._printer.has_printed()
        for room in self._rooms.values():
            flush = room.durable.record.flush
            await self._once_kept(flush, "what was printed waits for the journal")

    async def _once_kept(self, work: Callable[[], _Made], waits: str) -> _Made:
        """Do what writes to the journal as soon as that can be written: until then nothing else is.

        The journal is looked after and mended meanwhile. Raises what cannot be kept for other
        reasons than the journal's.
        """
        said = False
        while True:
            try:
                return work()
            except JournalError as error:
                if not said:
                    for room in self._rooms.values():
                        room.log.warning(waits, why=str(error))
                said = True
            await asyncio.sleep(TRY_AGAIN_AFTER)

    def _take(self, line: bytes) -> None:
        """Take a line, or refuse it; raises `JournalError`, and then nothing has happened."""
        room = next(iter(self._rooms.values()))
        try:
            room, message = self._message(line)
        except Refused as refused:
            room.publish(Committed(refusals=(NotTaken(refused, "-", id_in(line)),)))
            return
        room.publish(room.durable.take([message]))

    def _message(self, line: bytes) -> tuple[LiveRoom, InboundMessage]:
        """Read one line; raises `Refused`."""
        if is_too_long(line):
            raise Refused("malformed", f"a line has {MOST_LINE_BYTES:,} bytes at most")
        try:
            data = json.loads(line)
        except (ValueError, RecursionError):
            raise Refused("malformed", "a line of JSON is expected") from None
        if not isinstance(data, dict) or not isinstance(data.get("kind"), str):
            raise Refused("malformed", 'a line is an object with a "kind", such as "source"')
        name = data.pop("room", None)
        if name is None and len(self._rooms) == 1:
            name = next(iter(self._rooms))
        if not isinstance(name, str) or name not in self._rooms:
            raise Refused("unknown_name", f'"room" names one of {", ".join(self._rooms)}')
        subtopic = data.pop("kind")
        if subtopic == TOLD_TOPIC:
            if not isinstance(data.get("fact"), str):
                raise Refused(
                    "malformed", 'a line of kind "told" says which "fact", and its "value"'
                )
            subtopic = f"{TOLD_TOPIC}/{data.pop('fact')}"
        if not subtopic.isprintable():
            raise Refused("malformed", '"kind" and "fact" are words')
        return self._rooms[name], InboundMessage(subtopic, json.dumps(data).encode())
