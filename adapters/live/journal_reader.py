"""Read a journal without writing to it, even while roomcue runs.

Journals of older versions are read as they are, without migrating them.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from types import NoneType
from typing import Any, Final

from adapters.live.journal_file import (
    JournalError,
    connect,
    line_number,
    no_file_words,
    rows_of,
    unusable_words,
    version_of,
)
from adapters.live.journal_rows import Chapter, JournalLine, KeptState, NightStart
from adapters.live.line_packs import PackError, unpack_lines

_LATEST_SINCE: Final = 3
"""The first version of the tables in which a room's State has a row of its own."""
_SINGLE_ID_SINCE: Final = 4
"""The first version of the tables in which a line has a single id."""
_PACKS_SINCE: Final = 5
"""The first version of the tables in which older lines are packed."""
ROWS_AT_ONCE: Final = 200
"""How many rows are read at once, each a line or a pack of a thousand."""
_PACKS_AND_LINES: Final = (  # One statement: lines may be packed between two.
    "SELECT id, body, last, NULL, NULL FROM packs WHERE last > ?1 AND id <= ?2"
    " AND id >= ifnull((SELECT max(id) FROM packs WHERE id <= ?1), 0)"
    " UNION ALL SELECT id, NULL, now, event, decision FROM lines WHERE id > ?1 AND id <= ?2"
    " ORDER BY id LIMIT ?3"
)
_LINES_BY_ID: Final = "SELECT now, event, decision FROM lines WHERE id > ? AND id <= ? ORDER BY id"
_LINES_BY_ROOM_AND_SERIAL: Final = (
    "SELECT now, event, decision FROM lines"
    " WHERE (room << 40) + serial > ? AND (room << 40) + serial <= ? ORDER BY room, serial"
)
_BYTES_OR_NONE: Final = (bytes, NoneType)
_LINE: Final = (int, _BYTES_OR_NONE, _BYTES_OR_NONE)
_PACK: Final = (int, bytes, int, NoneType, NoneType)
_NIGHT: Final = (int, int, str, str, int, int, bytes, int)


class JournalReader:
    """A journal opened for reading only; raises `JournalError` if it cannot be read."""

    def __init__(self, path: Path) -> None:
        if path.exists() and not path.is_file():
            raise JournalError(no_file_words(path))
        if not path.exists():
            raise JournalError(
                f"{path}: there is no such journal. roomcue run writes one; say with --journal "
                "where it lies"
            )
        self.path = path
        self._base = connect(f"{path.absolute().as_uri()}?mode=ro")
        self._version = version_of(self._base, path)

    def rooms(self) -> list[str]:
        """Name the rooms in it."""
        rows = rows_of(self._base, self.path, "SELECT name FROM rooms ORDER BY name")
        return [str(row[0]) for row in rows]

    def state(self, name: str) -> KeptState:
        """Give a room's State as it was last written, with what has come since."""
        if self._version < _LATEST_SINCE:
            words = "it is of an older version: let roomcue run take it up first"
            raise JournalError(unusable_words(self.path, words))
        rows = rows_of(
            self._base,
            self.path,
            "SELECT c.file, l.state, l.serial FROM latest l JOIN rooms r ON r.id = l.room"
            " JOIN chapters c ON c.id = r.chapter WHERE r.name = ?",
            name,
        )
        for file, state, serial in rows:
            return KeptState(file, state, tuple(self.lines(name, serial, None)))
        raise JournalError(unusable_words(self.path, f"it has no state of {name}"))

    def nights(self, name: str) -> list[NightStart]:
        """Give a room's nights, oldest first."""
        rows = self._rows(
            [_NIGHT],
            "SELECT n.serial, n.begins, c.file, c.roomcue, c.state_version, c.file_version,"
            " n.state, c.id"
            " FROM nights n JOIN chapters c ON c.id = n.chapter JOIN rooms r ON r.id = n.room"
            " WHERE r.name = ? ORDER BY n.serial",
            name,
        )
        return [NightStart(row[0], row[1], Chapter(*row[2:6]), row[6], row[7]) for row in rows]

    def lines(self, name: str, first: int, last: int | None) -> Iterator[JournalLine]:
        """Give a room's lines after serial `first`, up to and including `last` (None: the end).

        Packs are unpacked one by one, so a season needs no more memory than an evening does.
        """
        for (room,) in rows_of(self._base, self.path, "SELECT id FROM rooms WHERE name = ?", name):
            begin = line_number(room, first)
            end = line_number(room + 1, 0) if last is None else line_number(room, last)
            if self._version >= _PACKS_SINCE:
                yield from self._unpacked(begin, end)
            else:
                by_id = self._version >= _SINGLE_ID_SINCE
                question = _LINES_BY_ID if by_id else _LINES_BY_ROOM_AND_SERIAL
                yield from (JournalLine(*row) for row in self._rows([_LINE], question, begin, end))

    def _unpacked(self, begin: int, end: int) -> Iterator[JournalLine]:
        """Give the lines after id `begin`, up to and including `end`, packed or not."""
        kinds = [_PACK, (int, NoneType, *_LINE)]
        while rows := self._rows(kinds, _PACKS_AND_LINES, begin, end, ROWS_AT_ONCE):
            for number, pack, now, *said in rows:
                if pack is None:
                    yield JournalLine(now, *said)
                    begin = number
                    continue
                try:
                    packed = unpack_lines(pack)
                except PackError as error:
                    raise JournalError(unusable_words(self.path, error)) from error
                yield from packed[max(0, begin + 1 - number) : end + 1 - number]
                begin = now  # of a pack this is the id of its last line

    def _rows(
        self, kinds: list[tuple[Any, ...]], question: str, *about: object
    ) -> list[tuple[Any, ...]]:
        """Read rows, each of one of some kinds: a damaged page may give rows of none."""
        rows = rows_of(self._base, self.path, question, *about)
        for row in rows:
            if not any(all(map(isinstance, row, kind)) for kind in kinds):
                raise JournalError(unusable_words(self.path, "a row of it is damaged"))
        return rows

    def close(self) -> None:
        """Close it."""
        self._base.close()
