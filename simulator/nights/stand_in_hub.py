"""A stand-in for the hub, its equipment and one helpful person, for nights that nobody recorded.

It does what every order says and reports that as real hubs do: an outcome for each order, the
lens setting off and arriving, and after each picture order a short loss of signal, with the
source reported once more.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Iterator
from typing import Final, NamedTuple

from engine import RoomEngine
from engine.decisions import CueOrder, Decision, PictureOrder, Prompt, RecallOrder
from engine.events import (
    Answer,
    Event,
    LensReport,
    Outcome,
    Signal,
    SourceChosen,
)
from engine.refusal import Refused
from engine.room import Room

PICTURE_DONE: Final = 300
"""Milliseconds from an order to its outcome; the other times likewise."""
SIGNAL_LOST: Final = 100
SIGNAL_BACK: Final = 900
SETS_OFF: Final = 200
CUE_DONE: Final = 150


class TimedEvent(NamedTuple):
    """An event and the time at which it reaches the engine, ms UTC."""

    now: int
    event: Event


class TimePasses(NamedTuple):
    """Time that passes up to `now` (ms UTC) without an event."""

    now: int
    event: None = None


def by_time(happened: TimedEvent) -> int:
    """Return an event's time, to sort by."""
    return happened.now


class Person(NamedTuple):
    """How the person at home answers prompts; times in ms."""

    ready: int | None = 15_000
    """How long after a prompt they say that they are on their way; None: they never do."""
    answer: int | None = 60_000
    """How long after a prompt they answer; None: never."""
    says_no: bool = False


class Hub(NamedTuple):
    """Carries orders out and reports it."""

    room: Room
    person: Person = Person()
    flickers: bool = True
    """Whether a picture order is answered by a short loss of signal and a repeated source."""

    def follow(self, decisions: Iterable[Decision], source: str | None) -> Iterator[TimedEvent]:
        """Yield the events that follow from decisions, each at its time."""
        for decision in decisions:
            match decision:
                case PictureOrder():
                    yield from self._picture(decision, source)
                case RecallOrder():
                    yield from self._recall(decision)
                case CueOrder():
                    yield from self._outcome(decision.id, decision.at + CUE_DONE)
                case Prompt(stage="asked"):
                    yield from self._prompt(decision)
                case _:
                    pass

    def _outcome(self, order: int, now: int) -> Iterator[TimedEvent]:
        if self.room.answers:
            yield TimedEvent(now, Outcome(order=order, outcome="done"))

    def _picture(self, order: PictureOrder, source: str | None) -> Iterator[TimedEvent]:
        yield from self._outcome(order.id, order.at + PICTURE_DONE)
        if self.flickers and source is not None:
            yield TimedEvent(order.at + SIGNAL_LOST, Signal(locked=False))
            yield TimedEvent(order.at + SIGNAL_BACK, Signal(locked=True))
            yield TimedEvent(order.at + SIGNAL_BACK, SourceChosen(source=source))

    def _recall(self, order: RecallOrder) -> Iterator[TimedEvent]:
        lens = self.room.projector.lens
        arrives = order.at + lens.travel * 5 // 6
        if lens.reports:
            yield TimedEvent(order.at + SETS_OFF, LensReport(moving=True, preset=order.preset))
        yield from self._outcome(order.id, arrives)
        if lens.reports:
            yield TimedEvent(arrives, LensReport(moving=False, preset=order.preset))

    def _prompt(self, prompt: Prompt) -> Iterator[TimedEvent]:
        person = self.person
        if person.answer is None:
            return
        if person.says_no:
            yield TimedEvent(prompt.at + person.answer, Answer(prompt=prompt.id, answer="no"))
            return
        if person.ready is not None:
            yield TimedEvent(prompt.at + person.ready, Answer(prompt=prompt.id, answer="ready"))
        yield TimedEvent(prompt.at + person.answer, Answer(prompt=prompt.id, answer="done"))


class PlayedStep(NamedTuple):
    """One step of a night that is played."""

    now: int
    event: Event | None
    """None: something fell due."""
    decisions: tuple[Decision, ...]
    refused: Refused | None


def play_script(
    engine: RoomEngine,
    hub: Hub,
    script: Iterable[TimedEvent | TimePasses],
    until: int | None = None,
) -> Iterator[PlayedStep]:
    """Play a script on an engine while the hub answers, up to and including `until` (ms UTC).

    At one moment, what falls due comes first, then what the hub does, then the script. Only what
    falls due before a restart is left to the engine, which handles it when it hears of the restart.
    """
    queue: list[tuple[int, int, Event]] = []
    scripted = iter(script)
    following = _next(scripted, until)
    counter = 0
    while queue or following is not None or _is_due(engine, until):
        ours = bool(queue) and (following is None or queue[0][0] <= following.now)
        now, event = _coming_next(queue if ours else [], following, until)
        if until is not None and now > until and not _is_due(engine, until):
            return
        if engine.deadline is not None and engine.is_due_before(event, now):
            now, event = engine.deadline, None
        elif ours:
            heapq.heappop(queue)
            event = _as_shown(event, engine)
        else:
            following = _next(scripted, until)
            if event is None:
                continue
        reply = engine.receive(event, now)
        lived = PlayedStep(now, event, reply.decisions, reply.refusal)
        for answer in hub.follow(lived.decisions, engine.state.core.source):
            counter += 1
            heapq.heappush(queue, (answer.now, counter, answer.event))
        yield lived


def _next(
    scripted: Iterator[TimedEvent | TimePasses], until: int | None
) -> TimedEvent | TimePasses | None:
    """Return the next line of a script; None if there is none, or only after `until`."""
    following = next(scripted, None)
    return following if following is None or until is None or following.now <= until else None


def _is_due(engine: RoomEngine, until: int | None) -> bool:
    """Tell whether something falls due before the end."""
    return until is not None and engine.deadline is not None and engine.deadline <= until


def _coming_next(
    queue: list[tuple[int, int, Event]],
    following: TimedEvent | TimePasses | None,
    until: int | None,
) -> tuple[int, Event | None]:
    """Return what comes next: what the hub does, else the script, else the end."""
    if queue:
        return queue[0][0], queue[0][2]
    return (until or 0, None) if following is None else (following.now, following.event)


def _as_shown(event: Event | None, engine: RoomEngine) -> Event | None:
    """Let the hub report the source shown at the time of the report, not of the order."""
    shown = engine.state.core.source
    return SourceChosen(source=shown) if isinstance(event, SourceChosen) and shown else event
