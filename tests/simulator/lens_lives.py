"""Lives of lenses that somebody looks at when they are due and aligns when told: made up, by seed.

What no creep explains is looked for at each look, and a reading of which nobody can tell yet is
taken once more, as `assessment` says. Lenses may be bumped too.

Lengths are in units (`creep.unit_of`): an 80th of the screen's width, some 40 mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot, inf, isfinite, sqrt
from typing import Final, NamedTuple

import numpy as np

from simulator.wear.creep import ENOUGH, Belief, Observation, RepeatabilitySession, believe
from simulator.wear.disturbances import Found, WayRead, disturbances, kinds, told
from simulator.wear.first_passage import ONE_IN_TWENTY, AnyOf, Bounds, FirstPassage, Forecast
from simulator.wear.policy import Advice, advise

LIFE: Final = 20_000
"""So many travels a lens makes."""
REALIGNED: Final = 6
"""After so many realignments a life has told enough."""
MISREAD: Final = 0.012
"""Half a millimetre."""
KINDS: Final = ("steady", "scattered", "walking", "from both sides", "heavy tails", "quickening")
WRONG: Final = 4.0
"""A reading is wrong if it misses by so many times what its error and the scatter say."""
BUMPED: Final = 2_500
"""A lens that is bumped is bumped about once in so many travels."""
FAR: Final = (0.1, 0.5)
"""How far a bump moves it: between these parts of the way to where it shows."""
BUMPS: Final = 6
"""Bumps have a chance of their own, so that the same lens can be lived with and without."""


class Lens(NamedTuple):
    """How one lens moves."""

    level: np.ndarray
    """Where it would stand after each travel if nobody ever aligned it."""
    scatter: float
    apart: float
    """How far its two sides end apart."""
    heavy: bool
    """Whether readings are now and then far off (Student's t with 3 degrees of freedom)."""
    bumps: tuple[int, ...] = ()
    """In which travels it is bumped."""


class Foretold(NamedTuple):
    """What was foretold in the first cycle, and the truth."""

    forecast: Forecast
    shows: float


class Life(NamedTuple):
    """How a life went, and what was said of its bumps."""

    showed: bool
    """Whether somebody saw it before it was to be aligned, with no bump since it was last read."""
    knocked: bool
    """Whether a bump since then put the picture where it shows: nobody can foretell that."""
    looks: int
    aligned: int
    foretold: Foretold | None
    bumps: int
    """How many bumps were read twice or more afterwards."""
    named: int
    """How many of these were named, or asked about."""
    falsely: int
    """How many readings were called moved or misread where nothing had happened."""


def made(kind: str, bound: float, seed: int) -> tuple[Lens, np.random.Generator]:
    """Make a lens that shows after 200 to 20,000 travels, or by chance."""
    chance = np.random.default_rng((seed, KINDS.index(kind), round(bound * 1_000)))
    scatter = 0.001 if kind == "steady" else 10 ** chance.uniform(-2.2, -1.6)
    apart = chance.uniform(0.02, 0.6 * bound) if kind == "from both sides" else 0.0
    sign = chance.choice([-1, 1])
    rate = sign * bound / 10 ** chance.uniform(2.3, 4.3)
    steps = np.full(LIFE, rate)
    if kind == "walking":
        most = np.log10(min(0.01, bound / 20))
        steps = 10 ** chance.uniform(-3.4, most) * chance.standard_normal(LIFE)
    if kind == "quickening":
        steps = np.linspace(0, 2 * sign * bound / 10 ** chance.uniform(2.8, 4.3), LIFE)
    return Lens(np.cumsum(steps), scatter, apart, kind == "heavy tails"), chance


def bumped(lens: Lens, bound: float, seed: int) -> Lens:
    """Bump a lens now and then."""
    chance = np.random.default_rng((seed, BUMPS, round(bound * 1_000)))
    at = np.flatnonzero(chance.random(LIFE) < 1 / BUMPED)
    steps = np.zeros(LIFE)
    steps[at] = chance.choice([-1, 1], len(at)) * bound * chance.uniform(*FAR, len(at))
    return lens._replace(level=lens.level + np.cumsum(steps), bumps=(*at.tolist(),))


def live(  # noqa: PLR0913 - the last three by name
    kind: str,
    bound: float,
    seed: int,
    *,
    with_bumps: bool = False,
    searching: bool = True,
    ways: int = 1,
) -> Life | None:
    """Live one life; None if its scatter alone comes close to the bound.

    To look for what no creep explains takes most of the time: `searching` leaves that out. A lens
    moves in so many `ways` at once, each by itself; a bump moves it in the first.
    """
    moving = [made(kind, bound, ways * seed + way) for way in range(ways)]
    if with_bumps:
        moving[0] = bumped(moving[0][0], bound, seed), moving[0][1]
    life = _Living([_Way(*one, bound) for one in moving], searching)
    if min(way.far for way in life.ways) < bound / 4:
        return None
    last, wait = 0, 30.0
    while life.aligned < REALIGNED:
        look = last + max(1, int(min(wait, LIFE)))
        at = life.shows(last, look)
        if at is not None or look >= LIFE:
            return life.ended(at)
        last = look
        wait = life.look(last, wait)
    return life.ended(None)


class _Way:
    """One way in which a lens moves, and what was read of it."""

    def __init__(self, lens: Lens, chance: np.random.Generator, bound: float) -> None:
        self.lens, self.chance, self.bound, self.base = lens, chance, bound, 0.0
        self.far = bound - ONE_IN_TWENTY * lens.scatter - lens.apart / 2
        self.sessions = (*_sessions(lens),) if lens.apart else ()
        self.seen: list[Observation] = []
        self.wrong: set[int] = set()
        """Which readings are wrong."""

    def shows(self, last: int, look: int) -> int | None:
        """Give the travel in which it shows before it is looked at again."""
        over = np.abs(self.lens.level[last:look] - self.base) > self.far
        return last + int(over.argmax()) if over.any() else None

    def align(self, count: int) -> None:
        """Put it back, and read it."""
        if count:
            self.base = self.lens.level[count - 1] + MISREAD * self.chance.standard_normal()
        misread = MISREAD * self.chance.standard_normal()
        self.seen.append(Observation(count, misread, MISREAD, resets=True))

    def read(self, count: int) -> None:
        """Read it once more."""
        stands, off = self.lens.level[count - 1] - self.base, _off(self.lens, self.chance)
        if abs(off) > WRONG * hypot(self.lens.scatter, MISREAD):
            self.wrong.add(len(self.seen))
        self.seen.append(Observation(count, stands + off, MISREAD))

    def believed(self, found: Found) -> Belief:
        """Say what is known of it, given what happened to the lens."""
        return believe(told((*self.seen,), found), self.sessions)


class _Living:
    """One life: the lens, what was read of it, and what was said."""

    def __init__(self, ways: Sequence[_Way], searching: bool) -> None:
        self.searching, self.ways = searching, ways
        self.named: dict[int, set[str]] = {}
        self.looks = self.aligned = 0
        self.foretold: Foretold | None = None
        self.align(0)

    @property
    def seen(self) -> list[Observation]:
        """What was read of its first way; of the others as often."""
        return self.ways[0].seen

    def shows(self, last: int, look: int) -> int | None:
        """Give the travel in which it shows in any way before it is looked at again."""
        each = [at for way in self.ways if (at := way.shows(last, look)) is not None]
        return min(each, default=None)

    def align(self, count: int) -> None:
        """Put it back, and read it."""
        for way in self.ways:
            way.align(count)

    def look(self, count: int, wait: float) -> float:
        """Read it and do as told; return in how many travels to look again."""
        self.looks += 1
        for way in self.ways:
            way.read(count)
        if len(self.seen) < ENOUGH:
            return wait
        found = self._found()
        for index, name in found.items():
            self.named.setdefault(index, set()).add(name)
        if self.foretold is None and not self.aligned and len(self.seen) >= ENOUGH + 2:
            shows = self.shows(count, LIFE)
            forecast = self._passage(found, count).forecast()
            self.foretold = Foretold(forecast, inf if shows is None else shows - count + 1.0)
        if found.get(len(self.seen) - 1) == "unclear":
            return 0.0
        advice = self._advised(found, count)
        if advice.align:
            self.aligned += 1
            self.align(count)
            found = self._found()
            advice = advise(self._passage(found, count), 0.0, count, count)
        return LIFE if advice.look is None else advice.look

    def _advised(self, found: Found, count: int) -> Advice:
        """Say what to do; with an open question to align only if that is right in either case."""
        passage = self._passage(found, count)
        far = [way.believed(found).points(count)[1] / way.bound for way in self.ways]
        gone = max(map(abs, far))
        if "open" in found.values():
            read = max(abs(way.seen[-1].offset) / way.bound for way in self.ways)
            moved: Found = {at: "moved" if kind == "open" else kind for at, kind in found.items()}
            then = advise(self._passage(moved, count), read, count, count)
            gone = min(gone, read) if then.align else 0.0
        return advise(passage, gone, count, count)

    def _found(self) -> Found:
        if not self.searching:
            return {}
        return kinds(disturbances([WayRead((*way.seen,), way.sessions) for way in self.ways]))

    def _passage(self, found: Found, count: int) -> AnyOf:
        each = []
        for way in self.ways:
            bounds = Bounds(way.bound, way.bound)
            each.append((FirstPassage(way.believed(found), count, bounds, way.lens.apart / 2),))
        return AnyOf((*each,))

    def ended(self, at: int | None) -> Life:
        """Sum it up; `at` is the travel in which it showed."""
        told_of = self.ways[0].lens.bumps
        happened, bumps = set(), set()
        for bump in told_of:
            after = [n for n, one in enumerate(self.seen) if one.travels > bump and not one.resets]
            happened.update(after[:1])
            if len(after) > 1 and after[0] >= ENOUGH - 1:
                bumps.add(after[0])
        # A bump since it was last read may need some creep before it shows: it is the bump even so.
        since = self.seen[-1].travels
        knocked = at is not None and any(since <= bump <= at for bump in told_of)
        wrong = set().union(*(way.wrong for way in self.ways))
        falsely = [
            n
            for n, names in self.named.items()
            if ("moved" in names and n not in happened) or ("misread" in names and n not in wrong)
        ]
        return Life(
            showed=at is not None and not knocked,
            knocked=knocked,
            looks=self.looks,
            aligned=self.aligned,
            foretold=self.foretold,
            bumps=len(bumps),
            named=len(bumps & self.named.keys()),
            falsely=len(falsely),
        )


def _sessions(lens: Lens) -> list[RepeatabilitySession]:
    """Give a session of thirty travels from either side."""
    spread = sqrt(lens.scatter**2 + MISREAD**2)
    return [RepeatabilitySession(30, spread, MISREAD)] * 2


def _off(lens: Lens, chance: np.random.Generator) -> float:
    """Give by how much a reading misses the level."""
    misread = chance.standard_t(3) / sqrt(3) if lens.heavy else chance.standard_normal()
    return float(lens.scatter * chance.standard_normal() + MISREAD * misread)


class Tally(NamedTuple):
    """What many lives of one kind came to."""

    lives: int
    showed: float
    """The share of lives in which somebody saw it first."""
    knocked: float
    looks: float
    """Looks for each realignment, or in all."""
    before: tuple[float, float, float]
    """The share that showed before the 5 %, 50 % and 95 % count of its forecast."""
    bumps: int
    named: int
    falsely: float
    """The share of lives in which something was told that had not happened."""


def tally(lives: Sequence[Life | None]) -> Tally:
    """Sum lives up."""
    whole = [one for one in lives if one is not None]
    dated = [one.foretold for one in whole if one.foretold and isfinite(one.foretold.shows)]
    early = [[one.shows < point for point in one.forecast] for one in dated]
    shares = np.mean(early, axis=0) if early else np.full(3, np.nan)
    return Tally(
        lives=len(whole),
        showed=float(np.mean([one.showed for one in whole])),
        knocked=float(np.mean([one.knocked for one in whole])),
        looks=sum(one.looks for one in whole) / max(1, sum(one.aligned for one in whole)),
        before=(float(shares[0]), float(shares[1]), float(shares[2])),
        bumps=sum(one.bumps for one in whole),
        named=sum(one.named for one in whole),
        falsely=float(np.mean([one.falsely > 0 for one in whole])),
    )
