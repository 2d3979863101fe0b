"""The last resort: what stands still for long is a picture, whatever else speaks for it or not."""

from __future__ import annotations

from operator import itemgetter
from typing import Final

from engine.settle.elsewhere import FARTHEST, LEAST_LINE
from engine.settle.shapes import (
    BarReading,
    Outline,
    RasterScale,
    Steps,
    alike,
    is_black,
    is_too_small,
    is_window,
    scale_of,
    standard_for,
    standard_near,
    upright_near,
)
from engine.settle.sightings import (
    EATEN,
    NARROWEST_PICTURE,
    OFFSET,
    Sighting,
    counted_short,
    is_small,
)

STOOD_LONG: Final = 36_000
"""For so long in all a rectangle stands before it is believed for that alone, ms: longer than any
dark shot, line or title does."""
DARK_SHOT: Final = 5_000
"""Where readings stand is not noted before the settled shape has been away for so long, ms."""
LASTING: Final = 1_000
"""Before that, one that stands for so long at once is noted all the same, ms."""
BRIEF: Final = 250
"""One that has stood for less than this in all, ms, is forgotten before any other."""
MOST_STANDS: Final = 3
"""For at most so many rectangles it is remembered how long they stood."""
MARKED_BAR: Final = 150
"""Of two uneven bars the larger is a standard shape's, and a mark stands in the smaller, if the
ratio between two bars of the larger's size is within this share (1/10,000) of that shape's."""
WIDEST_STANDING: Final = 34_000
"""A rectangle that is wider than this ratio (1/10,000) is only a part of a picture."""


Stand = tuple[int, int, int, int, int]
"""The bars of a rectangle at the top, bottom, left and right of its raster, and for how long it has
stood since the settled shape did, ms. One is made for every dark reading, and a plain tuple is made
in half the time."""
_STOOD: Final = itemgetter(4)

Stands = tuple[Stand, ...]
"""The rectangles that have stood; the one of the last reading that was not black is the first."""


def stood_at(stands: Stands, last: BarReading | int | None, spent: int, away: int) -> Stands:
    """Add the time (ms) for which the last reading held; black all over is nowhere.

    As that reading began, the settled shape had not been seen for `away` ms; negative: the reading
    showed it.
    """
    if away < 0 or not isinstance(last, BarReading) or is_black(last):
        return stands
    if stands:
        top, bottom, left, right, stood = stands[0]
        return ((top, bottom, left, right, stood + spent), *stands[1:])
    return ((*last[:4], spent),)


def noted_at(
    stands: Stands, reading: BarReading, steps: Steps, now: int, away: int
) -> tuple[Stands, int]:
    """Note where a reading stands, and say when (ms UTC) it will have stood there for long.

    The settled shape has been `away` for so long (ms).
    """
    if not stands and away < DARK_SHOT:
        return stands, now + STOOD_LONG
    stands = now_at(stands, reading, steps)
    return stands, now + STOOD_LONG - stands[0][4]


def now_at(stands: Stands, reading: BarReading, steps: Steps) -> Stands:
    """Put the rectangle of a reading first; of too many the one that stood least is forgotten."""
    top, bottom, left, right, columns, rows, frame = reading
    scale = scale_of(columns, rows, frame, steps)
    near_v, near_h = scale.near_v, scale.near_h
    for stand in stands:
        was_top, was_bottom, was_left, was_right, _ = stand
        if (
            -near_v <= was_top - top <= near_v
            and -near_v <= was_bottom - bottom <= near_v
            and -near_h <= was_left - left <= near_h
            and -near_h <= was_right - right <= near_h
        ):
            if stand is stands[0]:
                return stands
            return (stand, *[other for other in stands if other is not stand])
    new = (top, bottom, left, right, 0)
    if len(stands) < MOST_STANDS:
        return (new, *stands)
    if stands[0][4] < BRIEF:
        return (new, *stands[1:])
    least = min(stands, key=_STOOD)
    return (new, *[stand for stand in stands if stand is not least])


def due_at(stands: Stands, since: int) -> int:
    """Say when a rectangle that is read `since` then will have stood for long enough, ms UTC."""
    return since + STOOD_LONG - (stands[0][4] if stands else 0)


