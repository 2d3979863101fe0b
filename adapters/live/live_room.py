"""A live room on the event loop: its deadlines, and what it says to whoever carries its messages.

`DurableRoom` does the work; `LiveRoom` decides when, and publishes what came of it.
"""

from __future__ import annotations

import asyncio
import math
from collections.abc import Callable, Iterable, Sequence
from typing import Final, NamedTuple, Protocol

from structlog.typing import FilteringBoundLogger

from adapters.live.announcements import (
    ALIVE_HOLDS,
    KEPT_TWICE_WORDS,
    OLDER_COPY_WORDS,
    TWIN_WORDS,
    Condition,
    Keeper,
    ailments,
    alive_message,
    keeper_read,
    refusal_message,
)
from adapters.live.clock import clock_words
from adapters.live.drafts import Committed
from adapters.live.durable_room import DurableRoom
from adapters.live.journal_file import JournalError
from adapters.live.log import log_decisions, log_refusal
from adapters.live.messages import (
    OutgoingMessage,
    QueuedMessage,
    decision_data,
    question_message,
    reason_message,
    rfc3339,
)
from adapters.live.metrics import room_metrics_text
from adapters.live.people_left import PEOPLE_LEFT_WORDS, people_known, people_left
from engine.people_at_work import NOBODY

RETRY_AFTER: Final = 5.0
"""Seconds after which what could not be written or sent is tried again."""
RENEW_EVERY: Final = 60.0
"""Seconds within which orders that a slow disk has held up are given anew at once but once."""
LONGEST_SLEEP: Final = 3_600.0
"""Seconds; no timer waits longer, so that a clock that was set is noticed."""
ALIVE_EVERY: Final = ALIVE_HOLDS / 3
"""Seconds between two words that roomcue is there; one may be lost with a connection."""
FLUSH_AFTER: Final = 0.25
"""Seconds for which what the broker has taken may wait to be written down."""
FURTHEST_AHEAD: Final = 86_400_000
"""Whoever says that it began further ahead than this (ms) keeps no room: clocks differ by less."""
EXPLAIN_AFTER: Final = 0.002
"""Seconds without an order before what explains it: at once, it would hold up who hands it on."""
EXPLAIN_AT_LATEST: Final = 0.01
"""Seconds for which that waits at most, where one order follows another."""
MOST_UNEXPLAINED: Final = 6
"""So many may wait: with what explains more of them, the broker would have no room for an order."""


class Outlet(Protocol):
    """Who carries messages out of a room."""

    may_explain_later: bool
    """Whether what explains an order may come a moment after it."""

    @property
    def last_sent(self) -> int:
        """Say up to which outbox number messages have left that may wait to be taken."""

    def say(self, said: OutgoingMessage, serial: int | None) -> None:
        """Send a message; one with a `serial` waits in the outbox until `taken` is told so."""

    def write(self) -> None:
        """Hand on what was said so far."""

    def follow_clock(self, by: int) -> None:
        """Let what has not left yet be worth sending for as long as before: the clock was set."""


class Errand(NamedTuple):
    """What a room writes by itself: what has fallen due, or what the broker has taken."""

    room: LiveRoom
    write: Callable[[], Committed]
    """Writes it; raises `JournalError`."""
    fail: Callable[[Exception], None]
    """Called when it could not be written, and nothing has happened."""

    def answer(self, committed: Committed) -> None:
        """Go on once it is committed."""
        self.room.publish(committed)


def _do_at_once(errand: Errand) -> None:
    """Write what a room writes by itself, and go on."""
    try:
        committed = errand.write()
    except JournalError as error:
        errand.fail(error)
    else:
        errand.answer(committed)


