"""Hold what a proof says of a random room against real evenings in it."""

from __future__ import annotations

from collections.abc import Iterator
from time import process_time
from typing import Final, NamedTuple
from unittest.mock import patch

from engine.events import Mark
from simulator.proof import faults
from simulator.proof.proof import Proof, prove
from tests.soundness.independent_judge import IndependentJudge, Seen
from tests.soundness.people_judge import PeopleJudge
from tests.soundness.random_evenings import Invented, Moment, Relived, live, told
from tests.soundness.random_rooms import RandomRoom

STATES: Final = 3_000
"""A room with more states than this is not waited for."""
SECONDS: Final = 20
"""Nor is one that takes longer, in processor seconds."""
MOST_RELIVED: Final = 400
"""How often an evening is lived through again to make it shorter."""


class Breach(NamedTuple):
    """A promise that was called proven, and an evening on which it breaks."""

    made: RandomRoom
    promise: str
    evening: int
    """The seed of the evening on which it was found."""
    moments: tuple[Moment, ...]
    """The shortest evening found; the last moment, or what falls due before it, breaks it."""

    def __str__(self) -> str:
        return (
            f"room {self.made.seed}, evening {self.evening}: '{self.promise}' is called proven and "
            f"breaks on\n{told(self.moments)}\nin this room:\n{self.made.text}"
        )


def proof_of(made: RandomRoom) -> Proof:
    """Prove a room, as long as it takes no more than some seconds.

    Nobody reads here how a broken promise breaks, so no evening is looked for: that takes longest.
    """
    ends = process_time() + SECONDS
    with patch.object(faults, "find_counterexample", return_value=None):
        return prove(made.room, STATES, stop=lambda: process_time() > ends)


def breaches(
    made: RandomRoom, proven: frozenset[str], evenings: range, *, shorten: bool = True
) -> Iterator[Breach]:
    """Live evenings of these seeds; give each promise that is called proven and breaks, once.

    `proven` may also name what people are owed, which is proven of every room.
    """
    left = set(proven)
    for seed in evenings:
        if not left:
            return
        script, judges = Invented(made, seed), _Judges(made)
        for seen in live(made.room, script):
            for promise in sorted(judges.see(seen) & left):
                left.discard(promise)
                moments = tuple(script.moments)
                if seen.event is None:  # what fell due, broke it
                    moments = (*moments, _mark_at(seen.now))
                if shorten:
                    moments = shortened(made, promise, moments)
                yield Breach(made, promise, seed, moments)


def shortened(made: RandomRoom, promise: str, moments: tuple[Moment, ...]) -> tuple[Moment, ...]:
    """Leave out whatever an evening does not need to break a promise, larger pieces first."""
    budget, piece = MOST_RELIVED, max(1, len(moments) // 2)
    while piece and budget:
        at, shorter = 0, False
        while at < len(moments) and budget:
            fewer = moments[:at] + moments[at + piece :]
            budget -= 1
            found = until_broken(made, promise, fewer)
            if found is None:
                at += piece
            else:
                moments, shorter = found, True
        if piece > 1 or not shorter:
            piece //= 2
    return moments


def until_broken(
    made: RandomRoom, promise: str, moments: tuple[Moment, ...]
) -> tuple[Moment, ...] | None:
    """Live through moments until a promise breaks; give those it took, None if it never does."""
    script, judges = Relived(moments), _Judges(made)
    for seen in live(made.room, script):
        if promise in judges.see(seen):
            taken = moments[: len(moments) - len(script.moments)]
            return taken if seen.event is not None else (*taken, _mark_at(seen.now))
    return None


class _Judges:
    """Both judges of one evening: of promises, and of what people are owed."""

    def __init__(self, made: RandomRoom) -> None:
        self._promises, self._people = IndependentJudge(made.file), PeopleJudge()

    def see(self, seen: Seen) -> frozenset[str]:
        """Take in one step; give the names of whatever is broken after it."""
        return self._promises.see(seen) | frozenset(self._people.see(seen))


def _mark_at(now: int) -> Moment:
    """Let time pass up to a moment by an event that changes nothing."""
    return Moment(now, Mark())
