"""The site's two drawings to scale: the front of the screen, and a section from the side."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import TYPE_CHECKING, Final

from adapters.render import svg
from adapters.render.labels import Frame, LabelWriter
from adapters.render.measures import dimension_line, length_bar, length_words
from adapters.render.palette import ON_PAPER, hatches, line_style
from adapters.render.wall_drawing import (
    draw_panels,
    draw_raster,
    draw_wall,
    wall_view,
    whole_raster,
)
from engine.optics import window
from engine.planning.placement import outline

if TYPE_CHECKING:
    from collections.abc import Iterator

    from adapters.render.svg import Position
    from engine.planning.plan import Plan
    from engine.room import Room

Map = Callable[[float, float], "Position"]
"""Finds a place of the room, in micrometres, in the drawing."""

WIDE: Final = 760.0
"""Width of the front and of the section, in units of the drawings."""
MARGIN: Final = 96.0
STACKED: Final = 26.0
"""Between two dimension lines that run beside each other."""
EYES: Final = 1 / 3
"""Eyes are drawn so far up the screen, for the room file does not say how high people sit."""


def front_elevation(plan: Plan) -> str:
    """Draw the screen from the front: border, panels, each preset's raster, and their sizes."""
    room, view = plan.room, wall_view(plan.room, WIDE)
    rows = [one.panels for one in plan.maskings if one.side]
    left, top = MARGIN, 64 + STACKED * len(rows)
    stacked = STACKED * (len(room.presets) + 1)
    width, height = left + WIDE + stacked + MARGIN / 2, top + view.size[1] + stacked + 2 * STACKED
    wall = [*draw_wall(room, view, ON_PAPER, plan.fixed)]
    if plan.maskings:
        wall += draw_panels(room, view, ON_PAPER, None)
    wall += [draw_raster(room, view, ON_PAPER, preset) for preset in room.presets]

    def at(x: float, y: float) -> Position:
        across, down = view.at((x, y))
        return left + across, top + down

    parts = [
        hatches(ON_PAPER, ["panel"]),
        svg.draw_text(left, 28, f"{room.name}: front, to scale", 18, font_weight="bold"),
        svg.group(wall, transform=f"translate({left:.1f} {top:.1f})"),
    ]
    for row, panels in enumerate(rows):
        parts += _opening(room, panels, at, top - 14 - STACKED * row)
    low = top + view.size[1]
    parts += _sizes(plan, at, (left + WIDE, low))
    parts += length_bar(left, low + stacked + STACKED / 2, 1e6, view.scale, ON_PAPER)
    return svg.page(width, height, f"{room.name}, front", ON_PAPER.ground, parts)


def _opening(room: Room, panels: str, at: Map, line: float) -> Iterator[str]:
    """Measure what an arrangement leaves free between its side panels, and the panels."""
    width, free = room.screen.width, window(room, panels).width
    edges = [0.0, (width - free) / 2, (width + free) / 2, float(width)]
    for one, other in pairwise(edges):
        words = length_words(other - one)
        words = f"{panels} leave {words}" if one == edges[1] else words
        yield from dimension_line((at(one, 0)[0], line), (at(other, 0)[0], line), words, ON_PAPER)


def _sizes(plan: Plan, at: Map, end: Position) -> Iterator[str]:
    """Measure the screen and each raster, below the wall and to the right of it."""
    screen = plan.room.screen
    sizes = [("screen", 0.0, 0.0, float(screen.width), float(screen.height))]
    for preset in plan.room.presets:
        corners = outline(plan.room, preset, whole_raster(plan.room))
        columns, rows = ([corner[axis] for corner in corners] for axis in (0, 1))
        edges = min(columns), min(rows), max(columns), max(rows)
        sizes.append((f"raster of {preset}", *edges))
    for row, (name, left, top, right, bottom) in enumerate(sizes):
        off = STACKED * (row + 0.8)
        (x, y), (other_x, other_y) = at(left, top), at(right, bottom)
        wide, high = length_words(right - left), length_words(bottom - top)
        low = end[1] + off
        yield from dimension_line((x, low), (other_x, low), f"{name} {wide}", ON_PAPER)
        side = end[0] + off
        yield from dimension_line((side, other_y), (side, y), f"{name} {high}", ON_PAPER)


