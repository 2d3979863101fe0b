"""When a preset is to be looked at, and when it is to be aligned.

Each look is one more chance that it showed just before. So the chance that is taken between two
looks is small, and small enough that in a whole life of looks and realignments it shows first in at
most six of a hundred. `tests/benchmarks/bench_wear.py` simulates such lives for each kind of lens.
"""

from __future__ import annotations

from math import isfinite
from typing import Final, NamedTuple

from simulator.wear.first_passage import AnyOf

LOOK_CHANCE: Final = 0.005
"""Until a preset is looked at again, it shows with at most this probability."""
USED_UP: Final = 0.5
"""Of the travels until then it is due after this share, for the forecast may be wrong itself."""
ALIGN_CHANCE: Final = 0.005
ALIGN_AHEAD: Final = 60
"""It is aligned when it shows within so many travels with more than `ALIGN_CHANCE`."""
HELPS: Final = 0.2
"""And only if an edge has gone this share of its way: else the lens is just not known enough."""
SOONEST: Final = 5
"""Nobody looks again after fewer travels than this."""


class Advice(NamedTuple):
    """What to do about a preset."""

    align: bool
    """Whether to align it now."""
    look: float | None
    """In how many travels from now to look at it; 0: now; None: never, as far as is known."""


def advise(passage: AnyOf, gone: float, last: int, now: int) -> Advice:
    """Return what to do now, given the count of the last measurement.

    `passage` looks ahead from now, and `gone` is the largest share that an edge has gone of its way
    to where it shows.
    """
    if gone >= HELPS and passage.by(ALIGN_AHEAD) >= ALIGN_CHANCE:
        return Advice(align=True, look=0.0)
    count = passage.when(LOOK_CHANCE)
    if not isfinite(count):
        return Advice(align=False, look=None)
    left = last + max(SOONEST, USED_UP * (now + count - last)) - now
    return Advice(align=False, look=left if left >= 1 else 0.0)
