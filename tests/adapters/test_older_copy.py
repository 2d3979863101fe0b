"""A journal that is an older copy is known by what the broker retains, whoever put it there."""

from __future__ import annotations

import io
import json
import shutil
from contextlib import closing
from pathlib import Path

import pytest

from adapters.live.durable_room import DurableRoom
from adapters.live.epochs import LARGEST_FIRST, epoch_after, first_serial
from adapters.live.journal import Journal
from adapters.live.live_room import LiveRoom
from adapters.live.log import decision_log
from adapters.live.startup import take_up
from tests.adapters.hayloft import HAYLOFT, LIT
from tests.adapters.scripted_broker import scripted_broker
from tests.adapters.staging import VERSION, StagedClock, inbound, staged
from tests.adapters.test_connection import AT_ONCE, Connected
from tests.golden.evenings import BEGINS

EPOCH = 7
MOST_EXACT = 2**53
"""Up to here every reader of JSON is exact (RFC 8259, 6)."""


def living(journal: Journal, epoch: int = EPOCH) -> LiveRoom:
    """Take the room up, as a start of roomcue does."""
    begun = take_up(journal, HAYLOFT, StagedClock(BEGINS), VERSION, epoch)
    return LiveRoom(DurableRoom(journal, begun, VERSION), decision_log(io.BytesIO(), "hayloft"))


def stands(room: LiveRoom) -> bytes:
    """Give what the broker retains once a room has said how it stands."""
    said = room.durable.standing(again=True)
    assert said is not None
    return said.body


def test_a_backup_that_is_restored_again_and_again_is_an_older_copy_each_time(
    tmp_path: Path,
) -> None:
    """So it is with an image from which a room is set up anew at each start."""
    with closing(Journal(tmp_path / "journal")) as journal:
        living(journal)
    retained, epochs = b"", [EPOCH]
    for time in range(4):
        copy = shutil.copy(tmp_path / "journal", tmp_path / f"copy{time}")
        with closing(Journal(Path(copy))) as journal:
            room = living(journal)
            assert room.is_older_copy([retained]) is bool(retained)
            epochs.append(room.durable.epoch)
            room.durable.take([inbound(event) for event in LIT])
            retained = stands(room)
            assert not room.is_older_copy([])
            assert json.loads(retained)["last_id"] > first_serial(epochs[-1])
    assert epochs[0] == epochs[1]
    assert epochs[1:] == sorted(set(epochs[1:]))


def test_a_journal_may_begin_anew_as_often_as_somebody_restores_it() -> None:
    epoch = LARGEST_FIRST
    for _ in range(10_000):
        epoch, before = epoch_after(epoch), epoch
        assert before < epoch
    assert first_serial(epoch + 1) < MOST_EXACT


@pytest.mark.parametrize(
    "retained",
    [b"", b"\xff", b"[" * 60_000, b'{"a":' * 60_000, b"[1]", b'{"last_id": "9"}', b"9" * 5_000],
)
def test_what_makes_no_sense_tells_nothing_of_a_journal(tmp_path: Path, retained: bytes) -> None:
    """Whoever may publish there could keep a room from its broker for ever otherwise."""
    with closing(Journal(tmp_path / "journal")) as journal:
        room = living(journal)
        assert not room.is_older_copy([retained])
        assert not room.is_kept_elsewhere([retained])


async def test_how_a_room_stands_is_not_said_before_it_is_greeted(tmp_path: Path) -> None:
    """Else the next connection would take its own word for that of a newer journal."""
    async with scripted_broker(session_kept=True, answers_unsubscribe=False) as broker:
        with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
            one = Connected(stage, broker, AT_ONCE)
            await broker.until(lambda: broker.subscriptions > 0)
            one.hear(*LIT)
            await broker.until(lambda: "reason" in broker.leaves())
            one.room.say_alive()
            await broker.until(lambda: "alive" in broker.leaves())
            assert "standing" not in broker.leaves()
            await one.stop()
