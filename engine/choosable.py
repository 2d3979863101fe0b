"""What a person may ask for now, and why they cannot have the rest.

Nothing here decides. Each part of a look is tried as if a person asked for it alone. A hold that
ends by itself in a moment is not counted.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

from engine.facts import aspect_of, facts_of
from engine.reconcile import (
    ask_hold,
    everything_waits_for,
    picture_hold,
    somebody_at_screen,
    standing_place,
    travel_hold,
)
from engine.room import PLAIN, WHOLE
from engine.transaction import Transaction

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.holds import HoldCode
    from engine.room import Room
    from engine.state import State

PartName = Literal["picture", "preset", "panels"]


class Choosable(NamedTuple):
    """One thing that a person may ask for."""

    part: PartName
    name: str
    hold: HoldCode | None
    """Why it cannot be had now; None: it can."""


def choosable(room: Room, state: State) -> tuple[Choosable, ...]:
    """Give all that a person may ask for, in the room file's order; what stands can be had.

    Where there is one preset or one panel arrangement, there is nothing to choose of it.
    """
    tx = _asked_by_person(room, state)
    return tuple(_held(tx))


def _asked_by_person(room: Room, state: State) -> Transaction:
    """Give a working space as it is once a person asks for something, past all limits of pace."""
    tx = Transaction(room, state, 0)
    facts, core = facts_of(room, tx.core, tx.settling), tx.core
    tx.facts = tx.title_facts = facts
    tx.fire("override", "take")
    tx.fire("panels", "free")
    core.ripe, core.unreached, core.recalls, core.asks = True, None, 0, 0
    core.wanted = core.wanted._replace(panels=core.arrangement)
    tx.set_timers(linger_people=None)
    return tx


def _held(tx: Transaction) -> Iterator[Choosable]:
    """Give each thing with what would hold it back if nothing else were asked for."""
    core, room = tx.core, tx.room
    of_all = everything_waits_for(core) or ("at_screen" if somebody_at_screen(core) else None)
    aspect = aspect_of(tx.source, core, tx.settling)
    place = standing_place(room, core)
    asked = None if core.asked is None else core.asked.panels
    for name in (PLAIN, WHOLE, *room.pictures):
        shape = core.frame if aspect is None or name == WHOLE else aspect
        yield Choosable("picture", name, of_all or picture_hold(tx, name, shape, place))
    for name in room.presets if len(room.presets) > 1 else ():
        stands = name == core.preset
        yield Choosable("preset", name, None if stands else of_all or travel_hold(tx, name))
    for name in room.panels if len(room.panels) > 1 else ():
        stands = name in {core.arrangement, asked}
        yield Choosable("panels", name, None if stands else of_all or ask_hold(tx, None, name))
