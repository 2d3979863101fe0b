"""The journal's file: its tables and their versions, and its errors.

chapters   periods in which a room runs under one room file
nights     the State at the first line after each local noon, and where a chapter begins;
           nights are kept or dropped whole
lines      events and decisions in their order; beside the last one of a commit stands what else
           waits because of it, but for what its decisions say, the addresses of the replies that
           are owed, and the receipts of its messages
packs      older lines of a room, a thousand of them packed into one row (`line_packs`)
rooms      names, the room file that each was started with, and what names each at the broker
latest     each room's State, its outbox and its receipts as they were at some line of it, most
           often the last one: what has come since stands in `lines`
proposals  room files that came as a message and are being checked
"""

from __future__ import annotations

import errno
import sqlite3
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

from engine.errors import UnusableError

TABLES_VERSION: Final = 11
"""The version of the tables; `MIGRATIONS` brings older files to it, one step for each version."""
PAGE_BYTES: Final = 4_096
"""The page size of a new journal: a room's State, outbox and receipts go into one page. In smaller
ones they are a chain of pages, which takes more of the processor."""
LOG_PAGES: Final = 1_000
"""SQLite begins its log anew after so many pages."""
MIGRATIONS: Final[tuple[tuple[str, ...], ...]] = (
    (
        """CREATE TABLE rooms (
            id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, chapter INTEGER, given TEXT,
            now INTEGER NOT NULL, serial INTEGER NOT NULL, night INTEGER, state BLOB NOT NULL,
            link INTEGER NOT NULL DEFAULT 0)""",
        """CREATE TABLE chapters (
            id INTEGER PRIMARY KEY, room INTEGER NOT NULL, begins INTEGER NOT NULL,
            serial INTEGER NOT NULL, file TEXT NOT NULL, roomcue TEXT NOT NULL,
            state_version INTEGER NOT NULL, file_version INTEGER NOT NULL)""",
        """CREATE TABLE nights (
            room INTEGER NOT NULL, serial INTEGER NOT NULL, begins INTEGER NOT NULL,
            night INTEGER NOT NULL, chapter INTEGER NOT NULL, state BLOB NOT NULL,
            PRIMARY KEY (room, serial)) WITHOUT ROWID""",
        """CREATE TABLE lines (
            room INTEGER NOT NULL, serial INTEGER NOT NULL, now INTEGER NOT NULL,
            event BLOB, decision BLOB, PRIMARY KEY (room, serial)) WITHOUT ROWID""",
        """CREATE TABLE outbox (
            serial INTEGER PRIMARY KEY AUTOINCREMENT, room INTEGER NOT NULL,
            leaf TEXT NOT NULL, body BLOB NOT NULL, ends INTEGER, number INTEGER, slot TEXT,
            UNIQUE (room, number), UNIQUE (room, slot))""",
        """CREATE TABLE receipts (
            room INTEGER NOT NULL, mid INTEGER NOT NULL, link INTEGER NOT NULL,
            digest BLOB NOT NULL, PRIMARY KEY (room, mid)) WITHOUT ROWID""",
        """CREATE TABLE proposals (
            room INTEGER PRIMARY KEY, file TEXT NOT NULL)""",
    ),
    (  # Indexes on a handful of rows cost a page each in every commit.
        """CREATE TABLE waiting (
            room INTEGER NOT NULL, serial INTEGER NOT NULL, leaf TEXT NOT NULL,
            body BLOB NOT NULL, ends INTEGER, number INTEGER, slot TEXT,
            PRIMARY KEY (room, serial)) WITHOUT ROWID""",
        """INSERT INTO waiting SELECT room, serial, leaf, body, ends, number, slot FROM outbox""",
        "DROP TABLE outbox",
        "ALTER TABLE waiting RENAME TO outbox",
    ),
    (
        """CREATE TABLE latest (
            room INTEGER PRIMARY KEY, now INTEGER NOT NULL, serial INTEGER NOT NULL,
            night INTEGER NOT NULL, state BLOB NOT NULL,
            waiting BLOB NOT NULL, receipts BLOB NOT NULL DEFAULT x'')""",
        """INSERT INTO latest (room, now, serial, night, state, waiting)
            SELECT id, now, serial, night, state, CAST((
                SELECT json_group_array(json_array(
                    serial, leaf, CAST(body AS TEXT), ends, number, slot))
                FROM (SELECT * FROM outbox o WHERE o.room = r.id ORDER BY o.serial)) AS BLOB)
            FROM rooms r""",
        """CREATE TABLE named (
            id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, chapter INTEGER, given TEXT)""",
        "INSERT INTO named SELECT id, name, chapter, given FROM rooms",
        "DROP TABLE rooms",
        "ALTER TABLE named RENAME TO rooms",
        "DROP TABLE outbox",
        "DROP TABLE receipts",
    ),
    (  # A table by one number fills its pages; by two it splits one every few commits.
        """CREATE TABLE numbered (
            id INTEGER PRIMARY KEY, now INTEGER NOT NULL, event BLOB, decision BLOB)""",
        """INSERT INTO numbered SELECT (room << 40) + serial, now, event, decision
            FROM lines ORDER BY room, serial""",
        "DROP TABLE lines",
        "ALTER TABLE numbered RENAME TO lines",
    ),
    (  # `id` and `last` are the ids of the first and the last line in it.
        """CREATE TABLE packs (
            id INTEGER PRIMARY KEY, last INTEGER NOT NULL, highest INTEGER NOT NULL,
            body BLOB NOT NULL)""",
    ),
    (  # The ids of a journal that is older than epochs go on as they are: its epoch is 0.
        "ALTER TABLE rooms ADD COLUMN client TEXT NOT NULL DEFAULT ''",
        "UPDATE rooms SET client = lower(hex(randomblob(8)))",
        "ALTER TABLE rooms ADD COLUMN epoch INTEGER NOT NULL DEFAULT 0",
    ),
    (  # By which clock a room's moments are counted; of an older journal nobody knows it.
        "ALTER TABLE rooms ADD COLUMN boot TEXT NOT NULL DEFAULT ''",
        "ALTER TABLE rooms ADD COLUMN ahead INTEGER NOT NULL DEFAULT 0",
    ),
    (  # So that an order's commit is its lines alone: the State is written later.
        "ALTER TABLE lines ADD COLUMN waiting BLOB",
        "ALTER TABLE lines ADD COLUMN receipts BLOB",
    ),
    (),  # Beside a line stands where its replies go, and no longer the replies themselves.
    (  # How long the machine was off before it started, while nothing tells: the clock may be slow.
        "ALTER TABLE rooms ADD COLUMN doubt INTEGER",
    ),
    (  # How the room stood then: what has begun since goes on, though roomcue starts once more.
        "ALTER TABLE rooms ADD COLUMN begun BLOB",
    ),
)


