"""A table is inspected exactly: what is found is what a walk through every combination finds."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.table import Column, How, Policy, Row, RuleTable, compile_table
from engine.value_set import (
    ANYTHING,
    Kind,
    ValueSet,
    equal_to,
    interval,
)
from rules.table import analysis
from rules.table.analysis import analyse_table
from tests.rules.random_tables import TABLES, held, tables, values, walked

# --------------------------------------------------------------- held against a walk through all


@given(TABLES)
def test_the_gaps_are_disjoint_boxes_that_hold_just_what_no_row_matches(
    table: RuleTable[str],
) -> None:
    found = analyse_table(table)
    for point in walked(table):
        assert sum(held(box, point) for box in found.gaps) == (not point.rows)
    assert found.gap_count == len(found.gaps)
    assert found.proven


@given(TABLES)
def test_two_rows_overlap_where_both_match_and_their_box_says_where(
    table: RuleTable[str],
) -> None:
    found = analyse_table(table)
    points = walked(table)
    pairs = {overlap.rows: overlap for overlap in found.overlaps}
    assert len(pairs) == found.overlap_count == len(found.overlaps)
    for pair in combinations(range(len(table.rows)), 2):
        shared = [point for point in points if point.rows.issuperset(pair)]
        assert (pair in pairs) == bool(shared)
        if shared:
            one, other = (table.rows[row].output for row in pair)
            assert pairs[pair].alike is (one == other)
            assert [point for point in points if held(pairs[pair].box, point)] == shared
    assert found.differing_count == sum(not overlap.alike for overlap in found.overlaps)


@given(TABLES)
def test_the_dead_rows_are_those_that_are_chosen_nowhere(table: RuleTable[str]) -> None:
    chosen = {point.row for point in walked(table)}
    dead = {one.row for one in analyse_table(table).dead}
    assert dead == set(range(len(table.rows))) - chosen


@given(TABLES)
def test_a_dead_row_names_rows_that_leave_it_nothing_and_all_of_them_are_needed(
    table: RuleTable[str],
) -> None:
    points = walked(table)
    for row, by in analyse_table(table).dead:
        own = [point for point in points if row in point.rows]
        assert row not in by
        assert all(point.rows.intersection(by) for point in own)
        for spared in by:
            others = set(by) - {spared}
            assert not all(point.rows & others for point in own)


@given(TABLES)
def test_no_two_gaps_could_be_said_as_one(table: RuleTable[str]) -> None:
    for one, other in combinations(analyse_table(table).gaps, 2):
        assert sum(map(ValueSet.__ne__, one, other)) > 1


@given(tables(policies=(Policy.FIRST,)))
def test_under_first_only_earlier_rows_leave_a_row_nothing(table: RuleTable[str]) -> None:
    assert all(other < row for row, by in analyse_table(table).dead for other in by)


@given(TABLES)
def test_a_cell_is_empty_when_no_value_of_its_column_passes(table: RuleTable[str]) -> None:
    expected = [
        (number, at)
        for number, row in enumerate(table.rows)
        for at, (cell, column) in enumerate(zip(row.cells, table.columns, strict=True))
        if not any(map(cell.accepts, values(column)))
    ]
    assert [*analyse_table(table).empty] == expected


@given(TABLES)
def test_a_default_is_unused_when_no_combination_leads_to_it(table: RuleTable[str]) -> None:
    used = any(point.how is How.DEFAULT for point in walked(table))
    assert analyse_table(table).default_unused is (table.default is not None and not used)


@given(TABLES, st.integers(0, 12))
def test_a_small_budget_says_less_but_nothing_wrong(table: RuleTable[str], budget: int) -> None:
    whole, some = analyse_table(table), analyse_table(table, budget=budget)
    assert some.overlaps == whole.overlaps
    assert some.empty == whole.empty
    assert set(some.dead) <= set(whole.dead)
    known = {one.row for one in some.dead} | set(some.unproven_rows)
    assert {one.row for one in whole.dead} <= known
    assert some.gap_count <= sum(not point.rows for point in walked(table))
    if some.gaps_proven:
        assert some.gaps == whole.gaps
    if some.default_unused:
        assert whole.default_unused
    if some.proven:
        assert some == whole


@given(TABLES, st.integers(0, 3))
def test_a_short_list_leaves_the_numbers_as_they_are(table: RuleTable[str], listed: int) -> None:
    whole, some = analyse_table(table), analyse_table(table, listed=listed)
    assert some.gaps == whole.gaps[:listed]
    assert some.overlaps == whole.overlaps[:listed]
    assert some._replace(gaps=(), overlaps=()) == whole._replace(gaps=(), overlaps=())


@given(TABLES)
def test_boxes_beyond_those_kept_in_mind_are_counted_all_the_same(table: RuleTable[str]) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(analysis, "MOST_BOXES_JOINED", 1)
        found = analyse_table(table)
    assert len(found.gaps) == min(found.gap_count, 1)
    assert (found.gap_count > 0) is any(not point.rows for point in walked(table))
    assert found.gap_count >= analyse_table(table).gap_count > 0 or not found.gap_count


def cube(policy: Policy, *blocks: tuple[str, ValueSet, ValueSet]) -> RuleTable[str]:
    """A table of two columns, 0 to 3 and 0 to 1."""
    columns = [
        Column(name, Kind.NUMBER, least=0, most=most) for name, most in (("wide", 3), ("high", 1))
    ]
    return compile_table(
        policy, columns, [Row((one, two), output) for output, one, two in blocks], "otherwise"
    )


def test_a_row_that_others_cover_in_two_ways_names_one_of_them() -> None:
    """Halves of the last row: by the first two rows, or by other pairs with the third."""
    halves = (
        ("plain", interval(0, 2), equal_to(1)),
        ("plain", interval(0, 2), equal_to(0)),
        ("plain", interval(2, 3), interval(0, 1)),
        ("plain", interval(0, 2), interval(0, 1)),
    )
    assert analyse_table(cube(Policy.FIRST, *halves)).dead == ((3, (0, 1)),)


def test_overlaps_that_agree_leave_the_default_of_an_any_table_unused() -> None:
    both = (
        ("plain", interval(0, 2), interval(0, 1)),
        ("plain", interval(1, 3), interval(0, 1)),
    )
    found = analyse_table(cube(Policy.ANY, *both))
    assert (found.overlap_count, found.differing_count) == (1, 0)
    assert found.default_unused
    assert not analyse_table(cube(Policy.UNIQUE, *both)).default_unused
    clash = (both[0], ("gentle", *both[1][1:]))
    assert not analyse_table(cube(Policy.ANY, *clash)).default_unused


# ----------------------------------------------------------------------------------------- size


def spread(columns: int, cell: Callable[[int, int], ValueSet]) -> RuleTable[int]:
    """A table whose rows each look at other columns."""
    names = [Column(f"c{at}", Kind.NUMBER, least=0, most=9) for at in range(columns)]
    rows = [
        Row(tuple(cell(number, at) for at in range(columns)), number) for number in range(columns)
    ]
    return compile_table(Policy.FIRST, names, rows)


def test_rows_that_each_look_at_one_column_leave_one_box() -> None:
    """10 to the 30th combinations, of which 9 to the 30th are covered by none: one box."""
    found = analyse_table(spread(30, lambda row, at: equal_to(4) if row == at else ANYTHING))
    assert found.gap_count == 1
    assert found.proven
    assert found.steps < 100


def test_a_spent_budget_is_told_and_never_passed_over() -> None:
    def leaning(row: int, at: int) -> ValueSet:
        low = (3 * row + 5 * at) % 5
        return interval(low, low + 6)

    hard = spread(12, leaning)
    found = analyse_table(hard, budget=40)
    assert not found.gaps_proven
    assert not found.proven
    assert found.gap_count > 0
    assert not found.default_unused
