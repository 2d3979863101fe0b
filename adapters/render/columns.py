"""Lines and tables of plain text."""

from __future__ import annotations

from itertools import zip_longest
from textwrap import wrap
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

GAP: Final = "  "
NARROW: Final = " "
"""What lies between columns where the table is too wide otherwise."""


class TextLine(NamedTuple):
    """A line of text, which may be a heading."""

    text: str
    heading: bool = False
    hanging: int = 0
    """By how much its further lines are indented where it is broken."""


class ColumnRow(NamedTuple):
    """A row of a table, with the widths of the table's columns."""

    cells: Sequence[str]
    wide: Sequence[int]
    head: Sequence[str] | None = None
    """The names of the columns; None: this row holds them."""


def table(rows: Sequence[Sequence[str]]) -> Iterator[ColumnRow]:
    """Make a table of a row of names and rows of cells."""
    head, wide = rows[0], widths(rows)
    yield ColumnRow(head, wide)
    yield from (ColumnRow(row, wide, head) for row in rows[1:])


def laid_out(lines: Iterable[TextLine | ColumnRow], width: int) -> Iterator[TextLine]:
    """Break lines that are longer than a width.

    A table that is wider has its columns closer together; where that does not do, each of its rows
    is told as a sentence, with the names of its columns.
    """
    for line in lines:
        for part in _unfolded(line, width) if isinstance(line, ColumnRow) else [line]:
            broken = wrap(part.text, width, subsequent_indent=" " * part.hanging)
            yield from (part._replace(text=text) for text in broken or [""])


def _unfolded(row: ColumnRow, width: int) -> Iterator[TextLine]:
    """Set a row, or tell it as a sentence where the table is too wide."""
    spare, gaps = width - sum(row.wide), len(row.wide) - 1
    gap = next((gap for gap in (GAP, NARROW) if len(gap) * gaps <= spare), None)
    if gap is not None:
        yield TextLine(in_columns(row.cells, row.wide, gap), heading=row.head is None)
    elif row.head is None:
        yield from [TextLine(row.cells[0], heading=True)] if row.cells[0] else []
    else:
        told = zip(row.head[1:], row.cells[1:], strict=False)
        cells = "; ".join(f"{name} {cell}" for name, cell in told if cell)
        yield TextLine(f"{row.cells[0]}: {cells}" if row.cells[0] else cells, hanging=len(GAP))


def widths(rows: Sequence[Sequence[str]]) -> list[int]:
    """Give the width of each column: that of its longest cell."""
    return [max(map(len, column)) for column in zip_longest(*rows, fillvalue="")]


def in_columns(cells: Sequence[str], wide: Sequence[int], gap: str) -> str:
    """Set one row: the first column is aligned left, the others right."""
    first, *rest = zip(cells, wide, strict=False)
    parts = [first[0].ljust(first[1]), *(cell.rjust(width) for cell, width in rest)]
    return gap.join(parts).rstrip()


def plural(count: int, name: str) -> str:
    """Say how many there are: 1 rule, 2 rules."""
    return f"{count:,} {name}" + ("" if count == 1 else "s")
