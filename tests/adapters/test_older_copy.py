"""A journal that is an older copy is known by what the broker retains, whoever put it there."""

from __future__ import annotations

import io
import json
import shutil
from contextlib import closing
from pathlib import Path
from unittest.mock import patch

import pytest

from adapters.live.announcements import gone_message
from adapters.live.broker import ClientName
from adapters.live.durable_room import DurableRoom
from adapters.live.epochs import LARGEST_FIRST, epoch_after, first_serial
from adapters.live.journal import Journal
from adapters.live.journal_file import JournalError
from adapters.live.live_room import LiveRoom
from adapters.live.log import decision_log
from adapters.live.messages import rfc3339
from adapters.live.startup import take_up
from tests.adapters.hayloft import HAYLOFT, LIT
from tests.adapters.scripted_broker import scripted_broker
from tests.adapters.staging import VERSION, StagedClock, inbound, staged, turns
from tests.adapters.test_connection import AT_ONCE, Connected
from tests.golden.evenings import BEGINS

EPOCH = 7
HOUR = 3_600_000
SESSION_ENDS = bytes([0, 5, 0x11, 0, 0, 0, 0])
"""A normal disconnection with one property, a Session Expiry Interval of 0 (3.14.2)."""
PATIENT = AT_ONCE._replace(answer=300.0, goodbye=300.0)
"""Waits longer than any test for what does not come."""
MOST_EXACT = 2**53
"""Up to here every reader of JSON is exact (RFC 8259, 6)."""


def living(journal: Journal, epoch: int = EPOCH, begins: int = BEGINS) -> LiveRoom:
    """Take the room up, as a start of roomcue does."""
    begun = take_up(journal, HAYLOFT, StagedClock(begins), VERSION, epoch)
    return LiveRoom(DurableRoom(journal, begun, VERSION), decision_log(io.BytesIO(), "hayloft"))


def said_last(path: Path, begins: int, *, gone: bool) -> bytes:
    """Give what a run that begins at a moment leaves at the broker, once it was killed."""
    with closing(Journal(path)) as journal:
        room = living(journal, begins=begins)
        room.durable.take([inbound(event) for event in LIT])
        name = room.durable.client_name
        return (gone_message(name.epoch, name.run) if gone else room.alive()).body


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
            assert room.knows_less([retained]) is bool(retained)
            epochs.append(room.durable.identity.epoch)
            room.durable.take([inbound(event) for event in LIT])
            retained = stands(room)
            assert not room.knows_less([])
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
        assert not room.knows_less([retained])
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


@pytest.mark.parametrize("gone", [True, False])
@pytest.mark.parametrize("by", [0, -3 * HOUR, 3 * HOUR])
def test_no_room_takes_its_own_word_for_another_s_however_its_clock_is_set(
    tmp_path: Path, by: int, *, gone: bool
) -> None:
    """What it said before it was killed comes back to it at its start."""
    path, retained = tmp_path / "journal", b""
    for time in range(3):
        if retained:
            with closing(Journal(path)) as journal:
                assert not living(journal).knows_less([retained])
        retained = said_last(path, BEGINS + time * by, gone=gone)


@pytest.mark.parametrize("gone", [True, False])
def test_a_first_run_that_is_over_before_anything_happens_makes_no_copy_of_its_journal(
    tmp_path: Path, *, gone: bool
) -> None:
    """It has no line to show for itself, as where the machine is cut off just then."""
    path = tmp_path / "journal"
    with closing(Journal(path)) as journal:
        room = living(journal)
        room.publish(room.durable.resume())
        name = room.durable.client_name
        retained = (gone_message(name.epoch, name.run) if gone else room.alive()).body
    copy = shutil.copy(path, tmp_path / "copy")
    with closing(Journal(path)) as journal:
        second = living(journal)
        assert not second.knows_less([retained])
        retained = second.alive().body
    with closing(Journal(Path(copy))) as journal:
        assert living(journal).knows_less([retained]), "two go on with copies of it"


