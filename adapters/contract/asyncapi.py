"""What goes over the broker, as an AsyncAPI 3.0.0 document.

No field of an event or a decision is repeated here: schemas come from the models, sentences from
their docstrings, what may be retained from the reader itself, and examples are what was heard and
said in shipped nights, which are played for it. What is said and is no decision has its model
here.

A Schema Object of AsyncAPI 3.0.0 is one of JSON Schema Draft 07 with a few words more.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from inspect import cleandoc
from typing import Annotated, Any, ClassVar, Final, Literal, NamedTuple, TypeAlias, get_args
from typing import get_type_hints as hints_of

from prometheus_client import generate_latest
from pydantic import AwareDatetime, ConfigDict, TypeAdapter, WithJsonSchema
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaMode

from adapters.live.messages import (
    GONE,
    HEARD,
    LONGEST_ROOM,
    NEW_ROOM,
    QUESTIONS,
    READINGS,
    ROOT,
    STANDS,
    TOLD,
    NewRoom,
    Said,
    alive,
    lens_due,
    payload_of,
    question,
    read,
    refusal,
    said_of,
    standing,
    standing_data,
    taken,
)
from adapters.live.metrics import registry_of
from engine.decisions import Decision, Withdrawn
from engine.events import (
    STRICT,
    Event,
    FormatCode,
    Playback,
    ProjectorReport,
    RatioSeen,
    Service,
)
from engine.refusal import Refused
from engine.room import Room, Told
from engine.state import State
from engine.step import step
from engine.transition_table import MACHINES
from rules.room.fields import NAME
from rules.room.load import load
from simulator.nights.night_file import NightEntry, read_head, read_lines
from simulator.nights.replay import ReplayStep, engine_for, replay
from simulator.shipped import NIGHTS

Json: TypeAlias = dict[str, Any]

FORMAT: Final = "3.0.0"
MQTT_BINDING: Final = "0.2.0"
FRESH: Final = 5
"""For so long (s) a reading is worth delivering."""

PLAYED: Final = ("evening", "bad-start", "binge", "longroom")
"""Nights in which nearly everything is heard and said."""
NOT_PLAYED: Final = (
    RatioSeen(ratio=2.39),
    FormatCode(code=10, frame="16:9"),
    Service(begun=True),
)
"""What is heard in none of them."""

DUE: Final = "tall: it is due: measure it, and align it if that does not help."
"""What a forecast says; none is made here, for it takes months of nights and the extra `wear`."""

ABOUT: Final = f"""\
What a room hears and says over MQTT 5. All topics of a room lie under `{ROOT}/<room>/`: whatever
happens is told on `in/`, one JSON object a message, whose `kind` need not be said, for the topic
does; what roomcue orders, asks and explains comes on `out/`.

Any event may carry an `id`, by which it takes effect once however often it arrives, and `at`, the
moment at which it was so: what is older than something newer is refused. Whatever cannot be taken
is refused on `out/reason`, with what is wrong with it, and changes nothing.

Orders and prompts have numbers that are never given again, and a moment at which they end; a hub
that remembers the numbers carries each out once."""


# ------------------------------------------------------------- models of what is no decision


def _words_of(event: type[Event], name: str, *more: str) -> WithJsonSchema:
    """Take the words that an event's field may hold, and more."""
    return WithJsonSchema({"enum": [*get_args(hints_of(event)[name]), *more]})


@dataclass(frozen=True, slots=True, kw_only=True)
class _Model:
    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    at: AwareDatetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Question(_Model):
    """Messages may have been lost: the hub shall tell how these things stand."""

    kind: Literal["question"]
    about: tuple[Annotated[str, WithJsonSchema({"enum": [*QUESTIONS]})], ...]
    otherwise: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal(_Model):
    """Something was not taken; `words` say what is wrong and what would be right."""

    kind: Literal["refused"]
    code: str
    topic: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LensDue(_Model):
    """A preset has crept so far that it is to be looked at: something to tell the owner."""

    kind: Literal["wear"]
    preset: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken(_Model):
    """The room file that came on `in/room` is in force."""

    kind: Literal["taken"]
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenPrompt:
    """A prompt that waits for a person, by its number."""

    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    id: int
    panels: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing(_Model):
    """How things stand as far as has been reported; null is what nobody knows."""

    source: str | None
    playback: Annotated[str, _words_of(Playback, "state")]
    projector: Annotated[str, _words_of(ProjectorReport, "state", "unknown")]
    aspect: float | None
    """Of odd frames too, which may be higher than wide."""
    shape: str
    picture: str | None
    lens: Annotated[str, WithJsonSchema({"enum": [*MACHINES["lens"]]})]
    preset: str | None
    panels: str | None
    hand: Annotated[str, WithJsonSchema({"enum": [*MACHINES["hand"]]})]
    service: bool
    prompt: OpenPrompt | None
    holds: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Alive(_Model):
    """roomcue is there; `metrics` is what it has counted, in the Prometheus text format."""

    alive: Literal[True]
    since: AwareDatetime
    metrics: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Gone:
    """roomcue is not there: it said goodbye, or the broker says so in its place (last will)."""

    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    alive: Literal[False]


