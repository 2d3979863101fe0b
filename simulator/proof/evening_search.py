"""Search for an evening that breaks a promise, on the real engine.

First the exploration's own path is followed: its events come, and before or after each of them the
facts of its environment are reported; then the same from every place of lens and panels. Where that
does not break the promise, walks try their luck: they mix the path's events and environments with
whatever else may happen. They draw from a seed, so the same room gives the same evening every time.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from heapq import heappop, heappush
from itertools import product
from typing import Any, Final, NamedTuple

from engine.events import (
    Answer,
    Event,
    FindLens,
    LensReport,
    Outcome,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    ProjectorReport,
    Undo,
)
from engine.facts import first_minutes_run
from engine.room import Room
from engine.snapshot import finite_shape
from engine.state import Core, Timers
from simulator.proof.alphabet import OVER
from simulator.proof.arranging import ORDERS, TOLD_IN_A_PAUSE, arrange, wait_for
from simulator.proof.environments import Environment
from simulator.proof.event_steps import ORDER
from simulator.proof.half_steps import Cause
from simulator.proof.happenings import (
    answers,
    happenings,
    obeyed,
    shapes_of,
    told_values,
)
from simulator.proof.walk import PICTURE, RECALL, Walk, Walker

LAYER: Final = 8
"""What a step of the path that is still ahead counts, in steps of a walk."""
SOME: Final = 6
"""Out of how many situations the least tried is picked."""
MOST_AT_ONCE: Final = 5
"""Fewer things than this happen before another situation is picked."""
HELD: Final = 0.2
"""How often a walk goes on with a pause that holds a picture."""


def follow_path(walker: Walker, path: tuple[Cause, ...]) -> Walk | None:
    """Follow the path of an exploration, the most promising walk first."""
    queue: list[_Place] = [_Place(0, 0, 0, walker.start())]
    seen: set[object] = set()
    number = 0
    while queue and not walker.over:
        place = heappop(queue)
        for walk, layer in _onwards(walker, place, path):
            key = (layer, finite_shape(walk.state))
            if key not in seen:
                seen.add(key)
                number += 1
                cost = walk.length + LAYER * (len(path) - layer)
                heappush(queue, _Place(cost, number, layer, walk))
    return walker.found


class _Place(NamedTuple):
    """A walk that waits to be continued; the first fields decide which comes next."""

    cost: int
    number: int
    """Of equal walks the one that was found first comes first."""
    layer: int
    """How many steps of the path have been taken."""
    walk: Walk


def _onwards(walker: Walker, place: _Place, path: tuple[Cause, ...]) -> list[tuple[Walk, int]]:
    """Take the next step of the path in each order, or let the room and its people go on."""
    found: list[tuple[Walk, int]] = []
    walk, layer = place.walk, place.layer
    if layer < len(path):
        cause = path[layer]
        for order in ORDERS:
            first = happen(walker, walk, cause.event)
            found.append((arrange(walker, first, cause.environment, order), layer + 1))
            if cause.event is not None:
                there = arrange(walker, walk, cause.environment, order)
                found.append((happen(walker, there, cause.event), layer + 1))
    found.append((walker.wait(walk), layer))
    for event, subject in answers(walk.state.core):
        found.append((walker.tell(walk, event, subject), layer))
    return found


def happen(walker: Walker, walk: Walk, event: Event | str | None) -> Walk:
    """Let an event of the exploration come, or wait until one of its timers has run out."""
    if event is None:
        return walk
    if isinstance(event, str):
        if event == "session" and walk.state.core.timers.session is None:
            walk = walker.tell(walk, Playback(state="stopped"))
        return wait_for(walker, walk, event) if event in Timers._fields else walk
    if isinstance(event, Outcome | Answer) and _number(event) == OVER:
        return walk  # It answers what was never asked: the engine refuses it.
    subject = PICTURE if isinstance(event, Outcome) and event.order == ORDER else RECALL
    return walker.tell(walk, event, subject if isinstance(event, Outcome) else "")


def from_every_place(walker: Walker, path: tuple[Cause, ...]) -> Walk | None:
    """Follow a path from wherever lens and panels may stand, at its end with each shape.

    An exploration lets any picture stand at any place; a real one is shown where it fits. Shapes
    are seen in one try and declared in another, which in a pause is the only way.
    """
    room, goal = walker.room, path[-1].environment
    shapes = dict.fromkeys((goal.aspect, *shapes_of(room)))
    places = product((None, *room.presets), (None, *room.panels))
    for (preset, panels), order, known in product(places, ORDERS, (_seen, _declared)):
        walk = _at_place(walker, preset, panels)
        for cause in path[:-1]:
            walk = happen(walker, walk, cause.event)
            walk = arrange(walker, walk, known(cause.environment), order)
        for shape in shapes:
            there = arrange(walker, walk, known(_shaped(room, goal, shape)), order)
            happen(walker, there, path[-1].event)
            if walker.over:
                return walker.found
    return None


def _shaped(room: Room, goal: Environment, shape: int | None) -> Environment:
    """Give an environment another shape: the frame's, of a source that is left alone."""
    source = room.sources.get(goal.source or "")
    if source is not None and source.leave_alone and shape is not None:
        return goal._replace(frame=shape)
    return goal._replace(aspect=shape)


