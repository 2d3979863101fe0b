"""The commands as a person and a script meet them: what they print, and with which status."""

from __future__ import annotations

import gzip
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from adapters.cli.command_group import app
from engine.transition_table import diagram
from simulator.shipped import DEMO_ROOM, NIGHTS
from tests.adapters.commands import run

EVENING = NIGHTS / "evening.jsonl"


def edited(night: Path, into: Path, number: int, line: bytes) -> Path:
    """Copy a night with one line (counted from 1) put in place of another."""
    lines = night.read_bytes().splitlines()
    lines[number - 1] = line
    into.write_bytes(b"\n".join(lines) + b"\n")
    return into


def test_the_demo_tells_an_evening_to_a_stranger() -> None:
    done = run("demo")
    assert done.exit_code == 0
    assert re.search(r"20:48:\d\d  recall    lens to preset 'broad'", done.output)
    assert "scope - It fills the screen." in done.output
    assert "source disc, playback playing, aspect 2.39" in done.output
    assert "never look into the lens" in done.output
    assert "Lens to tall: 1 ordered (0 not confirmed), 1 by hand." in done.output


def test_a_replay_gives_every_decision_as_a_line_of_json() -> None:
    done = run("replay", EVENING, "--json")
    assert done.exit_code == 0
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    expected = (NIGHTS / "evening.decisions.jsonl").read_text("utf-8").splitlines()
    assert [line for line in lines if "decision" in line] == [json.loads(one) for one in expected]


def test_a_replay_stops_at_the_time_it_is_told() -> None:
    whole = run("replay", EVENING, "--json").stdout.splitlines()
    until = run("replay", EVENING, "--json", "--until", "20:47").stdout.splitlines()
    assert 0 < len(until) < len(whole)
    assert until == whole[: len(until)]
    seconds = run("replay", EVENING, "--json", "--until", "4679.999s").stdout.splitlines()
    assert seconds == until


def test_a_night_with_its_decisions_verifies_and_one_with_other_decisions_does_not(
    tmp_path: Path,
) -> None:
    night = tmp_path / "night.jsonl"
    assert run("invent", DEMO_ROOM, "--seed", 5, "--out", night).exit_code == 0
    good = run("replay", night, "--verify")
    assert (good.exit_code, good.output.count("\n")) == (0, 1)
    night.write_bytes(night.read_bytes().replace(b'"cue":"lamps"', b'"cue":"lamp"', 1))
    bad = run("replay", night, "--verify", "--json")
    assert bad.exit_code == 1
    assert len(bad.stdout.splitlines()) == 1
    assert '"cue":"lamp"' in json.loads(bad.stdout)["recorded"]


def test_a_packed_night_replays_like_the_plain_one(tmp_path: Path) -> None:
    packed = tmp_path / "evening.gz"
    packed.write_bytes(gzip.compress(EVENING.read_bytes()))
    assert run("replay", packed, "--json").stdout == run("replay", EVENING, "--json").stdout


def test_other_rules_for_the_same_night(tmp_path: Path) -> None:
    room = tmp_path / "other.yaml"
    text = DEMO_ROOM.read_text("utf-8")
    room.write_text(text.replace("  pause: 20 min", "  recalls: {per_night: 0}"), "utf-8")
    done = run("replay", EVENING, "--room", room)
    assert done.exit_code == 0
    assert "recall    lens" not in done.output
    assert "This night has had its recalls." in done.output


def test_a_broken_promise_is_said_and_gives_status_1(tmp_path: Path) -> None:
    room = tmp_path / "other.yaml"
    text = DEMO_ROOM.read_text("utf-8")
    room.write_text(text.replace('not(plain, whole, dark)"', 'whole"'), "utf-8")
    done = run("replay", EVENING, "--room", room)
    assert done.exit_code == 1
    assert "promise broken: plain menus - Menus are never stretched." in done.output


