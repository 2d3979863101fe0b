"""Where an open journal lies: its lock, and whether its files are still the ones at its path.

SQLite goes on writing to a file that was moved, removed, cut short or written over, and nobody
would notice before the next start. So whoever is about to write looks first. The lock is on the
journal's file itself: it holds under whatever name the file is opened, and no file beside it can be
removed to get round it.
"""

from __future__ import annotations

import fcntl
import os
import sqlite3
import stat
from contextlib import suppress
from pathlib import Path
from typing import Final

from adapters.live.beside_journal import (
    Parting,
    kept_copy,
    log_set_aside,
    remove_beside,
    remove_whole,
)
from adapters.live.journal_file import (
    LOG_PAGES,
    PAGE_BYTES,
    DiskFullError,
    JournalError,
    LostError,
    copy_journal,
    is_of_full_disk,
    no_file_words,
    open_journal,
)

MODE: Final = 0o644
"""The rights of a new journal, before the process's own mask."""

LOG_BYTES: Final = LOG_PAGES * (PAGE_BYTES + 24) + 32
"""So long the log becomes: each page of it has a head, and it has one itself."""

Identity = tuple[int, int] | None
"""A file's device and number, by which it is known under any name; None: there is no file."""

_NO_LOOK: Final = 0, 0, 0, 0


class _PlaceTakenError(JournalError):
    """Another file lies at the journal's path."""


class _HarmedError(JournalError):
    """The files are not as they were left; what SQLite has open and in memory may make it good."""


class _HarmedOnFullDiskError(_HarmedError, DiskFullError):
    """It would be made good if the disk had room."""


