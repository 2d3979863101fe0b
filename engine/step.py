"""The way of an event through a room, from top to bottom.

1. What has fallen due happens first, each timer at its own time (`deadlines.fire_due`).
2. The event is entered into a copy of the State, or refused (`handlers.apply_event`). A reading of
   the picture's shape passes through the filter of `settle`, and nearly all of them end there.
3. The facts are looked up in the rule table: the wanted look (`choosing.choose_look`).
4. What differs from how things stand is ordered or asked for, in the safe order; what must wait
   becomes a hold, with its reason (`reconcile.reconcile`).
5. The copy becomes the new State. The old one is as it was.

`step` is a pure function. It knows no clock: `now` is handed in and never goes back.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from engine.choosing import choose_look
from engine.deadlines import fire_due
from engine.decisions import Prompt
from engine.events import READINGS, Event, Resumed, milliseconds
from engine.handlers import apply_event
from engine.outcomes import PROMPT, forget_overdue
from engine.prompts import warn_first
from engine.readings import quick_reading
from engine.reconcile import reconcile
from engine.state import State, next_deadline
from engine.titles import follow_title, note_settled_shape
from engine.transaction import Transaction

if TYPE_CHECKING:
    from engine.decisions import Decision
    from engine.events import Reading
    from engine.room import Room
    from engine.state import Core

    Stepped = tuple[State, tuple[Decision, ...]]
    """What a step leads to: the new State, and what was decided on the way."""

STILL_TO_HEAR: Final = 5_000
"""How long roomcue waits, after it stood still, for what was said meanwhile (ms)."""
ROUNDS: Final = 4
"""How often the look is chosen within one step, where an order changes what rules look at; rules
that want more lead round in a circle."""
MOST_ROUNDS: Final = 8
"""A circle is at rest by then: nobody is asked a third time, and one travel is ordered at most."""


def step(room: Room, state: State, event: Event | None, now: int) -> Stepped:
    """Take one event at `now` (ms UTC), or only let time pass (None).

    Raises `Refused` for an event that cannot be taken. Then nothing has changed, and what was due
    is still due. `RoomEngine` lets time pass before it offers an event.
    """
    decisions: tuple[Decision, ...] = ()
    due = next_deadline(state)
    if due is not None and due <= now:
        if type(event) is Resumed:
            return _resume(room, state, event, now)
        state, decisions = _pass_time(room, state, due, now)
    if event is None:
        return state, decisions
    if isinstance(event, READINGS) and event.id is None and event.at is None:
        unsettled = _take_quiet_reading(room, state, event, now)
        if unsettled is not None:
            return unsettled, decisions
    tx = Transaction(room, state, now)
    before = tx.settling.aspect
    apply_event(tx, event)
    note_settled_shape(tx, tx.settling, before)
    follow_title(tx)
    choose_and_reconcile(tx)
    return tx.new_state(), (*decisions, *tx.decisions)


def _pass_time(room: Room, state: State, due: int, now: int) -> Stepped:
    """Fire what falls due from `due` up to and including `now`, each timer at its own time."""
    decisions: list[Decision] = []
    following: int | None = due
    while following is not None and following <= now:
        tx = Transaction(room, state, following)
        fire_due(tx)
        follow_title(tx)
        choose_and_reconcile(tx)
        state = tx.new_state()
        decisions += tx.decisions
        following = next_deadline(state)
    return state, tuple(decisions)


def _take_quiet_reading(room: Room, state: State, event: Reading, now: int) -> State | None:
    """Take a reading that settles nothing, as nearly all do; None for any other."""
    core, old = state.core, state.settling
    new = quick_reading(room, core, old, event, now)
    if new is None or new.aspect != old.aspect or new.subtitles != old.subtitles:
        return None
    if core.doubt is not None and new.left is None:
        return None  # The settled shape is seen again.
    if old.reading is None and core.title and not core.shapes and new is not old:
        return None  # A shape that was carried into the title may be its own.
    return state if new is old else State(core, new, state.tally, state.due)


def choose_and_reconcile(tx: Transaction) -> None:
    """Choose the look and order what it needs, until nothing more follows.

    Rules may look at what an order or a prompt changes, so they are asked again after each. Those
    that lead round in a circle are let run until they rest, so that what stands is of a row that
    matches.
    """
    core, rounds = tx.core, 0
    before: tuple[object, ...] | None = None
    doing = _own_doing(core)
    while before != doing and rounds < MOST_ROUNDS:
        before = doing
        choose_look(tx)
        reconcile(tx)
        doing, rounds = _own_doing(core), rounds + 1
    if rounds > ROUNDS:
        tx.note("rules_circle", "engine: rules")


def _own_doing(core: Core) -> tuple[object, ...]:
    """Give what an order or a prompt of ours changes, as far as the next choice depends on it."""
    # Whoever has taken over keeps the picture that stands, so what was ordered last counts then.
    shown = core.shown if core.override == "person" else None
    return core.preset, core.arrangement, core.panels, shown


# ------------------------------------------------------------------------------- after a stop


def _resume(room: Room, state: State, event: Resumed, now: int) -> Stepped:
    """Take up a room after a stop: orders for moments that nobody saw come too late.

    What fell due meanwhile changes only the State, and one look is chosen at the end. Up to the
    moment `at` it was awake, and time passed as ever.
    """
    decisions: list[Decision] = []
    due = next_deadline(state)
    awake = None if event.at is None else min(milliseconds(event.at), now)
    if awake is not None and due is not None and due <= awake:
        state, passed = _pass_time(room, state, due, awake)
        decisions += passed
    state = _postpone_end_of_darkness(room, state, event, now)
    if event.stalled:
        state = _postpone_ends_of_answers(room, state, now)
    else:
        tx = Transaction(room, state, now)
        forget_overdue(tx)
        state = tx.new_state()
    due = next_deadline(state)
    while due is not None and due <= now:
        tx = Transaction(room, state, due)
        fire_due(tx)
        follow_title(tx)
        state = tx.new_state()
        # Whom a prompt would have sent or reminded then is not sent or reminded now.
        decisions += [one for one in tx.decisions if not isinstance(one, Prompt)]
        due = next_deadline(state)
    tx = Transaction(room, state, now)
    apply_event(tx, event)
    follow_title(tx)
    choose_and_reconcile(tx)
    return tx.new_state(), (*decisions, *tx.decisions)


def _postpone_end_of_darkness(room: Room, state: State, event: Resumed, now: int) -> State:
    """Let whoever is at the screen be warned before the light comes back, where they were not."""
    core = state.core
    warning = core.timers.remind
    fell_due = warning is not None and warning <= now
    if core.asked is None or not core.asked.at_screen or not (fell_due or PROMPT in event.unsent):
        return state
    tx = Transaction(room, state, now)
    warn_first(tx)
    return tx.new_state()


def overdue_answers(room: Room, core: Core, now: int) -> tuple[str, ...]:
    """Name the timers that wait for a word of hub or people, and are over by `now` (ms UTC)."""
    waits = ("picture", "cue", "give_up", *(("travel",) if room.projector.lens.reports else ()))
    dues = ((name, getattr(core.timers, name)) for name in waits)
    return tuple(name for name, due in dues if due is not None and due <= now)


def _postpone_ends_of_answers(room: Room, state: State, now: int) -> State:
    """Let what was said in time be heard: whatever waits for a word waits a little longer."""
    core, ends = state.core, now + STILL_TO_HEAR
    overdue = dict.fromkeys(overdue_answers(room, core, now), ends)
    tx = Transaction(room, state, now)
    tx.core.open_cues = tuple(
        cue._replace(ends=ends) if cue.ends <= now else cue for cue in core.open_cues
    )
    tx.set_timers(**overdue)
    if "cue" in overdue:
        tx.set_timers(cue=min((cue.ends for cue in tx.core.open_cues), default=None))
    return tx.new_state()
