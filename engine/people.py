"""What people say and do: panels fitted, prompts answered, the room taken over and given back."""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.events import milliseconds
from engine.prompts import close_prompt
from engine.room import PLAIN, WHOLE, Show
from engine.titles import forgive, give_back, let_session_run, start_opening
from engine.transaction import Refused, known

if TYPE_CHECKING:
    from engine.events import Answer, Hand, PanelReport
    from engine.transaction import Turn


def panels_reported(turn: Turn, event: PanelReport) -> None:
    """Take a report of how the panels stand."""
    if event.panels is not None:
        known(event.panels, turn.room.panels, "panel arrangement")
    panels_stand(turn, event.panels, "Somebody has reported the panels.")


def panels_stand(turn: Turn, panels: str | None, reason: str) -> None:
    """Take it that the panels stand so; an open prompt for just that is done."""
    core = turn.core
    if core.asked is not None and core.asked.panels == panels:
        close_prompt(turn, "done", reason)
        turn.fire("panels", "stand")
        start_opening(turn)
    if core.hand_look is not None and panels != core.arrangement:
        core.hand_look = core.hand_look._replace(panels=None)
    if panels is not None or len(turn.room.panels) > 1:
        core.arrangement = panels


def answered(turn: Turn, event: Answer) -> None:
    """Take an answer to the open prompt."""
    core = turn.core
    if core.asked is None or core.asked.id != event.prompt:
        raise Refused("not_asked", f"prompt {event.prompt} is not open: its answer comes too late")
    if event.answer == "done":
        panels_stand(turn, core.asked.panels, "Somebody has answered that it is done.")
    elif event.answer == "no":
        close_prompt(turn, "declined", "Somebody has answered no.")
        turn.fire("panels", "refuse")
        let_session_run(turn)
    elif not core.asked.at_screen:
        core.asked = core.asked._replace(at_screen=True)
        pace = turn.room.pace
        ends = turn.now + pace.give_up
        turn.set(remind=max(turn.now + 1, ends - pace.remind), give_up=ends)


def hand_heard(turn: Turn, event: Hand) -> None:
    """Take it that a person takes over, or gives back."""
    core, room = turn.core, turn.room
    if event.source is not None:
        known(event.source, room.sources, "source")
        if event.source != core.source:
            raise Refused("not_shown", f"that hand was for '{event.source}', which is not shown")
    look = event.look
    if not event.taken:
        give_back(turn, "The person has given back.")
        return
    show = None
    if look is not None:
        for name, names, what in (
            (look.picture, (PLAIN, WHOLE, *room.pictures), "picture"),
            (look.preset, room.presets, "preset"),
            (look.panels, room.panels, "panel arrangement"),
        ):
            if name is not None:
                known(name, names, what)
        show = Show(look.picture, None, look.preset, look.panels)
    until = event.until if isinstance(event.until, str) else "time"
    ends = None if isinstance(event.until, str) else milliseconds(event.until)
    if ends is not None and ends <= turn.now:
        raise Refused("stale", "that hand was to end at a time that is already past")
    take_hand(turn, until, ends, show, "A person has taken over.")


def take_hand(turn: Turn, until: str, ends: int | None, show: Show | None, reason: str) -> None:
    """Give the room to a person; the rules order nothing until they give back."""
    core = turn.core
    if (core.hand, core.hand_until, core.timers.hand, core.hand_look) == (
        "person",
        until,
        ends,
        show,
    ):
        return
    turn.fire("hand", "take")
    core.hand_until, core.hand_look = until, show
    if show is not None and show.preset is not None:
        core.unreached = None
    if show is not None and show.picture is not None:
        forgive(core)
    turn.set(hand=ends)
    let_session_run(turn)
    turn.note("hand_taken", reason, "engine: hand")
