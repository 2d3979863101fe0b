"""The State that a room has come to: the one in the journal, and the lines that came after it.

An order does not wait for its State to be written, nor for the words of a reply. The engine decides
the same from the same events, so a start takes what has come since once more, holds it to what was
decided then, and finds what was said.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from adapters.live.journal_rows import Beside, JournalLine, KeptState
from adapters.live.messages import OutgoingMessage, QueuedMessage, errands_of
from adapters.live.outbox import Waiting, beside_read, is_kept, next_serial, with_message
from adapters.live.reply_messages import OwedReply
from engine import RoomEngine
from engine.decisions import DECISIONS, decision_json
from engine.events import Event, read_event
from engine.refusal import Refused
from engine.replies import PEOPLES_EVENTS
from engine.room import Room
from engine.snapshot import SnapshotError, decode
from engine.state import State
from rules.room.load import load
from rules.text.findings import BadRoom

THEN: Final = "the journal's room file"
"""What stands for the name of the room file under which lines came."""


class TakenAgain(NamedTuple):
    """What lines have led to."""

    state: State
    words: tuple[OwedReply | None, ...]
    """For each line what is replied to it, without an address; None: it is no person's word."""


def state_of(kept: KeptState) -> State:
    """Give the State after the last line; raises `SnapshotError` where there is no way to it."""
    return taken_again(kept).state


def taken_again(kept: KeptState) -> TakenAgain:
    """Take the lines since the State once more; raises `SnapshotError` as `state_of` does."""
    state = decode(kept.state)
    if not kept.since:
        return TakenAgain(state, ())
    try:
        room = load(kept.file, THEN)
    except BadRoom as error:
        raise SnapshotError("the room file of then is none any more") from error
    return _after_lines(room, state, kept.since)


def _after_lines(room: Room, state: State, lines: Sequence[JournalLine]) -> TakenAgain:
    engine = RoomEngine(room, state)
    decided: list[bytes] = []
    words: list[OwedReply | None] = []
    try:
        for line in lines:
            event = None if line.event is None else read_event(line.event)
            words.append(_taken(engine, event, line.now, decided))
    except (Refused, TypeError, ValueError) as error:
        raise SnapshotError(f"a line of it is damaged ({error})") from error
    if decided != [line.decision for line in lines if line.decision is not None]:
        raise SnapshotError("this roomcue decides otherwise than the one that wrote its last lines")
    return TakenAgain(engine.state, tuple(words))


def _taken(
    engine: RoomEngine, event: Event | None, now: int, decided: list[bytes]
) -> OwedReply | None:
    """Take one line; give what is replied to it if it is a person's word."""
    came = engine.receive(event, now)
    decided += map(decision_json, came.decisions)
    if not isinstance(event, PEOPLES_EVENTS):
        return None
    return OwedReply(engine.room, event, now, engine.state, came)


def waiting_after(
    waiting: Waiting,
    lines: Sequence[JournalLine],
    beside: Sequence[Beside],
    words: Sequence[OwedReply | None] | None,
) -> Waiting:
    """Give what waits after lines: what they say is to be done, what is beside them, what is owed.

    The replies to all `words` up to a line are owed where that has their addresses beside it; None:
    nobody knows what they would be. Raises ValueError, TypeError, LookupError or AttributeError for
    what is damaged.
    """
    serial = next_serial(waiting)
    unanswered: list[OwedReply] = []
    each = (None,) * len(lines) if words is None else words
    for line, (besides, _), word in zip(lines, beside, each, strict=True):
        said: list[OutgoingMessage] = []
        if line.decision is not None:
            said += errands_of(DECISIONS.validate_json(line.decision))
        if word is not None:
            unanswered.append(word)
        owed: list[OwedReply] = []
        if besides is not None:
            others, addresses = beside_read(besides)
            said += [queued.message for queued in others]
            # Before version 9 the replies themselves stood there, and no address.
            pairs = zip(unanswered, addresses, strict=bool(addresses) and words is not None)
            owed, unanswered = [one._replace(to=to) for one, to in pairs], []
        for message in filter(is_kept, said):
            waiting, serial = with_message(waiting, QueuedMessage(message, serial)), serial + 1
        for one in owed:
            queued = QueuedMessage(one.message(), serial)
            waiting, serial = with_message(waiting, queued), serial + 1
    return waiting
