"""Find the overlaps, gaps and dead rows of a rule table.

The results are exact: they hold for every combination of values, and nothing is sampled. Facts are
taken as independent of each other, so an overlap or a gap may lie at a combination of facts that
never occurs. `table_findings` turns the results into sentences about a room file.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice
from math import prod
from typing import Any, Final, NamedTuple

from engine.table import Policy, RuleTable
from engine.value_set import NOTHING, ValueSet
from rules.table.boxes import (
    Bits,
    Box,
    BudgetSpent,
    Space,
    Splitter,
    joined_boxes,
    set_bits,
    space_of,
)
from rules.table.domains import Domain, domain_of, weight, within_domain

DEFAULT_BUDGET: Final = 2_000_000
"""Steps (boxes looked at) for finding the gaps, and again for finding all dead rows."""
MOST_LISTED: Final = 100
"""How many overlaps and how many gaps are listed; further ones are only counted."""
MOST_BOXES_JOINED: Final = 10_000
"""How many gaps are joined with their neighbours; further ones are only counted."""
MOST_ROWS_THINNED: Final = 12
"""If no more rows than this cover a dead row, those that are not needed for it are left out."""

Table = RuleTable[Any]


class Overlap(NamedTuple):
    """Two rows that both match somewhere."""

    rows: tuple[int, int]
    """Their indices, the one that stands first before the other."""
    box: Box
    """Where they both match."""
    alike: bool
    """Whether both have the same output."""


class DeadRow(NamedTuple):
    """A row that is never chosen."""

    row: int
    by: tuple[int, ...]
    """Rows that together cover it; empty if the row itself accepts no possible value."""


class TableAnalysis(NamedTuple):
    """What was found in a table; rows and columns are indices from 0."""

    overlaps: tuple[Overlap, ...]
    """Overlaps of rows with different outputs first, then in the order of the rows."""
    overlap_count: int
    differing_count: int
    """How many of the overlaps are between rows with different outputs."""
    gaps: tuple[Box, ...]
    """Where no row matches: disjoint boxes, the largest first."""
    gap_count: int
    """How many gaps there are, listed or not; there may be more if `gaps_proven` is false."""
    gaps_proven: bool
    """Whether all gaps were found within the budget."""
    dead: tuple[DeadRow, ...]
    unproven_rows: tuple[int, ...]
    """Rows for which the budget was spent before it was known whether they can win."""
    empty: tuple[tuple[int, int], ...]
    """Row and column of each cell that accepts none of the column's possible values."""
    default_unused: bool
    """Whether the table has a default that can never be used."""
    steps: int
    """Steps that were taken, all together."""

    @property
    def proven(self) -> bool:
        """Whether the budget was enough to find everything."""
        return self.gaps_proven and not self.unproven_rows


def analyse_table(
    table: Table,
    domains: Sequence[Domain] | None = None,
    budget: int = DEFAULT_BUDGET,
    listed: int = MOST_LISTED,
) -> TableAnalysis:
    """Analyse a table.

    `domains` give the possible values of each column; by default they follow from the columns.
    `budget` is the number of steps, `listed` how many overlaps and how many gaps to list.
    """
    if domains is None:
        domains = [domain_of(column) for column in table.columns]
    rows = [
        tuple(within_domain(cell, domain) for cell, domain in zip(row.cells, domains, strict=True))
        for row in table.rows
    ]
    space = space_of(rows, domains)
    splitter = Splitter(space, budget)
    pairs = _OverlappingPairs(table, space, splitter)
    gaps, count, proven = _gaps(space, splitter, domains, listed)
    gap_steps = budget - splitter.budget
    splitter.budget = budget
    dead, open_rows = _dead_rows(table, space, splitter)
    return TableAnalysis(
        overlaps=pairs.listed(listed),
        overlap_count=pairs.count,
        differing_count=pairs.differing,
        gaps=gaps,
        gap_count=count,
        gaps_proven=proven,
        dead=dead,
        unproven_rows=open_rows,
        empty=_empty_cells(rows),
        default_unused=(
            table.default is not None and proven and not count and not pairs.violations
        ),
        steps=gap_steps + budget - splitter.budget,
    )


def _empty_cells(rows: Sequence[Sequence[ValueSet]]) -> tuple[tuple[int, int], ...]:
    """List the cells that accept nothing of their column's domain: row and column."""
    return tuple(
        (number, at)
        for number, row in enumerate(rows)
        for at, cell in enumerate(row)
        if cell == NOTHING
    )


