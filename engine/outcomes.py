"""What became of our orders."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from engine.lens import recall_ended, recall_unsent
from engine.prompts import warn_first
from engine.refusal import NEVER_GIVEN, OF_ANOTHER_JOURNAL, Refused

if TYPE_CHECKING:
    from engine.events import Outcome, OutcomeWord
    from engine.state import OpenCue
    from engine.transaction import Transaction


PROMPT: Final = "prompt"
"""What could not leave, where that is the warning that the light comes back."""
RETRY_AFTER: Final = (10_000, 60_000)
"""How long after it failed a picture is tried again, the first time and the second, ms."""


def outcome_heard(tx: Transaction, event: Outcome) -> None:
    """Take what became of an open order."""
    core = tx.core
    if core.picture == event.order:
        picture_ended(tx, event.outcome)
    elif core.recall == event.order:
        # Where the lens reports itself, who says that its order is done may only have accepted it.
        reported = core.set_off and tx.room.projector.lens.reports
        if event.outcome != "done" or not reported:
            recall_ended(tx, event.outcome)
    elif event.outcome == "done" and tx.tally.arrived == event.order:
        return  # Its report has come first.
    else:
        cue = next((cue for cue in core.open_cues if cue.id == event.order), None)
        if cue is None:
            raise Refused("not_open", f"order {event.order} is not open: {_why(tx, event.order)}")
        cue_ended(tx, cue, event.outcome)


def _why(tx: Transaction, order: int) -> str:
    """Say why an order is not open."""
    if tx.is_of_another_journal(order):
        return OF_ANOTHER_JOURNAL
    over = "it was answered or withdrawn, or its end has passed"
    why = over if order <= tx.tally.serial else NEVER_GIVEN
    if tx.room.answers:
        return why
    return f"{why}, or none is awaited, for the room file has no orders: {{answered: yes}}"


def cue_ended(tx: Transaction, cue: OpenCue, outcome: OutcomeWord) -> None:
    """Close a cue's order; one that failed is taken as set, or it would be ordered for ever."""
    core = tx.core
    core.open_cues = tuple(each for each in core.open_cues if each is not cue)
    core.cues = tuple(sorted((dict(core.cues) | {cue.cue: cue.value}).items()))
    failed = {*tx.tally.failed_cues} - {cue.cue}
    if outcome != "done":
        told = tx.room.labels_told(cue.cue, cue.value)
        tx.note("cue_failed", "engine: orders", None, cue=cue.cue, outcome=outcome, **told)
        failed.add(cue.cue)
    if failed != {*tx.tally.failed_cues}:
        tx.tally = tx.tally._replace(failed_cues=tuple(sorted(failed)))
    tx.set_timers(cue=min((each.ends for each in core.open_cues), default=None))


def picture_ended(tx: Transaction, outcome: OutcomeWord) -> None:
    """Close the open picture order: what stands afterwards is known only if it was done."""
    core = tx.core
    core.picture = None
    tx.set_timers(picture=None)
    if outcome == "done":
        core.tries = 0
        return
    core.failed = True
    if core.tries < len(RETRY_AFTER):
        tx.set_timers(retry=tx.now + RETRY_AFTER[core.tries])
        core.tries += 1
    else:
        tx.note("picture_failed", "engine: orders", outcome=outcome)


def picture_tried_again(tx: Transaction) -> None:
    """Let a picture that failed be ordered again, if it is still wanted."""
    tx.core.failed, tx.core.shown = False, None


def forget_overdue(tx: Transaction) -> None:
    """Forget the picture and the cues whose end has passed unseen: their outcomes may be lost."""
    due = tx.core.timers.picture
    if due is not None and due <= tx.now:
        order_unsent(tx, "picture")
    for cue in tx.core.open_cues:
        if cue.ends <= tx.now:
            order_unsent(tx, f"cue {cue.cue}")


def order_unsent(tx: Transaction, what: str) -> None:
    """Forget the latest order of a kind, which never left, so that it is given again.

    Its kind is "picture", "recall", or "cue" with the cue's name; or "prompt", where whoever is at
    the screen could not be warned: then they are now.
    """
    core = tx.core
    kind, _, name = what.partition(" ")
    if kind == "picture":
        core.picture = core.shown = None
        core.failed, core.tries = False, 0
        tx.set_timers(picture=None)
    elif kind == "recall":
        recall_unsent(tx)
    elif kind == PROMPT:
        if core.asked is not None and core.asked.at_screen:
            warn_first(tx)
    elif kind == "cue":
        core.open_cues = tuple(cue for cue in core.open_cues if cue.cue != name)
        core.cues = tuple(cue for cue in core.cues if cue[0] != name)
        failed = tuple(cue for cue in tx.tally.failed_cues if cue != name)
        tx.tally = tx.tally._replace(failed_cues=failed)
        tx.set_timers(cue=min((cue.ends for cue in core.open_cues), default=None))
