"""Walks: what happens to a room from its first moment on, on the real engine and its own clock.

A walk is a chain of steps. Events come a second after the step before, and whatever falls due in
between happens at its own time. Every step is judged, and the first that breaks the promise ends
the search.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Final, NamedTuple

from engine.decisions import Decision
from engine.events import Answer, Event, Outcome, Resumed
from engine.refusal import Refused
from engine.room import Room
from engine.state import Core, State, first_state, next_deadline
from engine.step import step
from simulator.nights.invention import BEGINS
from simulator.nights.promises import Judge
from simulator.proof.stopping import never

SECOND: Final = 1_000

PICTURE: Final = "picture"
RECALL: Final = "recall"
CUE: Final = "cue"
Subject = str
"""What an outcome is about: the open order for the picture, a recall or a cue."""


class Walk(NamedTuple):
    """A step of a walk, with the one before it."""

    state: State
    now: int
    before: Walk | None
    event: Event | None
    """None: only time has passed."""
    subject: Subject
    decisions: tuple[Decision, ...]
    length: int
    """How many steps the walk has."""

    def steps(self) -> list[Walk]:
        """List the steps of the walk, without its start."""
        found, at = [], self
        while at.before is not None:
            found.append(at)
            at = at.before
        found.reverse()
        return found


class Move(NamedTuple):
    """A wait, in ms since the event before, and then an event; None: nothing but the wait."""

    wait: int
    event: Event | None
    subject: Subject = ""


def moves_of(walk: Walk) -> tuple[Move, ...]:
    """Tell a walk as moves; if it ends with time that passes, so does the last move."""
    found, last = [], BEGINS
    for one in walk.steps():
        if one.event is not None:
            found.append(Move(one.now - last, one.event, one.subject))
            last = one.now
    if walk.now > last:
        found.append(Move(walk.now - last, None))
    return tuple(found)


def numbered(event: Event, subject: Subject, core: Core) -> Event | None:
    """Give an answer or an outcome the number that is open now; None if none is open.

    Numbers depend on what was ordered before, so an evening of which something is left out needs
    others. An outcome without a subject keeps its number.
    """
    if isinstance(event, Answer):
        return None if core.asked is None else replace(event, prompt=core.asked.id)
    if isinstance(event, Outcome) and subject:
        cue = core.open_cues[0].id if core.open_cues else None
        order = {PICTURE: core.picture, RECALL: core.recall, CUE: cue}.get(subject)
        return None if order is None else Outcome(order=order, outcome=event.outcome)
    return event


class _Played(NamedTuple):
    """Where some moves have led."""

    walk: Walk
    steps: int
    """How many steps the last of the moves took, refused ones included."""
    onwards: dict[Move, _Played]
    """Where one move more has led from here."""


class Walker:
    """Takes steps on a room, judges and counts them."""

    def __init__(
        self, room: Room, judge: Judge, budget: int, stop: Callable[[], bool] = never
    ) -> None:
        self.room = room
        self._stop = stop
        self.judge = judge
        self.left = budget
        """How many steps may still be taken."""
        self.found: Walk | None = None
        """The first walk whose last step breaks the promise."""
        self._begun = _Played(self.start(), 0, {})

    @property
    def over(self) -> bool:
        """Tell whether the search has come to its end, by success or for want of steps or time."""
        return self.found is not None or self.spent

    @property
    def spent(self) -> bool:
        """Tell whether no more steps may be taken."""
        return self.left <= 0 or self._stop()

    def start(self) -> Walk:
        """Return the walk on which nothing has happened yet."""
        return Walk(first_state(self.room), BEGINS, None, None, "", (), 0)

    def tell(self, walk: Walk, event: Event, subject: Subject = "", wait: int = SECOND) -> Walk:
        """Let an event come after a wait (ms); where it is refused, only time has passed."""
        now = walk.now + wait
        if not isinstance(event, Resumed):
            walk = self.wait_until(walk, now)
        known = numbered(event, subject, walk.state.core)
        if self.over or known is None:
            return walk
        try:
            return self._step(walk, known, subject, now)
        except Refused:
            return walk

    def wait_until(self, walk: Walk, now: int) -> Walk:
        """Let time pass up to and including `now` (ms UTC), one deadline at a time."""
        due = next_deadline(walk.state)
        while due is not None and due <= now and not self.over:
            walk = self._step(walk, None, "", due)
            due = next_deadline(walk.state)
        return walk

    def wait(self, walk: Walk) -> Walk:
        """Let time pass until something falls due; the same walk if nothing ever does."""
        due = next_deadline(walk.state)
        return walk if due is None or self.over else self._step(walk, None, "", due)

    def play(self, moves: tuple[Move, ...]) -> Walk | None:
        """Play moves until the promise breaks; None if it does not, or no steps are left.

        Evenings that are tried one after the other begin alike: what was played of one before is
        known already. It counts as steps all the same.
        """
        self.found = None
        played, last = self._begun, BEGINS
        for move in moves:
            last += move.wait
            known = played.onwards.get(move)
            if known is None:
                known = self._play_on(played, move, last)
            else:
                self.left -= known.steps
            played = known
            if self.over:
                break
        return self.found

    def _play_on(self, played: _Played, move: Move, now: int) -> _Played:
        """Make one move more, and remember where it leads unless it breaks the promise."""
        walk, left = played.walk, self.left
        if move.event is None:
            walk = self.wait_until(walk, now)
        else:
            walk = self.tell(walk, move.event, move.subject, now - walk.now)
        after = _Played(walk, left - self.left, {})
        if not self.over:
            played.onwards[move] = after
        return after

    def _step(self, walk: Walk, event: Event | None, subject: Subject, now: int) -> Walk:
        self.left -= 1
        state, made = step(self.room, walk.state, event, now)
        after = Walk(state, now, walk, event, subject, made, walk.length + 1)
        if self.judge(walk.state, made, state):
            self.found = after
        return after


def open_subjects(core: Core) -> Iterator[Subject]:
    """List the orders that are open."""
    if core.picture is not None:
        yield PICTURE
    if core.recall is not None:
        yield RECALL
    if core.open_cues:
        yield CUE
