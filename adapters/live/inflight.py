"""Messages on their way to the broker: queued, in flight, acknowledged. No socket is known here.

The client library never sends anything again: each connection begins with an empty window, and
what the broker had not acknowledged comes out of the journal's outbox.
"""

from __future__ import annotations

from collections import deque
from typing import Final

from adapters.live.messages import OutgoingMessage, QueuedMessage

MOST_IN_FLIGHT: Final = 20
"""Messages that may be unacknowledged at once, or fewer if the broker says so."""
MOST_QUEUED: Final = 1_000
"""While the broker stalls, no more messages than this wait that the journal does not keep."""


class InflightWindow:
    """What one connection has still to send, and what the broker has not acknowledged yet."""

    def __init__(self) -> None:
        self.most = MOST_IN_FLIGHT
        self._queued: deque[QueuedMessage] = deque()
        self._in_flight: dict[int, QueuedMessage] = {}
        """By packet id."""
        self._serials: set[int] = set()
        """Outbox numbers of all that is queued or in flight."""

    @property
    def empty(self) -> bool:
        """Whether the broker has acknowledged all that was sent."""
        return not self._in_flight

    def takes(self, said: OutgoingMessage, serial: int | None) -> bool:
        """Tell whether a message may be queued: not twice, and not behind too many others."""
        if serial is not None:
            return serial not in self._serials
        return said.retained or len(self._queued) < MOST_QUEUED

    def queue(self, word: QueuedMessage) -> None:
        """Queue a message in place of those that it outdates."""
        outdated = [one for one in self._queued if word.said.outdates(one.said)]
        for one in outdated:
            self._queued.remove(one)
            self._forget(one)
        self._queued.append(word)
        if word.serial is not None:
            self._serials.add(word.serial)

    def next(self, now: int) -> QueuedMessage | None:
        """Take the next message to send at `now` (ms UTC); None: none waits, or the window is full.

        What has ended meanwhile is dropped.
        """
        while self._queued and len(self._in_flight) < self.most:
            word = self._queued.popleft()
            if word.said.ends is None or word.said.ends > now:
                return word
            self._forget(word)
        return None

    def sent(self, packet: int, word: QueuedMessage) -> None:
        """Note that a message is in flight under a packet id."""
        self._in_flight[packet] = word

    def acknowledge(self, packet: int) -> QueuedMessage | None:
        """Take a message out of the window; None: it was acknowledged before."""
        word = self._in_flight.pop(packet, None)
        if word is not None:
            self._forget(word)
        return word

    def holds(self, packet: int) -> bool:
        """Tell whether a packet id is in flight."""
        return packet in self._in_flight

    def drop_queue(self) -> None:
        """Send nothing more of what waits."""
        self._queued.clear()

    def _forget(self, word: QueuedMessage) -> None:
        if word.serial is not None:
            self._serials.discard(word.serial)