def test_why_marks_the_table_and_says_what_held_the_room_back(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("COLUMNS", "200")  # Long cells are broken where a window ends.
    done = run("why", EVENING, "--at", "21:14:30", "--expected", "preset=broad")
    assert done.exit_code == 1
    assert "+ >= 2.30" in done.output
    assert "> the row that holds, + a condition that is met, x one that is not" in done.output
    assert "resting at tall" in done.output
    assert "preset broad was not wanted: tall was." in done.output
    assert "A person had the room: the rules ordered nothing." in done.output
    assert "override begun" in done.output


def test_why_as_json_names_the_columns_that_failed() -> None:
    done = run("why", EVENING, "--at", "20:46:10", "--expected", "broad", "--json")
    assert done.exit_code == 1
    data = json.loads(done.stdout)
    assert [*data["holds"]] == ["panels", "linger"]
    assert data["won"] == "scope"
    assert data["rows"][0]["failed"] == ["watching"]
    assert "held back" in data["reasons"][0]


def test_why_is_content_when_the_expected_stood() -> None:
    done = run("why", EVENING, "--at", "21:00", "--expected", "plain preset=broad panels=open")
    assert done.exit_code == 0
    assert "It stood just so." in done.output


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("replay", "nowhere.jsonl"), "there is no such file"),
        (("replay", "."), "this is a folder"),
        (("replay", DEMO_ROOM), "this is a room file, and a night is meant here"),
        (("replay", EVENING, "--until", "25:00"), "no time of day"),
        (("why", EVENING, "--at", "yesterday"), "write 21:14"),
        (
            ("why", EVENING, "--at", "19:29"),
            "this night ends at 21:46:30; name a moment from 19:30:00 to then",
        ),
        (
            ("why", EVENING, "--at", "2026-11-22T18:00:00Z"),
            "this night begins at 19:30:00; name a later moment",
        ),
        (("why", EVENING, "--at", "0001-01-01T00:00:00Z"), "outside the years 1970 to 2200"),
        (("replay", EVENING, "--until", "1970-01-02T00:00:00Z"), "night begins at 19:30:00"),
        (("replay", EVENING, "--from", "2199-01-02T00:00:00Z"), "night ends at 21:46:30"),
        (("invent", DEMO_ROOM, "--begins", "9999-12-31", "--out", "x"), "outside the years"),
        (
            ("replay", EVENING, "--decisions", "other.jsonl"),
            "--decisions goes with --verify: add it, or leave both out",
        ),
        (("why", EVENING, "--at", "21:14", "--expected", "gentel"), "no part of a look"),
        (("replay", EVENING, "--room", EVENING), "error:"),
        (("check", "nowhere.yaml"), "there is no such file"),
        (("check", EVENING), "error:"),
        (
            ("settle", EVENING),
            "evening.jsonl: this is a night, and a file of readings is meant here",
        ),
        (("report", EVENING, "--out", "no/such/place.html"), "no folder no/such; make it first"),
        (("report", EVENING, "--out", "-"), "written to a file; name one"),
        (("invite", "--remove"), "say whom to remove"),
        (("invite", "ana", "--page", "http://hall.lan:99999"), "write http://192.0.2.7:8480"),
        (("tell", DEMO_ROOM, "source", "{}"), "name the room, not its file, such as hayloft"),
        (("tell", "r" * 300, "source", "{}"), "rrr' is no room's name: write one, such as"),
        (("align", DEMO_ROOM, "--book", "b" * 300), "bbb: File name too long"),
        (("settle", os.devnull), "holds no readings"),
        (("wear", DEMO_ROOM, "--night", DEMO_ROOM), "hayloft.yaml: this is a room file, and a"),
        (("wear", DEMO_ROOM, "--night", os.devnull), f"{os.devnull}: this file is empty"),
    ],
)
def test_unusable_input_is_named_in_one_sentence_with_status_2(
    words: tuple[object, ...], says: str
) -> None:
    done = run(*words)
    assert done.exit_code == 2
    assert says in done.output
    assert "Traceback" not in done.output


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ({"night": 1}, "has format 1, with other names for some things"),
        (
            {"room_file": "zone: Europe/Lisbon\n"},
            "(room_file):1:1: error: zone is not known here. Did",
        ),
        ({"state": "[3,{}]"}, "line 1: state: a snapshot of version 3, "),
        ({"state": "{}"}, "line 1: state: this is no snapshot of version "),
        ({"begins": "1970-01-01T00:00:00+14:00"}, "begins lies outside the years 1970 to 2200"),
        ({"begins": "2200-12-31T23:00:00-02:00"}, "begins lies outside the years 1970 to 2200"),
    ],
)
@pytest.mark.parametrize("command", [("replay",), ("why", "--at", "20:00")])
def test_a_night_of_an_older_roomcue_is_refused_with_its_place(
    written: dict[str, object], says: str, command: tuple[str, ...], tmp_path: Path
) -> None:
    """Nothing of it is released: it says who can read it, or which word is another one today."""
    head, *lines = EVENING.read_text("utf-8").splitlines()
    night = tmp_path / "old.jsonl"
    night.write_text("\n".join([json.dumps({**json.loads(head), **written}), *lines]), "utf-8")
    done = run(command[0], night, *command[1:])
    assert done.exit_code == 2
    assert f"{night}" in done.output
    assert says in done.output
    assert "Traceback" not in done.output


