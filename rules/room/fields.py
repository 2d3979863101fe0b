"""The kinds of fields in a room file: how to read each, and its JSON Schema."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any, Final

from pydantic import GetCoreSchemaHandler
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from engine.aspect import NARROWEST, WIDEST, meant
from engine.catalogue import Group
from engine.planning.light import FOOT_LAMBERT
from engine.room import BUILT_IN_PICTURES
from rules.room.single_values import (
    MOST_CHOICES,
    NAME_PATTERN,
    RESERVED_WORDS,
    one_of,
    read_choices,
    read_closed_words,
    read_corner,
    read_name,
    read_text_line,
    read_truth,
)
from rules.text import quantity
from rules.text.cell_mistakes import TRUTHS
from rules.text.findings import advice_for_unknown
from rules.text.quantity import QuantityError
from rules.words.fluent_catalogue import catalogue_in, languages

RASTER_LIMITS: Final = ((320, 180), (16_384, 8_640))
"""The smallest and the largest raster, columns x rows."""
ANY_LANGUAGE: Final = ""
"""The key of a sentence that is written once, for whatever language the room speaks."""
LUMINANCE_UNITS: Final = {"cd/m2": 1.0, "fL": FOOT_LAMBERT}
"""How many cd/m2 make one of each unit."""


@dataclass(frozen=True, slots=True, eq=False)
class FieldKind:
    """One kind of field: the function that reads its text, and its JSON Schema with examples."""

    read: Callable[[str], object]
    json: Mapping[str, Any]

    @property
    def example(self) -> str:
        """An example of what may be written there."""
        return str(self.json["examples"][0])

    def validate(self, value: object) -> object:
        """Read a field's text; raises PydanticCustomError."""
        try:
            return self.read(single_text(value, self.example))
        except QuantityError as error:
            raise field_fault(error.code, error.message, error.suggestion) from None

    def __get_pydantic_core_schema__(
        self, source: object, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(self.validate)

    def __get_pydantic_json_schema__(self, core: object, handler: object) -> JsonSchemaValue:
        return dict(self.json)


@dataclass(frozen=True, slots=True, eq=False)
class SentenceKind(FieldKind):
    """A sentence for people: one text for every language, or a text for each."""

    what: str
    """What the sentence is, such as "reason"."""
    sample: tuple[Group, str]
    """The code of a sentence that is an example in each language, for whoever asks for it."""

    def __get_pydantic_json_schema__(self, core: object, handler: object) -> JsonSchemaValue:
        spoken = {
            language: {
                **_SENTENCE,
                "description": f"The {self.what} in {language}.",
                "examples": [catalogue_in(language).say(*self.sample)],
            }
            for language in languages()
        }
        each = {"type": "object", "properties": spoken, "additionalProperties": False}
        return {"anyOf": [_SENTENCE, {**each, "minProperties": 1}], **self.json}

    def validate(self, value: object) -> dict[str, str]:
        """Read the sentence by language, "" standing for any; raises PydanticCustomError."""
        if not isinstance(value, dict):
            return {ANY_LANGUAGE: self._read(value, "")}
        return {self._language(name): self._read(one, name) for name, one in value.items()}

    def _read(self, value: object, field: str) -> str:
        try:
            return str(self.read(single_text(value)))
        except QuantityError as error:
            raise field_fault(error.code, error.message, error.suggestion, field) from None

    def _language(self, name: str) -> str:
        if name in languages():
            return name
        message = f"{name[:60]} is no language that roomcue speaks"
        raise field_fault("bad-value", message, advice_for_unknown(name, languages()), name)


def field_fault(
    code: str, message: str, suggestion: str = "", field: str = ""
) -> PydanticCustomError:
    """Make an error with a finding's code, its sentence and its suggestion.

    `field` names the field inside the section that the error is about.
    """
    words = {"message": message, "suggestion": suggestion, "field": field}
    return PydanticCustomError(code, "{message}", words)  # type: ignore[arg-type,unused-ignore]


def single_text(value: object, example: str = "") -> str:
    """Give a single value's text; raises PydanticCustomError, with an example, for any other."""
    if isinstance(value, str):
        return value
    kind, marks = "a group of entries", "braces or entries"
    if isinstance(value, list):
        kind, marks = "a list", "brackets or dashes"
    message = f"a single value is awaited here, not {kind}"
    such = f", such as {example}" if example else ""
    raise field_fault("wrong-kind", message, f"Write one, without {marks}{such}.")


def text_schema(
    pattern: str, *examples: object, number: tuple[float, float] | None = None
) -> Mapping[str, Any]:
    """Describe a text of this pattern; with `number`, also a number between those two bounds."""
    written: dict[str, Any] = {"type": "string", "pattern": f"^\\s*(?:{pattern})\\s*$"}
    if number is not None:
        plain = {"type": "number", "minimum": number[0], "maximum": number[1]}
        written = {"anyOf": [written, plain]}
    return {**written, "examples": [*examples]}


def _measure_pattern(units: Mapping[str, int]) -> str:
    """Make a pattern of numbers with units, from the largest unit to the smallest."""
    falling = sorted(units, key=units.__getitem__, reverse=True)
    digits = {"in": rf"(?:{DIGITS}|(?:[0-9]+[ -]+)?[0-9]+/(?:{quantity.PARTS_OF_AN_INCH}))"}
    return r"(?=\s*[0-9])" + "".join(
        rf"(?:\s*{digits.get(unit, DIGITS)}\s*{unit}\s*)?" for unit in falling
    )


DIGITS: Final = r"[0-9]+(?:\.[0-9]+)?"
RATIO_DIGITS: Final = rf"{DIGITS}(?:\s*:\s*{DIGITS})?"
_SHARE: Final = rf"{DIGITS}\s*%|0+(?:\.[0-9]+)?|0*1(?:\.0+)?"
"""The pattern of a share; without a % sign it is at most 1."""
_LENGTH: Final = _measure_pattern(quantity.LENGTHS)
_TIME: Final = _measure_pattern(quantity.TIMES)


def length_field(least: str, most: str, example: str) -> FieldKind:
    """Make a field that holds a length, in micrometres, between two lengths."""
    low, high = (quantity.read_length(text, -(10**9), 10**9) for text in (least, most))
    pattern = rf"-?{_LENGTH}" if low < 0 else _LENGTH
    return FieldKind(
        partial(quantity.read_length, least=low, most=high), text_schema(pattern, example)
    )


def time_field(least: str, most: str, example: str) -> FieldKind:
    """Make a field that holds a time, in milliseconds, between two times."""
    low, high = (quantity.read_duration(text, 0, 10**12) for text in (least, most))
    return FieldKind(
        partial(quantity.read_duration, least=low, most=high), text_schema(_TIME, example)
    )


def share_field(least: str, most: str, example: str) -> FieldKind:
    """Make a field that holds a share, in 1/10,000, between two shares."""
    low, high = (quantity.read_share(text, -(10**6), 10**6) for text in (least, most))
    plain = low / quantity.SCALE, min(high / quantity.SCALE, 1)
    return FieldKind(
        partial(quantity.read_share, least=low, most=high),
        text_schema(_SHARE, example, number=plain),
    )


def part_of_one(least: str, example: str) -> FieldKind:
    """Make a field that holds a share as a float from `least` to 1, for quantities of light."""
    low = quantity.read_share(least, 0, 10_000)
    return FieldKind(
        lambda text: quantity.read_share(text, low, 10_000) / 10_000,
        text_schema(_SHARE, example, number=(low / quantity.SCALE, 1)),
    )


def ratio_field(least: str, most: str, example: str) -> FieldKind:
    """Make a field that holds a ratio, in 1/10,000, between two ratios."""
    low, high = (quantity.read_ratio(text, 0, 10**6) for text in (least, most))
    plain = low / quantity.SCALE, high / quantity.SCALE
    return FieldKind(
        partial(quantity.read_ratio, least=low, most=high),
        text_schema(RATIO_DIGITS, example, number=plain),
    )


def count_field(least: int, most: int, example: int) -> FieldKind:
    """Make a field that holds a whole number from `least` to `most`."""
    whole = {"type": "integer", "minimum": least, "maximum": most}
    text = {"type": "string", "pattern": r"^\s*[0-9]+\s*$"}
    json = {"anyOf": [whole, text], "examples": [example]}
    return FieldKind(partial(quantity.read_count, least=least, most=most), json)


def number_field(least: float, most: float, example: float) -> FieldKind:
    """Make a field that holds a float from `least` to `most`, without a unit."""
    return FieldKind(
        partial(quantity.read_number, least=least, most=most),
        text_schema(DIGITS, example, number=(least, most)),
    )


TRUTH_FIELD: Final = FieldKind(
    read_truth, {"enum": ["yes", "no", "true", "false", True, False], "examples": ["yes"]}
)


def _name_schema(example: str, taken: tuple[str, ...] = ()) -> Mapping[str, Any]:
    """Describe a name that is neither reserved nor taken."""
    kind = {"type": "string", "pattern": f"^{NAME_PATTERN}$", "examples": [example]}
    return {**kind, "not": {"enum": sorted({*RESERVED_WORDS, *taken})}}


NAME_FIELD: Final = FieldKind(read_name, _name_schema("hayloft"))
OWN_NAME_FIELD: Final = FieldKind(
    partial(read_name, taken=frozenset(BUILT_IN_PICTURES)), _name_schema("broad", BUILT_IN_PICTURES)
)
_SENTENCE: Final = {"type": "string", "pattern": r"\S"}


def _spoken_field(what: str, sample: tuple[Group, str], example: str) -> SentenceKind:
    return SentenceKind(partial(read_text_line, what=what), {"examples": [example]}, what, sample)


BECAUSE_FIELD: Final = _spoken_field("reason", ("reason", "menu"), "Menus carry text and circles.")
SENTENCE_FIELD: Final = _spoken_field(
    "sentence", ("task", "sides"), "Please fit the two side panels."
)
SPOKEN_LABEL_FIELD: Final = _spoken_field("label", ("label", "lights"), "Lamps")
LABEL_FIELD: Final = FieldKind(
    partial(read_text_line, what="label"), {**_SENTENCE, "examples": ["menus stay plain"]}
)
LANGUAGE_FIELD: Final = FieldKind(
    partial(one_of, known=languages()), {"enum": [*languages()], "examples": [*languages()]}
)
TEXT_FIELD: Final = FieldKind(lambda text: text, {"type": "string", "examples": ["broad"]})
VALUE_FIELD: Final = FieldKind(
    lambda text: text, {"type": ["string", "integer", "boolean"], "examples": ["low"]}
)
CELL_FIELD: Final = FieldKind(
    lambda text: text,
    {
        "type": ["string", "number", "boolean", "null"],
        "examples": [">= 2.30", "[1.85..2.20)", "paused"],
    },
)


def _words_pattern(taken: frozenset[str]) -> str:
    """Make a pattern of at least two words joined by "or", none of them taken."""
    word = rf"(?!(?:{'|'.join(sorted(taken))})(?![a-z0-9_])){NAME_PATTERN}"
    return rf"{word}(?:\s+or\s+{word}){{1,{MOST_CHOICES - 1}}}"


_RANGE: Final = r"-?[0-9]{1,6}\s+to\s+-?[0-9]{1,6}"
_TRUTHS: Final = r"yes\s+or\s+no|no\s+or\s+yes|true\s+or\s+false|false\s+or\s+true"
CHOICES_FIELD: Final = FieldKind(
    read_choices,
    text_schema(
        f"{_RANGE}|{_TRUTHS}|{_words_pattern(RESERVED_WORDS)}",
        "yes or no",
        "calm or bright or off",
        "0 to 12",
    ),
)
WORDS_FIELD: Final = FieldKind(
    read_closed_words,
    text_schema(_words_pattern(RESERVED_WORDS - frozenset(TRUTHS)), "low or full"),
)
CORNER_FIELD: Final = FieldKind(
    read_corner, text_schema(rf"-?{DIGITS}\s*[xX\u00d7]\s*-?{DIGITS}", "128.5 x 96")
)
ASPECT_FIELD: Final = FieldKind(
    lambda text: meant(quantity.read_ratio(text, NARROWEST, WIDEST)),
    text_schema(RATIO_DIGITS, "2.40", number=(NARROWEST / quantity.SCALE, WIDEST / quantity.SCALE)),
)
