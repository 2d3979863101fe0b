"""A rule table looked over, over the whole of what its columns may hold.

Exact: every answer holds for every combination of values, none is sampled. Facts count as if
any might go with any other, so an overlap or a gap may lie where no evening ever comes.

What a room's file has to do with it is the business of `rules.inspected`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice
from math import prod
from typing import Any, Final, NamedTuple

from engine.table import Policy, RuleTable
from engine.value_set import NOTHING
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
"""So many steps may be taken, once for the gaps and once for all rows that cannot win."""
MOST_LISTED: Final = 100
"""So many overlaps and boxes are listed; of the rest the number is told."""
MOST_BOXES_JOINED: Final = 10_000
"""So many boxes are kept, joined where two make one, and the largest of them are listed."""
MOST_ROWS_THINNED: Final = 12
"""Up to so many rows, those that cover another are thinned out until each is needed."""

Table = RuleTable[Any]


class Overlap(NamedTuple):
    """Two rows that both match somewhere."""

    rows: tuple[int, int]
    """Their indices, the one that stands first before the other."""
    box: Box
    """Where they both match."""
    alike: bool
    """Whether they say the same."""


class DeadRow(NamedTuple):
    """A row that is chosen nowhere."""

    row: int
    by: tuple[int, ...]
    """Rows that together leave it nothing; none if it accepts nothing of what can be."""


class TableAnalysis(NamedTuple):
    """What was found in a table; rows and columns are indices from 0."""

    overlaps: tuple[Overlap, ...]
    """Those first that say something different, then in the order of their rows."""
    overlap_count: int
    differing_count: int
    """How many of the overlaps say something different."""
    gaps: tuple[Box, ...]
    """Where no row matches: disjoint boxes, the largest first."""
    gap_count: int
    """How many boxes there are, listed or not; at least so many if `gaps_proven` is no."""
    gaps_proven: bool
    dead: tuple[DeadRow, ...]
    unproven_rows: tuple[int, ...]
    """Rows of which the budget did not tell whether they can win."""
    empty: tuple[tuple[int, int], ...]
    """Rows and columns of the cells that accept nothing of what the column may hold."""
    default_unused: bool
    """Whether there is a default that can never be used."""
    steps: int

    @property
    def proven(self) -> bool:
        """Whether everything was found that there is."""
        return self.gaps_proven and not self.unproven_rows


def analyse_table(
    table: Table,
    domains: Sequence[Domain] | None = None,
    budget: int = DEFAULT_BUDGET,
    listed: int = MOST_LISTED,
) -> TableAnalysis:
    """Look a table over; `domains` say what its columns may hold, or else the columns do."""
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
        empty=tuple(
            (number, at)
            for number, row in enumerate(rows)
            for at, cell in enumerate(row)
            if cell == NOTHING
        ),
        default_unused=(
            table.default is not None and proven and not count and not pairs.violations
        ),
        steps=gap_steps + budget - splitter.budget,
    )


class _OverlappingPairs:
    """The pairs of rows that overlap."""

    def __init__(self, table: Table, space: Space, splitter: Splitter) -> None:
        self._space = space
        every = (1 << len(space.boxes)) - 1
        alike = _rows_with_same_output(table, space)
        earlier = 0
        self._met: list[tuple[int, int, int]] = []
        """For each row the bits of those before it that it overlaps: different ones, like ones."""
        for row, bit in enumerate(space.bits):
            met = splitter.meeting(_box(space, row)) & earlier & every
            earlier |= bit
            self._met.append((row, met & ~alike[row], met & alike[row]))
        self.differing = sum(different.bit_count() for _, different, _ in self._met)
        self.count = self.differing + sum(like.bit_count() for _, _, like in self._met)
        kinds = {Policy.UNIQUE: self.count, Policy.ANY: self.differing}
        self.violations = kinds.get(table.policy, 0)

    def listed(self, most: int) -> tuple[Overlap, ...]:
        """Give the first of them."""
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
    """Give the largest boxes that no row covers, how many there are, and whether that is all."""
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
    """Find the rows that are chosen nowhere, and those of which the budget does not tell."""
    dead, unproven = [], []
    for row, rivals in enumerate(_rivals(table, space)):
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
    """Give rows that together cover a box, none to spare if they are few; None: not covered."""
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


def _rivals(table: Table, space: Space) -> Iterator[int]:
    """Give for each row the bits of those that keep it from being chosen where they match."""
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


def _rows_with_same_output(table: Table, space: Space) -> list[int]:
    """Give for each row the bits of those that say the same, itself among them."""
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
