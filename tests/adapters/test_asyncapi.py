"""The AsyncAPI document says what is heard and said, neither more nor less.

Payloads are held against it by PyPI's `jsonschema`, which knows nothing of the models. AsyncAPI
3.0.0, "Schema Object": a superset of JSON Schema Draft 07 (read in the specification's own
JSON Schema).
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, fields
from datetime import timedelta
from inspect import isfunction
from typing import Any, ClassVar, Literal, get_args, get_origin, get_type_hints
from unittest.mock import patch

import pytest
from hypothesis import event as note
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft7Validator, FormatChecker, ValidationError
from jsonschema.protocols import Validator
from jsonschema.validators import extend
from pydantic import ConfigDict

from adapters.contract.asyncapi import document
from adapters.contract.payload_models import OTHERS
from adapters.live import messages
from adapters.live.messages import (
    EVENTS_FROM_OUTSIDE,
    READING_TOPICS,
    ROOM_FILE_TOPIC,
    TOLD_TOPIC,
    NewRoom,
    OutgoingMessage,
    messages_of,
    read_message,
    refusal_message,
    standing_data,
    standing_message,
)
from engine import RoomEngine
from engine.decisions import Decision
from engine.events import (
    STRICT,
    HandLook,
    Name,
    Playback,
    Signal,
    SourceChosen,
    moment_of,
)
from engine.refusal import Refused
from engine.room import Room
from rules.room.load import load
from simulator.nights.night_file import NightEntry, read_head, read_lines
from simulator.nights.replay import ReplayStep, engine_for, replay
from simulator.shipped import CELLAR, DEMO_ROOM, NIGHTS, ROOMS
from tests.adapters.staging import inbound
from tests.engine.meetings import START, evenings, events
from tests.golden.evenings import EVENINGS, MADE

Json = dict[str, Any]

DOCUMENT: Json = document([], "0.1.0")
MESSAGES: Json = DOCUMENT["components"]["messages"]
SHIPPED = [load(path.read_text("utf-8"), path.name) for path in ROOMS]
HAYLOFT = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)

# ------------------------------------------------------------------------ jsonschema, strictly

FORMATS = FormatChecker(formats=())
DATE = r"\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])"
TIME = r"([01]\d|2[0-3]):[0-5]\d:[0-5]\d(\.\d+)?([Zz]|[+-]([01]\d|2[0-3]):[0-5]\d)"


@FORMATS.checks("date-time")
def is_moment(value: object) -> bool:
    """RFC 3339, 5.6, but for leap seconds (from memory)."""
    return not isinstance(value, str) or re.fullmatch(f"{DATE}[Tt]{TIME}", value) is not None


def pattern(_: Validator, pattern: str, value: object, __: object) -> Iterator[ValidationError]:
    """Match as ECMA 262 does, where `$` is the very end and not a last line feed's place."""
    exact = pattern.removesuffix("$") + r"\Z" if pattern.endswith("$") else pattern
    if isinstance(value, str) and re.search(exact, value) is None:
        yield ValidationError(f"{value!r} does not match {pattern}")


Strict: Any = extend(Draft7Validator, {"pattern": pattern})  # type: ignore[no-untyped-call]


def validator(name: str, *, formats: bool = True) -> Validator:
    """Hold payloads against a message of the document."""
    schemas = DOCUMENT["components"]["schemas"]
    schema = {**schemas[name], "components": {"schemas": schemas}}
    made: Validator = Strict(schema, format_checker=FORMATS if formats else None)
    return made


STRICTLY = {name: validator(name) for name in MESSAGES}
LOOSELY = {name: validator(name, formats=False) for name in MESSAGES}
"""JSON Schema lets a validator pass over formats."""


def on(channel: str) -> list[str]:
    """Give the messages of a channel."""
    return [*DOCUMENT["channels"][channel]["messages"]]


def mqtt(channel: str) -> Json:
    """Give the binding of a channel's operation."""
    binding = DOCUMENT["operations"][channel]["bindings"]["mqtt"]
    assert isinstance(binding, dict)
    return binding


def examples(name: str) -> list[Any]:
    return [one["payload"] for one in MESSAGES[name]["examples"]]


