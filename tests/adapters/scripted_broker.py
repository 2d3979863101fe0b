"""A broker that does what a test says: MQTT 5 over loopback, one client at a time.

It lets the client in, confirms its subscriptions, notes what it publishes and acknowledges that
only when it shall. Packets are read and written as MQTT 5.0 (chapters 2 and 3) lays them out.
"""

from __future__ import annotations

import asyncio
import json
import struct
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from typing import Any, Final, NamedTuple

CONNECT, CONNACK, PUBLISH, PUBACK = 1, 2, 3, 4
SUBSCRIBE, SUBACK, UNSUBSCRIBE, UNSUBACK = 8, 9, 10, 11
PINGREQ, PINGRESP, DISCONNECT = 12, 13, 14
RECEIVE_MAXIMUM: Final = 0x21
MAXIMUM_PACKET_SIZE: Final = 0x27
EXPIRY, RESPONSE_TOPIC, CORRELATION_DATA = 0x02, 0x08, 0x09
"""Properties of messages (MQTT 5.0, 2.2.2.2)."""
NO_SUBSCRIPTION_EXISTED: Final = 17
TOO_LARGE: Final = 149
"""The reason to close a connection over which a packet came that is too large (3.14.2.1)."""
TAKEN, NOT_AUTHORIZED, QUOTA_EXCEEDED = 0, 135, 151
"""PUBACK and SUBACK reasons (MQTT 5.0, 3.4.2.1 and 3.9.3)."""


class Published(NamedTuple):
    """One message of the client's."""

    subtopic: str
    data: dict[str, Any]
    packet: int
    retained: bool
    topic: str = ""
    properties: bytes = b""


