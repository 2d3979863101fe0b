"""Where pictures land, drawn to scale: a sheet for each preset, a row for each ratio.

Every cell shows the wall, the border, the screen, the outline of the projected raster with its
grey, and the picture. Beside the room's pictures stand its panels, fitted.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from adapters.render import svg
from engine.aspect import ratio_text
from engine.optics import Rect, fit, window
from engine.planning.placement import outline
from engine.room import PLAIN, WHOLE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from adapters.render.svg import Position
    from engine.planning.plan import Plan, ShapeWays, Way, Zoom
    from engine.room import Room

CELL: Final = 250.0
"""Width of a cell's drawing."""
GAP: Final = 22.0
LEFT: Final = 84.0
TOP: Final = 124.0
LETTERS: Final = 28
"""So many letters of a name stand above a cell."""
UNDER: Final = 26.0
"""Height of the words beneath a cell."""

WALL: Final = "#cfcac0"
BORDER: Final = "#17181a"
SCREEN: Final = "#33383e"
GREY: Final = "#48443c"
"""The screen with the raster's grey on it: as it is drawn, one over the other."""
PICTURE: Final = "#8fc1e3"
RASTER: Final = "#d9962b"
PANEL: Final = "#7d3b33"
INK: Final = "#1d1f21"
FAINT: Final = "#6d6a64"


class View(NamedTuple):
    """How a room's wall is seen in a cell: the part that is shown, and the scale."""

    left: float
    """Of the part shown, micrometres from the screen's left edge."""
    top: float
    width: float
    height: float
    scale: float
    """Units of the drawing for a micrometre."""

    def at(self, place: Position) -> Position:
        """Find a place on the screen's plane in the cell."""
        return (place[0] - self.left) * self.scale, (place[1] - self.top) * self.scale


def places_sheet(plan: Plan, zoom: Zoom) -> str:
    """Draw one preset: its ratios down, the pictures and the fitted panels across."""
    room, view = plan.room, _view(plan.room)
    columns = [PLAIN, WHOLE, *room.pictures]
    columns += [*(f"plain, {one.panels} fitted" for one in plan.maskings)]
    high = view.height * view.scale
    width = LEFT + len(columns) * (CELL + GAP)
    height = TOP + len(plan.shapes) * (high + UNDER + GAP)
    parts = [*_head(plan, zoom, view), _hatching()]
    for at, name in enumerate(columns):
        x = LEFT + at * (CELL + GAP)
        short = name if len(name) <= LETTERS else f"{name[: LETTERS - 1]}~"
        parts.append(svg.draw_text(x, TOP - 12, short, 14, font_weight="bold", fill=INK))
    for row, shape in enumerate(plan.shapes):
        y = TOP + row * (high + UNDER + GAP)
        parts.append(
            svg.draw_text(
                LEFT - 14, y + high / 2 + 7, ratio_text(shape.ratio), 20, text_anchor="end"
            )
        )
        for at, cell in enumerate(_cells(plan, zoom, shape, view)):
            x = LEFT + at * (CELL + GAP)
            parts.append(svg.group([cell], transform=f"translate({x:.1f} {y:.1f})"))
    return svg.page(width, height, f"{room.name}, preset {zoom.preset}", parts)


def _head(plan: Plan, zoom: Zoom, view: View) -> Iterator[str]:
    """Write the sheet's title, its legend and a bar of one metre."""
    size = f"{zoom.width / 1e6:.3f} x {zoom.height / 1e6:.3f} m"
    light = "" if zoom.light is None else f", white {zoom.light.luminance:.0f} cd/m2"
    title = f"{plan.room.name}, preset {zoom.preset}"
    yield svg.draw_text(LEFT, 34, title, 22, font_weight="bold", fill=INK)
    yield svg.draw_text(LEFT, 56, f"raster {size}{light}", 14, fill=FAINT)
    x = LEFT
    for name, style in (
        ("wall", {"fill": WALL, "stroke": FAINT}),
        ("border", {"fill": BORDER}),
        ("screen", {"fill": SCREEN}),
        ("raster black", {"fill": GREY}),
        ("raster", {"fill": "none", "stroke": RASTER, "stroke_dasharray": "4 3"}),
        ("picture", {"fill": PICTURE}),
        ("panel", {"fill": "url(#panel)", "stroke": PANEL}),
    ):
        yield svg.draw_rect(x, 70, 18, 12, **style)
        yield svg.draw_text(x + 24, 81, name, 12, fill=INK)
        x += 40 + 8 * len(name)
    metre = 1e6 * view.scale
    yield svg.draw_line((x, 80), (x + metre, 80), stroke=INK, stroke_width=2)
    yield svg.draw_text(x + metre + 8, 84, "1 m", 12, fill=INK)


def _hatching() -> str:
    """Make the hatching of panels."""
    back = svg.draw_rect(0, 0, 7, 7, fill="#4a2521")
    stroke = svg.draw_line((0, 7), (7, 0), stroke="#b5685d", stroke_width=1.4)
    pattern = svg.element(
        "pattern", back + stroke, id="panel", width=7, height=7, patternUnits="userSpaceOnUse"
    )
    return svg.element("defs", pattern)


