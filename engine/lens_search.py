"""Find the lens: a person wants it back at a preset, and the rules go on once it is there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.override_requests import begin_override
from engine.overrides import give_back
from engine.refusal import Refused, require_known
from engine.room import Show

if TYPE_CHECKING:
    from engine.events import FindLens
    from engine.transaction import Transaction


def find_lens(tx: Transaction, event: FindLens) -> None:
    """Want a lens that stands at no preset at one: this one, the one wanted, or the first."""
    core, presets = tx.core, tx.room.presets
    if event.preset is not None:
        require_known(event.preset, presets, "preset")
    if core.lens != "unknown":
        way = "stands at" if core.lens == "resting" else "is on its way to"
        raise Refused("not_lost", f"the lens {way} '{core.preset}'")
    preset = event.preset or core.wanted.preset or next(iter(presets))
    look = core.override_look or Show()
    until, ends = core.override_until, core.timers.override
    if look == Show():  # Nothing else is wanted for longer.
        until, ends = "arrival", None
    wish = look._replace(preset=preset)
    begin_override(tx, until, ends, wish, "find_lens")


def end_search(tx: Transaction) -> None:
    """Give the room back once the lens that a person wants found has arrived, or cannot.

    Called while an override lasts until the arrival.
    """
    core = tx.core
    look = core.override_look or Show()
    preset = look.preset
    if preset is None:  # Somebody has moved it meanwhile: that is an override like any other.
        core.override_until = "title" if core.title else "session"
    elif core.unreached == preset:
        give_back(tx, "not_found")
    elif core.lens == "resting" and core.preset == preset:
        give_back(tx, "found")
