"""Invariants of claims: nothing is said to stand before somebody has confirmed it.

`engine.confirmed` tells what stands. A part may begin to stand with a word that confirms it, and
with no other; what the engine orders makes nothing stand. Each check yields a sentence for what it
finds broken, and nothing where all is well.
"""

from __future__ import annotations

from collections.abc import Iterator
from operator import attrgetter, is_

from engine.confirmed import known_cues, known_panels, known_picture, known_preset
from engine.events import Answer, Event, LensReport, Outcome, PanelReport, Resumed
from engine.room import PLAIN, WHOLE, Room
from engine.state import Core, Tally

Memory = tuple[Core, Tally]


def claims_of_word(room: Room, before: Memory, heard: Event | str, after: Memory) -> Iterator[str]:
    """Check what begins to stand with something heard, or with a timer of that name."""
    for part, value in _new_claims(room, before, after):
        if not _confirms(before, heard, part, value):
            yield f"{part} is said to stand at {value}, and nobody has confirmed it"


def claims_of_orders(room: Room, before: Memory, after: Memory) -> Iterator[str]:
    """Check that choosing and ordering make nothing stand."""
    for part, value in _new_claims(room, before, after):
        yield f"{part} is said to stand at {value}, and was only ordered"


def _new_claims(room: Room, before: Memory, after: Memory) -> Iterator[tuple[str, str]]:
    """Yield each part that stands otherwise than before, with its value.

    Plain and whole are two names of one picture: which of them it has changes by itself.
    """
    if all(map(is_, _claimed(*before), _claimed(*after))):
        return
    stood = _claims(room, *before)
    for part, value in _claims(room, *after).items():
        one_picture = part == "picture" and {stood[part], value} == {PLAIN, WHOLE}
        if value is not None and value != stood.get(part) and not one_picture:
            yield part, value


_core_claimed = attrgetter(
    *("shown", "picture", "failed", "lens", "preset", "arrangement", "cues", "open_cues")
)


def _claimed(core: Core, tally: Tally) -> tuple[object, ...]:
    """Give all on which a claim rests; most half steps leave it as it is."""
    return (*_core_claimed(core), tally.failed_cues)


def _claims(room: Room, core: Core, tally: Tally) -> dict[str, str | None]:
    cues = known_cues(room, core, tally) if room.cues else {}
    return {
        "picture": known_picture(room, core).stands,
        "preset": known_preset(room, core).stands,
        "panels": known_panels(core).stands,
        **{f"cue {name}": one.stands for name, one in cues.items()},
    }


def _confirms(before: Memory, heard: Event | str, part: str, value: str) -> bool:
    """Tell whether something heard confirms that a part stands so."""
    core, tally = before
    match heard:
        case Outcome():
            return _outcome_confirms(core, heard, part, value)
        case LensReport(moving=False):
            return part == "preset" and heard.preset == value
        case PanelReport():
            return part == "panels" and heard.panels == value
        case Answer(answer="done"):
            asked = {one.id: one.panels for one in tally.prompts}
            if core.asked is not None:
                asked[core.asked.id] = core.asked.panels
            return part == "panels" and asked.get(heard.prompt) == value
        case Resumed() if "recall" in heard.unsent:
            return part == "preset" and core.origin == value
        case _:
            return False


def _outcome_confirms(core: Core, heard: Outcome, part: str, value: str) -> bool:
    """Tell whether an outcome confirms it; a refused recall leaves the lens where it was."""
    if heard.order == core.picture:
        return part == "picture" and heard.outcome == "done"
    if heard.order == core.recall:
        there = core.preset if heard.outcome == "done" else core.origin
        return part == "preset" and there == value and heard.outcome != "no answer"
    cue = next((one for one in core.open_cues if one.id == heard.order), None)
    return cue is not None and part == f"cue {cue.cue}" and heard.outcome == "done"