@pytest.mark.parametrize(
    ("line", "says"),
    [
        (b'{"t": 1} {"t": 2}', "more follows the first object; two lines may be joined here"),
        (b'{"t": 1, "x": "' + b"x" * (1 << 20) + b'"}', "line 5: this line is longer than 1 MiB"),
        (b"{", "line 5: invalid JSON: it ends before it is complete, so it was cut off"),
        (b'{"t": 1, "event": {"kind": "mar', "complete, so it was cut off"),
        (b'{"t": 1, "event": nothing}', "invalid JSON at character 20: expected ident"),
        (b'{"night": 2, "room": "hayloft"}', "another night begins here; give each a file"),
        (b'{"t": 1}', "line 5: a line holds one of 'event' and 'decision'"),
        (b'{"t": NaN, "event": {"kind": "mark"}}', "line 5: t"),
        (b'{"t": 1, "event": {"kind": "market"}}', "line 5: event: one of 'source', "),
        (
            b'{"t": 1, "event": {"kind": "market"}}',
            """as 'kind' is expected (given: {"kind": "market"})""",
        ),
        (b'{"t": 1, "event": {"kind": "ratio", "ratio": 239}}', "plain number from 1 to 4"),
        (
            b'{"t": 1, "event": {"kind": "mark", "wordz": ""}}',
            "wordz: nothing of that name belongs here",
        ),
        (b'{"t": 0, "event": {"kind": "playback", "state": "play"}}', "'playing', 'paused'"),
        (b"\xff\xfe", "line 5"),
    ],
)
def test_a_bad_line_is_named_by_its_number_and_passed_over_when_asked(
    tmp_path: Path, line: bytes, says: str
) -> None:
    night = edited(EVENING, tmp_path / "night.jsonl", 5, line)
    refused = run("replay", night)
    assert refused.exit_code == 2
    assert says in refused.output
    assert "Traceback" not in refused.output
    passed = run("replay", night, "--skip-bad-lines", "--json")
    assert passed.exit_code == 1
    assert len(passed.stdout.splitlines()) > 10


def test_time_in_a_night_never_goes_back(tmp_path: Path) -> None:
    late = b'{"t": 0.5, "event": {"kind": "mark"}}'
    done = run("replay", edited(EVENING, tmp_path / "night.jsonl", 20, late))
    assert done.exit_code == 2
    assert "line 20: t goes back" in done.output


def test_settle_prints_each_settled_change(tmp_path: Path) -> None:
    readings = tmp_path / "readings.jsonl"
    lines = []
    for frame in range(24 * 20):
        bar = 0 if frame < 24 * 5 else 138
        bars = {"top": bar, "bottom": bar, "left": 0, "right": 0}
        lines.append(json.dumps({"t": round(frame / 24, 4), "bars": bars}))
    readings.write_text("\n".join(lines), "utf-8")
    done = run("settle", readings, "--json")
    assert done.exit_code == 0
    first, second = (json.loads(line) for line in done.stdout.splitlines())
    assert (round(first["aspect"], 2), round(second["aspect"], 2)) == (1.78, 2.39)
    assert first["t"] <= 0.6
    assert 9 <= second["t"] <= 9.1
    assert "2.39" in run("settle", readings).output


def test_a_bad_reading_is_named_by_its_number(tmp_path: Path) -> None:
    readings = tmp_path / "readings.jsonl"
    good = '{"t": 0, "bars": null}\n'
    readings.write_text(good + '{"t": 1, "bars": {"top": -1}}\n', "utf-8")
    done = run("settle", readings)
    assert done.exit_code == 2
    assert "line 2" in done.output
    readings.write_text(
        good + '{"t": 1, "bars": {"top": 900, "bottom": 900, "left": 0, "right": 0}}\n', "utf-8"
    )
    said = run("settle", readings).output
    assert "larger than the raster of 1920 x 1080: name theirs with --raster" in said


def test_states_prints_the_diagram() -> None:
    assert run("states").stdout == diagram()


def test_the_decision_log_is_one_line_of_json_a_decision() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "adapters.cli", "replay", str(EVENING), "--json", "--log", "json"],
        capture_output=True,
        check=True,
    )
    logged = [json.loads(line) for line in done.stderr.splitlines()]
    assert len(logged) == done.stdout.count(b'"decision"')
    assert {line["room"] for line in logged} == {"hayloft"}
    assert all(
        line["reason"] and line["rule"] and line["at"].startswith("2026-") for line in logged
    )