OTHERS: Final[Mapping[str, type]] = {
    "out.ask.question": Question,
    "out.reason.refused": Refusal,
    "out.reason.wear": LensDue,
    "out.reason.taken": Taken,
    "out.standing": Standing,
    "out.alive": Alive,
    "out.alive.gone": Gone,
}
"""Models of messages that come of no decision, by their names in the document."""


# -------------------------------------------------------------------------- nights, played


class _Lived(NamedTuple):
    """What was heard and said."""

    heard: Mapping[str, Sequence[tuple[str, bytes]]]
    """Leaves and payloads by the kind of event, or `room`."""
    said: Mapping[str, Sequence[Said]]
    """By the names of the messages in the document."""


def _lived() -> _Lived:
    """Play nights, and keep what goes to and fro."""
    heard: dict[str, list[tuple[str, bytes]]] = defaultdict(list)
    said: dict[str, list[Said]] = defaultdict(list)
    for event in NOT_PLAYED:
        heard[event.kind].append(payload_of(event))
    for night in PLAYED:
        first, *rest = (NIGHTS / f"{night}.jsonl").read_bytes().splitlines()
        head = read_head(first)
        engine = engine_for(load(head.room_file, head.room), head)
        heard[NEW_ROOM].append((NEW_ROOM, head.room_file.encode()))
        entries = [one for one in read_lines(head.start, rest) if isinstance(one, NightEntry)]
        for entry in entries:
            if entry.event is not None and entry.event.kind in HEARD:
                heard[entry.event.kind].append(payload_of(entry.event))
        for happening in replay(engine, entries):
            if isinstance(happening, ReplayStep):
                for name, one in _said_of(happening, engine.room, engine.state):
                    said[name].append(one)
        for name, one in _said_anyway(head.start):
            said[name].append(one)
    return _Lived(heard, said)


def _said_of(happening: ReplayStep, room: Room, state: State) -> Iterator[tuple[str, Said]]:
    """Give what is said of one happening, by the names of the messages.

    A technician who comes at that very moment is thought of too: then open orders are withdrawn.
    """
    now, event = happening.entry.now, happening.entry.event
    stopped = step(room, state, Service(begun=True), now).decisions
    withdrawn = [one for one in stopped if isinstance(one, Withdrawn)]
    for decision in (*happening.decisions, *withdrawn):
        for said in said_of(decision):
            yield _name(said.leaf, decision.kind), said
    if happening.refused is not None and event is not None:
        yield "out.reason.refused", refusal(happening.refused, event.kind, now)
    yield "out.standing", standing(standing_data(room, state), now)


def _said_anyway(now: int) -> Iterator[tuple[str, Said]]:
    """Give what is said on every evening, by the names of the messages."""
    yield "out.ask.question", question(now)
    yield "out.reason.wear", lens_due("tall", DUE, now)
    yield "out.reason.taken", taken(now)
    nothing_counted = generate_latest(registry_of(lambda: ())).decode()
    yield "out.alive", alive(now + 60_000, now, nothing_counted)
    yield "out.alive.gone", GONE


def _name(leaf: str, kind: str) -> str:
    """Name the message on `out/<leaf>` that is of a kind."""
    return f"out.{leaf}.{kind.replace(' ', '_')}"


# --------------------------------------------------------------------------------- schemas


class _Plain(GenerateJsonSchema):
    """Schemas whose fields have no titles, which would repeat their names."""

    def field_title_should_be_set(self, schema: object) -> bool:  # noqa: ARG002 - theirs
        """Leave titles out."""
        return False

    def field_is_required(self, field: Any, total: bool) -> bool:  # noqa: ANN401, FBT001 - theirs
        """Say that whatever is said is said whole."""
        return self.mode == "serialization" or super().field_is_required(field, total)


class _Schemas:
    """Makes schemas, and gathers those that others refer to."""

    def __init__(self) -> None:
        self.shared: Json = {}

    def of(self, model: type, mode: JsonSchemaMode) -> Json:
        """Make a model's schema."""
        made = TypeAdapter(model).json_schema(
            ref_template="#/components/schemas/{model}", mode=mode, schema_generator=_Plain
        )
        for name, part in made.pop("$defs", {}).items():
            self.shared[name] = _untitled(part)
        return _untitled(made)

    def of_decision(self, decision: type, *, whole: bool) -> Json:
        """Make the schema of a decision as `messages.said_of` writes it, with facts if `whole`."""
        made = self.of(decision, "serialization")
        named = made["properties"]
        named |= {name: _MOMENT for name in ("at", "ends") if name in named}
        if not whole:
            del named["facts"]
            made["required"].remove("facts")
        return made


