"""Fragile boundaries: limits in a test of ratios that cut through one film's range.

Settling treats ratios within 2 % of each other as one shape (`engine.aspect.same_shape`) and keeps
the first one. A film of 2.35 may therefore settle anywhere from 2.31 to 2.39, and a rule with a
limit in that range applies by accident. 2.35, 2.39 and 2.40 are one film in practice.

Films further apart than that are told apart although their ranges overlap: a shape that nobody
standardised gives way to the standard one that it is like. A limit in the middle between 1.85 and
1.90 therefore cuts through neither.

A boundary is named by the first ratio above it: `>= 2.30` and `< 2.30` both have it at 2.30.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Final, NamedTuple

from engine.aspect import NARROWEST, WIDEST, in_hundredths, same_shape
from engine.settle import STANDARD
from engine.value_set import Kind, ValueSet, interval, intervals, show_value
from rules.table.domains import RATIO_STEP, Domain, within_domain
from rules.text.findings import listed

_BROADCAST_RATIO: Final = 15_556
"""14:9, a standard ratio for broadcasts of material made in other ratios."""
FILM_RATIOS: Final = tuple(ratio for ratio in STANDARD if ratio != _BROADCAST_RATIO)
"""The standard ratios in which films are made, in 1/10,000."""
RATIO_DOMAIN: Final = Domain(interval(NARROWEST, WIDEST + RATIO_STEP, high_open=True), RATIO_STEP)


def middle_between(low: int, high: int) -> int | None:
    """Give the first ratio (1/10,000) that is nearer to the higher of two films of these shapes.

    None: they are no two films, or films that count as the same shape.
    """
    if same_shape(low, high):
        return None
    for one, other, middle in _MIDDLES:
        if low < middle <= high and same_shape(low, one) and same_shape(high, other):
            return middle
    return None


def _middles() -> Iterator[tuple[int, int, int]]:
    for one, other in pairwise(sorted(FILM_RATIOS)):
        if not same_shape(one, other):
            yield one, other, -(-(one + other) // (2 * RATIO_STEP)) * RATIO_STEP


_MIDDLES: Final = tuple(_middles())
"""Two films that are neighbours, and the first ratio that is nearer to the higher one."""


class Film(NamedTuple):
    """One ratio of films, and the range that counts as the same shape; all in 1/10,000."""

    ratio: int
    first: int
    """The smallest ratio that counts as the same shape."""
    after: int
    """The first ratio above the range: the test rejects it."""

    def cut_at(self, boundary: int) -> bool:
        """Tell whether a boundary lies within the film's range."""
        return self.first < boundary < self.after


class FilmCluster(NamedTuple):
    """Films whose ranges overlap, so that no boundary fits between them.

    From `first` up to but not including `after`, in 1/10,000.
    """

    first: int
    after: int
    films: tuple[Film, ...]


class FragileBoundary(NamedTuple):
    """The sentence about a fragile boundary, and what to write instead."""

    message: str
    suggestion: str


def fragile_boundaries(region: ValueSet) -> Iterator[FragileBoundary]:
    """Find the boundaries in a test of ratios that cut through a film's range."""
    for start, end in intervals(within_domain(region, RATIO_DOMAIN)):
        low, high = int(start.value if start else 0), int(end.value if end else 0)
        at_low, at_high = _cluster_at(low), _cluster_at(high)
        if at_low and at_low == at_high:
            yield _holds_a_part(at_low)
            continue
        for boundary, zone in ((low, at_low), (high, at_high)):
            if zone:
                yield _cuts_through(boundary, zone)


def _holds_a_part(zone: FilmCluster) -> FragileBoundary:
    return FragileBoundary(
        f"this holds a part of {_names(zone.films)} only: within 2 % shapes count as one",
        f"[{_shown(zone.first)}..{_shown(zone.after)}) holds them whole.",
    )


def _cuts_through(boundary: int, zone: FilmCluster) -> FragileBoundary:
    films = tuple(film for film in zone.films if film.cut_at(boundary))
    spared = [
        zone.first,
        *(one for *_, one in _MIDDLES if zone.first < one < zone.after),
        zone.after,
    ]
    return FragileBoundary(
        f"the boundary at {_shown(boundary)} cuts through {_names(films)}: within 2 % shapes "
        "count as one",
        f"Put it at {listed([_shown(one) for one in spared], 'or at')}.",
    )


def _cluster_at(boundary: int) -> FilmCluster | None:
    if any(boundary == middle for *_, middle in _MIDDLES):
        return None
    return next((zone for zone in FILM_CLUSTERS if zone.first < boundary < zone.after), None)


def _films() -> Iterator[Film]:
    for ratio in sorted(FILM_RATIOS):
        one = [near for near in range(NARROWEST, WIDEST + 1, RATIO_STEP) if same_shape(near, ratio)]
        yield Film(ratio, one[0], one[-1] + RATIO_STEP)


def _clusters() -> Iterator[FilmCluster]:
    films: tuple[Film, ...] = ()
    for film in _films():
        if films and film.first >= films[-1].after:
            yield FilmCluster(films[0].first, films[-1].after, films)
            films = ()
        films = (*films, film)
    yield FilmCluster(films[0].first, films[-1].after, films)


FILM_CLUSTERS: Final = tuple(_clusters())


def _names(films: tuple[Film, ...]) -> str:
    names = listed((_shown(in_hundredths(film.ratio) or 0) for film in films), "and")
    return f"films of {names}" if len(films) > 1 else f"a film of {names}"


def _shown(ratio: int) -> str:
    return show_value(ratio, Kind.RATIO)
