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
from engine.upcoming import NextCode
from engine.wording import HoldCode

_Part: TypeAlias = dict[str, Any]

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
        "ScreenLight": ScreenLight,
        "Stage": Stage,
    }.items()
}
"""Closed sets of words that occur in several messages have one title everywhere."""


_RENAMED: Final[Mapping[str, str]] = {
    "Prompt": "PanelPrompt",  # generators for browsers have a `Prompt` already
    "PromptExplained": "PanelPromptExplained",
    "QuestionAboutItem": "QuestionSubject",
    "ReplyToPersonTo": "PersonsWord",
    "CurrentTitleKnownBy": "ShapeKnownBy",
}


def titled(schema: _Part, title: str) -> _Part:
    """Give a schema its title, and one to every part that a generator makes a class of."""
    title = _RENAMED.get(title, title)
    return {"title": title, **{key: _inside(key, part, title) for key, part in schema.items()}}


def _inside(key: str, part: Any, title: str) -> Any:  # noqa: ANN401 - JSON
    if key == "properties":
        return {name: _part(one, title + _camel(name)) for name, one in part.items()}
    if key == "propertyNames":
        return _part(part, f"{title}Name")
    if key in {"items", "additionalProperties"} and isinstance(part, dict):
        return _part(part, f"{title}Item")
    if key in {"anyOf", "oneOf"}:
        return [_part(one, title) for one in part]
    return part


def _part(schema: _Part, title: str) -> _Part:
    """Give a part a title where a generator needs a name for it."""
    words = frozenset(schema.get("enum", ()))
    if words in _CLOSED:
        return titled(schema, _CLOSED[words])
    if words or "properties" in schema or schema.get("type") == "object":
        return titled(schema, title)
    return {key: _inside(key, part, title) for key, part in schema.items()}


def _camel(name: str) -> str:
    return "".join(word.capitalize() for word in name.split("_"))
