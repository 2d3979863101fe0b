"""Find what no creep explains: a preset that was bumped or stored anew, a reading that is wrong.

For each measurement two stories are told beside the plain one: the preset had moved at once since
the measurement before, or this reading alone is wrong. The measurements themselves say how likely
each story makes them (a Bayesian change point). A story is believed if it is likely enough though
it is rare, and then the next one is looked for. Of the latest measurement nobody can tell whether
the preset moved or the reading is wrong, until it is read once more.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from math import log
from typing import Final, Literal, NamedTuple

from simulator.wear.creep import Belief, Observation

DisturbanceKind = Literal["moved", "misread", "unclear"]

RARE: Final = 0.02
"""How often, in so many measurements, such a thing happens (a guess)."""
SURE: Final = 5.0
"""A story must be so many times as likely as that nothing happened."""
SURE_OF_LAST: Final = 0.5
"""The same for the latest measurement, where it costs no more than to read once more."""
FAR: Final = 0.5
"""How far a preset moves at once, or a reading is wrong, as a standard deviation, in units."""
NOTABLE: Final = 0.1
"""Only where a measurement this unlikely is seen is a story looked for."""
MOST: Final = 6
"""So many things are found at most; a book with more of them holds no creep to speak of."""

Found = dict[int, DisturbanceKind]
"""What happened, by the number of the measurement that shows it."""
Series = tuple[Observation, ...]
Believe = Callable[[int, Series], Belief]
"""Gives the belief about one of the ways in which a preset moves, by its index."""


class Disturbance(NamedTuple):
    """One thing that creep does not explain."""

    kind: DisturbanceKind
    reading: int
    """The number of the measurement that shows it, from 0."""
    by: tuple[float, ...]
    """How far the preset had moved in each way since the measurement before, in units."""


def disturbances(ways: Sequence[Series], believe: Believe) -> tuple[Disturbance, ...]:
    """Return what happened to a preset, in order of time.

    `ways` holds its measurements once for each way in which it moves, all of the same length.
    """
    found: Found = {}
    while len(found) < MOST:
        more = _likelier(ways, believe, found)
        if more is None:
            break
        found = more
    last = len(ways[0]) - 1
    return tuple(
        Disturbance(
            "unclear" if index == last else kind,
            index,
            tuple(_moved(one, number, index, found, believe) for number, one in enumerate(ways)),
        )
        for index, kind in sorted(found.items())
    )


def told(series: Series, found: Found) -> Series:
    """Return measurements with what happened noted at each."""
    return tuple(
        one
        if index not in found
        else one._replace(wrong=FAR)
        if found[index] == "misread"
        else one._replace(jumped=FAR)
        for index, one in enumerate(series)
    )


def kinds(found: Sequence[Disturbance]) -> dict[int, DisturbanceKind]:
    """Return what happened, by the measurement that shows it."""
    return {one.reading: one.kind for one in found}


def _likelier(ways: Sequence[Series], believe: Believe, found: Found) -> Found | None:
    """Return what happened with one story more, or two; None if none is likely enough.

    Of two bumps each may look like scatter while the other one is not told, so where no single
    story is likely enough they are told in pairs.
    """
    plain = _beliefs(ways, believe, found)
    surprise = _surprise(plain)
    if min(surprise, default=1.0) >= NOTABLE:
        return None
    before, last = sum(one.evidence for one in plain), len(ways[0]) - 1
    best: Found | None = None
    most, tales = 0.0, []
    for index, kind in _stories(ways[0], surprise, found):
        tale = {**found, index: kind}
        beliefs = _beliefs(ways, believe, tale)
        gain = sum(one.evidence for one in beliefs) - before - _needed(index, last)
        tales.append((tale, _surprise(beliefs), before + _needed(index, last)))
        if gain > most:
            best, most = tale, gain
    if best is not None or len(found) + 2 > MOST:
        return best
    for tale, surprised, needed in tales:
        for index, kind in _stories(ways[0], surprised, tale):
            two = {**tale, index: kind}
            gain = sum(one.evidence for one in _beliefs(ways, believe, two))
            gain -= needed + _needed(index, last)
            if gain > most:
                best, most = two, gain
    return best


def _needed(index: int, last: int) -> float:
    """Return by how much a story must raise the logarithm of how likely the measurements are."""
    return log((SURE_OF_LAST if index == last else SURE) / RARE)


def _beliefs(ways: Sequence[Series], believe: Believe, found: Found) -> list[Belief]:
    return [believe(number, told(one, found)) for number, one in enumerate(ways)]


def _surprise(beliefs: Sequence[Belief]) -> list[float]:
    """Return how unlikely each measurement was, in the way in which it was most unlikely."""
    return [min(at) for at in zip(*(one.surprise for one in beliefs), strict=True)]


def _stories(
    series: Series, surprise: Sequence[float], found: Found
) -> Iterator[tuple[int, DisturbanceKind]]:
    """Yield the stories worth telling: at what is unlikely, and just before it."""
    for index, one in enumerate(series):
        near = min(surprise[index : index + 2])
        if near >= 2 * NOTABLE or one.resets or index in found:
            continue
        yield index, "moved"
        if index < len(series) - 1:
            yield index, "misread"


def _moved(series: Series, number: int, index: int, found: Found, believe: Believe) -> float:
    """Return how far the preset stood from where it was expected, at one measurement."""
    noted = told(series, found)
    expected = believe(number, noted[:index]).points(series[index].travels)[1]
    if found[index] == "misread":
        return series[index].offset - expected
    return believe(number, noted[: index + 1]).points(series[index].travels)[1] - expected
