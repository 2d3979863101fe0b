"""Draw how a preset has crept: offset against travels, with its limits and the forecast."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import ceil, floor, isfinite, log10

from adapters.render.svg import (
    Position,
    draw_line,
    draw_polygon,
    draw_rect,
    draw_text,
    page,
    short_number,
)
from simulator.wear.assessment import AXIS_WORDS, OffsetEstimate, PresetWear
from simulator.wear.creep import ENOUGH

WIDTH, PANEL, LEFT, TOP, GAP = 860.0, 190.0, 70.0, 86.0, 56.0
INK, BAND, LIMIT, GONE = "#22303c", "#9fb8c8", "#b5482e", "#8a8f94"
STEPS = 60
FURTHEST = 20_000
"""How many travels ahead a drawing shows at most."""


class _Scale:
    """Converts travels and millimetres into places on the sheet."""

    def __init__(self, first: float, last: float, most: float, top: float) -> None:
        self.first, self.last, self.most, self.top = first, last, most, top

    def x(self, travels: float) -> float:
        share = (travels - self.first) / (self.last - self.first)
        return LEFT + share * (WIDTH - LEFT - 30)

    def y(self, offset: float) -> float:
        return self.top + PANEL * (0.5 - offset / self.most / 2)

    def held(self, offset: float) -> float:
        """Give the y of an offset, kept within the panel."""
        return min(max(self.y(offset), self.top), self.top + PANEL)


def wear_drawing(room: str, one: PresetWear) -> str:
    """Draw one preset: a panel for each edge of its picture."""
    height = TOP + max(1, len(one.edges)) * (PANEL + GAP) + 10
    parts = [
        draw_text(LEFT, 30, f"{room}, {one.preset}: offset against travels", 17, fill=INK),
        draw_text(LEFT, 50, _under(one), 12, fill=GONE),
    ]
    for index, axis in enumerate(one.edges):
        parts += _panel(one, axis, TOP + index * (PANEL + GAP))
    return page(WIDTH, height, f"{room}, {one.preset}", parts)


def _under(one: PresetWear) -> str:
    if not one.axes:
        return f"not enough measurements: {one.measured} of {ENOUGH}"
    return (
        "squares: measured, hollow after a realignment; band: 90 %; "
        "beyond the dashed lines it shows"
    )


def _panel(one: PresetWear, axis: OffsetEstimate, top: float) -> Iterator[str]:
    scale, unit = _scale(one, top), axis.limit.far
    steps = _ahead(axis, scale)
    yield draw_rect(LEFT, top, WIDTH - LEFT - 30, PANEL, fill="#ffffff", stroke="#d5d2c8")
    yield draw_text(LEFT, top - 6, AXIS_WORDS[axis.name], 12, fill=INK)
    yield from _ticks(scale)
    yield draw_polygon(_band(steps, scale), fill=BAND, fill_opacity=0.5)
    yield from _middle(steps, scale)
    for side in (-1, 1):
        y = scale.y(side * unit)
        yield draw_line((LEFT, y), (WIDTH - 30, y), stroke=LIMIT, stroke_dasharray="6 4")
    for seen in axis.seen:
        x, y = scale.x(seen.travels), seen.offset * unit
        spread = 1.645 * seen.error * unit
        yield draw_line((x, scale.y(y - spread)), (x, scale.y(y + spread)), stroke=INK)
        shade = "#ffffff" if seen.resets else INK
        yield draw_rect(x - 3, scale.y(y) - 3, 6, 6, fill=shade, stroke=INK)
    yield from _forecast(one, axis, scale)


def _scale(one: PresetWear, top: float) -> _Scale:
    """Choose one scale for all panels, wide enough for the earliest forecast."""
    worst = one.worst or one.edges[0]
    first, now = worst.seen[0].travels, max(one.travels, worst.belief.count)
    ahead = [worst.forecast.first] if isfinite(worst.forecast.first) else []
    last = now + min(1.15 * max([50.0, *ahead]), FURTHEST)
    most = max(axis.limit.far for axis in one.edges)
    furthest = max(abs(seen.offset) * axis.limit.far for axis in one.edges for seen in axis.seen)
    return _Scale(first - 0.03 * (last - first), last, 1.25 * max(most, furthest), top)


def _ahead(axis: OffsetEstimate, scale: _Scale) -> list[tuple[float, tuple[float, float, float]]]:
    """Give counts from the last measurement on, each with the 5, 50 and 95 % points, in mm."""
    begins = axis.belief.count
    counts = [begins + (scale.last - begins) * step / STEPS for step in range(STEPS + 1)]
    found = []
    for count in counts:
        low, middle, high = axis.belief.points(count)
        far = axis.limit.far
        found.append((count, (low * far, middle * far, high * far)))
    return found


def _band(steps: list[tuple[float, tuple[float, float, float]]], scale: _Scale) -> list[Position]:
    upper = [(scale.x(count), scale.held(points[2])) for count, points in steps]
    lower = [(scale.x(count), scale.held(points[0])) for count, points in reversed(steps)]
    return [*upper, *lower]


def _middle(steps: list[tuple[float, tuple[float, float, float]]], scale: _Scale) -> Iterator[str]:
    for (count, points), (to, then) in pairwise(steps):
        if max(abs(points[1]), abs(then[1])) <= scale.most:
            start = (scale.x(count), scale.y(points[1]))
            yield draw_line(start, (scale.x(to), scale.y(then[1])), stroke=INK)


def _forecast(one: PresetWear, axis: OffsetEstimate, scale: _Scale) -> Iterator[str]:
    now = max(one.travels, axis.belief.count)
    for name, ahead in zip(("5 %", "50 %", "95 %"), axis.forecast, strict=True):
        if isfinite(ahead) and now + ahead <= scale.last:
            x = scale.x(now + ahead)
            yield draw_line(
                (x, scale.top), (x, scale.top + PANEL), stroke=LIMIT, stroke_opacity=0.6
            )
            yield draw_text(x + 3, scale.top + PANEL - 6, name, 11, fill=LIMIT)
    x = scale.x(now)
    yield draw_line((x, scale.top), (x, scale.top + PANEL), stroke=GONE, stroke_dasharray="2 3")
    yield draw_text(x + 3, scale.top + 14, "now", 11, fill=GONE)


def _ticks(scale: _Scale) -> Iterator[str]:
    low = scale.top + PANEL
    yield draw_line((LEFT, scale.y(0)), (WIDTH - 30, scale.y(0)), stroke="#e3e0d8")
    for at in _round(scale.first, scale.last):
        yield draw_text(
            scale.x(at), low + 16, short_number(at), 11, text_anchor="middle", fill=GONE
        )
    for at in _round(-scale.most, scale.most):
        yield draw_text(LEFT - 6, scale.y(at) + 4, f"{at:+g} mm", 11, text_anchor="end", fill=GONE)


def _round(low: float, high: float) -> list[float]:
    """Give about five round numbers between two, for the ticks of an axis."""
    step = 10.0 ** floor(log10((high - low) / 4))
    step *= next(size for size in (1, 2, 5, 10) if (high - low) / (step * size) <= 6)  # noqa: PLR2004
    return [index * step for index in range(ceil(low / step), floor(high / step) + 1)]
