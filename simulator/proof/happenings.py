"""Whatever may happen to a real room, for walks that try their luck.

Values are picked where they make a difference: at the edges of what rules and promises test.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from typing import Final, NamedTuple

from engine.aspect import HIGHEST_LIFT, NARROWEST, SCALE, WIDEST, in_hundredths, number_of
from engine.events import (
    Answer,
    AnswerWord,
    Event,
    FindLens,
    Forget,
    Helper,
    LensReport,
    Outcome,
    OutcomeWord,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    ProjectorReport,
    RatioSeen,
    Resumed,
    Service,
    Signal,
    SourceChosen,
    TimeOfDay,
    Title,
    ToldFact,
    Undo,
)
from engine.facts import LAST_MINUTE, PLAYBACKS
from engine.optics import can_show
from engine.room import PLAIN, WHOLE, Room, Told
from engine.state import Core
from rules.table.domains import RATIO_STEP
from simulator.nights.invention import bars_seen
from simulator.proof.fact_classes import lookups_by_fact
from simulator.proof.walk import Subject, open_subjects

PLAIN_SHAPES: Final = (17_778, 23_900, 18_500, 22_000, 20_000, 13_333, 27_600)
"""Shapes of real titles in 1/10,000, the plainest first."""
ANY_PROMPT: Final = 1
"""Stands for whatever prompt or order is open."""

OUTCOMES: Final[tuple[OutcomeWord, ...]] = ("done", "refused", "no answer")
SAID: Final[tuple[AnswerWord, ...]] = ("ready", "done", "no", "all_away", "more_time")

Happening = tuple[Event, Subject]


class Happenings(NamedTuple):
    """The events that may come at any time, by kind."""

    by_kind: tuple[tuple[Event, ...], ...]

    def all(self) -> Iterator[Event]:
        """Yield each of them."""
        for kind in self.by_kind:
            yield from kind

    def pick(self, rng: random.Random) -> Event:
        """Pick a kind of event, and one of this kind."""
        return rng.choice(rng.choice(self.by_kind))


def happenings(room: Room) -> Happenings:
    """List what may happen in a room at any time."""
    shapes = shapes_of(room)
    bars = bars_seen(23_900)
    kinds: tuple[tuple[Event, ...], ...] = (
        tuple(SourceChosen(source=name) for name in room.sources),
        tuple(Playback(state=state) for state in PLAYBACKS),
        (Title(begun=True), Title(begun=False), Title(begun=True, name="another")),
        tuple(RatioSeen(ratio=number_of(one)) for one in shapes),
        tuple(Title(begun=True, declared=number_of(one)) for one in shapes),
        (bars, replace(bars, bottom=bars.bottom // 2)),
        tuple(Signal(locked=True, columns=columns, rows=1_080) for columns in (1_920, 1_440)),
        tuple(
            ToldFact(fact=fact.name, value=value)
            for fact in room.told.values()
            for value in (None, *told_values(room, fact))
        ),
        tuple(TimeOfDay(minute=one) for one in _edges(room, "time", 1, 0, LAST_MINUTE)),
        tuple(Signal(locked=True, range=one) for one in ("standard", "high"))
        + tuple(Signal(locked=True, three_d=one) for one in (True, False)),
        (
            *(
                LensReport(moving=moving, preset=preset)
                for moving in (True, False)
                for preset in (None, *room.presets)
            ),
            LensReport(moving=False, preset=None, known=False),
        ),
        tuple(PanelReport(panels=name) for name in (None, *room.panels)),
        overrides(room),
        (Undo(), FindLens()),
        (Forget(name=None), Forget(name="another")),
        tuple(Helper(free=free) for free in (True, False)),
        tuple(ProjectorReport(state=state) for state in ("off", "lit")),
        tuple(Service(begun=begun) for begun in (True, False)),
        (Resumed(),),
    )
    return Happenings(tuple(kind for kind in kinds if kind))


def overrides(room: Room) -> tuple[Event, ...]:
    """List how a person may take a room over, or give it back."""
    return (
        Override(taken=False),
        Override(taken=True),
        *(
            Override(taken=True, look=OverrideLook(picture=one))
            for one in (PLAIN, WHOLE, *room.pictures)
        ),
        *(Override(taken=True, look=OverrideLook(lift=lift)) for lift in (0, HIGHEST_LIFT / SCALE)),
        *(Override(taken=True, look=OverrideLook(preset=one)) for one in room.presets),
        *(Override(taken=True, look=OverrideLook(panels=one)) for one in room.panels),
        *(
            Override(taken=True, look=OverrideLook(cues={cue: value}))
            for cue, values in room.cues.items()
            for value in values
        ),
    )


def answers(core: Core) -> list[Happening]:
    """List what hub and people may say to whatever is open."""
    found: list[Happening] = [
        (Outcome(order=ANY_PROMPT, outcome=word), subject)
        for subject in open_subjects(core)
        for word in OUTCOMES
    ]
    if core.asked is not None:
        found += [(Answer(prompt=ANY_PROMPT, answer=said), "") for said in SAID]
    if core.lens == "travelling" and core.preset is not None:
        found.append((LensReport(moving=False, preset=core.preset), ""))
    return found


def obeyed(core: Core) -> list[Happening]:
    """List what a hub reports that does what it was ordered."""
    found: list[Happening] = [
        (Outcome(order=ANY_PROMPT, outcome="done"), subject) for subject in open_subjects(core)
    ]
    return found or [one for one in answers(core) if isinstance(one[0], LensReport)]


@lru_cache(8)
def shapes_of(room: Room) -> tuple[int, ...]:
    """List ratios (1/10,000) that rules, promises and pictures tell apart, plain ones first."""
    lookups = [
        one
        for name in ("aspect", "tallest", "declared")
        for one in lookups_by_fact(room).get(name, ())
    ]
    edges = _edges(room, "aspect", RATIO_STEP, NARROWEST, WIDEST)
    kinds: dict[tuple[object, ...], int] = {}
    for ratio in (*PLAIN_SHAPES, *edges, *range(NARROWEST, WIDEST, RATIO_STEP)):
        shown = tuple(
            can_show(room, picture, ratio, preset, panels)
            for picture in room.pictures
            for preset in (None, *room.presets)
            for panels in (None, *room.panels)
        )
        kinds.setdefault((*(one.rows(in_hundredths(ratio)) for one in lookups), shown), ratio)
    return tuple(dict.fromkeys((*kinds.values(), *PLAIN_SHAPES[:4])))


def told_values(room: Room, fact: Told) -> tuple[str | bool | int, ...]:
    """List the values of a told fact, of a number those at the edges of tests."""
    return fact.values or _edges(room, fact.name, 1, fact.least or 0, fact.most or 0)


def _edges(room: Room, name: str, step: int, least: int, most: int) -> tuple[int, ...]:
    """List the numbers round the edges of what is tested of a fact."""
    found = {least, most}
    for lookup in lookups_by_fact(room).get(name, ()):
        for cut in lookup.cuts:
            middle = int(cut.value) // step * step
            found |= {middle - step, middle, middle + step}
    return tuple(sorted(one for one in found if least <= one <= most))
