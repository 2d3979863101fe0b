"""The way of an event through all live rooms, in one direction.

    read a batch -> step the rooms -> commit -> publish -> acknowledge

Nothing is published or acknowledged before it is committed; what a reading says that holds already
was so before. What is ordered goes first: the broker waits for an acknowledgement, a room for its
order. Once it has left, the broker has the processor: the system wakes it on the one that we hold,
even while another is idle, and it would wait there until we have nothing to do any more.
A sync costs as much for many rooms as for one, so what several rooms have read in one turn of the
event loop is committed together, and with it what has fallen due in others. A room that is alone
does not wait for the turn to end, and a reading that says once more what holds waits for nothing.
"""

from __future__ import annotations

import asyncio
import os
from collections.abc import Callable, Sequence
from contextlib import suppress
from functools import partial
from time import perf_counter
from typing import Final, NamedTuple

from adapters.live.batch import Batch
from adapters.live.connection import Connection
from adapters.live.drafts import Committed
from adapters.live.equipment_left import equipment_left
from adapters.live.journal import Journal
from adapters.live.journal_file import JournalError
from adapters.live.live_room import Errand, LiveRoom
from adapters.live.session import Session

_YIELD: Final[Callable[[], None] | None] = getattr(os, "sched_yield", None)
"""Lets whoever waits for our processor run first; None: the system has no such call."""


class _Heard(NamedTuple):
    """A batch on its way, with the room that it is for and the connection that brought it."""

    room: LiveRoom
    connection: Connection
    batch: Batch
    began: float
    """When its reading began, by the performance counter (s)."""

    def write(self) -> Committed:
        """Step the room and commit; raises `JournalError`."""
        return self.room.durable.take(self.batch.messages)

    def answer(self, committed: Committed) -> None:
        """Publish."""
        self.room.send(committed)

    def acknowledge(self, committed: Committed) -> None:
        """Acknowledge what was heard, and go on, once what it led to has left."""
        self.room.go_on(committed)
        self.connection.acknowledge(self.batch)
        self.connection.write()
        waited = perf_counter() - self.began
        self.room.durable.counts.note_lag(waited, len(self.batch.messages))

    @property
    def fail(self) -> Callable[[Exception], None]:
        """What ends the connection, so that the batch comes again."""
        return self.connection.fail


class _Greeting(NamedTuple):
    """A broker that has just let a room in: what waits for it, and what is asked of the hub."""

    room: LiveRoom
    connection: Connection
    lost: bool
    """Whether messages may have been lost."""
    sent: int
    """Up to which outbox number messages have left before, taken or not."""

    def write(self) -> Committed:
        """Decide what is to be done after the gap, and commit; raises `JournalError`."""
        self.room.durable.record.outbox.note_left(self.sent)
        return self.room.durable.greeting(lost=self.lost)

    def answer(self, committed: Committed) -> None:
        """Publish it; the hub's questions are in the journal now, and the session is known."""
        self.room.greet(committed, lost=self.lost)
        if self.lost:
            self.connection.mark_session()
        self.connection.write()

    @property
    def fail(self) -> Callable[[Exception], None]:
        """What ends the connection: the next one greets anew."""
        return self.connection.fail


def _done(one: _Work, work: Callable[[], None]) -> bool:
    """Do a part of a room's work; False: it failed, and that is for this room alone to bear."""
    try:
        work()
    except Exception as error:  # noqa: BLE001 - the other rooms must hear theirs
        one.fail(error)
        context = {"message": "a room could not be told", "exception": error}
        asyncio.get_running_loop().call_exception_handler(context)
        return False
    return True


_Work = _Heard | _Greeting | Errand
"""What is written in one turn of the event loop."""


class Pipeline:
    """Leads what rooms hear into the journal, and what they decide to the broker."""

    def __init__(self, journal: Journal, *, alone: bool) -> None:
        """Wait for no other room where there is only one (`alone`)."""
        self._journal, self._alone = journal, alone
        self._turn: list[_Work] = []

    def readable(self, room: LiveRoom, session: Session) -> None:
        """Read a batch. The event loop calls this when there is something in a room's socket."""
        began, connection = perf_counter(), session.connection
        batch = None if connection is None else connection.read()
        if connection is None or batch is None:
            return
        work: list[_Work] = []
        repeats = False
        try:
            if batch.stood and room.knows_less(batch.stood):
                session.come_as(room.durable.client_name)
                return
            if self._let_know(room, connection, batch) and batch.lost is not None:
                work.append(_Greeting(room, connection, batch.lost, session.last_sent))
            if not (work or self._turn):  # else what waits there has to be heard first
                repeats = room.durable.hear_again(batch.messages)
        except JournalError as error:
            connection.fail(error)
            return
        except Exception as error:
            connection.fail(error)  # or what this batch brought would be lost, and others pass it
            raise
        if repeats:
            connection.acknowledge(batch)
            room.durable.counts.note_lag(perf_counter() - began, len(batch.messages))
        elif batch.messages:
            work.append(_Heard(room, connection, batch, began))
        if work:
            self.add(*work)
        else:
            connection.write()

    def add(self, *work: _Work) -> None:
        """Let something be written at the end of this turn, with what others write."""
        waits = bool(self._turn)
        self._turn += work
        if self._alone:
            self.finish()
        elif not waits:
            asyncio.get_running_loop().call_soon(self.finish)

    @staticmethod
    def _let_know(room: LiveRoom, connection: Connection, batch: Batch) -> bool:
        """Let a room know what the broker says of the connection; False: it has stepped back."""
        room.taken(batch.taken)
        if batch.refused_for_now:
            room.say_again_later()
        if batch.muted != room.durable.record.outbox.muted:
            room.durable.record.outbox.muted = batch.muted
            room.say_alive()
        if batch.entered:
            room.durable.connected()
        for left in equipment_left(batch.stood, room.durable):
            room.publish(room.durable.hear(left))
        if batch.alive and room.is_kept_elsewhere(batch.alive):
            connection.step_back(kept_elsewhere=True)
            return False
        return True

    def finish(self) -> None:
        """Step, commit, publish and acknowledge what was read in this turn."""
        turn, self._turn = self._turn, []
        committed = self._step_and_commit(turn)
        if committed is None:
            return
        answered = [
            (one, outcome)
            for one, outcome in zip(turn, committed, strict=True)
            if _done(one, partial(one.answer, outcome))
        ]
        if _YIELD is not None and any(outcome.messages for outcome in committed):
            with suppress(OSError):  # where it is forbidden, everything goes on as without it
                _YIELD()
        for one, outcome in answered:
            if isinstance(one, _Heard):
                _done(one, partial(one.acknowledge, outcome))

    def _step_and_commit(self, turn: Sequence[_Work]) -> list[Committed] | None:
        """Give what came of each; None: it cannot be kept, and no room has heard anything."""
        # Each commits as it is written, or goes back; of many rooms, all do as the block ends.
        many = len(turn) > 1
        savepoints = [one.room.durable.savepoint() for one in turn] if many else []
        try:
            if not many:
                return [turn[0].write()]
            with self._journal.together():
                return [one.write() for one in turn]
        except Exception as error:
            for one, savepoint in zip(turn, savepoints, strict=many):
                one.room.durable.roll_back(savepoint)
            for room in dict.fromkeys(one.room for one in turn):
                room.say_alive()
            for fail in dict.fromkeys(one.fail for one in turn):  # a connection fails once
                fail(error)
            if not isinstance(error, JournalError):
                raise
            return None
