"""A judge of what people are owed on an evening: answers to wishes, and the dark at the screen.

It follows what people say and what they are told, and asks the engine's State only where lens,
panels and picture stand and what is held back. It never asks the proof. What must hold:

- "people at the screen": from somebody's `ready` on, no picture but the dark is ordered and their
  prompt does not end, until they say so themselves (whoever said `ready` without a name: until
  anybody says `done`), anybody says that all are away, their time has run out after a warning, a
  technician begins to work, or the projector goes off.
- "wishes answered": as long as a person has taken over, each part of what they want stands, is on
  its way, or something is said to hold it back. So it is with a cue that they have set.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from engine.decisions import PictureOrder, Prompt, PromptOver
from engine.events import Answer, ProjectorReport, Resumed, Service
from engine.room import DARK
from engine.state import Core
from tests.soundness.independent_judge import ROOM_FOR_LINES, Seen

PEOPLE_AT_SCREEN: Final = "people at the screen"
WISHES_ANSWERED: Final = "wishes answered"
OWED: Final = frozenset({PEOPLE_AT_SCREEN, WISHES_ANSWERED, ROOM_FOR_LINES})
"""What every room owes: to people, and to whoever reads the lines."""


class PeopleJudge:
    """Judges the steps of one evening, in their order."""

    def __init__(self) -> None:
        self.there: int | None = None
        """The prompt that somebody at the screen has said `ready` to."""
        self.who: str | None = None
        self.warned = False

    def see(self, seen: Seen) -> Iterator[str]:
        """Take in one step; yield what people are owed and have not been given."""
        over = [one.prompt for one in seen.decisions if isinstance(one, PromptOver)]
        if self.there is not None and self._may_end(seen):
            if self.there in over:
                self.there = None
        elif self.there is not None:
            lit = [
                one
                for one in seen.decisions
                if isinstance(one, PictureOrder) and one.picture != DARK
            ]
            if lit or self.there in over:
                yield PEOPLE_AT_SCREEN
        self._follow(seen)
        if _is_unanswered(seen.after.core):
            yield WISHES_ANSWERED

    def _may_end(self, seen: Seen) -> bool:
        """Tell whether their time at the screen may end with this step."""
        match seen.event:
            case None | Resumed():
                return self.warned
            case Answer(answer="all_away") | Service(begun=True):
                return True
            case Answer(answer="done"):
                return seen.event.prompt == self.there and self.who in {None, seen.event.who}
            case Answer(answer="no" | "not_tonight"):
                return seen.event.prompt == self.there and self.who == seen.event.who is not None
            case ProjectorReport(state="off" | "cooling"):
                return True
            case _:
                return False

    def _follow(self, seen: Seen) -> None:
        """Take in who goes to the screen, and who is warned there."""
        event = seen.event
        for one in seen.decisions:
            if isinstance(one, Prompt) and one.id == self.there:
                self.warned = self.warned or one.stage == "light comes back"
        if not isinstance(event, Answer):
            return
        if event.answer == "ready" and self.there is None:
            self.there, self.who, self.warned = event.prompt, event.who, False
        elif event.answer == "more_time" and event.prompt == self.there:
            self.warned = False


def _is_unanswered(core: Core) -> bool:
    """Tell whether a person wants something that does not stand, and nothing says why not."""
    wish = core.override_look
    ordered = dict(core.cues) | {one.cue: one.value for one in core.open_cues}
    if any(ordered.get(one.cue) != one.value for one in core.cue_overrides) and not core.holds:
        return True
    if core.override != "person" or wish is None or core.holds or core.failed:
        return False
    shown = core.shown
    asked = None if core.asked is None else core.asked.panels
    return (
        (wish.preset is not None and (wish.preset != core.preset or core.lens == "unknown"))
        or wish.panels not in {None, core.arrangement, asked}
        or (wish.picture is not None and (shown is None or shown.picture != wish.picture))
        or (wish.lift is not None and (shown is None or shown.lift != wish.lift))
    )
