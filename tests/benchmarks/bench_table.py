"""Rule lookup: microseconds for 12, 60 and 300 rows, beside a linear scan of lambdas.

Two columns of names and two of intervals, about what a room's table holds. The table is
complete and no two rows overlap, so that every lookup finds exactly one row.

Run it as a script: python tests/benchmarks/bench_table.py
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from itertools import pairwise
from statistics import median
from timeit import timeit

from engine.table import Column, Policy, Row, RuleTable, choose, compile_table
from engine.value_set import Kind, Value, ValueSet, equal_to, interval

SIZES = (12, 60, 300)
LOOKUPS = 2_000
ROUNDS = 9
SOURCES = ("disc", "streamer", "console")
PLAYBACKS = ("playing", "stopped")
COLUMNS = (
    Column("source", Kind.NAME, SOURCES),
    Column("playback", Kind.NAME, PLAYBACKS),
    Column("aspect", Kind.RATIO, least=10_000, most=40_000),
    Column("time", Kind.MINUTE, least=0, most=1_439),
)
Facts = Mapping[str, Value]
Closure = Callable[[Facts], bool]


def bands(least: int, most: int, count: int) -> list[tuple[int, int]]:
    """Cut a stretch of whole numbers into bands, each without its upper end."""
    edges = [least + (most - least) * at // count for at in range(count + 1)]
    return list(pairwise(edges))


def boxes(rows: int) -> list[tuple[str, str, tuple[int, int], tuple[int, int]]]:
    """Cut the whole space into so many boxes."""
    per_pair = rows // (len(SOURCES) * len(PLAYBACKS))
    times = 2 if per_pair < 50 else 5
    return [
        (source, playback, aspect, time)
        for source in SOURCES
        for playback in PLAYBACKS
        for aspect in bands(10_000, 40_000, per_pair // times)
        for time in bands(0, 1_440, times)
    ]


def band(ends: tuple[int, int]) -> ValueSet:
    """Accept one band's numbers."""
    return interval(*ends, high_open=True)


def table(rows: int) -> RuleTable[int]:
    """Compile the boxes."""
    return compile_table(
        Policy.UNIQUE,
        COLUMNS,
        (
            Row((equal_to(source), equal_to(playback), band(aspect), band(time)), index)
            for index, (source, playback, aspect, time) in enumerate(boxes(rows))
        ),
    )


def closure(box: tuple[str, str, tuple[int, int], tuple[int, int]]) -> Closure:
    """Test one box the plain way."""
    source, playback, (narrow, wide), (early, late) = box
    return lambda facts: (
        facts["source"] == source
        and facts["playback"] == playback
        and narrow <= facts["aspect"] < wide  # type: ignore[operator]
        and early <= facts["time"] < late  # type: ignore[operator]
    )


def scan(closures: list[Closure], facts: Facts) -> int | None:
    """Find the first closure that holds."""
    for index, holds in enumerate(closures):
        if holds(facts):
            return index
    return None


def cases() -> list[Facts]:
    """Spread so many facts over the whole space that every row has its turn."""
    return [
        {
            "source": SOURCES[at % 3],
            "playback": PLAYBACKS[at // 3 % 2],
            "aspect": 10_000 + at * 7_919 % 30_000,
            "time": at * 613 % 1_440,
        }
        for at in range(LOOKUPS)
    ]


def microseconds(look_up: Callable[[Facts], object], facts: list[Facts]) -> float:
    """Measure one lookup: the median of several rounds over all facts."""

    def once() -> None:
        for fact in facts:
            look_up(fact)

    return median(timeit(once, number=1) for _ in range(ROUNDS)) / len(facts) * 1e6


def main() -> None:
    """Print one line a size."""
    facts = cases()
    smallest = 0.0
    print(f"{'rows':>5} {'table us':>9} {'scan us':>9} {'scan/table':>11} {'to 12 rows':>11}")
    for rows in SIZES:
        compiled, closures = table(rows), [closure(box) for box in boxes(rows)]
        if any(choose(compiled, fact).row != scan(closures, fact) for fact in facts):
            raise SystemExit("the two ways disagree: their times cannot be compared")
        ours = microseconds(partial(choose, compiled), facts)
        theirs = microseconds(partial(scan, closures), facts)
        smallest = smallest or ours
        print(
            f"{len(closures):>5} {ours:>9.2f} {theirs:>9.2f} {theirs / ours:>11.1f} "
            f"{ours / smallest:>11.2f}"
        )


if __name__ == "__main__":
    main()
