"""A journal that is an older copy of itself, or one of two: a backup was restored, or carried over.

What has moved since then the journal does not know, and the hub remembers ids that it would give
again. The broker has heard of them.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.live.broker import Mosquitto, until
from tests.live.household import room_text
from tests.live.process import Roomcue
from tests.live.strangers import Listener, publish_all

NAME = "copied"
IN = f"roomcue/{NAME}/in"
LIT = [
    (f"{IN}/projector", '{"state":"lit"}'),
    (f"{IN}/panels", '{"panels":"open"}'),
    (f"{IN}/source", '{"source":"disc"}'),
    (f"{IN}/playback", '{"state":"playing"}'),
    (f"{IN}/title", '{"begun":true,"name":"a film"}'),
]


class House:
    """One room at a broker, whose journal can be copied while it is stopped."""

    def __init__(self, folder: Path, broker: Mosquitto) -> None:
        self.folder, self._port = folder, broker.port
        self.file = folder / "room.yaml"
        self.file.write_text(room_text(NAME))
        self.journals = folder / "journals"
        self.journals.mkdir()
        self.room = self.roomcue(self.journals)

    def roomcue(self, folder: Path) -> Roomcue:
        return Roomcue([self.file], folder / "journal", port=self._port)

    def copied(self, name: str) -> Path:
        """Stop it, copy its journal, and start it again."""
        assert self.room.stop() == 0
        shutil.copytree(self.journals, copy := self.folder / name)
        self.room.start()
        return copy


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with Mosquitto(tmp_path / "broker", keeps=True) as one:
        yield one


@pytest.fixture
def house(tmp_path: Path, broker: Mosquitto) -> Iterator[House]:
    one = House(tmp_path, broker)
    with one.room:
        yield one


@pytest.fixture
def listener(broker: Mosquitto, house: House) -> Iterator[Listener]:
    """Hear a room that has begun a film; its first order has come."""
    assert house.room.lives()
    with Listener(broker.port, f"roomcue/{NAME}/out/#") as one:
        publish_all(broker.port, LIT)
        one.wait_for(lambda message: message.subtopic == "order", "an order")
        yield one


def test_with_a_restored_journal_no_id_comes_again_and_what_it_knows_is_not_believed(
    broker: Mosquitto, house: House, listener: Listener
) -> None:
    """Panels that were open back then are as the broker has kept them: they were fitted since."""
    backup = house.copied("backup")
    publish_all(broker.port, [(f"{IN}/source", '{"source":"console"}')])
    publish_all(broker.port, [(f"{IN}/panels", '{"panels":"sides"}')])
    fitted = listener.wait_for(
        lambda one: one.subtopic == "standing" and one.data["panels"] == "sides", "fitted"
    )
    assert house.room.stop() == 0
    said = len(listener.messages)
    ids = {one.data["id"] for one in listener.of("order") if "id" in one.data}
    assert max(ids) == fitted.data["last_id"]
    shutil.rmtree(house.journals)
    shutil.copytree(backup, house.journals)
    house.room.start()
    until(lambda: "it is an older copy" in house.room.said(), "it is noticed")

    def later(subtopic: str) -> list[dict[str, Any]]:
        return [one.data for one in listener.messages[said:] if one.subtopic == subtopic]

    until(lambda: later("ask") and later("standing"), "the hub is asked")
    assert {one["panels"] for one in later("standing")} == {"sides"}
    assert {one["source"] for one in later("standing")} == {None}
    publish_all(broker.port, [*LIT[:1], *LIT[2:]])
    until(lambda: any("id" in one for one in later("order")), "an order of the new ids")
    again = {one["id"] for one in later("order") if "id" in one}
    assert ids.isdisjoint(again)
    assert min(again) > max(ids)
    assert house.room.stop() == 0
    house.room.start()  # it is the journal's own session now
    assert house.room.said().splitlines()[-1].endswith("session=True")
    assert house.room.said().count("it is an older copy") == 1
    assert "Traceback" not in house.room.said()


def test_of_two_that_go_on_with_copies_of_one_journal_the_later_one_keeps_the_room(
    broker: Mosquitto, house: House, listener: Listener
) -> None:
    """Both come under one client id and would send each other away for ever."""
    other = house.copied("other")
    with house.roomcue(other) as second:
        until(lambda: "room is left to another roomcue" in house.room.said(), "one leaves")
        assert house.room.ended() != 0
        assert second.lives()
        publish_all(broker.port, [(f"{IN}/source", '{"source":"console"}')])
        listener.wait_for(
            lambda one: one.subtopic == "standing" and one.data["source"] == "console",
            "the other one hears",
        )
        assert second.stop() == 0
