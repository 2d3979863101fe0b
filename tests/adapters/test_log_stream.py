"""A log that nobody reads makes nobody wait; what is dropped is counted, and said later."""

from __future__ import annotations

import io
import json
import os
from collections.abc import Iterator
from contextlib import suppress
from typing import NamedTuple

import pytest

from adapters.live.log_stream import PatientStream, dropped_lines
from tests.live.broker import PATIENCE

MOST = 10_000
LINE = b"x" * 99 + b"\n"


class Piped(NamedTuple):
    stream: PatientStream
    reader: int
    held: int
    """So many bytes were in the pipe, and it full, before anything was written to the stream."""

    def read_until(self, end: bytes) -> bytes:
        """Read the pipe up to a line that ends so."""
        read = b""
        while not read.endswith(end):
            read += os.read(self.reader, 1 << 16)
        return read


def fill(writer: int) -> int:
    """Write to a pipe until it takes nothing more; gives how many bytes it took."""
    os.set_blocking(writer, False)
    took = 0
    with suppress(BlockingIOError):
        while True:
            took += os.write(writer, LINE)
    return took


@pytest.fixture(params=[True, False], ids=["waits", "does not wait"])
def piped(request: pytest.FixtureRequest) -> Iterator[Piped]:
    """Give a stream into a full pipe that nobody reads, set to wait for its reader or not to."""
    reader, writer = os.pipe()
    held = fill(writer)
    os.set_blocking(writer, request.param)
    with io.FileIO(writer, "wb") as file:
        stream = PatientStream(file, plain=True, most=MOST)
        try:
            yield Piped(stream, reader, held)
        finally:
            os.close(reader)
            stream.drain(PATIENCE)


def test_whoever_writes_to_a_pipe_that_nobody_reads_goes_on(piped: Piped) -> None:
    """The oldest lines are kept in their order, then it is said how many are missing."""
    kept = MOST // len(LINE)
    for _ in range(kept + 1_000):
        assert piped.stream.write(LINE) == len(LINE)
    assert piped.stream.dropped.lines == 1_000
    expected = piped.held + kept * len(LINE)
    before = b""
    while len(before) < expected:
        before += os.read(piped.reader, expected - len(before))
    assert before == LINE * (expected // len(LINE))
    piped.stream.drain(PATIENCE)
    piped.stream.write(b"it is read again\n")
    after = piped.read_until(b"again\n")
    assert after.splitlines()[0] == (
        b"warning: 1000 lines of the log are missing, for nobody read it"
    )


def test_a_log_whose_reader_has_gone_makes_nobody_wait() -> None:
    reader, writer = os.pipe()
    os.close(reader)
    with io.FileIO(writer, "wb") as file:
        stream = PatientStream(file, plain=False, most=MOST)
        for _ in range(10):
            stream.write(b"nobody is there\n")
        stream.drain(PATIENCE)
        assert stream.dropped.lines == 0


def test_a_stream_that_waits_drops_nothing() -> None:
    assert dropped_lines(io.BytesIO()).lines == 0


def test_that_lines_are_missing_is_json_where_the_log_is() -> None:
    """Whoever reads the log as JSON lines can read this one too."""
    reader, writer = os.pipe()
    with io.FileIO(writer, "wb") as file, io.FileIO(reader) as read:
        stream = PatientStream(file, plain=False, most=MOST)
        stream.write(b"x" * (MOST + 1))
        stream.write(b"next\n")
        stream.drain(PATIENCE)
        missing, following = read.read(1_000).splitlines()
    assert json.loads(missing) == {"event": "log lines dropped", "lines": 1, "level": "warning"}
    assert following == b"next"
