"""What goes over the broker, as an AsyncAPI 3.0.0 document.

Nothing is written twice: schemas come from the models, descriptions from their docstrings, what may
be retained from the reader of messages, and examples from nights that are played. Messages that
are no decisions have their models in `payload_models`.

A Schema Object of AsyncAPI 3.0.0 is one of JSON Schema Draft 07 with a few words more.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from typing import Final, NamedTuple

from adapters.contract.message_schemas import (
    ContractMessage,
    Json,
    Schemas,
    component,
    messages_heard,
    messages_said,
)
from adapters.contract.played_messages import PlayedMessages, played_messages
from adapters.live.messages import (
    ANSWERED_TOPICS,
    EVENTS_FROM_OUTSIDE,
    PEOPLES_TOPICS,
    READING_TOPICS,
    RETAINABLE_TOPICS,
    ROOM_FILE_TOPIC,
    STATE_TOPIC,
    TOLD_TOPIC,
    TOPIC_ROOT,
    NewRoom,
    OutgoingMessage,
    StateAsked,
    payload_of,
    read_message,
)
from adapters.live.reply_messages import REPLY_LIFETIME
from adapters.live.return_address import MOST_RESPONSE_TOPIC
from engine.handlers import IDS_KEPT
from engine.refusal import Refused
from engine.room import Room, Told
from rules.room.single_values import NAME_PATTERN

FORMAT: Final = "3.0.0"
MQTT_BINDING: Final = "0.2.0"
READING_EXPIRY: Final = 5
"""Seconds after which a reading is not worth delivering any more."""

ABOUT: Final = f"""\
What a room hears and says over MQTT 5. All topics of a room lie under `{TOPIC_ROOT}/<room>/`: \
whatever
happens is told on `in/`, one JSON object a message, whose `kind` need not be said, for the topic
does; what roomcue orders, asks and explains comes on `out/`.

Every message of roomcue names the version of this contract; what is told may name it too. Within a
version fields, kinds and words (codes) may be added to what roomcue says: pass over what you do not
know. What is told is taken only as it stands here.

Any event may carry an `id`, by which it takes effect once however often it arrives: ids are those
of one room, whoever sends them, and the latest {IDS_KEPT} are known, but of readings
none. `at` is the moment since when
something is so: what is older than something newer on the same subject is refused. Whatever cannot
be taken is refused on `out/reason`, with what is wrong with it, and changes nothing.

Orders and prompts have numbers that are never given again, and a moment at which they end; a hub
that remembers the numbers carries each out once. Where the room's file says that orders are
answered, each picture and each cue wants its outcome once it stands; a recall is over with the
report of the lens that it rests, or with its outcome where the lens does not report.

