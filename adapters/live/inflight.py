"""Messages on their way to the broker: queued, in flight, acknowledged. Without any socket.

The client library never sends a message again. Each connection begins with an empty window, and
the messages without an acknowledgement are sent again from the journal's outbox.
"""

from __future__ import annotations

from collections import deque
from typing import Final

from adapters.live.messages import OutgoingMessage, QueuedMessage
from adapters.live.redating import redated

MOST_IN_FLIGHT: Final = 20
"""How many messages may be in flight at once; the broker may allow fewer."""
MOST_QUEUED: Final = 1_000
"""While the broker stalls, messages that are not in the outbox are queued up to this number."""
LARGEST_PACKET: Final = 1 << 28
"""Bytes; no packet is larger (MQTT 5.0, 2.1.4), and the broker may ask for less."""
PACKET_OVERHEAD: Final = 32
"""Bytes of a packet that are neither topic nor payload, at most."""


class InflightWindow:
    """The messages that a connection has queued, and those that are in flight."""

    def __init__(self) -> None:
        self.most = MOST_IN_FLIGHT
        self._queued: deque[QueuedMessage] = deque()
        self._in_flight: dict[int, QueuedMessage] = {}
        """By packet id."""
        self._serials: set[int] = set()
        """Outbox numbers of all that is queued or in flight."""
        self.last_sent = 0
        """The highest outbox number that was ever in flight."""
        self.came_late = False
        """Whether something of the outbox has ended before the broker had room for it."""

    @property
    def waits(self) -> bool:
        """Whether anything is queued."""
        return bool(self._queued)

    @property
    def empty(self) -> bool:
        """Whether nothing is in flight; messages may still be queued."""
        return not self._in_flight

    def takes(self, message: OutgoingMessage, serial: int | None) -> bool:
        """Tell whether a message may be queued.

        A message of the outbox must not be queued already. Another one needs room in the queue, or
        must be retained.
        """
        if serial is not None:
            return serial not in self._serials
        return message.retained or len(self._queued) < MOST_QUEUED

    def queue(self, queued: QueuedMessage) -> None:
        """Queue a message, and drop the queued messages that it outdates."""
        outdated = [one for one in self._queued if queued.message.outdates(one.message)]
        for one in outdated:
            self._queued.remove(one)
            self._forget(one)
        self._queued.append(queued)
        if queued.serial is not None:
            self._serials.add(queued.serial)

    def next(self, now: int) -> QueuedMessage | None:
        """Take the next message to send from the queue, and drop those that have expired.

        `now` is in ms UTC. None: nothing is queued, or the window is full.
        """
        while self._queued and len(self._in_flight) < self.most:
            queued = self._queued.popleft()
            if queued.message.expires is None or queued.message.expires > now:
                return queued
            self._forget(queued)
            self.came_late = self.came_late or queued.serial is not None
        return None

    def sent(self, packet: int, queued: QueuedMessage) -> None:
        """Note that a message is in flight under a packet id."""
        self._in_flight[packet] = queued
        self.last_sent = max(self.last_sent, queued.serial or 0)  # a reply may come after orders

    def acknowledge(self, packet: int) -> QueuedMessage | None:
        """Take a message out of the window; None: it was already acknowledged."""
        queued = self._in_flight.pop(packet, None)
        if queued is not None:
            self._forget(queued)
        return queued

    def holds(self, packet: int) -> bool:
        """Tell whether a packet id is in flight."""
        return packet in self._in_flight

    def follow_clock(self, by: int) -> None:
        """Let what is queued be worth sending for as long as before: the clock was set `by` ms."""
        self._queued = deque(redated(queued, by) for queued in self._queued)

    def drop_queue(self) -> None:
        """Drop everything that is queued."""
        self._queued.clear()

    def _forget(self, queued: QueuedMessage) -> None:
        if queued.serial is not None:
            self._serials.discard(queued.serial)
