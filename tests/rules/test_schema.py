"""The models describe every field, and every default and example is one that may be written."""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from engine.room import BUILT_IN_PICTURES
from rules.room import fields, single_values
from rules.room.fields import FieldKind
from rules.room.schema import RoomFile
from rules.room.section import Part
from rules.room.single_values import RESERVED_WORDS, Choices
from rules.text import quantity
from rules.text.quantity import QuantityError

LEAST: dict[str, object] = {
    "room": "attic",
    "time_zone": "Europe/Lisbon",
    "screen": {"width": "3 m", "aspect": "2.40"},
    "projector": {"raster": "3840 x 2160"},
    "sources": {"disc": {}},
}


def models(model: type[Part] = Part) -> Iterator[type[Part]]:
    for one in model.__subclasses__():
        yield one
        yield from models(one)


MODELS = sorted(models(), key=lambda one: one.__name__)
FIELDS = [
    pytest.param(model, name, field, id=f"{model.__name__}.{name}")
    for model in MODELS
    for name, field in model.model_fields.items()
]


def written(field: FieldInfo) -> list[FieldKind]:
    found = [one for one in field.metadata if isinstance(one, FieldKind)]
    for inside in getattr(field.annotation, "__args__", ()):
        found += [one for one in getattr(inside, "__metadata__", ()) if isinstance(one, FieldKind)]
    return found


def complaints(value: object) -> list[tuple[tuple[int | str, ...], str]]:
    try:
        RoomFile.model_validate(value)
    except ValidationError as error:
        return [(one["loc"], one["type"]) for one in error.errors()]
    return []


@pytest.mark.parametrize("model", MODELS)
def test_every_section_says_what_it_is(model: type[BaseModel]) -> None:
    assert model.__doc__
    assert model.__doc__.endswith(".")
    assert model.model_config["extra"] == "forbid"


@pytest.mark.parametrize(("model", "name", "field"), FIELDS)
def test_every_field_is_described_and_its_example_may_be_written(
    model: type[BaseModel], name: str, field: FieldInfo
) -> None:
    assert field.description
    assert field.description.endswith(".")
    for one in written(field):
        assert one.read(one.example) is not None
    assert model.__name__.endswith(("Part", "File"))
    assert name.islower()


def test_the_models_give_a_json_schema_with_defaults_as_they_are_written() -> None:
    schema = RoomFile.model_json_schema()
    text = json.dumps(schema)
    assert schema["additionalProperties"] is False
    assert set(schema["required"]) == set(LEAST)
    assert '"default": "4 min"' in text
    assert text.count('"description"') > 80
    pause = schema["$defs"]["PacePart"]["properties"]["pause"]
    assert pause["default"] == "20 min"
    assert pause["examples"] == ["20 min"]


def test_a_room_needs_five_things_and_no_more() -> None:
    assert complaints(LEAST) == []
    for name in LEAST:
        rest = {key: value for key, value in LEAST.items() if key != name}
        assert complaints(rest) == [((name,), "missing")]


def test_every_complaint_of_a_file_comes_at_once() -> None:
    bad = {
        **LEAST,
        "room": "Attic",
        "screen": {"width": "3 m", "aspect": "0.4", "gloss": "1"},
        "sources": {"disc": {"declares": "on"}, "null": {}},
        "pace": {"pause": "20", "recalls": {"per_title": "many"}},
    }
    assert complaints(bad) == [
        (("room",), "bad-name"),
        (("screen", "aspect"), "out-of-range"),
        (("screen", "gloss"), "extra_forbidden"),
        (("sources", "disc", "declares"), "bad-value"),
        (("sources", "null", "[key]"), "name-taken"),
        (("pace", "recalls", "per_title"), "bad-value"),
        (("pace", "pause"), "unit-missing"),
    ]


@pytest.mark.parametrize(
    ("text", "value"), [("yes", True), ("no", False), ("true", True), ("false", False)]
)
def test_truths_are_yes_and_no(text: str, value: bool) -> None:
    assert single_values.read_truth(text) is value


