"""What a named picture does, drawn to scale: a field of circles and a page of a menu.

Everything is drawn through the map itself. A row for each ratio that the picture changes, at
the preset with the largest raster: the circles plain, the circles as shown, the page as shown.
"""

from __future__ import annotations

from math import cos, pi, sin
from typing import TYPE_CHECKING, Final, NamedTuple

from adapters.render import svg
from adapters.render.palette import ON_PAPER
from engine.aspect import SCALE, ratio_text
from engine.stretch import STRAIGHT, Widening

if TYPE_CHECKING:
    from collections.abc import Iterator

    from adapters.render.svg import Position
    from engine.planning.plan import Plan, Way

CELL: Final = 470.0
"""Width of a screen with its border, as drawn."""
GAP: Final = 26.0
LEFT: Final = 84.0
TOP: Final = 112.0
UNDER: Final = 30.0
PAPER: Final = "#dfeaf2"
RING: Final = "#1f5d8c"
BAR: Final = "#b9d3e6"
STEPS: Final = 48
"""Corners of a drawn circle."""
ADVANCE: Final = 0.602
"""Width of a letter against its size, in the monospaced fonts that are asked for."""
PLAIN: Final = Widening(STRAIGHT, 0.0)

ENTRIES: Final = ("Play from the start", "Chapters", "Sound", "Subtitles", "Language", "Extras")
LINES: Final = (
    "The harbour in the early morning.",
    "A boat comes in; nobody looks up.",
    "On the quay a child counts gulls,",
    "loses count, and begins again.",
    "Far off somebody tunes a piano.",
)


class CellMap(NamedTuple):
    """Maps a place of the source to a place in a cell.

    In the source, x runs from -1 to 1 over its width, y from -1 at the top to 1 over its height.
    """

    widening: Widening
    aspect: float
    """Of the source."""
    middle: Position
    width: float
    """Of the picture as shown, in units of the drawing."""
    height: float

    def at(self, x: float, y: float) -> Position:
        """Find a place of the source in the cell."""
        return (
            self.middle[0] + self.widening.curve.shown(x) * self.width / 2,
            self.middle[1] + y * self.widening.enlarged * self.height / 2,
        )


def stretch_sheet(plan: Plan, picture: str) -> str:
    """Draw one named picture; if it changes nothing, say so on the sheet."""
    ways = [
        (shape.ratio, way)
        for shape in plan.shapes
        for way in shape.ways
        if (way.preset, way.picture) == (plan.fixed, picture) and not way.as_plain
    ]
    screen = plan.room.screen
    high = CELL * (screen.height + 2 * screen.border) / (screen.width + 2 * screen.border)
    width = LEFT + 3 * (CELL + GAP)
    height = TOP + max(1, len(ways)) * (high + UNDER + GAP)
    title = f"{plan.room.name}, picture {picture}, at preset {plan.fixed}"
    parts = [svg.draw_text(LEFT, 34, title, 22, font_weight="bold", fill=ON_PAPER.ink)]
    for at, name in enumerate(("circles, plain", f"circles, {picture}", f"a menu, {picture}")):
        x = LEFT + at * (CELL + GAP)
        parts.append(svg.draw_text(x, TOP - 12, name, 14, font_weight="bold", fill=ON_PAPER.ink))
    if not ways:
        parts.append(svg.draw_text(LEFT, TOP + 20, "It changes nothing for these ratios.", 14))
    for row, (ratio, way) in enumerate(ways):
        y = TOP + row * (high + UNDER + GAP)
        label = svg.draw_text(LEFT - 14, y + high / 2 + 7, ratio_text(ratio), 20, text_anchor="end")
        parts += [label, *_row(plan, ratio, way, (y, high))]
    return svg.sheet(width, height, title, ON_PAPER.ground, parts)


def _row(plan: Plan, ratio: int, way: Way, at: tuple[float, float]) -> Iterator[str]:
    """Draw the three cells of one ratio."""
    enlarged = way.placement.enlarged
    assert enlarged is not None  # noqa: S101 - the caller leaves out what changes nothing
    y, high = at
    screen = plan.room.screen
    unit = CELL / (screen.width + 2 * screen.border)
    middle = CELL / 2, high / 2
    size = way.area.width * unit, way.area.height * unit
    plain = CellMap(PLAIN, ratio / SCALE, middle, size[1] * ratio / SCALE, size[1])
    bent = CellMap(enlarged.widening, ratio / SCALE, middle, *size)
    cells = (_circles(plain), _circles(bent), _menu(bent))
    for number, (lens, cell) in enumerate(zip((plain, bent, bent), cells, strict=True)):
        x = LEFT + number * (CELL + GAP)
        name = f"clip-{ratio}-{number}"
        parts = [
            svg.draw_rect(0, 0, CELL, high, fill=ON_PAPER.border),
            svg.draw_rect(
                screen.border * unit,
                screen.border * unit,
                screen.width * unit,
                screen.height * unit,
                fill=ON_PAPER.screen,
            ),
            _clip(name, lens),
            svg.group([_sheet(lens), *cell], clip_path=f"url(#{name})"),
        ]
        yield svg.group(parts, transform=f"translate({x:.1f} {y:.1f})")
    curve, lost = enlarged.widening.curve, enlarged.widening.rows_lost
    what = f"circles {curve.middle:.2f} wide in the middle, {curve.edge:.2f} at the edge; "
    what += f"{lost * 100:.1f} % of the rows lost; {enlarged.fill * 100:.0f} % of the unlit width "
    what += "filled" if enlarged.kept else "filled, all that its limits or the raster allow"
    yield svg.draw_text(LEFT + CELL + GAP, y + high + 17, what, 12.5, fill=ON_PAPER.faint)
    width = ratio / SCALE * way.area.height
    size_words = f"plain {width / 1e6:.2f} m, {way.picture} {way.area.width / 1e6:.2f} m wide"
    yield svg.draw_text(LEFT, y + high + 17, size_words, 12.5, fill=ON_PAPER.faint)


