"""What counts of black lines and columns mean in a raster: ratios, and where bars are expected."""

from __future__ import annotations

from bisect import bisect_left
from functools import lru_cache
from typing import Final, NamedTuple

from engine.aspect import SCALE, UPRIGHT, WIDE_FRAME

STANDARD: Final = (
    10_000,  # square, as pictures for hand-held screens are
    13_333,  # 4:3, the narrow frame of active format codes (ATSC A/53-4)
    13_700,  # aperture 0.825 x 0.602 in (SMPTE 195)
    14_300,  # 70 mm film, fifteen perforations
    15_556,  # 14:9, active format codes 0011 and 1011 (ATSC A/53-4)
    16_600,  # aperture 0.825 x 0.497 in (SMPTE 195)
    17_778,  # 16:9 (ITU-R BT.709, BT.2020)
    18_500,  # flat, 3996 x 2160 (SMPTE ST 428-12)
    19_000,  # the full container, 4096 x 2160, rounded (SMPTE ST 428-12)
    20_000,  # common practice
    22_000,  # 70 mm film, five perforations
    23_500,  # scope by PH22.106-1957
    23_900,  # scope by PH22.106-1971
    24_000,  # common practice for the same at home
    27_600,  # 65 mm film with a 1.25x squeeze
)
"""The ratios that somebody standardised, in 1/10,000."""

SQUARE_PIXELS_FROM: Final = 720
"""A raster with this many rows or more has square pixels unless its frame is given."""


class BarReading(NamedTuple):
    """One raw reading: the counts of black lines and columns within a coded raster.

    `frame` is the ratio at which the whole raster is shown, in 1/10,000, or 0 where it was not
    given. Then pixels are taken as square. The exception is a raster of fewer than 720 rows that
    with square pixels would be neither 4:3 nor 16:9: it is taken as 16:9.
    """

    top: int
    bottom: int
    left: int
    right: int
    columns: int
    rows: int
    frame: int = 0


RasterKey = tuple[int, int, int]
"""The last three fields of a reading: columns, rows and frame."""


LitEdges = tuple[int, int, int, int, int]
"""How many lines and columns no reading shows light in, at the top, bottom, left and right; and
since when, ms UTC."""


class RasterScale(NamedTuple):
    """How to compute a ratio in one raster, and how far its counts may be off.

    A detector reads even counts and errs by a line or two, so every tolerance grows with the
    raster. The suffix `_v` stands for lines (top and bottom), `_h` for columns (left and right).
    """

    columns: int
    rows: int
    numerator: int
    """c columns by r rows are shown at a ratio of c * numerator // (r * denominator)."""
    denominator: int
    even_v: int
    """Two bars that differ by at most this many lines are equally large."""
    even_h: int
    near_v: int
    """A bar at most this many lines from its place is in its place."""
    near_h: int
    loose_v: int
    """The same for a shape that is less well known."""
    loose_h: int
    slack: int
    """A measured ratio may differ this much from a standard one, in 1/10,000 of the standard."""
    tight: int
    """The same for a ratio for which only one of two bars speaks."""
    fine_slack: int
    """The slack if the detector's steps were not coarse."""
    fine_tight: int
    """The same for a ratio for which only one of two bars speaks."""
    coarse: bool
    """Whether the detector's steps are coarse for sure."""
    short: int
    """So many lines of two bars a detector of coarse steps may have left out."""


class Outline(NamedTuple):
    """A shape, and between which counts each of its bars is read."""

    ratio: int
    """In 1/10,000."""
    standard: bool
    window: bool
    """Whether it has wide bars on all four sides, as a picture within a picture has."""
    least_v: int
    """The fewest lines that its top and its bottom bar may have; negative means any."""
    most_v: int
    least_h: int
    """The fewest columns that its left and its right bar may have; negative means any."""
    most_h: int
    off_v: int = 0
    """How many more lines its top bar has than its bottom bar; it counts as if both were even."""
    off_h: int = 0
    """How many more columns its left bar has than its right bar."""


class Steps(NamedTuple):
    """The steps in which a detector counts, where they are coarse."""

    size: int = 0
    """In lines, and in columns as well; 0: they are not coarse."""
    sure: bool = False
    """Whether so many counts say so that an edge may be looked for a step off its place."""


FINE: Final = Steps()
"""A detector that counts in steps of one or two."""


