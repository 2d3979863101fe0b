"""Pass readings of the picture's shape to the filter, where they count and make sense."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from engine import settle
from engine.aspect import SCALE, WIDE_FRAME, ratio_of, same_shape
from engine.events import BarsSeen, BlackSeen, FormatCode, RatioSeen
from engine.formats import BarLines, FormatError, Raster, aspect_of_code
from engine.refusal import Refused
from engine.reporters import agree_by_now, note_unheeded, weigh_unheeded
from engine.settle import DwellTimes
from engine.state import ParkedReading

if TYPE_CHECKING:
    from engine.events import Reading
    from engine.room import Room
    from engine.state import Core
    from engine.transaction import Transaction


NOTHING: Final = -1
"""Stands for a format code that leaves the shape open."""
FULL: Final = 8
"""The format code of a picture that fills its coded frame."""
LEAST_SQUARE_ROWS: Final = 720
"""Rasters with fewer rows have pixels that are not square: their frame has to be said."""


def heeds_readings(room: Room, shown: str | None) -> bool:
    """Tell whether readings count for the source that is shown."""
    if shown is None:
        return True
    source = room.sources[shown]
    return source.shape is None and not source.leave_alone


def readings_count(core: Core) -> bool:
    """Tell whether readings count: a paused player's overlays and a lost signal say nothing."""
    return core.locked and (core.playback != "paused" or core.pause_over)


def park_or_wake(tx: Transaction) -> None:
    """Park the filter while readings do not count; wake it with the reading that holds by then."""
    core = tx.core
    if readings_count(core) == (core.parked is None):
        return
    if core.parked is None:
        core.parked = ParkedReading(tx.settling.reading)
        tx.settling = settle.parked(tx.settling, tx.now)
        return
    level, core.parked = core.parked, None
    if heeds_readings(tx.room, core.source):
        core.frame = level.frame or core.frame
        tx.settling = _settled(tx.room, core, tx.settling, level.reading, tx.now)


def forget_readings(tx: Transaction) -> None:
    """Forget what was settled: another source or another signal has another shape."""
    tx.settling = settle.UNSETTLED
    tx.core.detected, tx.core.coded, tx.core.unheeded = False, None, None
    if tx.core.parked is not None:
        tx.core.parked = ParkedReading(None)


def see_afresh(tx: Transaction) -> None:
    """Keep the shape that was settled, but forget what was read: the raster is another."""
    tx.settling = settle.parked(tx.settling, tx.now)
    tx.core.unheeded = None
    if tx.core.parked is not None:
        tx.core.parked = ParkedReading(None)


def take_reading(tx: Transaction, event: Reading) -> None:
    """Pass a reading to the filter, or keep it until readings count."""
    core = tx.core
    reading = _read(tx.room, core, event)
    if not heeds_readings(tx.room, core.source):
        return
    frame = None
    if isinstance(event, FormatCode):
        frame = aspect_of_code(FULL, event.frame) or WIDE_FRAME
        _hear_code(tx, reading if reading != NOTHING and isinstance(reading, int) else None)
    else:
        core.detected = True
    if reading == NOTHING:
        return
    if not _is_believed(tx.room, core, by_code=frame is not None):
        if frame is None and reading is not None:
            note_unheeded(core, _ratio_of(reading))
        if core.parked is None:
            core.frame = frame or core.frame
        else:
            core.parked = core.parked._replace(frame=frame or core.parked.frame)
        return
    if core.parked is None:
        core.frame = frame or core.frame
        tx.settling = _settled(tx.room, core, tx.settling, reading, tx.now)
    else:
        core.parked = ParkedReading(reading, frame or core.parked.frame)


def _hear_code(tx: Transaction, coded: int | None) -> None:
    """Remember the ratio (1/10,000) that a format code names, None where it names none.

    Where it is believed from now on, what the detector said last still stands, though unheeded.
    """
    core = tx.core
    was, core.coded = core.coded, coded
    if coded is None:
        core.unheeded = None
    elif was is None and core.detected and _is_believed(tx.room, core, by_code=True):
        last = tx.settling.reading if core.parked is None else core.parked.reading
        if last is not None:
            note_unheeded(core, _ratio_of(last))
    if coded != was:
        weigh_unheeded(core)


