"""A night as lanes over time: what stood when, what was read, what was decided, what went wrong.

The drawing is whole without any script. A script may zoom it: every span and every mark carries its
moments (`data-a`, `data-b`, ms after the night's begin), and the readings come as bins beside it.
"""

from __future__ import annotations

from math import log
from typing import TYPE_CHECKING, Final, NamedTuple
from xml.sax.saxutils import escape, quoteattr
from zoneinfo import ZoneInfo

from adapters.render import svg
from adapters.render.labels import text_width
from adapters.render.measures import LinearScale, bottom_axis, time_ticks
from adapters.render.night_text import clock, decision_words
from adapters.render.palette import ON_PAPER, Role, area_style, hatches
from adapters.render.trouble_text import SIGNS
from engine.aspect import ratio_text

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from engine.decisions import Decision
    from simulator.nights.chains import Trouble
    from simulator.nights.night_record import LaneSpan, NightRecord, ShapeRead

WIDTH: Final = 1160.0
LEFT: Final = 104.0
RIGHT: Final = 1150.0
ROW: Final = 24.0
GAP: Final = 5.0
APART: Final = 18.0
"""The least distance between two signs of what went wrong, where the lane has room."""
CLOSE: Final = 14.0
"""The least distance between two signs of decisions."""
CHART: Final = 92.0
"""Height of the lane of readings."""
LOWEST: Final = 12_000
HIGHEST: Final = 28_000
"""The ratios, in 1/10,000, between which readings are drawn; others stand at the edge."""
MARKED_RATIOS: Final = (13_333, 17_778, 23_900)
MOST_BINS: Final = 14_400
"""How many bins of readings are kept for zooming at most: four hours of one a second."""

NAMES: Final = {
    "source": "source",
    "playback": "playback",
    "picture": "picture",
    "preset": "lens",
    "panels": "panels",
    "override": "person",
    "prompt": "asked for",
}
"""The lanes of spans in their order, with what is written beside each."""


class Bin(NamedTuple):
    """What was read in a short while: the narrowest and the widest ratio, 1/10,000."""

    low: int
    high: int


