"""A journal that something else cuts short or writes over while rooms live loses nothing."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from unittest.mock import patch

import pytest

from adapters.live import journal_place
from adapters.live.journal import Journal
from adapters.live.journal_file import PAGE_BYTES, JournalError
from adapters.live.journal_place import LOG_BYTES
from engine.events import Mark, ProjectorReport, SourceChosen
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.adapters.staging import Stage, differences, staged
from tests.brisk_hayloft import brisk_hayloft
from tests.golden.evenings import BEGINS
from tests.live.broker import until

HAYLOFT = load(brisk_hayloft(), DEMO_ROOM.name)
LIT = (ProjectorReport(state="lit"), SourceChosen(source="disc"))
SAYS = "nothing is taken until it is back"


def log_of(path: Path) -> Path:
    return Path(f"{path}-wal")


def written_over(path: Path, begin: int, data: bytes) -> None:
    """Write over a part of a file, at a later time than its last change."""
    before = path.stat().st_mtime_ns
    with path.open("r+b") as file:
        file.seek(begin)
        file.write(data)

    def is_later() -> bool:
        os.utime(path)
        return path.stat().st_mtime_ns > before

    until(is_later, "the clock of the files goes on")


def empty(path: Path) -> None:
    os.truncate(path, 0)


def halve(path: Path) -> None:
    os.truncate(path, path.stat().st_size // 2)


def write_something_shorter(path: Path) -> None:
    path.write_text("somebody's")


def empty_the_log(path: Path) -> None:
    os.truncate(log_of(path), 0)


def write_over_the_log(path: Path) -> None:
    written_over(log_of(path), 0, bytes(200_000))


def write_over_the_middle(path: Path) -> None:
    written_over(path, path.stat().st_size // 2, b"\xa5" * 10 * PAGE_BYTES)


HARM: tuple[Callable[[Path], None], ...] = (
    empty,
    halve,
    write_something_shorter,
    empty_the_log,
    write_over_the_log,
    write_over_the_middle,
)


@pytest.fixture
def old(tmp_path: Path) -> Iterator[Stage]:
    """A room whose lines lie in the file itself, but for the last ones."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT)
        for number in range(100):
            stage.hear(Mark(words=f"{number} " + "x" * 400))
        stage.restart()
        stage.hear(Mark(words="the last one"))
        stage.journal.make_room()
        stage.journal.look_after()
        yield stage


@pytest.mark.parametrize("harm", HARM)
def test_a_harmed_journal_is_refused_then_written_anew_with_all_it_held(
    old: Stage, harm: Callable[[Path], None]
) -> None:
    """What came meanwhile was not taken, so it comes again, and the next start knows everything."""
    known = old.lines()
    harm(old.path)
    with pytest.raises(JournalError, match=SAYS):
        old.hear(Mark(words="not yet"))
    assert str(old.path) in str(old.journal.fault)
    old.journal.look_after()
    assert old.journal.fault is None
    old.hear(Mark(words="again"))
    assert old.lines()[: len(known)] == known
    assert not differences(HAYLOFT, old.lines())
    old.restart()
    assert old.lines()[: len(known)] == known
    assert sorted(one.name for one in old.path.parent.iterdir()) == [
        "journal",
        "journal-shm",
        "journal-wal",
    ]


@pytest.mark.parametrize("harm", HARM)
def test_an_idle_room_finds_harm_as_well_and_so_does_a_stop(
    old: Stage, harm: Callable[[Path], None]
) -> None:
    known = old.lines()
    harm(old.path)
    old.journal.look_after()
    assert SAYS in str(old.journal.fault)
    old.restart()
    assert old.lines()[: len(known)] == known


def test_a_log_that_was_cut_short_is_not_made_long_again(old: Stage) -> None:
    """Zeros in the place of what it held would hide that it is gone."""
    empty_the_log(old.path)
    old.journal.make_room()
    assert log_of(old.path).stat().st_size == 0
    assert SAYS in str(old.journal.fault)
    old.journal.look_after()
    old.journal.make_room()
    assert log_of(old.path).stat().st_size == LOG_BYTES


@pytest.mark.parametrize("harm", [halve, write_over_the_log])
def test_what_nothing_can_make_good_is_left_as_it_is(
    old: Stage, harm: Callable[[Path], None]
) -> None:
    """Nothing more is taken, and a stop writes nothing over what may be recovered."""
    old.journal._base.execute("PRAGMA shrink_memory")  # noqa: SLF001 - nothing is in memory
    harm(old.path)
    old.journal.look_after()
    advice = "stop roomcue, move the journal away, and start again"
    for _ in range(2):
        old.journal.look_after()
        assert advice in str(old.journal.fault)
        with pytest.raises(JournalError, match=advice):
            old.hear(Mark(words="never"))
    left = old.path.read_bytes(), log_of(old.path).read_bytes()
    old.journal.close()
    assert (old.path.read_bytes(), log_of(old.path).read_bytes()) == left
    for one in old.path.parent.glob("journal*"):
        one.unlink()
    old.journal = Journal(old.path)
    old.durable = old.taken_up()
    old.hear(*LIT)


def test_a_log_that_is_removed_under_a_reader_loses_nothing(old: Stage) -> None:
    """A long export, or a shell that a technician has left open, reads on from what it saw."""
    with closing(sqlite3.connect(f"{old.path.as_uri()}?mode=ro", uri=True)) as reader:
        reader.isolation_level = None
        reader.execute("BEGIN")
        seen = reader.execute("SELECT count(*) FROM lines").fetchone()
        for number in range(40):
            old.hear(Mark(words=f"acknowledged {number}"))
        known = old.lines()
        log_of(old.path).unlink()
        with pytest.raises(JournalError, match=SAYS):
            old.hear(Mark(words="not yet"))
        old.journal.look_after()
        assert old.journal.fault is None
        old.hear(Mark(words="again"))
        assert reader.execute("SELECT count(*) FROM lines").fetchone() == seen
    assert old.lines()[: len(known)] == known
    old.restart()
    assert old.lines()[: len(known)] == known


def test_what_cannot_be_written_anew_yet_is_tried_again_and_lost_by_no_try(old: Stage) -> None:
    """Neither where the copy fails, nor where it cannot be opened in the journal's place."""
    known = old.lines()
    log_of(old.path).unlink()
    old.path.with_name("journal.part").mkdir()
    old.journal.look_after()
    for _ in range(2):
        old.journal.look_after()
        assert "cannot be written anew" in str(old.journal.fault)
        with pytest.raises(JournalError, match=SAYS):
            old.hear(Mark(words="not yet"))
    old.path.with_name("journal.part").rmdir()
    with patch.object(journal_place, "open_journal", side_effect=JournalError("no room")):
        old.journal.look_after()
        with pytest.raises(JournalError, match=SAYS):
            old.hear(Mark(words="not yet"))
    old.journal.look_after()
    assert old.journal.fault is None
    old.hear(Mark(words="again"))
    old.restart()
    assert old.lines()[: len(known)] == known


def test_a_technician_who_writes_by_sqlite_harms_nothing(old: Stage) -> None:
    """Neither by a row, nor by asking SQLite to put the log into the file."""
    known = old.lines()
    with closing(sqlite3.connect(old.path, isolation_level=None)) as base:
        base.execute("UPDATE rooms SET given = given || ' '")
        old.hear(Mark(words="taken at once"))
        base.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        old.journal.look_after()
        old.journal.look_after()
    old.hear(Mark(words="taken"))
    assert old.lines()[: len(known)] == known
    assert not differences(HAYLOFT, old.lines())
