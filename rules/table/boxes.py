"""Boxes over the columns of a table, and the parts of a box that no row covers. Exact.

The values of each column are divided into slots: equivalence classes of values that no row tells
apart. A row is a box: in every column it accepts some of the slots. The slots of a column are the
bits of one integer. The rows that accept a slot are the bits of another, and the largest row has
the lowest bit.

The uncovered parts of a box are found by splitting. A row covers the part of the box in which it
accepts all slots; where it does not accept a slot of a column, the box "sticks out" of the row
there. Of the rows that meet the box,

- a row that covers all of it ends the search;
- a row out of which the box sticks in one column only reduces that column to the slots which the
  row does not accept;
- otherwise the box is split at a row out of which it sticks in the fewest columns, the largest
  such row: for each of these columns one piece lies outside the row, and the rest is covered.

The pieces are disjoint, and so are the boxes that remain at the end. Looking at one box is one
step. The number of steps may grow exponentially with the number of columns, so a budget limits it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import prod
from typing import NamedTuple, TypeAlias

from engine.lookup import slots
from engine.table import Column, Policy, Row, compile_table
from engine.value_set import NOTHING, ValueSet, union
from rules.table.domains import Domain, weight, within_domain

Bits: TypeAlias = tuple[int, ...]
"""A box: for each column, the bits of its slots."""
Box: TypeAlias = tuple[ValueSet, ...]
"""A box outside this module: for each column, the set of its values."""


class BudgetSpent(Exception):  # noqa: N818 - nothing is wrong; the question is only too large
    """The budget of steps was spent before the answer was found."""


class Axis(NamedTuple):
    """One column divided into slots: not empty, disjoint, together the whole domain."""

    slots: tuple[tuple[ValueSet, ...], ...]
    """Each slot as the sets of values that it is made of."""
    rows: tuple[int, ...]
    """For each slot, the rows that accept it, as bits."""


class Space(NamedTuple):
    """A table's columns as axes, and its rows as boxes."""

    axes: tuple[Axis, ...]
    boxes: tuple[Bits, ...]
    """For each bit (0 first), the box of its row."""
    order: tuple[int, ...]
    """For each bit, the index of its row in the table."""
    bits: tuple[int, ...]
    """For each row of the table, its bit, as a power of two."""

    @property
    def whole(self) -> Bits:
        """The box of all values."""
        return tuple((1 << len(axis.slots)) - 1 for axis in self.axes)

    def regions(self, box: Bits) -> Box:
        """Turn a box of slots into a box of values."""
        return tuple(
            union(*(part for slot in set_bits(some) for part in axis.slots[slot]))
            for axis, some in zip(self.axes, box, strict=True)
        )

    def rows(self, bits: int) -> tuple[int, ...]:
        """Give the indices of rows from their bits, in ascending order."""
        return tuple(sorted(self.order[place] for place in set_bits(bits)))


def set_bits(bits: int) -> Iterator[int]:
    """List the positions of the bits that are set, the lowest first."""
    while bits:
        low = bits & -bits
        yield low.bit_length() - 1
        bits ^= low


def lowest_bit(bits: int) -> int:
    """Give the position of the lowest bit that is set."""
    return (bits & -bits).bit_length() - 1


def space_of(rows: Sequence[Box], domains: Sequence[Domain]) -> Space:
    """Divide every column into slots; the rows' cells must be brought `within_domain`."""
    weights = [prod(map(weight, row, domains)) for row in rows]
    order = sorted(range(len(rows)), key=lambda row: (-weights[row], row))
    # `compile_table` gives the last row of a `first` table the lowest place.
    table = compile_table(
        Policy.FIRST,
        [Column(str(at)) for at in range(len(domains))],
        [Row(rows[row], output=True) for row in reversed(order)],
    )
    axes = []
    boxes = [[0] * len(domains) for _ in rows]
    for at, (lookup, domain) in enumerate(zip(table.lookups, domains, strict=True)):
        alike: dict[int, list[ValueSet]] = {}
        for slot in slots(lookup):
            inside = within_domain(slot.values, domain)
            if inside != NOTHING:
                alike.setdefault(slot.rows, []).append(inside)
        axes.append(Axis(tuple(map(tuple, alike.values())), tuple(alike)))
        for number, accepting in enumerate(alike):
            for place in set_bits(accepting):
                boxes[place][at] |= 1 << number
    bits = [0] * len(rows)
    for place, row in enumerate(order):
        bits[row] = 1 << place
    return Space(tuple(axes), tuple(map(tuple, boxes)), tuple(order), tuple(bits))


