"""The journal: one SQLite file in which every event and decision stands before anything is sent.

One transaction takes what a room heard, what it decided, what is to be sent, and the State that
came of it; start-up reads that State. WAL with full sync: what was committed outlives a power
cut. One writer at a time holds the lock file beside it; readers need none.

    chapters   a stretch of a room's life under one room file
    nights     the State at the first line after each local noon, and where a chapter begins;
               nights are kept or dropped whole
    lines      events and decisions in their order
    rooms      names, and the room file that each was started with
    latest     each room's State, what the broker has not taken yet, and which messages came last:
               in one row, for each table that a commit touches costs it a page
    proposals  room files that came as a message and are being checked
"""

from __future__ import annotations

import fcntl
import os
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final, NamedTuple, Self

from engine.errors import UnusableError

VERSION: Final = 4
"""Of the tables; `MIGRATIONS` leads older files here."""
PAGE: Final = 1_024
"""Bytes in a page of a new journal: a commit writes every page that it has touched whole."""
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
)


class JournalError(UnusableError):
    """The journal cannot be opened, read or written; what was not committed did not happen."""


class FullError(JournalError):
    """The disk takes nothing now; that may pass."""


class Line(NamedTuple):
    """One line to write: an event or a decision as JSON, at a moment in ms UTC."""

    now: int
    event: bytes | None
    decision: bytes | None


class Chapter(NamedTuple):
    """A stretch of a room's life under one room file."""

    file: str
    roomcue: str
    state_version: int
    file_version: int


class Kept(NamedTuple):
    """What a room's row says of it."""

    id: int
    chapter: Chapter
    given: str
    """The room file as it was last named at the start; the chapter's may be newer."""
    now: int
    serial: int
    night: int
    state: bytes
    waiting: bytes
    receipts: bytes


class Opening(NamedTuple):
    """How a chapter begins."""

    name: str
    chapter: Chapter
    given: str
    now: int
    night: int
    state: bytes
    waiting: bytes
    """What waits for the broker from now on."""


class Night(NamedTuple):
    """Where a room's night begins in the lines."""

    serial: int
    begins: int
    chapter: Chapter
    state: bytes


class Page(NamedTuple):
    """What one transaction writes of a room."""

    room: int
    now: int
    night: int
    """The night that it belongs to, counted by local noons."""
    lines: Sequence[Line]
    state: bytes
    before: bytes | None
    """The State before the first line, where a night begins with it; else None."""
    waiting: bytes
    """What waits for the broker."""
    receipts: bytes
    """Which messages came last."""
    proposal: str | None = None
    """A room file to be checked."""


class _Place(NamedTuple):
    """Where a room's next line goes."""

    serial: int
    chapter: int