def quick_reading(
    room: Room, core: Core, settling: settle.Settling, event: Reading, now: int
) -> settle.Settling | None:
    """Settle a reading that counts; None where it has to be looked at more closely."""
    if core.parked is not None or isinstance(event, FormatCode):
        return None
    reading = _read(room, core, event)
    if not heeds_readings(room, core.source):
        return settling
    if not core.detected:
        return None
    if core.coded is not None and not _is_believed(room, core, by_code=False):
        return settling if _is_no_news(core, reading) else None
    return _settled(room, core, settling, reading, now)


def _is_no_news(core: Core, reading: settle.BarReading | int | None) -> bool:
    """Tell whether an unheeded reading says what the one before did, or nothing."""
    if reading is None:
        return True
    word = core.unheeded
    if word is None or not same_shape(_ratio_of(reading), word.ratio):
        return False
    return word.agreed or not agree_by_now(core)


def _is_believed(room: Room, core: Core, *, by_code: bool) -> bool:
    """Tell whose readings count while a detector and format codes both tell a shape."""
    codes_first = core.source is not None and room.sources[core.source].first_word == "code"
    if by_code:
        return codes_first or not core.detected
    return not codes_first or core.coded is None


def _read(room: Room, core: Core, event: Reading) -> settle.BarReading | int | None:
    """Take what a reading says; raises `Refused` where it contradicts itself."""
    if isinstance(event, BarsSeen):
        if event.top + event.bottom > event.rows or event.left + event.right > event.columns:
            raise Refused("beyond_frame", "the bars are larger than the raster they are counted in")
        frame = core.frame if event.rows < LEAST_SQUARE_ROWS else 0
        return settle.BarReading(
            event.top, event.bottom, event.left, event.right, event.columns, event.rows, frame
        )
    if isinstance(event, BlackSeen):
        return None
    if isinstance(event, RatioSeen):
        return ratio_of(event.ratio)
    source = None if core.source is None else room.sources[core.source]
    aspect = _coded(event, both_pairs=source is not None and source.both_pairs)
    return NOTHING if aspect is None else aspect


def _settled(
    room: Room,
    core: Core,
    settling: settle.Settling,
    reading: settle.BarReading | int | None,
    now: int,
) -> settle.Settling:
    pace = room.pace.settle
    if _is_awaited(core, settling, reading):
        pace = DwellTimes(pace.taller, min(pace.taller, pace.wider), min(pace.taller, pace.odd))
    if isinstance(reading, int):
        return settle.take_ratio(pace, settling, reading, now)
    return settle.take_bars(pace, settling, reading, now)


def _is_awaited(
    core: Core, settling: settle.Settling, reading: settle.BarReading | int | None
) -> bool:
    """Tell whether a reading shows just the shape in which the title is known to come.

    It is believed as soon as a taller one: what follows an ident is the film, not a dark scene.
    """
    known = core.remembered if core.declared is None else core.declared
    if known is None or reading is None or settling.aspect is None or not core.title:
        return False
    return not same_shape(settling.aspect, known) and same_shape(_ratio_of(reading), known)


def _ratio_of(reading: settle.BarReading | int) -> int:
    """Work out the ratio of what a reading leaves free of bars, in 1/10,000; 0: nothing."""
    if isinstance(reading, int):
        return reading
    width = reading.columns - reading.left - reading.right
    height = reading.rows - reading.top - reading.bottom
    if height <= 0:
        return 0
    if reading.frame:  # Its pixels are not square.
        return reading.frame * width * reading.rows // (reading.columns * height)
    return width * SCALE // height


def _coded(event: FormatCode, *, both_pairs: bool) -> int | None:
    """Read an active format code with its bar data."""
    lines = BarLines(event.top_ends, event.bottom_starts, event.left_ends, event.right_starts)
    raster = None
    if event.columns is not None and event.rows is not None:
        raster = Raster(event.columns, event.rows)
    try:
        return aspect_of_code(event.code, event.frame, lines, raster, both_pairs=both_pairs)
    except FormatError as error:
        raise Refused("format", str(error)) from error
