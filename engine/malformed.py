"""Say what is wrong with a JSON text, in one sentence for whoever wrote it."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Final

from engine.former_words import NEW_WORDS
from engine.refusal import suggest

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pydantic import ValidationError
    from pydantic_core import ErrorDetails

LONGEST_LINE: Final = 1 << 20
"""Bytes of the longest line of a file that is read whole."""
QUOTED: Final = 40
"""How many characters of a wrong value are quoted."""
TOLD: Final = 3
"""How many mistakes one sentence names at most."""


def describe_mistakes(error: ValidationError, *, inside: int = 0) -> str:
    """Put the first mistakes of a JSON text into one sentence.

    `inside` is how many leading parts of each mistake's path are left out, because the reader knows
    them anyway.
    """
    places: dict[str, list[ErrorDetails]] = {}
    for detail in error.errors(include_url=False):
        place = ".".join(str(part) for part in detail["loc"][inside:] if not _names_a_kind(part))
        places.setdefault(place, []).append(detail)
    told = [*places.items()][:TOLD]
    return "; ".join((f"{place}: " if place else "") + _wrong(found) for place, found in told)


def _names_a_kind(part: int | str) -> bool:
    """Tell whether part of a path is pydantic's name for a type that was tried, and no field."""
    return part in _KINDS or "[" in str(part)


_KINDS: Final = frozenset({"bool", "int", "float", "str", "constrained-int", "constrained-str"})


def _wrong(found: Sequence[ErrorDetails]) -> str:
    """Say what is wrong with one value, for which several types may have been tried."""
    # If the value has one of the types and is wrong otherwise, the other types do not matter.
    near = [one for one in found if not one["type"].endswith("_type")] or found
    expected, said = [], []
    for one in near:
        words = _EXPECTED.get(one["type"])
        if words is not None:
            bounds = {name: _whole(bound) for name, bound in one.get("ctx", {}).items()}
            expected.append(words.format(**bounds))
        else:
            words = _SAID.get(one["type"], one["msg"])
            if one["type"] == "json_invalid":
                words = _no_json(one["msg"])
            said.append(words[:1].lower() + words[1:])
    if expected:
        *others, last = dict.fromkeys(expected)
        said.insert(0, (", ".join(others) + " or " if others else "") + f"{last} is expected")
    unsaid = near[0]["type"] in ("json_invalid", *_MISSING)
    given = "" if unsaid else _given(near[0]["input"])
    hint = _meant_word(near[0])
    return ", or ".join(said) + given + (f", {hint}" if hint else "")


def no_text(given: object) -> TypeError:
    """Make the error for what is handed in as an event's JSON and is no text."""
    return TypeError(
        f"read_event takes JSON text, not {type(given).__name__}: pass json.dumps(it), or build "
        "the event, such as Playback(state='playing')"
    )


def describe_line(line: bytes, error: ValidationError) -> str:
    """Say what is wrong with a line of JSON; one longer than `LONGEST_LINE` was not read whole."""
    if len(line) > LONGEST_LINE:
        return "this line is longer than 1 MiB, as none should be: several may be joined in it"
    return describe_mistakes(error)


def _no_json(told: str) -> str:
    """Say where a JSON text stops making sense, or that it was cut off."""
    where = _JSON_PLACE.fullmatch(told)
    if where is None:
        return told
    reason, line, column = where.groups()
    if reason.startswith("EOF") or (reason.startswith("control character") and column == "0"):
        return "invalid JSON: it ends before it is complete, so it was cut off"
    if reason == "trailing characters":
        reason = "more follows the first object; two lines may be joined here"
    place = f"character {column}" if line == "1" else f"line {line}, column {column}"
    return f"invalid JSON at {place}: {reason}"


_JSON_PLACE: Final = re.compile(r"Invalid JSON: (.*) at line (\d+) column (\d+)")


def _meant_word(one: ErrorDetails) -> str:
    """Ask whether a field's new name, or the nearest of a closed set of words, was meant, or ""."""
    if one["type"] in _UNEXPECTED:
        new = NEW_WORDS.get(str(one["loc"][-1]))
        return f"did you mean '{new}'?" if new else ""
    bounds = one.get("ctx", {})
    written = bounds.get("tag", one["input"])
    words = _QUOTED_WORD.findall(bounds.get("expected_tags", bounds.get("expected", "")))
    return suggest(written, words) if isinstance(written, str) else ""


_QUOTED_WORD: Final = re.compile("'([^']*)'")
"""One word of those that pydantic says it expected."""

_MISSING: Final = ("missing", "missing_argument", "missing_keyword_only_argument")
_UNEXPECTED: Final = ("unexpected_keyword_argument", "extra_forbidden")
_SAID: Final = {
    "string_pattern_mismatch": "control characters do not belong here",
    "string_too_short": "this is empty",
    "timezone_aware": "its zone is missing, such as Z or +01:00",
    **dict.fromkeys(_MISSING, "this is missing"),
    **dict.fromkeys(_UNEXPECTED, "nothing of that name belongs here"),
}
_EXPECTED: Final = {
    "bool_type": "true or false",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "finite_number": "a number",
    "string_type": "text",
    "literal_error": "{expected}",
    "dataclass_type": "an object",
    "dataclass_exact_type": "{class_name}",
    "union_tag_not_found": "an object with {discriminator}",
    "union_tag_invalid": "one of {expected_tags} as {discriminator}",
    "dict_type": "an object",
    "model_type": "an object",
    "list_type": "a list",
    "tuple_type": "a list",
    "none_required": "null",
    "greater_than_equal": "at least {ge}",
    "greater_than": "more than {gt}",
    "less_than_equal": "at most {le}",
    "less_than": "less than {lt}",
    "string_too_long": "text of at most {max_length} characters",
    "too_long": "a list of at most {max_length}",
}
"""What was expected, in plain words, by pydantic's code of the mistake."""


def _whole(bound: object) -> object:
    """Write a whole bound without decimals."""
    return int(bound) if isinstance(bound, float) and bound.is_integer() else bound


def _given(value: object) -> str:
    """Quote what was given, cut off after `QUOTED` characters."""
    text = json.dumps(value, default=str)
    shown = text if len(text) <= QUOTED else text[:QUOTED] + "..."
    return f" (given: {shown})"
