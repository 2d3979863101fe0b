"""What a person asks of the room: to take it over, in which look, and to give it back."""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.aspect import SCALE
from engine.cues import drop_cue_overrides, override_cues, require_cues
from engine.events import milliseconds
from engine.overrides import give_back, mean_it_now, take_over
from engine.prompts import take_refusals_back
from engine.refusal import Refused, require_known
from engine.remembered import forget_choice, remember_choice
from engine.room import PLAIN, WHOLE, Show
from engine.titles import (
    allow_retries,
    let_session_run,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from engine.decisions import OverrideStart
    from engine.events import Override, OverrideLook
    from engine.state import OverrideUntil
    from engine.transaction import Transaction


def override_heard(tx: Transaction, event: Override) -> None:
    """Enter that a person takes the room over, or gives it back."""
    core, room = tx.core, tx.room
    if event.source is not None:
        require_known(event.source, room.sources, "source")
        if event.source != core.source:
            raise Refused(
                "not_shown", f"that override was for '{event.source}', which is not shown"
            )
    cues = None if event.look is None else event.look.cues
    show = _wish_of(tx, event.look)
    if not event.taken:
        _given_back(tx, cues)
        return
    until: OverrideUntil = event.until if isinstance(event.until, str) else "time"
    ends = None if isinstance(event.until, str) else milliseconds(event.until)
    if ends is not None and ends <= tx.now:
        raise Refused("stale", "that override was to end at a time that is already past")
    only_cues = bool(cues) and show == Show()  # Then the rules keep the picture.
    if until == "title":
        # Whoever names nothing wants it left as it is.
        remember_choice(core, None if only_cues else show or Show(), cues or {})
    if cues:
        override_cues(tx, cues, until, ends)
        let_session_run(tx)
        if only_cues:
            return
    begin_override(tx, until, ends, show or Show(), "person")


def _wish_of(tx: Transaction, look: OverrideLook | None) -> Show | None:
    """Give what a person wants beside cues; refuses names that the room does not know."""
    if look is None:
        return None
    room = tx.room
    for name, names, what in (
        (look.picture, (PLAIN, WHOLE, *room.pictures), "picture"),
        (look.preset, room.presets, "preset"),
        (look.panels, room.panels, "panel arrangement"),
    ):
        if name is not None:
            require_known(name, names, what)
    require_cues(tx, look.cues or {})
    lift = None if look.lift is None else round(look.lift * SCALE)
    return Show(look.picture, lift, look.preset, look.panels)


def _given_back(tx: Transaction, cues: Mapping[str, str] | None) -> None:
    """Give these cues back to the rules; where none are named, everything."""
    drop_cue_overrides(tx, lambda one: cues is None or one.cue in cues)
    forget_choice(tx.core, cues)
    if cues is None:
        tx.core.put_back = ()
        give_back(tx, "given_back")


def begin_override(
    tx: Transaction, until: OverrideUntil, ends: int | None, show: Show | None, why: OverrideStart
) -> None:
    """Give the room to a person; the rules order nothing until they give back."""
    core = tx.core
    _try_anew(tx, show or Show())
    if show in {None, Show()}:
        _leave_alone(tx)
    if (core.override, core.override_until, core.timers.override, core.override_look) == (
        "person",
        until,
        ends,
        show,
    ):
        mean_it_now(tx)
        return
    take_over(tx, until, ends, show, why)
    let_session_run(tx)


def _leave_alone(tx: Transaction) -> None:
    """Leave the picture as it is, though nobody knows which one stands, until something changes."""
    core = tx.core
    if core.shown is None or core.failed:
        core.failed = True
        tx.set_timers(retry=None)


def _try_anew(tx: Transaction, wish: Show) -> None:
    """Let what a person asks for be tried once more, whatever was refused or has failed before."""
    core = tx.core
    if wish.preset is not None:
        core.unreached = None
    if wish.picture is not None or wish.lift is not None:
        allow_retries(tx)
    if wish.panels is not None:
        take_refusals_back(tx)