def leaf_of(name: str) -> str:
    """Give the topic after `in/` on which an example comes."""
    kind = name.removeprefix("in.")
    return f"{TOLD_TOPIC}/guests" if kind == TOLD_TOPIC else kind


def taken(subtopic: str, payload: object) -> bool:
    """Tell whether the reader takes a payload."""
    try:
        read_message(subtopic, json.dumps(payload).encode())
    except Refused:
        return False
    return True


def names_of(model: Any) -> set[str]:  # noqa: ANN401 - a dataclass
    """Give the fields of a model."""
    return {one.name for one in fields(model)}


# ------------------------------------------------------------------------------ what is there


@pytest.mark.parametrize("kind", [*EVENTS_FROM_OUTSIDE, ROOM_FILE_TOPIC])
def test_whatever_may_be_heard_has_its_topic_its_schema_and_an_example(kind: str) -> None:
    name = f"in.{kind}"
    channel = DOCUMENT["channels"][name]
    assert channel["address"] == f"roomcue/{{room}}/in/{kind}" + "/{fact}" * (kind == TOLD_TOPIC)
    assert DOCUMENT["operations"][name]["action"] == "receive"
    assert on(name) == [name]
    assert len(examples(name)) == 1
    if kind in EVENTS_FROM_OUTSIDE:
        schema = DOCUMENT["components"]["schemas"][name]
        assert schema["properties"].keys() == names_of(EVENTS_FROM_OUTSIDE[kind])
        assert schema["properties"]["kind"]["const"] == kind
        assert "kind" not in schema.get("required", [])


@pytest.mark.parametrize("decision", get_args(Decision))
def test_every_decision_is_said_in_full_and_what_is_to_be_done_is_said_without_facts(
    decision: type,
) -> None:
    names = names_of(decision)
    (kind,) = get_args(get_type_hints(decision)["kind"])
    kind = kind.replace(" ", "_")
    whole = DOCUMENT["components"]["schemas"][f"out.reason.{kind}"]
    assert whole["properties"].keys() == names == set(whole["required"])
    assert len(examples(f"out.reason.{kind}")) == 1
    short = [name for name in MESSAGES if name in {f"out.order.{kind}", f"out.ask.{kind}"}]
    assert len(short) == (kind != "note")
    for name in short:
        schema = DOCUMENT["components"]["schemas"][name]
        assert schema["properties"].keys() == names - {"facts"} == set(schema["required"])
        assert len(examples(name)) == 1


@pytest.mark.parametrize("name", MESSAGES)
def test_every_message_has_a_sentence_and_an_example(name: str) -> None:
    assert MESSAGES[name]["summary"].endswith(".")
    assert len(examples(name)) == 1


def test_whatever_else_the_messages_say_is_in_the_document_too() -> None:
    """Each function that makes a message, apart from those that come of decisions."""
    made = {
        name.removesuffix("_message")
        for name, one in vars(messages).items()
        if isfunction(one) and one.__annotations__.get("return") == "OutgoingMessage"
    }
    names = {"question", "refusal", "lens_due", "standing", "alive", "taken"}
    assert made - {"reason"} == names, "what is new here needs a model in payload_models"
    others = {"out.ask.question", "out.reason.refused", "out.reason.wear", "out.reason.taken"}
    others |= {"out.standing"}
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
    assert schema["properties"].keys() == {"kind", "share", "colour"}
    message = grown["components"]["messages"]["in.curtain"]
    assert message["summary"] == "The curtain stands so far open."
    assert message["description"] == "None of the shipped rooms says so."
    assert message["examples"] == []
    assert grown["channels"]["in.curtain"]["address"] == "roomcue/{room}/in/curtain"
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
    assert channels == {one for one in referred if one.startswith("#/channels/")}


# --------------------------------------------------------------------------------- for rooms


def test_with_rooms_the_document_names_them_and_what_they_are_told() -> None:
    made: Json = document(SHIPPED, "0.1.0")
    names = [room.name for room in SHIPPED]
    for channel in made["channels"].values():
        assert channel["parameters"]["room"]["enum"] == names
    fact = made["channels"]["in.told"]["parameters"]["fact"]
    assert fact["enum"] == ["guests", "quiet"]
    assert "In longroom `quiet` is `true` or `false`." in fact["description"]


