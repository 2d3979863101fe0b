"""The rooms that come along: sound, exact, and a schema beside them that is up to date."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from engine.room import Show
from engine.table import Policy, Row, RuleTable, compile_table
from engine.value_set import ANYTHING, NOTHING, ValueSet
from rules.room.load import load, read_room
from rules.room.schema_json import schema_text
from rules.table.analysis import analyse_table
from rules.table.table_findings import table_findings
from rules.text.findings import Finding, Severity
from rules.words.fluent_catalogue import languages
from simulator.shipped import CELLAR, DEMO_ROOM, FOLDER, LONGROOM, ROOMS, SCHEMA

EXACT = (CELLAR, LONGROOM)
"""Rooms whose rows are a partition: every case has one row, and nothing is left over."""


def name_of(path: Path) -> str:
    return path.stem


def findings(path: Path) -> list[Finding]:
    text = path.read_text("utf-8")
    return [*(loaded := read_room(text, path.name)).findings, *table_findings(loaded)]


def table_of(path: Path) -> RuleTable[Show]:
    return load(path.read_text("utf-8"), path.name).rules.table


def test_every_room_in_the_folder_is_named() -> None:
    assert sorted(ROOMS) == sorted(FOLDER.glob("*.yaml"))


@pytest.mark.parametrize("path", ROOMS, ids=name_of)
def test_a_shipped_room_has_no_error_and_no_warning(path: Path) -> None:
    assert {one.severity for one in findings(path)} <= {Severity.INFO}


@pytest.mark.parametrize("language", languages())
def test_the_demo_room_lacks_no_word_in_any_language(language: str) -> None:
    """A family reads its labels, its tasks and its reasons; all that differs is one line."""
    text = DEMO_ROOM.read_text("utf-8")
    spoken = text.replace("\nscreen:", f"\nlanguage: {language}\n\nscreen:", 1)
    loaded = read_room(spoken, DEMO_ROOM.name)
    assert loaded.room is not None
    assert loaded.room.catalogue.language == language
    assert "words-missing" not in {one.code for one in loaded.findings}


@pytest.mark.parametrize("path", ROOMS, ids=name_of)
def test_a_shipped_room_is_called_like_its_file_and_promises_something(path: Path) -> None:
    room = load(path.read_text("utf-8"), path.name)
    assert room.name == path.stem
    assert room.promises


@pytest.mark.parametrize("path", ROOMS, ids=name_of)
def test_a_shipped_room_points_editors_at_the_schema_beside_it(path: Path) -> None:
    first = path.read_text("utf-8").splitlines()[0]
    assert first == f"# yaml-language-server: $schema={SCHEMA.name}"
    assert SCHEMA.parent == path.parent


def test_the_schema_beside_the_rooms_is_the_one_that_is_printed() -> None:
    assert SCHEMA.read_text("utf-8") == schema_text()


@pytest.mark.parametrize("path", EXACT, ids=name_of)
def test_every_case_has_exactly_one_row_and_nothing_is_left_to_otherwise(path: Path) -> None:
    assert findings(path) == []
    assert "otherwise:" not in path.read_text("utf-8")
    assert table_of(path).policy is Policy.UNIQUE


@pytest.mark.parametrize("path", EXACT, ids=name_of)
def test_a_cell_that_is_taken_out_makes_two_rows_match_at_once(path: Path) -> None:
    for changed in with_each_cell(table_of(path), ANYTHING):
        assert analyse_table(changed).overlap_count


@pytest.mark.parametrize("path", EXACT, ids=name_of)
def test_a_cell_that_accepts_nothing_leaves_a_gap(path: Path) -> None:
    for changed in with_each_cell(table_of(path), NOTHING):
        assert analyse_table(changed).gap_count


def with_each_cell(table: RuleTable[Show], region: ValueSet) -> Iterator[RuleTable[Show]]:
    """Give the table once for each of its cells, with another region in that cell."""
    for index, row in enumerate(table.rows):
        for column, cell in enumerate(row.cells):
            if cell != ANYTHING:
                cells = (*row.cells[:column], region, *row.cells[column + 1 :])
                rows: list[Row[Show]] = [*table.rows]
                rows[index] = row._replace(cells=cells)
                yield compile_table(table.policy, table.columns, rows)
