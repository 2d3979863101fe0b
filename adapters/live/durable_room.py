"""One live room: its engine, its lines in the journal, and what waits for the broker.

Everything here is done at once or not at all: step, commit, and only then send. A page that
cannot be written leaves the room as it stood, and whoever brought the messages keeps them.

The State in the journal is always that of its last line. Time that passes without a decision
writes nothing, so a restart and a replay both go on from that line.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Final
from zoneinfo import ZoneInfo

from adapters.live.chapters import TakenUp, chapter_of, fitting_state, looks_at_time
from adapters.live.drafts import Committed, Draft, Savepoint
from adapters.live.journal import Journal
from adapters.live.journal_rows import JournalLine, Opening, Page
from adapters.live.messages import (
    PEOPLES_TOPICS,
    STATE_TOPIC,
    InboundMessage,
    NewRoom,
    OutgoingMessage,
    QueuedMessage,
    StateAsked,
    errands_of,
    question_message,
    read_message,
)
from adapters.live.receipts import Receipts, receipts_bytes, with_receipts
from adapters.live.reply_messages import (
    reply_data,
    reply_message,
    reply_to_event,
    response,
    unread_data,
)
from adapters.live.retained_facts import RetainedFacts
from adapters.live.return_address import ReturnAddress
from adapters.live.room_clock import ClockSet
from adapters.live.room_outbox import RoomOutbox
from adapters.live.room_totals import Counts
from adapters.live.standing import (
    StandingTold,
    standing_for_asker,
    standing_message,
    what_is_asked,
)
from engine import RoomEngine
from engine.clock_step import with_clock_set
from engine.events import (
    Event,
    Reading,
    Resumed,
    Service,
    SourceChosen,
    TimeOfDay,
    event_json,
)
from engine.refusal import Refused
from engine.replies import PEOPLES_EVENTS
from engine.room import Room
from engine.snapshot import encode, first_foreign_name
from engine.state import State, night_at

STOOD_STILL: Final = 2_000
"""So late may a timer be noticed (ms); later than that, roomcue or the machine stood still."""


class DurableRoom:
    """A room whose every step is in the journal before anybody hears of it."""

    def __init__(self, journal: Journal, begun: TakenUp, version: str) -> None:
        self.room: Room = begun.room
        self.engine = RoomEngine(begun.room, begun.state)
        self.counts = Counts()
        self._first = begun.first
        self.journal, self.clock, self._version = journal, begun.clock, version
        self._id, self._night = begun.id, begun.night
        self.client, self.epoch = begun.client, begun.epoch
        self._given = begun.given
        self._state = encode(begun.state)
        self._told = StandingTold()
        self._outbox = RoomOutbox(begun.waiting)
        self._receipts: Receipts = ()
        self._earlier = begun.receipts
        """Receipts of this connection, and of the last one before it that brought messages."""
        self._facts = RetainedFacts()
        self._zone = ZoneInfo(begun.room.time_zone)
        self._looks_at_time = looks_at_time(begun.room)

    # ------------------------------------------------------------------------- what comes in

    @property
    def deadline(self) -> int | None:
        """When `pass_time` has something to do, in ms UTC."""
        minute = self.clock.next_minute() if self._looks_at_time else None
        due = (self.engine.deadline, self._facts.deadline, minute)
        return min((one for one in due if one is not None), default=None)

    def now(self) -> int:
        """Say the time in ms UTC."""
        return self.clock.now()

    def seconds_until(self, moment: int) -> float:
        """Say how many seconds of the event loop pass up to a moment (ms UTC)."""
        return self.clock.seconds_until(moment)

    def resume(self) -> Committed:
        """Take up the room again after a stop; raises `JournalError`, as all of these do."""
        if self._first:
            return Committed()
        with self._committing() as draft:
            self._resume(draft)
        return self._committed(draft)

    def take(self, messages: Sequence[InboundMessage]) -> Committed:
        """Take messages in their order; where it raises, nothing has happened."""
        with self._committing() as draft:
            self._catch_up(draft)
            for message in messages:
                self._hear(message, draft)
        return self._committed(draft)

    def hear(self, event: Event) -> Committed:
        """Take one event that is no message."""
        with self._committing() as draft:
            self._catch_up(draft)
            self._step(event, draft)
        return self._committed(draft)

    def pass_time(self) -> Committed:
        """Fire the timers that have fallen due."""
        with self._committing() as draft:
            self._catch_up(draft)
            self._wake(draft)
        return self._committed(draft)

    def connected(self) -> None:
        """Note that the next messages come over another connection than those before."""
        self._facts.clear()
        if self._receipts:
            self._earlier, self._receipts = self._receipts, ()

    def lost(self) -> Committed:
        """Note that messages were lost: what moved meanwhile is not known, and the hub is asked."""
        with self._committing() as draft:
            self._resume(draft, unsent=self._outbox.take_unsent(draft.now))
            draft.asked.append(question_message(draft.now))
        return self._committed(draft)

    def greeting(self, *, lost: bool) -> Committed:
        """Give what waits for a broker that is back, and what is decided since it was."""
        waiting = self.waiting()
        committed = self.lost() if lost else self.renew()
        return committed._replace(messages=waiting + committed.messages)

    def renew(self) -> Committed:
        """Give the orders anew that have ended in the outbox, for they could not leave in time."""
        with self._committing() as draft:
            if unsent := self._outbox.take_unsent(draft.now):
                self._resume(draft, stalled=True, unsent=unsent)
        return self._committed(draft)

    def _resume(self, draft: Draft, *, stalled: bool = False, unsent: tuple[str, ...] = ()) -> None:
        minute = self.clock.minute(self._zone)
        self._step(Resumed(minute=minute, stalled=stalled, unsent=unsent), draft)

    def _catch_up(self, draft: Draft) -> None:
        """Notice that roomcue stood still: what fell due meanwhile is decided now, all at once.

        An order of back then would have ended before it was sent. Readings may have been lost.
        """
        due = self.engine.deadline
        if due is not None and draft.now - due >= STOOD_STILL:
            self._resume(draft, stalled=True)
            draft.asked.append(question_message(draft.now))

    # ------------------------------------------------------------------------------ committing

    @contextmanager
    def _committing(self) -> Iterator[Draft]:
        """Commit what is drafted meanwhile, or leave the room as it stood."""
        before = self.savepoint()
        try:
            by, moves = self._follow_clock()
            draft = Draft(self.now(), by)
            if moves < by:
                self._resume(draft)
            yield draft
            self._commit(draft)
        except BaseException:
            self.roll_back(before)
            raise

    def _follow_clock(self) -> ClockSet:
        """Move everything along where the clock was set, and say by how much.

        A chapter begins with it, so that within each one time only goes on.
        """
        self.clock, clock_set = self.clock.followed()
        if clock_set.by:
            state = with_clock_set(self.engine.state, clock_set.moves, self.now())
            self._outbox.follow_clock(clock_set.by)
            self._facts.follow_clock(clock_set.by)
            self._night = night_at(state.core, self.now())
            self._state = self._begin_chapter(self.room, state, drops_proposal=False)
            self.engine.go_back(state)
        return clock_set

    def _begin_chapter(self, room: Room, state: State, *, drops_proposal: bool) -> bytes:
        """Let a chapter begin in the journal, and give its State, encoded."""
        chapter, encoded = chapter_of(room.text, self._version), encode(state)
        opening = Opening(
            *(room.name, chapter, self._given, self.now(), self._night),
            *(encoded, self._outbox.as_json()),
            mark=self.clock.mark,
            drops_proposal=drops_proposal,
        )
        self.journal.begin(opening)
        return encoded

    def savepoint(self) -> Savepoint:
        """Remember how the room stands, for `roll_back`."""
        kept = self._outbox.mark(), self._receipts, self.clock
        return Savepoint(self.engine.state, self._state, self._night, *kept)

    def roll_back(self, savepoint: Savepoint) -> None:
        """Stand as before: what came since could not be kept."""
        self._state, self._night = savepoint.encoded, savepoint.night
        self._outbox.go_back(savepoint.outbox)
        self._receipts, self.clock = savepoint.receipts, savepoint.clock
        self.engine.go_back(savepoint.state)

    def _hear(self, message: InboundMessage, draft: Draft) -> None:
        receipt = message.receipt
        if receipt is not None and message.subtopic != STATE_TOPIC:
            draft.receipts.append(receipt)
            if message.repeated and receipt in self._earlier:
                again = Refused("redelivered", "this message was taken before")
                draft.refusals.append((again, message.subtopic))
                return
        try:
            heard = read_message(message.subtopic, message.payload, retained=message.retained)
        except Refused as refused:
            draft.refusals.append((refused, message.subtopic))
            kind = message.subtopic.partition("/")[0]
            if kind in PEOPLES_TOPICS:
                self._reply(unread_data(self.room, refused, kind, draft.now), message, draft)
            return
        if isinstance(heard, StateAsked):
            draft.curious.append(message.reply_to)
        elif isinstance(heard, NewRoom):
            if draft.proposal or self.proposal() is not None:
                words = "a newer room file came before this one was judged"
                draft.refusals.append((Refused("replaced", words), message.subtopic))
            draft.proposal = heard.text
        elif heard is not None:
            believed = self._facts.believed(heard, message, self.engine.state, draft.now)
            taken = self._step(believed, draft, message)
            how = {"retained": message.retained, "taken": taken}
            for fact in self._facts.that_follow(heard, draft.now, **how):
                self._step(fact, draft)

    def _step(self, event: Event, draft: Draft, message: InboundMessage | None = None) -> bool:
        """Enter an event; tells whether the engine has taken it."""
        engine, now = self.engine, draft.now
        self.counts.events[event.kind] += 1
        if not isinstance(event, Reading | Resumed | TimeOfDay):
            self._tell_time(draft)
        before = engine.state
        reply = engine.receive(event, now)
        if reply.still_holds:
            return True  # Neither the State nor a replay would see a difference.
        self._begin_night(draft, before)
        draft.decide(reply.decisions[: reply.due])
        if reply.refusal is not None and not self._waits(event, reply.refusal, message, now):
            draft.refusals.append((reply.refusal, message.subtopic if message else event.kind))
        draft.lines.append(JournalLine(now, event_json(event), None))
        draft.decide(reply.decisions[reply.due :])
        another = isinstance(event, SourceChosen) and event.source != before.core.source
        if another and engine.state.core.interrupted is not None:
            # A title was left there; whoever tells only changes has told before that it plays.
            draft.asked.append(question_message(now))
        if message is not None and isinstance(event, PEOPLES_EVENTS):
            said = reply_to_event(self.room, event, before, engine.state, reply)
            self._reply(reply_data(said, event, now), message, draft)
        return reply.refusal is None

    def _waits(
        self, event: Event, refused: Refused, message: InboundMessage | None, now: int
    ) -> bool:
        return message is not None and self._facts.waits(event, refused, message, now)

    def _reply(self, data: dict[str, object], message: InboundMessage, draft: Draft) -> None:
        number = self._outbox.next_serial + len(draft.replies)
        draft.replies.append(reply_message(data, message.reply_to, number, draft.now))

    def _wake(self, draft: Draft) -> None:
        engine, now = self.engine, draft.now
        draft.refusals += self._facts.overdue(now)
        if self._looks_at_time or engine.is_due_before(None, now):
            self._tell_time(draft)
        if engine.is_due_before(None, now):
            self._begin_night(draft, engine.state)
            draft.decide(engine.receive(None, now).decisions)

    def _tell_time(self, draft: Draft) -> None:
        """Let the room know what its clock shows, where that has changed."""
        minute = self.clock.minute(self._zone)
        if minute != self.engine.state.core.minute:
            self._step(TimeOfDay(minute=minute), draft)

    def _begin_night(self, draft: Draft, state: State) -> None:
        """Keep the State that a night begins with, before its first line."""
        night = night_at(state.core, draft.now)
        if night > self._night and not draft.lines:
            draft.before = encode(state)

    # ---------------------------------------------------------------------- what is kept, said

    def _commit(self, draft: Draft) -> None:
        """Commit a page."""
        if draft.empty:
            return
        self._outbox.drop_expired(draft.now)  # a slow broker must not let replies pile up
        for decision in draft.decisions:
            draft.messages += map(self._outbox.put, errands_of(decision))
        draft.messages += map(self._outbox.put, (*draft.asked, *draft.replies))
        self._receipts = with_receipts(self._receipts, draft.receipts)
        state = encode(self.engine.state) if draft.lines else self._state
        night = night_at(self.engine.state.core, draft.now) if draft.before else self._night
        page = Page(
            room=self._id,
            now=draft.now,
            night=night,
            lines=draft.lines,
            state=state,
            before=draft.before,
            waiting=self._outbox.as_json(),
            receipts=receipts_bytes(self._receipts or self._earlier),
            proposal=draft.proposal,
        )
        self.journal.write(page)
        self.counts.commits += 1
        self._state, self._night = state, night
        self._outbox.note_written()

    def _committed(self, draft: Draft) -> Committed:
        for refused, _ in draft.refusals:
            self.counts.refusals[refused.code] += 1
        for decision in draft.decisions:
            self.counts.decisions[decision.kind] += 1
        return draft.committed()

    def standing(self, *, again: bool = False) -> OutgoingMessage | None:
        """Say how things stand if that has changed, or `again`; None: it has not."""
        return self._told.standing(self.room, self.engine.state, self.now(), again=again)

    def ask_again(self, *, lost: bool) -> OutgoingMessage | None:
        """Say what the broker shall retain of what is asked, where it may have something else."""
        waits = {queued.message.about for queued in self._outbox.waiting}
        return what_is_asked(self.room, self.engine.state, self.now(), waits, lost=lost)

    def state(self, to: ReturnAddress | None) -> OutgoingMessage:
        """Say how everything stands to whoever has asked, and nobody else if they say where."""
        now = self.now()
        said = standing_message(standing_for_asker(self.room, self.engine.state), now)
        return said if to is None or to.topic is None else response(said, to, now)

    def waiting(self) -> tuple[QueuedMessage, ...]:
        """Give what waits for the broker, oldest first."""
        waits = self._outbox.drop_expired(self.now())
        self.flush()
        return waits

    def sent(self, serial: int) -> None:
        """Note that the broker has taken a message; `flush` or the next page writes that down."""
        self._outbox.sent(serial)

    def flush(self) -> None:
        """Write down what the broker has taken."""
        if not self._outbox.is_written:
            self.journal.keep_waiting(self._id, self._outbox.as_json())
            self._outbox.note_written()

    @property
    def prompts_open(self) -> int:
        """How many prompts wait for a person."""
        return int(self.engine.state.core.asked is not None)

    @property
    def depth(self) -> int:
        """How many messages wait for the broker."""
        return len(self._outbox.waiting)

    def keep_nights(self, keep: int) -> None:
        """Drop all but so many nights."""
        self.journal.drop_nights(self._id, keep)

    # -------------------------------------------------------------------------- another room file

    def proposal(self) -> str | None:
        """Give the room file that still waits to be checked."""
        return self.journal.proposal(self._id)

    def decline(self) -> None:
        """Drop the room file that was found wanting."""
        self.journal.decline(self._id)

    def adopt(self, room: Room) -> Committed:
        """Go on under another room file that was checked.

        Raises `JournalError`, or ValueError for the file of another room.
        """
        if room.name != self.room.name:
            raise ValueError(f"this is the file of room '{room.name}', not of '{self.room.name}'")
        before, under, left = self.savepoint(), self._under(), Committed()
        try:
            with self.journal.together():
                if first_foreign_name(room, self.engine.state) is not None:
                    left = self.leave()
                state, strange = fitting_state(room, self.engine.state)
                if strange:
                    self._outbox.put(question_message(self.now()))
                self._state = self._begin_chapter(room, state, drops_proposal=True)
                self.room, self.engine = room, RoomEngine(room, state)
                self._zone = ZoneInfo(room.time_zone)
                self._looks_at_time = looks_at_time(room)
                told = self.hear(TimeOfDay(minute=self.clock.minute(self._zone)))
        except BaseException:
            self.room, self.engine, self._zone, self._looks_at_time = under
            self.roll_back(before)
            raise
        return told._replace(messages=self.waiting(), decisions=left.decisions + told.decisions)

    def _under(self) -> tuple[Room, RoomEngine, ZoneInfo, bool]:
        """Give what goes with the room file."""
        return self.room, self.engine, self._zone, self._looks_at_time

    def leave(self) -> Committed:
        """Withdraw every order and prompt: whatever comes next does not know of them.

        Giving a room another file is a technician's work, and is written down as that.
        """
        return self.hear(Service(begun=True))
