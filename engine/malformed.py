"""What is wrong with a JSON text, in one sentence for whoever wrote it."""

from __future__ import annotations

import json
from typing import Final

from pydantic import ValidationError

QUOTED: Final = 40
"""So many characters of what was given are quoted."""


def sentence(error: ValidationError) -> str:
    """Put the first things that are wrong with a JSON text into one sentence."""
    parts = []
    for detail in error.errors(include_url=False, include_context=False)[:3]:
        place = ".".join(str(part) for part in detail["loc"])
        given = "" if detail["type"] in ("json_invalid", "missing") else _given(detail["input"])
        message = _PLAINER.get(detail["type"], detail["msg"])
        parts.append((f"{place}: " if place else "") + message[:1].lower() + message[1:] + given)
    return "; ".join(parts)


_PLAINER: Final = {
    "unexpected_keyword_argument": "Nothing of that name belongs here",
    "missing": "This is missing",
    "missing_argument": "This is missing",
    "missing_keyword_only_argument": "This is missing",
}
"""What pydantic says in a programmer's words, in ours."""


def _given(value: object) -> str:
    """Quote what was given, shortly."""
    text = json.dumps(value, default=str)
    shown = text if len(text) <= QUOTED else text[:QUOTED] + "..."
    return f" (given: {shown})"
