"""Shrink an evening to what breaks the promise: nothing in it is needless.

Whatever can be left out is left out, waits become as short as they can be, values plain, and
reports come in their usual order. After each change the real engine plays the evening again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import MISSING, fields, replace
from itertools import combinations
from typing import Final

from engine.aspect import number_of, ratio_of
from engine.events import (
    BarsSeen,
    Event,
    FindLens,
    Forget,
    Helper,
    LensReport,
    Outcome,
    Override,
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
from engine.snapshot import finite_shape
from simulator.proof.happenings import PLAIN_SHAPES, happenings
from simulator.proof.walk import SECOND, Move, Walk, Walker, moves_of

Evening = tuple[Move, ...]
Simpler = Callable[[Walker, Evening], Iterator[Evening]]
"""Lists evenings that are simpler in one way, and may break the promise still."""

USUAL_ORDER: Final[tuple[type[Event], ...]] = (
    SourceChosen,
    Playback,
    Title,
    Signal,
    RatioSeen,
    BarsSeen,
    ToldFact,
    TimeOfDay,
)
"""Reports in the order in which an evening usually brings them; others follow."""
SELDOM: Final = 16
"""What an event counts that comes on few evenings, in fields that say something unusual."""
UNUSUAL: Final[dict[type[Event], int]] = {
    BarsSeen: 8,
    Signal: 8,
    LensReport: 4,
    Resumed: 4,
    Undo: 8,
    FindLens: 8,
    Forget: 8,
    Helper: 4,
    Override: 2,
    Title: 1,
}
"""What other events count. A plain evening is easier to believe than an unusual one."""
AFTERWARDS: Final = 30 * SECOND
"""How long time passes after the last event of a changed evening, for it may break later."""
FEW: Final = 8
"""Of so many events every selection is tried."""


def shrunk(walker: Walker, found: Walk) -> Evening:
    """Shrink a walk that breaks the promise; the walker's budget bounds the work."""
    moves, changed = moves_of(found), True
    while changed and not walker.spent:
        changed = False
        for way in (_without_many, _shorter_waits, _plainer, _in_usual_order, _without_some):
            better = _better(walker, way, moves)
            while better is not None:
                moves, changed = better, True
                better = _better(walker, way, moves)
    return moves


def polished(walker: Walker, moves: Evening) -> Evening:
    """Look for a simpler evening near a shrunk one, as far as the walker's budget reaches.

    One event, whatever it is, takes the place of another or of two.
    """
    better = _better(walker, _with_another, moves)
    while better is not None:
        moves = better
        walk = walker.play(moves)
        if walk is not None:
            moves = shrunk(walker, walk)
        better = _better(walker, _with_another, moves)
    return moves


def ended_sooner(walker: Walker, moves: Evening) -> Evening:
    """Look for an evening that begins like a short one and breaks with two other events.

    It is shorter by one event at least. So many beginnings are tried as the budget reaches,
    the longest first.
    """
    events = [at for at, one in enumerate(moves) if one.event is not None]
    if len(events) > FEW:
        return moves
    for ends in reversed(events[:-2]):
        found = _broken_by_two(walker, moves[:ends])
        if found is not None:
            return ended_sooner(walker, moves_of(found))
    return moves


def _broken_by_two(walker: Walker, begun: Evening) -> Walk | None:
    """Let any two events follow, the first of them one that changes something."""
    walker.found = None
    walk, whatever = walker.start(), tuple(happenings(walker.room).all())
    for move in begun:
        if move.event is not None:
            walk = walker.tell(walk, move.event, move.subject, move.wait)
    seen = {finite_shape(walk.state)}
    for event in whatever:
        after = walker.tell(walk, event)
        shape = finite_shape(after.state)
        if shape not in seen:
            seen.add(shape)
            for other in whatever:
                walker.tell(after, other)
        if walker.over:
            break
    return walker.found


def bare(walker: Walker, moves: Evening) -> Evening:
    """Leave out one event after the other, until each that is left is needed.

    It comes last, whatever else there was no time for: nobody is shown what does not matter.
    """
    while (better := _better(walker, _without_one, moves)) is not None:
        moves = better
    return moves


def _better(walker: Walker, way: Simpler, moves: Evening) -> Evening | None:
    """Return the first of the simpler evenings that still breaks the promise."""
    for changed in way(walker, moves):
        walk = walker.play((*changed, Move(AFTERWARDS, None)))
        if walk is not None:
            shorter = moves_of(walk)
            if size_of(shorter) < size_of(moves):
                return shorter
        if walker.spent:
            break
    return None


def size_of(moves: Evening) -> tuple[int, ...]:
    """Return what makes one evening simpler than another, the most important first.

    These are the number of its events, how unusual they are, how many of its reports come in an
    unusual order, and its length (ms).
    """
    events = [one.event for one in moves if one.event is not None]
    ranks = [_rank(one) for one in events]
    disorder = sum(one > other for one, other in combinations(ranks, 2))
    return len(events), sum(map(_oddness, events)), disorder, sum(one.wait for one in moves)


