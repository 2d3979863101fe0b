"""Evaluate rule tables in the sense of OMG DMN: choose a row for some facts, and explain why.

A table has rows, and a column for each fact that it looks at. A row has one cell for each column,
a set of values, and matches when every fact lies in its cell. The hit policy says which row wins:

- unique: at most one row may match;
- any: several may match if they all give the same output;
- priority: the matching row with the lowest rank wins, and of equal ranks the first;
- first: the first matching row wins.

If no row matches, the table gives its default output, if it has one. If rows match together that
the policy `unique` or `any` forbids, it gives the default as well and names those rows: a choice is
a value, never an exception.

`compile_table` cuts every column into slots. A slot is a set of values that no cell of the column
tells apart, stored with the rows that accept it as the bits of one integer. A lookup finds one slot
in each column and combines their bits with AND. The number of a row's bit is its *place*: the row
with the highest place wins, so the winner is the highest bit left. `RuleTable.order` says which row
has which place.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum
from typing import Generic, NamedTuple, TypeVar

from engine.lookup import Lookup, accepts_all, compile_column
from engine.value_set import (
    Cut,
    Kind,
    Value,
    ValueSet,
    exact,
    show,
)

Output = TypeVar("Output", bound=Hashable)


class Policy(Enum):
    """The hit policies of the standard that give a single output."""

    UNIQUE = "unique"
    ANY = "any"
    PRIORITY = "priority"
    FIRST = "first"


class Column(NamedTuple):
    """One fact that a table looks at, and the values it may have.

    The table itself uses the name only, and the kind to write its cells. The rest is for reading
    cells from text and for checking whether the rows cover every value.
    """

    name: str
    kind: Kind = Kind.ANY
    words: tuple[str, ...] = ()
    """The words that a column of names may hold."""
    unknown: bool = False
    """Whether the fact may be null."""
    least: int | None = None
    most: int | None = None
    """The least and the greatest number, in the engine's units; None is no limit."""


class Row(NamedTuple, Generic[Output]):
    """One rule: a cell for each column, in the order of the columns, and the output."""

    cells: tuple[ValueSet, ...]
    output: Output
    rank: int = 0
    """Under `priority`: the position of the output in its declared order, 0 wins first."""
    label: str = ""


class PolicyViolation(NamedTuple):
    """Rows that matched together although the policy forbids it.

    Several rows of a `unique` table, or rows of an `any` table with unequal outputs.
    """

    policy: Policy
    rows: tuple[int, ...]


class How(Enum):
    """Where a choice's output comes from."""

    ROW = "row"
    DEFAULT = "default"
    NOTHING = "nothing"
    """There is none: no row won, and the table has no default."""


class Choice(NamedTuple, Generic[Output]):
    """What a table gives for some facts. `output` is None if `how` is `NOTHING`."""

    how: How
    row: int | None
    """The index of the row that won, from 0."""
    output: Output | None
    violation: PolicyViolation | None = None


class CellTrace(NamedTuple):
    """One fact, tested by one cell."""

    column: str
    value: Value
    test: str
    """The cell, written as a unary test."""
    matched: bool


class RowTrace(NamedTuple):
    """One row, tested on the facts."""

    row: int
    label: str
    cells: tuple[CellTrace, ...]
    matched: bool


class Trace(NamedTuple, Generic[Output]):
    """Why a choice came out as it did: every row, in the table's order."""

    choice: Choice[Output]
    rows: tuple[RowTrace, ...]


class MissingFactError(LookupError):
    """A column is missing from the facts: a mistake of the program, not of its user."""


Slow = Callable[[Value], int]
"""Looks up any value of a column: `Lookup.rows`."""


class _NumberColumn(NamedTuple):
    """A column whose cells name numbers, for quick lookups of ints and null."""

    name: str
    cuts: tuple[int, ...]
    """For each cut, the first whole number past it."""
    spans: tuple[int, ...]
    null: int
    slow: Slow


class _WordColumn(NamedTuple):
    """A column whose cells name strings, for quick lookups of known words and null."""

    name: str
    by_word: Callable[[Value], int | None]
    slow: Slow


class _TruthColumn(NamedTuple):
    """A column whose cells name neither, for quick lookups of booleans and null."""

    name: str
    true: int
    false: int
    null: int
    slow: Slow


@dataclass(frozen=True, slots=True)
class _Quick(Generic[Output]):
    """What `choose` reads. Rows are given by their places, as bits.

    Each column that a row looks at is in one of `numbers`, `words` and `truths`. There the values
    that it usually has are looked up quickly, and any other by the full lookup.
    """

    every: int
    """All rows."""
    numbers: tuple[_NumberColumn, ...]
    words: tuple[_WordColumn, ...]
    truths: tuple[_TruthColumn, ...]
    choices: tuple[Choice[Output], ...]
    """For each place, the choice when that row wins."""
    conflicts: tuple[int, ...]
    """For each place, the rows that may not match together with that one."""
    otherwise: Choice[Output]
    """The choice when no row wins."""


@dataclass(frozen=True, slots=True)
class RuleTable(Generic[Output]):
    """A compiled table, made by `compile_table`.

    Two tables are equal if their policies, columns, rows and defaults are.
    """

    policy: Policy
    columns: tuple[Column, ...]
    rows: tuple[Row[Output], ...]
    default: Output | None
    order: tuple[int, ...] = field(compare=False, repr=False)
    """The index of the row at each place."""
    lookups: tuple[Lookup, ...] = field(compare=False, repr=False)
    quick: _Quick[Output] = field(compare=False, repr=False)

    def looks_at(self, name: str) -> bool:
        """Tell whether any row tests a column. Raises ValueError for a column it does not have."""
        lookup = self.lookups[[column.name for column in self.columns].index(name)]
        return bool(lookup.strings or lookup.cuts) or not accepts_all(lookup, self.quick.every)


