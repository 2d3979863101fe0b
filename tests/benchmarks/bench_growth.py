"""How a proof grows with each feature of a room: classes, states, half steps, time and memory.

Each feature is varied by itself, the others are kept. Printed is the time of each room against the
first of its kind. Seconds and memory are printed too, to be read on the machine at hand: each room
is explored by a process of its own, which starts no others. With the word `large` a large room
follows.
"""

from __future__ import annotations

import multiprocessing
import resource
import sys
from time import process_time
from typing import NamedTuple

from rules.room.load import load
from simulator.proof.reachability import Exploration, Explorer
from tests.simulator.large_rooms import Size, room_text

BASE = Size()
GROWTH: dict[str, tuple[int, ...]] = {
    "told": (0, 2, 4, 6, 8),
    "presets": (1, 2, 3, 4, 6),
    "arrangements": (0, 1, 2, 3, 4),
    "pictures": (0, 1, 2, 3),
    "sources": (1, 2, 4, 8),
    "rows": (4, 12, 30, 60),
    "promises": (1, 3, 10),
}
LARGE = Size(sources=8, presets=4, arrangements=4, pictures=3, told=8, rows=60, promises=10)


class Figures(NamedTuple):
    """What the exploration of one room took."""

    found: Exploration
    seconds: float
    """Of the processor."""
    mebibytes: float
    """At most."""


def explored(size: Size) -> Figures:
    """Explore a room in this process."""
    room = load(room_text(size), "made.yaml")
    begins = process_time()
    found = Explorer(room).run()
    seconds = process_time() - begins
    assert found.complete
    assert not found.violations, found.violations
    return Figures(found, seconds, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)


def line(words: str, figures: Figures, first: float) -> str:
    """Write one room's figures."""
    found, seconds, mebibytes = figures
    return (
        f"{words:<18} {found.environments:>6,} outcomes {found.classes:>5,} classes "
        f"{found.states:>6,} states {found.steps:>9,} steps {seconds:7.1f} s {mebibytes:6.0f} MiB "
        f"{seconds / first:6.2f} times the first"
    )


def main() -> None:
    """Print the figures."""
    with multiprocessing.get_context("fork").Pool(1, maxtasksperchild=1) as pool:
        for feature, amounts in GROWTH.items():
            first = None
            for amount in amounts:
                figures = pool.apply(explored, [BASE._replace(**{feature: amount})])
                first = first or figures.seconds
                print(line(f"{feature} {amount}", figures, first), flush=True)
        if "large" in sys.argv:
            figures = pool.apply(explored, [LARGE])
            print(line("large", figures, figures.seconds))


if __name__ == "__main__":
    main()
