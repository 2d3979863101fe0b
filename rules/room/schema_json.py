"""The room file's JSON Schema (draft 2020-12), for editors that complete and check while one types.

It is made from the models in `rules.room.schema`. It describes one place at a time: which keys
there are, the kind of each value and how it is written. A value may be the text of the room file,
or the number, boolean or null that a YAML reader makes of that text. Only `roomcue check` checks
names that must exist, the range of a quantity with a unit, and the tests in cells.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, Final, TypeAlias

from rules.room.schema import RoomFile
from rules.text.recovery import read_source
from rules.text.yaml_nodes import plain_data

DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"
SCHEMA_ID: Final = "urn:roomcue:room-file"
"""The schema's identifier; it is a name and not an address."""

FACT_EXAMPLES: Final[Mapping[str, tuple[str, ...]]] = {
    "source": ("One of the sources; null while none has been reported.", "disc", "not(console)"),
    "playback": ("playing, paused, stopped or unknown.", "playing", "not(stopped)"),
    "aspect": ("The settled ratio; null while it is unknown.", ">= 2.30", "[1.70..1.95)"),
    "declared": ("The ratio that the title declares; null where none is.", "[2.31..2.45)"),
    "tallest": ("The tallest ratio of this title so far.", "< 1.95"),
    "varies": ("Whether the title has changed its shape and back.", "yes"),
    "subtitles": ("Whether subtitles have stood in a bar during this title.", "yes"),
    "doubtful": ("Whether the readings have not shown the settled shape for some seconds.", "yes"),
    "first_minutes": ("Whether the title's first minutes are running.", "yes"),
    "preset": ("Where the lens stands; null where nobody knows.", "broad", "null"),
    "panels": ("How the panels stand; null where nobody knows.", "open", "not(open)"),
    "helper": ("Whether somebody may fit panels: free, asked or refused.", "free"),
    "time": (
        "The local time; past midnight takes two tests.",
        "[18:00..22:00)",
        ">= 22:00, < 6:00",
    ),
    "range": ("The signal's range of brightness: standard or high.", "high"),
    "three_d": ("Whether the signal is in 3D.", "yes"),
}
"""The facts that every room has: the description of each, then examples of tests."""
STANDING_EXAMPLES: Final[Mapping[str, tuple[str, ...]]] = {
    "picture": ("The picture that is shown.", "plain", "not(plain, whole, dark)"),
    "lift": ("How far the picture is raised.", "> 5 %"),
    "travelling": ("Whether the lens travels.", "yes"),
    "override": ("Who decides: rules or person.", "person"),
}
"""What promises may test in addition to the facts, in the same form."""

_EXCLUSIVE_ENTRIES: Final = {
    "Screen": ("width", "diagonal"),
    "Picture": ("stretch", "crop", "room_below"),
    "Promise": ("never", "within"),
}
"""Sections that have exactly one of some entries."""
_STANDING_TESTS: Final = {**FACT_EXAMPLES, **STANDING_EXAMPLES}
_SECTIONS_WITH_TESTS: Final = (
    ("Row", "case", FACT_EXAMPLES),
    ("Promise", "never", _STANDING_TESTS),
    ("Promise", "unless", _STANDING_TESTS),
)

_HOLD_NAMED_SCHEMAS: Final = frozenset({"properties", "patternProperties", "$defs"})
"""Keywords that hold schemas by name."""
_HOLD_ONE_SCHEMA: Final = frozenset({"items", "additionalProperties", "propertyNames"})
"""Keywords that hold one schema."""

Schema: TypeAlias = dict[str, Any]


def room_file_schema() -> Schema:
    """Make the schema, as plain data."""
    made = _finished(RoomFile.model_json_schema())
    parts: dict[str, Schema] = made.pop("$defs")
    for name, part in parts.items():
        if not part.get("required") and name not in _EXCLUSIVE_ENTRIES:
            part["type"] = ["object", "null"]  # a section with nothing in it
    for name, one in made["properties"].items():
        if name not in made["required"] and "type" in one:
            one["type"] = [one["type"], "null"]
    for name, pair in _EXCLUSIVE_ENTRIES.items():
        parts[name]["oneOf"] = [{"required": [entry]} for entry in pair]
    parts["Promise"]["dependentRequired"] = {"unless": ["within"]}
    for name, section, facts in _SECTIONS_WITH_TESTS:
        tests = parts[name]["properties"][section]
        cell = tests["additionalProperties"]
        tests["properties"] = {
            fact: {**cell, "description": text, "examples": examples}
            for fact, (text, *examples) in facts.items()
        }
    told = parts["Told"]
    parts["Told"] = {"anyOf": [told["properties"]["values"], told]}
    made = {"$schema": DIALECT, "$id": SCHEMA_ID, "title": "Room file", **made}
    return {**made, "$defs": parts}


def schema_text() -> str:
    """Write the schema as the text of a JSON file."""
    return json.dumps(room_file_schema(), indent=2, ensure_ascii=False) + "\n"


def _finished(made: Schema) -> Schema:
    """Turn the schema that pydantic makes of a model into the schema of a room file."""
    schema = {key: value for key, value in made.items() if key != "title"}
    for key in _HOLD_NAMED_SCHEMAS.intersection(schema):
        schema[key] = {
            name.removesuffix("Part"): _finished(one) for name, one in schema[key].items()
        }
    for key in _HOLD_ONE_SCHEMA.intersection(schema):
        schema[key] = _finished(schema[key]) if isinstance(schema[key], dict) else schema[key]
    if "$ref" in schema:
        schema["$ref"] = schema["$ref"].removesuffix("Part")
    if "examples" in schema:
        schema["examples"] = [*map(_example, schema["examples"])]
    if "patternProperties" in schema:
        schema["additionalProperties"] = False
    if not schema.get("propertyNames", {}).keys() - {"examples"}:
        schema.pop("propertyNames", None)
    return _without_null(schema)


def _without_null(schema: Schema) -> Schema:
    """Forbid null for a field that may be left out: a field that is written needs a value."""
    kinds = schema.get("anyOf", [])
    if {"type": "null"} not in kinds:
        return schema
    (kind,) = (_finished(one) for one in kinds if one != {"type": "null"})
    rest = {key: value for key, value in schema.items() if key not in {"anyOf", "default"}}
    return {**kind, **rest}


def _example(example: object) -> object:
    """Turn a section's example, which is YAML, into plain data."""
    if not isinstance(example, str) or not example.startswith("{"):
        return example
    mapping = read_source(f"example: {example}", "example").mapping
    return plain_data(mapping.entries["example"].value) if mapping else example
