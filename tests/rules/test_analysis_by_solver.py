"""Random tables, inspected by us and by an SMT solver, which agree on every one of them.

The solver (z3, general-purpose, with a decision procedure of its own) is fed from the data that
the tables were made from; our side reads the same tables as a room file's author would write
them. Trust: computed. Two sets of combinations are compared by asking the solver for one that
belongs to one of them only; there is none.
"""

from __future__ import annotations

from functools import reduce
from itertools import combinations
from random import Random
from typing import NamedTuple

import pytest
import z3  # type: ignore[import-untyped]

from engine.table import Column, Policy, Row, RuleTable, compile_table
from engine.value_set import Kind, ValueSet
from rules.table.analysis import DeadRow, TableAnalysis, analyse_table
from rules.text.unary import parse_test
from tests.soak import sample

TABLES = sample(25, 504)
"""For each policy; in `make soak` more than 2,000 in all."""
ROWS = 12

WORDS = {
    "source": ("disc", "streamer", "console"),
    "playback": ("playing", "paused", "stopped", "unknown"),
}
NUMBERS = {"aspect": (100, 400, 100), "time": (0, 1_439, 1), "seats": (0, 12, 1)}
"""The least and the greatest, and what one of them counts inside."""
MAY_BE_NULL = frozenset({"source", "aspect", "time", "three_d"})
COLUMNS = {
    "source": Column("source", Kind.NAME, WORDS["source"], unknown=True),
    "playback": Column("playback", Kind.NAME, WORDS["playback"]),
    "aspect": Column("aspect", Kind.RATIO, unknown=True, least=10_000, most=40_000),
    "time": Column("time", Kind.MINUTE, unknown=True, least=0, most=1_439),
    "seats": Column("seats", Kind.NUMBER, least=0, most=12),
    "varies": Column("varies", Kind.TRUTH),
    "three_d": Column("three_d", Kind.TRUTH, unknown=True),
}


class Span(NamedTuple):
    """Numbers from low to high as the solver counts them; None is no end."""

    low: int | None
    high: int | None
    low_open: bool
    high_open: bool


class Cell(NamedTuple):
    """What a cell says: everything, or some words, truths, spans, or all known but these."""

    everything: bool = False
    null: bool = False
    denied: bool = False
    words: tuple[str, ...] = ()
    spans: tuple[Span, ...] = ()


class Made(NamedTuple):
    """A table before anybody has written it down."""

    names: tuple[str, ...]
    policy: Policy
    rows: tuple[tuple[Cell, ...], ...]
    outputs: tuple[str, ...]
    ranks: tuple[int, ...]


# ------------------------------------------------------------------------------ making tables


def made(rng: Random, policy: Policy) -> Made:
    names = tuple(rng.sample([*COLUMNS], rng.randint(2, 5)))
    # Few and wide cells leave gaps and dead rows; many and narrow ones neither.
    empty = rng.choice([0.2, 0.5, 0.7])
    count = rng.randint(1, ROWS)
    rows = tuple(
        tuple(Cell(everything=True) if rng.random() < empty else cell(rng, name) for name in names)
        for _ in range(count)
    )
    outputs = [rng.choice(["plain", "gentle", "cropped"]) for _ in rows]
    order = rng.sample(["plain", "gentle", "cropped"], 3)
    ranks = [order.index(output) for output in outputs]
    return Made(names, policy, rows, tuple(outputs), tuple(ranks))


def cell(rng: Random, name: str) -> Cell:
    null = rng.random() < (0.3 if name in MAY_BE_NULL else 0.02)
    denied = rng.random() < 0.3
    if name in NUMBERS:
        spans = tuple(span(rng, name) for _ in range(rng.randint(1, 2)))
        return Cell(null=null, denied=denied, spans=spans)
    words = WORDS.get(name, ("yes", "no"))
    return Cell(null=null, denied=denied, words=tuple(rng.sample(words, rng.randint(1, 2))))


def span(rng: Random, name: str) -> Span:
    least, most, _ = NUMBERS[name]
    low, high = sorted(rng.randint(least, most) for _ in range(2))
    sort = rng.random()
    opened = rng.random() < 0.5, rng.random() < 0.5
    if sort < 0.3:
        return Span(low, None, *opened)
    if sort < 0.6:
        return Span(None, high, *opened)
    return Span(low, low, False, False) if sort < 0.7 else Span(low, high, *opened)


