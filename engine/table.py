"""Rule tables in the sense of OMG DMN: facts in, the row that wins out, its reasons on demand.

A table has columns, one fact each, and rows. A row holds one region for each column and matches
when every fact lies in its region. Which row wins is the business of the hit policy:

- unique: at most one row may match;
- any: several may match if they all say the same;
- priority: of those that match the one with the lowest rank, and of equals the first;
- first: the first that matches.

Where no row matches, the default output is used if there is one. A `unique` or `any` table that
is violated gives the default too and says which rows did it: a choice is a value, never an
exception.

`compile_table` cuts every column into slots, sets of values that no cell tells apart, each with
the rows that accept it as the bits of one integer. A lookup finds one slot a column and ANDs the
bits. A row's bit is its *place*: the higher the place, the earlier the row wins, so the highest
bit left is the winner. `RuleTable.order` says which row has which place.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum
from typing import Generic, NamedTuple, TypeVar

from engine.value_set import (
    NULL,
    Cut,
    Kind,
    Value,
    ValueSet,
    cuts_passed,
    equal_to,
    exact,
    place_of,
    show,
)

Output = TypeVar("Output", bound=Hashable)
Mention = TypeVar("Mention", Cut, str)


class Policy(Enum):
    """The standard's policies that give one output."""

    UNIQUE = "unique"
    ANY = "any"
    PRIORITY = "priority"
    FIRST = "first"


class Column(NamedTuple):
    """One fact that a table looks at, and what it may be.

    The table itself needs only the name, and the kind to show its cells; the rest says what a
    reader of cells may accept and which values have to be covered.
    """

    name: str
    kind: Kind = Kind.ANY
    words: tuple[str, ...] = ()
    """The closed vocabulary of a column of names."""
    unknown: bool = False
    """Whether the fact may be null."""
    least: int | None = None
    most: int | None = None
    """The least and the greatest number, as the engine counts; None is no limit."""


class Row(NamedTuple, Generic[Output]):
    """One rule: what it asks of each column, in their order, and what it says."""

    cells: tuple[ValueSet, ...]
    output: Output
    rank: int = 0
    """Under `priority` the place of the output in its declared order, 0 the highest."""
    label: str = ""


class PolicyViolation(NamedTuple):
    """Rows that may not match together did: several of `unique`, or unequal ones of `any`."""

    policy: Policy
    rows: tuple[int, ...]


class How(Enum):
    """Where a choice's output comes from."""

    ROW = "row"
    DEFAULT = "default"
    NOTHING = "nothing"
    """No row gave one and the table has no default: there is no output."""


class Choice(NamedTuple, Generic[Output]):
    """What a table says about some facts; `output` is None if `how` is `NOTHING`."""

    how: How
    row: int | None
    """The index of the row that won, from 0."""
    output: Output | None
    violation: PolicyViolation | None = None


class CellTrace(NamedTuple):
    """One fact held against one cell."""

    column: str
    value: Value
    test: str
    """The cell's region as a unary test."""
    matched: bool


class RowTrace(NamedTuple):
    """One row held against the facts."""

    row: int
    label: str
    cells: tuple[CellTrace, ...]
    matched: bool


class Trace(NamedTuple, Generic[Output]):
    """Why a choice came out as it did: every row, in the table's order."""

    choice: Choice[Output]
    rows: tuple[RowTrace, ...]


class Slot(NamedTuple):
    """Values of a column that no cell tells apart, and the places of the rows accepting them."""

    region: ValueSet
    rows: int


class MissingFactError(LookupError):
    """The facts leave out a column of the table: a mistake of the program, not of its user."""


class Lookup(NamedTuple):
    """One column, compiled: for every value the bits of the rows that accept it."""

    null: int
    true: int
    false: int
    strings: Mapping[str, int]
    other_strings: int
    cuts: tuple[Cut, ...]
    spans: tuple[int, ...]
    """One more than `cuts`: below the first, between each two, from the last on."""

    def rows(self, value: Value) -> int:
        """Look any value up; raises like `ValueSet.accepts`."""
        if value is None:
            return self.null
        if isinstance(value, bool):
            return self.true if value else self.false
        if isinstance(value, str):
            return self.strings.get(value, self.other_strings)
        return self.spans[cuts_passed(self.cuts, place_of(value))]


