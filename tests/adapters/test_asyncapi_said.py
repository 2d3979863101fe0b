"""Whatever a room says is what the AsyncAPI document says of it."""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest
from hypothesis import event as note
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft7Validator

from adapters.contract.message_schemas import MORE_WORDS
from adapters.live.announcements import NotTaken, refusal_message
from adapters.live.messages import OutgoingMessage, messages_of
from adapters.live.redating import with_time_left
from adapters.live.standing import standing_data, standing_message
from engine import RoomEngine
from engine.events import (
    Playback,
    Signal,
    SourceChosen,
)
from rules.room.load import load
from simulator.nights.night_file import NightEntry, read_head, read_lines
from simulator.nights.replay import ReplayStep, engine_for, replay
from simulator.shipped import CELLAR, NIGHTS
from tests.adapters.asyncapi_document import (
    DOCUMENT,
    MESSAGES,
    SHIPPED,
    STRICTLY,
    Json,
    examples,
    mqtt_of,
    on,
)
from tests.engine.meetings import START, evenings
from tests.golden.evenings import EVENINGS, MADE


def held(said: OutgoingMessage) -> str:
    """Hold a message against the document; gives its name.

    AsyncAPI 3.0.0, "Operation Object": each message is valid against one, and only one, of the
    messages of its operation (read).
    """
    payload = json.loads(with_time_left(said, START))
    fitting = [name for name in on(f"out.{said.subtopic}") if STRICTLY[name].is_valid(payload)]
    assert len(fitting) == 1, (fitting, payload)
    binding = mqtt_of(fitting[0])
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
            catalogue = engine.room.catalogue
            refusal = NotTaken(happening.refused, event.kind, event.id)
            names.add(held(refusal_message(catalogue, refusal, now)))
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


def grown(part: object) -> object:
    """Add a field to every object in a payload."""
    if isinstance(part, list):
        return [grown(one) for one in part]
    if isinstance(part, dict):
        whole = {key: one if key in OF_WORDS else grown(one) for key, one in part.items()}
        return whole | {"added_later": "x"}
    return part


OF_WORDS = {"metrics", "told", "cautions", "choices", "cues", "facts", "parameters"}
"""Fields whose names are no fields: facts, cues, codes."""


@pytest.mark.parametrize("name", [name for name in MESSAGES if name.startswith("out.")])
def test_a_hub_that_goes_by_the_document_passes_over_what_is_added_later(name: str) -> None:
    """Within a version fields may be added to all that is said, and nothing breaks by it."""
    components = DOCUMENT["components"]
    as_it_is = Draft7Validator({**components["schemas"][name], "components": components})
    for example in examples(name):
        as_it_is.validate(grown(example))


def test_every_closed_set_of_words_that_is_said_says_that_more_may_come() -> None:
    def sets_in(part: object) -> Iterator[Json]:
        if isinstance(part, dict):
            if "enum" in part:
                yield part
            for one in part.values():
                yield from sets_in(one)
        elif isinstance(part, list):
            for one in part:
                yield from sets_in(one)

    schemas = DOCUMENT["components"]["schemas"]
    assert schemas["out.reason.wear"]["properties"]["code"]["enum"] == ["look_at_lens"]
    told = {"AnswerWord", "OutcomeWord", "ProjectorState"}
    said = [one for name, one in schemas.items() if not name.startswith("in.") and name not in told]
    found = [one for schema in said for one in sets_in(schema)]
    assert {"HoldCode", "RefusalCode", "CautionCode"} <= {one["title"] for one in found}
    assert [one["title"] for one in found if one.get("description") != MORE_WORDS] == []


def test_a_frame_that_is_higher_than_wide_is_said_too() -> None:
    """Half of a picture for two eyes, say, from a source whose frame is its shape."""
    odd = Signal(locked=True, columns=1_920, rows=2_160)
    told = (SourceChosen(source="console"), Playback(state="playing"), odd)
    cellar = load(CELLAR.read_text("utf-8"), CELLAR.name)
    engine = RoomEngine(cellar)
    assert heard_back(engine, [NightEntry(0, START, event, None) for event in told])
    assert standing_data(cellar, engine.state)["aspect"] == 0.8889
