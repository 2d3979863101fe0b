"""What the page about live rooms shows is what a live room hears and says."""

from __future__ import annotations

import json
import re
from typing import get_args

import pytest

from adapters.contract.asyncapi import OUT
from adapters.live.messages import EVENTS_FROM_OUTSIDE, RETAINABLE_TOPICS, TOLD_TOPIC, read_message
from engine.events import EVENTS, Event
from tests.house.tree import TOP

FOLDER = TOP / "adapters" / "live"
README = (FOLDER / "README.md").read_text("utf-8")
EXAMPLES = re.findall(r'`(\{"kind":".*?\})`', README)
PUBLISHED = re.findall(r"-t roomcue/hayloft/in/(\S+) -m '(.*)'$", README, re.MULTILINE)


@pytest.mark.parametrize("example", EXAMPLES)
def test_an_event_shown_is_an_event(example: str) -> None:
    assert EVENTS.validate_json(example).kind in example


def test_every_kind_of_event_is_shown() -> None:
    kinds = {event.__dataclass_fields__["kind"].default for event in get_args(Event)}
    assert {EVENTS.validate_json(example).kind for example in EXAMPLES} == kinds


@pytest.mark.parametrize(("topic", "payload"), PUBLISHED)
def test_a_message_shown_is_taken_on_its_topic(topic: str, payload: str) -> None:
    assert read_message(topic, payload.encode()) is not None


def test_ten_messages_make_a_hub_and_each_tells_another_kind() -> None:
    kinds = [topic.split("/")[0] for topic, _ in PUBLISHED]
    assert len({*kinds}) == len(kinds) == 10
    assert {*kinds} <= {*EVENTS_FROM_OUTSIDE}


def test_what_may_be_retained_is_named() -> None:
    sentence = README.split("may be retained: ")[1].split(". An empty")[0].replace("\n", " ")
    named = {word.replace("told facts", TOLD_TOPIC) for word in sentence.split(", ")}
    assert named == RETAINABLE_TOPICS


def test_every_topic_that_roomcue_speaks_on_is_listed() -> None:
    table = README.split("## What roomcue says")[1].split("People answer")[0]
    assert re.findall(r"^\| `(\w+)` \|", table, re.MULTILINE) == [*OUT]


def test_every_module_named_is_there() -> None:
    table = README.split("| module | does |")[1].split("What must stay so")[0]
    cells = re.findall(r"^\| (`.*?`) \| ", table, re.MULTILINE)
    named = {name for cell in cells for name in re.findall(r"`(\w+)`", cell)}
    assert named <= {path.stem for path in FOLDER.glob("*.py")}


def test_a_line_for_standard_input_is_json() -> None:
    assert json.loads('{"kind": "source", "source": "disc"}')["kind"] in EVENTS_FROM_OUTSIDE
    assert '`{"kind": "source", "source": "disc"}`' in README
