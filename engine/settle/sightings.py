"""What one reading shows, held against the settled shape: another shape, text, or darkness."""

from __future__ import annotations

from typing import Final, Literal, NamedTuple

from engine.aspect import SCALE
from engine.settle.shapes import (
    SQUARE_PIXELS_FROM,
    BarReading,
    Outline,
    RasterScale,
    alike,
    expected_outline,
    explains,
    is_nearer,
    is_too_small,
    is_window,
    standard_among,
    standard_for,
    standard_near,
    upright_near,
)

NARROWEST_PICTURE: Final = 10_000
"""A narrower lit part (1/10,000) is no picture but a part of one, unless it is an upright one."""
WIDEST_PICTURE: Final = 30_000
"""A lit part that is wider than this ratio (1/10,000) is only a part of a picture."""

Evidence = Literal[0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10]
"""What a reading is evidence of. Plain numbers, because every changed reading compares them:
`CALM` to `OFFSET` concern the rival, `SETTLED` to `MARK` the settled shape."""
NO_EVIDENCE: Final = 0
CALM: Final = 1
"""Darkness that the rival would explain."""
WHOLE: Final = 2
"""Equal bars on both axes."""
PART: Final = 3
"""Equal bars on one axis, light up to the edge of the raster on the other."""
GLIMPSE: Final = 4
"""Equal bars above and below, darkness at the sides."""
EATEN: Final = 5
"""One bar of an axis as it should be, the other eaten into by lettering."""
CORNER: Final = 6
"""One bar of an axis as it should be, the other lost in the dark."""
OFFSET: Final = 7
"""Bars of a sum that a standard shape has, and so has a picture that lies off the middle."""
SETTLED: Final = 8
"""The settled shape."""
TEXT: Final = 9
"""The settled shape with lettering in its bottom bar."""
MARK: Final = 10
"""The settled shape with lettering in its top bar, or in a bar at its side."""

AMBIGUOUS: Final = 1
"""Sign: what eats into the bar may be the settled shape, in the dark."""
WITHIN: Final = 2
"""Sign: the bars hide nothing of the settled picture."""
BEYOND: Final = 4
"""Sign: there is light on both sides where the settled shape has bars."""
DARK: Final = 8
"""Sign: there is darkness where the settled shape has picture."""
CORNERED: Final = 16
"""Sign: when last seen unequal, the bars were a `CORNER`."""
FAR: Final = 32
"""Sign: the picture lies far off the middle, as darkness at one edge would have it as well."""
CARD: Final = 64
"""Sign: if it is a window it may be lettering on black, for it is small or came out of black."""
EDGED: Final = 128
"""Sign: it reaches the edge of the raster on all sides but one."""
BACK: Final = 256
"""Sign: lettering stood in its bars, and it was there again, the settled shape never meanwhile."""
STAYED: Final = 512
"""Sign: an edge that it shares with the settled shape stood still while others moved."""

LINED: Final = 1024
"""Sign: at the raster's edge as the settled shape is, it may be a line in that shape's bar."""


class Sighting(NamedTuple):
    """What one reading shows."""

    evidence: Evidence
    ratio: int = 0
    """The ratio of the shape seen, in 1/10,000."""
    standard: bool = True
    bars_v: int = 0
    """Lines of the shape's top and bottom bar added up; negative where only a ratio is known."""
    bars_h: int = 0
    """Columns of its left and right bar added up."""
    signs: int = 0
    """The signs above that were noticed, added up as bits."""
    loose: int = 0
    """Size of the bar that does not fit the shape, in lines or columns."""
    jump: int = 0
    """The least change that counts as that bar having moved; 0 if no bar is unsteady."""
    off_v: int = 0
    """How many more lines the top bar has than the bottom bar, where the picture lies so."""
    off_h: int = 0
    """How many more columns the left bar has than the right bar."""


NOTHING_SEEN: Final = Sighting(NO_EVIDENCE)


