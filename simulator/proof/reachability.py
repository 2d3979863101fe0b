"""Every state that a room's equipment can reach, whatever the hub may report.

A step is taken in the engine's own two halves, and the environment may change at will between
them. So whatever the hub reports, late, twice or never, the equipment is then in one of the
states found here. A state holds which timers run, not for how long, so what is found holds for
every duration; of each counter it holds only whether any is left.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from contextlib import suppress
from itertools import product
from typing import Final, NamedTuple

from engine.events import Event
from engine.facts import HELPER_OF
from engine.room import DARK, PLAIN, WHOLE, Room
from engine.state import Core, first_state
from simulator.proof.environments import Environment
from simulator.proof.equipment import StateKey, canonical
from simulator.proof.equivalence import Situation
from simulator.proof.event_steps import Share
from simulator.proof.half_steps import Cause, EarlierLook, Expansion, Successor, Violation
from simulator.proof.stopping import BrokenOff, go_on, never
from simulator.proof.successors import Successors
from simulator.proof.worker_pool import WorkerPool, worker_pool

LIMIT: Final = 200_000

AnswerTask = tuple[int, Event | str | None, Core]
"""A core that is to be answered, after which event or timer, and the number of the state before."""


class Exploration(NamedTuple):
    """What an exploration has found."""

    environments: int
    """The number of environments that the hub may report."""
    classes: int
    """The number of their equivalence classes."""
    states: int
    """The number of states that the equipment can reach."""
    steps: int
    """The number of half steps taken: an event or timer, or an answer to it."""
    complete: bool
    """Nothing was cut off or broken off."""
    violations: tuple[Violation, ...]
    rows: frozenset[int]
    """The rows that are ever chosen; -1 is the default."""
    unmet: tuple[tuple[int, str], ...]
    """The tests of promises that nothing ever passes: promise's index and fact."""


NOTHING_EXPLORED: Final = Exploration(0, 0, 0, 0, False, (), frozenset(), ())  # noqa: FBT003


