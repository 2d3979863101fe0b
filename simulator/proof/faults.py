"""Faults: what is wrong with a room's rules, each with its words and what to do about it.

Nothing here knows files or terminals; a fault's `line` is that of the room file, if it has one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final, Literal, NamedTuple

from engine.room import Room
from rules.text.findings import listed
from rules.text.quantity import show_duration
from simulator.nights.promises import judge_of
from simulator.proof.blame import blame
from simulator.proof.broken_scene import row_advice, row_words
from simulator.proof.convergence import Cycle
from simulator.proof.counterexample import Counterexample, find_counterexample, played_again
from simulator.proof.half_steps import Cause, Violation
from simulator.proof.liveness import LateLook
from simulator.proof.reachability import Exploration, Explorer
from simulator.proof.walk import SECOND

NO_EVENING: Final = "no evening was found on which the engine breaks it"
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


def cut_off(done: int, known: int, limit: int, *, stopped: bool) -> Fault:
    """Say that a proof did not come to its end, and why; `done` states were looked at whole."""
    message = f"not proven: after {limit:,} states there were more to come"
    advice = "Have fewer presets or panels."
    if stopped:
        message = f"not proven: broken off after {done:,} of {known:,} known states"
        advice = "Give it more time."
    return Fault("not-proven", fatal=True, promise="", line=0, message=message, suggestion=advice)


def broken_promise(explorer: Explorer, violation: Violation, stop: Callable[[], bool]) -> Fault:
    """Look for an evening on which a promise breaks, and say what breaks it."""
    room, name = explorer.room, violation.promise
    if name.startswith(ENGINE):
        words = f"roomcue itself does not do what it must: {violation.words}"
        return Fault("engine", True, name, 0, words, "Please report this.")  # noqa: FBT003
    judge = judge_of(room, name)
    found = find_counterexample(explorer, violation, judge, stop)
    walk = None if found is None else played_again(room, judge, found)
    line = next((promise.line for promise in room.promises if promise.label == name), 0)
    if walk is None:
        return _without_evening(explorer, violation, line, stopped=stop())
    words = f"{name} does not hold: {violation.words.rstrip('.')}"
    cause = blame(room, name, walk)
    advice = f"{cause.words} {cause.advice}"
    return Fault("broken", True, name, line or _line_of(room, cause.row), words, advice, found)  # noqa: FBT003


def _without_evening(
    explorer: Explorer, violation: Violation, line: int, *, stopped: bool
) -> Fault:
    """Say that a promise breaks in the abstraction, as far as anybody knows."""
    room, name = explorer.room, violation.promise
    words = f"{name} is broken only in the abstraction: {NO_EVENING}"
    if stopped:
        words = f"{name} does not hold, and there was no time to look for an evening that shows it"
    advice = f"It breaks under {_row_label(room, violation)}: {row_advice(room, name)}"
    path, line = explorer.path(violation), line or _line_of(room, violation.row)
    return Fault("broken", True, name, line, words, advice, None, path)  # noqa: FBT003


def _line_of(room: Room, row: int | None) -> int:
    return room.rules.note(row).line


def _row_label(room: Room, violation: Violation) -> str:
    if violation.cause.environment.override == "person":
        return "an override"
    return row_words(room, violation.row)


def late_look(room: Room, late: LateLook) -> Fault:
    """Say which look does not stand in time, and when it does."""
    promise = late.promise
    asks = show_duration(promise.within)
    message = f"{promise.label} does not hold: {asks} after a title's beginning {late.missing}"
    row = row_words(room, late.row)
    if late.stands_after is None:
        when = f"Under {row} it does not stand within an hour, for then {late.at_last}"
    else:
        takes = f" ({listed(late.takes, 'and')})" if late.takes else ""
        after = show_duration(-(-late.stands_after // SECOND) * SECOND)
        when = f"It stands after {after}{takes} under {row}"
    advice = (
        f"{when}: let within be longer, change what is shown there, or say under unless where it "
        "need not stand."
    )
    evening = Counterexample(late.events, late.ends) if late.events else None
    if evening is None:
        message += ", where somebody has refused to fit panels before"
    return Fault("broken", True, promise.label, promise.line, message, advice, evening)  # noqa: FBT003


def beginnings_cut_off(room: Room) -> Fault:
    """Say that not every beginning of a title was played."""
    message = "not proven: rules tell too many beginnings of a title apart to play each of them"
    advice = "Test fewer facts in one row, or fewer different values of each."
    line = room.timely[0].line
    return Fault("not-proven", True, "", line, message, advice)  # noqa: FBT003


def circle(room: Room, cycle: Cycle) -> Fault:
    """Say which rules lead back to themselves."""
    named = " and ".join(row_words(room, row) for row in cycle.rows)
    message = f"these rules lead round in a circle, and never come to rest: {named}"
    advice = (
        "Let their looks not depend on what they themselves change: take preset, panels or helper "
        "out of their cases, or let them show the same."
    )
    line = min(room.rules.note(row).line for row in cycle.rows)
    return Fault("circle", fatal=True, promise="", line=line, message=message, suggestion=advice)


def idle_rows_and_promises(room: Room, exploration: Exploration) -> Iterator[Fault]:
    """Find rows that are never chosen, and promises that say nothing."""
    for index, note in enumerate(room.rules.rows):
        if index not in exploration.rows:
            words = f"{note.label} is never chosen: the room never gets to where it matches"
            advice = "Widen its case, or take it out."
            yield Fault("row-never-chosen", False, "", note.line, words, advice)  # noqa: FBT003
    broken = {one.promise for one in exploration.violations}
    for index, column in exploration.unmet:
        promise = room.promises[index]
        if promise.label in broken:
            continue
        words = f"{promise.label} says nothing: what it asks of {column} is never met"
        advice = "Test for something that can be, or take it out."
        yield Fault("never-met", False, promise.label, promise.line, words, advice)  # noqa: FBT003
