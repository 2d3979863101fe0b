"""Prove a room: explore it, check that it comes to rest, and say what is wrong with its rules.

Nothing here knows files or terminals; a fault's `line` is that of the room file, if it has one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Final, Literal, NamedTuple

from engine.facts import CUE
from engine.room import BUILT_IN_PROMISES, Promise, Room
from rules.text.quantity import show_duration
from simulator.nights.promises import judge_of
from simulator.proof.blame import blame, row_advice, row_words
from simulator.proof.convergence import Convergence, Cycle, check_convergence
from simulator.proof.counterexample import (
    BUDGET,
    Counterexample,
    find_counterexample,
    played_again,
)
from simulator.proof.half_steps import Cause, Violation
from simulator.proof.liveness import LateLook, Liveness, check_liveness
from simulator.proof.reachability import LIMIT, Exploration, Explorer, never
from simulator.proof.walk import SECOND

NOT_PROVEN: Final = (
    "how readings settle into a shape: it is taken as given that they do",
    "exact durations: every order of timers is tried, none is timed",
    "more than two recalls left: more are taken to be like two",
    "the clock and the zone: any minute of the day may be told at any time",
    "the hub, the broker and the journal: any of their words may be late, twice or missing",
    "whether the hardware does what it reports",
    "how soon a look stands if the hub is slow, or no recalls are left for the night",
    "what a promise says of the picture while a pause holds it, if what is told changes meanwhile",
)
"""What no exploration can say."""

NO_EVENING: Final = "no evening was found on which the engine breaks it"
HURRIED: Final = 6
"""By how much the search for an evening is shortened once a proof has been broken off."""
ENGINE: Final = "roomcue: "
"""How the names of the engine's own invariants begin (`simulator.proof.half_steps`)."""

FaultCode = Literal["broken", "circle", "engine", "row-never-chosen", "never-met", "not-proven"]


class Fault(NamedTuple):
    """One thing that is wrong with a room's rules."""

    code: FaultCode
    fatal: bool
    promise: str
    line: int
    """The line of the room file; 0: none."""
    message: str
    suggestion: str
    counterexample: Counterexample | None = None
    path: tuple[Cause, ...] = ()
    """How the exploration got there, where no counterexample was found."""


VerdictStatus = Literal["proven", "broken", "searched", "untouched", "waived"]
"""What is known of a promise: `searched` is not broken in what has been explored so far,
`untouched` is not looked at yet, `waived` is switched off by the room file."""


class Verdict(NamedTuple):
    """What a proof says of one promise."""

    promise: str
    because: str
    status: VerdictStatus


class Proof(NamedTuple):
    """What is proven of a room, and what is wrong with it."""

    exploration: Exploration
    convergence: Convergence
    faults: tuple[Fault, ...]
    proven: tuple[tuple[str, str], ...]
    """Promises that hold in every state, with their reasons."""
    waived: tuple[tuple[str, str], ...]
    verdicts: tuple[Verdict, ...]
    """One for each promise, built-in ones first."""
    stopped: bool
    """It was broken off before its end, because `stop` said so."""
    done: int
    """The number of states that were looked at whole."""
    known: int
    """The number of states that were found."""


def prove(  # noqa: PLR0913 - all but the room have defaults
    room: Room,
    limit: int = LIMIT,
    progress: Callable[[int, int], None] | None = None,
    workers: int = 1,
    stop: Callable[[], bool] = never,
    *,
    announce: Callable[[Fault], None] | None = None,
) -> Proof:
    """Explore a room and judge what was found.

    `progress` is called with the number of states that are done and that are known. `stop` is
    asked again and again whether to break off; what was found until then is in the proof.
    `announce` is called with each fault as soon as it is known.
    """
    explorer = Explorer(_without_cue_promises(room), limit)
    exploration = explorer.run(progress, workers=workers, stop=stop)
    stopped = not exploration.complete and stop()
    convergence = Convergence(0, ())
    if not stop():
        convergence = check_convergence(room, explorer.classes)
    liveness = check_liveness(room, stop)
    faults: list[Fault] = []
    for fault in _faults(room, explorer, exploration, convergence, liveness, stopped=stopped):
        faults.append(fault)
        if announce is not None:
            announce(fault)
    verdicts = _verdicts(room, exploration, liveness, faults, explorer.done)
    return Proof(
        exploration,
        convergence,
        tuple(faults),
        tuple((one.promise, one.because) for one in verdicts if one.status == "proven"),
        tuple(room.waived.items()),
        verdicts,
        stopped,
        explorer.done,
        exploration.states,
    )


