"""Legends: what each line, area and dot of a drawing stands for, row by row."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from adapters.render import svg
from adapters.render.labels import text_width

if TYPE_CHECKING:
    from collections.abc import Iterable

    from adapters.render.palette import Palette

SAMPLE: Final = 26.0
"""Width of a sample, in units of the drawing."""
ROW: Final = 20.0
GAP: Final = 22.0
SIZE: Final = 11.0


class LegendEntry(NamedTuple):
    """One sample and what it stands for."""

    shape: Literal["line", "area", "dot"]
    style: dict[str, float | str]
    words: str


class Legend(NamedTuple):
    """A drawn legend, from its own top left, and how high it is."""

    drawing: str
    height: float


def draw_legend(entries: Iterable[LegendEntry], width: float, palette: Palette) -> Legend:
    """Draw entries one after the other, in as many rows of this width as they need."""
    parts, x, y = list[str](), 0.0, 0.0
    for one in entries:
        wide = SAMPLE + 6 + text_width(one.words, SIZE)
        if x and x + wide > width:
            x, y = 0.0, y + ROW
        middle = y + ROW / 2
        parts.append(_sample(one, x, middle))
        parts.append(svg.draw_text(x + SAMPLE + 6, middle + 4, one.words, SIZE, fill=palette.ink))
        x += wide + GAP
    return Legend(svg.group(parts), y + ROW)


def _sample(one: LegendEntry, x: float, middle: float) -> str:
    match one.shape:
        case "line":
            return svg.draw_line((x, middle), (x + SAMPLE, middle), **one.style)
        case "area":
            return svg.draw_rect(x, middle - 7, SAMPLE, 14, **one.style)
        case "dot":
            return svg.element("circle", cx=x + SAMPLE / 2, cy=middle, r=4, **one.style)
