"""Trials: everything that may happen to a room's equipment in one state, taken and judged.

A step is taken in the engine's own two halves, `apply_event` (or `fire_due`) and
`choose_and_reconcile`, with the world changed at will between them. Some of what the engine
remembers only ever keeps it from doing something: that a wish is not ripe, that recalls are used
up, that a picture has just changed, failed or is not confirmed. No state is kept for these.
Wherever an order is given, what may have stood in its way is tried too.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import Final, NamedTuple

from engine.deadlines import fire_due
from engine.decisions import FactValue, PictureOrder, Prompt, RecallOrder
from engine.events import Event, Hand, LensReport, ProjectorReport, Resumed, Service
from engine.facts import HANDS_OF
from engine.handlers import apply_event
from engine.reconcile import standing_place
from engine.refusal import Refused
from engine.room import (
    DARK,
    MENUS_PLAIN,
    NO_PICTURE_ON_PANELS,
    NO_TRAVEL_IN_MID_TITLE,
    PLAIN,
    WHOLE,
    Look,
    Room,
    Show,
)
from engine.snapshot import decode, encode
from engine.state import NOTHING_WANTED, Core, State, Tally, Timers
from engine.step import choose_and_reconcile
from engine.transaction import Transaction
from engine.value_set import Value
from simulator.proof.alphabet import Alphabet
from simulator.proof.environments import LATER, Environment, entered, picture_kind
from simulator.proof.equivalence import STANDING, EquivalenceClass, EquivalenceClasses
from simulator.proof.invariants import (
    StepStart,
    event_violations,
    picture_on_panels,
    step_start,
    step_violations,
    timer_violations,
)

NOW: Final = 10**9
ORDER: Final = 1
"""The number that an open picture order has here."""
TALLY: Final = Tally(serial=1_000)
LEFT: Final = 2
"""Recalls left, wherever any are: the engine asks no more than whether one is."""
NOTHING_TOLD: Final[dict[str, FactValue]] = {}
NO_TIMES: Final = Timers()
PLAYING: Final = Environment(playback="playing", title=True, opening=True, aspect=23_900)

StateKey = tuple[object, ...]


class Cause(NamedTuple):
    """How a state came about: what was heard or ran out, and what the world was then."""

    before: int
    """The state it came from; -1 for the first."""
    event: Event | str | None
    """An event, or a timer's name; None: the world alone changed."""
    environment: Environment


class Violation(NamedTuple):
    """A promise that does not hold, and how one gets there."""

    promise: str
    words: str
    cause: Cause
    row: int | None = None
    """The row that had chosen what stood."""


class Successor(NamedTuple):
    """A state that the equipment gets into; the core is None where it was given before."""

    key: StateKey
    core: Core | None
    cause: Cause


class Expansion(NamedTuple):
    """What came of one trial."""

    successors: tuple[Successor, ...]
    violations: tuple[Violation, ...]
    steps: int


def state_key(room: Room, core: Core, *, carries_over: bool) -> tuple[object, ...]:
    """Say what of the equipment's state is kept; two cores of one key can do the same.

    Who has the room and what they want is the world's business. Where a hand's travel set off
    matters only for how large the picture may be meanwhile.
    """
    shown, asked = core.shown, core.asked
    hand_travels = core.lens == "travelling" and core.recall is None
    return (
        core.lens,
        core.preset,
        standing_place(room, core) if hand_travels else core.origin,
        core.recall is None,
        core.timers.travel is None,
        core.panels,
        core.arrangement,
        None if asked is None else asked[1:],
        None if shown is None or core.failed else picture_kind(room, shown),
        core.wanted[:2] if carries_over else None,
    )


def canonical(core: Core, *, carries_over: bool) -> Core:
    """Give a copy that holds only what the key tells, the rest as if nothing stood in the way."""
    new = core.copy()
    if new.failed:
        new.shown = None
    new.failed, new.picture, new.unreached, new.set_off, new.echo = False, None, None, False, None
    new.ripe, new.holds, new.news, new.recalls, new.asks = False, (), (), 0, 0
    new.cues, new.open_cues, new.row = (), (), None
    new.wanted = core.wanted._replace(preset=None, panels=None, cues=())
    if not carries_over:
        new.wanted = NOTHING_WANTED
    new.left_title = new.left_night = LEFT
    timers = core.timers
    new.timers = NO_TIMES._replace(
        travel=None if timers.travel is None else LATER,
        remind=None if timers.remind is None else LATER,
        give_up=None if timers.give_up is None else LATER,
    )
    return new


