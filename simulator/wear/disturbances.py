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

from simulator.wear.creep import ENOUGH, RepeatabilitySession, Series, believe
from simulator.wear.kalman_filter import Figures
from simulator.wear.stories import CREEP_CHANGES, Followed, follow

DisturbanceKind = Literal["moved", "misread", "unclear", "open"]
"""`unclear`: of the latest reading, moved or misread; `open`: it was read once more there, and it
may still have moved, or no more than walked and scattered."""

SURE: Final = 15.0
"""What is told must be so many times as likely as that nothing happened."""
RARE: Final = 0.05
"""How often the latest reading is one to ask about (a guess)."""
SURE_TO_ASK: Final = 0.05
"""So many times as likely is enough there: to ask costs no more than to read once more."""
ASKED: Final = log(SURE_TO_ASK / RARE)
"""And so many times as likely, as a logarithm, for a question to stay open."""
VISIT: Final = 5
"""Readings so few travels apart are of one visit."""
FAR: Final = 0.5
"""How far a preset moves at once, or a reading is wrong: a standard deviation, in units (guess)."""
SIZES: Final = (0.2, 1.0)
"""The same while a story is weighed: it is small or large, each as likely (a guess)."""
MOST: Final = 6
"""So many things are found at most; a book with more of them holds no creep to speak of."""
PAIRED: Final = 2
"""Where no story is likely enough alone, so many of the likeliest are told with another one."""
HOPELESS: Final = -5.0
"""None is told with another one if the likeliest falls short by more than this, as a logarithm."""

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
    warmth: bool = False
    """Whether the warmth of a year that is not through yet may have moved it just as well."""


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
    named: Found = {one: "unclear" if one == last else kind for one, kind in found.items()}
    if (asked := _open(ways, found)) is not None:
        named[asked] = "open"
    return tuple(
        Disturbance(kind, index, tuple(_moved(way, index, named) for way in ways))
        for index, kind in sorted(named.items())
    )


def _open(ways: Sequence[WayRead], found: Found) -> int | None:
    """Return the latest reading that was taken once more and that may still have moved.

    It stays open for as long as later ones do not say that it had, nor that it had not.
    """
    twice = [_Story(0, one, "moved") for one in _read_twice(ways, found)]
    if not twice:
        return None
    followed = [_followed(way, [found]) for way in ways]
    raised = _raised(followed, [one.plain() for one in followed], twice)
    asked = (one.reading for one, by in zip(twice, raised, strict=True) if by > ASKED)
    return next(asked, None)


def _read_twice(ways: Sequence[WayRead], found: Found) -> Iterator[int]:
    """Yield each reading that stood where it was when it was taken once more, the last first."""
    series = ways[0].series
    for again in range(len(series) - 1, ENOUGH - 1, -1):
        if series[again].resets or series[again - 1].resets:
            return
        if series[again].travels - series[again - 1].travels > VISIT:
            continue
        steps = [np.diff([one.offset for one in way.series[again - 2 : again + 1]]) for way in ways]
        there, back = max(steps, key=lambda one: abs(one[0]))
        if abs(back) < abs(there) / 2 and not {again - 1, again} & found.keys():
            yield again - 1


def gain(ways: Sequence[WayRead], found: Found) -> float:
    """Return how much likelier it is that this happened than nothing, all told, as a logarithm."""
    if not found:
        return 0.0
    nothing, this = CREEP_CHANGES[:, 0], CREEP_CHANGES[:, 0]
    for way in ways:
        plain = follow([way.series, told(way.series, found)], way.sessions, way.doubt).plain()
        nothing, this = nothing + plain[:, 0], this + np.logaddexp(plain[:, 0], plain[:, 1])
    raised = np.logaddexp.reduce(this) - np.logaddexp.reduce(nothing)
    explained = [one for one in found.items() if one[1] != "open"]
    beforehand = sum(log(_beforehand(ways[0].series, *one)) for one in explained)
    return float(in_some(raised, len(ways))) + beforehand


