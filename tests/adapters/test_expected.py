"""`why --expected` takes every part of a look: lifts and cues beside picture, lens and panels."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from simulator.shipped import DEMO_NIGHT, DEMO_ROOM
from tests.adapters.commands import run

EVENING = str(DEMO_NIGHT)


def expected(words: str, at: str = "21:14", night: str = EVENING) -> tuple[int, str]:
    """Ask for a look, and give the status and what is said of it, in one line."""
    done = run("why", night, "--at", at, "--expected", words)
    return done.exit_code, " ".join(done.output.partition("\nExpected ")[2].split())


@pytest.mark.parametrize("words", ["lamps=low", "cue lamps = low", "low", "lift=0 %", "lift = 0"])
def test_a_cue_or_a_lift_that_stood_is_said_to(words: str) -> None:
    status, said = expected(words)
    assert (status, said.endswith("It stood just so.")) == (0, True)


def test_a_lift_is_compared_in_whatever_unit_it_is_written() -> None:
    for words in ("lift=11 %", "lift=11%", "lift=0.11", "plain, lift=11 %, broad, lamps=low"):
        assert expected(words, "20:52")[0] == 0


def test_a_cue_that_did_not_stand_names_what_stood_and_the_rows_that_set_it() -> None:
    status, said = expected("lamps=full")
    assert status == 1
    assert "cue lamps full was not wanted: low was." in said
    assert "menus shows it, but playback is playing, and it asks for not(paused, playing)." in said
    assert "The lens was moved" not in said  # Lights do not wait for the lens.


def test_a_lift_that_a_person_stands_in_the_way_of_is_told_so() -> None:
    said = expected("lift=6 %")[1]
    assert "A person had the room" in said
    assert "lift 6 % was not wanted: 0 % was." in said


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("lamps=dim", "'lamps=dim' is no part of a look in this room"),
        ("lift=90 %", "90 % is out of range. Write 0 % to 50 %."),
        ("lift=high", "high is no share. Write it like 2 % or 0.02."),
    ],
)
def test_what_no_look_has_is_refused_with_what_may_be_written(words: str, says: str) -> None:
    done = run("why", EVENING, "--at", "21:14", "--expected", words)
    assert done.exit_code == 2
    assert says in done.output


def a_night(path: Path, *told: tuple[float, object], answered: bool = True) -> str:
    """Write a night in the shipped room in which these things happen."""
    text = DEMO_ROOM.read_text("utf-8")
    if not answered:
        text = text.replace("answered: yes", "answered: no")
    head = {
        "night": 2,
        "room": "hayloft",
        "begins": "2026-11-20T19:30:00Z",
        "room_file": text,
        "versions": {"roomcue": "0.1.0", "state": 1, "room_file": 1},
    }
    lines = [json.dumps(head), *(json.dumps({"t": t, "event": event}) for t, event in told)]
    path.write_text("\n".join(lines) + "\n", "utf-8")
    return str(path)


LIT = (0.0, {"kind": "projector", "state": "lit"})
MENU = (1.0, {"kind": "source", "source": "disc"})
STOPPED = (2.0, {"kind": "playback", "state": "stopped"})


def test_a_cue_under_way_refused_or_set_by_a_person_is_told_apart(tmp_path: Path) -> None:
    night = a_night(tmp_path / "n.jsonl", LIT, MENU, STOPPED)
    assert "its order" in expected("lamps=full", "2s", night)[1]
    assert "refused, or never answered" in expected("lamps=full", "20s", night)[1]
    dim = {"kind": "override", "taken": True, "look": {"cues": {"lamps": "low"}}}
    night = a_night(tmp_path / "n.jsonl", LIT, MENU, STOPPED, (3.0, dim), (4.0, LIT[1]))
    assert "a person had set it to low." in expected("lamps=full", "4s", night)[1]


def test_a_cue_in_a_dark_room_waits_for_the_projector(tmp_path: Path) -> None:
    off = (0.0, {"kind": "projector", "state": "off"})
    said = expected("lamps=full", "2s", a_night(tmp_path / "n.jsonl", off, MENU, STOPPED))[1]
    assert "cue lamps full was wanted, but held back: " in said


def test_a_cue_that_waits_for_its_row_s_after_is_told_so(tmp_path: Path) -> None:
    playing = (30.0, {"kind": "playback", "state": "playing"})
    stopped = (60.0, STOPPED[1])
    night = a_night(tmp_path / "n.jsonl", LIT, MENU, playing, stopped, answered=False)
    assert "not yet for as long as its row says in `after`" in expected("full", "70s", night)[1]
    assert expected("full", "85s", night)[0] == 0


def test_machines_read_the_lift_as_a_share_and_cues_by_name() -> None:
    done = run("why", EVENING, "--at", "21:14", "--expected", "lift=6 % lamps=low", "--json")
    data = json.loads(done.output)
    assert data["expected"] == {"lift": 0.06, "cues": {"lamps": "low"}}
    assert data["standing"]["lift"] == 0.0
    assert data["standing"]["cues"] == {"lamps": "low"}


def test_an_old_word_on_the_clock_is_no_time_of_the_moment() -> None:
    assert "time 20:45 as last told" in " ".join(
        run("why", EVENING, "--at", "21:14").output.split()
    )
