"""A room lives at a real broker: it hears strangers, answers them, and outlives what may happen."""

from __future__ import annotations

import re
import shlex
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from adapters.cli.proven_rooms import INSIST
from adapters.live.messages import MOST_ROOM_FILE_BYTES
from adapters.live.publish_properties import SESSION_EXPIRY
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.adapters.commands import run
from tests.house.tree import TOP
from tests.live.broker import PATIENCE, Mosquitto, until
from tests.live.process import Roomcue, roomcue
from tests.live.proxy import Proxy
from tests.live.strangers import Hub, Listener, publish, publish_all

HAYLOFT = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)
IN = "roomcue/hayloft/in"
LIT = [(f"{IN}/projector", '{"state":"lit"}'), (f"{IN}/source", '{"source":"disc"}')]
PAGE = (TOP / "adapters" / "contract" / "README.md").read_text("utf-8")


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with Mosquitto(tmp_path / "broker", keeps=True) as one:
        yield one


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    return tmp_path / "hayloft.journal"


@pytest.fixture
def unhurried(tmp_path: Path) -> Path:
    """Give the shipped room's file with ten minutes for each order: no machine is as slow."""
    path = tmp_path / "unhurried.yaml"
    text, changed = re.subn(r"pause: 20 min", "pause: 20 min\n  order: 10 min", HAYLOFT.text)
    assert changed == 1
    path.write_text(text)
    return path


def test_the_messages_that_the_contract_s_page_shows_are_all_taken(
    broker: Mosquitto, journal: Path, unhurried: Path
) -> None:
    """Published and heard with Debian's own clients, as they are written there."""
    shown = [line for line in PAGE.splitlines() if line.startswith("mosquitto_pub")]
    assert len(shown) == 10
    (heard,) = [line for line in PAGE.splitlines() if line.startswith("mosquitto_sub")]
    topic = shlex.split(heard)[-1]
    with Roomcue([unhurried], journal, port=broker.port), Listener(broker.port, topic) as listener:
        for line in shown:
            program, *rest = shlex.split(_naming_an_order(line, listener))
            subprocess.run([program, "-p", str(broker.port), *rest], check=True, timeout=PATIENCE)
        listener.wait_for(
            lambda one: one.subtopic == "standing" and one.data["override"] == "person",
            "the last of them",
        )
        assert [one for one in listener.of("reason") if one.data["kind"] == "refused"] == []
        assert {"picture", "cue"} <= {one.data["kind"] for one in listener.of("order")}


def _naming_an_order(line: str, listener: Listener) -> str:
    """Put the id of an order that was heard in the place of the one that the page shows.

    It is a lamp's: a picture's order is taken back when another shape settles meanwhile.
    """
    if "/outcome " not in line:
        return line
    order = listener.wait_for(
        lambda one: one.subtopic == "order" and one.data["kind"] == "cue", "an order that stays"
    )
    return re.sub(r'"order": \d+', f'"order": {order.data["id"]}', line)


def test_an_order_has_a_number_and_an_end_and_is_never_retained(
    broker: Mosquitto, journal: Path
) -> None:
    """MQTT 5.0, 3.3.2.3.3: a message that has outlived its expiry interval is not delivered."""
    with Roomcue([DEMO_ROOM], journal, port=broker.port):
        with Listener(broker.port, "roomcue/hayloft/out/#") as listener:
            publish_all(broker.port, LIT)
            order = listener.wait_for(lambda one: one.subtopic == "order", "an order")
            assert order.data["id"] >= 1
            assert order.expiry is not None
            assert 0 < order.expiry <= HAYLOFT.pace.order // 1_000 + 1
        with Listener(broker.port, "roomcue/hayloft/out/#") as late:
            standing = late.wait_for(lambda one: one.subtopic == "standing", "how things stand")
            late.wait_for(lambda one: one.subtopic == "alive", "that roomcue is there")
            assert standing.retained
            assert standing.data["source"] == "disc"
            stays = {one.data.get("kind", one.subtopic) for one in late.messages}
            stays -= {"nothing asked"}  # for a second, in place of what another journal has left
            assert stays == {"standing", "alive"}


def test_a_room_file_that_is_too_long_is_refused_and_not_dropped_without_a_word(
    broker: Mosquitto, journal: Path
) -> None:
    """MQTT 5.0, 3.1.2.11.4: a packet above our maximum is not sent, as if it had been."""
    with (
        Roomcue([DEMO_ROOM], journal, port=broker.port),
        Listener(broker.port, "roomcue/hayloft/out/reason") as listener,
    ):
        command = ["mosquitto_pub", "-p", str(broker.port), "-q", "1", "-t", f"{IN}/room", "-s"]
        subprocess.run(command, check=True, input=b"#" * 2 * MOST_ROOM_FILE_BYTES)
        refused = listener.wait_for(lambda one: one.data["kind"] == "refused", "a refusal")
        assert refused.data["code"] == "too_long"


