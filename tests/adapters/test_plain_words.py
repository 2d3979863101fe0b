"""What the command line says of itself and of a slip is whole, and is said in plain words."""

from __future__ import annotations

import re
from importlib import import_module

import pytest

from adapters.cli.command_group import COMMANDS
from simulator.shipped import DEMO_NIGHT, DEMO_ROOM
from tests.adapters.commands import run


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("invent", DEMO_ROOM, "--titles", "three"), "'--titles': write a whole number."),
        (("invent", DEMO_ROOM, "--titles", "0"), "'--titles': write 1 or more."),
        (("invent", DEMO_ROOM, "--titles", "21"), "'--titles': write 20 or less."),
        (("rehearse", DEMO_ROOM, "--speed", "fast"), "'--speed': write a number."),
        (("replay", DEMO_NIGHT, "--only", "fault"), "'--only': 'fault' is not one of 'faults',"),
    ],
)
def test_what_an_option_cannot_be_is_said_with_what_it_can(
    words: tuple[object, ...], says: str
) -> None:
    done = run(*words)
    assert done.exit_code == 2
    assert says in " ".join(done.output.split())


def test_the_list_of_commands_cuts_no_sentence_off() -> None:
    listed = run("--help").stdout.partition("Commands:")[2]
    entries = [" ".join(one.split()) for one in re.split(r"\n  (?=\w)", listed.rstrip())]
    assert [one for one in entries if one.endswith("...") or not one.endswith(".")] == [""]


def test_help_names_every_command_and_a_slip_is_set_right() -> None:
    written = {
        command.name or command.callback.__name__
        for place in COMMANDS
        for command in getattr(import_module(f"adapters.cli.{place}"), place).registered_commands
    }
    named = {name for names in COMMANDS.values() for name in names}
    assert written == named
    help_ = run("--help").stdout
    assert all(f"\n  {name} " in help_ for name in {*named, "version"})
    assert "Did you mean 'check'" in run("chekc").output
