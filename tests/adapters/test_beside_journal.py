"""No file beside a journal is played into a stranger's, or removed with lines that were kept."""

from __future__ import annotations

import os
import resource
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from unittest.mock import patch

import pytest

from adapters.cli.night_export import export_night
from adapters.live.journal import Journal
from adapters.live.journal_file import JournalError
from engine.events import Mark, ProjectorReport, SourceChosen
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.adapters.staging import Stage, staged
from tests.brisk_hayloft import brisk_hayloft
from tests.golden.evenings import BEGINS

HAYLOFT = load(brisk_hayloft(), DEMO_ROOM.name)
LIT = (ProjectorReport(state="lit"), SourceChosen(source="disc"))


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Stage]:
    """A room that has heard how an evening begins; an older backup of its journal lies there."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT)
        stage.restart()
        shutil.copy(stage.path, tmp_path / "backup")
        stage.hear(Mark(words="after the backup"))
        yield stage


def lines_of(path: Path) -> list[bytes]:
    return [*export_night(path, None, "2000-01-01", None, without_titles=False).lines]


def names_in(folder: Path) -> list[str]:
    return sorted(one.name for one in folder.iterdir())


def a_backup(path: Path) -> None:
    shutil.copy(path.with_name("backup"), path.with_name("new"))
    path.with_name("new").rename(path)


def a_backup_once_the_journal_was_moved_away(path: Path) -> None:
    path.rename(path.with_name("moved"))
    a_backup(path)


def a_text(path: Path) -> None:
    path.unlink()
    path.write_text("somebody's")


PLACED: tuple[Callable[[Path], None], ...] = (
    a_backup,
    a_backup_once_the_journal_was_moved_away,
    a_text,
)


@pytest.mark.parametrize("place", PLACED)
@pytest.mark.parametrize("looks", [0, 2])
def test_a_strangers_file_stays_as_it_is_and_what_roomcue_had_is_kept_under_another_name(
    room: Stage, place: Callable[[Path], None], looks: int
) -> None:
    """Whether it is noticed while rooms live, or only as they are stopped."""
    known = room.lines()
    place(room.path)
    before, others = room.path.read_bytes(), {"backup", "journal", "moved"}
    for _ in range(looks):
        room.journal.look_after()
    room.journal.close()
    assert room.path.read_bytes() == before
    assert {*names_in(room.path.parent)} - others == {"journal.kept"}
    kept = room.path.with_name("journal.kept")
    assert lines_of(kept) == known
    assert room.journal.parting is not None
    assert str(kept) in room.journal.parting.words
    assert not room.journal.parting.lost
    room.journal = Journal(kept)


def test_what_was_kept_before_is_not_written_over(room: Stage) -> None:
    room.path.with_name("journal.kept").write_text("of an earlier evening")
    a_backup(room.path)
    room.journal.close()
    assert room.path.with_name("journal.kept").read_text() == "of an earlier evening"
    assert b"after the backup" in b"".join(lines_of(room.path.with_name("journal.kept2")))
    room.journal = Journal(room.path)


def test_a_kill_while_a_stranger_is_there_leaves_it_whole_as_well(room: Stage) -> None:
    """The log is no longer beside it, and with the journal that was moved away it is whole."""
    known = room.lines()
    a_backup_once_the_journal_was_moved_away(room.path)
    for _ in range(2):
        room.journal.look_after()
    assert "another file now" in str(room.journal.fault)
    folder = room.path.parent
    assert names_in(folder) == ["backup", "journal", "journal.left-wal", "moved"]
    left = folder / "left"  # as a kill leaves it
    left.mkdir()
    shutil.copy(folder / "moved", left / "moved")
    shutil.copy(folder / "journal.left-wal", left / "moved-wal")
    assert lines_of(left / "moved") == known


def test_a_journal_that_comes_back_to_its_place_is_whole_again(room: Stage) -> None:
    known = room.lines()
    a_backup_once_the_journal_was_moved_away(room.path)
    for _ in range(2):
        room.journal.look_after()
    room.path.with_name("moved").rename(room.path)
    for _ in range(2):
        room.journal.look_after()
    assert room.journal.fault is None
    room.hear(Mark(words="again"))
    room.restart()
    assert room.lines()[: len(known)] == known
    assert {*names_in(room.path.parent)} == {"backup", "journal", "journal-shm", "journal-wal"}


def test_a_stranger_that_brings_its_own_log_keeps_it(room: Stage, tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()
    with closing(sqlite3.connect(other / "book")) as base:
        base.execute("PRAGMA journal_mode = WAL")
        base.execute("CREATE TABLE bookings (a)")
        for suffix in ("", "-wal"):
            shutil.copy(other / f"book{suffix}", other / f"copy{suffix}")
    for suffix in ("", "-wal"):
        (other / f"copy{suffix}").rename(f"{room.path}{suffix}")
    before = room.path.read_bytes(), Path(f"{room.path}-wal").read_bytes()
    room.journal.close()
    assert (room.path.read_bytes(), Path(f"{room.path}-wal").read_bytes()) == before
    assert b"after the backup" in b"".join(lines_of(room.path.with_name("journal.kept")))
    room.journal = Journal(room.path.with_name("journal.kept"))


def test_a_link_that_leads_elsewhere_leaves_the_journal_where_it_lies(tmp_path: Path) -> None:
    path, real = tmp_path / "journal", tmp_path / "real"
    path.symlink_to(real)
    with staged(HAYLOFT, path, BEGINS) as stage:
        stage.hear(*LIT)
        known = stage.lines()
        path.unlink()
        (tmp_path / "other").touch()
        path.symlink_to(tmp_path / "other")
        stage.journal.close()
        assert names_in(tmp_path) == ["journal", "other", "real"]
        assert lines_of(real) == known
        assert stage.journal.parting is not None
        assert str(real) in stage.journal.parting.words
        stage.journal = Journal(real)


# ------------------------------------------------------------------------------- a log alone


@pytest.mark.parametrize("harm", ["moved away", "emptied"])
def test_the_log_of_a_journal_that_has_gone_is_set_aside_and_loses_no_line(
    room: Stage, tmp_path: Path, harm: str
) -> None:
    """Whoever moved the file alone gets its newest lines back with the log's new name."""
    known = room.lines()
    folder = tmp_path / "after a kill"
    folder.mkdir()
    path, old = folder / "journal", folder / "old"
    for suffix in ("", "-wal", "-shm"):
        shutil.copy(f"{room.path}{suffix}", f"{path}{suffix}")
    shutil.copy(path, old)
    path.unlink()
    if harm == "emptied":
        path.touch()
    (folder / "journal.left-wal").write_text("of an earlier evening")
    with Journal(path) as journal:
        assert journal.rooms() == ()
        assert str(folder / "journal.left2-wal") in str(journal.found_log)
    assert (folder / "journal.left-wal").read_text() == "of an earlier evening"
    (folder / "journal.left2-wal").rename(f"{old}-wal")
    assert lines_of(old) == known
    with Journal(path) as journal:
        assert journal.found_log is None