def test_whoever_asks_hears_whether_roomcue_is_there(broker: Mosquitto, journal: Path) -> None:
    """After a clean stop it says so itself; after a kill the broker does (MQTT 5.0, 3.1.2.5)."""
    room = Roomcue([DEMO_ROOM], journal, port=broker.port)
    with Listener(broker.port, "roomcue/hayloft/out/alive") as listener:
        with room:
            listener.wait_for(lambda one: one.data["alive"], "it is there")
            assert room.stop() == 0
            listener.wait_for(lambda one: not one.data["alive"], "it has gone")
            assert gone(listener) == 1
            room.start()
            room.kill()
        until(lambda: gone(listener) == 2, "the last will")
    assert "Traceback" not in room.said()


def gone(listener: Listener) -> int:
    return len([one for one in listener.of("alive") if not one.data["alive"]])


def test_what_is_told_while_roomcue_is_away_is_heard_when_it_is_back(
    broker: Mosquitto, journal: Path
) -> None:
    """The session is kept (MQTT 5.0, 3.1.2-5 and 3.1.2-23); readings are asked for all the same."""
    room = Roomcue([DEMO_ROOM], journal, port=broker.port)
    with Listener(broker.port, "roomcue/hayloft/out/#") as listener, room:
        room.kill()
        publish_all(broker.port, LIT)
        room.start()
        listener.wait_for(
            lambda one: one.subtopic == "order" and one.data["kind"] == "picture", "order"
        )
        until(lambda: len(listener.questions()) == 2, "asked at the start and after the gap")
    assert "session=True" in room.said()


def test_where_the_session_is_gone_the_hub_is_asked_for_everything(
    tmp_path: Path, journal: Path
) -> None:
    """A broker that keeps nothing was restarted, so messages may be lost."""
    with (
        Mosquitto(tmp_path / "forgetful") as broker,
        Roomcue([DEMO_ROOM], journal, port=broker.port) as room,
    ):
        publish_all(broker.port, LIT)
        until(lambda: "picture" in room.said(), "the room decides")
        broker.kill()
        broker.start()
        with Listener(broker.port, "roomcue/hayloft/out/ask") as listener:
            asked = listener.wait_for(lambda one: one.data["kind"] == "question", "a question")
            assert "source" in asked.data["about"]
            assert "stays as it last stood" in asked.data["otherwise"]


def test_a_session_that_began_unheard_is_known_for_a_new_one(
    broker: Mosquitto, journal: Path
) -> None:
    """Of an attempt to connect whose answer was lost only the session is left, and it is empty.

    The broker then says that it has kept it (MQTT 5.0, 3.2.2.1.1), and for a subscription that is
    not there, that there was none (3.11.3). Where the machine stands still, roomcue asks besides.
    """
    room = Roomcue([DEMO_ROOM], journal, port=broker.port)
    with Listener(broker.port, "roomcue/hayloft/out/ask") as listener, room:
        listener.wait_for(lambda one: one.data["kind"] == "question", "asked at the first start")
        room.stop()
        room.start()
        until(lambda: "session=True" in room.said(), "the old session")
        until(lambda: len(listener.questions()) > 1, "asked after the gap, for readings")
        room.stop()
        asked = listener.questions()
        begin_session(broker.port, broker.client_id("hayloft"))
        room.start()
        until(lambda: listener.questions() > asked, "it asks again")
        assert room.said().count("session=True") == 2


def begin_session(port: int, name: str) -> None:
    """Connect once with a clean start, and leave the session behind."""
    properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
    properties.SessionExpiryInterval = SESSION_EXPIRY
    client = Client(CallbackAPIVersion.VERSION2, name, protocol=MQTTProtocolVersion.MQTTv5)
    client.connect("127.0.0.1", port, clean_start=True, properties=properties)
    until(lambda: client.loop(0.01) == 0 and client.is_connected(), "a session")
    client.disconnect()


def test_a_broker_that_is_killed_and_comes_back_finds_the_room_as_it_was(
    broker: Mosquitto, journal: Path
) -> None:
    with Roomcue([DEMO_ROOM], journal, port=broker.port) as room, Hub(broker.port) as hub:
        hub.publish(*LIT[0])
        until(lambda: room.said().count("broker is there") == 1, "it is connected")
        broker.kill()
        hub.publish(*LIT[1])
        broker.start()
        until(lambda: "picture" in room.said(), "what was told meanwhile is heard")
        assert len(hub.done()) == 2


def test_a_broker_that_is_restarted_again_and_again_is_no_second_roomcue(
    broker: Mosquitto, journal: Path
) -> None:
    with (
        Roomcue([DEMO_ROOM], journal, port=broker.port) as room,
        Listener(broker.port, "roomcue/hayloft/out/standing") as listener,
    ):
        for times in range(2, 5):
            broker.stop()
            broker.start()
            until(lambda times=times: room.said().count("broker is there") == times, "it is back")
        publish_all(broker.port, LIT)
        listener.wait_for(lambda one: one.data["source"] == "disc", "it hears")


