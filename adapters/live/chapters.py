"""How a room starts from the journal: its chapter under one room file, and a State that fits it."""

from __future__ import annotations

from typing import Final, NamedTuple

from adapters.live.journal_rows import Chapter
from adapters.live.messages import OutgoingMessage, order_message
from adapters.live.outbox import Waiting
from adapters.live.receipts import Receipts
from adapters.live.room_clock import RoomClock
from engine.lens import lose_track
from engine.outcomes import order_unsent
from engine.room import Room
from engine.snapshot import VERSION as STATE_VERSION
from engine.snapshot import first_foreign_name
from engine.state import NO_TIMERS, State, first_state
from engine.titles import withdraw
from engine.told_words import begun_anew
from engine.transaction import Transaction
from rules.room.schema import VERSION as FILE_VERSION

TIME_FACT: Final = "time"
"""The fact that rules look at the clock by."""


class TakenUp(NamedTuple):
    """A room as it starts: from where the journal left it, or for the first time."""

    room: Room
    state: State
    id: int
    night: int
    given: str
    waiting: Waiting
    receipts: Receipts
    first: bool
    """Whether the journal knows nothing of this room yet."""
    words: tuple[str, ...]
    """Sentences for the log."""
    client: str
    """What ends the room's client id at the broker."""
    epoch: int
    """What the ids of orders and prompts begin with; another journal has another one."""
    clock: RoomClock
    lines: int
    """How many lines the journal had of it before; `NO_ROOM`: it did not know it."""
    later: str | None = None
    """A room file that cannot be taken yet, but will be later; None: there is none."""
    anew: bool = False
    """Whether it may know nothing of what roomcue has said: it is new, or begins anew, or has heard
    nothing since."""


def chapter_of(text: str, version: str) -> Chapter:
    """Make a chapter under the text of a room file; `version` is roomcue's own."""
    return Chapter(text, version, STATE_VERSION, FILE_VERSION)


def fitting_state(
    room: Room, state: State, old: Room | None, now: int, *, service: bool
) -> tuple[State, str]:
    """Give a State that fits a room file, and why it is a new one ("" if it is not).

    A State that contains a name which the file does not have is replaced by the first State, but
    `service` goes on: a technician who is at work has most likely brought the file. None: the `old`
    file is the same, or is none any more.
    """
    stranger = first_foreign_name(room, state)
    if stranger is None:
        return state if old is None else _confirmed_anew(room, state, old, now), ""
    # The tally goes on: order ids are never given twice, and repeated event ids stay known.
    anew, left = first_state(room)._replace(tally=begun_anew(state.tally)), state.core
    anew.core.service = service
    # A travel may still be under way, which nobody has begun by hand. Where its preset has another
    # name now, or is none any more, it may go anywhere.
    known = left.echo is None or left.echo in room.presets
    anew.core.echo, anew.core.awaited = left.echo if known else "", left.awaited
    times = {name: getattr(left.timers, name) for name in ("travel", "echo", "unseen")}
    anew.core.timers = NO_TIMERS._replace(**times)
    anew = anew._replace(due=anew.core.timers.next())
    return anew, f"It stood with {stranger}, which this room file does not know"


def _confirmed_anew(room: Room, state: State, old: Room, now: int) -> State:
    """Give a State in which nothing stands that nobody has confirmed under the old file.

    Where the new one says otherwise than that whether orders are answered, they are given anew.
    Where it says that the lens reports, and the old one did not, its place is unknown until then.
    """
    tx = Transaction(room, state, now)
    if room.answers != old.answers:
        cues = {*dict(tx.core.cues), *(one.cue for one in tx.core.open_cues)}
        for what in ("picture", *(f"cue {name}" for name in sorted(cues))):
            order_unsent(tx, what)
    reports = room.projector.lens.reports and not old.projector.lens.reports
    if reports and tx.core.lens == "resting":
        lose_track(tx)
    return tx.new_state()


def recall_withdrawn(room: Room, state: State, now: int) -> OutgoingMessage | None:
    """Take the open recall back, which a technician's work leaves under way; None: none is open."""
    if state.core.recall is None:
        return None
    tx = Transaction(room, state, now, own=True)
    withdraw(tx, state.core.recall, "technician")
    return order_message(tx.decisions[-1])


def must_wait(room: Room, state: State) -> bool:
    """Tell whether a room file cannot be taken yet: it would forget who is at the screen.

    A file that does not know how the room stands begins it anew, and light would come unannounced.
    """
    asked = state.core.asked
    at_screen = asked is not None and asked.at_screen
    return at_screen and first_foreign_name(room, state) is not None


def looks_at_time(room: Room) -> bool:
    """Tell whether any rule or promise of a room looks at the clock."""
    promised = any(promise.never.looks_at(TIME_FACT) for promise in room.promises)
    return promised or room.rules.table.looks_at(TIME_FACT)
