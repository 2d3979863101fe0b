"""What is gathered for one commit of a room, and what came of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

from adapters.live.announcements import NotTaken, id_in
from adapters.live.journal_rows import JournalLine
from adapters.live.messages import (
    InboundMessage,
    OutgoingMessage,
    QueuedMessage,
    question_message,
)
from adapters.live.receipts import Receipt
from adapters.live.reply_messages import OwedReply
from adapters.live.return_address import ReturnAddress
from engine.decisions import Decision, decision_json
from engine.readings import heeds_readings
from engine.refusal import Refused
from engine.room import Room
from engine.state import State


class Committed(NamedTuple):
    """What came of messages or of time, all of it committed."""

    messages: tuple[QueuedMessage, ...] = ()
    """What is to be done, with its number in the outbox."""
    decisions: tuple[Decision, ...] = ()
    refusals: tuple[NotTaken, ...] = ()
    proposal: str | None = None
    """A room file that is to be checked."""
    curious: tuple[ReturnAddress | None, ...] = ()
    """Where it shall be told how everything stands."""
    set_by: int = 0
    """By how many ms the clock has been found set."""
    moved: bool = False
    """Whether the room may stand otherwise than was last told."""


LENS_LOST: Final = "lens_lost"
"""Why a lens is unknown: it was to move, and nobody has heard what became of that."""


class Draft:
    """What is being gathered for one commit."""

    __slots__ = (
        *("asked", "before", "curious", "decisions", "lines", "messages", "now", "owed"),
        *("proposal", "receipts", "refusals", "replies", "set_by"),
    )

    def __init__(self, now: int, set_by: int) -> None:
        """Begin at a moment (ms UTC), by a clock that has been found set by so many ms."""
        self.now, self.set_by = now, set_by
        self.lines: list[JournalLine] = []
        self.decisions: list[Decision] = []
        self.messages: list[QueuedMessage] = []
        self.asked: list[OutgoingMessage] = []
        """What the hub is asked besides."""
        self.refusals: list[NotTaken] = []
        self.curious: list[ReturnAddress | None] = []
        """Who asks how everything stands."""
        self.replies: list[OutgoingMessage] = []
        """To words that could not be read: no line tells of them."""
        self.owed: list[OwedReply] = []
        """The replies to all other words."""
        self.receipts: list[Receipt] = []
        self.before: bytes | None = None
        self.proposal: str | None = None

    @property
    def empty(self) -> bool:
        """Whether there is nothing to commit."""
        return not (self.lines or self.receipts or self.proposal or self.replies or self.asked)

    def kept(self) -> tuple[Sequence[JournalLine], bytes | None, str | None]:
        """Give what a page keeps of it besides how the room stands."""
        return self.lines, self.before, self.proposal

    def refuse(self, refused: Refused, message: InboundMessage) -> str | None:
        """Note that a message is not taken; gives the id that it has."""
        self.refusals.append(NotTaken(refused, message.subtopic, id_in(message.payload)))
        return self.refusals[-1].id

    def decide(self, decisions: Iterable[Decision]) -> None:
        """Write decisions down, and remember them for what is to be said."""
        for decision in decisions:
            self.lines.append(JournalLine(self.now, None, decision_json(decision)))
            self.decisions.append(decision)
            if decision.code == LENS_LOST:
                # A hub that tells only what changes would never tell where it rests.
                self.asked.append(question_message(self.now))

    def ask_of_source(self, room: Room, before: State, after: State) -> None:
        """Ask the hub where another source is shown of which it may have told before.

        A title was left there, or the shape that stood is gone with the source `before`: a hub or a
        detector that tells only changes has none to tell. The same source told again is no change,
        so no answer leads to another question.
        """
        source = after.core.source
        if source == before.core.source:
            return
        shape_is_gone = before.settling.aspect is not None and after.settling.aspect is None
        if after.core.interrupted is not None or (shape_is_gone and heeds_readings(room, source)):
            self.asked.append(question_message(self.now))

    def committed(self, *, moved: bool) -> Committed:
        """Give what has come of it, once it is committed, and whether the room has `moved`."""
        return Committed(
            tuple(self.messages),
            tuple(self.decisions),
            tuple(self.refusals),
            self.proposal,
            tuple(self.curious),
            self.set_by,
            moved,
        )