def _oddness(event: Event) -> int:
    """Tell how far an event is from the plainest of its kind."""
    if isinstance(event, RatioSeen):
        ratio = ratio_of(event.ratio)
        return PLAIN_SHAPES.index(ratio) if ratio in PLAIN_SHAPES else len(PLAIN_SHAPES)
    odd = SELDOM if _seldom(event) else UNUSUAL.get(type(event), 0)
    if isinstance(event, Override) and event.taken:
        odd += SELDOM // 2
    for field in fields(event):
        value = getattr(event, field.name)
        odd += value is not None and field.default is not MISSING and value != field.default
        if field.name == "look" and value is not None:
            odd += sum(getattr(value, part.name) is not None for part in fields(value))
    return odd


def _seldom(event: Event) -> bool:
    """Tell whether an event comes on few evenings; a person who gives back comes more often."""
    match event:
        case Service() | ProjectorReport() | LensReport(preset=None) | PanelReport(panels=None):
            return True
        case Outcome():
            return event.outcome != "done"
        case _:
            return False


def _rank(event: Event) -> int:
    kind = type(event)
    return USUAL_ORDER.index(kind) if kind in USUAL_ORDER else len(USUAL_ORDER)


# ------------------------------------------------------------------------------ ways to simplify


def _without_many(_walker: Walker, moves: Evening) -> Iterator[Evening]:
    """Leave out half of the events at once, then a quarter, and at last one by one."""
    size = len(moves) // 2
    while size > 0:
        for first in range(0, len(moves), size):
            yield _without(moves, set(range(first, first + size)))
        size //= 2


def _without_one(_walker: Walker, moves: Evening) -> Iterator[Evening]:
    """Leave out one event, the last first: what only followed is gone soonest."""
    for at in reversed(range(len(moves))):
        if moves[at].event is not None:
            yield _without(moves, {at})


def _without_some(_walker: Walker, moves: Evening) -> Iterator[Evening]:
    """Try every smaller selection of few events, the smallest first; of many leave out two."""
    events = [at for at, one in enumerate(moves) if one.event is not None]
    if len(events) > FEW:
        for pair in combinations(events, 2):
            yield _without(moves, set(pair))
        return
    for kept in range(len(events)):
        for selection in combinations(events, kept):
            yield _without(moves, set(events) - set(selection))


def _with_another(walker: Walker, moves: Evening) -> Iterator[Evening]:
    """Let any other event come in the place of one, and perhaps of a second one."""
    events = [at for at, one in enumerate(moves) if one.event is not None]
    if len(events) > FEW:
        return
    for event in happenings(walker.room).all():
        for at in events:
            changed = (*moves[:at], moves[at]._replace(event=event, subject=""), *moves[at + 1 :])
            yield changed
            for left_out in events:
                if left_out != at:
                    yield _without(changed, {left_out})


def _without(moves: Evening, left_out: set[int]) -> Evening:
    """Leave events out; the others come at the same times as before."""
    found: list[Move] = []
    waited = 0
    for at, move in enumerate(moves):
        waited += move.wait
        if at not in left_out or move.event is None:
            found.append(move._replace(wait=waited))
            waited = 0
    if waited:
        found.append(Move(waited, None))
    return tuple(found)


def _shorter_waits(walker: Walker, moves: Evening) -> Iterator[Evening]:
    """Wait a second only, or no longer than until one of the things that fall due meanwhile."""
    walk = walker.play(moves)
    if walk is None:
        return
    dues = [one.now for one in walk.steps() if one.event is None]
    last = walk.steps()[0].now - moves[0].wait if moves[0].event is not None else 0
    for at, move in enumerate(moves):
        if move.event is not None:
            waits = {SECOND, *(_whole_seconds(due - last) for due in dues if due > last)}
            for wait in sorted(waits):
                if SECOND <= wait < move.wait:
                    yield (*moves[:at], move._replace(wait=wait), *moves[at + 1 :])
        last += move.wait


def _whole_seconds(wait: int) -> int:
    return -(-wait // SECOND) * SECOND


def _plainer(_walker: Walker, moves: Evening) -> Iterator[Evening]:
    """Put a plainer event in the place of one."""
    for at, move in enumerate(moves):
        if move.event is not None:
            for event in _plainer_events(move.event):
                yield (*moves[:at], move._replace(event=event), *moves[at + 1 :])


def _plainer_events(event: Event) -> Iterator[Event]:
    """List events of the same kind that say less, or something more usual."""
    if _seldom(event):
        yield from (Override(taken=False), Resumed())
    if isinstance(event, RatioSeen | BarsSeen):
        for ratio in PLAIN_SHAPES:
            yield RatioSeen(ratio=number_of(ratio))
        return
    if isinstance(event, Override) and event.look is not None:
        for part in fields(event.look):
            if getattr(event.look, part.name) is not None:
                yield replace(event, look=replace(event.look, **{part.name: None}))
        yield replace(event, look=None)
    for field in fields(event):
        value = getattr(event, field.name)
        if value is not None and field.default is None:
            yield replace(event, **{field.name: None})  # type: ignore[arg-type]
    if isinstance(event, Override) and event.until != "session":
        yield replace(event, until="session")


def _in_usual_order(_walker: Walker, moves: Evening) -> Iterator[Evening]:
    """Let two neighbours change places where the second usually comes first."""
    for at in range(len(moves) - 1):
        one, other = moves[at], moves[at + 1]
        if one.event is None or other.event is None or _rank(one.event) <= _rank(other.event):
            continue
        swapped = other._replace(wait=one.wait), one._replace(wait=other.wait)
        yield (*moves[:at], *swapped, *moves[at + 2 :])
