"""The journal: one SQLite file that holds every event and decision before anything is sent.

One transaction writes what a room heard, what it decided and what is to be sent. The resulting
State follows in a later one: the room starts again from the latest that was written, and takes the
lines since then once more. WAL with full sync: what was committed survives a power cut. One writer
at a time locks the journal's file; readers need no lock.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Final, Self

from adapters.live.beside_journal import Parting
from adapters.live.journal_file import (
    SQLITE_ERRORS,
    TABLES_VERSION,
    DiskFullError,
    JournalError,
    line_number,
    passing_error,
    rows_of,
    unusable_words,
)
from adapters.live.journal_place import JournalPlace
from adapters.live.journal_rows import (
    ClockMark,
    JournalLine,
    KeptRoom,
    Opening,
    Page,
    RoomPlace,
)
from adapters.live.line_packs import PackError, pack_lines

LINES_A_PACK: Final = 1_000
"""So many lines are packed into one row: some 10 ms of work, in which no room is heard."""
_LINES_SINCE: Final = (
    "SELECT now, event, decision, waiting, receipts FROM lines WHERE id > ? AND id < ? ORDER BY id"
)
_ENDS: Final = (  # each by itself is a look at one end of the table, both at once all of it
    "SELECT (SELECT min(id) FROM lines WHERE id > ? AND id < ?),"
    " (SELECT max(id) FROM lines WHERE id > ? AND id < ?)"
)
_SERIALS: Final = (
    "SELECT total(max(serial, coalesce((SELECT max(id) FROM lines"
    " WHERE id >= room << 40 AND id < (room + 1) << 40) - (room << 40), 0))) FROM latest"
)
"""The sum of the serials of all rooms' last lines."""
_HIGHEST_ID: Final = (
    "SELECT coalesce(max(json_extract(CAST(decision AS TEXT), '$.id')), 0) FROM lines"
    " WHERE id > ? AND id <= ? AND decision IS NOT NULL"
)
"""The highest id of an order or prompt within some lines."""