class JournalError(UnusableError):
    """The journal cannot be opened, read or written; nothing uncommitted has any effect."""


class DiskFullError(JournalError):
    """The disk is full or fails; that may pass."""


class NotKeptError(JournalError):
    """Rooms have ended, and no whole journal is left of what they have heard."""


class HeldError(JournalError):
    """Another program holds the journal; that may pass."""


class LostError(JournalError):
    """A part of a journal is lost for good, wherever SQLite looks for it."""


SQLITE_ERRORS: Final = (sqlite3.Error, UnicodeDecodeError)
"""What SQLite raises; where a file is damaged even its own message may be unreadable."""


def line_number(room: int, serial: int) -> int:
    """Give a line's id among the lines of all rooms, from its room and its serial there."""
    return (room << 40) + serial


def rows_of(
    base: sqlite3.Connection, path: Path, question: str, *about: object
) -> list[tuple[Any, ...]]:
    """Read rows; raises `JournalError`."""
    try:
        return base.execute(question, about).fetchall()
    except SQLITE_ERRORS as error:
        raise JournalError(unusable_words(path, error)) from error


LOCK_WAIT: Final = 5.0
"""For so many seconds a start waits for another program that holds the journal."""


def open_journal(path: Path) -> sqlite3.Connection:
    """Open a journal for writing; create or migrate it if needed; raises `JournalError`.

    A file that turns out to be no journal stays as it is.
    """
    base = connect(str(path), wait=LOCK_WAIT)
    try:
        _lead_here(base, path)
        base.execute("PRAGMA journal_mode = WAL")
        base.execute("PRAGMA synchronous = FULL")
        base.execute(f"PRAGMA cache_size = {LOG_PAGES}")  # what the log has is in memory too
        base.execute("PRAGMA busy_timeout = 0")  # no room waits for anybody
        base.execute("SELECT 1 FROM rooms").fetchone()  # by now SQLite has made its log
        damage = _damage(base) if is_checked_at_start(path) else None
    except SQLITE_ERRORS as error:
        base.close()
        words = unusable_words(path, error)
        raise passing_error(path, error) or JournalError(words) from error
    except JournalError:
        base.close()
        raise
    if damage is not None:
        base.close()
        raise JournalError(unusable_words(path, damage))
    return base