def _seen(environment: Environment) -> Environment:
    """Leave an environment as it is: readings bring its shape about."""
    return environment


def _declared(environment: Environment) -> Environment:
    """Let the title declare what else would have to be read."""
    return environment._replace(aspect=None, declared=environment.aspect, title=True)


def _at_place(walker: Walker, preset: str | None, panels: str | None) -> Walk:
    """Begin with lens and panels reported to stand somewhere; None: nobody says where."""
    walk = walker.start()
    if panels is not None:
        walk = walker.tell(walk, PanelReport(panels=panels))
    if preset is not None:
        walk = walker.tell(walk, LensReport(moving=False, preset=preset))
        walk = walker.tell(walk, Override(taken=False))
    return walk


def _number(event: Outcome | Answer) -> int:
    return event.order if isinstance(event, Outcome) else event.prompt


# --------------------------------------------------------------------------- trying one's luck


def try_luck(
    walker: Walker,
    path: tuple[Cause, ...],
    seed: int,
    *,
    people: bool = True,
    cues: tuple[str, ...] = (),
) -> Walk | None:
    """Walk on at random, from wherever walks have come to so far, until the promise breaks.

    Without `people` nobody takes the room over: what rows and pauses do is then found sooner.
    `cues` are those that the promise speaks of.

    Of the walks to one situation the shortest is kept. Those that were continued least often go on
    first, so that seldom situations are reached soon.
    """
    luck = _Luck(walker, path, random.Random(seed), people=people, cues=cues)
    start = walker.start()
    reached = {situation(start.state.core, cues): start}
    while not walker.over:
        for walk in luck.onwards(reached[luck.least_tried(reached)]):
            key = situation(walk.state.core, cues)
            if key not in reached or walk.length < reached[key].length:
                reached[key] = walk
    return walker.found


def situation(core: Core, cues: tuple[str, ...]) -> tuple[object, ...]:
    """Return what makes it worth while to walk on from here as well."""
    shown = core.shown
    stand = dict(core.cues) if cues else {}
    return (
        tuple(stand.get(name) for name in cues),
        (core.row, core.source, core.playback, core.pause_over, core.title),
        (core.lens, core.preset, core.arrangement, core.panels, core.override, core.override_look),
        None if shown is None else (shown.picture, shown.lift),
        (core.wanted[:2], core.failed, core.told, core.varies, core.subtitles, core.doubt is None),
        first_minutes_run(core),
    )


_LOTS: Final = ("varied", "goal", "event", "answer", "wait", "anything")
_WEIGHTS: Final = (2, 1, 2, 1, 2, 2)
"""How often each of these comes next on a walk that tries its luck."""