def standing(
    aspect: int | None,
    home: Outline | None,
    seen: BarReading,
    reading: BarReading,
    scale: RasterScale,
) -> Sighting | None:
    """Give the shape of a rectangle that has stood, or None where it is no picture's."""
    top, bottom, left, right = reading[:4]
    bars_v, bars_h = top + bottom, left + right
    columns, rows = scale.columns - bars_h, scale.rows - bars_v
    if is_too_small(bars_v, bars_h, scale) or is_small(columns, rows, scale):
        return None
    if home is not None and _may_be_dark(home, seen, scale):
        return None
    sighting = _marked(reading, scale) or _as_it_is(reading, scale)
    same = sighting and aspect is not None and alike(sighting.ratio, aspect)
    return None if same else sighting


def _as_it_is(reading: BarReading, scale: RasterScale) -> Sighting | None:
    """Give the shape of what is lit, wherever it lies."""
    top, bottom, left, right = reading[:4]
    bars_v, bars_h = top + bottom, left + right
    off_v = top - bottom if abs(top - bottom) > scale.even_v else 0
    off_h = left - right if abs(left - right) > scale.even_h else 0
    if abs(off_h) * FARTHEST > scale.columns:
        return None
    ratio = standard = _standard_lit(reading, scale)
    if not ratio:
        columns, rows = scale.columns - bars_h, scale.rows - bars_v
        ratio = columns * scale.numerator // (rows * scale.denominator)
        if not NARROWEST_PICTURE <= ratio <= WIDEST_STANDING:
            ratio = standard = 0 if off_h else upright_near(ratio, scale.slack)
    if not ratio:
        return None
    return Sighting(OFFSET, ratio, bool(standard), bars_v, bars_h, off_v=off_v, off_h=off_h)


def _standard_lit(reading: BarReading, scale: RasterScale) -> int:
    """Give the standard ratio of what is lit; 0 if it has none."""
    bars_v, bars_h = reading.top + reading.bottom, reading.left + reading.right
    columns, rows = scale.columns - bars_h, scale.rows - bars_v
    short = counted_short(columns, rows, scale) if scale.short and bars_h <= scale.even_h else 0
    return short or standard_for(
        columns * scale.numerator // (rows * scale.denominator), scale.slack
    )


def _may_be_dark(home: Outline, seen: BarReading, scale: RasterScale) -> bool:
    """Tell whether the settled shape may be dark there: at one edge, or at the sides alone."""
    top, bottom, left, right = seen[:4]
    bar_v, bar_h = (home.least_v + home.most_v) // 2, (home.least_h + home.most_h) // 2
    far_v, far_h = scale.near_v + scale.rows // 100, scale.near_h + scale.columns // 100
    moved_top, moved_bottom = abs(top - bar_v) > far_v, abs(bottom - bar_v) > far_v
    moved_left, moved_right = abs(left - bar_h) > far_h, abs(right - bar_h) > far_h
    if moved_left != moved_right:
        return True
    if moved_top == moved_bottom:
        return moved_left and not moved_top
    return moved_top or max(left, right) > scale.even_h


def _marked(reading: BarReading, scale: RasterScale) -> Sighting | None:
    """Give the standard shape in one of whose bars a mark stands, if there is one.

    But what is lit is a picture off the middle, with no mark beside it, if it has a standard shape
    and lies higher than the middle, or lower by less than the height of a line of lettering.
    """
    top, bottom, left, right = reading[:4]
    apart_v, apart_h = abs(top - bottom), abs(left - right)
    beside_v, beside_h = apart_v > scale.near_v, apart_h > scale.near_h
    raised = bottom > top or apart_v * LEAST_LINE <= scale.rows
    if beside_v == beside_h or (raised and _standard_lit(reading, scale)):
        return None
    bars_v = 2 * max(top, bottom) if beside_v else top + bottom
    bars_h = 2 * max(left, right) if beside_h else left + right
    columns, rows = scale.columns - bars_h, scale.rows - bars_v
    if columns <= 0 or rows <= 0 or is_window(bars_v, bars_h, scale):
        return None
    measured = columns * scale.numerator // (rows * scale.denominator)
    standard = counted_short(columns, rows, scale) if scale.short and beside_v else 0
    standard = standard or standard_near(measured, max(MARKED_BAR, 2 * scale.tight))
    return Sighting(EATEN, standard, bars_v=bars_v, bars_h=bars_h) if standard else None