def told(series: Series, found: Found) -> Series:
    """Return measurements with what happened noted at each."""
    return tuple(
        one
        if found.get(index, "open") == "open"
        else one._replace(wrong=FAR)
        if found[index] == "misread"
        else one._replace(jumped=FAR)
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
    followed = [_followed(way, [found]) for way in ways]
    before = [one.plain() for one in followed]
    tales = [found]
    for _ in range(min(2, MOST - len(found))):
        stories = [one for row, tale in enumerate(tales) for one in _stories(ways, tale, row)]
        if not stories:
            break
        raised = _raised(followed, before, stories)
        tales = [{**tales[one.row], one.reading: one.kind} for one in stories]
        needed = [_needed(dict(one.items() - found.items()), ways[0].series) for one in tales]
        gains = raised - needed
        order = [int(one) for one in np.argsort(-gains)]
        for one in order:
            if gains[one] <= 0:
                break
            if _stands(ways, found, tales[one]):
                return tales[one]
        if gains[order[0]] < HOPELESS:
            break
        tales = [tales[one] for one in order[:PAIRED]]
        followed = [_followed(way, tales) for way in ways]
    return None


def _stands(ways: Sequence[WayRead], found: Found, tale: Found) -> bool:
    """Tell whether what is told besides a question on the latest reading holds without it."""
    last = len(ways[0].series) - 1
    more = [one for one in tale.items() if one[0] not in found]
    earlier = [_Story(0, *one) for one in more if one[0] != last]
    if len(earlier) == len(more) or not earlier:
        return True
    short = [way._replace(series=way.series[:-1]) for way in ways]
    followed = [_followed(way, [found]) for way in short]
    raised = _raised(followed, [one.plain() for one in followed], earlier)
    return float(raised[0]) > log(SURE) - log(_beforehand(ways[0].series, *earlier[0][1:]))


def _raised(
    followed: Sequence[Followed], before: Sequence[Figures], stories: Sequence[_Story]
) -> Figures:
    """Return by how much each story raises the logarithm of how likely the measurements are."""
    none, either = CREEP_CHANGES, CREEP_CHANGES
    for plain, one in zip(before, followed, strict=True):
        none = none + plain
        either = either + np.logaddexp(plain, _weighed(one, stories))
    return in_some(np.logaddexp.reduce(either) - np.logaddexp.reduce(none), len(followed))


def in_some(either: Figures, ways: int) -> Figures:
    """Return how much likelier stories are, as logarithms.

    In each way something has happened or nothing has, and not nothing in all.
    """
    some = either + np.log(-np.expm1(-np.maximum(either, 1e-12)))
    return np.asarray(some - log(2**ways - 1))


def _weighed(followed: Followed, stories: Sequence[_Story]) -> Figures:
    """Return the logarithm of how likely one way's measurements are in each story."""
    rows, readings = [one.row for one in stories], [one.reading for one in stories]
    moves = np.array([one.kind == "moved" for one in stories])
    each = []
    for size in SIZES:
        moved, misread = followed.with_one_more(size)
        each.append(np.where(moves, moved[:, rows, readings], misread[:, rows, readings]))
    return np.asarray(np.logaddexp.reduce(each) - log(len(SIZES)))


def _followed(way: WayRead, tales: Sequence[Found]) -> Followed:
    return follow([told(way.series, tale) for tale in tales], way.sessions, way.doubt)


def _needed(more: Found, series: Series) -> float:
    """Return by how much stories must raise the logarithm of how likely the measurements are."""
    sure = SURE_TO_ASK if len(series) - 1 in more else SURE
    return log(sure) - sum(log(_beforehand(series, *one)) for one in more.items())


def _beforehand(series: Series, index: int, kind: DisturbanceKind) -> float:
    """Return how likely a story is beforehand.

    A whole book is given one bump, in some travel or other, and one wrong reading. So whoever looks
    often is told falsely no more often than who looks seldom.
    """
    first, before = series[0], series[index - 1].travels if index else 0
    if index == len(series) - 1:  # within one visit nothing but a wrong reading is in question
        return RARE if series[index].travels - before > VISIT else RARE / 2
    if kind == "misread":
        return 1 / len(series)
    travels = series[-1].travels - (first.travels if first.resets else 0)
    return (series[index].travels - before + 1) / (travels + len(series))  # a look counts as one


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

    as_read = found[index] in {"misread", "open"}
    seen = way.series[index].offset if as_read else stood(index + 1)
    return seen - stood(index)
