"""Whether lenses are looked at and aligned in time: whole lives, by kind of lens, made up by seed.

    python tests/benchmarks/bench_wear.py [LIVES [BUMPED]]

So many of each kind at each limit, 50 at most: all 50 without bumps, as for the table in
simulator/README.md, and none with them.
Each life is 20,000 travels or six realignments, in three ways at once; one whose scatter alone
comes close to the limit is left out. The seeds are none that thresholds were chosen on, nor those
of the tests. "showed first": somebody saw it before the report said to align; at most 6 % may.
"showed before": the share of lenses that showed before the travels to which the forecast gave 5, 50
and 95 %, from five measurements. "told falsely": at some look a bump or a wrong reading was told
that was none. The same kinds of lenses are bumped too. "knocked": a bump put the picture where it
shows, which nobody can foretell. Behind a share stands the interval that holds it with 95 %
(Wilson).
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from multiprocessing import get_context

from scipy.stats import binomtest

from tests.simulator.lens_lives import KINDS, Life, Tally, live, tally

BOUNDS = (0.12, 0.5, 1.5)
"""Limits of some 5, 20 and 60 mm."""
SEEDS = (*range(55_000, 55_010), *range(71_000, 71_040))
"""Of the first five, four lenses have shown what let false bumps through; of the rest none has."""
WAYS = 3
"""Sideways, up and down, and in size."""

Lives = list[Life | None]


def main(lives: int, bumped: int) -> None:
    """Print both tables: by limit and kind, then by kind alone; without bumps, then with."""
    with ProcessPoolExecutor(2, mp_context=get_context("fork")) as crew:

        def lived(count: int, with_bumps: bool, kind: str, bound: float) -> Lives:
            life = partial(live, kind, bound, with_bumps=with_bumps, ways=WAYS)
            return [*crew.map(life, SEEDS[:count], chunksize=1)]

        for with_bumps, count, row in ((False, lives, _plain), (True, bumped, _bumped)):
            if count:
                print(f"\n{row.__doc__}", flush=True)
                _print(partial(lived, count, with_bumps), row)


def _print(lived: Callable[[str, float], Lives], row: Callable[[Tally], Iterable[str]]) -> None:
    whole: dict[str, Lives] = {kind: [] for kind in KINDS}
    for bound in BOUNDS:
        for kind in KINDS:
            found = lived(kind, bound)
            whole[kind] += found
            print("|", " | ".join([f"{bound:g}", kind, *row(tally(found))]), "|", flush=True)
    every = [one for found in whole.values() for one in found]
    for name, found in (*whole.items(), ("all", every)):
        print("|", " | ".join(["any", name, *row(tally(found))]), "|", flush=True)


def _plain(found: Tally) -> Iterable[str]:
    """Without bumps: limit, kind, lives, showed first, looks, showed before, told falsely."""
    early = " / ".join(f"{part * 100:.0f}" for part in found.before)
    yield from (str(found.lives), share(found.showed, found.lives), f"{found.looks:.1f}", early)
    yield share(found.falsely, found.lives)


def _bumped(found: Tally) -> Iterable[str]:
    """With bumps: limit, kind, lives, showed first, knocked, looks, bumps named, told falsely."""
    yield from (str(found.lives), share(found.showed, found.lives))
    yield from (share(found.knocked, found.lives), f"{found.looks:.1f}")
    named = f"{found.named} of {found.bumps}"
    yield f"{named}, {share(found.named / found.bumps, found.bumps)}" if found.bumps else named
    yield share(found.falsely, found.lives)


def share(part: float, of: int) -> str:
    """Write a share with its 95 % interval."""
    held = binomtest(round(part * of), of).proportion_ci(method="wilson")
    return f"{part * 100:.1f} % ({held.low * 100:.1f} to {held.high * 100:.1f})"


if __name__ == "__main__":
    counts = [int(one) for one in sys.argv[1:3]]
    main(*counts, *(len(SEEDS), 0)[len(counts) :])
