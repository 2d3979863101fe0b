"""A column of each kind, and what a cell accepts there."""

from __future__ import annotations

from engine.table import Column
from engine.value_set import Kind, Value, interval
from rules.text.cell_mistakes import UNTYPED_COLUMN
from rules.text.unary import NO_SHAPES, parse_test

RATIO = Column("aspect", Kind.RATIO, least=10_000, most=40_000)
SOURCE = Column("source", Kind.NAME, ("disc", "streamer", "blu-grey", "very low", "2x"))
VARIES = Column("varies", Kind.TRUTH)
TIME = Column("time", Kind.MINUTE, least=0, most=1_439)
LIFT = Column("lift", Kind.SHARE, least=0, most=5_000)
COUNT = Column("count", Kind.NUMBER)
SHAPES = {
    "scope": interval(23_000, None),
    "nearly": interval(21_000, 23_000, high_open=True),
}


def accepts(text: str, *values: Value | float, column: Column = UNTYPED_COLUMN) -> list[bool]:
    test = parse_test(text, column, SHAPES if column is RATIO else NO_SHAPES)
    return [test.matches(value) for value in values]
