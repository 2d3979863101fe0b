"""Damage in a journal that is in use is found while rooms live, and said; none of them waits."""

from __future__ import annotations

import asyncio
import io
import json
import threading
from pathlib import Path

import pytest

from adapters.live import journal_file, journal_watch
from adapters.live.journal import Journal
from adapters.live.journal_file import DamageCheck
from adapters.live.journal_watch import look_for_damage
from adapters.live.live_room import LiveRoom
from adapters.live.log import decision_log
from engine.events import Mark
from rules.room.load import load
from simulator.shipped import CELLAR
from tests.adapters.staging import Stage, staged
from tests.golden.evenings import BEGINS
from tests.live.broker import until

ROOM = load(CELLAR.read_text("utf-8"), CELLAR.name)
PAGE = 1_024


def filled(stage: Stage) -> None:
    """Let the journal have some hundred pages, all of them in the file itself."""
    for number in range(200):
        stage.clock.time += 1_000
        stage.hear(Mark(words=f"mark {number} " + "x" * 400))
    stage.journal.setting("wal_checkpoint(RESTART)")


def spoilt(path: Path) -> None:
    """Write rubbish over pages in the middle of a file, as a dying disk does."""
    pages = path.stat().st_size // PAGE
    with path.open("r+b") as file:
        for page in range(pages // 2, pages // 2 + 20):
            file.seek(page * PAGE)
            file.write(b"\xa5" * PAGE)


async def test_damage_is_said_at_once_and_the_room_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also in a journal that is too large to be looked through before it is used."""
    monkeypatch.setattr(journal_file, "MOST_BYTES_CHECKED", 0)
    monkeypatch.setattr(journal_watch, "CHECK_AFTER", 0.0)
    path, log = tmp_path / "journal", io.BytesIO()
    with staged(ROOM, path, BEGINS) as stage:
        filled(stage)
        spoilt(path)
        room = LiveRoom(stage.durable, decision_log(log, ROOM.name))
        looking = asyncio.create_task(look_for_damage(stage.journal, [room]))
        await asyncio.to_thread(until, log.getvalue, "damage is found")
        looking.cancel()
        assert b"journal is damaged" in log.getvalue()
        (fault,) = json.loads(room.alive().body)["faults"]
        assert fault["code"] == "journal_damaged"
        assert str(path) in fault["details"]
        assert "move it away" in fault["details"]
        assert not stage.hear(Mark(words="still there")).refusals


async def test_a_sound_journal_is_looked_through_without_a_word(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(journal_watch, "CHECK_EVERY", 0.0)
    looked: list[str | None] = []
    found = DamageCheck.found

    def noted(own: DamageCheck) -> str | None:
        looked.append(found(own))
        return looked[-1]

    monkeypatch.setattr(DamageCheck, "found", noted)
    log = io.BytesIO()
    with staged(ROOM, tmp_path / "journal", BEGINS) as stage:
        filled(stage)
        room = LiveRoom(stage.durable, decision_log(log, ROOM.name))
        looking = asyncio.create_task(look_for_damage(stage.journal, [room]))
        await asyncio.to_thread(until, lambda: len(looked) > 1, "it is looked through again")
        looking.cancel()
        await asyncio.gather(looking, return_exceptions=True)
        assert set(looked) == {None}
        assert log.getvalue() == b""
        assert json.loads(room.alive().body)["faults"] == []


async def test_roomcue_ends_at_once_in_the_middle_of_a_look(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A season's journal takes a while: whoever stops roomcue does not wait for it."""
    monkeypatch.setattr(journal_watch, "CHECK_EVERY", 0.0)
    begun, stopped = threading.Event(), threading.Event()

    def endless(_own: DamageCheck) -> None:
        begun.set()
        stopped.wait()

    monkeypatch.setattr(DamageCheck, "found", endless)
    monkeypatch.setattr(DamageCheck, "stop", lambda _own: stopped.set())
    with Journal(tmp_path / "journal") as journal:
        looking = asyncio.create_task(look_for_damage(journal, []))
        await asyncio.to_thread(begun.wait)
        looking.cancel()
        await asyncio.gather(looking, return_exceptions=True)
        assert stopped.is_set()


def test_a_look_that_is_stopped_finds_nothing(tmp_path: Path) -> None:
    """Half a look says nothing of the other half."""
    path = tmp_path / "journal"
    with staged(ROOM, path, BEGINS) as stage:
        filled(stage)
        spoilt(path)
        check = DamageCheck(path)
        check._base.set_progress_handler(check.stop, 1)  # noqa: SLF001 - as if stopped meanwhile
        assert check.found() is None
        check.stop()