def _view(room: Room) -> View:
    """Compute a view that holds the screen, its border and the raster of every preset."""
    border = room.screen.border
    across = [-border, room.screen.width + border]
    down = [-border, room.screen.height + border]
    for preset in room.presets:
        corners = outline(room, preset, _raster(room))
        across += [round(x) for x, _ in corners]
        down += [round(y) for _, y in corners]
    width, height = max(across) - min(across), max(down) - min(down)
    spare = width * 0.02
    whole = width + 2 * spare
    return View(min(across) - spare, min(down) - spare, whole, height + 2 * spare, CELL / whole)


def _raster(room: Room) -> Rect:
    return Rect(0, 0, room.projector.columns, room.projector.rows)


def _cells(plan: Plan, zoom: Zoom, shape: ShapeWays, view: View) -> Iterator[str]:
    """Draw one ratio in every picture, and plain within each arrangement of panels."""
    for way in shape.ways:
        if way.preset == zoom.preset:
            yield _cell(plan, view, way)
    for masking in plan.maskings:
        rect = fit(plan.room, PLAIN, 0, shape.ratio, zoom.preset, masking.panels)
        yield _masked(plan.room, view, (zoom.preset, masking.panels), rect)


def _cell(plan: Plan, view: View, way: Way) -> str:
    """Draw one way to show a ratio."""
    room = plan.room
    corners = outline(room, way.preset, way.placement.rect)
    lit = [svg.draw_polygon(map(view.at, corners), fill=PICTURE)]
    if way.picture == WHOLE:  # the frame is dark but for the picture between its bars
        left, top, right, bottom = way.area
        edges = [(left, top), (right, top), (right, bottom), (left, bottom)]
        lit = [
            svg.draw_polygon(map(view.at, edges), fill=PICTURE),
            svg.draw_polygon(
                map(view.at, corners), fill="none", stroke="#c9c5ba", stroke_width=0.8
            ),
        ]
    label = f"{way.area.width / 1e6:.2f} x {way.area.height / 1e6:.2f} m, "
    label += f"{way.columns} x {way.rows}"
    if way.as_plain:
        label = "nothing to gain: as plain"
    parts = [*_wall(room, view, way.preset), *lit, *_outlines(room, view, way.preset)]
    drawn = svg.group(parts, opacity=0.35 if way.as_plain else 1.0)
    return drawn + _label(view, label)


def _masked(room: Room, view: View, at: tuple[str, str], rect: Rect) -> str:
    """Draw the picture within fitted panels."""
    preset, panels = at
    free = window(room, panels)
    corners = outline(room, preset, rect)
    parts = [
        *_wall(room, view, preset),
        *_panel(room, view, free.width, free.height),
        svg.draw_polygon(map(view.at, corners), fill=PICTURE),
        *_outlines(room, view, preset),
    ]
    width = corners[1][0] - corners[0][0]
    height = corners[3][1] - corners[0][1]
    label = f"{width / 1e6:.2f} x {height / 1e6:.2f} m, {rect.width} x {rect.height}"
    return svg.group(parts) + _label(view, label)


def _label(view: View, text: str) -> str:
    return svg.draw_text(0, view.height * view.scale + 15, text, 11.5, fill=FAINT)


def _wall(room: Room, view: View, preset: str) -> Iterator[str]:
    """Draw the wall, the border and the screen, and the grey of the raster on all three."""
    screen = room.screen
    yield svg.draw_rect(0, 0, CELL, view.height * view.scale, fill=WALL)
    for over, fill in ((screen.border, BORDER), (0, SCREEN)):
        x, y = view.at((-over, -over))
        width, height = (screen.width + 2 * over), (screen.height + 2 * over)
        yield svg.draw_rect(x, y, width * view.scale, height * view.scale, fill=fill)
    corners = outline(room, preset, _raster(room))
    yield svg.draw_polygon(map(view.at, corners), fill=RASTER, opacity=0.13)


def _outlines(room: Room, view: View, preset: str) -> Iterator[str]:
    """Draw the edge of the raster over everything."""
    corners = outline(room, preset, _raster(room))
    yield svg.draw_polygon(
        map(view.at, corners), fill="none", stroke=RASTER, stroke_width=1.2, stroke_dasharray="4 3"
    )


def _panel(room: Room, view: View, width: int, height: int) -> Iterator[str]:
    """Draw the panels that leave this much of the screen free."""
    screen, scale = room.screen, view.scale
    side, end = (screen.width - width) / 2, (screen.height - height) / 2
    for left, top, wide, high in (
        (0.0, 0.0, side, screen.height),
        (screen.width - side, 0.0, side, screen.height),
        (0.0, 0.0, screen.width, end),
        (0.0, screen.height - end, screen.width, end),
    ):
        if wide > 0 and high > 0:
            x, y = view.at((left, top))
            yield svg.draw_rect(
                x, y, wide * scale, high * scale, fill="url(#panel)", stroke=PANEL, stroke_width=0.8
            )
