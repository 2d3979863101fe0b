"""The moments that messages name: moved along as the clock is set, and told as seconds left."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Final

from pydantic_core import to_json

from adapters.live.messages import OutgoingMessage, QueuedMessage, rfc3339
from engine.events import milliseconds

DATED: Final = frozenset({"at", "ends"})
"""The fields in which messages that wait name moments."""


def redated(queued: QueuedMessage, by: int) -> QueuedMessage:
    """Move the moments that a waiting message names, and its own end, `by` so many ms."""
    said = queued.message
    if said.expires is None:
        return queued
    body = to_json(_moved(json.loads(said.body), by))
    return queued._replace(message=said._replace(expires=said.expires + by, body=body))


def _moved(data: object, by: int, name: str = "") -> object:
    if isinstance(data, dict):
        return {key: _moved(value, by, key) for key, value in data.items()}
    if isinstance(data, list):
        return [_moved(one, by) for one in data]
    if name in DATED and isinstance(data, str):
        return rfc3339(milliseconds(datetime.fromisoformat(data)) + by)
    return data


def seconds_left(moment: object, now: int) -> float | None:
    """Give the seconds up to a moment as it is said (RFC 3339); None: it is a word, or nothing."""
    try:
        ends = milliseconds(datetime.fromisoformat(str(moment)))
    except ValueError:
        return None
    return max(0, ends - now) / 1_000


def with_time_left(said: OutgoingMessage, now: int) -> bytes:
    """Give a message's body; an order or a prompt says as well how many seconds are left of it.

    A hub whose clock is wrong can tell by nothing else how long an order is worth something.
    An order has a slot and a prompt is retained; what says that one is over has neither. A response
    has an end of its own and may tell of a prompt: it is about none, and says itself what is left.
    """
    if said.about is None or said.expires is None or not (said.slot or said.retained):
        return said.body
    left = max(0, said.expires - now) / 1_000
    return b'%s,"ends_in":%s}' % (said.body[:-1], to_json(left))