def test_a_log_that_cannot_be_set_aside_is_left_and_said(tmp_path: Path) -> None:
    log = tmp_path / "journal-wal"
    log.write_text("lines")
    with (
        patch.object(Path, "rename", side_effect=PermissionError(13, "Permission denied")),
        pytest.raises(JournalError, match=r"journal-wal: .*cannot be set aside: .*move it away"),
    ):
        Journal(tmp_path / "journal")
    assert log.read_text() == "lines"


# ----------------------------------------------------------------------------- a second name


def test_a_journal_with_a_second_name_is_refused_under_both_and_stays_as_it_is(
    room: Stage, tmp_path: Path
) -> None:
    """Its log lies beside one of them; under the other the newest lines would be missing."""
    folder = tmp_path / "after a kill"
    folder.mkdir()
    path, other = folder / "journal", folder / "other"
    for suffix in ("", "-wal"):
        shutil.copy(f"{room.path}{suffix}", f"{path}{suffix}")
    known = room.lines()
    os.link(path, other)
    for name in (path, other):
        with pytest.raises(JournalError, match=r"more than one name .*remove the others"):
            Journal(name)
    assert names_in(folder) == ["journal", "journal-wal", "other"]
    other.unlink()
    Journal(path).close()
    assert lines_of(path) == known


# ------------------------------------------------------------------------------ a full disk


@contextmanager
def full_disk() -> Iterator[None]:
    """Let no file of the process become longer; Python ignores SIGXFSZ."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def test_why_a_removed_journal_is_not_written_anew_is_said_until_it_is(room: Stage) -> None:
    """Also by each message that cannot be taken meanwhile."""
    known = room.lines()
    for suffix in ("", "-wal", "-shm"):
        Path(f"{room.path}{suffix}").unlink()
    with full_disk():
        for _ in range(3):
            room.journal.look_after()
        said = room.journal.fault
        for _ in range(2):
            with pytest.raises(JournalError, match="no longer there"):
                room.hear(Mark(words="not yet"))
            assert room.journal.fault == said
            assert "cannot be written anew: " in str(said)
            assert room.journal.full
            room.journal.look_after()
            assert room.journal.fault == said, "nobody is told again and again"
    room.journal.look_after()
    assert room.journal.fault is None
    room.path.unlink()
    room.journal.look_after()
    assert "cannot be written anew" not in str(room.journal.fault), "that is over"
    room.restart()
    assert room.lines()[: len(known)] == known


def test_a_stop_that_leaves_no_journal_says_so(room: Stage) -> None:
    for suffix in ("", "-wal", "-shm"):
        Path(f"{room.path}{suffix}").unlink()
    with full_disk():
        room.journal.close()
    assert room.journal.parting is not None
    assert room.journal.parting.lost
    assert "left no whole journal" in room.journal.parting.words
    assert "cannot be written anew: " in room.journal.parting.words
    room.journal = Journal(room.path)
