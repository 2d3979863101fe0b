"""The outbox of one room: what waits for the broker now, and what the journal has of it."""

from __future__ import annotations

from typing import NamedTuple

from adapters.live.messages import OutgoingMessage, QueuedMessage
from adapters.live.outbox import (
    Waiting,
    clock_followed,
    next_serial,
    outbox_json,
    unexpired,
    unsent_orders,
    with_message,
    without_expired,
    without_message,
)


class OutboxMark(NamedTuple):
    """How an outbox stands, to go back to."""

    waiting: Waiting
    written: Waiting


class RoomOutbox:
    """What of a room waits for the broker; whoever changes it writes it down later."""

    def __init__(self, waiting: Waiting) -> None:
        """Begin with what is waiting in the journal."""
        self._waiting = self._written = waiting
        self.next_serial = next_serial(waiting)
        """The number of the next message; it only rises, so that none is given twice."""
        self.has_dropped = False
        """Whether messages were dropped that nobody has taken, since it was written as a whole."""

    @property
    def waiting(self) -> Waiting:
        """What waits, oldest first."""
        return self._waiting

    @property
    def is_written(self) -> bool:
        """Whether the journal has it as it stands."""
        return self._waiting == self._written

    def put(self, message: OutgoingMessage) -> QueuedMessage:
        """Let a message wait, if it is one that is kept."""
        if not message.kept:
            return QueuedMessage(message)
        queued, self.next_serial = QueuedMessage(message, self.next_serial), self.next_serial + 1
        self._waiting = with_message(self._waiting, queued)
        return queued

    def take_unsent(self, now: int) -> tuple[str, ...]:
        """Drop what has ended by `now` (ms UTC), and say what the orders among it are for."""
        unsent = unsent_orders(self._waiting, now)
        self._keep(unexpired(self._waiting, now))
        return unsent

    def drop_expired(self, now: int) -> Waiting:
        """Drop what has expired by `now` (ms UTC), and give what may still be sent.

        Orders that have ended stay, for they are to be given again.
        """
        self._keep(without_expired(self._waiting, now))
        return unexpired(self._waiting, now)

    def _keep(self, waiting: Waiting) -> None:
        if len(waiting) < len(self._waiting):
            self._waiting, self.has_dropped = waiting, True

    def sent(self, serial: int) -> None:
        """Note that the broker has taken a message."""
        self._waiting = without_message(self._waiting, serial)

    def follow_clock(self, by: int) -> None:
        """Move every end by so many ms: the clock was set, and a chapter with this is written."""
        self._waiting = self._written = clock_followed(self._waiting, by)

    def as_json(self) -> bytes:
        """Encode what waits for the journal."""
        return outbox_json(self._waiting)

    def note_written(self) -> None:
        """Note that the journal has it as it stands."""
        self._written = self._waiting

    def mark(self) -> OutboxMark:
        """Remember how it stands, for `go_back`."""
        return OutboxMark(self._waiting, self._written)

    def go_back(self, mark: OutboxMark) -> None:
        """Stand as before; numbers that were given since are not given again."""
        self._waiting, self._written = mark
