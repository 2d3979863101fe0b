"""Lives of lenses that are bumped now and then: is it named, and is anybody late for it? By seed.

As in `lens_lives`, but what no creep explains is looked for after each reading, and a reading of
which nobody can tell yet is taken once more, as `assessment` says. That costs some ten seconds of
processor time for each life, so only `tests/benchmarks/bench_wear.py` lives many of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from simulator.wear.creep import ENOUGH, Belief, Observation, believe
from simulator.wear.disturbances import Found, WayRead, disturbances, kinds, told
from simulator.wear.first_passage import ONE_IN_TWENTY, AnyOf, Bounds, FirstPassage
from simulator.wear.policy import advise
from tests.simulator.lens_lives import LIFE, MISREAD, REALIGNED

BUMPED: Final = 2_500
"""A lens is bumped about once in so many travels,"""
FAR: Final = (0.1, 0.5)
"""by between these parts of the way to where it shows."""
SEED: Final = 6


class BumpedLife(NamedTuple):
    """How a life went, and what was said of its bumps."""

    showed: bool
    """Whether somebody saw it before it was to be aligned, with no bump since it was last read."""
    knocked: bool
    """Whether a bump since then put the picture where it shows: nobody can foretell that."""
    looks: int
    aligned: int
    bumps: int
    """How many bumps were read twice or more afterwards."""
    named: int
    """How many of these were named, or asked about."""
    falsely: int
    """How many readings were called moved or misread where nothing had happened."""


class _Lens:
    """A lens that creeps evenly, scatters, and is bumped; and what is read of it."""

    def __init__(self, bound: float, seed: int) -> None:
        """Make it show after 200 to 20,000 travels, if it were never bumped."""
        self.chance = np.random.default_rng((seed, SEED, round(bound * 1_000)))
        self.scatter = 10 ** self.chance.uniform(-2.2, -1.6)
        steps = np.full(
            LIFE, self.chance.choice([-1, 1]) * bound / 10 ** self.chance.uniform(2.3, 4.3)
        )
        self.bumps = np.flatnonzero(self.chance.random(LIFE) < 1 / BUMPED).tolist()
        for at in self.bumps:
            steps[at] += self.chance.choice([-1, 1]) * bound * self.chance.uniform(*FAR)
        self.level, self.bound, self.base = np.cumsum(steps), bound, 0.0
        self.far = bound - ONE_IN_TWENTY * self.scatter
        self.seen: list[Observation] = []
        self.named: dict[int, set[str]] = {}
        self.align(0)

    def shows(self, last: int, look: int) -> int | None:
        """Give the travel in which it shows before it is looked at again."""
        over = np.abs(self.level[last:look] - self.base) > self.far
        return last + int(over.argmax()) if over.any() else None

    def read(self, count: int) -> None:
        """Read where it stands."""
        misread = MISREAD * self._slip()
        stands = float(self.level[count - 1]) - self.base + self.scatter * self._slip()
        self.seen.append(Observation(count, stands + misread, MISREAD))

    def align(self, count: int) -> None:
        """Put it back, and read it."""
        if count:
            self.base = float(self.level[count - 1]) + MISREAD * self._slip()
        self.seen.append(Observation(count, MISREAD * self._slip(), MISREAD, resets=True))

    def believed(self) -> tuple[Belief, Found]:
        """Return what is believed of it, and what no creep explains."""
        series = (*self.seen,)
        found = kinds(disturbances([WayRead(series)]))
        return believe(told(series, found)), found

    def passage(self, belief: Belief, count: int) -> AnyOf:
        """Return when it shows."""
        return AnyOf(((FirstPassage(belief, count, Bounds(self.bound, self.bound)),),))

    def _slip(self) -> float:
        return float(self.chance.standard_normal())


def live_bumped(bound: float, seed: int) -> BumpedLife | None:
    """Live one life; None if its scatter alone comes close to the bound."""
    lens = _Lens(bound, seed)
    if lens.far < bound / 4:
        return None
    last, wait, looks, aligned = 0, 30.0, 0, 0
    while aligned < REALIGNED:
        look = last + max(1, int(min(wait, LIFE)))
        at = lens.shows(last, look)
        if at is not None or look >= LIFE:
            return _ended(lens, looks, aligned, at)
        last, looks = look, looks + 1
        lens.read(last)
        if len(lens.seen) >= ENOUGH:
            wait, done = _advised(lens, last)
            aligned += done
    return _ended(lens, looks, aligned, None)


def _advised(lens: _Lens, last: int) -> tuple[float, bool]:
    """Do as told: return in how many travels to look again, and whether it was aligned."""
    belief, found = lens.believed()
    for index, name in found.items():
        lens.named.setdefault(index, set()).add(name)
    gone = abs(belief.points(last)[1]) / lens.bound
    advice = advise(lens.passage(belief, last), gone, last, last)
    if found.get(len(lens.seen) - 1) == "unclear":
        return 0.0, False
    if advice.align:
        lens.align(last)
        again = advise(lens.passage(lens.believed()[0], last), 0.0, last, last)
        return LIFE if again.look is None else again.look, True
    return LIFE if advice.look is None else advice.look, False


def _ended(lens: _Lens, looks: int, aligned: int, at: int | None) -> BumpedLife:
    bumped = set()
    for bump in lens.bumps:
        after = [n for n, one in enumerate(lens.seen) if one.travels > bump and not one.resets]
        if len(after) > 1 and after[0] >= ENOUGH - 1:
            bumped.add(after[0])
    # A bump since it was last read may need some creep before it shows: it is the bump even so.
    since = lens.seen[-1].travels
    knocked = at is not None and any(since <= bump <= at for bump in lens.bumps)
    falsely = [n for n, names in lens.named.items() if n not in bumped and names - {"unclear"}]
    return BumpedLife(
        showed=at is not None and not knocked,
        knocked=knocked,
        looks=looks,
        aligned=aligned,
        bumps=len(bumped),
        named=len(bumped & lens.named.keys()),
        falsely=len(falsely),
    )


def row_of(lives: Sequence[BumpedLife | None]) -> str:
    """Sum lives up, as a row of the table."""
    whole = [one for one in lives if one is not None]
    every = len(whole)
    return (
        f"{every} | {sum(one.showed for one in whole) / every:.1%}"
        f" | {sum(one.knocked for one in whole) / every:.0%}"
        f" | {sum(one.looks for one in whole) / max(1, sum(one.aligned for one in whole)):.1f}"
        f" | {sum(one.named for one in whole)} of {sum(one.bumps for one in whole)}"
        f" | {sum(one.falsely for one in whole)}"
    )
