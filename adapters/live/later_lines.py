"""The State that a room has come to: the one in the journal, and the lines that came after it.

An order does not wait for its State to be written. The engine decides the same from the same
events, so a start takes what has come since once more, and holds it to what was decided then.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from adapters.live.journal_rows import JournalLine, KeptState
from engine import RoomEngine
from engine.decisions import decision_json
from engine.events import read_event
from engine.refusal import Refused
from engine.room import Room
from engine.snapshot import SnapshotError, decode
from engine.state import State
from rules.room.load import load
from rules.text.findings import BadRoom

THEN: Final = "the journal's room file"
"""What stands for the name of the room file under which lines came."""


def state_of(kept: KeptState) -> State:
    """Give the State after the last line; raises `SnapshotError` where there is no way to it."""
    state = decode(kept.state)
    if not kept.since:
        return state
    try:
        room = load(kept.file, THEN)
    except BadRoom as error:
        raise SnapshotError("the room file of then is none any more") from error
    return after_lines(room, state, kept.since)


def after_lines(room: Room, state: State, lines: Sequence[JournalLine]) -> State:
    """Take lines once more from the State before them; raises `SnapshotError`."""
    engine = RoomEngine(room, state)
    decided: list[bytes] = []
    try:
        for line in lines:
            event = None if line.event is None else read_event(line.event)
            decided += map(decision_json, engine.receive(event, line.now).decisions)
    except (Refused, TypeError, ValueError) as error:
        raise SnapshotError(f"a line of it is damaged ({error})") from error
    if decided != [line.decision for line in lines if line.decision is not None]:
        raise SnapshotError("this roomcue decides otherwise than the one that wrote its last lines")
    return engine.state