def _edges(lens: CellMap) -> tuple[float, float, float, float]:
    """Give the picture's place as shown: left, top, width, height."""
    return (
        lens.middle[0] - lens.width / 2,
        lens.middle[1] - lens.height / 2,
        lens.width,
        lens.height,
    )


def _clip(name: str, lens: CellMap) -> str:
    return svg.element("clipPath", svg.draw_rect(*_edges(lens)), id=name)


def _sheet(lens: CellMap) -> str:
    return svg.draw_rect(*_edges(lens), fill=PAPER)


def _circles(lens: CellMap) -> Iterator[str]:
    """Draw a field of circles that reaches every edge, and the lines between them."""
    count = round(lens.aspect * 3)
    radius = 0.8 / 3
    for row in (-1, 0, 1):
        for column in range(count):
            x = (2 * column + 1 - count) / count
            yield svg.draw_polygon(
                _round(lens, x, row * 2 / 3, radius), fill="none", stroke=RING, stroke_width=1.6
            )
    for y in (-1 / 3, 1 / 3):
        yield svg.draw_line(lens.at(-1, y), lens.at(1, y), stroke=BAR, stroke_width=1)
    for column in range(1, count):
        x = 2 * column / count - 1
        yield svg.draw_line(lens.at(x, -1.2), lens.at(x, 1.2), stroke=BAR, stroke_width=1)


def _round(lens: CellMap, x: float, y: float, radius: float) -> list[Position]:
    """Map a circle; `radius` is a share of half the height of the source."""
    return [
        lens.at(
            x + radius / lens.aspect * cos(2 * pi * step / STEPS),
            y + radius * sin(2 * pi * step / STEPS),
        )
        for step in range(STEPS)
    ]


def _menu(lens: CellMap) -> Iterator[str]:
    """Draw a page as menus are: a title, entries at the left, lines at the right, round marks.

    Sizes go with the source's width, so that every ratio has the same words on its page.
    """
    small, middling, large = (share * lens.aspect for share in (0.045, 0.054, 0.075))
    yield from _text(lens, (-0.93, -0.72), "A Winter Crossing", large)
    yield svg.draw_line(lens.at(-0.93, -0.62), lens.at(0.93, -0.62), stroke=RING, stroke_width=1.2)
    for number, entry in enumerate(ENTRIES):
        y = -0.4 + number * 0.2
        if number == 1:
            left, top = lens.at(-0.95, y - 0.11)
            right, bottom = lens.at(-0.1, y + 0.07)
            yield svg.draw_rect(left, top, right - left, bottom - top, fill=BAR)
        mark = {"fill": RING if number == 1 else "none", "stroke": RING, "stroke_width": "1.2"}
        yield svg.draw_polygon(_round(lens, -0.9, y - 0.03, middling * 0.4), **mark)
        yield from _text(lens, (-0.85, y), entry, middling)
    for number, text in enumerate(LINES):
        yield from _text(lens, (0.02, -0.38 + number * 0.15), text, small)
    yield svg.draw_polygon(_round(lens, 0.8, 0.58, 0.2), fill="none", stroke=RING, stroke_width=2)
    yield from _text(lens, (-0.93, 0.9), "Back", small)
    yield from _text(lens, (0.95 - small * ADVANCE * 4 / lens.aspect, 0.9), "Help", small)


def _text(lens: CellMap, place: Position, text: str, size: float) -> Iterator[str]:
    """Write a line of text, each word as wide as the map makes it at its place."""
    letter = size * ADVANCE / lens.aspect
    at, y = place
    for word in text.split():
        (left, down), (right, _) = lens.at(at, y), lens.at(at + letter * len(word), y)
        high = size * lens.height / 2 * lens.widening.enlarged
        wide = (right - left) / (ADVANCE * len(word))
        yield svg.draw_text(
            0,
            0,
            word,
            1,
            font_family=svg.MONO,
            fill=ON_PAPER.ink,
            transform=f"matrix({wide:.3f} 0 0 {high:.3f} {left:.2f} {down:.2f})",
        )
        at += letter * (len(word) + 1)


def circles_cell(plan: Plan, ratio: int, way: Way, wide: float, name: str) -> str:
    """Draw one way to show a ratio as a field of circles, so many units wide, with its border.

    `name` tells it from other cells of one page.
    """
    screen = plan.room.screen
    unit = wide / (screen.width + 2 * screen.border)
    high = (screen.height + 2 * screen.border) * unit
    enlarged = way.placement.enlarged
    bent = PLAIN if enlarged is None else enlarged.widening
    size = way.area.width * unit, way.area.height * unit
    lens = CellMap(bent, ratio / SCALE, (wide / 2, high / 2), *size)
    edge = screen.border * unit
    parts = [
        svg.draw_rect(0, 0, wide, high, fill=ON_PAPER.border),
        svg.draw_rect(edge, edge, screen.width * unit, screen.height * unit, fill=ON_PAPER.screen),
        _clip(name, lens),
        svg.group([_sheet(lens), *_circles(lens)], clip_path=f"url(#{name})"),
    ]
    return svg.page(wide, high, name, ON_PAPER.border, parts)
