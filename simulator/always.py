"""What must hold in every state a room can reach, checked on one step.

These are the engine's own promises, whatever a room file says. They are looked at from
outside: only by what was reported, what was ordered and what the State shows.
"""

from __future__ import annotations

from collections.abc import Iterator

from engine.decisions import Decision, PictureOrder, Prompt, RecallOrder
from engine.moving import LIT
from engine.optics import larger, on_panel
from engine.room import Room
from engine.state import Core, State


def broken(room: Room, before: State, decisions: tuple[Decision, ...], after: State) -> list[str]:
    """Say which of the engine's promises a step has broken, one sentence each."""
    return [
        *_pictures(room, after),
        *_recalls(before.core, decisions, after.core),
        *_prompts(decisions, after.core),
        *_quiet(before.core, decisions, after.core),
    ]


def _pictures(room: Room, after: State) -> Iterator[str]:
    """No order puts picture on a panel that is fitted, or may be, at any place of the way."""
    core = after.core
    if core.service or core.projector not in LIT or core.source is None:
        return
    shown = core.shown
    if shown is None or core.failed:
        return
    place = core.preset if core.lens != "unknown" else None
    if core.lens == "travelling":
        place = larger(room, core.origin, place)
    if on_panel(room, shown.region, place, core.arrangement):
        yield f"picture at {shown.region} falls on panels ({core.arrangement or 'not known'})"


def _recalls(before: Core, decisions: tuple[Decision, ...], after: Core) -> Iterator[str]:
    """No recall while the lens travels, or while its place is unknown and something plays."""
    recalls = [one for one in decisions if isinstance(one, RecallOrder)]
    if after.left_title < 0 or after.left_night < 0:
        yield "more recalls than the pace allows"
    if len(recalls) > 1:
        yield "two recalls in one step"
    for recall in recalls:
        # The lens may have arrived and set off again within one step, but not anew to one place.
        if before.lens == "travelling" and before.preset == recall.preset and before.recall:
            yield "a recall while the lens travels"
        lost = before.lens == "unknown" and after.origin is None
        if lost and after.playback in {"playing", "paused"} and not after.pause_over:
            yield "a recall of a lens whose place nobody knows, while something plays"


def _prompts(decisions: tuple[Decision, ...], after: Core) -> Iterator[str]:
    """An open prompt always has its end, and its machine says that it is open."""
    if (after.asked is not None) != (after.panels in ("asked", "reminded")):
        yield f"panels are {after.panels}, but the prompt is {after.asked}"
    if (after.asked is not None) != (after.timers.give_up is not None):
        yield "an open prompt without its end, or an end without a prompt"
    for decision in decisions:
        if isinstance(decision, Prompt) and decision.ends < decision.at:
            yield "a prompt that ends before it is made"


def _quiet(before: Core, decisions: tuple[Decision, ...], after: Core) -> Iterator[str]:
    """In service, without light and in a person's hand the rules order no travel."""
    for decision in decisions:
        if isinstance(decision, RecallOrder | PictureOrder) and after.service and before.service:
            yield "an order while a technician is at work"
        if isinstance(decision, RecallOrder):
            if after.projector not in LIT:
                yield "a recall without light"
            person = after.hand == "person" and before.hand == "person"
            if person and (after.hand_look is None or after.hand_look.preset is None):
                yield "a recall against somebody's hand"
            if after.asked is not None and after.asked.at_screen:
                yield "a recall while somebody is at the screen"
