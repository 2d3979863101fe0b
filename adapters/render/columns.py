"""Lines and tables of plain text."""

from __future__ import annotations

from itertools import zip_longest
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Sequence

GAP: Final = "  "


class TextLine(NamedTuple):
    """A line of text, which may be a heading."""

    text: str
    heading: bool = False


def widths(rows: Sequence[Sequence[str]]) -> list[int]:
    """Give the width of each column: that of its longest cell."""
    return [max(map(len, column)) for column in zip_longest(*rows, fillvalue="")]


def in_columns(cells: Sequence[str], wide: Sequence[int]) -> str:
    """Set one row: the first column is aligned left, the others right."""
    first, *rest = zip(cells, wide, strict=False)
    parts = [first[0].ljust(first[1]), *(cell.rjust(width) for cell, width in rest)]
    return GAP.join(parts).rstrip()


def plural(count: int, name: str) -> str:
    """Say how many there are: 1 rule, 2 rules."""
    return f"{count:,} {name}" + ("" if count == 1 else "s")
