"""The AsyncAPI document of no room in particular, and strict validators of its schemas.

Payloads are held against it by PyPI's `jsonschema`, which knows nothing of the models. AsyncAPI
3.0.0, "Schema Object": a superset of JSON Schema Draft 07 (read in the specification's own
JSON Schema).
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import fields
from typing import Any

from jsonschema import Draft7Validator, FormatChecker, ValidationError
from jsonschema.protocols import Validator
from jsonschema.validators import extend

from adapters.contract.asyncapi import PASSING, document, identifier
from adapters.live.messages import TOLD_TOPIC, read_message
from engine import RoomEngine
from engine.events import LensReport
from engine.refusal import Refused
from rules.room.load import load
from simulator.shipped import DEMO_ROOM, ROOMS
from tests.engine.meetings import START

Json = dict[str, Any]

DOCUMENT: Json = document([], "0.1.0")
MESSAGES: Json = DOCUMENT["components"]["messages"]
SHIPPED = [load(path.read_text("utf-8"), path.name) for path in ROOMS]
HAYLOFT = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)


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


def closed(part: Any) -> Any:  # noqa: ANN401 - JSON
    """Allow no field that the document does not have: roomcue itself says what is in it."""
    if isinstance(part, list):
        return [closed(one) for one in part]
    if not isinstance(part, dict):
        return part
    only = {"additionalProperties": False} if "properties" in part else {}
    return only | {key: closed(one) for key, one in part.items()}


def validator(name: str, *, formats: bool = True) -> Validator:
    """Hold payloads against a message of the document; what is said has no field beside them."""
    schemas = DOCUMENT["components"]["schemas"]
    if name.startswith("out."):
        schemas = {key: closed(one) for key, one in schemas.items()}
    schema = {**schemas[name], "components": {"schemas": schemas}}
    made: Validator = Strict(schema, format_checker=FORMATS if formats else None)
    return made


STRICTLY = {name: validator(name) for name in MESSAGES}
LOOSELY = {name: validator(name, formats=False) for name in MESSAGES}
"""JSON Schema lets a validator pass over formats."""


def channel(name: str) -> Json:
    """Give a channel, such as `in.find_lens`."""
    made: Json = DOCUMENT["channels"][identifier(name)]
    return made


def operation(name: str) -> Json:
    """Give what is done on a channel."""
    made: Json = DOCUMENT["operations"][identifier(name)]
    return made


def on(name: str) -> list[str]:
    """Give the messages of a topic, which may have two channels."""
    further = DOCUMENT["channels"].get(identifier(f"{name}.{PASSING}"), {"messages": {}})
    return [*channel(name)["messages"], *further["messages"]]


def mqtt(name: str) -> Json:
    """Give the binding of a channel's operation."""
    binding = operation(name)["bindings"]["mqtt"]
    assert isinstance(binding, dict)
    return binding


def mqtt_of(message: str) -> Json:
    """Give the binding of the operation with which a message is sent."""
    name = ".".join(message.split(".")[:2])
    passing = DOCUMENT["channels"].get(identifier(f"{name}.{PASSING}"), {"messages": {}})
    return mqtt(f"{name}.{PASSING}" if message in passing["messages"] else name)


def examples(name: str) -> list[Any]:
    return [one["payload"] for one in MESSAGES[name]["examples"]]


def leaf_of(name: str) -> str:
    """Give the topic after `in/` on which an example comes."""
    kind = name.removeprefix("in.")
    return f"{TOLD_TOPIC}/guests" if kind == TOLD_TOPIC else kind


def taken(subtopic: str, payload: object) -> bool:
    """Tell whether a payload is taken as well-formed: by the reader, and a lens by the engine."""
    try:
        heard = read_message(subtopic, json.dumps(payload).encode())
    except Refused:
        return False
    if not isinstance(heard, LensReport):
        return True
    refusal = RoomEngine(HAYLOFT).receive(heard, START).refusal
    return refusal is None or refusal.code != "malformed"


def names_of(model: Any) -> set[str]:  # noqa: ANN401 - a dataclass
    """Give the fields of a model."""
    return {one.name for one in fields(model)}
