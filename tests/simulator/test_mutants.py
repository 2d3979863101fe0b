"""Of whatever may be wrong a check catches nearly all, and all that makes a difference."""

from __future__ import annotations

import random
from collections import Counter
from pathlib import Path

import pytest

from engine import transition_table as states
from simulator.shipped import CELLAR, LONGROOM
from tests.simulator.cell_mutants import SAME_CELLS, caught, cells, mutants
from tests.simulator.mutants import SAME_TABLES, Verdict, Wrong, judged, running_on, wrong_tables
from tests.soak import TIMES, sample

ENOUGH = 0.95
PARTS = {CELLAR: 1 if TIMES else 2, LONGROOM: 3 if TIMES else 6}
"""Of the wrong cells of a room one in so many is tried."""


def test_wrong_tables_are_caught_unless_nothing_at_all_comes_of_them() -> None:
    """Every day a part of them, `make soak` all."""
    every = [*wrong_tables()]
    chosen = random.Random(5).sample(every, min(len(every), sample(16, len(every))))
    verdicts = {wrong.name: judged(wrong) for wrong in chosen}
    survivors = {name for name, verdict in verdicts.items() if not verdict.caught}
    alike = {name for name, verdict in verdicts.items() if verdict.alike}
    assert len(verdicts) - len(survivors) >= ENOUGH * (len(verdicts) - len(alike))
    assert survivors == alike == set(SAME_TABLES) & set(verdicts)
    assert survivors, "some of those that nothing comes of are among them"


def test_every_row_of_the_table_goes_wrong_in_every_way() -> None:
    ways = Counter(name.split(",")[0] for name in (wrong.name for wrong in wrong_tables()))
    assert len(ways) == len(states.TABLE)
    for row in states.TABLE:
        name = f"{row.machine}: {row.trigger} from {row.source} to {row.target}"
        assert ways[name] == len(states.MACHINES[row.machine]) + (row.guard is not None)


def test_the_right_table_is_told_from_no_other_way_of_writing_it() -> None:
    backwards = Wrong("backwards", "lens", states.TABLE[::-1])
    assert judged(backwards, ("reporting", "silent")) == Verdict("", alike=True)


def test_a_wrong_table_is_gone_afterwards() -> None:
    right = states.TABLE
    with running_on(()):
        assert states.diagram().count(" --> ") == len(states.MACHINES)
    assert states.diagram().count(" --> ") == len(states.MACHINES) + len(right)


@pytest.mark.parametrize(("path", "part"), PARTS.items(), ids=["cellar", "long"])
def test_wrong_cells_are_caught(path: Path, part: int) -> None:
    right = path.read_text("utf-8")
    every = [*mutants(right)]
    chosen = random.Random(part).sample(every, len(every) // part)
    survivors = {one.name for one in chosen if not caught(right, one.text)}
    assert len(chosen) - len(survivors) >= ENOUGH * len(chosen)
    assert survivors == {one.name for one in chosen} & set(SAME_CELLS)


@pytest.mark.parametrize("path", [CELLAR, LONGROOM], ids=["cellar", "longroom"])
def test_every_cell_goes_wrong_in_every_way(path: Path) -> None:
    right = path.read_text("utf-8")
    every = [*mutants(right)]
    written = [*cells(right)]
    assert len({one.text for one in every} | {right}) == len(every) + 1
    for cell in written:
        name = f"{cell.row}: {cell.fact}: {cell.text},"
        ways = {one.how for one in every if one.name.startswith(name)}
        assert ways == {"deleted", "widened", "narrowed"}, name


def test_a_right_file_is_not_caught() -> None:
    right = CELLAR.read_text("utf-8")
    assert not caught(right, right.replace("# A room below", "# The room below"))
