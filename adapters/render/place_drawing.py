"""Where pictures land, drawn to scale: a sheet for each preset, a row for each ratio.

Every cell shows the wall, the border, the screen, the outline of the projected raster with its
grey, and the picture. Beside the room's pictures stand its panels, fitted.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from adapters.render import svg
from adapters.render.measures import length_bar
from adapters.render.palette import ON_PAPER, area_style, hatches, line_style
from adapters.render.wall_drawing import draw_lit, draw_panels, draw_raster, draw_wall, wall_view
from engine.aspect import ratio_text
from engine.optics import fit
from engine.planning.placement import outline
from engine.room import PLAIN, WHOLE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from adapters.render.wall_drawing import WallView
    from engine.optics import Rect
    from engine.planning.plan import Plan, ShapeWays, Way, Zoom
    from engine.room import Room

CELL: Final = 250.0
"""Width of a cell's drawing."""
GAP: Final = 22.0
LEFT: Final = 84.0
TOP: Final = 124.0
LETTERS: Final = 28
"""How many letters of a name fit above a cell."""
UNDER: Final = 26.0
"""Height of the words beneath a cell."""


def places_sheet(plan: Plan, zoom: Zoom) -> str:
    """Draw one preset: its ratios down, the pictures and the fitted panels across."""
    room, view = plan.room, wall_view(plan.room, CELL)
    columns = [PLAIN, WHOLE, *room.pictures]
    columns += [*(f"plain, {one.panels} fitted" for one in plan.maskings)]
    high = view.height * view.scale
    width = LEFT + len(columns) * (CELL + GAP)
    height = TOP + len(plan.shapes) * (high + UNDER + GAP)
    parts = [*_head(plan, zoom, view), hatches(ON_PAPER, ["panel"])]
    for at, name in enumerate(columns):
        x = LEFT + at * (CELL + GAP)
        short = name if len(name) <= LETTERS else f"{name[: LETTERS - 1]}~"
        parts.append(svg.draw_text(x, TOP - 12, short, 14, font_weight="bold", fill=ON_PAPER.ink))
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
    title = f"{room.name}, preset {zoom.preset}"
    return svg.sheet(width, height, title, ON_PAPER.ground, parts)


def _head(plan: Plan, zoom: Zoom, view: WallView) -> Iterator[str]:
    """Write the sheet's title, its legend and a bar of one metre."""
    size = f"{zoom.width / 1e6:.3f} x {zoom.height / 1e6:.3f} m"
    light = "" if zoom.light is None else f", white {zoom.light.luminance:.0f} cd/m2"
    title = f"{plan.room.name}, preset {zoom.preset}"
    yield svg.draw_text(LEFT, 34, title, 22, font_weight="bold", fill=ON_PAPER.ink)
    yield svg.draw_text(LEFT, 56, f"raster {size}{light}", 14, fill=ON_PAPER.faint)
    x = LEFT
    for name, style in (
        ("wall", {"fill": ON_PAPER.wall, "stroke": ON_PAPER.faint}),
        ("border", {"fill": ON_PAPER.border}),
        ("screen", {"fill": ON_PAPER.screen}),
        ("raster black", {"fill": ON_PAPER.grey}),
        ("raster", line_style(ON_PAPER, "lens")),
        ("picture", {"fill": ON_PAPER.lit}),
        ("panel", area_style(ON_PAPER, "panel")),
    ):
        yield svg.draw_rect(x, 70, 18, 12, **style)
        yield svg.draw_text(x + 24, 81, name, 12, fill=ON_PAPER.ink)
        x += 40 + 8 * len(name)
    yield from length_bar(x, 80, 1e6, view.scale, ON_PAPER)


def _cells(plan: Plan, zoom: Zoom, shape: ShapeWays, view: WallView) -> Iterator[str]:
    """Draw one ratio in every picture, and plain within each arrangement of panels."""
    for way in shape.ways:
        if way.preset == zoom.preset:
            yield _cell(plan, view, way)
    for masking in plan.maskings:
        rect = fit(plan.room, PLAIN, 0, shape.ratio, zoom.preset, masking.panels)
        yield _masked(plan.room, view, (zoom.preset, masking.panels), rect)


def _cell(plan: Plan, view: WallView, way: Way) -> str:
    """Draw one way to show a ratio."""
    room = plan.room
    corners = outline(room, way.preset, way.placement.rect)
    lit = [draw_lit(view, corners, ON_PAPER)]
    if way.picture == WHOLE:  # the frame is dark but for the picture between its bars
        left, top, right, bottom = way.area
        edges = [(left, top), (right, top), (right, bottom), (left, bottom)]
        lit = [
            draw_lit(view, edges, ON_PAPER),
            svg.draw_polygon(
                map(view.at, corners), fill="none", stroke="#c9c5ba", stroke_width=0.8
            ),
        ]
    label = f"{way.area.width / 1e6:.2f} x {way.area.height / 1e6:.2f} m, "
    label += f"{way.columns} x {way.rows}"
    if way.as_plain:
        label = "nothing to gain: as plain"
    wall, raster = (
        draw_wall(room, view, ON_PAPER, way.preset),
        draw_raster(room, view, ON_PAPER, way.preset),
    )
    parts = [*wall, *lit, raster]
    drawn = svg.group(parts, opacity=0.35 if way.as_plain else 1.0)
    return drawn + _label(view, label)


def _masked(room: Room, view: WallView, at: tuple[str, str], rect: Rect) -> str:
    """Draw the picture within fitted panels."""
    preset, panels = at
    corners = outline(room, preset, rect)
    parts = [
        *draw_wall(room, view, ON_PAPER, preset),
        *draw_panels(room, view, ON_PAPER, panels),
        draw_lit(view, corners, ON_PAPER),
        draw_raster(room, view, ON_PAPER, preset),
    ]
    width = corners[1][0] - corners[0][0]
    height = corners[3][1] - corners[0][1]
    label = f"{width / 1e6:.2f} x {height / 1e6:.2f} m, {rect.width} x {rect.height}"
    return svg.group(parts) + _label(view, label)


def _label(view: WallView, text: str) -> str:
    return svg.draw_text(0, view.height * view.scale + 15, text, 11.5, fill=ON_PAPER.faint)
