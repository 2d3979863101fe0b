"""Small random tables, and every combination of their facts walked through."""

from __future__ import annotations

from itertools import product
from typing import NamedTuple

from hypothesis import strategies as st

from engine.table import Column, How, Policy, Row, RuleTable, choose, compile_table
from engine.value_set import (
    ANYTHING,
    NOTHING,
    NULL,
    Kind,
    Value,
    ValueSet,
    difference,
    equal_to,
    interval,
    union,
)
from rules.table.analysis import TableAnalysis
from rules.table.boxes import Box

COLUMNS = (
    Column("source", Kind.NAME, ("disc", "games"), unknown=True),
    Column("playback", Kind.NAME, ("playing", "paused", "unknown")),
    Column("varies", Kind.TRUTH),
    Column("three_d", Kind.TRUTH, unknown=True),
    Column("aspect", Kind.RATIO, unknown=True, least=22_000, most=22_500),
    Column("seats", Kind.NUMBER, least=-1, most=3),
    Column("time", Kind.MINUTE, unknown=True, least=0, most=3),
    Column("lift", Kind.SHARE, least=0, most=4),
)
STEPS = {"aspect": 100}


def values(column: Column) -> list[Value]:
    """List what a column may hold, from what it says of itself."""
    found: list[Value] = [*column.words]
    if column.kind is Kind.TRUTH:
        found += [True, False]
    if column.least is not None and column.most is not None:
        found += range(column.least, column.most + 1, STEPS.get(column.name, 1))
    return [*found, None] if column.unknown else found


def cells(column: Column) -> st.SearchStrategy[ValueSet]:
    """Cells of a column, ends between its steps and beyond its ends among them."""
    one = [*map(equal_to, values(column)), NULL, ANYTHING]
    if column.least is not None and column.most is not None:
        half = STEPS.get(column.name, 2) // 2
        ends = st.sampled_from(range(column.least - half, column.most + 2 * half, half))
        spans = st.builds(
            lambda low, high, low_open, high_open: interval(
                low, high, low_open=low_open, high_open=high_open
            ),
            st.none() | ends,
            st.none() | ends,
            st.booleans(),
            st.booleans(),
        )
    else:
        spans = st.sampled_from([NOTHING, ValueSet(other_strings=True)])
    several = st.lists(st.sampled_from(one) | spans, max_size=3).map(lambda some: union(*some))
    return st.one_of(
        st.just(ANYTHING), several, several.map(lambda some: difference(ANYTHING, some))
    )


@st.composite
def tables(draw: st.DrawFn, policies: tuple[Policy, ...] = tuple(Policy)) -> RuleTable[str]:
    columns = draw(st.lists(st.sampled_from(COLUMNS), max_size=4, unique=True))
    rows = draw(
        st.lists(
            st.builds(
                Row[str],
                st.tuples(*map(cells, columns)),
                st.sampled_from(["plain", "gentle"]),
                st.integers(0, 1),
            ),
            max_size=6,
        )
    )
    default = draw(st.sampled_from([None, "otherwise"]))
    return compile_table(draw(st.sampled_from(policies)), columns, rows, default)


@st.composite
def grids(draw: st.DrawFn) -> RuleTable[str]:
    """Blocks in a small cube: they touch, cover each other and leave corners open."""
    columns = [Column(name, Kind.NUMBER, least=0, most=3) for name in ("wide", "high", "deep")]
    sides = st.tuples(st.integers(0, 3), st.integers(0, 3)).map(
        lambda ends: interval(*sorted(ends))
    )
    outputs = st.sampled_from(["plain", "gentle"])
    rows = draw(st.lists(st.builds(Row[str], st.tuples(sides, sides, sides), outputs), max_size=6))
    return compile_table(draw(st.sampled_from(Policy)), columns, rows, "otherwise")


TABLES = tables() | grids()


class Point(NamedTuple):
    """One combination of values, the rows that match there, and what is chosen."""

    values: tuple[Value, ...]
    rows: frozenset[int]
    row: int | None
    how: How


def walked(table: RuleTable[str]) -> list[Point]:
    """Walk through every combination of what the columns may hold."""
    points = []
    for some in product(*map(values, table.columns)):
        rows = frozenset(
            number
            for number, row in enumerate(table.rows)
            if all(cell.accepts(value) for cell, value in zip(row.cells, some, strict=True))
        )
        names = (column.name for column in table.columns)
        choice = choose(table, dict(zip(names, some, strict=True)))
        points.append(Point(some, rows, choice.row, choice.how))
    return points


def held(box: Box, point: Point) -> bool:
    return all(region.accepts(value) for region, value in zip(box, point.values, strict=True))


def boxes_of(found: TableAnalysis) -> list[Box]:
    return [*found.gaps, *(overlap.box for overlap in found.overlaps)]
