"""What a room has said and the broker has not taken yet: a handful of words, oldest first.

Of the words about one order or prompt, and of those in one slot, only the latest waits.
"""

from __future__ import annotations

import json

from pydantic_core import to_json

from adapters.live.messages import OutgoingMessage, QueuedMessage

Waiting = tuple[QueuedMessage, ...]


def with_message(waiting: Waiting, word: QueuedMessage) -> Waiting:
    """Let a message wait, in place of those that it outdates."""
    return (*(one for one in waiting if not word.said.outdates(one.said)), word)


def without_message(waiting: Waiting, serial: int) -> Waiting:
    """Let what the broker has taken wait no more."""
    return tuple(word for word in waiting if word.serial != serial)


def unexpired(waiting: Waiting, now: int) -> Waiting:
    """Drop what has ended by `now`, ms UTC."""
    return tuple(word for word in waiting if word.said.ends is None or word.said.ends > now)


def next_serial(waiting: Waiting) -> int:
    """Give a number that nothing here has, nor anything that comes after it."""
    return 1 + max((word.serial or 0 for word in waiting), default=0)


def outbox_json(waiting: Waiting) -> bytes:
    """Write what waits, each body letter by letter as it goes to the broker."""
    rows = [
        (serial, said.leaf, said.body, said.ends, said.number, said.slot)
        for said, serial in waiting
    ]
    return to_json(rows)


def outbox_read(data: bytes) -> Waiting:
    """Read what `outbox_json` wrote."""
    return tuple(
        QueuedMessage(OutgoingMessage(leaf, body.encode(), *rest), serial)
        for serial, leaf, body, *rest in json.loads(data)
    )
