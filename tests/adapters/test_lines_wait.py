"""Lines on standard input wait for a journal that cannot be written, and end where they end."""

from __future__ import annotations

import asyncio
import io
import json
import os
import subprocess
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from unittest.mock import patch

import pytest

from adapters.cli.exit_status import OK
from adapters.live import line_printer, stdio
from adapters.live.live_room import LiveRoom
from adapters.live.log import decision_log
from adapters.live.stdio import MOST_LINE_BYTES, LineReader
from simulator.shipped import CELLAR
from tests.adapters.staging import Stage, staged, until
from tests.adapters.test_connection import HAYLOFT
from tests.golden.evenings import BEGINS
from tests.house.tree import TOP
from tests.live.broker import PATIENCE
from tests.live.process import ROOMCUE

Lines = Callable[[str], None]


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch) -> Iterator[Lines]:
    """Give what writes marks as lines on the standard input of this process; "" ends it."""
    monkeypatch.setattr(stdio, "TRY_AGAIN_AFTER", 0)
    read, write = os.pipe()
    before = os.dup(0)
    os.dup2(read, 0)
    os.close(read)
    with open(write, "wb", buffering=0) as lines:  # noqa: PTH123 - a pipe has no path

        def tell(words: str) -> None:
            if words:
                lines.write(json.dumps({"kind": "mark", "words": words}).encode() + b"\n")
            else:
                lines.close()

        with patch.object(line_printer, "print_whole", len):
            yield tell
    os.dup2(before, 0)
    os.close(before)


def read_only(path: Path) -> None:
    path.chmod(0o444)


def removed(path: Path) -> None:
    for suffix in ("", "-wal", "-shm"):
        Path(f"{path}{suffix}").unlink()


def nobody_reads() -> bool:
    """Tell whether the thread that reads standard input has come to its end."""
    return not any("_read_lines" in one.name for one in threading.enumerate())


def mended(stage: Stage) -> None:
    """Do what whoever watches the journal does each second, once it can be written again."""
    if stage.path.exists():
        stage.path.chmod(0o644)
    for _ in range(2):
        stage.journal.look_after()
    assert stage.journal.fault is None


@pytest.mark.parametrize("harm", [read_only, removed])
async def test_a_line_waits_until_the_journal_can_be_written_and_then_all_goes_on(
    tmp_path: Path, told: Lines, harm: Callable[[Path], None]
) -> None:
    log = io.BytesIO()
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        room = LiveRoom(stage.durable, decision_log(log, "hayloft"))
        reading = asyncio.create_task(LineReader([room]).run())
        told("apples")
        await until(lambda: b"apples" in b"".join(stage.lines()))
        harm(stage.path)
        told("pears")
        await until(lambda: b"line waits for the journal" in log.getvalue())
        told("plums")
        assert not reading.done()
        mended(stage)
        told("")
        await reading
        await until(nobody_reads)
        room.end()
        lines = b"".join(stage.lines())
    assert [lines.count(words) for words in (b"apples", b"pears", b"plums")] == [2, 2, 2]
    assert log.getvalue().count(b"line waits for the journal") == 1


async def test_a_reader_that_is_stopped_while_a_line_waits_ends(
    tmp_path: Path, told: Lines
) -> None:
    log = io.BytesIO()
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        room = LiveRoom(stage.durable, decision_log(log, "hayloft"))
        reader = LineReader([room])
        reading = asyncio.create_task(reader.run())
        await room.greeted.wait()
        read_only(stage.path)
        told("quinces")
        await until(lambda: b"line waits for the journal" in log.getvalue())
        reading.cancel()
        await asyncio.gather(reading, return_exceptions=True)
        room.end()
        await reader.leave()
        told("")
        await until(nobody_reads)
        mended(stage)
        assert b"quinces" not in b"".join(stage.lines())


@pytest.mark.parametrize("length", [MOST_LINE_BYTES - 1, MOST_LINE_BYTES, 3 * MOST_LINE_BYTES])
def test_a_line_that_is_too_long_is_refused_once_and_its_end_is_no_line(
    tmp_path: Path, length: int
) -> None:
    """Whatever stands where a part of it was read up to."""
    hidden = '{"kind":"mark","words":"hidden"}'
    lines = "".join(
        (" " * length, hidden, "\n", '{"kind":"mark","words":"the next one"}\n', " " * length)
    )
    done = subprocess.run(
        [*ROOMCUE, "run", str(CELLAR), "--stdin", "--unproven", "--journal", str(tmp_path / "j")],
        input=lines,
        capture_output=True,
        text=True,
        cwd=TOP,
        timeout=PATIENCE,
        check=False,
    )
    assert done.returncode == OK
    assert "hidden" not in done.stdout
    assert "the next one" in done.stdout
    refused = [one for one in done.stdout.splitlines() if '"refused"' in one]
    ends_in_one = length > MOST_LINE_BYTES
    assert len(refused) == 1 + ends_in_one
    assert "1,048,576 bytes at most" in refused[0]
