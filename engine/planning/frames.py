"""Where a picture lies between the bars of a whole frame."""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.aspect import WIDE_FRAME
from engine.optics import Rect, exact_fit
from engine.planning.placement import widest

if TYPE_CHECKING:
    from fractions import Fraction

    from engine.room import Room


def between_bars(room: Room, preset: str, frame: Rect, shares: tuple[float, float]) -> Rect:
    """Find a picture between the bars of its frame, each edge of it within a pixel."""
    exact = exact_fit(room, WIDE_FRAME, preset, widest(room))
    left, right = _share_of((frame.left, frame.right), (exact.left, exact.right), shares[0])
    top, bottom = _share_of((frame.top, frame.bottom), (exact.top, exact.bottom), shares[1])
    return Rect(left, top, right - left, bottom - top)


def _share_of(
    shown: tuple[int, int], exact: tuple[Fraction, Fraction], share: float
) -> tuple[int, int]:
    """Take the middle of a length of which the edges are known to the pixel, and exactly."""
    if share == 1 or shown[0] == shown[1]:
        return shown
    bar = float(exact[1] - exact[0]) * (1 - share) / 2
    return round(float(exact[0]) + bar), round(float(exact[1]) - bar)
