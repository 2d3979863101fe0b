"""Lives of lenses that somebody looks at when they are due and aligns when told: made up, by seed.

Lengths are in units (`creep.unit_of`): an 80th of the screen's width, some 40 mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, isfinite, sqrt
from typing import Final, NamedTuple

import numpy as np

from simulator.wear.creep import (
    ENOUGH,
    Belief,
    Observation,
    RepeatabilitySession,
    believe,
)
from simulator.wear.first_passage import ONE_IN_TWENTY, AnyOf, Bounds, FirstPassage, Forecast
from simulator.wear.policy import advise

LIFE: Final = 20_000
"""So many travels a lens makes."""
REALIGNED: Final = 6
"""After so many realignments a life has told enough."""
MISREAD: Final = 0.012
"""Half a millimetre."""
KINDS: Final = ("steady", "scattered", "walking", "from both sides", "heavy tails", "quickening")


class Lens(NamedTuple):
    """How one lens moves."""

    level: np.ndarray
    """Where it would stand after each travel if nobody ever aligned it."""
    scatter: float
    apart: float
    """How far its two sides end apart."""
    heavy: bool
    """Whether readings are now and then far off (Student's t with 3 degrees of freedom)."""


class Foretold(NamedTuple):
    """What was foretold in the first cycle, and the truth."""

    forecast: Forecast
    shows: float


class Life(NamedTuple):
    """How a life went."""

    showed: bool
    """Whether somebody saw it before it was to be aligned."""
    looks: int
    aligned: int
    foretold: Foretold | None


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


def live(kind: str, bound: float, seed: int) -> Life | None:
    """Live one life; None if its scatter alone comes close to the bound."""
    lens, chance = made(kind, bound, seed)
    far = bound - ONE_IN_TWENTY * lens.scatter - lens.apart / 2
    if far < bound / 4:
        return None
    sessions = _sessions(lens) if lens.apart else []
    seen = [Observation(0, MISREAD * chance.standard_normal(), MISREAD, resets=True)]
    base, last, wait, looks, aligned = 0.0, 0, 30.0, 0, 0
    foretold: Foretold | None = None
    while True:
        look = last + max(1, int(min(wait, LIFE)))
        if (np.abs(lens.level[last:look] - base) > far).any():
            return Life(True, looks, aligned, foretold)
        if look >= LIFE:
            return Life(False, looks, aligned, foretold)
        last, looks = look, looks + 1
        seen.append(Observation(last, lens.level[last - 1] - base + _off(lens, chance), MISREAD))
        if len(seen) < ENOUGH:
            continue
        belief = believe(seen, sessions)
        passage = _passage(belief, last, bound, lens)
        if foretold is None and not aligned and len(seen) >= ENOUGH + 2:
            over = np.abs(lens.level[last:] - base) > far
            shows = float(over.argmax()) + 1 if over.any() else inf
            foretold = Foretold(passage.forecast(), shows)
        advice = advise(passage, abs(belief.points(last)[1]) / bound, last, last)
        if advice.align:
            aligned += 1
            if aligned == REALIGNED:
                return Life(False, looks, aligned, foretold)
            base = lens.level[last - 1] + MISREAD * chance.standard_normal()
            seen.append(Observation(last, MISREAD * chance.standard_normal(), MISREAD, resets=True))
            advice = advise(_passage(believe(seen, sessions), last, bound, lens), 0.0, last, last)
        wait = LIFE if advice.look is None else advice.look


def _sessions(lens: Lens) -> list[RepeatabilitySession]:
    """Give a session of thirty travels from either side."""
    spread = sqrt(lens.scatter**2 + MISREAD**2)
    return [RepeatabilitySession(30, spread, MISREAD)] * 2


def _off(lens: Lens, chance: np.random.Generator) -> float:
    """Give by how much a reading misses the level."""
    misread = chance.standard_t(3) / sqrt(3) if lens.heavy else chance.standard_normal()
    return float(lens.scatter * chance.standard_normal() + MISREAD * misread)


def _passage(belief: Belief, last: int, bound: float, lens: Lens) -> AnyOf:
    bounds = Bounds(bound, bound)
    return AnyOf(((FirstPassage(belief, last, bounds, lens.apart / 2),),))


class Tally(NamedTuple):
    """What many lives of one kind came to."""

    lives: int
    showed: float
    """The share of lives in which somebody saw it first."""
    looks: float
    """Looks for each realignment, or in all."""
    before: tuple[float, float, float]
    """The share that showed before the 5 %, 50 % and 95 % count of its forecast."""


def tally(lives: Sequence[Life | None]) -> Tally:
    """Sum lives up."""
    told = [one for one in lives if one is not None]
    dated = [one.foretold for one in told if one.foretold and isfinite(one.foretold.shows)]
    early = [[one.shows < point for point in one.forecast] for one in dated]
    shares = np.mean(early, axis=0) if early else np.full(3, np.nan)
    return Tally(
        lives=len(told),
        showed=float(np.mean([one.showed for one in told])),
        looks=sum(one.looks for one in told) / max(1, sum(one.aligned for one in told)),
        before=(float(shares[0]), float(shares[1]), float(shares[2])),
    )
