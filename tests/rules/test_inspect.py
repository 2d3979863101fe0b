"""A table is inspected exactly: what is found is what a walk through every combination finds."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import combinations, product
from typing import NamedTuple

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from engine.table import Column, How, Policy, Row, RuleTable, choose, compile_table
from engine.value_set import (
    ANYTHING,
    NOTHING,
    NULL,
    Kind,
    Value,
    ValueSet,
    difference,
    equal_to,
    intersection,
    interval,
    meets,
    union,
)
from rules.table import analysis as inspecting
from rules.table.analysis import TableAnalysis, analyse_table
from rules.table.box_sentences import box_sentence, case_of, example_of
from rules.table.boxes import Box
from rules.table.domains import Domain, domain_of, some_value, weight, within_domain
from rules.text.recovery import read_source
from rules.text.unary import parse_test
from rules.text.yaml_nodes import Mapping, Scalar
from tests.engine.test_value_set import REGIONS, VALUES

COLUMNS = (
    Column("source", Kind.NAME, ("disc", "games"), unknown=True),
    Column("playback", Kind.NAME, ("playing", "paused", "unknown")),
    Column("varies", Kind.TRUTH),
    Column("stereo", Kind.TRUTH, unknown=True),
    Column("aspect", Kind.RATIO, unknown=True, least=22_000, most=22_500),
    Column("seats", Kind.NUMBER, least=-1, most=3),
    Column("time", Kind.MINUTE, unknown=True, least=0, most=3),
    Column("lift", Kind.SHARE, least=0, most=4),
)
STEPS = {"aspect": 100}


def values(column: Column) -> list[Value]:
    """List what a column may hold, from what it says of itself."""
    found: list[Value] = [*column.words]
    if column.kind is Kind.TRUTH:
        found += [True, False]
    if column.least is not None and column.most is not None:
        found += range(column.least, column.most + 1, STEPS.get(column.name, 1))
    return [*found, None] if column.unknown else found


def cells(column: Column) -> st.SearchStrategy[ValueSet]:
    """Cells of a column, ends between its steps and beyond its ends among them."""
    one = [*map(equal_to, values(column)), NULL, ANYTHING]
    if column.least is not None and column.most is not None:
        half = STEPS.get(column.name, 2) // 2
        ends = st.sampled_from(range(column.least - half, column.most + 2 * half, half))
        spans = st.builds(
            lambda low, high, low_open, high_open: interval(
                low, high, low_open=low_open, high_open=high_open
            ),
            st.none() | ends,
            st.none() | ends,
            st.booleans(),
            st.booleans(),
        )
    else:
        spans = st.sampled_from([NOTHING, ValueSet(other_strings=True)])
    several = st.lists(st.sampled_from(one) | spans, max_size=3).map(lambda some: union(*some))
    return st.one_of(
        st.just(ANYTHING), several, several.map(lambda some: difference(ANYTHING, some))
    )


@st.composite
def tables(draw: st.DrawFn, policies: tuple[Policy, ...] = tuple(Policy)) -> RuleTable[str]:
    columns = draw(st.lists(st.sampled_from(COLUMNS), max_size=4, unique=True))
    rows = draw(
        st.lists(
            st.builds(
                Row[str],
                st.tuples(*map(cells, columns)),
                st.sampled_from(["plain", "gentle"]),
                st.integers(0, 1),
            ),
            max_size=6,
        )
    )
    default = draw(st.sampled_from([None, "otherwise"]))
    return compile_table(draw(st.sampled_from(policies)), columns, rows, default)


@st.composite
def grids(draw: st.DrawFn) -> RuleTable[str]:
    """Blocks in a small cube: they touch, cover each other and leave corners open."""
    columns = [Column(name, Kind.NUMBER, least=0, most=3) for name in ("wide", "high", "deep")]
    sides = st.tuples(st.integers(0, 3), st.integers(0, 3)).map(
        lambda ends: interval(*sorted(ends))
    )
    outputs = st.sampled_from(["plain", "gentle"])
    rows = draw(st.lists(st.builds(Row[str], st.tuples(sides, sides, sides), outputs), max_size=6))
    return compile_table(draw(st.sampled_from(Policy)), columns, rows, "otherwise")


TABLES = tables() | grids()


class Point(NamedTuple):
    """One combination of values, the rows that match there, and what is chosen."""

    values: tuple[Value, ...]
    rows: frozenset[int]
    row: int | None
    how: How


def walked(table: RuleTable[str]) -> list[Point]:
    """Walk through every combination of what the columns may hold."""
    points = []
    for some in product(*map(values, table.columns)):
        rows = frozenset(
            number
            for number, row in enumerate(table.rows)
            if all(cell.accepts(value) for cell, value in zip(row.cells, some, strict=True))
        )
        names = (column.name for column in table.columns)
        choice = choose(table, dict(zip(names, some, strict=True)))
        points.append(Point(some, rows, choice.row, choice.how))
    return points


def held(box: Box, point: Point) -> bool:
    return all(region.accepts(value) for region, value in zip(box, point.values, strict=True))


def boxes_of(found: TableAnalysis) -> list[Box]:
    return [*found.gaps, *(overlap.box for overlap in found.overlaps)]


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
        patch.setattr(inspecting, "MOST_BOXES_JOINED", 1)
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


# ------------------------------------------------------------------------------------- domains


@given(st.sampled_from(COLUMNS), st.data())
def test_regions_that_accept_the_same_of_a_domain_are_kept_as_the_same(
    column: Column, data: st.DataObject
) -> None:
    one, other = (data.draw(cells(column)) for _ in range(2))
    domain = domain_of(column)
    accepted = [[*map(region.accepts, values(column))] for region in (one, other)]
    assert (within_domain(one, domain) == within_domain(other, domain)) is (
        accepted[0] == accepted[1]
    )
    assert [*map(within_domain(one, domain).accepts, values(column))] == accepted[0]
    assert weight(within_domain(one, domain), domain) == sum(accepted[0])
    assert meets(domain.region, one) or not any(accepted[0])


@given(REGIONS)
def test_a_value_of_a_region_belongs_to_it_and_is_known_if_any_is(region: ValueSet) -> None:
    assume(region != NOTHING)
    assert region.accepts(some_value(region))
    assert (some_value(region) is None) is (region == NULL)


def test_nothing_has_no_value() -> None:
    with pytest.raises(ValueError, match="nothing belongs"):
        some_value(NOTHING)


def test_numbers_in_steps_need_ends() -> None:
    with pytest.raises(ValueError, match="a least and a greatest"):
        within_domain(interval(2, None), Domain(ANYTHING, 1))


@given(REGIONS, VALUES)
def test_without_steps_a_region_is_kept_as_it_is(region: ValueSet, value: Value) -> None:
    inside = within_domain(region, domain_of(Column("a")))
    assert inside.accepts(value) is region.accepts(value)


def test_between_two_hundredths_there_is_no_ratio() -> None:
    """`engine.facts.nominal` rounds every ratio to hundredths before a rule sees it."""
    aspect = domain_of(Column("aspect", Kind.RATIO, least=10_000, most=40_000))
    assert within_domain(interval(23_001, 23_099), aspect) == NOTHING
    assert within_domain(interval(23_000, None, low_open=True), aspect) == within_domain(
        interval(23_100, None), aspect
    )
    assert within_domain(equal_to(17_778), aspect) == NOTHING


# --------------------------------------------------------------------------------------- words


def parsed(case: str, columns: tuple[Column, ...]) -> Iterator[tuple[Column, ValueSet]]:
    """Read a case as a room file's."""
    root = read_source(f"case: {case}\n", "room.yaml")
    assert not root.findings
    assert root.mapping is not None
    entries = root.mapping.get("case")
    assert isinstance(entries, Mapping)
    for column in columns:
        cell = entries.get(column.name)
        assert cell is None or isinstance(cell, Scalar)
        yield column, ANYTHING if cell is None else parse_test(cell.text, column).region


