"""What takes long is done for one room after another; a newer room file ends the older's check."""

from __future__ import annotations

import asyncio
import io
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import NoReturn

import pytest

from adapters.live import slow_work
from adapters.live.child_commands import DuePreset
from adapters.live.live_room import LiveRoom
from adapters.live.log import decision_log
from adapters.live.messages import BOOK_SUFFIX, InboundMessage
from adapters.live.slow_work import SlowWork
from rules.room.load import load
from simulator.shipped import CELLAR
from tests.adapters.staging import staged, turns, until
from tests.golden.evenings import BEGINS

ROOM = load(CELLAR.read_text("utf-8"), CELLAR.name)
MANY = 8


class Work:
    """A slow command that ends when somebody says so, and counts how many run at once."""

    def __init__(self) -> None:
        self.may_end = asyncio.Event()
        self.begun: list[str] = []
        self.broken_off: list[str] = []
        self.running = self.most_at_once = 0

    async def on(self, text: str) -> tuple[str, ...]:
        self.begun.append(text)
        self.running += 1
        self.most_at_once = max(self.most_at_once, self.running)
        try:
            await self.may_end.wait()
            await turns()
        except asyncio.CancelledError:
            self.broken_off.append(text)
            raise
        finally:
            self.running -= 1
        return ()


@pytest.fixture
def rooms(tmp_path: Path) -> Iterator[list[LiveRoom]]:
    """Give many rooms, each with a journal of its own."""
    with ExitStack() as stack:
        stages = [
            stack.enter_context(staged(ROOM, tmp_path / f"{number}", BEGINS))
            for number in range(MANY)
        ]
        for stage in stages:
            stage.clock.face = 1_200
        yield [LiveRoom(one.durable, decision_log(io.BytesIO(), "cellar")) for one in stages]


def propose(room: LiveRoom, text: str) -> None:
    room.publish(room.durable.take([InboundMessage("room", text.encode())]))


async def test_room_files_of_many_rooms_are_checked_one_after_another(
    rooms: list[LiveRoom], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    work, slow = Work(), SlowWork(tmp_path / "journal")
    monkeypatch.setattr(slow_work, "faults_of", work.on)
    for room in rooms:
        propose(room, ROOM.text + "\n# later\n")
    tasks = [asyncio.create_task(slow.check_proposals(room)) for room in rooms]
    await turns()
    assert (len(work.begun), work.running) == (1, 1)
    work.may_end.set()
    await until(lambda: not any(room.durable.record.proposal() for room in rooms))
    assert (len(work.begun), work.most_at_once) == (MANY, 1)
    await ended(tasks)


async def test_a_newer_room_file_ends_the_check_of_the_older_one_at_once(
    rooms: list[LiveRoom], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A hub that sends the same file twice does not begin its check anew."""
    work, slow = Work(), SlowWork(tmp_path / "journal")
    monkeypatch.setattr(slow_work, "faults_of", work.on)
    older, newer = (ROOM.text + f"\n# {which}\n" for which in ("older", "newer"))
    task = asyncio.create_task(slow.check_proposals(rooms[0]))
    for text in (older, older):
        propose(rooms[0], text)
        await turns(20)
    assert (work.begun, work.broken_off) == ([older], [])
    propose(rooms[0], newer)
    await turns(20)
    assert (work.begun, work.broken_off) == ([older, newer], [older])
    work.may_end.set()
    await until(lambda: rooms[0].durable.record.proposal() is None)
    assert rooms[0].durable.room.text == newer
    await ended([task])


async def test_lenses_of_many_rooms_are_looked_at_one_after_another(
    rooms: list[LiveRoom], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever brings a room file meanwhile waits for one of them, not for all."""
    work, slow = Work(), SlowWork(tmp_path / "journal")

    async def due(text: str, _journal: Path, _book: Path) -> tuple[DuePreset, ...]:
        await work.on(text)
        return ()

    monkeypatch.setattr(slow_work, "due_presets", due)
    monkeypatch.setattr(slow_work, "faults_of", work.on)
    (tmp_path / f"cellar{BOOK_SUFFIX}").touch()
    for room in rooms:
        room.greeted.set()
    tasks = [asyncio.create_task(slow.report_due_presets(room)) for room in rooms]
    await turns()
    newer = ROOM.text + "\n# newer\n"
    tasks.append(asyncio.create_task(slow.check_proposals(rooms[0])))
    propose(rooms[0], newer)
    await turns()
    assert (len(work.begun), work.running) == (1, 1)
    work.may_end.set()
    await until(lambda: len(work.begun) > MANY)
    assert work.most_at_once == 1
    assert work.begun[1] == newer
    await ended(tasks)


@pytest.mark.parametrize("fails", ["faults_of", "load", "must_wait"])
async def test_a_room_file_at_which_roomcue_itself_fails_is_refused_and_the_room_lives_on(
    rooms: list[LiveRoom], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fails: str
) -> None:
    shown: list[dict[str, object]] = []
    asyncio.get_running_loop().set_exception_handler(lambda _loop, fault: shown.append(fault))
    work, slow, room = Work(), SlowWork(tmp_path / "journal"), rooms[0]
    work.may_end.set()
    monkeypatch.setattr(slow_work, "faults_of", work.on)
    task = asyncio.create_task(slow.check_proposals(room))
    before = room.durable.room.text
    with monkeypatch.context() as fault:
        fault.setattr(slow_work, fails, failing)
        propose(room, ROOM.text + "\n# one\n")
        await until(lambda: room.durable.record.proposal() is None)
    assert room.durable.room.text == before
    assert room.durable.counts.refusals["bad_room"] == 1
    assert [type(one["exception"]) for one in shown] == [RecursionError]
    propose(room, ROOM.text + "\n# another\n")
    await until(lambda: room.durable.room.text != before)
    assert not task.done()
    await ended([task])


def failing(*_: object) -> NoReturn:
    raise RecursionError("maximum recursion depth exceeded")


async def test_a_lens_at_which_roomcue_itself_fails_ends_no_room(
    rooms: list[LiveRoom], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown: list[dict[str, object]] = []
    asyncio.get_running_loop().set_exception_handler(lambda _loop, fault: shown.append(fault))
    monkeypatch.setattr(slow_work, "due_presets", failing)
    (tmp_path / f"cellar{BOOK_SUFFIX}").touch()
    rooms[0].greeted.set()
    task = asyncio.create_task(SlowWork(tmp_path / "journal").report_due_presets(rooms[0]))
    await until(lambda: bool(shown))
    assert not task.done()
    await ended([task])


async def ended(tasks: list[asyncio.Task[None]]) -> None:
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
