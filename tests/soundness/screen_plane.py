"""A second reckoning of where light falls: on the screen's plane, in exact fractions of a metre.

The engine reckons in whole raster pixels, rounded to the safe side. Here every raster pixel is
projected onto the screen as a room file describes it, and held against the panels that hang there.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any, Final, NamedTuple

Point = tuple[Fraction, Fraction]
MEANT: Final = {Fraction("1.78"): Fraction(16, 9), Fraction("1.33"): Fraction(4, 3)}
"""The exact ratios behind two that people round."""
CORNERS: Final = ("top_left", "top_right", "bottom_right", "bottom_left")


class Size(NamedTuple):
    """A width and a height, both in metres or both in pixels."""

    width: Fraction
    height: Fraction


class Opening(NamedTuple):
    """What one arrangement of panels leaves free: half its size, where panels stand at all."""

    across: Fraction | None
    down: Fraction | None


def ratio_of_text(text: str) -> Fraction:
    """Read a ratio as a room file writes it."""
    return MEANT.get(Fraction(text), Fraction(text))


class ScreenPlane:
    """The screen of one room file (its sections as plain text), its presets and its panels."""

    def __init__(self, file: Mapping[str, Any]) -> None:
        width = Fraction(file["screen"]["width"].removesuffix(" m"))
        self.screen = Size(width, width / ratio_of_text(file["screen"]["aspect"]))
        columns, rows = file["projector"]["raster"].split(" x ")
        self.raster = Size(Fraction(columns), Fraction(rows))
        fixed = {"fixed": {"fits": file["screen"]["aspect"]}}
        self.presets: Mapping[str, Any] = file.get("presets") or fixed
        panels = {"open": {}, **file.get("panels", {})}
        self.openings = {name: self._opening(one.get("opening")) for name, one in panels.items()}

    def raster_on_screen(self, fits: Fraction) -> Size:
        """Give the size of the whole raster where a picture of this ratio just fits the screen."""
        columns, rows = self.raster
        if fits >= columns / rows:
            width = min(self.screen.width, self.screen.height * fits)
            return Size(width, width * rows / columns)
        height = min(self.screen.height, self.screen.width / fits)
        return Size(height * columns / rows, height)

    def nominal_corners(self, fits: Fraction) -> list[Point]:
        """Give the raster pixels in which the screen's corners lie if the lens is aimed well."""
        size = self.raster_on_screen(fits)
        found = []
        for across, down in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
            x = (size.width + across * self.screen.width) / 2 * self.raster.width / size.width
            y = (size.height + down * self.screen.height) / 2 * self.raster.height / size.height
            found.append((x, y))
        return found

    def spill(
        self, region: tuple[int, int, int, int], preset: str, panels: str, tolerance: int = 1
    ) -> bool:
        """Tell whether a lit region (left, top, width, height) falls on panels by over a pixel."""
        left, top, width, height = region
        left, top = left + tolerance, top + tolerance
        width, height = width - 2 * tolerance, height - 2 * tolerance
        if width <= 0 or height <= 0:
            return False
        opening = self.openings[panels]
        corners = [(left, top), (left + width, top), (left, top + height)]
        corners.append((left + width, top + height))
        for x, y in corners:
            across, down = self._on_screen(preset, Fraction(x), Fraction(y))
            if opening.across is not None and abs(across) > opening.across:
                return True
            if opening.down is not None and abs(down) > opening.down:
                return True
        return False

    def room_fits(
        self, region: tuple[int, int, int, int], room: Fraction, preset: str, panels: str
    ) -> bool:
        """Tell whether so much room below a picture, a share of its height, is on the screen.

        It must lie within the raster, the screen and what panels leave free, to two pixels: one
        for the room, which is rounded up, and one for the edge. Corners that were measured need
        not be square, and the room is then kept in the box round them: they are not asked.
        """
        if "measured" in self.presets[preset]:
            return True
        left, top, width, height = region
        lowest = top + height * (1 + room) - 2
        down = self._on_screen(preset, left + Fraction(width) / 2, lowest)[1]
        ends = self.openings[panels].down or self.screen.height / 2
        return lowest <= self.raster.height and down <= min(ends, self.screen.height / 2)

    def _opening(self, ratio: str | None) -> Opening:
        if ratio is None:
            return Opening(None, None)
        if ratio.endswith(" m"):  # the width between panels at the sides
            return Opening(Fraction(ratio.removesuffix(" m")) / 2, None)
        own, free = self.screen.width / self.screen.height, ratio_of_text(ratio)
        if free < own:
            return Opening(self.screen.height * free / 2, None)
        return Opening(None, self.screen.width / free / 2)

    def _on_screen(self, preset: str, x: Fraction, y: Fraction) -> Point:
        """Say where a place in raster pixels falls, in metres from the screen's middle."""
        given = self.presets[preset]
        measured = given.get("measured")
        if measured is None:
            size = self.raster_on_screen(ratio_of_text(given["fits"]))
            across = (x / self.raster.width - Fraction(1, 2)) * size.width
            return across, (y / self.raster.height - Fraction(1, 2)) * size.height
        corners = [(Fraction(part) for part in measured[name].split(" x ")) for name in CORNERS]
        u, v = unprojected([(next(one), next(one)) for one in corners], (x, y))
        half = Fraction(1, 2)
        return (u - half) * self.screen.width, (v - half) * self.screen.height


def unprojected(corners: list[Point], place: Point) -> Point:
    """Say which point of the unit square a flat screen with these corners shows at a place.

    The corners go round from the top left. The map back is found by solving for the projection's
    eight coefficients, then for the point.
    """
    zero, one = Fraction(0), Fraction(1)
    square = ((zero, zero), (one, zero), (one, one), (zero, one))
    rows: list[list[Fraction]] = []
    for (u, v), (x, y) in zip(square, corners, strict=True):
        rows.append([u, v, one, zero, zero, zero, -u * x, -v * x, x])
        rows.append([zero, zero, zero, u, v, one, -u * y, -v * y, y])
    a, b, c, d, e, f, g, h = solved(rows)
    x, y = place
    across, down = solved([[a - g * x, b - h * x, x - c], [d - g * y, e - h * y, y - f]])
    return across, down


def solved(rows: list[list[Fraction]]) -> list[Fraction]:
    """Solve linear equations, each its coefficients and then its right side."""
    for at in range(len(rows)):
        pivot = next(number for number in range(at, len(rows)) if rows[number][at])
        rows[at], rows[pivot] = rows[pivot], rows[at]
        rows[at] = [one / rows[at][at] for one in rows[at]]
        for number in range(len(rows)):
            if number != at:
                share = rows[number][at]
                rows[number] = [
                    one - share * other for one, other in zip(rows[number], rows[at], strict=True)
                ]
    return [row[-1] for row in rows]