def test_a_room_that_is_told_nothing_has_no_topic_for_it() -> None:
    cellar = load(CELLAR.read_text("utf-8"), CELLAR.name)
    made: Json = document([cellar], "0.1.0")
    assert {*DOCUMENT["channels"]} - {*made["channels"]} == {"in.told"}
    assert "in.told" not in {**made["operations"], **made["components"]["messages"]}


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
    said = {name: mqtt(name) for name in DOCUMENT["channels"] if name.startswith("out.")}
    assert {name for name, one in said.items() if one["retain"]} == {"out.standing", "out.alive"}
    expiring = {name for name, one in said.items() if "messageExpiryInterval" in one}
    assert expiring == {"out.order", "out.ask"}


def test_a_cleared_topic_is_heard_as_the_document_says() -> None:
    words = {name: one["description"] for name, one in DOCUMENT["channels"].items()}
    assert '`{"state": "unknown"}`' in words["in.playback"]
    assert '`{"panels": null}`' in words["in.panels"]
    assert '`{"value": null}`' in words["in.told"]
    assert "a lens on its way is not taken" in words["in.lens"]
    assert {name for name, one in words.items() if "May be retained." in one} >= {"in.source"}


# ------------------------------------------------------------------------------ what is heard


@pytest.mark.parametrize("name", MESSAGES)
def test_every_example_is_what_its_schema_says(name: str) -> None:
    for example in examples(name):
        STRICTLY[name].validate(example)


@pytest.mark.parametrize("kind", EVENTS_FROM_OUTSIDE)
def test_every_example_of_what_is_heard_is_taken(kind: str) -> None:
    for example in examples(f"in.{kind}"):
        heard = read_message(leaf_of(f"in.{kind}"), json.dumps(example).encode())
        assert isinstance(heard, EVENTS_FROM_OUTSIDE[kind])


def test_the_example_of_a_room_file_is_one_without_a_fault() -> None:
    assert MESSAGES["in.room"]["contentType"] == "application/yaml"
    (example,) = examples("in.room")
    heard = read_message(ROOM_FILE_TOPIC, example.encode())
    assert isinstance(heard, NewRoom)
    assert load(heard.text, "in/room").name == "hayloft"


def test_a_payload_cannot_gainsay_its_topic() -> None:
    """Whoever has a right to one topic tells nothing on another's behalf."""
    assert taken("told/guests", {"value": True, "fact": "guests", "kind": "told"})
    assert not taken("told/guests", {"value": True, "fact": "quiet"})
    for kind in EVENTS_FROM_OUTSIDE:
        (example,) = examples(f"in.{kind}")
        for other in EVENTS_FROM_OUTSIDE:
            assert taken(leaf_of(f"in.{kind}"), {**example, "kind": other}) is (kind == other)


@pytest.mark.parametrize("room", SHIPPED, ids=lambda room: room.name)
@given(data=st.data())
def test_whatever_a_hub_may_publish_is_what_the_document_says(
    room: Room, data: st.DataObject
) -> None:
    """Each event that may come from outside, with or without its kind, and read back the same."""
    event = data.draw(events(room).filter(lambda one: one.kind in EVENTS_FROM_OUTSIDE))
    message = inbound(event)
    payload = json.loads(message.payload)
    for kind in ({}, {"kind": event.kind}):
        STRICTLY[f"in.{event.kind}"].validate({**payload, **kind})
        assert read_message(message.subtopic, json.dumps({**payload, **kind}).encode()) == event


def closed(hint: object) -> Iterator[str]:
    """Give the words that a type is closed to."""
    for part in get_args(hint):
        yield from [part] if get_origin(hint) is Literal else closed(part)


