"""What leaves a room over its connection, and what does not: the broker does what a test says."""

from __future__ import annotations

import asyncio
import io
import json
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import partial
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from paho.mqtt.client import Client

from adapters.live import live_room
from adapters.live.broker import Broker, BrokerError, ClientName, Timing
from adapters.live.drafts import Committed
from adapters.live.durable_room import DurableRoom
from adapters.live.journal import Journal
from adapters.live.journal_file import JournalError
from adapters.live.live_room import LiveRoom
from adapters.live.log import decision_log
from adapters.live.messages import rfc3339
from adapters.live.pipeline import Pipeline
from adapters.live.receipts import MOST_UNACKNOWLEDGED
from adapters.live.session import Session
from engine.events import Event, ProjectorReport, RatioSeen, SourceChosen, ToldFact
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.adapters.scripted_broker import (
    NOT_AUTHORIZED,
    QUOTA_EXCEEDED,
    TOO_LARGE,
    ScriptedBroker,
    scripted_broker,
)
from tests.adapters.staging import Stage, inbound, staged, turns
from tests.brisk_hayloft import brisk_hayloft
from tests.golden.evenings import BEGINS

HAYLOFT = load(brisk_hayloft(), DEMO_ROOM.name)
LIT = (ProjectorReport(state="lit"), SourceChosen(source="disc"))
NAME = ClientName("hayloft", "roomcue-hayloft-1")
AT_ONCE = Timing(first_wait=0.0)


class Connected:
    """A live room with its session at a scripted broker."""

    def __init__(self, stage: Stage, broker: ScriptedBroker, timing: Timing) -> None:
        self.stage, self.broker = stage, broker
        self.log = io.BytesIO()
        log = decision_log(self.log, "hayloft")
        self.session = Session(
            NAME, Broker("127.0.0.1", broker.port), stage.durable.now, log, timing
        )
        self.room = LiveRoom(stage.durable, log, self.session)
        self.pipeline = Pipeline(stage.journal, alone=True)
        self.running = asyncio.create_task(
            self.session.run(partial(self.pipeline.readable, self.room, self.session))
        )

    def hear(self, *events: Event) -> None:
        """Let the room hear events as one batch."""
        self.room.publish(self.room.durable.take([inbound(event) for event in events]))

    async def said(self, count: int) -> None:
        """Wait until the broker has so many messages."""
        await self.broker.until(lambda: len(self.broker.published) >= count)

    def connection_greeted(self) -> bool:
        """Tell whether there is a connection over which the room has been greeted."""
        connection = self.session.connection
        return connection is not None and connection.greeted

    def logged(self) -> list[str]:
        return [json.loads(line)["event"] for line in self.log.getvalue().splitlines()]

    async def stop(self) -> None:
        self.running.cancel()
        await asyncio.gather(self.running, return_exceptions=True)
        self.room.end()


@asynccontextmanager
async def connected(  # noqa: PLR0913 - what the broker shall do
    tmp_path: Path,
    *,
    timing: Timing = AT_ONCE,
    greeting: int = 4,
    receive_maximum: int = 20,
    largest: int | None = None,
    acknowledges: bool = True,
) -> AsyncIterator[Connected]:
    """Connect a room; it greets with a question, what is asked, how it stands, that it is alive."""
    async with scripted_broker(
        receive_maximum=receive_maximum, largest=largest, acknowledges=acknowledges
    ) as broker:
        with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
            one = Connected(stage, broker, timing)
            try:
                await one.said(greeting)
                yield one
            finally:
                await one.stop()


async def test_a_broker_that_never_says_whether_it_knows_the_session_does_not_keep_a_room_silent(
    tmp_path: Path,
) -> None:
    """Some do not answer whoever leaves a topic that they never heard of: the hub is asked then."""
    async with scripted_broker(session_kept=True, answers_unsubscribe=False) as broker:
        with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
            one = Connected(stage, broker, AT_ONCE._replace(answer=0.05))
            await one.said(4)
            assert "ask" in broker.leaves()
            assert "broker does not say whether it knows the session" in one.logged()
            one.hear(*LIT)
            await broker.until(lambda: "order" in broker.leaves())
            assert broker.connections == 1
            await one.stop()


