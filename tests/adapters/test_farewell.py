"""How a room leaves that is stopped while no broker listens: shortly, and with the truth."""

from __future__ import annotations

import asyncio
import threading
from pathlib import Path
from unittest.mock import patch

from paho.mqtt.client import Client

from adapters.live.broker import Timing
from adapters.live.connection import REASON_TAKEN_OVER
from adapters.live.journal import Journal
from adapters.live.journal_file import JournalError
from tests.adapters.scripted_broker import NOT_AUTHORIZED, ScriptedBroker, scripted_broker
from tests.adapters.staging import staged, turns
from tests.adapters.test_connection import AT_ONCE, HAYLOFT, Connected, connected
from tests.golden.evenings import BEGINS
from tests.live.broker import PATIENCE

NEVER = Timing(first_wait=2 * PATIENCE, longest_wait=2 * PATIENCE)
"""No further connection comes by itself."""


def last_word(broker: ScriptedBroker) -> object:
    """Give what was said last of being alive."""
    return [one.data["alive"] for one in broker.published if one.subtopic == "alive"][-1]


async def parted(one: Connected) -> None:
    """Let the journal fail, so that the room parts from its broker without a last will."""
    with patch.object(Journal, "write", side_effect=JournalError("the disk is full")):
        one.broker.publish("roomcue/hayloft/in/source", b'{"source":"disc"}', 1)
        await one.broker.until(lambda: one.broker.goodbyes == 1)
        while one.session.connection is not None:
            await turns()


async def test_a_room_that_is_stopped_while_its_journal_fails_is_not_left_alive(
    tmp_path: Path,
) -> None:
    """It has parted without a last will, to come again: nobody else would say that it has gone."""
    async with connected(tmp_path, timing=NEVER) as one:
        await parted(one)
        assert last_word(one.broker) is True
        await one.session.leave()
        assert last_word(one.broker) is False
        await one.broker.until(lambda: one.broker.goodbyes == 2)


async def test_a_room_that_is_stopped_as_it_parts_is_not_left_alive(tmp_path: Path) -> None:
    async with connected(tmp_path, timing=NEVER) as one:
        connection = one.session.connection
        assert connection is not None
        connection.fail(JournalError("the disk is full"))
        await connection.ended.wait()
        await one.session.leave()
        assert last_word(one.broker) is False


async def test_a_room_that_is_stopped_as_it_connects_anew_is_not_left_alive(
    tmp_path: Path,
) -> None:
    """The broker lets nobody in for now: what it was told last must not stay."""
    async with connected(tmp_path, timing=AT_ONCE) as one:
        one.broker.lets_in_after = PATIENCE
        one.broker.hang_up()
        await one.broker.until(lambda: one.broker.has_had(2))
        one.broker.lets_in_after = 0.0
        await one.session.leave()
        assert last_word(one.broker) is False


async def test_whoever_has_left_between_two_connections_does_not_come_back(tmp_path: Path) -> None:
    """Nobody says that it is alive: over a connection of its own it says once more that it left."""
    wait = 0.02
    async with connected(tmp_path, timing=Timing(first_wait=wait)) as one:
        lost = one.session.connection
        assert lost is not None
        lost.ended.set()
        await turns()
        one.room.end()
        await one.session.leave()
        over = asyncio.get_running_loop().time() + 3 * wait
        while asyncio.get_running_loop().time() < over:
            await turns()
        assert one.broker.connections == 2
        assert one.broker.published[-1].data["alive"] is False


async def test_whoever_took_the_client_id_over_says_for_themselves_what_holds(
    tmp_path: Path,
) -> None:
    async with connected(tmp_path, timing=NEVER) as one:
        one.broker.hang_up(REASON_TAKEN_OVER)
        while one.session.connection is not None:
            await turns()
        await one.session.leave()
        assert one.broker.connections == 1
        assert last_word(one.broker) is True


async def test_what_a_last_connection_brings_waits_for_whoever_keeps_the_room_next(
    tmp_path: Path,
) -> None:
    async with connected(tmp_path, timing=NEVER) as one:
        await parted(one)
        one.broker.brings_at_once = b'{"source":"disc"}'
        await one.session.leave()
        assert last_word(one.broker) is False
        assert one.broker.acknowledged == []


async def test_a_broker_that_cannot_be_told_holds_no_stop_up(tmp_path: Path) -> None:
    """It answers no more; what it was told last has an end."""
    async with connected(tmp_path, timing=NEVER._replace(farewell=0.01)) as one:
        await parted(one)
        one.broker.lets_in_after = PATIENCE
        await one.session.leave()
        assert "broker could not be told that nobody keeps the room" in one.logged()
        one.room.end()


async def test_a_broker_that_never_let_the_room_in_is_not_asked_once_more(tmp_path: Path) -> None:
    async with scripted_broker() as broker:
        broker.subscribed = NOT_AUTHORIZED
        broker.lets_in_after = PATIENCE
        with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
            one = Connected(stage, broker, NEVER)
            await broker.until(lambda: broker.has_had(1))
            await one.session.leave()
            assert broker.connections == 1
            await one.stop()


def test_a_broker_that_is_connected_to_in_vain_does_not_hold_the_end_up(tmp_path: Path) -> None:
    """As where the handshake of TLS is not answered: the library waits for it, up to 30 s."""
    begun, over = threading.Event(), threading.Event()

    def in_vain(*_: object, **_how: object) -> None:
        begun.set()
        over.wait()

    async def stopped_meanwhile() -> None:
        async with scripted_broker() as broker:
            with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
                one = Connected(stage, broker, AT_ONCE)
                while not begun.is_set():
                    await turns()
                await one.session.leave()
                await one.stop()

    living = threading.Thread(target=asyncio.run, args=(stopped_meanwhile(),), daemon=True)
    with patch.object(Client, "connect", in_vain):
        living.start()
        living.join(PATIENCE / 10)
        held_up = living.is_alive()
        over.set()
        living.join()
    assert not held_up
