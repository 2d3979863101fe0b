"""People at a real broker with the shipped rights: they speak, and hear what came of it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from simulator.shipped import DEMO_ROOM
from tests.live.process import Roomcue
from tests.live.shipped_house import House, shipped_house


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """Start the broker as the shipped files have it."""
    with shipped_house(tmp_path_factory.mktemp("house")) as house:
        yield house


def test_a_person_hears_what_came_of_their_word_and_a_stranger_does_not(
    house: House, tmp_path: Path
) -> None:
    """With the shipped rights: one person asks with a topic of their own, one without."""
    url = f"mqtts://roomcue@localhost:{house.broker.port}"
    secret = tmp_path / "password"
    secret.write_text("roomcue's")
    secret.chmod(0o600)
    known = ("--broker", url, "--ca", str(house.authority), "--password-file", str(secret))
    room = Roomcue([DEMO_ROOM], tmp_path / "hayloft.journal", *known)
    with (
        room,
        house.listens("person", "roomcue/hayloft/out/#") as person,
        house.listens("person", "replies/tablet") as tablet,
        house.listens("viewer", "#") as stranger,
    ):
        own = ("-D", "publish", "response-topic", "replies/tablet")
        marked = ("-D", "publish", "correlation-data", "7")
        wish = json.dumps({"taken": True, "id": "w1", "who": "Ana"})
        assert not house.say("person", "roomcue/hayloft/in/override", wish, *own, *marked)
        reply = tablet.wait_for(lambda one: one.data["event"] == "w1", "the reply to the tablet")
        assert (reply.data["taken"], reply.data["who"], reply.retained) == (True, "Ana", False)
        guests = "roomcue/hayloft/in/told/guests"
        assert not house.say("person", guests, json.dumps({"value": True, "id": "g1"}))
        told = person.wait_for(lambda one: one.data.get("event") == "g1", "the reply in the room")
        assert (told.subtopic, told.data["taken"]) == ("reply", True)
        answer = json.dumps({"prompt": 99, "answer": "done", "id": "a1"})
        assert not house.say("person", "roomcue/hayloft/in/answer", answer)
        person.wait_for(lambda one: one.data.get("event") == "a1", "the reply to the answer")
        person.wait_for(lambda one: one.subtopic == "reason", "reasons")
        person.wait_for(lambda one: one.subtopic == "standing", "how it stands")
        assert house.say("viewer", "roomcue/hayloft/in/override", wish)
        assert {one.subtopic for one in stranger.messages} <= {"standing", "alive"}
