"""Undo: what stood before the last order of ours that moved something, and putting it back."""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.override_requests import begin_override
from engine.refusal import Refused
from engine.remembered import remember_choice
from engine.room import Show

if TYPE_CHECKING:
    from engine.events import Undo
    from engine.state import OverrideUntil
    from engine.transaction import Transaction


def remember_panels(tx: Transaction, panels: str | None) -> None:
    """Remember how the panels stand before those that people were asked for stand."""
    stood = tx.core.arrangement
    if stood is not None and stood != panels:
        tx.may_be_undone(Show(panels=stood))


def undone(tx: Transaction, _event: Undo) -> None:
    """Put back what stood before, by an override for this title; what else is overridden stays."""
    core = tx.core
    before = core.undo
    if before is None:
        raise Refused("nothing_to_undo", "nothing has moved in this title that could be put back")
    look = core.override_look or Show()
    back = {part: value for part, value in before._asdict().items() if value is not None}
    look = look._replace(**back)
    until: OverrideUntil = "title" if core.title else "session"
    ends = None
    if core.override == "person" and core.override_until != "arrival":
        until, ends = core.override_until, core.timers.override
    core.undo = None
    if until == "title":
        remember_choice(core, look, {})
    begin_override(tx, until, ends, look, "undo")
