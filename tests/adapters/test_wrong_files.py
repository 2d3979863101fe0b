"""Whoever mixes up files or moments hears which file it is, once, and nothing is written."""

from __future__ import annotations

import gzip
import sqlite3
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from adapters.cli.command_group import app
from simulator.shipped import DEMO_NIGHT, DEMO_ROOM

A_ROOM = "this is a room file"
MEASURED = b'{"id":1,"at":"2026-11-20T12:00:00Z","preset":"tall","kind":"measured"}\n'


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(word) for word in words])


@pytest.fixture
def files(tmp_path: Path) -> dict[str, Path]:
    """One file of each kind."""
    made = {name: tmp_path / name for name in ("book", "base", "packed", "deep")}
    made["book"].write_bytes(MEASURED)
    made["packed"].write_bytes(gzip.compress(DEMO_NIGHT.read_bytes()))
    made["deep"].write_text("[" * 200_000, "utf-8")
    with sqlite3.connect(made["base"]) as base:
        base.execute("CREATE TABLE other (one)")
    return {**made, "room": DEMO_ROOM, "night": DEMO_NIGHT}


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ("room", A_ROOM),
        ("book", "this is a book of measurements"),
        ("base", "this is a journal or another database"),
    ],
)
@pytest.mark.parametrize(
    "command", [("replay",), ("why", "--at", "21:00"), ("report", "--out", "never.html")]
)
def test_where_a_night_is_meant_another_file_is_named_for_what_it_is(
    command: tuple[str, ...], given: str, says: str, files: dict[str, Path]
) -> None:
    done = run(command[0], files[given], *command[1:])
    assert done.exit_code == 2
    assert f"{says}, and a night is meant here: 'roomcue export' and 'invent' write" in done.output


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ("night", "this is a night"),
        ("packed", "this is a night"),
        ("book", "this is a book of measurements"),
        ("base", "this is a journal or another database"),
    ],
)
@pytest.mark.parametrize("command", ["check", "plan", "invent", "visit", "topics"])
def test_where_a_room_file_is_meant_another_file_is_named_for_what_it_is(
    command: str, given: str, says: str, files: dict[str, Path]
) -> None:
    done = run(command, files[given])
    assert done.exit_code == 2
    assert f"{says}, and a room file is meant here" in done.output


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ("room", A_ROOM),
        ("night", "this is a night"),
        ("packed", "this is a night"),
        ("book", "this is a book of measurements"),
        ("base", "this is a journal or another database"),
    ],
)
@pytest.mark.parametrize("passed_over", [(), ("--skip-bad-lines",)])
def test_where_readings_are_meant_another_file_is_named_for_what_it_is(
    given: str, says: str, passed_over: tuple[str, ...], files: dict[str, Path]
) -> None:
    done = run("settle", files[given], *passed_over)
    assert done.exit_code == 2
    assert says in done.output
    assert 'a line is {"t": 12.5, "bars": ' in done.output
    assert "invalid JSON" not in done.output


@pytest.mark.parametrize("given", ["room", "night", "base"])
def test_a_measurement_is_added_to_no_file_that_is_another_one(
    given: str, files: dict[str, Path], tmp_path: Path
) -> None:
    other = tmp_path / "other"
    other.write_bytes(files[given].read_bytes())
    read = ("--preset", "tall", "--edges", "1 0 1 0 mm", "--error", "0.5 mm", "--book", other)
    done = run("align", DEMO_ROOM, *read)
    assert done.exit_code == 2
    assert "and a book of measurements is meant here" in done.output
    assert other.read_bytes() == files[given].read_bytes()


def test_a_measurement_is_added_to_no_file_without_a_line_that_is_one(tmp_path: Path) -> None:
    notes = tmp_path / "notes.txt"
    notes.write_text("Ring the owner.\n", "utf-8")
    read = ("--preset", "tall", "--edges", "1 0 1 0 mm", "--error", "0.5 mm", "--book", notes)
    done = run("align", DEMO_ROOM, *read)
    assert done.exit_code == 2
    assert "no line of this file is a measurement, so nothing is added to it" in done.output
    assert notes.read_text("utf-8") == "Ring the owner.\n"


@pytest.mark.parametrize("given", ["room", "night", "book"])
def test_nobody_is_told_to_move_another_file_away_where_a_journal_is_meant(
    given: str, files: dict[str, Path]
) -> None:
    done = run("export", "--journal", files[given], "--out", "never.jsonl")
    assert done.exit_code == 2
    assert "and a journal is meant here: 'roomcue run' writes one" in done.output
    assert "move it away" not in done.output


