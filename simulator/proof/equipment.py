"""The equipment's own state: what of a core an exploration keeps, and what it leaves open.

The equipment is the lens, the panels and the prompt. The environment (source, playback, facts,
override) is not kept, because it may change at will between two steps. The picture is not kept,
because any that may ever be wanted may stand when a step begins (`simulator.proof.demands`).
Neither is memory that only ever holds something back, such as used-up recalls or a picture that
failed: `answer_steps` tries these separately wherever an order is given.
"""

from __future__ import annotations

from typing import Final

from engine.reconcile import standing_place
from engine.room import Room
from engine.state import NO_TIMERS, NOTHING_WANTED, Core
from simulator.proof.copies import copied
from simulator.proof.environments import LATER

LEFT: Final = 2
"""Recalls left, wherever any are: the engine only ever asks whether one is left."""
PROMPT: Final = 2
"""The number of the prompt that is open when a step begins: those it makes have others."""
RECALL: Final = 3
"""The number of the recall under way then."""

StateKey = tuple[object, ...]


def state_key(room: Room, core: Core) -> StateKey:
    """Return what identifies the equipment's state; cores of equal keys have equal successors.

    The origin of a travel that a person started matters only for how large the picture may be
    meanwhile. While nobody knows where such a travel goes, its end may yet be told. Who is at the
    screen only decides whose answer is taken; `event_steps` tries that.
    """
    asked = core.asked
    unordered = core.lens == "travelling" and core.recall is None and core.preset is not None
    return (
        core.lens,
        core.preset,
        standing_place(room, core) if unordered else core.origin,
        core.recall is None,
        core.timers.travel is None,
        core.panels,
        core.arrangement,
        None if asked is None else asked[1:4],
    )


def canonical(core: Core) -> Core:
    """Return a copy that keeps only what the key tells; nothing else holds an order back."""
    new = copied(core)
    new.shown, new.failed, new.picture, new.unreached = None, False, None, None
    new.tries = 0
    new.put_back = ()
    new.set_off, new.echo, new.missed, new.override_look = False, None, None, None
    new.awaited = None
    if core.lens == "travelling":
        new.awaited = "by hand" if core.recall is None else "ours"
    new.ripe, new.holds, new.news, new.recalls, new.asks = False, (), (), 0, 0
    new.cues, new.open_cues, new.cue_wish, new.cue_overrides = (), (), (), ()
    new.row = new.title_row = None
    new.wanted = NOTHING_WANTED
    new.left_title = new.left_night = LEFT
    new.refused_until, new.undo = "session", None
    new.back_to = None
    if new.asked is not None:
        new.asked = new.asked._replace(id=PROMPT, who=None, latest=0)
    new.recall = None if new.recall is None else RECALL
    timers = core.timers
    new.timers = NO_TIMERS._replace(
        travel=None if timers.travel is None else LATER,
        remind=None if timers.remind is None else LATER,
        give_up=None if timers.give_up is None else LATER,
    )
    return new
