"""Pack many lines of a journal into few bytes, and unpack them again byte for byte.

Nearly all lines are readings, which differ only in their time and in a few whole numbers. So the
texts without these numbers, the *shapes*, are stored once each, and the numbers column by column.
Columns of small numbers compress far better than lines of JSON do.
"""

from __future__ import annotations

import re
import struct
import zlib
from collections import Counter, defaultdict
from collections.abc import Sequence
from typing import Final

from adapters.live.journal_rows import JournalLine

_NUMBER: Final = re.compile(rb"(?<=:)(?:0|[1-9][0-9]{0,15})(?=[,}])")
"""A whole number as JSON writes it: written again it has the same digits."""
# JSON text contains none of these three bytes.
_NUMBER_PLACE: Final = b"\0"
_EVENT_END: Final = b"\1"
_SHAPE_END: Final = b"\2"
_HEAD: Final = struct.Struct("<II")
"""How many lines there are, and how many bytes the shapes take."""
_SMALL: Final = range(1 << 16)
_CODES: Final = {b"H": 2, b"q": 8}
"""How a column's numbers are written, as `struct` names it, and the bytes of each."""


class PackError(ValueError):
    """What should be a pack of lines is none."""


def pack_lines(lines: Sequence[JournalLine], count: int | None = None) -> bytes:
    """Pack lines, in their order. What they contain is JSON.

    Raises `PackError` for lines that no journal writes, or where they are not so many as `count`.
    """
    if count not in (None, len(lines)):
        raise PackError(f"of {count} lines it has {len(lines)}")
    try:
        return _packed(lines)
    except (TypeError, struct.error) as error:
        raise PackError(f"a line of it is none: {error}") from error


def _packed(lines: Sequence[JournalLine]) -> bytes:
    shapes: dict[bytes, int] = {}
    which: list[int] = []
    waits: list[int] = []
    columns: defaultdict[tuple[int, int], list[int]] = defaultdict(list)
    before = 0
    for now, event, decision in lines:
        text = (event or b"") + _EVENT_END + (decision or b"")
        shape = shapes.setdefault(_NUMBER.sub(_NUMBER_PLACE, text), len(shapes))
        which.append(shape)
        waits.append(now - before)
        before = now
        for place, number in enumerate(_NUMBER.findall(text)):
            columns[shape, place].append(int(number))
    texts = _SHAPE_END.join(shapes)
    ordered = (which, waits[:1], waits[1:], *(columns[key] for key in sorted(columns)))
    return zlib.compress(
        _HEAD.pack(len(lines), len(texts)) + texts + b"".join(map(_column, ordered))
    )


def _column(numbers: Sequence[int]) -> bytes:
    """Write a column: small numbers in two bytes each, others in eight."""
    code = "H" if all(number in _SMALL for number in numbers) else "q"
    return code.encode() + struct.pack(f"<{len(numbers)}{code}", *numbers)


def unpack_lines(data: bytes) -> list[JournalLine]:
    """Give the lines of a pack; raises `PackError`."""
    try:
        return _unpacked(zlib.decompress(data))
    except (zlib.error, struct.error, LookupError, StopIteration) as error:
        raise PackError(f"these are no packed lines: {error}") from error


def _unpacked(data: bytes) -> list[JournalLine]:
    count, size = _HEAD.unpack_from(data)
    begin = _HEAD.size + size
    shapes = data[_HEAD.size : begin].split(_SHAPE_END)
    which, begin = _read_column(data, begin, count)
    first, begin = _read_column(data, begin, min(count, 1))
    later, begin = _read_column(data, begin, max(count - 1, 0))
    times = Counter(which)
    texts = []
    for number, shape in enumerate(shapes):
        columns = []
        for _ in range(shape.count(_NUMBER_PLACE)):
            column, begin = _read_column(data, begin, times[number])
            columns.append(column)
        rows = zip(*columns, strict=True) if columns else [()] * times[number]
        format_ = shape.replace(b"%", b"%%").replace(_NUMBER_PLACE, b"%d")
        texts.append(iter([format_ % row for row in rows]))
    lines, now = [], 0
    for number, wait in zip(which, (*first, *later), strict=True):
        now += wait
        event, _, decision = next(texts[number]).partition(_EVENT_END)
        lines.append(JournalLine(now, event or None, decision or None))
    return lines


def _read_column(data: bytes, begin: int, count: int) -> tuple[tuple[int, ...], int]:
    """Read a column of so many numbers; give it, and where the next one begins."""
    code = data[begin : begin + 1]
    end = begin + 1 + count * _CODES[code]
    return struct.unpack(f"<{count}{code.decode()}", data[begin + 1 : end]), end
