"""Read and write files for commands: plain or gzip, whole or not at all.

Errors of the file system become sentences that name the file.
"""

from __future__ import annotations

import gzip
import io
import zlib
from codecs import BOM_UTF8
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO, Final, cast

from adapters.cli.file_kinds import BEGINNING, FileKind, refuse_other_kind
from engine.errors import UnusableError
from engine.malformed import LONGEST_LINE
from rules.text.yaml_nodes import MOST_FILE_BYTES, decode_file

STDIN: Final = "-"
GZIP: Final = b"\x1f\x8b"


@contextmanager
def open_input(path: Path) -> Iterator[BinaryIO]:
    """Open a file for reading bytes; unpack it if it is gzip. "-" is standard input."""
    try:
        raw = io.FileIO(0, closefd=False) if str(path) == STDIN else io.FileIO(path)
    except FileNotFoundError as error:
        raise UnusableError(f"{path}: there is no such file") from error
    except IsADirectoryError as error:
        raise UnusableError(f"{path}: this is a folder; name a file in it") from error
    except OSError as error:
        raise UnusableError(f"{path}: cannot be opened: {error.strerror}") from error
    with io.BufferedReader(raw) as file:
        packed = file.peek(2)[:2] == GZIP
        yield cast("BinaryIO", gzip.GzipFile(fileobj=file)) if packed else file


def lines_of(file: BinaryIO, name: object) -> Iterator[bytes]:
    """Give a file's lines, each up to one byte over 1 MiB: that byte shows that it was cut off.

    The mark with which some editors begin a text in UTF-8 is left out.
    """
    mark = BOM_UTF8
    try:
        while line := file.readline(LONGEST_LINE + 1).removeprefix(mark):
            mark = b""
            if len(line) > LONGEST_LINE and not line.endswith(b"\n"):
                while (rest := file.readline(LONGEST_LINE)) and not rest.endswith(b"\n"):
                    pass
            yield line
    except (OSError, EOFError, zlib.error) as error:
        raise UnusableError(f"{name}: cannot be read further: {_reason(error)}") from error


def _reason(error: BaseException) -> str:
    if isinstance(error, EOFError):
        return "it was cut off; copy it anew"
    return getattr(error, "strerror", None) or str(error)


def require_kind(path: Path | None, wanted: FileKind) -> None:
    """Raise `UnusableError` for a file that is another one of ours; one that is not there is none.

    Whoever opens it says what else is wrong with it.
    """
    if path is None or not path.is_file():
        return
    data = b""
    with suppress(UnusableError, OSError, EOFError, zlib.error), open_input(path) as file:
        data = file.read(BEGINNING)
    refuse_other_kind(data, path, wanted)


def text_of(path: Path) -> str:
    """Read the text of a room file; raises `UnusableError`, or `BadRoom` if it is not UTF-8."""
    try:
        with open_input(path) as file:
            data = file.read(len(BOM_UTF8) + MOST_FILE_BYTES + 1)
    except (OSError, EOFError, zlib.error) as error:
        raise UnusableError(f"{path}: cannot be read: {_reason(error)}") from error
    refuse_other_kind(data, path, "a room file")
    return decode_file(data.removeprefix(BOM_UTF8), str(path))


def make_folder(folder: Path) -> None:
    """Make a folder and its parents where they are missing; raises `UnusableError`."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UnusableError(
            f"{folder}: no folder can be made here: {error.strerror}; name another"
        ) from error


def write_lines(path: Path, lines: Iterable[bytes], *, replace: bool) -> None:
    """Write lines to a file, whole or not at all; pack it if its name ends in .gz."""
    packed = path.suffix == ".gz"
    with (
        _replacing(path, replace=replace) as part,
        gzip.open(part, "wb") if packed else part.open("wb") as file,
    ):
        for line in lines:
            file.write(line + b"\n")


def write_file(path: Path, data: bytes, *, replace: bool) -> None:
    """Write bytes to a file as they are, whole or not at all."""
    with _replacing(path, replace=replace) as part:
        part.write_bytes(data)


def write_text(path: Path, text: str, *, replace: bool) -> None:
    """Write text as UTF-8, whole or not at all; what a file's name has beside it is spelled out."""
    write_file(path, text.encode(errors="backslashreplace"), replace=replace)


@contextmanager
def _replacing(path: Path, *, replace: bool) -> Iterator[Path]:
    """Give a temporary file beside `path`, and move it there once it is complete.

    Only a plain file is ever replaced: a link, a pipe or a device would be gone for good.
    """
    if path == Path("-"):
        raise UnusableError("-: this is written to a file; name one")
    if path.is_symlink():
        raise UnusableError(f"{path}: is a link; name the file that it leads to, or remove it")
    if path.exists() and not path.is_file():
        raise UnusableError(f"{path}: is no plain file; name another")
    if path.exists() and not replace:
        raise UnusableError(f"{path}: is there already; --force writes over it")
    if not path.parent.exists():
        no_folder = f"there is no folder {path.parent}; make it first"
        raise UnusableError(f"{path}: cannot be written: {no_folder}")
    part = path.with_name(path.name + ".part")
    try:
        yield part
        part.replace(path)
    except OSError as error:
        raise UnusableError(f"{path}: cannot be written: {_reason(error)}") from error
    finally:
        part.unlink(missing_ok=True)
