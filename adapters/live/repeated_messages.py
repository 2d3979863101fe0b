"""Messages that come again and again: what was read of a short one is remembered.

A detector tells the same bars many times a second, and a hub the same words every evening. What a
payload says depends on nothing but its bytes and its topic, so it is read once.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from adapters.live.messages import NewRoom, StateAsked, read_message
from engine.events import Event

MOST_REMEMBERED: Final = 1_024
"""Of so many messages it is remembered what they say: of those that came last."""
LONGEST_REMEMBERED: Final = 256
"""Longer payloads (bytes) are read each time, so that nobody can fill the memory with them."""

_remembered: Final = lru_cache(MOST_REMEMBERED)(read_message)


def read_again(
    subtopic: str, payload: bytes, *, retained: bool
) -> Event | NewRoom | StateAsked | None:
    """Read a message as `read_message` does, and raise `Refused` as that does."""
    read = _remembered if len(payload) <= LONGEST_REMEMBERED else read_message
    return read(subtopic, payload, retained=retained)
