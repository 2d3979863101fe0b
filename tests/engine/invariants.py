"""The invariants that a proof checks on half steps, checked on a whole step."""

from __future__ import annotations

from engine.decisions import Decision
from engine.events import Event
from engine.room import Room
from engine.state import State
from simulator.proof.claim_invariants import claims_of_word
from simulator.proof.invariants import picture_on_panels, step_violations


def violations(
    room: Room, before: State, decisions: tuple[Decision, ...], after: State
) -> list[str]:
    """Check a whole step from one State to another; return a sentence for each thing broken."""
    found = step_violations(before.core, decisions, after.core)
    if after.core.shown is not None and not after.core.failed:
        found += picture_on_panels(room, after.core)
    return found


def claims(room: Room, before: State, heard: Event | None, after: State) -> list[str]:
    """Check what a whole step says to stand, with an event or (None) without one."""
    word = heard or "whatever was due"
    return [*claims_of_word(room, (before.core, before.tally), word, (after.core, after.tally))]