@given(TABLES)
def test_a_case_written_from_a_box_matches_in_the_box_and_nowhere_else(
    table: RuleTable[str],
) -> None:
    for box in boxes_of(analyse_table(table)):
        case = case_of(box, table.columns)
        for region, (column, read) in zip(box, parsed(case, table.columns), strict=True):
            assert within_domain(read, domain_of(column)) == region


@given(TABLES)
def test_an_example_lies_in_its_box(table: RuleTable[str]) -> None:
    for box in boxes_of(analyse_table(table)):
        case = f"{{{example_of(box, table.columns)}}}"
        for region, (column, read) in zip(box, parsed(case, table.columns), strict=True):
            assert within_domain(intersection(read, region), domain_of(column)) != NOTHING


@given(TABLES)
def test_only_columns_that_a_box_restricts_are_spoken_of(table: RuleTable[str]) -> None:
    for box in boxes_of(analyse_table(table)):
        free = [
            column.name
            for column, region in zip(table.columns, box, strict=True)
            if region == domain_of(column).region
        ]
        texts = (box_sentence(box, table.columns), case_of(box, table.columns))
        assert not any(name in text for name in free for text in texts)


ASPECT = Column("aspect", Kind.RATIO, unknown=True, least=10_000, most=40_000)
TIME = Column("time", Kind.MINUTE, unknown=True, least=0, most=1_439)
SOURCE = Column("source", Kind.NAME, ("disc", "games", "streamer"), unknown=True)
PLAYBACK = Column("playback", Kind.NAME, ("playing", "paused", "stopped", "unknown"))
SEATS = Column("seats", Kind.NUMBER, least=0, most=12)
STEREO = Column("stereo", Kind.TRUTH, unknown=True)


