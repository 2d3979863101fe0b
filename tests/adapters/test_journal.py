"""The journal is written whole or not at all, by one roomcue at a time, and says what is wrong."""

from __future__ import annotations

import itertools
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest

from adapters.live.journal import Journal
from adapters.live.journal_file import MIGRATIONS, TABLES_VERSION, JournalError
from adapters.live.journal_reader import JournalReader
from adapters.live.journal_rows import JournalLine
from adapters.live.journal_watch import watch_journal
from adapters.live.messages import OutgoingMessage
from adapters.live.outbox import outbox_json, outbox_read
from engine.events import Mark, Playback, ProjectorReport, SourceChosen
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.adapters.staging import Stage, differences, staged
from tests.brisk_hayloft import brisk_hayloft
from tests.golden.evenings import BEGINS

HAYLOFT = load(brisk_hayloft(), DEMO_ROOM.name)
LIT = (ProjectorReport(state="lit"), SourceChosen(source="disc"))


def test_what_is_committed_outlives_a_power_cut(tmp_path: Path) -> None:
    """WAL and synchronous FULL (2), as the live connection itself says: every commit is synced.

    SQLite's documentation of `PRAGMA synchronous`: in WAL mode only FULL syncs the log after
    each transaction. Read.
    """
    with Journal(tmp_path / "journal") as journal:
        assert journal.setting("journal_mode") == "wal"
        assert journal.setting("synchronous") == 2


def test_one_roomcue_writes_a_journal_at_a_time(tmp_path: Path) -> None:
    with (
        Journal(tmp_path / "journal"),
        pytest.raises(JournalError, match="another roomcue is writing this journal"),
    ):
        Journal(tmp_path / "journal")
    Journal(tmp_path / "journal").close()


async def test_where_a_lock_does_not_hold_only_the_later_roomcue_goes_on(tmp_path: Path) -> None:
    """As on some shared disks. The earlier one writes nothing over what the later one knows."""
    path = tmp_path / "journal"
    with patch("adapters.live.journal_place.fcntl.flock"), staged(HAYLOFT, path, BEGINS) as first:
        first.hear(*LIT)
        with staged(HAYLOFT, path, BEGINS + 1_000) as second:
            first.hear(Mark(words="nobody else has written yet"))
            second.restart()
            second.hear(Playback(state="playing"))
            before = first.durable.engine.state
            for _ in range(2):
                with pytest.raises(JournalError, match="another roomcue writes this journal too"):
                    first.hear(Mark(words="too late"))
                first.journal.look_after()
            assert first.durable.engine.state is before
            with pytest.raises(JournalError, match="another roomcue writes this journal too"):
                await watch_journal(first.journal, ())
            second.hear(Mark(words="heard"))
            assert differences(HAYLOFT, second.lines()) == []


def test_the_lock_goes_with_the_process_however_it_ends(tmp_path: Path) -> None:
    script = (
        "import os, signal, sys; from pathlib import Path; "
        "from adapters.live.journal import Journal; "
        "held = Journal(Path(sys.argv[1])); os.kill(os.getpid(), signal.SIGKILL)"
    )
    ended = subprocess.run([sys.executable, "-c", script, tmp_path / "journal"], check=False)
    assert ended.returncode == -9
    Journal(tmp_path / "journal").close()


def test_a_full_disk_is_said_and_the_room_stays_as_it_stood(tmp_path: Path) -> None:
    """SQLite itself finds no room, as on a full disk; with room again the same message is taken."""
    opened: list[sqlite3.Connection] = []
    connect = sqlite3.connect

    def noting(name: str, **named: Any) -> sqlite3.Connection:  # noqa: ANN401 - SQLite's options
        opened.append(connect(name, **named))
        return opened[-1]

    with (
        patch.object(sqlite3, "connect", noting),
        staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage,
    ):
        stage.hear(*LIT)
        (base,) = opened
        pages = base.execute("PRAGMA page_count").fetchone()[0]
        base.execute(f"PRAGMA max_page_count = {pages}")
        before = stage.durable.engine.state
        with pytest.raises(JournalError, match="full"):  # noqa: PT012 - which mark fills it is chance
            for number in range(300):
                before = stage.durable.engine.state
                stage.hear(Mark(words=f"{number} " + "x" * 400))
        assert stage.durable.engine.state is before
        base.execute("PRAGMA max_page_count = 1000000")
        stage.hear(Playback(state="playing"))
        assert stage.durable.engine.state.core.playback == "playing"


