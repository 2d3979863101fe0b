"""Messages that come again and again: what was read of a short one is remembered.

A detector tells the same bars many times a second, and a hub the same words every evening. What a
payload says depends on nothing but its bytes and its topic, so it is read once. Nearly all readings
say what holds already, and ask for no more than to be counted.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Final

from adapters.live.messages import (
    READING_TOPICS,
    InboundMessage,
    NewRoom,
    StateAsked,
    read_message,
)
from engine import RoomEngine
from engine.events import READINGS, Event
from engine.refusal import Refused

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


def repeated_readings(messages: Sequence[InboundMessage], engine: RoomEngine) -> Sequence[Event]:
    """Give the readings in messages if they only say once more what holds; else none.

    Then there is nothing to keep, to say or to decide, as long as nothing has fallen due. No
    reading is taken from a retained message, so nobody need know either that one came live. What
    the broker sends a second time may have been taken before, and is no such reading.
    """
    readings = []
    for message in messages:
        if message.repeated or message.subtopic not in READING_TOPICS:
            return ()
        try:
            said = read_again(message.subtopic, message.payload, retained=message.retained)
        except Refused:
            return ()
        if not (isinstance(said, READINGS) and engine.still_holds(said)):
            return ()
        readings.append(said)
    return readings
