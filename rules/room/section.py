"""The base model of every section of a room file, and the most common types of fields."""

from __future__ import annotations

from typing import Annotated, Any, TypeAlias

from pydantic import BaseModel, ConfigDict, Field, model_validator

from rules.room.fields import (
    ASPECT_FIELD,
    BECAUSE_FIELD,
    CELL_FIELD,
    CORNER_FIELD,
    LABEL_FIELD,
    LANGUAGE_FIELD,
    NAME_FIELD,
    OWN_NAME_FIELD,
    SENTENCE_FIELD,
    SPOKEN_LABEL_FIELD,
    TEXT_FIELD,
    TRUTH_FIELD,
    VALUE_FIELD,
)

Truth: TypeAlias = Annotated[bool, TRUTH_FIELD]
NameText: TypeAlias = Annotated[str, NAME_FIELD]
OwnName: TypeAlias = Annotated[str, OWN_NAME_FIELD]
Because: TypeAlias = Annotated[dict[str, str], BECAUSE_FIELD]
Label: TypeAlias = Annotated[str, LABEL_FIELD]
Language: TypeAlias = Annotated[str, LANGUAGE_FIELD]
Sentence: TypeAlias = Annotated[dict[str, str], SENTENCE_FIELD]
SpokenLabel: TypeAlias = Annotated[dict[str, str], SPOKEN_LABEL_FIELD]
Text: TypeAlias = Annotated[str, TEXT_FIELD]
ValueText: TypeAlias = Annotated[str, VALUE_FIELD]
Cell: TypeAlias = Annotated[str, CELL_FIELD]
Aspect: TypeAlias = Annotated[int, ASPECT_FIELD]
CornerPlace: TypeAlias = Annotated[tuple[int, int], CORNER_FIELD]
Case: TypeAlias = dict[Text, Cell]


def field(description: str, default: str | None = None, example: str | None = None) -> Any:  # noqa: ANN401 - as Field does
    """Make a field with a description; `default` and `example` are text as in a room file."""
    examples = [example] if example else None
    if default is None:
        return Field(description=description, examples=examples)
    return Field(default=default, validate_default=True, description=description, examples=examples)


def section(description: str) -> Any:  # noqa: ANN401
    """Make a field for a section; if the file leaves it out, all its fields have defaults."""
    return Field(default={}, validate_default=True, description=description)


def option(description: str, example: str | None = None) -> Any:  # noqa: ANN401
    """Make a field that may be left out; it is then None."""
    return Field(default=None, description=description, examples=[example] if example else None)


class Part(BaseModel):
    """The base of all sections: unknown keys are refused, and values cannot be changed."""

    # Built when a room file is first read: at once, each would be built in those above it too.
    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)

    @model_validator(mode="before")
    @classmethod
    def _empty(cls, value: object) -> object:
        """Treat a section that is written without a value as one without entries."""
        return {} if value == "" else value