WORDS = sorted(
    {
        word
        for one in EVENTS_FROM_OUTSIDE.values()
        for hint in get_type_hints(one).values()
        for word in closed(hint)
    }
)
TELLING: list[Any] = [
    *(None, True, False, [], {}, ["x"], {"x": 1}),
    *(-(10**30), -1, 0, 1, 2, 8, 15, 16, 9_000, 16_384, 16_385, 10**30),
    *(-1.5, 0.5, 0.9999, 1.0001, 2.39, 3.9999, 4.0001, 1e9 + 0.5),
    *("", "x", "x" * 40, "x" * 64, "x" * 65, "x" * 150, "x" * 200, "x" * 201, "x" * 500, "x" * 501),
    *("a\n", "\x00", "\x7f", "\u202e", "à"),
    *("2026-11-22T19:30:00Z", "2026-11-22T19:30:00", "2026-11-22", "noon", "0"),
    *WORDS,
]
"""Values on both sides of every limit, and of every kind."""
VALUES = st.one_of(
    st.sampled_from(TELLING),
    st.integers(),
    st.floats(allow_nan=False, allow_infinity=False).filter(lambda one: not one.is_integer()),
    st.text(max_size=4),
    st.dictionaries(st.text(max_size=3), st.integers(), max_size=2),
)


def agree(kind: str, subtopic: str, payload: Any) -> bool:  # noqa: ANN401 - JSON
    """Hold reader against schema; gives whether a payload is taken.

    A validator may pass over the format of a moment, and what it then allows may be refused.
    """
    accepted = taken(subtopic, payload)
    if not LOOSELY[f"in.{kind}"].is_valid(payload):
        assert not accepted, (subtopic, payload)
    elif STRICTLY[f"in.{kind}"].is_valid(payload) and not gainsays(subtopic, payload):
        assert accepted, (subtopic, payload)
    return accepted


def gainsays(subtopic: str, payload: object) -> bool:
    """Tell whether a payload tells another fact than its topic, which no schema can see."""
    kind, _, fact = subtopic.partition("/")
    return kind == TOLD_TOPIC and isinstance(payload, dict) and payload.get("fact", fact) != fact


def written_out(model: Any, given: Json) -> Json:  # noqa: ANN401 - a dataclass
    """Write out what may be left out, too."""
    left_out = {one.name: None for one in fields(model) if one.default is None}
    return {**left_out, **given}


def variants(payload: Json, names: set[str]) -> Iterator[Any]:
    """Give a payload with each field changed to each telling value, left out, or not expected."""
    yield payload
    for name in sorted({*names, "x", ""}):
        yield {key: value for key, value in payload.items() if key != name}
        for value in TELLING:
            yield {**payload, name: value}


@pytest.mark.parametrize("kind", EVENTS_FROM_OUTSIDE)
def test_reader_and_schema_agree_on_every_field_on_both_sides_of_every_limit(kind: str) -> None:
    """And both take some of it, and refuse some."""
    (example,) = examples(f"in.{kind}")
    names = names_of(EVENTS_FROM_OUTSIDE[kind])
    verdicts = set()
    for base in (example, written_out(EVENTS_FROM_OUTSIDE[kind], example)):
        for payload in variants(base, names):
            verdicts.add(agree(kind, leaf_of(f"in.{kind}"), payload))
    assert verdicts == {True, False}


def test_reader_and_schema_agree_on_every_field_of_what_a_hand_wants() -> None:
    verdicts = set()
    for base in ({}, {"picture": "whole", "preset": None, "panels": "open"}):
        for look in variants(base, names_of(HandLook)):
            verdicts.add(agree("hand", "hand", {"taken": True, "look": look}))
    assert verdicts == {True, False}


@st.composite
def spoiled(draw: st.DrawFn, payload: Json) -> Any:  # noqa: ANN401 - JSON
    """Change one thing of a payload, inside a part of it too, or send something else altogether."""
    inner = [key for key, value in payload.items() if isinstance(value, dict)]
    if inner and draw(st.booleans()) is True:
        name = draw(st.sampled_from(inner))
        return {**payload, name: draw(spoiled(payload[name]))}
    how = draw(st.sampled_from(["change", "change", "change", "drop", "add", "all"]))
    if how == "all":
        return draw(VALUES)
    if how == "add" or not payload:
        names = st.sampled_from(["id", "at", "kind", "fact", "source", "prompt", "x", ""])
        return {**payload, draw(names): draw(VALUES)}
    name = draw(st.sampled_from([*payload]))
    rest = {key: value for key, value in payload.items() if key != name}
    return rest if how == "drop" else {**rest, name: draw(VALUES)}