def test_output_that_nobody_reads_on_ends_quietly() -> None:
    command = f"{sys.executable} -m adapters.cli replay {EVENING} | head -n 2"
    done = subprocess.run(["bash", "-c", command], capture_output=True, check=True)
    assert done.stdout.count(b"\n") == 2
    assert done.stderr == b""


def test_a_night_comes_in_by_standard_input() -> None:
    piped = subprocess.run(
        [sys.executable, "-m", "adapters.cli", "replay", "-", "--json"],
        input=gzip.compress(EVENING.read_bytes()),
        capture_output=True,
        check=True,
    )
    assert piped.stdout.decode() == run("replay", EVENING, "--json").stdout


def test_decisions_may_lie_in_a_file_of_their_own() -> None:
    beside = NIGHTS / "evening.decisions.jsonl"
    assert run("replay", EVENING, "--verify", "--decisions", beside).exit_code == 0
    other = run("replay", EVENING, "--verify", "--decisions", NIGHTS / "pause.decisions.jsonl")
    assert other.exit_code == 1
    none = run("replay", EVENING, "--verify")
    assert none.exit_code == 2
    assert "no decisions are recorded in this night" in none.output


@pytest.mark.parametrize("words", [f"replay {EVENING}", "states", "check --help"])
def test_a_full_disk_is_the_output_s_fault_and_said_so(words: str) -> None:
    command = f"{sys.executable} -m adapters.cli {words} > /dev/full"
    done = subprocess.run(["bash", "-c", command], capture_output=True, check=False)
    assert done.returncode == 2
    assert b"the output cannot be written: No space left" in done.stderr
    assert b"Traceback" not in done.stderr


def test_a_file_is_not_written_over_without_being_told(tmp_path: Path) -> None:
    night = tmp_path / "night.jsonl.gz"
    assert run("invent", DEMO_ROOM, "--out", night).exit_code == 0
    again = run("invent", DEMO_ROOM, "--out", night)
    assert again.exit_code == 2
    assert "--force" in again.output
    assert run("invent", DEMO_ROOM, "--out", night, "--force").exit_code == 0
    assert run("replay", night, "--verify").exit_code == 0


def test_letters_that_a_terminal_does_not_know_are_spelled_out(tmp_path: Path) -> None:
    room = tmp_path / "room.yaml"
    text = DEMO_ROOM.read_text("utf-8")
    room.write_text(text.replace("It fills the screen.", "Füllt → alles."), "utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "adapters.cli", "replay", str(EVENING), "--room", str(room)],
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
        capture_output=True,
        check=True,
    )
    assert b"F\\xfcllt \\u2192 alles." in done.stdout


def test_a_narrow_terminal_gets_a_list_and_no_table() -> None:
    done = CliRunner(env={"COLUMNS": "60"}).invoke(app, ["why", str(EVENING), "--at", "21:00"])
    assert done.exit_code == 0
    assert max(len(line) for line in done.output.splitlines()) <= 60
    assert "x not(paused, playing)" in done.output
    assert "  otherwise\n    shows plain, lamps: low\n" in done.output


@pytest.mark.parametrize("width", [60, 80, 110, 150, 171, 172, 200])
def test_however_wide_the_output_no_test_of_a_rule_is_broken_apart(width: int) -> None:
    done = CliRunner(env={"COLUMNS": str(width)}).invoke(
        app, ["why", str(EVENING), "--at", "21:00"]
    )
    assert "x [1.70..1.95)" in done.output
    assert "+ not(refused)" in done.output
    assert ("row  " in done.output) is (width >= 172)


@pytest.mark.parametrize("width", [60, 110])
def test_no_line_that_was_wrapped_ends_in_a_space(width: int) -> None:
    done = CliRunner(env={"COLUMNS": str(width)}).invoke(app, ["replay", str(EVENING)])
    assert "raised 11 %, " in done.output
    assert not [line for line in done.output.splitlines() if line.endswith(" ")]


def test_a_night_that_an_editor_has_marked_as_utf_8_is_read(tmp_path: Path) -> None:
    night = tmp_path / "marked.jsonl"
    night.write_bytes(b"\xef\xbb\xbf" + EVENING.read_bytes())
    assert run("replay", night).output == run("replay", EVENING).output


def test_a_packed_night_that_was_cut_off_is_told_to_be_that(tmp_path: Path) -> None:
    night = tmp_path / "cut.jsonl.gz"
    night.write_bytes(gzip.compress(EVENING.read_bytes())[:2_000])
    done = run("replay", night)
    assert done.exit_code == 2
    assert "it was cut off; copy it anew" in done.output
