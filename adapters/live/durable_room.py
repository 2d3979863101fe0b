"""One live room: its engine, and what each message or moment means to it.

Everything here is done at once or not at all: step, commit, and only then send. A page that
cannot be written leaves the room as it stood, and whoever brought the messages keeps them.
What the journal has of the room is its `RoomRecord`.

Time that passes without a decision writes nothing, so a restart and a replay both go on from the
journal's last line.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final
from zoneinfo import ZoneInfo

from adapters.live.announcements import NotTaken
from adapters.live.broker import ClientName
from adapters.live.chapters import TakenUp, fitting_state, looks_at_time, recall_withdrawn
from adapters.live.drafts import Committed, Draft
from adapters.live.epochs import epoch_after, first_serial
from adapters.live.journal import Journal
from adapters.live.journal_identity import JournalIdentity
from adapters.live.journal_rows import JournalLine
from adapters.live.messages import (
    PEOPLES_TOPICS,
    READING_TOPICS,
    STATE_TOPIC,
    InboundMessage,
    NewRoom,
    OutgoingMessage,
    StateAsked,
    nothing_asked_message,
    question_message,
)
from adapters.live.repeated_messages import read_again, repeated_readings
from adapters.live.reply_messages import OwedReply, reply_message, response, unread_data
from adapters.live.retained_facts import FactsMark, RetainedFacts
from adapters.live.return_address import ReturnAddress
from adapters.live.room_clock import ClockSet
from adapters.live.room_record import RecordMark, RoomRecord
from adapters.live.room_totals import Counts
from adapters.live.standing import (
    StandingTold,
    standing_data,
    standing_for_asker,
    standing_message,
    what_is_asked,
)
from engine import RoomEngine
from engine.events import READINGS, Event, Resumed, Service, SourceChosen, TimeOfDay, event_json
from engine.outcomes import PROMPT
from engine.people_at_work import NOBODY, PeopleAtWork, with_people_at_work
from engine.refusal import Refused
from engine.replies import PEOPLES_EVENTS
from engine.room import Room
from engine.snapshot import first_foreign_name
from engine.state import IDS_OF_EPOCH, State, Tally, first_state
from engine.step import overdue_answers
from engine.told_words import says_what_stands

STOOD_STILL: Final = 2_000
"""So late may a timer be noticed (ms); later than that, roomcue or the machine stood still."""


Savepoint = tuple[State, RecordMark, FactsMark]
"""How a room stands, with what the journal has of it; made for every message."""


class DurableRoom:
    """A room whose every step is in the journal before anybody hears of it."""

    def __init__(self, journal: Journal, begun: TakenUp, version: str) -> None:
        self.room: Room = begun.room
        self.engine = RoomEngine(begun.room, begun.state)
        self.counts = Counts()
        self._first = begun.first
        self.identity = JournalIdentity(begun)
        self.record = RoomRecord(journal, begun, version)
        self._caught_up = 0
        """When something was last found to have fallen due while roomcue stood still (ms UTC)."""
        self._told, self._facts = StandingTold(), RetainedFacts(begun.state)
        self._zone = ZoneInfo(begun.room.time_zone)
        self._looks_at_time = looks_at_time(begun.room)

    # ------------------------------------------------------------------------- what comes in

    @property
    def deadline(self) -> int | None:
        """When `pass_time` has something to do, in ms UTC."""
        minute = self.record.clock.next_minute() if self._looks_at_time else None
        due = (self.engine.deadline, self._facts.deadline, minute)
        return min((one for one in due if one is not None), default=None)

    def now(self) -> int:
        """Say the time in ms UTC."""
        return self.record.clock.now()

    def resume(self) -> Committed:
        """Take up the room again after a stop; raises `JournalError`, as all of these do."""
        return Committed() if self._first else self._committed(self._resume)

    def take(self, messages: Sequence[InboundMessage]) -> Committed:
        """Take messages in their order; where it raises, nothing has happened."""

        def hear(draft: Draft) -> None:
            self._catch_up(draft, messages)
            for message in messages:
                self._hear(message, draft)

        return self._committed(hear)

    def hear_again(self, messages: Sequence[InboundMessage]) -> bool:
        """Hear messages that say once more what holds; False: one says more, and none was heard."""
        heard = repeated_readings(messages, self.engine)
        if not heard:
            return False
        _, clock_set = self.record.clock.followed()
        if clock_set.by or self.engine.is_due_before(None, clock_set.now):
            return False
        self.record.note_receipts(messages)
        for one in heard:
            self.counts.events[one.kind] += 1
        return True

    def hear(self, event: Event) -> Committed:
        """Take one event that is no message."""

        def hear(draft: Draft) -> None:
            self._catch_up(draft)
            self._step(event, draft)

        return self._committed(hear)

    def pass_time(self) -> Committed:
        """Fire the timers that have fallen due."""

        def wake(draft: Draft) -> None:
            self._catch_up(draft)
            self._wake(draft)

        return self._committed(wake)

    def connected(self) -> None:
        """Note that the next messages come over another connection than those before."""
        self._facts.clear(self.engine.state)
        self.record.connected()

    def lost(self) -> Committed:
        """Note that messages were lost: what moved meanwhile is not known, and the hub is asked."""

        def ask(draft: Draft) -> None:
            self._resume(draft, unsent=self.record.outbox.take_lost(draft.now, self.engine.state))
            draft.asked.append(question_message(draft.now))

        return self._committed(ask)

    def greeting(self, *, lost: bool) -> Committed:
        """Give what waits for a broker that is back, and what is decided since it was.

        What waits is looked at last: its dates follow the clock, and some of it may be outdated.
        """
        self.identity.note_greeting()
        committed = self.lost() if lost else self.renew(after_gap=True)
        not_kept = tuple(one for one in committed.messages if one.serial is None)
        return committed._replace(messages=self.record.waiting() + not_kept)

    def renew(self, *, after_gap: bool = False) -> Committed:
        """Give the orders anew that have ended in the outbox, for they could not leave in time.

        After a gap, the cues that failed as well: their outcomes may be lost.
        """

        def give_anew(draft: Draft) -> None:
            state = self.engine.state if after_gap else None
            if unsent := self.record.outbox.take_unsent(draft.now, state):
                self._resume(draft, stalled=True, unsent=unsent)

        return self._committed(give_anew)

    def stood_still(self) -> Committed:
        """Note that roomcue stood still, though nothing may have fallen due meanwhile."""

        def ask(draft: Draft) -> None:
            self._catch_up(draft)
            if draft.now - self._caught_up >= STOOD_STILL:
                draft.asked.append(question_message(draft.now))

        return self._committed(ask)

    def _resume(self, draft: Draft, *, stalled: bool = False, unsent: tuple[str, ...] = ()) -> None:
        at = self.record.passed_to(self.engine.state, self.engine.deadline, draft.now)
        minute = self.record.clock.minute(self._zone)
        if PROMPT not in unsent and self.record.outbox.warning_waits(self.engine.state.core):
            unsent = (*unsent, PROMPT)
        self._step(Resumed(at=at, minute=minute, stalled=stalled, unsent=unsent), draft)

    def _catch_up(self, draft: Draft, heard: Sequence[InboundMessage] = ()) -> None:
        """Notice that roomcue stood still: what fell due meanwhile is decided now, all at once.

        An order of back then would have ended before it was sent. Readings may have been lost. What
        is `heard` only now was said in time, as far as anybody knows, even after a shorter stop. No
        light comes back on somebody whom the warning has not reached, for the broker is away.
        """
        due, core = self.engine.deadline, self.engine.state.core
        if due is None or due > draft.now:
            return
        stood_still = draft.now - due >= STOOD_STILL
        told = any(one.subtopic not in READING_TOPICS for one in heard)
        lights = core.timers.give_up
        dark = lights is not None and lights <= draft.now and self.record.outbox.warning_waits(core)
        if stood_still or dark or (told and overdue_answers(self.room, core, draft.now)):
            self._resume(draft, stalled=True)
        if stood_still:
            draft.asked.append(question_message(draft.now))
            self._caught_up = draft.now

    # ------------------------------------------------------------------------------ committing

    def _committed(self, work: Callable[[Draft], None]) -> Committed:
        """Commit what `work` drafts, or go back; where several are gathered, all go back."""
        before = None if self.record.journal.gathers else self.savepoint()
        try:
            by, moves, now = self._follow_clock()
            draft = Draft(now, by)
            if moves < by:
                self._resume(draft, stalled=True)
            work(draft)
            if not draft.empty:
                self.record.write(draft, self.engine.state)
                self.counts.commits += 1
        except BaseException:
            if before is not None:
                self.roll_back(before)
            raise
        for one in draft.refusals:
            self.counts.refusals[one.refused.code] += 1
        for decision in draft.decisions:
            self.counts.decisions[decision.kind] += 1
        return draft.committed(moved=self.engine.state.core is not self._told.core)

    def _follow_clock(self) -> ClockSet:
        """Move everything along where the clock was set, and say by how much."""
        state, clock_set = self.record.follow_clock(self.room, self.engine.state)
        if clock_set.by:
            self._facts.follow_clock(clock_set.by)
            self._caught_up += clock_set.by
            self.engine.go_back(state)
        return clock_set

    def savepoint(self) -> Savepoint:
        """Remember how the room stands, for `roll_back`."""
        return self.engine.state, self.record.mark(), self._facts.mark()

    def roll_back(self, savepoint: Savepoint) -> None:
        """Stand as before: what came since could not be kept."""
        state, record, facts = savepoint
        self.record.go_back(record)
        self.engine.go_back(state)
        self._facts.go_back(facts)

    def _hear(self, message: InboundMessage, draft: Draft) -> None:
        receipt = message.receipt
        if receipt is not None and message.subtopic != STATE_TOPIC:
            draft.receipts.append(receipt)
            if message.repeated and self.record.has(receipt):
                again = Refused("redelivered", "this message was taken before")
                draft.refuse(again, message)
                return
        try:
            heard = read_again(message.subtopic, message.payload, retained=message.retained)
        except Refused as refused:
            kind, name = message.subtopic.partition("/")[0], draft.refuse(refused, message)
            if kind in PEOPLES_TOPICS:
                data = unread_data(self.room, refused, kind, name, draft.now)
                draft.replies.append(reply_message(data, message.reply_to, draft.now))
            return
        if isinstance(heard, StateAsked):
            draft.curious.append(message.reply_to)
        elif isinstance(heard, NewRoom):
            if draft.proposal or self.record.proposal() is not None:
                words = "a newer room file came before this one was judged"
                draft.refuse(Refused("replaced", words), message)
            draft.proposal = heard.text
        elif heard is not None:
            self._enter(heard, message, draft)

    def _enter(self, event: Event, message: InboundMessage, draft: Draft) -> None:
        """Enter an event as far as it can be believed, and what follows from it."""
        facts, now, kept = self._facts, draft.now, message.is_kept
        try:
            believed = facts.believed(event, self.room, self.engine.state, now) if kept else event
        except Refused as refused:
            draft.refuse(refused, message)
            return
        if believed is None:
            return
        taken = self._step(believed, draft, message)
        for fact in facts.that_follow(event, now, retained=kept, taken=taken):
            if kept or not says_what_stands(self.room, self.engine.state.core, fact):
                self._step(fact, draft)
        facts.forget_undone(event, self.room, self.engine.state)

    def _step(self, event: Event, draft: Draft, message: InboundMessage | None = None) -> bool:
        """Enter an event; tells whether the engine has taken it."""
        engine, now = self.engine, draft.now
        self.counts.events[event.kind] += 1
        if not isinstance(event, (*READINGS, Resumed, TimeOfDay)):
            self._tell_time(draft)
        before = engine.state
        reply = engine.receive(event, now)
        if reply.still_holds:
            return True  # Neither the State nor a replay would see a difference.
        self.record.begin_night(draft, before)
        draft.decide(reply.decisions[: reply.due])
        refused = reply.refusal
        if refused and not (message and self._facts.waits(event, refused, message, now)):
            topic = message.subtopic if message else event.kind
            draft.refusals.append(NotTaken(refused, topic, event.id))
        draft.lines.append(JournalLine(now, event_json(event), None))
        draft.decide(reply.decisions[reply.due :])
        if isinstance(event, SourceChosen):
            draft.ask_of_source(self.room, before, engine.state)
        if message is not None and isinstance(event, PEOPLES_EVENTS):
            heard = self.room, event, now
            draft.owed.append(OwedReply(*heard, engine.state, reply, message.reply_to))
        return reply.refusal is None

    def _wake(self, draft: Draft) -> None:
        """Do what has fallen due by now."""
        refusals, doubts = self._facts.refuse_early(self.engine.state.core.source, draft.now)
        draft.refusals += refusals
        if doubts:
            draft.asked.append(question_message(draft.now))
        if self._looks_at_time or self.engine.is_due_before(None, draft.now):
            self._tell_time(draft)
        if self.engine.is_due_before(None, draft.now):
            self.record.begin_night(draft, self.engine.state)
            draft.decide(self.engine.receive(None, draft.now).decisions)

    def _tell_time(self, draft: Draft) -> None:
        """Let the room know what its clock shows, where that has changed."""
        minute = self.record.clock.minute(self._zone)
        if minute != self.engine.state.core.minute:
            self._step(TimeOfDay(minute=minute), draft)

    # ---------------------------------------------------------------------- what is kept, said

    def standing(self, *, again: bool = False) -> OutgoingMessage | None:
        """Say how things stand if that has changed, or `again`; None: it has not."""
        return self._told.standing(self.room, self.engine.state, self.now(), again=again)

    def ask_again(self, *, lost: bool) -> OutgoingMessage | None:
        """Say what the broker shall retain of what is asked, where it may have something else."""
        waits = {one.message.about for one in self.record.outbox.worth_sending(self.now())}
        if self.identity.begins_anew and not self.prompts_open:
            return nothing_asked_message(self.now())  # one of before may have stayed
        return what_is_asked(self.room, self.engine.state, self.now(), waits, lost=lost)

    def state(self, to: ReturnAddress | None) -> OutgoingMessage:
        """Say how everything stands, at the asker's address; else less of it, to everybody."""
        room, state, now = self.room, self.engine.state, self.now()
        if to is None or to.topic is None:
            return standing_message(standing_data(room, state), now)
        return response(standing_message(standing_for_asker(room, state), now), to, now)

    @property
    def prompts_open(self) -> int:
        """How many prompts wait for a person."""
        return int(self.engine.state.core.asked is not None)

    # ------------------------------------------------------------------------- an older journal

    @property
    def client_name(self) -> ClientName:
        """The name under which the room comes to its broker."""
        return self.identity.client_name(self.room.name)

    def begin_anew(self, last_id: int, people: PeopleAtWork = NOBODY) -> None:
        """Know nothing but of titles and of people at work, and give other ids than ever before.

        What has moved since a journal was copied nobody knows, and the hub remembers ids that it
        would give again, up to the `last_id` that the broker has heard (0: of none).
        """
        before = self.savepoint()
        epoch = epoch_after(max(self.identity.epoch, last_id // IDS_OF_EPOCH))
        titles, state = self.engine.state.core.titles, first_state(self.room)
        state = state._replace(tally=Tally(serial=first_serial(epoch)))
        state.core.titles = titles
        state = with_people_at_work(self.room, state, people, self.now())
        try:
            with self.record.journal.together():
                client = self.record.begin_epoch(self.room, state, epoch)
        except BaseException:
            self.roll_back(before)
            raise
        self.identity.begin_anew(client, epoch, state.tally.serial, people)
        self.engine, self._facts = RoomEngine(self.room, state), RetainedFacts(state)

    # -------------------------------------------------------------------------- another room file

    def adopt(self, room: Room) -> Committed:
        """Go on under another room file that was checked.

        Raises `JournalError`, or ValueError for the file of another room.
        """
        if room.name != self.room.name:
            raise ValueError(f"this is the file of room '{room.name}', not of '{self.room.name}'")
        before, under, left = self.savepoint(), self._under(), Committed()
        service = self.engine.state.core.service
        try:
            with self.record.journal.together():
                if first_foreign_name(room, self.engine.state) is not None:
                    left = self.leave()
                stood = self.engine.state, self.room, self.now()
                state, strange = fitting_state(room, *stood, service=service)
                if strange:
                    self._facts.clear(state)
                    self.record.outbox.put(question_message(self.now()))
                self.record.begin_chapter(room, state, drops_proposal=True)
                self.room, self.engine = room, RoomEngine(room, state)
                self._zone = ZoneInfo(room.time_zone)
                self._looks_at_time = looks_at_time(room)
                told = self.hear(TimeOfDay(minute=self.record.clock.minute(self._zone)))
        except BaseException:
            self.room, self.engine, self._zone, self._looks_at_time = under
            self.roll_back(before)
            raise
        return told._replace(
            messages=self.record.waiting(), decisions=left.decisions + told.decisions
        )

    def _under(self) -> tuple[Room, RoomEngine, ZoneInfo, bool]:
        """Give what goes with the room file."""
        return self.room, self.engine, self._zone, self._looks_at_time

    def leave(self) -> Committed:
        """Withdraw every order and prompt: whatever comes next does not know of them.

        Giving a room another file is a technician's work, and is written down as that. Where the
        hub may have begun a recall, its travel counts, and nobody knows where it ends.
        """
        left = self.hear(Service(begun=True))
        recall = recall_withdrawn(self.room, self.engine.state, self.now())
        never_left = recall is not None and self.record.outbox.take_back(recall)
        unsent = ("recall",) if never_left else ()
        resumed = self._committed(lambda draft: self._resume(draft, unsent=unsent))
        return left._replace(decisions=left.decisions + resumed.decisions)
