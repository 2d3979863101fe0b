"""How the panels stand, by a report or by the word of whoever fitted them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.prompts import close_prompt
from engine.refusal import require_known
from engine.titles import start_first_minutes

if TYPE_CHECKING:
    from engine.decisions import ReasonCode
    from engine.events import PanelReport
    from engine.transaction import Transaction


def panels_reported(tx: Transaction, event: PanelReport) -> None:
    """Take a report of how the panels stand."""
    if event.panels is not None:
        require_known(event.panels, tx.room.panels, "panel arrangement")
    tx.note_told("panels", event.panels)
    panels_stand(tx, event.panels, "panels_reported")


def panels_stand(tx: Transaction, panels: str | None, code: ReasonCode) -> None:
    """Enter how the panels stand; an open prompt that asked for exactly this is done.

    Not while somebody is at the screen: only their own word brings the light back.
    """
    core = tx.core
    if core.asked is not None and core.asked.panels == panels and not core.asked.at_screen:
        close_prompt(tx, "done", code)
        tx.fire("panels", "stand")
        start_first_minutes(tx)
    look = core.override_look
    if look is not None and panels not in {core.arrangement, look.panels}:
        core.override_look = look._replace(panels=None)
    if panels is not None or len(tx.room.panels) > 1:
        core.arrangement = panels
