"""The page's connection to the broker: how rooms stand comes in, what people say goes out.

One client for all rooms. The client library has a thread of its own; whatever it hears is handed to
the event loop, and all that is remembered is touched there alone.
"""

from __future__ import annotations

import asyncio
import json
from contextlib import suppress
from secrets import token_hex
from typing import TYPE_CHECKING, Any, Final, Protocol

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from adapters.live.messages import MOST_PAYLOAD_BYTES, STATE_TOPIC, TOPIC_ROOT

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from adapters.live.broker import Broker

RECONNECT: Final = (1, 5)
"""Seconds between attempts to reach the broker: at first, and at most."""
REPLY_WITHIN: Final = 3.0
"""Seconds for which a person's word waits for its reply."""
WORTH_SAYING: Final = 10
"""Seconds after which a word that nobody has taken is dropped: nobody wants it later."""
MOST_MESSAGE_BYTES: Final = 4 * MOST_PAYLOAD_BYTES


class RoomEars(Protocol):
    """What wants to know how one room stands."""

    def hear_standing(self, said: dict[str, Any]) -> None:
        """Hear how it stands."""

    def hear_alive(self, said: dict[str, Any], holds: float | None) -> None:
        """Hear whether roomcue is there; `holds` seconds, if the broker says for how long."""

    def lose_broker(self) -> None:
        """Hear that the broker is gone."""


class RoomLink:
    """Keeps the page connected."""

    def __init__(self, broker: Broker, log: Callable[[str], None]) -> None:
        self._broker, self._log = broker, log
        self._ears: dict[str, RoomEars] = {}
        self._missed = False
        self._own = f"replies/page-{token_hex(8)}"
        self._waiting: dict[bytes, asyncio.Future[dict[str, Any]]] = {}
        self._loop = asyncio.get_running_loop()
        self._client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
        self._client.on_connect = self._on_connect
        self._client.on_connect_fail = self._on_connect_fail
        self._client.on_disconnect = self._on_disconnect
        self._client.on_message = self._on_message
        self._client.reconnect_delay_set(*RECONNECT)

    def listen(self, ears: Iterable[tuple[str, RoomEars]]) -> None:
        """Begin to listen for rooms, by their names; the broker may come later."""
        self._ears = dict(ears)
        self._broker.introduce(self._client)
        self._client.connect_async(self._broker.host, self._broker.port, keepalive=20)
        self._client.loop_start()

    def leave(self) -> None:
        """Say goodbye to the broker."""
        self._client.disconnect()
        self._client.loop_stop()

    async def say(self, room: str, subtopic: str, fields: dict[str, Any]) -> dict[str, Any] | None:
        """Say a person's word to a room, and give its reply; None: none came in time."""
        if not self._client.is_connected():
            return None
        mark = token_hex(8).encode()
        reply: asyncio.Future[dict[str, Any]] = self._loop.create_future()
        self._waiting[mark] = reply
        try:
            async with asyncio.timeout(REPLY_WITHIN):
                self._publish(room, subtopic, {**fields, "id": f"page-{mark.decode()}"}, mark)
                return await reply
        except TimeoutError:
            return None
        finally:
            del self._waiting[mark]

    def ask(self, room: str) -> None:
        """Ask a room how everything stands; it hears of it as of any other change."""
        self._publish(room, STATE_TOPIC, {}, f"state {room}".encode())

    def _publish(self, room: str, subtopic: str, fields: dict[str, Any], mark: bytes) -> None:
        properties = Properties(PacketTypes.PUBLISH)  # type: ignore[no-untyped-call]
        properties.ResponseTopic = self._own
        properties.CorrelationData = mark
        properties.MessageExpiryInterval = WORTH_SAYING
        topic = f"{TOPIC_ROOT}/{room}/in/{subtopic}"
        self._client.publish(topic, json.dumps(fields), qos=1, properties=properties)

    # ---------------------------------------------------------- in the client library's thread

    def _on_connect(
        self,
        client: Client,
        _data: object,
        _flags: ConnectFlags,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        if reason.is_failure:
            self._hand_over(self._log, f"the broker refuses the page: {reason}")
            return
        client.drop_out_messages()  # words without an answer: whoever said them was told so
        wanted = [(self._own, 1)]
        for room in self._ears:
            wanted += [(f"{TOPIC_ROOT}/{room}/out/{it}", 1) for it in ("standing", "alive")]
        client.subscribe(wanted)
        for room in self._ears:  # what is retained may be old; a fresh one says what is left of it
            self.ask(room)
        self._missed = False
        self._hand_over(self._log, "the broker is there")

    def _on_connect_fail(self, _client: Client, _data: object) -> None:
        """Say once that nobody answers; the client goes on trying."""
        if not self._missed:
            where = f"{self._broker.host}, port {self._broker.port}"
            said = f"no broker answers at {where}; name the rooms' own with --broker. Trying on."
            self._hand_over(self._log, said)
        self._missed = True

    def _on_disconnect(
        self,
        _client: Client,
        _data: object,
        _flags: DisconnectFlags,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        self._hand_over(self._lose, str(reason))

    def _on_message(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        if len(message.payload) > MOST_MESSAGE_BYTES:
            return
        try:
            topic, said = message.topic, json.loads(message.payload or b"{}")
        except (ValueError, RecursionError):
            return
        if isinstance(said, dict):
            mark = getattr(message.properties, "CorrelationData", None)
            holds = getattr(message.properties, "MessageExpiryInterval", None)
            self._hand_over(self._hear, topic, said, mark, holds)

    def _hand_over(self, heard: Callable[..., None], *what: object) -> None:
        with suppress(RuntimeError):  # the loop has ended meanwhile
            self._loop.call_soon_threadsafe(heard, *what)

    # ------------------------------------------------------------------------- in the event loop

    def _lose(self, why: str) -> None:
        self._log(f"the broker is gone: {why}")
        for one in self._ears.values():
            one.lose_broker()

    def _hear(
        self, topic: str, said: dict[str, Any], mark: bytes | None, holds: float | None
    ) -> None:
        if topic == self._own:
            reply = self._waiting.get(mark or b"")
            if reply is not None and not reply.done():
                reply.set_result(said)
            elif mark is not None and mark.startswith(b"state "):
                self._tell(mark.decode().partition(" ")[2], "standing", said, None)
            return
        _, room, _, subtopic = topic.split("/", 3)
        self._tell(room, subtopic, said, holds)

    def _tell(self, room: str, subtopic: str, said: dict[str, Any], holds: float | None) -> None:
        ears = self._ears.get(room)
        if ears is None:
            return
        if subtopic == "standing":
            ears.hear_standing(said)
        else:
            ears.hear_alive(said, holds)