def test_a_damaged_journal_is_said_with_what_to_do(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        for number in range(200):
            stage.hear(Mark(words=f"{number} " + "x" * 400))
    data = bytearray(path.read_bytes())
    data[4_096 * 6 : 4_096 * 9] = b"\xaa" * (4_096 * 3)
    path.write_bytes(data)
    with pytest.raises(JournalError, match=r"damaged, move it away and start with a new one"):
        Journal(path)


def test_damage_met_while_reading_is_said(tmp_path: Path) -> None:
    """A reader opens what it needs alone, and meets the damage only there."""
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        for number in range(200):
            stage.hear(Mark(words=f"{number} " + "x" * 400))
    data = bytearray(path.read_bytes())
    data[4_096 * 12 :] = b"\xaa" * (len(data) - 4_096 * 12)
    path.write_bytes(data)
    past = JournalReader(path)
    try:
        with pytest.raises(JournalError, match="cannot be used"):
            list(past.lines("hayloft", 0, None))
    finally:
        past.close()


def test_what_is_no_journal_is_said(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    path.write_text("This is a letter to a friend, and no journal at all. " * 100)
    with pytest.raises(JournalError, match="this is no journal: name another file"):
        Journal(path)
    with pytest.raises(JournalError, match="this is no journal: name another file"):
        JournalReader(path)
    with pytest.raises(JournalError, match=r"no such journal\..* say with --journal where it lies"):
        JournalReader(tmp_path / "nonesuch")


def test_the_journal_of_a_later_roomcue_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    Journal(path).close()
    base = sqlite3.connect(path)
    base.execute(f"PRAGMA user_version = {TABLES_VERSION + 1}")
    base.close()
    for opened in (Journal, JournalReader):
        with pytest.raises(JournalError, match=f"a journal of version {TABLES_VERSION + 1}"):
            opened(path)


def test_the_database_of_another_program_is_no_journal_and_stays_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "accounts.db"
    with closing(sqlite3.connect(path)) as base, base:
        base.execute("CREATE TABLE accounts (sum INTEGER)")
    before = path.read_bytes()
    for opened in (Journal, JournalReader):
        with pytest.raises(JournalError, match="a database of something else; name a journal"):
            opened(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    ("made", "says"),
    [(Path.mkdir, "this is no plain file, and a journal is one"), (Path.touch, "but empty")],
)
def test_what_is_no_journal_to_read_is_said_as_what_it_is(
    made: Callable[[Path], None], says: str, tmp_path: Path
) -> None:
    made(tmp_path / "journal")
    with pytest.raises(JournalError, match=says):
        JournalReader(tmp_path / "journal")


def test_a_journal_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    with pytest.raises(JournalError, match="cannot be made"):
        Journal(tmp_path / "nonesuch" / "journal")


def test_a_journal_of_the_first_version_keeps_what_waits(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    base = sqlite3.connect(path)
    for statement in MIGRATIONS[0]:
        base.execute(statement)
    base.execute("PRAGMA user_version = 1")
    insert = "INSERT INTO {} VALUES ({})"
    rows = {
        "rooms": (1, "hayloft", 1, "given", BEGINS, 4, 9, b"state", 3),
        "chapters": (1, 1, BEGINS, 0, "file", "0.1", 1, 1),
        "outbox": (5, 1, "order", b'{"say":"\xc3\xa9\\n"}', BEGINS + 5_000, 12, "picture"),
    }
    for table, row in rows.items():
        base.execute(insert.format(table, ", ".join("?" * len(row))), row)
    base.commit()
    base.close()
    with Journal(path) as journal:
        assert journal.setting("user_version") == TABLES_VERSION
        kept = journal.kept("hayloft")
        assert kept is not None
        assert kept[2:7] == ("given", BEGINS, 4, 9, b"state")
        assert kept.epoch == 0  # its ids go on as they are
        assert len(kept.client) == 16
        (word,) = outbox_read(kept.waiting)
        assert word.serial == 5
        said = b'{"say":"\xc3\xa9\\n"}'
        assert word.message == OutgoingMessage("order", said, BEGINS + 5_000, 12, "picture")
        assert outbox_read(outbox_json((word,))) == (word,)


def test_a_journal_of_the_third_version_keeps_every_room_s_lines(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    base = sqlite3.connect(path)
    for statement in itertools.chain.from_iterable(MIGRATIONS[:3]):
        base.execute(statement)
    base.execute("PRAGMA user_version = 3")
    lines = {
        (room, serial): JournalLine(BEGINS + serial, b"%d" % room, None if serial % 2 else b"{}")
        for serial in range(1, 90)
        for room in (1, 2)
    }
    base.executemany(
        "INSERT INTO lines VALUES (?, ?, ?, ?, ?)",
        [(*number, *line) for number, line in lines.items()],
    )
    base.executemany("INSERT INTO rooms VALUES (?, ?, 1, 'given')", [(1, "barn"), (2, "hayloft")])
    base.commit()
    base.close()
    for opened_first in (False, True):  # an older journal is read as it is, and once it is led here
        if opened_first:
            Journal(path).close()
        past = JournalReader(path)
        for room, name in enumerate(("barn", "hayloft"), 1):
            assert [*past.lines(name, 0, None)] == [lines[room, serial] for serial in range(1, 90)]
            assert [*past.lines(name, 3, 5)] == [lines[room, 4], lines[room, 5]]
        assert [*past.lines("nonesuch", 0, None)] == []
        past.close()


def test_migrations_lead_from_an_empty_file_to_this_version_once(tmp_path: Path) -> None:
    """A second opening changes nothing."""
    path = tmp_path / "journal"
    Journal(path).close()
    before = path.read_bytes()
    with Journal(path) as journal:
        assert journal.setting("user_version") == TABLES_VERSION
    assert path.read_bytes()[100:] == before[100:]


def test_many_rooms_share_a_journal(tmp_path: Path) -> None:
    other = load(HAYLOFT.text.replace("room: hayloft", "room: barn"), "barn.yaml")
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        barn = Stage.__new__(Stage)
        barn.__dict__.update(stage.__dict__, room=other, decisions=[], refusals=[], said=[])
        barn.durable = barn.taken_up()
        barn.hear(*LIT)
        stage.hear(Mark(words="only here"))
        assert stage.durable.engine.state.core.source is None
        assert barn.durable.record.waiting()
        waiting = [one.message.subtopic for one in stage.durable.record.waiting()]
        assert waiting == ["reply"], "orders of the other room"


def test_what_is_gathered_within_what_is_gathered_is_committed_with_it(tmp_path: Path) -> None:
    """Where the outer block fails, nothing of the inner one is kept."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        before = stage.lines()

        def one_within_the_other() -> None:
            with stage.journal.together():
                with stage.journal.together():
                    stage.hear(*LIT)
                raise JournalError("the outer block fails")

        with pytest.raises(JournalError, match="the outer block"):
            one_within_the_other()
        assert stage.lines() == before
