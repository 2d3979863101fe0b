"""Where the words of a drawing stand, read from its SVG, to see whether any stands on another."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from itertools import combinations
from typing import TYPE_CHECKING

from adapters.render.labels import Frame, text_width

if TYPE_CHECKING:
    from collections.abc import Iterator

SVG = "{http://www.w3.org/2000/svg}"
TRANSLATE = re.compile(r"translate\(([-\d.]+)[ ,]+([-\d.]+)\)")


def words_drawn(drawing: str) -> list[tuple[str, Frame]]:
    """Give each line of text with the frame it fills, but for turned and stretched ones."""
    return list(_words(ET.fromstring(drawing), 0.0, 0.0))


def _words(node: ET.Element, x: float, y: float) -> Iterator[tuple[str, Frame]]:
    placed = node.attrib.get("transform", "")
    if "matrix" in placed or "rotate" in placed:
        return
    move = TRANSLATE.search(placed)
    if move is not None:
        x, y = x + float(move[1]), y + float(move[2])
    if node.tag == f"{SVG}text":
        words, size = "".join(node.itertext()), float(node.attrib["font-size"])
        wide = text_width(words, size) * 0.86
        left = x + float(node.attrib["x"])
        left -= {"middle": wide / 2, "end": wide}.get(node.attrib.get("text-anchor", ""), 0)
        base = y + float(node.attrib["y"])
        yield words, Frame(left, base - 0.75 * size, left + wide, base + 0.2 * size)
    for child in node:
        yield from _words(child, x, y)


def collisions(drawing: str) -> list[tuple[str, str]]:
    """Name the lines of text that stand on each other."""
    words = words_drawn(drawing)
    return [(one, other) for (one, at), (other, there) in combinations(words, 2) if at.meets(there)]
