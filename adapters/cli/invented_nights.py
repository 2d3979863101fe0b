"""Write made-up nights into a folder, a file for each evening."""

from __future__ import annotations

from datetime import date, datetime, time
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

from adapters.cli.files import make_folder, write_lines
from adapters.cli.moments import within_years
from engine import RoomEngine
from engine.errors import UnusableError
from engine.events import milliseconds, moment_of
from engine.room import Room
from engine.state import DAY
from simulator.nights.invention import BEGINS, NightPlan, following_night

EVENING: Final = time(19, 30)


def read_evening(text: str | None, zone: str) -> int:
    """Read a date as its evening in a zone, in ms UTC; raises `UnusableError`."""
    try:
        day = moment_of(BEGINS).date() if text is None else date.fromisoformat(text)
        evening = datetime.combine(day, EVENING, ZoneInfo(zone))
    except ValueError:
        raise UnusableError(f"--begins {text} is no date: write one such as 2026-05-01") from None
    return within_years(milliseconds(evening), f"{day}")


def write_invented_nights(  # noqa: PLR0913, PLR0917 - how many of what, and where
    room: Room,
    seed: int,
    plan: NightPlan,
    version: str,
    begins: int,
    nights: int,
    out: Path | None,
    *,
    replace: bool = False,
) -> list[Path]:
    """Write one night a day into a folder, the first at `begins` (ms UTC); give their paths.

    Each night goes on from the one before. Raises `UnusableError`.
    """
    if out is None:
        raise UnusableError("name a folder for these nights with --out")
    last = begins + (nights - 1) * DAY
    within_years(last, f"{moment_of(last):%Y-%m-%d}")
    make_folder(out)
    engine, paths = RoomEngine(room), []
    for number in range(nights):
        paths.append(out / f"night-{number + 1:03}.jsonl")
        lines = following_night(engine, seed + number, begins + number * DAY, plan, version)
        write_lines(paths[-1], lines, replace=replace)
    return paths
