"""Read moments as people write them: a time of day, seconds from the start, RFC 3339."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from engine.errors import UnusableError
from engine.events import milliseconds, moment_of
from simulator.nights.night_file import FIRST_YEAR, LAST_YEAR, LATEST

NOON: Final = time(12)
_CLOCK: Final = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2})(?:\.(\d{1,3}))?)?")
_SECONDS: Final = re.compile(r"\+?(\d{1,6}(?:\.\d{1,3})?) ?s")


class MomentError(UnusableError):
    """A moment that cannot be read."""


def read_moment(text: str, start: int, zone: str) -> int:
    """Read a moment of a night that began at `start` (ms UTC), as ms UTC.

    "21:14" and "21:14:30" are local times of the room, within a day of the start;
    "95.5s" counts from the start; everything else is read as RFC 3339 with a zone. A time
    without seconds means the end of its minute, so that 21:14 takes in all that 21:14 saw, and
    one without fractions the end of its second. Raises `MomentError` for a time that the room's
    clock shows twice, or never, because it is set that night.
    """
    if clock := _CLOCK.fullmatch(text.strip()):
        return _local(clock, text, start, ZoneInfo(zone))
    if passed := _SECONDS.fullmatch(text.strip()):
        return start + round(float(passed[1]) * 1_000)
    read = read_absolute(text)
    if read is None:
        raise MomentError(
            f"'{text}' is no moment: write 21:14, 21:14:30, 95.5s or 2026-11-20T21:14:00+01:00"
        )
    return read


def written_in_full(text: str, moment: int, start: int, zone: str) -> str | None:
    """Give a time of day as RFC 3339 if it is a later day's, though it lies past noon.

    Whoever names it may mean the evening on which the night began, a little before that; past
    midnight the next day is meant. None: it is clear which day is meant.
    """
    begun, local = (moment_of(one).astimezone(ZoneInfo(zone)) for one in (start, moment))
    doubtful = begun.date() < local.date() and local.time() >= NOON
    return (
        local.isoformat(timespec="seconds") if doubtful and _CLOCK.fullmatch(text.strip()) else None
    )


def read_absolute(text: str) -> int | None:
    """Read RFC 3339 with a zone, as ms UTC; None for anything else.

    Raises `MomentError` for a year in which there are no nights.
    """
    try:
        read = datetime.fromisoformat(text.strip())
    except ValueError:
        return None
    return None if read.tzinfo is None else within_years(milliseconds(read), text)


def read_day(text: str, zone: str) -> int | None:
    """Read RFC 3339 with a zone, or a date as noon in `zone`, as ms UTC; None for anything else.

    Raises `MomentError` as `read_absolute` does.
    """
    try:
        noon = datetime.combine(date.fromisoformat(text), NOON, ZoneInfo(zone))
    except ValueError:
        return read_absolute(text)
    return within_years(milliseconds(noon), text)


def within_years(moment: int, text: str) -> int:
    """Give a moment (ms UTC) that was written as `text`.

    Raises `MomentError` for a year in which there are no nights.
    """
    if not 0 <= moment < LATEST:
        raise MomentError(
            f"'{text}' lies outside the years {FIRST_YEAR} to {LAST_YEAR}: is the year right?"
        )
    return moment


def _local(clock: re.Match[str], text: str, start: int, zone: ZoneInfo) -> int:
    hour, minute = int(clock[1]), int(clock[2])
    second = int(clock[3] or 0)
    thousandth = int((clock[4] or "0").ljust(3, "0"))
    if hour > 23 or minute > 59 or second > 59:  # noqa: PLR2004 - what a clock shows
        raise MomentError(f"'{text}' is no time of day: hours go to 23, minutes and seconds to 59")
    begun = moment_of(start).astimezone(zone)
    local = begun.replace(hour=hour, minute=minute, second=second, microsecond=thousandth * 1_000)
    last = 59_999 if clock[3] is None else 999 if clock[4] is None else 0
    if milliseconds(local) + last < start:
        local += timedelta(days=1)
    _require_once(local, text)
    return milliseconds(local) + last


def _require_once(local: datetime, text: str) -> None:
    """Raise `MomentError` where the clocks are set so that a local time comes twice, or never."""
    first, second = local.replace(fold=0), local.replace(fold=1)
    if first.utcoffset() == second.utcoffset():
        return
    if first.astimezone(UTC).astimezone(local.tzinfo).time() != first.time():
        raise MomentError(f"'{text}': {text} never comes: the clocks are set forward over it")
    raise MomentError(
        f"'{text}': {text} comes twice, for the clocks are set back: "
        f"write {first.isoformat()} or {second.isoformat()}"
    )
