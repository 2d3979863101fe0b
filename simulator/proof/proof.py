"""Prove a room: explore it, check that it comes to rest, and say what is wrong with its rules.

Nothing here knows files or terminals; a fault's `line` is that of the room file, if it has one.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from typing import Final, Literal, NamedTuple

from engine.room import BUILT_IN_PROMISES, Room
from simulator.proof.convergence import Convergence, check_convergence
from simulator.proof.faults import (
    Fault,
    beginnings_cut_off,
    broken_promise,
    circle,
    cut_off,
    idle_rows_and_promises,
    late_look,
)
from simulator.proof.half_steps import Violation
from simulator.proof.liveness import Liveness, check_liveness
from simulator.proof.not_proven import not_proven
from simulator.proof.reachability import LIMIT, NOTHING_EXPLORED, Exploration, Explorer
from simulator.proof.stopping import BrokenOff, never, share_of

HEAD_START: Final = 100_000
"""So many steps are explored before the first evening is looked for, and between two of them: an
evening takes as long, and whoever has little time wants to know what else is broken."""

NOT_RUN: Final = Convergence(0, ())

VerdictStatus = Literal["proven", "broken", "searched", "untouched", "waived"]
"""What is known of a promise: `searched` is not broken in what has been explored so far,
`untouched` is not looked at yet, `waived` is switched off by the room file."""


class Verdict(NamedTuple):
    """What a proof says of one promise."""

    promise: str
    because: str
    status: VerdictStatus


class Proof(NamedTuple):
    """What is proven of a room, and what is wrong with it."""

    exploration: Exploration
    convergence: Convergence
    faults: tuple[Fault, ...]
    proven: tuple[tuple[str, str], ...]
    """Promises that hold in every state, with their reasons."""
    waived: tuple[tuple[str, str], ...]
    verdicts: tuple[Verdict, ...]
    """One for each promise, built-in ones first."""
    stopped: bool
    """It was broken off before its end, because `stop` said so."""
    done: int
    """The number of states that were looked at whole."""
    known: int
    """The number of states that were found."""
    not_proven: tuple[str, ...]
    """What no exploration can say of this room."""


def prove(  # noqa: PLR0913 - all but the room have defaults
    room: Room,
    limit: int = LIMIT,
    progress: Callable[[int, int], None] | None = None,
    workers: int = 1,
    stop: Callable[[], bool] = never,
    *,
    announce: Callable[[Fault], None] | None = None,
) -> Proof:
    """Explore a room and judge what was found.

    `progress` is called with the number of states that are done and that are known. `stop` is
    asked again and again whether to break off; what was found until then is in the proof.
    `announce` is called with each fault as soon as it is known.
    """
    found = _Found(room, announce, stop)
    exploration, convergence, done = found.explore(limit, progress, workers)
    liveness = check_liveness(room, stop)
    for fault in _afterwards(room, exploration, convergence, liveness):
        found.take(fault)
    verdicts = _verdicts(room, exploration, liveness, found.faults, done)
    return Proof(
        exploration,
        convergence,
        tuple(found.faults),
        tuple((one.promise, one.because) for one in verdicts if one.status == "proven"),
        tuple(room.waived.items()),
        verdicts,
        stop(),
        done,
        exploration.states,
        not_proven(room),
    )


class _Found:
    """Explores and collects faults, and announces each as soon as it is known."""

    def __init__(
        self, room: Room, announce: Callable[[Fault], None] | None, stop: Callable[[], bool]
    ) -> None:
        self.room = room
        self.faults: list[Fault] = []
        self._announce = announce
        self._stop = stop
        self._unexplained: deque[Violation] = deque()
        """What is broken, and no evening was looked for yet."""
        self._explore_until = HEAD_START
        """Before so many steps no evening is looked for, while there is more to explore."""

    def take(self, fault: Fault) -> None:
        """Keep a fault."""
        self.faults.append(fault)
        if self._announce is not None:
            self._announce(fault)

    def explore(
        self, limit: int, progress: Callable[[int, int], None] | None, workers: int
    ) -> tuple[Exploration, Convergence, int]:
        """Explore, and see whether the room comes to rest; also gives how many states are done."""
        try:
            explorer = Explorer(self.room, limit, self._stop)
        except BrokenOff:
            self.take(cut_off(0, 0, limit, stopped=True))
            return NOTHING_EXPLORED, NOT_RUN, 0
        half = share_of(self._stop, 2)

        def look_up(done: int, known: int) -> None:
            if progress is not None:
                progress(done, known)
            if self._unexplained and (explorer.steps >= self._explore_until or half()):
                self._explain(explorer)
                self._explore_until = explorer.steps + HEAD_START

        exploration = explorer.run(
            look_up, workers=workers, stop=self._stop, met=self._unexplained.append
        )
        while self._unexplained:
            self._explain(explorer)
        if not exploration.complete:
            known = exploration.states
            self.take(cut_off(explorer.done, known, limit, stopped=self._stop()))
        convergence = NOT_RUN
        if not self._stop():
            convergence = check_convergence(
                self.room, explorer.classes, workers=workers, stop=self._stop
            )
        return exploration, convergence, explorer.done

    def _explain(self, explorer: Explorer) -> None:
        """Look for an evening that shows the first of what is broken; waived promises may break.

        It gets an equal share of the time that is left: so do the rest of what is broken, and
        whatever else there is to do.
        """
        violation = self._unexplained.popleft()
        if violation.promise not in self.room.waived:
            stop = share_of(self._stop, len(self._unexplained) + 2)
            self.take(broken_promise(explorer, violation, stop))


def _afterwards(
    room: Room,
    exploration: Exploration,
    convergence: Convergence,
    liveness: Liveness,
) -> Iterator[Fault]:
    """Yield what is wrong besides promises that an exploration has found broken."""
    yield from (circle(room, cycle) for cycle in convergence.cycles[:1])
    yield from (late_look(room, late) for late in liveness.late)
    if liveness.too_many:
        yield beginnings_cut_off(room)
    if exploration.complete:
        yield from idle_rows_and_promises(room, exploration)


def _verdicts(
    room: Room, exploration: Exploration, liveness: Liveness, faults: list[Fault], done: int
) -> tuple[Verdict, ...]:
    """Say of each promise what is known; a fault of the engine leaves all of them open."""
    failed = {fault.promise for fault in faults if fault.code == "broken"}
    sound = "engine" not in {fault.code for fault in faults}

    def status(name: str, steps: int, *, complete: bool) -> VerdictStatus:
        if name in room.waived:
            return "waived"
        if name in failed:
            return "broken"
        if complete and sound:
            return "proven"
        return "searched" if steps else "untouched"

    never_broken = {promise.label: promise.because for promise in room.promises}
    explored = tuple(
        Verdict(name, why, status(name, done, complete=exploration.complete))
        for name, why in {**BUILT_IN_PROMISES, **never_broken}.items()
    )
    runs, all_played = liveness.runs, liveness.complete
    played = tuple(
        Verdict(one.label, one.because, status(one.label, runs, complete=all_played))
        for one in room.timely
    )
    return explored + played
