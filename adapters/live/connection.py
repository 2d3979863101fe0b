"""One connection of a room to the broker, from its first packet to its last: MQTT 5.

What came is handed over whole (`read`), acknowledged only when somebody says so, and nothing is
sent that the broker has not room for. A connection is never used again: the next one has a client
object, a window and a socket of its own.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import suppress
from typing import Final

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions
from structlog.typing import FilteringBoundLogger

from adapters.live.announcements import gone_message
from adapters.live.answer_watch import MOST_SILENT, AnswerWatch, SilenceWatch
from adapters.live.batch import Batch
from adapters.live.broker import REFUSED_FOR_GOOD, REFUSED_FOR_NOW, Broker, ClientName, Timing
from adapters.live.daemon_thread import in_daemon_thread
from adapters.live.inbound import Arrivals, Topics
from adapters.live.inflight import LARGEST_PACKET, MOST_IN_FLIGHT, PACKET_OVERHEAD, InflightWindow
from adapters.live.journal_file import JournalError
from adapters.live.messages import (
    STANDING_SUBTOPIC,
    TOPIC_ROOT,
    OutgoingMessage,
    QueuedMessage,
)
from adapters.live.mqtt_socket import MqttSocket
from adapters.live.publish_properties import (
    properties_of,
    session_properties,
    without_session,
)
from adapters.live.redating import with_time_left
from adapters.live.session_mark import SessionMark

Now = Callable[[], int]
"""Says the time in ms UTC."""

KEEPALIVE: Final = 30
"""Seconds without a packet after which the client asks whether the broker is still there."""
HOUSEKEEPING_INTERVAL: Final = 1.0
"""Seconds between two looks of the client library at its keep-alive."""
REASON_TAKEN_OVER: Final = 142
"""The reason (MQTT 5.0, 3.14.2.1) when another client has connected under our client id."""


def client_with_will(client_id: str, topic: str, last_word: bytes) -> Client:
    """Make a client that connects once and acknowledges nothing by itself; its will is retained."""
    client = Client(
        CallbackAPIVersion.VERSION2,
        client_id=client_id,
        protocol=MQTTProtocolVersion.MQTTv5,
        reconnect_on_failure=False,
        manual_ack=True,
    )
    client.will_set(topic, last_word, qos=1, retain=True)
    return client


class Connection:
    """One attempt to be connected, and what comes of it."""

    def __init__(
        self, name: ClientName, broker: Broker, now: Now, log: FilteringBoundLogger, timing: Timing
    ) -> None:
        self._topic_root = f"{TOPIC_ROOT}/{name.room}"
        self._gone = gone_message(name.epoch, name.run)
        standing = f"{self._topic_root}/out/{STANDING_SUBTOPIC}"
        self._topics = Topics(f"{self._topic_root}/in/", standing, self._topic(self._gone))
        self._arrivals = Arrivals(self._topics)
        self._broker, self._now, self._log, self._timing = broker, now, log, timing
        self._client = self._new_client(name.client_id)
        self._session = SessionMark(self._client, self._topic_root)
        self._socket = MqttSocket(self._client, lambda: self._arrivals.enough)
        self._window, self._largest = InflightWindow(), LARGEST_PACKET
        self._on_readable: Callable[[], None] | None = None
        self._answers, self._silence = AnswerWatch(), SilenceWatch()
        self._timers: dict[str, asyncio.TimerHandle] = {}  # what each of them is for
        # What the library's callbacks note, for `read` to hand over.
        self._acknowledged: list[tuple[int, ReasonCode]] = []
        self._session_kept: bool | None = None
        self._subscribing: int | None = None  # the packet that asks to hear the room's topics
        self._failed = self._leaving = False
        self._parting: asyncio.Task[None] | None = None
        self._quiet = asyncio.Event()
        """Once we are leaving: nothing is in flight any more, and no question of ours is open."""
        self.unanswered = False
        """Whether it was given up because the broker said nothing."""
        self.entered = False
        """Whether the broker has let us in."""
        self.greeted = False
        """Whether it is known if messages were lost, so that what had waited may be sent."""
        self.ended = asyncio.Event()
        self.taken_over = False
        """Whether another client has connected under our client id."""
        self.kept_elsewhere = False
        """Whether another roomcue, which began later, keeps the room."""
        self.closed_by_broker = False
        """Whether the broker closed it after it had let us in, with a reason or without a word."""
        self.muted: dict[str, str] = {}  # topics on which the broker takes nothing, and why
        self.refused: str | None = None
        """Why trying again is of no use; None: it may help."""

    def _new_client(self, client_id: str) -> Client:
        client = client_with_will(client_id, self._topics.alive, self._gone.body)
        self._broker.introduce(client)
        client.connect_timeout = self._timing.answer
        client.max_inflight_messages_set(0)  # the window sees to that
        client.on_connect = self._on_connect
        client.on_disconnect = self._on_disconnect
        client.on_message = self._arrivals.note
        client.on_publish = self._on_publish
        client.on_subscribe = self._on_subscribe
        return client

    # ------------------------------------------------------------------- beginning and ending

    async def open(self, on_readable: Callable[[], None]) -> None:
        """Connect, and let `on_readable` be called whenever `read` has something to do.

        Raises OSError.
        """
        await in_daemon_thread(self._connect)
        if self.ended.is_set():
            return
        self._socket.watch(on_readable, self.write)
        self.write()
        self._on_readable = on_readable
        self._wait_for_answer()
        self._keep_house()

    def _connect(self) -> None:
        """Connect, in a thread; no socket stays open if the connection is closed meanwhile."""
        host, port, asked = self._broker.host, self._broker.port, session_properties()
        self._client.connect(host, port, KEEPALIVE, clean_start=False, properties=asked)
        if self.ended.is_set():
            self._socket.close()

    def _look_whether_answered(self) -> None:
        """Give up a broker that says nothing; one that is only slow, with much to hand on, not."""
        if self.greeted or self.ended.is_set():
            return
        answers = self._answers.look()
        if answers == "slowly":
            self._wait_for_answer()
        elif answers == "nothing" or self._on_readable is None:
            self.ended.set()
            self.unanswered = True
            self._log.warning("broker does not answer", after=self._timing.answer)
        elif self._session.is_overdue():
            self._log.warning("broker does not say whether it knows the session")
            self._on_readable()

    def _wait_for_answer(self) -> None:
        loop = asyncio.get_running_loop()
        self._timers["answer"] = loop.call_later(self._timing.answer, self._look_whether_answered)

    def _keep_house(self) -> None:
        """Let the library look after its keep-alive, again and again."""
        self._client.loop_misc()
        self.write()
        if self._silence.lasts(HOUSEKEEPING_INTERVAL, waits=not self._window.empty):
            self._log.warning("broker acknowledges nothing", after=MOST_SILENT)
            self.ended.set()
        loop = asyncio.get_running_loop()
        self._timers["house"] = loop.call_later(HOUSEKEEPING_INTERVAL, self._keep_house)

    def fail(self, error: Exception) -> None:
        """End it because what came cannot be kept: it comes again over the next connection.

        Where that is the journal's fault it says so first, and takes no last will.
        """
        self._failed = True
        of_journal = isinstance(error, JournalError)
        what = "journal cannot be written" if of_journal else "what came cannot be kept"
        self._log.warning(what, why=str(error))
        if of_journal and self.entered and not self._leaving:
            self._leaving = True
            self._parting = asyncio.create_task(self._part())
        elif self._parting is None:  # else it is about to end, with the goodbye that is due
            self.ended.set()

    async def leave(self) -> bool:
        """Say goodbye, so that no last will is needed; tells whether the broker has taken it."""
        self._leaving = True
        self._window.drop_queue()
        if not self.entered or self.ended.is_set():
            self.ended.set()
            return False
        goodbye = self._send(QueuedMessage(self._gone), self._now())
        self.write()
        await self._part()
        return not self._window.holds(goodbye)

    async def _part(self, how: Properties | None = None) -> None:
        """Disconnect once the broker has answered: with something unread a goodbye may be lost."""
        with suppress(TimeoutError):
            async with asyncio.timeout(self._timing.goodbye):
                await self._quiet.wait()
        self._client.disconnect(properties=how)
        self.write()
        self.ended.set()

    def step_back(self, *, kept_elsewhere: bool) -> None:
        """Leave this client id without a word; no session stays in which messages would wait."""
        self.kept_elsewhere, self._leaving, self._failed = kept_elsewhere, True, True
        self._window.drop_queue()
        self._note_whether_quiet()
        self._parting = asyncio.create_task(self._part(without_session()))

    def _note_whether_quiet(self) -> None:
        """Note, once we are leaving, that the broker has answered all that it was asked."""
        if self._leaving and self._window.empty and self._session.lost is not None:
            self._quiet.set()

    def close(self) -> None:
        """Let go of the socket and of every timer."""
        self.ended.set()
        for timer in self._timers.values():
            timer.cancel()
        if self._parting is not None:
            self._parting.cancel()
        self._client.on_disconnect = None
        self._socket.close()

    # ------------------------------------------------------------------------------- reading

    def read(self) -> Batch | None:
        """Read the socket empty and give what came; None: the connection is over.

        What comes after messages that could not be kept must not pass them.
        """
        if self.ended.is_set():
            return None
        self._answers.heard = True
        if not self._socket.read():
            self.ended.set()
        taken, refused_for_now = self._take_acknowledgements()
        entered = self._session_kept is not None and not self.entered
        if entered:
            self._enter()
        lost = None
        if self._session.lost is not None and not self.greeted:
            self.greeted, lost = True, self._session.lost
            if not lost:
                self.mark_session()  # nobody need be asked, whatever becomes of this connection
        came, alive, stood = self._arrivals.take()
        if self._failed:
            return None
        muted = tuple(self.muted.items())
        return Batch(came, taken, refused_for_now, entered, lost, alive, stood, muted)

    def acknowledge(self, batch: Batch) -> None:
        """Tell the broker that messages are kept; it sends them again until then."""
        for message in batch.messages:
            if message.qos:
                self._client.ack(message.packet, message.qos)
                self._socket.packets += 1

    def _enter(self) -> None:
        """Listen, and find out whether the session is the one we know."""
        self.entered = True
        heard = SubscribeOptions(qos=1, retainHandling=SubscribeOptions.RETAIN_SEND_IF_NEW_SUB)
        once = SubscribeOptions(qos=0)  # for what is retained there
        # What is retained comes in this order: how the room stood is known before all else.
        topics = [(self._topics.standing, once), (self._topics.alive, once)]
        topics.append((f"{self._topic_root}/in/#", heard))
        self._subscribing = self._client.subscribe(topics)[1]
        live = SubscribeOptions(noLocal=True, retainHandling=SubscribeOptions.RETAIN_DO_NOT_SEND)
        self._client.subscribe(self._topics.alive, options=live)
        self._session.look_for(self._topics.standing, kept=bool(self._session_kept))

    def mark_session(self) -> None:
        """Mark the broker's session as the one that we know: nothing is lost from here on."""
        self._session.set()
        self._log.info("broker is there", session=self._session_kept)

    def _take_acknowledgements(self) -> tuple[tuple[int, ...], bool]:
        """Give the outbox numbers that the broker has taken, and whether to say the rest once more.

        It may have refused one for now, or had room too late. First what waited for room is sent.
        """
        acknowledged, self._acknowledged = self._acknowledged, []
        self._silence.broken = self._silence.broken or bool(acknowledged)
        taken: list[int] = []
        refused_for_now = False
        for packet, reason in acknowledged:
            queued = self._window.acknowledge(packet)
            if queued is None:
                continue  # acknowledged twice
            said, serial = queued
            self._note_whether_heard(said, reason)
            if reason.value in REFUSED_FOR_NOW and (said.kept or said.retained):
                refused_for_now = True
            elif serial is not None:
                taken.append(serial)
        if acknowledged:
            self._fill_window()
        self._note_whether_quiet()
        came_late, self._window.came_late = self._window.came_late, False
        return tuple(taken), refused_for_now or came_late

    def _note_whether_heard(self, said: OutgoingMessage, reason: ReasonCode) -> None:
        """Note on which of its own topics the broker lets the room say nothing."""
        topic = self._topic(said)
        if not reason.is_failure:
            self.muted.pop(topic, None)
            return
        self._log.warning("broker does not take it", topic=said.subtopic, why=str(reason))
        if reason.value not in REFUSED_FOR_NOW and topic.startswith(self._topic_root):
            self.muted[topic] = str(reason)

    # ------------------------------------------------------------------------------- writing

    def say(self, said: OutgoingMessage, serial: int | None) -> None:
        """Queue a message, if it can leave over this connection.

        What is in the outbox (it has a `serial`) waits there until we are greeted. How the room
        stands is said by the greeting: before it, the broker's word on that may be another's.
        """
        waits = serial is not None or self._topic(said) == self._topics.standing
        welcome = self.greeted if waits else self.entered
        if welcome and not self._leaving and self._window.takes(said, serial):
            self._window.queue(QueuedMessage(said, serial))
            self._fill_window()

    @property
    def last_sent(self) -> int:
        """The highest outbox number of what has been handed to the socket."""
        return self._window.last_sent

    def write(self) -> None:
        """Hand what was said to the socket."""
        if self._socket.watched and not self._socket.write():
            self.ended.set()

    def follow_clock(self, by: int) -> None:
        """Let what is queued be worth sending for as long as before: the clock was set `by` ms."""
        self._window.follow_clock(by)

    def _fill_window(self) -> None:
        """Send what waits, as far as the broker has room for it."""
        if not self._window.waits:
            return
        now = self._now()
        while (queued := self._window.next(now)) is not None:
            said = queued.message
            size = len(self._topic(said)) + len(said.body) + PACKET_OVERHEAD
            if size > self._largest:
                self._log.warning(
                    "too large for the broker", topic=said.subtopic, most=self._largest
                )
            else:
                self._send(queued, now)

    def _send(self, queued: QueuedMessage, now: int) -> int:
        """Hand a message to the socket; gives its packet id."""
        said = queued.message
        body = with_time_left(said, now)
        properties: Properties | None = None
        if said.expires is not None:
            seconds = said.stays or max(1, (said.expires - now) // 1_000)
            properties = properties_of(seconds, None if said.to is None else said.to.correlation)
        sent = self._client.publish(self._topic(said), body, 1, said.retained, properties)
        self._socket.packets += 1
        self._window.sent(sent.mid, queued)
        return sent.mid

    def _topic(self, said: OutgoingMessage) -> str:
        if said.to is not None and said.to.topic is not None:
            return said.to.topic
        return f"{self._topic_root}/out/{said.subtopic}"

    # ------------------------------------------------------------- what the library tells us
    # Within these it holds its locks, so they only note what there is to be done.

    def _on_connect(
        self,
        _client: Client,
        _data: object,
        flags: ConnectFlags,
        reason: ReasonCode,
        properties: Properties | None,
    ) -> None:
        if reason.is_failure:
            self.ended.set()
            if reason.value in REFUSED_FOR_GOOD:
                self.refused = f"the broker refuses {self._topic_root}: {reason}"
            self._log.warning("broker refuses", why=str(reason))
            return
        self._window.most = min(
            getattr(properties, "ReceiveMaximum", MOST_IN_FLIGHT), MOST_IN_FLIGHT
        )
        self._largest = getattr(properties, "MaximumPacketSize", LARGEST_PACKET)
        self._session_kept = flags.session_present

    def _on_disconnect(
        self,
        _client: Client,
        _data: object,
        _flags: DisconnectFlags,
        reason: ReasonCode,
        _props: object,
    ) -> None:
        self.taken_over = reason.value == REASON_TAKEN_OVER
        ours = not self.entered or self._leaving or self.ended.is_set()
        self.closed_by_broker = not ours
        if not self._leaving:
            self._log.warning("broker is gone", why=str(reason))
        self.ended.set()

    def _on_subscribe(
        self,
        _client: Client,
        _data: object,
        packet: int,
        reasons: list[ReasonCode],
        _props: object,
    ) -> None:
        if packet != self._subscribing:
            return
        heard = reasons[-1]  # older rights do not let us hear who else is alive
        if heard.is_failure:
            self.refused = f"the broker does not let us hear {self._topic_root}/in/#: {heard}"
            self.ended.set()
        else:
            self._answers.subscribed = True

    def _on_publish(
        self, _client: Client, _data: object, packet: int, reason: ReasonCode, _props: object
    ) -> None:
        if self._window.holds(packet):
            self._acknowledged.append((packet, reason))
