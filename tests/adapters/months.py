"""Months of a room that nobody recorded: nights that go on from one another, and a creeping lens.

All of it is made up, out of seeds.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from random import Random

from engine.events import moment_of
from engine.room import Room
from engine.snapshot import encode
from engine.step import RoomEngine
from simulator.alignments import Measured, line_of
from simulator.hub import Hub, live_through
from simulator.maker import Plan, make
from simulator.nights import decision_line, event_line, head_line, new_head
from tests.golden.evenings import BEGINS

A_DAY = 86_400_000
PLAN = Plan(titles=3, minutes=30, readings=0)


def night_lines(room: Room, engine: RoomEngine, seed: int, begins: int) -> Iterator[bytes]:
    """Live one night on, with an obedient hub; gives its lines."""
    state = encode(engine.state).decode()
    yield head_line(new_head(room.name, begins, room.text, "0.1.0", state))
    for lived in live_through(engine, Hub(room), make(room, seed, begins, PLAN)):
        if lived.event is not None:
            yield event_line(begins, lived.now, lived.event)
        for decision in lived.decisions:
            yield decision_line(begins, decision, lived.now)


def months(room: Room, folder: Path, nights: int) -> list[Path]:
    """Write nights, one a day, each going on from the one before."""
    engine, paths = RoomEngine(room), []
    for number in range(nights):
        begins = BEGINS + number * A_DAY
        path = folder / f"night-{number:03}.jsonl"
        path.write_bytes(b"\n".join(night_lines(room, engine, number, begins)) + b"\n")
        paths.append(path)
    return paths


def book(path: Path, counts: dict[int, int], creep: float, preset: str) -> None:
    """Measure a lens that creeps so many mm a travel, on some days, as a book.

    `counts` says how many travels there had been by each day.
    """
    chance, lines = Random(3), []
    for number, (day, travels) in enumerate(counts.items(), 1):
        middle = creep * travels + chance.gauss(0, 0.4)
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
