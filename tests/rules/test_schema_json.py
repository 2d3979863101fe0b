"""The JSON Schema of the room file says what the loader's models say, to any validator.

The validator is PyPI's `jsonschema`, which knows nothing of the models. A file is handed to it
as text in every field, which is what the loader reads, and as YAML 1.2's core schema types it,
which is what an editor sees.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from engine.facts import columns, standing_columns
from engine.room import BUILT_IN_PICTURES
from rules.room.defaults import completed
from rules.room.load import read_room
from rules.room.schema_json import FACT_EXAMPLES, STANDING_EXAMPLES, room_file_schema, schema_text
from rules.room.validation import validated
from rules.text.findings import Finding
from rules.text.recovery import read_source
from rules.text.unary import parse_test
from rules.text.yaml_nodes import Mapping, Node, Sequence, plain_data
from simulator.shipped import DEMO_ROOM
from tests.rules.files import GOOD, ROOMS, room_text

SCHEMA = room_file_schema()
VALIDATOR = Draft202012Validator(SCHEMA)
FILES = [*(ROOMS / name for name in GOOD), *sorted(DEMO_ROOM.parent.glob("*.yaml"))]

BEYOND_ONE_PLACE = frozenset({"out-of-range", "contradiction", "too-long"})
"""What no schema can see: bounds of quantities with units, entries that contradict each other."""


def accepts(value: object) -> bool:
    return VALIDATOR.is_valid(value)


def typed(node: Node) -> object:
    """Give nodes the types of YAML 1.2's core schema (its chapter 10.3), as editors do."""
    if isinstance(node, Mapping):
        return {name: typed(entry.value) for name, entry in node.entries.items()}
    if isinstance(node, Sequence):
        return [typed(item) for item in node.items]
    return resolved(node.text) if node.plain else node.text


