"""One step of a room: what is due, then the event, then the choice and what follows from it.

    adapter -> event -> (reading: settle) -> facts -> choose -> wanted look -> orders -> adapter

`step` is a function: it returns a new State and leaves the old one as it was. It knows no
clock; `now` is handed in and never goes back.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from engine.choosing import choose_look
from engine.deadlines import fire_due, note_settled_shape
from engine.decisions import Prompt
from engine.events import Event, Reading, Resumed
from engine.handlers import apply_event
from engine.readings import quick_reading
from engine.reconcile import reconcile
from engine.refusal import Refused
from engine.state import State, first_state, next_deadline
from engine.transaction import Transaction

if TYPE_CHECKING:
    from engine.decisions import Decision
    from engine.room import Room
    from engine.state import Core

ROUNDS: Final = 4
"""A choice may change facts that rules look at; so often it is made again within one step."""


class Step(NamedTuple):
    """What a step leads to."""

    state: State
    decisions: tuple[Decision, ...]


def step(room: Room, state: State, event: Event | None, now: int) -> Step:
    """Take one event at `now` (ms UTC), or only let time pass (None).

    Timers that are due fire first, each at its own time and in a fixed order. Raises
    `Refused` for an event that cannot be taken; then nothing has changed, and what was due
    is still due. `RoomEngine` lets time pass before it offers an event.
    """
    due = next_deadline(state)
    decisions: tuple[Decision, ...] = ()
    if due is not None and due <= now:
        if type(event) is Resumed:
            return _resume(room, state, event, now)
        state, decisions = _pass_time(room, state, due, now)
    if event is None:
        return Step(state, decisions)
    if isinstance(event, Reading) and event.id is None and event.at is None:
        quick = _quick(room, state, event, now)
        if quick is not None:
            return Step(quick, decisions)
    tx = Transaction(room, state, now)
    before = tx.settling.aspect
    apply_event(tx, event)
    note_settled_shape(tx, tx.settling, before)
    choose_and_reconcile(tx)
    return Step(tx.new_state(), (*decisions, *tx.decisions))


def _quick(room: Room, state: State, event: Reading, now: int) -> State | None:
    """Take a reading that settles nothing, which nearly all of them do; None for the others."""
    core, old = state.core, state.settling
    new = quick_reading(room, core, old, event, now)
    if new is None or new.aspect != old.aspect or new.subtitles != old.subtitles:
        return None
    return state if new is old else State(core, new, state.tally, state.due)


def _pass_time(room: Room, state: State, due: int, now: int) -> Step:
    """Fire what falls due up to and including `now`, each at its own time."""
    decisions: list[Decision] = []
    while due <= now:
        tx = Transaction(room, state, due)
        fire_due(tx)
        choose_and_reconcile(tx)
        state = tx.new_state()
        decisions += tx.decisions
        following = next_deadline(state)
        if following is None:
            break
        due = following
    return Step(state, tuple(decisions))


def _resume(room: Room, state: State, event: Resumed, now: int) -> Step:
    """After a stop: what fell due changes only the state, and one look is chosen at the end."""
    decisions: list[Decision] = []
    state = _warned_first(room, state, now)
    due = next_deadline(state)
    while due is not None and due <= now:
        tx = Transaction(room, state, due)
        fire_due(tx)
        state = tx.new_state()
        # Whom a prompt would have sent or reminded then is not sent or reminded now.
        decisions += [one for one in tx.decisions if not isinstance(one, Prompt)]
        due = next_deadline(state)
    tx = Transaction(room, state, now)
    apply_event(tx, event)
    choose_and_reconcile(tx)
    return Step(tx.new_state(), (*decisions, *tx.decisions))


def _warned_first(room: Room, state: State, now: int) -> State:
    """Let whoever is at the screen hear, before the light comes back, that it will."""
    core = state.core
    warned = core.timers.remind
    if core.asked is None or not core.asked.at_screen or warned is None or warned > now:
        return state
    tx = Transaction(room, state, now)
    tx.set_timers(remind=now + 1, give_up=now + 1 + room.pace.remind)
    return tx.new_state()


def choose_and_reconcile(tx: Transaction) -> None:
    """Choose and move until nothing more follows."""
    core = tx.core
    for _ in range(ROUNDS):
        stood = _stands(core)
        choose_look(tx)
        reconcile(tx)
        if stood == _stands(core):
            return  # What rules see of our own doing is as it was: they would choose the same.
    tx.note("rules_circle", "The rules follow their own orders in a circle.", "engine: rules")


def _stands(core: Core) -> tuple[object, ...]:
    """Give what the next choice sees of our own doing; a person keeps the picture that stands."""
    shown = core.shown if core.hand == "person" else None
    return core.preset, core.arrangement, core.panels, shown


class RoomEngine:
    """A thin shell that keeps a room's State: it commits a step, then takes it on."""

    __slots__ = ("deadline", "level", "refusals", "room", "state")

    def __init__(self, room: Room, state: State | None = None) -> None:
        self.room = room
        self.refusals: dict[str, int] = {}
        """How many events were refused, by code."""
        self.level: Event | None = None
        """The reading that holds; None if what came since has to be read anew."""
        self.state: State
        self.deadline: int | None
        """When `advance` has something to do, in ms UTC."""
        self._commit(first_state(room) if state is None else state)

    def due_before(self, event: Event | None, now: int) -> bool:
        """Tell whether time has to pass before an event: not before the word of a restart.

        What fell due while nobody was there gives no orders; `step` sees to that itself.
        """
        return self.deadline is not None and self.deadline <= now and type(event) is not Resumed

    def advance(self, now: int) -> tuple[Decision, ...]:
        """Let time pass."""
        self.level = None
        return self._commit(*step(self.room, self.state, None, now))

    def handle(self, event: Event, now: int) -> tuple[Decision, ...]:
        """Take one event; raises `Refused`, counted by its code, with nothing changed."""
        early = self.deadline is None or now < self.deadline
        if early and event == self.level:
            return ()
        try:
            if early and isinstance(event, Reading) and event.id is None and event.at is None:
                quick = _quick(self.room, self.state, event, now)
                if quick is not None:
                    self.level = event
                    return self._commit(quick)
            stepped = step(self.room, self.state, event, now)
        except Refused as refused:
            self.refusals[refused.code] = self.refusals.get(refused.code, 0) + 1
            raise
        self.level = event if isinstance(event, Reading) and event.id is None else None
        return self._commit(*stepped)

    def go_back(self, state: State) -> None:
        """Stand again as in an earlier State: what came since could not be kept."""
        self.level = None
        self._commit(state)

    def _commit(self, state: State, decisions: tuple[Decision, ...] = ()) -> tuple[Decision, ...]:
        self.state, self.deadline = state, next_deadline(state)
        return decisions
