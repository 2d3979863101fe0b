"""What the simulator's README shows works as it is shown."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from adapters.cli.command_group import app
from simulator.nights.night_file import NightEntry, read_head, read_lines
from simulator.shipped import CELLAR, DEMO_NIGHT, HAYLOFT
from tests.house.tree import TOP

README = (TOP / "simulator" / "README.md").read_text("utf-8")
COMMANDS = re.findall(r"^    roomcue (.+)$", README, re.MULTILINE)
EXPECTED_STATUS = {"why evening.jsonl --at 21:14 --expected broad": 1}
"""What does not end with status 0, since the expected look did not stand."""


def test_the_commands_run_one_after_the_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for file in (HAYLOFT, CELLAR, DEMO_NIGHT):
        shutil.copy(file, tmp_path)
    monkeypatch.chdir(tmp_path)
    assert len(COMMANDS) > 10
    for command in COMMANDS:
        done = CliRunner().invoke(app, shlex.split(command))
        assert done.exit_code == EXPECTED_STATUS.get(command, 0), (command, done.output)


def test_the_night_shown_is_a_night() -> None:
    (night,) = re.findall(r"```json\n(.*?)```", README, re.DOTALL)
    head, *lines = night.encode().splitlines()
    entries = list(read_lines(read_head(head).start, lines))
    assert len(entries) == len(lines)
    assert all(isinstance(entry, NightEntry) for entry in entries)


@pytest.mark.parametrize("room", ["nights", "proof", "wear"])
def test_every_module_is_named(room: str) -> None:
    modules = {path.stem for path in (TOP / "simulator" / room).glob("*.py")} - {"__init__"}
    table = README.split("## Where things are")[1]
    assert modules <= set(re.findall(r"`(\w+)`", table))
