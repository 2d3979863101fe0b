"""Every state that a room's equipment can get into, under everything that the hub may say.

A step is taken in the engine's own two halves, `apply_event` (or `fire_due`) and
`choose_and_reconcile`, with the world changed at will between them: whatever the hub says, late,
twice or never, the equipment then stands in one of the states found here. What is explored is the
equipment: lens, panels, prompt, picture, hand. Its state holds which timers run, not how long, so
what is found holds for every duration; of counters only whether one is left.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, NamedTuple

from engine.facts import HANDS_OF
from engine.room import DARK, PLAIN, WHOLE, Room
from engine.state import Core, first_state
from simulator.proof.environments import Environment
from simulator.proof.equipment import StateKey
from simulator.proof.equivalence import Situation
from simulator.proof.half_steps import Cause, Expansion, Successor, Violation
from simulator.proof.successors import Successors
from simulator.proof.worker_pool import AnswerTask, WorkerPool, worker_pool

LIMIT: Final = 200_000
MOST_VIOLATIONS: Final = 20


class Exploration(NamedTuple):
    """What came of it."""

    environments: int
    """How many worlds the hub may speak of."""
    classes: int
    """How many of them rules, promises and physics tell apart."""
    states: int
    """How many states the equipment can be in."""
    steps: int
    """How many halves of steps were taken: something heard, or an answer given."""
    complete: bool
    """Nothing was cut off."""
    violations: tuple[Violation, ...]
    rows: frozenset[int]
    """The rows that are ever chosen, -1 being the default."""
    unmet: tuple[tuple[int, str], ...]
    """Of each promise, by its index, the tests that nothing ever passes."""


class Explorer:
    """A search under way."""

    def __init__(self, room: Room, limit: int = LIMIT) -> None:
        self.room = room
        self.limit = limit
        self.successors = Successors(room)
        self.classes = self.successors.classes
        self.index_of: dict[StateKey, int] = {}
        self.cores: list[Core] = []
        self.causes: list[Cause] = []
        self.predecessors: list[set[int]] = []
        """For each state those from which it was come to."""
        self.steps = 0
        self.violations: dict[str, Violation] = {}
        self.situations: set[Situation] = set()
        self._heard: set[StateKey] = set()
        self._fresh: list[int] = []

    def run(
        self,
        progress: Callable[[int, int], None] | None = None,
        *,
        stop_at_first: bool = False,
        workers: int = 1,
    ) -> Exploration:
        """Search until nothing new is found, or until the first promise breaks.

        `tell` hears how many states are done, and known. With more workers the same is found, in
        so many processes.
        """
        first = self.successors.canonical(first_state(self.room).core)
        self._keep(Successor(self.successors.key(first), first, Cause(-1, None, Environment())))
        with worker_pool(self.successors, workers) as pool:
            while self._fresh and len(self.cores) <= self.limit:
                states, self._fresh = self._fresh, []
                tasks = self._hear(pool, states)
                done = len(self.cores) - len(states)
                for number, report in enumerate(pool.after_answers(tasks), start=1):
                    self._take(report)
                    for come in report.successors:
                        self._keep(come)
                    if progress is not None:
                        progress(done + len(states) * number // len(tasks), len(self.cores))
                    if (stop_at_first and self.violations) or len(self.cores) > self.limit:
                        return self._found(complete=False)
        return self._found(complete=not self._fresh)

    def path(self, cause: Cause) -> tuple[Cause, ...]:
        """List what happened, from the first state on, down to a cause."""
        found = [cause]
        while cause.before >= 0:
            cause = self.causes[cause.before]
            found.append(cause)
        return tuple(found[-2::-1]) or (found[0],)

    def _hear(self, pool: WorkerPool, states: list[int]) -> list[AnswerTask]:
        """Let everything happen to some states; gives what has not been answered to yet."""
        tasks: list[AnswerTask] = []
        for report in pool.after_events([(at, self.cores[at]) for at in states]):
            self._take(report)
            for key, core, cause in report.successors:
                if core is not None and key not in self._heard:
                    self._heard.add(key)
                    self.situations.add(self.classes.situation(core))
                    tasks.append((cause.before, cause.event, core))
        return tasks

    def _take(self, report: Expansion) -> None:
        self.steps += report.steps
        for violations in report.violations:
            if len(self.violations) < MOST_VIOLATIONS:
                self.violations.setdefault(violations.promise, violations)

    def _keep(self, come: Successor) -> None:
        """Enter a state that the equipment has got into, and how."""
        at = self.index_of.get(come.key)
        if at is None and come.core is not None:
            at = self.index_of[come.key] = len(self.cores)
            self._fresh.append(at)
            self.cores.append(come.core)
            self.causes.append(come.cause)
            self.predecessors.append(set())
        if at is not None:
            self.predecessors[at].add(come.cause.before)

    def _found(self, *, complete: bool) -> Exploration:
        return Exploration(
            environments=self.classes.environment_count,
            classes=len(self.classes),
            states=len(self.cores),
            steps=self.steps,
            complete=complete and self.classes.complete,
            violations=tuple(self.violations.values()),
            rows=self.classes.rows(self.situations),
            unmet=self._unmet(),
        )

    def _unmet(self) -> tuple[tuple[int, str], ...]:
        """Find the tests of promises that nothing ever passed."""
        cores, rules = self.cores, self.room.rules.table.rows
        pictures = {PLAIN, WHOLE, *self.room.pictures, *(row.output.picture for row in rules)}
        dark = any(core.asked is not None and core.asked.at_screen for core in cores)
        met: dict[str, set[object]] = {
            "preset": {core.preset for core in cores},
            "panels": {core.arrangement for core in cores},
            "hands": {HANDS_OF[core.panels] for core in cores},
            "travelling": {core.lens == "travelling" for core in cores},
            "hand": {"rules", "person"},
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


def explore(room: Room, limit: int = LIMIT) -> Exploration:
    """Explore a room; beyond `limit` states the rest is cut off, and `complete` is False."""
    return Explorer(room, limit).run()
