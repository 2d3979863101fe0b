"""The rows of the journal's tables, as values."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple, Self


class JournalLine(NamedTuple):
    """One line: an event or a decision as JSON, and its time in ms UTC."""

    now: int
    event: bytes | None
    decision: bytes | None


class Chapter(NamedTuple):
    """A period in which a room runs under one room file."""

    file: str
    """The text of the room file."""
    roomcue: str
    """The version of roomcue."""
    state_version: int
    """The version of the encoded State."""
    file_version: int
    """The version of the room file's format."""


class ClockMark(NamedTuple):
    """By which clock a room's moments are counted."""

    boot: str = ""
    """Which start of the machine; "": nobody knows."""
    ahead: int = 0
    """By how many ms wall time was ahead of the time since that start."""
    doubt: int | None = None
    """By how many ms the clock may have shown too little at that start; None: it is known."""
    begun: bytes | None = None
    """The State as the room went on after that start, encoded, while there is such a doubt."""


class KeptRoom(NamedTuple):
    """What the journal knows of a room: its chapter, its latest State and what goes with that."""

    id: int
    chapter: Chapter
    given: str
    """The room file that was named at the last start; the chapter's own may be newer."""
    now: int
    """When the last line was written (ms UTC)."""
    serial: int
    """Of the last line."""
    night: int
    state: bytes
    """The State as it was before the lines `since`."""
    waiting: bytes
    receipts: bytes
    client: str
    """What ends the room's client id at the broker."""
    epoch: int
    """What the ids of orders and prompts begin with."""
    mark: ClockMark
    since: tuple[JournalLine, ...]
    """What has come since the State was written, and with it the outbox and the receipts."""
    beside: tuple[Beside, ...]
    """What stands beside each of these lines."""

    @classmethod
    def of(cls, row: tuple[Any, ...], since: Sequence[tuple[Any, ...]]) -> Self:
        """Make it of a row with the State as it was written, and of the lines that came since."""
        chapter, mark = Chapter(*row[1:5]), ClockMark(*row[-4:])
        lines = tuple(JournalLine(*one[:3]) for one in since)
        beside = tuple(Beside(*one[3:]) for one in since)
        kept = cls(*(row[0], chapter, *row[5:-4], mark, lines, beside))
        if not lines:
            return kept
        return kept._replace(now=lines[-1].now, serial=kept.serial + len(lines))


class Beside(NamedTuple):
    """What stands beside the last line of a page whose State is written later."""

    waiting: bytes | None
    """What waits because of it, but for what its decisions say; encoded as an outbox."""
    receipts: bytes | None
    """The receipts of its messages, encoded."""


class KeptState(NamedTuple):
    """A room's State as it was last written, and what has led on from it."""

    file: str
    """The text of the room file in force."""
    state: bytes
    since: tuple[JournalLine, ...]


class Opening(NamedTuple):
    """The beginning of a chapter."""

    name: str
    chapter: Chapter
    given: str
    now: int
    night: int
    state: bytes
    waiting: bytes
    """The outbox from now on, encoded."""
    receipts: bytes
    mark: ClockMark
    drops_proposal: bool = True
    """Whether a room file that waits to be checked is done with."""
    epoch: int = 0
    """Of a room that the journal does not know yet: what its ids begin with."""


class NightStart(NamedTuple):
    """The beginning of a night: the serial of the line before it, the time, and the State."""

    serial: int
    begins: int
    chapter: Chapter
    state: bytes
    chapter_id: int
    """Chapters under one file differ too: one begins as the clock is set."""


class Page(NamedTuple):
    """What one transaction writes for one room."""

    room: int
    """The room's number in the journal."""
    now: int | None
    """The time in ms UTC; None: nothing has happened since the page before."""
    night: int
    """The night that it belongs to; nights are counted by local noons."""
    lines: Sequence[JournalLine]
    state: bytes | None
    """The State after the last line, encoded; None: a later page has it."""
    before: bytes | None
    """The State before the first line, if a new night begins with it."""
    waiting: bytes | None
    """The outbox, encoded, where there is a State; else what stands beside the last line."""
    receipts: bytes | None
    """The receipts of the latest messages, encoded; without a State those of this page alone."""
    proposal: str | None = None
    """A room file that came as a message and is to be checked."""


class RoomPlace(NamedTuple):
    """How far a room has come: the serial of its last line, and its chapter."""

    serial: int
    chapter: int
    packed: int
    """The serial of the line before the first that is not packed."""
    stated: int
    """The serial of the line whose State is written."""

    @property
    def unpacked(self) -> int:
        """How many lines may be packed: a start needs those that the State does not cover."""
        return self.stated - self.packed
