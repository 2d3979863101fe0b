"""What lies beside a journal: the files that belong to it, and what is set aside under a name.

SQLite goes by name: it plays a `-wal` file into whatever lies beside it, or removes it where that
is empty. So a log whose journal has gone is set aside, and a journal whose place somebody else's
file has taken is kept under another name. Nothing that was set aside is ever written over.
"""

from __future__ import annotations

import os
import sqlite3
from contextlib import suppress
from pathlib import Path
from typing import NamedTuple

from adapters.live.journal_file import copy_journal


class Parting(NamedTuple):
    """What became of a journal as it was closed, where it does not lie whole at its path."""

    words: str
    """A sentence for whoever runs the rooms."""
    lost: bool
    """Whether it lies whole nowhere."""


def remove_whole(path: Path) -> None:
    """Remove a file of SQLite's and what it has beside it; raises OSError."""
    path.unlink(missing_ok=True)
    remove_beside(path)


def remove_beside(path: Path) -> None:
    """Remove what SQLite has beside a file; raises OSError."""
    for suffix in ("-wal", "-shm", "-journal"):
        path.with_name(path.name + suffix).unlink(missing_ok=True)


def log_set_aside(path: Path) -> Path | None:
    """Give the log beside a path a name of its own; None: there is none. Raises OSError.

    What readers share of it (`-shm`) is removed: SQLite makes it anew from the log.
    """
    log = path.with_name(f"{path.name}-wal")
    try:
        if not log.stat().st_size:
            return None
    except FileNotFoundError:
        return None
    aside = _free_name(path, "left", "-wal")
    log.rename(aside)
    path.with_name(f"{path.name}-shm").unlink(missing_ok=True)
    return aside


def kept_copy(base: sqlite3.Connection, path: Path) -> Path:
    """Write all that a connection has of a journal to a file of its own beside a path.

    Raises what `copy_journal` raises, and OSError.
    """
    part = path.with_name(f"{path.name}.part")
    try:
        remove_whole(part)
        copy_journal(base, part)
        kept = _free_name(path, "kept")
        part.rename(kept)
    finally:
        with suppress(OSError):
            remove_whole(part)
    return kept


def _free_name(path: Path, word: str, suffix: str = "") -> Path:
    """Name a file beside a path that is not there yet."""
    number = 1
    while True:
        counted = "" if number == 1 else str(number)
        free = path.with_name(f"{path.name}.{word}{counted}{suffix}")
        if not os.path.lexists(free):
            return free
        number += 1