class _Luck:
    """Walks on at random."""

    def __init__(
        self,
        walker: Walker,
        path: tuple[Cause, ...],
        rng: random.Random,
        *,
        people: bool,
        cues: tuple[str, ...],
    ) -> None:
        self._walker = walker
        self._path = path
        self._whatever = happenings(walker.room)
        self._rng = rng
        self._people = people
        self._cues = cues if people else ()
        self._goal = path[-1].environment

        self._tried: Counter[tuple[object, ...]] = Counter()

    def least_tried(self, reached: dict[tuple[object, ...], Walk]) -> tuple[object, ...]:
        """Pick a few situations, and of them the one from which walks went on least often."""
        some = self._rng.choices(tuple(reached), k=SOME)
        least = min(some, key=lambda key: (self._tried[key], reached[key].length))
        self._tried[least] += 1
        return least

    def onwards(self, walk: Walk) -> Iterator[Walk]:
        """Let this and that happen; every now and then bring the room to where the path ends."""
        rng = self._rng
        if rng.random() < HELD:
            walk = self._held_by_a_pause(walk)
            yield walk
        if self._cues and rng.random() < HELD:
            walk = self._left_by_a_person(walk)
            yield walk
        for _ in range(rng.randrange(1, MOST_AT_ONCE)):
            walk = self._next(walk)
            yield walk

    def _held_by_a_pause(self, walk: Walk) -> Walk:
        """Let a pause hold a picture, one that a person has asked for or that a row shows."""
        walker, rng = self._walker, self._rng
        goal = self._goal._replace(playback="paused", pause_over=False, override="rules", wish=None)
        there = self._varied(goal)._replace(**self._other_value("told", goal))
        there = there._replace(playback="playing", title=True)
        if rng.random() < 0.5:  # noqa: PLR2004 - every other time
            there = there._replace(aspect=None, declared=rng.choice(shapes_of(walker.room)))
        walk = self._arranged(walk, there)
        picture = rng.choice((None, *walker.room.pictures)) if self._people else None
        if picture is not None:
            walk = walker.tell(walk, Override(taken=True, look=OverrideLook(picture=picture)))
        walk = walker.tell(walk, Playback(state="paused"))
        if picture is not None:
            walk = walker.tell(walk, Override(taken=False))
        return arrange(walker, walk, goal, TOLD_IN_A_PAUSE)

    def _left_by_a_person(self, walk: Walk) -> Walk:
        """Let a person set a cue and give it back, or lose it with the light.

        It stands on unless a row orders it, which no row does without light.
        """
        cue = self._rng.choice(self._cues)
        value = self._rng.choice(self._walker.room.cues[cue])
        look = OverrideLook(cues={cue: value})
        walk = self._walker.tell(walk, Override(taken=True, look=look))
        over = self._rng.choice((Override(taken=False), ProjectorReport(state="off")))
        return self._walker.tell(walk, over)

    def _next(self, walk: Walk) -> Walk:
        """Let one thing happen: of the path, of its environments, by the hub, or anything."""
        walker, rng = self._walker, self._rng
        (lot,) = rng.choices(_LOTS, _WEIGHTS)
        match lot:
            case "varied":
                return self._arranged(walk, self._varied(rng.choice(self._path).environment))
            case "goal":
                return self._arranged(walk, self._goal)
            case "event":
                return happen(walker, walk, rng.choice(self._path).event)
            case "answer":
                said = answers(walk.state.core)
                return walker.tell(walk, *rng.choice(said)) if said else walker.wait(walk)
            case "wait":
                return self._obeyed(walker.wait(walk))
            case _:
                return self._anything(walk)

    def _anything(self, walk: Walk) -> Walk:
        """Let any event come; where nobody takes the room over, time passes instead."""
        event = self._whatever.pick(self._rng)
        takes_over = isinstance(event, Undo | FindLens) or (
            isinstance(event, Override) and event.taken
        )
        if takes_over and not self._people:
            return self._walker.wait(walk)
        return self._walker.tell(walk, event)

    def _arranged(self, walk: Walk, environment: Environment) -> Walk:
        return arrange(self._walker, walk, environment, self._rng.choice(ORDERS))

    def _obeyed(self, walk: Walk) -> Walk:
        """Let the hub do what it was ordered."""
        said = obeyed(walk.state.core)
        return self._walker.tell(walk, *said[0]) if said else walk

    def _varied(self, environment: Environment) -> Environment:
        """Return an environment in which up to two facts are otherwise."""
        rng = self._rng
        for _ in range(rng.randrange(3)):
            environment = environment._replace(**self._other_fact(environment))
        return environment

    def _other_fact(self, environment: Environment) -> dict[str, Any]:
        """Pick another value of any fact."""
        fact = self._rng.choice(
            ("told", "aspect", "playback", "varies", "subtitles", "doubtful", "first_minutes")
        )
        return self._other_value(fact, environment)

    def _other_value(self, fact: str, environment: Environment) -> dict[str, Any]:
        """Pick another value of one fact."""
        rng, room = self._rng, self._walker.room
        match fact:
            case "told" if room.told:
                name = rng.choice(tuple(room.told))
                value = rng.choice(told_values(room, room.told[name]))
                return {fact: tuple(sorted((dict(environment.told) | {name: value}).items()))}
            case "playback":
                free = {"pause_over": False, "override": "rules", "wish": None}
                return {fact: rng.choice(("playing", "playing", "paused")), **free}
            case "doubtful":
                return {fact: not environment.doubtful}
            case "varies" | "subtitles" | "first_minutes":
                return {fact: not getattr(environment, fact), "title": True}
            case _:
                return {"aspect": rng.choice(shapes_of(room))}
