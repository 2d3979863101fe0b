"""What a labelled set of readings is: readings in order of time, and the truth about them."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Sequence

    from engine.settle import BarReading

Timed = tuple[int, "BarReading | None"]
"""A reading and its time in ms; None is a raster that is black all over."""


class Segment(NamedTuple):
    """A stretch of a set, in ms, and the ratio (1/10,000) that lay in it; None: there was none."""

    name: str
    begin: int
    end: int
    aspect: int | None
    unknowable: bool = False
    """Whether the shape cannot be known from its readings, so that it is not counted."""


class LabelledSet(NamedTuple):
    """Readings in order of time, and the truth about them."""

    readings: Sequence[Timed]
    segments: Sequence[Segment]
