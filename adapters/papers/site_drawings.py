"""The site's two drawings to scale: the front of the screen, and a section from the side."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import TYPE_CHECKING, Final

from adapters.render import svg
from adapters.render.labels import Frame, LabelWriter
from adapters.render.legends import LegendEntry, draw_legend
from adapters.render.measures import dimension_line, length_bar, length_words
from adapters.render.palette import ON_PAPER, area_style, hatches, line_style
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
    sides = [one.panels for one in plan.maskings if one.side]
    ends = [one.panels for one in plan.maskings if one.end]
    left, top = MARGIN + STACKED * len(ends), 64 + STACKED * len(sides)
    stacked = STACKED * (len(room.presets) + 1)
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
    for row, panels in enumerate(sides):
        parts += _opening_across(room, panels, at, top - 14 - STACKED * row)
    for row, panels in enumerate(ends):
        parts += _opening_down(room, panels, at, left - STACKED * (row + 1))
    low = top + view.size[1]
    parts += _sizes(plan, at, (left + WIDE, low))
    low += stacked + STACKED / 2
    parts += length_bar(left, low, 1e6, view.scale, ON_PAPER)
    legend = draw_legend(_front_legend(plan), WIDE + stacked, ON_PAPER)
    parts.append(svg.group([legend.drawing], transform=f"translate({left:.1f} {low + 16:.1f})"))
    width, height = left + WIDE + stacked + MARGIN / 2, low + 16 + legend.height + STACKED / 2
    return svg.page(width, height, f"{room.name}, front", ON_PAPER.ground, parts)


def _front_legend(plan: Plan) -> Iterator[LegendEntry]:
    """Say what is drawn of the front."""
    edged: dict[str, float | str] = {"stroke": ON_PAPER.faint, "stroke_width": 0.8}
    yield LegendEntry("area", {"fill": ON_PAPER.screen}, "screen")
    yield LegendEntry("area", {"fill": ON_PAPER.border}, "border")
    yield LegendEntry("area", {"fill": ON_PAPER.wall, **edged}, "wall")
    if plan.maskings:
        words = "all panels that may be fitted"
        yield LegendEntry("area", area_style(ON_PAPER, "panel"), words)
    yield LegendEntry("line", line_style(ON_PAPER, "lens"), "edge of a preset's raster")
    grey: dict[str, float | str] = {"fill": ON_PAPER.lens, "fill_opacity": 0.13, **edged}
    yield LegendEntry("area", grey, f"where the raster of {plan.fixed} lights faintly")


def _opening_across(room: Room, panels: str, at: Map, line: float) -> Iterator[str]:
    """Measure what an arrangement leaves free between its side panels, and the panels."""
    for one, other, words in _opening(room.screen.width, window(room, panels).width, panels):
        yield from dimension_line((at(one, 0)[0], line), (at(other, 0)[0], line), words, ON_PAPER)


def _opening_down(room: Room, panels: str, at: Map, line: float) -> Iterator[str]:
    """Measure likewise what it leaves free between panels above and below."""
    for one, other, words in _opening(room.screen.height, window(room, panels).height, panels):
        yield from dimension_line((line, at(0, other)[1]), (line, at(0, one)[1]), words, ON_PAPER)


def _opening(whole: float, free: float, panels: str) -> Iterator[tuple[float, float, str]]:
    """Give the two panels of a pair and what is free between them: from, to, and words."""
    edges = [0.0, (whole - free) / 2, (whole + free) / 2, float(whole)]
    for number, (one, other) in enumerate(pairwise(edges)):
        words = length_words(other - one)
        yield one, other, f"{panels} leave {words}" if number == 1 else words


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
    legend = draw_legend(side.legend(), WIDE, ON_PAPER)
    place = f"translate({MARGIN:.1f} {side.height - STACKED / 2:.1f})"
    parts.append(svg.group([legend.drawing], transform=place))
    title = f"{plan.room.name}, side"
    size = WIDE + 2 * MARGIN, side.height + legend.height
    return svg.page(*size, title, ON_PAPER.ground, parts)


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
        yield from dimension_line(*ends, f"screen {length_words(high)}", ON_PAPER)

    def lens(self) -> Iterator[str]:
        """Draw the lens, its height above the screen's lower edge, and its light on each raster."""
        if self.throw is None:
            return
        high = self.room.screen.height
        lens = self.at(self.throw.distance, high / 2 - self.throw.offset_up)
        self.labels.keep_free(Frame(lens[0] - 2, lens[1] - 24, lens[0] + 40, self.foot))
        for preset in self.room.presets:
            corners = outline(self.room, preset, whole_raster(self.room))
            low, top = max(y for _, y in corners), min(y for _, y in corners)
            beam = lens, self.at(0, top), self.at(0, low)
            if preset == self.plan.fixed:
                yield svg.draw_polygon(beam, fill=ON_PAPER.lens, opacity=0.16)
            yield svg.draw_polygon(beam, **line_style(ON_PAPER, "lens", 0.9))
        yield svg.draw_rect(lens[0], lens[1] - 7, 22, 14, fill=ON_PAPER.border)
        right = lens[0] + STACKED
        up = high / 2 + self.throw.offset_up
        words = f"lens {length_words(abs(up))} {'up' if up >= 0 else 'below'}"
        yield from dimension_line((right, self.at(0, high)[1]), (right, lens[1]), words, ON_PAPER)
        yield svg.draw_text(lens[0], lens[1] + (-11 if up >= 0 else 20), "lens", 11)

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

    def legend(self) -> Iterator[LegendEntry]:
        """Say what is drawn of the side."""
        yield LegendEntry("area", {"fill": ON_PAPER.screen}, "screen")
        if self.throw is not None:
            yield LegendEntry("line", line_style(ON_PAPER, "lens", 0.9), "light of each preset")
            largest: dict[str, float | str] = {"fill": ON_PAPER.lens, "fill_opacity": 0.16}
            yield LegendEntry("area", largest, f"light of {self.plan.fixed}, the largest")
            up = "up, below: from the screen's lower edge to the middle of the lens"
            yield LegendEntry("line", {"stroke": ON_PAPER.faint}, up)
        if self.room.seats:
            yield LegendEntry("dot", {"fill": ON_PAPER.person}, "eyes of a row of seats")
            yield LegendEntry("line", line_style(ON_PAPER, "person", 0.8), "what they see")