def _lead_here(base: sqlite3.Connection, path: Path) -> None:
    """Bring the tables to this version, all at once; raises `JournalError` for another file."""
    _version_in(base, path)  # before anything is written
    base.execute(f"PRAGMA page_size = {PAGE_BYTES}")  # without effect if the file has pages
    base.execute("BEGIN IMMEDIATE")
    for number in range(_version_in(base, path), TABLES_VERSION):
        for statement in MIGRATIONS[number]:
            base.execute(statement)
        base.execute(f"PRAGMA user_version = {number + 1}")
    base.execute("COMMIT")


def is_of_full_disk(error: Exception) -> bool:
    """Tell whether an error of SQLite or the system says that the disk is full, or fails."""
    if isinstance(error, OSError):
        return error.errno in _FULL
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF  # the higher bits only give details
    return code in (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR)


_FULL: Final = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO)


def passing_error(path: Path, error: Exception) -> JournalError | None:
    """Make the error of what may pass: the disk is full, another program writes; None: neither."""
    if is_of_full_disk(error):
        return DiskFullError(f"{path}: cannot be written: {error}")
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        words = f"{path}: another program holds this journal ({error}); let it finish, or end it"
        return HeldError(words)
    return None


MOST_BYTES_CHECKED: Final = 1 << 26
"""A journal of at most this many bytes is checked for damage at the start."""


def is_checked_at_start(path: Path) -> bool:
    """Tell whether a journal is small enough to be checked before it is used."""
    try:
        return path.stat().st_size <= MOST_BYTES_CHECKED
    except OSError:
        return True


class DamageCheck:
    """A look through a whole journal for damage, beside whoever writes it."""

    def __init__(self, path: Path) -> None:
        """Open the journal for reading; raises `JournalError`."""
        self._path = path
        self._base = connect(f"{path.absolute().as_uri()}?mode=ro", in_one_thread=False)

    def found(self) -> str | None:
        """Say what is damaged, in a sentence; None: nothing, or `stop` was called meanwhile."""
        try:
            damage = _damage(self._base)
        except sqlite3.OperationalError:  # interrupted, or nobody can read it now
            return None
        except SQLITE_ERRORS as error:
            damage = str(error)
        finally:
            self._base.close()
        return None if damage is None else damaged_words(self._path, damage)

    def stop(self) -> None:
        """Let `found` end soon, from another thread."""
        with suppress(sqlite3.ProgrammingError):  # it has ended
            self._base.interrupt()


