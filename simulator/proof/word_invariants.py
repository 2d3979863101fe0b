"""Invariants of people's words: each has its effect, and none lights somebody at the screen."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from engine.events import Answer, Event, FindLens, Helper, ProjectorReport, Service, Undo
from engine.state import Core
from simulator.proof.footprints import differ

NO: Final = frozenset({"no", "not_tonight"})
"""Answers that say that nobody fits the panels."""
DARKENED: Final = frozenset({"off", "cooling"})


def word_violations(before: Core, event: Event, after: Core) -> Iterator[str]:
    """Check what is known after somebody has said something, before any answer."""
    if _left_in_light(before, event, after):
        yield "another's word brings light back on somebody at the screen"
    match event:
        case Answer():
            yield from _answered(before, event, after)
        case Undo() | FindLens() if after.override != "person":
            yield "a person asks for something, and has not taken over"
        case Helper() if (after.panels == "refused") is event.free:
            yield f"somebody is {'' if event.free else 'not '}free, but panels are {after.panels}"
        case _:
            pass


def _left_in_light(before: Core, event: Event, after: Core) -> bool:
    """Tell whether somebody at the screen is lit by another's word.

    Light comes back with their own word, with anybody's word that all are away, and with their
    warned end, which is no event. A technician at work and a projector that goes off end it too.
    """
    asked = before.asked if differ(before, after, "asked") else None
    if asked is None or not asked.at_screen or after.asked == asked:
        return False
    match event:
        case Answer(answer="all_away") | Service(begun=True):
            return False
        case Answer() if event.prompt == asked.id and event.answer == "done":
            return asked.who not in {None, event.who}
        case Answer() if event.prompt == asked.id and event.answer in NO:
            return asked.who is None or asked.who != event.who
        case ProjectorReport():
            return event.state not in DARKENED
        case _:
            return True


def _answered(before: Core, answer: Answer, after: Core) -> Iterator[str]:
    asked = before.asked
    if asked is None or asked.id != answer.prompt:
        if answer.answer != "done":
            yield "an answer to a prompt that is over was taken"
    elif answer.answer == "done":
        if after.asked is not None or after.arrangement != asked.panels:
            yield f"panels {asked.panels} are done, but known as {after.arrangement}"
    elif answer.answer in NO or (answer.answer == "all_away" and asked.at_screen):
        if after.asked is not None or after.panels != "refused":
            yield f"somebody has said no, but panels are {after.panels}"
    elif answer.answer == "ready" and (after.asked is None or not after.asked.at_screen):
        yield "somebody is on the way, but nobody is at the screen"
