"""Search for an evening that breaks a promise, on the real engine.

First the exploration's own path is followed: its events come, and before or after each of them the
facts of its environment are reported. Where that does not break the promise, walks try their luck:
they mix the path's events and environments with whatever else may happen. They draw from a seed, so
the same room gives the same evening every time.
"""

from __future__ import annotations

import random
from heapq import heappop, heappush
from typing import Final, NamedTuple

from engine.events import Answer, Event, Outcome, Playback
from engine.snapshot import finite_shape
from engine.state import Timers
from simulator.proof.alphabet import OVER
from simulator.proof.arranging import ORDERS, arrange, wait_for
from simulator.proof.environments import Environment
from simulator.proof.event_steps import ORDER
from simulator.proof.half_steps import Cause
from simulator.proof.happenings import (
    Happenings,
    answers,
    happenings,
    obeyed,
    shapes_of,
    told_values,
)
from simulator.proof.walk import PICTURE, RECALL, Walk, Walker

LAYER: Final = 8
"""What a step of the path that is still ahead counts, in steps of a walk."""
LONGEST: Final = 24
"""How many things happen on a walk that tries its luck."""
REST: Final = 6
"""How many deadlines are waited for at the end of such a walk."""


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


def _number(event: Outcome | Answer) -> int:
    return event.order if isinstance(event, Outcome) else event.prompt


# --------------------------------------------------------------------------- trying one's luck


def try_luck(walker: Walker, path: tuple[Cause, ...], seeds: range) -> Walk | None:
    """Walk at random, once for each seed, until the promise breaks."""
    whatever = happenings(walker.room)
    for seed in seeds:
        if walker.over:
            break
        _Luck(walker, path, whatever, random.Random(seed)).walk()
    return walker.found


_LOTS: Final = ("varied", "goal", "event", "answer", "wait", "anything")
_WEIGHTS: Final = (2, 1, 2, 1, 2, 2)
"""How often each of these comes next on a walk that tries its luck."""


class _Luck:
    """One walk that tries its luck."""

    def __init__(
        self, walker: Walker, path: tuple[Cause, ...], whatever: Happenings, rng: random.Random
    ) -> None:
        self._walker = walker
        self._path = path
        self._whatever = whatever
        self._rng = rng
        self._goal = path[-1].environment

    def walk(self) -> None:
        """Let this and that happen, then bring the room to where the path ends, and wait."""
        walker, rng = self._walker, self._rng
        walk = walker.start()
        for _ in range(rng.randrange(2, LONGEST)):
            walk = self._next(walk)
            if walker.over:
                return
        walk = self._arranged(walk, self._goal)
        for _ in range(REST):
            walk = self._obeyed(walker.wait(walk))

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
                return walker.tell(walk, self._whatever.pick(rng))

    def _arranged(self, walk: Walk, environment: Environment) -> Walk:
        return arrange(self._walker, walk, environment, self._rng.choice(ORDERS))

    def _obeyed(self, walk: Walk) -> Walk:
        """Let the hub do what it was ordered."""
        said = obeyed(walk.state.core)
        return self._walker.tell(walk, *said[0]) if said else walk

    def _varied(self, environment: Environment) -> Environment:
        """Return an environment in which one fact or two are otherwise, and something plays."""
        rng, room = self._rng, self._walker.room
        lot = rng.randrange(4)
        if lot == 0:
            return environment
        if lot == 1 and environment.told:
            name, _ = rng.choice(environment.told)
            value = rng.choice(told_values(room, room.told[name]))
            told = tuple(sorted((dict(environment.told) | {name: value}).items()))
            environment = environment._replace(told=told)
        elif environment.aspect is not None:
            environment = environment._replace(aspect=rng.choice(shapes_of(room)))
        if rng.random() < 0.5:  # noqa: PLR2004 - every other time
            return environment
        return environment._replace(playback="playing", pause_over=False, hand="rules", wish=None)
