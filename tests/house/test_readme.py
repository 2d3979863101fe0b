"""What the README shows works as it is shown."""

from __future__ import annotations

import re

from typer.testing import CliRunner

from adapters.cli.command_group import app
from rules.room.load import read_room
from tests.house.module_map import PAGE, module_map
from tests.house.night_picture import picture
from tests.house.tree import TOP

README = (TOP / "README.md").read_text("utf-8")


def test_it_is_read_in_two_minutes() -> None:
    assert len(README.splitlines()) <= 150


def test_the_small_room_file_has_twelve_lines_and_loads_clean() -> None:
    text = README.split("```yaml\n")[1].split("```")[0]
    loaded = read_room(text, "README.md")
    assert loaded.room is not None
    assert not [finding for finding in loaded.findings if finding.fatal]
    assert len(text.splitlines()) == 12


def test_the_picture_of_the_night_is_drawn_from_its_replay() -> None:
    assert f"```\n{picture()}```" in README


def test_the_decision_shown_is_one_of_the_demo() -> None:
    shown = README.split("on which facts and why:\n\n")[1].split("\n\n")[0].splitlines()
    printed = CliRunner().invoke(app, ["demo"]).output.splitlines()
    assert {line.removeprefix("    ") for line in shown} <= {*printed}


def test_every_page_that_it_sends_to_is_there() -> None:
    pages = re.findall(r"\]\((.*?)\)", README)
    assert pages
    for page in pages:
        assert (TOP / page).is_file()


def test_every_command_that_it_shows_is_there() -> None:
    listed = CliRunner().invoke(app, ["--help"]).output.split("Commands:")[1]
    commands = {line.split()[0] for line in listed.splitlines() if line[:3].strip()}
    shown = {*re.findall(r"roomcue (\w+) ", README)}
    assert shown & commands
    assert {*re.findall(r"bin/roomcue (\w+) ", README)} <= commands


def test_the_list_of_modules_is_as_the_tree_is() -> None:
    """`python -m tests.house.module_map` writes it anew."""
    text = PAGE.read_text("utf-8")
    assert f"<!-- modules -->\n{module_map()}<!-- /modules -->" in text
