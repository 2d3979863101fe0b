"""Invariants of wishes: what a person wants is done, or they are told why not, within one step.

They are checked on the second half of a step, in which the engine chooses and orders. Whether a
wish is carried out is read off how lens, panels and picture stand; whether a person is told why
not, off the holds, which are published at once.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from engine.reconcile import LIT
from engine.room import Show
from engine.state import Core

OF_RULES: Final = frozenset(
    {"paused", "linger", "circle", "first_minutes", "mid_title", "per_title", "per_night"}
)
"""What only rules have to wait for, but for `linger`: so does what was chosen for a title the last
time, which is remembered in none of the states that are checked here."""
OF_LENS: Final = frozenset(
    {"travelling", "lens_unknown", "panels", "unreached", "asked", "picture"}
)
"""Why a preset that a person wants has to wait."""
OF_PANELS: Final = frozenset({"helper", "travelling", "travel_first"})
"""Why nobody is asked for panels that a person wants."""
OF_PICTURE: Final = frozenset({"nearest", "menu"})
"""Why a picture that a person wants is plain or whole instead."""


def wishes_unanswered(after: Core) -> Iterator[str]:
    """Check that whatever a person wants is carried out or answered, and nothing else is done."""
    yield from _own_cues(after)
    if after.override != "person":
        return
    for hold in OF_RULES.intersection(after.holds):
        yield f"what a person wants is held back ({hold}), as only what rules want may be"
    wish = after.override_look
    if wish is None or wish == Show():
        return
    first = _before_any_wish(after)
    if first is not None:
        if first not in after.holds:
            yield f"a person wants something, and is not told what comes first ({first})"
        return
    yield from _slow_parts(wish, after)
    yield from _picture(wish, after)


def _own_cues(after: Core) -> Iterator[str]:
    """Check cues that a person has set: nothing but what all waits for holds them back."""
    ordered = dict(after.cues) | {one.cue: one.value for one in after.open_cues}
    told = {_before_any_wish(after)} & {"service", "projector", "no_source"} & {*after.holds}
    for one in after.cue_overrides:
        if ordered.get(one.cue) != one.value and not told:
            yield f"a person wants {one.cue} {one.value}, and neither gets it nor is told why not"


def _before_any_wish(after: Core) -> str | None:
    """Give the hold that comes before whatever a person wants; None: there is none."""
    if after.service:
        return "service"
    if after.projector not in LIT:
        return "projector"
    if after.source is None:
        return "no_source"
    return "at_screen" if after.asked is not None and after.asked.at_screen else None


def _slow_parts(wish: Show, after: Core) -> Iterator[str]:
    """Check preset and panels: they stand, are under way or asked for, or have to wait."""
    there = after.preset == wish.preset and after.lens != "unknown"
    if wish.preset is not None and not there and not OF_LENS.intersection(after.holds):
        yield f"a person wants {wish.preset}, and neither gets it nor is told why not"
    asked = None if after.asked is None else after.asked.panels
    stand_or_asked = wish.panels in {None, after.arrangement, asked}
    if not stand_or_asked and not OF_PANELS.intersection(after.holds):
        yield f"a person wants {wish.panels}, and nobody is asked for them nor told why not"


def _picture(wish: Show, after: Core) -> Iterator[str]:
    """Check picture and lift; of an order that fails people are told by its outcome."""
    if after.failed or "flash" in after.holds:
        return
    shown = after.shown
    picture, lift = (None, None) if shown is None else (shown.picture, shown.lift)
    if wish.picture not in {None, picture} and not OF_PICTURE.intersection(after.holds):
        yield f"a person wants picture {wish.picture}, and neither gets it nor is told why not"
    if wish.lift not in {None, lift}:
        yield f"a person wants a lift of {wish.lift}, and gets {lift}"
