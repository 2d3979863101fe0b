"""What happens when something falls due."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from engine import settle
from engine.cues import drop_cue_overrides
from engine.lens import travel_time_over
from engine.outcomes import cue_ended, picture_ended, picture_tried_again
from engine.overrides import give_back
from engine.prompts import close_prompt, send_prompt
from engine.readings import park_or_wake
from engine.state import Timers
from engine.titles import (
    end_session,
    interrupt_title,
    let_session_run,
    lines_are_gone,
    longest_is_over,
    note_settled_shape,
    shape_has_stood,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from engine.transaction import Transaction


def fire_due(tx: Transaction) -> None:
    """Fire all that is due at `tx.now`: the readings' filter first, then the timers in order."""
    deadline = tx.settling.deadline
    if deadline is not None and deadline <= tx.now:
        tx.settling = settle.elapse(tx.settling, tx.now)
        note_settled_shape(tx, tx.settling)
    for name in Timers._fields:
        due = getattr(tx.core.timers, name)
        if due is not None and due <= tx.now:
            tx.set_timers(**{name: None})
            _DUE[name](tx)


def _picture(tx: Transaction) -> None:
    picture_ended(tx, "no answer")


def _cue(tx: Transaction) -> None:
    for cue in tx.core.open_cues:
        if cue.ends <= tx.now:
            cue_ended(tx, cue, "no answer")


def _remind(tx: Transaction) -> None:
    asked = tx.core.asked
    if asked is not None and asked.at_screen:
        send_prompt(tx, "light comes back")
    elif tx.fire("panels", "remind"):
        send_prompt(tx, "reminded")


def _give_up(tx: Transaction) -> None:
    close_prompt(tx, "expired", "not_answered")
    tx.fire("panels", "refuse")
    tx.core.refused_until = "session"
    let_session_run(tx)


def _pause(tx: Transaction) -> None:
    tx.core.pause_over = True
    interrupt_title(tx)
    park_or_wake(tx)
    tx.set_timers(session=tx.now + tx.room.pace.session)


def _nothing(_tx: Transaction) -> None:
    """Do nothing: `facts_of` looks at this timer itself."""


def _linger(tx: Transaction) -> None:
    tx.core.ripe = True


def _override(tx: Transaction) -> None:
    give_back(tx, "time")


def _cue_override(tx: Transaction) -> None:
    drop_cue_overrides(tx, lambda one: one.ends is not None and one.ends <= tx.now)


def _echo(tx: Transaction) -> None:
    core = tx.core
    core.echo = None
    if core.lens != "travelling":
        core.awaited = None


_DUE: Final[dict[str, Callable[[Transaction], None]]] = {
    "travel": travel_time_over,
    "picture": _picture,
    "retry": picture_tried_again,
    "cue": _cue,
    "remind": _remind,
    "give_up": _give_up,
    "pause": _pause,
    "first_minutes": _nothing,
    "shape": shape_has_stood,
    "longest": longest_is_over,
    "lines": lines_are_gone,
    "linger": _linger,
    "linger_people": _nothing,
    "override": _override,
    "cue_wait": _nothing,
    "cue_override": _cue_override,
    "session": end_session,
    "echo": _echo,
    "unseen": _nothing,
    "flash": _nothing,
}