def test_with_a_broker_that_takes_little_a_room_lives_all_the_same(tmp_path: Path) -> None:
    """MQTT 5.0, 3.2.2.3.6: no packet may be larger than the broker says."""
    small = ("allow_anonymous true", "set_tcp_nodelay true", "max_packet_size 900")
    with (
        Mosquitto(tmp_path / "small", small) as broker,
        Roomcue([DEMO_ROOM], tmp_path / "j", port=broker.port) as room,
        Listener(broker.port, "roomcue/hayloft/out/order") as listener,
    ):
        publish_all(broker.port, LIT)
        listener.wait_for(lambda one: one.data["kind"] == "picture", "an order")
        assert "too large for the broker topic=alive" in room.said()
        assert room.said().count("broker is there") == 1


def test_a_network_that_is_cut_costs_nothing_but_time(
    broker: Mosquitto, journal: Path, unhurried: Path
) -> None:
    """Orders that were made meanwhile reach the hub, once, unless their end has passed."""
    with (
        Proxy(broker.port) as network,
        Roomcue([unhurried], journal, port=network.port) as room,
        Listener(broker.port, "roomcue/hayloft/out/order") as listener,
    ):
        publish_all(broker.port, LIT)
        listener.wait_for(lambda one: one.data["kind"] == "picture", "a picture")
        network.cut()
        until(lambda: "broker is gone" in room.said(), "roomcue notices")
        publish(broker.port, f"{IN}/playback", '{"state":"playing"}')
        network.mend()
        listener.wait_for(
            lambda one: one.data.get("value") == "low", "the lamps of a film, after the cut"
        )
        numbers = [one.data["id"] for one in listener.messages if "id" in one.data]
        assert len(numbers) == len(set(numbers))


def test_a_second_roomcue_of_the_same_room_stops_the_first_with_a_clear_word(
    broker: Mosquitto, journal: Path, tmp_path: Path
) -> None:
    """MQTT 5.0, 3.1.4-3: the first one is sent away, by some brokers without the reason 0x8E."""
    first = Roomcue([DEMO_ROOM], journal, port=broker.port)
    with first, Roomcue([DEMO_ROOM], tmp_path / "other.journal", port=broker.port):
        assert first.ended() == 2
    assert "two roomcues must not keep one room" in first.said()
    assert "Traceback" not in first.said()


def test_one_journal_is_for_one_process(broker: Mosquitto, journal: Path) -> None:
    with Roomcue([DEMO_ROOM], journal, port=broker.port):
        second = roomcue(
            "run", DEMO_ROOM, INSIST, "--journal", journal, "--broker", "mqtt://localhost"
        )
    assert second.returncode == 2
    assert "another roomcue is writing this journal" in second.stderr.replace("\n", " ")


def test_what_a_room_lived_through_is_taken_out_and_replays_to_the_byte(
    broker: Mosquitto, journal: Path, tmp_path: Path
) -> None:
    """While the room is live, and after it was killed."""
    room = Roomcue([DEMO_ROOM], journal, port=broker.port)
    with room:
        publish_all(broker.port, [*LIT, (f"{IN}/playback", '{"state":"playing"}')])
        until(lambda: "value=low" in room.said(), "the room decides")
        for name in ("live", "killed"):
            night = tmp_path / f"{name}.jsonl"
            assert run("export", "--journal", journal, "--out", night).exit_code == 0
            verified = run("replay", night, "--verify")
            assert "byte for byte" in verified.output
            assert verified.exit_code == 0
            if name == "live":
                room.kill()


def test_a_recall_that_waits_for_an_absent_hub_never_reaches_it_in_mid_film(
    broker: Mosquitto, journal: Path, tmp_path: Path
) -> None:
    """Its end is the message's expiry: the broker drops it (MQTT 5.0, 3.3.2-5)."""
    quick = tmp_path / "quick.yaml"
    text = re.sub(r"linger: \d+ s", "linger: 100 ms", HAYLOFT.text)
    quick.write_text(re.sub(r"travel: \d+ s", "travel: 1 s", text))
    hub = ("-c", "-i", "hub", "-x", "3600")
    topic = "roomcue/hayloft/out/order"
    with Listener(broker.port, topic, *hub):
        pass
    with Roomcue([quick], journal, port=broker.port) as room:
        lens = (f"{IN}/lens", '{"moving":false,"preset":"broad"}')
        film = [
            (f"{IN}/panels", '{"panels":"open"}'),
            (f"{IN}/playback", '{"state":"playing"}'),
            (f"{IN}/ratio", '{"ratio":1.85}'),
        ]
        publish_all(broker.port, [*LIT, lens, *film])
        until(lambda: ": recall" in room.said(), "a recall is ordered")
        until(lambda: "lens_lost" in room.said(), "its end")
        late = time.monotonic() + 3  # the broker counts expiry in whole seconds
        until(lambda: time.monotonic() > late, "the seconds that the broker rounds up")
        with Listener(broker.port, topic, *hub) as back:
            publish(broker.port, topic, '{"kind":"end"}')
            back.wait_for(lambda one: one.data["kind"] == "end", "all that waited")
            assert [one for one in back.messages if one.data["kind"] == "recall"] == []


def test_the_session_lasts_longer_than_a_holiday_weekend() -> None:
    assert SESSION_EXPIRY >= 4 * 86_400
