"""Pictures that lie elsewhere than in the middle of their raster."""

from __future__ import annotations

from typing import Final

from engine.settle.shapes import (
    BarReading,
    Outline,
    RasterScale,
    alike,
    fits,
    is_window,
    standard_for,
    standard_near,
    upright_near,
)
from engine.settle.sightings import (
    AMBIGUOUS,
    CARD,
    CORNER,
    EATEN,
    EDGED,
    FAR,
    LINED,
    NARROWEST_PICTURE,
    NO_EVIDENCE,
    NOTHING_SEEN,
    OFFSET,
    SETTLED,
    STAYED,
    WIDEST_PICTURE,
    Sighting,
)

LEAST_LINE: Final = 40
"""Lettering is hardly lower than this part of a raster's rows."""
FARTHEST: Final = 16
"""Of bars at the sides that differ by more than this part of a raster's columns, the one is dark or
the other is marked."""


def look_off_the_middle(
    aspect: int | None, home: Outline | None, reading: BarReading, scale: RasterScale
) -> Sighting:
    """Judge bars that say nothing else: a picture that lies elsewhere than in the middle.

    `reading` is as it was read. Bars of a standard sum may be anywhere, bars of another sum are
    believed to be a picture's only where it lies nearly in the middle.
    """
    top, bottom, left, right = reading[:4]
    bars_v, bars_h = top + bottom, left + right
    if is_window(bars_v, bars_h, scale) or abs(left - right) * FARTHEST > scale.columns:
        return NOTHING_SEEN
    columns, rows = scale.columns - bars_h, scale.rows - bars_v
    measured = columns * scale.numerator // (rows * scale.denominator)
    standard = _standard_elsewhere(aspect, measured, reading, scale)
    far = abs(top - bottom) * 50 > scale.rows or abs(left - right) * 50 > scale.columns
    if not standard and (far or not NARROWEST_PICTURE <= measured <= WIDEST_PICTURE):
        return NOTHING_SEEN
    signs = FAR if far else 0
    if bars_h <= scale.even_h and min(top, bottom) <= scale.even_v:
        signs |= EDGED
    if home is not None and shares_an_edge(home, reading, scale):
        signs |= AMBIGUOUS
        if aspect is not None and alike(measured, aspect):
            return NOTHING_SEEN
    return Sighting(
        OFFSET,
        standard or measured,
        bool(standard),
        bars_v,
        bars_h,
        signs,
        off_v=top - bottom,
        off_h=left - right,
    )


def _standard_elsewhere(
    aspect: int | None, measured: int, reading: BarReading, scale: RasterScale
) -> int:
    """Give the standard shape that a picture off the middle has; 0 if it has none."""
    if not NARROWEST_PICTURE <= measured <= WIDEST_PICTURE:
        # An upright one is so rare that it must lie nearly in the middle.
        near = abs(reading.left - reading.right) <= scale.near_h
        return upright_near(measured, scale.slack) if near else 0
    taller = aspect is not None and measured <= aspect
    if taller and min(reading.top, reading.bottom) > scale.even_v:
        return standard_near(measured, scale.fine_slack)  # It may be lettering.
    return standard_for(measured, scale.slack)


def may_lie_elsewhere(
    sighting: Sighting, reading: BarReading, scale: RasterScale, *, moved: bool
) -> bool:
    """Tell whether what is seen in the middle may rather be a picture that lies elsewhere.

    `moved` says that pictures are known to.
    """
    evidence = sighting.evidence
    if evidence in (NO_EVIDENCE, CORNER):
        return True
    if evidence == EATEN:
        return moved or not sighting.standard or is_rather_raised(reading, scale)
    return moved and evidence > SETTLED


def or_off_the_middle(
    sighting: Sighting,
    aspect: int | None,
    home: Outline | None,
    reading: BarReading,
    scale: RasterScale,
) -> Sighting:
    """Give what a reading shows if it is a picture off the middle, where that is likelier."""
    off = look_off_the_middle(aspect, home, reading, scale)
    if sighting.evidence == NO_EVIDENCE:
        return off
    if off.evidence == NO_EVIDENCE or not off.standard:
        return sighting
    if sighting.evidence == EATEN and sighting.standard and off.off_h and off.signs & FAR:
        return sighting  # A mark is likelier than a picture that lies to one side.
    # Coarse counts are near some standard sum too often to say more than a lit corner does.
    unsure = AMBIGUOUS | FAR if scale.short else AMBIGUOUS
    if sighting.evidence == CORNER and not off.signs & EDGED and off.signs & unsure:
        return sighting
    if sighting.evidence > SETTLED and off.signs & EDGED:
        return off._replace(signs=off.signs | LINED)
    return off


def is_rather_raised(reading: BarReading, scale: RasterScale) -> bool:
    """Tell whether a smaller bar above is one of a picture that lies higher, and no marked one.

    It is smaller by more than a detector errs, and by less than a line of lettering is high. Below,
    subtitles stand across a picture's edge, and leave a bar of any size.
    """
    apart = reading.bottom - reading.top
    return not scale.short and apart > 2 * scale.near_v and apart * LEAST_LINE <= scale.rows


def shares_an_edge(home: Outline, reading: BarReading, scale: RasterScale) -> bool:
    """Tell whether of two unequal bars one is where the settled shape has it."""
    top, bottom, left, right = reading[:4]
    least_v, most_v, least_h, most_h = home[3:7]
    if abs(top - bottom) > scale.even_v and (
        least_v <= top <= most_v or least_v <= bottom <= most_v
    ):
        return True
    return abs(left - right) > scale.even_h and (
        least_h <= left <= most_h or least_h <= right <= most_h
    )


def as_it_came(
    sighting: Sighting,
    home: Outline | None,
    last: BarReading | int | None,
    scale: RasterScale,
    *,
    black: bool,
) -> Sighting:
    """Note on a sighting what it came after: the `last` reading, or a `black` raster.

    An edge of the settled shape that stood there before is that shape's, whatever moves beside it.
    """
    signs = CARD if black else 0
    if (
        sighting.signs & (AMBIGUOUS | EDGED) == AMBIGUOUS
        and home is not None
        and isinstance(last, BarReading)
        and (fits(home, last) or shares_an_edge(home, last, scale))
    ):
        signs |= STAYED
    return sighting._replace(signs=sighting.signs | signs) if signs else sighting