async def test_a_broker_that_sends_all_that_waits_at_once_is_acknowledged_bit_by_bit(
    tmp_path: Path,
) -> None:
    """Some resume a session so, whatever they were told: no more is kept than can be known again.

    Otherwise nothing would be acknowledged for a minute, and the broker hang up, again and again.
    """
    async with connected(tmp_path) as one:
        for number in range(1, 501):
            topic, mark = "roomcue/hayloft/in/mark", b'{"words":"%d"}' % number
            one.broker.publish(topic, mark, number)
        await one.broker.until(lambda: len(one.broker.acknowledged) == 500)
        assert one.broker.acknowledged == [*range(1, 501)]
        commits = one.room.durable.counts.commits
        assert commits >= 500 // MOST_UNACKNOWLEDGED
        assert commits < 200, "one by one would be slow"


async def test_a_connection_that_is_closed_while_it_is_made_leaves_no_socket_open(
    tmp_path: Path,
) -> None:
    """The broker would keep a client that is nobody's; here it waits until each has hung up."""
    begun, may_go_on, connect = threading.Event(), threading.Event(), Client.connect

    def slowly(client: Client, *where: Any, **how: Any) -> object:  # noqa: ANN401 - the library's
        begun.set()
        may_go_on.wait()
        return connect(client, *where, **how)

    async with scripted_broker() as broker:
        with (
            staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage,
            patch.object(Client, "connect", slowly),
        ):
            one = Connected(stage, broker, AT_ONCE)
            await asyncio.to_thread(begun.wait)
            await one.stop()
            may_go_on.set()
            await broker.until(lambda: broker.has_had(1))


async def test_a_broker_that_is_slow_is_waited_for_longer_each_time(tmp_path: Path) -> None:
    """One that has a hundred thousand messages to hand on first would never get through."""
    async with scripted_broker() as broker:
        broker.lets_in_after = 0.3
        with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
            one = Connected(stage, broker, AT_ONCE._replace(answer=0.01))
            await one.said(4)
            assert broker.connections > 1
            await broker.until(one.connection_greeted)
            await one.stop()


async def test_a_broker_that_lets_a_room_hear_itself_is_not_answered_for_ever(
    tmp_path: Path,
) -> None:
    """Its own word that it is alive is no other roomcue's, though some brokers hand it back."""
    async with scripted_broker(knows_no_local=False) as broker:
        with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
            one = Connected(stage, broker, AT_ONCE)
            await one.said(4)
            await broker.until(lambda: "standing" in broker.leaves())
            one.hear(*LIT)
            await broker.until(lambda: "order" in broker.leaves())
            # Two words on how a room stands may be said as one: the next waits for the last.
            await broker.until(lambda: broker.leaves().count("standing") > 1)
            one.hear(SourceChosen(source="console"))
            await broker.until(lambda: broker.leaves().count("standing") > 2)
            assert broker.leaves().count("alive") == 1
            broker.say_alive(since=None)
            await broker.until(lambda: broker.leaves().count("alive") == 2)
            await one.stop()


async def test_while_the_broker_stalls_an_order_that_is_replaced_never_leaves(
    tmp_path: Path,
) -> None:
    """Of what waits, only the latest word on each order and of each kind is worth sending."""
    async with connected(tmp_path, acknowledges=False, receive_maximum=3) as one:
        one.hear(*LIT)
        for ratio in (2.39, 1.85, 2.39):
            one.stage.clock.time += 3_000
            one.hear(RatioSeen(ratio=ratio), ToldFact(fact="guests", value=True))
        await turns()
        assert one.broker.orders() == []
        waiting = [
            json.loads(word.message.body)
            for word in one.room.durable.record.waiting()
            if word.message.subtopic == "order"
        ]
        one.broker.acknowledge_all()
        taken = 3
        while len(one.broker.orders()) < len(waiting):
            await one.said(taken + 1)
            one.broker.acknowledge([said.packet for said in one.broker.published[taken:]])
            taken = len(one.broker.published)
        assert [said.data for said in one.broker.published if said.subtopic == "order"] == waiting


