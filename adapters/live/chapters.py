"""What a room goes on from: a chapter under one room file, and the State that fits it."""

from __future__ import annotations

from typing import NamedTuple

from adapters.live.journal_rows import Chapter
from adapters.live.outbox import Waiting
from adapters.live.receipts import Receipts
from engine.room import Room
from engine.snapshot import VERSION as STATE_VERSION
from engine.snapshot import first_foreign_name
from engine.state import State, first_state
from rules.room.schema import VERSION as FILE_VERSION


class TakenUp(NamedTuple):
    """A room as it is taken up from the journal, or for the first time."""

    room: Room
    state: State
    id: int
    night: int
    given: str
    waiting: Waiting
    receipts: Receipts
    first: bool
    """Whether the room is here for the first time."""
    words: tuple[str, ...]
    """What to say of it in the log."""


def chapter_of(text: str, version: str) -> Chapter:
    """Make a chapter under the text of a room file, by the roomcue of this version."""
    return Chapter(text, version, STATE_VERSION, FILE_VERSION)


def fitting_state(room: Room, state: State) -> tuple[State, str]:
    """Give the State to go on from under a room file, and why it is a new one ("": it is not).

    A State that names what the file does not know cannot go on.
    """
    stranger = first_foreign_name(room, state)
    if stranger is None:
        return state, ""
    # Numbers are never given twice, and what was taken once stays taken.
    anew = first_state(room)._replace(tally=state.tally)
    return anew, f"It stood with {stranger}, which this room file does not know"