# ------------------------------------------------------------------------- as an author writes


def written(cell: Cell, name: str) -> str:
    if cell.everything:
        return "-"
    tests = [*cell.words, *(span_text(span, name) for span in cell.spans)]
    if cell.denied:
        tests = [f"not({', '.join(tests)})"]
    return ", ".join([*(["null"] if cell.null else []), *tests])


def span_text(span: Span, name: str) -> str:
    low, high = (number_text(end, name) for end in (span.low, span.high))
    if span.high is None:
        return f"{'>' if span.low_open else '>='} {low}"
    if span.low is None:
        return f"{'<' if span.high_open else '<='} {high}"
    if span.low == span.high and not (span.low_open or span.high_open):
        return low
    return f"{'(' if span.low_open else '['}{low}..{high}{')' if span.high_open else ']'}"


def number_text(number: int | None, name: str) -> str:
    if number is None:
        return ""
    if name == "aspect":
        return f"{number // 100}.{number % 100:02}"
    return f"{number // 60:02}:{number % 60:02}" if name == "time" else str(number)


def compiled(table: Made) -> RuleTable[str]:
    columns = [COLUMNS[name] for name in table.names]
    rows = [
        Row(
            tuple(
                parse_test(written(cell, name), COLUMNS[name]).region
                for cell, name in zip(cells, table.names, strict=True)
            ),
            output,
            rank,
        )
        for cells, output, rank in zip(table.rows, table.outputs, table.ranks, strict=True)
    ]
    return compile_table(table.policy, columns, rows, "otherwise")


# ------------------------------------------------------------------------- as the solver sees


class Fact:
    """One column for the solver: a number, or the place of a word, or null."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.value = z3.Int(name)
        self.null = z3.Bool(f"{name} is null")
        self.words = WORDS.get(name, ("no", "yes"))
        least, most, self.scale = NUMBERS.get(name, (0, len(self.words) - 1, 1))
        known = z3.And(self.value >= least, self.value <= most)
        self.possible = known if name in MAY_BE_NULL else z3.And(known, z3.Not(self.null))

    def passes(self, cell: Cell) -> z3.BoolRef:
        """What a cell of the generator's data says."""
        if cell.everything:
            return z3.BoolVal(val=True)
        tests = [self.value == self.words.index(word) for word in cell.words]
        tests += [self._within(span) for span in cell.spans]
        found = z3.Not(z3.Or(tests)) if cell.denied else z3.Or(tests)
        return z3.If(self.null, z3.BoolVal(cell.null), found)

    def _within(self, span: Span) -> z3.BoolRef:
        ends = []
        if span.low is not None:
            ends.append(self.value > span.low if span.low_open else self.value >= span.low)
        if span.high is not None:
            ends.append(self.value < span.high if span.high_open else self.value <= span.high)
        return z3.And(ends)

    def inside(self, region: ValueSet) -> z3.BoolRef:
        """What a region of ours says, read from its plain data."""
        if self.name in NUMBERS:
            number = self.value * self.scale
            passed = [
                number > int(cut.value) if cut.after else number >= int(cut.value)
                for cut in region.cuts
            ]
            found = reduce(z3.Xor, passed, z3.BoolVal(region.below))
        elif self.name in WORDS:
            listed = z3.Or([self.value == self.words.index(word) for word in region.strings])
            found = z3.Not(listed) if region.other_strings else listed
        else:
            found = z3.If(self.value == 1, z3.BoolVal(region.true), z3.BoolVal(region.false))
        return z3.If(self.null, z3.BoolVal(region.null), found)


