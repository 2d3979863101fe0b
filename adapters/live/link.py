"""One room's connection to the broker: MQTT 5, nothing acknowledged before it is committed.

Messages are read until the socket is empty, committed together, acknowledged, and only then
answered. The client library never sends anything again: each connection has a client object of
its own, and what the broker had not taken comes from the journal's outbox, under the number that
it always had.
"""

from __future__ import annotations

import asyncio
import select
import socket
import ssl
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from functools import lru_cache
from time import perf_counter
from typing import TYPE_CHECKING, Final

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from adapters.live.broker import Broker, LinkError
from adapters.live.group_commit import Gathering, Part
from adapters.live.journal import JournalError
from adapters.live.keeper import Answer, Inbound
from adapters.live.live_room import LiveRoom
from adapters.live.messages import GONE, LONGEST_ROOM, ROOT, Said, Word
from adapters.live.receipts import WINDOW, receipt_of

if TYPE_CHECKING:
    from paho.mqtt.client import SocketLike

SESSION: Final = 7 * 86_400
"""For so long (s) the broker keeps what is sent to a room that is not there."""
KEEPALIVE: Final = 30
PATIENCE: Final = 5.0
"""So long (s) a connection may take to come up."""
UNANSWERED: Final = 20
"""So many messages may be under way to the broker at once, or fewer if it says so."""
LARGEST: Final = 1 << 28
"""No packet is larger than this (MQTT 5.0, 2.1.4), unless the broker asks for less."""
OVERHEAD: Final = 32
"""So many bytes of a packet are neither topic nor payload, at the most."""
CHORES: Final = 1.0
"""So often (s) the client library looks whether the broker still answers."""
FIRST_WAIT: Final = 1.0
LONGEST_WAIT: Final = 30.0
"""After a failed attempt the next one waits (s), each time twice as long."""
FLUSH: Final = 0.25
"""So long (s) what the broker has taken may wait to be written down."""
SOON: Final = 0.002
"""So long (s) what nobody waits for may wait: at once, it would take the processor from the broker
and the hub while they hand an order on."""
DRAIN: Final = 500
"""No more packets than this are read before what they bring is committed."""
TAKEN_OVER: Final = 142
UNSAID: Final = 128
CLOSED_IN_A_ROW: Final = 5
IN_A_ROW: Final = 15.0
"""Some brokers do not say that another client has come: then so many connections, closed within
so long (s) without a reason though the broker is there all the time, say so."""
REFUSED_FOR_GOOD: Final = frozenset({132, 133, 134, 135, 138, 140, 154, 155})
"""Reasons (MQTT 5.0, 3.2.2.2) for which trying again is of no use."""
LONGEST_QUEUE: Final = 1_000
"""While the broker stalls, no more than so many words wait that the journal does not keep."""
NO_SUBSCRIPTION: Final = 17
"""There was none to take away (MQTT 5.0, 3.11.3)."""
GOODBYE: Final = 1.0
"""So long (s) the broker may take to answer what was said last."""
PASSING: Final = frozenset({128, 131, 151})
"""Reasons for not taking a message that pass (MQTT 5.0, 3.4.2.1): it stays in the outbox."""


CORK: Final[int | None] = getattr(socket, "TCP_CORK", None)
"""Where the system can hold back what is written until all of it is."""


