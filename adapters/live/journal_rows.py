"""What the journal's tables hold, as values."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple


class JournalLine(NamedTuple):
    """One line to write: an event or a decision as JSON, at a moment in ms UTC."""

    now: int
    event: bytes | None
    decision: bytes | None


class Chapter(NamedTuple):
    """A stretch of a room's life under one room file."""

    file: str
    roomcue: str
    state_version: int
    file_version: int


class KeptRoom(NamedTuple):
    """What a room's row says of it."""

    id: int
    chapter: Chapter
    given: str
    """The room file as it was last named at the start; the chapter's may be newer."""
    now: int
    serial: int
    night: int
    state: bytes
    waiting: bytes
    receipts: bytes


class Opening(NamedTuple):
    """How a chapter begins."""

    name: str
    chapter: Chapter
    given: str
    now: int
    night: int
    state: bytes
    waiting: bytes
    """What waits for the broker from now on."""


class NightStart(NamedTuple):
    """Where a room's night begins in the lines."""

    serial: int
    begins: int
    chapter: Chapter
    state: bytes


class Page(NamedTuple):
    """What one transaction writes of a room."""

    room: int
    now: int
    night: int
    """The night that it belongs to, counted by local noons."""
    lines: Sequence[JournalLine]
    state: bytes
    before: bytes | None
    """The State before the first line, where a night begins with it; else None."""
    waiting: bytes
    """What waits for the broker."""
    receipts: bytes
    """Which messages came last."""
    proposal: str | None = None
    """A room file to be checked."""