def test_what_may_have_been_a_journal_is_told_to_be_none(tmp_path: Path) -> None:
    damaged = tmp_path / "journal"
    damaged.write_bytes(b"\0" * 8_192)
    done = run("export", "--journal", damaged, "--out", "never.jsonl")
    assert done.exit_code == 2
    assert "this is no journal: name another file. If it was one, its beginning is" in done.output


@pytest.mark.parametrize("at", ["19:29", "19:29:59", "12:00", "12:30"])
@pytest.mark.parametrize("also", [(), ("--json",)])
def test_a_moment_before_a_night_of_several_days_begins_is_told_to_be_that(
    at: str, also: tuple[str, ...], tmp_path: Path
) -> None:
    """On the next day that time comes again, and nobody asks about that."""
    long = night_of_two_days(tmp_path)
    done = run("why", long, "--at", at, *also)
    assert done.exit_code == 2
    (said,) = done.output.splitlines()
    assert f"this night begins at 19:30:00; name a later moment. For {at} of the next day" in said
    in_full = said.rpartition(" ")[2]
    assert "." not in in_full
    assert run("why", long, "--at", in_full).output.startswith(f"hayloft at {at}")
    assert run("why", long, "--at", "11:59").output.startswith("hayloft at 11:59:59, 23 November")
    assert run("why", long, "--at", "20:30", *also).exit_code == 0


def night_of_two_days(folder: Path) -> Path:
    """Let a night that begins at 19:30 last until the next evening."""
    (head, *lines) = DEMO_NIGHT.read_bytes().splitlines(keepends=True)
    last = b'{"t": 90000.0, "event": {"kind": "playback", "state": "stopped"}}\n'
    long = folder / "long.jsonl"
    long.write_bytes(b"".join((head, *lines, last)))
    return long


@pytest.mark.parametrize("at", ["19:29", "12:00"])
@pytest.mark.parametrize("option", ["--from", "--to", "--until"])
@pytest.mark.parametrize("also", [(), ("--json",)])
def test_a_part_that_is_named_by_a_time_before_the_night_begins_is_told_likewise(
    at: str, option: str, also: tuple[str, ...], tmp_path: Path
) -> None:
    long = night_of_two_days(tmp_path)
    done = run("replay", long, option, at, *also)
    assert done.exit_code == 2
    (said,) = done.output.splitlines()
    assert f"this night begins at 19:30:00; name a later moment. For {at} of the next day" in said
    assert run("replay", long, option, said.rpartition(" ")[2], *also).exit_code == 0
    assert run("replay", long, option, "11:59", *also).exit_code == 0


@pytest.mark.parametrize("who", [(), ("Ana",)])
def test_what_is_no_list_of_people_is_told_however_it_is_nested(
    who: tuple[str, ...], files: dict[str, Path]
) -> None:
    done = run("invite", *who, "--people", files["deep"])
    assert done.exit_code == 2
    assert "this is no list of people whom roomcue has invited" in done.output


def test_a_list_of_people_without_a_name_is_told() -> None:
    done = run("invite", "Ana", "--people", "")
    assert done.exit_code == 2
    assert "name a file" in done.output


@pytest.mark.parametrize("also", [(), ("--until", "11:00"), ("--json",), ("--only", "faults")])
def test_a_part_that_begins_after_its_night_is_told_and_nothing_else_is(
    also: tuple[str, ...],
) -> None:
    done = run("replay", DEMO_NIGHT, "--from", "23:59", *also)
    assert done.exit_code == 2
    assert done.stdout == ""
    (said,) = done.stderr.splitlines()
    assert said.endswith("this night ends at 21:46:30; name a moment from 19:30:00 to then")


@pytest.mark.parametrize("expected", ["", ",", "="])
def test_a_look_that_names_nothing_is_told(expected: str) -> None:
    done = run("why", DEMO_NIGHT, "--at", "21:00", "--expected", expected)
    assert done.exit_code == 2
    assert f"'{expected}' names no part of a look: write gentle, or preset=tall" in done.output


def test_no_folder_is_made_for_evenings_that_there_are_none_of(tmp_path: Path) -> None:
    room = tmp_path / "den.yaml"
    room.write_text(run("new", "den", *NEW).stdout, "utf-8")
    done = run("check", room, "--nights", tmp_path / "evenings")
    assert done.exit_code == 0, done.output
    assert not (tmp_path / "evenings").exists()


def test_a_file_in_the_place_of_that_folder_is_told_before_anything_is_proven() -> None:
    done = run("check", DEMO_ROOM, "--nights", DEMO_ROOM)
    assert done.exit_code == 2
    assert "is no folder; name another" in done.output


NEW = ("--screen", "3.4 m x 1.78", "--raster", "3840 x 2160", "--sources", "disc")
