"""A box of values in words: as a case, as people say it, and by an example."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from hypothesis import given

from engine.table import Column, RuleTable
from engine.value_set import (
    ANYTHING,
    NOTHING,
    Kind,
    ValueSet,
    intersection,
    interval,
)
from rules.table.analysis import analyse_table
from rules.table.box_sentences import box_sentence, case_of, example_of
from rules.table.domains import domain_of, within_domain
from rules.text.recovery import read_source
from rules.text.unary import parse_test
from rules.text.yaml_nodes import Mapping, Scalar
from tests.rules.random_tables import TABLES, boxes_of


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
THREE_D = Column("three_d", Kind.TRUTH, unknown=True)


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
        (THREE_D, "yes, null", "three_d yes or not known", '{three_d: "null, yes"}'),
        (THREE_D, "yes, no", "three_d known", '{three_d: "not(null)"}'),
        (THREE_D, "-", "always", "{}"),
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
