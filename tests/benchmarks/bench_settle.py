"""The settle filter: microseconds a reading, and how that compares with parsing the same lines.

Two labelled sets, the real ones where they lie beside the checkout and made ones otherwise, and
then what a reading costs that says nothing new, one that says the settled shape again, and one of
a dark scene in which every reading differs. In the end a thousand made evenings of each world are
scored by their classes, beside an oracle that knows the truth as soon as it can be seen, as a table
for the docs.

Run it as a script: python -m tests.benchmarks.bench_settle [EVENINGS]
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from random import Random
from statistics import median
from time import perf_counter
from typing import NamedTuple

from engine.settle import UNSETTLED, BarReading, DwellTimes, elapse, take_bars
from simulator.readings.labelled import LabelledSet, Timed
from simulator.readings.made_evenings import HELD_OUT, WORKED_ON, World, made_evenings
from tests.engine import settle_sets as sets
from tests.engine.settle_score import knowable, load, score

ROUNDS = 15
EVENINGS = 1_000
READINGS = Path(__file__).resolve().parents[3] / "shared" / "readings"
DWELL = DwellTimes()


def settle_all(readings: Sequence[Timed]) -> None:
    """What a room does with readings, and nothing else."""
    settling = UNSETTLED
    for now, reading in readings:
        while settling.deadline is not None and settling.deadline <= now:
            settling = elapse(settling, settling.deadline)
        settling = take_bars(DWELL, settling, reading, now)


def parse_all(lines: Sequence[str]) -> None:
    """A bare loop over the same readings as JSON."""
    for line in lines:
        json.loads(line)


def seconds(work: Callable[[], None]) -> float:
    """The median time of some rounds."""
    times = []
    for _ in range(ROUNDS):
        begin = perf_counter()
        work()
        times.append(perf_counter() - begin)
    return median(times)


def line(now: int, reading: BarReading | None) -> str:
    """A reading as its set's file has it."""
    edges = ("top", "bottom", "left", "right")
    bars = None if reading is None else dict(zip(edges, reading, strict=False))
    return json.dumps({"t": now / 1_000, "bars": bars})


def both_kinds() -> dict[str, LabelledSet]:
    """The real sets, or made ones."""
    if READINGS.is_dir():
        return {name: load(READINGS / name) for name in ("plain", "hard")}
    print("the real readings are not beside this checkout: made sets instead")
    return {"plain": sets.make_plain(1, [sets.HD]), "hard": sets.make_hard(1, [sets.HD])}


def one_kind(scene: sets.Scene) -> list[Timed]:
    """Five minutes of one scene."""
    return list(sets.make(Random(1), sets.HD, [sets.Part(scene, 18_500, 300)]).readings)


def main() -> None:
    """Print the figures."""
    for name, labelled in both_kinds().items():
        readings = labelled.readings
        lines = [line(now, reading) for now, reading in readings]
        taken = seconds(partial(settle_all, readings))
        parsed = seconds(partial(parse_all, lines))
        each = taken / len(readings) * 1e6
        print(f"{name:22} {each:6.3f} us a reading, {taken / parsed:5.3f} of json.loads alone")
    for name, scene in (
        ("nothing new", sets.bright),
        ("the settled shape", sets.grain),
        ("a dark scene", sets.night),
        ("a wandering vignette", sets.vignette),
    ):
        readings = one_kind(scene)
        taken = seconds(partial(settle_all, readings))
        print(f"{name:22} {taken / len(readings) * 1e6:6.3f} us a reading")
    for world in (WORKED_ON, HELD_OUT):
        score_by_class(int(sys.argv[1]) if len(sys.argv) > 1 else EVENINGS, world)


class ByClass(NamedTuple):
    """What the evenings of one class add up to."""

    evenings: int = 0
    right: int = 0
    counted: int = 0
    false: int = 0
    misled: int = 0
    """Evenings with a false settle."""
    knowable: int = 0
    """What an oracle has right that needs half a second."""


def score_by_class(count: int, world: World) -> None:
    """Print how many percent of each class are right, and what was settled on falsely."""
    found: dict[str, ByClass] = {}
    taken, readings = 0.0, 0
    for name, evening in made_evenings(count, world):
        begin = perf_counter()
        settle_all(evening.readings)
        taken, readings = taken + perf_counter() - begin, readings + len(evening.readings)
        result = score(evening)
        one = found.get(name, ByClass())
        found[name] = ByClass(
            one.evenings + 1,
            one.right + result.right,
            one.counted + result.counted,
            one.false + len(result.false),
            one.misled + bool(result.false),
            one.knowable + knowable(evening, DWELL.taller).right,
        )
    print(f"\n{world.name + 'made evenings':22} {taken / readings * 1e6:6.3f} us a reading\n")
    print("| class | evenings | right | an oracle | false settles | evenings with one |")
    print("|---|---|---|---|---|---|")
    for name, (evenings, right, counted, false, misled, oracle) in found.items():
        shares = f"{100 * right / counted:.2f} % | {100 * oracle / counted:.2f} %"
        print(f"| {name} | {evenings} | {shares} | {false} | {misled} |")


if __name__ == "__main__":
    main()
