"""Standard error that never makes its writer wait, whoever reads it or not.

A pipe holds 64 KiB. Once they are full, whoever writes to it stands still until somebody reads: for
a log that would be every room. So a thread of its own does the writing.
"""

from __future__ import annotations

import io
import select
import sys
import threading
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, suppress
from typing import Final

from adapters.live.room_totals import DroppedLines

MOST_BYTES_WAITING: Final = 1 << 20
"""So much of the log waits for its reader before lines are dropped."""
LAST_WAIT: Final = 1.0
"""Seconds for which the last lines may take to be written as roomcue ends."""


class PatientStream(io.RawIOBase):
    """A stream whose `write` returns at once; what nobody takes is dropped, and counted."""

    def __init__(
        self, stream: io.RawIOBase, *, plain: bool, most: int = MOST_BYTES_WAITING
    ) -> None:
        """Say that lines are missing in words where the log is `plain`, else as a JSON line."""
        self._stream, self._plain, self._most = stream, plain, most
        self._waiting: deque[bytes] = deque()
        self._bytes = 0
        self._missing = 0
        """How many lines were dropped since the last one that was not."""
        self.dropped = DroppedLines()
        self._news = threading.Condition()
        threading.Thread(target=self._hand_on, daemon=True).start()

    def writable(self) -> bool:
        """Tell that it can be written to."""
        return True

    def isatty(self) -> bool:
        """Tell whether a person reads it on a terminal."""
        return self._stream.isatty()

    def fileno(self) -> int:
        """Give the number of the file beneath."""
        return self._stream.fileno()

    def write(self, data: bytes) -> int:  # type: ignore[override]
        """Take a line, or drop it if too much waits already."""
        line = bytes(data)
        with self._news:
            if self._bytes + len(line) > self._most:
                self.dropped.lines += 1
                self._missing += 1
            else:
                if self._missing:
                    self._put(self._missing_words())
                    self._missing = 0
                self._put(line)
                self._news.notify_all()
        return len(line)

    def _put(self, line: bytes) -> None:
        self._waiting.append(line)
        self._bytes += len(line)

    def _missing_words(self) -> bytes:
        if self._plain:
            return b"warning: %d lines of the log are missing, for nobody read it\n" % self._missing
        return b'{"event":"log lines dropped","lines":%d,"level":"warning"}\n' % self._missing

    def _hand_on(self) -> None:
        """Write what waits, for as long as the process lives."""
        while True:
            with self._news:
                self._news.wait_for(lambda: self._waiting)
                line = self._waiting[0]
            with suppress(OSError, ValueError):  # no room fails because of its log
                self._write_whole(line)
            with self._news:
                self._bytes -= len(self._waiting.popleft())
                self._news.notify_all()

    def _write_whole(self, line: bytes) -> None:
        while line:
            written = self._stream.write(line)
            if written is None:  # somebody has set the file not to wait
                select.select((), (self._stream,), ())
            line = line[written or 0 :]

    def drain(self, seconds: float) -> None:
        """Wait until everything is written, but not for longer than some seconds."""
        with self._news:
            self._news.wait_for(lambda: not self._waiting, seconds)


def dropped_lines(stream: object) -> DroppedLines:
    """Give the count of a stream's dropped lines, which goes on; one that waits drops none."""
    return stream.dropped if isinstance(stream, PatientStream) else DroppedLines()


@contextmanager
def patient_standard_error(*, plain: bool) -> Iterator[None]:
    """Let nothing that is written to standard error make this process wait."""
    try:
        number = sys.stderr.fileno()
    except (AttributeError, OSError, ValueError):  # there is none, or it is no file
        yield
        return
    # Without a buffer of its own, whose lock a waiting thread would hold as the process ends.
    with io.FileIO(number, "wb", closefd=False) as file:
        stream = PatientStream(file, plain=plain)
        text = io.TextIOWrapper(stream, "utf-8", "backslashreplace", write_through=True)  # type: ignore[type-var]
        try:
            with redirect_stderr(text):
                yield
        finally:
            stream.drain(LAST_WAIT)
            text.detach()
