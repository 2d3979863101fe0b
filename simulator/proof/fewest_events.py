"""Whether fewer events break a promise as well: every evening of one event, of two, and so on.

An event comes a second after the one before it, or a second after anything that falls due since. Of
evenings after which the room is the same, one is gone on with.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, NamedTuple

from engine.snapshot import finite_shape
from simulator.proof.happenings import answers, happenings
from simulator.proof.walk import Walk, Walker

MOST_DUE: Final = 12
"""So many things fall due one after the other before the next event comes."""


class Fewest(NamedTuple):
    """What came of trying every evening of few events."""

    walk: Walk | None
    """The first that breaks the promise; none has fewer events."""
    tried: int
    """Every evening of so many events was tried, and of fewer."""


def fewest(walker: Walker, events: int) -> Fewest:
    """Try every evening of so many events, those of fewer first, as far as the budget reaches."""
    every = tuple((event, "") for event in happenings(walker.room).all())
    seen: set[object] = set()
    reached = [*_in_time(walker, walker.start(), seen)]
    for number in range(1, events + 1):
        following: list[Walk] = []
        for walk in reached:
            for event, subject in (*every, *answers(walk.state.core)):
                following += _in_time(walker, walker.tell(walk, event, subject), seen)
            if walker.over:
                return Fewest(walker.found, number - 1)
        reached = following
    return Fewest(None, events)


def _in_time(walker: Walker, walk: Walk, seen: set[object]) -> Iterator[Walk]:
    """Yield a walk, and where it comes to as this and that falls due; nothing seen before."""
    for _ in range(MOST_DUE):
        shape = finite_shape(walk.state)
        if shape in seen or walker.over:
            return
        seen.add(shape)
        yield walk
        walk = walker.wait(walk)
