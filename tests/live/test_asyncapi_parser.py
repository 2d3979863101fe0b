"""The AsyncAPI document as strangers see it: AsyncAPI's own parser, and a broker's log."""

from __future__ import annotations

import json
import re
import subprocess
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft7Validator

from adapters.contract.asyncapi import document
from adapters.live.messages import TOLD_TOPIC
from engine.room import Room
from rules.room.load import load
from simulator.shipped import DEMO_ROOM, ROOMS
from tests.adapters.asyncapi_document import DOCUMENT, mqtt_of, on
from tests.live.broker import PATIENCE, Mosquitto
from tests.live.process import Roomcue, roomcue
from tests.live.strangers import FOREIGN, NODE, Listener, Message, publish_all

Json = dict[str, Any]

SHIPPED = [load(path.read_text("utf-8"), path.name) for path in ROOMS]
WARNING = 1
"""The parser's levels: 0 an error, 1 a warning, 2 and 3 remarks."""


def found(text: str) -> Json:
    """Give what npm's `@asyncapi/parser` says of a document."""
    done = subprocess.run(
        [NODE, FOREIGN / "validate.mjs"],
        input=text,
        capture_output=True,
        text=True,
        timeout=3 * PATIENCE,
        check=True,
    )
    answer: Json = json.loads(done.stdout)
    return answer


def faults(text: str) -> list[Json]:
    answer = found(text)
    wrong = [one for one in answer["diagnostics"] if one["severity"] <= WARNING]
    assert answer["parsed"] or wrong
    return wrong


@pytest.mark.parametrize("rooms", [[], SHIPPED], ids=["any room", "the shipped rooms"])
def test_the_parser_finds_neither_errors_nor_warnings(rooms: list[Room]) -> None:
    assert faults(json.dumps(document(rooms, "0.1.0"))) == []


def test_what_the_command_prints_is_the_document_and_has_no_fault_either() -> None:
    """Of a room that is told nothing, whose document lacks a topic."""
    done = roomcue("topics", ROOMS[1])
    assert done.returncode == 0, done.stderr
    printed = json.loads(done.stdout)
    assert printed == document([SHIPPED[1]], printed["info"]["version"])
    assert faults(done.stdout) == []


@pytest.mark.parametrize(
    ("place", "wrong"),
    [
        (("operations", "inSource", "action"), "hear"),
        (("operations", "inSource", "bindings", "mqtt", "qos"), 3),
        (("channels", "inSource", "messages", "in.source", "$ref"), "#/components/messages/x"),
        (("components", "schemas", "in.source", "type"), "thing"),
        (("components", "messages", "in.source", "examples"), [{"load": {"source": "disc"}}]),
    ],
)
def test_the_parser_would_find_a_fault(place: tuple[str, ...], wrong: object) -> None:
    spoiled: Json = json.loads(json.dumps(document([], "0.1.0")))
    part = spoiled
    for name in place[:-1]:
        part = part[name]
    part[place[-1]] = wrong
    assert faults(json.dumps(spoiled))


# ----------------------------------------------------------------------------- at a broker

SAID = re.compile(r"Received PUBLISH from roomcue-hayloft-\w+ \(d\d, q(\d), r(\d), m\d+, '([^']+)'")
"""What Debian's mosquitto logs of a message as it comes: its quality of service, and whether it
is to be retained."""


def fitting(message: Message) -> list[str]:
    """Give the messages of the document that one which was heard could be."""
    components = DOCUMENT["components"]
    return [
        name
        for name in on(f"out.{message.subtopic}")
        if Draft7Validator({**components["schemas"][name], "components": components}).is_valid(
            message.data
        )
    ]


def told() -> list[tuple[str, str]]:
    """Give every example of what may be heard, but for a room file, as a hub publishes it."""
    messages = []
    for name, message in DOCUMENT["components"]["messages"].items():
        kind = name.removeprefix("in.")
        if name.startswith("in.") and kind != "room":
            subtopic = f"{TOLD_TOPIC}/guests" if kind == TOLD_TOPIC else kind
            payload = message["examples"][0]["payload"]
            messages.append((f"roomcue/hayloft/in/{subtopic}", json.dumps(payload)))
    return messages


def test_what_strangers_hear_is_what_the_document_says(tmp_path: Path) -> None:
    """Topic, payload, retention, expiry and quality of service, after all examples were told."""
    start = [
        ("roomcue/hayloft/in/projector", '{"state":"lit"}'),
        ("roomcue/hayloft/in/source", '{"source":"disc"}'),
    ]
    with (
        Mosquitto(tmp_path / "broker") as broker,
        Listener(broker.port, "roomcue/hayloft/out/#") as listener,
        Roomcue([DEMO_ROOM], tmp_path / "journal", port=broker.port),
    ):
        publish_all(broker.port, [*start, *told(), ("roomcue/hayloft/in/nonesuch", "{}")])
        listener.wait_for(
            lambda one: one.subtopic == "reason" and one.data.get("topic") == "in/nonesuch",
            "that the last of them is refused",
        )
        malformed = [one for one in listener.of("reason") if one.data.get("code") == "malformed"]
        heard = [*listener.messages]
        logged = SAID.findall(broker.log.read_text())
    assert malformed == []
    subtopics = {one.subtopic for one in heard}
    assert subtopics == {"order", "ask", "reply", "standing", "reason", "alive"}
    for message in heard:
        assert len(fitting(message)) == 1, message
        binding = mqtt_of(fitting(message)[0])
        assert (message.expiry is not None) is ("messageExpiryInterval" in binding), message
    bindings = [(one.subtopic, mqtt_of(fitting(one)[0])) for one in heard]
    ways = {(subtopic, binding["qos"], binding["retain"]) for subtopic, binding in bindings}
    assert ways == {
        (topic.rsplit("/", 1)[1], int(quality), retained == "1")
        for quality, retained, topic in logged
    }
