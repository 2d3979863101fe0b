"""Boxes over the columns of a table, and what of a box no row covers: exact, never sampled.

A column's domain falls into slots, sets of values that no row tells apart. A row is a box: in
every column some of the slots. Slots are kept as the bits of one integer a column, and the rows
that accept a slot as the bits of another, the largest row the lowest bit.

What no row covers is found by splitting. Of the rows that reach into a box,

- one that holds it whole ends the matter;
- one that sticks out in a single column only takes its slots away from the box;
- otherwise one that sticks out in the fewest columns, the largest of these, parts the box: a
  piece for each of the columns lies outside that row, the rest is covered.

The pieces share no point, so that what is left over at the end are disjoint boxes. Every box
that is looked at is a step; the problem is hard in the number of columns, and a budget of steps
ends what takes too long.
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
"""A box: for each column the bits of its slots."""
Box: TypeAlias = tuple[ValueSet, ...]
"""A box as its reader sees it: for each column the values it holds, all of its domain or some."""


class BudgetSpent(Exception):  # noqa: N818 - nothing is wrong; the question is only too large
    """The budget of steps came to its end before the answer was found."""


class Axis(NamedTuple):
    """One column cut into slots; none of them is empty, together they are the domain."""

    slots: tuple[tuple[ValueSet, ...], ...]
    """Each as the parts it is made of."""
    rows: tuple[int, ...]
    """For each slot the bits of the rows that accept it."""


class Space(NamedTuple):
    """A table's columns as axes, and its rows as boxes."""

    axes: tuple[Axis, ...]
    boxes: tuple[Bits, ...]
    """The box of the row at each bit."""
    order: tuple[int, ...]
    """The index of the row at each bit."""
    bits: tuple[int, ...]
    """The bit of each row, as a power of two."""

    @property
    def whole(self) -> Bits:
        """The box of all values."""
        return tuple((1 << len(axis.slots)) - 1 for axis in self.axes)

    def regions(self, box: Bits) -> Box:
        """Give a box as its reader sees it."""
        return tuple(
            union(*(part for slot in set_bits(some) for part in axis.slots[slot]))
            for axis, some in zip(self.axes, box, strict=True)
        )

    def rows(self, bits: int) -> tuple[int, ...]:
        """Give the indices of rows from their bits, rising."""
        return tuple(sorted(self.order[place] for place in set_bits(bits)))


def set_bits(bits: int) -> Iterator[int]:
    """List the places of the bits that are set, the lowest first."""
    while bits:
        low = bits & -bits
        yield low.bit_length() - 1
        bits ^= low


def lowest_bit(bits: int) -> int:
    """Give the place of the lowest bit that is set."""
    return (bits & -bits).bit_length() - 1


def space_of(rows: Sequence[Box], domains: Sequence[Domain]) -> Space:
    """Cut every column into slots; the rows' regions are `kept` in their domains."""
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
    """Finds what of a box no row covers; counts its steps."""

    space: Space
    budget: int
    """So many steps may still be taken."""
    used: int = 0
    """The bits of the rows that took something away since this was last set to 0."""
    _seen: list[dict[int, tuple[int, int]]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._seen = [{} for _ in self.space.axes]

    def reaching(self, at: int, some: int) -> int:
        """Give the rows that accept at least one of a column's slots."""
        return self._rows(at, some)[0]

    def meeting(self, box: Bits) -> int:
        """Give the rows that meet a box."""
        found = (1 << len(self.space.boxes)) - 1
        for at, some in enumerate(box):
            found &= self.reaching(at, some)
        return found

    def uncovered(self, box: Bits, rows: int) -> Iterator[Bits]:
        """Give what none of the rows covers, as disjoint boxes; raises Spent."""
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
                waiting += self._parted(part, live, _row_sticking_out_least(live, beyond), beyond)

    def _rows(self, at: int, some: int) -> tuple[int, int]:
        """Give the rows that accept at least one of a column's slots, and those that accept all."""
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
        """Take away what rows cover that stick out in one column alone."""
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
        """Part a box round a row: the pieces that lie outside it."""
        self.used |= 1 << place
        row = self.space.boxes[place]
        for at, out in enumerate(beyond):
            if out >> place & 1:
                piece = [*part]
                piece[at] = part[at] & ~row[at]
                yield piece, live & self.reaching(at, piece[at])
                part[at] &= row[at]
                live &= self.reaching(at, part[at])


def _row_sticking_out_least(live: int, beyond: list[int]) -> int:
    """Choose of the live rows one that sticks out in the fewest columns, the largest of these.

    The columns are counted for all rows at once, each bit of the counts in an integer of its own.
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
    """Join disjoint boxes that differ in one column only, until none do: fewer say the same."""
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
