"""The tests' own tools do what the tests rely on."""

from __future__ import annotations

from pathlib import Path

from tests.live.broker import Mosquitto, until
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
