"""What is kept of a title while another raster is shown, from which it may soon come back."""

from __future__ import annotations

from typing import Final, NamedTuple

DETOUR: Final = 60_000
"""A title that is back in its raster within so long has only been interrupted, ms."""


class Detour(NamedTuple):
    """What a title's shapes were before another raster showed another one."""

    raster: tuple[int, int]
    shapes: tuple[int, ...]
    varies: bool
    tallest: int | None
    until: int
    """Up to when a return to that raster makes it as if nothing had been shown between, ms UTC."""