_MOMENT: Final = TypeAdapter(AwareDatetime).json_schema()


def _untitled(schema: Json) -> Json:
    """Take the class's name off a schema."""
    return {key: value for key, value in schema.items() if key != "title"}


# -------------------------------------------------------------------------------- messages


class _Message(NamedTuple):
    """One kind of message on a channel."""

    name: str
    """`in.source`, `out.order.recall`: its topic, and its kind where there are several."""
    words: str
    """The docstring of its model."""
    schema: Json
    examples: list[object]
    content: str | None = None
    """What its payload is written in, if not JSON."""


def _all_heard(schemas: _Schemas, lived: _Lived) -> Iterator[_Message]:
    """Give what may come on `in/`."""
    for kind, event in HEARD.items():
        schema = schemas.of(event, "validation")
        if kind == TOLD:
            schema["required"].remove("fact")  # the topic says it
        payloads = [payload for _, payload in lived.heard.get(kind, ())]
        yield _Message(f"in.{kind}", _doc(event), schema, _telling(payloads))
    file: Json = {
        "description": "YAML text, as `roomcue schema` describes it.",
        "type": "string",
        "minLength": 1,
        "maxLength": LONGEST_ROOM,
    }
    text = lived.heard[NEW_ROOM][0][1].decode()
    yield _Message(f"in.{NEW_ROOM}", _doc(NewRoom), file, [text], "application/yaml")


def _all_said(schemas: _Schemas, lived: _Lived) -> Iterator[_Message]:
    """Give what may come on `out/`."""
    models: dict[str, tuple[type, Json]] = {}
    for decision in get_args(Decision):
        (kind,) = get_args(hints_of(decision)["kind"])
        for leaf in ("order", "ask", "reason"):
            name, whole = _name(leaf, kind), leaf == "reason"
            if whole or name in lived.said:
                models[name] = decision, schemas.of_decision(decision, whole=whole)
    for name, model in OTHERS.items():
        models[name] = model, schemas.of(model, "serialization")
    for name, (model, schema) in models.items():
        bodies = [said.body for said in lived.said.get(name, ())]
        yield _Message(name, _doc(model), schema, _telling(bodies))


def _telling(payloads: Sequence[bytes]) -> list[object]:
    """Give the payload that tells most, if there is any."""
    return [json.loads(max(payloads, key=len))] if payloads else []


def _doc(model: type) -> str:
    return cleandoc(model.__doc__ or "")


def _component(message: _Message) -> Json:
    """Write one message as AsyncAPI has it."""
    summary, _, more = message.words.partition("\n\n")
    made: Json = {
        "name": message.name,
        "summary": " ".join(summary.split()),
        "payload": {"$ref": f"#/components/schemas/{message.name}"},
        "examples": [{"payload": example} for example in message.examples],
    }
    if more:
        made["description"] = " ".join(more.split())
    if message.content:
        made["contentType"] = message.content
    return made


# -------------------------------------------------------------------------------- channels

OUT: Final[Mapping[str, str]] = {
    "order": "What the hub shall do, and what it need no longer do. An order that nobody has "
    "taken when it ends is dropped by the broker. Of each kind only the latest counts.",
    "ask": "What people are asked and how it ended, and now and then a question to the hub.",
    "standing": "How things stand, the open prompt with it; new whenever it has changed.",
    "reason": "Every decision with its rule, its reason and all the facts that it rests on, and "
    "whatever was refused; once a day, which presets are due. For reading along: nothing here is "
    "an order.",
    "alive": "Whether roomcue is there, said once a minute; the last will says that it is not.",
}
"""What goes over each topic of `out/`."""


class _Channel(NamedTuple):
    """One topic."""

    address: str
    words: str
    mqtt: Json
    """The binding of its operation."""


def _hearing(kind: str, payloads: Sequence[tuple[str, bytes]]) -> _Channel:
    """Describe a topic of `in/`; of retained messages its reader is asked."""
    mqtt: Json = {"qos": 0 if kind in READINGS else 1}
    if kind in READINGS:
        mqtt["messageExpiryInterval"] = FRESH
    if kind in STANDS:
        refused = [words for leaf, payload in payloads if (words := _not_retained(leaf, payload))]
        but = f", but {refused[0]}" if refused else ""
        words = f"May be retained{but}. {_when_empty(kind)}"
    else:
        mqtt["retain"] = False
        words = "Never retained."
    address = f"in/{kind}/{{fact}}" if kind == TOLD else f"in/{kind}"
    return _Channel(address, words, mqtt)