class Solved:
    """A table in the solver's hands."""

    def __init__(self, table: Made) -> None:
        self.table = table
        self.facts = [Fact(name) for name in table.names]
        self.rows = [
            z3.And([fact.passes(cell) for fact, cell in zip(self.facts, cells, strict=True)])
            for cells in table.rows
        ]
        self.solver = z3.Solver()
        self.solver.add([fact.possible for fact in self.facts])

    def possible(self, claim: z3.BoolRef) -> bool:
        """Tell whether some combination of facts makes a claim true."""
        self.solver.push()
        self.solver.add(claim)
        answer = self.solver.check()
        self.solver.pop()
        assert answer in (z3.sat, z3.unsat)
        return bool(answer == z3.sat)

    def box(self, box: tuple[ValueSet, ...]) -> z3.BoolRef:
        return z3.And([fact.inside(region) for fact, region in zip(self.facts, box, strict=True)])

    def beaten(self, row: int) -> z3.BoolRef:
        """Where a row is not chosen although it matches, by the words of the hit policies."""
        others = [other for other in range(len(self.rows)) if other != row]
        outputs, ranks = self.table.outputs, self.table.ranks
        match self.table.policy:
            case Policy.FIRST:
                others = [other for other in others if other < row]
            case Policy.PRIORITY:
                own = (ranks[row], row)
                others = [other for other in others if (ranks[other], other) < own]
            case Policy.ANY:
                others = [
                    other for other in others if other < row or outputs[other] != outputs[row]
                ]
        return z3.Or([self.rows[other] for other in others])

    def violated(self) -> z3.BoolRef:
        """Where the table is at fault."""
        policy, outputs = self.table.policy, self.table.outputs
        return z3.Or(
            [
                z3.And(self.rows[one], self.rows[other])
                for one, other in combinations(range(len(self.rows)), 2)
                if policy is Policy.UNIQUE
                or (policy is Policy.ANY and outputs[one] != outputs[other])
            ]
        )


# ---------------------------------------------------------------------------------- agreement


def check_gaps(solved: Solved, found: TableAnalysis) -> None:
    boxes = [solved.box(box) for box in found.gaps]
    uncovered = z3.Not(z3.Or(solved.rows))
    assert not solved.possible(z3.Xor(z3.Or(boxes), uncovered))
    if len(boxes) > 1:
        assert not solved.possible(z3.AtLeast(*boxes, 2))
    for box in boxes[:3]:
        assert solved.possible(box)


def check_overlaps(solved: Solved, found: TableAnalysis) -> None:
    boxes = {overlap.rows: overlap.box for overlap in found.overlaps}
    wrong = []
    for one, other in combinations(range(len(solved.rows)), 2):
        both = z3.And(solved.rows[one], solved.rows[other])
        claimed = boxes.get((one, other))
        wrong.append(both if claimed is None else z3.Xor(solved.box(claimed), both))
    assert not solved.possible(z3.Or(wrong))
    outputs = solved.table.outputs
    for overlap in found.overlaps:
        one, other = overlap.rows
        assert overlap.alike is (outputs[one] == outputs[other])


def check_dead(solved: Solved, dead: tuple[DeadRow, ...]) -> None:
    named = {one.row for one in dead}
    for row, matches in enumerate(solved.rows):
        wins = z3.And(matches, z3.Not(solved.beaten(row)))
        assert solved.possible(wins) is (row not in named)
    spared = [
        z3.And(solved.rows[row], z3.Not(z3.Or([solved.rows[other] for other in by])))
        for row, by in dead
    ]
    assert not solved.possible(z3.Or(spared))


def check_default(solved: Solved, found: TableAnalysis) -> None:
    used = z3.Or(z3.Not(z3.Or(solved.rows)), solved.violated())
    assert found.default_unused is not solved.possible(used)


@pytest.mark.parametrize("policy", Policy)
def test_the_solver_finds_the_same_gaps_overlaps_dead_rows_and_unused_defaults(
    policy: Policy,
) -> None:
    seen = {"gaps": 0, "overlaps": 0, "dead": 0, "complete": 0, "unused": 0}
    for number in range(TABLES):
        table = made(Random(f"{policy.value} {number}"), policy)
        found, solved = analyse_table(compiled(table), listed=10_000), Solved(table)
        assert found.proven
        check_gaps(solved, found)
        check_overlaps(solved, found)
        check_dead(solved, found.dead)
        check_default(solved, found)
        seen["gaps"] += bool(found.gaps)
        seen["complete"] += not found.gaps
        seen["overlaps"] += bool(found.overlaps)
        seen["dead"] += bool(found.dead)
        seen["unused"] += found.default_unused
    least = min(seen["gaps"], seen["complete"], seen["overlaps"], seen["dead"])
    assert least > TABLES // 20, seen
