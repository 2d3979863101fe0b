"""What the pages about live rooms and their contract show is what a live room hears and says."""

from __future__ import annotations

import json
import re

import pytest

from adapters.contract.asyncapi import OUT, READING_EXPIRY
from adapters.live.messages import (
    CONTRACT,
    EVENTS_FROM_OUTSIDE,
    RETAINABLE_TOPICS,
    TOLD_TOPIC,
    read_message,
)
from engine.events import EVENTS
from engine.handlers import IDS_KEPT
from engine.outcomes import RETRY_AFTER
from tests.adapters.asyncapi_document import DOCUMENT, MESSAGES, mqtt, on
from tests.house.tree import TOP

FOLDER = TOP / "adapters" / "live"
README = (FOLDER / "README.md").read_text("utf-8")
CONTRACT_PAGE = (TOP / "adapters" / "contract" / "README.md").read_text("utf-8")
EXAMPLES = re.findall(r'`(\{"kind":".*?\})`', CONTRACT_PAGE)
PUBLISHED = re.findall(r"-t roomcue/hayloft/in/(\S+) -m '(.*)'$", CONTRACT_PAGE, re.MULTILINE)


@pytest.mark.parametrize("example", EXAMPLES)
def test_an_event_shown_is_an_event(example: str) -> None:
    assert EVENTS.validate_json(example).kind in example


def test_every_kind_of_event_that_may_be_told_is_shown() -> None:
    assert {EVENTS.validate_json(example).kind for example in EXAMPLES} == {*EVENTS_FROM_OUTSIDE}


@pytest.mark.parametrize(("topic", "payload"), PUBLISHED)
def test_a_message_shown_is_taken_on_its_topic(topic: str, payload: str) -> None:
    assert read_message(topic, payload.encode()) is not None


def test_ten_messages_make_a_hub_and_each_tells_another_kind() -> None:
    kinds = [topic.split("/")[0] for topic, _ in PUBLISHED]
    assert len({*kinds}) == len(kinds) == 10
    assert {*kinds} <= {*EVENTS_FROM_OUTSIDE}


def test_what_room_and_hub_say_stands_on_one_page_alone() -> None:
    assert "| kind | an example |" not in README
    assert "in/outcome" not in README


def test_what_may_be_retained_is_named() -> None:
    sentence = CONTRACT_PAGE.split("may be retained: ")[1].split(". An empty")[0].replace("\n", " ")
    named = {word.replace("told facts", TOLD_TOPIC) for word in sentence.split(", ")}
    assert named == RETAINABLE_TOPICS


def test_every_topic_that_roomcue_speaks_on_is_listed() -> None:
    table = CONTRACT_PAGE.split("| topic of `out/` |")[1].split("## What people say")[0]
    said = re.findall(r"^\| `(\w+)` \| .* \| (.*) \|$", table, re.MULTILINE)
    assert [name for name, _ in said] == [*OUT]
    assert {name for name, retained in said if retained != "no"} == {
        name for name in OUT if mqtt(f"out.{name}")["retain"]
    }


def test_every_order_and_everything_that_is_asked_has_its_row() -> None:
    """With what to do about it; a new kind of order fails here until it stands on the page."""
    tables = CONTRACT_PAGE.split("## Orders")[1].split("## How everything stands")[0]
    named = re.findall(r"^\| `([\w ]+)` \|", tables, re.MULTILINE)
    kinds = {
        MESSAGES[name]["examples"][0]["payload"]["kind"]
        for name in (*on("out.order"), *on("out.ask"))
    }
    assert {*named} - {"kind"} == kinds


def test_everything_that_standing_says_is_on_the_page() -> None:
    table = CONTRACT_PAGE.split("## How everything stands")[1].split("`out/alive` (retained)")[0]
    named = {
        name
        for row in re.findall(r"^\| (`.*?) \|", table, re.MULTILINE)
        for name in re.findall(r"`(\w+)`", row)
    }
    schema = DOCUMENT["components"]["schemas"]["out.standing"]
    assert named == schema["properties"].keys() - {"contract", "at"}


def test_numbers_on_the_page_are_the_ones_in_force() -> None:
    assert f'`"contract": {CONTRACT}`' in CONTRACT_PAGE
    assert f"the latest {IDS_KEPT} of a room" in " ".join(CONTRACT_PAGE.split())
    tries = " and after ".join(str(wait // 1_000) for wait in RETRY_AFTER)
    assert f"after {tries} seconds" in " ".join(CONTRACT_PAGE.split())
    assert f"expiry of {READING_EXPIRY} seconds" in CONTRACT_PAGE


def test_every_module_named_is_there() -> None:
    table = README.split("| module | does |")[1].split("What must stay so")[0]
    cells = re.findall(r"^\| (`.*?`) \| ", table, re.MULTILINE)
    named = {name for cell in cells for name in re.findall(r"`(\w+)`", cell)}
    assert named <= {path.stem for path in FOLDER.glob("*.py")}


def test_a_line_for_standard_input_is_json() -> None:
    assert json.loads('{"kind": "source", "source": "disc"}')["kind"] in EVENTS_FROM_OUTSIDE
    assert '`{"kind": "source", "source": "disc"}`' in README
