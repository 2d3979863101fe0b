"""A night taken out of the journal says the same as the journal, wherever it begins."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from adapters.cli.exit_status import UNUSABLE
from adapters.cli.night_export import export_night
from engine.errors import UnusableError
from engine.events import (
    Forget,
    LensReport,
    Mark,
    Playback,
    ProjectorReport,
    RatioSeen,
    SourceChosen,
    Title,
    moment_of,
)
from rules.room.load import load
from simulator.nights.night_file import read_head
from simulator.shipped import DEMO_ROOM
from tests.adapters.commands import run
from tests.adapters.staging import Stage, differences, staged
from tests.brisk_hayloft import brisk_hayloft
from tests.golden.evenings import BEGINS

HAYLOFT = load(brisk_hayloft(), DEMO_ROOM.name)


def lived(stage: Stage) -> None:
    """Live through an evening of two titles."""
    stage.hear(ProjectorReport(state="lit"), SourceChosen(source="disc"))
    stage.hear(LensReport(moving=False, preset="broad"))
    for name, ratio in (("A quiet harvest", 2.39), ("Rain on slate", 1.78)):
        stage.pass_to(stage.clock.time + 60_000)
        stage.hear(Playback(state="playing"), Title(begun=True, name=name))
        stage.hear(RatioSeen(ratio=ratio))
        stage.pass_to(stage.clock.time + 300_000)
        stage.hear(Playback(state="stopped"))
        stage.pass_to(stage.clock.time + 60_000)


def at(seconds: int) -> str:
    return (moment_of(BEGINS) + timedelta(seconds=seconds)).isoformat()


@pytest.mark.parametrize("begins", [0, 30, 61, 200, 361, 500])
def test_a_night_that_begins_in_the_middle_replays_to_the_byte(begins: int, tmp_path: Path) -> None:
    """It carries the State that its first line goes on from."""
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        lived(stage)
        night = export_night(path, None, at(begins), at(700), without_titles=False)
    head = read_head(night.lines[0])
    assert head.start == BEGINS + begins * 1_000
    assert len(night.lines) > 1
    assert differences(HAYLOFT, [*night.lines]) == []


def test_a_journal_in_use_is_read_without_disturbing_it(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        lived(stage)
        before = export_night(path, "hayloft", None, None, without_titles=False)
        stage.hear(Mark(words="afterwards"))
        after = export_night(path, "hayloft", None, None, without_titles=False)
    assert [*after.lines[: len(before.lines)]] == [*before.lines]
    assert b"afterwards" in b"".join(after.lines)


def test_without_titles_a_night_names_none_and_decides_the_same(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        lived(stage)
        stage.hear(Forget(name="A quiet harvest"))
        night = export_night(path, None, at(200), None, without_titles=True)
    text = b"\n".join(night.lines)
    assert b"harvest" not in text
    assert b"slate" not in text
    assert b"title 1" in night.lines[0], "the one that is on when it begins"
    assert b"title 2" in text
    assert b'{"kind":"forget","name":"title 1"}' in text
    assert differences(HAYLOFT, [*night.lines]) == []


def test_a_night_ends_where_the_room_file_changes(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        lived(stage)
        changed = stage.clock.time
        stage.clock.face = 1_200
        newer = HAYLOFT.text + "\n# A later edition.\n"
        stage.clock.time += 1_000
        stage.note(stage.durable.adopt(load(newer, "in/room")))
        stage.hear(Mark(words="under the later edition"))
        earlier = export_night(path, None, at(0), None, without_titles=False)
        later = export_night(path, None, None, None, without_titles=False)
    assert b"under the later" not in b"".join(earlier.lines)
    assert any("changed after it" in words for words in earlier.words)
    assert read_head(later.lines[0]).room_file == newer
    assert read_head(later.lines[0]).start == changed + 1_000
    assert b"under the later" in b"".join(later.lines)
    assert differences(HAYLOFT, [*earlier.lines]) == []
    assert differences(load(newer, "newer"), [*later.lines]) == []


@pytest.mark.parametrize(
    ("room", "begins", "ends", "words"),
    [
        ("barn", None, None, "--room names one of its rooms: hayloft"),
        (None, "yesterday", None, "'yesterday' is no moment"),
        (None, "2026-11-22T20:00:00", None, "is no moment: write"),
        (None, "2026-11-22", "2026-11-21", "--to lies before --from"),
        (None, "9999-12-31T23:59:59-14:00", None, "outside the years 1970 to 2200"),
        (None, "0001-01-01T00:00:00+14:00", None, "outside the years 1970 to 2200"),
        (None, None, "9999-12-31", "outside the years 1970 to 2200"),
        (
            *(None, "2026-12-24", None),
            r"from 2026-12-24T12:00:00.000Z on \(a date means its noon\): name an earlier --from",
        ),
    ],
)
def test_what_cannot_be_taken_out_is_said(
    room: str | None, begins: str | None, ends: str | None, words: str, tmp_path: Path
) -> None:
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        lived(stage)
        with pytest.raises(UnusableError, match=words):
            export_night(path, room, begins, ends, without_titles=False)


def test_a_night_that_this_roomcue_no_longer_reads_names_the_one_that_does(tmp_path: Path) -> None:
    """As `wear` does."""
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        lived(stage)
    with closing(sqlite3.connect(path)) as base, base:
        base.execute("UPDATE nights SET state = CAST('[15,{}]' AS BLOB)")
        base.execute("UPDATE chapters SET roomcue = '0.0.7'")
    done = run("export", "--journal", path)
    assert done.exit_code == UNUSABLE
    said = " ".join(done.output.split())
    assert "a snapshot of version 15" in said
    assert "Export it with the roomcue that wrote it, version 0.0.7" in said