def look_at(
    aspect: int | None, home: Outline | None, rival: int, reading: BarReading, scale: RasterScale
) -> Sighting:
    """Say what a reading shows that is neither black nor in the settled shape's bars.

    `aspect` is the settled ratio, None while unknown, and `home` is where its bars are. `rival` is
    the rival's ratio, 0 while there is none. Ratios are 1/10,000.
    """
    even_v = abs(reading.top - reading.bottom) <= scale.even_v
    even_h = abs(reading.left - reading.right) <= scale.even_h
    if even_v and even_h:
        return _even(aspect, reading, scale)
    if (even_v or even_h) and _has_blank_edges(reading, scale):
        return _beside_blank_edges(aspect, rival, reading, scale)
    if even_v:
        return _even_above_and_below(aspect, home, rival, reading, scale)
    if even_h:
        return _even_at_the_sides(aspect, home, rival, reading, scale)
    return _corner(aspect, home, reading, scale)


def _has_blank_edges(reading: BarReading, scale: RasterScale) -> bool:
    """Tell whether beside two bars there are a few blank lines or columns, on one side the more.

    Sources have them at the edges of their frames; a window has wide bars on all four sides.
    """
    top, bottom, left, right = reading[:4]
    wide_v, wide_h = (top + bottom) * 50 > scale.rows, (left + right) * 50 > scale.columns
    if abs(top - bottom) <= scale.even_v:
        return wide_v and not wide_h
    return wide_h and not wide_v


def _beside_blank_edges(
    aspect: int | None, rival: int, reading: BarReading, scale: RasterScale
) -> Sighting:
    """Judge two bars beside a few blank lines or columns, with those or without.

    The settled shape with them says nothing against a rival: a detector may have slipped.
    """
    bars_v, bars_h = reading.top + reading.bottom, reading.left + reading.right
    sighting = _even(aspect, reading, scale)
    if not sighting.standard:
        if abs(reading.top - reading.bottom) <= scale.even_v:
            clear = reading._replace(left=0, right=0)
        else:
            clear = reading._replace(top=0, bottom=0)
        without = _even(aspect, clear, scale)
        if without.standard:
            sighting = without._replace(bars_v=bars_v, bars_h=bars_h)
    return NOTHING_SEEN if rival and sighting.evidence == SETTLED else sighting


