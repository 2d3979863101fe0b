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
from tests.adapters.commands import run
from tests.live.broker import PATIENCE, Mosquitto
from tests.live.process import Roomcue
from tests.live.strangers import FOREIGN, NODE, Listener, Message, publish_all

Json = dict[str, Any]
Faults = dict[str | tuple[str, ...], list[Json]]

SHIPPED = [load(path.read_text("utf-8"), path.name) for path in ROOMS]
WARNING = 1
"""The parser's levels: 0 an error, 1 a warning, 2 and 3 remarks."""


DOCUMENTS: dict[str, list[Room]] = {
    "any room": [],
    "the shipped rooms": SHIPPED,
    "a room that is told nothing": SHIPPED[1:2],
}
SPOILED: dict[tuple[str, ...], object] = {
    ("operations", "inSource", "action"): "hear",
    ("operations", "inSource", "bindings", "mqtt", "qos"): 3,
    ("channels", "inSource", "messages", "in.source", "$ref"): "#/components/messages/x",
    ("components", "schemas", "in.source", "type"): "thing",
    ("components", "messages", "in.source", "examples"): [{"load": {"source": "disc"}}],
}
"""A place in the document, and what is wrong there."""


def spoiled(place: tuple[str, ...]) -> Json:
    """Write the document of any room with a fault."""
    whole: Json = json.loads(json.dumps(document([], "0.1.0")))
    part = whole
    for name in place[:-1]:
        part = part[name]
    part[place[-1]] = SPOILED[place]
    return whole


@pytest.fixture(scope="module")
def faults() -> Faults:
    """What npm's `@asyncapi/parser` says of each document: it starts once for all of them."""
    texts: dict[str | tuple[str, ...], str] = {
        name: json.dumps(document(rooms, "0.1.0")) for name, rooms in DOCUMENTS.items()
    }
    texts.update({place: json.dumps(spoiled(place)) for place in SPOILED})
    done = subprocess.run(
        [NODE, FOREIGN / "validate.mjs"],
        input=json.dumps([*texts.values()]),
        capture_output=True,
        text=True,
        timeout=3 * PATIENCE,
        check=True,
    )
    found: Faults = {}
    for name, answer in zip(texts, json.loads(done.stdout), strict=True):
        found[name] = [one for one in answer["diagnostics"] if one["severity"] <= WARNING]
        assert answer["parsed"] or found[name]
    return found


@pytest.mark.parametrize("name", DOCUMENTS)
def test_the_parser_finds_neither_errors_nor_warnings(faults: Faults, name: str) -> None:
    assert faults[name] == []


def test_what_the_command_prints_is_the_document() -> None:
    """Of a room that is told nothing, whose document lacks a topic."""
    done = run("topics", ROOMS[1])
    assert done.exit_code == 0, done.output
    printed = json.loads(done.output)
    assert printed == document([SHIPPED[1]], printed["info"]["version"])


@pytest.mark.parametrize("place", SPOILED)
def test_the_parser_would_find_a_fault(faults: Faults, place: tuple[str, ...]) -> None:
    assert faults[place]


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
