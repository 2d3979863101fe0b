"""The reader takes what the AsyncAPI document allows, and refuses all else."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import fields
from datetime import timedelta
from typing import Any, Literal, get_args, get_origin, get_type_hints

import pytest
from hypothesis import event as note
from hypothesis import given
from hypothesis import strategies as st

from adapters.live.messages import (
    EVENTS_FROM_OUTSIDE,
    ROOM_FILE_TOPIC,
    TOLD_TOPIC,
    NewRoom,
    read_message,
)
from engine.events import (
    OverrideLook,
    moment_of,
)
from engine.room import Room
from rules.room.load import load
from tests.adapters.asyncapi_document import (
    HAYLOFT,
    LOOSELY,
    MESSAGES,
    SHIPPED,
    STRICTLY,
    Json,
    examples,
    leaf_of,
    names_of,
    taken,
)
from tests.adapters.staging import inbound
from tests.engine.meetings import START, events


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

    A validator may pass over the format of a moment, and what it then allows may be refused. The
    fact of a topic may be told once more, of which the schema says nothing.
    """
    accepted = taken(subtopic, payload)
    if kind == TOLD_TOPIC and isinstance(payload, dict) and payload.get("fact") == "guests":
        payload = {name: value for name, value in payload.items() if name != "fact"}
    if not LOOSELY[f"in.{kind}"].is_valid(payload):
        assert not accepted, (subtopic, payload)
    elif STRICTLY[f"in.{kind}"].is_valid(payload):
        assert accepted, (subtopic, payload)
    return accepted


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


def test_reader_and_schema_agree_on_every_field_of_what_an_override_wants() -> None:
    verdicts = set()
    for base in ({}, {"picture": "whole", "preset": None, "panels": "open"}):
        for look in variants(base, names_of(OverrideLook)):
            verdicts.add(agree("override", "override", {"taken": True, "look": look}))
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


def test_a_whole_number_may_be_written_with_a_point() -> None:
    """JSON Schema calls 1.0 an integer (Draft 07, 6.1.1, from memory), and so does the reader."""
    payload: Json = {"order": 1.0, "outcome": "done"}
    assert STRICTLY["in.outcome"].is_valid(payload)
    assert taken("outcome", payload)


def test_any_moment_of_rfc_3339_is_taken() -> None:
    """With any zone, to any fraction of a second."""
    for seconds in range(0, 86_400 * 400, 86_400 * 7 + 3_601):
        moment = moment_of(START) + timedelta(seconds=seconds)
        for zone in ("Z", "z", "+00:00", "-00:00", "+05:45", "-11:30"):
            for fraction in ("", ".5", ".123", ".123456789"):
                at = f"{moment:%Y-%m-%dT%H:%M:%S}{fraction}{zone}"
                assert STRICTLY["in.black"].is_valid({"at": at})
                assert taken("black", {"at": at})
