"""Read an event typed in a few words, such as `answer 3 ready`, or as `roomcue tell` takes it."""

from __future__ import annotations

import json
import re
import shlex
from typing import Final

from adapters.live.messages import (
    EVENTS_FROM_OUTSIDE,
    TOLD_TOPIC,
    NewRoom,
    StateAsked,
    read_message,
)
from engine.errors import UnusableError
from engine.events import Event
from engine.refusal import Refused, nearest_name

IN_ORDER: Final[dict[str, tuple[str, ...]]] = {
    "source": ("source",),
    "playback": ("state", "source"),
    "projector": ("state",),
    "panels": ("panels",),
    "lens": ("preset",),
    "ratio": ("ratio",),
    "format": ("code", "frame"),
    "answer": ("prompt", "answer"),
    "outcome": ("order", "outcome"),
    "title": ("begun", "name", "declared"),
    "service": ("begun",),
    "signal": ("locked",),
    "told": ("fact", "value"),
    "forget": ("name",),
}
"""The fields of an event that need not be named, in the order in which they are said."""
LOOK: Final = ("picture", "lift", "preset", "panels")
"""What `override` names: `override picture=plain`."""
_SWITCHES: Final = {
    "begins": True,
    "ends": False,
    "locked": True,
    "lost": False,
    "true": True,
    "false": False,
}
_SWITCHED: Final = frozenset({"begun", "locked", "moving", "taken", "three_d"})
_WHO_LAST: Final = re.compile(r"""(?:^|\s+)who=("[^"]+"|'[^']+'|\S+)$""")
"""Who says a `mark`, whose words stand without quotation marks before it."""
_NUMBER: Final = re.compile(r"-?\d+(\.\d+)?")
EXAMPLES: Final = "playback paused; override picture=plain; answer 3 ready; told guests true"


class TypedError(UnusableError):
    """Words that say nothing a room could hear."""


def read_typed(words: str) -> Event:
    """Read one event from words, or from a topic and JSON; raises `TypedError`."""
    kind, _, rest = words.strip().partition(" ")
    topic, rest = kind.removeprefix("in/"), rest.strip()
    if rest.startswith("{"):
        return _event(topic, rest)
    if kind not in EVENTS_FROM_OUTSIDE:
        near = nearest_name(kind, [*EVENTS_FROM_OUTSIDE])
        hint = f"did you mean '{near}'?" if near else f"say for example: {EXAMPLES}"
        raise TypedError(f"'{kind[:40]}' is nothing that can be said: {hint}")
    data = _mark(rest) if kind == "mark" else _data(kind, _split(rest))
    if kind == TOLD_TOPIC:
        topic = f"{TOLD_TOPIC}/{data.pop('fact', '')}"
        data.setdefault("value", None)
    elif kind == "forget":
        data.setdefault("name", None)  # All of them.
    return _event(topic, json.dumps(data))


def _event(topic: str, payload: str) -> Event:
    try:
        event = read_message(topic, payload.encode("utf-8", "surrogateescape"))
    except Refused as refused:
        raise TypedError(refused.words) from refused
    if event is None or isinstance(event, NewRoom | StateAsked):
        raise TypedError("a new room file is not said by hand: send it to in/room")
    return event


def _split(text: str) -> list[str]:
    try:
        return shlex.split(text)
    except ValueError as error:
        raise TypedError(f"{text[:80]}: a quotation mark is never closed") from error


def _mark(rest: str) -> dict[str, object]:
    """Give the words of a mark as they are, and who says it, where that stands last."""
    who = _WHO_LAST.search(rest)
    if who is None:
        return {"words": rest} if rest else {}
    words = rest[: who.start()]
    return {"who": who[1].strip("\"'"), **({"words": words} if words else {})}


def _data(kind: str, words: list[str]) -> dict[str, object]:
    """Give the fields that words name, or mean by their order; raises `TypedError`."""
    data: dict[str, object] = {}
    if kind == "lens":
        data["moving"] = words[:1] == ["moving"]
        words = words[1:] if data["moving"] else words
    elif kind == "override":
        data["taken"] = words != ["off"]
        words = words if data["taken"] else []
    said = IN_ORDER.get(kind, ())
    unnamed = [name for name in said if name not in data]
    for word in words:
        name, named, value = word.partition("=")
        if not named:
            if not unnamed:
                order = " ".join((kind, *(["[moving]"] if kind == "lens" else []), *said))
                raise TypedError(
                    f"{kind}: '{word[:40]}' has no place there: write '{order}', or field=value"
                )
            name, value = unnamed.pop(0), word
        elif name in unnamed:
            unnamed.remove(name)
        data[name] = _value(kind, name, value)
    look = {name: data.pop(name) for name in LOOK if kind == "override" and name in data}
    return {**data, "look": look} if look else data


def _value(kind: str, name: str, word: str) -> object:
    """Read a word as the value of a field; what a field cannot be is refused later, in words."""
    if name in _SWITCHED and word in _SWITCHES:
        return _SWITCHES[word]
    if kind in ("lens", "panels") and word == "unknown":
        return None
    if kind == TOLD_TOPIC and name == "value":
        told = {**_SWITCHES, "yes": True, "no": False, "unknown": None}
        if word in told:
            return told[word]
    if name in ("name", "words", "who", "id", "at", "source", "frame"):
        return word
    if _NUMBER.fullmatch(word):
        return json.loads(word) if not re.match(r"-?0\d", word) else word
    return word
