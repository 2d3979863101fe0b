"""How a proof grows with each feature of a room: classes, states, half steps, time and memory.

Each feature is varied by itself, the others are kept. Printed is the time of each room against the
first of its kind. Seconds and memory are printed too, to be read on the machine at hand. With the
word `large` a large room follows.
"""

from __future__ import annotations

import resource
import sys
from time import process_time

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


def explored(size: Size) -> tuple[Exploration, float]:
    """Explore a room in this process; gives what was found and the processor's seconds."""
    room = load(room_text(size), "made.yaml")
    begins = process_time()
    found = Explorer(room).run()
    return found, process_time() - begins


def line(words: str, found: Exploration, seconds: float, first: float) -> str:
    """Write one room's figures."""
    return (
        f"{words:<18} {found.environments:>6,} outcomes {found.classes:>5,} classes "
        f"{found.states:>6,} states {found.steps:>9,} steps {seconds:7.1f} s "
        f"{seconds / first:6.2f} times the first"
    )


def main() -> None:
    """Print the figures."""
    for feature, amounts in GROWTH.items():
        first = None
        for amount in amounts:
            found, seconds = explored(BASE._replace(**{feature: amount}))
            assert found.complete
            assert not found.violations, found.violations
            first = first or seconds
            print(line(f"{feature} {amount}", found, seconds, first), flush=True)
    if "large" in sys.argv:
        found, seconds = explored(LARGE)
        print(line("large", found, seconds, seconds))
    print(f"{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB at most")


if __name__ == "__main__":
    main()
