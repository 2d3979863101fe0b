"""Measure in drawings: scales, round steps, axes of time, dimension lines, bars of length."""

from __future__ import annotations

from math import atan2, ceil, degrees, floor, hypot, log10
from typing import TYPE_CHECKING, Final, NamedTuple

from adapters.render import svg
from adapters.render.labels import keep_apart, text_width
from engine.events import milliseconds, moment_of

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime
    from zoneinfo import ZoneInfo

    from adapters.render.palette import Palette
    from adapters.render.svg import Position

_MINUTE: Final = 60_000
_TIME_STEPS: Final = (1, 2, 5, 10, 15, 30, 60, 120, 180, 360, 720, 1_440)
"""The steps of an axis of time, in minutes."""
_HEAD: Final = 5.0
"""Length of the strokes at the ends of a dimension line."""


class LinearScale(NamedTuple):
    """Converts a quantity into a place: `first` lies at `start`, `last` at `end`."""

    first: float
    last: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Give the place of a value, which may lie outside."""
        span = self.last - self.first
        share = (value - self.first) / span if span else 0.0
        return self.start + share * (self.end - self.start)


class Tick(NamedTuple):
    """A place on an axis with what is written there."""

    value: float
    words: str


def length_words(length: float) -> str:
    """Write a length, given in micrometres, as whole millimetres."""
    return f"{length / 1_000:.0f} mm"


def round_steps(low: float, high: float, most: int = 6) -> list[float]:
    """Give at most `most` round numbers from `low` to `high`, for the ticks of an axis."""
    if high <= low:
        return [low]
    step = 10.0 ** floor(log10((high - low) / most))
    step *= next(size for size in (1, 2, 5, 10, 20) if (high - low) / (step * size) <= most)
    return [number * step for number in range(ceil(low / step), floor(high / step) + 1)]


def time_ticks(first: int, last: int, zone: ZoneInfo, most: int = 12) -> list[Tick]:
    """Give round times of day between two moments (ms UTC), the first and each new day with date.

    Where the clocks go back an hour is written twice, each with its difference to UTC.
    """
    wanted = (last - first) / most / _MINUTE
    step = next(
        (one for one in _TIME_STEPS if one >= wanted), _TIME_STEPS[-1] * ceil(wanted / 1_440)
    )
    begun = moment_of(first).astimezone(zone)
    midnight = milliseconds(begun.replace(hour=0, minute=0, second=0, microsecond=0))
    at = midnight + ceil((first - midnight) / (step * _MINUTE)) * step * _MINUTE
    ticks, day = list[Tick](), None
    offsets = {moment_of(moment).astimezone(zone).utcoffset() for moment in (first, last)}
    while at <= last:
        local = moment_of(at).astimezone(zone)
        words = f"{local:%H:%M}" + (f" ({local:%Z})" if len(offsets) > 1 else "")
        ticks.append(Tick(at, words if local.date() == day else f"{_date(local)} {words}"))
        day = local.date()
        at += step * _MINUTE
    return ticks


def _date(local: datetime) -> str:
    return f"{local.day} {local:%b}"


def bottom_axis(
    scale: LinearScale, ticks: list[Tick], y: float, palette: Palette, size: float = 11
) -> Iterator[str]:
    """Draw an axis with its ticks; words that would stand on others are left out."""
    yield svg.draw_line((scale.start, y), (scale.end, y), stroke=palette.faint)
    places = [scale.at(tick.value) for tick in ticks]
    widths = [text_width(tick.words, size) for tick in ticks]
    written = set(keep_apart(places, widths))
    for number, (x, tick) in enumerate(zip(places, ticks, strict=True)):
        yield svg.draw_line((x, y), (x, y + 4), stroke=palette.faint)
        if number in written:
            yield svg.draw_text(
                x, y + 5 + size, tick.words, size, text_anchor="middle", fill=palette.faint
            )


def dimension_line(
    start: Position, end: Position, words: str, palette: Palette, size: float = 11
) -> Iterator[str]:
    """Draw a line between two points with a stroke across at each end, and its length on it.

    The words stand in the middle, on a plate, so that no line runs through them; where the line is
    shorter than they are, they stand beside it.
    """
    length = hypot(end[0] - start[0], end[1] - start[1])
    style: dict[str, float | str] = {"stroke": palette.faint, "stroke_width": 1}
    yield svg.draw_line(start, end, **style)
    if length:
        across = (start[1] - end[1]) / length * _HEAD, (end[0] - start[0]) / length * _HEAD
        for x, y in (start, end):
            yield svg.draw_line(
                (x - across[0], y - across[1]), (x + across[0], y + across[1]), **style
            )
    turn = degrees(atan2(end[1] - start[1], end[0] - start[0]))
    if not -90 < turn <= 90:  # noqa: PLR2004 - nobody reads upside down
        turn -= 180
    wide, beside = text_width(words, size), 0.0
    if wide > length - 2 * _HEAD:
        beside = size
    middle = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    plate = svg.draw_rect(-wide / 2, -size * 0.7 - beside, wide, size * 1.3, fill=palette.ground)
    said = svg.draw_text(
        0, size * 0.36 - beside, words, size, text_anchor="middle", fill=palette.ink
    )
    place = f"translate({middle[0]:.1f} {middle[1]:.1f}) rotate({turn:.1f})"
    yield svg.group([plate, said], transform=place)


def length_bar(
    x: float, y: float, micrometres: float, unit: float, palette: Palette
) -> Iterator[str]:
    """Draw a bar as long as so many micrometres are, at `unit` of the drawing for each."""
    end = x + micrometres * unit
    yield svg.draw_line((x, y), (end, y), stroke=palette.ink, stroke_width=2)
    for place in (x, end):
        yield svg.draw_line((place, y - 3), (place, y + 3), stroke=palette.ink, stroke_width=2)
    words = f"{micrometres / 1e6:g} m"
    yield svg.draw_text(end + 8, y + 4, words, 12, fill=palette.ink)
