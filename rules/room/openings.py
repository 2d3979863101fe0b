"""The opening that panels leave: a ratio, or the width between panels at the sides."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final, NamedTuple

from engine.aspect import NARROWEST, SCALE, WIDEST, meant
from rules.room.fields import ASPECT_FIELD, FieldKind, length_field
from rules.text.quantity import read_length, read_ratio, show_length, show_length_range

if TYPE_CHECKING:
    from engine.room import Screen

_HAS_UNIT: Final = re.compile(r"[0-9.]\s*[A-Za-z'\"\u2032\u2033\u2019\u201d]")
WIDTHS: Final = (300_000, 30_000_000)
"""The least and the largest width between panels, in micrometres: those of screens."""
LEAST_COVERED: Final = 50
"""Panels must cover more than this share of the screen, in 1/10,000."""


class FreeWidth(NamedTuple):
    """What panels at the sides leave free between them."""

    width: int
    """In micrometres."""


def read_opening(text: str) -> int | FreeWidth:
    """Read a ratio, in 1/10,000, or a width with its unit; raises QuantityError."""
    if _HAS_UNIT.search(text):
        return FreeWidth(read_length(text, *WIDTHS))
    return meant(read_ratio(text, NARROWEST, WIDEST))


_WIDTH_PATTERN: Final = length_field("300 mm", "30 m", "2.52 m").json["pattern"]
OPENING_FIELD: Final = FieldKind(
    read_opening,
    {
        "anyOf": [*ASPECT_FIELD.json["anyOf"], {"type": "string", "pattern": _WIDTH_PATTERN}],
        "examples": ["1.78", "2.52 m"],
    },
)


def width_fault(
    opening: int, written: str, width: int, height: int, widest: int = 99
) -> tuple[str, str] | None:
    """Say why panels at the sides cannot leave so much free, and what to write; None if they can.

    They cover something of the screen, and leave a square free at least. No more than the `widest`
    share of the screen's width, in per cent, is advised.
    """
    aspect = width * SCALE // height
    if opening >= NARROWEST and (aspect - opening) * SCALE > LEAST_COVERED * aspect:
        return None
    least, most = max(WIDTHS[0], -(-height // 1_000) * 1_000), width * widest // 100_000 * 1_000
    wide = f"a screen that is {show_length(width, written)} wide"
    message = f"panels at the sides do not leave {written} free on {wide}"
    advice = f"Write {show_length_range(least, most, written)}, or a ratio."
    if least >= most:
        advice = "It has no room for panels at its sides: write a ratio, for those above and below."
    return message, advice


def free_ratio(opening: int | FreeWidth | None, screen: Screen) -> int | None:
    """Give an opening as a ratio, in 1/10,000; None: all is free.

    It is rounded down, so that no picture falls on the panels.
    """
    if isinstance(opening, FreeWidth):
        return opening.width * SCALE // screen.height
    return opening