@pytest.mark.parametrize(
    ("column", "test", "words", "case"),
    [
        (ASPECT, "[2.00..2.20)", "aspect 2.00 up to 2.20", '{aspect: "[2.00..2.20)"}'),
        (ASPECT, "2.39", "aspect 2.39", "{aspect: 2.39}"),
        (ASPECT, "< 1.70, null", "aspect below 1.70 or not known", '{aspect: "null, < 1.70"}'),
        (ASPECT, "> 2.295", "aspect 2.30 or more", '{aspect: ">= 2.30"}'),
        (ASPECT, "not(null)", "aspect known", '{aspect: "not(null)"}'),
        (TIME, ">= 22:00", "time 22:00 up to 24:00", '{time: ">= 22:00"}'),
        (TIME, ">= 22:00, < 7:00", "time 22:00 up to 07:00", '{time: "< 07:00, >= 22:00"}'),
        (TIME, "20:15", "time 20:15", '{time: "20:15"}'),
        (SOURCE, "disc", "source disc", "{source: disc}"),
        (SOURCE, "disc, games", "source known, not streamer", '{source: "not(streamer)"}'),
        (SOURCE, "null, not(games)", "source not games", '{source: "null, not(games)"}'),
        (SOURCE, "null", "source not known", "{source: null}"),
        (PLAYBACK, "paused", "paused", "{playback: paused}"),
        (PLAYBACK, "paused, playing", "paused or playing", '{playback: "paused, playing"}'),
        (PLAYBACK, "unknown", "playback unknown", "{playback: unknown}"),
        (PLAYBACK, "not(stopped)", "playback not stopped", '{playback: "not(stopped)"}'),
        (SEATS, "[3..5]", "seats 3 to 5", '{seats: "[3..5]"}'),
        (SEATS, "< 3", "seats 2 or less", '{seats: "<= 2"}'),
        (SEATS, "> 11", "seats 12", "{seats: 12}"),
        (STEREO, "yes, null", "stereo yes or not known", '{stereo: "null, yes"}'),
        (STEREO, "yes, no", "stereo known", '{stereo: "not(null)"}'),
        (STEREO, "-", "always", "{}"),
    ],
)
def test_a_box_is_said_as_people_and_as_room_files_say_it(
    column: Column, test: str, words: str, case: str
) -> None:
    box = (within_domain(parse_test(test, column).region, domain_of(column)),)
    assert box_sentence(box, (column,)) == words
    assert case_of(box, (column,)) == case


def test_columns_that_say_nothing_of_their_values_are_shown_as_tests() -> None:
    column = Column("score")
    box = (interval(130, 130),)
    assert box_sentence(box, (column,)) == "score 130"
    assert case_of(box, (column,)) == "{score: 130}"


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
