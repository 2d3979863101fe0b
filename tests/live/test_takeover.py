"""Whoever comes under a room's name, or with a journal of its own, takes no other room along."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from simulator.shipped import DEMO_ROOM, ROOMS
from tests.live.broker import Mosquitto, until
from tests.live.process import Roomcue
from tests.live.strangers import Listener, publish_all

CELLAR = next(path for path in ROOMS if path.name == "cellar.yaml")
IN = "roomcue/hayloft/in"
LIT = [(f"{IN}/projector", '{"state":"lit"}'), (f"{IN}/source", '{"source":"disc"}')]


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with Mosquitto(tmp_path / "broker", keeps=True) as one:
        yield one


def test_a_client_that_takes_a_room_s_connection_ends_no_room(
    broker: Mosquitto, tmp_path: Path
) -> None:
    """MQTT 5.0, 3.1.4-3: the broker sends the room away; it comes back, and the other one stays."""
    journal = tmp_path / "journal"
    with Roomcue([DEMO_ROOM, CELLAR], journal, port=broker.port) as rooms:
        until(lambda: rooms.said().count("broker is there") == 2, "both are connected")
        with Listener(broker.port, "a/topic", "-i", broker.client_id("hayloft")):
            until(lambda: "broker is gone" in rooms.said(), "the room is sent away")
            until(lambda: rooms.said().count("broker is there") == 3, "it is back")
        publish_all(broker.port, LIT)
        until(lambda: ": picture" in rooms.said(), "the room decides")
        with Listener(broker.port, "roomcue/cellar/out/standing") as listener:
            source = '{"source":"disc"}'
            publish_all(broker.port, [("roomcue/cellar/in/source", source)])
            listener.wait_for(lambda one: one.data["source"] == "disc", "the other room hears")
        assert rooms.lives()


def test_a_broker_that_is_killed_five_times_in_a_row_ends_no_room(
    broker: Mosquitto, tmp_path: Path
) -> None:
    """A connection that is cut without a word might as well have been taken."""
    with Roomcue([DEMO_ROOM, CELLAR], tmp_path / "journal", port=broker.port) as rooms:
        for times in range(1, 6):
            until(lambda times=times: rooms.said().count("broker is there") >= 2 * times, "back")
            broker.kill()
            broker.start()
        publish_all(broker.port, LIT)
        until(lambda: ": picture" in rooms.said(), "the room decides")
        assert rooms.lives()


def test_a_client_id_comes_from_the_journal_and_no_two_journals_have_the_same(
    broker: Mosquitto, tmp_path: Path
) -> None:
    ids = []
    for name in ("one", "two", "one"):
        with Roomcue([DEMO_ROOM], tmp_path / name, port=broker.port) as room:
            ids.append(broker.client_id("hayloft"))
            room.stop()
    assert ids[0] == ids[2]
    assert ids[0] != ids[1]
    assert all(len(one.rsplit("-", 1)[1]) == 16 for one in ids)


def test_with_a_new_journal_no_id_comes_again_and_the_hub_is_asked(
    broker: Mosquitto, tmp_path: Path
) -> None:
    """The broker has kept the old journal's session, and the hub remembers its orders."""
    journal = tmp_path / "journal"
    room = Roomcue([DEMO_ROOM], journal, port=broker.port)
    with Listener(broker.port, "roomcue/hayloft/out/#") as listener, room:
        publish_all(broker.port, LIT)
        listener.wait_for(lambda one: one.subtopic == "order", "an order")
        room.stop()
        for path in tmp_path.glob("journal*"):
            shutil.move(path, tmp_path / f"away-{path.name}")
        asked, before = listener.questions(), len(listener.of("order"))
        room.log.touch()
        room.start()
        until(lambda: listener.questions() > asked, "the hub is asked")
        publish_all(broker.port, LIT)
        until(lambda: len(listener.of("order")) > before, "an order of the new journal")
        ids = [one.data["id"] for one in listener.of("order")]
        old, new = {*ids[:before]}, {*ids[before:]}
        epochs = {one.data["epoch"] for one in listener.of("alive") if one.data["alive"]}
        assert old.isdisjoint(new)
        assert {number // 1_000_000 for number in old | new} == epochs
        assert len(epochs) == 2
        late = f'{{"order":{min(old)},"outcome":"refused"}}'
        publish_all(broker.port, [(f"{IN}/outcome", late)])
        listener.wait_for(
            lambda one: one.subtopic == "reason" and one.data.get("code") == "not_open",
            "the outcome of an order that this journal does not know is refused",
        )


def test_a_second_roomcue_of_one_room_leaves_the_first_its_other_rooms(
    broker: Mosquitto, tmp_path: Path
) -> None:
    """Whoever began later keeps the room, and says so."""
    first = Roomcue([DEMO_ROOM, CELLAR], tmp_path / "first", port=broker.port)
    with first:
        until(lambda: first.said().count("broker is there") == 2, "both are connected")
        with (
            Roomcue([DEMO_ROOM], tmp_path / "second", port=broker.port),
            Listener(broker.port, "roomcue/+/out/alive") as listener,
        ):
            until(lambda: "room is left to another roomcue" in first.said(), "it steps back")
            with Listener(broker.port, "roomcue/cellar/out/standing") as cellar:
                publish_all(broker.port, [("roomcue/cellar/in/source", '{"source":"disc"}')])
                cellar.wait_for(lambda one: one.data["source"] == "disc", "it hears")
            assert all(one.data["alive"] for one in listener.messages)
        assert first.lives()