class Journal:
    """One open journal; close it, or use it as a context manager."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._places: dict[int, _Place] = {}
        self._gathers = False
        """Whether more is written before the commit."""
        self._lock = _locked(path)
        try:
            self._base = _opened(path)
        except BaseException:
            os.close(self._lock)
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file and let go of the lock."""
        self._base.close()
        os.close(self._lock)

    def setting(self, name: str) -> object:
        """Say how the connection is set, as SQLite itself says it."""
        return _read(self._base, self.path, f"PRAGMA {name}")[0][0]

    # ------------------------------------------------------------------------------- rooms

    def kept(self, name: str) -> Kept | None:
        """Read what is known of a room; None if it is new here."""
        rows = self._read(
            "SELECT r.id, c.file, c.roomcue, c.state_version, c.file_version, r.given, l.now,"
            " l.serial, l.night, l.state, l.waiting, l.receipts"
            " FROM rooms r JOIN chapters c ON c.id = r.chapter JOIN latest l ON l.room = r.id"
            " WHERE r.name = ?",
            name,
        )
        return next((Kept(row[0], Chapter(*row[1:5]), *row[5:]) for row in rows), None)

    def begin(self, opening: Opening) -> int:
        """Begin a chapter of a room, its first one too; gives the room's number."""
        name, chapter, given, now, night, state, waiting = opening
        with self._transaction() as base:
            question = "SELECT id, serial FROM rooms JOIN latest ON room = id WHERE name = ?"
            room, serial = base.execute(question, (name,)).fetchone() or (self._new_room(name), 0)
            number = base.execute(
                "INSERT INTO chapters (room, begins, serial, file, roomcue, state_version,"
                " file_version) VALUES (?, ?, ?, ?, ?, ?, ?)",
                (room, now, serial, *chapter),
            ).lastrowid
            base.execute(
                "INSERT OR REPLACE INTO nights VALUES (?, ?, ?, ?, ?, ?)",
                (room, serial, now, night, number, state),
            )
            base.execute(
                "UPDATE rooms SET chapter = ?, given = ? WHERE id = ?", (number, given, room)
            )
            base.execute(
                "INSERT INTO latest (room, now, serial, night, state, waiting)"
                " VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET now = excluded.now,"
                " night = excluded.night, state = excluded.state, waiting = excluded.waiting",
                (room, now, serial, night, state, waiting),
            )
            base.execute("DELETE FROM proposals WHERE room = ?", (room,))
        self._places[room] = _Place(serial, number or 0)
        return room

    def _new_room(self, name: str) -> int:
        made = self._base.execute("INSERT INTO rooms (name) VALUES (?)", (name,))
        return int(made.lastrowid or 0)

    def name_file(self, room: int, given: str) -> None:
        """Keep the room file that was named at the start, though the chapter goes on."""
        with self._transaction() as base:
            base.execute(
                "UPDATE rooms SET given = ? WHERE id = ? AND given <> ?", (given, room, given)
            )

    def proposal(self, room: int) -> str | None:
        """Read the room file that waits to be checked."""
        rows = self._read("SELECT file FROM proposals WHERE room = ?", room)
        return next((str(row[0]) for row in rows), None)

    def decline(self, room: int) -> None:
        """Drop the room file that waited."""
        with self._transaction() as base:
            base.execute("DELETE FROM proposals WHERE room = ?", (room,))

    # ------------------------------------------------------------------------------- lines

    def write(self, page: Page) -> None:
        """Write a page, all or nothing."""
        room = page.room
        with self._transaction() as base:
            place = self._places.get(room) or self._place(room)
            if page.before is not None:
                base.execute(
                    "INSERT OR REPLACE INTO nights VALUES (?, ?, ?, ?, ?, ?)",
                    (room, place.serial, page.lines[0].now, page.night, place.chapter, page.before),
                )
            first = _number(room, place.serial + 1)
            rows = [(number, *line) for number, line in enumerate(page.lines, first)]
            base.executemany("INSERT INTO lines VALUES (?, ?, ?, ?)", rows)
            place = _Place(place.serial + len(rows), place.chapter)
            base.execute(
                "UPDATE latest SET now = ?, serial = ?, night = ?, state = ?,"
                " waiting = ?, receipts = ? WHERE room = ?",
                (
                    page.now,
                    place.serial,
                    page.night,
                    page.state,
                    page.waiting,
                    page.receipts,
                    room,
                ),
            )
            if page.proposal is not None:
                base.execute(
                    "INSERT OR REPLACE INTO proposals VALUES (?, ?)", (room, page.proposal)
                )
        self._places[room] = place

    def _place(self, room: int) -> _Place:
        question = "SELECT serial, chapter FROM rooms JOIN latest ON room = id WHERE id = ?"
        return _Place(*self._base.execute(question, (room,)).fetchone())

    def keep_waiting(self, room: int, waiting: bytes) -> None:
        """Write down what waits for the broker, where nothing else has changed."""
        with self._transaction() as base:
            base.execute("UPDATE latest SET waiting = ? WHERE room = ?", (waiting, room))

    def last_number(self, room: int) -> int:
        """Say the highest number that any order or prompt in a room's lines has; 0: none has."""
        rows = self._read(
            "SELECT coalesce(max(json_extract(CAST(decision AS TEXT), '$.id')), 0) FROM lines"
            " WHERE id > ? AND id < ? AND decision IS NOT NULL",
            _number(room, 0),
            _number(room + 1, 0),
        )
        return int(rows[0][0])

    # -------------------------------------------------------------------------------- past

    def drop_nights(self, room: int, keep: int) -> int:
        """Drop a room's oldest nights but `keep`, whole; gives how many lines went with them."""
        with self._transaction() as base:
            first = base.execute(
                "SELECT min(serial) FROM nights WHERE room = ? GROUP BY night"
                " ORDER BY night DESC LIMIT 1 OFFSET ?",
                (room, keep - 1),
            ).fetchone()
            if first is None:
                return 0
            gone = base.execute(
                "DELETE FROM lines WHERE id > ? AND id <= ?",
                (_number(room, 0), _number(room, first[0])),
            ).rowcount
            base.execute("DELETE FROM nights WHERE room = ? AND serial < ?", (room, first[0]))
            base.execute(
                "DELETE FROM chapters WHERE room = ? AND id NOT IN"
                " (SELECT chapter FROM nights WHERE room = ?)",
                (room, room),
            )
        return int(gone)

    def _read(self, question: str, *about: object) -> list[tuple[Any, ...]]:
        return _read(self._base, self.path, question, *about)

    @contextmanager
    def together(self) -> Iterator[None]:
        """Make one transaction of all that is written meanwhile; raises `JournalError`."""
        self._gathers = True
        try:
            yield
            self.commit()
        except BaseException:
            self._go_back()
            raise
        finally:
            self._gathers = False

    def commit(self) -> None:
        """Make what was written last; raises `JournalError`."""
        try:
            if self._base.in_transaction:
                self._base.execute("COMMIT")
        except sqlite3.Error as error:
            raise self._unwritable(error) from error

    @contextmanager
    def _transaction(self) -> Iterator[sqlite3.Connection]:
        """Write all of it or nothing; raises `JournalError`."""
        try:
            if not self._base.in_transaction:
                self._base.execute("BEGIN IMMEDIATE")
            yield self._base
            if not self._gathers:
                self.commit()
        except BaseException as error:
            self._go_back()
            if isinstance(error, sqlite3.Error):
                raise self._unwritable(error) from error
            raise

    def _go_back(self) -> None:
        self._places.clear()
        if self._base.in_transaction:
            self._base.execute("ROLLBACK")

    def _unwritable(self, error: sqlite3.Error) -> JournalError:
        kind = FullError if _full(error) else JournalError
        return kind(f"{self.path}: cannot be written: {error}")


