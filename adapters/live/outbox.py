"""The outbox: the messages of a room that the broker has not acknowledged yet, oldest first.

Of the messages about one order or prompt only the latest waits, and so of those in one slot.
"""

from __future__ import annotations

import json

from pydantic_core import to_json

from adapters.live.messages import OutgoingMessage, QueuedMessage

Waiting = tuple[QueuedMessage, ...]


def with_message(waiting: Waiting, queued: QueuedMessage) -> Waiting:
    """Add a message, and drop those that it outdates."""
    return (*(one for one in waiting if not queued.message.outdates(one.message)), queued)


def without_message(waiting: Waiting, serial: int) -> Waiting:
    """Drop a message that the broker has acknowledged."""
    return tuple(queued for queued in waiting if queued.serial != serial)


def unexpired(waiting: Waiting, now: int) -> Waiting:
    """Drop the messages that have expired by `now` (ms UTC)."""
    return tuple(
        queued
        for queued in waiting
        if queued.message.expires is None or queued.message.expires > now
    )


def next_serial(waiting: Waiting) -> int:
    """Give the next number: larger than that of every message here."""
    return 1 + max((queued.serial or 0 for queued in waiting), default=0)


def outbox_json(waiting: Waiting) -> bytes:
    """Encode the outbox for the journal; each body stays exactly as it goes to the broker."""
    rows = [
        (serial, message.subtopic, message.body, message.expires, message.about, message.slot)
        for message, serial in waiting
    ]
    return to_json(rows)


def outbox_read(data: bytes) -> Waiting:
    """Decode what `outbox_json` encoded."""
    return tuple(
        QueuedMessage(OutgoingMessage(subtopic, body.encode(), *rest), serial)
        for serial, subtopic, body, *rest in json.loads(data)
    )