class ScriptedBroker:
    """What the client has said, and what it shall hear."""

    def __init__(
        self, *, session_kept: bool, receive_maximum: int, largest: int | None, acknowledges: bool
    ) -> None:
        self.port = 0
        self.published: list[Published] = []
        self.acknowledged: list[int] = []
        """Packet ids of our messages that the client has acknowledged."""
        self.connections = 0
        self.goodbyes = 0
        self.last_goodbye = b""
        """What the last of them said besides."""
        self.subscriptions = 0
        self.marks = 0
        """How often the client has marked its session as the one that it knows."""
        self.subscribed = TAKEN
        """What becomes of the client's subscriptions."""
        self.answers_unsubscribe = True
        self.unsubscribing = b""
        """The packet id of what the client has asked last to hear no longer."""
        self.lets_in_after = 0.0
        """Seconds that it takes to answer a client that connects."""
        self.refused_topics: dict[str, int] = {}
        """By the last part of a topic: the reason for which nothing is taken there."""
        self.brings_at_once: bytes | None = None
        """What a source is reported with as soon as a client is let in; None: nothing."""
        self.knows_no_local = True
        """Whether the client is spared its own messages, as it has asked."""
        self._session_kept, self._acknowledges = session_kept, acknowledges
        self._limits = struct.pack(">BH", RECEIVE_MAXIMUM, receive_maximum)
        if largest is not None:
            self._limits += struct.pack(">BI", MAXIMUM_PACKET_SIZE, largest)
        self._writer: asyncio.StreamWriter | None = None
        self._news = asyncio.Event()

    async def until(self, holds: Callable[[], bool]) -> None:
        """Wait for the client until something holds."""
        async with asyncio.timeout(120):  # a last resort: nothing is measured
            while not holds():
                self._news.clear()
                await self._news.wait()

    def leaves(self) -> list[str]:
        """Give the last parts of the topics on which something was said."""
        return [one.subtopic for one in self.published]

    def orders(self) -> list[tuple[str, int | None]]:
        """Give what was said on `order`: its kind, and the order that it is about."""
        said = [one.data for one in self.published if one.subtopic == "order"]
        return [(one["kind"], one.get("order", one.get("id"))) for one in said]

    def acknowledge(self, packets: list[int], reason: int = TAKEN) -> None:
        """Say what became of the client's messages."""
        for packet in packets:
            self._send(PUBACK, 0, struct.pack(">HBB", packet, reason, 0))

    def acknowledge_all(self) -> None:
        """Take everything that was published so far."""
        self.acknowledge([one.packet for one in self.published])

    def publish(self, topic: str, payload: bytes, packet: int, properties: bytes = b"") -> None:
        """Send a message to the client, to be acknowledged under a packet id."""
        body = _text(topic) + struct.pack(">H", packet) + _length(len(properties))
        body += properties + payload
        self._send(PUBLISH, 0b0010, body)

    def answer_unsubscribe(self) -> None:
        """Say what has become of what the client no longer wants to hear."""
        reason = 0 if self._session_kept else NO_SUBSCRIPTION_EXISTED
        self._send(UNSUBACK, 0, self.unsubscribing + bytes([0, reason]))

    def _send(self, kind: int, flags: int, body: bytes) -> None:
        assert self._writer is not None
        self._writer.write(bytes([kind << 4 | flags]) + _length(len(body)) + body)

    def has_had(self, connections: int) -> bool:
        """Tell whether there have been so many connections."""
        return self.connections == connections

    def hang_up(self, reason: int | None = None) -> None:
        """Close the connection, without a word or with a reason (3.14.2.1)."""
        assert self._writer is not None
        if reason is not None:
            self._send(DISCONNECT, 0, bytes([reason, 0]))
        self._writer.close()

    def say_alive(self, *, since: str | None, retained: bool = False, **more: object) -> None:
        """Say on the room's topic that another roomcue keeps it; None: that none does."""
        said = {"alive": False} if since is None else {"alive": True, "since": since}
        body = json.dumps(said | more).encode()
        self._send(PUBLISH, int(retained), _text("roomcue/hayloft/out/alive") + b"\0" + body)

    async def serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Answer one client until it hangs up."""
        self._writer = writer
        self.connections += 1
        try:
            while True:
                first = (await reader.readexactly(1))[0]
                self._answer(first >> 4, first & 0xF, await reader.readexactly(await _size(reader)))
                self._news.set()
        except (asyncio.IncompleteReadError, ConnectionError):
            pass
        finally:
            self._news.set()
            writer.close()

    def _answer(self, kind: int, flags: int, body: bytes) -> None:
        if kind == CONNECT:
            loop, writer = asyncio.get_running_loop(), self._writer
            loop.call_later(self.lets_in_after, self._let_in, writer)
        elif kind == SUBSCRIBE:
            self.marks += b"/in/session" in body
            self.subscriptions += 1
            self._send(SUBACK, 0, body[:2] + bytes([0, self.subscribed, self.subscribed]))
        elif kind == UNSUBSCRIBE:
            self.unsubscribing = body[:2]
            if self.answers_unsubscribe:
                self.answer_unsubscribe()
        elif kind == PUBLISH:
            self._note(flags, body)
        elif kind == PUBACK:
            self.acknowledged.append(int.from_bytes(body[:2]))
        elif kind == PINGREQ:
            self._send(PINGRESP, 0, b"")
        elif kind == DISCONNECT:
            self.goodbyes, self.last_goodbye = self.goodbyes + 1, body

    def _let_in(self, writer: asyncio.StreamWriter | None) -> None:
        """Answer a client, unless it has hung up meanwhile and another one is there."""
        if writer is not None and writer is self._writer and not writer.is_closing():
            head = bytes([self._session_kept, 0]) + _length(len(self._limits))
            self._send(CONNACK, 0, head + self._limits)
            if self.brings_at_once is not None:
                self.publish("roomcue/hayloft/in/source", self.brings_at_once, 9)

    def _note(self, flags: int, body: bytes) -> None:
        """Note a message of quality of service 1 (3.3.2)."""
        end = 2 + int.from_bytes(body[:2])
        topic, packet = body[2:end].decode(), int.from_bytes(body[end : end + 2])
        payload = body[end + 3 + body[end + 2] :]  # a property length below 128 is one byte
        properties = body[end + 3 : len(body) - len(payload)]
        subtopic, data = topic.rsplit("/", 1)[1], json.loads(payload)
        said = Published(subtopic, data, packet, bool(flags & 1), topic, properties)
        self.published.append(said)
        if subtopic == "alive" and not self.knows_no_local:
            self._send(PUBLISH, 0, _text(topic) + b"\0" + payload)
        if self._acknowledges:
            self.acknowledge([packet], self.refused_topics.get(subtopic, TAKEN))


def asking(response_topic: str | None, correlation: bytes | None) -> bytes:
    """Give the properties with which a message asks for its reply (3.3.2.3)."""
    made = b""
    if response_topic is not None:
        made += bytes([RESPONSE_TOPIC]) + _text(response_topic)
    if correlation is not None:
        made += bytes([CORRELATION_DATA]) + struct.pack(">H", len(correlation)) + correlation
    return made


def _text(text: str) -> bytes:
    written = text.encode()
    return struct.pack(">H", len(written)) + written


def _length(size: int) -> bytes:
    """Write a variable byte integer (1.5.5)."""
    written = bytearray()
    while True:
        size, low = divmod(size, 128)
        written.append(low | (0x80 if size else 0))
        if not size:
            return bytes(written)


async def _size(reader: asyncio.StreamReader) -> int:
    """Read a variable byte integer (1.5.5)."""
    size, factor = 0, 1
    while True:
        byte = (await reader.readexactly(1))[0]
        size += (byte & 0x7F) * factor
        if byte < 0x80:
            return size
        factor *= 128


@asynccontextmanager
async def scripted_broker(  # noqa: PLR0913 - what a broker may do
    *,
    session_kept: bool = False,
    receive_maximum: int = 20,
    largest: int | None = None,
    acknowledges: bool = True,
    answers_unsubscribe: bool = True,
    knows_no_local: bool = True,
) -> AsyncIterator[ScriptedBroker]:
    """Run a broker on a port of its own."""
    broker = ScriptedBroker(
        session_kept=session_kept,
        receive_maximum=receive_maximum,
        largest=largest,
        acknowledges=acknowledges,
    )
    broker.answers_unsubscribe, broker.knows_no_local = answers_unsubscribe, knows_no_local
    served: set[asyncio.Task[None]] = set()

    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        task = asyncio.current_task()
        assert task is not None
        served.add(task)
        await broker.serve(reader, writer)

    server = await asyncio.start_server(serve, "127.0.0.1", 0)
    broker.port = server.sockets[0].getsockname()[1]
    try:
        yield broker
    finally:
        server.close()
        await asyncio.gather(*served)
        await server.wait_closed()