class LiveRoom:
    """A room on the running event loop."""

    def __init__(
        self,
        durable: DurableRoom,
        log: FilteringBoundLogger,
        outlet: Outlet | None = None,
        unproven: str | None = None,
    ) -> None:
        self.durable, self.log, self.outlet = durable, log, outlet
        self.unproven = unproven
        """The text of a room file that nobody has proven; one that comes as a message is proven."""
        self.proposed = asyncio.Event()
        """Set when a room file has come as a message and is to be checked."""
        self.file_waits = False
        """Whether a room file waits to be judged and taken; what is proven is the one in force."""
        self.greeted = asyncio.Event()
        """Set once the room has said how it stands to a broker or a reader."""
        self.in_turn: Callable[[Errand], None] = _do_at_once
        """Does what the room writes by itself; with many rooms, together with what others write."""
        self.since = durable.now()
        self._answered: Keeper | None = None
        """The other roomcue told last who keeps the room: else two that stay would never end."""
        self._due: int | None = None
        self._unexplained: list[Committed] = []
        self._explain_by = 0.0
        """When what waits to be explained is explained at the latest (s of the event loop)."""
        self._renewed_at = -math.inf
        """When orders were last given anew for a slow disk, by the event loop's clock (s)."""
        self._timers: dict[Callable[[], None], asyncio.TimerHandle] = {}
        """What is to be called later; each function at most once."""

    def begin(self) -> None:
        """Take the room up again and arm its deadlines."""
        self.publish(self.durable.resume())
        self._say_alive()

    def end(self) -> None:
        """Stop the deadlines, and leave nothing unexplained."""
        self._explain()
        for timer in self._timers.values():
            timer.cancel()
        self._timers.clear()

    # ---------------------------------------------------------------------------- what is said

    def publish(self, committed: Committed) -> None:
        """Send what came of something, and go on."""
        self.send(committed)
        self.go_on(committed)

    def send(self, committed: Committed) -> None:
        """Send what came of something."""
        if committed.set_by:
            self._clock_was_set(committed.set_by)
        if self.outlet is not None:
            # Replies wait a moment, for an order leaves first.
            said = committed.messages or self.durable.record.outbox.replies()
            for queued in said:
                self.outlet.say(*queued)
            for to in committed.curious:
                self.outlet.say(self.durable.state(to), None)
            if said or committed.curious:
                self.outlet.write()

    def go_on(self, committed: Committed) -> None:
        """Arm the next deadline, and explain soon what was sent."""
        self.arm()
        if committed.messages:
            self._renew_soon(committed)
        if committed.proposal is not None:
            self.proposed.set()
        if committed.moved or committed.decisions or committed.refusals:
            self._unexplained.append(committed)
            self._explain_soon()

    def _clock_was_set(self, by: int) -> None:
        """Say anew what names moments: what waits, what is asked, and that the room is alive."""
        self.since += by
        self.log.warning("clock was set", seconds=by / 1_000, words=clock_words(by))
        if self.outlet is not None:
            self.outlet.follow_clock(by)
        asked = self.durable.ask_again(lost=True)
        if asked is not None:
            self.say(asked)
        self.say(self.alive())

    def _renew_soon(self, committed: Committed) -> None:
        """Let orders be given anew that have ended before they could be sent: the disk was slow."""
        ends = [queued.message.expires for queued in committed.messages]
        earliest = min((end for end in ends if end is not None), default=None)
        if earliest is None or self._renew in self._timers:
            return
        if earliest <= self.durable.now():
            again = asyncio.get_running_loop().time() - self._renewed_at < RENEW_EVERY
            self._later(RETRY_AFTER if again else 0, self._renew)

    def _renew(self) -> None:
        self._renewed_at = asyncio.get_running_loop().time()
        try:
            self.publish(self.durable.renew())
        except JournalError as error:
            self._warn(error, again_in=RETRY_AFTER)
            self._later(RETRY_AFTER, self._renew)

    def _explain_soon(self) -> None:
        """Explain once nothing follows for a moment, and soon in any case: orders go first."""
        if self.outlet is None or not self.outlet.may_explain_later:
            self._explained()
            return
        waiting, now = len(self._unexplained), asyncio.get_running_loop().time()
        if waiting == 1:
            self._explain_by = now + EXPLAIN_AT_LATEST
        elif now >= self._explain_by:
            return  # Its timer is due; armed anew, it would never come to it while there is more.
        if waiting > MOST_UNEXPLAINED:
            self._explain_by = now
        self._later(min(EXPLAIN_AFTER, self._explain_by - now), self._explained)

    def _explained(self) -> None:
        self._explain()
        if self.outlet is not None:
            self.outlet.write()

    def _explain(self) -> None:
        """Say and log why, what was not taken, and how things stand now."""
        unexplained, self._unexplained = self._unexplained, []
        said = [*self.durable.record.outbox.replies()]
        catalogue, now = self.durable.room.catalogue, self.durable.now()
        at = rfc3339(now)
        for one in unexplained:
            decisions = [*map(decision_data, one.decisions)]
            said += map(QueuedMessage, map(reason_message, decisions))
            log_decisions(self.log, decisions)
            for refusal in one.refusals:
                said.append(QueuedMessage(refusal_message(catalogue, refusal, now)))
                log_refusal(self.log, at, *refusal)
        standing = self.durable.standing() if any(one.moved for one in unexplained) else None
        if standing is not None:
            said.append(QueuedMessage(standing))
        if self.outlet is not None:
            for queued in said:
                self.outlet.say(*queued)

    def say(self, said: OutgoingMessage) -> None:
        """Send one message that nothing waits for."""
        if self.outlet is not None:
            self.outlet.say(said, None)
            self.outlet.write()

    def greet(self, greeting: Committed, *, lost: bool) -> None:
        """Say a greeting that is committed, and how things stand.

        The hub is asked for everything if messages are `lost`.
        """
        self._cancel(self._say_again)
        self.publish(greeting)
        if not lost:
            self.say(question_message(self.durable.now()))  # Readings are lost in every gap.
        asked = self.durable.ask_again(lost=lost)
        if asked is not None:
            self.say(asked)
        self._say_standing()
        self.say(self.alive())
        self.greeted.set()

    def say_again_later(self) -> None:
        """Say what still waits once more, after a while: some of it was not taken."""
        if self._say_again not in self._timers:
            self._later(RETRY_AFTER, self._say_again)

    def _say_again(self) -> None:
        try:
            self.publish(Committed(self.durable.record.waiting()))
            self.publish(self.durable.renew())
        except JournalError as error:
            self._warn(error, again_in=RETRY_AFTER)
            self.say_again_later()
            return
        self._say_standing()

    def _say_standing(self) -> None:
        standing = self.durable.standing(again=True)
        if standing is not None:
            self.say(standing)

    def is_kept_elsewhere(self, heard: Iterable[bytes]) -> bool:
        """Tell whether another roomcue keeps this room, by what it has `heard` of being alive.

        Whoever began later keeps it; nobody begins in days to come. After any other word the room
        says again that it is here: the last will of a connection that is over came late, or the
        other one is to hear of it.
        """
        # A broker that knows no "no local" lets us hear ourselves: answered, that never ends.
        own = self.durable.identity.run
        others = [one for one in map(keeper_read, heard) if one is None or one.run != own]
        if any(one is not None and self._keeps_since(one) for one in others):
            return True
        if any(one is None or one != self._answered for one in others):
            self._answer([one for one in others if one is not None])
        return False

    def _keeps_since(self, other: Keeper) -> bool:
        """Tell whether another one has begun later, though not in days to come."""
        return rfc3339(self.since) < other.since <= self._furthest_ahead()

    def _furthest_ahead(self) -> str:
        return rfc3339(self.durable.now() + FURTHEST_AHEAD)

    def _answer(self, others: list[Keeper]) -> None:
        """Say that the room is kept here, and warn of whoever cannot have begun yet."""
        self._answered = others[-1] if others else self._answered
        for one in others:
            if one.since > self._furthest_ahead():
                self.log.warning("kept twice", words=KEPT_TWICE_WORDS.format(since=one.since))
        self.say(self.alive())

    def knows_less(self, stood: Sequence[bytes]) -> bool:
        """Tell whether the journal knows less than the broker, by what that has retained.

        It is an older copy, or one of two, or new while people are at work. Then the room begins
        anew, and comes to the broker as somebody else. Raises `JournalError`.
        """
        durable, given = self.durable, self.durable.engine.state.tally.serial
        elsewhere = durable.identity.last_id_elsewhere(stood, given)
        known = people_known(durable.engine.state.core)
        people = people_left(stood, durable, is_copy=elsewhere is not None)
        if elsewhere is None and people == known:
            return False
        durable.begin_anew(elsewhere or 0, people)
        why = "" if elsewhere is None else OLDER_COPY_WORDS if elsewhere else TWIN_WORDS
        left = PEOPLE_LEFT_WORDS if people not in (NOBODY, known) else ""
        self.log.warning("begins anew", words=f"{why} {left}".strip())
        return True

    def alive(self) -> OutgoingMessage:
        """Say that roomcue is there, and what it has counted for this room."""
        journal, muted = self.durable.record.journal, self.durable.record.outbox.muted
        condition = Condition(
            since=self.since,
            proven=self.durable.room.text != self.unproven,
            file_waits=self.file_waits,
            epoch=self.durable.identity.epoch,
            run=self.durable.identity.run,
            faults=ailments(
                self.durable.room.catalogue, journal.fault, journal.damage, muted, full=journal.full
            ),
            metrics=room_metrics_text(self.durable),
        )
        return alive_message(self.durable.now(), condition)

    def note_file(self, *, waits: bool) -> None:
        """Say at once that another room file waits to take this one's place, or no longer does."""
        if waits != self.file_waits:
            self.file_waits = waits
            self.say_alive()

    def say_alive(self) -> None:
        """Say at once that roomcue is there and what is wrong with it, for that has changed."""
        self.say(self.alive())

    def _say_alive(self) -> None:
        self.say_alive()
        self._later(ALIVE_EVERY, self._say_alive)

    # ----------------------------------------------------------------------- what the broker has

    def taken(self, serials: Iterable[int]) -> None:
        """Note what the broker has taken; it is written down in a moment."""
        for serial in serials:
            self.durable.record.sent(serial)
            if self._flush_in_turn not in self._timers:
                self._later(FLUSH_AFTER, self._flush_in_turn)

    def _flush_in_turn(self) -> None:
        self.in_turn(Errand(self, self._flushed, self._warn))

    def _flushed(self) -> Committed:
        self.durable.record.flush()
        return Committed()

    def flush(self) -> None:
        """Write down what the broker has taken."""
        try:
            self.durable.record.flush()
        except JournalError as error:
            self._warn(error)

    # -------------------------------------------------------------------------------- deadlines

    def arm(self, *, anew: bool = False) -> None:
        """Wake up when something is due; `anew`: the clock may have been set meanwhile."""
        due = self.durable.deadline
        if due == self._due and self._wake in self._timers and not anew:
            return
        self._cancel(self._wake)
        self._due = due
        if due is not None:
            wait = min(self.durable.record.clock.seconds_until(due), LONGEST_SLEEP)
            self._later(wait, self._wake)

    def look_at_clock(self) -> None:
        """Do what is due by a clock that was set, or that went on while the machine slept."""
        self._cancel(self._wake)
        self._wake()

    def stood_still(self) -> None:
        """Ask the hub what roomcue has missed while it stood still."""
        self.in_turn(Errand(self, self.durable.stood_still, self._ask_later))

    def _ask_later(self, error: Exception) -> None:
        self._warn(error, again_in=RETRY_AFTER)
        self._later(RETRY_AFTER, self.stood_still)

    def _wake(self) -> None:
        self._due = None
        self.in_turn(Errand(self, self.durable.pass_time, self._wake_again))

    def _wake_again(self, error: Exception) -> None:
        self._warn(error, again_in=RETRY_AFTER)
        self._later(RETRY_AFTER, self._wake)

    def _later(self, seconds: float, work: Callable[[], None]) -> None:
        """Call a function later, once, whatever was said before; it may call for itself again."""
        self._cancel(work)

        def call() -> None:
            del self._timers[work]
            work()

        self._timers[work] = asyncio.get_running_loop().call_later(seconds, call)

    def _cancel(self, work: Callable[[], None]) -> None:
        timer = self._timers.pop(work, None)
        if timer is not None:
            timer.cancel()

    def _warn(self, error: Exception, **more: float) -> None:
        of_journal = isinstance(error, JournalError)
        what = "journal cannot be written" if of_journal else "what was due cannot be kept"
        self.log.warning(what, why=str(error), **more)
        self.say_alive()
