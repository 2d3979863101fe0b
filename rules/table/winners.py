"""Which row of a table wins where, and which rows win once some facts have changed. Exact."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final, NamedTuple

from engine.choosing import OTHERWISE
from engine.table import RuleTable
from engine.value_set import ValueSet, meets, union
from rules.table.analysis import clashes_of, rivals_of
from rules.table.boxes import Bits, Box, Space, Splitter, set_bits, space_of
from rules.table.domains import domain_of, within_domain

WINNERS_BUDGET: Final = 200_000
"""Steps (boxes looked at) for all questions about one table together."""


class Winner(NamedTuple):
    """A row that wins somewhere in a box."""

    row: int
    """Its index; `OTHERWISE` where no row matches."""
    box: Bits
    """One part of the box in which it wins."""


class Winners:
    """Answers which rows win where; each question may raise `BudgetSpent`."""

    def __init__(self, table: RuleTable[Any], budget: int = WINNERS_BUDGET) -> None:
        domains = [domain_of(column) for column in table.columns]
        rows = [
            tuple(
                within_domain(cell, domain) for cell, domain in zip(row.cells, domains, strict=True)
            )
            for row in table.rows
        ]
        self._space: Space = space_of(rows, domains)
        self._splitter = Splitter(self._space, budget)
        self._rivals = tuple(rivals_of(table, self._space))
        self._clashes = tuple(clashes_of(table, self._space))
        self._at = {column.name: at for at, column in enumerate(table.columns)}
        self._values: dict[tuple[int, int], ValueSet] = {}
        """The values of each column's slots, as far as asked: many boxes share them."""
        self._slots_of: dict[tuple[int, ValueSet], int] = {}
        """The other way round."""

    @property
    def whole(self) -> Bits:
        """The box of all cases."""
        return self._space.whole

    def told_apart(self, name: str) -> tuple[ValueSet, ...]:
        """Give the sets of a column's values between which rows tell apart."""
        return tuple(union(*parts) for parts in self._space.axes[self._at[name]].slots)

    def boxes(self, row: int) -> Iterator[Bits]:
        """List disjoint boxes that together are all the cases in which a row wins."""
        box = self._row_box(row)
        if all(box):
            yield from self._splitter.uncovered(box, self._rivals[row])

    def values(self, box: Bits, name: str) -> ValueSet:
        """Give the values that a column has in a box."""
        at = self._at[name]
        return self._region(at, box[at])

    def regions(self, box: Bits) -> Box:
        """Give the values of every column in a box."""
        return tuple(self._region(at, some) for at, some in enumerate(box))

    def changed(self, box: Bits, facts: Mapping[str, ValueSet]) -> Bits:
        """Give the box in which some facts have become others, whatever they were."""
        moved = [*box]
        for name, region in facts.items():
            moved[self._at[name]] = self._slots(name, region)
        return tuple(moved)

    def narrowed(self, box: Bits, facts: Mapping[str, ValueSet]) -> Bits | None:
        """Give the part of a box in which facts have certain values; None if there is none."""
        part = [*box]
        for name, region in facts.items():
            part[self._at[name]] &= self._slots(name, region)
        return tuple(part) if all(part) else None

    def winners(self, box: Bits) -> Iterator[Winner]:
        """List the rows that win somewhere in a box, each once, with one part where it does."""
        for row in (*self._space.rows(self._splitter.meeting(box)), OTHERWISE):
            found = next(self._won(box, row), None)
            if found is not None:
                yield Winner(row, found)

    def parted(self, box: Bits) -> Iterator[Winner]:
        """Divide a box into disjoint parts, in each of which one row wins."""
        for row in (*self._space.rows(self._splitter.meeting(box)), OTHERWISE):
            yield from (Winner(row, part) for part in self._won(box, row))

    def _won(self, box: Bits, row: int) -> Iterator[Bits]:
        """List the parts of a box in which a row wins.

        `OTHERWISE` does where no row matches, and where rows match that must not together.
        """
        if row == OTHERWISE:
            yield from self._splitter.uncovered(box, (1 << len(self._space.boxes)) - 1)
            yield from self._violated(box)
            return
        shared = tuple(mine & some for mine, some in zip(self._row_box(row), box, strict=True))
        yield from self._splitter.uncovered(shared, self._rivals[row])

    def _violated(self, box: Bits) -> Iterator[Bits]:
        """List the parts of a box in which rows match that the policy forbids to match together."""
        before = 0
        for row in self._space.rows(self._splitter.meeting(box)) if any(self._clashes) else ():
            listed = before
            for other in self._space.rows(self._clashes[row] & ~before):
                boxes = box, self._row_box(row), self._row_box(other)
                shared = tuple(one & two & three for one, two, three in zip(*boxes, strict=True))
                if all(shared):
                    yield from self._splitter.uncovered(shared, listed)
                    listed |= self._space.bits[other]
            before |= self._space.bits[row]

    def _row_box(self, row: int) -> Bits:
        return self._space.boxes[self._space.bits[row].bit_length() - 1]

    def _slots(self, name: str, region: ValueSet) -> int:
        """Give the slots of a column in which a region has values; rows do not tell them apart."""
        at = self._at[name]
        known = self._slots_of.get((at, region))
        if known is None:
            known = self._slots_of[at, region] = sum(
                1 << number
                for number, parts in enumerate(self._space.axes[at].slots)
                if any(meets(part, region) for part in parts)
            )
        return known

    def _region(self, at: int, some: int) -> ValueSet:
        """Give the values of some slots of a column."""
        known = self._values.get((at, some))
        if known is None:
            parts = self._space.axes[at].slots
            known = self._values[at, some] = union(
                *(part for slot in set_bits(some) for part in parts[slot])
            )
        return known
