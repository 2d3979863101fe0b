"""Successors of a state: whatever may happen to a room's equipment there, taken and judged."""

from __future__ import annotations

from engine.events import Event
from engine.room import Room
from engine.snapshot import decode, encode
from engine.state import Core, State
from simulator.proof.answer_steps import AnswerSteps
from simulator.proof.effects import RelevantClasses
from simulator.proof.environments import Environment
from simulator.proof.equipment import StateKey, canonical, state_key
from simulator.proof.equivalence import EquivalenceClasses
from simulator.proof.event_steps import EventSteps
from simulator.proof.half_steps import TALLY, Cause, Expansion, HalfSteps, Successor
from simulator.proof.judgement import Judgement


class Successors:
    """Takes the half steps of a room; what it remembers only saves work."""

    def __init__(self, room: Room) -> None:
        self.room = room
        self.classes = EquivalenceClasses(room)
        self._relevant = RelevantClasses(room, self.classes)
        self._half_steps = HalfSteps(room)
        self._events = EventSteps(room, self._half_steps)
        self._answers = AnswerSteps(room, self.classes, self._half_steps)
        self.judgement = Judgement(room, self._half_steps)
        self._returned: set[StateKey] = set()
        self._returned_after_events: set[StateKey] = set()

    def after_events(self, at: int, core: Core) -> Expansion:
        """Take every first half step from a state: each event and each timer, once.

        States that an earlier call has returned are left out.
        """
        if not self._survives_snapshot(core):
            words = "a state is not the same once written and read"
            self._half_steps.violate("roomcue: restart", words, Cause(at, None, Environment()))
        found: dict[StateKey, Successor] = {}
        for event, after in self._events.from_state(at, core):
            key = self.key(after)
            if key not in self._returned_after_events:
                self._returned_after_events.add(key)
                cause = Cause(at, event, self._events.playing)
                found[key] = Successor(key, self.canonical(after), cause)
        return self._half_steps.expansion(found.values())

    def after_answers(self, at: int, event: Event | str | None, core: Core) -> Expansion:
        """Take every second half step from a core: one in each class of environments."""
        found: dict[StateKey, Successor] = {}
        for group in self._relevant.of(core):
            cause = Cause(at, event, group.environment)
            for before, tx in self._answers.from_core(at, core, group):
                self.judgement.judge(before, group, tx, cause)
                key = self.key(tx.core)
                if key not in found:
                    new = key not in self._returned
                    self._returned.add(key)
                    found[key] = Successor(key, self.canonical(tx.core) if new else None, cause)
        return self._half_steps.expansion(found.values())

    def key(self, core: Core) -> StateKey:
        """Return what identifies the equipment's state."""
        return state_key(self.room, core, carries_over=self.classes.carries_over)

    def canonical(self, core: Core) -> Core:
        """Return a copy that holds no more than its key tells."""
        return canonical(core, carries_over=self.classes.carries_over)

    def _survives_snapshot(self, core: Core) -> bool:
        state = State(core, self._events.playing.settling, TALLY, core.timers.next())
        return decode(encode(state)) == state
