"""The outbox of one room: what waits for the broker now, and what the journal has of it.

A reply that is owed is put into words as soon as anybody looks at what waits, and no sooner.
"""

from __future__ import annotations

from collections.abc import Iterable

from adapters.live.messages import OutgoingMessage, QueuedMessage
from adapters.live.outbox import (
    Waiting,
    next_serial,
    outbox_json,
    unexpired,
    unsent_orders,
    with_message,
    without_expired,
    without_message,
    without_unsent,
)
from adapters.live.redating import redated
from adapters.live.reply_messages import OwedReply
from engine.outcomes import PROMPT
from engine.prompts import is_warned
from engine.state import Core, State

OutboxMark = tuple[Waiting, Waiting, tuple[OwedReply, ...], Waiting]
"""How an outbox stands, to go back to."""


class RoomOutbox:
    """What of a room waits for the broker; whoever changes it writes it down later."""

    def __init__(self, waiting: Waiting, *, as_at_start: bool) -> None:
        """Begin with what is waiting in the journal; `as_at_start`: since before the machine's."""
        self._waiting = self._written = waiting
        self.next_serial = next_serial(waiting)
        """The number of the next message; it only rises, so that none is given twice."""
        self._left = self.next_serial - 1
        """Up to this number a message may have left, taken or not: so may all of an earlier run."""
        self._earlier = self._left if as_at_start else 0
        """Up to this number a message has waited since before the machine's start, for certain."""
        self.has_dropped = False
        """Whether messages were dropped that nobody has taken, since it was written as a whole."""
        self.muted: tuple[tuple[str, str], ...] = ()
        """Topics on which the broker takes nothing from the room, and why."""
        self._owed: tuple[OwedReply, ...] = ()
        """The replies that are not in words yet; to the journal they wait already."""
        self._unsaid: Waiting = ()
        """The replies that nobody has fetched yet, to send them."""

    @property
    def waiting(self) -> Waiting:
        """What waits, oldest first."""
        if self._owed:
            self._put_owed()
        return self._waiting

    @property
    def is_written(self) -> bool:
        """Whether the journal has it as it stands."""
        return self.waiting == self._written

    def owe(self, replies: Iterable[OwedReply]) -> None:
        """Let replies wait, once what is owed already is in words."""
        self._owed = (*self._owed, *replies)

    def replies(self) -> Waiting:
        """Give the replies that are to be sent; each is given once."""
        if self._owed:
            self._put_owed()
        unsaid, self._unsaid = self._unsaid, ()
        return unsaid

    def _put_owed(self) -> None:
        owed, self._owed = self._owed, ()
        for one in owed:
            queued = QueuedMessage(one.message(), self.next_serial)
            self.next_serial += 1
            self._waiting = with_message(self._waiting, queued)
            self._written = with_message(self._written, queued)
            self._unsaid = (*self._unsaid, queued)

    def put(self, message: OutgoingMessage) -> QueuedMessage:
        """Let a message wait, if it is one that is kept."""
        if not message.kept:
            return QueuedMessage(message)
        waiting = self.waiting  # with what is owed, which has its numbers first
        queued, self.next_serial = QueuedMessage(message, self.next_serial), self.next_serial + 1
        self._waiting = with_message(waiting, queued)
        return queued

    def take_back(self, message: OutgoingMessage) -> bool:
        """Put a message that takes an order back; tells whether that order has never left."""
        waited = any(
            one.message.about == message.about and (one.serial or 0) > self._left
            for one in self.waiting
        )
        self.put(message)
        return waited

    def note_left(self, serial: int) -> None:
        """Note up to which number messages have been handed on, taken or not."""
        self._left = max(self._left, serial)

    def take_unsent(self, now: int, after_gap: State | None = None) -> tuple[str, ...]:
        """Drop what has ended by `now` (ms UTC), and say what the orders among it are for.

        Beside them, name the cues that have failed in a State after a gap, and are not open again,
        and the prompt where nobody is warned yet.
        """
        unsent = unsent_orders(self.waiting, now)
        failed: tuple[str, ...] = ()
        if after_gap is not None and self.warning_waits(after_gap.core):
            unsent = (*unsent, PROMPT)
        self._keep(without_unsent(self._waiting, now))
        if after_gap is not None:
            is_open = {cue.cue for cue in after_gap.core.open_cues}
            failed = tuple(one for one in after_gap.tally.failed_cues if one not in is_open)
        return tuple(dict.fromkeys((*unsent, *(f"cue {one}" for one in failed))))

    def take_lost(self, now: int, state: State) -> tuple[str, ...]:
        """Do what `take_unsent` does, where messages were lost; name open cues that have left too.

        What became of these may be lost as well.
        """
        unsent = self.take_unsent(now, state)
        waits = {one.message.about for one in self.waiting if (one.serial or 0) > self._left}
        lost = (f"cue {one.cue}" for one in state.core.open_cues if one.id not in waits)
        return tuple(dict.fromkeys((*unsent, *lost)))

    def warning_waits(self, core: Core) -> bool:
        """Tell whether whoever is at the screen has not heard yet that the light comes back."""
        asked = core.asked
        if asked is None or not is_warned(core, asked):
            return False
        return any(one.message.about == asked.id for one in self.waiting)

    def drop_expired(self, now: int) -> None:
        """Drop what has expired by `now` (ms UTC).

        Orders that have ended stay, for they are to be given again, and so does an open prompt.
        """
        if self.waiting:
            self._keep(without_expired(self._waiting, now))

    def worth_sending(self, now: int) -> Waiting:
        """Give what waits and has not expired by `now` (ms UTC)."""
        return unexpired(self.waiting, now)

    def _keep(self, waiting: Waiting) -> None:
        if len(waiting) < len(self._waiting):
            self._waiting, self.has_dropped = waiting, True

    def drop_all(self) -> None:
        """Drop everything: whoever goes on knows nothing of it."""
        self._owed, self._unsaid = (), ()
        self._keep(())

    def sent(self, serial: int) -> None:
        """Note that the broker has taken a message."""
        self._waiting = without_message(self.waiting, serial)

    def follow_clock(self, by: int, moves: int) -> None:
        """Move every end `by` so many ms: the clock was set, and a chapter with this is written.

        What has waited since before the machine's start `moves` by less where that time has passed
        unseen.
        """
        self._waiting = self._written = tuple(
            redated(one, moves if (one.serial or 0) <= self._earlier else by)
            for one in self.waiting
        )

    def as_json(self) -> bytes:
        """Encode what waits for the journal."""
        return outbox_json(self.waiting)

    def note_written(self) -> None:
        """Note that the journal has it as it stands."""
        self._written = self._waiting

    def mark(self) -> OutboxMark:
        """Remember how it stands, for `go_back`."""
        return self._waiting, self._written, self._owed, self._unsaid

    def go_back(self, mark: OutboxMark) -> None:
        """Stand as before; numbers that were given since are not given again."""
        self._waiting, self._written, self._owed, self._unsaid = mark
