"""Files as the commands read them: plain or gzip, bounded, with errors that a person can use."""

from __future__ import annotations

import gzip
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, Final, cast

LONGEST_LINE: Final = 1 << 20
LARGEST_ROOM: Final = 256 * 1024


class UnusableError(ValueError):
    """Input that cannot be used at all; the command ends with status 2."""


@contextmanager
def opened(path: Path) -> Iterator[BinaryIO]:
    """Open a file for reading bytes, unpacking gzip by its first bytes and not by its name."""
    try:
        with path.open("rb") as file:
            packed = file.read(2) == b"\x1f\x8b"
            file.seek(0)
            yield cast("BinaryIO", gzip.GzipFile(fileobj=file)) if packed else file
    except FileNotFoundError as error:
        raise UnusableError(f"{path}: there is no such file") from error
    except IsADirectoryError as error:
        raise UnusableError(f"{path}: this is a folder; name a file in it") from error
    except (OSError, EOFError, zlib.error) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise UnusableError(f"{path}: cannot be read: {reason}") from error


def lines_of(file: BinaryIO) -> Iterator[bytes]:
    """Give a file's lines; one that is too long is cut, so that it fails by itself."""
    while line := file.readline(LONGEST_LINE):
        if len(line) == LONGEST_LINE and not line.endswith(b"\n"):
            while (rest := file.readline(LONGEST_LINE)) and not rest.endswith(b"\n"):
                pass
        yield line


def text_of(path: Path) -> str:
    """Read a room file's text."""
    with opened(path) as file:
        data = file.read(LARGEST_ROOM + 1)
    if len(data) > LARGEST_ROOM:
        raise UnusableError(f"{path}: larger than {LARGEST_ROOM // 1024} KiB: this is no room file")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise UnusableError(f"{path}:{line}: not UTF-8: save the file as UTF-8") from error


def written(path: Path, lines: Iterable[bytes]) -> None:
    """Write lines to a new file, whole or not at all."""
    part = path.with_name(path.name + ".part")
    try:
        with part.open("wb") as file:
            for line in lines:
                file.write(line + b"\n")
        part.replace(path)
    except OSError as error:
        raise UnusableError(f"{path}: cannot be written: {error.strerror or error}") from error
    finally:
        part.unlink(missing_ok=True)