async def test_what_the_broker_cannot_take_now_is_said_again_later(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(live_room, "RETRY_AFTER", 0.0)
    async with connected(tmp_path, acknowledges=False) as one:
        one.broker.acknowledge_all()
        before = len(one.broker.published)
        one.hear(*LIT)
        await one.broker.until(lambda: len(one.broker.orders()) == 2)
        sent = one.broker.orders()
        packets = [
            said.packet for said in one.broker.published[before:] if said.subtopic == "order"
        ]
        one.broker.acknowledge(packets[:1], QUOTA_EXCEEDED)
        one.broker.acknowledge(packets[1:])
        await one.broker.until(lambda: len(one.broker.orders()) == 3)
        assert one.broker.orders() == [*sent, sent[0]]
        one.broker.acknowledge_all()
        await turns(50)
        assert one.room.durable.record.waiting() == ()


async def test_after_messages_that_could_not_be_kept_no_later_ones_are_taken(
    tmp_path: Path,
) -> None:
    """They would pass those, which come again over the next connection."""
    async with connected(tmp_path) as one:
        full = JournalError("the disk is full")
        with patch.object(Journal, "write", side_effect=full):
            one.broker.publish("roomcue/hayloft/in/source", b'{"source":"disc"}', 1)
            one.broker.publish("roomcue/hayloft/in/mark", b'{"words":"wrong"}', 2)
            await one.broker.until(lambda: one.broker.connections == 2)
        assert one.broker.acknowledged == []
        assert "journal cannot be written" in one.logged()


async def test_a_session_that_was_kept_stays_known_though_nothing_can_be_written(
    tmp_path: Path,
) -> None:
    """Else a disk that is full for a while would make a room believe that messages were lost."""
    full = patch.object(DurableRoom, "greeting", side_effect=JournalError("the disk is full"))
    async with scripted_broker(session_kept=True) as broker:
        with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage, full:
            one = Connected(stage, broker, AT_ONCE)
            await broker.until(lambda: broker.connections >= 2)
            await one.stop()
            assert broker.marks >= 1


async def test_what_came_is_acknowledged_once_it_is_in_the_journal(tmp_path: Path) -> None:
    written: list[int] = []
    write = Journal.write

    def watched(own: Journal, page: object) -> None:
        written.append(len(one.broker.acknowledged))
        write(own, page)  # type: ignore[arg-type]

    async with connected(tmp_path) as one:
        with patch.object(Journal, "write", watched):
            one.broker.publish("roomcue/hayloft/in/source", b'{"source":"disc"}', 7)
            await one.broker.until(lambda: one.broker.acknowledged == [7])
        assert written[0] == 0


async def test_a_broker_that_takes_the_connection_and_says_nothing_is_left_and_tried_again(
    tmp_path: Path,
) -> None:
    came: asyncio.Queue[bytes] = asyncio.Queue()
    served: list[asyncio.Task[None] | None] = []

    async def silent(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Take the packet that asks to be let in, and wait until the other one hangs up."""
        served.append(asyncio.current_task())
        while heard := await reader.read(4_096):
            came.put_nowait(heard)
        writer.close()
        await writer.wait_closed()

    server = await asyncio.start_server(silent, "127.0.0.1", 0)
    async with server:
        with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
            log = io.BytesIO()
            session = Session(
                NAME,
                Broker("127.0.0.1", server.sockets[0].getsockname()[1]),
                stage.durable.now,
                decision_log(log, "hayloft"),
                Timing(answer=0.05, first_wait=0.0),
            )
            running = asyncio.create_task(session.run(lambda: None))
            connect = 0x10  # MQTT 5.0, 3.1.1
            for _ in range(2):
                assert (await came.get())[0] == connect
            running.cancel()
            await asyncio.gather(running, return_exceptions=True)
            await asyncio.gather(*(task for task in served if task is not None))
            assert b"broker does not answer" in log.getvalue()


async def test_the_last_word_is_goodbye_though_others_waited(tmp_path: Path) -> None:
    timing = Timing(goodbye=0.01, farewell=0.01)
    async with connected(
        tmp_path, timing=timing, acknowledges=False, greeting=1, receive_maximum=1
    ) as one:
        one.room.say(one.room.alive())
        await one.session.leave()
        await one.broker.until(lambda: one.broker.goodbyes == 1)
        gone = one.broker.published[1]
        assert (gone.subtopic, gone.retained) == ("alive", True)
        assert gone.data == {"contract": 1, "alive": False, "epoch": 0, "run": 0}


async def test_what_the_broker_does_not_take_for_its_size_is_said_and_holds_nothing_up(
    tmp_path: Path,
) -> None:
    async with connected(tmp_path, largest=450, greeting=1) as one:
        one.hear(*LIT)
        await one.broker.until(lambda: len(one.broker.orders()) == 2)
        assert not {"reason", "standing"} & {*one.broker.leaves()}
        assert "too large for the broker" in one.logged()


async def test_what_is_in_flight_is_not_said_twice(tmp_path: Path) -> None:
    async with connected(tmp_path, acknowledges=False) as one:
        one.hear(*LIT)
        await one.broker.until(lambda: len(one.broker.orders()) == 2)
        before = one.broker.orders()
        one.room.publish(Committed(one.room.durable.record.waiting()))
        one.room.say(one.room.alive())
        await one.broker.until(lambda: one.broker.leaves()[-1] == "alive")
        assert one.broker.orders() == before


@pytest.mark.parametrize("reason", [None, TOO_LARGE], ids=["no word", "a reason"])
async def test_a_broker_that_hangs_up_again_and_again_is_tried_later_and_later(
    reason: int | None, tmp_path: Path
) -> None:
    """As it does while it is restarted, or while two clients take a session from each other.

    So it does as well if it takes no message as large as one that is said at each beginning.
    """
    waits: list[float] = []
    sleep = asyncio.sleep

    async def noting(seconds: float) -> None:
        waits.append(seconds)
        await sleep(0)

    with patch("adapters.live.session.asyncio.sleep", noting):
        async with connected(tmp_path, timing=Timing(first_wait=1.0, longest_wait=8.0)) as one:
            for times in range(2, 8):
                one.broker.hang_up(reason)
                await one.broker.until(partial(one.broker.has_had, times))
                await one.broker.until(one.connection_greeted)
            assert [wait for wait in waits if wait >= 1] == [1.0, 2.0, 4.0, 8.0, 8.0, 8.0]
            assert not one.running.done()


async def test_rights_that_one_room_lacks_do_not_end_the_others(tmp_path: Path) -> None:
    """It is tried again later; alone it ends, so that somebody looks at it."""
    async with scripted_broker() as broker:
        broker.subscribed = NOT_AUTHORIZED
        with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
            address, log = Broker("127.0.0.1", broker.port), decision_log(io.BytesIO(), "hayloft")
            at_once = Timing(first_wait=0.0, longest_wait=0.0)
            lacking, other = (
                Session(NAME, address, stage.durable.now, log, at_once) for _ in range(2)
            )
            room = LiveRoom(stage.durable, log, lacking)
            readable = partial(Pipeline(stage.journal, alone=True).readable, room, lacking)
            running = asyncio.create_task(lacking.run(readable, [lacking, other]))
            await broker.until(lambda: broker.connections == 3)
            assert lacking.hopeless is not None
            running.cancel()
            await asyncio.gather(running, return_exceptions=True)
            with pytest.raises(BrokerError, match="does not let us hear"):
                await lacking.run(readable)
            room.end()


async def test_whoever_keeps_the_room_since_later_has_it(tmp_path: Path) -> None:
    """The other one leaves without saying that nobody keeps the room."""
    async with connected(tmp_path) as one:
        one.broker.say_alive(since=rfc3339(one.room.since + 3_600_000))
        with pytest.raises(BrokerError, match="two roomcues must not keep one room"):
            await one.running
        await one.broker.until(lambda: one.broker.goodbyes == 1)
        await one.session.leave()
        assert one.broker.connections == 1
        assert all(said.data["alive"] for said in one.broker.published if said.subtopic == "alive")


@pytest.mark.parametrize(
    "since", ["2000-01-01T00:00:00.000Z", None, "2999-01-01T00:00:00.000Z", "since ever"]
)
async def test_whoever_began_earlier_or_cannot_have_begun_hears_that_the_room_is_kept(
    tmp_path: Path, since: str | None
) -> None:
    """So does everybody where the last will of a connection that is over comes late."""
    async with connected(tmp_path) as one:
        one.broker.say_alive(since=since)
        await one.said(5)
        assert one.broker.published[-1].data["alive"] is True
        assert one.broker.connections == 1


async def test_after_a_sleep_of_the_machine_a_room_connects_anew(tmp_path: Path) -> None:
    async with connected(tmp_path) as one:
        one.session.begin_anew()
        await one.broker.until(partial(one.broker.has_had, 2))