@pytest.mark.parametrize(
    ("text", "better"),
    [("on", "yes"), ("Off", "no"), ("Yes", "yes"), ("1", "yes"), ("x", "yes or no")],
)
def test_nothing_else_is_a_truth(text: str, better: str) -> None:
    with pytest.raises(QuantityError) as caught:
        single_values.read_truth(text)
    assert caught.value.suggestion == f"Write {better}."


@pytest.mark.parametrize("word", sorted(RESERVED_WORDS))
def test_the_words_of_the_grammar_name_nothing(word: str) -> None:
    with pytest.raises(QuantityError, match="meaning of its own"):
        single_values.read_name(word)


@pytest.mark.parametrize("picture", BUILT_IN_PICTURES)
@pytest.mark.parametrize("section", ["presets", "pictures", "panels"])
def test_what_is_built_in_cannot_be_given_again(section: str, picture: str) -> None:
    ((place, kind), *_) = complaints({**LEAST, section: {picture: {}}})
    assert (place, kind) == ((section, picture, "[key]"), "name-taken")


@given(st.from_regex(r"[a-z][a-z0-9_]{0,39}", fullmatch=True))
def test_lowercase_letters_digits_and_underlines_make_a_name(text: str) -> None:
    if text not in RESERVED_WORDS:
        assert single_values.read_name(text) == text


@pytest.mark.parametrize(
    ("text", "better"),
    [("Hay Loft", "hay_loft"), ("side-panels", "side_panels"), ("2x", ""), ("", "")],
)
def test_other_names_are_refused_with_a_near_one(text: str, better: str) -> None:
    with pytest.raises(QuantityError) as caught:
        single_values.read_name(text)
    assert caught.value.suggestion.endswith(f"Write {better}." if better else "a letter first.")


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("yes or no", Choices((True, False))),
        ("no or yes", Choices((True, False))),
        ("calm or bright or off", Choices(("calm", "bright", "off"))),
        ("0 to 12", Choices((), 0, 12)),
        ("-5 to 5", Choices((), -5, 5)),
    ],
)
def test_told_facts_are_truths_closed_words_or_numbers(text: str, values: Choices) -> None:
    assert single_values.read_choices(text) == values


@pytest.mark.parametrize(
    ("text", "advice"),
    [
        ("yes, no", "Write yes or no."),
        ("calm, bright or off", "Write calm or bright or off."),
        ("calm | bright", "Write calm or bright."),
        ("calm", "Write yes or no, low or half or full, or a range such as 0 to 12."),
        ("calm or Bright", "Write yes or no, low or half or full, or a range such as 0 to 12."),
        ("yes or maybe", "Write yes or no."),
        ("calm or calm", "Name up to 32 different words."),
        ("calm or null", "Name up to 32 different words."),
        ("12 to 0", "Write 0 to 12."),
        ("", "Write yes or no, low or half or full, or a range such as 0 to 12."),
    ],
)
def test_other_choices_are_refused_with_what_to_write(text: str, advice: str) -> None:
    with pytest.raises(QuantityError) as caught:
        single_values.read_choices(text)
    assert caught.value.suggestion == advice


@given(across=st.integers(0, 1_638_400), down=st.integers(0, 864_000))
def test_a_corner_is_read_to_the_hundredth_of_a_pixel(across: int, down: int) -> None:
    text = f"{across // 100}.{across % 100:02} x {down // 100}.{down % 100:02}"
    assert single_values.read_corner(text) == (across, down)


def test_a_foot_lambert_is_what_gnu_units_says() -> None:
    """1 fL = 3.4262590996 cd/m2; 14 fL = 47.967627 (GNU units 2.22, computed)."""
    reads = quantity.read_measured_number("14 fL", fields.LUMINANCE_UNITS, 1, 1_000, "52 cd/m2")
    assert reads == pytest.approx(47.967627, abs=1e-6)
    assert (
        quantity.read_measured_number("52 cd/m2", fields.LUMINANCE_UNITS, 1, 1_000, "52 cd/m2")
        == 52
    )