def _number(room: int, serial: int) -> int:
    """Give the number that a room's line has among all lines."""
    return (room << 40) + serial


def _read(
    base: sqlite3.Connection, path: Path, question: str, *about: object
) -> list[tuple[Any, ...]]:
    """Read rows; raises `JournalError`."""
    try:
        return base.execute(question, about).fetchall()
    except sqlite3.Error as error:
        raise JournalError(_broken(path, error)) from error


_NUMBERED: Final = 4
"""Since this version a line has one number."""
_LINES: Final = "SELECT now, event, decision FROM lines WHERE id > ? AND id <= ? ORDER BY id"
_LINES_BEFORE: Final = (
    "SELECT now, event, decision FROM lines"
    " WHERE (room << 40) + serial > ? AND (room << 40) + serial <= ? ORDER BY room, serial"
)


class Past:
    """A journal opened for reading alone, while roomcue runs or not; older ones as they are."""

    def __init__(self, path: Path) -> None:
        if not path.is_file():
            raise JournalError(f"{path}: there is no such journal")
        self.path = path
        self._base = _connected(f"{path.absolute().as_uri()}?mode=ro")
        self._version = _version_of(self._base, path)

    def rooms(self) -> list[str]:
        """Name the rooms in it."""
        rows = _read(self._base, self.path, "SELECT name FROM rooms ORDER BY name")
        return [str(row[0]) for row in rows]

    def nights(self, name: str) -> list[Night]:
        """Give a room's nights, oldest first."""
        rows = _read(
            self._base,
            self.path,
            "SELECT n.serial, n.begins, c.file, c.roomcue, c.state_version, c.file_version, n.state"
            " FROM nights n JOIN chapters c ON c.id = n.chapter JOIN rooms r ON r.id = n.room"
            " WHERE r.name = ? ORDER BY n.serial",
            name,
        )
        return [Night(row[0], row[1], Chapter(*row[2:6]), row[6]) for row in rows]

    def lines(self, name: str, first: int, last: int | None) -> list[Line]:
        """Give a room's lines after serial `first` up to and including `last` (None: all)."""
        question = _LINES if self._version >= _NUMBERED else _LINES_BEFORE
        rows = []
        for (room,) in _read(self._base, self.path, "SELECT id FROM rooms WHERE name = ?", name):
            end = _number(room + 1, 0) if last is None else _number(room, last)
            rows = _read(self._base, self.path, question, _number(room, first), end)
        return [Line(*row) for row in rows]

    def close(self) -> None:
        """Close it."""
        self._base.close()