class JournalPlace:
    """The files of one open journal; raises `JournalError` if another roomcue has it."""

    def __init__(self, path: Path) -> None:
        self.path, self._here = path, str(path)
        self._handle = _locked(path)
        self._real = Path(os.path.realpath(path))
        self._file = _identity(os.fstat(self._handle))
        self._log_path, self._log = str(path), self._file  # until it is opened
        self._aside: Path | None = None
        """Where our own log lies while somebody else's file has the journal's place."""
        self._look = _NO_LOOK
        """How long file and log were at the last look, in bytes, and when they had changed."""
        self.written = True
        """Whether SQLite has written for us since the last look."""
        self.touched = False
        """Whether they have changed though it has not."""
        self._lost: str | None = None
        """Why nothing can make the journal good, in a sentence; None: nobody has found that."""
        self._unmended: tuple[str, bool] | None = None
        """Why the latest try to mend it failed, and whether the disk was full; None: none has."""
        self.found_log: str | None = None
        """What became of a log that lay here without its journal, in a sentence; None: none did."""
        try:
            self._require_single_name()
            self._set_found_log_aside()
        except JournalError:
            self.release()
            raise

    def _require_single_name(self) -> None:
        """Raise `JournalError` where the file has another name: its log lies beside one of them."""
        if os.fstat(self._handle).st_nlink > 1:
            raise JournalError(
                f"{self.path}: this journal has more than one name (a hard link), and what came "
                "last may lie in the -wal file beside another one. Keep the name beside which "
                "that lies, or whichever if none does, remove the others ('find -samefile' "
                "lists them; a copy or a symbolic link does no harm), and start again"
            )

    def _set_found_log_aside(self) -> None:
        """Keep the log of a journal that was moved away: SQLite would remove it."""
        if os.fstat(self._handle).st_size:
            return
        try:
            aside = log_set_aside(self._real)
        except OSError as error:
            raise JournalError(
                f"{self._log_name}: the journal that this belongs to is no longer there, and it "
                f"cannot be set aside: {error.strerror}; move it away"
            ) from error
        if aside is not None:
            self.found_log = (
                f"{self._log_name} lay there without its journal, and may hold the newest lines "
                f"of one that was moved away. It is {aside} now: beside a journal that is called "
                "NAME it belongs as NAME-wal"
            )

    @property
    def _log_name(self) -> str:
        return f"{self._real}-wal"

    # ------------------------------------------------------------------------------- parting

    def close(self, base: sqlite3.Connection) -> Parting | None:
        """Close a connection; files that something else has changed stay as they are.

        None: the journal lies whole at its path.
        """
        parting = None
        try:
            self._require_as_left()
        except _PlaceTakenError:
            parting = self._leave_place(base)
        except _HarmedError as error:
            parting = Parting(f"{error}. roomcue has ended and left no whole journal", lost=True)
            if _identity_at(self._real) == self._file:
                self._close_as_it_is(base)
        except JournalError:  # read-only, and whole
            pass
        base.close()
        return parting

    def _close_as_it_is(self, base: sqlite3.Connection) -> None:
        """Close a connection to files that are harmed, and leave them as they are.

        SQLite writes its log into the file as it closes, but not where that has another name.
        """
        other = self._real.with_name(self._real.name + ".aside")
        with suppress(OSError):
            self._real.rename(other)
        base.close()
        with suppress(OSError):
            other.rename(self._real)
        if self._aside is not None:
            with suppress(OSError):
                self._aside.rename(self._log_name)

    def _leave_place(self, base: sqlite3.Connection) -> Parting:
        """Keep what a connection has, where somebody else's file has the journal's place."""
        if _identity_at(self._real) == self._file:  # a link leads elsewhere
            words = f"{self.path}: is another file now; what roomcue had lies in {self._real}"
            return Parting(words, lost=False)
        self._set_log_aside()
        try:
            kept = kept_copy(base, self._real)
        except (LostError, OSError, sqlite3.Error) as error:
            there = "" if self._aside is None else f" Its newest lines lie in {self._aside}"
            why = getattr(error, "strerror", None) or error
            words = (
                f"{self.path}: is another file now, and what roomcue had cannot be kept beside "
                f"it: {why}.{there}"
            )
            return Parting(words, lost=True)
        self._forget_aside()
        words = f"{self.path}: is another file now, and stays as it is; what roomcue had is {kept}"
        return Parting(words, lost=False)

    def _set_log_aside(self) -> None:
        """Take our log from beside somebody else's file: SQLite would play it into that."""
        is_ours = _identity_at(self._log_name) == self._log
        if is_ours and _identity_at(self._real) != self._file:
            with suppress(OSError):
                self._aside = log_set_aside(self._real)

    def _forget_aside(self) -> None:
        """Remove the log that was set aside: all that it holds lies in a whole journal."""
        if self._aside is not None:
            with suppress(OSError):
                self._aside.unlink(missing_ok=True)
            self._aside = None

    def release(self) -> None:
        """Let go of the lock; SQLite must have closed the file before, or it loses its own."""
        os.close(self._handle)

    def require(self) -> None:
        """Raise `JournalError` unless what is written now would be there at the next start."""
        if self._lost is not None:
            raise _HarmedError(self._lost)
        try:
            found = os.stat(self._here)  # noqa: PTH116 - half as fast through a Path
        except OSError as error:
            raise self._harmed(f"is no longer there ({error.strerror})") from error
        if (found.st_dev, found.st_ino) != self._file:
            raise _PlaceTakenError(
                f"{self.path}: this journal is another file now; move that away; nothing is taken "
                "until it is back"
            )
        if not found.st_mode & 0o222:
            raise JournalError(f"{self.path}: is read-only; allow roomcue to write to it")
        try:
            log = os.stat(self._log_path)  # noqa: PTH116 - as above
        except OSError as error:
            raise self._harmed("has lost the -wal file beside it") from error
        if (log.st_dev, log.st_ino) != self._log:
            raise self._harmed("has lost the -wal file beside it")
        self._compare(found, log)

    def _compare(self, found: os.stat_result, log: os.stat_result) -> None:
        """Hold both files against the last look: SQLite makes neither of them shorter."""
        look = found.st_size, log.st_size, found.st_mtime_ns, log.st_mtime_ns
        if look != self._look:
            if look[0] < self._look[0]:
                raise self._harmed("was cut short by something else")
            if look[1] < self._look[1]:
                raise self._harmed("has a -wal file that was cut short by something else")
            self._look, self.touched = look, self.touched or not self.written
        self.written = False

    def require_untouched(self) -> None:
        """Raise `JournalError` where something has written past SQLite."""
        if self.touched:
            raise self._harmed("or the -wal file beside it was written to by something else")

    def _harmed(self, what: str) -> _HarmedError:
        words = f"{self.path}: this journal {what}; nothing is taken until it is back"
        if self._unmended is None:
            return _HarmedError(words)
        why, full = self._unmended
        kind = _HarmedOnFullDiskError if full else _HarmedError
        return kind(f"{words}, and it cannot be written anew: {why}")

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
        """Put the journal back from what SQLite still has, and give the connection to use now.

        Another file in its place is left alone. Raises `JournalError` where it cannot be mended;
        then the connection is as it was, for what it has may be all that there is.
        """
        try:
            self._require_as_left()
        except _HarmedError:
            if self._lost is not None:
                raise
            self._write_anew(base)
        except _PlaceTakenError:
            self._set_log_aside()
            return base
        except JournalError:  # read-only
            return base
        else:
            self._unmended = None
            return base
        fresh = self.opened()
        base.close()
        self._forget_aside()
        return fresh

    def _require_as_left(self) -> None:
        self.require()
        self.require_untouched()

    def opened(self) -> sqlite3.Connection:
        """Open the journal; raises `JournalError`."""
        base = open_journal(self.path)
        self._real = Path(os.path.realpath(self.path))
        self._log_path = self._log_name
        self._log = _identity_at(self._log_path)
        self._look, self.written, self.touched = _NO_LOOK, True, False
        return base

    def _write_anew(self, base: sqlite3.Connection) -> None:
        """Write all that the journal holds to a new file, and give that the journal's name."""
        here = Path(os.path.realpath(self.path))
        part = here.with_name(here.name + ".part")
        try:
            remove_whole(part)
            copy_journal(base, part)
            self._put(part, here)
            self._unmended = None
        except LostError as error:
            self._lost = (
                f"{self.path}: something else has changed this journal, and roomcue does not have "
                f"all of it in memory ({error}). Nothing is taken any more: stop roomcue, move "
                "the journal away, and start again; its -wal and -shm files, if there are any, go "
                "with it"
            )
            raise JournalError(self._lost) from error
        except (OSError, sqlite3.Error) as error:
            why = str(getattr(error, "strerror", None) or error)
            self._unmended = why, is_of_full_disk(error)
            self._require_as_left()  # it says why from now on
        finally:
            with suppress(OSError):
                remove_whole(part)

    def _put(self, part: Path, here: Path) -> None:
        """Give a copy the journal's name, and lock it in its place."""
        handle = _locked(part)
        try:
            os.fsync(handle)
            remove_beside(here)  # SQLite would take the old one's for the new one's
            part.rename(here)
        except OSError:
            os.close(handle)
            raise
        os.close(self._handle)
        self._handle, self._file = handle, _identity(os.fstat(handle))


def _locked(path: Path) -> int:
    """Open a journal's file, which may be new, and lock it; the system unlocks it at our end."""
    try:
        handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, MODE)
    except IsADirectoryError as error:
        raise JournalError(no_file_words(path)) from error
    except OSError as error:
        raise JournalError(
            f"{path}: cannot be made or written: {error.strerror}; allow it, or name another file"
        ) from error
    if not stat.S_ISREG(os.fstat(handle).st_mode):
        os.close(handle)
        raise JournalError(no_file_words(path))
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
