"""The AsyncAPI document has every message, its topic and its bindings, neither more nor less."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from inspect import isfunction
from typing import ClassVar, Literal, get_args, get_type_hints
from unittest.mock import patch

import pytest
from pydantic import ConfigDict

from adapters.contract.asyncapi import document, identifier
from adapters.contract.payload_models import OTHERS
from adapters.live import announcements, messages, reply_messages, standing
from adapters.live.messages import (
    EVENTS_FROM_OUTSIDE,
    READING_TOPICS,
    ROOM_FILE_TOPIC,
    TOLD_TOPIC,
    read_message,
)
from engine import RoomEngine
from engine.decisions import Decision
from engine.event_fields import Name
from engine.events import STRICT
from engine.refusal import Refused
from engine.room import Room
from rules.room.load import load
from simulator.shipped import CELLAR
from tests.adapters.asyncapi_document import (
    DOCUMENT,
    MESSAGES,
    SHIPPED,
    Json,
    channel,
    examples,
    leaf_of,
    mqtt,
    mqtt_of,
    names_of,
    on,
    operation,
)
from tests.engine.meetings import START

# ------------------------------------------------------------------------------ what is there


@pytest.mark.parametrize("kind", [*EVENTS_FROM_OUTSIDE, ROOM_FILE_TOPIC])
def test_whatever_may_be_heard_has_its_topic_its_schema_and_an_example(kind: str) -> None:
    name = f"in.{kind}"
    fact = "/{fact}" if kind == TOLD_TOPIC else ""
    assert channel(name)["address"] == f"roomcue/{{room}}/in/{kind}{fact}"
    assert operation(name)["action"] == "receive"
    assert on(name) == [name]
    assert len(examples(name)) == 1
    if kind in EVENTS_FROM_OUTSIDE:
        schema = DOCUMENT["components"]["schemas"][name]
        names = {"contract"} | names_of(EVENTS_FROM_OUTSIDE[kind])
        assert schema["properties"].keys() == names - {"fact"}, "the topic says which fact"
        assert "contract" not in schema.get("required", [])
        assert schema["properties"]["kind"]["const"] == kind
        assert "kind" not in schema.get("required", [])


@pytest.mark.parametrize("decision", get_args(Decision))
def test_every_decision_is_said_in_full_and_what_is_to_be_done_is_said_without_facts(
    decision: type,
) -> None:
    names = {"contract"} | names_of(decision)
    (kind,) = get_args(get_type_hints(decision)["kind"])
    kind = kind.replace(" ", "_")
    whole = DOCUMENT["components"]["schemas"][f"out.reason.{kind}"]
    assert whole["properties"].keys() == names == set(whole["required"])
    assert len(examples(f"out.reason.{kind}")) == 1
    short = [name for name in MESSAGES if name in {f"out.order.{kind}", f"out.ask.{kind}"}]
    assert len(short) == (kind != "note")
    for name in short:
        schema = DOCUMENT["components"]["schemas"][name]
        left = {"ends_in"} if "ends" in names else set()
        assert schema["properties"].keys() == names - {"facts"} | left == set(schema["required"])
        assert len(examples(name)) == 1


@pytest.mark.parametrize("name", MESSAGES)
def test_every_message_has_a_sentence_and_an_example(name: str) -> None:
    assert MESSAGES[name]["summary"].endswith(".")
    assert len(examples(name)) == 1


def test_whatever_else_the_messages_say_is_in_the_document_too() -> None:
    """Each function that makes a message of its own, apart from those that come of decisions."""
    made = {
        name.removesuffix("_message")
        for module in (announcements, messages, reply_messages, standing)
        for name, one in vars(module).items()
        if isfunction(one) and one.__annotations__.get("return") == "OutgoingMessage"
    }
    names = {"question", "nothing_asked", "refusal", "lens_due", "standing", "alive", "taken"}
    names |= {"reply", "gone"}
    made -= {"reason", "response"}
    assert made == names, "what is new here needs a model in payload_models"
    others = {"out.ask.question", "out.reason.refused", "out.reason.wear", "out.reason.taken"}
    others |= {"out.standing", "out.reply", "out.ask.nothing_asked"}
    assert others | {"out.alive", "out.alive.gone"} == OTHERS.keys() <= MESSAGES.keys()


@dataclass(frozen=True, slots=True, kw_only=True)
class Curtain:
    """The curtain stands so far open.

    None of the shipped rooms says so.
    """

    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    kind: Literal["curtain"] = "curtain"
    share: float
    colour: Name | None = None


def test_a_new_kind_of_event_is_in_the_document_by_itself() -> None:
    """It has no example before it has been heard in some night."""
    with patch.dict(EVENTS_FROM_OUTSIDE, {"curtain": Curtain}):
        grown: Json = document([], "0.2.0")
    schema = grown["components"]["schemas"]["in.curtain"]
    assert schema["properties"]["share"] == {"type": "number"}
    assert schema["title"] == "Curtain"
    assert schema["properties"].keys() == {"contract", "kind", "share", "colour"}
    message = grown["components"]["messages"]["in.curtain"]
    assert message["summary"] == "The curtain stands so far open."
    assert message["description"] == "None of the shipped rooms says so."
    assert message["examples"] == []
    assert grown["channels"]["inCurtain"]["address"] == "roomcue/{room}/in/curtain"
    assert grown["info"]["version"] == "0.2.0"


def references(part: object) -> Iterator[str]:
    """Give every reference in a part of the document."""
    if isinstance(part, dict):
        if isinstance(part.get("$ref"), str):
            yield part["$ref"]
        for one in part.values():
            yield from references(one)
    elif isinstance(part, list):
        for one in part:
            yield from references(one)


@pytest.mark.parametrize("rooms", [[], SHIPPED, *([room] for room in SHIPPED)])
def test_every_reference_leads_somewhere_and_every_part_is_referred_to(rooms: list[Room]) -> None:
    made: Json = document(rooms, "0.1.0")
    referred = {*references(made)}
    for kind in ("schemas", "messages"):
        parts = {f"#/components/{kind}/{name}" for name in made["components"][kind]}
        assert parts == {one for one in referred if one.startswith(f"#/components/{kind}/")}
    channels = {f"#/channels/{name}" for name in made["channels"]}
    replies = {
        "#/channels/outReplyResponse/messages/out.reply",
        "#/channels/outStandingResponse/messages/out.standing",
    }
    assert channels | replies == {one for one in referred if one.startswith("#/channels/")}
    assert made["channels"]["outReply"]["messages"].keys() == {"out.reply"}


def test_each_channel_has_one_operation_with_all_of_its_messages() -> None:
    """Generators of code make one type a channel: of two operations they would forget one."""
    channels, operations = DOCUMENT["channels"], DOCUMENT["operations"]
    assert {one["channel"]["$ref"].split("/")[-1] for one in operations.values()} == {*channels}
    assert len(operations) == len(channels)
    assert not [one for one in operations.values() if "messages" in one]
    asked = {*channels["outAsk"]["messages"], *channels["outAskPassing"]["messages"]}
    assert asked == {name for name in DOCUMENT["components"]["messages"] if "out.ask" in name}


def test_every_word_of_a_person_has_its_reply_and_nothing_else_has() -> None:
    """AsyncAPI 3.0.0, Operation Reply Object: where the answer to a message comes."""
    replied = {name for name, one in DOCUMENT["operations"].items() if "reply" in one}
    wishes = ("answer", "override", "undo", "find_lens", "forget", "helper")
    words = [f"in.{kind}" for kind in (*wishes, "told", "mark")]
    assert replied == {*map(identifier, (*words, "in.state"))}
    for name in words:
        assert operation(name)["reply"]["channel"] == {"$ref": "#/channels/outReplyResponse"}
        assert "responseTopic" in MESSAGES[name]["bindings"]["mqtt"]


def test_a_response_goes_where_its_asker_wants_it_and_is_worth_a_minute() -> None:
    """AsyncAPI 3.0.0, Operation Reply Object: with an address, the channel has none of its own."""
    for name in ("in.override", "in.state"):
        reply = operation(name)["reply"]
        assert reply["address"]["location"] == "$message.header#/responseTopic"
        to = reply["channel"]["$ref"].split("/")[-1]
        assert DOCUMENT["channels"][to]["address"] is None
        binding = DOCUMENT["operations"][to]["bindings"]["mqtt"]
        assert (binding["qos"], binding["retain"]) == (1, False)
        assert binding["messageExpiryInterval"]["maximum"] == 60
    for name in ("out.reply", "out.standing"):
        assert channel(name)["address"] == f"roomcue/{{room}}/{name.replace('.', '/')}"


# --------------------------------------------------------------------------------- for rooms


def test_with_rooms_the_document_names_them_and_what_they_are_told() -> None:
    made: Json = document(SHIPPED, "0.1.0")
    names = [room.name for room in SHIPPED]
    for one in made["channels"].values():
        assert one["address"] is None or one["parameters"]["room"]["enum"] == names
    fact = made["channels"]["inTold"]["parameters"]["fact"]
    assert fact["enum"] == ["guests", "watching", "quiet"]
    assert "In longroom `quiet` is `true` or `false`." in fact["description"]


def test_a_room_that_is_told_nothing_has_no_topic_for_it() -> None:
    cellar = load(CELLAR.read_text("utf-8"), CELLAR.name)
    made: Json = document([cellar], "0.1.0")
    assert {*DOCUMENT["channels"]} - {*made["channels"]} == {"inTold"}
    assert "inTold" not in made["operations"]
    assert "in.told" not in made["components"]["messages"]


@pytest.mark.parametrize("room", SHIPPED, ids=lambda room: room.name)
def test_the_examples_for_a_room_are_taken_in_that_room(room: Room) -> None:
    """Its names are known, its values are in range, and its file is its own."""
    components = document([room], "0.1.0")["components"]
    for name, message in components["messages"].items():  # type: ignore[index]
        if name.startswith("in.") and name not in {"in.room", "in.state"}:
            (example,) = message["examples"]
            leaf = f"told/{next(iter(room.told))}" if name == "in.told" else name[3:]
            heard = read_message(leaf, json.dumps(example["payload"]).encode())
            refusal = RoomEngine(room).receive(heard, START).refusal  # type: ignore[arg-type]
            assert refusal is None or refusal.code not in NOT_OF_THE_ROOM, refusal.words
    assert components["messages"]["in.room"]["examples"] == [{"payload": room.text}]  # type: ignore[index]


NOT_OF_THE_ROOM = {"unknown_name", "out_of_range", "malformed"}
"""What would be said of names and values of another room."""


def test_the_examples_for_a_room_show_no_other_room_s_names() -> None:
    hayloft, _, longroom = SHIPPED
    foreign = names_in(hayloft) - names_in(longroom)
    made: Json = document([longroom], "0.1.0")
    shown = json.dumps([one["examples"] for one in made["components"]["messages"].values()])
    assert foreign >= {"hayloft", "guests"}
    assert {name for name in foreign if f'"{name}"' in shown} == set()


def names_in(room: Room) -> set[str]:
    return {room.name, *room.sources, *room.presets, *room.panels, *room.told}


def test_what_the_document_says_of_a_topic_is_the_same_for_every_room() -> None:
    """A room in which nobody happens to be asked retains its prompts all the same."""
    for room in SHIPPED:
        made: Json = document([room], "0.1.0")
        assert made["operations"].items() <= DOCUMENT["operations"].items()
        schemas = DOCUMENT["components"]["schemas"]
        assert made["components"]["schemas"].items() <= schemas.items()


# ---------------------------------------------------------------------------------- bindings


@pytest.mark.parametrize("kind", [*EVENTS_FROM_OUTSIDE, ROOM_FILE_TOPIC])
def test_what_must_not_be_retained_is_what_the_reader_refuses(kind: str) -> None:
    name = f"in.{kind}"
    (example,) = examples(name)
    payload = example if kind == ROOM_FILE_TOPIC else json.dumps(example)
    if "retain" in mqtt(name):
        assert mqtt(name)["retain"] is False
        with pytest.raises(Refused) as refused:
            read_message(leaf_of(name), payload.encode(), retained=True)
        assert refused.value.code == "retained"
    else:
        assert read_message(leaf_of(name), payload.encode(), retained=True) is not None


def test_readings_go_at_most_once_and_soon_expire_and_all_else_goes_at_least_once() -> None:
    """Quality of service as in MQTT 5.0, 4.3 (from memory)."""
    heard = {kind: mqtt(f"in.{kind}") for kind in (*EVENTS_FROM_OUTSIDE, ROOM_FILE_TOPIC)}
    assert {kind for kind, one in heard.items() if one["qos"] == 0} == READING_TOPICS
    assert {kind for kind, one in heard.items() if "messageExpiryInterval" in one} == READING_TOPICS
    assert {one["qos"] for kind, one in heard.items() if kind not in READING_TOPICS} == {1}


def test_what_is_to_be_done_expires_and_how_things_stand_is_retained() -> None:
    said = {name: mqtt_of(name) for name in MESSAGES if name.startswith("out.")}
    stands = {"out.standing", "out.alive", "out.alive.gone"}
    asked = {"out.ask.prompt", "out.ask.nothing_asked"}
    assert {name for name, one in said.items() if one["retain"]} == stands | asked
    expiring = {name for name, one in said.items() if "messageExpiryInterval" in one}
    topics = {"order", "ask", "reply", "alive"}
    assert expiring == {name for name in said if name.split(".")[1] in topics}


def test_a_cleared_topic_is_heard_as_the_document_says() -> None:
    words = {f"in.{kind}": channel(f"in.{kind}")["description"] for kind in EVENTS_FROM_OUTSIDE}
    assert '`{"state": "unknown"}`' in words["in.playback"]
    assert '`{"panels": null}`' in words["in.panels"]
    assert '`{"value": null}`' in words["in.told"]
    assert "a lens on its way is not taken" in words["in.lens"]
    assert {name for name, one in words.items() if "May be retained." in one} >= {"in.source"}