def _even(aspect: int | None, reading: BarReading, scale: RasterScale) -> Sighting:
    """Judge bars that are equal on both axes: a shape, unless it is too small for one."""
    bars_v, bars_h = reading.top + reading.bottom, reading.left + reading.right
    columns, rows, slack = scale.columns - bars_h, scale.rows - bars_v, scale.slack
    measured = columns * scale.numerator // (rows * scale.denominator)
    if bars_v <= scale.even_v:
        slack = _slack_at_the_sides(scale)
    if bars_h:  # Both axes err: by three lines and three columns in all.
        slack = max(slack, 30_000 // rows + 30_000 // columns)
    taller = aspect is not None and measured <= aspect
    standard = standard_near(measured, slack) if taller else standard_for(measured, slack)
    if scale.short and not bars_h:
        standard = counted_short(columns, rows, scale) or standard
    ratio = standard or measured
    window = is_window(bars_v, bars_h, scale)
    settled = not window and aspect is not None and alike(measured, aspect)
    if settled and not is_nearer(standard, aspect or 0):
        return Sighting(SETTLED, ratio, bool(standard), bars_v, bars_h)
    if not NARROWEST_PICTURE <= ratio <= WIDEST_PICTURE:
        standard = ratio = upright_near(measured, slack)
        if not ratio:
            return NOTHING_SEEN
    if window and is_too_small(bars_v, bars_h, scale):
        return NOTHING_SEEN
    signs = CARD if is_small(columns, rows, scale) else 0
    known = bool(standard)
    if taller and bars_v > scale.even_v and scale.slack > scale.fine_slack:
        known = bool(standard_near(measured, scale.fine_slack))  # It may be lettering.
    return Sighting(WHOLE, ratio, known, bars_v, bars_h, signs)


def _slack_at_the_sides(scale: RasterScale) -> int:
    """Give the slack of bars at the sides alone: what coarse counts leave out there are columns."""
    return max(scale.fine_slack, scale.short * SCALE // scale.columns)


def counted_short(columns: int, rows: int, scale: RasterScale) -> int:
    """Give the standard shape that stands for all that bars of coarse counts may be of; 0: none."""
    wide = columns * scale.numerator * (SCALE - scale.fine_slack)
    high = scale.denominator * SCALE
    return standard_among(wide // (rows * high), wide // (max(1, rows - scale.short) * high))


def is_small(columns: int, rows: int, scale: RasterScale) -> bool:
    """Tell whether a lit part is so small that it may be a block of lettering."""
    return columns * 100 < 68 * scale.columns and rows * 100 < 68 * scale.rows


def _even_above_and_below(
    aspect: int | None, home: Outline | None, rival: int, reading: BarReading, scale: RasterScale
) -> Sighting:
    """Judge bars that are equal above and below only: the sides are dark, or marked."""
    bars_v, side = reading.top + reading.bottom, min(reading.left, reading.right)
    if bars_v <= scale.even_v:
        marked = _eaten_at_a_side(aspect, home, rival, reading, scale)
        if marked.standard and marked.evidence:
            return marked
        if side > scale.even_h:
            corner = _corner(aspect, home, reading, scale)
            return corner if corner.evidence else marked
    measured = scale.columns * scale.numerator // ((scale.rows - bars_v) * scale.denominator)
    ratio = standard_near(measured, scale.slack)
    if not ratio or (aspect is not None and alike(measured, aspect)):
        return NOTHING_SEEN
    if side <= scale.even_h:
        return Sighting(PART, ratio, bars_v=bars_v)
    if home is not None and home.least_v <= bars_v // 2 <= home.most_v and side >= home.least_h:
        return NOTHING_SEEN
    return Sighting(GLIMPSE, ratio, bars_v=bars_v, loose=side, jump=scale.columns // 64)


def _eaten_at_a_side(
    aspect: int | None, home: Outline | None, rival: int, reading: BarReading, scale: RasterScale
) -> Sighting:
    """Judge unequal bars at the sides of a picture as high as the raster: a mark may be in one."""
    small, large = reading.left, reading.right
    if small > large:
        small, large = large, small
    width = (scale.columns - 2 * large) * scale.numerator
    as_eaten = width // (scale.rows * scale.denominator)
    if aspect is not None and alike(as_eaten, aspect):
        return Sighting(MARK)
    eaten = _eaten(rival, as_eaten, _slack_at_the_sides(scale))
    ratio = eaten or as_eaten
    if small <= scale.even_h or not NARROWEST_PICTURE <= ratio <= WIDEST_PICTURE:
        return NOTHING_SEEN
    signs = AMBIGUOUS if home is not None and home.least_h <= small <= home.most_h else 0
    bars_v, jump = reading.top + reading.bottom, scale.near_h + 1
    return Sighting(EATEN, ratio, bool(eaten), bars_v, 2 * large, signs, small, jump)


def _even_at_the_sides(
    aspect: int | None, home: Outline | None, rival: int, reading: BarReading, scale: RasterScale
) -> Sighting:
    """Judge bars that are equal at the sides only.

    Either lettering eats into the smaller bar above or below, or darkness enlarges the other.
    """
    small, large = reading.top, reading.bottom
    if small > large:
        small, large = large, small
    bars_h = reading.left + reading.right
    width = (scale.columns - bars_h) * scale.numerator
    lines = scale.rows - 2 * large
    as_eaten = width // (lines * scale.denominator) if lines > 0 else 0
    if aspect is not None and alike(as_eaten, aspect):
        return Sighting(TEXT if reading.bottom < reading.top else MARK)
    lit_edge = dark_home = False
    if home is not None and home.least_v <= small <= home.most_v:
        # One edge of the settled shape is where it was; what else is dark may be its picture.
        lit_edge = bars_h // 2 >= home.least_h
        dark_home = lit_edge and bars_h // 2 <= home.most_h
    eaten = _eaten(rival, as_eaten, scale.fine_tight)
    if not eaten:
        lit = width // ((scale.rows - small - large) * scale.denominator)
        far = (large - small) * 50 > scale.rows and bars_h <= 2 * scale.even_h
        wider = aspect is None or as_eaten > aspect
        eaten = _eaten_less_exactly(as_eaten, lit if wider else 0, scale, far=far)
    if eaten and not is_window(2 * large, bars_h, scale):
        signs = AMBIGUOUS if lit_edge else 0
        jump = scale.near_v + 1
        return Sighting(
            EATEN, eaten, bars_v=2 * large, bars_h=bars_h, signs=signs, loose=small, jump=jump
        )
    if dark_home:
        return NOTHING_SEEN
    if small <= scale.even_v and bars_h > 2 * scale.even_h:
        as_dark = width // ((scale.rows - 2 * small) * scale.denominator)
        ratio = standard_near(as_dark, scale.slack)
        return Sighting(PART, ratio, bars_h=bars_h) if ratio else NOTHING_SEEN
    return _corner(aspect, home, reading, scale)


def _eaten(rival: int, ratio: int, tight: int) -> int:
    """Give the shape whose bar the larger of two unequal ones is; 0 if it is nobody's.

    It may be the rival's bar or that of a standard shape. A single bar is only half the evidence,
    so it must meet a standard shape more exactly.
    """
    if rival and abs(ratio - rival) * 200 <= ratio:
        return rival
    return standard_near(ratio, tight)


def _eaten_less_exactly(ratio: int, lit: int, scale: RasterScale, *, far: bool) -> int:
    """Give the same for a bar that was counted short, or in coarse steps; 0 if it is nobody's.

    `lit` is the ratio of what is lit, 0 where the shape would not be wider: that may be a picture
    off the middle. Bars that are `far` apart beside no dark sides are hardly one's.
    """
    if lit and not standard_for(lit, scale.fine_slack):
        short = standard_for(ratio, scale.tight)
        if short:
            return short
    return standard_near(ratio, scale.tight) if scale.coarse and far else 0


def _corner(
    aspect: int | None, home: Outline | None, reading: BarReading, scale: RasterScale
) -> Sighting:
    """Judge unequal bars: the lit corner of a dark picture may show where the picture ends."""
    near_v, near_h = min(reading.top, reading.bottom), min(reading.left, reading.right)
    even_v, even_h = scale.even_v, scale.even_h
    if aspect is None or home is None or (near_v > even_v and near_h > even_h):
        return NOTHING_SEEN
    if home.window and explains(expected_outline(aspect, reading[4:]), reading):
        return NOTHING_SEEN  # The settled shape no longer in a window but at its full size.
    if near_h <= even_h:
        near_h = 0
    within = near_v <= home.most_v and near_h <= home.most_h
    columns, rows = scale.columns - 2 * near_h, scale.rows - 2 * near_v
    measured = columns * scale.numerator // (rows * scale.denominator)
    ratio = standard_near(measured, scale.slack if within else scale.tight)
    if not ratio or alike(measured, aspect):
        return NOTHING_SEEN
    if not within and scale.rows < SQUARE_PIXELS_FROM:
        return NOTHING_SEEN
    far_v, far_h = max(reading.top, reading.bottom), max(reading.left, reading.right)
    signs = _corner_signs(home, scale, (near_v, far_v), (near_h, far_h))
    if within:
        signs |= WITHIN
    if far_v - near_v > even_v:
        loose, jump = far_v, scale.rows // 16
    else:
        loose, jump = far_h, scale.columns // 16
    return Sighting(
        CORNER, ratio, bars_v=2 * near_v, bars_h=2 * near_h, signs=signs, loose=loose, jump=jump
    )


def _corner_signs(
    home: Outline, scale: RasterScale, lines: tuple[int, int], columns: tuple[int, int]
) -> int:
    """Say how a corner's bars, the smaller and the larger of each axis, lie to the settled ones."""
    near_v, far_v = lines
    near_h, far_h = columns
    even_v, even_h = scale.even_v, scale.even_h
    signs = CORNERED
    if (
        far_v < home.least_v
        or far_h < home.least_h
        or near_v <= even_v < home.least_v
        or near_h <= even_h < home.least_h
    ):
        signs |= BEYOND
    if far_v > home.most_v or far_h - near_h > even_h:
        signs |= DARK
    return signs
