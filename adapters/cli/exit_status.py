"""Exit statuses, and errors as sentences. 0: all is well; 1: problems found; 2: unusable input.

Every mistake of a user ends in one sentence, never in a traceback.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

import typer
from rich.console import Console
from rich.text import Text

from adapters.cli.console import console
from adapters.cli.files import text_of
from adapters.safe_text import escaped
from engine.errors import UnusableError
from engine.room import Room
from rules.room.load import read_room
from rules.text.findings import BadRoom, Finding

OK: Final = 0
PROBLEMS: Final = 1
UNUSABLE: Final = 2


@contextmanager
def errors_reported() -> Iterator[None]:
    """Print the errors that a user can mend, and end with status 2."""
    try:
        with lost_output_reported():
            yield
    except BadRoom as error:
        print_findings(error.findings)
        raise typer.Exit(UNUSABLE) from error
    except UnusableError as error:
        for mistake in error.mistakes:
            print_error(mistake)
        raise typer.Exit(UNUSABLE) from error


@contextmanager
def lost_output_reported() -> Iterator[None]:
    """Say that the output cannot be written, or which file cannot be used, and end with status 2.

    Where the reader of the output has gone (`| head`), end quietly with status 0.
    """
    try:
        yield
        sys.stdout.flush()
    except BrokenPipeError:
        _drop_output()
        sys.exit(OK)
    except OSError as error:
        _drop_output()
        what = "the output cannot be written" if error.filename is None else error.filename
        print_error(f"{what}: {error.strerror or error}")
        sys.exit(UNUSABLE)


def _drop_output() -> None:
    """Discard buffered output, so that flushing it at exit does not fail again."""
    if sys.stdout is sys.__stdout__ and sys.stdout is not None:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def print_error(words_: str) -> None:
    """Print an error on standard error, in red on a terminal."""
    console(stderr=True).print(Text(escaped(f"error: {words_}"), "red"), soft_wrap=True)


def read_room_file(path: Path) -> Room:
    """Load a room file and print its warnings; raises `BadRoom` or `UnusableError`."""
    found = read_room(text_of(path), str(path))
    if found.room is None:
        raise BadRoom(found.findings)
    print_findings(found.findings)
    return found.room


def print_findings(findings: Iterable[Finding], err: Console | None = None) -> None:
    """Print the findings of a room file on standard error, errors in red, warnings in yellow."""
    err = err or console(stderr=True)
    for finding in findings:
        err.print(Text(escaped(str(finding)), "red" if finding.fatal else "yellow"), soft_wrap=True)
