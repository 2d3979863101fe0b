"""Where a picture stands exactly, from the definitions alone: in fractions, with nothing rounded.

It takes from the product only what a room file says: lengths, ratios and corners. The screen, the
raster and what panels leave free are laid over each other in raster pixels; the picture's size is
picked there, and then its place.
"""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from engine.room import Crop, Preset, Room, RoomBelow, Stretch

WHOLE = 10_000
"""Shares and ratios are given in 1/10,000."""
FAR = Fraction(1_000_000)
"""Where no panel stands, light may fall on anything."""
PAST = Fraction(1, 8)
"""How far a panel's edge is followed past the screen's corners, as a share of the screen."""


class Box(NamedTuple):
    """Edges in raster pixels."""

    left: Fraction
    top: Fraction
    right: Fraction
    bottom: Fraction

    @property
    def size(self) -> Size:
        return Size(self.right - self.left, self.bottom - self.top)


class Size(NamedTuple):
    """A width and a height; negative where there is no room at all."""

    across: Fraction
    down: Fraction


def exact_rectangle(  # noqa: PLR0913, PLR0917 - all of these decide where a picture stands
    at: Room, picture: str, lift: int, aspect: int, preset: str | None, panels: str | None
) -> Box | None:
    """Give the exact edges of a picture; None where less than a pixel is left for it."""
    largest = max(at.presets.values(), key=area)
    zoom = largest if preset is None else at.presets[preset]
    smaller = [one for one in at.presets.values() if area(one) <= area(zoom)]
    sheet = common(*(sheet_of(at, one) for one in (smaller if preset is None else [zoom])))
    # A picture stays off the panels while the lens travels to any smaller raster, too.
    opening = common(*(opening_of(at, one, panels) for one in smaller))
    raster = Box(Fraction(0), Fraction(0), *map(Fraction, at.projector[:2]))
    bare, lit = common(opening, raster), common(sheet, opening, raster)
    if min(*lit.size, *bare.size) < 1:
        return None
    shape, ratio = at.pictures.get(picture), Fraction(aspect, WHOLE)
    raised = sheet.size.down * lift / WHOLE
    if isinstance(shape, RoomBelow):
        size, more = above_lines(shape, ratio, lit.size)
        raised += more
    else:
        size = covering(ratio, lit.size, bare.size, passing(at, zoom))
        if shape is not None:
            size = enlarged(shape, ratio, (lit.size, common(sheet, opening).size.across), size)
    left = (lit.left + lit.right - size.across) / 2
    top = (lit.top + lit.bottom - size.down) / 2 - raised
    left = min(max(left, bare.left), bare.right - size.across)
    top = min(max(top, bare.top), bare.bottom - size.down)
    return Box(left, top, left + size.across, top + size.down)


def area(zoom: Preset) -> int:
    return zoom.raster_width * zoom.raster_height


def common(*boxes: Box) -> Box:
    left, top, right, bottom = zip(*boxes, strict=True)
    return Box(max(left), max(top), min(right), min(bottom))


def sheet_of(at: Room, zoom: Preset) -> Box:
    """Where the screen lies in the raster: round its measured corners, or in the middle."""
    if zoom.measured is not None:
        across, down = (
            sorted(Fraction(end, 100) for end in ends) for ends in zip(*zoom.measured, strict=True)
        )
        return Box(across[0], down[0], across[-1], down[-1])
    return centred(at, zoom, at.screen.width, at.screen.height)


def centred(at: Room, zoom: Preset, width: int, height: int) -> Box:
    columns, rows = at.projector.columns, at.projector.rows
    across = Fraction(width * columns, 2 * zoom.raster_width)
    down = Fraction(height * rows, 2 * zoom.raster_height)
    x, y = Fraction(columns, 2), Fraction(rows, 2)
    return Box(x - across, y - down, x + across, y + down)


