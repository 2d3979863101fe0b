"""The tests' own tools do what the tests rely on."""

from __future__ import annotations

import socket
from pathlib import Path

from tests.live.broker import PATIENCE, Mosquitto, until
from tests.live.proxy import Proxy
from tests.live.strangers import Hub, Listener, publish, publish_all


def test_two_strangers_meet(tmp_path: Path) -> None:
    with Mosquitto(tmp_path / "b") as broker, Listener(broker.port, "a/#") as listener:
        publish_all(broker.port, [(f"a/{number}", str(number)) for number in range(50)])
        listener.wait_for(lambda one: one.topic == "a/49", "the last of fifty")
        assert [one.payload for one in listener.messages] == [str(number) for number in range(50)]


def test_a_broker_that_keeps_has_its_messages_after_a_kill(tmp_path: Path) -> None:
    with Mosquitto(tmp_path / "b", keeps=True) as broker:
        publish(broker.port, "a/b", "kept", "-r")
        until((tmp_path / "b" / "mosquitto.db").exists, "the broker saves")
        broker.kill()
        broker.start()
        with Listener(broker.port, "a/#") as listener:
            assert listener.wait_for(lambda one: one.retained, "the kept one").payload == "kept"


def test_a_broker_that_keeps_has_what_waits_for_a_client_after_a_kill(tmp_path: Path) -> None:
    session = ("-c", "-i", "away", "-x", "600")
    with Mosquitto(tmp_path / "b", keeps=True) as broker:
        with Listener(broker.port, "a/#", *session):
            pass
        publish(broker.port, "a/b", "while away")
        saved = tmp_path / "b" / "mosquitto.db"
        until(lambda: b"while away" in saved.read_bytes(), "the broker saves")
        broker.kill()
        broker.start()
        with Listener(broker.port, "a/#", *session) as back:
            back.wait_for(lambda one: one.payload == "while away", "what waited")


def test_whoever_is_cut_off_leaves_a_last_will(tmp_path: Path) -> None:
    will = ("--will-topic", "will", "--will-payload", "gone", "--will-qos", "1")
    with (
        Mosquitto(tmp_path / "b") as broker,
        Proxy(broker.port) as network,
        Listener(broker.port, "will") as listener,
        Listener(network.port, "a", *will),
    ):
        network.cut()
        listener.wait_for(lambda one: one.payload == "gone", "the last will")


def test_a_network_outlives_its_broker(tmp_path: Path) -> None:
    with (
        Mosquitto(tmp_path / "b", keeps=True) as broker,
        Proxy(broker.port) as network,
        Hub(network.port) as hub,
    ):
        broker.kill()
        assert not _answered(network.port)
        broker.start()
        hub.publish("a", "at last")
        assert len(hub.done()) == 1


def _answered(port: int) -> bytes:
    """Knock; a network without a broker may hang up before or after it has let anybody in."""
    try:
        with socket.create_connection(("127.0.0.1", port), PATIENCE) as knocking:
            return knocking.recv(1)
    except ConnectionResetError:
        return b""


def test_a_cut_network_breaks_what_was_there_and_lets_nobody_in(tmp_path: Path) -> None:
    with (
        Mosquitto(tmp_path / "b") as broker,
        Proxy(broker.port) as network,
        Listener(broker.port, "a") as listener,
        Hub(network.port) as hub,
    ):
        hub.publish("a", "one")
        listener.wait_for(lambda one: one.payload == "one", "the first")
        network.cut()
        hub.publish("a", "two")
        network.mend()
        listener.wait_for(lambda one: one.payload == "two", "what was held back meanwhile")
        assert len(hub.done()) == 2


def test_a_held_network_delivers_late(tmp_path: Path) -> None:
    with (
        Mosquitto(tmp_path / "b") as broker,
        Proxy(broker.port) as network,
        Listener(network.port, "a") as listener,
    ):
        network.hold()
        publish(broker.port, "a", "late")
        assert listener.messages == []
        network.release()
        listener.wait_for(lambda one: one.payload == "late", "what was held")