class SilentTransaction(Transaction):
    """A step under way whose decisions are judged and thrown away: nobody reads their facts."""

    __slots__ = ()

    def decision_facts(self) -> dict[str, FactValue]:
        """Leave out what decisions tell people."""
        return NOTHING_TOLD


class Successors:
    """Takes steps of a room; what it remembers only saves work."""

    def __init__(self, room: Room) -> None:
        self.room = room
        self.classes = EquivalenceClasses(room)
        self._alphabet = Alphabet(room)
        self.standing = [
            [
                (column.name, cell)
                for column, cell in zip(one.never.columns, one.never.rows[0].cells, strict=True)
                if column.name in STANDING
            ]
            for one in room.promises
        ]
        self._verdicts: dict[tuple[Value, ...], tuple[int, ...]] = {}
        self._given: set[StateKey] = set()
        self._heard: set[StateKey] = set()
        self._steps = 0
        self._violations: dict[str, Violation] = {}
        self._playing = PLAYING._replace(source=next(iter(room.sources)))
        self._others = (
            self._playing._replace(projector="off", title=False, opening=False, playback="stopped"),
            self._playing._replace(service=True),
        )

    def after_events(self, at: int, core: Core) -> Expansion:
        """Let everything happen to a state once: whatever may be told, whatever may run out.

        What an earlier state has led to is not given again.
        """
        if not self._survives(core):
            words = "a state is not the same once written and read"
            self._violate("roomcue: restart", words, Cause(at, None, Environment()))
        successors: dict[StateKey, Successor] = {}
        for event, core_then in self._hear_all(at, core):
            key = self.key(core_then)
            if key not in self._heard:
                self._heard.add(key)
                cause = Cause(at, event, self._playing)
                successors[key] = Successor(key, self.canonical(core_then), cause)
        return self._report(successors)

    def after_answers(self, at: int, event: Event | str | None, core: Core) -> Expansion:
        """Let every world be the one that is answered to."""
        successors: dict[StateKey, Successor] = {}
        for group in self.classes.relevant_to(core):
            cause = Cause(at, event, group.environment)
            for before, turn in self._answers(at, core, group):
                self._judge(before, group, turn, cause)
                key = self.key(turn.core)
                if key not in successors:
                    new = key not in self._given
                    self._given.add(key)
                    successors[key] = Successor(
                        key, self.canonical(turn.core) if new else None, cause
                    )
        return self._report(successors)

    def key(self, core: Core) -> StateKey:
        """Say what of the equipment's state is kept."""
        return state_key(self.room, core, carries_over=self.classes.carries_over)

    def canonical(self, core: Core) -> Core:
        """Give a copy that holds no more than its key tells."""
        return canonical(core, carries_over=self.classes.carries_over)

    def _report(self, successors: dict[StateKey, Successor]) -> Expansion:
        report = Expansion(
            tuple(successors.values()), tuple(self._violations.values()), self._steps
        )
        self._violations, self._steps = {}, 0
        return report

    def _survives(self, core: Core) -> bool:
        state = State(core, self._playing.settling, TALLY, core.timers.next())
        return decode(encode(state)) == state

    def _violate(self, promise: str, words: str, cause: Cause, row: int | None = None) -> None:
        """Note how a promise breaks; the first way found is one of the shortest."""
        self._violations.setdefault(promise, Violation(promise, words, cause, row))

    def _turn(
        self, core: Core, environment: Environment, tally: Tally = TALLY
    ) -> SilentTransaction:
        """Begin a half of a step, on a core that was made for it alone."""
        self._steps += 1
        return SilentTransaction(
            self.room, State(core, environment.settling, tally, None), NOW, own=True
        )

    # ---------------------------------------------------------------------------- first halves

    def _hear_all(self, at: int, core: Core) -> Iterator[tuple[Event | str | None, Core]]:
        """Let everything happen once: whatever may be told, and whatever may run out."""
        yield None, core
        playing = core
        if core.shown is not None and self.room.answers:
            playing = core.copy()
            playing.picture = ORDER
            playing.timers = core.timers._replace(picture=LATER)
        entered_playing = entered(playing, self._playing)
        unordered = entered(core, self._playing)
        others = [(entered(core, environment), environment) for environment in self._others]
        for event in self._alphabet.events(playing):
            yield from self._hear(at, entered_playing, event, self._playing)
            if isinstance(event, Service | ProjectorReport | Resumed):
                for other, environment in others:
                    yield from self._hear(at, other, event, environment)
            elif isinstance(event, LensReport):
                for changed in _lens_memories(unordered, event):
                    yield from self._hear(at, changed, event, self._playing)
        for timer in Timers._fields:
            if getattr(playing.timers, timer) is not None:
                yield from self._fire(at, playing, timer, self._playing)
        idle = self._playing._replace(playback="stopped", title=False, opening=False)
        yield from self._fire(at, core, "session", idle)
        taken = self._playing._replace(hand="person", wish=Show())
        yield from self._fire(at, core, "hand", taken)
        by_hand = entered(core, taken)
        for taking in (True, False):
            yield from self._hear(at, by_hand, Hand(taken=taking), taken)

    def _hear(
        self, at: int, before: Core, event: Event, environment: Environment
    ) -> Iterator[tuple[Event, Core]]:
        """Let a core that has entered a world hear an event."""
        turn = self._turn(before.copy(), environment)
        try:
            apply_event(turn, event)
        except Refused:
            return
        for words in event_violations(self.room, before, event, turn.core):
            self._violate("roomcue: reports", words, Cause(at, event, environment))
        yield event, turn.core

    def _fire(
        self, at: int, core: Core, timer: str, environment: Environment
    ) -> Iterator[tuple[str, Core]]:
        before = entered(core, environment)
        before.timers = before.timers._replace(**{timer: NOW})
        turn = self._turn(before.copy(), environment)
        fire_due(turn)
        for words in timer_violations(self.room, before, timer, turn.core):
            self._violate("roomcue: timers", words, Cause(at, timer, environment))
        yield timer, turn.core

    # --------------------------------------------------------------------------- second halves

    def _answers(
        self, at: int, core: Core, group: EquivalenceClass
    ) -> Iterator[tuple[StepStart, Transaction]]:
        """Answer, and answer again with what may stand in the way of what was ordered."""
        whole = True
        for start, first in self._at_once(at, core, group):
            yield start, first
            if "linger" not in first.core.holds:
                continue
            ripe = self._ripened(first, group, LEFT, 0)
            yield step_start(first.core), ripe
            if whole and len(ripe.decisions) > 0:
                yield step_start(first.core), self._ripened(first, group, 0, 0)
                yield step_start(first.core), self._ripened(first, group, LEFT, LEFT)
            whole = False

    def _ripened(
        self, first: Transaction, group: EquivalenceClass, night: int, asks: int
    ) -> Transaction:
        """Let a wish have stood for long enough, with so many recalls left and prompts made."""
        core = first.core.copy()
        core.timers = core.timers._replace(linger=NOW)
        core.left_night, core.asks = night, asks
        turn = self._turn(core, group.environment, first.tally)
        fire_due(turn)
        choose_and_reconcile(turn)
        return turn

    def _at_once(
        self, at: int, core: Core, group: EquivalenceClass
    ) -> Iterator[tuple[StepStart, Transaction]]:
        for wanted in self._wanted(core, group):
            start = partial(self._start, at, core, group, wanted)
            before, turn = self._answer(start(), group)
            yield before, turn
            after, ordered, going = turn.core, False, False
            for decision in turn.decisions:
                ordered |= isinstance(decision, PictureOrder)
                going |= isinstance(decision, RecallOrder)
                going |= isinstance(decision, Prompt) and decision.stage == "at the screen"
            if ordered and (self.classes.carries_over or _waits(after) or len(turn.decisions) > 1):
                changed = self._instead(start(), after)
                if changed is not None:
                    yield self._answer(changed, group)
            if going:
                waiting = start()
                waiting.left_night = 0
                yield self._answer(waiting, group)
                if core.shown is not None and self.room.answers:
                    waiting = start()
                    waiting.picture = ORDER
                    waiting.timers = waiting.timers._replace(picture=LATER)
                    yield self._answer(waiting, group)

    def _instead(self, start: Core, after: Core) -> Core | None:
        """Give what may have kept a picture from being ordered, so that other things go on.

        It failed before, it stands already, or the last one has only just changed.
        """
        shown = after.shown
        if start.shown is None:
            start.shown, start.failed = shown, True
            return start if self.room.answers else None
        if shown is not None and picture_kind(self.room, shown) == picture_kind(
            self.room, start.shown
        ):
            start.shown = shown
            return start
        if shown is None or shown.picture == DARK:
            return None
        start.timers = start.timers._replace(flash=LATER)
        return start

    def _wanted(self, core: Core, group: EquivalenceClass) -> Iterator[Look | None]:
        """Give what may have been wanted before, where that matters; None: it does not.

        Whoever has just been asked is not sent away by a row that leaves the panels open. A pause
        holds what was wanted when it began: the picture that stands, or one that could not be
        shown and has plain in its place, and another preset and other panels, so that it shows
        whether the pause really keeps them from being ordered.
        """
        if group.environment.hand == "person" or group.inert:
            held = group.inert and group.pausing and group.environment.hand == "rules"
            yield core.wanted if held else None
            return
        asked = None if core.asked is None else core.asked.panels
        panels = (None,) if asked is None else (None, asked)
        if not group.pausing:
            for one in panels:
                yield None if one is None else core.wanted._replace(panels=one)
            return
        stands = PLAIN if core.shown is None or core.shown.picture == DARK else core.shown.picture
        lift = 0 if core.shown is None else core.shown.lift
        named = self.classes.named if stands in {PLAIN, WHOLE} else ()
        preset, unfitted = self._other_places(core)
        for picture in (stands, *named):
            for one in panels:
                yield Look(picture, lift, preset, unfitted if one is None else one)

    def _other_places(self, core: Core) -> tuple[str | None, str | None]:
        """Give a preset and panels that a wish may have been about when a pause began.

        The wish was not ripe yet, so neither of them stands. Nobody is wished to the screen who
        has refused to go there.
        """
        room = self.room
        preset = next((one for one in room.presets if one != core.preset), None)
        panels = next((one for one in room.panels if one != core.arrangement), None)
        return preset, None if core.panels == "refused" else panels

    def _start(self, at: int, core: Core, group: EquivalenceClass, wanted: Look | None) -> Core:
        """Enter the claim's world, with what was wanted before."""
        start = entered(core, group.environment)
        if group.inert:
            start.shown = None  # In service or without light nobody knows what stands.
        if at > 0:
            # Cues touch nothing else: it is enough to give them from the first state.
            start.cues = group.cues[self.classes.situation(core)]
        if wanted is not None:
            start.wanted = wanted
            start.asks = int(wanted.panels is not None)
            start.row = start.row or 0  # something has been chosen before
        return start

    def _answer(self, core: Core, group: EquivalenceClass) -> tuple[StepStart, Transaction]:
        before = step_start(core)
        turn = self._turn(core, group.environment)
        choose_and_reconcile(turn)
        return before, turn

    # ------------------------------------------------------------------------------ judgement

    def _judge(
        self, before: StepStart, group: EquivalenceClass, turn: Transaction, cause: Cause
    ) -> None:
        after = turn.core
        for words in step_violations(before, tuple(turn.decisions), after):
            self._violate("roomcue: steps", words, cause)
        self._built_in(group, turn, cause)
        if group.promises and "flash" not in after.holds:
            shown = after.shown
            standing = (
                after.preset,
                after.arrangement,
                HANDS_OF[after.panels],
                None if shown is None else shown.picture,
                None if shown is None else shown.lift,
                after.lens == "travelling",
                after.hand,
            )
            verdict = self._verdicts.get(standing)
            if verdict is None:
                verdict = self._verdicts[standing] = self._verdict(standing)
            for index in verdict:
                if index in group.promises:
                    promise = self.room.promises[index]
                    told = cause._replace(environment=group.promises[index])
                    self._violate(promise.label, promise.because, told, after.row)

    def _verdict(self, standing: tuple[Value, ...]) -> tuple[int, ...]:
        """Say of which promises the tests of the equipment pass; see `STANDING` for the order."""
        facts = dict(zip(STANDING, standing, strict=True))
        return tuple(
            index
            for index, cells in enumerate(self.standing)
            if all(cell.accepts(facts[name]) for name, cell in cells)
        )

    def _built_in(self, group: EquivalenceClass, turn: Transaction, cause: Cause) -> None:
        after = turn.core
        shown = after.shown
        if shown is not None and not after.failed:
            for words in picture_on_panels(self.room, after):
                self._violate(NO_PICTURE_ON_PANELS, words, cause, after.row)
            if (
                group.may_be_menu
                and shown.picture in self.room.pictures
                and "flash" not in after.holds
            ):
                self._violate(MENUS_PLAIN, f"a menu is shown as {shown.picture}", cause, after.row)
        if group.past_opening and group.environment.hand == "rules":
            for decision in turn.decisions:
                if isinstance(decision, RecallOrder):
                    words = f"{decision.preset} is recalled in mid-title"
                    self._violate(NO_TRAVEL_IN_MID_TITLE, words, cause, after.row)


def _lens_memories(core: Core, report: LensReport) -> Iterator[Core]:
    """Give what else may be remembered of the lens that a report meets."""
    if core.recall is not None:
        off = core.copy()
        off.set_off = True
        yield off
    elif report.moving and report.id is None:
        echo = core.copy()
        echo.echo = report.preset or ""
        yield echo


def _waits(core: Core) -> bool:
    """Tell whether more is wanted than a picture."""
    return core.asked is not None or "linger" in core.holds or "picture" in core.holds
