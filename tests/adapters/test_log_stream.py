"""A log that nobody reads makes nobody wait; what is dropped is counted, and said later."""

from __future__ import annotations

import io
import json
import os
from collections.abc import Iterator
from typing import NamedTuple

import pytest

from adapters.live.log_stream import PatientStream, dropped_lines
from tests.live.broker import PATIENCE

MOST = 10_000
PIPE_HOLDS = 1 << 16


class Piped(NamedTuple):
    stream: PatientStream
    reader: int

    def read_until(self, end: bytes) -> bytes:
        """Read the pipe up to a line that ends so."""
        read = b""
        while not read.endswith(end):
            read += os.read(self.reader, 1 << 16)
        return read


@pytest.fixture(params=[True, False], ids=["waits", "does not wait"])
def piped(request: pytest.FixtureRequest) -> Iterator[Piped]:
    """Give a stream into a pipe that nobody reads yet, set to wait for its reader or not to."""
    reader, writer = os.pipe()
    os.set_blocking(writer, request.param)
    with io.FileIO(writer, "wb") as file:
        stream = PatientStream(file, plain=True, most=MOST)
        try:
            yield Piped(stream, reader)
        finally:
            os.close(reader)
            stream.drain(PATIENCE)


def test_whoever_writes_to_a_pipe_that_nobody_reads_goes_on(piped: Piped) -> None:
    """The oldest lines are kept in their order, then it is said how many are missing."""
    line = b"x" * 99 + b"\n"
    written = (PIPE_HOLDS + MOST) // len(line) + 1_000
    for _ in range(written):
        assert piped.stream.write(line) == len(line)
    dropped = piped.stream.dropped.lines
    assert 900 < dropped < written
    before = piped.read_until(line)
    while before.count(b"\n") < written - dropped:
        before += piped.read_until(line)
    piped.stream.drain(PATIENCE)
    piped.stream.write(b"it is read again\n")
    after = piped.read_until(b"again\n")
    assert before == line * (written - dropped)
    assert after.splitlines()[0] == (
        b"warning: %d lines of the log are missing, for nobody read it" % dropped
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