A hub tells everything again after it has connected, after a question on `out/ask`, when `out/alive`
turns from false to true, and when it names another `since` than before; where none has come for
`holds_for` seconds it counts as false. Playback, title and reading are of the source shown: what is
older than the source is told with the source's `at` or without one, and after a change of source
the reading is told again. How everything stands is told to whoever asks on
`in/state`. The whole contract stands in `adapters/contract/README.md`."""


# -------------------------------------------------------------------------------- channels

SERVERS: Final[Json] = {
    "house": {
        "host": "localhost:8883",
        "protocol": "mqtts",
        "protocolVersion": "5.0",
        "title": "The house's broker",
        "description": "As `adapters/live/deploy/` sets it up: TLS, and a user and password for "
        "each kind of client. Put your broker's name in the place of localhost.",
        "security": [{"$ref": "#/components/securitySchemes/password"}],
    },
    "trial": {
        "host": "localhost:1883",
        "protocol": "mqtt",
        "protocolVersion": "5.0",
        "title": "A broker to try things out",
        "description": "What `roomcue run --embedded` starts: on this machine alone.",
    },
}
OUT: Final[Mapping[str, str]] = {
    "order": "What the hub shall do, and what it need no longer do. An order that nobody has "
    "taken when it ends is dropped by the broker. Of each kind only the latest counts.",
    "ask": "What people are asked, retained while it is open; how it ended; and now and then a "
    "question to the hub.",
    "reply": "What came of a person's answer, override, told fact or mark. Whoever gives a "
    "response topic with their word hears it there instead, and correlation data come back either "
    "way. A topic with a wildcard, with more than 256 characters or within roomcue's own tree is "
    "not used.",
    "standing": "How things stand, the open prompt with it; new whenever it has changed.",
    "reason": "Every decision with its rule, its reason and all the facts that it rests on, and "
    "whatever was refused; once a day, which presets are due. For reading along: nothing here is "
    "an order.",
    "alive": "Whether roomcue is there, said three times a minute, and what is wrong with it; the "
    "last will says that it is not. After `holds_for` it holds no longer, and the broker drops it.",
}
"""Descriptions of the topics of `out/`."""
RESPONSES: Final[Mapping[str, str]] = {
    "out.reply": "What came of a person's word, where they gave a response topic with it. Without "
    "one that is fit it comes on `out/reply`.",
    "out.standing": "How everything stands, where whoever asked on `in/state` gave a response "
    "topic. Without one that is fit, `out/standing` is said anew.",
}
"""Messages that go to the response topic of MQTT 5 that the asker names, with their words."""


class _Channel(NamedTuple):
    """One topic and its description."""

    address: str | None
    """None: whoever asks names the topic."""
    words: str
    mqtt: Json
    """The binding of its operation."""
    passing: frozenset[str] = frozenset()
    """Messages of a topic that retains others, which are not retained: a channel of their own."""


def _hearing(kind: str, payloads: Sequence[tuple[str, bytes]]) -> _Channel:
    """Describe a topic of `in/`; the reader of messages shows whether they may be retained."""
    mqtt: Json = {"qos": 0 if kind in READING_TOPICS else 1}
    if kind in READING_TOPICS:
        mqtt["messageExpiryInterval"] = READING_EXPIRY
    if kind == STATE_TOPIC:
        mqtt["retain"] = False
        words = (
            "Asks how everything stands. The response is a message of `out/standing`: on the "
            "response topic that the question names, with its correlation data, else on "
            "`out/standing` itself, without what only a response has. Never retained."
        )
    elif kind in RETAINABLE_TOPICS:
        refused = [why for one in payloads if (why := _not_retained(*one))]
        but = f", but {refused[0]}" if refused else ""
        words = f"May be retained{but}. {_when_empty(kind)}"
    else:
        mqtt["retain"] = False
        words = "Never retained."
    address = f"in/{kind}/{{fact}}" if kind == TOLD_TOPIC else f"in/{kind}"
    return _Channel(address, words, mqtt)


def _not_retained(subtopic: str, payload: bytes) -> str | None:
    """Say why a message is refused if it was retained; None if it is taken."""
    try:
        read_message(subtopic, payload, retained=True)
    except Refused as refused:
        return refused.words
    return None


def _when_empty(kind: str) -> str:
    """Say what an empty payload means."""
    heard = read_message(f"{TOLD_TOPIC}/fact" if kind == TOLD_TOPIC else kind, b"")
    if heard is None or isinstance(heard, NewRoom | StateAsked):
        return "An empty payload clears it and says nothing."
    return f"An empty payload clears it and is heard as `{payload_of(heard)[1].decode()}`."


def _saying(subtopic: str, said: Mapping[str, Sequence[OutgoingMessage]]) -> _Channel:
    """Describe a topic of `out/` by the messages that were said on it, by their names."""
    every = [one for some in said.values() for one in some]
    retains = any(one.retained for one in every)
    mqtt: Json = {"qos": 1, "retain": retains}
    passing = {name for name, some in said.items() if not any(one.retained for one in some)}
    if any(one.expires for one in every):
        mqtt["messageExpiryInterval"] = _seconds_left()
    return _Channel(f"out/{subtopic}", OUT[subtopic], mqtt, frozenset(passing if retains else ()))


def _seconds_left(most: int | None = None) -> Json:
    """Describe an expiry that tells how long a message is yet worth delivering."""
    words = "The whole seconds that were left when it was sent."
    made: Json = {"type": "integer", "minimum": 1, "description": words}
    return made if most is None else {**made, "maximum": most}


def _channels(played: PlayedMessages) -> dict[str, _Channel]:
    """Describe all topics, by their names."""
    made = {
        f"in.{kind}": _hearing(kind, played.heard.get(kind, ()))
        for kind in (*EVENTS_FROM_OUTSIDE, ROOM_FILE_TOPIC, STATE_TOPIC)
    }
    for subtopic in OUT:
        name = f"out.{subtopic}"
        said = {key: some for key, some in played.said.items() if _channel_of(key) == name}
        made[name] = _saying(subtopic, said)
    return made


def identifier(name: str) -> str:
    """Name a channel or an operation as programs do: `in.find_lens` is `inFindLens`."""
    first, *rest = name.replace("_", ".").split(".")
    return first + "".join(word.capitalize() for word in rest)


def _channel_of(message: str) -> str:
    return ".".join(message.split(".")[:2])


# -------------------------------------------------------------------------------- document


def document(rooms: Sequence[Room], version: str) -> dict[str, object]:
    """Describe the messages of some rooms; without rooms, those of any room."""
    played, schemas = played_messages(), Schemas()
    told = played_messages(rooms) if rooms else played
    channels = _channels(played)
    if rooms and not any(room.told for room in rooms):
        del channels[f"in.{TOLD_TOPIC}"]
    messages = [*messages_heard(schemas, told), *messages_said(schemas, played, told)]
    messages = [one for one in messages if _channel_of(one.name) in channels]
    parts = [part for name, one in channels.items() for part in _parts(name, one, messages)]
    return {
        "asyncapi": FORMAT,
        "id": "urn:roomcue:topics",
        "info": {
            "title": TOPIC_ROOT,
            "version": version,
            "description": ABOUT,
            "license": {"name": "MIT"},
        },
        "defaultContentType": "application/json",
        "servers": SERVERS,
        "channels": {
            identifier(part.name): _topic(part) | _parameters(part, rooms) for part in parts
        },
        "operations": {identifier(part.name): _operation(part) for part in parts},
        "components": {
            "securitySchemes": {"password": {"type": "userPassword"}},
            "messages": {one.name: component(one) | _asking(one.name) for one in messages},
            "schemas": {one.name: one.schema for one in messages} | schemas.shared,
        },
    }


def _asking(name: str) -> Json:
    """Say with which properties a person's word may ask for its reply."""
    if name.removeprefix("in.") not in ANSWERED_TOPICS:
        return {}
    topic: Json = {"type": "string", "maxLength": MOST_RESPONSE_TOPIC}
    mqtt: Json = {"responseTopic": topic, "bindingVersion": MQTT_BINDING}
    return {"bindings": {"mqtt": mqtt}}


