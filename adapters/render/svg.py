"""Make SVG as strings: the shapes and the text that the drawings need."""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.sax.saxutils import escape, quoteattr

if TYPE_CHECKING:
    from collections.abc import Iterable

Position = tuple[float, float]
FONT = "DejaVu Sans, Verdana, Helvetica, Arial, sans-serif"
MONO = "DejaVu Sans Mono, Menlo, Consolas, monospace"


def short_number(value: float) -> str:
    """Write a number with two places at most."""
    return f"{value:.2f}".rstrip("0").rstrip(".") or "0"


def element(name: str, content: str = "", /, **attributes: float | str) -> str:
    """Write one element; an underscore in an attribute's name stands for a hyphen."""
    parts = [name]
    for key, value in attributes.items():
        text = value if isinstance(value, str) else short_number(value)
        parts.append(f"{key.rstrip('_').replace('_', '-')}={quoteattr(text)}")
    head = " ".join(parts)
    return f"<{head}>{content}</{name}>" if content else f"<{head}/>"


def draw_rect(x: float, y: float, width: float, height: float, **style: float | str) -> str:
    """Draw a rectangle; one without width or height draws nothing."""
    return element("rect", x=x, y=y, width=max(0.0, width), height=max(0.0, height), **style)


def draw_polygon(points: Iterable[Position], **style: float | str) -> str:
    """Draw a closed shape."""
    places = " ".join(f"{short_number(x)},{short_number(y)}" for x, y in points)
    return element("polygon", points=places, **style)


def draw_line(start: Position, end: Position, **style: float | str) -> str:
    """Draw a straight line."""
    return element("line", x1=start[0], y1=start[1], x2=end[0], y2=end[1], **style)


def draw_text(x: float, y: float, content: str, size: float = 12, **style: float | str) -> str:
    """Write a line of text."""
    return element("text", escape(content), x=x, y=y, font_size=size, **style)


def group(parts: Iterable[str], **style: float | str) -> str:
    """Keep shapes together."""
    return element("g", "".join(parts), **style)


def page(width: float, height: float, title: str, ground: str, parts: Iterable[str]) -> str:
    """Make a whole drawing with its title, on a ground of this colour."""
    body = [
        element("title", escape(title)),
        draw_rect(0, 0, width, height, fill=ground),
        *parts,
    ]
    wide, high = short_number(width), short_number(height)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}" height="{high}"'
        f' viewBox="0 0 {wide} {high}" font-family={quoteattr(FONT)}>'
        + "\n".join(body)
        + "</svg>\n"
    )


def sheet(width: float, height: float, title: str, ground: str, parts: Iterable[str]) -> str:
    """Make a whole drawing that stands on no other page, and is printed whole on one of its own.

    It fits whatever paper is in the printer, which is turned as the drawing is.
    """
    way = "landscape" if width > height else "portrait"
    whole = "svg:root { width: 100%; height: 100%; }"
    style = f"@page {{ size: {way}; margin: 10mm; }} @media print {{ {whole} }}"
    return page(width, height, title, ground, [element("style", style), *parts])