class Explorer:
    """A search for all reachable states, under way or done.

    States have numbers, in the order in which they were found.
    """

    def __init__(self, room: Room, limit: int = LIMIT, stop: Callable[[], bool] = never) -> None:
        """Prepare a search that is cut off at `limit` states.

        Raises `BrokenOff` if `stop` says so meanwhile.
        """
        self.room = room
        self.limit = limit
        self.successors = Successors(room, stop)
        self.classes = self.successors.classes
        self.index_of: dict[StateKey, int] = {}
        """The number of each state."""
        self.cores: list[Core] = []
        self.ways_into: dict[StateKey, dict[int, Cause]] = {}
        """For each state those from which half a step leads to it, and how; -1: the start."""
        self.steps = 0
        self.done = 0
        """The number of states whose successors have been found."""
        self.violations: dict[str, Violation] = {}
        """The first violation of each promise."""
        self.situations: set[Situation] = set()
        self._answered: set[StateKey] = set()
        self._met: Callable[[Violation], None] | None = None
        self._fresh: list[int] = []
        """States whose successors have not been looked for yet."""

    def run(
        self,
        progress: Callable[[int, int], None] | None = None,
        *,
        stop_at_first: bool = False,
        workers: int = 1,
        stop: Callable[[], bool] = never,
        met: Callable[[Violation], None] | None = None,
    ) -> Exploration:
        """Search until nothing new is found, or only until the first promise breaks.

        `progress` is called with the number of states that are done and that are known. With
        several workers, so many processes find the same in the same order. `stop` is asked again
        and again whether to break off. `met` is called with the first violation of each promise.
        """
        self._met = met
        first = canonical(first_state(self.room).core)
        self._add(Successor(self.successors.key(first), first, Cause(-1, None, Environment())))
        successors = self.successors
        functions = successors.after_events, successors.after_answers
        with suppress(BrokenOff), worker_pool(functions, workers, stop) as pool:
            while self._fresh and len(self.cores) <= self.limit:
                go_on(stop)
                states, self._fresh = self._fresh, []
                tasks = self._apply_events(pool, states, workers)
                done = len(self.cores) - len(states)
                places = [successors.place(core) for _, _, core in tasks]
                results = pool.results(successors.after_answers, tasks, places)
                for number, expansion in enumerate(results, start=1):
                    self._take(expansion)
                    for successor in expansion.successors:
                        self._add(successor)
                    self.done = done + len(states) * number // len(tasks)
                    if progress is not None:
                        progress(self.done, len(self.cores))
                    if (stop_at_first and self.violations) or len(self.cores) > self.limit:
                        return self._found(complete=False)
                    go_on(stop)
            return self._found(complete=not self._fresh)
        return self._found(complete=False)

    def path(self, violation: Violation) -> tuple[Cause, ...]:
        """List the causes that lead from the first state to a violation, which comes last.

        Where a look that was chosen earlier breaks a promise, the way leads past where it may
        have been chosen.
        """
        cause, past = violation.cause, self._where_chosen(violation.earlier)
        if past is None:
            return (*self._way(0, cause.before), cause)
        onwards = self._way(past.before, cause.before)
        return (*self._way(0, past.before), past, *onwards, cause)

    def _way(self, start: int, end: int) -> tuple[Cause, ...]:
        """List the causes on a shortest way between two states; none if there is no way."""
        keys = [*self.index_of]
        following: dict[int, tuple[int, Cause]] = {}
        queue = deque([end])
        while queue and start not in following and start != end:
            at = queue.popleft()
            for before, cause in self.ways_into[keys[at]].items() if at >= 0 else ():
                if before not in following and before != end:
                    following[before] = at, cause
                    queue.append(before)
        found: list[Cause] = []
        at = start
        while at != end and at in following:
            at, cause = following[at]
            found.append(cause)
        return tuple(found)

    def _where_chosen(self, look: EarlierLook) -> Cause | None:
        """Find the first state and an environment in which this picture and lift are asked for.

        Rows are looked at first, then what a person may ask for.
        """
        picture, lift = look
        if picture is None and not lift:
            return None  # Without a lift is how every room begins.
        for asking in ("chosen", "overridden"):
            for at, core in enumerate(self.cores):
                situation = self.classes.situation(core)
                for key, environment in self.successors.demands.pictures(situation).items():
                    if (
                        key.asking == asking
                        and environment.playback != "paused"
                        and (picture is None or (key.picture, key.left.picture) == (picture, False))
                        and (not lift or (key.lift, key.left.lift) == (lift, False))
                    ):
                        return Cause(at, None, environment)
        return None

    def _apply_events(self, pool: WorkerPool, states: list[int], workers: int) -> list[AnswerTask]:
        """Apply every event to some states; return the cores that have not been answered yet."""
        tasks: list[AnswerTask] = []
        shares = [Share(number, workers) for number in range(workers)]
        fresh = [(at, self.cores[at], share) for at, share in product(states, shares)]
        whose = [share for _, _, share in fresh]
        for expansion in pool.results(self.successors.after_events, fresh, whose):
            self._take(expansion)
            for key, core, cause in expansion.successors:
                self.ways_into.setdefault(key, {}).setdefault(cause.before, cause)
                if core is not None and key not in self._answered:
                    self._answered.add(key)
                    self.situations.add(self.classes.situation(core))
                    tasks.append((cause.before, cause.event, core))
        return tasks

    def _take(self, expansion: Expansion) -> None:
        self.steps += expansion.steps
        for violation in expansion.violations:
            if violation.promise not in self.violations:
                self.violations[violation.promise] = violation
                if self._met is not None:
                    self._met(violation)

    def _add(self, successor: Successor) -> None:
        """Add a state, or another predecessor of one that is known."""
        at = self.index_of.get(successor.key)
        self.ways_into.setdefault(successor.key, {}).setdefault(
            successor.cause.before, successor.cause
        )
        if at is None and successor.core is not None and len(self.cores) <= self.limit:
            at = self.index_of[successor.key] = len(self.cores)
            self._fresh.append(at)
            self.cores.append(successor.core)

    def _found(self, *, complete: bool) -> Exploration:
        return Exploration(
            environments=self.classes.environment_count,
            classes=len(self.classes),
            states=len(self.cores),
            steps=self.steps,
            complete=complete,
            violations=tuple(self.violations.values()),
            rows=self.classes.rows(self.situations),
            unmet=self._unmet(),
        )

    def _unmet(self) -> tuple[tuple[int, str], ...]:
        """Return the tests of promises that nothing has ever passed."""
        cores, rules = self.cores, self.room.rules.table.rows
        pictures = {PLAIN, WHOLE, *self.room.pictures, *(row.output.picture for row in rules)}
        dark = any(core.asked is not None and core.asked.at_screen for core in cores)
        met: dict[str, set[object]] = {
            "preset": {core.preset for core in cores},
            "panels": {core.arrangement for core in cores},
            "helper": {HELPER_OF[core.panels] for core in cores},
            "travelling": {core.lens == "travelling" for core in cores},
            "override": {"rules", "person"},
            "picture": {None, *pictures, *((DARK,) if dark else ())},
            "lift": {None, 0, *(row.output.lift for row in rules)},
        }
        standing = [
            (index, name)
            for index, cells in enumerate(self.successors.judgement.standing)
            for name, cell in cells
            if not any(cell.accepts(value) for value in met[name])  # type: ignore[arg-type]
        ]
        return (*sorted(self.classes.unmet), *standing)
