"""Read books of measurements and add to them, so that nothing that was written is ever lost.

A book is written anew as a whole beside the old one, synced, and put in its place: a full disk or a
power cut leaves the old book as it was.
"""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Final, NamedTuple

from adapters.cli.files import lines_of, open_input, require_kind
from engine.errors import UnusableError
from engine.room import Room
from simulator.wear.measurements import BadEntry, Measurement, line_of, objections, read_book

MOST_SAID: Final = 5
"""Of the lines that cannot be used, so many are told one by one."""


class WrittenBook(NamedTuple):
    """A book as it was read."""

    entries: list[Measurement]
    bad: list[BadEntry]
    """The lines that cannot be read. They stay where they are."""

    def notes(self, path: Path) -> Iterator[str]:
        """Say which lines were passed over."""
        for one in self.bad[:MOST_SAID]:
            yield f"{path}, line {one.line}: passed over: {one.reason}"
        if len(self.bad) > MOST_SAID:
            yield f"{path}: {len(self.bad) - MOST_SAID} more lines are passed over"


def book_at(named: Path | None, otherwise: Path) -> Path:
    """Say which book to read; raises `UnusableError` for one that is named and not there."""
    if named is not None and not named.exists():
        raise UnusableError(f"{named}: there is no such book of measurements")
    return named or otherwise


def read_measurements(path: Path) -> WrittenBook:
    """Read a book; one that is not there is empty. Raises `UnusableError`."""
    if not path.exists():
        return WrittenBook([], [])
    if not path.is_file():
        raise UnusableError(f"{path}: is no plain file, and a book of measurements is one")
    require_kind(path, "a book of measurements")
    with open_input(path) as file:
        return WrittenBook(*read_book(lines_of(file, path)))


def append_measurement(room: Room, path: Path, entry: Measurement) -> Measurement:
    """Add a line to a book; raises `UnusableError` if the line contradicts the book.

    Gives the line with its number, the next one. A lock keeps two writers apart.
    """
    before = read_measurements(path)
    if before.bad and not before.entries:
        raise UnusableError(
            f"{path}: no line of this file is a measurement, so nothing is added to it: name "
            "another book, or move it away"
        )
    against = objections(room, before.entries, entry)
    if against:  # before the file is made
        raise UnusableError("; ".join(against))
    real = path.resolve()
    if not real.parent.is_dir():
        raise UnusableError(f"{path}: there is no folder {real.parent}")
    try:
        with _locked(real) as old:
            book = read_measurements(real)
            highest = max((one.id for one in book.entries), default=0)
            entry = replace(entry, id=max(highest, len(book.bad) + len(book.entries)) + 1)
            against = objections(room, book.entries, entry)
            if against:
                raise UnusableError("; ".join(against))
            data = os.pread(old, os.fstat(old).st_size, 0)
            glue = b"" if not data or data.endswith(b"\n") else b"\n"
            _put(real, data + glue + line_of(entry) + b"\n", os.fstat(old).st_mode & 0o777)
    except OSError as error:
        raise UnusableError(
            f"{path}: cannot be written: {error.strerror}; the book is as it was"
        ) from error
    return entry


@contextmanager
def _locked(path: Path) -> Iterator[int]:
    """Give the descriptor of the book that is in place now, which nobody else writes meanwhile."""
    while True:
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX)
            if os.path.samestat(os.fstat(handle), path.stat()):
                yield handle
                return
        finally:
            os.close(handle)


def _put(path: Path, data: bytes, mode: int) -> None:
    """Put a book in the place of another, synced; raises OSError, and then the other stays."""
    part = path.with_name(path.name + ".part")
    try:
        handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, mode)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
    except OSError:
        part.unlink(missing_ok=True)
        raise
    part.replace(path)  # from here on the next writer may be at work, with a part of its own
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