def resolved(text: str) -> object:
    if text in {"", "~", "null", "Null", "NULL"}:
        return None
    if text in {"true", "True", "TRUE", "false", "False", "FALSE"}:
        return text.lower() == "true"
    if re.fullmatch(r"[-+]?[0-9]+", text):
        return int(text)
    if re.fullmatch(r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?", text):
        return float(text)
    return text


def with_nulls(value: object) -> Any:  # noqa: ANN401 - values as YAML gives them
    """Make null of every text that is empty: nothing at all is written there."""
    if isinstance(value, dict):
        return {name: with_nulls(one) for name, one in value.items()}
    if isinstance(value, list):
        return [*map(with_nulls, value)]
    return value or None


def root_of(text: str) -> Mapping:
    root = read_source(text, "room.yaml").mapping
    assert root is not None
    return root


def good(name: str) -> dict[str, Any]:
    value = plain_data(root_of(room_text(name)))
    assert isinstance(value, dict)
    return value


# ------------------------------------------------------------------------------ what it is like


def test_it_is_a_schema_of_its_draft_and_is_called_by_a_name_without_a_host() -> None:
    Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert SCHEMA["$id"] == "urn:roomcue:room-file"
    assert json.loads(schema_text()) == SCHEMA
    assert schema_text().endswith("}\n")


def subschemas(schema: object, path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    if isinstance(schema, dict):
        yield path, schema
        for name, one in schema.items():
            if name not in {"examples", "default", "enum"}:
                yield from subschemas(one, f"{path}/{name}")
    elif isinstance(schema, list):
        for at, one in enumerate(schema):
            yield from subschemas(one, f"{path}/{at}")


def test_every_key_is_described_and_has_an_example_or_a_default_or_entries() -> None:
    for path, schema in subschemas(SCHEMA):
        if path.endswith("/properties"):
            for name, one in schema.items():
                target = one
                if "$ref" in one:
                    target = SCHEMA["$defs"][one["$ref"].rpartition("/")[2]]
                assert "description" in one or "description" in target, f"{path}/{name}"
                helped = {"examples", "default", "properties", "anyOf", "enum"}
                assert helped & (one.keys() | target.keys()), f"{path}/{name}"


def test_every_example_and_default_is_a_value_that_the_schema_accepts() -> None:
    checked = 0
    for path, schema in subschemas(SCHEMA):
        if path.endswith(("/properties", "/patternProperties", "/$defs")):
            continue
        values = [
            *schema.get("examples", []),
            *([schema["default"]] if "default" in schema else []),
        ]
        for value in values:
            assert VALIDATOR.evolve(schema=schema).is_valid(value), f"{path}: {value!r}"
            checked += 1
    assert checked > 150


def test_no_trace_of_the_models_is_left() -> None:
    text = schema_text()
    assert "Part" not in text
    assert {name for _, schema in subschemas(SCHEMA) for name in schema if name == "title"} == {
        "title"
    }
    assert text.count('"title"') == 1


def test_the_facts_that_are_described_are_those_that_rules_and_promises_may_test() -> None:
    facts = columns(("disc", "console"), ("broad",), ("open",), ())
    standing = standing_columns(BUILT_IN_PICTURES)
    assert [*FACT_EXAMPLES] == [column.name for column in facts]
    assert [*STANDING_EXAMPLES] == [column.name for column in standing]
    for column in (*facts, *standing):
        text, *examples = {**FACT_EXAMPLES, **STANDING_EXAMPLES}[column.name]
        assert text.endswith(".")
        assert examples
        for example in examples:
            assert parse_test(example, column).text == example
    case = SCHEMA["$defs"]["Row"]["properties"]["case"]
    never = SCHEMA["$defs"]["Promise"]["properties"]["never"]
    assert case["properties"].keys() == FACT_EXAMPLES.keys()
    assert never["properties"].keys() == FACT_EXAMPLES.keys() | STANDING_EXAMPLES.keys()


# ------------------------------------------------------------------------------ what it accepts


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_rooms_that_load_are_accepted_as_text_and_as_an_editor_types_them(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    root = root_of(text)
    assert read_room(text, path.name).room is not None
    for value in (typed(root), with_nulls(plain_data(root))):
        assert [one.message for one in VALIDATOR.iter_errors(value)] == []


@pytest.mark.parametrize(
    "piece",
    [
        "screen: {width: 11 ft 2 in, aspect: 2.40}",
        "screen: {width: 3 m 4 cm, aspect: '2.39:1'}",
        "screen: {diagonal: 110 in, aspect: 16:9, overfill: 0.02}",
        "projector: {raster: 4096 \u00d7 2160, lens: {travel: 1 min 5 s, reports: true}}",
        "projector: {raster: 4096 x 2160, throw: {distance: 5 m, ratio: 1.4}}",
        "projector: {raster: 640x480, throw: {distance: 5 m, ratio: 1 to 2, offset: {up: -4 cm}}}",
        "projector: {raster: 4096 x 2160, light: {lumens: 2200, remaining: 0.85, contrast: 2000}}",
        "sources: {disc: }",
        "told: {mood: {values: calm or bright, at_first: calm}, guests: yes or no}",
        "told: {late: {values: yes or no, at_first: true}}",
        "told: {seats: {values: -5 to 5, at_first: -1}}",
        "rules:",
        "promises:",
        "waived:",
        "waived: [{promise: no travel in mid-title, because: The lens is silent and quick.}]",
        "pace: {settle: , recalls: {per_night: 3}}",
        "rules: {rows: [{case: {aspect: 1.78, preset: null, varies: true}, show: , because: So.}]}",
    ],
)
def test_every_way_of_writing_that_the_models_take_is_accepted(piece: str) -> None:
    key = piece.partition(":")[0]
    lines = [one for one in room_text("attic.yaml").splitlines() if not one.startswith(key)]
    text = "\n".join(one for one in lines if not (key == "sources" and one.startswith("  ")))
    text = f"{text}\n{piece}\n"
    assert complaints(text) == []
    assert [one.message for one in VALIDATOR.iter_errors(typed(root_of(text)))] == []


# ------------------------------------------------------------------------------ what it refuses


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("rom",), "den"),
        (("screen", "gloss"), "1"),
        (("screen", "width"), "3.4"),
        (("screen", "width"), "2 in 11 ft"),
        (("screen", "diagonal"), "3 m"),
        (("screen", "aspect"), 0.4),
        (("screen", "gain"), "loud"),
        (("screen", "gain"), 50),
        (("screen", "border"), "-3 cm"),
        (("screen",), "wide"),
        (("projector", "raster"), "4096 by 2160"),
        (("projector", "lens", "reports"), "on"),
        (("projector", "lens", "travel"), 18),
        (("projector", "light", "remaining"), 85),
        (("projector", "light", "remaining"), "85"),
        (("presets", "Broad"), {"fits": "2.40"}),
        (("presets", "plain"), {"fits": "2.40"}),
        (("presets", "tall"), {}),
        (("pictures", "both"), {"stretch": {}, "crop": {"rows_lost": "8 %"}}),
        (("pictures", "neither"), {}),
        (("pictures", "nothing"), None),
        (("panels", "sides", "moved"), "by motor"),
        (("sources", "null"), {}),
        (("told", "mood"), "calm"),
        (("told", "mood"), "calm or yes"),
        (("told", "mood"), None),
        (("cues", "lamps"), "low or null"),
        (("pace", "recalls", "per_night"), 1.5),
        (("pace", "pause"), "20"),
        (("rules", "policy"), "lucky"),
        (("rules", "rows", 0, "case"), "stopped"),
        (("rules", "rows", 0, "case", "aspect"), ["2.40"]),
        (("rules", "rows", 0, "because"), " "),
        (("rules", "rows", 0, "show", "lift"), "-1 %"),
        (("rules", "rows"), None),
        (("promises", 0, "because"), None),
        (("waived",), "menus plain"),
        (("waived",), ["menus plain"]),
        (("waived",), {"menus plain": "So."}),
        (("waived",), [{"promise": "menus plain"}]),
        (("waived",), [{"promise": "menu plain", "because": "So."}]),
        (("waived",), [{"promise": "menus plain", "because": "So.", "name": "calm"}]),
    ],
)
def test_a_mistake_at_one_place_is_refused(path: tuple[str | int, ...], value: object) -> None:
    room = good("hayloft.yaml")
    assert accepts(room)
    inside: Any = room
    for step in path[:-1]:
        inside = inside[step]
    inside[path[-1]] = value
    assert not accepts(room)


