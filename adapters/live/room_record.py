"""What the journal has of one room, page by page: its State, its chapter, what waits, what came.

A page is written whole or not at all; whoever drafts one goes back to a savepoint where it fails.
The State here is always that of the journal's last line. The journal itself has one that may be
some lines older: an order does not wait for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Final

from adapters.live.chapters import TakenUp, chapter_of
from adapters.live.drafts import Draft
from adapters.live.journal import Journal
from adapters.live.journal_rows import Opening, Page
from adapters.live.messages import InboundMessage, QueuedMessage, errands_of
from adapters.live.outbox import beside_json
from adapters.live.receipts import Receipt, Receipts, receipts_bytes, with_receipts
from adapters.live.room_clock import ClockSet, RoomClock
from adapters.live.room_outbox import OutboxMark, RoomOutbox
from engine.clock_step import with_time_passed
from engine.events import moment_of
from engine.room import Room
from engine.snapshot import encode
from engine.state import State, night_at

MOST_BEHIND: Final = 64
"""So many lines may come before the State is written: a start takes them in some milliseconds."""


RecordMark = tuple[
    OutboxMark,
    State,
    int,
    int | None,
    int,
    tuple[Receipts, Receipts, Receipts, bool],
    RoomClock,
    bool,
    str,
    str | None,
]
"""How a record stands, to go back to; made for every message."""


class RoomRecord:
    """The journal's side of a room; all that writes raises `JournalError`."""

    def __init__(self, journal: Journal, begun: TakenUp, version: str) -> None:
        self.journal, self.clock = journal, begun.clock
        self.outbox = RoomOutbox(begun.waiting, as_at_start=begun.clock.begun is begun.state)
        self._id, self._night, self._given = begun.id, begun.night, begun.given
        self._nothing_known = begun.first
        """Until the first page: which night it is depends on how far the room is from UTC."""
        self._later = begun.later
        """The file named at the start that cannot be taken yet; the next start reads it anew."""
        self._version, self._state = version, begun.state
        self._behind = 0
        """How many lines the State in the journal is behind."""
        self._now: int | None = None
        """When the last page was written (ms UTC); None: not since the start."""
        self._receipts: Receipts = ()
        self._earlier = begun.receipts
        """Receipts of this connection, and of the last one before it that brought messages."""
        self._unwritten: Receipts = ()
        """Those of this connection that wait for the next page: what they said held already."""
        self._earlier_is_written = True

    def mark(self) -> RecordMark:
        """Remember how it stands, for `go_back`."""
        return (
            self.outbox.mark(),
            self._state,
            self._behind,
            self._now,
            self._night,
            (self._receipts, self._unwritten, self._earlier, self._earlier_is_written),
            self.clock,
            self._nothing_known,
            self._given,
            self._later,
        )

    def go_back(self, mark: RecordMark) -> None:
        """Stand as before: what came since could not be kept."""
        self.outbox.go_back(mark[0])
        self._state, self._behind, self._now, self._night = mark[1:5]
        self._receipts, self._unwritten, self._earlier, self._earlier_is_written = mark[5]
        self.clock, self._nothing_known, self._given, self._later = mark[6:]

    def passed_to(self, state: State, due: int | None, now: int) -> datetime | None:
        """Say up to when time has passed and led to a State without a line; None: no such time has.

        What falls `due` next (ms UTC) may be overdue `now`: it has not been noticed yet.
        """
        if state is self._state:
            return None
        return moment_of(now if due is None or due > now else due - 1)

    # ---------------------------------------------------------------------------------- writing

    def write(self, draft: Draft, state: State) -> None:
        """Commit what was drafted as a page that leads to a State."""
        self.outbox.drop_expired(draft.now)  # a slow broker must not let replies pile up
        for decision in draft.decisions:
            draft.messages += map(self.outbox.put, errands_of(decision))
        besides = [*map(self.outbox.put, (*draft.asked, *draft.replies))]
        draft.messages += besides
        self.outbox.owe(draft.owed)
        come, self._unwritten = (*self._unwritten, *draft.receipts), ()
        goes_on = self._earlier_is_written and (bool(self._receipts) or not come)
        self._receipts = with_receipts(self._receipts, come)
        self._now = draft.now
        if draft.lines:
            self._state, self._behind = state, self._behind + len(draft.lines)
        begins = draft.before is not None or self._nothing_known
        if begins:
            self._night, self._nothing_known = night_at(state.core, draft.now), False
        whole = begins or not draft.lines or draft.proposal is not None or not goes_on
        if whole or self.outbox.has_dropped or self._behind > MOST_BEHIND:
            self._write_whole(draft)
            return
        owed = [one.to for one in draft.owed]
        waiting = beside_json((*besides,), owed) if besides or owed else None
        receipts = receipts_bytes(come) if come else None
        stands = (None, None, waiting, receipts)
        self.journal.write(Page(self._id, draft.now, self._night, draft.lines, *stands))
        self.outbox.note_written()

    def _write_whole(self, draft: Draft | None = None) -> None:
        """Write the State, and all that stands with it."""
        lines, before, proposal = draft.kept() if draft is not None else ((), None, None)
        waiting, receipts = self.outbox.as_json(), receipts_bytes(self._receipts or self._earlier)
        stands = (encode(self._state), before, waiting, receipts, proposal)
        self.journal.write(Page(self._id, self._now, self._night, lines, *stands))
        self._behind, self._earlier_is_written = 0, True
        self.outbox.note_written()
        self.outbox.has_dropped = False

    def begin_chapter(self, room: Room, state: State, *, drops_proposal: bool) -> None:
        """Let a chapter begin in the journal, under a room's file and with a State."""
        if drops_proposal and self._later is not None:
            self._given, self._later = self._later, None
        chapter = chapter_of(room.text, self._version)
        opening = Opening(
            *(room.name, chapter, self._given, self.clock.now(), self._night),
            *(
                encode(state),
                self.outbox.as_json(),
                receipts_bytes(self._receipts or self._earlier),
            ),
            mark=self.clock.mark,
            drops_proposal=drops_proposal,
        )
        self.journal.begin(opening)
        self._state, self._behind = state, 0

    def begin_epoch(self, room: Room, state: State, epoch: int) -> str:
        """Let a chapter begin with other ids, and nothing wait; gives the new client's end."""
        self.outbox.drop_all()
        # Another client's session numbers its packets from 1 again.
        self._receipts = self._earlier = self._unwritten = ()
        self.begin_chapter(room, state, drops_proposal=False)
        self.journal.renew_epoch(self._id, epoch)
        return self.journal.client(self._id)

    def follow_clock(self, room: Room, state: State) -> tuple[State, ClockSet]:
        """Move everything along where the clock was set, and say by how much.

        A chapter begins with it, so that within each one time only goes on.
        """
        begun = self.clock.begun
        self.clock, clock_set = self.clock.followed()
        if clock_set.by:
            state = with_time_passed(state, begun, *clock_set)
            self.outbox.follow_clock(clock_set.by, clock_set.moves)
            self._night = night_at(state.core, clock_set.now)
            self.begin_chapter(room, state, drops_proposal=False)
        return state, clock_set

    def begin_night(self, draft: Draft, state: State) -> None:
        """Keep the State that a night begins with, before its first line."""
        turned = night_at(state.core, draft.now) > self._night
        if turned and not draft.lines and not self._nothing_known:
            draft.before = encode(state)

    def drop_nights(self, keep: int) -> None:
        """Drop all but so many nights."""
        self.journal.drop_nights(self._id, keep)

    # ------------------------------------------------------------------------- what came before

    def connected(self) -> None:
        """Note that the next messages come over another connection than those before."""
        if self._receipts or self._unwritten:
            self._earlier = with_receipts(self._receipts, self._unwritten)
            self._earlier_is_written = self._earlier_is_written and not self._unwritten
            self._receipts = self._unwritten = ()

    def note_receipts(self, messages: Sequence[InboundMessage]) -> None:
        """Note that messages were heard that say what holds; the next page writes that down.

        Until then they would say the same if they came again. After it, they would not.
        """
        come = [one.receipt for one in messages if one.receipt is not None]
        if come:
            self._unwritten = with_receipts(self._unwritten, come)

    def has(self, receipt: Receipt) -> bool:
        """Tell whether a message was taken in the connection before."""
        return receipt in self._earlier

    # ------------------------------------------------------------------------------ what waits

    def waiting(self) -> tuple[QueuedMessage, ...]:
        """Give what waits for the broker, oldest first."""
        now = self.clock.now()
        self.outbox.drop_expired(now)
        self.outbox.replies()  # they are among what waits
        self.flush()
        return self.outbox.worth_sending(now)

    def sent(self, serial: int) -> None:
        """Note that the broker has taken a message; `flush` or the next page writes that down."""
        self.outbox.sent(serial)

    def flush(self) -> None:
        """Write down what the broker has taken, and the State where the journal's is older."""
        if self._behind or not self.outbox.is_written:
            self._write_whole()

    # ------------------------------------------------------------------------ another room file

    def proposal(self) -> str | None:
        """Give the room file that still waits to be checked."""
        return self.journal.proposal(self._id) or self._later

    def decline(self) -> None:
        """Drop the room file in which a fault was found."""
        self.journal.decline(self._id)
        self._later = None
