"""Replay: take a night's events through the very engine that ran it, in virtual time.

The clock jumps from line to line. What falls due between two lines fires at its own time; what
falls due after the last line does not fire.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final, NamedTuple

from engine import RoomEngine
from engine.decisions import Decision, decision_json
from engine.events import READINGS
from engine.facts import facts_of, standing_of
from engine.refusal import Refused
from engine.room import Promise, Room
from engine.snapshot import SnapshotError, decode, first_foreign_name
from engine.state import State
from engine.table import choose
from simulator.nights.night_file import BadLine, NightEntry, NightHead

MOSTLY_QUIET: Final = (*READINGS, type(None))
"""Readings and passing time are reported only where something came of them."""


class ReplayStep(NamedTuple):
    """One line of a night and what it led to."""

    entry: NightEntry
    decisions: tuple[Decision, ...]
    """In the order in which they were made, first those that fell due before the event."""
    refused: Refused | None
    broken: tuple[Promise, ...]
    """Promises of the room that held before this line and do not hold after it."""


class Difference(NamedTuple):
    """A decision in which a recorded night and its replay differ."""

    number: int
    """The line of the recorded decision; 0: there is none."""
    recorded: bytes | None
    replayed: bytes | None
    alone: bool
    """Whether no decision at all was recorded in the night."""


def engine_for(room: Room, head: NightHead) -> RoomEngine:
    """Make the engine as it stood when the night began.

    Raises `SnapshotError` for a State that cannot be read or belongs to another room.
    """
    if head.state is None:
        return RoomEngine(room)
    state = decode(head.state)
    stranger = first_foreign_name(room, state)
    if stranger is not None:
        raise SnapshotError(f"the night begins with {stranger}, which this room does not know")
    return RoomEngine(room, state)


def replay(
    engine: RoomEngine, entries: Iterable[NightEntry | BadLine], until: int | None = None
) -> Iterator[ReplayStep | BadLine]:
    """Replay the events up to and including `until` (ms UTC).

    Recorded decisions are not replayed, but their times let time pass.
    """
    watch = PromiseWatch(engine.room)
    for entry in entries:
        if isinstance(entry, BadLine):
            yield entry
            continue
        now, event = entry.now, entry.event
        if until is not None and now > until:
            break
        reply = engine.receive(event, now)
        if reply.still_holds:
            continue  # The same reading again: nearly all lines end here.
        if not reply.decisions and reply.refusal is None and isinstance(event, MOSTLY_QUIET):
            continue
        yield ReplayStep(entry, reply.decisions, reply.refusal, watch.see(engine.state))
    if until is not None:
        decisions = engine.receive(None, until).decisions
        if decisions:
            last = NightEntry(0, until, None, None)
            yield ReplayStep(last, decisions, None, watch.see(engine.state))


def broken_promises(room: Room, state: State) -> tuple[Promise, ...]:
    """Return the room's own promises that do not hold in a state."""
    if not room.promises:
        return ()
    facts = facts_of(room, state.core, state.settling) | standing_of(state.core)
    return tuple(one for one in room.promises if choose(one.never, facts).output is True)


class PromiseWatch:
    """Checks a room's promises after every step and tells which have just been broken."""

    def __init__(self, room: Room) -> None:
        self.room = room
        self.broken: frozenset[str] = frozenset()

    def see(self, state: State) -> tuple[Promise, ...]:
        """Return the promises that this state breaks and the one before did not.

        While a new picture waits because the last large change is less than a third of a second
        ago, nothing is checked: the picture that still stands was not chosen for this state.
        """
        if "flash" in state.core.holds:
            return ()
        broken = broken_promises(self.room, state)
        before, self.broken = self.broken, frozenset(promise.label for promise in broken)
        return tuple(promise for promise in broken if promise.label not in before)


def verify(
    engine: RoomEngine, entries: Iterable[NightEntry | BadLine]
) -> Iterator[Difference | BadLine]:
    """Compare the decisions recorded in a night with those of its replay, byte for byte."""
    recorded: list[tuple[int, bytes]] = []
    replayed: list[bytes] = []

    def events() -> Iterator[NightEntry | BadLine]:
        for entry in entries:
            if isinstance(entry, NightEntry) and entry.decision is not None:
                recorded.append((entry.number, decision_json(entry.decision)))
            yield entry

    for happening in replay(engine, events()):
        if isinstance(happening, BadLine):
            yield happening
            continue
        replayed += [decision_json(decision) for decision in happening.decisions]
    for index in range(max(len(recorded), len(replayed))):
        number, was = recorded[index] if index < len(recorded) else (0, None)
        now = replayed[index] if index < len(replayed) else None
        if was != now:
            yield Difference(number, was, now, not recorded)