@lru_cache(maxsize=256)
def scale_of(columns: int, rows: int, frame: int, steps: Steps = FINE) -> RasterScale:
    """Work out the scale of a raster; `frame` is as in `BarReading`.

    A bar that is counted in coarse `steps` may lack nearly one of them.
    """
    square = rows >= SQUARE_PIXELS_FROM or standard_near(columns * SCALE // rows, 100)
    if not frame and not square:
        frame = WIDE_FRAME
    even_v, even_h = max(2, rows // 540), max(2, columns // 540)
    lost = 2 * SCALE * steps.size // rows
    step = steps.size if steps.sure else 0
    slack, tight = max(20, 33_000 // rows), max(20, 27_000 // rows)
    return RasterScale(
        columns=columns,
        rows=rows,
        numerator=frame * rows if frame else SCALE,
        denominator=columns if frame else 1,
        even_v=even_v,
        even_h=even_h,
        near_v=max(step, even_v + max(1, rows // 540)),
        near_h=max(step, even_h + max(1, columns // 540)),
        loose_v=max(step, even_v),
        loose_h=max(step, even_h),
        slack=max(slack, lost),
        tight=max(tight, lost),
        fine_slack=slack,
        fine_tight=tight,
        coarse=steps.sure,
        short=2 * steps.size,
    )


@lru_cache(maxsize=4_096)
def standard_near(ratio: int, slack: int) -> int:
    """Give the standard ratio within `slack` (1/10,000 of it) of a measured one; 0 if none is."""
    above = bisect_left(STANDARD, ratio)
    around = STANDARD[max(0, above - 1) : above + 1]
    nearest = min(around, key=lambda standard: abs(standard - ratio))
    return nearest if abs(nearest - ratio) * SCALE <= slack * nearest else 0


def upright_near(ratio: int, slack: int) -> int:
    """Give the upright picture's ratio that one is, as `standard_near` does; 0 if it is none."""
    return next((one for one in UPRIGHT if abs(one - ratio) * SCALE <= slack * one), 0)


@lru_cache(maxsize=4_096)
def standard_for(ratio: int, slack: int) -> int:
    """Give the standard ratio of a measured one whose bars may have been counted short.

    A detector that counts whole steps only leaves out what is less than one. So a standard may be
    somewhat wider than what is measured, beyond the `slack` on either side.
    """
    near = standard_near(ratio, slack)
    if near:
        return near
    wider = min((standard for standard in STANDARD if standard > ratio), default=0)
    return wider if (wider - ratio) * SCALE * 3 <= 4 * slack * wider else 0


@lru_cache(maxsize=4_096)
def standard_among(least: int, most: int) -> int:
    """Give the middle one of several standards from `least` up to `most` that are like it; 0: none.

    A coarse count may be of any of them, and whichever it is, the middle one is hardly off.
    """
    found = [standard for standard in STANDARD if least <= standard < most]
    middle = found[len(found) // 2] if len(found) > 1 else 0
    return middle if all(alike(standard, middle) for standard in found) else 0


def is_black(reading: BarReading) -> bool:
    """Tell whether bars leave nothing of the raster."""
    top, bottom, left, right, columns, rows, _ = reading
    return top + bottom >= rows or left + right >= columns


def alike(ratio: int, aspect: int) -> bool:
    """Tell whether a ratio is within 2 % of the settled aspect, which makes it no change."""
    return abs(ratio - aspect) * 50 <= aspect


def is_nearer(standard: int, aspect: int) -> bool:
    """Tell whether a settled aspect that nobody standardised gives way to a standard ratio.

    It does so although the two are alike: 1.85 and 1.90 are both like 1.88, and are told apart.
    """
    return standard != aspect and standard in STANDARD and aspect not in STANDARD


def is_window(bars_v: int, bars_h: int, scale: RasterScale) -> bool:
    """Tell whether there are bars on all four sides, wider than what rasters lose at their edges.

    `bars_v` and `bars_h` are both bars of an axis added up.
    """
    return bars_v * 50 > scale.rows and bars_h * 50 > scale.columns


def is_too_small(bars_v: int, bars_h: int, scale: RasterScale) -> bool:
    """Tell whether bars leave too little for a picture: rather a title card or a lamp.

    A picture higher than a card may be narrow, as one from a narrow frame in a wide raster is.
    """
    if 5 * bars_v > 3 * scale.rows or 4 * bars_h > 3 * scale.columns:
        return True
    return 5 * bars_h > 3 * scale.columns and 5 * bars_v > 2 * scale.rows


def outline_of(
    ratio: int,
    bars_v: int,
    bars_h: int,
    scale: RasterScale | None,
    *,
    standard: bool,
) -> Outline:
    """Work out where the bars of a shape are read, given both bars of each axis added up.

    A shape that came as a mere ratio has no bars (`bars_v` is negative): no reading fits it.
    """
    if scale is None or bars_v < 0:
        return Outline(ratio, standard, window=False, least_v=1, most_v=0, least_h=1, most_h=0)
    window = is_window(bars_v, bars_h, scale)
    known_well = standard and not window
    off_v = scale.near_v if known_well else scale.loose_v
    off_h = scale.near_h if known_well else scale.loose_h
    return Outline(
        ratio,
        standard,
        window,
        least_v=bars_v // 2 - off_v,
        most_v=(bars_v + 1) // 2 + off_v,
        least_h=bars_h // 2 - off_h,
        most_h=(bars_h + 1) // 2 + off_h,
    )


@lru_cache(maxsize=64)
def expected_outline(aspect: int, raster: RasterKey, steps: Steps = FINE) -> Outline:
    """Work out where a settled aspect has its bars in a raster in which it was not seen yet."""
    scale = scale_of(*raster, steps)
    lines = scale.columns * scale.numerator // (scale.denominator * aspect)
    columns = scale.rows * aspect * scale.denominator // scale.numerator
    bars_v, bars_h = max(0, scale.rows - lines), max(0, scale.columns - columns)
    return outline_of(aspect, bars_v, bars_h, scale, standard=True)


def fits(outline: Outline, reading: BarReading) -> bool:
    """Tell whether each bar of a reading is where this shape has it."""
    # This runs for every changed reading; unpacking at once is quicker than eight attributes.
    _, _, _, least_v, most_v, least_h, most_h, _, _ = outline
    return (
        least_v <= reading.top <= most_v
        and least_v <= reading.bottom <= most_v
        and least_h <= reading.left <= most_h
        and least_h <= reading.right <= most_h
    )


def centred(reading: BarReading, middle: tuple[int, int], even: tuple[int, int]) -> BarReading:
    """Give a reading as it were if the source's pictures lay in the middle of their raster.

    `middle` is by how much the first bar of each axis is larger than the second one there. Bars of
    an axis that differ by no more than `even` are left as they are: a full frame has no place.
    """
    top, bottom, left, right = reading[:4]
    off_v, off_h = middle
    if abs(top - bottom) > even[0]:
        top, bottom = top - off_v // 2, bottom + off_v - off_v // 2
    if abs(left - right) > even[1]:
        left, right = left - off_h // 2, right + off_h - off_h // 2
    return BarReading(top, bottom, left, right, *reading[4:])


def explains(outline: Outline, reading: BarReading | LitEdges) -> bool:
    """Tell whether a reading may be a dark picture of this shape."""
    _, _, _, least_v, _, least_h, _, off_v, off_h = outline
    top, bottom, left, right = reading[:4]
    return (
        min(top - off_v // 2, bottom + off_v // 2) >= least_v
        and min(left - off_h // 2, right + off_h // 2) >= least_h
    )


def lit_by(light: LitEdges | None, reading: BarReading, now: int) -> LitEdges:
    """Say how far light has come to each edge once this is read as well, `now` (ms UTC)."""
    top, bottom, left, right = reading[:4]
    if light is None:
        return top, bottom, left, right, now
    was_top, was_bottom, was_left, was_right, since = light
    if top >= was_top and bottom >= was_bottom and left >= was_left and right >= was_right:
        return light
    return (
        min(top, was_top),
        min(bottom, was_bottom),
        min(left, was_left),
        min(right, was_right),
        since,
    )


def has_bars(outline: Outline) -> bool:
    """Tell whether a shape leaves any bar at all."""
    return outline.least_v > 0 or outline.least_h > 0


def lies_within(home: Outline, shape: Outline) -> bool:
    """Tell whether a shape ends within the bars above and below another, as lettering there would.

    Nobody writes up to the edge of the raster, so a shape that reaches it is no lettering.
    """
    return shape.most_v < home.least_v and 4 * (shape.least_v + shape.most_v) >= home.least_v


def eats_both_bars(home: Outline, reading: BarReading | int | None) -> bool:
    """Tell whether something stands in both bars above and below a shape."""
    return (
        isinstance(reading, BarReading)
        and 0 < reading.top < home.least_v
        and 0 < reading.bottom < home.least_v
        and reading.left <= home.most_h
        and reading.right <= home.most_h
    )


def same_place(outline: Outline, off_v: int, off_h: int, scale: RasterScale) -> bool:
    """Tell whether a picture lies where this shape does, misread by a line or two at each edge."""
    return (
        abs(outline.off_v - off_v) <= 2 * scale.near_v
        and abs(outline.off_h - off_h) <= 2 * scale.near_h
    )


def same_outline(outline: Outline, ratio: int) -> bool:
    """Tell whether a ratio is this shape, misread by a line or two.

    The less is known of a shape, the more exactly it must be met. The edges of a window stand
    still, the soft edges of a darkened picture do not.
    """
    if outline.window:
        share = 200 if outline.standard else 1_000
    else:
        share = 100 if outline.standard else 200
    return abs(outline.ratio - ratio) * share <= outline.ratio
