"""What leaves a room over its connection, and what does not: the client library is a stand-in."""

from __future__ import annotations

import asyncio
import json
import select
import socket
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.reasoncodes import ReasonCode

from adapters.live import link
from adapters.live.broker import Broker
from adapters.live.group_commit import Gathering, Part
from adapters.live.journal import JournalError
from adapters.live.keeper import Answer
from adapters.live.link import LONGEST_QUEUE, UNANSWERED, Link
from adapters.live.messages import Said
from engine.events import Event, Mark, ProjectorReport, RatioSeen, SourceChosen, ToldFact
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.adapters.staging import inbound, staged, turns
from tests.adapters.test_live import Live
from tests.golden.evenings import BEGINS

HAYLOFT = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)
LIT = (ProjectorReport(state="lit"), SourceChosen(source="disc"))
TAKEN, LATER = 0, 151
"""PUBACK reasons (MQTT 5.0, 3.4.2.1): success, quota exceeded."""


class Publishing:
    """A client that only remembers what it was to publish."""

    def __init__(self) -> None:
        self.published: list[dict[str, Any]] = []
        self._near, self._far = socket.socketpair()

    def publish(
        self, topic: str, body: bytes, _qos: int, _retain: bool, _props: object = None
    ) -> SimpleNamespace:
        self.published.append({"leaf": topic.rsplit("/", 1)[1], **json.loads(body)})
        return SimpleNamespace(mid=len(self.published))

    def loop_read(self) -> None:
        raise AssertionError("nothing is read any more")

    def disconnect(self) -> None:
        self.published.append({"leaf": "-"})

    def want_write(self) -> bool:
        return False

    def socket(self) -> socket.socket:
        return self._near

    def orders(self) -> list[tuple[Any, Any]]:
        """Give what was said on `order`: its kind, and the order that it is about."""
        said = [one for one in self.published if one["leaf"] == "order"]
        return [(one["kind"], one.get("order", one.get("id"))) for one in said]

    def close(self) -> None:
        self._near.close()
        self._far.close()


class Linked:
    """A live room whose connection stands."""

    def __init__(self, live: Live) -> None:
        self.live = live
        gathering = Gathering(live.stage.journal, alone=True)
        self.link = Link(live.room, Broker("nowhere", 1), gathering)
        self.client = Publishing()
        self.link._client = self.client  # type: ignore[assignment]
        self.link.connected = self.link._greeted = True

    def hear(self, *events: Event) -> None:
        """Let the room hear events as one batch, and give it a moment to explain itself."""
        self.hear_at_once(*events)
        self.link._moment_over(self.live.room._explain)

    def hear_at_once(self, *events: Event) -> None:
        """Let the room hear events as one batch."""
        self.live.room.tell(self.live.room.keeper.take([inbound(event) for event in events]))

    def leaves(self) -> list[str]:
        """Give the last parts of the topics on which something was said."""
        return [said["leaf"] for said in self.client.published]

    def acknowledge(self, mids: list[int], reason: int = TAKEN) -> None:
        """Let the broker say what it has done with messages."""
        code = ReasonCode(PacketTypes.PUBACK, identifier=reason)
        self.link._acknowledged += [(mid, code) for mid in mids]
        self.link._note_acknowledged()


@asynccontextmanager
async def linked(tmp_path: Path) -> AsyncIterator[Linked]:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        one = Linked(Live(stage))
        try:
            yield one
        finally:
            one.live.room.end()
            one.link._client = None
            one.link._drop()
            one.client.close()