def test_a_clock_that_is_set_while_the_broker_is_away_makes_no_other_of_a_room(
    tmp_path: Path,
) -> None:
    """The broker still has the word of before, and some hand it to whoever has said it."""
    with closing(Journal(tmp_path / "journal")) as journal:
        room, clock = living(journal), StagedClock(BEGINS)
        durable = room.durable
        durable.record.clock = durable.record.clock._replace(clock=clock, ahead=clock.ahead)
        durable.take([inbound(event) for event in LIT])
        before = room.alive().body
        clock.set(-3 * HOUR)
        room.since += durable.pass_time().set_by
        assert json.loads(room.alive().body)["since"] < json.loads(before)["since"]
        assert not room.knows_less([before])
        assert not room.is_kept_elsewhere([before])


@pytest.mark.parametrize("gone", [True, False])
def test_a_journal_is_an_older_copy_where_another_run_has_gone_on_though_it_gave_no_id(
    tmp_path: Path, *, gone: bool
) -> None:
    """Panels may have been fitted since; that a broker has published its last will is no matter."""
    path, backup = tmp_path / "journal", tmp_path / "backup"
    said_last(path, BEGINS, gone=gone)
    shutil.copy(path, backup)
    retained = said_last(path, BEGINS + HOUR, gone=gone)
    for clock in (BEGINS, BEGINS + 2 * HOUR):
        copy = Path(shutil.copy(backup, tmp_path / f"copy{clock}"))
        with closing(Journal(copy)) as journal:
            room = living(journal, begins=clock)
            assert room.knows_less([retained])
            assert room.durable.engine.state.core.source is None
            assert not room.knows_less([retained])


def test_a_room_that_cannot_write_that_it_begins_anew_is_who_it_was(tmp_path: Path) -> None:
    with closing(Journal(tmp_path / "journal")) as journal:
        room = living(journal)
        room.durable.take([inbound(event) for event in LIT])
        durable, name = room.durable, room.durable.client_name
        state, waits = durable.engine.state, durable.record.waiting()
        full = patch.object(Journal, "commit", side_effect=JournalError("the disk is full"))
        with full, pytest.raises(JournalError):
            durable.begin_anew(0)
        assert durable.client_name == name
        assert durable.engine.state is state
        assert durable.record.waiting() == waits
        durable.begin_anew(0)
        assert durable.client_name != name
        assert durable.client_name.client_id.rsplit("-", 1)[1] == journal.client(1)


async def test_whoever_leaves_a_client_id_leaves_no_session_behind(tmp_path: Path) -> None:
    """Days of messages would wait there for nobody (MQTT 5.0, 3.14.2.2.2)."""
    async with scripted_broker() as broker:
        with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
            one = Connected(stage, broker, PATIENT)
            await broker.until(lambda: "standing" in broker.leaves())
            one.session.come_as(ClientName("hayloft", "another"))
            await broker.until(lambda: broker.goodbyes == 1)
            assert broker.last_goodbye == SESSION_ENDS
            await broker.until(lambda: broker.connections == 2)
            later = rfc3339(one.room.since + HOUR)
            await broker.until(lambda: broker.leaves().count("standing") == 2)
            broker.say_alive(since=later, run=1)
            await broker.until(lambda: broker.goodbyes == 2)
            assert broker.last_goodbye == SESSION_ENDS
            await one.stop()


async def test_a_client_id_is_left_once_the_broker_has_answered_and_no_sooner(
    tmp_path: Path,
) -> None:
    """A goodbye is lost with the connection where an answer comes to whoever has left."""
    async with scripted_broker(session_kept=True, answers_unsubscribe=False) as broker:
        with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
            one = Connected(stage, broker, PATIENT)
            await broker.until(lambda: broker.unsubscribing != b"")
            one.session.come_as(ClientName("hayloft", "another"))
            broker.say_alive(since=None)
            await turns(20)
            assert broker.goodbyes == 0
            broker.answer_unsubscribe()
            await broker.until(lambda: broker.goodbyes == 1)
            assert broker.last_goodbye == SESSION_ENDS
            await one.stop()
