"""Divide the axis of ratios into bands, each with one preset and one arrangement of panels.

If there are several presets, each ratio gets the one with the longest zoom that still shows it as
large as the screen allows. If there are panels, each ratio gets the arrangement that leaves it
free. No band ends within a film's range (`rules.table.boundaries`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from engine.aspect import NARROWEST, same_shape
from rules.starter.wish_pieces import WishPiece
from rules.table.boundaries import FILM_CLUSTERS, middle_between
from rules.table.domains import RATIO_STEP


class RatioBand(NamedTuple):
    """A part of the axis of ratios with one preset and one arrangement of panels."""

    first: int | None
    """The first ratio of the band; None: it starts with the narrowest ratio."""
    after: int | None
    """The first ratio of the next band; None: this band goes up to the widest ratio."""
    preset: str | None
    """None if the zoom never moves."""
    panels: str | None
    """None if the room has no panels."""


class RatioPoint(NamedTuple):
    """A preset or an arrangement of panels on the axis of ratios."""

    at: int
    """Its place on the axis; a preset's is limited to the range between screen and raster."""
    ratio: int
    """The ratio as it was wished for, in 1/10,000."""
    name: str
    upwards: bool
    """Whether it serves the ratios up to its own; if not, it serves those from its own on."""
    piece: WishPiece | None = None
    """Where it was typed; None for the bare screen, which is always there."""


class AxisRun(NamedTuple):
    """The part of the axis that one preset or arrangement serves, up to the next run's first."""

    first: int
    name: str


def too_near(points: Sequence[RatioPoint]) -> Iterator[tuple[RatioPoint, RatioPoint]]:
    """List neighbours that are equal, or so near that no boundary between them spares a film."""
    for one, other in pairwise(points):
        if not one.at < _cut(one, other) <= other.at:
            yield one, other


def runs_of(points: Sequence[RatioPoint], parted: Sequence[int] = ()) -> list[AxisRun]:
    """Divide the axis among points, which must be ascending and far enough apart.

    Where the axis is `parted` already, one shape ends, and what is made for it ends there too.
    """
    if not points:
        return []
    cuts = (
        AxisRun(_nearest_cut(one, other, parted), other.name) for one, other in pairwise(points)
    )
    return [AxisRun(NARROWEST, points[0].name), *cuts]


def _nearest_cut(one: RatioPoint, other: RatioPoint, parted: Sequence[int]) -> int:
    """Give the cut between two neighbours that is nearest to the one that decides on it."""
    cut = _cut(one, other)
    if one.upwards:
        return min((place for place in parted if one.at < place < cut), default=cut)
    return max((place for place in parted if cut < place <= other.at), default=cut)


def _cut(one: RatioPoint, other: RatioPoint) -> int:
    """Give the first ratio that the second of two neighbours serves."""
    cut = _first_beyond_shape(one.at) if one.upwards else _first_within_shape(other.at)
    if one.at < cut <= other.at:
        return cut
    return middle_between(one.at, other.at) or cut  # Such as 1.85 and 1.90.


def _first_beyond_shape(ratio: int) -> int:
    """Give the first ratio above one that is another shape, moved up past any film's range."""
    cut = ratio
    while same_shape(cut, ratio):
        cut += RATIO_STEP
    return next((zone.after for zone in FILM_CLUSTERS if zone.first < cut < zone.after), cut)


def _first_within_shape(ratio: int) -> int:
    """Give the first ratio that is still the same shape, moved down before any film's range."""
    cut = ratio
    while same_shape(cut - RATIO_STEP, ratio):
        cut -= RATIO_STEP
    return next((zone.first for zone in FILM_CLUSTERS if zone.first < cut < zone.after), cut)


def bands_of(zooms: Sequence[AxisRun], covers: Sequence[AxisRun]) -> tuple[RatioBand, ...]:
    """Divide the axis wherever another preset or other panels begin."""
    firsts = sorted({NARROWEST, *(run.first for run in (*zooms, *covers))})
    ends = (*firsts[1:], None)
    return tuple(
        RatioBand(
            None if first == NARROWEST else first,
            end,
            _name_at(zooms, first),
            _name_at(covers, first),
        )
        for first, end in zip(firsts, ends, strict=True)
    )


def _name_at(runs: Sequence[AxisRun], ratio: int) -> str | None:
    """Give the name of the run that a ratio belongs to; None if there are no runs."""
    return next((run.name for run in reversed(runs) if run.first <= ratio), None)