@dataclass(slots=True)
class Splitter:
    """Finds the parts of a box that no row covers, and counts its steps."""

    space: Space
    budget: int
    """Steps that may still be taken."""
    used: int = 0
    """The rows (as bits) that covered anything since the caller last set this to 0."""
    _seen: list[dict[int, tuple[int, int]]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._seen = [{} for _ in self.space.axes]

    def reaching(self, at: int, some: int) -> int:
        """Give the rows that accept at least one of some slots of column `at`."""
        return self._rows(at, some)[0]

    def meeting(self, box: Bits) -> int:
        """Give the rows (as bits) that match somewhere in a box."""
        found = (1 << len(self.space.boxes)) - 1
        for at, some in enumerate(box):
            found &= self.reaching(at, some)
        return found

    def uncovered(self, box: Bits, rows: int) -> Iterator[Bits]:
        """List the parts of a box that none of the rows covers, as disjoint boxes.

        Raises BudgetSpent.
        """
        waiting = [([*box], rows & self.meeting(box))]
        while waiting:
            if self.budget <= 0:
                raise BudgetSpent
            self.budget -= 1
            part, live = waiting.pop()
            if not live:
                yield tuple(part)
                continue
            beyond = [live & ~self._rows(at, some)[1] for at, some in enumerate(part)]
            once = twice = 0
            for out in beyond:
                twice |= once & out
                once |= out
            if live & ~once:
                self.used |= 1 << lowest_bit(live & ~once)
            elif live & ~twice:
                waiting += self._trimmed(part, live, [out & ~twice for out in beyond])
            else:
                waiting += self._parted(part, live, _row_to_split_at(live, beyond), beyond)

    def _rows(self, at: int, some: int) -> tuple[int, int]:
        """Give the rows that accept at least one of some slots, and those that accept all."""
        known = self._seen[at].get(some)
        if known is None:
            accepting = self.space.axes[at].rows
            touching, holding = 0, -1
            for slot in set_bits(some):
                touching |= accepting[slot]
                holding &= accepting[slot]
            known = self._seen[at][some] = (touching, holding)
        return known

    def _trimmed(
        self, part: list[int], live: int, alone: list[int]
    ) -> Iterator[tuple[list[int], int]]:
        """Take away what is covered by rows out of which the box sticks in one column only."""
        for at, rows in enumerate(alone):
            if not rows:
                continue
            left, accepting = 0, self.space.axes[at].rows
            for slot in set_bits(part[at]):
                taking = accepting[slot] & rows
                if taking:
                    self.used |= taking & -taking
                else:
                    left |= 1 << slot
            if not left:
                return
            part[at] = left
            live &= self.reaching(at, left)
        yield part, live

    def _parted(
        self, part: list[int], live: int, place: int, beyond: list[int]
    ) -> Iterator[tuple[list[int], int]]:
        """Split a box at a row, and give the pieces that lie outside the row."""
        self.used |= 1 << place
        row = self.space.boxes[place]
        for at, out in enumerate(beyond):
            if out >> place & 1:
                piece = [*part]
                piece[at] = part[at] & ~row[at]
                yield piece, live & self.reaching(at, piece[at])
                part[at] &= row[at]
                live &= self.reaching(at, part[at])


def _row_to_split_at(live: int, beyond: list[int]) -> int:
    """Choose the row out of which the box sticks in the fewest columns; of several, the largest.

    The columns are counted for all rows at once: `counts[k]` holds bit k of every row's count.
    """
    counts: list[int] = []
    for out in beyond:
        carry = out
        for at, count in enumerate(counts):
            counts[at], carry = count ^ carry, count & carry
        if carry:
            counts.append(carry)
    chosen = live
    for count in reversed(counts):
        chosen = chosen & ~count or chosen
    return lowest_bit(chosen)


def joined_boxes(boxes: Sequence[Bits]) -> list[Bits]:
    """Join disjoint boxes that differ in one column only, until no two can be joined."""
    found = list(boxes)
    before = 0
    while len(found) != before:
        before = len(found)
        for at in range(len(found[0]) if found else 0):
            joined: dict[tuple[Bits, Bits], int] = {}
            for box in found:
                rest = (box[:at], box[at + 1 :])
                joined[rest] = joined.get(rest, 0) | box[at]
            found = [(*left, some, *right) for (left, right), some in joined.items()]
    return found