class _OverlappingPairs:
    """All pairs of rows that overlap, counted, and listed on demand."""

    def __init__(self, table: Table, space: Space, splitter: Splitter) -> None:
        self._space = space
        every = (1 << len(space.boxes)) - 1
        alike = _rows_with_same_output(table, space)
        earlier = 0
        self._met: list[tuple[int, int, int]] = []
        """For each row, two sets of the earlier rows that it overlaps, as bits: those with
        another output, and those with the same one."""
        for row, bit in enumerate(space.bits):
            met = splitter.meeting(_box(space, row)) & earlier & every
            earlier |= bit
            self._met.append((row, met & ~alike[row], met & alike[row]))
        self.differing = sum(different.bit_count() for _, different, _ in self._met)
        self.count = self.differing + sum(like.bit_count() for _, _, like in self._met)
        kinds = {Policy.UNIQUE: self.count, Policy.ANY: self.differing}
        self.violations = kinds.get(table.policy, 0)

    def listed(self, most: int) -> tuple[Overlap, ...]:
        """List the first pairs, at most `most`."""
        found: list[Overlap] = []
        for alike in (False, True):
            pairs = (
                (other, row)
                for row, different, like in self._met
                for other in self._space.rows(like if alike else different)
            )
            for one, other in islice(pairs, most - len(found)):
                found.append(self._overlap(one, other, alike=alike))
        return tuple(found)

    def _overlap(self, one: int, other: int, *, alike: bool) -> Overlap:
        shared = zip(_box(self._space, one), _box(self._space, other), strict=True)
        box = self._space.regions(tuple(first & second for first, second in shared))
        return Overlap((one, other), box, alike)


def _gaps(
    space: Space, splitter: Splitter, domains: Sequence[Domain], listed: int
) -> tuple[tuple[Box, ...], int, bool]:
    """Give the largest boxes that no row covers, the number of all, and whether it is proven."""
    if not all(space.whole):
        return (), 0, True
    first: list[Bits] = []
    more, proven = 0, True
    try:
        for box in splitter.uncovered(space.whole, (1 << len(space.boxes)) - 1):
            if len(first) < MOST_BOXES_JOINED:
                first.append(box)
            else:
                more += 1
    except BudgetSpent:
        proven = False
    boxes = joined_boxes(first)
    sizes = {box: _size(space, box, domains) for box in boxes}
    largest = sorted(boxes, key=lambda box: (-sizes[box], box))[:listed]
    return tuple(map(space.regions, largest)), len(boxes) + more, proven


def _dead_rows(
    table: Table, space: Space, splitter: Splitter
) -> tuple[tuple[DeadRow, ...], tuple[int, ...]]:
    """Find the rows that are never chosen, and those for which the budget did not suffice."""
    dead, unproven = [], []
    for row, rivals in enumerate(rivals_of(table, space)):
        box = _box(space, row)
        if not all(box):
            dead.append(DeadRow(row, ()))
            continue
        try:
            covering = _covering_rows(splitter, box, rivals)
        except BudgetSpent:
            unproven.append(row)
        else:
            if covering is not None:
                dead.append(DeadRow(row, space.rows(covering)))
    return tuple(dead), tuple(unproven)


def _covering_rows(splitter: Splitter, box: Bits, rows: int) -> int | None:
    """Give rows (as bits) that together cover a box; None if they do not cover it.

    Up to `MOST_ROWS_THINNED` rows, those that are not needed are left out. Raises BudgetSpent.
    """
    splitter.used = 0
    if next(splitter.uncovered(box, rows), None) is not None:
        return None
    needed = splitter.used
    if needed.bit_count() > MOST_ROWS_THINNED:
        return needed
    for place in sorted(set_bits(needed), reverse=True):
        fewer = needed & ~(1 << place)
        if next(splitter.uncovered(box, fewer), None) is None:
            needed = fewer
    return needed


def rivals_of(table: Table, space: Space) -> Iterator[int]:
    """Give for each row the rows (as bits) that keep it from being chosen where they match."""
    every = sum(space.bits)
    alike = _rows_with_same_output(table, space)
    before, winning = [0] * len(table.rows), 0
    for row in reversed(table.order):
        before[row] = winning
        winning |= space.bits[row]
    for row, bit in enumerate(space.bits):
        match table.policy:
            case Policy.UNIQUE:
                yield every & ~bit
            case Policy.ANY:
                yield before[row] | every & ~alike[row]
            case _:
                yield before[row]


def clashes_of(table: Table, space: Space) -> Iterator[int]:
    """Give for each row the rows (as bits) that the policy forbids to match together with it."""
    every = sum(space.bits)
    alike = _rows_with_same_output(table, space)
    for row, bit in enumerate(space.bits):
        match table.policy:
            case Policy.UNIQUE:
                yield every & ~bit
            case Policy.ANY:
                yield every & ~alike[row]
            case _:
                yield 0


def _rows_with_same_output(table: Table, space: Space) -> list[int]:
    """Give for each row the rows (as bits) with the same output, itself included."""
    groups: dict[object, int] = {}
    for row, bit in zip(table.rows, space.bits, strict=True):
        groups[row.output] = groups.get(row.output, 0) | bit
    return [groups[row.output] for row in table.rows]


def _box(space: Space, row: int) -> Bits:
    return space.boxes[space.bits[row].bit_length() - 1]


def _size(space: Space, box: Bits, domains: Sequence[Domain]) -> int:
    return prod(
        sum(weight(part, domain) for slot in set_bits(some) for part in axis.slots[slot])
        for axis, some, domain in zip(space.axes, box, domains, strict=True)
    )