def compile_table(
    policy: Policy,
    columns: Iterable[Column],
    rows: Iterable[Row[Output]],
    default: Output | None = None,
) -> RuleTable[Output]:
    """Compile a table; a default of None means that it has none.

    Raises ValueError if two columns have one name, or a row has too few or too many cells.
    """
    columns, rows = tuple(columns), tuple(rows)
    _check(columns, rows)
    every = (1 << len(rows)) - 1
    ranks = [row.rank if policy is Policy.PRIORITY else 0 for row in rows]
    winning_first = sorted(range(len(rows)), key=ranks.__getitem__)
    order = tuple(reversed(winning_first))
    lookups = tuple(
        compile_column([rows[index].cells[at] for index in order]) for at in range(len(columns))
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
            conflicts=_conflicts(policy, [rows[index].output for index in order]),
            otherwise=Choice(How.NOTHING if default is None else How.DEFAULT, None, default),
        ),
    )


def choose(table: RuleTable[Output], facts: Mapping[str, Value]) -> Choice[Output]:
    """Choose by the table's policy. `facts` must name every column, and may name more.

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
    return winner(table, rows)


def winner(table: RuleTable[Output], rows: int) -> Choice[Output]:
    """Choose among the rows that match, given as bits of their places, by the table's policy."""
    quick = table.quick
    if not rows:
        return quick.otherwise
    place = rows.bit_length() - 1
    if rows & quick.conflicts[place]:
        return quick.otherwise._replace(
            violation=PolicyViolation(table.policy, _indices(table, rows))
        )
    return quick.choices[place]


def explain(table: RuleTable[Output], facts: Mapping[str, Value]) -> Trace[Output]:
    """Explain a choice: test every row on the facts, cell by cell. Raises like `choose`."""
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


def _check(columns: Sequence[Column], rows: Sequence[Row[Output]]) -> None:
    """Refuse columns of one name, and rows that do not fit the columns."""
    names = [column.name for column in columns]
    if twice := sorted(name for name, times in Counter(names).items() if times > 1):
        raise ValueError(f"columns stand twice in the table: {', '.join(twice)}")
    for index, row in enumerate(rows):
        if len(row.cells) != len(columns):
            raise ValueError(
                f"row {index} has {len(row.cells)} cells; the table has {len(columns)} columns"
            )


def _numbers(columns: Sequence[Column], lookups: Sequence[Lookup]) -> tuple[_NumberColumn, ...]:
    """Prepare the columns whose cells name numbers."""
    return tuple(
        _NumberColumn(
            column.name,
            tuple(map(_first_whole, lookup.cuts)),
            lookup.spans,
            lookup.null,
            lookup.rows,
        )
        for column, lookup in zip(columns, lookups, strict=True)
        if lookup.cuts
    )


def _first_whole(cut: Cut) -> int:
    """Give the first whole number past a cut, so that whole facts compare as plain ints."""
    number = exact(cut.value)
    below = number // 1  # exact for whole numbers and fractions
    return int(below) + 1 if cut.after or number != below else int(below)


def _words(columns: Sequence[Column], lookups: Sequence[Lookup]) -> tuple[_WordColumn, ...]:
    """Prepare the columns whose cells name strings, and no numbers."""
    found = []
    for column, lookup in zip(columns, lookups, strict=True):
        if lookup.strings and not lookup.cuts:
            by_word: dict[Value, int] = dict.fromkeys(column.words, lookup.other_strings)
            by_word[None] = lookup.null
            by_word.update(lookup.strings)
            found.append(_WordColumn(column.name, by_word.get, lookup.rows))
    return tuple(found)


def _truths(
    columns: Sequence[Column], lookups: Sequence[Lookup], every: int
) -> tuple[_TruthColumn, ...]:
    """Prepare the columns whose cells name neither numbers nor strings."""
    return tuple(
        _TruthColumn(column.name, lookup.true, lookup.false, lookup.null, lookup.rows)
        for column, lookup in zip(columns, lookups, strict=True)
        if not lookup.strings and not lookup.cuts and not accepts_all(lookup, every)
    )


def _conflicts(policy: Policy, outputs: Sequence[Output]) -> tuple[int, ...]:
    """List for each place the places that the policy forbids to match together with it."""
    every = (1 << len(outputs)) - 1
    if policy is Policy.UNIQUE:
        return tuple(every ^ (1 << place) for place in range(len(outputs)))
    if policy is Policy.ANY:
        alike: dict[Output, int] = {}
        for place, output in enumerate(outputs):
            alike[output] = alike.get(output, 0) | (1 << place)
        return tuple(every ^ alike[output] for output in outputs)
    return (0,) * len(outputs)


def _indices(table: RuleTable[Output], rows: int) -> tuple[int, ...]:
    """Turn places, given as bits, into indices of the table's rows."""
    return tuple(sorted(row for place, row in enumerate(table.order) if rows & (1 << place)))


def _what_is_missing(table: RuleTable[Output], facts: Mapping[str, Value]) -> str:
    missing = [column.name for column in table.columns if column.name not in facts]
    return f"the facts leave out what the table looks at: {', '.join(missing)}"