_Slow = Callable[[Value], int]
_Numbers = tuple[str, tuple[int, ...], tuple[int, ...], int, _Slow]
_Words = tuple[str, Callable[[Value], int | None], _Slow]
_Truths = tuple[str, int, int, int, _Slow]


@dataclass(frozen=True, slots=True)
class _Quick(Generic[Output]):
    """What `choose` reads.

    Each column stands in one of `numbers`, `words` and `truths`: with a short way for its usual
    sort of value and for null, and the full lookup for any other.
    """

    every: int
    numbers: tuple[_Numbers, ...]
    words: tuple[_Words, ...]
    truths: tuple[_Truths, ...]
    choices: tuple[Choice[Output], ...]
    """What is chosen when the row at each place wins."""
    rivals: tuple[int, ...]
    """The places that may not match together with each place."""
    otherwise: Choice[Output]


@dataclass(frozen=True, slots=True)
class RuleTable(Generic[Output]):
    """A compiled table, made by `compile_table`; equal if policy, columns, rows, default are."""

    policy: Policy
    columns: tuple[Column, ...]
    rows: tuple[Row[Output], ...]
    default: Output | None
    order: tuple[int, ...] = field(compare=False, repr=False)
    """The index of the row at each place."""
    lookups: tuple[Lookup, ...] = field(compare=False, repr=False)
    quick: _Quick[Output] = field(compare=False, repr=False)

    def looks_at(self, name: str) -> bool:
        """Tell whether any row tests a column; raises ValueError for one that is not here."""
        lookup = self.lookups[[column.name for column in self.columns].index(name)]
        return bool(lookup.strings or lookup.cuts) or not _blind(lookup, self.quick.every)


def compile_table(
    policy: Policy,
    columns: Iterable[Column],
    rows: Iterable[Row[Output]],
    default: Output | None = None,
) -> RuleTable[Output]:
    """Build a table; None is no default.

    Raises ValueError where a column's name stands twice or a row has too few or many cells.
    """
    columns, rows = tuple(columns), tuple(rows)
    _check(columns, rows)
    every = (1 << len(rows)) - 1
    ranks = [row.rank if policy is Policy.PRIORITY else 0 for row in rows]
    order = tuple(sorted(range(len(rows)), key=ranks.__getitem__)[::-1])
    lookups = tuple(
        _compiled([rows[index].cells[at] for index in order]) for at in range(len(columns))
    )
    return RuleTable(
        policy=policy,
        columns=columns,
        rows=rows,
        default=default,
        order=order,
        lookups=lookups,
        quick=_Quick(
            every=every,
            numbers=_numbers(columns, lookups),
            words=_words(columns, lookups),
            truths=_truths(columns, lookups, every),
            choices=tuple(Choice(How.ROW, index, rows[index].output) for index in order),
            rivals=_rivals(policy, [rows[index].output for index in order]),
            otherwise=Choice(How.NOTHING if default is None else How.DEFAULT, None, default),
        ),
    )


def choose(table: RuleTable[Output], facts: Mapping[str, Value]) -> Choice[Output]:
    """Choose by the table's policy; `facts` may hold more than the columns, but not less.

    Raises MissingFactError, and TypeError or ValueError for a value that no table can hold.
    """
    quick = table.quick
    rows = quick.every
    try:
        for name, cuts, spans, null, slow in quick.numbers:
            value = facts[name]
            if type(value) is int:
                rows &= spans[bisect_right(cuts, value)]
            else:
                rows &= null if value is None else slow(value)
        for name, by_word, slow in quick.words:
            value = facts[name]
            hit = by_word(value)
            rows &= slow(value) if hit is None else hit
        for name, true, false, null, slow in quick.truths:
            value = facts[name]
            if value is None:
                rows &= null
            else:
                rows &= true if value is True else false if value is False else slow(value)
    except KeyError as error:
        raise MissingFactError(_what_is_missing(table, facts)) from error
    if not rows:
        return quick.otherwise
    place = rows.bit_length() - 1
    if rows & quick.rivals[place]:
        return quick.otherwise._replace(
            violation=PolicyViolation(table.policy, _indices(table, rows))
        )
    return quick.choices[place]


