"""What the README shows works as it is shown."""

from __future__ import annotations

import re
from typing import get_args

import pytest
from typer.testing import CliRunner

from adapters.cli.main import app
from engine.events import EVENTS, Event
from engine.facts import room_columns
from rules.room.load import read_room
from simulator.nights.night_file import NIGHT_LINES
from tests.engine.story import HAYLOFT
from tests.house.tree import TOP

README = (TOP / "README.md").read_text("utf-8")
EXAMPLES = re.findall(r'`(\{"kind":.*?\})`', README)


@pytest.mark.parametrize("example", EXAMPLES)
def test_an_event_shown_is_an_event(example: str) -> None:
    assert EVENTS.validate_json(example).kind in example


def test_every_kind_of_event_is_shown() -> None:
    kinds = {event.__dataclass_fields__["kind"].default for event in get_args(Event)}
    assert {EVENTS.validate_json(example).kind for example in EXAMPLES} == kinds


def test_the_small_room_file_loads_clean() -> None:
    text = README.split("```yaml\n")[1].split("```")[0]
    loaded = read_room(text, "README.md")
    assert loaded.room is not None
    assert not [finding for finding in loaded.findings if finding.fatal]


def test_every_command_shown_is_there_and_every_command_is_shown() -> None:
    shown = set(re.findall(r"^\| `roomcue (\w+)", README, re.MULTILINE))
    listed = CliRunner().invoke(app, ["--help"]).output.split("Commands:")[1]
    assert shown == {line.split()[0] for line in listed.splitlines() if line[:3].strip()}


def test_every_fact_is_named() -> None:
    for column in room_columns(HAYLOFT):
        if column.name not in HAYLOFT.told:
            assert f"`{column.name}`" in README


def test_a_line_of_a_night_is_as_shown() -> None:
    line = NIGHT_LINES.validate_json('{"t": 12.5, "event": {"kind":"mark"}}')
    assert line.t == 12.5
    assert '{"t": seconds, "event": {...}}' in README
