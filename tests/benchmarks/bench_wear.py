"""Whether lenses are looked at and aligned in time: whole lives, by kind of lens, made up by seed.

    python tests/benchmarks/bench_wear.py [LIVES [BUMPED]]

Each life is 20,000 travels or six realignments. "showed first": somebody saw it before the report
said to align; at most 6 % may. "before 50 %": the share of lenses that showed before the date that
was called even, from five measurements. Lives of lenses that are bumped take far longer, so there
are fewer (20); "knocked": a bump put the picture where it shows, which nobody can foretell.
"""

from __future__ import annotations

import sys
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from multiprocessing import get_context

from tests.simulator.bumped_lives import live_bumped, row_of
from tests.simulator.lens_lives import KINDS, live, tally

BOUNDS = (0.12, 0.5, 1.5)
"""Limits of some 5, 20 and 60 mm."""


def main(lives: int, bumped: int) -> None:
    """Print both tables."""
    print(
        f"{'limit':>6}  {'kind of lens':<16} {'lives':>5}  showed first  looks a realignment",
        end="",
    )
    print("  showed before 5 % / 50 % / 95 %")
    with ProcessPoolExecutor(mp_context=get_context("fork")) as crew:
        for bound in BOUNDS:
            for kind in KINDS:
                found = tally([*crew.map(partial(live, kind, bound), range(lives), chunksize=10)])
                early = " / ".join(f"{part * 100:.0f}" for part in found.before)
                print(
                    f"{bound:>6}  {kind:<16} {found.lives:>5}  {found.showed * 100:>10.1f} %"
                    f"  {found.looks:>19.1f}  {early:>20}",
                    flush=True,
                )
        print("\n| limit | lives | showed first | knocked | looks | bumps named | told falsely |")
        for bound in BOUNDS:
            row = row_of([*crew.map(partial(live_bumped, bound), range(bumped))])
            print(f"| {bound} | {row} |", flush=True)


if __name__ == "__main__":
    counts = [int(one) for one in sys.argv[1:3]]
    main(*counts, *(200, 20)[len(counts) :])
