"""Invariants of titles remembered: a family's choices and their `no` come back where they belong.

They are checked on the first half of a step. Each check yields a sentence for what it finds
broken, and nothing where all is well.
"""

from __future__ import annotations

from collections.abc import Iterator

from engine.events import Event, Forget, Helper, Override, SourceChosen
from engine.facts import what_is_remembered
from engine.room import Show
from engine.state import Core
from engine.title_records import NO_CHOICE, InterruptedTitle


def remembered_violations(before: Core, heard: Event | str, after: Core) -> Iterator[str]:
    """Check what is remembered by name, and of titles that were left, after something is heard."""
    match heard:
        case Forget():
            yield from _forgotten(before, heard, after)
        case Override():
            yield from _chosen(heard, after)
        case Helper(free=True) if any(one.refused for one in _left(after)):
            yield "somebody is free, and a no to a title that was left still holds"
        case SourceChosen() if before.source not in {None, heard.source}:
            of_title = before.panels == "refused" and before.refused_until == "title"
            if before.title and of_title and not any(one.refused for one in _left(after)):
                yield "a no to a title is forgotten with its source"
        case _:
            pass
    if after.title and begins(before, after):
        yield from _begun(before, after)


def begins(before: Core, after: Core) -> bool:
    """Tell whether a title has begun, or goes on, that was not on before."""
    names = (before.title_name, before.series) != (after.title_name, after.series)
    return after.title and (not before.title or names)


def stands_again(after: Core) -> bool:
    """Tell whether a person has the room because that was the last choice for what is on now."""
    known = what_is_remembered(after)
    return known is not None and known.choice.look == after.override_look is not None


def goes_on(before: Core, after: Core) -> InterruptedTitle | None:
    """Give the title that was left and goes on now; None: what is on is another one."""
    kept = before.interrupted
    if kept is None or not begins(before, after) or after.shapes != kept.shapes:
        return None
    return kept if (kept.name, kept.series) == (after.title_name, after.series) else None


def _left(core: Core) -> tuple[InterruptedTitle, ...]:
    return core.left if core.interrupted is None else (*core.left, core.interrupted)


def _forgotten(before: Core, event: Forget, after: Core) -> Iterator[str]:
    """Check that nothing is left of what is forgotten, and that all else is still remembered."""
    kept = tuple(one for one in before.titles if event.name not in (None, one.name))
    if after.titles != kept:
        yield "what is to be forgotten is remembered, or something else is forgotten"
    gone = {one.name for one in before.titles} - {one.name for one in kept}
    if any((one.series or one.name) in gone and one.choice != NO_CHOICE for one in _left(after)):
        yield "a title that was left keeps a choice that is forgotten"
    known = what_is_remembered(before)
    if known is None or known.name not in gone:
        return
    if after.remembered is not None:
        yield "the title that is on keeps a shape that is forgotten"
    chosen = known.choice.look is not None and after.override_until == "title"
    if chosen and after.override == "person":
        yield "the title that is on keeps a choice that is forgotten"


def _chosen(event: Override, after: Core) -> Iterator[str]:
    """Check that a choice for a title with a name is remembered, until the rules have it again."""
    known, look = what_is_remembered(after), event.look
    if not event.taken:
        if known is not None and look is None and known.choice != NO_CHOICE:
            yield "the room is given back, and a choice is still remembered"
    elif event.until == "title" and (after.series or after.title_name) is not None:
        wish = Show() if look is None else after.override_look
        if (look is None or not look.cues) and (known is None or known.choice.look != wish):
            yield "a choice for a title that has a name is not remembered"
        if look is not None and look.cues:
            cues = {} if known is None else dict(known.choice.cues)
            if not look.cues.items() <= cues.items():
                yield "a cue that was chosen for a title that has a name is not remembered"


def _begun(before: Core, after: Core) -> Iterator[str]:
    """Check that a last choice stands again, and that a `no` to this title still holds."""
    known = what_is_remembered(after)
    look = None if known is None else known.choice.look
    if look is not None and after.override == "rules":
        yield "a title begins without what was chosen for it the last time"
    elif look is not None and before.override == "rules" and after.override_look != look:
        yield "a title begins with another look than was chosen for it the last time"
    kept = goes_on(before, after)
    at_screen = after.asked is not None and after.asked.at_screen
    if kept is not None and kept.refused and after.panels != "refused" and not at_screen:
        yield "a no to a title is forgotten once it goes on"
