"""Standard output that makes no room wait: it is written to in threads, a batch after another.

A pipe that nobody reads is full after 64 KiB. Whoever writes to it then stands still, and hears no
signal.
"""

from __future__ import annotations

import asyncio
import os
import select
import sys
from collections.abc import Callable
from functools import partial
from typing import NamedTuple

from adapters.live.daemon_thread import in_daemon_thread


class _Line(NamedTuple):
    """A line to be printed."""

    text: bytes
    then: Callable[[], None] | None
    """What is called once it is."""


class LinePrinter:
    """Prints lines in the order in which they came, on the running event loop."""

    def __init__(self) -> None:
        self._waiting: list[_Line] = []
        self._going: list[_Line] = []
        """Those that a thread is writing."""
        self._error: Exception | None = None
        """Why nothing can be written any more."""
        self._news = asyncio.Event()

    def put(self, text: bytes, then: Callable[[], None] | None = None) -> None:
        """Let a line be printed with the next `begin`, and call `then` once it is."""
        self._waiting.append(_Line(text, then))

    def begin(self) -> None:
        """Begin to print what waits, unless a thread is at it already."""
        if self._going or not self._waiting or self._error is not None:
            return
        self._going, self._waiting = self._waiting, []
        text = b"".join(line.text for line in self._going)
        in_daemon_thread(partial(print_whole, text)).add_done_callback(self._printed)

    def _printed(self, done: asyncio.Future[None]) -> None:
        self._error = done.exception()  # type: ignore[assignment]
        printed, self._going = self._going, []
        self._news.set()
        if self._error is None:
            for line in printed:
                if line.then is not None:
                    line.then()
            self.begin()

    async def has_printed(self, but: int = 0) -> None:
        """Wait until everything is printed, but for so many lines; raises OSError if it cannot."""
        self.begin()
        while self._error is None and len(self._waiting) + len(self._going) > but:
            await self._next_news()
        if self._error is not None:
            raise self._error

    async def has_failed(self) -> None:
        """Wait until nothing can be printed any more, and raise why: OSError."""
        while self._error is None:
            await self._next_news()
        raise self._error

    async def _next_news(self) -> None:
        self._news.clear()
        await self._news.wait()


def print_whole(text: bytes) -> None:
    """Write to standard output, however long that takes; raises OSError."""
    try:
        number = sys.stdout.fileno()
    except (AttributeError, OSError, ValueError):  # it is no file
        sys.stdout.buffer.write(text)
        sys.stdout.buffer.flush()
        return
    # Past the buffer, whose lock a thread that waits would hold as the process ends.
    while text:
        try:
            text = text[os.write(number, text) :]
        except BlockingIOError:  # somebody has set the file not to wait
            select.select((), (number,), ())
