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
from simulator.proof.environments import World
from simulator.proof.equivalence import Place
from simulator.proof.successors import Broken, Cause, Come, Key, Report, Trials
from simulator.proof.worker_pool import Answered, Crew, crew_for

LIMIT: Final = 200_000
MOST_BROKEN: Final = 20


class Exploration(NamedTuple):
    """What came of it."""

    worlds: int
    """How many worlds the hub may speak of."""
    claims: int
    """How many of them rules, promises and physics tell apart."""
    states: int
    """How many states the equipment can be in."""
    steps: int
    """How many halves of steps were taken: something heard, or an answer given."""
    complete: bool
    """Nothing was cut off."""
    broken: tuple[Broken, ...]
    rows: frozenset[int]
    """The rows that are ever chosen, -1 being the default."""
    unmet: tuple[tuple[int, str], ...]
    """Of each promise, by its index, the tests that nothing ever passes."""


class Explorer:
    """A search under way."""

    def __init__(self, room: Room, limit: int = LIMIT) -> None:
        self.room = room
        self.limit = limit
        self.trials = Trials(room)
        self.claims = self.trials.claims
        self.seen: dict[Key, int] = {}
        self.cores: list[Core] = []
        self.causes: list[Cause] = []
        self.sources: list[set[int]] = []
        """For each state those from which it was come to."""
        self.steps = 0
        self.broken: dict[str, Broken] = {}
        self.places: set[Place] = set()
        self._heard: set[Key] = set()
        self._fresh: list[int] = []

    def run(
        self,
        tell: Callable[[int, int], None] | None = None,
        *,
        to_first: bool = False,
        workers: int = 1,
    ) -> Exploration:
        """Search until nothing new is found, or until the first promise breaks.

        `tell` hears how many states are done, and known. With more workers the same is found, in
        so many processes.
        """
        first = self.trials.normal(first_state(self.room).core)
        self._keep(Come(self.trials.key(first), first, Cause(-1, None, World())))
        with crew_for(self.trials, workers) as crew:
            while self._fresh and len(self.cores) <= self.limit:
                states, self._fresh = self._fresh, []
                posts = self._hear(crew, states)
                done = len(self.cores) - len(states)
                for number, report in enumerate(crew.answered(posts), start=1):
                    self._take(report)
                    for come in report.come:
                        self._keep(come)
                    if tell is not None:
                        tell(done + len(states) * number // len(posts), len(self.cores))
                    if (to_first and self.broken) or len(self.cores) > self.limit:
                        return self._found(complete=False)
        return self._found(complete=not self._fresh)

    def path(self, cause: Cause) -> tuple[Cause, ...]:
        """List what happened, from the first state on, down to a cause."""
        found = [cause]
        while cause.before >= 0:
            cause = self.causes[cause.before]
            found.append(cause)
        return tuple(found[-2::-1]) or (found[0],)

    def _hear(self, crew: Crew, states: list[int]) -> list[Answered]:
        """Let everything happen to some states; gives what has not been answered to yet."""
        posts: list[Answered] = []
        for report in crew.heard([(at, self.cores[at]) for at in states]):
            self._take(report)
            for key, core, cause in report.come:
                if core is not None and key not in self._heard:
                    self._heard.add(key)
                    self.places.add(self.claims.place(core))
                    posts.append((cause.before, cause.event, core))
        return posts

    def _take(self, report: Report) -> None:
        self.steps += report.steps
        for broken in report.broken:
            if len(self.broken) < MOST_BROKEN:
                self.broken.setdefault(broken.promise, broken)

    def _keep(self, come: Come) -> None:
        """Enter a state that the equipment has got into, and how."""
        at = self.seen.get(come.key)
        if at is None and come.core is not None:
            at = self.seen[come.key] = len(self.cores)
            self._fresh.append(at)
            self.cores.append(come.core)
            self.causes.append(come.cause)
            self.sources.append(set())
        if at is not None:
            self.sources[at].add(come.cause.before)

    def _found(self, *, complete: bool) -> Exploration:
        return Exploration(
            worlds=self.claims.world_count,
            claims=len(self.claims),
            states=len(self.cores),
            steps=self.steps,
            complete=complete and self.claims.complete,
            broken=tuple(self.broken.values()),
            rows=self.claims.rows(self.places),
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
            for index, cells in enumerate(self.trials.standing)
            for name, cell in cells
            if not any(cell.accepts(value) for value in met[name])  # type: ignore[arg-type]
        ]
        return (*sorted(self.claims.unmet), *standing)


def explore(room: Room, limit: int = LIMIT) -> Exploration:
    """Explore a room; beyond `limit` states the rest is cut off, and `complete` is False."""
    return Explorer(room, limit).run()
