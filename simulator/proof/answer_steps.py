"""Second halves of steps: what the engine chooses and orders, in one demand at a time.

Some of the engine's memory only ever keeps it from ordering something: a wish that has not
lingered, used-up recalls, a picture that failed, is not confirmed or has only just changed. No
states are kept for these. Instead, wherever an order is given, the half step is taken again with
each of them in its way.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from engine.deadlines import fire_due
from engine.decisions import PictureOrder, Prompt, RecallOrder
from engine.reconcile import NOTHING_LIT, somebody_at_screen
from engine.room import DARK, Look, Room
from engine.state import Core, CueOverride, OpenCue, OrderedPicture
from engine.step import choose_and_reconcile
from engine.transaction import Transaction
from simulator.proof.copies import copied
from simulator.proof.demands import Demand
from simulator.proof.environments import LATER, entered
from simulator.proof.equipment import LEFT
from simulator.proof.event_steps import CUE, ORDER
from simulator.proof.half_steps import NOW, HalfSteps
from simulator.proof.standing_pictures import StandingPictures

Answered = tuple[Core, Transaction]
"""What a half step began with, and the half step."""
LED_TO: Final[dict[str, int | str]] = {"asks": LEFT, "recalls": LEFT}
"""What rules that have led to and fro remember."""


class AnswerSteps:
    """Lets the engine choose and order, one demand at a time."""

    def __init__(self, room: Room, half_steps: HalfSteps) -> None:
        self.room = room
        self._half_steps = half_steps
        self._standing = StandingPictures(room)

    def from_core(self, at: int, core: Core, demand: Demand) -> Iterator[Answered]:
        """Answer, and answer again with each thing that may be in an order's way."""
        first_wish = True
        for start, first in self._at_once(at, core, demand):
            yield start, first
            if "linger" not in first.core.holds:
                continue
            before, ripe = self._ripened(first, demand)
            yield before, ripe
            sent_off = _sends_off(ripe)
            if sent_off or (first_wish and len(ripe.decisions) > 0):
                # A person's wish is news, so only rules are held back by what they have led to.
                for memory in (LED_TO, *_in_the_way(ripe)):
                    yield self._ripened(first, demand, **memory)
            first_wish = False

    def _ripened(self, first: Transaction, demand: Demand, **memory: int | str) -> Answered:
        """Let a wish linger for long enough, with something that may hold it back in memory."""
        core = copied(first.core)
        core.timers = core.timers._replace(linger=NOW, linger_people=NOW)
        core.left_night = core.left_title = LEFT
        core.asks = 0
        _remembering(core, **memory)
        before = copied(core)
        tx = self._half_steps.begin(core, demand.environment, first.tally)
        fire_due(tx)
        choose_and_reconcile(tx)
        return before, tx

    def _at_once(self, at: int, core: Core, demand: Demand) -> Iterator[Answered]:
        """Answer without any wish lingering, for each look that may have been wanted before."""
        for wanted in self._wanted(core, demand):
            before, tx = self._answer(self._start(at, core, demand, wanted), demand)
            yield before, tx
            if wanted is None:
                yield from self._with_nothing_new(at, core, demand, tx)
            for shown in self._pictures_before(core, demand, tx):
                yield self._answer(self._start(at, core, demand, wanted, shown), demand)
            if at == 0 and demand.cues:
                yield from self._with_other_cues(core, demand, wanted)
            sending = tx if _sends_off(tx) else None
            if self._picture_matters(tx):
                for held in self._held_pictures(at, core, demand, wanted, tx.core.shown):
                    answered = self._answer(held, demand)
                    yield answered
                    if sending is None and _sends_off(answered[1]):
                        sending = answered[1]
            if sending is not None:
                for memory in _in_the_way(sending):
                    start = self._start(at, core, demand, wanted, sending.core.shown)
                    yield self._answer(_remembering(start, **memory), demand)

    def _with_nothing_new(
        self, at: int, core: Core, demand: Demand, tx: Transaction
    ) -> Iterator[Answered]:
        """Answer where only our own orders and the clock have changed since somebody was asked.

        They stay asked then, for rows that leave panels out.
        """
        if demand.still_asked(core) and not somebody_at_screen(core):
            start = self._start(at, core, demand, None)
            yield self._answer(_remembering(start, news=tx.core.news), demand)

    def _with_other_cues(
        self, core: Core, demand: Demand, wanted: Look | None
    ) -> Iterator[Answered]:
        """Answer where people have set cues otherwise, or orders for other values are open."""
        own = tuple(self._own_cues(demand))
        start = self._start(0, core, demand, wanted)
        yield self._answer(_remembering(start, cue_overrides=own), demand)
        if self.room.answers:
            start = self._start(0, core, demand, wanted)
            others = tuple(self._other_cues(demand))
            yield self._answer(_remembering(start, "cue", open_cues=others), demand)

    def _other_cues(self, demand: Demand) -> Iterator[OpenCue]:
        """Yield open orders for other values of the cues that are demanded."""
        for number, (name, value) in enumerate(demand.cues, start=CUE):
            for other in [one for one in self.room.cues[name] if one != value][:1]:
                yield OpenCue(number, name, other, LATER)

    def _own_cues(self, demand: Demand) -> Iterator[CueOverride]:
        """Yield other values of the cues that are demanded, as a person may have set them."""
        for name, value in demand.cues:
            for other in [one for one in self.room.cues[name] if one != value][:1]:
                yield CueOverride(name, other, "session", None)

    def _pictures_before(
        self, core: Core, demand: Demand, tx: Transaction
    ) -> Iterator[OrderedPicture]:
        """Yield pictures that may stand and that the answer may depend on.

        Whoever leaves the picture as it stands may have any. Under rules a picture that would
        fall on panels must go, whatever else is wanted.
        """
        if demand.duties.inert or somebody_at_screen(core):
            return  # Nothing is lit, or it is or gets dark whatever stood.
        if demand.by_person and demand.show.picture is None:
            yield from self._standing.of_every_kind(core, menu=demand.duties.may_be_menu)
        elif not demand.by_person and len(tx.decisions) == 1:
            yield from self._standing.unsafe(core)

    def _picture_matters(self, tx: Transaction) -> bool:
        """Tell whether a picture was ordered, and its failing could change anything else.

        Only a recall waits for the picture, and whoever is to be sent to the screen. Prompts are
        made and withdrawn whatever stands.
        """
        if not any(isinstance(one, PictureOrder) for one in tx.decisions):
            return False
        core = tx.core
        asked = core.asked
        if asked is not None and asked.at_screen and not asked.sent:
            return True
        if any(isinstance(one, RecallOrder) for one in tx.decisions) or "picture" in core.holds:
            return True
        return "linger" in core.holds and core.wanted.preset != core.preset

    def _held_pictures(
        self,
        at: int,
        core: Core,
        demand: Demand,
        wanted: Look | None,
        target: OrderedPicture | None,
    ) -> Iterator[Core]:
        """Yield starts with a reason why the picture is not ordered, so that others go on.

        It stands already, it failed before, its order is open, or the last one has only just
        changed: then the old one stands on, which may be safe only here, or must go at once.
        """

        def start(shown: OrderedPicture | None) -> Core:
            return self._start(at, core, demand, wanted, shown)

        yield start(target)
        if self.room.answers:
            yield _remembering(start(target), failed=True)
            yield _remembering(start(target), "picture", picture=ORDER)
            if at == 0:
                # That a new order is not taken as failed depends on nothing else.
                yield _remembering(start(NOTHING_LIT), failed=True)
        if target is None:
            return
        unsafe = () if demand.by_person else self._standing.unsafe(core)
        stood = (*self._standing.safe(core), *unsafe)
        # The dark waits for no flash, so what stood before it does not matter.
        for shown in stood[:1] if target.picture == DARK else stood:
            yield _remembering(start(shown), "flash")

    def _wanted(self, core: Core, demand: Demand) -> Iterator[Look | None]:
        """Yield each look that may have been wanted before; None: it does not matter.

        A row that leaves the panels open does not send away whoever has just been asked, so what
        they were asked for is one of them. Nobody is sent away once they are at the screen.
        """
        yield None
        if demand.by_person or demand.duties.inert or somebody_at_screen(core):
            return
        asked = None if core.asked is None else core.asked.panels
        if demand.duties.pausing:
            yield from self._held_looks(core, asked)
        elif asked is not None:
            yield core.wanted._replace(panels=asked)

    def _held_looks(self, core: Core, asked: str | None) -> Iterator[Look]:
        """Yield looks that a pause may hold.

        Their preset and panels are others than those that stand: a wish that was not ripe when
        the pause began, so that the pause has something to hold back. Where people have refused
        to fit panels, none are wished for.
        """
        preset = next((one for one in self.room.presets if one != core.preset), None)
        other = next((one for one in self.room.panels if one != core.arrangement), None)
        wished = None if core.panels == "refused" else other
        for arrangement in dict.fromkeys((wished, *(() if asked is None else (asked,)))):
            yield core.wanted._replace(preset=preset, panels=arrangement)

    def _start(
        self,
        at: int,
        core: Core,
        demand: Demand,
        wanted: Look | None,
        shown: OrderedPicture | None = None,
    ) -> Core:
        """Return a copy of the core in the demand's environment, with what stood and was wanted."""
        start = entered(core, demand.environment)
        # In service or without light nobody knows what stands.
        start.shown = None if demand.duties.inert else shown
        # What was led to before is forgotten, for the environment is new; as is an earlier travel.
        start.recalls = start.asks = LEFT
        start.set_off = start.lens != "travelling"
        start.ripe = wanted is None  # Something else has been wanted for long.
        if at > 0:
            # Cues touch nothing else: it is enough to order them from the first state.
            start.cues = demand.cues
        if wanted is not None:
            start.wanted = wanted
            start.row = start.row or 0  # Something has been chosen before.
        return start

    def _answer(self, core: Core, demand: Demand) -> Answered:
        before = copied(core)
        tx = self._half_steps.begin(core, demand.environment)
        choose_and_reconcile(tx)
        return before, tx


def _remembering(core: Core, *running: str, **memory: object) -> Core:
    """Let a core remember something, with some timers running; gives the same core back."""
    for name, value in memory.items():
        setattr(core, name, value)
    if running:
        core.timers = core.timers._replace(**dict.fromkeys(running, LATER))
    return core


def _in_the_way(tx: Transaction) -> Iterator[dict[str, int | str]]:
    """Yield what the engine may remember that keeps it from what it has just done.

    Limits of pace hold no person's wish back; they are tried once, for they are counted.
    """
    recall = next((one for one in tx.decisions if isinstance(one, RecallOrder)), None)
    by_rules = tx.core.override == "rules"
    if by_rules:
        yield {"left_night": 0}
    if recall is not None:
        yield {"left_title": 0} if by_rules else {"left_title": 0, "left_night": 0}
        yield {"unreached": recall.preset}
        if tx.core.origin is not None:
            yield {"back_to": tx.core.origin}


def _sends_off(tx: Transaction) -> bool:
    """Tell whether a half step sends the lens off, or asks somebody or sends them to the screen."""
    return any(
        isinstance(one, RecallOrder)
        or (isinstance(one, Prompt) and one.stage in {"asked", "at the screen"})
        for one in tx.decisions
    )
