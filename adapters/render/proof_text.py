"""Report a proof: its findings, the shortest evening that breaks a promise, what is proven."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final
from zoneinfo import ZoneInfo

from adapters.render.night_text import clock, decision_words, event_words
from engine import RoomEngine
from engine.aspect import ratio_text
from engine.decisions import Decision, Note
from engine.events import Event, Mark
from engine.room import Room
from rules.text.findings import Finding, Severity
from simulator.nights.invention import BEGINS
from simulator.nights.night_file import decision_line, event_line, head_line, new_head
from simulator.proof.counterexample import Counterexample
from simulator.proof.half_steps import Cause
from simulator.proof.proof import NOT_PROVEN, Fault, Proof

CODES: Final = {
    "broken": "promise-broken",
    "circle": "rules-circle",
    "engine": "engine-fault",
    "row-never-chosen": "row-never-chosen",
    "never-met": "promise-never-tested",
    "not-proven": "not-proven",
}
"""Codes of the findings by those of the faults; scripts rely on them, so they stay."""


def proof_findings(proof: Proof, file: str, text: str) -> Iterator[Finding]:
    """Give the faults of a proof as findings, each at its line of the room file."""
    lines = text.splitlines()
    for fault in proof.faults:
        line = max(1, fault.line)
        written_there = lines[line - 1] if fault.line and line <= len(lines) else ""
        column = len(written_there) - len(written_there.lstrip(" -")) + 1
        severity = Severity.ERROR if fault.fatal else Severity.WARNING
        example = ""
        if fault.counterexample is not None:
            example = "; ".join(event_words(one.event) for one in fault.counterexample.events)
        yield Finding(
            severity,
            CODES[fault.code],
            file,
            line,
            column,
            fault.message,
            fault.suggestion,
            example,
        )


def counterexample_text(room: Room, fault: Fault) -> Iterator[str]:
    """Tell the shortest evening on which a promise breaks, a line for each event and order.

    Where only a path through the states was found, tell its steps in place of an evening.
    """
    if fault.counterexample is None:
        if fault.path:
            yield f"{fault.promise} may break only with other durations than the room's, so:"
            yield from (f"  {_cause(cause)}" for cause in fault.path)
        return
    zone = ZoneInfo(room.zone)
    yield f"The shortest evening on which {fault.promise} breaks:"
    for now, event, decisions in _played(room, _moments(fault.counterexample)):
        if event is not None:
            yield f"  {clock(now, zone)}  {event_words(event)}"
        for decision in decisions:
            if not isinstance(decision, Note):
                yield f"  {clock(now, zone)}    {_joined(decision_words(decision))}"
    yield f"  {clock(fault.counterexample.ends, zone)}  here it breaks"


def _cause(cause: Cause) -> str:
    """Say one step of the exploration, and the facts that hold after it."""
    event, environment = cause.event, cause.environment
    told = [f"{name} {value}" for name, value in environment.told]
    told += [
        name for name in ("title", "opening", "varies", "subtitles") if getattr(environment, name)
    ]
    source, shape = environment.source or "no source", ratio_text(environment.aspect)
    words = ", ".join([source, environment.playback, shape, *told])
    if event is None:
        return f"the hub says: {words}"
    happened = f"the timer {event} runs out" if isinstance(event, str) else event_words(event)
    return f"{happened} - with {words}"


def _joined(words: tuple[str, str]) -> str:
    return " ".join(part for part in words if part)


def _moments(evening: Counterexample) -> Iterator[tuple[int, Event | None]]:
    for happened in evening.events:
        yield happened.now, happened.event
    yield evening.ends, None


def counterexample_night(
    room: Room, fault: Fault, evening: Counterexample, version: str
) -> Iterator[bytes]:
    """Give the evening as the lines of a night, with its decisions and a mark at its end."""
    yield head_line(new_head(room.name, BEGINS, room.text, version, None))
    mark = Mark(words=f"Here breaks: {fault.promise}")
    moments = [*((one.now, one.event) for one in evening.events), (evening.ends, mark)]
    for now, event, decisions in _played(room, moments):
        if event is not None:
            yield event_line(BEGINS, now, event)
        for decision in decisions:
            yield decision_line(BEGINS, decision, now)


def _played(
    room: Room, moments: Iterable[tuple[int, Event | None]]
) -> Iterator[tuple[int, Event | None, tuple[Decision, ...]]]:
    """Play an evening; deadlines come at their own times, and an event of None lets time pass."""
    engine = RoomEngine(room)
    for now, event in moments:
        while engine.deadline is not None and engine.deadline <= now:
            due = engine.deadline
            yield due, None, engine.receive(None, due).decisions
        if event is not None:
            yield now, event, engine.receive(event, now).decisions


def proof_lines(proof: Proof) -> Iterator[str]:
    """Say what is proven, how many states were visited, and what is not proven."""
    found, convergence = proof.exploration, proof.convergence
    if proof.proven:
        yield "Proven in every state that the room can reach:"
        yield from (f"  {name} - {because}" for name, because in proof.proven)
        if not any(fault.code == "circle" for fault in proof.faults):
            yield "  comes to rest - With nothing new to handle, no rule leads back to itself."
    if proof.waived:
        yield "Waived by the room file:"
        yield from (f"  {name} - {because}" for name, because in proof.waived)
    yield (
        f"Visited: {found.states:,} states of the equipment in {found.steps:,} steps, under "
        f"{found.environments:,} combinations of facts that the hub may report"
        + (f", and {convergence.runs:,} runs to rest" if convergence.runs else "")
        + ("; nothing was cut off." if found.complete else "; the rest was cut off.")
    )
    yield "Not proven:"
    yield from (f"  {words}" for words in NOT_PROVEN)


def proof_data(proof: Proof) -> dict[str, object]:
    """Give what `proof_lines` says for machines."""
    found = proof.exploration
    return {
        "complete": found.complete,
        "states": found.states,
        "steps": found.steps,
        "worlds": found.environments,
        "claims": found.classes,
        "runs_to_rest": proof.convergence.runs,
        "proven": [{"promise": name, "because": why} for name, why in proof.proven],
        "waived": [{"promise": name, "because": why} for name, why in proof.waived],
        "not_proven": list(NOT_PROVEN),
    }
