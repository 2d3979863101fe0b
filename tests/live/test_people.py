"""People at a real broker with the shipped rights: they speak, and hear what came of it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from adapters.cli.exit_status import PROBLEMS
from simulator.shipped import DEMO_ROOM
from tests.live.broker import Mosquitto, until
from tests.live.process import Roomcue, roomcue
from tests.live.shipped_house import House, shipped_house
from tests.live.strangers import Listener, publish

ASKED = (
    ("projector", {"state": "lit"}),
    ("lens", {"moving": False, "preset": "broad"}),
    ("panels", {"panels": "open"}),
    ("source", {"source": "disc"}),
    ("override", {"taken": True, "look": {"panels": "sides"}}),
)
"""What has somebody asked to fit the side panels."""


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """Start the broker as the shipped files have it."""
    with shipped_house(tmp_path_factory.mktemp("house")) as house:
        yield house


def test_a_person_hears_what_came_of_their_word_and_a_stranger_does_not(
    house: House, tmp_path: Path
) -> None:
    """With the shipped rights: one person asks with a topic of their own, one without."""
    room = Roomcue([DEMO_ROOM], tmp_path / "hayloft.journal", *house.roomcue(tmp_path))
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
        assert not house.say("person", "roomcue/hayloft/in/state", "{}", *own, *marked)
        state = tablet.wait_for(lambda one: "parts" in one.data, "how everything stands")
        assert (state.correlation, state.retained) == ("7", False)
        assert state.data["override"] == "person"
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


def test_whoever_tells_a_room_something_reads_what_came_of_it(tmp_path: Path) -> None:
    """`roomcue tell` waits for the reply, and says so where none comes."""
    with Mosquitto(tmp_path / "broker") as broker:
        known = ("--broker", f"mqtt://127.0.0.1:{broker.port}", "--wait", "60")
        room = Roomcue([DEMO_ROOM], tmp_path / "hayloft.journal", port=broker.port)
        with room:
            marked = roomcue("tell", "hayloft", "mark", '{"words": "too dark"}', *known)
            assert (marked.returncode, marked.stderr) == (0, "")
            assert marked.stdout.splitlines()[-1].startswith("Taken: Thank you")
            answer = '{"prompt": 99, "answer": "no"}'
            late = roomcue("tell", "hayloft", "answer", answer, *known)
            assert late.returncode == PROBLEMS
            assert late.stdout.splitlines()[-1].startswith("Not taken: ")
            assert room.stop() == 0
        alone = roomcue("tell", "hayloft", "mark", "{}", *known[:2], "--wait", "1")
        assert "roomcue is not there: the broker keeps it" in alone.stdout


def test_what_is_asked_is_retained_until_it_is_answered(tmp_path: Path) -> None:
    """Whoever comes while it is open hears it at once, and whoever comes later hears nothing."""
    with Mosquitto(tmp_path / "broker") as broker:
        ask = "roomcue/hayloft/out/ask"
        with (
            Listener(broker.port, ask) as first,
            Roomcue([DEMO_ROOM], tmp_path / "hayloft.journal", port=broker.port),
        ):
            for subtopic, data in ASKED:
                publish(broker.port, f"roomcue/hayloft/in/{subtopic}", json.dumps(data))
            asked = first.wait_for(lambda one: one.data["kind"] == "prompt", "the prompt")
            with Listener(broker.port, ask) as late:
                found = late.wait_for(bool, "what is retained")
            assert (found.retained, found.data) == (True, asked.data)
            assert found.expiry is not None
            answer = {"prompt": asked.data["id"], "answer": "no"}
            publish(broker.port, "roomcue/hayloft/in/answer", json.dumps(answer))
            first.wait_for(lambda one: one.data["kind"] == "nothing asked", "that it is over")
            until(lambda: retained_on(broker.port, ask) == [], "the broker has forgotten it")


def retained_on(port: int, topic: str) -> list[str]:
    """Give what a broker has retained on a topic; a message of one's own comes behind all of it."""
    with Listener(port, topic) as late:
        publish(port, topic, "last")
        late.wait_for(lambda one: one.payload == "last", "the last")
    return [one.payload for one in late.messages if one.retained]


def test_a_phone_that_comes_late_finds_the_whole_question(tmp_path: Path) -> None:
    """Retained at a real broker: words, choices, cautions, and whose the prompt is."""
    with (
        Mosquitto(tmp_path / "broker") as broker,
        Roomcue([DEMO_ROOM], tmp_path / "hayloft.journal", port=broker.port),
    ):
        for subtopic, data in ASKED:
            publish(broker.port, f"roomcue/hayloft/in/{subtopic}", json.dumps(data))
        asked = "that somebody is asked"
        with Listener(broker.port, "roomcue/hayloft/out/standing") as early:
            standing = early.wait_for(lambda one: one.data["prompt"], asked).data
        number = standing["prompt"]["id"]
        ready = {"prompt": number, "answer": "ready", "who": "Ana"}
        publish(broker.port, "roomcue/hayloft/in/answer", json.dumps(ready))
        with Listener(broker.port, "roomcue/hayloft/out/standing") as late:
            found = late.wait_for(
                lambda one: (one.data["prompt"] or {}).get("who") == "Ana", "whose it is"
            )
        prompt = found.data["prompt"]
        assert (prompt["id"], prompt["at_screen"]) == (number, True)
        assert "done" in prompt["choices"]
        assert "ready" not in prompt["choices"]
        assert prompt["words"]
        assert prompt["cautions"]
