"""The commands for room files: a new one is written, and every one is checked."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from rules.room import load
from rules.text.recovery import SourceText
from simulator.shipped import DEMO_NIGHT, DEMO_ROOM
from tests.adapters.commands import run


def test_check_counts_a_rooms_own_promises_and_those_built_in(tmp_path: Path) -> None:
    own = "hayloft loads: 3 sources, 2 presets, 12 rules, 6 promises of its own and"
    assert f"{own} 3 built in.\n" in run("check", DEMO_ROOM, "--quick").output
    room = tmp_path / "room.yaml"
    waived = "\nwaived:\n  - promise: menus plain\n    because: The console's menus are wide.\n"
    room.write_text(DEMO_ROOM.read_text("utf-8") + waived, "utf-8")
    assert f"{own} 2 built in.\n" in run("check", room, "--quick").output


def test_check_shows_a_rooms_defaults_as_a_room_file_of_its_own(tmp_path: Path) -> None:
    shown = run("check", DEMO_ROOM, "--show-defaults")
    assert shown.exit_code == 0
    again = tmp_path / "again.yaml"
    again.write_text(shown.stdout, "utf-8")
    # An equal room is proven in tests/simulator/test_reachability.py.
    assert run("check", again, "--quick").exit_code == 0
    assert "give_up: 15 min  # default" in shown.stdout


@pytest.mark.parametrize("command", [("check",), ("plan",), ("papers", "--out", "papers")])
def test_a_night_where_a_room_file_is_meant_is_one_sentence(command: tuple[str, ...]) -> None:
    done = run(*command, DEMO_NIGHT)
    assert done.exit_code == 2
    assert done.stderr == (
        f"error: {DEMO_NIGHT}: this is a night, and a room file is meant here: "
        "'roomcue new' writes one\n"
    )


def test_check_gives_findings_as_json(tmp_path: Path) -> None:
    room = tmp_path / "room.yaml"
    text = DEMO_ROOM.read_text("utf-8")
    room.write_text(text.replace("time_zone: Europe/Lisbon", "time_zone: Europe/Lisbn"), "utf-8")
    done = run("check", room, "--json")
    assert done.exit_code == 2
    (finding,) = json.loads(done.stdout)["findings"]
    assert (finding["line"], finding["severity"]) == (4, "error")
    assert "Europe/Lisbon" in finding["suggestion"]


NEW = ("new", "parlour", "--screen", "3.4 m x 2.40", "--raster", "4096 x 2160", "--sources")


def test_a_new_room_file_is_written_and_check_finds_no_fault_in_it(tmp_path: Path) -> None:
    room = tmp_path / "parlour.yaml"
    wishes = ("disc, console", "--presets", "2.40, 1.78", "--panels", "1.78")
    done = run(*NEW, *wishes, "--time-zone", "Europe/Lisbon", "--out", room)
    assert (done.exit_code, done.output.count("\n")) == (0, 1)
    checked = run("check", room, "--json")
    assert (checked.exit_code, json.loads(checked.stdout)["findings"]) == (0, [])
    assert run(*NEW, *wishes, "--time-zone", "Europe/Lisbon").stdout == room.read_text("utf-8")


def test_a_new_room_file_is_not_written_over_another_without_being_told(tmp_path: Path) -> None:
    room = tmp_path / "parlour.yaml"
    room.write_text("mine\n", "utf-8")
    refused = run(*NEW, "disc", "--out", room)
    assert refused.exit_code == 2
    assert "--force" in refused.output
    assert room.read_text("utf-8") == "mine\n"
    assert run(*NEW, "disc", "--out", room, "--force").exit_code == 0
    assert run("check", room).exit_code == 0


def test_everything_that_is_wrong_with_a_new_room_is_told_at_once(tmp_path: Path) -> None:
    room = tmp_path / "parlour.yaml"
    done = run(
        *NEW, "disc, Blue Box", "--presets", "2.40, 0.42", "--time-zone", "Lisbn", "--out", room
    )
    assert done.exit_code == 2
    assert "--sources, 2 of 2: error: 'Blue Box' is no name." in done.output
    assert "--presets, 2 of 2: error: 0.42 is out of range." in done.output
    assert "--time-zone: error: Lisbn is no time zone. Did you mean Europe/Lisbon?" in done.output
    assert "Traceback" not in done.output
    assert not room.exists()


def test_check_reads_and_compiles_a_room_file_once(monkeypatch: pytest.MonkeyPatch) -> None:
    read: list[str] = []
    read_source = load.read_source  # type: ignore[attr-defined]

    def counted(text: str, name: str) -> SourceText:
        read.append(name)
        return read_source(text, name)

    monkeypatch.setattr(load, "read_source", counted)
    for more in ([], ["--show-defaults"], ["--json"]):
        read.clear()
        quick = [] if "--show-defaults" in more else ["--quick"]
        assert run("check", str(DEMO_ROOM), *quick, *more).exit_code == 0
        assert read == [str(DEMO_ROOM)]