class Journal:
    """A journal opened for writing; close it, or use it as a context manager.

    Every method raises `JournalError` if the file cannot be read or written.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._places: dict[int, RoomPlace] = {}
        self.gathers = False
        """Whether further writes follow before the commit."""
        self.fault: str | None = None
        """Why nothing can be written, in a sentence; None: as far as is known it can be."""
        self.full = False
        """Whether that is because the disk is full."""
        self.damage: str | None = None
        """What is damaged in the file, in a sentence, though it can still be written."""
        self.taken = False
        """Whether another roomcue writes it too: what this one knows of its rooms is outdated."""
        self._serials: int | None = None
        """The sum of all rooms' serials as we know it; None: nobody has looked yet."""
        self._committed: int | None = None
        """What that was at our latest commit."""
        self.parting: Parting | None = None
        """What became of it as it was closed, where it does not lie whole at its path."""
        self._files = JournalPlace(path)
        self.found_log = self._files.found_log
        """What became of a log that lay here without its journal; None: none did."""
        try:
            self._use(self._files.opened())
            self._files.require()
        except BaseException:
            self._files.release()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file and release the lock; what was removed meanwhile is written anew."""
        for _ in range(2):  # to find out, and to mend
            self.look_after()
        if self.taken:
            self._base.close()
        else:
            self.parting = self._files.close(self._base)
        self._files.release()

    def look_after(self) -> None:
        """Find out whether the journal can be written; where `fault` says that it cannot, mend it.

        A journal that was removed or cut short is written anew from what SQLite has. Where a disk
        was full, trying shows whether it still is. One that is `taken` is beyond help.
        """
        if self.taken:
            return
        try:
            if self.fault is None:
                self._files.require()
                if self._files.touched:
                    self._look_for_others()
                return
            self._use(self._files.mended(self._base))
            with self._transaction() as base:
                base.execute(f"PRAGMA user_version = {TABLES_VERSION}")
        except JournalError as error:
            self._note_fault(error)

    def make_room(self) -> None:
        """Let commits be as short as they can be: none of them has to make the log longer."""
        if self.fault is None and self._files.log_is_short:
            with suppress(JournalError), self._transaction():  # nobody else writes it meanwhile
                self._files.make_room()

    def _use(self, base: sqlite3.Connection) -> None:
        """Go on with a connection, which may be the one of before."""
        self._base, self._changes = base, 0
        self._steps = base.cursor()  # one for all steps of a commit; each would make its own
        self._look_for_others()

    def _look_for_others(self) -> None:
        """Raise `JournalError` if lines have come that are not ours; `taken` is set then.

        The lock sees to that, but not every file system that is shared keeps its promise.
        """
        try:
            changes = self._steps.execute("PRAGMA data_version").fetchone()[0]
        except SQLITE_ERRORS as error:
            raise JournalError(unusable_words(self.path, error)) from error
        if changes == self._changes:  # by SQLite's own word nobody else has written since then
            self._files.require_untouched()
            return
        found = int(self._read(_SERIALS)[0][0])
        if self._serials is not None and found != self._serials:
            self.taken = True
            raise JournalError(
                f"{self.path}: another roomcue writes this journal too; stop one of them, and keep "
                "the journal where locks hold, on a disk of this machine"
            )
        self._changes, self._serials, self._committed = changes, found, found
        self._files.touched = False

    def setting(self, name: str) -> Any:  # noqa: ANN401 - a number or a word
        """Read one of SQLite's settings (a PRAGMA) of the connection."""
        return rows_of(self._base, self.path, f"PRAGMA {name}")[0][0]

    # ------------------------------------------------------------------------------- rooms

    def kept(self, name: str) -> KeptRoom | None:
        """Read what is known of a room; None if the journal does not know it."""
        rows = self._read(
            "SELECT r.id, c.file, c.roomcue, c.state_version, c.file_version, r.given, l.now,"
            " l.serial, l.night, l.state, l.waiting, l.receipts, r.client, r.epoch,"
            " r.boot, r.ahead, r.doubt, r.begun"
            " FROM rooms r JOIN chapters c ON c.id = r.chapter JOIN latest l ON l.room = r.id"
            " WHERE r.name = ?",
            name,
        )
        for row in rows:
            span = line_number(row[0], row[7]), line_number(row[0] + 1, 0)
            return KeptRoom.of(row, self._read(_LINES_SINCE, *span))
        return None

    def rooms(self) -> tuple[str, ...]:
        """Name the rooms that it knows."""
        return tuple(str(name) for (name,) in self._read("SELECT name FROM rooms ORDER BY name"))

    def begin(self, opening: Opening) -> int:
        """Begin a chapter of a room, which may be its first; give the room's number."""
        name, chapter, given, now, night, *stands, mark, drops_proposal, epoch = opening
        with self._transaction() as base:
            known = base.execute("SELECT id FROM rooms WHERE name = ?", (name,)).fetchone()
            room = known[0] if known else self._new_room(name, epoch)
            serial = self._place(room).serial if known else 0
            number = base.execute(
                "INSERT INTO chapters (room, begins, serial, file, roomcue, state_version,"
                " file_version) VALUES (?, ?, ?, ?, ?, ?, ?)",
                (room, now, serial, *chapter),
            ).lastrowid
            base.execute(
                "INSERT OR REPLACE INTO nights VALUES (?, ?, ?, ?, ?, ?)",
                (room, serial, now, night, number, opening.state),
            )
            base.execute(
                "UPDATE rooms SET chapter = ?, given = ?, boot = ?, ahead = ?, doubt = ?, begun = ?"
                " WHERE id = ?",
                (number, given, *mark, room),
            )
            base.execute(
                "INSERT OR REPLACE INTO latest (room, now, serial, night, state, waiting, receipts)"
                " VALUES (?, ?, ?, ?, ?, ?, ?)",
                (room, now, serial, night, *stands),
            )
            if drops_proposal:
                base.execute("DELETE FROM proposals WHERE room = ?", (room,))
        self._places.pop(room, None)
        return room

    def _new_room(self, name: str, epoch: int) -> int:
        made = self._base.execute(
            "INSERT INTO rooms (name, client, epoch) VALUES (?, lower(hex(randomblob(8))), ?)",
            (name, epoch),
        )
        return int(made.lastrowid or 0)

    def renew_epoch(self, room: int, epoch: int) -> None:
        """Let a room's ids begin with another epoch, and its client id end otherwise."""
        with self._transaction() as base:
            base.execute(
                "UPDATE rooms SET client = lower(hex(randomblob(8))), epoch = ? WHERE id = ?",
                (epoch, room),
            )

    def client(self, room: int) -> str:
        """Give what ends a room's client id at the broker; it was drawn as the room began here."""
        return str(self._read("SELECT client FROM rooms WHERE id = ?", room)[0][0])

    def go_on(self, room: int, given: str, mark: ClockMark) -> None:
        """Record the room file that was named at the start, and the clock; no chapter begins."""
        with self._transaction() as base:
            base.execute(
                "UPDATE rooms SET given = ?, boot = ?, ahead = ?, doubt = ?, begun = ?"
                " WHERE id = ?",
                (given, *mark, room),
            )

    def proposal(self, room: int) -> str | None:
        """Read the room file that waits to be checked; None: there is none."""
        rows = self._read("SELECT file FROM proposals WHERE room = ?", room)
        return next((str(row[0]) for row in rows), None)

    def decline(self, room: int) -> None:
        """Drop the room file that waits to be checked."""
        with self._transaction() as base:
            base.execute("DELETE FROM proposals WHERE room = ?", (room,))

    # ------------------------------------------------------------------------------- lines

    def write(self, page: Page) -> None:
        """Write a page, all or nothing."""
        try:
            place = self._written(self._begun(), page)
            if not self.gathers:
                self.commit()
        except BaseException as error:
            self._fail(error)
            raise
        self._places[page.room] = place

    def _written(self, base: sqlite3.Connection, page: Page) -> RoomPlace:
        """Write a page within a transaction, and give how far its room has come."""
        room = page.room
        place = self._places.get(room) or self._place(room)
        if page.before is not None:
            base.execute(
                "INSERT OR REPLACE INTO nights VALUES (?, ?, ?, ?, ?, ?)",
                (room, place.serial, page.lines[0].now, page.night, place.chapter, page.before),
            )
        first = line_number(room, place.serial + 1)
        rows: list[tuple[object, ...]]
        rows = [(number, *line, None, None) for number, line in enumerate(page.lines, first)]
        serial, chapter, packed, stated = place
        serial += len(rows)
        self._serials = (self._serials or 0) + len(rows)
        if page.state is None:
            rows[-1] = (*rows[-1][:4], page.waiting, page.receipts)
        else:
            stated = serial
            stands = page.night, page.state, page.waiting, page.receipts
            base.execute(
                "UPDATE latest SET now = coalesce(?, now), serial = ?, night = ?, state = ?,"
                " waiting = ?, receipts = ? WHERE room = ?",
                (page.now, serial, *stands, room),
            )
        self._steps.executemany("INSERT INTO lines VALUES (?, ?, ?, ?, ?, ?)", rows)
        if page.proposal is not None:
            base.execute("INSERT OR REPLACE INTO proposals VALUES (?, ?)", (room, page.proposal))
        return RoomPlace(serial, chapter, packed, stated)

    def _place(self, room: int) -> RoomPlace:
        question = "SELECT serial, chapter FROM rooms JOIN latest ON room = id WHERE id = ?"
        stated, chapter = self._read(question, room)[0]
        before = line_number(room, 0)
        first, last = self._read(_ENDS, *(2 * (before, line_number(room + 1, 0))))[0]
        serial = stated if last is None else max(stated, last - before)
        return RoomPlace(serial, chapter, serial if first is None else first - 1 - before, stated)

    def last_number(self, room: int) -> int:
        """Give the highest id of an order or prompt in a room's lines; 0 if there is none."""
        lines = line_number(room, 0), line_number(room + 1, 0)
        packs = "SELECT coalesce(max(highest), 0) FROM packs WHERE id > ? AND id <= ?"
        return max(int(self._read(question, *lines)[0][0]) for question in (_HIGHEST_ID, packs))

    def pack_a_room(self) -> bool:
        """Pack the oldest lines of a room that has enough of them; False: none has.

        A room whose lines are damaged keeps no other one from it; it is said once none is left.
        """
        damaged: JournalError | None = None
        for (number,) in self._read("SELECT id FROM rooms"):
            try:
                if self._pack(number):
                    return True
            except JournalError as error:
                damaged = damaged or error
        if damaged is not None:
            raise damaged
        return False

    def _pack(self, room: int) -> bool:
        """Pack a room's oldest unpacked lines into one row; False: there are too few of them."""
        place = self._places[room] = self._places.get(room) or self._place(room)
        if place.unpacked < LINES_A_PACK:
            return False
        span = line_number(room, place.packed), line_number(room, place.packed + LINES_A_PACK)
        question = "SELECT now, event, decision FROM lines WHERE id > ? AND id <= ? ORDER BY id"
        lines = [JournalLine(*row) for row in self._read(question, *span)]
        highest = self._read(_HIGHEST_ID, *span)[0][0]
        try:
            row = (span[0] + 1, span[1], highest, pack_lines(lines, LINES_A_PACK))
        except PackError as error:
            raise JournalError(unusable_words(self.path, error)) from error
        with self._transaction() as base:
            base.execute("INSERT INTO packs VALUES (?, ?, ?, ?)", row)
            base.execute("DELETE FROM lines WHERE id > ? AND id <= ?", span)
        self._places[room] = place._replace(packed=place.packed + LINES_A_PACK)
        return True

    # -------------------------------------------------------------------------------- past

    def drop_nights(self, room: int, keep: int) -> None:
        """Drop all of a room's nights but the latest `keep`; a clock may have shown any date."""
        with self._transaction() as base:
            first = base.execute(
                "SELECT min(serial) FROM nights WHERE room = ? GROUP BY night"
                " ORDER BY max(serial) DESC LIMIT 1 OFFSET ?",
                (room, keep - 1),
            ).fetchone()
            if first is None:
                return
            span = line_number(room, 0), line_number(room, first[0])
            base.execute("DELETE FROM lines WHERE id > ? AND id <= ?", span)
            # A pack that reaches into a night that is kept stays whole.
            base.execute("DELETE FROM packs WHERE id > ? AND last <= ?", span)
            base.execute("DELETE FROM nights WHERE room = ? AND serial < ?", (room, first[0]))
            base.execute(
                "DELETE FROM chapters WHERE room = ? AND id NOT IN"
                " (SELECT chapter FROM nights WHERE room = ?)",
                (room, room),
            )
        self._places.pop(room, None)

    def _read(self, question: str, *about: object) -> list[tuple[Any, ...]]:
        return rows_of(self._base, self.path, question, *about)

    @contextmanager
    def together(self) -> Iterator[None]:
        """Make one transaction of everything written in the block; raises `JournalError`.

        A block within such a block belongs to the outer one's transaction.
        """
        if self.gathers:
            yield
            return
        self.gathers = True
        try:
            yield
            self.commit()
        except BaseException:
            self._go_back()
            raise
        finally:
            self.gathers = False

    def commit(self) -> None:
        """Commit what was written; raises `JournalError`."""
        try:
            if self._base.in_transaction:
                self._steps.execute("COMMIT")
                self._committed = self._serials
                self.fault = None
        except SQLITE_ERRORS as error:
            raise self._unwritable(error) from error

    @contextmanager
    def _transaction(self) -> Iterator[sqlite3.Connection]:
        """Write everything in the block or nothing; raises `JournalError`."""
        try:
            yield self._begun()
            if not self.gathers:
                self.commit()
        except BaseException as error:
            self._fail(error)
            raise

    def _begun(self) -> sqlite3.Connection:
        """Begin a transaction, where none is under way."""
        base = self._base
        if not base.in_transaction:
            self._files.require()
            self._files.written = True
            self._steps.execute("BEGIN IMMEDIATE")
            self._look_for_others()
        return base

    def _fail(self, error: BaseException) -> None:
        """Take back what was written in a transaction that an error has ended."""
        self._go_back()
        if isinstance(error, SQLITE_ERRORS):
            raise self._unwritable(error) from error
        if isinstance(error, JournalError):
            self._note_fault(error)

    def _go_back(self) -> None:
        self._places.clear()
        self._serials = self._committed
        with suppress(sqlite3.Error):  # SQLite has gone back by itself
            if self._base.in_transaction:
                self._base.execute("ROLLBACK")

    def _unwritable(self, error: Exception) -> JournalError:
        words = f"{self.path}: cannot be written: {error}"
        made = passing_error(self.path, error) or JournalError(words)
        self._note_fault(made)
        return made

    def _note_fault(self, error: JournalError) -> None:
        self.fault, self.full = str(error), isinstance(error, DiskFullError)
