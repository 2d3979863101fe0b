"""Where an open journal lies: its lock, and whether its files are still the ones at its path.

SQLite goes on writing to a file that was moved or removed, and nobody would notice before the next
start. So whoever is about to write looks first. The lock is on the journal's file itself: it holds
under whatever name the file is opened, and no file beside it can be removed to get round it.
"""

from __future__ import annotations

import fcntl
import os
import sqlite3
import stat
from contextlib import suppress
from pathlib import Path
from typing import Final

from adapters.live.journal_file import PAGE_BYTES, JournalError, open_journal

MODE: Final = 0o644
"""The rights of a new journal, before the process's own mask."""

LOG_BYTES: Final = 1_000 * (PAGE_BYTES + 24) + 32
"""SQLite begins its log anew after a thousand pages, each with a head; it has one itself."""

Identity = tuple[int, int] | None
"""A file's device and number, by which it is known under any name; None: there is no file."""


class JournalPlace:
    """The files of one open journal; raises `JournalError` if another roomcue has it."""

    def __init__(self, path: Path) -> None:
        self.path, self._here = path, str(path)
        self._handle = _locked(path)
        self._file = _identity(os.fstat(self._handle))
        self._log_path, self._log = str(path), self._file  # until it is opened

    def release(self) -> None:
        """Let go of the lock; SQLite must have closed the file before, or it loses its own."""
        os.close(self._handle)

    def require(self) -> None:
        """Raise `JournalError` unless what is written now would be there at the next start."""
        try:
            found = os.stat(self._here)  # noqa: PTH116 - half as fast through a Path
        except OSError as error:
            raise self._gone(f"is no longer there ({error.strerror})") from error
        if (found.st_dev, found.st_ino) != self._file:
            raise self._gone("is another file now; move that away")
        if not found.st_mode & 0o222:
            raise JournalError(f"{self.path}: is read-only; allow roomcue to write to it")
        if _identity_at(self._log_path) != self._log:
            raise self._gone("has lost the -wal file beside it")

    def _gone(self, what: str) -> JournalError:
        return JournalError(f"{self.path}: this journal {what}; nothing is taken until it is back")

    @property
    def log_is_short(self) -> bool:
        """Whether the log beside the journal may become longer."""
        try:
            return os.stat(self._log_path).st_size < LOG_BYTES  # noqa: PTH116 - as above
        except OSError:
            return False

    def make_room(self) -> None:
        """Let the log be as long as it ever becomes; in a transaction, so that nobody writes it.

        SQLite writes it from its beginning again and again. A commit that makes it longer asks the
        disk for twice as much, for the file's own record has to be synced too. To SQLite, zeros
        after what it has written are what is left of an earlier round. Where the disk has no room
        for them, commits go on as they can.
        """
        with suppress(OSError), open(self._log_path, "r+b", buffering=0) as log:  # noqa: PTH123
            length = log.seek(0, os.SEEK_END)
            zeros = bytes(max(0, LOG_BYTES - length))
            try:
                if log.write(zeros) == len(zeros):
                    os.fdatasync(log.fileno())
                    return
            except OSError:
                pass
            log.truncate(length)

    # ------------------------------------------------------------------------------- mending

    def mended(self, base: sqlite3.Connection) -> sqlite3.Connection:
        """Put the journal back from what SQLite still has open, and give the connection to use now.

        Another file in its place is left alone. Raises `JournalError` where it cannot be mended.
        """
        here = Path(os.path.realpath(self.path))
        try:
            if not here.exists():
                self._write_anew(base, here)
            elif _identity_at(here) == self._file and _identity_at(self._log_path) != self._log:
                base.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            elif _is_open(base):
                return base
        except (OSError, sqlite3.Error) as error:
            why = getattr(error, "strerror", None) or error
            raise JournalError(f"{self.path}: cannot be written anew: {why}") from error
        base.close()
        return self.opened()

    def opened(self) -> sqlite3.Connection:
        """Open the journal; raises `JournalError`."""
        base = open_journal(self.path)
        self._log_path = f"{os.path.realpath(self.path)}-wal"
        self._log = _identity_at(self._log_path)
        return base

    def _write_anew(self, base: sqlite3.Connection, here: Path) -> None:
        """Write all that the journal holds to a new file, and give that the journal's name."""
        part = here.with_name(here.name + ".part")
        part.unlink(missing_ok=True)
        copy = sqlite3.connect(part)
        try:
            base.backup(copy)
        finally:
            copy.close()
        handle = _locked(part)
        try:
            os.fsync(handle)
            for suffix in (
                "-wal",
                "-shm",
            ):  # the old one's; SQLite would take them for the new one's
                here.with_name(here.name + suffix).unlink(missing_ok=True)
            part.rename(here)
        except OSError:
            os.close(handle)
            raise
        os.close(self._handle)
        self._handle, self._file = handle, _identity(os.fstat(handle))


def _is_open(base: sqlite3.Connection) -> bool:
    try:
        base.execute("SELECT 1")
    except sqlite3.ProgrammingError:
        return False
    return True


def _locked(path: Path) -> int:
    """Open a journal's file, which may be new, and lock it; the system unlocks it at our end."""
    try:
        handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, MODE)
    except OSError as error:
        raise JournalError(
            f"{path}: cannot be made or written: {error.strerror}; allow it, or name another file"
        ) from error
    if not stat.S_ISREG(os.fstat(handle).st_mode):
        os.close(handle)
        raise JournalError(f"{path}: this is no file, so it cannot be a journal")
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        os.close(handle)
        raise JournalError(
            f"{path}: another roomcue is writing this journal; stop it, or name another file"
        ) from error
    return handle


def _identity(found: os.stat_result) -> Identity:
    return found.st_dev, found.st_ino


def _identity_at(path: Path | str) -> Identity:
    """Tell which file lies at a path; None: none."""
    try:
        return _identity(os.stat(path))  # noqa: PTH116 - half as fast through a Path
    except OSError:
        return None
