"""What a person has said is said now or never: a broker that comes back is told nothing old."""

from __future__ import annotations

import asyncio
from contextlib import suppress

from adapters.live.broker import Broker
from adapters.page.room_link import RoomLink

LET_IN = bytes((0x20, 3, 0, 0, 0))
"""CONNACK of MQTT 5: no session, no reason, no properties."""
PATIENCE = 20.0


class DeafBroker:
    """Lets everybody in, notes what they say, and acknowledges nothing."""

    def __init__(self) -> None:
        self.heard: list[bytes] = []
        """What came over each connection."""
        self._news = asyncio.Condition()
        self._writers: list[asyncio.StreamWriter] = []
        self._served: list[asyncio.Task[None]] = []

    async def serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Let one client in, and listen until it is gone."""
        self._writers.append(writer)
        task = asyncio.current_task()
        assert task is not None
        self._served.append(task)
        at = len(self.heard)
        self.heard.append(b"")
        with suppress(ConnectionError):
            while data := await reader.read(65_536):
                if not self.heard[at]:
                    writer.write(LET_IN)
                async with self._news:
                    self.heard[at] += data
                    self._news.notify_all()
        writer.close()

    async def hears(self, words: bytes, at: int) -> None:
        """Wait until some words have come over a connection."""
        async with asyncio.timeout(PATIENCE), self._news:
            await self._news.wait_for(lambda: len(self.heard) > at and words in self.heard[at])

    def say(self, topic: bytes, payload: bytes) -> None:
        """Publish to everybody."""
        rest = len(topic).to_bytes(2, "big") + topic + b"\0" + payload
        length, left = b"", len(rest)
        while left >= 128:
            length, left = length + bytes((left % 128 + 128,)), left // 128
        for writer in self._writers:
            writer.write(b"\x30" + length + bytes((left,)) + rest)

    def hang_up(self) -> None:
        """End every connection."""
        for writer in self._writers:
            writer.close()

    async def end(self) -> None:
        """End every connection, and wait until each is closed."""
        self.hang_up()
        await asyncio.gather(*self._served)
        for writer in self._writers:
            with suppress(ConnectionError):
                await writer.wait_closed()


class NoEars:
    """Hears nothing."""

    def hear_standing(self, said: dict[str, object]) -> None:
        """Pass it over."""

    def hear_alive(self, said: dict[str, object], holds: float | None) -> None:
        """Pass it over."""

    def lose_broker(self) -> None:
        """Pass it over."""


class OneEar(NoEars):
    """Hears how a room stands, once."""

    def __init__(self) -> None:
        self.heard = asyncio.Event()

    def hear_standing(self, said: dict[str, object]) -> None:
        """Note that it has come."""
        if said == {"lens": "resting"}:
            self.heard.set()


async def test_a_message_that_is_nested_without_end_does_not_end_the_page() -> None:
    """Anybody with a word at the broker may publish it; what comes after it is heard."""
    broker, ear = DeafBroker(), OneEar()
    server = await asyncio.start_server(broker.serve, "127.0.0.1", 0)
    link = RoomLink(Broker("127.0.0.1", server.sockets[0].getsockname()[1]), lambda _words: None)
    link.listen([("hayloft", ear)])
    try:
        await broker.hears(b"hayloft/in/state", 0)
        broker.say(b"roomcue/hayloft/out/standing", b"[" * 20_000)
        broker.say(b"roomcue/hayloft/out/standing", b'{"lens": "resting"}')
        async with asyncio.timeout(PATIENCE):
            await ear.heard.wait()
    finally:
        link.leave()
        server.close()
        await broker.end()


async def test_a_word_without_an_answer_is_not_said_again_when_the_broker_is_back() -> None:
    """The person was told that no answer came: an undo that came later would be a surprise."""
    broker = DeafBroker()
    server = await asyncio.start_server(broker.serve, "127.0.0.1", 0)
    link = RoomLink(Broker("127.0.0.1", server.sockets[0].getsockname()[1]), lambda _words: None)
    link.listen([("hayloft", NoEars())])
    try:
        await broker.hears(b"hayloft/in/state", 0)
        saying = asyncio.create_task(link.say("hayloft", "undo", {"who": "Ana"}))
        await broker.hears(b"hayloft/in/undo", 0)
        assert await saying is None
        broker.hang_up()
        await broker.hears(b"hayloft/in/state", 1)
        await asyncio.sleep(0.5)  # for what would come after it
        assert b"hayloft/in/undo" not in broker.heard[1]
    finally:
        link.leave()
        server.close()
        await broker.end()
