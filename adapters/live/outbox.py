"""The outbox: the messages of a room that the broker has not acknowledged yet, oldest first.

Of the messages about one order or prompt only the latest waits, and so of those in one slot.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from operator import attrgetter
from typing import Any, Final

from pydantic_core import to_json

from adapters.live.journal_rows import Beside, JournalLine
from adapters.live.messages import OutgoingMessage, QueuedMessage, errands_of
from adapters.live.redating import redated
from adapters.live.return_address import ReturnAddress
from engine.decisions import DECISIONS

Waiting = tuple[QueuedMessage, ...]
is_kept: Final = attrgetter("kept")


def with_message(waiting: Waiting, queued: QueuedMessage) -> Waiting:
    """Add a message, and drop those that it outdates."""
    return (*(one for one in waiting if not queued.message.outdates(one.message)), queued)


def without_message(waiting: Waiting, serial: int) -> Waiting:
    """Drop a message that the broker has acknowledged."""
    return tuple(queued for queued in waiting if queued.serial != serial)


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
        if not _has_expired(queued.message, now) or _is_unsent(queued.message, now)
    )


def _is_unsent(message: OutgoingMessage, now: int) -> bool:
    is_order = message.slot is not None and message.subtopic == "order"
    return is_order and _has_expired(message, now)


def waiting_after(
    waiting: Waiting, lines: Sequence[JournalLine], beside: Sequence[Beside]
) -> Waiting:
    """Give what waits after lines: what their decisions say is to be done, and what is beside them.

    Raises ValueError, TypeError, LookupError or AttributeError for what is damaged.
    """
    serial = next_serial(waiting)
    for line, (besides, _) in zip(lines, beside, strict=True):
        said: list[OutgoingMessage] = []
        if line.decision is not None:
            said += errands_of(DECISIONS.validate_json(line.decision))
        if besides is not None:
            said += [queued.message for queued in outbox_read(besides)]
        for message in filter(is_kept, said):
            waiting, serial = with_message(waiting, QueuedMessage(message, serial)), serial + 1
    return waiting


def next_serial(waiting: Waiting) -> int:
    """Give the next number: larger than that of every message here."""
    return 1 + max((queued.serial or 0 for queued in waiting), default=0)


def outbox_json(waiting: Waiting) -> bytes:
    """Encode the outbox for the journal; each body stays exactly as it goes to the broker."""
    rows = [
        (
            *(serial, message.subtopic, message.body),
            *(message.expires, message.about, message.slot, *_tail(message)),
        )
        for message, serial in waiting
    ]
    return to_json(rows)


def _tail(message: OutgoingMessage) -> tuple[str | bool | None, ...]:
    """Give the end of a row: a reply's address, that it is retained, or nothing."""
    if message.retained:
        return (True,)
    if message.to is None:
        return ()
    return (
        message.to.topic,
        None if message.to.correlation is None else message.to.correlation.hex(),
    )


def outbox_read(data: bytes) -> Waiting:
    """Decode what `outbox_json` encoded."""
    return tuple(_row_read(row) for row in json.loads(data))


def _row_read(row: list[Any]) -> QueuedMessage:
    serial, subtopic, body, expires, about, slot, *tail = row
    to = None
    retained = tail == [True]
    if tail and not retained:
        topic, correlation = tail
        to = ReturnAddress(topic, None if correlation is None else bytes.fromhex(correlation))
    message = OutgoingMessage(subtopic, body.encode(), expires, about, slot, retained, to)
    return QueuedMessage(message, serial)
