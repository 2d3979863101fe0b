"""What the page of the adapters shows works as it is shown."""

from __future__ import annotations

import json
import re
import shlex

import pytest
from typer.testing import CliRunner, Result

from adapters.cli.command_group import COMMANDS, app
from adapters.cli.exit_status import OK
from tests.house.tree import TOP

PAGE = (TOP / "adapters" / "README.md").read_text("utf-8")
EXAMPLES = re.findall(r"^    roomcue (.+)$", PAGE, re.MULTILINE)
ROWS = dict(re.findall(r"^\| `roomcue (\w+)[^|]*\|[^|]*\|(.*)\|$", PAGE, re.MULTILINE))


def run(words: str) -> Result:
    """Run a command as the page has it."""
    return CliRunner().invoke(app, shlex.split(words))


@pytest.fixture(autouse=True)
def _at_the_top(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(TOP)


@pytest.mark.parametrize("example", EXAMPLES)
def test_an_example_runs(example: str) -> None:
    done = run(example)
    assert done.exit_code == OK, done.output
    assert done.stdout


def test_every_command_has_a_row_and_every_row_a_command() -> None:
    assert set(ROWS) == {name for names in COMMANDS.values() for name in names}


@pytest.mark.parametrize("command", ROWS)
def test_every_option_has_a_place_in_the_row_of_its_command(command: str) -> None:
    offered = set(re.findall(r"--[a-z][a-z-]*", run(f"{command} --help").output))
    row = next(line for line in PAGE.splitlines() if line.startswith(f"| `roomcue {command}"))
    shown = set(re.findall(r"--[a-z][a-z-]*", row))
    assert shown <= offered
    assert offered - shown <= {"--help", "--not-realigned"}


@pytest.mark.parametrize(
    ("command", "called"),
    [
        ("why", "why simulator/shipped/nights/evening.jsonl --at 21:14 --json"),
        ("check", "check simulator/shipped/hayloft.yaml --quick --json"),
    ],
)
def test_the_fields_named_are_those_that_are_given(command: str, called: str) -> None:
    row = next(line for line in PAGE.splitlines() if line.startswith(f"| `{command}` | one object"))
    named = set(re.findall(r"`(\w+)`", row)) - {command}
    assert named == set(json.loads(run(called).stdout))


def test_each_folder_of_the_floor_has_a_row() -> None:
    folders = {path.parent.name for path in (TOP / "adapters").glob("*/__init__.py")}
    assert folders <= set(re.findall(r"^\| `(\w+)` \|", PAGE, re.MULTILINE))