class _Part(NamedTuple):
    """A topic, or of one that retains some of its messages, these or the others; or a response.

    Each is a channel with one operation: generators of code make one type a channel, and forget
    what a further operation says there.
    """

    name: str
    channel: _Channel
    messages: Sequence[str]


def _parts(name: str, channel: _Channel, messages: Sequence[ContractMessage]) -> Iterator[_Part]:
    every = [one.name for one in messages if _channel_of(one.name) == name]
    yield _Part(name, channel, [one for one in every if one not in channel.passing])
    if channel.passing:
        once = channel._replace(mqtt={**channel.mqtt, "retain": False})
        yield _Part(f"{name}.{PASSING}", once, [one for one in every if one in channel.passing])
    if name in RESPONSES:
        seconds = REPLY_LIFETIME // 1_000
        mqtt = {"qos": 1, "retain": False, "messageExpiryInterval": _seconds_left(seconds)}
        yield _Part(f"{name}.{RESPONSE}", _Channel(None, RESPONSES[name], mqtt), every)


def _topic(part: _Part) -> Json:
    address = part.channel.address
    return {
        "address": None if address is None else f"{TOPIC_ROOT}/{{room}}/{address}",
        "description": part.channel.words,
        "messages": {name: {"$ref": f"#/components/messages/{name}"} for name in part.messages},
    }


def _operation(part: _Part) -> Json:
    """Describe what is done on a topic."""
    name, channel = part.name, part.channel
    made: Json = {
        "action": "receive" if name.startswith("in.") else "send",
        "channel": {"$ref": f"#/channels/{identifier(name)}"},
        "bindings": {"mqtt": {**channel.mqtt, "bindingVersion": MQTT_BINDING}},
    }
    replies = REPLIES.get(name.removeprefix("in."))
    if replies is not None:
        to = f"#/channels/{identifier(f'{replies}.{RESPONSE}')}"
        made["reply"] = {
            "address": RESPONSE_TOPIC,
            "channel": {"$ref": to},
            "messages": [{"$ref": f"{to}/messages/{replies}"}],
        }
    return made


PASSING: Final = "passing"
"""How the channel is called whose messages are not retained, on a topic that retains others."""
RESPONSE: Final = "response"
"""How the channel is called on which messages go to whoever asked, wherever they want them."""
RESPONSE_TOPIC: Final[Json] = {
    "description": "The response topic of MQTT 5 that the message names.",
    "location": "$message.header#/responseTopic",
}
REPLIES: Final[Mapping[str, str]] = {
    **dict.fromkeys(PEOPLES_TOPICS, "out.reply"),
    STATE_TOPIC: "out.standing",
}
"""The messages with which what is said on `in/` is replied to."""


def _parameters(part: _Part, rooms: Sequence[Room]) -> Json:
    """Describe the parameters of a topic's address, if the room has a say in it."""
    if part.channel.address is None:
        return {}
    words = f"The room's name, as its file gives it: `{NAME_PATTERN}`."
    names = [room.name for room in rooms]
    made: Json = {"room": {"description": words, **_closed(names, "hayloft")}}
    if part.name == f"in.{TOLD_TOPIC}":
        words = "A fact that the room's file declares under `told`."
        for room in rooms:
            told = "; ".join(f"`{one.name}` is {_values(one)}" for one in room.told.values())
            words += f" In {room.name} {told}." if told else ""
        facts = [*dict.fromkeys(name for room in rooms for name in room.told)]
        made["fact"] = {"description": words, **_closed(facts, "guests")}
    return {"parameters": made}


def _closed(names: Sequence[str], example: str) -> Json:
    return {"enum": [*names]} if names else {"examples": [example]}


def _values(fact: Told) -> str:
    """Say which values a told fact may have, as JSON."""
    if fact.values:
        return " or ".join(f"`{json.dumps(value)}`" for value in fact.values)
    return f"a whole number from {fact.least} to {fact.most}"
