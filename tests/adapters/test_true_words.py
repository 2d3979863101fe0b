"""What `replay` and `why` say is so: nothing is hidden, left out, or said of what was not."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Final

import pytest

from simulator.shipped import CELLAR, DEMO_NIGHT, DEMO_ROOM, LONGROOM, NIGHTS
from tests.adapters.commands import run

REFUSED: Final = NIGHTS / "refused-recall.jsonl"


def flat(text: str) -> str:
    return " ".join(text.split())


def without(night: Path, piece: bytes, into: Path) -> Path:
    """Write a night again without the lines that hold a piece."""
    lines = night.read_bytes().splitlines(keepends=True)
    into.write_bytes(b"".join(line for line in lines if piece not in line))
    return into


def begun_at(moment: str, into: Path) -> Path:
    """Write the shipped evening again as if it had begun at another moment."""
    head, *lines = DEMO_NIGHT.read_text("utf-8").splitlines()
    written = json.dumps({**json.loads(head), "begins": moment})
    into.write_text("\n".join([written, *lines]), "utf-8")
    return into


@pytest.mark.parametrize("command", [f"replay {DEMO_NIGHT}", f"why {DEMO_NIGHT} --at 21:14"])
def test_a_reader_that_goes_away_is_no_failure(command: str) -> None:
    line = f"{sys.executable} -m adapters.cli {command} | head -n 1; exit ${{PIPESTATUS[0]}}"
    done = subprocess.run(["bash", "-c", line], capture_output=True, check=False)
    assert (done.returncode, done.stderr) == (0, b"")


def test_a_second_that_is_named_takes_in_all_that_it_saw() -> None:
    """At 20:46:08.1 the wish for panels is held back; 20:46:08 is that whole second."""
    lines = [json.loads(line) for line in DEMO_NIGHT.read_bytes().splitlines()[1:]]
    late = next(one["t"] for one in lines if one["t"] % 1 and one["event"]["kind"] == "lens")
    clock = (
        f"{19 + int(late + 1_800) // 3_600}:{int(late + 1_800) // 60 % 60:02}:{int(late) % 60:02}"
    )
    by_clock = run("replay", DEMO_NIGHT, "--json", "--until", clock).stdout
    exact = run("replay", DEMO_NIGHT, "--json", "--until", f"{int(late)}.999s").stdout
    assert by_clock == exact
    said = run("why", DEMO_NIGHT, "--at", clock, "--json").stdout
    assert said == run("why", DEMO_NIGHT, "--at", f"{int(late)}.999s", "--json").stdout


def test_a_time_that_comes_twice_or_never_is_asked_back(tmp_path: Path) -> None:
    """In Lisbon the clocks go back on 25 October 2026 and forward on 28 March 2027."""
    autumn = begun_at("2026-10-25T00:00:00Z", tmp_path / "autumn.jsonl")
    twice = run("why", autumn, "--at", "01:30")
    assert twice.exit_code == 2
    assert "01:30 comes twice" in flat(twice.output)
    assert "2026-10-25T01:30:00+01:00 or 2026-10-25T01:30:00+00:00" in flat(twice.output)
    assert run("why", autumn, "--at", "2026-10-25T01:30:00+00:00").exit_code == 0
    spring = begun_at("2027-03-28T00:30:00Z", tmp_path / "spring.jsonl")
    never = run("why", spring, "--at", "01:30")
    assert never.exit_code == 2
    assert "01:30 never comes" in flat(never.output)


def test_times_in_an_hour_that_comes_twice_are_told_apart(tmp_path: Path) -> None:
    night = begun_at("2026-10-25T00:00:00Z", tmp_path / "autumn.jsonl")
    said = run("replay", night).stdout
    assert "01:00:00 WEST  lens: rests at broad" in said
    assert any(line.startswith("01:18:08 WET  ") for line in said.splitlines())


@pytest.mark.parametrize("command", [("replay",), ("why", "--at", "600s")])
def test_a_night_of_another_room_is_said_to_be_one(command: tuple[str, ...]) -> None:
    name, *options = command
    done = run(name, REFUSED, *options, "--room", CELLAR)
    assert "This night was recorded in another room: hayloft." in flat(done.output)
    assert "another room" not in flat(run(name, REFUSED, *options).output)


@pytest.mark.parametrize("command", [("replay",), ("why", "--at", "20:00")])
def test_other_rules_do_not_hide_what_went_wrong(command: tuple[str, ...], tmp_path: Path) -> None:
    """The stand-in hub obeys, so the refused recall would simply be gone."""
    room = tmp_path / "other.yaml"
    room.write_text(DEMO_ROOM.read_text("utf-8") + "\nwear: {strip: 6 mm}\n", "utf-8")
    name, *options = command
    said = flat(run(name, REFUSED, *options, "--room", room).output)
    assert "what went wrong in the night itself does not show" in said
    assert "19:32:02 The lens stayed at 'broad' and never went to 'tall'" in said


def test_what_was_ordered_and_never_answered_is_said_to_be_that(tmp_path: Path) -> None:
    night = without(NIGHTS / "pause.jsonl", b'"outcome"', tmp_path / "unanswered.jsonl")
    done = run("why", night, "--at", "19:40", "--expected", "plain")
    assert done.exit_code == 1
    assert "not yet ordered" not in flat(done.output)
    assert "it was ordered and never answered" in flat(done.output)


def test_why_names_the_root_cause_and_not_only_the_last_one() -> None:
    """An hour later the last hold is pace; what began it was the refusal."""
    done = run("why", REFUSED, "--at", "20:30", "--expected", "tall")
    said = flat(done.output)
    assert "How it came to that" in said
    assert "It began at 19:32:02: The lens stayed at 'broad' and never went to 'tall'" in said
    assert "19:32:00 recall #4 to tall 19:32:02 refused" in said
    data = json.loads(run("why", REFUSED, "--at", "20:30", "--json").stdout)
    words = [one["words"] for one in data["causes"]]
    assert words.index("recall #4 to tall") == words.index("refused") - 1


def test_why_at_eighty_columns_keeps_its_facts(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    said = flat(run("why", DEMO_NIGHT, "--at", "21:00").output)
    assert "source disc, playback playing, aspect 2.39" in said
    assert "guests unknown" in said
    assert "shows plain, broad, open" in said


def test_a_preset_that_only_the_seen_shape_asks_for_is_told_as_that() -> None:
    """The player declares 2.39 for a whole title that is seen as 1.78: lens and panels go by it."""
    night = NIGHTS / "false-word.jsonl"
    said = flat(run("why", night, "--at", "20:00", "--expected", "tall").output)
    own = "lens and panels go by the title's own shape, which is 2.39."
    assert f"flat with panels shows it, but {own}" in said
    assert "flat with guests shows it, but guests is unknown, and it asks for yes." in said


def test_what_a_stand_in_hub_hides_is_told_by_the_clock_of_the_replay() -> None:
    """The night is of Lisbon, the other room an hour further east."""
    said = flat(run("replay", REFUSED, "--room", LONGROOM).output)
    assert "20:32:02 The lens stayed at 'broad' and never went to 'tall'" in said