def _faults(  # noqa: PLR0913 - all that was found
    room: Room,
    explorer: Explorer,
    exploration: Exploration,
    convergence: Convergence,
    liveness: Liveness,
    *,
    stopped: bool,
) -> Iterator[Fault]:
    """Yield what is wrong, as soon as it is known."""
    yield from _cut_off(exploration, explorer.limit, stopped=stopped)
    for one in exploration.violations:
        if one.promise not in room.waived:
            yield _broken(explorer, one, BUDGET // HURRIED if stopped else BUDGET)
    yield from (_cycle_fault(room, cycle) for cycle in convergence.cycles[:1])
    yield from map(_cues_not_proven, filter(_tests_cues, room.promises))
    yield from (_late_fault(room, late) for late in liveness.late)
    if not liveness.complete and not stopped:
        yield _beginnings_cut_off(room)
    if exploration.complete:
        yield from _idle(explorer.room, exploration)


def _verdicts(
    room: Room, exploration: Exploration, liveness: Liveness, faults: list[Fault], done: int
) -> tuple[Verdict, ...]:
    """Say of each promise what is known; a fault of the engine leaves all of them open."""
    failed = {fault.promise for fault in faults if fault.code == "broken"}
    unexplored = {one.label for one in room.promises if _tests_cues(one)}
    sound = "engine" not in {fault.code for fault in faults}

    def status(name: str, steps: int, *, complete: bool) -> VerdictStatus:
        if name in room.waived:
            return "waived"
        if name in failed:
            return "broken"
        if name in unexplored:
            return "untouched"
        if complete and sound:
            return "proven"
        return "searched" if steps else "untouched"

    never_broken = {promise.label: promise.because for promise in room.promises}
    explored = tuple(
        Verdict(name, why, status(name, done, complete=exploration.complete))
        for name, why in {**BUILT_IN_PROMISES, **never_broken}.items()
    )
    runs, all_played = liveness.runs, liveness.complete
    played = tuple(
        Verdict(one.label, one.because, status(one.label, runs, complete=all_played))
        for one in room.timely
    )
    return explored + played


def _cut_off(exploration: Exploration, limit: int, *, stopped: bool) -> list[Fault]:
    if exploration.complete:
        return []
    if stopped:
        message = f"not proven: broken off after {exploration.states:,} states"
        advice = "Give it more time."
        return [
            Fault("not-proven", fatal=True, promise="", line=0, message=message, suggestion=advice)
        ]
    message = f"not proven: after {limit:,} states there were more to come"
    advice = "Have fewer presets or panels."
    return [Fault("not-proven", fatal=True, promise="", line=0, message=message, suggestion=advice)]


def _broken(explorer: Explorer, violation: Violation, budget: int) -> Fault:
    """Look for an evening on which a promise breaks, and say what breaks it."""
    room, name = explorer.room, violation.promise
    if name.startswith(ENGINE):
        words = f"roomcue itself does not do what it must: {violation.words}"
        return Fault("engine", True, name, 0, words, "Please report this.")  # noqa: FBT003
    judge = judge_of(room, name)
    found = find_counterexample(explorer, violation, judge, budget)
    walk = None if found is None else played_again(room, judge, found)
    line = next((promise.line for promise in room.promises if promise.label == name), 0)
    if walk is None:
        words = f"{name} is broken only in the abstraction: {NO_EVENING}"
        advice = f"It breaks under {_row_label(room, violation)}: {row_advice(room, name)}"
        path, line = explorer.path(violation.cause), line or _line_of(room, violation.row)
        return Fault("broken", True, name, line, words, advice, None, path)  # noqa: FBT003
    words = f"{name} does not hold: {violation.words.rstrip('.')}"
    cause = blame(room, name, walk)
    advice = f"{cause.words} {cause.advice}"
    return Fault("broken", True, name, line or _line_of(room, cause.row), words, advice, found)  # noqa: FBT003


def _line_of(room: Room, row: int | None) -> int:
    return room.rules.otherwise.line if row is None or row < 0 else room.rules.rows[row].line


def _row_label(room: Room, violation: Violation) -> str:
    if violation.cause.environment.hand == "person":
        return "a person's hand"
    return row_words(room, violation.row)


def _tests_cues(promise: Promise) -> bool:
    """Tell whether a promise speaks of cues, which no state of the equipment keeps."""
    return any(column.name.startswith(CUE) for column in promise.never.columns)


def _without_cue_promises(room: Room) -> Room:
    kept = tuple(one for one in room.promises if not _tests_cues(one))
    return room if len(kept) == len(room.promises) else replace(room, promises=kept)


def _cues_not_proven(promise: Promise) -> Fault:
    words = f"not proven: {promise.label} speaks of cues, which are not explored"
    advice = "`replay` judges it on each night; for a proof, let it test facts and the picture."
    return Fault("not-proven", True, promise.label, promise.line, words, advice)  # noqa: FBT003


def _late_fault(room: Room, late: LateLook) -> Fault:
    """Say which look does not stand in time, and when it does."""
    promise = late.promise
    asks = show_duration(promise.within)
    message = f"{promise.label} does not hold: {asks} after a title's beginning {late.missing}"
    when = "It does not stand within an hour"
    if late.stands_after is not None:
        when = f"It stands after {show_duration(-(-late.stands_after // SECOND) * SECOND)}"
    advice = (
        f"{when} under {row_words(room, late.row)}: let within be longer, change what is shown "
        "there, or say under unless where it need not stand."
    )
    evening = Counterexample(late.events, late.ends) if late.events else None
    if evening is None:
        message += ", where somebody has refused to fit panels before"
    return Fault("broken", True, promise.label, promise.line, message, advice, evening)  # noqa: FBT003


def _beginnings_cut_off(room: Room) -> Fault:
    message = "not proven: rules tell too many beginnings of a title apart to play each of them"
    advice = "Test fewer facts in one row, or fewer different values of each."
    line = room.timely[0].line
    return Fault("not-proven", True, "", line, message, advice)  # noqa: FBT003


def _cycle_fault(room: Room, cycle: Cycle) -> Fault:
    asked = list(dict.fromkeys(one.rule for one in cycle.decisions))
    rows = {note.label: note.line for note in room.rules.rows}
    named = " and ".join(f"{label} (line {rows[label]})" for label in asked if label in rows)
    message = f"these rules lead round in a circle, and never come to rest: {named or asked}"
    advice = (
        "Let their looks not depend on what they themselves change: take preset, panels or hands "
        "out of their cases, or let them show the same."
    )
    line = next((rows[label] for label in asked if label in rows), 0)
    return Fault("circle", fatal=True, promise="", line=line, message=message, suggestion=advice)


def _idle(room: Room, exploration: Exploration) -> list[Fault]:
    """Find rows that are never chosen, and promises that say nothing."""
    found = []
    for index, note in enumerate(room.rules.rows):
        if index not in exploration.rows:
            words = f"{note.label} is never chosen: the room never gets to where it matches"
            advice = "Widen its case, or take it out."
            found.append(Fault("row-never-chosen", False, "", note.line, words, advice))  # noqa: FBT003
    broken = {one.promise for one in exploration.violations}
    for index, column in exploration.unmet:
        promise = room.promises[index]
        if promise.label in broken:
            continue
        words = f"{promise.label} says nothing: what it asks of {column} is never met"
        advice = "Test for something that can be, or take it out."
        found.append(Fault("never-met", False, promise.label, promise.line, words, advice))  # noqa: FBT003
    return found
