"""Replay: take a night's events through the very engine that ran it, in virtual time.

The clock jumps from line to line. What falls due between two lines fires at its own time; what
falls due after the last line does not fire.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Final, NamedTuple

from engine import RoomEngine
from engine.decisions import Decision, decision_json
from engine.events import READINGS, Event
from engine.refusal import Refused
from engine.room import Room
from engine.room_engine import Reply
from engine.snapshot import decode
from simulator.nights.night_file import BadLine, NightEntry, NightHead, NightPart, Repeats
from simulator.nights.promises import BrokenPromise, PromiseWatch

MOSTLY_QUIET: Final = (*READINGS, type(None))
"""Readings and passing time are reported only where something came of them."""


class ReplayStep(NamedTuple):
    """One line of a night and what it led to."""

    entry: NightEntry
    decisions: tuple[Decision, ...]
    """In the order in which they were made, first those that fell due before the event."""
    refused: Refused | None
    broken: tuple[BrokenPromise, ...]
    """Promises that held before this line and were broken at it, or by what fell due before it."""
    due: int = 0
    """How many of the decisions had fallen due before the event."""


See = Callable[[int, tuple[Decision, ...]], None]
"""Is shown a step of the engine: its time (ms UTC) and what was decided."""


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
    return RoomEngine(room, decode(head.state))


def replay(
    engine: RoomEngine,
    parts: Iterable[NightPart],
    until: int | None = None,
    see: See | None = None,
    *,
    judged: bool = True,
) -> Iterator[ReplayStep | BadLine]:
    """Replay the events up to and including `until` (ms UTC).

    Recorded decisions are not replayed, but their times let time pass. `see` is called after every
    step of the engine but those in which a reading still holds. Whoever does not ask which promises
    a step breaks replays faster without `judged`.
    """
    watch = PromiseWatch(engine) if judged else None
    for entry in _lines_that_count(engine, parts):
        if isinstance(entry, BadLine):
            yield entry
            continue
        now, event = entry.now, entry.event
        if until is not None and now > until:
            break
        reply, decisions, broken = _step_by_step(engine, event, now, watch, see)
        if not decisions and not broken and reply.still_holds:
            continue  # The same reading again: nearly all lines end here.
        quiet = not decisions and not broken and reply.refusal is None
        if quiet and isinstance(event, MOSTLY_QUIET):
            continue
        due = len(decisions) - len(reply.decisions)
        yield ReplayStep(entry, decisions, reply.refusal, broken, due)
    if until is not None:
        _, decisions, broken = _step_by_step(engine, None, until, watch, see)
        if decisions or broken:
            yield ReplayStep(NightEntry(0, until, None, None), decisions, None, broken)


def _lines_that_count(
    engine: RoomEngine, parts: Iterable[NightPart]
) -> Iterator[NightEntry | BadLine]:
    """Give a night's lines, but of repeated readings only those that may change something."""
    for part in parts:
        if not isinstance(part, Repeats):
            yield part
            continue
        at, count = 0, len(part.seconds)
        while at < count:
            if engine.still_holds(part.event):
                due = engine.deadline
                if due is None or due > part.last:
                    break
                at = part.first_at(due, at)
            yield part.entry(at)
            at += 1


def _step_by_step(
    engine: RoomEngine, event: Event | None, now: int, watch: PromiseWatch | None, see: See | None
) -> tuple[Reply, tuple[Decision, ...], tuple[BrokenPromise, ...]]:
    """Take an event; whatever falls due before it is judged at its own time."""
    decisions: tuple[Decision, ...] = ()
    broken: tuple[BrokenPromise, ...] = ()
    while engine.deadline is not None and engine.is_due_before(event, now):
        moment = engine.deadline
        due = engine.receive(None, moment).decisions
        if see is not None:
            see(moment, due)
        decisions += due
        if watch is not None:
            broken += watch.see(due)
    reply = engine.receive(event, now)
    if reply.still_holds:
        return reply, decisions, broken
    if see is not None:
        see(now, reply.decisions)
    if watch is not None:
        broken += watch.see(reply.decisions)
    return reply, decisions + reply.decisions, broken


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

    for happening in replay(engine, events(), judged=False):
        if isinstance(happening, BadLine):
            yield happening
            continue
        replayed += [decision_json(decision) for decision in happening.decisions]
    for index in range(max(len(recorded), len(replayed))):
        number, was = recorded[index] if index < len(recorded) else (0, None)
        now = replayed[index] if index < len(replayed) else None
        if was != now:
            yield Difference(number, was, now, not recorded)
