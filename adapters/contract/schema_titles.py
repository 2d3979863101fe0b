"""Titles of schemas: a generator makes them the names of classes and enumerations."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, TypeAlias, get_args

from engine.decisions import (
    CautionCode,
    NoteCode,
    PromptEnd,
    ReasonCode,
    ScreenLight,
    Stage,
)
from engine.events import AnswerWord, LightRange, OutcomeWord, PlaybackState, ProjectorState
from engine.holds import HoldCode
from engine.refusal import RefusalCode
from engine.transition_table import MACHINES
from engine.upcoming import NextCode

_Part: TypeAlias = dict[str, Any]
SHARED: Final = "#/components/schemas/{model}"
"""Where a schema stands that several messages refer to."""

_CLOSED: Final[Mapping[frozenset[str], str]] = {
    frozenset(get_args(words)): title
    for title, words in {
        "AnswerWord": AnswerWord,
        "CautionCode": CautionCode,
        "HoldCode": HoldCode,
        "LightRange": LightRange,
        "NextCode": NextCode,
        "NoteCode": NoteCode,
        "OutcomeWord": OutcomeWord,
        "PlaybackState": PlaybackState,
        "ProjectorState": ProjectorState,
        "PromptEnd": PromptEnd,
        "ReasonCode": ReasonCode,
        "RefusalCode": RefusalCode,
        "ScreenLight": ScreenLight,
        "Stage": Stage,
    }.items()
} | {frozenset(MACHINES["override"]): "PersonOrRules"}
"""Closed sets of words that occur in several messages have one title everywhere."""


_RENAMED: Final[Mapping[str, str]] = {
    "Prompt": "PanelPrompt",  # generators for browsers have a `Prompt` already
    "PromptExplained": "PanelPromptExplained",
    "QuestionAboutItem": "QuestionSubject",
    "ReplyToPersonTo": "PersonsWord",
    "CurrentTitleKnownBy": "ShapeKnownBy",
}


def titled(schema: _Part, title: str, shared: _Part) -> _Part:
    """Give a schema its title, and one to every part that a generator makes a class of.

    A closed set of words that occurs in several messages is added to the `shared` schemas, and
    referred to, so that there is one class of it.
    """
    title = _RENAMED.get(title, title)
    inside = {key: _inside(key, part, title, shared) for key, part in schema.items()}
    return {"title": title, **inside}


def _inside(key: str, part: Any, title: str, shared: _Part) -> Any:  # noqa: ANN401 - JSON
    if key == "properties":
        return {name: _part(one, title + _camel(name), shared) for name, one in part.items()}
    if key == "propertyNames":
        return _part(part, f"{title}Name", shared)
    if key in {"items", "additionalProperties"} and isinstance(part, dict):
        return _part(part, f"{title}Item", shared)
    if key in {"anyOf", "oneOf"}:
        return [_part(one, title, shared) for one in part]
    return part


def _part(schema: _Part, title: str, shared: _Part) -> _Part:
    """Give a part a title where a generator needs a name for it."""
    words = frozenset(schema.get("enum", ()))
    if words in _CLOSED:
        name = _CLOSED[words]
        shared[name] = {"title": name, **schema}
        return {"$ref": SHARED.format(model=name)}
    if words or "properties" in schema or schema.get("type") == "object":
        return titled(schema, title, shared)
    if isinstance(schema.get("const"), str):
        return {"title": title, **schema}
    return {key: _inside(key, part, title, shared) for key, part in schema.items()}


def _camel(name: str) -> str:
    return "".join(word.capitalize() for word in name.split("_"))
