"""A person takes the room over, and it is given back to its rules."""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.room import PLAIN, WHOLE, Show
from engine.state import THE_LOOK

if TYPE_CHECKING:
    from collections.abc import Iterable

    from engine.decisions import OverrideEnd, OverrideStart
    from engine.state import Core, OverrideUntil
    from engine.transaction import Transaction


def take_over(
    tx: Transaction, until: OverrideUntil, ends: int | None, show: Show | None, why: OverrideStart
) -> None:
    """Give the room to a person up to an end (`ends`: ms UTC, where that is a moment)."""
    core = tx.core
    tx.fire("override", "take")
    core.override_until, core.override_look = until, show
    tx.set_timers(override=ends, linger=None)
    tx.tally = tx.tally._replace(taken_by=tx.who)
    note_chosen(tx, {THE_LOOK}, last_time=why == "last_time")
    if why == "last_time":
        menu_is_over(core)
    tx.note("override_begun", "engine: override", why=why)


def menu_is_over(core: Core) -> None:
    """Let a film be shown as it was made to whoever has chosen something, but no picture.

    What stands as a title begins is the menu's picture: in that a film with bars would be small.
    """
    look, shown = core.override_look, core.shown
    chosen = core.override == "person" and look is not None and look != Show()
    if chosen and look is not None and look.picture is None and shown is not None:
        if shown.picture == WHOLE:
            core.shown = shown._replace(picture=PLAIN)
        if core.wanted.picture == WHOLE:
            core.wanted = core.wanted._replace(picture=PLAIN)


def mean_it_now(tx: Transaction) -> None:
    """Let the look that a person has chosen the last time be what somebody asks for now."""
    tx.set_timers(linger=None)
    if THE_LOOK in tx.tally.chosen_last:
        tx.tally = tx.tally._replace(taken_by=tx.who)
        note_chosen(tx, {THE_LOOK}, last_time=False)


def note_chosen(tx: Transaction, names: Iterable[str], *, last_time: bool) -> None:
    """Note whether somebody wants these cues, or `THE_LOOK`, because they did the last time."""
    others = {*tx.tally.chosen_last} - {*names}
    kept = others | {*names} if last_time else others
    tx.tally = tx.tally._replace(chosen_last=tuple(sorted(kept)))


def give_back(tx: Transaction, why: OverrideEnd) -> None:
    """Give the room back to its rules, if a person has it."""
    core = tx.core
    if tx.fire("override", "give_back"):
        core.override_until, core.override_look = "session", None
        tx.set_timers(override=None, linger=None)
        if core.failed:  # The rules try it anew.
            core.failed, core.shown, core.tries = False, None, 0
            tx.set_timers(retry=None)
        tx.note("override_ended", "engine: override", why=why)