def explain(table: RuleTable[Output], facts: Mapping[str, Value]) -> Trace[Output]:
    """Say why `choose` chooses what it does: hold every row against the facts, cell by cell."""
    choice = choose(table, facts)
    traces = []
    for index, row in enumerate(table.rows):
        cells = tuple(
            CellTrace(
                column=column.name,
                value=facts[column.name],
                test=show(cell, column.kind),
                matched=cell.accepts(facts[column.name]),
            )
            for column, cell in zip(table.columns, row.cells, strict=True)
        )
        traces.append(RowTrace(index, row.label, cells, all(cell.matched for cell in cells)))
    return Trace(choice, tuple(traces))


def slots(lookup: Lookup) -> tuple[Slot, ...]:
    """List a column's slots: their regions share no value and together leave none out."""
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


def _check(columns: Sequence[Column], rows: Sequence[Row[Output]]) -> None:
    names = [column.name for column in columns]
    if twice := sorted({name for name in names if names.count(name) > 1}):
        raise ValueError(f"columns stand twice in the table: {', '.join(twice)}")
    for index, row in enumerate(rows):
        if len(row.cells) != len(columns):
            raise ValueError(
                f"row {index} has {len(row.cells)} cells; the table has {len(columns)} columns"
            )


def _compiled(cells: Sequence[ValueSet]) -> Lookup:
    """Compile one column from its cells in the order of places."""
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


def _mentions(cells: Iterable[Iterable[Mention]]) -> dict[Mention, int]:
    """Collect for every cut or string the bits of the rows whose cell names it."""
    found: dict[Mention, int] = {}
    for place, mentions in enumerate(cells):
        for mention in mentions:
            found[mention] = found.get(mention, 0) | 1 << place
    return found


def _bits(flags: Iterable[bool]) -> int:
    return sum(1 << place for place, flag in enumerate(flags) if flag)


def _numbers(columns: Sequence[Column], lookups: Sequence[Lookup]) -> tuple[_Numbers, ...]:
    return tuple(
        (column.name, tuple(map(_first_whole, lookup.cuts)), lookup.spans, lookup.null, lookup.rows)
        for column, lookup in zip(columns, lookups, strict=True)
        if lookup.cuts
    )


def _first_whole(cut: Cut) -> int:
    """Give the first whole number past a cut: whole facts then need no exact comparison."""
    number = exact(cut.value)
    return number // 1 + 1 if cut.after else -(-number // 1)


def _words(columns: Sequence[Column], lookups: Sequence[Lookup]) -> tuple[_Words, ...]:
    found = []
    for column, lookup in zip(columns, lookups, strict=True):
        if lookup.strings and not lookup.cuts:
            by_word: dict[Value, int] = dict.fromkeys(column.words, lookup.other_strings)
            by_word[None] = lookup.null
            by_word.update(lookup.strings)
            found.append((column.name, by_word.get, lookup.rows))
    return tuple(found)


def _truths(
    columns: Sequence[Column], lookups: Sequence[Lookup], every: int
) -> tuple[_Truths, ...]:
    return tuple(
        (column.name, lookup.true, lookup.false, lookup.null, lookup.rows)
        for column, lookup in zip(columns, lookups, strict=True)
        if not lookup.strings and not lookup.cuts and not _blind(lookup, every)
    )


def _blind(lookup: Lookup, every: int) -> bool:
    """Tell whether no row looks at a column: all of them accept whatever it holds."""
    found = {lookup.null, lookup.true, lookup.false, lookup.other_strings, *lookup.spans}
    return found == {every}


def _rivals(policy: Policy, outputs: Sequence[Output]) -> tuple[int, ...]:
    every = (1 << len(outputs)) - 1
    if policy is Policy.UNIQUE:
        return tuple(every ^ 1 << place for place in range(len(outputs)))
    if policy is Policy.ANY:
        alike: dict[Output, int] = {}
        for place, output in enumerate(outputs):
            alike[output] = alike.get(output, 0) | 1 << place
        return tuple(every ^ alike[output] for output in outputs)
    return (0,) * len(outputs)


def _indices(table: RuleTable[Output], rows: int) -> tuple[int, ...]:
    return tuple(sorted(row for place, row in enumerate(table.order) if rows >> place & 1))


def _what_is_missing(table: RuleTable[Output], facts: Mapping[str, Value]) -> str:
    missing = [column.name for column in table.columns if column.name not in facts]
    return f"the facts leave out what the table looks at: {', '.join(missing)}"
