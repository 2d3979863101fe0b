"""Successors of a state: whatever may happen to a room's equipment there, taken and judged."""

from __future__ import annotations

from collections.abc import Callable

from engine.events import Event
from engine.room import Room
from engine.snapshot import decode, encode
from engine.state import Core, State
from simulator.proof.answer_steps import AnswerSteps
from simulator.proof.demands import Demands
from simulator.proof.environments import Environment
from simulator.proof.equipment import StateKey, canonical, state_key
from simulator.proof.equivalence import EquivalenceClasses
from simulator.proof.event_steps import EVERYTHING, EventSteps, Share
from simulator.proof.half_steps import TALLY, Cause, Expansion, HalfSteps, Successor
from simulator.proof.judgement import Judgement
from simulator.proof.picture_sweep import PicturePlace, PictureSweep
from simulator.proof.stopping import never


class Successors:
    """Takes the half steps of a room; what it remembers only saves work."""

    def __init__(self, room: Room, stop: Callable[[], bool] = never) -> None:
        """Tell environments apart; raises `BrokenOff` once `stop` says so."""
        self.room = room
        self.classes = EquivalenceClasses(room, stop)
        self.demands = Demands(room, self.classes)
        self._half_steps = HalfSteps(room)
        self._events = EventSteps(room, self._half_steps)
        self._answers = AnswerSteps(room, self._half_steps)
        self.judgement = Judgement(room, self._half_steps)
        self._sweep = PictureSweep(room, self.demands, self._half_steps, self.judgement)
        self._returned: set[tuple[PicturePlace, StateKey]] = set()
        """What has been returned from each place: with several workers the states of one place
        are looked at in their order, those of two places are not."""
        self._returned_after_events: set[tuple[Share, StateKey]] = set()
        """The same for each share of the events."""

    def after_events(self, at: int, core: Core, share: Share = EVERYTHING) -> Expansion:
        """Take the first half steps of a share from a state: each event and each timer, once."""
        if share.last and not self._survives_snapshot(core):
            words = "a state is not the same once written and read"
            self._half_steps.violate("roomcue: restart", words, Cause(at, None, Environment()))
        found: dict[StateKey, Successor] = {}
        for event, after in self._events.from_state(at, core, share):
            key = self.key(after)
            if key not in found:
                new = (share, key) not in self._returned_after_events
                self._returned_after_events.add((share, key))
                cause = Cause(at, event, self._events.playing)
                found[key] = Successor(key, canonical(after) if new else None, cause)
        return self._half_steps.expansion(found.values())

    def after_answers(self, at: int, event: Event | str | None, core: Core) -> Expansion:
        """Take every second half step from a core: each demand, and each picture."""
        self._sweep.judge(at, event, core)
        found: dict[StateKey, Successor] = {}
        situation, place = self.classes.situation(core), self.place(core)
        for demand in self.demands.of(core):
            cause = Cause(at, event, demand.environment)
            for before, tx in self._answers.from_core(at, core, demand):
                self.judgement.judge(before, demand, tx, cause)
                after = tx.core
                # Where rules see otherwise now, they are asked again from the new state.
                if "flash" not in after.holds and self.classes.situation(after) == situation:
                    self.judgement.own(self._sweep.promises_met(demand, after), after, cause)
                key = self.key(after)
                if key not in found:
                    new = (place, key) not in self._returned
                    self._returned.add((place, key))
                    found[key] = Successor(key, canonical(after) if new else None, cause)
        return self._half_steps.expansion(found.values())

    def place(self, core: Core) -> PicturePlace:
        """Return where pictures are shown alike: whoever knows a place need not look again."""
        return self._sweep.place(core)

    def key(self, core: Core) -> StateKey:
        """Return what identifies the equipment's state."""
        return state_key(self.room, core)

    def _survives_snapshot(self, core: Core) -> bool:
        state = State(core, self._events.playing.settling, TALLY, core.timers.next())
        return decode(encode(state)) == state