async def test_what_explains_an_order_is_said_in_a_moment(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The broker and the hub have the processor first."""
    monkeypatch.setattr(link, "SOON", 0.0)
    async with linked(tmp_path) as one:
        one.hear_at_once(*LIT)
        assert set(one.leaves()) == {"order"}
        await turns()
        assert set(one.leaves()) == {"order", "reason", "standing"}


async def test_where_events_follow_each_other_closely_nothing_is_put_off(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The next order would pay for it."""
    async with linked(tmp_path) as one:
        monkeypatch.setattr(link, "SOON", 3_600.0)
        one.hear(Mark(words="wrong"))
        one.hear_at_once(*LIT)
        assert one.leaves()[-1] == "standing"


async def test_while_the_broker_stalls_an_order_that_is_replaced_never_leaves(
    tmp_path: Path,
) -> None:
    """Of what waits, only the latest word on each order and of each kind is worth sending."""
    async with linked(tmp_path) as one:
        for number in range(UNANSWERED):
            one.hear(Mark(words=f"{number}"))
        assert len(one.client.published) == UNANSWERED
        one.hear(*LIT)
        for ratio in (2.39, 1.85, 2.39):
            one.live.stage.clock.time += 3_000
            one.hear(RatioSeen(ratio=ratio), ToldFact(fact="guests", value=True))
        assert one.client.orders() == []
        waiting = [word.said for word in one.live.room.keeper.waiting()]
        one.acknowledge([*range(1, UNANSWERED + 1)])
        one.acknowledge([*range(UNANSWERED + 1, 2 * UNANSWERED + 1)])
        left = [said for said in one.client.published if said["leaf"] == "order"]
        assert [json.loads(said.body) for said in waiting] == [
            {name: said[name] for name in said if name != "leaf"} for said in left
        ]
        later = one.client.published[UNANSWERED:]
        standing = [said for said in later if said["leaf"] == "standing"]
        assert len(standing) == 1


async def test_what_the_broker_cannot_take_now_is_said_again_later(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(link, "PATIENCE", 0.0)
    async with linked(tmp_path) as one:
        one.hear(*LIT)
        sent = one.client.orders()
        assert len(sent) == 2
        mids = [n for n, said in enumerate(one.client.published, 1) if said["leaf"] == "order"]
        one.acknowledge(mids[:1], LATER)
        one.acknowledge(mids[1:])
        await turns()
        assert one.client.orders() == [*sent, sent[0]]
        one.acknowledge([*range(1, len(one.client.published) + 1)])
        assert one.live.room.keeper.waiting() == ()


async def test_after_messages_that_could_not_be_kept_no_later_ones_are_taken(
    tmp_path: Path,
) -> None:
    """They would pass those, which come again over the next connection."""
    async with linked(tmp_path) as one:
        one.link._failed(JournalError("the disk is full"))
        one.link._readable()
        assert one.link._ended.is_set()


async def test_a_broker_that_takes_the_connection_and_says_nothing_is_left_and_tried_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(link, "PATIENCE", 0.05)
    monkeypatch.setattr(link, "FIRST_WAIT", 0.0)
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
            live = Live(stage)
            port = server.sockets[0].getsockname()[1]
            one = Link(live.room, Broker("127.0.0.1", port), Gathering(stage.journal, alone=True))
            running = asyncio.create_task(one.run())
            connect = 0x10  # MQTT 5.0, 3.1.1
            async with asyncio.timeout(10):
                for _ in range(2):
                    assert (await came.get())[0] == connect
            running.cancel()
            await asyncio.gather(running, return_exceptions=True)
            await asyncio.gather(*(task for task in served if task is not None))
            assert "broker does not answer" in [line["event"] for line in live.lines()]


async def test_what_a_secured_socket_holds_back_is_read_without_another_word_from_the_system(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A TLS record brings many packets at once, and the system shows none of them as readable."""
    held = [*range(10)]

    monkeypatch.setattr(link, "DRAIN", 3)
    monkeypatch.setattr(link, "_pending", lambda _sock: bool(held))
    async with linked(tmp_path) as one:
        monkeypatch.setattr(one.client, "loop_read", held.pop)
        one.link._poll.register(one.client.socket(), select.POLLIN)
        one.link._readable()
        assert len(held) == 7
        await turns()
        assert held == []


async def test_how_things_stand_is_never_dropped_however_much_waits(tmp_path: Path) -> None:
    async with linked(tmp_path) as one:
        one.link._most = 0
        for number in range(LONGEST_QUEUE + 5):
            one.link.say(Said("reason", b"%d" % number), None)
        one.hear(*LIT)
        queued = [json.loads(said.body) for said, _ in one.link._queue if said.leaf == "standing"]
        assert [said["source"] for said in queued] == ["disc"]


async def test_the_last_word_is_goodbye_though_others_waited(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(link, "GOODBYE", 0.01)
    async with linked(tmp_path) as one:
        one.link._most = 0
        one.live.room.say(one.live.room.alive())
        await one.link.leave()
        one.acknowledge([1])
        assert [said["leaf"] for said in one.client.published] == ["alive", "-"]
        assert one.client.published[0]["alive"] is False


async def test_what_the_broker_does_not_take_for_its_size_is_said_and_holds_nothing_up(
    tmp_path: Path,
) -> None:
    async with linked(tmp_path) as one:
        one.link._largest = 450
        one.hear(*LIT)
        assert len(one.client.orders()) == 2
        assert "reason" not in [said["leaf"] for said in one.client.published]
        assert "too large for the broker" in [line["event"] for line in one.live.lines()]


async def test_what_goes_wrong_in_one_room_is_not_kept_from_the_others(tmp_path: Path) -> None:
    shown: list[dict[str, Any]] = []
    asyncio.get_running_loop().set_exception_handler(lambda _loop, context: shown.append(context))
    failed: list[Exception] = []
    heard: list[Answer] = []

    def breaks(_answer: Answer) -> None:
        raise RuntimeError("a fault")

    async with linked(tmp_path) as one:
        keeper, messages = one.live.room.keeper, [inbound(event) for event in LIT]
        gathering = Gathering(one.live.stage.journal, alone=False)
        gathering.add(Part(keeper, messages, breaks, failed.append))
        gathering.add(Part(keeper, messages[:1], heard.append, failed.append))
        await asyncio.sleep(0)
        assert len(heard) == 1
        assert [str(error) for error in failed] == ["a fault"]
        assert [str(one["exception"]) for one in shown] == ["a fault"]


async def test_what_is_under_way_is_not_said_twice(tmp_path: Path) -> None:
    async with linked(tmp_path) as one:
        one.hear(*LIT)
        before = one.client.orders()
        one.live.room.say_again()
        assert one.client.orders() == before


@pytest.mark.parametrize(
    ("earlier", "later", "outdated"),
    [
        (Said("order", b"", 1, 7, "picture"), Said("order", b"", 1, 8, "picture"), True),
        (Said("order", b"", 1, 7, "picture"), Said("order", b"", 1, 7), True),
        (Said("order", b"", 1, 7, "picture"), Said("order", b"", 1, 8, "recall"), False),
        (Said("ask", b"", 1, 7), Said("ask", b"", 1, 7), True),
        (Said("ask", b"", 1, 7), Said("order", b"", 1, 8, "recall"), False),
        (Said("standing", b"", retained=True), Said("standing", b"", retained=True), True),
        (Said("standing", b"", retained=True), Said("alive", b"", retained=True), False),
        (Said("reason", b""), Said("reason", b""), False),
        (Said("reason", b""), Said("order", b"", 1, 8, "recall"), False),
    ],
)
def test_a_word_is_outdated_by_a_later_one_on_the_same_thing(
    earlier: Said, later: Said, *, outdated: bool
) -> None:
    assert later.outdates(earlier) is outdated
