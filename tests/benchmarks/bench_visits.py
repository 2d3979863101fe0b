"""Whether lenses are visited in time that no other benchmark makes: seasons, sides, bumps, slips.

    python tests/benchmarks/bench_visits.py [LIVES [SEED]]

So many lenses of each kind at each limit, 5 if nothing is said; each is visited 24 times or for
five years, as `wear` asks (`tests/simulator/visited_lenses.py`). "showed first": somebody saw it
before the report said to align, a bump left aside. "told falsely": a bump or a wrong reading was
told that was none, and `wear` did not ask whether it was the other side, or the warmth. "hold": the
share of the intervals for 90 % that held where the middle between both sides stood. "named" and
"asked about": bumps that were read twice or more; of lines that were typed wrongly, those that
were left out. Behind a share stands the interval that holds it with 95 % (Wilson).
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from multiprocessing import get_context

from tests.benchmarks.bench_wear import share
from tests.simulator.visited_lenses import KINDS, Visited, visit

STRIPS = (5, 20, 60)
"""Limits, mm."""
SEED = 300
"""No threshold was chosen on lenses from here on."""


def main(lives: int, first: int) -> None:
    """Print the table, a row for each kind."""
    with ProcessPoolExecutor(2, mp_context=get_context("fork")) as crew:
        for kind in KINDS:
            found: list[Visited] = []
            for strip in STRIPS:
                found += crew.map(partial(visit, kind, strip), range(first, first + lives))
            print("|", " | ".join([kind, *row(found)]), "|", flush=True)


def row(found: Sequence[Visited]) -> list[str]:
    """Sum lives up: lives, showed first, told falsely, hold, looks, named, asked about."""
    lives = len(found)
    bumps = [one for one in found if one.named is not None]
    slips = sum(one.slips for one in found)
    named, asked = "", ""
    if bumps:
        named = f"{sum(one.named is True for one in bumps)} of {len(bumps)}"
        asked = f"{sum(one.asked is True for one in bumps)} of {len(bumps)}"
    if slips:
        named = f"{sum(one.left_out for one in found)} of {slips}"
    return [
        str(lives),
        share(sum(one.showed for one in found) / lives, lives),
        share(sum(one.falsely for one in found) / lives, lives),
        f"{100 * sum(one.held for one in found) / sum(one.told for one in found):.0f} %",
        f"{sum(one.looks for one in found) / max(1, sum(one.aligned for one in found)):.1f}",
        named,
        asked,
    ]


if __name__ == "__main__":
    counts = [int(one) for one in sys.argv[1:3]]
    main(*counts, *(5, SEED)[len(counts) :])
