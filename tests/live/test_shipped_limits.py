"""The limits of the shipped broker fit 200 rooms, and what waits for somebody slows nobody down."""

from __future__ import annotations

import queue
import socket
import sys
import threading
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path

import pytest
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from tests.live.broker import PATIENCE, SMALL, Mosquitto
from tests.live.shipped_house import CONFIGURATION

LIMITS = ("persistence", "autosave", "max_", "queue_", "message_size", "set_tcp")
"""What the options begin with that say how much, how often and how quickly."""
ROOMS = 200
CLIENTS_A_ROOM = 4
"""roomcue, a hub, and two phones."""
QUEUED = 1_500
TURNS = 10
A_TURN = 30
SLOWER = 2.0
"""So many times the work is slowed down; to write everything with each change is many times it."""


def shipped_limits(folder: Path) -> list[str]:
    """Give the shipped options without those that say who comes in."""
    lines = [line for line in CONFIGURATION.splitlines() if line.startswith(LIMITS)]
    return [*lines, f"persistence_location {folder}/"]


@contextmanager
def limited(folder: Path) -> Iterator[Mosquitto]:
    """Start a broker with the shipped limits."""
    lines = [line for line in shipped_limits(folder) if "/var/lib" not in line]
    with Mosquitto(folder, [*lines, SMALL[0]]) as broker:
        yield broker


def connect(port: int, name: str = "", *, stays: bool = False) -> Client:
    """Connect, with a session that outlives the connection if it `stays`."""
    client = Client(CallbackAPIVersion.VERSION2, name, protocol=MQTTProtocolVersion.MQTTv5)
    kept = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
    kept.SessionExpiryInterval = 3_600 if stays else 0
    client.on_socket_open = lambda _c, _d, sock: sock.setsockopt(6, 1, 1)  # type: ignore[attr-defined]
    client.connect("127.0.0.1", port, properties=kept)
    client.loop_start()
    return client


def leave(client: Client) -> None:
    client.disconnect()
    client.loop_stop()


def subscribe(client: Client, topic: str) -> None:
    """Subscribe at QoS 1 and wait for the answer."""
    done = threading.Event()
    client.on_subscribe = lambda *_: done.set()
    client.subscribe(topic, 1)
    assert done.wait(PATIENCE)


def let_wait(port: int) -> None:
    """Let 1,500 messages wait for somebody who is away."""
    away = connect(port, "away", stays=True)
    subscribe(away, "roomcue/loft/in/#")
    leave(away)
    hub = connect(port)
    marks = [b"x" * 200 + b"%d" % number for number in range(QUEUED)]
    for said in [hub.publish("roomcue/loft/in/mark", mark, 1) for mark in marks]:
        said.wait_for_publish(PATIENCE)
    leave(hub)


class Relay:
    """Somebody who asks, and somebody who answers, as a hub and roomcue do."""

    def __init__(self, port: int) -> None:
        self._heard: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        self._answerer, self._asker = connect(port), connect(port)
        self._answerer.on_message = self._answer
        self._asker.on_message = self._hear
        subscribe(self._answerer, "question")
        subscribe(self._asker, "answer")

    def _answer(self, client: Client, _data: object, _message: MQTTMessage) -> None:
        client.publish("answer", b"!", 1)

    def _hear(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        self._heard.put(bytes(message.payload))

    def ask(self) -> None:
        """Ask, and wait until the answer is heard."""
        self._asker.publish("question", b"?", 1)
        self._heard.get(timeout=PATIENCE)

    def close(self) -> None:
        """Let both leave."""
        leave(self._answerer)
        leave(self._asker)


@pytest.mark.skipif(sys.platform != "linux", reason="processor time is read from Linux' /proc")
def test_with_much_queued_the_broker_works_as_little_as_one_that_keeps_nothing(
    tmp_path: Path,
) -> None:
    """Counted in processor time, which a busy machine leaves as it is."""
    used = [0.0, 0.0]
    with ExitStack() as stack:
        brokers = (
            stack.enter_context(Mosquitto(tmp_path / "forgetful")),
            stack.enter_context(limited(tmp_path / "shipped")),
        )
        let_wait(brokers[1].port)
        relays = [stack.enter_context(closing(Relay(broker.port))) for broker in brokers]
        for _ in range(TURNS):
            for number, (broker, relay) in enumerate(zip(brokers, relays, strict=True)):
                before = broker.processor_seconds()
                for _ in range(A_TURN):
                    relay.ask()
                used[number] += broker.processor_seconds() - before
    bare, full = (seconds / (TURNS * A_TURN) for seconds in used)
    assert full < SLOWER * bare, f"{bare * 1e6:.0f} us, with {QUEUED} queued {full * 1e6:.0f} us"


def test_the_broker_lets_in_four_clients_for_each_of_200_rooms(tmp_path: Path) -> None:
    """Fewer than a service's usual 1,024 open files, so nothing else has to be raised."""
    (most,) = [line.split()[1] for line in CONFIGURATION.splitlines() if "max_connections" in line]
    assert ROOMS * CLIENTS_A_ROOM < int(most) <= 1_000
    with limited(tmp_path / "broker") as broker, ExitStack() as stack:
        for number in range(ROOMS * CLIENTS_A_ROOM):
            client = stack.enter_context(socket.create_connection(("127.0.0.1", broker.port)))
            client.settimeout(PATIENCE)
            name = b"client-%04d" % number
            body = b"\x00\x04MQTT\x05\x02\x00\x3c\x00\x00" + bytes([len(name)]) + name
            client.sendall(bytes([0x10, len(body)]) + body)  # CONNECT (MQTT 5.0, 3.1), read
            answer = client.recv(4)
            assert answer[0] == 0x20, "CONNACK"
            assert answer[3] == 0, "its reason is success"
