"""Seeded evenings on the real engine: anything may be heard at any time, and every step is seen.

An evening is obedient or not: a stand-in hub carries every order out, or nobody does. It is guided
or not: events drive towards the cases of the room's rows and promises, or are anything at all. What
was heard is kept as moments, which can be lived through again, or with some of them left out.
"""

from __future__ import annotations

import heapq
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import replace
from random import Random
from typing import Final, NamedTuple, Protocol

from engine import RoomEngine
from engine.decisions import Decision
from engine.events import Answer, Event, Outcome, Resumed, SourceChosen, event_json
from engine.room import Room
from engine.state import Core, State
from simulator.nights.stand_in_hub import Hub, Person
from tests.soundness.anything_heard import any_event
from tests.soundness.guided_wishes import Wish, usual_start, wishes
from tests.soundness.independent_judge import Seen
from tests.soundness.random_rooms import RandomRoom

START: Final = 1_795_375_800_000
HOUR: Final = 3_600_000
LONGEST: Final = 70
"""The number of events in an evening, without what the hub answers."""


class Moment(NamedTuple):
    """An event, when it is heard (ms UTC), and which open order or prompt it is meant for."""

    now: int
    event: Event
    aim: str = ""


class Script(Protocol):
    """What says which moment comes next, and is told what came of each."""

    def peek(self, state: State, now: int) -> Moment | None:
        """Give the next moment; None at the end."""

    def taken(self) -> None:
        """Go on to the moment after it."""

    def decided(self, decisions: tuple[Decision, ...], state: State) -> None:
        """Hear what the engine has decided."""


def live(room: Room, script: Script) -> Iterator[Seen]:
    """Live through an evening; what falls due fires at its own time, each as a step of its own."""
    engine, now = RoomEngine(room), START
    while (moment := script.peek(engine.state, now)) is not None:
        before, due = engine.state, engine.deadline
        if due is not None and due <= moment.now and not isinstance(moment.event, Resumed):
            now = max(now, due)  # a restart that is refused has let nothing fall due before it
            reply, event = engine.receive(None, now), None
        else:
            now = moment.now
            event = _aimed(moment, engine.state.core)
            script.taken()
            reply = engine.receive(event, now)
        if reply.refusal is not None and isinstance(event, Resumed):
            continue  # nothing has happened, and what fell due while nobody was there comes next
        script.decided(reply.decisions, engine.state)
        heard = event if reply.refusal is None else None
        yield Seen(now, heard, before, reply.decisions, engine.state)


def _aimed(moment: Moment, core: Core) -> Event:
    """Let an answer or an outcome name what is open now; its number may be another one today."""
    event, number = moment.event, _open(core).get(moment.aim)
    if number is not None and isinstance(event, Answer):
        return replace(event, prompt=number)
    if number is not None and isinstance(event, Outcome):
        return replace(event, order=number)
    return event


def _open(core: Core) -> dict[str, int]:
    """Give the numbers of what is open, by what it is."""
    cues = [cue.id for cue in core.open_cues]
    found = {
        "prompt": None if core.asked is None else core.asked.id,
        "picture": core.picture,
        "recall": core.recall,
        "cue": cues[0] if cues else None,
    }
    return {name: number for name, number in found.items() if number is not None}


class Relived:
    """Moments that are known, lived through again."""

    def __init__(self, moments: Iterable[Moment]) -> None:
        self.moments = deque(moments)

    def peek(self, _state: State, _now: int) -> Moment | None:
        return self.moments[0] if self.moments else None

    def taken(self) -> None:
        self.moments.popleft()

    def decided(self, _decisions: tuple[Decision, ...], _state: State) -> None:
        pass


class Invented:
    """An evening that is made up while it is lived; `moments` are those that have been taken."""

    def __init__(self, made: RandomRoom, seed: int) -> None:
        self.made, self.rng = made, Random(seed)
        self.obedient, self.guided = self.rng.random() < 0.6, self.rng.random() < 0.75
        self.moments: list[Moment] = []
        self._hub = Hub(made.room, self._person(), flickers=self.rng.random() < 0.3)
        self._answers: list[tuple[int, int, Event]] = []
        self._wishes: deque[Wish] = deque()
        if self.rng.random() < 0.6:
            self._wishes.extend(usual_start(self.rng, made))
        self._next: Moment | None = None
        self._peeked: Moment | None = None
        self._count = self._numbered = 0
        self._latest = START

    def peek(self, state: State, now: int) -> Moment | None:
        self._latest = max(self._latest, now)
        if self._next is None and self._count < LONGEST:
            self._next = self._invented(state.core)
        self._peeked = self._next
        if self._hub_is_next():
            when, _, event = self._answers[0]
            if isinstance(event, SourceChosen) and state.core.source is not None:
                event = SourceChosen(source=state.core.source)  # what is shown by then
            self._peeked = _aimed_at(max(when, self._latest), event, state.core)
        return self._peeked

    def taken(self) -> None:
        assert self._peeked is not None
        self.moments.append(self._peeked)
        if self._hub_is_next():
            heapq.heappop(self._answers)
        else:
            self._next, self._count = None, self._count + 1

    def decided(self, decisions: tuple[Decision, ...], state: State) -> None:
        if self.obedient:
            for follows in self._hub.follow(decisions, state.core.source):
                self._numbered += 1
                heapq.heappush(self._answers, (follows.now, self._numbered, follows.event))

    def _hub_is_next(self) -> bool:
        """Tell whether an answer of the hub comes before the next event."""
        if not self._answers:
            return False
        return self._next is None or self._answers[0][0] <= self._next.now

    def _person(self) -> Person:
        if self.rng.random() < 0.5:
            return Person(ready=2_000, answer=9_000)
        return Person(answer=9_000, says_no=True)

    def _invented(self, core: Core) -> Moment:
        rng = self.rng
        if not self._wishes and self.guided and rng.random() < 0.6:
            self._wishes.extend(wishes(rng, self.made))
        if self._wishes and rng.random() < 0.85:
            wait, event = self._wishes.popleft()
        else:
            wait = self._wait()
            event = any_event(rng, self.made, core, self._latest + wait)
        return _aimed_at(self._latest + wait, event, core)

    def _wait(self) -> int:
        """Wait for no time, for a while, for just as long as something takes here, or for hours."""
        rng, pace, lens = self.rng, self.made.room.pace, self.made.room.projector.lens
        lengths = [
            pace.linger,
            pace.pause,
            pace.first_minutes,
            pace.order,
            pace.give_up,
            pace.remind,
        ]
        lengths += [pace.session, lens.travel, lens.travel * 3 // 2, pace.settle.wider]
        if rng.random() < 0.25:
            return max(0, rng.choice(lengths) + rng.choice((-1, 0, 1, 700)))
        return rng.choice((0, 0, 1, 50, 120, 334, 400, 1_500, 4_100, 9_000, 13_000, HOUR, 5 * HOUR))


def _aimed_at(now: int, event: Event, core: Core) -> Moment:
    """Say what an answer or an outcome is meant for."""
    if isinstance(event, Answer):
        return Moment(now, event, "prompt")
    if isinstance(event, Outcome):
        aims = [name for name, number in _open(core).items() if number == event.order]
        return Moment(now, event, aims[0] if aims else "")
    return Moment(now, event)


def told(moments: Iterable[Moment]) -> str:
    """Write moments for people: seconds since the evening began, and each event's JSON."""
    return "\n".join(
        f"{(moment.now - START) / 1_000:>12.3f}  {event_json(moment.event).decode()}"
        for moment in moments
    )
