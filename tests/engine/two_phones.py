"""Random evenings of two people with a phone each, in any room, out of a seed.

Whatever comes next is drawn with a look at how things stand, so that most words hit something: an
answer to the prompt that is open, a wish against what was just ordered, a `done` that comes late.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable
from datetime import datetime
from typing import Final, Literal, get_args

from engine.events import (
    Answer,
    AnswerWord,
    BlackSeen,
    Event,
    FindLens,
    Forget,
    Helper,
    LensReport,
    Mark,
    Outcome,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    ProjectorReport,
    Service,
    Signal,
    SourceChosen,
    Title,
    ToldFact,
    Undo,
    moment_of,
)
from engine.room import PLAIN, WHOLE, Room
from engine.state import Core, State
from tests.engine.story import shape

PEOPLE: Final = ("Ana", "Rui", None)
"""Two people, and whoever gives no name."""
WAITS: Final = (0, 0, 300, 1_000, 6_000, 20_000, 50_000, 70_000, 200_000, 900_000, 1_300_000)
"""How long it is to the next event, ms."""
RATIOS: Final = (1.33, 1.778, 1.778, 1.85, 2.0, 2.2, 2.39, 2.39)
NAMES: Final = ("one", "two", None)


class Evening:
    """Draws one event after another, for a room as it stands."""

    def __init__(self, room: Room, seed: int) -> None:
        self.room = room
        self.draw = random.Random(seed)

    def wait(self) -> int:
        """Draw how long it is to the next event, ms."""
        return self.draw.choice(WAITS)

    def event(self, state: State, now: int) -> Event:
        """Draw what comes next: half of it from people, a quarter each from hub and equipment."""
        kind = self.draw.randrange(4)
        if kind == 0:
            return self.hub(state.core)
        return self.equipment(state.core) if kind == 1 else self.word(state, now)

    def beginning(self) -> list[Event]:
        """Switch the room on."""
        return [
            LensReport(moving=False, preset=self._one(self.room.presets)),
            PanelReport(panels=self._one(self.room.panels)),
            ProjectorReport(state="lit"),
            SourceChosen(source=self._one(self.room.sources)),
        ]

    # ------------------------------------------------------------------------------ what happens

    def hub(self, core: Core) -> Event:
        """Draw what the hub tells."""
        source, draw = core.source, self.draw
        begun = Title(
            begun=True,
            name=draw.choice(NAMES),
            declared=draw.choice((None, None, *RATIOS)),
            series=draw.choice((None, None, "all")),
        )
        state = draw.choice(("playing", "playing", "playing", "paused", "stopped", "unknown"))
        told: list[Event] = [
            Playback(state=state, source=source),  # type: ignore[arg-type]
            Playback(state="playing", source=source),
            begun,
            Title(begun=False),
            shape(draw.choice(RATIOS)),
            shape(2.39, bottom=150),
            BlackSeen(),
            SourceChosen(source=self._one(self.room.sources)),
            Signal(locked=draw.random() < 0.8, columns=3_840, rows=2_160),
        ]
        return draw.choice(told)

    def equipment(self, core: Core) -> Event:
        """Draw what the equipment does: mostly what it was told."""
        draw = self.draw
        still_open = [core.picture, core.recall, *(cue.id for cue in core.open_cues)]
        numbers = [one for one in still_open if one is not None]
        if core.lens == "travelling" and draw.random() < 0.5:
            return LensReport(moving=False, preset=core.preset)
        if numbers and draw.random() < 0.9:
            outcome = draw.choice(("done", "done", "done", "refused", "no answer"))
            return Outcome(order=draw.choice(numbers), outcome=outcome)  # type: ignore[arg-type]
        done: list[Event] = [
            ProjectorReport(state=draw.choice(("off", "cooling", "warming", "lit"))),
            Service(begun=draw.random() < 0.3),
            PanelReport(panels=draw.choice([None, *self.room.panels])),
            LensReport(moving=draw.random() < 0.5, preset=draw.choice([None, *self.room.presets])),
        ]
        usual: list[Event] = [ProjectorReport(state="lit"), Service(begun=False)]
        return draw.choice([*done, *(4 * usual)])

    # ---------------------------------------------------------------------------- what is said

    def word(self, state: State, now: int) -> Event:
        """Draw a person's word."""
        core, draw, who = state.core, self.draw, self.draw.choice(PEOPLE)
        if core.asked is not None and draw.random() < 0.5:
            return Answer(prompt=core.asked.id, answer=draw.choice(get_args(AnswerWord)), who=who)
        words: list[Callable[[], Event]] = [
            lambda: Answer(
                prompt=max(1, state.tally.serial - draw.randrange(9)),
                answer=draw.choice(get_args(AnswerWord)),
                who=who,
            ),
            lambda: self._taken(who, now),
            lambda: self._taken(who, now),
            lambda: Override(taken=False, who=who, look=draw.choice([None, None, self._cues()])),
            lambda: Undo(who=who),
            lambda: FindLens(preset=draw.choice([None, *self.room.presets]), who=who),
            lambda: Forget(name=draw.choice((None, "one", "two", "all")), who=who),
            lambda: Helper(free=draw.random() < 0.5, who=who),
            lambda: self._told(who),
            lambda: Mark(words="that was wrong"),
        ]
        return draw.choice(words)()

    def _taken(self, who: str | None, now: int) -> Override:
        draw, room = self.draw, self.room
        look = OverrideLook(
            picture=draw.choice([None, None, PLAIN, WHOLE, *room.pictures]),
            lift=draw.choice([None, None, None, 0, 0.05]),
            preset=draw.choice([None, *room.presets]),
            panels=draw.choice([None, *room.panels]),
            cues=draw.choice([None, None, self._cues().cues]),
        )
        ends = moment_of(now + draw.choice((20_000, 3_600_000)))
        until: Literal["title", "session"] | datetime = draw.choice(("title", "session", ends))
        return Override(
            taken=True, look=draw.choice([None, look, look, look]), until=until, who=who
        )

    def _cues(self) -> OverrideLook:
        cues = self.room.cues
        if not cues:
            return OverrideLook()
        name = self._one(cues)
        return OverrideLook(cues={name: self.draw.choice(cues[name])})

    def _told(self, who: str | None) -> Event:
        if not self.room.told:
            return Mark(words="nothing to tell")
        fact = self.room.told[self._one(self.room.told)]
        value = self.draw.choice((None, *fact.values)) if fact.values else fact.least
        return ToldFact(fact=fact.name, value=value, who=who)

    def _one(self, names: Iterable[str]) -> str:
        return self.draw.choice([*names])
