"""What is remembered of titles is listed out of the journal, with how to forget it."""

from __future__ import annotations

import json
import shlex
from pathlib import Path

from adapters.cli.exit_status import OK, UNUSABLE
from adapters.live.return_address import ReturnAddress
from engine.events import (
    Override,
    OverrideLook,
    Playback,
    ProjectorReport,
    RatioSeen,
    SourceChosen,
    Title,
)
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.adapters.commands import run
from tests.adapters.staging import Stage, staged
from tests.brisk_hayloft import brisk_hayloft
from tests.golden.evenings import BEGINS

HAYLOFT = load(brisk_hayloft(), DEMO_ROOM.name)


def watched(stage: Stage) -> None:
    """Watch two films; one of them as somebody wants it, with a name to be careful with."""
    stage.hear(ProjectorReport(state="lit"), SourceChosen(source="disc"))
    for name, ratio in (("A quiet harvest", 2.39), ("Rain on 'slate'", 1.78)):
        stage.hear(Title(begun=True, name=name), Playback(state="playing"))
        stage.hear(RatioSeen(ratio=ratio))
        if ratio > 2:
            look = OverrideLook(picture="whole", cues={"lamps": "low"})
            stage.hear(Override(taken=True, until="title", look=look))
        stage.pass_to(stage.clock.time + 600_000)
        stage.hear(Playback(state="stopped"))


def test_titles_are_listed_with_shape_and_choice_the_latest_first(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        watched(stage)
        done = run("remembered", "--journal", path)
    assert done.exit_code == OK, done.output
    head, _, first, second, forget = done.stdout.splitlines()
    assert head == "hayloft remembers 2 titles by name, the latest first:"
    assert first.split("  ")[1:] == ["Rain on 'slate'", "1.78"]
    assert second.split(maxsplit=3)[3] == "2.39  whole, lamps: low"
    words = shlex.split(forget.removeprefix("To forget one: roomcue "))
    assert words[:3] == ["tell", "hayloft", "forget"]
    assert json.loads(words[3]) == {"name": "Rain on 'slate'"}


def test_programs_get_the_same_as_whoever_asks_a_running_room(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        watched(stage)
        asked = json.loads(stage.durable.state(ReturnAddress("replies/tablet", b"7")).body)[
            "remembered"
        ]
        told = json.loads(
            run("remembered", "--journal", path, "--room", "hayloft", "--json").stdout
        )
    assert told == {"hayloft": asked}
    assert [one["shape"] for one in asked] == [1.7778, 2.39]


def test_a_room_that_remembers_nothing_says_so_and_an_unknown_one_names_those_there(
    tmp_path: Path,
) -> None:
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS):
        done = run("remembered", "--journal", path)
        unknown = run("remembered", "--journal", path, "--room", "attic")
    assert done.stdout == "hayloft remembers nothing of any title.\n"
    assert unknown.exit_code == UNUSABLE
    assert "--room names one of its rooms: hayloft" in unknown.output


def test_no_journal_is_said_to_be_none(tmp_path: Path) -> None:
    assert run("remembered", "--journal", tmp_path / "none").exit_code == UNUSABLE
