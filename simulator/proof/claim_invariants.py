"""Invariants of claims: nothing is said to stand before somebody has confirmed it.

`engine.confirmed` tells what stands. A part may begin to stand with a word that confirms it, and
with no other; what the engine orders makes nothing stand. Each check yields a sentence for what it
finds broken, and nothing where all is well.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from engine.confirmed import KnownPart, known_cues, known_panels, known_picture, known_preset
from engine.events import Answer, Event, LensReport, Outcome, PanelReport, Resumed
from engine.room import PLAIN, WHOLE, Room
from engine.state import Core, Tally
from simulator.proof.footprints import differ

Memory = tuple[Core, Tally]
UNKNOWN: Final = KnownPart()


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
    for part, (stood, stands) in _changed_claims(room, before, after):
        one_picture = part == "picture" and {stood, stands} == {PLAIN, WHOLE}
        if stands is not None and stands != stood and not one_picture:
            yield part, stands


def _changed_claims(
    room: Room, before: Memory, after: Memory
) -> Iterator[tuple[str, tuple[str | None, str | None]]]:
    """Yield each part of which something on which a claim rests has changed, before and after."""
    (was, told_before), (core, told) = before, after
    if differ(was, core, "shown", "picture", "failed"):
        yield "picture", (known_picture(room, was).stands, known_picture(room, core).stands)
    if differ(was, core, "lens", "preset"):
        yield "preset", (known_preset(room, was).stands, known_preset(room, core).stands)
    if differ(was, core, "arrangement"):
        yield "panels", (known_panels(was).stands, known_panels(core).stands)
    failed = told_before.failed_cues is not told.failed_cues
    if failed or differ(was, core, "cues", "open_cues"):
        stood = known_cues(room, was, told_before)
        for name, cue in known_cues(room, core, told).items():
            yield f"cue {name}", (stood.get(name, UNKNOWN).stands, cue.stands)


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
