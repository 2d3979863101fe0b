"""Boundaries between ratios that cut through one film.

Settling takes ratios within 2 % of each other for one shape (`engine.aspect.same_shape`), and
what has settled stays. A film of 2.35 may therefore stand as anything from 2.31 to 2.39: rules
that change somewhere between change by accident. 2.35, 2.39 and 2.40 are one film in practice.

A boundary is given by the first ratio after it: `>= 2.30` and `< 2.30` both have it at 2.30.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, NamedTuple

from engine.aspect import NARROWEST, WIDEST, nominal, same_shape
from engine.settle import STANDARD
from engine.value_set import Kind, ValueSet, interval, intervals, show_value
from rules.table.domains import RATIO_STEP, Domain, within_domain
from rules.text.findings import listed

_BROADCAST_RATIO: Final = 15_556
"""14:9 is standardised for broadcasts of what was made in other shapes."""
FILM_RATIOS: Final = tuple(ratio for ratio in STANDARD if ratio != _BROADCAST_RATIO)
"""Ratios that films have."""
RATIO_DOMAIN: Final = Domain(interval(NARROWEST, WIDEST + RATIO_STEP, high_open=True), RATIO_STEP)


class Film(NamedTuple):
    """One ratio that films have."""

    ratio: int
    first: int
    """The least ratio that counts as the same shape, in steps."""
    after: int
    """The least ratio above it that does not."""

    def cut_at(self, boundary: int) -> bool:
        """Tell whether a boundary cuts through it."""
        return self.first < boundary < self.after


class FilmCluster(NamedTuple):
    """Films so near to each other that every boundary between them cuts through one."""

    first: int
    after: int
    films: tuple[Film, ...]


class FragileBoundary(NamedTuple):
    """What is wrong with a test's boundaries, and what to write instead."""

    message: str
    suggestion: str


def fragile_boundaries(region: ValueSet) -> Iterator[FragileBoundary]:
    """Find the boundaries of a test of ratios that cut through films."""
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
    return FragileBoundary(
        f"the boundary at {_shown(boundary)} cuts through {_names(films)}: within 2 % shapes "
        "count as one",
        f"Put it at {_shown(zone.first)} or at {_shown(zone.after)}.",
    )


def _cluster_at(boundary: int) -> FilmCluster | None:
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
    names = listed((_shown(nominal(film.ratio) or 0) for film in films), "and")
    return f"films of {names}" if len(films) > 1 else f"a film of {names}"


def _shown(ratio: int) -> str:
    return show_value(ratio, Kind.RATIO)
