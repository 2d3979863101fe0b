"""Standard input and output in place of a broker: who reads late, and who goes away."""

from __future__ import annotations

import asyncio
import fcntl
import io
import os
import signal
import subprocess
import sys
import termios
import threading
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from unittest.mock import patch

import pytest

from adapters.cli.exit_status import OK, UNUSABLE
from adapters.live import line_printer, stdio
from adapters.live.line_printer import LinePrinter
from adapters.live.live_room import LiveRoom
from adapters.live.log import decision_log
from adapters.live.stdio import LineReader
from engine.events import ProjectorReport, SourceChosen
from simulator.shipped import CELLAR
from tests.adapters.staging import inbound, staged, until
from tests.adapters.test_connection import HAYLOFT
from tests.golden.evenings import BEGINS
from tests.house.tree import TOP
from tests.live.broker import PATIENCE
from tests.live.broker import until as until_true
from tests.live.process import ROOMCUE

MUCH = 32_768
"""Bytes; a pipe with more of them may be full, for each write begins on a page of its own."""


class Reader:
    """Whoever reads standard output, when a test says so."""

    def __init__(self) -> None:
        self.reads = threading.Event()
        self.read: list[bytes] = []
        self.gone = False

    def take(self, text: bytes) -> None:
        self.reads.wait()
        if self.gone:
            raise BrokenPipeError
        self.read.append(text)


@pytest.fixture
def reader() -> Iterator[Reader]:
    one = Reader()
    with patch.object(line_printer, "print_whole", one.take):
        yield one
    one.reads.set()


async def test_what_nobody_has_read_at_the_end_comes_again(
    tmp_path: Path, reader: Reader, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(stdio, "LAST_WAIT", 0.01)
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        room = LiveRoom(stage.durable, decision_log(io.BytesIO(), "hayloft"))
        lines = LineReader([room])
        heard = [
            inbound(one) for one in (ProjectorReport(state="lit"), SourceChosen(source="disc"))
        ]
        room.publish(stage.durable.take(heard))
        waiting = stage.durable.record.waiting()
        assert "order" in {one.message.subtopic for one in waiting}
        room.end()
        await lines.leave()
        assert stage.durable.record.waiting() == waiting
        reader.reads.set()
        await until(lambda: stage.durable.record.waiting() == ())
        assert b'"on":"order"' in b"".join(reader.read)


async def test_what_waits_for_its_reader_is_printed_once_and_in_order(reader: Reader) -> None:
    printer = LinePrinter()
    printed: list[int] = []
    for number in range(3):
        printer.put(b"%d" % number, partial(printed.append, number))
        printer.begin()
    assert printed == []
    reader.reads.set()
    await printer.has_printed()
    assert printed == [0, 1, 2]
    assert b"".join(reader.read) == b"012"


async def test_a_reader_that_goes_away_ends_what_waits_for_it(reader: Reader) -> None:
    printer = LinePrinter()
    failing = asyncio.create_task(printer.has_failed())
    printer.put(b"a word")
    printer.begin()
    reader.gone = True
    reader.reads.set()
    with pytest.raises(BrokenPipeError):
        await failing
    with pytest.raises(BrokenPipeError):
        await printer.has_printed()


@pytest.mark.parametrize("one", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
def test_output_that_nobody_reads_keeps_nobody_from_stopping(one: int, tmp_path: Path) -> None:
    """More is told than the pipe holds; it was a write that no signal ended."""
    command = [*ROOMCUE, "run", str(CELLAR), "--stdin", "--unproven"]
    command += ["--journal", str(tmp_path / "j")]
    with (
        (tmp_path / "log").open("wb") as log,
        subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=log, cwd=TOP
        ) as process,
    ):
        assert process.stdin is not None
        assert process.stdout is not None
        assert process.stdout.readline()
        os.set_blocking(process.stdin.fileno(), False)
        until_true(lambda: takes_no_more(process), "nothing moves any more")
        process.send_signal(one)
        try:
            assert process.wait(PATIENCE / 10) == OK
        finally:
            process.kill()
    assert "Traceback" not in (tmp_path / "log").read_text("utf-8")


def takes_no_more(process: subprocess.Popen[bytes]) -> bool:
    """Tell a room something; tells whether its input is full, and its output too."""
    assert process.stdin is not None
    assert process.stdout is not None
    try:
        os.write(process.stdin.fileno(), b'{"kind":"mark","words":"%s"}\n' % (b"y" * 400))
    except BlockingIOError:
        unread = fcntl.ioctl(process.stdout, termios.FIONREAD, bytes(4))
        return int.from_bytes(unread, sys.byteorder) > MUCH
    return False


def test_input_that_cannot_be_read_is_said_in_a_sentence(tmp_path: Path) -> None:
    """A thread reads it, whose fault nobody heard of."""
    command = [*ROOMCUE, "run", str(CELLAR), "--stdin", "--unproven"]
    command += ["--journal", str(tmp_path / "j")]
    with (tmp_path / "to be written").open("wb") as file:
        done = subprocess.run(
            command,
            stdin=file,
            capture_output=True,
            text=True,
            cwd=TOP,
            timeout=PATIENCE,
            check=False,
        )
    assert done.returncode == UNUSABLE
    assert "standard input cannot be read: Bad file descriptor" in " ".join(done.stderr.split())
    assert "Traceback" not in done.stderr
