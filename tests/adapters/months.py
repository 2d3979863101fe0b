"""Months of a room that nobody recorded: nights that go on from one another, and a creeping lens.

All of it is made up, out of seeds.
"""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from random import Random

from adapters.cli.invented_nights import write_invented_nights
from engine.events import moment_of
from engine.room import Room
from simulator.nights.invention import NightPlan
from simulator.wear.measurements import Measured, line_of
from tests.golden.evenings import BEGINS

A_DAY = 86_400_000
PLAN = NightPlan(titles=3, minutes=30, readings=0)


def months(room: Room, folder: Path, nights: int) -> list[Path]:
    """Write nights, one a day, each going on from the one before."""
    return write_invented_nights(room, 0, PLAN, "0.1.0", BEGINS, nights, folder)


def book(
    path: Path,
    counts: dict[int, int],
    creep: float,
    preset: str,
    bump: tuple[int, float] = (0, 0.0),
) -> None:
    """Measure a lens that creeps so many mm a travel, on some days, as a book.

    `counts` says how many travels there had been by each day. From the day of a `bump` on it stands
    so many mm further to the right.
    """
    chance, lines = Random(3), []
    for number, (day, travels) in enumerate(counts.items(), 1):
        middle = creep * travels + chance.gauss(0, 0.4) + (bump[1] if day >= bump[0] else 0.0)
        read = [middle + chance.gauss(0, 0.3) for _ in range(2)]
        still = [chance.gauss(0, 0.3) for _ in range(2)]
        at = moment_of(BEGINS) + timedelta(days=day)
        lines.append(
            line_of(
                Measured(
                    id=number,
                    at=at,
                    preset=preset,
                    left=read[0],
                    right=read[1],
                    top=still[0],
                    bottom=still[1],
                    unit="mm",
                    error=0.3,
                    lit=45,
                    aligned=number == 1,
                )
            )
        )
    path.write_bytes(b"\n".join(lines) + b"\n")
