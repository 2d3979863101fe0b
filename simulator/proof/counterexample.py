"""Counterexamples: an evening on which a promise breaks, on the engine's real clock.

A search on whole States of the real engine follows the way on which the exploration came to the
violation, then tries its luck; what it finds is shrunk until nothing in it is needless, and every
evening of fewer events is tried, as far as a budget reaches. Each event comes a second after the
one before or later, and whatever falls due in between fires at its own time, so an evening found
is a night that replays exactly.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, NamedTuple

from engine.room import Room
from simulator.nights.invention import BEGINS
from simulator.nights.promises import Judge
from simulator.nights.stand_in_hub import TimedEvent
from simulator.proof.evening_search import follow_path, from_every_place, try_luck
from simulator.proof.fact_classes import cue_tests
from simulator.proof.fewest_events import fewest
from simulator.proof.half_steps import Violation
from simulator.proof.reachability import Explorer
from simulator.proof.shrink import Evening, bare, ended_sooner, polished, shrunk, size_of
from simulator.proof.stopping import never
from simulator.proof.walk import Move, Walk, Walker

BUDGET: Final = 60_000
"""The number of steps that are tried before the search is given up."""
FEWER: Final = 40_000
"""The number of steps in which evenings of fewer events are tried: all of two, in most rooms."""
OTHERS: Final = 6
"""How many more evenings are looked for once one is found, in case they are shorter."""


class Counterexample(NamedTuple):
    """An evening whose last step breaks a promise."""

    events: tuple[TimedEvent, ...]
    ends: int
    """When it breaks (ms UTC): at the last event, or when something falls due after it."""
    fewest: bool = False
    """Every evening of fewer events was tried, and none breaks the promise."""


def find_counterexample(
    explorer: Explorer, violation: Violation, judge: Judge, stop: Callable[[], bool] = never
) -> Counterexample | None:
    """Return the simplest evening found, or None if none is found within the budget of steps.

    Of the explorer only its room and the path to the violation are used. `stop` is asked again
    and again whether to give up.
    """
    path = explorer.path(violation)
    cues = tuple(
        name
        for promise in explorer.room.promises
        if promise.label == violation.promise
        for name, _ in cue_tests(promise.never)
    )

    def walker(share: int) -> Walker:
        return Walker(explorer.room, judge, BUDGET // share, stop)

    first = follow_path(walker(2), path) or from_every_place(walker(2), path)
    first = first or try_luck(walker(2), path, 0, cues=cues)
    if first is None:
        return None
    evenings: list[Evening] = [shrunk(walker(1), first)]
    for number in range(1, OTHERS + 1):
        if stop():
            break
        people = number > OTHERS // 2
        other = try_luck(walker(15), path, number, people=people, cues=cues)
        if other is not None:
            evenings.append(shrunk(walker(4), other))
    shortest = polished(walker(2), min(evenings, key=size_of))
    evening = bare(walker(1), ended_sooner(walker(2), shortest))
    searcher = Walker(explorer.room, judge, FEWER, stop)
    fewer = fewest(searcher, _number_of_events(evening) - 1)
    if fewer.walk is not None:
        evening = bare(walker(1), polished(walker(2), shrunk(walker(4), fewer.walk)))
    return _timed(evening, fewest=fewer.tried >= _number_of_events(evening) - 1)


def played_again(room: Room, judge: Judge, evening: Counterexample) -> Walk | None:
    """Play an evening on the real engine; None if it does not break the promise."""
    moves, last = [], BEGINS
    for now, event in evening.events:
        moves.append(Move(now - last, event))
        last = now
    moves.append(Move(evening.ends - last, None))
    return Walker(room, judge, BUDGET).play(tuple(moves))


def _number_of_events(evening: Evening) -> int:
    return sum(move.event is not None for move in evening)


def _timed(moves: Evening, *, fewest: bool) -> Counterexample:
    """Turn waits into times."""
    now, events = BEGINS, []
    for move in moves:
        now += move.wait
        if move.event is not None:
            events.append(TimedEvent(now, move.event))
    return Counterexample(tuple(events), now, fewest)
