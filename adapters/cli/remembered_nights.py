"""Remember what finished nights add to the ledger of a lens: to replay a season takes hours.

A night is remembered by the States in which it began and ended, its room file and the code that
its ledger rests on; with any other of these it is replayed. Nothing here raises: without a folder
that can be written to there is no memory, and a line that is not ours counts as none.
"""

from __future__ import annotations

import hashlib
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

from pydantic import TypeAdapter, ValidationError

from adapters.cli.memory_folder import hash_of_source, memory_folder, write_whole
from adapters.live.journal_rows import NightStart
from simulator.wear.ledger import NightLedger

CODE: Final = ("engine", "rules", "simulator")
"""The packages whose source a night's ledger rests on."""


@dataclass(frozen=True, slots=True)
class _Line:
    """What one line of the file holds."""

    key: str
    night: NightLedger


class RememberedNights:
    """The finished nights of one room in one journal, in a file of their own."""

    def __init__(self, journal: Path, room: str) -> None:
        """Read what is remembered of them, if there is a place for it."""
        folder = memory_folder()
        whose = hashlib.sha256(f"{journal.resolve()}\n{room}".encode(errors="surrogateescape"))
        self._path = None if folder is None else folder / f"nights-{whose.hexdigest()[:32]}.jsonl"
        self._code = "" if folder is None else hash_of_source(CODE)
        self._known: dict[str, NightLedger] = {}
        self._used: dict[str, NightLedger] = {}
        if self._path is not None:
            with suppress(OSError):
                for line in self._path.read_bytes().splitlines():
                    self._read(line)

    def _read(self, line: bytes) -> None:
        with suppress(ValidationError):
            read = _lines().validate_json(line)
            self._known[read.key] = read.night

    def recall(self, night: NightStart, after: NightStart | None) -> NightLedger | None:
        """Give what a night adds to the ledger; None: it has to be replayed.

        `after` is the night that follows; without one, the night is not finished.
        """
        found = None
        if after is not None:
            key = self._key(night, after)
            found = self._known.get(key)
            if found is not None:
                self._used[key] = found
        return found

    def remember(self, night: NightStart, after: NightStart | None, ledger: NightLedger) -> None:
        """Remember a finished night at once, so that whoever is ended meanwhile goes on from it."""
        if self._path is None or after is None:
            return
        key = self._key(night, after)
        self._used[key] = ledger
        with suppress(OSError):
            self._path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            with self._path.open("ab") as file:
                file.write(_written(key, ledger))

    def forget_others(self) -> None:
        """Forget the nights that nobody has asked for: the journal has them no longer."""
        if self._path is not None and not self._known.keys() <= self._used.keys():
            with suppress(OSError):
                write_whole(self._path, b"".join(_written(*one) for one in self._used.items()))

    def _key(self, night: NightStart, after: NightStart) -> str:
        """Tell apart what must not be taken for the same night."""
        ends = ((one.serial, one.begins, one.state) for one in (night, after))
        parts = (self._code, night.chapter.file, *ends)
        return hashlib.sha256(repr(parts).encode()).hexdigest()


def _written(key: str, ledger: NightLedger) -> bytes:
    """Write a line; it begins with an end, because the line before it may have been cut off."""
    return b"\n" + _lines().dump_json(_Line(key, ledger)) + b"\n"


@cache
def _lines() -> TypeAdapter[_Line]:
    return TypeAdapter(_Line)
