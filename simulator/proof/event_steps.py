"""First halves of steps: every event that the equipment may meet, and every timer that may fire."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from engine.deadlines import fire_due
from engine.events import Event, Hand, LensReport, ProjectorReport, Resumed, Service
from engine.handlers import apply_event
from engine.refusal import Refused
from engine.room import Room, Show
from engine.state import Core, Timers
from simulator.proof.alphabet import Alphabet
from simulator.proof.environments import LATER, Environment, entered
from simulator.proof.half_steps import NOW, Cause, HalfSteps
from simulator.proof.invariants import event_violations, timer_violations
from simulator.proof.standing_pictures import StandingPictures

ORDER: Final = 1
"""The number of the picture order that is open here."""


class EventSteps:
    """Applies events and fires timers, and checks that each has its effect."""

    def __init__(self, room: Room, half_steps: HalfSteps) -> None:
        self.room = room
        self._half_steps = half_steps
        self._alphabet = Alphabet(room)
        self._standing = StandingPictures(room)
        source = next(iter(room.sources))
        self.playing = Environment(
            source=source, playback="playing", title=True, opening=True, aspect=23_900
        )
        """The environment in which events are applied."""
        self._idle = self.playing._replace(playback="stopped", title=False, opening=False)
        self._others = (
            self._idle._replace(projector="off"),
            self.playing._replace(service=True),
        )
        self._taken = self.playing._replace(hand="person", wish=Show())

    def from_state(self, at: int, core: Core) -> Iterator[tuple[Event | str | None, Core]]:
        """Yield each event or timer with the core it leads to; None is no event."""
        yield None, core
        playing = self._with_picture_order(core)
        yield from self._events(at, core, playing)
        for timer in Timers._fields:
            if getattr(playing.timers, timer) is not None:
                yield from self._fire(at, playing, timer, self.playing)
        yield from self._fire(at, core, "session", self._idle)
        yield from self._fire(at, core, "hand", self._taken)
        by_hand = entered(core, self._taken)
        for taking in (True, False):
            yield from self._apply(at, by_hand, Hand(taken=taking), self._taken)

    def _with_picture_order(self, core: Core) -> Core:
        """Open a picture order where one may be open, so that it can be answered or overdue."""
        if not self.room.answers:
            return core
        new = core.copy()
        new.shown, new.picture = next(iter(self._standing.safe(core)), None), ORDER
        new.timers = core.timers._replace(picture=LATER)
        return new

    def _events(self, at: int, core: Core, playing: Core) -> Iterator[tuple[Event, Core]]:
        """Apply every event; some also without light, in service, or with other lens memory."""
        entered_playing = entered(playing, self.playing)
        unordered = entered(core, self.playing)
        others = [(entered(core, environment), environment) for environment in self._others]
        for event in self._alphabet.events(playing):
            yield from self._apply(at, entered_playing, event, self.playing)
            if isinstance(event, Service | ProjectorReport | Resumed):
                for other, environment in others:
                    yield from self._apply(at, other, event, environment)
            elif isinstance(event, LensReport):
                for changed in _lens_memories(unordered, event):
                    yield from self._apply(at, changed, event, self.playing)

    def _apply(
        self, at: int, before: Core, event: Event, environment: Environment
    ) -> Iterator[tuple[Event, Core]]:
        """Apply an event to a core that has entered the environment; a refusal yields nothing."""
        tx = self._half_steps.begin(before.copy(), environment)
        try:
            apply_event(tx, event)
        except Refused:
            return
        for words in event_violations(self.room, before, event, tx.core):
            self._half_steps.violate("roomcue: reports", words, Cause(at, event, environment))
        yield event, tx.core

    def _fire(
        self, at: int, core: Core, timer: str, environment: Environment
    ) -> Iterator[tuple[str, Core]]:
        """Let one timer fall due now."""
        before = entered(core, environment)
        before.timers = before.timers._replace(**{timer: NOW})
        tx = self._half_steps.begin(before.copy(), environment)
        fire_due(tx)
        for words in timer_violations(self.room, before, timer, tx.core):
            self._half_steps.violate("roomcue: timers", words, Cause(at, timer, environment))
        yield timer, tx.core


def _lens_memories(core: Core, report: LensReport) -> Iterator[Core]:
    """Yield the core with what else it may remember of the lens when a report comes."""
    if core.recall is not None:
        off = core.copy()
        off.set_off = True
        yield off
    elif report.moving and report.id is None:
        echo = core.copy()
        echo.echo = report.preset or ""
        yield echo
