"""Drive the settle filter in tests: lay pictures into rasters, read them, let time pass."""

from __future__ import annotations

from collections.abc import Iterable
from random import Random

from hypothesis import strategies as st
from pydantic import ConfigDict, TypeAdapter

from engine.settle import (
    UNSETTLED,
    BarReading,
    DwellTimes,
    Outline,
    Settling,
    elapse,
    take_bars,
)
from engine.settle.shapes import STANDARD, outline_of, scale_of
from tests.engine import settle_sets as sets
from tests.engine.settle_score import within

DWELL = DwellTimes()
FINE = (sets.HD, sets.Raster(3840, 2160), sets.Raster(4096, 2160))
SETTLINGS: TypeAdapter[Settling] = TypeAdapter(Settling, config=ConfigDict(strict=True))

ratios = st.sampled_from(sets.STANDARD)
odd_ratios = st.sampled_from(sets.ODD)
rasters = st.sampled_from(FINE)
seeds = st.integers(0, 2**32)


def bars(edges: sets.Edges, raster: sets.Raster = sets.HD) -> BarReading:
    return BarReading(*edges, *raster)


def laid(ratio: int, raster: sets.Raster = sets.HD, shrink: int = 100) -> BarReading:
    return bars(sets.lay_in(ratio, raster, shrink), raster)


def outline(ratio: int, shrink: int = 100, raster: sets.Raster = sets.HD) -> Outline:
    """Say where the bars of a shape lie in a raster."""
    top, bottom, left, right = sets.lay_in(ratio, raster, shrink)
    standard = ratio in STANDARD
    return outline_of(ratio, top + bottom, left + right, scale_of(*raster), standard=standard)


def later(settling: Settling, now: int) -> Settling:
    """Let time pass without any reading."""
    while settling.deadline is not None and settling.deadline <= now:
        settling = elapse(settling, settling.deadline)
    return settling


def told(*readings: tuple[int, BarReading | None], before: Settling = UNSETTLED) -> Settling:
    """Take readings at their times."""
    settling = before
    for now, reading in readings:
        settling = take_bars(DWELL, later(settling, now), reading, now)
    return settling


def settled(ratio: int, raster: sets.Raster = sets.HD, shrink: int = 100) -> Settling:
    """The filter settled on a shape, at a time before 0."""
    settling = later(told((-60_000, laid(ratio, raster, shrink))), 0)
    assert within(settling.aspect, ratio)
    return settling


def lag(
    ratio: int, readings: Iterable[tuple[int, BarReading | None]], before: Settling
) -> int | None:
    """Milliseconds from the first reading until the aspect is right; None if it never is."""
    settling, first = before, None
    for now, reading in readings:
        first = now if first is None else first
        while settling.deadline is not None and settling.deadline <= now:
            at = settling.deadline
            settling = elapse(settling, at)
            if within(settling.aspect, ratio):
                return at - first
        settling = take_bars(DWELL, settling, reading, now)
        if within(settling.aspect, ratio):
            return now - first
    while settling.deadline is not None and first is not None:
        at = settling.deadline
        settling = elapse(settling, at)
        if within(settling.aspect, ratio):
            return at - first
    return None


def played(
    scene: sets.Scene, ratio: int, seed: int, seconds: float = 30, raster: sets.Raster = sets.HD
) -> list[tuple[int, BarReading | None]]:
    """A scene's readings from 0 on."""
    part = sets.Part(scene, ratio, seconds)
    return list(sets.make(Random(seed), raster, [part]).readings)


def aspects(readings: Iterable[tuple[int, BarReading | None]], before: Settling) -> set[int | None]:
    """All that is ever settled on while these are read."""
    settling, seen = before, {before.aspect}
    for now, reading in readings:
        settling = later(settling, now)
        seen.add(settling.aspect)
        settling = take_bars(DWELL, settling, reading, now)
        seen.add(settling.aspect)
    return seen
