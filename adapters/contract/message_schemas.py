"""Each kind of message: its schema from the models, its words from docstrings, an example."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from inspect import cleandoc
from typing import Any, Final, NamedTuple, TypeAlias, get_args
from typing import get_type_hints as hints_of

from pydantic import AwareDatetime, TypeAdapter
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaMode

from adapters.contract.payload_models import OTHERS
from adapters.contract.played_messages import PlayedMessages, message_name
from adapters.contract.schema_titles import SHARED, titled
from adapters.live.messages import (
    CONTRACT,
    EVENTS_FROM_OUTSIDE,
    MOST_ROOM_FILE_BYTES,
    ROOM_FILE_TOPIC,
    STATE_TOPIC,
    TOLD_TOPIC,
    NewRoom,
    StateAsked,
)
from engine.decisions import Decision, Note
from engine.events import LensReport

Json: TypeAlias = dict[str, Any]


class _Untitled(GenerateJsonSchema):
    """Makes schemas without titles of fields; `titled` gives those that generated code needs."""

    def field_title_should_be_set(self, schema: object) -> bool:  # noqa: ARG002 - theirs
        """Leave titles out."""
        return False

    def field_is_required(self, field: Any, total: bool) -> bool:  # noqa: ANN401, FBT001 - theirs
        """Require every field of a message that roomcue sends."""
        return self.mode == "serialization" or super().field_is_required(field, total)


class Schemas:
    """Makes schemas, and collects the parts that several of them refer to."""

    def __init__(self) -> None:
        self.shared: Json = {}

    def of(self, model: type, mode: JsonSchemaMode, title: str | None = None) -> Json:
        """Make the schema of a message, which names the contract's version."""
        made = TypeAdapter(model).json_schema(
            ref_template=SHARED, mode=mode, schema_generator=_Untitled
        )
        if mode == "serialization":
            made = _open(made)
        for name, part in made.pop("$defs", {}).items():
            self.shared[name] = titled(_untitled(part), name, self.shared)
        made["properties"] = {"contract": _VERSION, **made["properties"]}
        if mode == "serialization":
            made["required"] = ["contract", *made["required"]]
        return titled(_untitled(made), title or model.__name__, self.shared)

    def of_decision(self, decision: type, *, whole: bool) -> Json:
        """Make the schema of a decision as `messages.said_of` writes it, with facts if `whole`."""
        title = decision.__name__
        if whole and decision is not Note:
            title += "Explained"
        made = self.of(decision, "serialization", title)
        named = made["properties"]
        named |= {name: _MOMENT for name in ("at", "ends") if name in named}
        if not whole:
            del named["facts"]
            made["required"].remove("facts")
            if "ends" in named:
                named["ends_in"] = _TIME_LEFT
                made["required"].append("ends_in")
        return made


_VERSION: Final[Json] = {
    "type": "integer",
    "const": CONTRACT,
    "description": "The version of this contract.",
}
_TIME_LEFT: Final[Json] = {
    "type": "number",
    "minimum": 0,
    "description": "Seconds left up to `ends` as it was sent: it counts where a clock is wrong.",
}
_MOMENT: Final = TypeAdapter(AwareDatetime).json_schema()
MORE_WORDS: Final = "What roomcue says may have further words within this version of the contract."
"""Said of every closed set of words in what roomcue says."""


def _open(part: Any) -> Any:  # noqa: ANN401 - JSON
    """Let fields and words of what is said be added: within a version they may."""
    if isinstance(part, list):
        return [_open(one) for one in part]
    if not isinstance(part, dict):
        return part
    words = {"description": MORE_WORDS} if "enum" in part else {}
    kept = {key: one for key, one in part.items() if (key, one) != ("additionalProperties", False)}
    return words | {key: _open(one) for key, one in kept.items()}


def _untitled(schema: Json) -> Json:
    """Remove the title, which is the name of a class."""
    return {key: value for key, value in schema.items() if key != "title"}


class ContractMessage(NamedTuple):
    """One kind of message on a channel."""

    name: str
    """`in.source`, `out.order.recall`: its topic, and its kind where there are several."""
    words: str
    """Its description: the docstring of its model."""
    schema: Json
    examples: list[object]
    content: str | None = None
    """The media type of its payload; None is JSON."""


def messages_heard(schemas: Schemas, told: PlayedMessages) -> Iterator[ContractMessage]:
    """Give the messages that may come on `in/`, with examples of what was `told`."""
    for kind, event in EVENTS_FROM_OUTSIDE.items():
        schema = schemas.of(event, "validation")
        if kind == TOLD_TOPIC:
            schema["required"].remove("fact")
            del schema["properties"]["fact"]  # the topic says it
        elif event is LensReport:
            schema |= _NOTHING_KNOWN
        payloads = [payload for _, payload in told.heard.get(kind, ())]
        yield ContractMessage(f"in.{kind}", _doc(event), schema, _telling(payloads))
    state = titled({"type": "object", "properties": {"contract": _VERSION}}, "StateAsked", {})
    yield ContractMessage(f"in.{STATE_TOPIC}", _doc(StateAsked), state, [{}])
    file: Json = {
        "title": "RoomFile",
        "description": "YAML text, as `roomcue schema` describes it.",
        "type": "string",
        "minLength": 1,
        "maxLength": MOST_ROOM_FILE_BYTES,
    }
    text = told.heard[ROOM_FILE_TOPIC][0][1].decode()
    yield ContractMessage(f"in.{ROOM_FILE_TOPIC}", _doc(NewRoom), file, [text], "application/yaml")


def messages_said(
    schemas: Schemas, played: PlayedMessages, told: PlayedMessages
) -> Iterator[ContractMessage]:
    """Give the messages that may come on `out/`, as they were `played`, with examples of `told`."""
    models: dict[str, tuple[type, Json]] = {}
    for decision in get_args(Decision):
        (kind,) = get_args(hints_of(decision)["kind"])
        for subtopic in ("order", "ask", "reason"):
            name, whole = message_name(subtopic, kind), subtopic == "reason"
            if whole or name in played.said:
                models[name] = decision, schemas.of_decision(decision, whole=whole)
    for name, model in OTHERS.items():
        models[name] = model, schemas.of(model, "serialization")
    for name, (model, schema) in models.items():
        bodies = [said.body for said in told.said.get(name, ())]
        yield ContractMessage(name, _doc(model), schema, _telling(bodies))


def _telling(payloads: Sequence[bytes]) -> list[object]:
    """Give the longest payload as the only example; without payloads there is none."""
    return [json.loads(max(payloads, key=len))] if payloads else []


def _having(**properties: Json) -> Json:
    return {"type": "object", "properties": properties}


_NOTHING_KNOWN: Final[Json] = {
    "not": {
        **_having(known={"const": False}),
        "required": ["known"],
        "anyOf": [_having(moving={"const": True}), _having(preset={"type": "string"})],
    }
}
"""A lens of which nothing is known neither moves nor has a preset.

Said with `if` and `then`, which read better, it spoils the types that some generators make.
"""


def _doc(model: type) -> str:
    return cleandoc(model.__doc__ or "")


def component(message: ContractMessage) -> Json:
    """Write one message as AsyncAPI has it."""
    summary, _, more = message.words.partition("\n\n")
    made: Json = {
        "name": message.name,
        "title": message.schema["title"],
        "summary": " ".join(summary.split()),
        "payload": {"$ref": f"#/components/schemas/{message.name}"},
        "examples": [{"payload": example} for example in message.examples],
    }
    if more:
        made["description"] = " ".join(more.split())
    if message.content:
        made["contentType"] = message.content
    return made