def _not_retained(leaf: str, payload: bytes) -> str | None:
    """Say why a message is not taken if it was retained; None if it is."""
    try:
        read(leaf, payload, retained=True)
    except Refused as refused:
        return refused.words
    return None


def _when_empty(kind: str) -> str:
    """Say what a cleared topic says."""
    heard = read(f"{TOLD}/fact" if kind == TOLD else kind, b"")
    if heard is None or isinstance(heard, NewRoom):
        return "An empty payload clears it and says nothing."
    return f"An empty payload clears it and is heard as `{payload_of(heard)[1].decode()}`."


def _saying(leaf: str, said: Sequence[Said]) -> _Channel:
    """Describe a topic of `out/` by what was said on it."""
    mqtt: Json = {
        "qos": 1,
        "retain": any(one.retained for one in said),
    }
    if any(one.ends for one in said):
        mqtt["messageExpiryInterval"] = {
            "type": "integer",
            "minimum": 1,
            "description": "The whole seconds that were left when it was sent.",
        }
    return _Channel(f"out/{leaf}", OUT[leaf], mqtt)


def _channels(lived: _Lived) -> dict[str, _Channel]:
    """Give all topics by name."""
    made = {f"in.{kind}": _hearing(kind, lived.heard.get(kind, ())) for kind in (*HEARD, NEW_ROOM)}
    for leaf in OUT:
        name = f"out.{leaf}"
        said = [one for key, some in lived.said.items() if _channel_of(key) == name for one in some]
        made[name] = _saying(leaf, said)
    return made


def _channel_of(message: str) -> str:
    return ".".join(message.split(".")[:2])


# -------------------------------------------------------------------------------- document


def document(rooms: Sequence[Room], version: str) -> dict[str, object]:
    """Describe what goes over the broker for some rooms; without any, for whatever room."""
    lived, schemas = _lived(), _Schemas()
    channels = _channels(lived)
    if rooms and not any(room.told for room in rooms):
        del channels[f"in.{TOLD}"]
    messages = [*_all_heard(schemas, lived), *_all_said(schemas, lived)]
    messages = [one for one in messages if _channel_of(one.name) in channels]
    return {
        "asyncapi": FORMAT,
        "id": "urn:roomcue:topics",
        "info": {
            "title": ROOT,
            "version": version,
            "description": ABOUT,
            "license": {"name": "MIT"},
        },
        "defaultContentType": "application/json",
        "channels": {
            name: _topic(channel, [one.name for one in messages if _channel_of(one.name) == name])
            | {"parameters": _parameters(rooms, fact=name == f"in.{TOLD}")}
            for name, channel in channels.items()
        },
        "operations": {name: _operation(name, channel) for name, channel in channels.items()},
        "components": {
            "messages": {one.name: _component(one) for one in messages},
            "schemas": {one.name: one.schema for one in messages} | schemas.shared,
        },
    }


def _topic(channel: _Channel, messages: Sequence[str]) -> Json:
    return {
        "address": f"{ROOT}/{{room}}/{channel.address}",
        "description": channel.words,
        "messages": {name: {"$ref": f"#/components/messages/{name}"} for name in messages},
    }


def _operation(name: str, channel: _Channel) -> Json:
    return {
        "action": "receive" if name.startswith("in.") else "send",
        "channel": {"$ref": f"#/channels/{name}"},
        "bindings": {"mqtt": {**channel.mqtt, "bindingVersion": MQTT_BINDING}},
    }


def _parameters(rooms: Sequence[Room], *, fact: bool) -> Json:
    """Describe what stands in a topic's address."""
    words = f"The room's name, as its file gives it: `{NAME}`."
    names = [room.name for room in rooms]
    made: Json = {"room": {"description": words, **_closed(names, "hayloft")}}
    if fact:
        words = "A fact that the room's file declares under `told`."
        for room in rooms:
            told = "; ".join(f"`{one.name}` is {_values(one)}" for one in room.told.values())
            words += f" In {room.name} {told}." if told else ""
        facts = [*dict.fromkeys(name for room in rooms for name in room.told)]
        made["fact"] = {"description": words, **_closed(facts, "guests")}
    return made


def _closed(names: Sequence[str], example: str) -> Json:
    return {"enum": [*names]} if names else {"examples": [example]}


def _values(fact: Told) -> str:
    """Say what a told fact may be, as its payload has it."""
    if fact.values:
        return " or ".join(f"`{json.dumps(value)}`" for value in fact.values)
    return f"a whole number from {fact.least} to {fact.most}"
