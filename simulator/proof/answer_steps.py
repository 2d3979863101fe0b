"""Second halves of steps: what the engine chooses and orders in each class of environments.

Some of the engine's memory only ever keeps it from ordering something: a wish that has not
lingered, used-up recalls, a picture that failed, is not confirmed or has only just changed. No
states are kept for these. Instead, wherever an order is given, the half step is taken again with
each of them in its way.
"""

from __future__ import annotations

from collections.abc import Iterator

from engine.deadlines import fire_due
from engine.decisions import Decision, PictureOrder, Prompt, RecallOrder
from engine.room import DARK, PLAIN, WHOLE, Look, Room
from engine.state import Core
from engine.step import choose_and_reconcile
from engine.transaction import Transaction
from simulator.proof.environments import LATER, entered, picture_kind
from simulator.proof.equipment import LEFT
from simulator.proof.equivalence import EquivalenceClass, EquivalenceClasses
from simulator.proof.event_steps import ORDER
from simulator.proof.half_steps import NOW, HalfSteps
from simulator.proof.invariants import StepStart, step_start

Answered = tuple[StepStart, Transaction]
"""What a half step began with, and the half step."""


class AnswerSteps:
    """Lets the engine choose and order, in one class of environments at a time."""

    def __init__(self, room: Room, classes: EquivalenceClasses, half_steps: HalfSteps) -> None:
        self.room = room
        self._classes = classes
        self._half_steps = half_steps

    def from_core(self, at: int, core: Core, group: EquivalenceClass) -> Iterator[Answered]:
        """Answer, and answer again with each thing that may be in an order's way."""
        first_wish = True
        for start, first in self._at_once(at, core, group):
            yield start, first
            if "linger" not in first.core.holds:
                continue
            ripe = self._ripened(first, group, LEFT, 0)
            yield step_start(first.core), ripe
            if first_wish and len(ripe.decisions) > 0:
                yield step_start(first.core), self._ripened(first, group, 0, 0)
                yield step_start(first.core), self._ripened(first, group, LEFT, LEFT)
            first_wish = False

    def _ripened(
        self, first: Transaction, group: EquivalenceClass, night: int, asks: int
    ) -> Transaction:
        """Let a wish linger for long enough, with so many recalls left and prompts made."""
        core = first.core.copy()
        core.timers = core.timers._replace(linger=NOW)
        core.left_night, core.asks = night, asks
        tx = self._half_steps.begin(core, group.environment, first.tally)
        fire_due(tx)
        choose_and_reconcile(tx)
        return tx

    def _at_once(self, at: int, core: Core, group: EquivalenceClass) -> Iterator[Answered]:
        """Answer without any wish lingering, for each look that may have been wanted before."""
        for wanted in self._wanted(core, group):
            before, tx = self._answer(self._start(at, core, group, wanted), group)
            yield before, tx
            if self._picture_matters(tx):
                changed = self._held_picture(self._start(at, core, group, wanted), tx.core)
                if changed is not None:
                    yield self._answer(changed, group)
            if any(_sends_something_off(one) for one in tx.decisions):
                waiting = self._start(at, core, group, wanted)
                waiting.left_night = 0
                yield self._answer(waiting, group)
                if core.shown is not None and self.room.answers:
                    waiting = self._start(at, core, group, wanted)
                    waiting.picture = ORDER
                    waiting.timers = waiting.timers._replace(picture=LATER)
                    yield self._answer(waiting, group)

    def _picture_matters(self, tx: Transaction) -> bool:
        """Tell whether a picture was ordered, and its failing could change anything else."""
        if not any(isinstance(one, PictureOrder) for one in tx.decisions):
            return False
        core = tx.core
        waits = core.asked is not None or "linger" in core.holds or "picture" in core.holds
        return self._classes.carries_over or waits or len(tx.decisions) > 1

    def _held_picture(self, start: Core, after: Core) -> Core | None:
        """Return the start with a reason why the picture is not ordered, so that others go on.

        It failed before, it stands already, or the last one has only just changed. None where
        none of these can be.
        """
        shown = after.shown
        if start.shown is None:
            start.shown, start.failed = shown, True
            return start if self.room.answers else None
        if shown is not None:
            kind = picture_kind(self.room, shown)
            if kind == picture_kind(self.room, start.shown):
                start.shown = shown
                return start
        if shown is None or shown.picture == DARK:
            return None
        start.timers = start.timers._replace(flash=LATER)
        return start

    def _wanted(self, core: Core, group: EquivalenceClass) -> Iterator[Look | None]:
        """Yield each look that may have been wanted before; None: it does not matter.

        A row that leaves the panels open does not send away whoever has just been asked, so what
        they were asked for is one of them.
        """
        if group.environment.hand == "person" or group.inert:
            held = group.inert and group.pausing and group.environment.hand == "rules"
            yield core.wanted if held else None
            return
        asked = None if core.asked is None else core.asked.panels
        if group.pausing:
            yield from self._held_looks(core, asked)
            return
        yield None
        if asked is not None:
            yield core.wanted._replace(panels=asked)

    def _held_looks(self, core: Core, asked: str | None) -> Iterator[Look]:
        """Yield each look that a pause may hold.

        Its picture is the one that stands, or one that could not be shown and has plain in its
        place. Its preset and panels are others than those that stand: a wish that was not ripe
        when the pause began, so that the pause has something to hold back. Where people have
        refused to fit panels, none are wished for.
        """
        room, shown = self.room, core.shown
        stands = PLAIN if shown is None or shown.picture == DARK else shown.picture
        lift = 0 if shown is None else shown.lift
        pictures = (stands, *(self._classes.named if stands in {PLAIN, WHOLE} else ()))
        preset = next((one for one in room.presets if one != core.preset), None)
        other = next((one for one in room.panels if one != core.arrangement), None)
        wished = None if core.panels == "refused" else other
        panels = (wished,) if asked is None else (wished, asked)
        for picture in pictures:
            for arrangement in panels:
                yield Look(picture, lift, preset, arrangement)

    def _start(self, at: int, core: Core, group: EquivalenceClass, wanted: Look | None) -> Core:
        """Return a copy of the core in the class's environment, with what was wanted before."""
        start = entered(core, group.environment)
        if group.inert:
            start.shown = None  # In service or without light nobody knows what stands.
        if at > 0:
            # Cues touch nothing else: it is enough to order them from the first state.
            start.cues = group.cues[self._classes.situation(core)]
        if wanted is not None:
            start.wanted = wanted
            start.asks = 0 if wanted.panels is None else 1
            start.row = start.row or 0  # Something has been chosen before.
        return start

    def _answer(self, core: Core, group: EquivalenceClass) -> Answered:
        before = step_start(core)
        tx = self._half_steps.begin(core, group.environment)
        choose_and_reconcile(tx)
        return before, tx


def _sends_something_off(decision: Decision) -> bool:
    """Tell whether a decision sends the lens off, or somebody to the screen."""
    if isinstance(decision, Prompt):
        return decision.stage == "at the screen"
    return isinstance(decision, RecallOrder)
