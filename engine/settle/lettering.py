"""What stands in both bars of the settled shape at once: a taller picture, or lettering."""

from __future__ import annotations

from typing import Final, NamedTuple

from engine.settle.shapes import BarReading, Outline, eats_both_bars

WRITTEN: Final = 500
"""What stands in both bars for less than this (ms) is no lettering."""
LINE: Final = 100
"""Lettering is higher than this part of a raster's rows; what moves by less is noise."""
APART: Final = 40
"""Lettering in both bars differs by less than this part of a raster's rows."""


class BothBars(NamedTuple):
    """What stands in both bars since the settled shape was seen."""

    spent: int
    """For how long it was seen, ms: darkness that reaches into the picture does not count."""
    there: bool
    """Whether the last reading may show it."""
    edge: int
    """So many lines were left of each bar when it was last seen."""
    written: bool
    """Whether it is lettering: it came into one bar before it came into the other. The edges of a
    picture move at the same moment."""
    marked: bool = False
    """Whether it may be a taller picture with a mark in one bar: a mark stood there before, or what
    stands in the bars differs by more than a line, as lettering in both hardly does."""


def seen_in_both_bars(
    home: Outline | None,
    before: BothBars | None,
    last: BarReading | int | None,
    spent: int,
    reading: BarReading | None,
) -> BothBars | None:
    """Say what stands in both bars of the settled shape with a reading; None: black all over.

    `before` is what stood there with the `last` reading, which held for `spent` ms.
    """
    if home is None:
        return None
    if before is None:
        if reading is None or home.window or not eats_both_bars(home, reading):
            return None
        if (home.least_v - max(reading.top, reading.bottom)) * LINE < reading.rows:
            return None
        marked = abs(reading.top - reading.bottom) * APART > reading.rows
        written, edge = False, (reading.top + reading.bottom) // 2
        if isinstance(last, BarReading):
            written = came_singly(home, last, reading)
            marked = marked or is_marked(home, last)
        return BothBars(0, there=True, edge=edge, written=written, marked=marked)
    _, there, edge, written, marked = before
    spent = before.spent + spent if there else before.spent
    there = False
    if reading is not None and max(reading.top, reading.bottom) < home.least_v:
        there, edge = True, (reading.top + reading.bottom) // 2
    return BothBars(spent, there, edge, written, marked)


def is_marked(home: Outline, last: BarReading) -> bool:
    """Tell whether a reading shows a shape with something written in one of its bars."""
    small, large = sorted((last.top, last.bottom))
    return small < home.least_v <= large <= home.most_v


def came_singly(home: Outline, last: BarReading, reading: BarReading) -> bool:
    """Tell whether one bar was written in before, and as deep, while all else was in its place."""
    near = max(1, (home.most_v - home.least_v) // 4)
    if max(last.left, last.right) > home.most_h or abs(reading.top - reading.bottom) > 4 * near:
        return False
    if home.least_v <= last.top <= home.most_v:
        return abs(last.bottom - reading.bottom) <= near
    return home.least_v <= last.bottom <= home.most_v and abs(last.top - reading.top) <= near


def was_lettering(
    home: Outline, before: BothBars | None, both: BothBars, reading: BarReading
) -> bool:
    """Tell whether what stood in both bars was lettering, if an edge is in its place again.

    `before` is what stood there up to now: where it ended in the dark it may have been a picture.
    """
    return (
        before is not None
        and before.there
        and (both.written or both.spent >= WRITTEN)
        and (
            home.least_v <= reading.top <= home.most_v
            or home.least_v <= reading.bottom <= home.most_v
        )
    )