def side_section(plan: Plan) -> str:
    """Draw the room from the side: the screen, the lens with its beams, and who sits where."""
    side = _Section(plan)
    parts = [
        *side.wall(),
        *side.lens(),
        *side.seats(),
        *side.distances(),
    ]
    title = f"{plan.room.name}, side"
    return svg.page(WIDE + 2 * MARGIN, side.height, title, ON_PAPER.ground, parts)


class _Section:
    """A room seen from the side; places are micrometres from the screen, and from its top down."""

    def __init__(self, plan: Plan) -> None:
        self.plan, self.room = plan, plan.room
        screen, self.throw = plan.room.screen, plan.room.projector.throw
        self.ends = dict(plan.room.seats)
        over = 0
        if self.throw is not None:
            self.ends["lens"], over = self.throw.distance, self.throw.offset_up
        self.scale = WIDE / (max([screen.width, *self.ends.values()]) * 1.06)
        spare = screen.height * 0.1
        above = max(0.0, over - screen.height / 2) + spare
        below = max(0.0, -over - screen.height / 2) + spare
        self.top = 56 + above * self.scale
        self.foot = self.top + (screen.height + below) * self.scale
        self.height = self.foot + STACKED * (len(self.ends) + 2)
        self.labels = LabelWriter(Frame(MARGIN, 44, MARGIN + WIDE, self.foot), ON_PAPER)
        self.eyes = screen.height * (1 - EYES)
        for distance in plan.room.seats.values():
            x, y = self.at(distance, self.eyes)
            self.labels.keep_free(Frame(x - 6, y - 6, x + 6, y + 6))

    def at(self, distance: float, down: float) -> Position:
        """Find a place in the drawing."""
        return MARGIN + distance * self.scale, self.top + down * self.scale

    def wall(self) -> Iterator[str]:
        """Draw the wall and the screen on it, with its height."""
        high, (x, y) = self.room.screen.height, self.at(0, 0)
        yield svg.draw_text(MARGIN, 28, f"{self.room.name}: side, to scale", 18, font_weight="bold")
        yield svg.draw_rect(x - 10, 44, 6, self.foot - 44, fill=ON_PAPER.wall)
        yield svg.draw_rect(x - 4, y, 4, high * self.scale, fill=ON_PAPER.screen)
        left = x - STACKED
        ends = (left, self.at(0, high)[1]), (left, y)
        yield from dimension_line(*ends, length_words(high), ON_PAPER)

    def lens(self) -> Iterator[str]:
        """Draw the lens, its height above the screen's lower edge, and its light on each raster."""
        if self.throw is None:
            return
        high = self.room.screen.height
        lens = self.at(self.throw.distance, high / 2 - self.throw.offset_up)
        self.labels.keep_free(Frame(lens[0] - 2, lens[1] - 9, lens[0] + 40, self.foot))
        for preset in self.room.presets:
            corners = outline(self.room, preset, whole_raster(self.room))
            low, top = max(y for _, y in corners), min(y for _, y in corners)
            beam = lens, self.at(0, top), self.at(0, low)
            if preset == self.plan.fixed:
                yield svg.draw_polygon(beam, fill=ON_PAPER.lens, opacity=0.16)
            yield svg.draw_polygon(beam, **line_style(ON_PAPER, "lens", 0.9))
        yield svg.draw_rect(lens[0], lens[1] - 7, 22, 14, fill=ON_PAPER.border)
        right = lens[0] + STACKED
        words = length_words(high / 2 + self.throw.offset_up)
        yield from dimension_line((right, self.at(0, high)[1]), (right, lens[1]), words, ON_PAPER)
        yield from self.labels.write(*lens, "lens")

    def seats(self) -> Iterator[str]:
        """Draw each row's eyes, and what they see of the screen."""
        for name, distance in self.room.seats.items():
            eyes = self.at(distance, self.eyes)
            for end in (0, self.room.screen.height):
                yield svg.draw_line(eyes, self.at(0, end), **line_style(ON_PAPER, "person", 0.8))
            yield svg.element("circle", cx=eyes[0], cy=eyes[1], r=4, fill=ON_PAPER.person)
            yield from self.labels.write(*eyes, name)

    def distances(self) -> Iterator[str]:
        """Measure how far lens and seats are from the screen, the nearest first."""
        nearest = sorted(self.ends.items(), key=lambda one: one[1])
        for row, (name, distance) in enumerate(nearest, start=1):
            line = self.foot + STACKED * row
            ends = (MARGIN, line), (self.at(distance, 0)[0], line)
            yield from dimension_line(*ends, f"{name} {length_words(distance)}", ON_PAPER)