class Link:
    """Keeps one room connected: `run` it as a task, cancel the task to end it."""

    def __init__(self, room: LiveRoom, broker: Broker, gathering: Gathering) -> None:
        self._room, self._keeper, self._log = room, room.keeper, room.log
        self._broker, self._gathering = broker, gathering
        self._root = f"{ROOT}/{self._keeper.room.name}"
        self._mark = f"{self._root}/in/session"
        room.outlet = self
        self._client: Client | None = None
        self._batch: list[MQTTMessage] = []
        self._under_way: dict[int, Word] = {}
        """What the broker has not acknowledged, by packet id."""
        self._queue: deque[Word] = deque()
        """What waits until fewer are under way."""
        self._carried: set[int] = set()
        """The serials of all that is under way or waits for it."""
        self._most, self._largest = UNANSWERED, LARGEST
        self._acknowledged: list[tuple[int, ReasonCode]] = []
        self._ended = asyncio.Event()
        self._over: str | None = None
        self._latest = 0.0
        """When something was last put off, by the event loop's clock (s)."""
        self._moment: asyncio.TimerHandle | None = None
        self._flushing: asyncio.TimerHandle | None = None
        self._retry: asyncio.TimerHandle | None = None
        self._chore: asyncio.Task[None] | None = None
        self._watched: object = None
        """The socket that the event loop looks at."""
        self._poll = select.poll()
        self._waits_to_write = False
        self._closed_by_broker = False
        self._kept: bool | None = None
        """Once the broker has let us in: whether it says that it had kept our session."""
        self._lost: bool | None = None
        """Once that is known: whether messages may have been lost."""
        self._listening: int | None = None
        """The packet that asks to hear the room's topics."""
        self._greeted = False
        """Whether what had waited has been said."""
        self._leaving = False
        self._quiet = asyncio.Event()
        """Once we are leaving: nothing is under way any more."""
        self.connected = False

    # ---------------------------------------------------------------------------- to and fro

    async def run(self) -> None:
        """Stay connected until cancelled; raises `LinkError`."""
        wait = FIRST_WAIT
        closed: deque[float] = deque(maxlen=CLOSED_IN_A_ROW)
        loop = asyncio.get_running_loop()
        while True:
            try:
                await self._connect()
                await self._ended.wait()
                if self._greeted:
                    wait = FIRST_WAIT
                if self._closed_by_broker:
                    closed.append(loop.time())
                else:
                    closed.clear()
            except (OSError, JournalError) as error:
                closed.clear()
                self._log.warning("broker is out of reach", why=str(error), again_in=wait)
            finally:
                self._drop()
            if len(closed) == CLOSED_IN_A_ROW and closed[-1] - closed[0] < IN_A_ROW:
                self._over = self._over or self._two_of_us("seems to connect")
            if self._over is not None:
                raise LinkError(self._over)
            await asyncio.sleep(wait)
            wait = min(2 * wait, LONGEST_WAIT)

    def _two_of_us(self, what: str) -> str:
        name = f"{ROOT}-{self._keeper.room.name}"
        return f"another client {what} as {name}: two roomcues must not keep one room"

    async def _connect(self) -> None:
        self._ended, self._closed_by_broker = asyncio.Event(), False
        client = self._new_client()
        properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
        properties.SessionExpiryInterval = SESSION
        properties.ReceiveMaximum = WINDOW
        properties.MaximumPacketSize = LONGEST_ROOM + 4_096
        loop = asyncio.get_running_loop()
        self._client = client
        await loop.run_in_executor(
            None,
            lambda: client.connect(
                self._broker.host,
                self._broker.port,
                KEEPALIVE,
                clean_start=False,
                properties=properties,
            ),
        )
        sock = client.socket()
        if sock is None:
            raise OSError("the broker hung up at once")
        self._watched = sock
        self._poll = select.poll()
        self._poll.register(sock, select.POLLIN)
        loop.add_reader(sock, self._readable)
        self.write()
        self._chore = asyncio.create_task(self._chores(client))
        loop.call_later(PATIENCE, self._look_whether_met, client)

    def _look_whether_met(self, client: Client) -> None:
        """End a connection over which the broker has not let us in by now."""
        if client is self._client and not self._greeted and not self._ended.is_set():
            self._ended.set()
            self._log.warning("broker does not answer", after=PATIENCE)

    def _new_client(self) -> Client:
        client = Client(
            CallbackAPIVersion.VERSION2,
            client_id=f"{ROOT}-{self._keeper.room.name}",
            protocol=MQTTProtocolVersion.MQTTv5,
            reconnect_on_failure=False,
            manual_ack=True,
        )
        self._broker.introduce(client)
        client.connect_timeout = PATIENCE
        client.max_inflight_messages_set(0)  # `_publish` sees to that
        client.will_set(self._topic(GONE), GONE.body, qos=1, retain=True)
        client.on_socket_open = _without_delay
        client.on_socket_close = self._on_socket_close
        client.on_socket_register_write = _later
        client.on_connect = self._on_connect
        client.on_disconnect = self._on_disconnect
        client.on_message = self._on_message
        client.on_publish = self._on_publish
        client.on_subscribe = self._on_subscribe
        client.on_unsubscribe = self._on_unsubscribe
        return client

    async def _chores(self, client: Client) -> None:
        while client is self._client:
            client.loop_misc()
            self.write()
            await asyncio.sleep(CHORES)

    def _drop(self) -> None:
        """Forget a connection and everything that belonged to it."""
        client, self._client, self.connected = self._client, None, False
        self._batch.clear()
        self._under_way.clear()
        self._queue.clear()
        self._carried.clear()
        self._acknowledged.clear()
        self._kept = self._lost = self._listening = None
        self._greeted = False
        if self._retry is not None:
            self._retry.cancel()
            self._retry = None
        if self._chore is not None:
            self._chore.cancel()
        if client is None:
            return
        client.on_disconnect = None
        sock = client.socket()
        if sock is not None:
            self._unwatch(sock)
            sock.close()

    def _unwatch(self, sock: SocketLike) -> None:
        """Let the event loop look away from a socket, before its number is given to another."""
        if sock is self._watched:
            loop = asyncio.get_running_loop()
            loop.remove_reader(sock)
            loop.remove_writer(sock)
            self._watched, self._waits_to_write = None, False

    async def leave(self) -> None:
        """Say goodbye, so that no last will is needed.

        Whoever closes a connection with something in it unread may take his own goodbye back, so
        the broker's answers are waited for.
        """
        client, self._leaving = self._client, True
        self._queue.clear()
        if client is not None and self.connected:
            sent = client.publish(self._topic(GONE), GONE.body, 1, True)  # noqa: FBT003 - retained
            self._under_way[sent.mid] = Word(GONE)
            self.write()
            with suppress(TimeoutError):
                async with asyncio.timeout(GOODBYE):
                    await self._quiet.wait()
            client.disconnect()
            self.write()
        self._flush()

    # ------------------------------------------------------------------------------- reading

    def _readable(self) -> None:
        """Read the socket empty, commit what came, acknowledge it, and answer."""
        client = self._client
        if client is None or self._ended.is_set():
            return  # What comes after messages that could not be kept must not pass them.
        begins = perf_counter()
        try:
            self._drain(client)
            self._note_acknowledged()
            if self._kept is not None and not self.connected:
                self._enter(client, kept=self._kept)
            if self._lost is not None and not self._greeted:
                self._greet(client, lost=self._lost)
        except JournalError as error:
            self._failed(error)
            return
        batch, self._batch = self._batch, []
        if batch:
            self._take(client, batch, begins)
        else:
            self.write()

    def _drain(self, client: Client) -> None:
        sock = client.socket()
        if sock is None:
            return
        for _ in range(DRAIN):
            client.loop_read()
            sock = client.socket()
            if sock is None:
                self._ended.set()
                return
            if not _pending(sock) and not self._poll.poll(0):
                return
        if _pending(sock):  # of which the event loop knows nothing
            asyncio.get_running_loop().call_soon(self._readable)

    def _enter(self, client: Client, *, kept: bool) -> None:
        """Listen, and find out whether the session is the one we know.

        A broker may have begun a new one in an attempt whose answer never reached us. So a
        session carries a mark, a subscription to a topic on which nothing comes: it is set once
        the hub's questions are in the journal, and where it cannot be taken away it was not there.
        """
        self.connected = True
        self._keeper.connected()
        options = SubscribeOptions(qos=1, retainHandling=SubscribeOptions.RETAIN_SEND_IF_NEW_SUB)
        self._listening = client.subscribe(f"{self._root}/in/#", options=options)[1]
        if kept:
            client.unsubscribe(self._mark)
        else:
            self._lost = True

    def _greet(self, client: Client, *, lost: bool) -> None:
        """Say what has waited; ask for everything if messages are `lost`."""
        self._greeted = True
        self._room.greet(lost=lost)
        client.subscribe(self._mark, qos=0)

    def _on_unsubscribe(
        self,
        client: Client,
        _data: object,
        _mid: int,
        reasons: list[ReasonCode],
        _props: object,
    ) -> None:
        if client is self._client:
            self._lost = any(reason.value == NO_SUBSCRIPTION for reason in reasons)

    def _note_acknowledged(self) -> None:
        """Note what the broker has taken, and send what waited for that."""
        acknowledged, self._acknowledged = self._acknowledged, []
        for mid, reason in acknowledged:
            word = self._under_way.pop(mid, None)
            if word is None:
                continue  # said twice
            said, serial = word
            if serial is not None:
                self._carried.discard(serial)
            if reason.is_failure:
                self._log.warning("broker does not take it", topic=said.leaf, why=str(reason))
            if reason.value in PASSING and (said.kept or said.retained):
                self._try_again()
            elif serial is not None:
                self._keeper.sent(serial)
                if self._flushing is None:
                    loop = asyncio.get_running_loop()
                    self._flushing = loop.call_later(FLUSH, self._flush)
        if acknowledged:
            self._publish()
        if self._leaving and not self._under_way:
            self._quiet.set()

    def _try_again(self) -> None:
        """Say what still waits, after a while."""
        if self._retry is None:
            self._retry = asyncio.get_running_loop().call_later(PATIENCE, self._say_again)

    def _say_again(self) -> None:
        self._retry = None
        try:
            self._room.say_again()
        except JournalError as error:
            self._log.warning("journal cannot be written", why=str(error), again_in=PATIENCE)
            self._try_again()

    def _take(self, client: Client, batch: list[MQTTMessage], begins: float) -> None:
        def done(answer: Answer) -> None:
            for message in batch:
                client.ack(message.mid, message.qos)
            self._room.tell(answer)
            self._keeper.counts.note_lag(perf_counter() - begins, len(batch))

        messages = [self._inbound(message) for message in batch]
        self._gathering.add(Part(self._keeper, messages, done, self._failed))

    def _failed(self, error: Exception) -> None:
        """End the connection: what is not acknowledged comes again over the next one."""
        self._ended.set()
        ours = not isinstance(error, JournalError)
        what = "what came cannot be kept" if ours else "journal cannot be written"
        self._log.warning(what, why=str(error))

    def _inbound(self, message: MQTTMessage) -> Inbound:
        try:
            leaf = message.topic.removeprefix(f"{self._root}/in/")
        except UnicodeDecodeError:
            leaf = "\ufffd"
        payload = bytes(message.payload)
        receipt = receipt_of(message.mid, leaf, payload) if message.qos else None
        return Inbound(leaf, payload, message.retain, receipt, message.dup)

    # ------------------------------------------------------------------------------- writing

    def say(self, said: Said, serial: int | None) -> None:
        """Publish a message if the broker is there; what waits in the outbox is sent later."""
        if self._leaving:
            welcome = False  # What matters is in the outbox.
        elif serial is None:
            room_left = said.retained or len(self._queue) < LONGEST_QUEUE
            welcome = self.connected and room_left
        else:
            welcome = self._greeted and serial not in self._carried
        if not welcome:
            return
        if self._queue:
            self._drop_outdated(said)
        self._queue.append(Word(said, serial))
        if serial is not None:
            self._carried.add(serial)
        self._publish()

    def _drop_outdated(self, said: Said) -> None:
        """Let nothing leave the queue that is no longer so."""
        left = [word for word in self._queue if said.outdates(word.said)]
        for word in left:
            self._queue.remove(word)
        self._carried.difference_update(word.serial for word in left if word.serial is not None)

    def _publish(self) -> None:
        """Publish what waits, with no more under way than the broker takes."""
        client = self._client
        while client is not None and self._queue and len(self._under_way) < self._most:
            said, serial = self._queue.popleft()
            properties = None
            if said.ends is not None:
                left = said.ends - self._keeper.now()
                if left <= 0:
                    self._carried.discard(serial or 0)
                    continue
                properties = _expiring(max(1, left // 1_000))
            topic = self._topic(said)
            if len(topic) + len(said.body) + OVERHEAD > self._largest:
                self._log.warning("too large for the broker", topic=said.leaf, most=self._largest)
                continue
            sent = client.publish(topic, said.body, 1, said.retained, properties)
            self._under_way[sent.mid] = Word(said, serial)

    def _topic(self, said: Said) -> str:
        return f"{self._root}/out/{said.leaf}"

    def soon(self, work: Callable[[], None]) -> None:
        """Do what nobody waits for: in a moment, or at once if another event is about to come."""
        loop = asyncio.get_running_loop()
        before, self._latest = self._latest, loop.time()
        if self._latest - before < SOON:
            work()
        if self._moment is None:
            self._moment = loop.call_later(SOON, self._moment_over, work)

    def _moment_over(self, work: Callable[[], None]) -> None:
        self._moment = None
        work()
        self.write()

    def write(self) -> None:
        """Hand what was said to the socket."""
        client = self._client
        if client is None or self._watched is None:
            return  # While another thread connects, the client is its own.
        sock = client.socket()
        if client.want_write():
            _hold(sock, held=True)
            client.loop_write()
            sock = client.socket()
            _hold(sock, held=False)
        if sock is None:
            self._ended.set()
            return
        loop = asyncio.get_running_loop()
        if client.want_write():
            loop.add_writer(sock, self.write)
            self._waits_to_write = True
        elif self._waits_to_write:
            loop.remove_writer(sock)
            self._waits_to_write = False

    # ------------------------------------------------------------- what the library tells us
    # Within these it holds its locks, so they only note what there is to be done.

    def _on_connect(
        self,
        client: Client,
        _data: object,
        flags: ConnectFlags,
        reason: ReasonCode,
        properties: Properties | None,
    ) -> None:
        if client is not self._client:
            return
        if reason.is_failure:
            self._ended.set()
            if reason.value in REFUSED_FOR_GOOD:
                self._over = f"the broker refuses {self._root}: {reason}"
            self._log.warning("broker refuses", why=str(reason))
            return
        self._most = min(getattr(properties, "ReceiveMaximum", UNANSWERED), UNANSWERED)
        self._largest = getattr(properties, "MaximumPacketSize", LARGEST)
        self._kept = flags.session_present

    def _on_disconnect(
        self,
        client: Client,
        _data: object,
        _flags: DisconnectFlags,
        reason: ReasonCode,
        _props: object,
    ) -> None:
        if client is not self._client:
            return
        if reason.value == TAKEN_OVER:
            self._over = self._two_of_us("has connected")
        # Once we were in, and had nothing against it ourselves.
        ours = not self.connected or self._ended.is_set()
        self._closed_by_broker = reason.value == UNSAID and not ours
        if not self._leaving:
            self._log.warning("broker is gone", why=str(reason))
        self._ended.set()

    def _on_socket_close(self, _client: Client, _data: object, sock: SocketLike) -> None:
        self._unwatch(sock)

    def _on_subscribe(
        self,
        client: Client,
        _data: object,
        mid: int,
        reasons: list[ReasonCode],
        _props: object,
    ) -> None:
        if mid != self._listening:
            return
        failed = [reason for reason in reasons if reason.is_failure]
        if client is self._client and failed:
            self._over = f"the broker does not let us hear {self._root}/in/#: {failed[0]}"
            self._ended.set()
        elif client is self._client:
            self._log.info("broker is there", session=self._kept)

    def _on_message(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        self._batch.append(message)

    def _on_publish(
        self, client: Client, _data: object, mid: int, reason: ReasonCode, _props: object
    ) -> None:
        if client is self._client and mid in self._under_way:
            self._acknowledged.append((mid, reason))

    def _flush(self) -> None:
        self._flushing = None
        try:
            self._keeper.flush()
        except JournalError as error:
            self._log.warning("journal cannot be written", why=str(error))


class _Expiring(Properties):
    """What says that a message ends after so many seconds: put into bytes once."""

    def __init__(self, seconds: int) -> None:
        super().__init__(PacketTypes.PUBLISH)  # type: ignore[no-untyped-call]
        self.MessageExpiryInterval = seconds
        vars(self)["packed"] = super().pack()  # type: ignore[no-untyped-call]

    def pack(self) -> bytes:
        """Give the bytes, for as often as it is sent."""
        return bytes(vars(self)["packed"])


_expiring = lru_cache(64)(_Expiring)


def _without_delay(_client: Client, _data: object, sock: SocketLike) -> None:
    """Send every packet at once: two small ones in a row would wait for an acknowledgement."""
    if isinstance(sock, socket.socket):
        sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)


def _hold(sock: SocketLike | None, *, held: bool) -> None:
    """Let packets leave together: each by itself would wake the broker by itself."""
    if CORK is not None and isinstance(sock, socket.socket):
        sock.setsockopt(socket.IPPROTO_TCP, CORK, held)


def _later(*_: object) -> None:
    """Leave packets in their queue: they are written together once a batch is done."""


def _pending(sock: object) -> bool:
    """Tell whether a secured socket holds bytes that the system does not know of."""
    return isinstance(sock, ssl.SSLSocket) and sock.pending() > 0
