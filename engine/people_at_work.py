"""People at work of whom a room learns when it begins anew: it waits for them as it would have.

No event has told of them here, so they are part of the State with which the room begins.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from engine.prompts import begin_prompt, end_darkness_at, forget_prompt
from engine.transaction import Transaction

if TYPE_CHECKING:
    from engine.room import Room
    from engine.state import State


class PersonAtScreen(NamedTuple):
    """Somebody who is on the way to the screen, or there."""

    panels: str | None
    """What they fit there; None: something that the room file does not know."""
    who: str | None
    """Who it is, where they said so."""
    sent: bool
    """Whether they have been told what to do, for the picture was dark."""
    ends: int
    """Up to when it was to be dark, ms UTC; that may be over."""


class PeopleAtWork(NamedTuple):
    """Who is at work in a room."""

    at_screen: PersonAtScreen | None = None
    technician: bool = False


NOBODY: Final = PeopleAtWork()


def with_people_at_work(room: Room, state: State, found: PeopleAtWork, now: int) -> State:
    """Give the State of a room that begins anew, with people at work.

    The prompt of whoever is at the screen is open under an id of this room's own. It stays dark for
    as long as they were told it would, but never for longer than after a `ready`; where that is
    over, or nearly, they are warned first, as after any stop.
    """
    tx, pace = Transaction(room, state, now), room.pace
    tx.core.service = found.technician
    if found.at_screen is not None:
        panels, who, sent, ends = found.at_screen
        tx.fire("panels", "ask")
        asked = begin_prompt(tx, panels or next(iter(room.panels)))
        if panels is None:
            forget_prompt(tx, asked.id)
        tx.core.asked = asked._replace(at_screen=True, who=who, sent=sent)
        end_darkness_at(tx, max(min(ends, now + pace.give_up), now + 1 + pace.remind))
    return tx.new_state()
