"""Find what no creep explains: a preset that was bumped or stored anew, a reading that is wrong.

For each measurement two stories are told beside the plain one: the preset had moved at once since
the measurement before, or this reading alone is wrong. The measurements themselves say how likely
each story makes them (a Bayesian change point). A story is believed if it is likely enough though
it is rare, and then the next one is looked for. Of the latest measurement nobody can tell whether
the preset moved or the reading is wrong, until it is read once more.

What moves a preset moves it sideways, up, in size, or in some of these; where it stays still the
plain story holds. So no way speaks against a bump by having none.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import log
from typing import Final, Literal, NamedTuple

import numpy as np

from simulator.wear.creep import RepeatabilitySession, Series, believe
from simulator.wear.kalman_filter import Figures
from simulator.wear.stories import Followed, follow

DisturbanceKind = Literal["moved", "misread", "unclear"]

RARE: Final = 0.05
"""How often, in so many measurements, such a thing happens (a guess)."""
SURE: Final = 2.0
"""What is told must be so many times as likely as that nothing happened."""
SURE_AGAIN: Final = 0.15
"""The same where a preset moved and was read once more, for as long as that is the last visit."""
SURE_TO_ASK: Final = 0.05
"""The same of the latest reading: to ask costs no more than to read once more."""
VISIT: Final = 5
"""Readings so few travels apart are of one visit."""
FAR: Final = 0.5
"""How far a preset moves at once, or a reading is wrong, as a standard deviation, in units."""
SIZES: Final = (0.2, 1.0)
"""The same while stories are compared: a bump is small or large, each as likely."""
MOST: Final = 6
"""So many things are found at most; a book with more of them holds no creep to speak of."""
PAIRED: Final = 4
"""Where no story is likely enough alone, so many of the likeliest are told with another one."""

Found = dict[int, DisturbanceKind]
"""What happened, by the number of the measurement that shows it."""


class WayRead(NamedTuple):
    """One of the ways in which a preset moves: its measurements, and what is known besides."""

    series: Series
    sessions: tuple[RepeatabilitySession, ...] = ()
    doubt: float = 0.0


class Disturbance(NamedTuple):
    """One thing that creep does not explain."""

    kind: DisturbanceKind
    reading: int
    """The number of the measurement that shows it, from 0."""
    by: tuple[float, ...]
    """How far the preset had moved in each way since the measurement before, in units."""
    side: bool = False
    """Whether the lens may as well have come from its other side, for nothing tells."""


class _Story(NamedTuple):
    """What may have happened at one measurement besides what a tale says."""

    row: int
    """Which tale."""
    reading: int
    kind: DisturbanceKind


def disturbances(ways: Sequence[WayRead]) -> tuple[Disturbance, ...]:
    """Return what happened to a preset, in order of time.

    Its measurements come once for each way in which it moves, all of the same length.
    """
    found: Found = {}
    while (more := _likelier(ways, found)) is not None:
        found = more
    last = len(ways[0].series) - 1
    return tuple(
        Disturbance(
            "unclear" if index == last else kind,
            index,
            tuple(_moved(way, index, found) for way in ways),
        )
        for index, kind in sorted(found.items())
    )


def told(series: Series, found: Found, far: float = FAR) -> Series:
    """Return measurements with what happened noted at each."""
    return tuple(
        one
        if index not in found
        else one._replace(wrong=far)
        if found[index] == "misread"
        else one._replace(jumped=far)
        for index, one in enumerate(series)
    )


def kinds(found: Sequence[Disturbance]) -> dict[int, DisturbanceKind]:
    """Return what happened, by the measurement that shows it."""
    return {one.reading: one.kind for one in found}


def _likelier(ways: Sequence[WayRead], found: Found) -> Found | None:
    """Return what happened with one story more, or two; None if none is likely enough.

    Of two bumps each may look like scatter while the other one is not told, so where no single
    story is likely enough the likeliest are told in pairs.
    """
    before = [_followed(way, [found], FAR).plain() for way in ways]
    tales = [found]
    for _ in range(min(2, MOST - len(found))):
        stories = [one for row, tale in enumerate(tales) for one in _stories(ways, tale, row)]
        if not stories:
            break
        either = np.zeros(len(stories))
        for way, plain in zip(ways, before, strict=True):
            either = either + np.logaddexp(0, _weighed(way, tales, stories) - plain)
        tales = [{**tales[one.row], one.reading: one.kind} for one in stories]
        needed = [_needed(dict(one.items() - found.items()), ways[0].series) for one in tales]
        gains = _in_some(either, len(ways)) - needed
        best = int(np.argmax(gains))
        if gains[best] > 0:
            return tales[best]
        tales = [tales[int(one)] for one in np.argsort(-gains)[:PAIRED]]
    return None


def _in_some(either: Figures, ways: int) -> Figures:
    """Return how much likelier stories are, as logarithms.

    In each way something has happened or nothing has, and not nothing in all.
    """
    some = either + np.log(-np.expm1(-np.maximum(either, 1e-12)))
    return np.asarray(some - log(2**ways - 1))


def _weighed(way: WayRead, tales: Sequence[Found], stories: Sequence[_Story]) -> Figures:
    """Return the logarithm of how likely one way's measurements are in each story."""
    rows, readings = [one.row for one in stories], [one.reading for one in stories]
    moves = np.array([one.kind == "moved" for one in stories])
    each = []
    for size in SIZES:
        moved, misread = _followed(way, tales, size).with_one_more(size)
        each.append(np.where(moves, moved[rows, readings], misread[rows, readings]))
    return np.asarray(np.logaddexp.reduce(each) - log(len(SIZES)))


def _followed(way: WayRead, tales: Sequence[Found], size: float) -> Followed:
    return follow([told(way.series, tale, size) for tale in tales], way.sessions, way.doubt)


def _needed(more: Found, series: Series) -> float:
    """Return by how much stories must raise the logarithm of how likely the measurements are."""
    sure = min((_sure(series, index) for index in more if more[index] == "moved"), default=SURE)
    return log(sure) - len(more) * log(RARE)


def _sure(series: Series, index: int) -> float:
    """Return how many times as likely it must be that a preset had moved at a measurement."""
    if index == len(series) - 1:
        return SURE_TO_ASK
    return SURE_AGAIN if series[-1].travels - series[index].travels <= VISIT else SURE


def _stories(ways: Sequence[WayRead], tale: Found, row: int) -> Iterator[_Story]:
    """Yield each story that may be told besides a tale."""
    series = ways[0].series
    for index, one in enumerate(series):
        if not one.resets and index not in tale:
            yield _Story(row, index, "moved")
            if index < len(series) - 1:
                yield _Story(row, index, "misread")


def _moved(way: WayRead, index: int, found: Found) -> float:
    """Return how far the preset stood from where it was expected, at one measurement."""
    noted, count = told(way.series, found), way.series[index].travels

    def stood(upto: int) -> float:
        return believe(noted[:upto], way.sessions, doubt=way.doubt).points(count)[1]

    seen = way.series[index].offset if found[index] == "misread" else stood(index + 1)
    return seen - stood(index)
