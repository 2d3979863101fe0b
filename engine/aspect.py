"""Aspect ratios as integers of 1/10,000: 23900 is 2.39 to 1, width over height."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal
from functools import lru_cache
from typing import Final

SCALE: Final = 10_000
"""What stands for 1 in ratios and shares."""
NARROWEST: Final = 10_000
"""The narrowest ratio taken anywhere, 1.00."""
UPRIGHT: Final = (5_625, 6_667, 7_500, 8_000)
"""The only narrower ones that a picture has: 16:9, 3:2 and 4:3 turned upright, and 4:5, as pictures
for hand-held screens are. Rules see 1.00."""
WIDEST: Final = 40_000
"""The widest ratio taken anywhere, 4.00."""
HIGHEST_LIFT: Final = 5_000
"""The most by which a picture is raised, in 1/10,000 of the screen's height."""
WIDE_FRAME: Final = 17_778
"""16:9, which a coded frame has unless another one is given."""

_MEANT: Final = {17_800: WIDE_FRAME, 13_300: 13_333}
"""Exact ratios by the rounded ones that people write for them."""

SAME_SHAPE: Final = 200
"""Two ratios within 2 % (200 of 10,000) of each other are the same shape."""


def ratio_of(number: float | Decimal) -> int:
    """Read a plain number (2.39) as a ratio (23900), rounded half to even at the fourth place."""
    return int((Decimal(str(number)) * SCALE).to_integral_value(ROUND_HALF_EVEN))


def meant(ratio: int) -> int:
    """Give the exact ratio that a written one means: 1.78 is 16:9, and 1.33 is 4:3."""
    return _MEANT.get(ratio, ratio)


@lru_cache(4_096)  # Every step rounds the same few ratios again.
def in_hundredths(ratio: int | None) -> int | None:
    """Round a ratio to hundredths, in which people write rules: 16:9 (17778) is 17800.

    An odd coded frame may lie outside 1.00 to 4.00; it counts as the nearest ratio of these.
    """
    if ratio is None:
        return None
    return min(max((ratio + 50) // 100 * 100, NARROWEST), WIDEST)


def ratio_of_size(width: int, height: int) -> int:
    """Compute the ratio of two lengths, rounded: 3840 by 2160 is 17778."""
    return (width * SCALE + height // 2) // height


def number_of(ratio: int) -> float:
    """Give a ratio (23900) as a plain number (2.39)."""
    return ratio / SCALE


def same_shape(one: int, other: int) -> bool:
    """Tell whether two ratios look the same: they differ by at most 2 %."""
    return abs(one - other) * SCALE <= SAME_SHAPE * max(one, other)


def ratio_text(ratio: int | None) -> str:
    """Write a ratio for people: "2.39", or "unknown" for None."""
    return "unknown" if ratio is None else f"{ratio / SCALE:.2f}"
