"""One compiled column of a rule table: from a value to the rows that accept it.

Rows are given as the bits of one integer; the number of a row's bit is its place.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple, TypeVar

from engine.value_set import NULL, Cut, Value, ValueSet, cuts_passed, equal_to, place_of

Mention = TypeVar("Mention", Cut, str)


class Slot(NamedTuple):
    """Values of a column that no cell tells apart, and which rows accept them."""

    values: ValueSet
    rows: int
    """The places of the rows, as bits."""


class Lookup(NamedTuple):
    """One compiled column: for every value, the places of the rows that accept it, as bits."""

    null: int
    true: int
    false: int
    strings: Mapping[str, int]
    other_strings: int
    cuts: tuple[Cut, ...]
    spans: tuple[int, ...]
    """For numbers below the first cut, between each two cuts, and from the last cut on."""

    def rows(self, value: Value) -> int:
        """Look any value up. Raises like `ValueSet.accepts`."""
        if value is None:
            return self.null
        if isinstance(value, bool):
            return self.true if value else self.false
        if isinstance(value, str):
            return self.strings.get(value, self.other_strings)
        return self.spans[cuts_passed(self.cuts, place_of(value))]


def slots(lookup: Lookup) -> tuple[Slot, ...]:
    """List a column's slots: every value is in exactly one of them."""
    found = [
        Slot(NULL, lookup.null),
        Slot(equal_to(value=True), lookup.true),
        Slot(equal_to(value=False), lookup.false),
        *(Slot(equal_to(text), rows) for text, rows in sorted(lookup.strings.items())),
        Slot(
            ValueSet(strings=tuple(sorted(lookup.strings)), other_strings=True),
            lookup.other_strings,
        ),
    ]
    for at, rows in enumerate(lookup.spans):
        edges = lookup.cuts[max(at - 1, 0) : at + 1]
        found.append(Slot(ValueSet(cuts=edges, below=at == 0), rows))
    return tuple(found)


def compile_column(cells: Sequence[ValueSet]) -> Lookup:
    """Compile one column from its cells, in the order of the rows' places."""
    other_strings = _bits(cell.other_strings for cell in cells)
    listed = _mentions(cell.strings for cell in cells)
    borders = sorted(_mentions(cell.cuts for cell in cells).items())
    spans = [_bits(cell.below for cell in cells)]
    for _, rows in borders:
        spans.append(spans[-1] ^ rows)
    return Lookup(
        null=_bits(cell.null for cell in cells),
        true=_bits(cell.true for cell in cells),
        false=_bits(cell.false for cell in cells),
        strings={text: other_strings ^ rows for text, rows in listed.items()},
        other_strings=other_strings,
        cuts=tuple(cut for cut, _ in borders),
        spans=tuple(spans),
    )


def accepts_all(lookup: Lookup, every: int) -> bool:
    """Tell whether every row accepts whatever a column holds."""
    found = {lookup.null, lookup.true, lookup.false, lookup.other_strings, *lookup.spans}
    return found == {every}


def _mentions(cells: Iterable[Iterable[Mention]]) -> dict[Mention, int]:
    """Collect for every cut or string which rows name it in their cells, as bits."""
    found: dict[Mention, int] = {}
    for place, mentions in enumerate(cells):
        for mention in mentions:
            found[mention] = found.get(mention, 0) | (1 << place)
    return found


def _bits(flags: Iterable[bool]) -> int:
    """Make an integer whose bit at each place says whether the flag there is set."""
    return sum(1 << place for place, flag in enumerate(flags) if flag)
