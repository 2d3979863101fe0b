"""Report a proof: its findings, an evening that breaks a promise, what is proven."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final
from zoneinfo import ZoneInfo

from adapters.render.night_text import clock, decision_words, event_words
from adapters.render.proof_report import (
    BreakingEvening,
    EveningEvent,
    PromiseStatus,
    ProofReport,
    ReportedFault,
    ReportedPromise,
)
from engine import RoomEngine
from engine.aspect import ratio_text
from engine.decisions import Decision, Note
from engine.events import Event, Mark
from engine.room import Room
from rules.text.findings import Finding, Severity
from simulator.nights.invention import BEGINS
from simulator.nights.night_file import decision_line, event_line, head_line, new_head
from simulator.proof.faults import Fault
from simulator.proof.half_steps import Cause
from simulator.proof.proof import Proof

CODES: Final = {
    "broken": "promise-broken",
    "circle": "rules-circle",
    "engine": "engine-fault",
    "row-never-chosen": "row-never-chosen",
    "never-met": "promise-never-tested",
    "not-proven": "not-proven",
}
"""Codes of the findings by those of the faults; scripts rely on them, so they stay."""

HEADINGS: Final[dict[PromiseStatus, str]] = {
    "proven": "Proven in every state that the room can reach:",
    "broken": "Broken:",
    "searched": "Not broken in the {done} of {known} known states that were looked at:",
    "untouched": "Not looked at yet:",
    "waived": "Waived by the room file:",
}
"""What stands above the promises of which the same is known."""

COMES_TO_REST: Final = "comes to rest - With nothing new to handle, no rule leads back to itself."


def report_of(proof: Proof, *, stopped: bool = False) -> ProofReport:
    """Give a proof as plain data; `stopped`: something was left out because of a deadline."""
    found, stopped = proof.exploration, stopped or proof.stopped
    waivers = dict(proof.waived)
    return ProofReport(
        complete=found.complete and not stopped,
        stopped=stopped,
        done=proof.done,
        known=proof.known,
        steps=found.steps,
        worlds=found.environments,
        claims=found.classes,
        runs=proof.convergence.runs,
        faults=tuple(map(reported, proof.faults)),
        promises=tuple(
            ReportedPromise(one.promise, waivers.get(one.promise, one.because), one.status)
            for one in proof.verdicts
        ),
        not_proven=proof.not_proven,
    )


def reported(fault: Fault) -> ReportedFault:
    """Give one fault as plain data, as soon as it is known."""
    evening = None
    if fault.counterexample is not None:
        found = fault.counterexample
        events = (EveningEvent(one.now, one.event) for one in found.events)
        evening = BreakingEvening(tuple(events), found.ends, found.fewest)
    return ReportedFault(
        CODES[fault.code],
        fault.fatal,
        fault.promise,
        fault.line,
        fault.message,
        fault.suggestion,
        evening,
        tuple(map(_cause, fault.path)),
    )


def fault_finding(fault: ReportedFault, file: str, text: str) -> Finding:
    """Give a fault as a finding at its line of the room file."""
    lines = text.splitlines()
    line = max(1, fault.line)
    written_there = lines[line - 1] if fault.line and line <= len(lines) else ""
    column = len(written_there) - len(written_there.lstrip(" -")) + 1
    severity = Severity.ERROR if fault.fatal else Severity.WARNING
    example = ""
    if fault.evening is not None:
        example = "; ".join(event_words(one.event) for one in fault.evening.events)
    return Finding(
        severity, fault.code, file, line, column, fault.message, fault.suggestion, example
    )


def counterexample_text(room: Room, fault: ReportedFault) -> Iterator[str]:
    """Tell the evening on which a promise breaks, a line for each event and order.

    Where only a path through the states was found, tell its steps in place of an evening.
    """
    if fault.evening is None:
        if fault.path:
            yield (
                f"{fault.promise} is broken only in the abstraction, in which every duration is "
                "possible: no evening was found on which the engine breaks it. The way there:"
            )
            yield from (f"  {step}" for step in fault.path)
        return
    zone = ZoneInfo(room.time_zone)
    evening = "The shortest evening" if fault.evening.fewest else "An evening"
    yield f"{evening} on which {fault.promise} breaks:"
    for now, event, decisions in _played(room, _moments(fault.evening)):
        if event is not None:
            yield f"  {clock(now, zone)}  {event_words(event)}"
        for decision in decisions:
            if not isinstance(decision, Note):
                yield f"  {clock(now, zone)}    {_joined(decision_words(decision))}"
    yield f"  {clock(fault.evening.ends, zone)}  here it breaks"


def _cause(cause: Cause) -> str:
    """Say one step of the exploration, and the facts that hold after it."""
    event, environment = cause.event, cause.environment
    told = [f"{name} {value}" for name, value in environment.told]
    told += [
        name
        for name in ("title", "first_minutes", "varies", "subtitles")
        if getattr(environment, name)
    ]
    source, shape = environment.source or "no source", ratio_text(environment.aspect)
    words = ", ".join([source, environment.playback, shape, *told])
    if event is None:
        return f"the hub says: {words}"
    happened = f"the timer {event} runs out" if isinstance(event, str) else event_words(event)
    return f"{happened} - with {words}"


def _joined(words: tuple[str, str]) -> str:
    return " ".join(part for part in words if part)


def _moments(evening: BreakingEvening) -> Iterator[tuple[int, Event | None]]:
    for happened in evening.events:
        yield happened.now, happened.event
    yield evening.ends, None


def counterexample_night(
    room: Room, fault: ReportedFault, evening: BreakingEvening, version: str
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
        while engine.deadline is not None and engine.is_due_before(event, now):
            due = engine.deadline
            yield due, None, engine.receive(None, due).decisions
        if event is not None:
            yield now, event, engine.receive(event, now).decisions


def progress_words(done: int, known: int, seconds: float, explored: float) -> str:
    """Say how far a proof is that began so many `seconds` ago.

    `done` of the `known` states were looked at whole in the `explored` seconds; none are known
    while the facts are told apart, and all are done while evenings are looked for.
    """
    if not known:
        return f"proving: telling apart what the hub may report, for {seconds:.0f} s"
    if done >= known:
        return f"proving: {known:,} states done; looking at what follows, for {seconds:.0f} s"
    left = "no telling how long" if not done else _about(explored * (known - done) / done)
    return f"proving: {done:,} of {known:,} states known, {left}"


def _about(seconds: float) -> str:
    """Say how long it takes, no more exactly than anybody knows."""
    if seconds < 10:  # noqa: PLR2004 - no use counting them
        return "a few seconds left"
    if seconds < 100:  # noqa: PLR2004 - whole minutes tell too little
        return f"about {round(seconds, -1):.0f} s left"
    return f"about {seconds / 60:.0f} min left"


def proof_lines(report: ProofReport) -> Iterator[str]:
    """Say what is proven of each promise, how many states were visited, and what is not proven."""
    if report.stopped:
        yield "The proof is not finished: it was broken off."
    for status, heading in HEADINGS.items():
        listed = [f"  {one.promise} - {one.because}" for one in report.with_status(status)]
        if status == "proven" and listed and report.complete and not _runs_in_circles(report):
            listed.append(f"  {COMES_TO_REST}")
        if listed:
            yield heading.format(done=f"{report.done:,}", known=f"{report.known:,}")
            yield from listed
    yield (
        f"Visited: {report.known:,} states of the equipment in {report.steps:,} steps, under "
        f"{report.worlds:,} combinations of facts that the hub may report"
        + (f", and {report.runs:,} runs to rest" if report.runs else "")
        + ("; nothing was cut off." if report.complete else "; the rest was cut off.")
    )
    yield "Not proven:"
    yield from (f"  {words}" for words in report.not_proven)


def _runs_in_circles(report: ProofReport) -> bool:
    return any(fault.code == CODES["circle"] for fault in report.faults)


def proof_data(report: ProofReport) -> dict[str, object]:
    """Give what `proof_lines` says for machines."""
    return {
        "complete": report.complete,
        "stopped": report.stopped,
        "states": report.known,
        "states_done": report.done,
        "steps": report.steps,
        "worlds": report.worlds,
        "claims": report.claims,
        "runs_to_rest": report.runs,
        **{
            status: [
                {"promise": one.promise, "because": one.because}
                for one in report.with_status(status)
            ]
            for status in HEADINGS
        },
        "not_proven": list(report.not_proven),
    }