def _locked(path: Path) -> int:
    """Take the lock beside the journal; the system lets go of it when the process ends."""
    lock = path.with_name(path.name + ".lock")
    try:
        handle = os.open(lock, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    except OSError as error:
        raise JournalError(f"{lock}: cannot be made: {error.strerror}") from error
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        os.close(handle)
        raise JournalError(
            f"{path}: another roomcue is writing this journal; stop it, or name another file"
        ) from error
    return handle


def _opened(path: Path) -> sqlite3.Connection:
    base = _connected(str(path))
    try:
        base.execute(f"PRAGMA page_size = {PAGE}")  # no more than a wish if there are pages
        base.execute("PRAGMA journal_mode = WAL")
        base.execute("PRAGMA synchronous = FULL")
        found = base.execute("PRAGMA user_version").fetchone()[0]
        if found > VERSION:
            _version_of(base, path)
        for number in range(found, VERSION):
            base.execute("BEGIN IMMEDIATE")
            for statement in MIGRATIONS[number]:
                base.execute(statement)
            base.execute(f"PRAGMA user_version = {number + 1}")
            base.execute("COMMIT")
        damage = _damage(base) if path.stat().st_size <= QUICKLY_READ else None
    except sqlite3.DatabaseError as error:
        base.close()
        if _full(error):
            raise FullError(f"{path}: cannot be written: {error}") from error
        raise JournalError(_broken(path, error)) from error
    except JournalError:
        base.close()
        raise
    if damage is not None:
        base.close()
        raise JournalError(_broken(path, damage))
    return base


def _full(error: sqlite3.Error) -> bool:
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF  # the rest of it says more closely why
    return code in (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR)


QUICKLY_READ: Final = 1 << 26
"""A journal up to this size (bytes) is read through at the start, to find damage before use."""


def _damage(base: sqlite3.Connection) -> str | None:
    """Say what is wrong with the file; None: nothing."""
    found = str(base.execute("PRAGMA quick_check(1)").fetchone()[0])
    return None if found == "ok" else found


def _broken(path: Path, error: object) -> str:
    return (
        f"{path}: this journal cannot be used: {error}. If it is damaged, move it away and start "
        "with a new one; what it held can often be read with SQLite's own .recover"
    )


def _connected(name: str) -> sqlite3.Connection:
    try:
        return sqlite3.connect(name, isolation_level=None, uri=name.startswith("file:"), timeout=0)
    except sqlite3.Error as error:
        raise JournalError(f"{name}: cannot be opened: {error}") from error


def _version_of(base: sqlite3.Connection, path: Path) -> int:
    """Say the version of a journal, or refuse one that this roomcue cannot read."""
    try:
        found = int(base.execute("PRAGMA user_version").fetchone()[0])
    except sqlite3.Error as error:
        raise JournalError(_broken(path, error)) from error
    if not 1 <= found <= VERSION:
        raise JournalError(
            f"{path}: a journal of version {found}; this roomcue reads up to {VERSION}"
        )
    return found
