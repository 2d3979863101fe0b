"""Messages that are no events, out of a seed: whatever a broken or hostile client may publish."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from typing import Any, Final

from adapters.live.messages import EVENTS_FROM_OUTSIDE, TOLD_TOPIC, read_message
from engine.refusal import Refused

VALUES: Final[tuple[Any, ...]] = (
    *(None, True, -1, 0, 10**400, 1e308, float("nan"), float("inf"), "", "\ud800", "\x1b[2J"),
    *([], {}, [[[]]], {"a": None}, "x" * 300, "broad", 2.39, "playing", "0000-01-01T00:00:00Z"),
)
RUBBISH: Final = (
    *(b"", b"{", b"null", b"[]", b"\xff\xfe", b'"', b"{}{}", b"[" * 5_000, b'{"a":' * 2_000),
    *(b"\x00" * 40, b"x" * 70_000, b'{"state":"lit"', b"{'state': 'lit'}", b"\xef\xbb\xbf{}"),
)
NOBODY_KNOWS: Final[tuple[tuple[str, dict[str, Any]], ...]] = (
    ("source", {"source": "nonesuch"}),
    ("playback", {"state": "playing", "source": "nonesuch"}),
    ("lens", {"moving": False, "preset": "nonesuch"}),
    ("panels", {"panels": "nonesuch"}),
    ("told/nonesuch", {"value": True}),
    ("answer", {"prompt": 4_000_000_001, "answer": "ready"}),
    ("outcome", {"order": 4_000_000_001, "outcome": "done"}),
    ("override", {"taken": True, "look": {"preset": "nonesuch"}}),
    ("bars", {"top": 900, "bottom": 900, "left": 0, "right": 0, "columns": 1920, "rows": 1080}),
)
"""What can be read, and is refused by the room: it names what is not there."""
FIELDS: Final = sorted(
    {name for event in EVENTS_FROM_OUTSIDE.values() for name in event.__dataclass_fields__}
)
KINDS: Final = sorted(EVENTS_FROM_OUTSIDE.keys() - {TOLD_TOPIC})


def no_events(seed: int, count: int) -> Iterator[tuple[str, bytes]]:
    """Give so many subtopics and payloads of which a room must take none."""
    chance = random.Random(seed)
    while count:
        if chance.random() < 0.2:
            subtopic, data = chance.choice(NOBODY_KNOWS)
            payload = json.dumps(data).encode()
        else:
            subtopic, payload = _message(chance)
            if not is_refused(subtopic, payload):
                continue  # By chance it says something.
        yield subtopic, payload
        count -= 1


def is_refused(subtopic: str, payload: bytes) -> bool:
    """Tell whether a message is no event, by what reads messages."""
    try:
        read_message(subtopic, payload)
    except Refused:
        return True
    return False


def _message(chance: random.Random) -> tuple[str, bytes]:
    subtopic = chance.choice((*KINDS, *KINDS, "told/guests", "told/a/b", "resumed", "time", "x/y"))
    if chance.random() < 0.3:
        return subtopic, chance.choice((*RUBBISH, chance.randbytes(chance.randrange(60))))
    names = chance.sample(FIELDS, chance.randrange(1, 5))
    data = {name: chance.choice(VALUES) for name in names}
    return subtopic, json.dumps(data).encode("utf-8", "surrogatepass")
