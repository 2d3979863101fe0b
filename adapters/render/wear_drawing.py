"""Draw how a preset has crept: offset against travels, with its limits and the forecast.

One upright page, A4 or Letter: a panel for each edge. All panels have one scale, chosen after
what was measured, so that a millimetre can be seen; a limit that lies outside is told in words.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import hypot, isfinite
from typing import NamedTuple
from zoneinfo import ZoneInfo

from adapters.render.labels import Frame, LabelWriter, keep_apart, text_width
from adapters.render.measures import round_steps
from adapters.render.palette import DASHES, ON_PAPER
from adapters.render.svg import (
    Position,
    draw_line,
    draw_polygon,
    draw_rect,
    draw_text,
    sheet,
    short_number,
)
from adapters.render.wear_text import AXIS_WORDS, STANDS_OUT, reversal_of
from engine.events import moment_of
from engine.room import Room
from simulator.wear.assessment import PresetWear
from simulator.wear.creep import ENOUGH, Observation
from simulator.wear.disturbances import DisturbanceKind
from simulator.wear.estimates import EdgeEstimate

WIDTH, PANEL, LEFT, RIGHT, TOP, GAP = 860.0, 180.0, 74.0, 30.0, 96.0, 86.0
STEPS = 60
FURTHEST = 20_000
"""How many travels ahead a drawing shows at most."""
LEAST = 3.0
"""How many millimetres to either side a panel shows at least."""
WORTH = 2.5
"""How many times as far as what was measured a limit may lie to be drawn; else it is told."""
NARROW = 34.0
"""Marks of what is foretold stand no closer than this."""
NINE_IN_TEN = 1.645
MARKS: dict[DisturbanceKind, str] = {
    "moved": "moved at once",
    "misread": "misread",
    "unclear": "moved, or misread?",
    "open": "moved?",
}


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
        draw_text(
            LEFT,
            30,
            f"{room.name}, {one.preset}: how far each edge has moved",
            17,
            fill=ON_PAPER.ink,
        )
    ]
    for line, words in enumerate(_under(one)):
        parts.append(draw_text(LEFT, 50 + 16 * line, words, 12, fill=ON_PAPER.faint))
    for index, edge in enumerate(one.edges):
        parts += _panel(room, one, edge, TOP + index * (PANEL + GAP))
    return sheet(WIDTH, height, f"{room.name}, {one.preset}", ON_PAPER.ground, parts)


def _under(one: PresetWear) -> Iterator[str]:
    if not one.edges:
        yield f"not enough measurements: {one.measured} of {ENOUGH}"
        return
    yield (
        "Squares: measured, hollow after a realignment; bars and band: 90 %; "
        "an arrow: it moved at once, or was misread."
    )
    middle = one.sides_told is not None or reversal_of(one) != 0
    said = " Readings are brought to the middle between both sides of the lens." if middle else ""
    yield f"Up is to the right for left and right edges, down for top and bottom.{said}"


def _panel(room: Room, one: PresetWear, edge: EdgeEstimate, top: float) -> Iterator[str]:
    scale, unit = _scale(one, top), edge.estimate.unit
    yield draw_rect(
        LEFT, top, WIDTH - LEFT - RIGHT, PANEL, fill=ON_PAPER.sheet, stroke=ON_PAPER.rule
    )
    yield draw_text(LEFT, top - 8, f"{AXIS_WORDS[edge.name]}, mm", 12, fill=ON_PAPER.ink)
    frame = Frame(LEFT, top, WIDTH - RIGHT, top + PANEL)
    lettering = LabelWriter(frame, ON_PAPER)
    for seen in edge.estimate.seen:
        x, y = scale.x(seen.travels), scale.y(seen.offset * unit)
        lettering.keep_free(Frame(x - 5, y - 5, x + 5, y + 5))
    yield from _ticks(scale)
    yield from _dates(room, one, edge, scale)
    steps = _ahead(edge, scale)
    yield draw_polygon(_band(steps, scale), fill=ON_PAPER.picture, fill_opacity=0.25)
    for (count, points), (to, then) in pairwise(steps):
        start = (scale.x(count), scale.y(points[1]))
        yield draw_line(
            start, (scale.x(to), scale.y(then[1])), stroke=ON_PAPER.ink, stroke_dasharray="5 3"
        )
    yield from _limits(edge, scale, lettering)
    for before, seen in pairwise(edge.estimate.seen):
        if not seen.resets and not seen.jumped:
            start = (scale.x(before.travels), scale.y(before.offset * unit))
            end = (scale.x(seen.travels), scale.y(seen.offset * unit))
            yield draw_line(start, end, stroke=ON_PAPER.ink, stroke_opacity=0.6)
    marked = _marked(room, one, edge.name)
    for number, seen in enumerate(edge.estimate.seen):
        yield from _reading(seen, unit, scale, lettering, marked.get(number))
    yield from _forecast(one, edge, scale, lettering)


def _marked(room: Room, one: PresetWear, name: str) -> dict[int, str]:
    """Name what no creep explains, at the readings at which it stands out at this edge.

    A bump that moves the picture sideways says nothing of its top.
    """
    upright = room.screen.height / room.screen.width
    marked = {}
    for found in one.disturbed:
        across, down, larger = found.by
        at = {
            "left": across - larger,
            "right": across + larger,
            "top": down - larger * upright,
            "bottom": down + larger * upright,
        }
        if abs(at[name]) >= STANDS_OUT * max(map(abs, at.values())):
            marked[found.reading] = MARKS[found.kind]
    return marked


def _reading(
    seen: Observation, unit: float, scale: _Scale, lettering: LabelWriter, marked: str | None
) -> Iterator[str]:
    x, y = scale.x(seen.travels), seen.offset * unit
    spread = NINE_IN_TEN * hypot(seen.error, seen.doubt) * unit
    low, high = scale.y(y - spread), scale.y(y + spread)
    yield draw_line((x, low), (x, high), stroke=ON_PAPER.ink, stroke_width=1.5)
    for end in (low, high):
        yield draw_line((x - 4, end), (x + 4, end), stroke=ON_PAPER.ink, stroke_width=1.5)
    shade = ON_PAPER.sheet if seen.resets else ON_PAPER.ink
    yield draw_rect(x - 3, scale.y(y) - 3, 6, 6, fill=shade, stroke=ON_PAPER.ink)
    if marked is not None:
        below = 1 if y > 0 else -1  # towards the middle of the panel, where there is room
        tip = scale.y(y) + 14 * below
        away = tip + 10 * below
        yield draw_line((x, away), (x, tip), stroke=ON_PAPER.wrong, stroke_width=2)
        back = tip + 5 * below
        yield draw_polygon([(x, tip), (x - 4, back), (x + 4, back)], fill=ON_PAPER.wrong)
        yield from lettering.write(x, away, marked)


def _scale(one: PresetWear, top: float) -> _Scale:
    """Choose one scale for all panels, wide enough for the earliest forecast that bears.

    Where none does, as much is shown of what comes as of what was measured.
    """
    seen = one.edges[0].estimate.seen
    first, now = seen[0].travels, max(one.counts.travels, one.edges[0].estimate.belief.count)
    foretold = one.forecast is not None and one.forecast.first <= min(one.bears, FURTHEST)
    ahead = one.forecast.first if one.forecast and foretold else now - first
    last = now + 1.15 * max(10.0, ahead)
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


def _limits(edge: EdgeEstimate, scale: _Scale, lettering: LabelWriter) -> Iterator[str]:
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
        yield draw_line(
            (LEFT, y), (WIDTH - RIGHT, y), stroke=ON_PAPER.wrong, stroke_dasharray=DASHES["wrong"]
        )
        yield from lettering.write(WIDTH - RIGHT - 12, y, words)
    if beyond:
        words = "outside this drawing: " + ", ".join(beyond)
        yield draw_text(
            WIDTH - RIGHT, scale.top - 8, words, 11, fill=ON_PAPER.ink, text_anchor="end"
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


def _forecast(
    one: PresetWear, edge: EdgeEstimate, scale: _Scale, lettering: LabelWriter
) -> Iterator[str]:
    now = max(one.counts.travels, edge.estimate.belief.count)
    taken = scale.x(now)
    for name, ahead in zip(("5 %", "50 %", "95 %"), one.forecast or (), strict=False):
        x = scale.x(now + ahead) if ahead <= one.bears and now + ahead <= scale.last else 0.0
        if x > taken + NARROW:
            taken = x
            yield draw_line(
                (x, scale.top), (x, scale.top + PANEL), stroke=ON_PAPER.wrong, stroke_opacity=0.6
            )
            yield from lettering.write(x, scale.top + PANEL - 26, name)
    x = scale.x(now)
    yield draw_line(
        (x, scale.top), (x, scale.top + PANEL), stroke=ON_PAPER.faint, stroke_dasharray="2 3"
    )
    yield from lettering.write(x, scale.top + 24, "now")


def _ticks(scale: _Scale) -> Iterator[str]:
    low = scale.top + PANEL
    for at in round_steps(scale.first, scale.last):
        x = scale.x(at)
        yield draw_line((x, low), (x, low + 4), stroke=ON_PAPER.faint)
        yield draw_text(
            x, low + 16, short_number(at), 11, text_anchor="middle", fill=ON_PAPER.faint
        )
    yield draw_text(LEFT - 8, low + 16, "travels", 11, text_anchor="end", fill=ON_PAPER.faint)
    for at in round_steps(-scale.most, scale.most):
        y = scale.y(at)
        yield draw_line(
            (LEFT, y), (WIDTH - RIGHT, y), stroke=ON_PAPER.faint if not at else ON_PAPER.rule
        )
        yield draw_text(
            LEFT - 8, y + 4, f"{at:+g}" if at else "0", 11, text_anchor="end", fill=ON_PAPER.faint
        )


def _dates(room: Room, one: PresetWear, edge: EdgeEstimate, scale: _Scale) -> Iterator[str]:
    """Write when it was read, leaving out what would stand on another."""
    y, zone = scale.top + PANEL + 32, ZoneInfo(room.time_zone)
    yield draw_text(LEFT - 8, y, "read on", 11, text_anchor="end", fill=ON_PAPER.faint)
    days = [f"{moment_of(at).astimezone(zone):%Y-%m-%d}" for at in one.read_at]
    widths = [text_width(day, 11) for day in days]
    places = [
        min(max(scale.x(seen.travels), LEFT + width / 2), WIDTH - RIGHT - width / 2)
        for seen, width in zip(edge.estimate.seen, widths, strict=True)
    ]
    for number in keep_apart(places, widths):
        yield draw_text(
            places[number], y, days[number], 11, text_anchor="middle", fill=ON_PAPER.faint
        )