def opening_of(at: Room, zoom: Preset, panels: str | None) -> Box:
    """The largest box within what panels leave free; unknown panels are all fitted at once.

    A length is a whole number of micrometres, and what is free is no longer than its ratio says.
    """
    width, height = at.screen.width, at.screen.height
    free_width, free_height = width, height
    for name, one in at.panels.items():
        if one.opening is not None and panels in {None, name}:
            free_width = min(free_width, height * one.opening // WHOLE)
            free_height = min(free_height, width * WHOLE // one.opening)
    across, down = Fraction(free_width, width), Fraction(free_height, height)
    if zoom.measured is None:
        box = centred(at, zoom, free_width, free_height)
    else:
        box = within_corners(zoom.measured, across, down)
    return Box(
        box.left if across < 1 else -FAR,
        box.top if down < 1 else -FAR,
        box.right if across < 1 else FAR,
        box.bottom if down < 1 else FAR,
    )


def within_corners(corners: tuple[tuple[int, int], ...], across: Fraction, down: Fraction) -> Box:
    """The largest box between the edges of an opening, seen through the screen's corners."""
    seen = Projection(corners)
    ends = (-PAST, 1 + PAST)
    left, right = (1 - across) / 2, (1 + across) / 2
    top, bottom = (1 - down) / 2, (1 + down) / 2
    return Box(
        max(seen(left, end)[0] for end in ends),
        max(seen(end, top)[1] for end in ends),
        min(seen(right, end)[0] for end in ends),
        min(seen(end, bottom)[1] for end in ends),
    )


class Projection:
    """The projective map from shares of the screen to raster pixels, solved as eight equations."""

    def __init__(self, corners: tuple[tuple[int, int], ...]) -> None:
        rows: list[list[Fraction]] = []
        for (u, v), (x, y) in zip(((0, 0), (1, 0), (1, 1), (0, 1)), corners, strict=True):
            rows.append([*map(Fraction, (u, v, 1, 0, 0, 0, -u * x, -v * x, x))])
            rows.append([*map(Fraction, (0, 0, 0, u, v, 1, -u * y, -v * y, y))])
        self.parts = [*solved(rows), Fraction(1)]

    def __call__(self, u: Fraction, v: Fraction) -> tuple[Fraction, Fraction]:
        a, b, c, d, e, f, g, h, n = self.parts
        depth = (g * u + h * v + n) * 100  # corners are in hundredths of a pixel
        return (a * u + b * v + c) / depth, (d * u + e * v + f) / depth


def solved(rows: list[list[Fraction]]) -> list[Fraction]:
    """Solve linear equations, each with its right side at its end, by elimination."""
    for column in range(len(rows)):
        pivot = next(index for index in range(column, len(rows)) if rows[index][column])
        rows[column], rows[pivot] = rows[pivot], rows[column]
        first = rows[column][column]
        rows[column] = [part / first for part in rows[column]]
        for index, row in enumerate(rows):
            if index != column and row[column]:
                rows[index] = [
                    part - row[column] * other
                    for part, other in zip(row, rows[column], strict=True)
                ]
    return [row[-1] for row in rows]


def passing(at: Room, zoom: Preset) -> Size:
    """How long a picture may be: it may pass the screen by the overfill or the border."""
    sheet, lengths = sheet_of(at, zoom).size, (at.screen.width, at.screen.height)
    return Size(
        *(
            pixels
            * (1 + min(Fraction(at.screen.overfill, WHOLE), Fraction(2 * at.screen.border, length)))
            for pixels, length in zip(sheet, lengths, strict=True)
        )
    )


def covering(ratio: Fraction, lit: Size, bare: Size, limit: Size) -> Size:
    """The plain picture: over the screen's edge where that covers it and the border takes it.

    Else it lies within. A pixel may be missing from what is covered, or lost, for nobody sees that.
    """
    within = contained(ratio, lit)
    cover = max(contained(ratio, Size(lit.across, FAR)), contained(ratio, Size(FAR, lit.down)))
    cover = min(cover, contained(ratio, bare))
    short = cover.across <= lit.across - 1 or cover.down <= lit.down - 1
    lost = cover.across >= lit.across + 1 or cover.down >= lit.down + 1
    swallowed = cover.across <= limit.across and cover.down <= limit.down
    return cover if swallowed and not (short and lost) else within


def contained(ratio: Fraction, place: Size) -> Size:
    """The largest picture of a ratio within a place."""
    across = min(place.across, place.down * ratio)
    return Size(across, across / ratio)


def enlarged(
    shape: Stretch | Crop, ratio: Fraction, place: tuple[Size, Fraction], plain: Size
) -> Size:
    """The picture that a crop or a stretch makes of a plain one; nothing if nobody would see it.

    `place` is what is lit of the screen, and the width of the screen between panels.
    """
    lit, wanted = place
    straight = lit.down * ratio
    bent = straight / (1 - Fraction(shape.rows_lost, WHOLE))
    if isinstance(shape, Stretch):
        middle, edge = Fraction(shape.middle_circle, WHOLE), Fraction(shape.edge_circle, WHOLE)
        even = Fraction(shape.even_middle, WHOLE)
        target = straight + (wanted - straight) * Fraction(shape.fill, WHOLE)
        bent = min(bent * (middle + (edge - middle) * (1 - even) / 2), target)
    across = min(lit.across, max(bent, straight))
    return Size(across, lit.down) if across - plain.across > plain.across / 200 else plain


def above_lines(shape: RoomBelow, ratio: Fraction, lit: Size) -> tuple[Size, Fraction]:
    """The largest picture with its room below it, and how far that raises it from the middle."""
    share = Fraction(shape.room_below, WHOLE)
    size = contained(ratio, Size(lit.across, lit.down / (1 + share)))
    return size, max(Fraction(0), size.down * share - (lit.down - size.down) / 2)
