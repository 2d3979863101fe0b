"""The wall as the audience sees it, drawn to scale: screen, raster, picture and fitted panels."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from adapters.render import svg
from adapters.render.palette import area_style, line_style
from engine.optics import Rect, window
from engine.planning.placement import outline

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from adapters.render.palette import Palette
    from adapters.render.svg import Position
    from engine.room import Room


class WallView(NamedTuple):
    """How a room's wall is seen in a drawing: the part that is shown, and the scale."""

    left: float
    """Of the part shown, micrometres from the screen's left edge."""
    top: float
    width: float
    height: float
    scale: float
    """Units of the drawing for a micrometre."""

    @property
    def size(self) -> tuple[float, float]:
        """Give width and height in units of the drawing."""
        return self.width * self.scale, self.height * self.scale

    def at(self, place: Position) -> Position:
        """Find a place on the screen's plane in the drawing."""
        return (place[0] - self.left) * self.scale, (place[1] - self.top) * self.scale


def whole_raster(room: Room) -> Rect:
    """Give the raster as a rectangle of itself."""
    return Rect(0, 0, room.projector.columns, room.projector.rows)


def wall_view(room: Room, wide: float) -> WallView:
    """Compute a view, `wide` units across, of the screen, its border and every preset's raster."""
    border = room.screen.border
    across: list[float] = [-border, room.screen.width + border]
    down: list[float] = [-border, room.screen.height + border]
    for preset in room.presets:
        corners = outline(room, preset, whole_raster(room))
        across += [round(x) for x, _ in corners]
        down += [round(y) for _, y in corners]
    width, height = max(across) - min(across), max(down) - min(down)
    spare = width * 0.02
    whole = width + 2 * spare
    return WallView(min(across) - spare, min(down) - spare, whole, height + 2 * spare, wide / whole)


def draw_wall(room: Room, view: WallView, palette: Palette, preset: str) -> Iterator[str]:
    """Draw the wall, the border and the screen, and the grey of a preset's raster on all three."""
    screen = room.screen
    yield svg.draw_rect(0, 0, *view.size, fill=palette.wall)
    for over, fill in ((screen.border, palette.border), (0, palette.screen)):
        x, y = view.at((-over, -over))
        width, height = (screen.width + 2 * over), (screen.height + 2 * over)
        yield svg.draw_rect(x, y, width * view.scale, height * view.scale, fill=fill)
    corners = outline(room, preset, whole_raster(room))
    yield svg.draw_polygon(map(view.at, corners), fill=palette.lens, opacity=0.13)


def draw_raster(room: Room, view: WallView, palette: Palette, preset: str) -> str:
    """Draw the edge of a preset's raster, which goes over everything."""
    corners = outline(room, preset, whole_raster(room))
    return svg.draw_polygon(map(view.at, corners), **line_style(palette, "lens"))


def draw_lit(view: WallView, corners: Iterable[Position], palette: Palette) -> str:
    """Draw a picture whose corners lie here on the screen's plane, micrometres."""
    return svg.draw_polygon(map(view.at, corners), fill=palette.lit)


def draw_panels(room: Room, view: WallView, palette: Palette, panels: str | None) -> Iterator[str]:
    """Draw an arrangement of panels, hatched; None draws all that may be fitted.

    The drawing must hold the hatch of panels (`palette.hatches`).
    """
    free, screen, scale = window(room, panels), room.screen, view.scale
    side, end = (screen.width - free.width) / 2, (screen.height - free.height) / 2
    for left, top, wide, high in (
        (0.0, 0.0, side, screen.height),
        (screen.width - side, 0.0, side, screen.height),
        (0.0, 0.0, screen.width, end),
        (0.0, screen.height - end, screen.width, end),
    ):
        if wide > 0 and high > 0:
            x, y = view.at((left, top))
            style = area_style(palette, "panel")
            yield svg.draw_rect(x, y, wide * scale, high * scale, fill=palette.wall)
            yield svg.draw_rect(x, y, wide * scale, high * scale, **style)