@given(data=st.data())
def test_the_reader_refuses_what_the_schema_refuses_and_takes_what_it_allows(
    data: st.DataObject,
) -> None:
    """Of payloads of which one thing was changed to whatever comes."""
    event = data.draw(events(HAYLOFT).filter(lambda one: one.kind in EVENTS_FROM_OUTSIDE))
    message = inbound(event)
    payload = data.draw(spoiled(written_out(event, json.loads(message.payload))))
    note("taken" if agree(event.kind, message.subtopic, payload) else "refused")


def test_a_whole_number_is_written_without_a_point() -> None:
    """JSON Schema calls 1.0 an integer (Draft 07, 6.1.1, from memory); the reader is stricter."""
    payload: Json = {"order": 1.0, "outcome": "done"}
    assert STRICTLY["in.outcome"].is_valid(payload)
    assert not taken("outcome", payload)


def test_any_moment_of_rfc_3339_is_taken() -> None:
    """With any zone, to any fraction of a second."""
    for seconds in range(0, 86_400 * 400, 86_400 * 7 + 3_601):
        moment = moment_of(START) + timedelta(seconds=seconds)
        for zone in ("Z", "z", "+00:00", "-00:00", "+05:45", "-11:30"):
            for fraction in ("", ".5", ".123", ".123456789"):
                at = f"{moment:%Y-%m-%dT%H:%M:%S}{fraction}{zone}"
                assert STRICTLY["in.black"].is_valid({"at": at})
                assert taken("black", {"at": at})


# ------------------------------------------------------------------------------- what is said


def held(said: OutgoingMessage) -> str:
    """Hold a message against the document; gives its name.

    AsyncAPI 3.0.0, "Operation Object": each message is valid against one, and only one, of the
    messages of its operation (read).
    """
    payload = json.loads(said.body)
    fitting = [name for name in on(f"out.{said.subtopic}") if STRICTLY[name].is_valid(payload)]
    assert len(fitting) == 1, (fitting, payload)
    binding = mqtt(f"out.{said.subtopic}")
    assert binding["retain"] is said.retained
    assert binding["qos"] == 1
    assert ("messageExpiryInterval" in binding) is (said.expires is not None)
    return fitting[0]


def heard_back(engine: RoomEngine, entries: list[NightEntry]) -> set[str]:
    """Play events and hold all that is said of them against the document."""
    names: set[str] = set()
    before: Json = {}
    for happening in replay(engine, entries):
        assert isinstance(happening, ReplayStep)
        now, event = happening.entry.now, happening.entry.event
        for decision in happening.decisions:
            names.update(held(said) for said in messages_of(decision))
        if happening.refused is not None and event is not None:
            names.add(held(refusal_message(happening.refused, event.kind, now)))
        stands = standing_data(engine.room, engine.state)
        if stands != before:
            names.add(held(standing_message(stands, now)))
            before = stands
    return names


@pytest.mark.parametrize("name", [*EVENINGS, *MADE])
def test_all_that_is_said_in_a_shipped_night_is_what_the_document_says(name: str) -> None:
    first, *rest = (NIGHTS / f"{name}.jsonl").read_bytes().splitlines()
    head = read_head(first)
    engine = engine_for(load(head.room_file, head.room), head)
    entries = [one for one in read_lines(head.start, rest) if isinstance(one, NightEntry)]
    assert heard_back(engine, entries) >= {"out.standing", "out.order.picture"}


@given(data=st.data())
def test_all_that_is_said_on_any_evening_is_what_the_document_says(data: st.DataObject) -> None:
    """Right, wrong, late and doubled events, of every kind."""
    room = data.draw(st.sampled_from(SHIPPED))
    entries, now = [], START
    for wait, event in data.draw(evenings(room)):
        now += wait
        entries.append(NightEntry(0, now, event, None))
    for name in heard_back(RoomEngine(room), entries):
        note(name)


def test_a_frame_that_is_higher_than_wide_is_said_too() -> None:
    """Half of a picture for two eyes, say, from a source whose frame is its shape."""
    odd = Signal(locked=True, columns=1_920, rows=2_160)
    told = (SourceChosen(source="console"), Playback(state="playing"), odd)
    cellar = load(CELLAR.read_text("utf-8"), CELLAR.name)
    engine = RoomEngine(cellar)
    assert heard_back(engine, [NightEntry(0, START, event, None) for event in told])
    assert standing_data(cellar, engine.state)["aspect"] == 0.8889
