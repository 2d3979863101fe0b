"""A room is rehearsed live, over a broker, before it has a hub."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
from pathlib import Path
from typing import IO

import pytest

from adapters.render.night_text import decision_words
from engine import RoomEngine
from rules.room.load import load
from simulator.nights.invention import BEGINS, NightPlan, invent_events
from simulator.nights.night_file import head_line, new_head
from simulator.nights.stand_in_hub import Hub, Person, play_script
from simulator.shipped import CELLAR, DEMO_ROOM
from tests.adapters.commands import run
from tests.house.tree import TOP
from tests.live.broker import PATIENCE, Mosquitto
from tests.live.process import ROOMCUE, Roomcue, roomcue

HURRY = ("--titles", "1", "--speed", "600")
SIDES = ("--seed", "20")
"""An evening in the hayloft that asks for the side panels."""
QUICK = NightPlan(titles=1, minutes=10)
ROOM = load(DEMO_ROOM.read_text("utf-8"), "hayloft")


class Rehearsing(subprocess.Popen[str]):
    """`roomcue rehearse` with somebody who reads and types."""

    def __init__(self, *arguments: str | Path) -> None:
        super().__init__(
            [*ROOMCUE, "rehearse", *map(str, arguments)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            bufsize=1,
            cwd=TOP,
            env={**os.environ, "COLUMNS": "200"},  # Long lines are broken where a window ends.
        )

    def reads(self, words: str) -> str:
        """Read on to the line with some words."""
        printed = []
        for line in _there(self.stdout):
            printed.append(line)
            if words in line:
                return line
        raise AssertionError(f"'{words}' is not printed: {''.join(printed)}")

    def says(self, line: str) -> None:
        """Type a line."""
        typed = _there(self.stdin)
        typed.write(line + "\n")
        typed.flush()

    def interrupted(self) -> tuple[int, str]:
        """Press Ctrl-C; gives the status and what stands on standard error."""
        self.send_signal(signal.SIGINT)
        _, said = self.communicate(timeout=PATIENCE)
        return self.returncode, said


def _there(stream: IO[str] | None) -> IO[str]:
    assert stream is not None
    return stream


def printed_decisions(text: str) -> list[str]:
    """Give the decisions of a print, without their numbers."""
    kinds = {"picture", "recall", "cue", "prompt", "note", "take"}
    lines = [line.split("  #")[0] for line in text.splitlines()]
    return [line for line in lines if line[:2].isdigit() and line[10:].split(" ")[0] in kinds]


def expected_decisions(person: Person) -> list[str]:
    """Play the same evening on the engine alone, in virtual time."""
    script = invent_events(ROOM, 20, BEGINS, QUICK)
    made = []
    for played in play_script(RoomEngine(ROOM), Hub(ROOM, person), script):
        for decision in played.decisions:
            what, asked = decision_words(decision)
            at = (decision.at - BEGINS) // 1_000 + 20 * 3_600
            clock = f"{at // 3_600:02}:{at // 60 % 60:02}:{at % 60:02}"
            made.append(f"{clock}  {what:<9} {asked}")
    return made


def test_however_fast_it_runs_the_room_keeps_its_own_pace(monkeypatch: pytest.MonkeyPatch) -> None:
    """Live, over a broker, it does at each second what the engine does in virtual time."""
    monkeypatch.setenv("COLUMNS", "200")
    ended = roomcue("rehearse", DEMO_ROOM, *SIDES, *HURRY, "--begins", "20:00")
    assert ended.returncode == 0, ended.stderr
    made = printed_decisions(ended.stdout)
    assert made == expected_decisions(Person())
    assert any("Please fit the two side panels." in line for line in made)
    assert "It begins at 20:00:00 and runs 600 times as fast as life" in ended.stdout
    assert f"The evening is over: {len(made)} decisions, 0 events refused." in ended.stdout
    assert "answer to 6: done" in ended.stdout


def test_people_who_are_busy_say_no() -> None:
    ended = roomcue("rehearse", DEMO_ROOM, *SIDES, *HURRY, "--people", "busy")
    assert "its people are busy" in ended.stdout
    assert "answer to 6: no" in ended.stdout
    assert "6 is over: declined" in ended.stdout


def test_of_a_night_only_what_happened_anyway_is_played(tmp_path: Path) -> None:
    """What answered its own orders is left out, for the stand-in hub answers those of now."""
    heard = [
        (0, {"kind": "lens", "moving": False, "preset": "broad"}),
        (1, {"kind": "projector", "state": "lit"}),
        (2, {"kind": "source", "source": "disc"}),
        (3, {"kind": "outcome", "order": 77, "outcome": "refused"}),
    ]
    head = json.loads(head_line(new_head("hayloft", BEGINS, ROOM.text, "0.1.0", None)))
    lines = [head, *({"t": t, "event": event} for t, event in heard)]
    night = tmp_path / "script.jsonl"
    night.write_text("\n".join(map(json.dumps, lines)) + "\n", "utf-8")
    ended = roomcue("rehearse", DEMO_ROOM, night, "--speed", "600")
    assert ended.returncode == 0, ended.stderr
    assert "hayloft rehearses the evening of script.jsonl" in ended.stdout
    assert "source: disc" in ended.stdout
    assert "picture   whole for 1.78" in ended.stdout
    assert not re.search(r"\b77\b", ended.stdout)
    assert "0 events refused" in ended.stdout


def test_a_room_that_runs_already_hears_the_evening_and_whoever_types(tmp_path: Path) -> None:
    """Ctrl-C ends the rehearsal quietly, and the room runs on."""
    with (
        Mosquitto(tmp_path / "b") as broker,
        Roomcue([CELLAR], tmp_path / "j", port=broker.port) as room,
        Rehearsing(CELLAR, "--broker", f"mqtt://127.0.0.1:{broker.port}") as rehearsing,
    ):
        rehearsing.reads("The room runs already")
        rehearsing.reads("projector: warming")
        rehearsing.says('sorce {"source": "disc"}')
        rehearsing.reads("not said: nothing is heard on in/sorce: did you mean in/source?")
        rehearsing.says("playbak paused")
        rehearsing.reads("not said: 'playbak' is nothing that can be said: did you mean 'playback'")
        rehearsing.says("source nonesuch")
        rehearsing.reads("source: nonesuch  (you)")
        rehearsing.reads("refused (in/source)")
        rehearsing.says('mark {"words": "too dark"}')
        rehearsing.reads('mark: "too dark"  (you)')
        rehearsing.reads("note      marked")
        assert rehearsing.interrupted() == (130, "")
        assert room.lives()


def test_an_evening_that_waits_goes_on_when_told_and_ends_when_told() -> None:
    """The room hears what is said meanwhile, and the evening says nothing until it goes on."""
    with Rehearsing(DEMO_ROOM, "--speed", "60", *SIDES) as rehearsing:
        rehearsing.reads("projector: warming")
        rehearsing.says("pause")
        rehearsing.reads("the evening waits, the room does not")
        rehearsing.says("mark meanwhile")
        rehearsing.reads('mark: "meanwhile"  (you)')
        rehearsing.says("go on")
        rehearsing.reads("playing")
        rehearsing.says("quit")
        rehearsing.reads("The evening is over")
        assert rehearsing.wait(PATIENCE) == 0


def test_ctrl_c_ends_a_staged_evening_quietly() -> None:
    with Rehearsing(DEMO_ROOM, "--speed", "1") as rehearsing:
        rehearsing.reads("projector: warming")
        assert rehearsing.interrupted() == (130, "")


def test_a_broker_that_goes_away_ends_it_with_a_sentence(tmp_path: Path) -> None:
    with (
        Mosquitto(tmp_path / "b") as broker,
        Roomcue([CELLAR], tmp_path / "j", port=broker.port),
        Rehearsing(CELLAR, "--broker", f"mqtt://127.0.0.1:{broker.port}") as rehearsing,
    ):
        rehearsing.reads("projector: warming")
        broker.stop()
        _, said = rehearsing.communicate(timeout=PATIENCE)
        assert (rehearsing.returncode, said) == (2, "error: the broker is not there any more\n")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--begins", "25:00"], "--begins 25:00 is no time of day: write one such as 19:30"),
        (["--broker", "mqtt://127.0.0.1:9", "--speed", "2"], "for a room that is started here"),
        (["--broker", "mqtt://127.0.0.1:9"], "127.0.0.1:9 (Connection refused): start it"),
        (["no-night.jsonl"], "no-night.jsonl: there is no such file"),
    ],
)
def test_a_slip_is_answered_with_what_to_write(arguments: list[str], words: str) -> None:
    ended = run("rehearse", DEMO_ROOM, *arguments)
    assert ended.exit_code == 2
    assert words in ended.stderr
    assert ended.stdout == ""
    assert "Traceback" not in ended.stderr


def test_a_room_that_nobody_keeps_at_the_broker_is_not_said_to_run(tmp_path: Path) -> None:
    with Mosquitto(tmp_path / "b") as broker:
        ended = roomcue("rehearse", CELLAR, "--broker", f"mqtt://127.0.0.1:{broker.port}")
    assert (ended.returncode, ended.stdout) == (2, "")
    assert ended.stderr == "error: nobody keeps a room 'cellar' at this broker\n"


def test_an_evening_is_written_in_a_few_words_a_line(tmp_path: Path) -> None:
    """It is played at its own times of day, and its people answer what the room asks."""
    script = tmp_path / "film.txt"
    script.write_text(
        "20:30 projector lit\n20:30 lens broad\n20:30 panels sides\n20:31 source disc\n"
        "20:31:30 title begins 'a film' 2.39\n20:31:30 playback playing disc\n"
        "20:50 playback stopped\n",
        "utf-8",
    )
    ended = roomcue("rehearse", DEMO_ROOM, script, "--speed", "600")
    assert ended.returncode == 0, ended.stderr
    assert "hayloft rehearses the evening of film.txt" in ended.stdout
    assert "It begins at 20:30:00" in ended.stdout
    assert "20:31:00  source: disc" in ended.stdout
    assert "Please take the two side panels off." in ended.stdout
    assert ": done" in ended.stdout
    assert "20:50:00" in ended.stdout
    assert "0 events refused" in ended.stdout