def copy_journal(base: sqlite3.Connection, path: Path) -> None:
    """Write all that a connection can read of a journal to a new file.

    Raises `LostError` where that is no whole journal, and what SQLite raises where it cannot be
    written.
    """
    copy = sqlite3.connect(path)
    try:
        base.backup(copy)
        damage = _damage(copy)
        if damage is None and _version_in(copy, path) != TABLES_VERSION:
            damage = "its tables are gone"
    except sqlite3.DatabaseError as error:
        if getattr(error, "sqlite_errorcode", None) not in _LOST:
            raise
        damage = str(error)
    finally:
        copy.close()
    if damage is not None:
        raise LostError(damage)


_LOST: Final = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_IOERR_SHORT_READ)
"""By which SQLite says that what should be in a file is not there."""


def damaged_words(path: Path, damage: str) -> str:
    """Make the sentence that a journal in use is damaged, and what to do."""
    first = damage.splitlines()[0]
    return (
        f"{path}: this journal is damaged ({first}). The room goes on for as long as it can be "
        "written. Before the next start, move it away once roomcue has ended, and its -wal and "
        "-shm files with it; what it holds can often be read with SQLite's own .recover"
    )


def _damage(base: sqlite3.Connection) -> str | None:
    """Say what is damaged in the file; None: nothing is."""
    found = str(base.execute("PRAGMA quick_check(1)").fetchone()[0])
    return None if found == "ok" else " ".join(found.split())


def no_file_words(path: Path) -> str:
    """Make the sentence that a folder, or whatever lies there, cannot be a journal."""
    return f"{path}: this is no plain file, and a journal is one"


def unusable_words(path: Path, error: object) -> str:
    """Make the sentence that a journal cannot be used, and what to do."""
    if getattr(error, "sqlite_errorcode", None) == sqlite3.SQLITE_NOTADB:
        return (
            f"{path}: this is no journal: name another file. If it was one, its beginning is "
            f"damaged: then move it away and start with a new one; {_GO_WITH_IT}"
        )
    return (
        f"{path}: this journal cannot be used: {error}. If it is damaged, move it away and start "
        f"with a new one; {_GO_WITH_IT}, and what it held can often be read with SQLite's own "
        ".recover"
    )


_GO_WITH_IT: Final = "its -wal and -shm files, if there are any, go with it"


def connect(name: str, *, in_one_thread: bool = True, wait: float = 0.0) -> sqlite3.Connection:
    """Connect to a file by its path or its `file:` URI; raises `JournalError`.

    Another program that holds it is waited for, for so many seconds.
    """
    try:
        return sqlite3.connect(
            name,
            isolation_level=None,
            uri=name.startswith("file:"),
            timeout=wait,
            check_same_thread=in_one_thread,
        )
    except sqlite3.Error as error:
        raise JournalError(f"{name}: cannot be opened: {error}") from error


def version_of(base: sqlite3.Connection, path: Path) -> int:
    """Read the version of a journal's tables; raises `JournalError` for one that is unknown."""
    try:
        found = _version_in(base, path)
    except SQLITE_ERRORS as error:
        raise JournalError(unusable_words(path, error)) from error
    if not found:
        raise JournalError(f"{path}: this is no journal, but empty; roomcue run writes one")
    return found


_TABLES: Final = frozenset(("rooms", "chapters", "nights", "lines"))
"""The tables that a journal of any version has."""


def _version_in(base: sqlite3.Connection, path: Path) -> int:
    """Read the version; 0: the file is empty. Raises `JournalError` for what this cannot go on."""
    found = int(base.execute("PRAGMA user_version").fetchone()[0])
    tables = {row[0] for row in base.execute("SELECT name FROM sqlite_master")}
    if (tables or found) and (found <= 0 or not tables >= _TABLES):
        raise JournalError(f"{path}: this is a database of something else; name a journal")
    if found > TABLES_VERSION:
        raise JournalError(
            f"{path}: a journal of version {found}; this roomcue reads up to {TABLES_VERSION}. Use "
            "the roomcue that wrote it, or a later one"
        )
    return found
