"""How much a check catches: every wrong table of states, every wrong cell of two clean rooms.

Printed are what is caught of how many, all that is not, with its reason, and what gave the others
away. Tables that nothing gives away are tried in larger rooms too.
"""

from __future__ import annotations

from collections import Counter
from time import perf_counter

from simulator.shipped import CELLAR, LONGROOM
from tests.simulator.cell_mutants import SAME_CELLS, caught, mutants
from tests.simulator.mutants import LARGER, SAME_TABLES, judged, wrong_tables


def tables() -> None:
    """Run the engine on every wrong table."""
    begins = perf_counter()
    every = [*wrong_tables()]
    verdicts = {wrong.name: judged(wrong) for wrong in every}
    left = [wrong for wrong in every if not verdicts[wrong.name].caught]
    alike = sum(verdict.alike for verdict in verdicts.values())
    print(
        f"tables of states: {len(every) - len(left)} of {len(every)} caught "
        f"({(len(every) - len(left)) / len(every):.1%}); {alike} change nothing at all, of the "
        f"others {(len(every) - len(left)) / (len(every) - alike):.1%}; "
        f"{perf_counter() - begins:.0f} s"
    )
    told = Counter(one.caught.split(":")[1].strip() for one in verdicts.values() if one.caught)
    print(f"  given away by: {dict(told.most_common())}")
    for wrong in left:
        larger = judged(wrong, tuple(LARGER))
        then = larger.caught or ("all alike there too" if larger.alike else "it differs there")
        print(f"  {wrong.name}: {SAME_TABLES.get(wrong.name, 'no reason known')} (larger: {then})")


def files() -> None:
    """Check every wrong file."""
    for path in (CELLAR, LONGROOM):
        begins = perf_counter()
        right = path.read_text("utf-8")
        every = [*mutants(right)]
        verdicts = {one.name: caught(right, one.text) for one in every}
        left = [one for one in every if not verdicts[one.name]]
        share = (len(every) - len(left)) / len(every)
        print(
            f"cells of {path.stem}: {len(every) - len(left)} of {len(every)} caught ({share:.1%}); "
            f"{dict(Counter(one.how for one in every))}; {perf_counter() - begins:.0f} s"
        )
        told = Counter(verdict for verdict in verdicts.values() if verdict)
        print(f"  given away by: {dict(told.most_common())}")
        for one in left:
            print(f"  {one.name}: {SAME_CELLS.get(one.name, 'no reason known')}")


def main() -> None:
    """Print the figures."""
    files()
    tables()


if __name__ == "__main__":
    main()
