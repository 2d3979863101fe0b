"""The outbox: the messages of a room that the broker has not acknowledged yet, oldest first.

Of the messages about one order or prompt only the latest waits, and so of those in one slot.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from operator import attrgetter
from typing import Any, Final

from pydantic_core import to_json

from adapters.live.messages import OutgoingMessage, QueuedMessage
from adapters.live.redating import redated
from adapters.live.return_address import ReturnAddress

Waiting = tuple[QueuedMessage, ...]
is_kept: Final = attrgetter("kept")


def with_message(waiting: Waiting, queued: QueuedMessage) -> Waiting:
    """Add a message, and drop those that it outdates."""
    return (*(one for one in waiting if not queued.message.outdates(one.message)), queued)


def without_message(waiting: Waiting, serial: int) -> Waiting:
    """Drop a message that the broker has acknowledged."""
    return tuple(queued for queued in waiting if queued.serial != serial)


def without_orders(waiting: Waiting) -> Waiting:
    """Drop orders, prompts and questions; what takes one back stays, and so do replies."""
    return tuple(one for one in waiting if one.message.slot is None and not one.message.retained)


def unexpired(waiting: Waiting, now: int) -> Waiting:
    """Drop the messages that have expired by `now` (ms UTC)."""
    return tuple(queued for queued in waiting if not _has_expired(queued.message, now))


def _has_expired(message: OutgoingMessage, now: int) -> bool:
    return message.expires is not None and message.expires <= now


def clock_followed(waiting: Waiting, by: int) -> Waiting:
    """Give what waits as it is once the clock was set `by` so many ms."""
    return tuple(redated(queued, by) for queued in waiting) if by else waiting


def unsent_orders(waiting: Waiting, now: int) -> tuple[str, ...]:
    """Say by their slots which orders have ended by `now` (ms UTC) before anybody took them."""
    return tuple(
        queued.message.slot
        for queued in waiting
        if queued.message.slot is not None and _is_unsent(queued.message, now)
    )


def without_expired(waiting: Waiting, now: int) -> Waiting:
    """Drop what has expired by `now` (ms UTC), but for orders, which are to be given again."""
    return tuple(
        queued
        for queued in waiting
        if not _is_over(queued.message, now) or _is_unsent(queued.message, now)
    )


def without_unsent(waiting: Waiting, now: int) -> Waiting:
    """Drop what has expired by `now` (ms UTC), and orders with it."""
    return tuple(queued for queued in waiting if not _is_over(queued.message, now))


def _is_over(message: OutgoingMessage, now: int) -> bool:
    """Tell whether a message has expired, and nobody needs to know that it never left.

    While a prompt is open that must be known: who was not warned of the light stays in the dark.
    What ends the prompt outdates it.
    """
    return _has_expired(message, now) and not message.retained


def _is_unsent(message: OutgoingMessage, now: int) -> bool:
    is_order = message.slot is not None and message.subtopic == "order"
    return is_order and _has_expired(message, now)


def next_serial(waiting: Waiting) -> int:
    """Give the next number: larger than that of every message here."""
    return 1 + max((queued.serial or 0 for queued in waiting), default=0)


def outbox_json(waiting: Waiting) -> bytes:
    """Encode the outbox for the journal; each body stays exactly as it goes to the broker."""
    return to_json([*map(_row, waiting)])


def beside_json(waiting: Waiting, owed: Sequence[ReturnAddress | None]) -> bytes:
    """Encode what stands beside a line: what waits, and the addresses of replies that are owed."""
    return to_json([*map(_row, waiting), *(to and _address(to) for to in owed)])


def _row(queued: QueuedMessage) -> tuple[object, ...]:
    message, serial = queued
    return (
        *(serial, message.subtopic, message.body),
        *(message.expires, message.about, message.slot, *_tail(message)),
    )


def _tail(message: OutgoingMessage) -> tuple[str | bool | None, ...]:
    """Give the end of a row: a reply's address, that it is retained, or nothing."""
    if message.retained:
        return (True,)
    return () if message.to is None else _address(message.to)


def _address(to: ReturnAddress) -> tuple[str | None, str | None]:
    return to.topic, None if to.correlation is None else to.correlation.hex()


def outbox_read(data: bytes) -> Waiting:
    """Decode what `outbox_json` encoded."""
    return tuple(_row_read(row) for row in json.loads(data))


def beside_read(data: bytes) -> tuple[Waiting, tuple[ReturnAddress | None, ...]]:
    """Decode what `beside_json` encoded; an address is shorter than any message."""
    rows = json.loads(data)
    addresses = [row for row in rows if row is None or len(row) == len(ReturnAddress._fields)]
    waiting = tuple(_row_read(row) for row in rows if row not in addresses)
    return waiting, tuple(row and _address_read(*row) for row in addresses)


def _row_read(row: list[Any]) -> QueuedMessage:
    serial, subtopic, body, expires, about, slot, *tail = row
    retained = tail == [True]
    to = _address_read(*tail) if tail and not retained else None
    message = OutgoingMessage(subtopic, body.encode(), expires, about, slot, retained, to)
    return QueuedMessage(message, serial)


def _address_read(topic: str | None, correlation: str | None) -> ReturnAddress:
    return ReturnAddress(topic, None if correlation is None else bytes.fromhex(correlation))
