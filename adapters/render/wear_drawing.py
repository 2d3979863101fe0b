"""Draw how a preset has crept: offset against travels, with its limits and the forecast.

One page, A4 upright: a panel for each edge. All panels have one scale, chosen after what was
measured, so that a millimetre can be seen; a limit that lies outside is told in words.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import ceil, floor, isfinite, log10
from typing import NamedTuple
from zoneinfo import ZoneInfo

from adapters.render.svg import (
    Position,
    draw_line,
    draw_polygon,
    draw_rect,
    draw_text,
    page,
    short_number,
)
from adapters.render.wear_text import AXIS_WORDS
from engine.events import moment_of
from engine.room import Room
from simulator.wear.assessment import EdgeEstimate, PresetWear
from simulator.wear.creep import ENOUGH, Observation

WIDTH, PANEL, LEFT, RIGHT, TOP, GAP = 860.0, 180.0, 74.0, 30.0, 96.0, 86.0
INK, BAND, LIMIT, GONE, PAPER = "#22303c", "#9fb8c8", "#b5482e", "#5f666c", "#ffffff"
STEPS = 60
FURTHEST = 20_000
"""How many travels ahead a drawing shows at most."""
LEAST = 3.0
"""A panel shows at least so many millimetres to either side."""
WORTH = 2.5
"""A limit at most so many times as far as what was measured is drawn, a further one is told."""
CLOSE = 74.0
"""Dates stand no closer than this."""
NARROW = 34.0
"""Marks of what is foretold stand no closer than this."""
NINE_IN_TEN = 1.645


class _Scale(NamedTuple):
    """Converts travels and millimetres into places on the sheet."""

    first: float
    last: float
    most: float
    top: float

    def x(self, travels: float) -> float:
        share = (travels - self.first) / (self.last - self.first)
        return LEFT + share * (WIDTH - LEFT - RIGHT)

    def y(self, offset: float) -> float:
        """Give the y of an offset, kept within the panel."""
        place = self.top + PANEL * (0.5 - offset / self.most / 2)
        return min(max(place, self.top), self.top + PANEL)


def wear_drawing(room: Room, one: PresetWear) -> str:
    """Draw one preset: a panel for each edge of its picture."""
    height = TOP + max(1, len(one.edges)) * (PANEL + GAP) - GAP + 58
    parts = [
        draw_text(LEFT, 30, f"{room.name}, {one.preset}: how far each edge has moved", 17, fill=INK)
    ]
    for line, words in enumerate(_under(one)):
        parts.append(draw_text(LEFT, 50 + 16 * line, words, 12, fill=GONE))
    for index, edge in enumerate(one.edges):
        parts += _panel(room, one, edge, TOP + index * (PANEL + GAP))
    return page(WIDTH, height, f"{room.name}, {one.preset}", parts)


def _under(one: PresetWear) -> Iterator[str]:
    if not one.edges:
        yield f"not enough measurements: {one.measured} of {ENOUGH}"
        return
    yield (
        "Squares: measured, hollow after a realignment; bars and band: 90 %; "
        "an arrow: it moved at once, or was misread."
    )
    yield "Up is to the right for left and right edges, down for top and bottom."


def _panel(room: Room, one: PresetWear, edge: EdgeEstimate, top: float) -> Iterator[str]:
    scale, unit = _scale(one, top), edge.estimate.unit
    yield draw_rect(LEFT, top, WIDTH - LEFT - RIGHT, PANEL, fill=PAPER, stroke="#d5d2c8")
    yield draw_text(LEFT, top - 8, f"{AXIS_WORDS[edge.name]}, mm", 12, fill=INK)
    yield from _ticks(scale)
    yield from _dates(room, one, edge, scale)
    steps = _ahead(edge, scale)
    yield draw_polygon(_band(steps, scale), fill=BAND, fill_opacity=0.5)
    for (count, points), (to, then) in pairwise(steps):
        start = (scale.x(count), scale.y(points[1]))
        yield draw_line(start, (scale.x(to), scale.y(then[1])), stroke=INK, stroke_dasharray="5 3")
    yield from _limits(edge, scale)
    for before, seen in pairwise(edge.estimate.seen):
        if not seen.resets and not seen.jumped:
            start = (scale.x(before.travels), scale.y(before.offset * unit))
            end = (scale.x(seen.travels), scale.y(seen.offset * unit))
            yield draw_line(start, end, stroke=INK, stroke_opacity=0.6)
    for seen in edge.estimate.seen:
        yield from _reading(seen, unit, scale)
    yield from _forecast(one, edge, scale)


def _reading(seen: Observation, unit: float, scale: _Scale) -> Iterator[str]:
    x, y = scale.x(seen.travels), seen.offset * unit
    spread = NINE_IN_TEN * seen.error * unit
    low, high = scale.y(y - spread), scale.y(y + spread)
    yield draw_line((x, low), (x, high), stroke=INK, stroke_width=1.5)
    for end in (low, high):
        yield draw_line((x - 4, end), (x + 4, end), stroke=INK, stroke_width=1.5)
    shade = PAPER if seen.resets else INK
    yield draw_rect(x - 3, scale.y(y) - 3, 6, 6, fill=shade, stroke=INK)
    if seen.jumped or seen.wrong:
        below = 1 if y > 0 else -1  # towards the middle of the panel, where there is room
        tip = scale.y(y) + 14 * below
        away = tip + 10 * below
        yield draw_line((x, away), (x, tip), stroke=LIMIT, stroke_width=2)
        back = tip + 5 * below
        yield draw_polygon([(x, tip), (x - 4, back), (x + 4, back)], fill=LIMIT)
        words = "misread" if seen.wrong else "moved at once"
        yield _label(x - 6, away + 4, words, LIMIT, text_anchor="end")


def _scale(one: PresetWear, top: float) -> _Scale:
    """Choose one scale for all panels, wide enough for the earliest forecast that bears."""
    seen = one.edges[0].estimate.seen
    first, now = seen[0].travels, max(one.counts.travels, one.edges[0].estimate.belief.count)
    ahead = min(one.forecast.first if one.forecast else one.bears, one.bears, FURTHEST)
    last = now + 1.15 * max(50.0, ahead)
    unit = one.edges[0].estimate.unit
    measured = max(
        abs(read.offset) * unit + NINE_IN_TEN * read.error * unit
        for edge in one.edges
        for read in edge.estimate.seen
    )
    most = max(LEAST, measured)
    near = [
        far
        for edge in one.edges
        for far in (edge.inwards, edge.outwards)
        if isfinite(far) and far <= WORTH * most
    ]
    return _Scale(first - 0.03 * (last - first), last, 1.15 * max(most, *near, LEAST), top)


def _limits(edge: EdgeEstimate, scale: _Scale) -> Iterator[str]:
    """Draw where it shows, or say in words where that is."""
    lower = edge.name in {"left", "top"}
    beyond = []
    for far, words, outwards in (
        (edge.inwards, "a strip stays dark", False),
        (
            edge.outwards,
            "light on a panel" if edge.margin.on_panel else "light beyond the border",
            True,
        ),
    ):
        at = -far if lower is outwards else far
        if not isfinite(far):
            continue
        if far > scale.most:
            beyond.append(f"{words}: {at:+.0f} mm")
            continue
        y = scale.y(at)
        yield draw_line((LEFT, y), (WIDTH - RIGHT, y), stroke=LIMIT, stroke_dasharray="6 4")
        # Towards the middle, where the panel goes on, unless the limits lie too close for words.
        inner = abs(y - scale.y(0)) > PANEL / 4
        below = (at > 0) is inner
        place = y + 14 if below else y - 6
        yield _label(WIDTH - RIGHT - 6, place, words, LIMIT, text_anchor="end")
    if beyond:
        words = "outside this drawing: " + ", ".join(beyond)
        yield draw_text(WIDTH - RIGHT, scale.top - 8, words, 11, fill=LIMIT, text_anchor="end")


def _label(x: float, y: float, words: str, fill: str, **style: str) -> str:
    """Write words that can be read where a line or a band runs behind them."""
    return draw_text(
        x, y, words, 11, fill=fill, stroke=PAPER, stroke_width=3, paint_order="stroke", **style
    )


def _ahead(edge: EdgeEstimate, scale: _Scale) -> list[tuple[float, tuple[float, float, float]]]:
    """Give counts from the last measurement on, each with the 5, 50 and 95 % points, in mm."""
    begins = edge.estimate.belief.count
    counts = [begins + (scale.last - begins) * step / STEPS for step in range(STEPS + 1)]
    return [(count, edge.estimate.at(count)) for count in counts]


def _band(steps: list[tuple[float, tuple[float, float, float]]], scale: _Scale) -> list[Position]:
    upper = [(scale.x(count), scale.y(points[2])) for count, points in steps]
    lower = [(scale.x(count), scale.y(points[0])) for count, points in reversed(steps)]
    return [*upper, *lower]


def _forecast(one: PresetWear, edge: EdgeEstimate, scale: _Scale) -> Iterator[str]:
    now = max(one.counts.travels, edge.estimate.belief.count)
    taken = scale.x(now)
    for name, ahead in zip(("5 %", "50 %", "95 %"), one.forecast or (), strict=False):
        x = scale.x(now + ahead) if ahead <= one.bears and now + ahead <= scale.last else 0.0
        if x > taken + NARROW:
            taken = x
            yield draw_line(
                (x, scale.top), (x, scale.top + PANEL), stroke=LIMIT, stroke_opacity=0.6
            )
            yield _label(x + 4, scale.top + PANEL - 24, name, LIMIT)
    x = scale.x(now)
    yield draw_line((x, scale.top), (x, scale.top + PANEL), stroke=GONE, stroke_dasharray="2 3")
    yield _label(x + 4, scale.top + 30, "now", GONE)


def _ticks(scale: _Scale) -> Iterator[str]:
    low = scale.top + PANEL
    for at in _round(scale.first, scale.last):
        x = scale.x(at)
        yield draw_line((x, low), (x, low + 4), stroke=GONE)
        yield draw_text(x, low + 16, short_number(at), 11, text_anchor="middle", fill=GONE)
    yield draw_text(LEFT - 8, low + 16, "travels", 11, text_anchor="end", fill=GONE)
    for at in _round(-scale.most, scale.most):
        y = scale.y(at)
        yield draw_line((LEFT, y), (WIDTH - RIGHT, y), stroke="#c9c5ba" if not at else "#eceae4")
        yield draw_text(
            LEFT - 8, y + 4, f"{at:+g}" if at else "0", 11, text_anchor="end", fill=GONE
        )


def _dates(room: Room, one: PresetWear, edge: EdgeEstimate, scale: _Scale) -> Iterator[str]:
    """Write when it was read, leaving out what would stand on another."""
    y, taken = scale.top + PANEL + 32, -CLOSE
    yield draw_text(LEFT - 8, y, "read on", 11, text_anchor="end", fill=GONE)
    for at, seen in zip(one.read_at, edge.estimate.seen, strict=True):
        x = min(max(scale.x(seen.travels), LEFT + CLOSE / 2), WIDTH - RIGHT - CLOSE / 2)
        if x - taken < CLOSE:
            continue
        taken = x
        day = f"{moment_of(at).astimezone(ZoneInfo(room.time_zone)):%Y-%m-%d}"
        yield draw_text(x, y, day, 11, text_anchor="middle", fill=GONE)


def _round(low: float, high: float) -> list[float]:
    """Give about five round numbers between two, for the ticks of an axis."""
    step = 10.0 ** floor(log10((high - low) / 4))
    step *= next(size for size in (1, 2, 5, 10) if (high - low) / (step * size) <= 6)  # noqa: PLR2004
    return [index * step for index in range(ceil(low / step), floor(high / step) + 1)]
