"""An evening may be written down line by line; what cannot be played is told with its place."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from adapters.cli.typed_script import MOST_MISTAKES, ScriptError, read_typed_script
from engine.events import Playback, ProjectorReport, SourceChosen, Title, moment_of
from simulator.nights.stand_in_hub import TimedEvent
from simulator.shipped import DEMO_ROOM
from tests.adapters.commands import run
from tests.adapters.hayloft import HAYLOFT

DAY = date(2026, 11, 22)
SCRIPT = """\
# A film, and a little of the next day.

20:30 projector lit
20:30:05 source disc
20:31:00.5 playback playing
23:59 title begins 'a late film' 2.39
0:10  playback stopped
"""


def read(text: str) -> list[TimedEvent]:
    return read_typed_script("evening.txt", text.encode().splitlines(keepends=True), HAYLOFT, DAY)


def mistakes(text: str) -> list[str]:
    with pytest.raises(ScriptError) as error:
        read(text)
    return str(error.value).splitlines()


def test_each_line_is_a_local_time_and_what_is_said_then() -> None:
    """Winter in Lisbon is UTC; past midnight is the next day."""
    told = [(f"{moment_of(one.now):%d %H:%M:%S.%f}"[:-5], one.event) for one in read(SCRIPT)]
    assert told == [
        ("22 20:30:00.0", ProjectorReport(state="lit")),
        ("22 20:30:05.0", SourceChosen(source="disc")),
        ("22 20:31:00.5", Playback(state="playing")),
        ("22 23:59:00.0", Title(begun=True, name="a late film", declared=2.39)),
        ("23 00:10:00.0", Playback(state="stopped")),
    ]


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("source disc", "'source disc' does not begin with a time of day: write a time and"),
        ("25:00 source disc", "25:00 is no time of day: hours go to 23, minutes and seconds to 59"),
        ("20:60 source disc", "20:60 is no time of day"),
        ("20.30 source disc", "does not begin with a time of day"),
        ("20:30", "does not begin with a time of day"),
        ("20:30 sorce disc", "'sorce' is nothing that can be said: did you mean 'source'?"),
        ("20:30 source dsic", "this room has no source 'dsic': did you mean 'disc'?"),
        ("20:30 told guests 7", "guests"),
        ("20:30 playback plays", "state"),
        ("20:29 source disc", "20:29 lies before 20:30:00, which stands above it: write what"),
    ],
)
def test_a_line_that_cannot_be_played_is_told_with_its_place(line: str, words: str) -> None:
    (told,) = mistakes(f"20:30 projector lit\n\n{line}\n20:40 black\n")
    assert told.startswith("evening.txt:3: ")
    assert words in told


def test_all_mistakes_are_told_at_once_but_no_flood_of_them() -> None:
    assert len(mistakes("20:30 sorce\n20:31 playbak\n")) == 2
    told = mistakes("room: den\n" * (MOST_MISTAKES + 3))
    assert told[-1] == "and 3 more"
    assert len(told) == MOST_MISTAKES + 1


@pytest.mark.parametrize("text", ["", "\n# nothing yet\n"])
def test_a_script_in_which_nothing_happens_says_what_to_write(text: str) -> None:
    (told,) = mistakes(text)
    assert told.startswith("evening.txt: nothing happens in this script: write a time and")


def test_the_commands_end_with_the_mistakes_and_status_2(tmp_path: Path) -> None:
    path = tmp_path / "evening.txt"
    path.write_text("20:30 sorce disc\n20:20\n", "utf-8")
    ended = run("rehearse", DEMO_ROOM, path)
    assert ended.exit_code == 2
    assert f"{path}:1: 'sorce' is nothing that can be said" in ended.output
    assert f"{path}:2: '20:20' does not begin with a time of day" in ended.output


def test_each_mistake_of_a_script_is_printed_on_a_line_of_its_own(tmp_path: Path) -> None:
    script = tmp_path / "evening.txt"
    script.write_text("20:30 sorce disc\n20:31 playbak paused\n", "utf-8")
    done = run("rehearse", DEMO_ROOM, script)
    assert done.exit_code == 2
    first, second = done.stderr.splitlines()
    assert first.startswith(f"error: {script}:1: 'sorce' is nothing")
    assert second.startswith(f"error: {script}:2: 'playbak' is nothing")
