"""Settle files of raw letterbox readings, line by line, as a live room would."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import islice
from typing import Annotated, Final, NamedTuple

from pydantic import Field, TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass

from adapters.cli.file_kinds import LOOKED_AT, other_kind
from engine import settle
from engine.errors import UnusableError
from engine.event_fields import Count
from engine.events import STRICT_WHEN_NEEDED
from engine.formats import Raster
from engine.malformed import describe_line
from simulator import HEAD_BEGINS
from simulator.nights.night_file import BadLine

_RASTER: Final = re.compile(r"(\d{3,5})\s*x\s*(\d{3,5})")


JOIN: Final = 1_000
"""How far back the time may go where two recordings are joined (ms)."""


A_READING: Final = (
    'a line is {"t": 12.5, "bars": {"top": 138, "bottom": 138, "left": 0, "right": 0}}, '
    "or has null for the bars of a black picture"
)
NO_READINGS_ALONE: Final = (
    "this is a night, and a file of readings is meant here. roomcue replay and why say what a "
    f"night's readings settled on. To settle readings alone: {A_READING}"
)


class BadReadingsError(UnusableError):
    """A file that holds no readings at all."""


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT_WHEN_NEEDED)
class _Bars:
    top: Count
    bottom: Count
    left: Count
    right: Count


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT_WHEN_NEEDED)
class _Reading:
    t: Annotated[float, Field(ge=0, le=10_000_000)]
    bars: _Bars | None


_READINGS: Final[TypeAdapter[_Reading]] = TypeAdapter(_Reading)


class Change(NamedTuple):
    """What the readings settled on at `t` seconds."""

    t: float
    aspect: int | None
    subtitles: bool


class _At(NamedTuple):
    """A good reading and its time in ms."""

    now: int
    bars: _Bars | None


def raster_option(text: str) -> Raster:
    """Read "1920x1080"; raises `BadReadingsError`."""
    found = _RASTER.fullmatch(text.strip())
    if found is None:
        raise BadReadingsError(f"'{text}' is no raster: write 1920x1080")
    return Raster(int(found[1]), int(found[2]))


def settle_readings(
    name: object, lines: Iterable[bytes], raster: Raster
) -> Iterator[Change | BadLine]:
    """Settle readings that count in a raster; give each settled change and each bad line.

    Raises `BadReadingsError`, which names the file: for a night, and if no line was a reading.
    """
    pace, settling = settle.DwellTimes(), settle.UNSETTLED
    last: _Bars | str | None = "none yet"
    for reading in _good_readings(name, lines, raster):
        if isinstance(reading, BadLine):
            yield reading
            continue
        before, now = settling, reading.now
        while settling.deadline is not None and settling.deadline <= now:
            when = settling.deadline
            settling = settle.elapse(settling, when)
            yield from _changed(before, settling, when)
            before = settling
        if reading.bars != last:
            last = reading.bars
            settling = settle.take_bars(pace, settling, _counted(last, raster), now)
            yield from _changed(before, settling, now)


def _good_readings(name: object, lines: Iterable[bytes], raster: Raster) -> Iterator[_At | BadLine]:
    """Read the lines; raises `BadReadingsError` at the end if none was a reading."""
    latest, good = 0, False
    for number, line in enumerate(_not_of_another_kind(name, iter(lines)), 1):
        if not line.strip():
            continue
        try:
            reading = _READINGS.validate_json(line)
        except ValidationError as error:
            if line.startswith(HEAD_BEGINS):
                raise BadReadingsError(f"{name}: {NO_READINGS_ALONE}") from error
            yield BadLine(number, describe_line(line, error))
            continue
        now = round(reading.t * 1_000)
        if latest - JOIN <= now < latest:
            now = latest
        problem = _problem(reading.bars, raster, now, latest)
        if problem is not None:
            yield BadLine(number, problem)
            continue
        latest, good = now, True
        yield _At(now, reading.bars)
    if not good:
        raise BadReadingsError(f"{name}: this file holds no readings: {A_READING}")


def _not_of_another_kind(name: object, lines: Iterator[bytes]) -> Iterator[bytes]:
    """Give the lines on; raises `BadReadingsError` where they begin as another file of ours does.

    One that begins with a brace and more is judged by itself, so that readings are settled as they
    come.
    """
    for first in lines:
        alone = first.startswith(b"{") and first.strip() != b"{"
        begins = [first] if alone else [first, *islice(lines, LOOKED_AT)]
        other = other_kind(b"".join(begins), "a file of readings", instead=A_READING)
        if other is not None and not first.startswith(HEAD_BEGINS):
            raise BadReadingsError(f"{name}: {other}")
        yield from begins
        yield from lines


def _counted(bars: _Bars | None, raster: Raster) -> settle.BarReading | None:
    if bars is None:
        return None
    return settle.BarReading(bars.top, bars.bottom, bars.left, bars.right, *raster)


def _changed(before: settle.Settling, after: settle.Settling, now: int) -> Iterator[Change]:
    if (after.aspect, after.subtitles) != (before.aspect, before.subtitles):
        yield Change(now / 1_000, after.aspect, after.subtitles)


def _problem(bars: _Bars | None, raster: Raster, now: int, latest: int) -> str | None:
    """Say what is wrong with a reading, if anything is."""
    if now < latest:
        return f"t goes back from {latest / 1_000:g} to {now / 1_000:g}"
    if bars is None:
        return None
    if bars.top + bars.bottom > raster.rows or bars.left + bars.right > raster.columns:
        size = f"{raster.columns} x {raster.rows}"
        return f"the bars are larger than the raster of {size}: name theirs with --raster"
    return None
