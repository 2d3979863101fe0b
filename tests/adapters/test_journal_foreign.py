"""The database of another program stays as it is; a journal that one holds is waited for."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from unittest.mock import patch

import pytest

from adapters.cli.exit_status import PROBLEMS, UNUSABLE
from adapters.live import journal_file
from adapters.live.journal import Journal
from adapters.live.journal_file import (
    MIGRATIONS,
    TABLES_VERSION,
    HeldError,
    JournalError,
)
from adapters.live.journal_reader import JournalReader
from simulator.shipped import CELLAR
from tests.adapters.commands import run

SOMETHING_ELSE = "this is a database of something else; name a journal"
ROOMS = "CREATE TABLE rooms (id INTEGER PRIMARY KEY, name TEXT)"


def made(path: Path, version: int, *statements: str) -> bytes:
    """Make a database as another program does; give its bytes."""
    with closing(sqlite3.connect(path)) as base, base:
        for statement in statements:
            base.execute(statement)
        base.execute(f"PRAGMA user_version = {version}")
    return path.read_bytes()


@pytest.mark.parametrize("version", [-1, *range(1, TABLES_VERSION + 1)])
@pytest.mark.parametrize("statements", [(), (ROOMS,), (ROOMS, "CREATE TABLE nights (a)")])
def test_the_database_of_a_booking_program_stays_byte_for_byte(
    tmp_path: Path, version: int, statements: tuple[str, ...]
) -> None:
    """Also where it has tables that are named as ours, or none yet."""
    path = tmp_path / "bookings.db"
    before = made(path, version, *statements)
    for opened in (Journal, JournalReader):
        with pytest.raises(JournalError, match=SOMETHING_ELSE):
            opened(path)
    assert path.read_bytes() == before
    assert [one.name for one in tmp_path.iterdir()] == ["bookings.db"]


def test_a_migration_that_fails_changes_nothing(tmp_path: Path) -> None:
    """Whichever step it is that another program's tables do not let pass."""
    path = tmp_path / "journal"
    tables = (statement for step in MIGRATIONS[:4] for statement in step)
    before = made(path, 4, *tables, "CREATE TABLE packs (of INTEGER)")
    with pytest.raises(JournalError, match="packs already exists"):
        Journal(path)
    assert path.read_bytes() == before


def test_what_is_remembered_is_asked_of_no_other_database(tmp_path: Path) -> None:
    path = tmp_path / "bookings.db"
    made(path, 3, ROOMS)
    done = run("remembered", "--journal", path)
    assert done.exit_code == UNUSABLE
    assert SOMETHING_ELSE in done.output


@pytest.mark.parametrize("opened", [Journal, JournalReader])
def test_a_folder_is_said_to_be_no_journal(
    tmp_path: Path, opened: Callable[[Path], object]
) -> None:
    with pytest.raises(JournalError, match="this is no plain file, and a journal is one"):
        opened(tmp_path)


def test_a_start_waits_for_a_shell_that_holds_the_journal(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    Journal(path).close()
    shell = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    shell.execute("BEGIN IMMEDIATE")
    ends = threading.Timer(0.1, shell.execute, ["COMMIT"])
    ends.start()
    with Journal(path) as journal:
        assert journal.setting("busy_timeout") == 0, "later nobody is waited for"
    ends.join()
    shell.close()


def test_a_journal_that_stays_held_is_said_and_may_be_tried_again(tmp_path: Path) -> None:
    """Status 1 and not 2, with which a service is not started again."""
    path = tmp_path / "journal"
    Journal(path).close()
    with (
        closing(sqlite3.connect(path, isolation_level=None)) as shell,
        patch.object(journal_file, "LOCK_WAIT", 0.0),
    ):
        shell.execute("BEGIN IMMEDIATE")
        with pytest.raises(HeldError, match=r"another program holds this journal .*let it finish"):
            Journal(path)
        done = run("run", CELLAR, "--unproven", "--stdin", "--journal", path)
    assert done.exit_code == PROBLEMS
    assert "another program holds this journal" in done.output
    assert "move it away" not in done.output


def test_a_shell_that_holds_the_journal_meanwhile_is_named(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    with (
        Journal(path) as journal,
        closing(sqlite3.connect(path, isolation_level=None)) as shell,
    ):
        shell.execute("BEGIN IMMEDIATE")
        with pytest.raises(HeldError, match="another program holds this journal"):
            journal.decline(1)
        shell.execute("COMMIT")
        journal.decline(1)
        assert journal.fault is None