def thinned(readings: Sequence[ShapeRead], begins: int, ends: int, most: int) -> list[Bin | None]:
    """Sum readings up in at most `most` bins of equal length, none of less than a second.

    A reading holds until the next one, and no extreme is lost. None: nothing, or black, was read.
    """
    span = max(1, ends - begins)
    count = max(1, min(most, -(-span // 1_000)))
    low, high = [0] * count, [0] * count
    for number, one in enumerate(readings):
        ratio = one.ratio
        if ratio is None:
            continue
        until = readings[number + 1].at if number + 1 < len(readings) else ends
        first = max(0, (one.at - begins) * count // span)
        last = min(count - 1, max(first, (until - begins - 1) * count // span))
        for place in range(first, last + 1):
            high[place] = max(high[place], ratio)
            if not low[place] or ratio < low[place]:
                low[place] = ratio
    return [Bin(*pair) if pair[1] else None for pair in zip(low, high, strict=True)]


def joined_bins(bins: Sequence[Bin | None], most: int) -> list[Bin | None]:
    """Sum bins up in at most `most` wider ones; no extreme is lost."""
    count = min(most, len(bins))
    parts: list[list[Bin]] = [[] for _ in range(count)]
    for number, one in enumerate(bins):
        if one is not None:
            parts[number * count // len(bins)].append(one)
    return [
        Bin(min(one.low for one in part), max(one.high for one in part)) if part else None
        for part in parts
    ]


def ratio_height(ratio: int) -> float:
    """Say how far below the upper edge of the lane of readings a ratio is drawn."""
    share = log(min(max(ratio, LOWEST), HIGHEST) / LOWEST) / log(HIGHEST / LOWEST)
    return CHART * (1 - share)


def spread(points: Sequence[float], apart: float) -> list[float]:
    """Move signs apart that would cover each other; the points grow, and all stay in the lane.

    Whoever looks closer finds them apart as well, though nobody moves them again.
    """
    gap = min(apart, (RIGHT - LEFT) / max(1, len(points)))
    places, least = list[float](), LEFT
    for x in points:
        places.append(max(x, least))
        least = places[-1] + gap
    most = RIGHT
    for number in range(len(places) - 1, -1, -1):
        places[number] = min(places[number], most)
        most = places[number] - gap
    return places


def night_lanes(
    record: NightRecord,
    bins: Sequence[Bin | None],
    troubles: Sequence[Trouble],
    numbers: dict[int, int],
) -> str:
    """Draw the lanes, with the readings of these bins.

    `numbers` says under which number a decision (by `id()`) is explained.
    """
    zone = ZoneInfo(record.room.time_zone)
    time = LinearScale(0, max(1, record.ends - record.begins), LEFT, RIGHT)
    parts = [hatches(ON_PAPER), _clip()]
    parts += _marks_of_troubles(record, troubles, time, zone)
    parts += _marks_of_decisions(record, numbers, time, zone)
    top = 2 * (ROW + GAP)
    for lane, name in NAMES.items():
        parts += _row(record, lane, name, (top, time))
        top += ROW + GAP
        if lane == "playback":
            parts += _readings(record, bins, time, top)
            top += CHART + GAP
    ticks = [
        tick._replace(value=tick.value - record.begins)
        for tick in time_ticks(record.begins, record.ends, zone)
    ]
    parts.append(svg.group(bottom_axis(time, ticks, top, ON_PAPER), class_="axis"))
    height = top + 26
    attributes = f'viewBox="0 0 {WIDTH:.0f} {height:.0f}" data-left="{LEFT:.0f}"'
    attributes += f' data-right="{RIGHT:.0f}" data-span="{record.ends - record.begins}"'
    attributes += f' font-family={quoteattr(svg.FONT)} role="group" aria-label="The night as lanes"'
    return f'<svg id="lanes" xmlns="http://www.w3.org/2000/svg" {attributes}>{"".join(parts)}</svg>'


def _clip() -> str:
    inside = svg.draw_rect(LEFT, 0, RIGHT - LEFT, 2_000)
    return svg.element("defs", svg.element("clipPath", inside, id="in-time"))


def _label(name: str, middle: float) -> str:
    return svg.draw_text(LEFT - 8, middle + 4, name, 12, text_anchor="end", fill=ON_PAPER.ink)


def _row(
    record: NightRecord, lane: str, name: str, place: tuple[float, LinearScale]
) -> Iterator[str]:
    top = place[0]
    yield _label(name, top + ROW / 2)
    yield svg.draw_rect(LEFT, top, RIGHT - LEFT, ROW, fill=ON_PAPER.sheet, stroke=ON_PAPER.rule)
    stood = record.lanes[lane]
    if lane == "preset" and record.room.presets:
        stood = tuple(_said_unknown(one) for one in stood)
    spans = [_span(one, lane, place, record.begins) for one in stood if one.value]
    yield svg.group(spans, clip_path="url(#in-time)")


def _said_unknown(span: LaneSpan) -> LaneSpan:
    """Name a lens of unknown place as such, so that the lane does not look empty."""
    return span if span.value else span._replace(value="not known", known=False)


def _span(span: LaneSpan, lane: str, place: tuple[float, LinearScale], begins: int) -> str:
    """Draw what stood for a while, with its name where there is room for it."""
    top, time = place
    left, right = time.at(span.start - begins), time.at(span.end - begins)
    box = svg.draw_rect(left, top + 1, max(right - left, 0.6), ROW - 2, **_style(span, lane))
    words = span.value + (" (failed)" if span.failed else "")
    fits = text_width(words, 11) + 8 <= right - left
    written = svg.draw_text(
        left + 4,
        top + 16,
        words,
        11,
        fill=ON_PAPER.ink,
        class_="word" if fits else "word hidden",
        paint_order="stroke",
        stroke=ON_PAPER.sheet,
        stroke_width=5,
    )
    title = svg.element("title", escape(words))
    return svg.group(
        [title, box, written], class_="span", **_moments(span.start - begins, span.end - begins)
    )


def _moments(start: int, end: int) -> dict[str, float | str]:
    return {"data_a": str(start), "data_b": str(end)}


def _style(span: LaneSpan, lane: str) -> dict[str, float | str]:
    """Choose how a span is drawn: what is not known or failed is hatched."""
    if span.failed:
        return area_style(ON_PAPER, "wrong")
    roles: dict[str, Role] = {
        "preset": "lens",
        "panels": "panel",
        "prompt": "person",
        "override": "person",
        "picture": "picture",
    }
    role = roles.get(lane)
    quiet = span.known and lane != "override"
    if role is None or quiet:
        colour = ON_PAPER.faint if role is None else ON_PAPER.of(role)
        full = 0.5 if lane == "panels" and span.value != "open" else 0.16  # what is fitted
        return {"fill": colour, "fill_opacity": full, "stroke": colour, "stroke_width": 0.8}
    style = area_style(ON_PAPER, role) | {"fill_opacity": 0.45}
    if role == "picture":
        style |= {"stroke_dasharray": "3 2"}
    return style


def _readings(
    record: NightRecord, bins: Sequence[Bin | None], time: LinearScale, top: float
) -> Iterator[str]:
    """Draw what was read, column by column with its extremes, and over it the settled aspect."""
    for line, name in enumerate(("readings", "and settled")):
        yield svg.draw_text(2, top + 42 + 15 * line, name, 12, fill=ON_PAPER.ink)
    yield svg.draw_rect(LEFT, top, RIGHT - LEFT, CHART, fill=ON_PAPER.sheet, stroke=ON_PAPER.rule)
    for ratio in MARKED_RATIOS:
        y = top + ratio_height(ratio)
        yield svg.draw_line((LEFT, y), (RIGHT, y), stroke=ON_PAPER.rule)
        yield svg.draw_text(
            LEFT - 8, y + 4, ratio_text(ratio), 10, text_anchor="end", fill=ON_PAPER.faint
        )
    bins = joined_bins(bins, int(RIGHT - LEFT))
    wide = (RIGHT - LEFT) / len(bins)
    path = "".join(
        f"M{LEFT + (number + 0.5) * wide:.1f} {top + ratio_height(one.low) + 0.7:.1f}"
        f"V{top + ratio_height(one.high) - 0.7:.1f}"
        for number, one in enumerate(bins)
        if one is not None
    )
    yield svg.element(
        "path",
        d=path,
        id="read",
        stroke=ON_PAPER.faint,
        stroke_opacity=0.5,
        stroke_width=max(wide, 1.0),
        fill="none",
        data_top=f"{top:.1f}",
        clip_path="url(#in-time)",
    )
    yield svg.group(_settled_lines(record, time, top), clip_path="url(#in-time)")


def _settled_lines(record: NightRecord, time: LinearScale, top: float) -> Iterator[str]:
    """Draw what the readings settled on."""
    for one in record.lanes["aspect"]:
        if one.value:
            title = svg.element("title", f"settled on {escape(one.value)}")
            yield svg.group(
                [title, _settled(one, time, top, record)],
                class_="span",
                **_moments(one.start - record.begins, one.end - record.begins),
            )


def _settled(span: LaneSpan, time: LinearScale, top: float, record: NightRecord) -> str:
    y = top + ratio_height(round(float(span.value) * 10_000))
    left, right = time.at(span.start - record.begins), time.at(span.end - record.begins)
    return svg.draw_rect(left, y - 1.5, right - left, 3, fill=ON_PAPER.picture)


def _marks_of_troubles(
    record: NightRecord, troubles: Sequence[Trouble], time: LinearScale, zone: ZoneInfo
) -> Iterator[str]:
    yield _label("went wrong", ROW / 2)
    places = spread([time.at(one.at - record.begins) for one in troubles], APART)
    for number, (one, middle) in enumerate(zip(troubles, places, strict=True), 1):
        x = time.at(one.at - record.begins)
        words = f"{number}: {clock(one.at, zone)} {SIGNS[one.kind]}: {one.words}"
        held = one.kind == "held"
        shape = svg.draw_polygon(
            [(middle - 8, 4), (middle + 8, 4), (x, 22)],
            fill=ON_PAPER.sheet,
            stroke=ON_PAPER.faint if held else ON_PAPER.wrong,
            stroke_width=1 if held else 3,
        )
        said = svg.draw_text(
            middle, 14, str(number), 10, text_anchor="middle", fill=ON_PAPER.ink, font_weight="bold"
        )
        yield _mark(f"t{number}", words, (one.at - record.begins, x), [shape, said], "mark trouble")


def _marks_of_decisions(
    record: NightRecord, numbers: dict[int, int], time: LinearScale, zone: ZoneInfo
) -> Iterator[str]:
    top = ROW + GAP
    yield _label("decided", top + ROW / 2)
    made = [
        (moment.at - record.begins, one) for moment in record.moments for one in moment.decisions
    ]
    places = spread([time.at(at) for at, _ in made], CLOSE)
    for (at, decision), middle in zip(made, places, strict=True):
        kind, asked = decision_words(decision)
        words = f"{clock(decision.at, zone)} {kind}: {asked}"
        stem = svg.draw_line((middle, top + ROW / 2), (time.at(at), top + ROW), stroke=ON_PAPER.ink)
        parts = [stem, _shape_of(decision, middle, top + ROW / 2)]
        yield _mark(f"d{numbers[id(decision)]}", words, (at, time.at(at)), parts)


def _mark(
    target: str, words: str, place: tuple[int, float], parts: list[str], kind: str = "mark"
) -> str:
    """Draw a mark that leads to an entry below, by its own name."""
    at, x = place
    body = svg.element("title", escape(words)) + "".join(parts)
    link = f'<a href="#{target}" aria-label={quoteattr(words)}>{body}</a>'
    return svg.group([link], class_=kind, data_a=str(at), data_x=f"{x:.2f}")


def _shape_of(decision: Decision, x: float, y: float) -> str:
    """Draw the sign of a kind of decision: each has a shape of its own."""
    style: dict[str, float | str] = {"stroke": ON_PAPER.ink, "stroke_width": 1}
    match decision.kind:
        case "picture":
            return svg.draw_rect(x - 6, y - 4, 12, 8, fill=ON_PAPER.lit, **style)
        case "recall":
            corners = [(x, y - 8), (x + 7, y), (x, y + 8), (x - 7, y)]
            return svg.draw_polygon(corners, fill=ON_PAPER.lens, **style)
        case "prompt" | "prompt over":
            fill = ON_PAPER.person if decision.kind == "prompt" else ON_PAPER.sheet
            return svg.element("circle", cx=x, cy=y, r=6, fill=fill, **style)
        case "cue":
            corners = [(x, y - 6), (x + 6, y + 5), (x - 6, y + 5)]
            return svg.draw_polygon(corners, fill=ON_PAPER.good, **style)
        case _:
            return svg.draw_line((x, y - 8), (x, y + 8), stroke=ON_PAPER.ink, stroke_width=2)


SIGN_WORDS: Final = (
    "rectangle: picture; diamond: recall; triangle: cue; disc: prompt, ring: its end; bar: note"
)
"""What the signs of decisions are, for a legend."""
