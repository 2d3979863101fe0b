"""Table checks: gaps, overlaps and dead rows of large tables, in three families of fixed seed.

- partition: the whole space cut into boxes, so that there is neither gap nor overlap;
- less one: a partition of one row more, with that row taken out;
- random: every cell drawn on its own, an interval or some words; a share of them, 0, 1/10 or
  3/10, accept anything. Without those nothing is harder: most of the space stays uncovered, in
  hundreds of thousands of boxes.

Goals on a small machine: 300 rows x 5 inputs in 2 s, 1,500 x 7 in 10 s.

Run it as a script: python tests/benchmarks/bench_inspect.py
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from random import Random
from time import perf_counter
from typing import NamedTuple, TypeAlias

from engine.table import Column, Policy, Row, RuleTable, compile_table
from engine.value_set import ANYTHING, Kind, ValueSet, equal_to, interval, union
from rules.table.analysis import TableAnalysis, analyse_table

COLUMNS = (
    Column("source", Kind.NAME, ("disc", "streamer", "console"), unknown=True),
    Column("playback", Kind.NAME, ("playing", "paused", "stopped", "unknown")),
    Column("aspect", Kind.RATIO, unknown=True, least=10_000, most=40_000),
    Column("time", Kind.MINUTE, unknown=True, least=0, most=1_439),
    Column("helper", Kind.NAME, ("free", "asked", "refused")),
    Column("tallest", Kind.RATIO, unknown=True, least=10_000, most=40_000),
    Column("seats", Kind.NUMBER, least=0, most=12),
)
SIZES = ((300, 5, 2.0), (1_500, 7, 10.0))
"""Rows, inputs, and the goal in seconds."""

Side: TypeAlias = tuple[int, int]
"""A stretch of a column's values, counted from 0, its end left out."""


class Scale(NamedTuple):
    """The values of a column in a row: its words or numbers, then null."""

    column: Column

    @property
    def length(self) -> int:
        """How many values there are."""
        column = self.column
        numbers = 0
        if column.least is not None and column.most is not None:
            numbers = (column.most - column.least) // self.step + 1
        return len(column.words) + numbers + column.unknown

    @property
    def step(self) -> int:
        """What one number is from the next."""
        return 100 if self.column.kind is Kind.RATIO else 1

    def region(self, side: Side) -> ValueSet:
        """Accept a stretch of the values."""
        column, (first, after) = self.column, side
        parts = [equal_to(word) for word in column.words[first:after]]
        known = self.length - column.unknown
        if column.least is not None and first < known:
            low, high = (column.least + self.step * at for at in (first, min(after, known)))
            parts.append(interval(low, high, high_open=True))
        if column.unknown and after > known:
            parts.append(equal_to(None))
        return union(*parts)


def partition(rows: int, scales: list[Scale], rng: Random) -> list[tuple[ValueSet, ...]]:
    """Cut the space into boxes, each time one of them in two at any place of any column."""
    boxes: list[tuple[Side, ...]] = [tuple((0, scale.length) for scale in scales)]
    while len(boxes) < rows:
        number, at = rng.randrange(len(boxes)), rng.randrange(len(scales))
        box = boxes[number]
        first, after = box[at]
        if after - first > 1:
            cut = rng.randrange(first + 1, after)
            boxes[number] = (*box[:at], (first, cut), *box[at + 1 :])
            boxes.append((*box[:at], (cut, after), *box[at + 1 :]))
    rng.shuffle(boxes)
    return [tuple(map(Scale.region, scales, box)) for box in boxes]


def less_one(rows: int, scales: list[Scale], rng: Random) -> list[tuple[ValueSet, ...]]:
    """Leave one box of a partition out."""
    return partition(rows + 1, scales, rng)[1:]


def drawn(
    rows: int, scales: list[Scale], rng: Random, anything: float
) -> list[tuple[ValueSet, ...]]:
    """Draw every cell on its own."""

    def cell(scale: Scale) -> ValueSet:
        if rng.random() < anything:
            return ANYTHING
        if scale.column.words:
            some = rng.sample(range(scale.length), rng.randint(1, scale.length))
            return union(*(scale.region((at, at + 1)) for at in some))
        first, after = sorted(rng.sample(range(scale.length + 1), 2))
        return scale.region((first, after))

    return [tuple(map(cell, scales)) for _ in range(rows)]


Family: TypeAlias = Callable[[int, list[Scale], Random], list[tuple[ValueSet, ...]]]
FAMILIES: dict[str, Family] = {
    "partition": partition,
    "less one": less_one,
    "random 0": partial(drawn, anything=0.0),
    "random 1/10": partial(drawn, anything=0.1),
    "random 3/10": partial(drawn, anything=0.3),
}


def tables(rows: int, inputs: int) -> Iterator[tuple[str, RuleTable[int]]]:
    """Make one table of each family."""
    columns = COLUMNS[:inputs]
    for name, family in FAMILIES.items():
        boxes = family(rows, [*map(Scale, columns)], Random(f"{name} {rows} {inputs}"))
        made = (Row(box, number) for number, box in enumerate(boxes))
        yield name, compile_table(Policy.FIRST, columns, made)


def expected(name: str, found: TableAnalysis) -> bool:
    """Tell whether a family came out as it was made."""
    if name == "partition":
        return (found.gap_count, found.overlap_count, found.dead) == (0, 0, ())
    if name == "less one":
        return found.gap_count > 0 and (found.overlap_count, found.dead) == (0, ())
    return found.overlap_count > 0


def main() -> None:
    """Print one line a table."""
    print(
        f"{'rows x inputs':>13} {'family':<12} {'gaps':>8} {'overlaps':>9} {'dead':>5} "
        f"{'steps':>10} {'steps/s':>8} {'seconds':>8} {'of goal':>8}"
    )
    for rows, inputs, goal in SIZES:
        for name, table in tables(rows, inputs):
            start = perf_counter()
            found = analyse_table(table)
            seconds = perf_counter() - start
            if not found.proven or not expected(name, found):
                raise SystemExit(f"{name}, {rows} x {inputs}: not what was made")
            print(
                f"{rows:>5,} x {inputs:<5} {name:<12} {found.gap_count:>8,} "
                f"{found.overlap_count:>9,} {len(found.dead):>5,} {found.steps:>10,} "
                f"{found.steps / seconds:>8,.0f} {seconds:>8.2f} {seconds / goal:>8.2f}"
            )


if __name__ == "__main__":
    main()
