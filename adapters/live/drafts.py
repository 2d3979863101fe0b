"""What is gathered for one commit of a room, and what came of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from adapters.live.announcements import NotTaken, id_in
from adapters.live.journal_rows import JournalLine
from adapters.live.messages import InboundMessage, OutgoingMessage, QueuedMessage
from adapters.live.receipts import Receipt
from adapters.live.reply_messages import OwedReply
from adapters.live.return_address import ReturnAddress
from engine.decisions import Decision, decision_json
from engine.refusal import Refused


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


@dataclass(slots=True)
class Draft:
    """What is being gathered for one commit."""

    now: int
    set_by: int = 0
    """By how many ms the clock has been found set."""
    lines: list[JournalLine] = field(default_factory=list)
    decisions: list[Decision] = field(default_factory=list)
    messages: list[QueuedMessage] = field(default_factory=list)
    asked: list[OutgoingMessage] = field(default_factory=list)
    """What the hub is asked besides."""
    refusals: list[NotTaken] = field(default_factory=list)
    curious: list[ReturnAddress | None] = field(default_factory=list)
    """Who asks how everything stands."""
    replies: list[OutgoingMessage] = field(default_factory=list)
    """To words that could not be read: no line tells of them."""
    owed: list[OwedReply] = field(default_factory=list)
    """The replies to all other words."""
    receipts: list[Receipt] = field(default_factory=list)
    before: bytes | None = None
    proposal: str | None = None

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