@pytest.mark.parametrize("name", ["crowded.yaml"])
def test_a_file_full_of_mistakes_is_refused_in_every_section_that_has_one(name: str) -> None:
    root = root_of(room_text(name))
    sections = {str(error.absolute_path[0]) for error in VALIDATOR.iter_errors(typed(root))}
    assert sections >= {"room", "screen", "projector", "presets", "panels", "sources", "told"}
    assert sections >= {"cues", "pace", "rules", "waived"}


# --------------------------------------------------------------------- held against the models

SCALARS = (
    *("", " ", "banana", "Hay Loft", "3.4 m", "11 ft 2 in", "2 in 11 ft", "-3 cm", "2 %", "-2 %"),
    *(
        "85",
        "0.85",
        "1.5",
        "12",
        "-1",
        "1e3",
        ".inf",
        "2,40",
        "+2",
        "16:9",
        "2.40",
        "0.40",
        "3 m 3",
    ),
    *(
        "90 s",
        "2 min 1 h",
        "20 min",
        "500",
        "4096 x 2160",
        "4096 by 2160",
        "1.35 to 2.70",
        "-5 to 5",
    ),
    *("yes", "no", "on", "true", "null", "not", "unique", "first", "by hand", "plain", "52 cd/m2"),
    *("calm or bright", "calm, bright", "yes or no", "yes or calm", "low or null", ">= 2.30"),
)
KEYS = ("gloss", "Tall", "null", "plain", "aspect", "disc", "fits", "a-b", "values", "extra")
PIECES: tuple[object, ...] = ({}, [], ["plain"], {"fits": "2.40"}, [{}])


@st.composite
def changed(draw: st.DrawFn) -> dict[str, Any]:
    """A good room after one to three changes, at any depth."""
    room = deepcopy(good(draw(st.sampled_from(["hayloft.yaml", "ranked.yaml"]))))
    for _ in range(draw(st.integers(1, 3))):
        inside: Any = room
        while True:
            keys = [*inside] if isinstance(inside, dict) else [*range(len(inside))]
            if not keys:
                break
            key = draw(st.sampled_from(keys))
            if isinstance(inside[key], dict | list) and inside[key] and draw(st.integers(0, 3)):
                inside = inside[key]
                continue
            match draw(st.integers(0, 4)):
                case 0:
                    del inside[key]
                case 1 if isinstance(inside, dict):
                    inside[draw(st.sampled_from(KEYS))] = inside[key]
                case 2:
                    inside[key] = deepcopy(draw(st.sampled_from(PIECES)))
                case _:
                    inside[key] = draw(st.sampled_from(SCALARS))
            break
    return room


def complaints(text: str) -> list[Finding]:
    """What the models say against a file."""
    source = read_source(text, "room.yaml")
    assert source.mapping is not None
    return validated(source, completed(source.mapping))[1]


def at_first_lines(text: str) -> set[int]:
    """Lines of values that have to be one of those beside them."""
    return {number for number, line in enumerate(text.split("\n"), 1) if "at_first" in line}


def written(room: dict[str, Any]) -> str:
    """Write a room, every text in quotes so that it arrives as it stands, bar empty ones."""
    text: str = yaml.safe_dump(room, default_style='"', allow_unicode=True, sort_keys=False)
    return re.sub(r'""$', "", text, flags=re.MULTILINE)


@given(changed())
def test_what_the_models_refuse_at_one_place_the_schema_refuses(room: dict[str, Any]) -> None:
    text = written(room)
    refused = [
        one
        for one in complaints(text)
        if one.code not in BEYOND_ONE_PLACE and one.line not in at_first_lines(text)
    ]
    if refused:
        assert not accepts(with_nulls(room)), refused


@given(changed())
def test_what_loads_the_schema_accepts(room: dict[str, Any]) -> None:
    if read_room(written(room), "room.yaml").room is not None:
        assert [one.message for one in VALIDATOR.iter_errors(with_nulls(room))] == []


@pytest.mark.parametrize(
    ("width", "good"),
    [("118 3/4 in", True), ("9 ft 10-1/2 in", True), ("3/8 in", True), ("118 2/3 in", False)],
)
def test_inches_are_written_as_a_tape_shows_them(width: str, good: bool) -> None:
    border = SCHEMA["$defs"]["Screen"]["properties"]["border"]
    assert VALIDATOR.evolve(schema=border).is_valid(width) == good
