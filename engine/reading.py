"""Readings on their way to the filter: which count, and what contradicts itself."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from engine import settle
from engine.aspect import WIDE_FRAME
from engine.events import BarsSeen, BlackSeen, FormatCode, RatioSeen
from engine.formats import BarLines, FormatError, Raster, aspect_of_code
from engine.turn import Refused

if TYPE_CHECKING:
    from engine.events import Reading
    from engine.room import Room
    from engine.state import Core
    from engine.turn import Turn


FULL: Final = 8
"""The format code of a picture that fills its coded frame."""
LEAST_SQUARE_ROWS: Final = 720
"""Rasters with fewer rows have pixels that are not square: their frame has to be said."""


def listens(room: Room, shown: str | None) -> bool:
    """Tell whether readings count for the source that is shown."""
    if shown is None:
        return True
    source = room.sources[shown]
    return source.shape is None and not source.leave_alone


def take_reading(turn: Turn, event: Reading) -> None:
    """Pass a reading to the filter, if it counts now."""
    core = turn.core
    settling = read(turn.room, core, turn.settling, event, turn.now)
    # Overlays of a paused player and a lost signal say nothing of the film.
    if listens(turn.room, core.source) and core.locked and core.playback != "paused":
        turn.settling = settling
    if isinstance(event, FormatCode):
        core.frame = aspect_of_code(FULL, event.frame) or WIDE_FRAME


def read(
    room: Room, core: Core, settling: settle.Settling, event: Reading, now: int
) -> settle.Settling:
    """Settle one reading; raises `Refused` where it contradicts itself."""
    pace = room.pace.settle
    if isinstance(event, BarsSeen):
        if event.top + event.bottom > event.rows or event.left + event.right > event.columns:
            raise Refused("beyond_frame", "the bars are larger than the raster they are counted in")
        frame = core.frame if event.rows < LEAST_SQUARE_ROWS else 0
        bars = settle.Bars(
            event.top, event.bottom, event.left, event.right, event.columns, event.rows, frame
        )
        return settle.take(pace, settling, bars, now)
    if isinstance(event, BlackSeen):
        return settle.take(pace, settling, None, now)
    if isinstance(event, RatioSeen):
        return settle.take_ratio(pace, settling, event.ratio, now)
    aspect = _coded(event)
    return settling if aspect is None else settle.take_ratio(pace, settling, aspect, now)


def _coded(event: FormatCode) -> int | None:
    """Read an active format code with its bar data."""
    lines = BarLines(event.top_ends, event.bottom_starts, event.left_ends, event.right_starts)
    raster = None
    if event.columns is not None and event.rows is not None:
        raster = Raster(event.columns, event.rows)
    try:
        return aspect_of_code(event.code, event.frame, lines, raster)
    except FormatError as error:
        raise Refused("format", str(error)) from error
